"""What ``floor plan`` prints: the plan of the open batches, or of an order before a batch exists."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Literal, NamedTuple

from floor.batch.command import Refused
from floor.batch.earlier import EarlierTold, expect
from floor.batch.state import Batch
from floor.checklist.expected_yields import TestPieces, read_test_pieces
from floor.checklist.loading import load_checklist
from floor.checklist.model import Checklist
from floor.entry import Moment
from floor.figures.errors import Impossible
from floor.figures.schedule import FIRST, QUICK, CannotPlan
from floor.ledger import LedgerError
from floor.ledger.copies import SHOP_JOURNAL
from floor.papers.plan import write_plan_csv, write_plan_json, write_plan_text
from floor.papers.start_quantity import make_start_data, write_start_text
from floor.papers.whatif import make_whatif_data, write_whatif_text
from floor.planning.batch_forecast import Outlook
from floor.planning.calculation_progress import Progress, ProgressReporter
from floor.planning.earlier_batches import study_earlier
from floor.planning.make_plan import describe_batch_deadlines, draw_finishes, prepare_plan
from floor.planning.plan import ShopPlan
from floor.planning.plan_text import describe_missed_deadlines, describe_missing_finishes
from floor.planning.problem import Crew
from floor.planning.questions import NotUnderstood, read_questions
from floor.planning.scenario import build_scenario
from floor.planning.snapshot import compute_outlooks
from floor.planning.start_plan import StartPlan, build_fresh_batch, plan_start
from floor.planning.whatif import WhatIfRow, add_savings, build_trials, plan_row, rank_savings
from floor.shop import Shop
from floor.shop.clock import read_clock
from floor.shop.earlier_batches import ask_of_new, read_earlier
from floor.shop.load_settings import load_settings, load_zone
from floor.shop.open_batches import RECORD
from floor.shop.settings import Settings, SettingsError
from floor.wall import convert_to_zone

Form = Literal["text", "json", "csv"]
ORDER = "order"
"""Name of a batch that does not exist yet."""
DRAWS = 80
"""Draws for the band of the finish, unless the plan is large."""
EFFORT = QUICK
"""Effort of the plan, and of each what-if beside it."""
MANY = 100
"""Above this many runs, savings of one more of each are computed in the plan's own order of work."""
FEW = 6
"""Draws for the band of the finish of so large a plan: somebody is waiting, and each takes long."""
PLANNED, DRAWN = 0.4, 0.7
"""Shares of the work done once the plan is made, and once its spread is."""


class PlanOutput(NamedTuple):
    """What goes to standard output, and the complaints."""

    text: str = ""
    complaints: tuple[str, ...] = ()


def plan_shop(
    shop: Shop, batch: str, form: Form, what_if: Sequence[str] = (), progress: Progress | None = None
) -> PlanOutput:
    """The plan of all open batches, or of one among the others.

    Args:
        what_if: changes to compare with it, in the words of `floor.planning.questions`.
        progress: is told how far it has come.
    """
    now = shop.now()
    open_ = [one.id for one in shop.batches if not one.gone]
    if batch and batch not in open_:
        return PlanOutput("", (f"there is no open batch {batch}; open are: {', '.join(open_) or 'none'}",))
    if not open_:
        return PlanOutput("", ("no batch is open; name a checklist to plan an order before it is opened",))
    try:
        settings = load_settings(shop.folder, now.at)
        told = ProgressReporter(progress)
        service = prepare_plan(shop.batches, now, settings)
        made = service.make_plan(effort=EFFORT, doubts=_said(form, what_if), progress=told.part(0.0, PLANNED))
        rows = _rows(shop.batches, service.crew, now, made, what_if, told)
        taken = service.taken
        looked = {id: (found, taken.first_op[id]) for id, found in compute_outlooks(taken, settings.fill_level).items()}
    except (CannotPlan, Impossible, NotUnderstood, SettingsError) as refused:
        return PlanOutput("", _sentences(refused))
    these = [batch] if batch else open_
    return PlanOutput(_written(made, now, these, form, looked, rows, told), _complaints(made, these, form))


def _rows(
    batches: Sequence[Batch], crew: Crew, now: Moment, made: ShopPlan, what_if: Sequence[str], told: ProgressReporter
) -> list[WhatIfRow]:
    """The table of a what-if, today's plan first; empty if nothing is asked.

    Raises:
        NotUnderstood
    """
    if not what_if:
        return []
    case = build_scenario(batches, crew)
    wishes = read_questions(", ".join(what_if), case, now)
    first, *others = build_trials(case, wishes, now)
    stood = add_savings(plan_row(made, first, effort=EFFORT, samples=DRAWS), effort=EFFORT)
    rows = [stood]
    for n, question in enumerate(others):
        told(PLANNED + (1 - PLANNED) * n / len(others), f"what if {n + 1} of {len(others)}")
        row = plan_row(made, question, stood, effort=EFFORT, samples=DRAWS)
        rows.append(add_savings(row, stood, effort=EFFORT))
    return rows


def list_missed_deadlines(shop: Shop, batch: str) -> Sequence[str]:
    """Deadlines of a batch's runs under way that no plan can meet; empty if the shop cannot be planned."""
    now = shop.now()
    try:
        settings = load_settings(shop.folder, now.at)
    except SettingsError:  # the plan says why
        return ()
    return describe_batch_deadlines(shop.batches, now, settings, batch)


