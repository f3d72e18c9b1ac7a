"""The one finish of a batch that every screen and paper states."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from floor.figures.schedule import Band
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

    @property
    def earliest(self) -> bool:
        """Whether it is no more than the earliest: the band, as far as it is known, begins later."""
        return self.at is not None and (self.band is None or self.at < self.band.early)

    @property
    def late_hours(self) -> float | None:
        """Hours after the due date; negative is early, None where there is none or the finish is unknown."""
        return None if self.at is None or self.due is None else (self.at - self.due).total_seconds() / 3600

    @property
    def late(self) -> bool:
        """Whether it is late by the plan, or by all of its band."""
        return (self.late_hours or 0.0) > 0 or self.least_late_hours is not None

    @property
    def least_late_hours(self) -> float | None:
        """Hours after the due date at which the whole band begins, where the plan is in time; else None."""
        if self.band is None or self.due is None or self.late_hours is None or self.late_hours > 0:
            return None
        hours = (self.band.early - self.due).total_seconds() / 3600
        return hours if hours > 0 else None


def finish(shop_plan: ShopPlan, batch: str, band: Band | None = None) -> Finish:
    """The finish of a batch, with its band where that is known."""
    due = shop_plan.due(batch)
    if batch in shop_plan.unplanned:
        return Finish(None, None, due)
    at = shop_plan.plan.finish[batch]
    return Finish(at, None if band is None or at > band.late else band, due)


def last_finish(shop_plan: ShopPlan) -> datetime | None:
    """When all batches are through; None where that of one is unknown."""
    return shop_plan.plan.end if shop_plan.whole else None
