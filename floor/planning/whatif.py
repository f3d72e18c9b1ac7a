"""What if: each change of the shop, and all together, planned beside the present plan; the batches stay as they are."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from floor.entry import Moment
from floor.figures.schedule import (
    QUICK,
    Bottleneck,
    CannotPlan,
    Obstacle,
    Saving,
    Spread,
    by_savings,
    draws,
    one_more,
    spread,
)
from floor.figures.workdays import as_usual, days_late, working_hours
from floor.planning.finish import Finish, finish, likely_badness
from floor.planning.plan import ShopPlan, badness, make_plan
from floor.planning.problem import Asked
from floor.planning.progress import Telling, Told
from floor.planning.questions import Wish, suppose
from floor.planning.variants import Case, paces_of, with_due_days

TODAY = "Today"
ALL = "All together"
DRAWS = 60
"""For the spread of a row's finish, where the plan is not large."""


@dataclass(frozen=True, slots=True)
class Question:
    """One row to be planned: what the planner is asked, taken between two keys as the batches stand."""

    text: str
    ways: tuple[Asked, ...]
    sense: int = 0
    """1 where the change can only help, -1 where it can only harm."""
    first: tuple[str, ...] = ()
    """Batches that go before all others."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the table."""

    text: str
    shop_plan: ShopPlan | None
    """None where nothing can be planned."""
    why: str = ""
    """What is in the way of a plan of every piece."""
    sense: int = 0
    """As that of its question."""
    spread: Spread | None = None
    """Of its finish, as far as it is worked out."""
    saved: tuple[Saving, ...] | None = None
    """What one more of each would save then; None until it is worked out."""

    def finish(self, batch: str) -> Finish | None:
        """The finish of a batch, stated as everywhere; None where there is no plan."""
        if self.shop_plan is None:
            return None
        return finish(self.shop_plan, batch, self.spread.batches.get(batch) if self.spread else None)

    @property
    def whole(self) -> bool:
        """Whether every piece is planned, so that there is a finish."""
        return self.shop_plan is not None and self.shop_plan.whole

    @property
    def bottleneck(self) -> Bottleneck | None:
        """None where there is no finish, and until it is worked out."""
        return bottleneck(self.shop_plan, self.saved) if self.shop_plan is not None and self.whole else None


@dataclass(frozen=True, slots=True)
class Gain:
    """How much sooner, in the working time of today's shifts; negative is later."""

    hours: float
    days: int


def questions(case: Case, wishes: Sequence[Wish], now: Moment) -> list[Question]:
    """The shop as it is, with each change, and where there are several with all of them."""
    known = paces_of(case)
    rows: list[tuple[str, list[Wish]]] = [(TODAY, []), *((wish.text, [wish]) for wish in wishes)]
    if len(wishes) > 1:
        rows.append((ALL, list(wishes)))
    asked = ((text, suppose(case, some), _sense(some)) for text, some in rows)
    return [Question(text, supposed.ways(now, known), sense, supposed.first) for text, supposed, sense in asked]


def _sense(wishes: Sequence[Wish]) -> int:
    senses = {wish.sense for wish in wishes} or {1}  # to plan the same shop once more can only help
    return senses.pop() if len(senses) == 1 else 0


def today(
    shop_plan: ShopPlan, question: Question, *, effort: int = QUICK, should_stop: Callable[[], bool] | None = None
) -> Row:
    """The present plan, made once more as the others are, so that no change is given what only luck would gain.

    It stays as it is unless that finds a better one.
    """
    return answer(Row(TODAY, shop_plan), question, effort=effort, should_stop=should_stop)


def answer(
    now: Row, question: Question, *, effort: int = QUICK, should_stop: Callable[[], bool] | None = None
) -> Row:
    """A row planned from today's.

    A change that can only help never finishes later than today's plan, which would still do; nor does one that can only
    harm finish sooner, as today's plan could be that one.

    Args:
        should_stop: as `make_plan`.
    """
    stood = now.shop_plan
    try:
        begin = _served_first(stood, question, effort, should_stop) if stood is not None and question.first else stood
        made = make_plan(question.ways, effort=effort, previous=begin, hold=True, should_stop=should_stop)
        made = with_due_days(made)
    except CannotPlan as refused:
        return Row(question.text, None, first(refused.obstacles))
    if not made.whole:
        return Row(question.text, made, first(made.obstacles), question.sense)
    if stood is not None and stood.whole and question.sense:
        kept = _as_today(stood, made)
        if (badness(made) >= badness(kept)) if question.sense > 0 else (badness(made) <= badness(kept)):
            made = kept
    return Row(question.text, made, sense=question.sense)


