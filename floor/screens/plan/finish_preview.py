"""When an order would be through: planned beside the open batches in the background, before the batch exists."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from functools import partial
from typing import TYPE_CHECKING, cast

from textual.widgets import Static

from floor.checklist.expected_yields import NO_TESTS, TestPieces
from floor.checklist.model import Checklist
from floor.screens.frame.app_services import Program
from floor.screens.frame.run_in_thread import run_in_thread
from floor.screens.frame.session import Session
from floor.screens.plan.background_plan import SAMPLES
from floor.text import format_count, format_share

if TYPE_CHECKING:
    from floor.batch.earlier import EarlierTold
    from floor.batch.state import Batch
    from floor.figures.schedule import FinishBands, Saving
    from floor.planning.finish import Finish
    from floor.planning.plan import ShopPlan

TYPING = 0.4
"""Seconds without a key before a plan is started."""
NAME = "this order"
WORKING = "being worked out …"
PLANNED = 0.3
"""Share of the work done when the plan stands and its draws are started."""


class FinishPreview(Static):
    """The finish of an order beside the open batches, and what limits it; one that is asked again stops the last."""

    def __init__(self, session: Session, checklist: Checklist, id: str) -> None:
        super().__init__(id=id, markup=False)
        self.session = session
        self.checklist = checklist
        self.earlier: EarlierTold | None = None
        """What earlier batches tell, to plan by."""
        self.tests: TestPieces = NO_TESTS
        """Good pieces to be used up, by operation."""
        self.asked: tuple[object, ...] = ()

    def ask(self, order: int, pieces: int, due: date | None) -> None:
        """Work it out for an order and so many pieces started; nothing for none. Where time stands still, nothing."""
        asked = order, pieces, due, self.earlier, self.tests
        if self.asked == asked:
            return
        self.asked = asked
        self.update("")
        if pieces and cast(Program, self.app).ticking:
            self.run_worker(self._work_out(order, pieces, due), group="promise", exclusive=True, exit_on_error=False)

    async def _work_out(self, order: int, pieces: int, due: date | None) -> None:
        await asyncio.sleep(TYPING)
        loop = asyncio.get_running_loop()

        asked = self.asked

        def stop() -> bool:
            return self.asked != asked or not self.is_attached

        def tell(said: str) -> None:
            if not stop():
                self.update(said)

        def telling(show: Callable[[str], None]) -> Callable[[float, str], None]:
            """Shows how far it is, told by the thread that works, as often as there is something else to say."""
            told = ""

            def hear(share: float, doing: str) -> None:
                nonlocal told
                said = f"{WORKING} {format_share(share)}, {doing}"
                if said != told and not stop():
                    told = said
                    loop.call_soon_threadsafe(show, said)

            return hear

        def begin(doing: str) -> None:
            tell(f"Finish date: {doing}")

        def show(saved: Sequence[Saving] | None, instead: str = "") -> None:
            if not stop():
                self.update("\n".join(describe_preview(shop_plan, found, before, saved, instead)))

        begin(WORKING)
        try:
            from floor.planning.start_plan import build_fresh_batch

            before = _on_view(self.session)
            fresh = partial(build_fresh_batch, self.checklist, order, pieces, earlier=self.earlier, tests=self.tests)
            shop_plan, found = await _planned(self.session, fresh, due, stop, telling(begin))
        except Exception as error:  # whatever it is, the batch can be opened without it
            tell(f"The finish date is not known: {error}")
            return
        show(None)
        try:
            show(await _savings(shop_plan, stop, telling(lambda doing: show(None, doing))))
        except Exception as error:  # the finish stands without it
            from floor.planning.whatif import describe_fault

            show(None, describe_fault(error))


async def _planned(
    session: Session,
    fresh: Callable[..., Batch],
    due: date | None,
    stop: Callable[[], bool],
    tell: Callable[[float, str], None],
) -> tuple[ShopPlan, FinishBands | None]:
    """The plan of the open batches with one more, which is entered nowhere, and its spread.

    It starts from the plan on view and holds it, as the one that is made once the batch is open.
    """
    await run_in_thread(_import)
    from floor.planning.make_plan import draw_finishes, prepare_plan
    from floor.shop.load_settings import load_settings

    now = session.now()
    settings = await run_in_thread(load_settings, session.shop.folder, now.at)
    batch = await run_in_thread(fresh, now=now, id=NAME)
    batch.due = due
    service = prepare_plan([*session.shop.batches, batch], now, settings)  # between two keys
    on_view = session.planner.shop_plan
    shop_plan = await run_in_thread(
        service.make_plan,
        previous=on_view,
        hold=on_view is not None,
        should_stop=stop,
        progress=lambda share, doing: tell(PLANNED * share, doing),
    )
    return shop_plan, await run_in_thread(
        draw_finishes,
        shop_plan,
        SAMPLES,
        should_stop=stop,
        tell=lambda share: tell(PLANNED + (1 - PLANNED) * share, "spread of the finish"),
    )


def _on_view(session: Session) -> dict[str, Finish]:
    """The finishes of the open batches, as they are on view; none before there is a plan."""
    from floor.planning.finish import compute_finishes

    shop_plan = session.planner.shop_plan
    return compute_finishes(shop_plan, session.planner.spread) if shop_plan is not None else {}


async def _savings(
    shop_plan: ShopPlan, stop: Callable[[], bool], tell: Callable[[float, str], None]
) -> Sequence[Saving]:
    """What one more of each would save; in a large shop judged by a single order of work for each."""
    from floor.figures.schedule import FIRST, LARGE, QUICK
    from floor.planning.whatif import rank_savings

    effort = FIRST if len(shop_plan.plan.runs) > LARGE else QUICK
    return await run_in_thread(rank_savings, shop_plan, stop, effort, progress=tell)


def _import() -> None:
    import floor.figures.schedule
    import floor.planning.make_plan
    import floor.planning.start_plan
    import floor.planning.whatif
    import floor.shop.settings  # noqa: F401


def describe_preview(
    shop_plan: ShopPlan,
    spread: FinishBands | None,
    before: Mapping[str, Finish],
    saved: Sequence[Saving] | None,
    instead: str = "",
) -> list[str]:
    """When it is through with its band, how that lies to the due date, what it makes later, and what limits it.

    Args:
        before: finishes of the open batches without it.
        instead: what is said as long as what limits it is not known: how far that is, or why it never will be.
    """
    from floor.planning.finish import compute_finishes
    from floor.planning.plan_text import (
        describe_pushed_batches,
        describe_troubles,
        describe_unknown_finish,
        format_day_time,
        format_lateness,
        format_spread,
    )
    from floor.planning.whatif import describe_bottleneck

    if NAME not in shop_plan.plan.finish:
        return ["It cannot be planned:", *describe_troubles(shop_plan)[:3]]
    others = len(shop_plan.plan.finish) - 1
    beside = f"beside {format_count(others, 'open batch')}" if others else "alone in the shop"
    after = compute_finishes(shop_plan, spread)
    found = after[NAME]
    if found.at is None:
        return [f"If started now, {beside}: ✕ {describe_unknown_finish(shop_plan, NAME)}"]
    said = f"If started now, {beside}: done {format_day_time(found.at)}{format_spread(found)}"
    if found.due is not None:
        said += f", {format_lateness(found)}"
    pushed = describe_pushed_batches({id: one for id, one in before.items() if id in after}, after)
    return [
        said,
        *pushed,
        f"Bottleneck: {describe_bottleneck(shop_plan, saved, instead)}",
        *describe_troubles(shop_plan)[:2],
    ]
