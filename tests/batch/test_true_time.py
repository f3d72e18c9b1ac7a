"""Time cannot be made: what was set back may be set right where nobody sees it, and no cure is shorter for it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from floor.batch.commands.correcting import ConfirmClock, Note
from floor.batch.timekeeping import clock_in_doubt
from floor.entry import Moment
from tests.batch import true_time
from tests.batch.factory import Bench, open_bench
from tests.batch.test_clocks import H, coated, ripe, ripens


def test_where_no_clock_is_ahead_no_dwell_counts_more_than_went_by() -> None:
    judged, wrong = true_time.trial(1500, seed=7)

    assert judged > 10_000
    assert wrong == []


def _over(bench: Bench, how: str, wall: float) -> None:
    """The wall shows so much more after the machine was switched off, or on another one."""
    if how == "started anew":
        bench.clock.restart(off=wall - 60)
    else:
        bench.clock.other_machine("other-1", up=1e6, away=wall)


@pytest.mark.parametrize("how", ["started anew", "on another machine"])
@pytest.mark.parametrize("begun", ["before", "after"])
def test_what_a_clock_was_set_back_by_is_no_time_once_it_is_right(how: str, begun: str) -> None:
    """Set back by a day with the machine running, an hour of work, and right after half an hour away."""
    bench = open_bench()
    if begun == "before":
        load = coated(bench)
    bench.clock.step(-24 * H)
    bench.say(Note("set back"))
    if begun == "after":
        load = coated(bench)
    bench.clock.forward(H)
    bench.say(Note("going home"))
    _over(bench, how, 24.5 * H)

    assert not ripe(bench, load)
    assert 10 * H < (ripens(bench, load) - bench.clock().at).total_seconds() < 11 * H
    bench.say(ConfirmClock("compared with the phone"), by="LL")
    assert not ripe(bench, load)


def test_the_night_counts_in_full_for_what_began_while_the_clock_was_right() -> None:
    """Set back and right again, so that the wall tells the time as before: ten hours by it are ten hours."""
    bench = open_bench()
    load = coated(bench)
    due = ripens(bench, load)
    bench.clock.step(-24 * H)
    bench.say(Note("set back"))
    bench.clock.restart(off=34 * H)
    bench.say(Note("right again"))

    assert ripens(bench, load) == due


def test_all_nights_count_for_what_began_before_however_often_the_clock_was_wrong() -> None:
    """The first night over the clock stayed a day behind, and nothing of it can be counted by itself."""
    bench = open_bench()
    load = coated(bench)
    due = ripens(bench, load)
    bench.clock.step(-24 * H)
    bench.say(Note("set back"))
    bench.clock.restart(off=3 * H)
    bench.say(Note("as wrong as before"))
    assert ripens(bench, load) > due - timedelta(hours=24)
    bench.clock.restart(off=28 * H)
    bench.say(Note("right again"))

    assert ripens(bench, load) == due


def test_a_machine_may_be_as_wrong_as_when_it_was_left() -> None:
    """Its clock is five hours behind there, also after it was started anew; the others' are right."""
    bench = open_bench()
    home = bench.clock()
    bench.clock.other_machine("b-1", up=1e6, away=600)
    bench.say(Note("there"))
    bench.clock.step(-5 * H)
    bench.say(Note("set back"))
    bench.clock.moment = Moment(home.at + timedelta(seconds=1200), home.boot, home.up + 1200)
    bench.say(Note("back, at the right time"))
    bench.clock.other_machine("b-2", up=60.0, away=20 * H - 5 * H)
    load = coated(bench)
    due = ripens(bench, load)
    bench.clock.other_machine("d-1", up=1e6, away=600 + 5 * H)

    assert ripens(bench, load) == due + timedelta(hours=5)


def test_a_clock_that_a_lead_confirms_after_it_was_set_back_counts_the_next_night() -> None:
    """It was ahead, and is right now."""
    bench = open_bench()
    bench.clock.step(-24 * H)
    bench.say(ConfirmClock("it was a day ahead"), by="LL")
    load = coated(bench)
    bench.clock.restart(off=14 * H)

    assert ripe(bench, load)
    assert not clock_in_doubt(bench.state, bench.clock())


def test_a_clock_that_was_set_forward_and_back_again_counts_the_next_night() -> None:
    bench = open_bench()
    for step in (24 * H, -24 * H):
        bench.clock.step(step)
        bench.say(Note("set"))
    load = coated(bench)
    bench.clock.restart(off=14 * H)

    assert ripe(bench, load)


@pytest.mark.parametrize("wall", [14 * H, -3 * H])
def test_an_uptime_that_runs_backwards_is_doubted(wall: float) -> None:
    """A copy of the machine was started again: neither its clock nor its uptime tells what went by."""
    bench = open_bench()
    load = coated(bench)
    bench.clock.forward(H)
    before = bench.clock()
    bench.say(Note("put aside"))
    left = (ripens(bench, load) - before.at).total_seconds()
    bench.clock.moment = Moment(before.at, before.boot, before.up - 0.5 * H)
    bench.clock.step(wall)

    assert not ripe(bench, load)
    assert clock_in_doubt(bench.state, bench.clock())
    bench.say(Note("goes on"))
    assert (ripens(bench, load) - bench.clock().at).total_seconds() == left
    bench.clock.forward(left - 1)
    assert not ripe(bench, load)
    bench.clock.forward(1)
    assert ripe(bench, load)


def test_two_terminals_that_read_the_uptime_out_of_turn_are_no_doubt() -> None:
    bench = open_bench()
    bench.clock.moment = Moment(bench.clock().at, bench.clock().boot, bench.clock().up - 0.4)
    bench.say(Note("a moment before"))

    assert bench.state.jumps == []
