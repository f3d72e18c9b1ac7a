"""What-ifs at a keypress: each a changed problem, planned beside the present one without touching the batch."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta

from floor.batch.state import Batch
from floor.entry import Moment
from floor.figures.calendar import Shift
from floor.figures.schedule import (
    QUICK,
    Bottleneck,
    Difference,
    Obstacle,
    Problem,
    Saving,
    by_savings,
    compare,
    longer_shifts,
    more_carriers,
    more_hands,
    more_places,
    more_shifts,
    one_more,
    station_down,
)
from floor.planning.curing import cures
from floor.planning.plan import ShopPlan
from floor.planning.problem import Asked, Change, next_day
from floor.planning.progress import Telling, Told
from floor.wall import shown

Again = Callable[[dict[str, Change]], Asked]
"""Asks the present state once more, changed; the batches themselves stay as they are."""


@dataclass(frozen=True, slots=True)
class WhatIf:
    """One question; ``problem`` makes its problem from the present one."""

    text: str
    problem: Callable[[], Problem]
    harm: bool = False
    """Something lost: where the new plan ends earlier, the present one could have too, so it costs nothing."""


def what_ifs(shop_plan: ShopPlan, batches: Sequence[Batch], now: Moment, again: Again) -> list[WhatIf]:
    """The questions that the present plan gives rise to, the likely ones first."""
    return list(_what_ifs(shop_plan, batches, now, again))


def _what_ifs(shop_plan: ShopPlan, batches: Sequence[Batch], now: Moment, again: Again) -> Iterator[WhatIf]:
    # Where not all is planned the question is what would make it possible.
    problem, plan = shop_plan.problem if shop_plan.whole else shop_plan.asked.problem, shop_plan.plan
    used = sorted((use for use in plan.use if use.busy), key=lambda use: -use.share)
    for use in used:
        if use.kind == "carrier":
            yield WhatIf(f"One more {use.name}", lambda name=use.name: more_carriers(problem, name))  # type: ignore[misc]
    yield WhatIf("One more pair of hands", lambda: more_hands(problem))
    second = second_shift(problem)
    if second:
        yield WhatIf("A second shift", lambda: more_shifts(problem, *second))
    yield WhatIf("An hour more of every shift", lambda: longer_shifts(problem, timedelta(hours=1)))
    morning = tomorrow(problem)
    for use in used:
        if use.kind == "station" and morning is not None:
            yield WhatIf(
                f"{use.name} down until {shown(morning, '%a %H:%M')}",
                lambda name=use.name: station_down(problem, name, morning),  # type: ignore[misc]
                harm=True,
            )
    ahead = {(work.batch, work.op) for work in shop_plan.asked.works.values()}
    for batch in batches:
        of = f" of {batch.id}" if len(batches) > 1 else ""
        for cure in cures(batch.checklist):
            if any((batch.id, op) in ahead for op in cure.waiting):
                yield WhatIf(
                    f"Cure after {cure.op} {batch.operation(cure.op).title}{of} half as long again "
                    f"(+{cure.minutes / 120:.0f} h)",
                    lambda id=batch.id, op=cure.op, more=cure.minutes / 2: again(  # type: ignore[misc]
                        {id: Change(longer={op: more})}
                    ).problem,
                    harm=True,
                )
    for batch in batches:
        of = f" of {batch.id}" if len(batches) > 1 else ""
        for load in batch.live_loads():
            count = len(batch.present(load))
            yield WhatIf(
                f"Load {load.number}{of} ({batch.carrier_name(load)}) is scrapped and made again",
                lambda id=batch.id, number=load.number, count=count: again(  # type: ignore[misc]
                    {id: Change(frozenset({number}), count)}
                ).problem,
                harm=True,
            )
    for use in used:
        if use.kind == "station" and use.share >= 0.1:
            yield WhatIf(
                f"One more place at {use.name}", lambda name=use.name: more_places(problem, name)  # type: ignore[misc]
            )


def second_shift(problem: Problem) -> tuple[Shift, ...]:
    """A shift after each that there is, as long and with as many people; none where one would meet the next."""
    more = []
    for shift in problem.calendar.shifts:
        length = (_minute(shift.end) - _minute(shift.start) - 1) % 1440 + 1
        if 2 * length > 1440:
            return ()
        end = (_minute(shift.end) + length) % 1440
        over = shift.end <= shift.start
        more.append(Shift((shift.weekday + over) % 7, shift.end, time(end // 60, end % 60), (), shift.people))
    return tuple(more)


def tomorrow(problem: Problem) -> datetime | None:
    """When the next day's work begins; None where there is no further shift."""
    return next_day(problem.now, problem.calendar)


def answer(
    shop_plan: ShopPlan,
    question: WhatIf,
    problem: Problem | None = None,
    *,
    should_stop: Callable[[], bool] | None = None,
) -> Difference:
    """The changed plan beside the present one.

    Args:
        problem: the question's problem, where it was made already.
        should_stop: as `make_plan`.
    """
    changed = problem if problem is not None else question.problem()
    laid = shop_plan.asked.obstacles
    if laid:  # no shop, however large, keeps these windows
        return Difference(None, None, {}, laid)
    found = compare(shop_plan.plan, changed, should_stop=should_stop)
    if question.harm and found.hours is not None and found.hours < 0:
        return replace(found, hours=0.0, batches={batch: max(0.0, hours) for batch, hours in found.batches.items()})
    return found


def difference_said(shop_plan: ShopPlan, difference: Difference) -> str:
    """``7.5 h earlier``, with each batch where there are several; or why it cannot be done."""
    if difference.hours is None or difference.plan is None:
        return f"cannot be planned: {first(difference.obstacles)}"
    if not shop_plan.whole:
        return f"all can be planned, done {shown(difference.plan.end, '%a %d %b %H:%M')} at the earliest"
    end = shop_plan.plan.end if difference.hours == 0 else difference.plan.end
    said = f"{hours_said(difference.hours)}, {shown(end, '%a %d %b %H:%M')}"
    moved = [f"{id} {hours_said(hours)}" for id, hours in difference.batches.items() if abs(hours) >= 0.05]
    return f"{said} ({', '.join(moved)})" if moved and len(difference.batches) > 1 else said


def first(obstacles: Sequence[Obstacle]) -> str:
    return str(obstacles[0]) if obstacles else "no reason found"


def hours_said(hours: float) -> str:
    """``7.5 h later``, ``the same``."""
    return "the same" if abs(hours) < 0.05 else f"{abs(hours):.1f} h {'later' if hours > 0 else 'earlier'}"


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


def bottleneck(shop_plan: ShopPlan, saved: Sequence[Saving]) -> Bottleneck:
    """What the finish hangs on, in words that agree with the savings; the plan's first word until they are known."""
    if not shop_plan.whole:
        return Bottleneck("plan", "", "Not known before every piece can be planned.")
    return by_savings(shop_plan.problem, shop_plan.plan, saved)


def saving_said(saving: Saving) -> str:
    """``one more Pallet saves 26.1 h``."""
    hours = f"{saving.hours:.1f} h earlier" if saving.hours >= 0.05 else "saves nothing"
    return f"one more {more_of(saving)}: {hours}"


def more_of(saving: Saving) -> str:
    """``pair of hands``, ``place at Oven``, ``Pallet``."""
    return {"hands": "pair of hands", "station": f"place at {saving.name}"}.get(saving.kind, saving.name)


def _minute(at: time) -> int:
    return at.hour * 60 + at.minute
