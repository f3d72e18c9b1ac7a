"""What if: each change, and all together, planned beside today's plan; the batches are not changed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime

from floor.dataclass import dataclass
from floor.entry import Moment
from floor.figures.schedule import (
    QUICK,
    Bottleneck,
    CannotPlan,
    FinishBands,
    Obstacle,
    Saving,
    choose_draw_count,
    compute_savings_of_one_more,
    find_bottleneck_by_savings,
    simulate_finishes,
)
from floor.figures.workdays import count_days_late, count_working_hours, map_to_usual_day
from floor.planning.calculation_progress import Progress, ProgressReporter
from floor.planning.finish import Finish, compute_finish, score_likely_finishes
from floor.planning.plan import ShopPlan, make_plan, score_plan
from floor.planning.problem import PlanningRequest
from floor.planning.questions import WhatIfQuestion, apply_questions
from floor.planning.scenario import Scenario, estimate_scenario_time_factors, restore_due_days

TODAY = "Today"
ALL = "All together"
DRAWS = 60
"""Draws for the band of a row's finish, if the plan is not large."""


@dataclass(frozen=True, slots=True)
class WhatIfTrial:
    """One row to plan: the planner's requests, copied from the batches at one moment."""

    text: str
    ways: tuple[PlanningRequest, ...]
    sense: int = 0
    """1 if the change can only help, -1 if it can only harm."""
    first: tuple[str, ...] = ()
    """Batches that go before all others."""


@dataclass(frozen=True, slots=True)
class WhatIfRow:
    """One row of the table."""

    text: str
    shop_plan: ShopPlan | None
    """None if nothing can be planned."""
    why: str = ""
    """What prevents a plan of every piece."""
    sense: int = 0
    """From its question."""
    spread: FinishBands | None = None
    """The band of its finish, if computed."""
    saved: tuple[Saving, ...] | None = None
    """What one more of each would then save; None until computed."""

    def finish(self, batch: str) -> Finish | None:
        """The stated finish of a batch; None without a plan."""
        if self.shop_plan is None:
            return None
        return compute_finish(self.shop_plan, batch, self.spread.batches.get(batch) if self.spread else None)

    @property
    def whole(self) -> bool:
        """Whether every piece is planned, so that a finish exists."""
        return self.shop_plan is not None and self.shop_plan.whole

    @property
    def bottleneck(self) -> Bottleneck | None:
        """None without a finish, and until computed."""
        return find_bottleneck(self.shop_plan, self.saved) if self.shop_plan is not None and self.whole else None


@dataclass(frozen=True, slots=True)
class Gain:
    """How much sooner, in the working time of today's shifts; negative is later."""

    hours: float
    days: int


def build_trials(case: Scenario, wishes: Sequence[WhatIfQuestion], now: Moment) -> list[WhatIfTrial]:
    """The shop as it is, with each change, and with all of them if there are several."""
    known = estimate_scenario_time_factors(case)
    rows: list[tuple[str, list[WhatIfQuestion]]] = [(TODAY, []), *((wish.text, [wish]) for wish in wishes)]
    if len(wishes) > 1:
        rows.append((ALL, list(wishes)))
    asked = ((text, apply_questions(case, some), _sense(some)) for text, some in rows)
    return [WhatIfTrial(text, supposed.ways(now, known), sense, supposed.first) for text, supposed, sense in asked]


def _sense(wishes: Sequence[WhatIfQuestion]) -> int:
    senses = {wish.sense for wish in wishes} or {1}  # planning the same shop again can only help
    return senses.pop() if len(senses) == 1 else 0


def plan_present_row(
    shop_plan: ShopPlan, question: WhatIfTrial, *, effort: int = QUICK, should_stop: Callable[[], bool] | None = None
) -> WhatIfRow:
    """Today's plan, searched again like the others, so that no change gets credit for luck.

    It is kept unless that finds a better one.
    """
    return plan_changed_row(WhatIfRow(TODAY, shop_plan), question, effort=effort, should_stop=should_stop)


def plan_changed_row(
    now: WhatIfRow, question: WhatIfTrial, *, effort: int = QUICK, should_stop: Callable[[], bool] | None = None
) -> WhatIfRow:
    """A row planned from today's plan.

    A change that can only help never finishes later than today's plan, which would still work; one that can only harm
    never finishes sooner.

    Args:
        should_stop: as `make_plan`.
    """
    stood = now.shop_plan
    try:
        begin = _served_first(stood, question, effort, should_stop) if stood is not None and question.first else stood
        made = make_plan(question.ways, effort=effort, previous=begin, hold=True, should_stop=should_stop)
        made = restore_due_days(made)
    except CannotPlan as refused:
        return WhatIfRow(question.text, None, describe_first_obstacle(refused.obstacles))
    if not made.whole:
        return WhatIfRow(question.text, made, describe_first_obstacle(made.obstacles), question.sense)
    if stood is not None and stood.whole and question.sense:
        kept = _as_today(stood, made)
        if (score_plan(made) >= score_plan(kept)) if question.sense > 0 else (score_plan(made) <= score_plan(kept)):
            made = kept
    return WhatIfRow(question.text, made, sense=question.sense)


