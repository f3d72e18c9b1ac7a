"""The one finish of a batch that every screen and paper states."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from floor.figures.calendar import Calendar
from floor.figures.schedule import Band, FinishBands
from floor.figures.workdays import count_days_late
from floor.planning.plan import ShopPlan


@dataclass(frozen=True, slots=True)
class Finish:
    """When a batch is through: the middle of what is to be expected, later and earlier being as likely.

    Where the band is not known yet it is the plan as drawn, which takes every piece to come out good.
    """

    at: datetime | None
    """None where not every piece is planned."""
    drawn: datetime | None
    """When the plan as drawn is through."""
    band: Band | None
    """None where it is not known."""
    due: datetime | None
    """The end of the last shift of the due day."""
    due_day: date | None
    calendar: Calendar
    """Whose working days count."""

    @property
    def is_as_drawn(self) -> bool:
        """Whether it is no more than the plan as drawn."""
        return self.at is not None and self.band is None

    @property
    def late_hours(self) -> float | None:
        """Hours after the end of the due day; negative is early, None where there is none or the finish is unknown."""
        return None if self.at is None or self.due is None else (self.at - self.due).total_seconds() / 3600

    @property
    def late(self) -> bool:
        return (self.late_hours or 0.0) > 0

    @property
    def late_days(self) -> int | None:
        """Working days after the due day; negative is before it, None where there is none or the finish is unknown."""
        return None if self.at is None or self.due is None else self._days(self.due, self.at)

    def _days(self, due: datetime, done: datetime) -> int:
        """What is late is so by a day at the least: nobody can be given it before the next."""
        days = count_days_late(self.calendar, due, done)
        return max(days, 1) if done > due else days


def compute_finish(shop_plan: ShopPlan, batch: str, band: Band | None = None) -> Finish:
    """The finish of a batch, with its band where that is known."""
    due, day, calendar = shop_plan.due(batch), shop_plan.asked.due.get(batch), shop_plan.problem.calendar
    if batch in shop_plan.unplanned:
        return Finish(None, None, None, due, day, calendar)
    drawn = shop_plan.plan.finish[batch]
    return Finish(drawn if band is None else band.middle, drawn, band, due, day, calendar)


def find_last_finish(shop_plan: ShopPlan, band: Band | None = None) -> datetime | None:
    """When all batches are through, by the band of them all where that is known; None where that of one is unknown."""
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
    """The finish that is stated of each batch of which one is known."""
    return {batch: one.at for batch, one in compute_finishes(shop_plan, found).items() if one.at is not None}


def score_likely_finishes(
    shop_plan: ShopPlan, found: FinishBands | None, promised: Mapping[str, datetime] = {}
) -> tuple[int, int, float, float, float, float]:
    """What makes one plan worse than another by the finishes that are stated, the gravest first.

    Pieces left out, loads left out, lateness, time past the promises, the last finish, and the sum of all. Of two plans
    as drawn the one that ends sooner may be the one that suffers more from whatever takes longer: where a load just
    comes before a shift ends, it often comes too late.

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
