"""The twelve commonest tasks: keys and modeled time, beside the same on a paper traveler.

    python -m tests.bench.tasks          # the table of FIGURES.md

Each task is done by the program's own keys in a shop brought to just before it, and what it must have recorded is
checked. Every key that goes down counts, the digits and letters of values too; how many of them are the value itself,
which paper takes as well, stands beside. A scanner's characters are no keys of a hand. Time is the keystroke-level
model of Card, Moran & Newell 1980 (`tests/screens/cost.py`): a lower bound for somebody practiced, without reading,
walking or gloves. On paper the same person thinks as often and writes each character by hand.
"""

from __future__ import annotations

import asyncio
import sys
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

from textual.pilot import Pilot

from floor.app import FloorApp
from floor.batch.handover.commands import OfferHandover
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.state import Batch
from floor.screens.handover.screen import HandoverScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import thermal_break
from tests.screens.cost import POINT, STAMP, Cost
from tests.screens.operator import Operator, Place

MORNING = datetime(2026, 3, 2, 7, 0, tzinfo=timezone(timedelta(hours=1)))
"""A Monday."""
SIZE = (80, 24)


class Job:
    """A shop with people and a batch of eighty plates on pallets of sixteen."""

    def __init__(self) -> None:
        self.clock = ManualClock(MORNING)
        self.shop = Shop(Path(tempfile.mkdtemp()) / "shop", self.clock)
        self.shop.add_person("LL", "Lena Lindqvist", True, by="LL")
        self.shop.add_person("AA", "Arne Aas", False, by="LL")
        self.shop.add_person("BB", "Bea Brandt", False, by="LL")
        start = OpenBatch(self.shop.find_next_id(), thermal_break(), "-", "thermal-break-plate.toml", 64, 80)
        self.id = self.shop.open_batch(start, "LL").id
        self.place = Place(self.shop, self.id, self.clock)
        self.run = 0
        """Whose walk is on screen; 0 for the opening screen."""
        self.who = "AA"

    @property
    def batch(self) -> Batch:
        return self.shop.batch(self.id)

    def walk_at(self, title: str, *ops: int) -> Job:
        """On the walk of a load, at the line of this title or kind, after these operations."""
        load = self.place.load()
        for _ in ops:
            self.place.hand.work(load)
        self.run = self.place.at(load, title)
        return self

    def form_five(self) -> Job:
        """Five pallets of sixteen: one cures, two have to be poured, one is being cut, one waits."""
        hand = SimulatedOperator(self.shop, self.id, "AA", self.clock, second="BB")
        loads = [hand.form(10) for _ in range(5)]
        for load in (*loads[:3], loads[0]):
            hand.work(load)
        hand.work(loads[3], stop=lambda line: line.kind == "end")
        self.who = "LL"
        return self

    def offer(self) -> Job:
        self.shop.do(self.id, OfferHandover("Pallet 3 first"), "LL")
        self.who = "BB"
        return self


@dataclass(frozen=True)
class Task:
    name: str
    ready: Callable[[], Job]
    keys: tuple[str, ...]
    thoughts: int
    """Decisions: one before each value, and one before each choice."""
    paper: str | None
    """What is written by hand instead, beside time and initials; nothing where paper has it already."""
    recorded: tuple[str, ...]
    """Kinds of the newest entries."""
    value: int = 0
    """How many of the keys are the value."""
    start: str = "walk"
    pointed: bool = False
    """Whether a scanner is pointed at something."""
    scanned: str = ""
    """What it types before its Enter."""
    check: Callable[[Batch], bool] = lambda batch: True
    """What is so in the batch afterwards."""

    @property
    def cost(self) -> Cost:
        return Cost(len(self.keys), self.thoughts, 0 if self.paper is None else STAMP + len(self.paper))

    @property
    def seconds(self) -> float:
        return self.cost.seconds + POINT * self.pointed


OFFSET = ("-12", "-8", "-4.4")
LOT = "70-03A"
FIVE = "Pallet 1 16 op 30 cure, Pallet 2 16 op 20, Pallet 3 16 op 20, Pallet 4 16 op 10 runs, Pallet 5 16 op 10"


def list_marked(batch: Batch) -> list[tuple[str, int]]:
    """Where the newest count sent pieces, and how many."""
    return [(mark["to"], len(mark["pieces"])) for mark in batch.entries[-1].body["marks"]]