def plan_row(
    stood: ShopPlan,
    question: WhatIfTrial,
    now: WhatIfRow | None = None,
    *,
    effort: int = QUICK,
    samples: int = DRAWS,
    should_stop: Callable[[], bool] | None = None,
) -> WhatIfRow:
    """A row with its band. A fault in one row is shown in its place; the other rows stay.

    Args:
        stood: the standing plan.
        now: today's row; None when making that one.
    """
    try:
        if now is not None:
            row = plan_changed_row(now, question, effort=effort, should_stop=should_stop)
            return add_spread(row, now, samples=samples, should_stop=should_stop)
        row = plan_present_row(stood, question, effort=effort, should_stop=should_stop)
        found = add_spread(row, samples=samples, should_stop=should_stop)
        if not found.whole or not stood.whole or _same_plan(found, WhatIfRow(TODAY, stood)):
            return found
        return min(add_spread(WhatIfRow(TODAY, stood), samples=samples, should_stop=should_stop), found, key=_likely)
    except Exception as error:  # a program fault must not take the whole table away
        return WhatIfRow(question.text, None, describe_fault(error))


def describe_fault(error: Exception, stands: str = "") -> str:
    """A program fault, and what still stands, in a sentence or two."""
    what = "Floor failed to search for longer" if stands else "Floor failed to work this out"
    said = f"{what}: {type(error).__name__}, {' '.join(str(error).split())[:200]}"
    return f"{said}. {stands}" if stands else said


def _served_first(
    stood: ShopPlan, question: WhatIfTrial, effort: int, should_stop: Callable[[], bool] | None
) -> ShopPlan:
    """Today's plan with some batches served first as if alone, which a search from today's would not find."""
    way, firsts = question.ways[0], question.first
    loads = tuple(load for load in way.problem.loads if load.batch in firsts)
    alone = make_plan([replace(way, problem=replace(way.problem, loads=loads))], effort=effort, should_stop=should_stop)
    works = {run: work for run, work in stood.asked.works.items() if work.batch not in firsts}
    runs = tuple(run for run in stood.plan.runs if run.batch not in firsts)
    those = {run.run for run in runs}
    order = (*alone.plan.order, *(run for run in stood.plan.order if run in those))
    # The others may be pushed back, as asked, so their promises do not hold.
    finish = {batch: alone.plan.finish[batch] for batch in firsts}
    plan = replace(stood.plan, runs=(*alone.plan.runs, *runs), order=order, finish=finish)
    return replace(stood, asked=replace(stood.asked, works={**works, **alone.asked.works}), plan=plan)


def _as_today(stood: ShopPlan, made: ShopPlan) -> ShopPlan:
    """Today's plan in the changed shop; with today's band if the pieces are on other loads there."""
    if {run.run for run in stood.plan.runs} == {run.run for run in made.plan.runs}:
        return replace(made, plan=stood.plan)
    due = {batch.id: batch.due for batch in made.problem.batches}
    batches = tuple(replace(batch, due=due[batch.id]) for batch in stood.problem.batches)
    return replace(stood, problem=replace(stood.problem, batches=batches, calendar=made.problem.calendar))


def add_spread(
    row: WhatIfRow, now: WhatIfRow | None = None, *, samples: int = DRAWS, should_stop: Callable[[], bool] | None = None
) -> WhatIfRow:
    """The row with the band of its finish.

    Args:
        now: today's row with its band, if this is another row.
    """
    if row.shop_plan is None or not row.whole:
        return row
    problem, plan = row.shop_plan.problem, row.shop_plan.plan
    try:
        found = replace(
            row,
            spread=simulate_finishes(
                problem, plan, samples=choose_draw_count(problem, samples), should_stop=should_stop
            ),
        )
    except CannotPlan:  # of loads to be made up, should pieces fall short
        return row
    if now is None or now.shop_plan is None or not now.whole or not row.sense:
        return found
    kept = replace(row, shop_plan=_as_today(now.shop_plan, row.shop_plan), spread=now.spread)
    worse = _likely(found) > _likely(kept)
    return kept if worse == (row.sense > 0) and _likely(found) != _likely(kept) else found


def _likely(row: WhatIfRow) -> tuple[object, ...]:
    assert row.shop_plan is not None
    return score_likely_finishes(row.shop_plan, row.spread)