def plan_order(
    file: str,
    order: int | None,
    confidence: str,
    tests: Sequence[str],
    form: Form,
    folder: Path,
    pieces: int | None = None,
    what_if: Sequence[str] = (),
    progress: Progress | None = None,
) -> PlanOutput:
    """The plan of an order before a batch exists; other batches are ignored.

    Args:
        folder: the shop's, for its settings.
        pieces: to start; None means those of `start`.
        progress: is told how far it has come.
    """
    loaded = load_checklist(file)
    if loaded.checklist is None:
        return PlanOutput("", tuple(map(str, loaded.problems)))
    wanted = order if order is not None else loaded.checklist.order
    if wanted is None:
        return PlanOutput("", ("how many are ordered? Name the number with --order.",))
    now = read_clock()
    try:
        zone = load_zone(folder)
        now = now if zone is None else replace(now, at=convert_to_zone(now.at, zone))
        settings = load_settings(folder, now.at)
        used_up = read_test_pieces(" ".join(tests))
        told = _read_earlier(folder, loaded.checklist, file, settings, now)
        found = plan_start(expect(loaded.checklist, told), wanted, _share(confidence), used_up, pieces)
        return _order(loaded.checklist, told, found, form, settings, now, what_if, ProgressReporter(progress), used_up)
    except (CannotPlan, Impossible, LedgerError, Refused, SettingsError, ValueError) as refused:
        return PlanOutput("", _sentences(refused))


def _read_earlier(folder: Path, checklist: Checklist, file: str, settings: Settings, now: Moment) -> EarlierTold | None:
    """What earlier batches of the part tell; None where there is no shop yet, or none of them."""
    if not (folder / RECORD / f"{SHOP_JOURNAL}.json").is_file():
        return None
    shop = Shop(folder)
    try:
        asked = ask_of_new(shop, checklist, file, settings.calendar)
        return study_earlier(checklist, read_earlier(asked).same, now.at, asked.in_file, settings.half_life_days).told
    finally:
        shop.close()


def _order(
    checklist: Checklist,
    told_before: EarlierTold | None,
    found: StartPlan,
    form: Form,
    settings: Settings,
    now: Moment,
    what_if: Sequence[str],
    told: ProgressReporter,
    tests: TestPieces,
) -> PlanOutput:
    batch = build_fresh_batch(checklist, found.quantity.ordered, found.pieces, now, ORDER, told_before)
    service = prepare_plan([batch], now, settings)
    made = service.make_plan(effort=EFFORT, doubts=_said(form, what_if), progress=told.part(0.0, PLANNED))
    rows = _rows([batch], service.crew, now, made, what_if, told)
    plan = _written(made, now, [ORDER], form, {}, rows, told)
    wrong = _complaints(made, [ORDER], form)
    if form == "csv" or (rows and form == "text"):
        return PlanOutput(plan, wrong)
    if form == "json":
        whole = {**make_start_data(checklist, found, told_before), "plan": json.loads(plan)}
        return PlanOutput(json.dumps(whole, indent=2, ensure_ascii=False), wrong)
    return PlanOutput(f"{write_start_text(checklist, found, told_before, tests)}\n{plan}", wrong)


def _said(form: Form, what_if: Sequence[str]) -> bool:
    """Whether to state what scrap and rework may do: a CSV table has no room for that."""
    return form != "csv" or bool(what_if)


def _complaints(made: ShopPlan, batches: Sequence[str], form: Form) -> tuple[str, ...]:
    """What the plan fails to cover: pieces left out and, for a table, work nobody is there for."""
    pressing = describe_missed_deadlines(made) if form == "csv" else []
    return (*pressing, *describe_missing_finishes(made, batches, why=form != "text"))


def _written(
    made: ShopPlan,
    now: Moment,
    batches: Sequence[str],
    form: Form,
    looked: dict[str, tuple[Outlook, int]],
    rows: Sequence[WhatIfRow],
    told: ProgressReporter,
) -> str:
    if form == "csv":
        return write_plan_csv(made, batches)
    if rows and form == "text":
        return write_whatif_text(rows, now, batches)
    large, drawing = len(made.plan.runs) > MANY, told.part(PLANNED, DRAWN)
    band = draw_finishes(made, FEW if large else DRAWS, tell=lambda share: drawing(share, "spread of the finish"))
    saved = rank_savings(made, effort=FIRST if large else EFFORT, progress=told.part(DRAWN, 1.0))
    if form == "text":
        return write_plan_text(made, now, batches, spread=band, savings=saved, outlooks=looked)
    what_if = make_whatif_data(rows, batches) if rows else None
    return write_plan_json(made, now, batches, spread=band, savings=saved, outlooks=looked, what_if=what_if)


def _share(text: str) -> float:
    """``95%`` or ``0.95``."""
    try:
        return float(text[:-1]) / 100 if text.endswith("%") else float(text)
    except ValueError:
        raise ValueError(f'"{text}" is not a chance; write it like 95% or 0.95') from None


def _sentences(refused: Exception) -> tuple[str, ...]:
    if isinstance(refused, CannotPlan):
        return tuple(map(str, refused.obstacles)) or ("no plan was found",)
    return (str(refused),)