TASKS = (
    Task(
        "confirm a step", lambda: Job().walk_at("Wipe the pallet face: no chips under the palm"), ("enter",), 1, "",
        ("step_done",),
    ),
    Task(
        "work offset, three axes", lambda: Job().walk_at("Probe G54 X Y Z"),
        tuple(key for value in OFFSET for key in (*value, "enter")), 3, "".join(OFFSET), ("proved",),
        value=len("".join(OFFSET)),
        check=lambda batch: tuple(f"{one:g}" for one in batch.entries[-1].body["values"].values()) == OFFSET,
    ),
    Task(
        "count 16, all good, and release", lambda: Job().walk_at("count"), ("enter", "enter", "enter"), 2, "16 op 10",
        ("counted", "released"),
    ),
    Task(
        "scrap one piece: place, reason, count", lambda: Job().walk_at("count"),
        ("enter", "right", "right", "down", "1", "enter"), 3, "15 B3 chatter", ("counted",),
        check=lambda batch: (batch.total("scrap"), batch.entries[-1].body["good"]) == (1, 15),
    ),
    Task(
        "two pieces to rework, and count", lambda: Job().walk_at("count", 10, 20),
        ("enter", "down", "1", "right", "down", "1", "enter"), 5, "14 B1 C2 void pour again", ("counted",),
        check=lambda batch: list_marked(batch) == [("rework", 2)],
    ),
    Task(
        "hold one piece between counts", lambda: Job().walk_at("Wipe the pallet face: no chips under the palm"),
        ("m", "a", "1", "enter", "enter", "f5", "enter", "enter"), 3, "A1 hold suspect op 10", ("set_aside",),
        value=2, check=lambda batch: len(batch.held()) == 1,
    ),
    Task("what is next, and start it", Job, ("enter", "y"), 1, "Pallet 1 16 op 10", ("load_formed",), start=""),
    Task("change of person", Job, ("ctrl+l", "b", "enter"), 1, "", (), start=""),
    Task(
        "hand the batch over, nothing unusual", lambda: Job().form_five(), ("b", "o", "enter", "enter"), 2, FIVE,
        ("handover_offered",), start="",
    ),
    Task(
        "take five loads over", lambda: Job().form_five().offer(), ("enter", "enter", *"16" * 5, "enter", "y"), 7,
        "16 16 16 16 16", ("handover_accepted",), value=10, start="handover",
        check=lambda batch: batch.responsible == "BB",
    ),
    Task(
        "traveler to go on with by hand", lambda: Job().walk_at("count", 10), ("e", "1"), 2, None, (),
    ),
    Task(
        "scan a lot", lambda: Job().walk_at("Record the lot of 6061-T651 plate (heat number)"), (), 1, LOT, ("proved",),
        pointed=True, scanned=LOT, check=lambda batch: LOT in batch.entries[-1].body["values"].values(),
    ),
)  # fmt: skip


async def open_at(pilot: Pilot[Any], app: FloorApp, job: Job, task: Task) -> None:
    if task.start == "handover":
        app.push_screen(HandoverScreen(app.session, job.id))
    elif job.run:
        app.go_walk(job.id, job.run)
    await pilot.pause()
    await pilot.pause()


async def do_task(task: Task) -> Job:
    """The shop after the task's keys; what they must have recorded is checked."""
    job = task.ready()
    before = job.batch.seq
    app = FloorApp(job.shop, who=job.who, ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        await open_at(pilot, app, job, task)
        job.clock.forward(20)
        await pilot.press(*task.keys)
        if task.scanned:
            hand = Operator(app, job.clock, "BB")
            for key in (*task.scanned, "enter"):
                hand.send(key)
            await hand.until(lambda: job.batch.seq > before, "the scanned value")
        await pilot.pause()
        who = app.session.who
    made = tuple(entry.kind for entry in job.batch.entries[before:])
    assert made[len(made) - len(task.recorded) :] == task.recorded, f"{task.name}: {made}"
    assert bool(made) == bool(task.recorded), f"{task.name}: {made}"
    assert task.check(job.batch), f"{task.name}: {job.batch.entries[-1].body}"
    assert who == ("BB" if task.start == "handover" or task.name == "change of person" else job.who)
    job.shop.close()
    return job


def write_table(tasks: Sequence[Task] = TASKS) -> str:
    """For people: keys, of which the value, seconds, and characters and seconds on paper."""
    lines = ["| task | keys | of them the value | s | characters on paper | s on paper |", f"|{' --- |' * 6}"]
    for one in tasks:
        keys, paper = one.cost, "" if one.paper is None else f"{one.cost.paper:.1f}"
        lines.append(f"| {one.name} | {keys.keys} | {one.value or ''} | {one.seconds:.1f} | {keys.written} | {paper} |")
    seconds = sum(one.seconds for one in tasks)
    paper = f"{sum(one.cost.paper for one in tasks if one.paper is not None):.0f}"
    keys = sum(len(one.keys) for one in tasks)
    return "\n".join([*lines, f"| **all** | {keys} | {sum(one.value for one in tasks)} | {seconds:.0f} | | {paper} |"])


class Hand(Operator):
    """An operator whose letters and digits of values are counted apart."""

    value = 0

    async def type(self, text: str) -> None:
        self.value += len(text)
        await super().type(text)


async def pour_pallet() -> tuple[int, int, int]:
    """A pallet of sixteen through op 20 from What next to its release: lines to pass, keys, and those of values.

    It is the second pallet of the set-up, as nearly all are.
    """
    job = Job()
    first, second = job.place.load(), job.place.load()
    job.place.through(first, 10, 20)
    job.place.through(second, 10)
    app = FloorApp(job.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        hand = Hand(app, job.clock, "BB")
        taken = await hand.take_next(only=lambda due: due.op == 20 and due.go == "begin")
    run = max(job.batch.runs)
    assert taken
    assert job.batch.runs[run].released is not None
    passed = [entry for entry in job.batch.entries if entry.body.get("run") == run and entry.kind != "run_begun"]
    job.shop.close()
    return len(passed), sum(len(act.keys) for act in hand.acts), hand.value


async def main() -> None:
    for task in TASKS:
        await do_task(task)
    lines, keys, value = await pour_pallet()
    sys.stdout.write(f"{write_table()}\nA pallet of 16, {lines} lines: {keys} keys, {value} of them values\n")


if __name__ == "__main__":
    asyncio.run(main())
