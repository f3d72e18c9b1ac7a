"""The one finish of a batch that every screen and paper states."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from floor.figures.calendar import Calendar
from floor.figures.schedule import Band
from floor.figures.workdays import days_late
from floor.planning.plan import ShopPlan


@dataclass(frozen=True, slots=True)
class Finish:
    """When a batch is through: as planned, which stays the same while work goes by the plan.

    Not the middle of the band: where it is as likely as not that pieces have to be made up, that jumps by days.
    """

    at: datetime | None
    """None where not every piece is planned."""
    band: Band | None
    """None where it is not known, or is that of a plan that stood before and promised more."""
    due: datetime | None
    """The end of the last shift of the due day."""
    due_day: date | None
    calendar: Calendar
    """Whose working days count."""

    @property
    def earliest(self) -> bool:
        """Whether it is no more than the earliest: the band, as far as it is known, begins later."""
        return self.at is not None and (self.band is None or self.at < self.band.early)

    @property
    def late_hours(self) -> float | None:
        """Hours after the end of the due day; negative is early, None where there is none or the finish is unknown."""
        return None if self.at is None or self.due is None else (self.at - self.due).total_seconds() / 3600

    @property
    def late(self) -> bool:
        """Whether it is late by the plan, or by all of its band."""
        return (self.late_hours or 0.0) > 0 or self.least_late_days is not None

    @property
    def late_days(self) -> int | None:
        """Working days after the due day; negative is before it, None where there is none or the finish is unknown."""
        return None if self.at is None or self.due is None else self._days(self.due, self.at)

    def _days(self, due: datetime, done: datetime) -> int:
        """What is late is so by a day at the least: nobody can be given it before the next."""
        days = days_late(self.calendar, due, done)
        return max(days, 1) if done > due else days

    @property
    def least_late_days(self) -> int | None:
        """Working days after the due day at which the whole band begins, where the plan is in time; else None."""
        if self.band is None or self.due is None or self.late_hours is None or self.late_hours > 0:
            return None
        return self._days(self.due, self.band.early) if self.band.early > self.due else None


def finish(shop_plan: ShopPlan, batch: str, band: Band | None = None) -> Finish:
    """The finish of a batch, with its band where that is known."""
    due, day, calendar = shop_plan.due(batch), shop_plan.asked.due.get(batch), shop_plan.problem.calendar
    if batch in shop_plan.unplanned:
        return Finish(None, None, due, day, calendar)
    at = shop_plan.plan.finish[batch]
    return Finish(at, None if band is None or at > band.late else band, due, day, calendar)


def last_finish(shop_plan: ShopPlan) -> datetime | None:
    """When all batches are through; None where that of one is unknown."""
    return shop_plan.plan.end if shop_plan.whole else None
