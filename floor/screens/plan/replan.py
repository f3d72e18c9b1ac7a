"""Renewing the plan behind whatever screen is up."""

from __future__ import annotations

import asyncio

from floor.screens.frame.screen import FloorScreen
from floor.screens.plan.background_plan import SETTLE


def keep_planned(screen: FloorScreen) -> None:
    """Have the plan renewed in the background where it is out of date; the screen shows itself again when it is.

    Where the program stands still, as in a test, nothing is started.
    """
    floor, session = screen.floor, screen.session
    planner = session.planner
    if not floor.ticking or planner.busy or not session.shop.batches or planner.is_fresh(session.shop, session.now()):
        return
    planner.busy = True

    async def renew() -> None:
        try:
            await asyncio.sleep(SETTLE if planner.made_of else 0)
            await planner.renew(session.shop, session.now())
        finally:
            planner.busy = False
        floor.mention(planner.news)
        planner.news.clear()

    floor.run_worker(renew(), group="plan", exclusive=True, exit_on_error=False)
