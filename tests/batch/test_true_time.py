"""Time cannot be made up: a clock set back may be set right unseen, and no cure gets shorter for it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from floor.batch.corrections.commands import ConfirmClock, Note
from floor.batch.walk.clock_jumps import LONGEST_OFF, is_clock_in_doubt
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


@pytest.mark.parametrize("after", [0, 24])
def test_what_was_seen_to_be_set_before_or_after_nights_in_doubt_is_taken_out_once(after: int) -> None:
    """Over both nights together the wall tells the time as before."""
    bench = open_bench()
    for step in (24 * H, -24 * H):
        bench.clock.step(step)
        bench.say(Note("set"))
    load = coated(bench)
    due = ripens(bench, load)
    for off in (-3 * H, 5 * H):
        bench.clock.restart(off=off)
        bench.say(Note("started anew"))
    bench.clock.step(after * H)

    assert ripens(bench, load) == due + timedelta(hours=after)


@pytest.mark.parametrize(("left", "anew", "other"), [("b-1", "b-2", "d-1"), ("b1", "b2", "d1")])
def test_a_machine_may_be_as_wrong_as_when_it_was_left(left: str, anew: str, other: str) -> None:
    """Its clock is five hours behind, also after a restart; the others are right. If machines have no names, it could
    be any of them."""
    bench = open_bench()
    home = bench.clock()
    bench.clock.other_machine(left, up=1e6, away=600)
    bench.say(Note("there"))
    bench.clock.step(-5 * H)
    bench.say(Note("set back"))
    bench.clock.moment = Moment(home.at + timedelta(seconds=1200), home.boot, home.up + 1200)
    bench.say(Note("back, at the right time"))
    bench.clock.other_machine(anew, up=60.0, away=20 * H - 5 * H)
    load = coated(bench)
    due = ripens(bench, load)
    bench.clock.other_machine(other, up=1e6, away=600 + 5 * H)

    assert ripens(bench, load) == due + timedelta(hours=5)


def test_a_clock_that_a_lead_confirms_after_it_was_set_back_counts_the_next_night() -> None:
    """It was ahead, and is right now."""
    bench = open_bench()
    bench.clock.step(-24 * H)
    bench.say(ConfirmClock("it was a day ahead"), by="LL")
    load = coated(bench)
    bench.clock.restart(off=14 * H)

    assert ripe(bench, load)
    assert not is_clock_in_doubt(bench.state, bench.clock())


def test_a_clock_that_was_set_forward_and_back_again_counts_the_next_night() -> None:
    bench = open_bench()
    for step in (24 * H, -24 * H):
        bench.clock.step(step)
        bench.say(Note("set"))
    load = coated(bench)
    bench.clock.restart(off=14 * H)

    assert ripe(bench, load)


def test_an_uptime_from_before_a_restart_proves_nothing() -> None:
    """A copy of the machine from before its restart: nobody knows how much time passed since."""
    bench = open_bench()
    bench.clock.forward(20 * H)
    bench.say(Note("in the evening"))
    load = coated(bench)
    evening = bench.clock()
    bench.clock.restart(off=600)
    bench.say(Note("started anew"))
    left = ripens(bench, load) - bench.clock().at
    bench.clock.moment = Moment(bench.clock().at + timedelta(seconds=600), evening.boot, evening.up - 21 * H + 600)

    assert not ripe(bench, load)
    assert ripens(bench, load) - bench.clock().at == left


def test_no_night_counts_after_a_restart_over_which_the_clock_lost_time() -> None:
    """Ten hours by its own uptime, and the wall clock shows two: it is hours behind, and may be set right any time."""
    bench = open_bench()
    bench.clock.moment = Moment(bench.clock().at + timedelta(hours=2), "bench-1", 10 * H)
    bench.say(Note("shows the wrong time"))
    load = coated(bench)
    due = ripens(bench, load)
    bench.clock.restart(off=13 * H)

    assert not ripe(bench, load)
    assert ripens(bench, load) == due + timedelta(hours=13)


def test_what_a_clock_lost_bit_by_bit_is_no_time_once_it_is_right() -> None:
    """Five restarts, each losing less than is reported."""
    bench = open_bench()
    for _ in range(5):
        bench.clock.restart(off=-80)
        bench.say(Note("started anew"))
    load = coated(bench)
    due = ripens(bench, load)
    bench.clock.restart(off=12 * H + 100)

    assert not ripe(bench, load)
    assert ripens(bench, load) == due + timedelta(seconds=400)


@pytest.mark.parametrize("away", [False, True])
def test_a_clock_that_was_ahead_before_a_night_is_no_credit_for_one_set_back_after_it(away: bool) -> None:
    """Set a day ahead, right again in the morning unseen, then set back by a day, and right once more."""
    bench = open_bench()
    bench.clock.step(24 * H)
    bench.say(Note("a day ahead"))
    if away:
        ahead = bench.clock()
        bench.clock.other_machine("b-1", up=1e6, away=600 - 24 * H)
        bench.say(Note("on the right machine"))
        bench.clock.moment = Moment(ahead.at + timedelta(seconds=1200), ahead.boot, ahead.up + 1200)
        bench.say(Note("back"))
    bench.clock.restart(off=6 * H)
    bench.say(Note("right again after thirty hours"))
    bench.clock.step(-24 * H)
    bench.say(Note("set back"))
    load = coated(bench)
    bench.clock.restart(off=24.5 * H)

    assert not ripe(bench, load)


def test_a_clock_that_was_set_ahead_shows_no_more_for_a_restart_in_doubt() -> None:
    """The wall-clock total may be too long by as much as the clock was seen to be set ahead."""
    bench = open_bench()
    load = coated(bench)
    bench.clock.step(24 * H)
    bench.say(Note("a day ahead"))
    bench.clock.restart(off=-3 * H)

    assert not ripe(bench, load)
    bench.say(Note("and back by some hours"))
    assert not ripe(bench, load)


def test_a_machine_may_be_as_far_ahead_as_when_it_was_left() -> None:
    """It came up behind, was set a day too far ahead, and was restarted while the batch was at home."""
    bench = open_bench()
    load = coated(bench)
    home = bench.clock()
    bench.clock.other_machine("b-1", up=60.0, away=-5 * H)
    bench.say(Note("behind"))
    bench.clock.step(30 * H)
    bench.say(Note("set, and a day ahead now"))
    bench.clock.moment = Moment(home.at + timedelta(hours=2), home.boot, home.up + 2 * H)
    bench.say(Note("home"))
    bench.clock.other_machine("b-2", up=60.0, away=25 * H)

    assert not ripe(bench, load)


def test_a_machine_that_was_left_behind_may_have_been_set_right_since() -> None:
    bench = open_bench()
    load = coated(bench)
    home = bench.clock()
    bench.clock.other_machine("b-1", up=60.0, away=600)
    bench.say(Note("there"))
    bench.clock.step(-24 * H)
    bench.say(Note("a day behind"))
    bench.clock.moment = Moment(home.at + timedelta(hours=1), home.boot, home.up + H)
    bench.say(Note("home"))
    bench.clock.other_machine("b-2", up=60.0, away=600)

    assert not ripe(bench, load)


def test_back_at_a_machine_that_ran_on_its_uptime_counts_though_it_is_ahead() -> None:
    bench = open_bench()
    load = coated(bench)
    due, home = ripens(bench, load), bench.clock()
    bench.clock.other_machine("b-1", up=60.0, away=H)
    bench.say(Note("there"))
    bench.clock.step(24 * H)
    bench.say(Note("a day ahead"))
    ahead = bench.clock()
    bench.clock.moment = Moment(home.at + timedelta(hours=2), home.boot, home.up + 2 * H)
    bench.say(Note("home"))
    bench.clock.moment = Moment(ahead.at + timedelta(hours=2), ahead.boot, ahead.up + 2 * H)

    assert ripens(bench, load) == due + timedelta(hours=24)
    bench.say(Note("back"))
    bench.clock.step(-24 * H)
    bench.say(Note("right again"))
    bench.clock.restart(off=14 * H)
    assert ripe(bench, load), "what it was when the batch left it says nothing of the night after it was set right"


def test_no_night_counts_after_a_copy_of_the_machine_was_started() -> None:
    """Its clock may be as far behind as the copy is old, and be set right at any time."""
    bench = open_bench()
    bench.clock.forward(H)
    bench.say(Note("put aside"))
    bench.clock.moment = Moment(bench.clock().at + timedelta(hours=14), bench.clock().boot, bench.clock().up - 0.5 * H)
    bench.say(Note("a copy of it goes on"))
    load = coated(bench)
    due = ripens(bench, load)
    bench.clock.restart(off=13 * H)

    assert not ripe(bench, load)
    assert ripens(bench, load) == due + timedelta(hours=13)


@pytest.mark.parametrize(("over", "doubted"), [(0, False), (1, True)])
def test_a_works_holiday_counts_and_what_is_longer_is_doubted(over: int, doubted: bool) -> None:
    bench = open_bench()
    load = coated(bench)
    bench.clock.restart(off=LONGEST_OFF + over)

    assert ripe(bench, load) is not doubted
    assert is_clock_in_doubt(bench.state, bench.clock()) is doubted


def _left_and_back(bench: Bench, at_home: float, gap: float, moved: float, load_at: str) -> int:
    """The batch comes to a machine whose clock shows `at_home` of half an hour, goes away for `gap`, and is back on it
    in the same start, its clock moved meanwhile; a load is coated before, or there."""
    load = coated(bench) if load_at == "before" else 0
    bench.clock.other_machine("a-1", up=1e6, away=at_home)
    bench.say(Note("there"))
    load = load or coated(bench)
    there = bench.clock()
    bench.clock.moment = Moment(there.at - timedelta(seconds=at_home - 0.5 * H) + timedelta(seconds=gap), "b-1", 1e6)
    bench.say(Note("on the right machine"))
    bench.clock.moment = Moment(there.at + timedelta(seconds=gap + 360 + moved), "a-1", there.up + gap + 360)
    bench.say(Note("back"))
    return load


def test_a_clock_set_right_while_the_batch_was_away_lengthens_nothing_that_began_before_it_was_wrong() -> None:
    """It was seven hours ahead when the batch came, which nobody could see."""
    bench = open_bench()
    load = _left_and_back(bench, 7.5 * H, 8 * H, -7 * H, "before")

    assert not ripe(bench, load)


def test_a_clock_set_back_while_the_batch_was_away_may_be_set_right_at_any_time() -> None:
    """Seven of eight hours, so that the wall shows an hour more."""
    bench = open_bench()
    bench.clock.other_machine("a-1", up=1e6, away=0.5 * H)
    bench.say(Note("there"))
    there = bench.clock()
    bench.clock.other_machine("b-1", up=1e6, away=360)
    bench.say(Note("on the right machine"))
    bench.clock.moment = Moment(there.at + timedelta(hours=1), there.boot, there.up + 8 * H)
    bench.say(Note("back"))
    load = coated(bench)
    bench.clock.restart(off=12.5 * H)

    assert not ripe(bench, load)


def test_a_clock_set_ahead_while_the_batch_was_away_makes_no_time() -> None:
    bench = open_bench()
    load = _left_and_back(bench, 0.5 * H, 8 * H, 7 * H, "there")

    assert not ripe(bench, load)
    assert (ripens(bench, load) - bench.clock().at).total_seconds() > 3.5 * H


def test_a_clock_set_right_while_the_batch_was_away_is_no_credit_for_one_set_back_after_it() -> None:
    """It lost seven hours before the batch came, hidden by a night; it was set right, back again, and right again."""
    bench = open_bench()
    bench.clock.other_machine("a-1", up=1e6, away=H)
    bench.say(Note("eight hours by the sun"))
    there = bench.clock()
    bench.clock.moment = Moment(there.at + timedelta(hours=8), "b-1", 1e6)
    bench.say(Note("on the right machine, an hour later"))
    bench.clock.moment = Moment(there.at + timedelta(hours=8.1), "a-1", there.up + 1.1 * H)
    bench.say(Note("back, and it is right"))
    bench.clock.step(-7 * H)
    bench.say(Note("set back"))
    load = coated(bench)
    bench.clock.restart(off=13 * H)

    assert not ripe(bench, load)


@pytest.mark.parametrize("wall", [14 * H, -3 * H])
def test_an_uptime_that_runs_backwards_is_doubted(wall: float) -> None:
    """A copy of the machine was started: neither its clock nor its uptime shows how much time passed."""
    bench = open_bench()
    load = coated(bench)
    bench.clock.forward(H)
    before = bench.clock()
    bench.say(Note("put aside"))
    left = (ripens(bench, load) - before.at).total_seconds()
    bench.clock.moment = Moment(before.at, before.boot, before.up - 0.5 * H)
    bench.clock.step(wall)

    assert not ripe(bench, load)
    assert is_clock_in_doubt(bench.state, bench.clock())
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