def row_of(
    stood: ShopPlan, question: Question, now: Row | None = None, *, effort: int = QUICK, samples: int = DRAWS,
    should_stop: Callable[[], bool] | None = None,
) -> Row:  # fmt: skip
    """A row with its spread. A fault in one row is shown in its place, and the other rows stand.

    Args:
        stood: the present plan.
        now: today's row; None while that is the one to make.
    """
    try:
        if now is not None:
            row = answer(now, question, effort=effort, should_stop=should_stop)
            return with_spread(row, now, samples=samples, should_stop=should_stop)
        row = today(stood, question, effort=effort, should_stop=should_stop)
        found = with_spread(row, samples=samples, should_stop=should_stop)
        if not found.whole or not stood.whole or _same_plan(found, Row(TODAY, stood)):
            return found
        return min(with_spread(Row(TODAY, stood), samples=samples, should_stop=should_stop), found, key=_likely)
    except Exception as error:  # a fault of the program, and no reason to take the whole table away
        return Row(question.text, None, fault_said(error))


def fault_said(error: Exception, stands: str = "") -> str:
    """A fault of the program, and what stands all the same, in a sentence or two."""
    what = "Floor failed to search for longer" if stands else "Floor failed to work this out"
    said = f"{what}: {type(error).__name__}, {' '.join(str(error).split())[:200]}"
    return f"{said}. {stands}" if stands else said


def _served_first(
    stood: ShopPlan, question: Question, effort: int, should_stop: Callable[[], bool] | None
) -> ShopPlan:
    """Today's plan with some batches served first, as if they were alone: what a search from today's would not find."""
    way, firsts = question.ways[0], question.first
    loads = tuple(load for load in way.problem.loads if load.batch in firsts)
    alone = make_plan([replace(way, problem=replace(way.problem, loads=loads))], effort=effort, should_stop=should_stop)
    works = {run: work for run, work in stood.asked.works.items() if work.batch not in firsts}
    runs = tuple(run for run in stood.plan.runs if run.batch not in firsts)
    those = {run.run for run in runs}
    order = (*alone.plan.order, *(run for run in stood.plan.order if run in those))
    # The others may be pushed back: that is what was asked for, so nothing stays promised for them.
    finish = {batch: alone.plan.finish[batch] for batch in firsts}
    plan = replace(stood.plan, runs=(*alone.plan.runs, *runs), order=order, finish=finish)
    return replace(stood, asked=replace(stood.asked, works={**works, **alone.asked.works}), plan=plan)


def _as_today(stood: ShopPlan, made: ShopPlan) -> ShopPlan:
    """Today's plan in the changed shop; in today's, as to its spread, where the pieces lie on other loads there."""
    if {run.run for run in stood.plan.runs} == {run.run for run in made.plan.runs}:
        return replace(made, plan=stood.plan)
    due = {batch.id: batch.due for batch in made.problem.batches}
    batches = tuple(replace(batch, due=due[batch.id]) for batch in stood.problem.batches)
    return replace(stood, problem=replace(stood.problem, batches=batches, calendar=made.problem.calendar))


def with_spread(
    row: Row, now: Row | None = None, *, samples: int = DRAWS, should_stop: Callable[[], bool] | None = None
) -> Row:
    """The row with the spread of its finish.

    Args:
        now: today's, with its own, where this is another row.
    """
    if row.shop_plan is None or not row.whole:
        return row
    problem, plan = row.shop_plan.problem, row.shop_plan.plan
    try:
        found = replace(row, spread=spread(problem, plan, samples=draws(problem, samples), should_stop=should_stop))
    except CannotPlan:  # of loads to be made up, should pieces fall short
        return row
    if now is None or now.shop_plan is None or not now.whole or not row.sense:
        return found
    kept = replace(row, shop_plan=_as_today(now.shop_plan, row.shop_plan), spread=now.spread)
    worse = _likely(found) > _likely(kept)
    return kept if worse == (row.sense > 0) and _likely(found) != _likely(kept) else found


def _likely(row: Row) -> tuple[object, ...]:
    assert row.shop_plan is not None
    return likely_badness(row.shop_plan, row.spread)


