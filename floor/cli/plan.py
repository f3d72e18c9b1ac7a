"""What ``floor plan`` prints: the plan of the open batches, or of an order before a batch exists."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Literal, NamedTuple

from floor.batch.command import Refused
from floor.batch.state import Batch
from floor.checklist.loading import load_checklist
from floor.checklist.model import Checklist
from floor.entry import Moment
from floor.figures.errors import Impossible
from floor.figures.schedule import FIRST, QUICK, CannotPlan, Spread, draws, spread
from floor.papers.plan import plan_csv, plan_json, plan_text
from floor.papers.start_quantity import start_json, start_text
from floor.papers.whatif import whatif_json, whatif_text
from floor.planning.forecast import Outlook
from floor.planning.new_order import Start, fresh, start
from floor.planning.plan import ShopPlan, make_plan
from floor.planning.plan_text import incomplete_said, pressing_said
from floor.planning.problem import Crew
from floor.planning.progress import Telling, Told
from floor.planning.questions import NotUnderstood, read_wishes
from floor.planning.snapshot import outlooks, take
from floor.planning.variants import case_of
from floor.planning.whatif import Row, questions, row_of, savings, with_savings
from floor.shop import Shop
from floor.shop.clock import real_clock
from floor.shop.settings import Settings, SettingsError, load_settings, load_zone
from floor.wall import on_wall

Form = Literal["text", "json", "csv"]
ORDER = "order"
"""Name of a batch that does not exist yet."""
DRAWS = 80
"""For the band of the finish, where the plan is not large."""
EFFORT = QUICK
"""Of the plan, and of each of the plans beside it."""
MANY = 100
"""Runs above which what one more of each saves is that in the plan's own order of work."""
FEW = 6
"""Draws for the band of the finish of a plan with that many runs: somebody waits for it, and each takes long."""
PLANNED, DRAWN = 0.4, 0.7
"""Shares of the work done when the plan stands, and its spread."""


class Answer(NamedTuple):
    """What goes to standard output, and what is wrong."""

    text: str = ""
    complaints: tuple[str, ...] = ()


def plan_shop(
    shop: Shop, batch: str, form: Form, what_if: Sequence[str] = (), progress: Telling | None = None
) -> Answer:
    """The plan of all open batches, or of one among the others.

    Args:
        what_if: changes to set beside it, in the words of `floor.planning.questions`.
        progress: told how far it is.
    """
    now = shop.now()
    open_ = [one.id for one in shop.batches if not one.gone]
    if batch and batch not in open_:
        return Answer("", (f"there is no open batch {batch}; open are: {', '.join(open_) or 'none'}",))
    if not open_:
        return Answer("", ("no batch is open; name a checklist to plan an order before it is opened",))
    try:
        settings = load_settings(shop.folder, now.at)
        crew = Crew(settings.calendar, settings.hands)
        taken = take(shop.batches, now, crew)
        told = Told(progress)
        made = make_plan(
            taken.ways, effort=EFFORT, doubts=_said(form, what_if), progress=told.part(0.0, PLANNED)
        )
        rows = _rows(shop.batches, crew, now, made, what_if, told)
        looked = {id: (found, taken.first_op[id]) for id, found in outlooks(taken, settings.fill_level).items()}
    except (CannotPlan, Impossible, NotUnderstood, SettingsError) as refused:
        return Answer("", _sentences(refused))
    these = [batch] if batch else open_
    return Answer(_written(made, now, these, form, looked, rows, told), _complaints(made, these, form))


def _rows(
    batches: Sequence[Batch], crew: Crew, now: Moment, made: ShopPlan, what_if: Sequence[str], told: Told
) -> list[Row]:  # fmt: skip
    """The table of a what-if, today's plan first; nothing where nothing is asked.

    Raises:
        NotUnderstood
    """
    if not what_if:
        return []
    case = case_of(batches, crew)
    wishes = read_wishes(", ".join(what_if), case, now)
    first, *others = questions(case, wishes, now)
    stood = with_savings(row_of(made, first, effort=EFFORT, samples=DRAWS), effort=EFFORT)
    rows = [stood]
    for n, question in enumerate(others):
        told(PLANNED + (1 - PLANNED) * n / len(others), f"what if {n + 1} of {len(others)}")
        row = row_of(made, question, stood, effort=EFFORT, samples=DRAWS)
        rows.append(with_savings(row, stood, effort=EFFORT))
    return rows


def pressing(shop: Shop, batch: str) -> Sequence[str]:
    """What no plan can keep of the runs under way of a batch; nothing where the shop cannot be planned."""
    now = shop.now()
    if batch not in [one.id for one in shop.batches if not one.gone]:
        return ()
    try:
        settings = load_settings(shop.folder, now.at)
        made = make_plan(take(shop.batches, now, Crew(settings.calendar, settings.hands)).ways, effort=EFFORT)
    except (CannotPlan, Impossible, SettingsError):  # the plan says why
        return ()
    return pressing_said(made, batch)