def _same_plan(row: WhatIfRow, now: WhatIfRow) -> bool:
    return row.shop_plan is not None and now.shop_plan is not None and row.shop_plan.plan is now.shop_plan.plan


def add_savings(
    row: WhatIfRow, now: WhatIfRow | None = None, *, effort: int = QUICK, should_stop: Callable[[], bool] | None = None
) -> WhatIfRow:
    """The row with what one more of each would save, and thus its bottleneck.

    Args:
        now: today's row with its own; a row with the same plan has the same bottleneck.
    """
    if row.shop_plan is None or not row.whole:
        return row
    if now is not None and _same_plan(row, now):
        return replace(row, saved=now.saved)
    return replace(row, saved=rank_savings(row.shop_plan, should_stop, effort))


def compute_gain(now: WhatIfRow, row: WhatIfRow, batch: str = "") -> Gain | None:
    """How much sooner a batch, or all, will be finished than today; None if a finish is unknown."""
    before, after = (_end(one, batch) for one in (now, row))
    if before is None or after is None or now.shop_plan is None:
        return None
    calendar = now.shop_plan.problem.calendar
    return Gain(
        count_working_hours(calendar, after, before), count_days_late(calendar, _as_usual(now, row, after), before)
    )


def _as_usual(now: WhatIfRow, row: WhatIfRow, at: datetime) -> datetime:
    """Overtime worked only in the changed shop still belongs to its day."""
    assert now.shop_plan is not None
    assert row.shop_plan is not None
    return map_to_usual_day(now.shop_plan.problem.calendar, row.shop_plan.problem.calendar, at)


def _end(row: WhatIfRow, batch: str) -> datetime | None:
    if row.shop_plan is None or not row.whole:
        return None
    found = [row.finish(one) for one in ([batch] if batch else row.shop_plan.plan.finish)]
    return max((one.at for one in found if one is not None and one.at is not None), default=None)


def count_late_days(now: WhatIfRow, row: WhatIfRow, batch: str) -> int | None:
    """Working days late, negative if early; None without a due day or a finish.

    Counted by today's shifts in every row, so that working a Saturday makes nothing later. Whether it is late at all
    follows the changed shop.
    """
    found, usual = row.finish(batch), now.shop_plan
    if found is None or usual is None or found.at is None:
        return None
    due = usual.due(batch)
    if due is None:
        return None
    days = count_days_late(usual.problem.calendar, due, _as_usual(now, row, found.at))
    return max(days, 1) if found.late else min(days, 0)


def describe_first_obstacle(obstacles: Sequence[Obstacle]) -> str:
    return str(obstacles[0]) if obstacles else "no reason found"


def rank_savings(
    shop_plan: ShopPlan,
    should_stop: Callable[[], bool] | None = None,
    effort: int = QUICK,
    *,
    progress: Progress | None = None,
) -> tuple[Saving, ...]:
    """What one more of each would save, the most first; if stopped, of those examined so far.

    Empty if not all is planned: there is no finish to improve.

    Args:
        progress: called before each of them.
    """
    if not shop_plan.whole:
        return ()
    told = ProgressReporter(progress)

    def heard(done: int, total: int, name: str) -> None:
        told(done / total, f"one more {name}")

    return compute_savings_of_one_more(
        shop_plan.problem, shop_plan.plan, effort=effort, on_progress=heard, should_stop=should_stop
    )


def find_bottleneck(shop_plan: ShopPlan, saved: Sequence[Saving] | None) -> Bottleneck | None:
    """The bottleneck by what one more of each saves; None until known.

    The plan's first guess often names something else, and acting on it buys the wrong thing.
    """
    if not shop_plan.whole:
        return Bottleneck("plan", "", "Not known before every piece can be planned.")
    if saved is None and shop_plan.plan.runs:
        return None
    return find_bottleneck_by_savings(shop_plan.problem, shop_plan.plan, saved or ())


def describe_bottleneck(shop_plan: ShopPlan, saved: Sequence[Saving] | None, fault: str = "") -> str:
    """The bottleneck in words.

    Args:
        fault: why the savings will not be known.
    """
    found = find_bottleneck(shop_plan, saved)
    return found.words if found is not None else fault or "being worked out …"


def describe_saving(saving: Saving) -> str:
    """``one more Pallet saves 9.8 working hours``."""
    hours = f"{saving.working:.1f} working hours" if saving.working >= 0.05 else "nothing"
    return f"one more {name_one_more(saving)} saves {hours}"


def name_one_more(saving: Saving) -> str:
    """``operator``, ``place at Oven``, ``Pallet``."""
    return {"hands": "operator", "station": f"place at {saving.name}"}.get(saving.kind, saving.name)
