"""Random histories of the shop's clocks against the true time: ``python -m tests.batch.true_time``.

A small world: machines are switched off and on, the batch moves between them, and their clocks are set back and right
again, in shops in three zones, half of them around a daylight-saving change. No clock is ever ahead of the true time,
and each starts right. Every change is visible to Floor: within a start by uptime, if more than a second, and across
starts if the wall clock goes back. In such a world no dwell may count more than the true time. Prints one JSON object,
and exits 1 if one did.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import cache
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

from floor.batch.fold import advance
from floor.batch.state import Batch
from floor.batch.walk.clock_jumps import SLIGHT, TOLERANCE, list_clock_jumps
from floor.batch.walk.clocks import _dwell
from floor.entry import Entry, Moment, format_time
from floor.wall import convert_to_zone
from tests.batch.factory import open_bench

H = 3600.0
T0 = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
STARTS = tuple(
    datetime.fromisoformat(at).astimezone(ZoneInfo(zone)) - timedelta(hours=back)
    for zone, *ats in (
        ("Europe/Vienna", "2026-03-29T01:00Z", "2026-10-25T01:00Z"),
        ("America/New_York", "2026-03-08T07:00Z", "2026-11-01T06:00Z"),
        ("Australia/Lord_Howe", "2026-04-04T15:00Z", "2026-10-03T15:30Z"),
    )
    for at in ats
    for back in (1000, 5)
)
"""Far from, and just before, the changes of three zones (IANA time zone database 2025)."""
SPANS = (20.0, 600.0, 1.5 * H, 4 * H, 14 * H, 3 * 86400.0)
BACK = (5.0, 300.0, 1 * H, 5 * H, 24 * H, 400 * 86400.0)


@dataclass
class Machine:
    name: str
    on_since: float
    wrong: float = 0.0
    """Seconds that its clock is ahead of the true time; never more than none."""
    seen: float = 0.0
    """The same as of the last entry that came from it."""
    known: bool = False
    """An entry came from it since it was started."""
    starts: int = 0
    start: datetime = T0
    """True time zero, on the wall clock of its zone."""

    def moment(self, true: float) -> Moment:
        at = convert_to_zone(
            self.start.astimezone(UTC) + timedelta(seconds=true + self.wrong), self.start.tzinfo or UTC
        )
        return Moment(at, f"{self.name}-{self.starts}", true - self.on_since)


@dataclass
class History:
    """What happened, and an entry after each event."""

    machines: list[Machine]
    true: float = 0.0
    here: int = 0
    readings: list[tuple[float, Moment, str]] = field(default_factory=list)
    happened: list[str] = field(default_factory=list)

    def read(self, kind: str = "noted") -> None:
        machine = self.machines[self.here]
        machine.seen, machine.known = machine.wrong, True
        self.readings.append((self.true, machine.moment(self.true), kind))


def live(random: Random, events: int = 9) -> History:
    """A history in which nothing is done to a clock that cannot be seen."""
    start = random.choice(STARTS)
    world = History([Machine(name, -random.choice((60.0, 1e4, 1e7)), start=start) for name in "mno"])
    world.read()
    for _ in range(events):
        world.true += random.choice(SPANS)
        event = random.choice((_write, _set, _set, _restart, _restart, _go, _go, _away, _copy, _confirm))
        world.happened.append(f"{world.true / H:.2f} h: {event(world, random)}")
    return world


def _write(world: History, random: Random) -> str:
    world.read()
    return "an entry"


def _set(world: History, random: Random, number: int | None = None) -> str:
    machine = world.machines[world.here if number is None else number]
    if machine.known:
        wrongs = (0.0, machine.wrong / 2, machine.wrong - random.choice(BACK))
        machine.wrong = random.choice([wrong for wrong in wrongs if not 0 < abs(wrong - machine.wrong) <= SLIGHT])
    if number is None:
        world.read()
    return f"{machine.name} set to {machine.wrong:.0f} s"


def _restart(world: History, random: Random, number: int | None = None) -> str:
    """Off and on; its clock is right then, or runs on, or is so far back that it shows."""
    machine = world.machines[world.here if number is None else number]
    machine.on_since = world.true - random.choice((0.01, 0.9)) * (world.true - world.readings[-1][0])
    machine.starts, machine.known = machine.starts + 1, False
    machine.wrong = random.choice((0.0, machine.seen))
    if number is None:
        _lost(world, machine, random)
        world.read()
    return f"{machine.name} started anew, {machine.wrong:.0f} s"


def _go(world: History, random: Random) -> str:
    world.here = random.randrange(len(world.machines))
    machine = world.machines[world.here]
    world.read()
    return f"at {machine.name}, {machine.wrong:.0f} s"


def _lost(world: History, machine: Machine, random: Random) -> None:
    """Now and then the battery of its clock is flat."""
    if random.random() < 0.3:
        shown = (world.readings[-1][1].at - machine.start.astimezone(UTC)).total_seconds()
        machine.wrong = min(machine.wrong, shown - world.true - TOLERANCE - random.choice(BACK))


def _away(world: History, random: Random) -> str:
    """Something happens to a machine on which nobody is at work."""
    number = random.choice([n for n in range(len(world.machines)) if n != world.here])
    return "away: " + random.choice((_set, _restart))(world, random, number)


def _copy(world: History, random: Random) -> str:
    """A machine is taken back to what it was like before: its uptime runs backwards."""
    machine = world.machines[world.here]
    before = world.readings[-1][1].up
    if before > 4.0:
        machine.on_since = world.true - random.choice((0.0, 0.5)) * before
    world.read()
    return f"{machine.name} put back"


def _confirm(world: History, random: Random) -> str:
    """A lead compares the clock with the true time, and sets it right before he says that it is."""
    world.machines[world.here].wrong = 0.0
    world.read()
    world.read("clock_confirmed")
    return "confirmed"


@cache
def _opened() -> Batch:
    return open_bench(at=T0).state


def entry(seq: int, moment: Moment, kind: str) -> Entry:
    body: dict[str, Any] = {"reason": "x"} if kind == "clock_confirmed" else {"text": "x"}
    ahead = moment.at.utcoffset() or timedelta()
    zone = round(ahead.total_seconds() / 60)
    return Entry(seq, format_time(moment.at), zone, moment.boot, moment.up, "LL", kind, body, "", "")


def states(history: History) -> Iterator[tuple[Batch, float, Moment]]:
    """The batch after each reading, with the true time and the reading that comes next."""
    first = history.readings[0][1]
    batch = replace(_opened(), entries=[entry(1, first, "batch_opened")], jumps=[], boots={first.boot: (first, 1)},
                    left={}, last=first, seq=1)  # fmt: skip
    for seq, (true, moment, kind) in enumerate(history.readings[1:], 2):
        yield batch, true, moment
        batch = advance(batch, [entry(seq, moment, kind)])


def early(history: History) -> str:
    """The first dwell that counts more than the true time; empty if none does."""
    for batch, true, now in states(history):
        jumps = list_clock_jumps(batch, now)
        for start, begun in zip(batch.entries, history.readings, strict=False):
            dwell, _, _ = _dwell([(start.time, start.seq)], jumps, now.at)
            if dwell.least > true - begun[0] + 1e-3:
                return f"entry {start.seq} counts {dwell.least / H:.2f} h of {(true - begun[0]) / H:.2f} h"
            if dwell.least > dwell.most + 1e-3:
                return f"entry {start.seq} counts {dwell.least / H:.2f} h at the least, {dwell.most / H:.2f} at most"
    return ""


def trial(number: int, seed: int) -> tuple[int, list[str]]:
    """How many readings were judged in so many histories, and what was early."""
    judged, wrong = 0, []
    for n in range(number):
        history = live(Random(f"{seed} {n}"))
        judged += len(history.readings)
        if found := early(history):
            wrong.append(f"history {n}: {found}; {'; '.join(history.happened)}")
    return judged, wrong


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--histories", type=int, default=200_000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    judged, wrong = trial(asked.histories, asked.seed)
    told = {"histories": asked.histories, "readings": judged, "early": len(wrong), "first": wrong[:3]}
    sys.stdout.write(json.dumps(told) + "\n")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
