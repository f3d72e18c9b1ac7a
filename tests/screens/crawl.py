"""Every key on every screen: ``python -m tests.screens.crawl [demo | empty | large]``.

From the opening screen each key is pressed, then each key on every screen that came up by it, and so on. A crawl holds
that nothing ends the program, that Escape leads out of everywhere, and it lists which key of which screen made which
kind of entry.
"""

from __future__ import annotations

import argparse
import asyncio
import math
import shutil
import string
import sys
import tempfile
import time
from collections import deque
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

from textual.screen import Screen
from textual.widgets import Input

from floor.app import FloorApp
from floor.batch.lifecycle.commands import OpenBatch
from floor.screens.shop.what_next import NextScreen
from floor.shop import Shop
from floor.shop.demo import make_demo
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.bench.large import checklist
from tests.screens.operator import Operator

MORNING = datetime(2026, 3, 2, 10, 0, tzinfo=timezone(timedelta(hours=1)))
SIZE = (80, 24)
LETTERS = string.ascii_letters + string.digits + "!?/.,+-*= "
"""Without the sign that a tag begins with: the keys after it are the tag's."""
NAMED = (
    "enter", "escape", "tab", "shift+tab", "up", "down", "left", "right", "pageup", "pagedown", "home", "end", "delete",
    "backspace", "insert", *(f"f{n}" for n in range(1, 13)),
    *(f"ctrl+{letter}" for letter in string.ascii_lowercase if letter not in "qz"),
)  # fmt: skip
"""Ctrl+Q ends the program and Ctrl+Z stops it, which is what they are for."""
KEYS = (*("space" if key == " " else key for key in LETTERS), *NAMED)
MOST_PIECES, PALLETS, OTHERS = 5_000, 12, 10
"""Of the largest shop: pieces of its largest order, pallets, and other batches."""
WAYS_OUT = 4
"""Presses of Escape that lead from any screen to the one that it was opened from."""

Path_ = tuple[str, ...]


@dataclass
class Crawled:
    """What a crawl found."""

    seen: dict[str, Path_] = field(default_factory=dict)
    """Each screen or dialog → the keys that lead there."""
    wrote: dict[tuple[str, str], set[str]] = field(default_factory=dict)
    """(screen, key) → kinds of entries that it made."""
    ends: set[tuple[str, str]] = field(default_factory=set)
    """(place, key) that ends the program."""
    wrong: list[str] = field(default_factory=list)
    """A fault of the program, or a screen that Escape does not lead out of."""
    pressed: int = 0


def name_screen(screen: Screen[Any]) -> str:
    """The screen's class; of a dialog also what it asks, as one class asks many things."""
    asks = getattr(screen, "question", "") or getattr(screen, "title_", "") or getattr(screen, "heading", "")
    name = type(screen).__name__
    if isinstance(screen, NextScreen):
        return f"{name} row {screen.table.cursor_row}"
    focused = f" [{screen.focused.name or screen.focused.id}]" if isinstance(screen.focused, Input) else ""
    told = "".join("#" if letter.isdigit() else letter for letter in str(asks))
    return f"{name} {told}{focused}".strip()


def name_place(app: FloorApp) -> str:
    return " > ".join(name_screen(one) for one in app.screen_stack)


def count_entries(app: FloorApp) -> dict[str, int]:
    """By batch, and of the shop's own record under an empty name."""
    shop = app.session.shop
    return {batch.id: batch.seq for batch in shop.batches} | {"": len(shop._journal.entries)}


