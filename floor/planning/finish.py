"""The one finish of a batch that every screen and paper states."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from floor.dataclass import dataclass
from floor.figures.calendar import Calendar
from floor.figures.schedule import Band, FinishBands
from floor.figures.workdays import count_days_late
from floor.planning.plan import ShopPlan


@dataclass(frozen=True, slots=True)
class Finish:
    """When a batch will be finished: the median, later and earlier being equally likely.

    Until the band is known it is the plan as drawn, which assumes that every piece comes out good.
    """

    at: datetime | None
    """None if some piece is not planned."""
    drawn: datetime | None
    """The end of the plan as drawn."""
    band: Band | None
    """None if unknown."""
    due: datetime | None
    """The end of the last shift of the due day."""
    due_day: date | None
    calendar: Calendar
    """The calendar whose working days count."""

    @property
    def is_as_drawn(self) -> bool:
        """Whether it is only the plan as drawn."""
        return self.at is not None and self.band is None

    @property
    def late_hours(self) -> float | None:
        """Hours after the end of the due day; negative is early, None without a due day or a finish."""
        return None if self.at is None or self.due is None else (self.at - self.due).total_seconds() / 3600

    @property
    def late(self) -> bool:
        return (self.late_hours or 0.0) > 0

    @property
    def late_days(self) -> int | None:
        """Working days after the due day; negative is early, None without a due day or a finish."""
        return None if self.at is None or self.due is None else self._days(self.due, self.at)

    def _days(self, due: datetime, done: datetime) -> int:
        """Late means at least one day: nobody gets the parts before the next day."""
        days = count_days_late(self.calendar, due, done)
        return max(days, 1) if done > due else days


def compute_finish(shop_plan: ShopPlan, batch: str, band: Band | None = None) -> Finish:
    """The finish of a batch, with its band if known."""
    due, day, calendar = shop_plan.due(batch), shop_plan.asked.due.get(batch), shop_plan.problem.calendar
    if batch in shop_plan.unplanned:
        return Finish(None, None, None, due, day, calendar)
    drawn = shop_plan.plan.finish[batch]
    return Finish(drawn if band is None else band.middle, drawn, band, due, day, calendar)


def find_last_finish(shop_plan: ShopPlan, band: Band | None = None) -> datetime | None:
    """When all batches are finished, by their common band if known; None if any finish is unknown."""
    if not shop_plan.whole:
        return None
    return shop_plan.plan.end if band is None else band.middle


def compute_finishes(shop_plan: ShopPlan, found: FinishBands | None) -> dict[str, Finish]:
    """The finish of every batch.

    Args:
        found: the plan's spread.
    """
    bands = found.batches if found is not None else {}
    return {batch: compute_finish(shop_plan, batch, bands.get(batch)) for batch in shop_plan.plan.finish}


def list_stated_finishes(shop_plan: ShopPlan, found: FinishBands | None) -> dict[str, datetime]:
    """The stated finish of each batch that has one."""
    return {batch: one.at for batch, one in compute_finishes(shop_plan, found).items() if one.at is not None}


def score_likely_finishes(
    shop_plan: ShopPlan, found: FinishBands | None, promised: Mapping[str, datetime] = {}
) -> tuple[int, int, float, float, float, float]:
    """Score a plan by its stated finishes; lower is better, compared in order.

    Pieces left out, loads left out, lateness, time past the promises, last finish, sum of finishes. A plan that ends
    sooner as drawn may suffer more from delays: a load just before the end of a shift is often too late.

    Args:
        found: its spread.
        promised: for each batch, the finish that was stated.
    """
    ends = {batch: at.timestamp() for batch, at in list_stated_finishes(shop_plan, found).items()}
    late = sum(
        batch.weight * max(0.0, ends[batch.id] - batch.due.timestamp())
        for batch in shop_plan.problem.batches
        if batch.due is not None and batch.id in ends
    )
    pushed = sum(max(0.0, end - promised[batch].timestamp()) for batch, end in ends.items() if batch in promised)
    return (
        sum(one.pieces for one in shop_plan.unplanned.values()),
        len(shop_plan.asked.problem.loads) - len(shop_plan.problem.loads),
        late,
        pushed,
        max(ends.values(), default=0.0),
        sum(ends.values()),
    )
