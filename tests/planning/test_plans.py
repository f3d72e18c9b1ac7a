"""Plans of batches as random lives leave them, kept in words and figures: who does what when, and what is said of it.

Nobody worked these out by hand: they were read through once, and hold what the planner makes of the same shop. Renew
them with ``--snapshot-update`` and read the difference.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from floor.batch.command import Context, Person
from floor.batch.fold import fold
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.state import Batch
from floor.batch.worklist.tasks import list_due_tasks
from floor.checklist.model import Checklist
from floor.entry import Moment
from floor.papers.whatif import format_whatif_table
from floor.planning.batch_forecast import collect_forecast_inputs, compute_outlook, describe_outlook
from floor.planning.chart import draw_chart
from floor.planning.dispatch_list import rank_dues
from floor.planning.finish import compute_finish
from floor.planning.make_plan import draw_finishes
from floor.planning.pace import estimate_time_factors
from floor.planning.plan import ShopPlan, find_fill_times, list_left_out_loads, make_plan
from floor.planning.plan_text import (
    describe_filled_orders,
    describe_finish,
    describe_missed_deadlines,
    describe_troubles,
    format_as_drawn,
    format_attendance,
    format_carrier_and_load,
    format_fill_chance,
    format_lateness,
    format_outlook_line,
    format_use_lines,
    list_attendance,
)
from floor.planning.questions import read_questions
from floor.planning.questions.likely_questions import suggest_questions
from floor.planning.scenario import build_scenario
from floor.planning.time_scale import build_plan_scale, find_fitting_zoom
from floor.planning.whatif import build_trials, compute_gain, count_late_days, plan_changed_row, plan_present_row
from tests.batch.factory import Bench, StepClock, by_hand, entries_of, one_cycle, part, turned, two_mills, two_up
from tests.batch.test_lives import Life
from tests.planning.planned import MORNING, ONE_SHIFT, planned, potted


def words(plan: ShopPlan, batches: Sequence[Batch], now: Moment) -> Iterator[str]:
    """A plan as the screens and papers say it, and its figures."""
    at = now.at
    for run in plan.runs:
        work = plan.work(run)
        stretches = " ".join(f"{one.kind.name} {one.start:%a %H:%M}-{one.end:%a %H:%M}" for one in run.stretches)
        carried = f"{work.pieces} of {format_carrier_and_load(plan, run)} at {run.station}"
        yield f"{work.batch} op {work.op} {carried}: {stretches}"
    bands = draw_finishes(plan, 60)
    for batch in batches:
        band = bands.batches.get(batch.id) if bands is not None else None
        found = compute_finish(plan, batch.id, band)
        yield f"{describe_finish(plan, batch.id, band)} | {format_lateness(found)} | {format_as_drawn(found)}"
        outlook = compute_outlook(collect_forecast_inputs(batch, now), 0.9)
        first = batch.checklist.operations[0].op
        yield describe_outlook(batch.id, outlook, first)
        yield format_outlook_line(plan, batch.id, outlook, band, first)
        yield format_fill_chance(outlook)
        if band is not None:
            yield f"{band.early:%a %H:%M:%S} {band.middle:%a %H:%M:%S} {band.late:%a %H:%M:%S}"
        factors = estimate_time_factors(batch, ONE_SHIFT.calendar)
        yield from map(short, (outlook.top_up, *outlook.beliefs, *sorted(factors.items())))
        yield from describe_missed_deadlines(plan, batch.id)
    yield from describe_troubles(plan)
    yield from describe_filled_orders(plan)
    yield ", ".join(list_left_out_loads(plan))
    yield ", ".join(f"{id} {at:%a %H:%M}" for id, at in find_fill_times(plan).items())
    yield from format_use_lines(plan)
    for one in list_attendance(plan):
        yield format_attendance(one, plan, several_people=True)
    for ranked in rank_dues(list_due_tasks(batches, now), plan, at):
        latest = f"{ranked.latest:%a %H:%M}" if ranked.latest is not None else "-"
        yield f"{ranked.due.urgency} {ranked.due.short_sentence}: {latest} {ranked.said(at)}"
    for minutes in (find_fitting_zoom(plan, 60), 30):
        for side in ("stations", "carriers"):
            chart = draw_chart(plan, build_plan_scale(plan, minutes, 60).cut(0, 60), 60, side)
            yield from (chart.days, chart.hours, *(f"{row.label:<14.14}{row.cells}" for row in chart.rows))


def lived(checklist: Callable[[], Checklist], seed: int, steps: int, id: str = "B0001") -> Life:
    """A batch after so many commands; it is due on the Monday a week later."""
    clock = StepClock(MORNING)
    due = (MORNING + timedelta(days=7)).date()
    opening = OpenBatch(id, checklist(), "digest", "part.toml", 9, 14, due)
    opened = opening.decide_new(Context(clock(), Person("AA")))
    life = Life(Bench(clock, fold(entries_of(opened, clock(), "AA", []))), seed)
    for _ in life.lines(steps):
        pass
    return life


def short(figures: object) -> str:
    """With six digits of each figure: the others are not the same on every machine."""
    return re.sub(r"\d+\.\d+(e-\d+)?", lambda found: f"{float(found[0]):.6g}", str(figures))


PARTS = (part, two_up, one_cycle, two_mills, turned, by_hand, by_hand, potted)
LIVES = [
    (one, seed, steps) for seed, one in enumerate(PARTS, 11) for steps in (0, 30, 60) if (one, steps) != (potted, 60)
]
"""With how many commands were given; the potted lid is through by the last."""


@pytest.mark.parametrize(("checklist", "seed", "steps"), LIVES, ids=lambda one: getattr(one, "__name__", one))
def test_a_batch_is_planned_as_it_was(checklist: Callable[[], Checklist], seed: int, steps: int, snapshot: Any) -> None:
    life = lived(checklist, seed, steps)
    now = life.bench.clock()
    plan = planned(life.batch, now=now, effort=30)
    assert "\n".join(words(plan, [life.batch], now)) == snapshot


@pytest.mark.parametrize("people", [1, 2])
def test_two_batches_in_one_shop_are_planned_as_they_were(people: int, snapshot: Any) -> None:
    one, other = lived(part, 21, 40), lived(by_hand, 22, 40, "B0002")
    now = max(one.bench.clock(), other.bench.clock(), key=lambda moment: moment.at)
    batches = [one.batch, other.batch]
    plan = planned(*batches, now=now, effort=30, crew=replace(ONE_SHIFT, hands=people))
    assert "\n".join(words(plan, batches, now)) == snapshot


ASKED = (
    "saturday", "every saturday", "end 1 h later", "start half an hour earlier", "second shift", "2 more pallets",
    "without one tote", "1 more person", "second mill", "1 more place at the bench", "mill down until wed",
    "12 more pieces", "sun 8 mar 8-12", "end 2 h earlier", "saturday, 1 more pallet", "cure after 20 6 h longer",
)  # fmt: skip


@pytest.mark.parametrize("asked", ASKED)
def test_a_change_makes_the_difference_it_made(asked: str, snapshot: Any) -> None:
    life = lived(part, 31, 25)
    now = life.bench.clock()
    case = build_scenario([life.batch], ONE_SHIFT)
    trials = build_trials(case, read_questions(asked, case, now), now)
    start = plan_present_row(make_plan(trials[0].ways, effort=30), trials[0], effort=30)
    rows = [start, *(plan_changed_row(start, trial, effort=30) for trial in trials[1:])]
    said = format_whatif_table(rows, width=100)
    for row in rows[1:]:
        said += [f"{row.text}: {compute_gain(start, row)} {count_late_days(start, row, 'B0001')} {row.sense} {row.why}"]
        runs = row.shop_plan.runs if row.shop_plan is not None else ()
        said += [f"  {run.operation} {run.start:%a %H:%M}-{run.end:%a %H:%M} on {run.station}" for run in runs]
    assert "\n".join(said) == snapshot


def test_what_may_be_asked_is_suggested_as_it_was(snapshot: Any) -> None:
    said = []
    for checklist, seed in ((part, 31), (two_mills, 32), (by_hand, 33)):
        life = lived(checklist, seed, 25)
        now, crew = life.bench.clock(), ONE_SHIFT
        case = build_scenario([life.batch], crew)
        said += [str(one) for one in suggest_questions(planned(life.batch, now=now, effort=30), case, now)]
    both = [lived(part, 31, 25).batch, lived(part, 34, 10, "B0002").batch]
    case = build_scenario(both, ONE_SHIFT)
    said += [str(one) for one in suggest_questions(planned(*both, now=now, effort=30), case, now)]
    assert "\n".join(said) == snapshot
