"""How many walks one key of the walk judges."""

from __future__ import annotations

import asyncio
import statistics
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

from floor.app import FloorApp
from floor.batch.walk.station_walk import build_walk
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from tests.bench.app import long_walk

PRESSED = 10


@contextmanager
def count_walks() -> Iterator[Counter[str]]:
    """How many walks are judged meanwhile, by whomever."""
    calls: Counter[str] = Counter()

    def profile(frame: FrameType, event: str, _: object) -> None:
        if event == "call" and frame.f_code is build_walk.__code__:
            calls["walks"] += 1

    sys.setprofile(profile)
    try:
        yield calls
    finally:
        sys.setprofile(None)


async def _press(folder: Path) -> list[int]:
    app = FloorApp(Shop(folder), who="RK", ticking=False)
    walks = []
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk("B0001", 1)
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, WalkScreen)
        for n in range(PRESSED):
            before = screen.current_batch.seq
            with count_walks() as calls:
                await pilot.press("enter")
                await pilot.pause()
            assert screen.current_batch.seq == before + 1, f"key {n} was not taken"
            walks.append(calls["walks"])
    app.session.shop.close()
    return walks


def measure() -> tuple[dict[str, float], dict[str, object]]:
    """Two: the walk that the command is decided on under the lock, and the walk of the new state that is shown."""
    with tempfile.TemporaryDirectory(prefix="floor-bench-") as name:
        long_walk(Path(name), 100)
        walks = asyncio.run(_press(Path(name)))
    return {"walks_per_key": statistics.median(walks)}, {"walks_per_key": walks}