def plan_order(
    file: str, order: int | None, confidence: str, tests: Sequence[str], form: Form, folder: Path,
    pieces: int | None = None, what_if: Sequence[str] = (), progress: Telling | None = None,
) -> Answer:  # fmt: skip
    """An order on a checklist before a batch exists; other batches are left out of account.

    Args:
        folder: the shop's, for its settings.
        pieces: to start; None leaves it to `start`.
        progress: told how far it is.
    """
    loaded = load_checklist(file)
    if loaded.checklist is None:
        return Answer("", tuple(map(str, loaded.problems)))
    wanted = order if order is not None else loaded.checklist.order
    if wanted is None:
        return Answer("", ("how many are ordered? Name the number with --order.",))
    now = real_clock()
    try:
        zone = load_zone(folder)
        now = now if zone is None else replace(now, at=on_wall(now.at, zone))
        settings = load_settings(folder, now.at)
        found = start(loaded.checklist, wanted, _share(confidence), dict(map(_test, tests)), pieces)
        return _order(loaded.checklist, found, form, settings, now, what_if, Told(progress))
    except (CannotPlan, Impossible, Refused, SettingsError, ValueError) as refused:
        return Answer("", _sentences(refused))


def _order(
    checklist: Checklist, found: Start, form: Form, settings: Settings, now: Moment, what_if: Sequence[str],
    told: Told,
) -> Answer:  # fmt: skip
    batch = fresh(checklist, found.quantity.ordered, found.pieces, now, ORDER)
    crew = Crew(settings.calendar, settings.hands)
    taken = take([batch], now, crew)
    made = make_plan(taken.ways, effort=EFFORT, doubts=_said(form, what_if), progress=told.part(0.0, PLANNED))
    rows = _rows([batch], crew, now, made, what_if, told)
    plan = _written(made, now, [ORDER], form, {}, rows, told)
    wrong = _complaints(made, [ORDER], form)
    if form == "csv" or (rows and form == "text"):
        return Answer(plan, wrong)
    if form == "json":
        whole = {**start_json(checklist, found), "plan": json.loads(plan)}
        return Answer(json.dumps(whole, indent=2, ensure_ascii=False), wrong)
    return Answer(f"{start_text(checklist, found)}\n{plan}", wrong)


def _said(form: Form, what_if: Sequence[str]) -> bool:
    """Whether it is said what scrap and rework may do: a CSV table has no room for that."""
    return form != "csv" or bool(what_if)


def _complaints(made: ShopPlan, batches: Sequence[str], form: Form) -> tuple[str, ...]:
    """What the plan does not keep: pieces that are not in it, and in a table what nobody is there for."""
    pressing = pressing_said(made) if form == "csv" else []
    return (*pressing, *incomplete_said(made, batches, why=form != "text"))


def _written(
    made: ShopPlan, now: Moment, batches: Sequence[str], form: Form, looked: dict[str, tuple[Outlook, int]],
    rows: Sequence[Row], told: Told,
) -> str:  # fmt: skip
    if form == "csv":
        return plan_csv(made, batches)
    if rows and form == "text":
        return whatif_text(rows, now, batches)
    band = _spread(made, told.part(PLANNED, DRAWN))
    large = len(made.plan.runs) > MANY
    saved = savings(made, effort=FIRST if large else EFFORT, progress=told.part(DRAWN, 1.0))
    if form == "text":
        return plan_text(made, now, batches, spread=band, savings=saved, outlooks=looked)
    what_if = whatif_json(rows, batches) if rows else None
    return plan_json(made, now, batches, spread=band, savings=saved, outlooks=looked, what_if=what_if)


def _spread(made: ShopPlan, tell: Telling) -> Spread | None:
    if not made.whole:
        return None

    def heard(done: int, of: int) -> None:
        tell(done / of, "spread of the finish")

    try:
        most = FEW if len(made.plan.runs) > MANY else DRAWS
        return spread(made.problem, made.plan, samples=draws(made.problem, most), on_progress=heard)
    except CannotPlan:
        return None


def _share(text: str) -> float:
    """``95%`` or ``0.95``."""
    try:
        return float(text[:-1]) / 100 if text.endswith("%") else float(text)
    except ValueError:
        raise ValueError(f'"{text}" is not a chance; write it like 95% or 0.95') from None


def _test(text: str) -> tuple[int, int]:
    """``30=2``: two pieces at op 30."""
    op, _, count = text.partition("=")
    try:
        return int(op), int(count)
    except ValueError:
        raise ValueError(f'"{text}" does not name test pieces; write it like 30=2 for two at op 30') from None


def _sentences(refused: Exception) -> tuple[str, ...]:
    if isinstance(refused, CannotPlan):
        return tuple(map(str, refused.obstacles)) or ("no plan was found",)
    return (str(refused),)