def _same_plan(row: Row, now: Row) -> bool:
    return row.shop_plan is not None and now.shop_plan is not None and row.shop_plan.plan is now.shop_plan.plan


def with_savings(
    row: Row, now: Row | None = None, *, effort: int = QUICK, should_stop: Callable[[], bool] | None = None
) -> Row:
    """The row with what one more of each would save then, which tells its bottleneck.

    Args:
        now: today's, with its own: what has the plan of today has its bottleneck too.
    """
    if row.shop_plan is None or not row.whole:
        return row
    if now is not None and _same_plan(row, now):
        return replace(row, saved=now.saved)
    return replace(row, saved=savings(row.shop_plan, should_stop, effort))


def gain(now: Row, row: Row, batch: str = "") -> Gain | None:
    """How much sooner a batch is through than today, or all of them; None where one of the finishes is unknown."""
    before, after = (_end(one, batch) for one in (now, row))
    if before is None or after is None or now.shop_plan is None:
        return None
    calendar = now.shop_plan.problem.calendar
    return Gain(working_hours(calendar, after, before), days_late(calendar, _as_usual(now, row, after), before))


def _as_usual(now: Row, row: Row, at: datetime) -> datetime:
    """Overtime that only the changed shop works still belongs to its day."""
    assert now.shop_plan is not None
    assert row.shop_plan is not None
    return as_usual(now.shop_plan.problem.calendar, row.shop_plan.problem.calendar, at)


def _end(row: Row, batch: str) -> datetime | None:
    if row.shop_plan is None or not row.whole:
        return None
    found = [row.finish(one) for one in ([batch] if batch else row.shop_plan.plan.finish)]
    return max((one.at for one in found if one is not None and one.at is not None), default=None)


def late_days(now: Row, row: Row, batch: str) -> int | None:
    """Working days by which a batch is late then, negative early; None without a due day or a finish.

    They are counted by today's shifts, the measure of every row: a Saturday that is worked makes nothing later. Whether
    it is late at all, the changed shop says.
    """
    found, usual = row.finish(batch), now.shop_plan
    if found is None or usual is None or found.late_days is None or found.at is None:
        return None
    due = usual.due(batch)
    if due is None:
        return None
    days = days_late(usual.problem.calendar, due, _as_usual(now, row, found.at))
    return max(days, 1) if found.late else min(days, 0)


def first(obstacles: Sequence[Obstacle]) -> str:
    return str(obstacles[0]) if obstacles else "no reason found"


def savings(
    shop_plan: ShopPlan,
    should_stop: Callable[[], bool] | None = None,
    effort: int = QUICK,
    *,
    progress: Telling | None = None,
) -> tuple[Saving, ...]:
    """What one more of each would save, the most first; stopped, that of those looked at so far.

    Nothing where not all is planned: there is no finish to bring forward.

    Args:
        progress: told before each of them.
    """
    if not shop_plan.whole:
        return ()
    told = Told(progress)

    def heard(done: int, total: int, name: str) -> None:
        told(done / total, f"one more {name}")

    return one_more(shop_plan.problem, shop_plan.plan, effort=effort, on_progress=heard, should_stop=should_stop)


def bottleneck(shop_plan: ShopPlan, saved: Sequence[Saving] | None) -> Bottleneck | None:
    """What the finish hangs on, by what one more of each saves; None until that is known: the plan's own first guess
    often names something else, and whoever acts on it buys the wrong thing.
    """
    if not shop_plan.whole:
        return Bottleneck("plan", "", "Not known before every piece can be planned.")
    if saved is None and shop_plan.plan.runs:
        return None
    return by_savings(shop_plan.problem, shop_plan.plan, saved or ())


def limit_words(shop_plan: ShopPlan, saved: Sequence[Saving] | None, fault: str = "") -> str:
    """What the finish hangs on.

    Args:
        fault: why what one more of each saves will not be known.
    """
    found = bottleneck(shop_plan, saved)
    return found.words if found is not None else fault or "being worked out …"


def saving_said(saving: Saving) -> str:
    """``one more Pallet saves 9.8 working hours``."""
    hours = f"{saving.working:.1f} working hours" if saving.working >= 0.05 else "nothing"
    return f"one more {more_of(saving)} saves {hours}"


def more_of(saving: Saving) -> str:
    """``operator``, ``place at Oven``, ``Pallet``."""
    return {"hands": "operator", "station": f"place at {saving.name}"}.get(saving.kind, saving.name)
