"""Make a plan: the only way from the present batches and people to a plan and the band of its finish."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import Moment
from floor.figures.calendar import Calendar
from floor.figures.errors import Impossible
from floor.figures.schedule import QUICK, CannotPlan, FinishBands, choose_draw_count, simulate_finishes
from floor.planning.calculation_progress import Progress
from floor.planning.plan import ShopPlan, make_plan
from floor.planning.plan_text import describe_missed_deadlines
from floor.planning.problem import Crew
from floor.planning.snapshot import Snapshot, take_snapshot


class Staffing(Protocol):
    """The shop settings a plan depends on."""

    @property
    def calendar(self) -> Calendar: ...
    @property
    def hands(self) -> int: ...


def find_crew(staffing: Staffing) -> Crew:
    """Who is in, by the shop's settings."""
    return Crew(staffing.calendar, staffing.hands)


@dataclass(frozen=True, slots=True)
class PlanService:
    """Makes plans of the batches as of one moment; work may go on meanwhile."""

    crew: Crew
    taken: Snapshot

    def make_plan(
        self,
        *,
        like: ShopPlan | None = None,
        effort: int = QUICK,
        previous: ShopPlan | None = None,
        hold: bool = False,
        doubts: bool = True,
        progress: Progress | None = None,
        should_stop: Callable[[], bool] | None = None,
    ) -> ShopPlan:
        """The best plan of them, by `floor.planning.plan.make_plan`.

        Args:
            like: put pieces on carriers and in cycles as this plan does; else try every way.

        Raises:
            CannotPlan: the fault is in the shop, not in single loads.
        """
        return make_plan(
            self.taken.ways if like is None else self.taken.like(like),
            effort=effort,
            previous=previous,
            hold=hold,
            doubts=doubts,
            progress=progress,
            should_stop=should_stop,
        )


def prepare_plan(batches: Sequence[Batch], now: Moment, staffing: Staffing) -> PlanService:
    """Copy what a plan is made from. The batches must not change during this call.

    Raises:
        Impossible: a checklist's yields let nothing through.
    """
    crew = find_crew(staffing)
    return PlanService(crew, take_snapshot(batches, now, crew))


def draw_finishes(
    shop_plan: ShopPlan,
    most: int,
    should_stop: Callable[[], bool] | None = None,
    tell: Callable[[float], None] | None = None,
) -> FinishBands | None:
    """The bands of the finishes; None if a batch is not fully planned, or make-up loads cannot be.

    Args:
        most: draws, unless the plan is large.
        tell: called with the share done, in the drawing thread.
    """
    if not shop_plan.whole:
        return None

    def hear(done: int, of: int) -> None:
        if tell is not None:
            tell(done / of)

    try:
        samples = choose_draw_count(shop_plan.problem, most)
        return simulate_finishes(
            shop_plan.problem, shop_plan.plan, samples=samples, should_stop=should_stop, on_progress=hear
        )
    except CannotPlan:
        return None


def describe_batch_deadlines(batches: Sequence[Batch], now: Moment, staffing: Staffing, batch: str) -> Sequence[str]:
    """Deadlines of a batch's runs under way that no plan can meet; empty if the shop cannot be planned."""
    if batch not in [one.id for one in batches if not one.gone]:
        return ()
    try:
        return describe_missed_deadlines(prepare_plan(batches, now, staffing).make_plan(), batch)
    except (CannotPlan, Impossible):  # the plan says why
        return ()