class Crawl:
    """One shop, opened again from the same folder as often as needed."""

    def __init__(self, make: Callable[[Path, ManualClock], None], who: str, keys: Sequence[str] = KEYS) -> None:
        """
        Args:
            make: makes the shop in a folder.
            keys: pressed at each place.
        """
        self.kept = Path(tempfile.mkdtemp(prefix="crawl"))
        clock = ManualClock(MORNING)
        make(self.kept / "shop", clock)
        self.began = clock().at
        self.who = who
        self.keys = keys
        self.found = Crawled()

    @asynccontextmanager
    async def opened(self, path: Path_) -> AsyncIterator[tuple[FloorApp, Operator]]:
        folder = Path(tempfile.mkdtemp(prefix="crawled"))
        shutil.copytree(self.kept / "shop", folder / "shop")
        clock = ManualClock(self.began)
        shop = Shop(folder / "shop", clock)
        try:
            app = FloorApp(shop, who=self.who, ticking=False)
            async with app.run_test(size=SIZE) as pilot:
                await pilot.pause()
                hand = Operator(app, clock, second="")
                for key in path:
                    await press(hand, key)
                yield app, hand
        finally:
            shop.close()
            shutil.rmtree(folder)

    async def crawl(self, most: int, deep: int, seconds: float = math.inf) -> Crawled:
        """Breadth first, up to so many places and so many keys deep; no new place after so many seconds."""
        todo: deque[Path_] = deque([()])
        ends = time.monotonic() + seconds
        while todo and time.monotonic() < ends:
            path = todo.popleft()
            for key_path in await self._press_each(path):
                if len(self.found.seen) < most and len(key_path) <= deep:
                    todo.append(key_path)
        shutil.rmtree(self.kept)
        return self.found

    async def _press_each(self, path: Path_) -> list[Path_]:
        """Each key once at the place that these keys lead to; the ways to places not seen before."""
        new: list[Path_] = []
        rest = list(self.keys)
        while rest:
            try:
                async with self.opened(path) as (app, hand):
                    here = name_place(app)
                    if path == ():
                        self.found.seen.setdefault(here, ())
                    while rest:
                        key = rest.pop(0)
                        if not await self._try(app, hand, key, path, here, new):
                            break
            except Exception as error:  # noqa: BLE001  the program ended: its fault is what is looked for
                self.found.wrong.append(f"{path} {key}: {type(error).__name__}: {error}")
        return new

    async def _try(self, app: FloorApp, hand: Operator, key: str, path: Path_, here: str, new: list[Path_]) -> bool:
        """Press one key; whether the program is where it was, so that the next can be pressed."""
        before, stack = count_entries(app), tuple(app.screen_stack)
        await press(hand, key)
        self.found.pressed += 1
        if app._exit:
            self.found.ends.add((here, key))
            return False
        now, there = count_entries(app), name_place(app)
        if now != before:
            made = {
                entry.kind for batch in app.session.shop.batches for entry in batch.entries[before.get(batch.id, 0) :]
            } or {"of the shop"}
            self.found.wrote.setdefault((name_screen(stack[-1]), key), set()).update(made)
        if there not in self.found.seen:
            self.found.seen[there] = (*path, key)
            new.append((*path, key))
            await self._leave(app, hand, there, len(stack))
            return False
        if now != before or there == here:
            return now == before and tuple(app.screen_stack) == stack
        for _ in range(WAYS_OUT):
            if len(app.screen_stack) <= len(stack):
                break
            await press(hand, "escape")
        return tuple(app.screen_stack) == stack and count_entries(app) == before and name_place(app) == here

    async def _leave(self, app: FloorApp, hand: Operator, there: str, deep: int) -> None:
        """A place seen for the first time: Escape leads out of it, and enters nothing."""
        before = count_entries(app)
        for _ in range(WAYS_OUT):
            if len(app.screen_stack) <= max(1, deep - 1):
                break
            await press(hand, "escape")
        else:
            if len(app.screen_stack) > deep:
                self.found.wrong.append(f"{there}: Escape does not lead out")
        if count_entries(app) != before:
            self.found.wrong.append(f"{there}: Escape made an entry")


async def press(hand: Operator, key: str) -> None:
    hand.send(key)
    await hand._through()
    for _ in range(500):
        if hand.app._exit or hand._ready():
            break
        await asyncio.sleep(0)
    hand.keys.clear()


def make_demo_shop(folder: Path, clock: ManualClock) -> None:
    make_demo(folder, clock).close()


def make_empty_shop(folder: Path, clock: ManualClock) -> None:
    shop = Shop(folder, clock)
    shop.add_person("TN", "Tove Nilsen", True, by="TN")
    shop.close()


def make_large_shop(folder: Path, clock: ManualClock) -> None:
    """An order of 5,000 pieces through 40 operations with all its pallets under way, and ten batches beside it."""
    shop = Shop(folder, clock)
    shop.add_person("TN", "Tove Nilsen", True, by="TN")
    for n in range(OTHERS + 1):
        pieces = MOST_PIECES if n == 0 else 200
        start = OpenBatch(shop.find_next_id(), checklist(40), "-", "large.toml", pieces, pieces)
        batch = shop.open_batch(start, "TN").id
        hand = SimulatedOperator(shop, batch, "TN", clock)
        for load in range(PALLETS if n == 0 else 0):
            number = hand.form(10)
            for _ in range(load // 2):
                hand.work(number)
    shop.close()


SHOPS = {"demo": make_demo_shop, "empty": make_empty_shop, "large": make_large_shop}


def main() -> None:
    parser = argparse.ArgumentParser("python -m tests.screens.crawl", description=__doc__)
    parser.add_argument("shop", choices=SHOPS, nargs="?", default="demo")
    parser.add_argument("--who", default="TN")
    parser.add_argument("--most", type=int, default=150, help="places at most")
    parser.add_argument("--deep", type=int, default=4, help="keys from the opening screen at most")
    parser.add_argument("--minutes", type=float, default=math.inf, help="no new place after so long")
    asked = parser.parse_args()
    began = time.monotonic()
    found = asyncio.run(Crawl(SHOPS[asked.shop], asked.who).crawl(asked.most, asked.deep, 60 * asked.minutes))
    out = sys.stdout.write
    for place, path in found.seen.items():
        out(f"{' '.join(path) or '-':30}  {place}\n")
    out("\nEntries\n")
    for (place, key), kinds in sorted(found.wrote.items()):
        out(f"{place:50} {key:10} {', '.join(sorted(kinds))}\n")
    out("\nThe program ends\n" + "".join(f"{place}: {key}\n" for place, key in sorted(found.ends)))
    out("\nWrong\n" + "".join(f"{one}\n" for one in found.wrong))
    out(f"\n{len(found.seen)} places, {found.pressed} keys, {time.monotonic() - began:.0f} s\n")


if __name__ == "__main__":
    main()
