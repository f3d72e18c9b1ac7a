"""A dwell over restarts and machines: never longer than the true time, as far as anything can know.

The reference is a small world with known true time: machines whose clocks are wrong, get set, and are switched off and
on, and a batch that moves between them. Within one start, uptime is the true time. Across starts and machines there is
only the wall clock, so a dwell may be off by how much more that clock is wrong than before, and by nothing else (our
statement, no source).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cache

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from floor.batch.corrections.commands import Note
from floor.batch.fold import advance, fold
from floor.batch.state import Batch
from floor.batch.walk.clock_jumps import is_clock_in_doubt, list_clock_jumps
from floor.batch.walk.clocks import _dwell
from floor.entry import Draft, Entry, Moment
from tests.batch.factory import Bench, entries_of, open_bench
from tests.batch.test_clocks import coated, ripe, ripens

H = 3600.0
T0 = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


@dataclass
class Machine:
    name: str
    wrong: float
    """Seconds that its clock is ahead of the true time."""
    on_since: float
    starts: int = 0

    def moment(self, true: float) -> Moment:
        boot = f"{self.name}{self.starts}" if self.name else ""
        return Moment(T0 + timedelta(seconds=true + self.wrong), boot, true - self.on_since if boot else 0.0)


@dataclass
class World:
    machines: list[Machine]
    true: float = 0.0
    at: int = 0
    readings: list[tuple[float, Moment]] = field(default_factory=list)

    def now(self) -> Moment:
        return self.machines[self.at].moment(self.true)


@cache
def _opened() -> Batch:
    return open_bench(at=T0).state


def _batch(world: World) -> Batch:
    """A batch that was opened at the first reading, with an entry at each of the others."""
    found: list[Entry] = []
    opening = Draft("batch_opened", _opened().entries[0].body)
    for n, (_, moment) in enumerate(world.readings):
        found += entries_of([Draft("noted", {"text": "x"}) if n else opening], moment, "AA", found)
    return advance(fold(found[:1]), found[1:])


SPANS = st.sampled_from([0.0, 20.0, 600.0, 4 * H, 14 * H, 20 * 86400.0, 60 * 86400.0])
ERRORS = st.sampled_from([0.0, 0.0, 45.0, -89.0, 300.0, -3 * H, 13 * H, 400 * 86400.0, -3000 * 86400.0])
EVENTS = st.lists(
    st.tuples(SPANS, st.sampled_from(["write", "write", "set", "restart", "go"]), ERRORS, st.integers(0, 2)),
    min_size=2, max_size=12,
)  # fmt: skip
NAMES = st.sampled_from([("m-", "n-", ""), ("m-", "n-", "o-"), ("x", "y", "z"), ("", "", "")])


def _live(names: tuple[str, ...], events: list[tuple[float, str, float, int]], wrong: bool) -> World:
    world = World([Machine(name, 0.0, -1e7 * n) for n, name in enumerate(names)])
    world.readings.append((world.true, world.now()))
    for span, event, error, number in events:
        world.true += span
        machine = world.machines[world.at]
        if event == "set" and wrong:
            machine.wrong = error
        elif event == "restart":
            machine.on_since, machine.starts = world.true - span / 4, machine.starts + 1
            machine.wrong = error if wrong else 0.0
        elif event == "go":
            world.at = number
            world.machines[number].wrong = error if wrong and number else world.machines[number].wrong
        world.readings.append((world.true, world.now()))
    return world


def _rise(world: World, start: int) -> float:
    """How far the wall clock gained while it was the only time source."""
    found = 0.0
    for (a, before), (b, after) in zip(world.readings[start:], world.readings[start + 1 :], strict=False):
        if not before.boot or before.boot != after.boot:
            found += max((after.at - before.at).total_seconds() - (b - a), 0.0)
    return found


def _unseen(events: list[tuple[float, str, float, int]]) -> float:
    """Steps back too small to tell from clock drift, without an uptime to show them (a known fault)."""
    return sum(-by for _, what, by, _ in events if what == "set" and -90 < by < 0)


@settings(deadline=None)
@given(names=NAMES, events=EVENTS)
@example(
    names=("m-", "n-", ""),
    events=[(0.0, "go", 0.0, 1), (0.0, "go", 0.0, 2), (20.0, "set", -89.0, 0), (0.0, "go", -259200000.0, 1)],
)
@example(names=("m-", "n-", ""), events=[(0.0, "go", 8e4, 1), (0.0, "go", 0.0, 0), (0.0, "go", 0.0, 1)])
@example(names=("m-", "n-", ""), events=[(0.0, "go", 8e4, 1), (0.0, "go", 0.0, 0), (0.0, "go", -3e8, 1)])
@example(names=("m-", "n-", ""), events=[(20.0, "go", -89.0, 1), (0.0, "set", 0.0, 0), (0.0, "go", 0.0, 0)])
@example(names=("m-", "n-", ""), events=[(5e4, "go", -50069.0, 1), (0.0, "set", 0.0, 0), (0.0, "go", 0.0, 0)])
@example(names=("m-", "n-", ""), events=[(0.0, "go", 45.0, 1), (20.0, "go", 0.0, 0), (0.0, "go", -10800.0, 1)])
def test_no_dwell_is_longer_than_what_went_by(
    names: tuple[str, ...], events: list[tuple[float, str, float, int]]
) -> None:
    world = _live(names, events, wrong=True)
    batch = _batch(world)
    for entry in batch.entries:
        true = world.true - world.readings[entry.seq - 1][0]
        dwell, _, _ = _dwell([(entry.time, entry.seq)], list_clock_jumps(batch, world.now()), world.now().at)
        assert dwell.least <= true + _rise(world, entry.seq - 1) + _unseen(events) + 1.0
        assert dwell.least <= dwell.most + 1e-3
        if all(moment.boot == world.now().boot != "" for _, moment in world.readings[entry.seq - 1 :]):
            assert dwell.least == pytest.approx(true, abs=1.0)


@settings(deadline=None)
@given(names=NAMES, events=EVENTS)
def test_where_every_clock_is_right_a_dwell_is_what_went_by(
    names: tuple[str, ...], events: list[tuple[float, str, float, int]]
) -> None:
    """Uptimes of years on one machine and minutes on the other make no difference."""
    world = _live(names, [(min(span, 20 * 86400.0), *rest) for span, *rest in events], wrong=False)  # type: ignore[misc]
    batch = _batch(world)
    assert batch.jumps == []
    for entry in batch.entries:
        true = world.true - world.readings[entry.seq - 1][0]
        dwell, _, _ = _dwell([(entry.time, entry.seq)], list_clock_jumps(batch, world.now()), world.now().at)
        assert dwell.least == dwell.most == pytest.approx(true, abs=1e-3)


@pytest.mark.parametrize("boot", ["other-1", "4a0c4b0e", ""])
@pytest.mark.parametrize("noticed", [True, False], ids=["an entry after it", "no entry after it"])
def test_a_cure_does_not_finish_by_moving_to_a_machine_that_has_been_on_for_long(boot: str, noticed: bool) -> None:
    bench = open_bench()
    load = coated(bench)
    due = ripens(bench, load)
    bench.clock.other_machine(boot, up=100 * 86400.0, away=600)
    if noticed:
        bench.say(Note("taken in"))

    assert not ripe(bench, load)
    assert ripens(bench, load) == due
    assert not is_clock_in_doubt(bench.state)


def test_a_cure_does_not_finish_by_moving_to_a_machine_whose_clock_is_behind_and_back() -> None:
    """Out and back within half an hour, to a clock that is three hours behind: half an hour went by."""
    bench = open_bench()
    load = coated(bench)
    due = ripens(bench, load)
    bench.clock.other_machine("other-1", up=1e7, away=600 - 3 * H)
    bench.say(Note("there"))
    bench.clock.other_machine("other-1", up=1e7 + 600, away=600)
    bench.say(Note("still there"))
    bench.clock.other_machine("bench-0+", up=60, away=600 + 3 * H)
    bench.say(Note("back, and restarted meanwhile"))

    assert due - timedelta(seconds=1) <= ripens(bench, load) <= due + timedelta(minutes=30)


def test_back_at_a_machine_that_ran_on_its_uptime_says_what_went_by() -> None:
    """Meanwhile the batch was on a machine whose clock is 13 h ahead."""
    bench = open_bench()
    load = coated(bench)
    due, home = ripens(bench, load), bench.clock()
    bench.clock.other_machine("other-1", up=60.0, away=13 * H)
    bench.say(Note("there"))
    bench.clock.moment = Moment(home.at + timedelta(hours=1), home.boot, home.up + H)
    bench.say(Note("back"))

    assert ripens(bench, load) == due


def test_what_was_set_on_other_machines_before_and_meanwhile_is_taken_out_once() -> None:
    """Back at a machine that ran on: one step before the batch came there, a gap in doubt, one step elsewhere."""
    bench = open_bench()
    bench.clock.step(H)
    bench.say(Note("set"))
    bench.clock.other_machine("other-1", up=1e6, away=60 * 86400.0)
    bench.say(Note("two months later"))
    load = coated(bench)
    due, home = ripens(bench, load), bench.clock()
    bench.clock.other_machine("third-1", up=60.0, away=13 * H)
    bench.say(Note("ahead"))
    bench.clock.step(-H)
    bench.say(Note("less so"))
    bench.clock.moment = Moment(home.at + timedelta(hours=2), home.boot, home.up + 2 * H)

    assert ripens(bench, load) == due


def _most(bench: Bench) -> float:
    """Seconds since the batch was opened, as the latest end of a window counts them."""
    opened, now = bench.state.entries[0], bench.clock()
    return _dwell([(opened.time, opened.seq)], list_clock_jumps(bench.state, now), now.at)[0].most


def test_the_latest_end_counts_what_an_uptime_proves_beside_a_gap_in_doubt() -> None:
    """Ten hours by its uptime, of which the wall clock shows two; then a night of unknown length, at most five
    hours."""
    bench = open_bench()
    bench.clock.moment = Moment(bench.clock().at + timedelta(hours=2), "bench-1", 10 * H)
    bench.say(Note("the clock lost time"))
    bench.clock.restart(off=5 * H)

    assert _most(bench) == 15 * H + 60


def test_the_latest_end_counts_what_went_by_by_the_uptime_of_a_machine_that_ran_on() -> None:
    """Meanwhile the batch was on a machine whose clock was set ahead."""
    bench = open_bench()
    home = bench.clock()
    bench.clock.other_machine("other-1", up=60.0, away=H)
    bench.say(Note("there"))
    bench.clock.step(5 * H)
    bench.say(Note("set ahead"))
    bench.clock.moment = Moment(home.at + timedelta(hours=2), home.boot, home.up + 2 * H)

    assert _most(bench) == 2 * H
