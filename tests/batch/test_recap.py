"""CBP-43: on return, the last step done, how long ago, who worked meanwhile, and which gates lapsed."""

from __future__ import annotations

import pytest

from floor.batch.commands.working import Disturb, Pause
from floor.batch.recap import AWAY, recap
from tests.batch.factory import Bench, open_bench


@pytest.fixture
def bench() -> Bench:
    return open_bench()


def told(bench: Bench, load: int) -> str:
    return recap(bench.state, bench.run_of(load), bench.clock(), "AA")


def test_a_short_absence_is_none(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "start")

    bench.clock.forward(AWAY.total_seconds() - 1)

    assert told(bench, load) == ""


def test_after_a_longer_one_it_says_last_pause_others_and_what_lapsed(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "start")
    bench.say(Pause(bench.run_of(load).number, "called away"))
    bench.clock.forward(600)
    bench.say(Disturb("mill", "lifted", load=load), by="BB")

    bench.clock.forward(1800)

    said = told(bench, load)
    assert said.startswith("Back after 40 min.")
    assert "paused: called away" in said
    assert "Meanwhile at work on this batch: BB." in said
    assert "To be proved again: " in said
    assert "Probe G54" in said


def test_a_released_run_needs_none(bench: Bench) -> None:
    load = bench.form(10)
    run = bench.begin(load)
    bench.hand().work(load)

    bench.clock.forward(7200)

    assert recap(bench.state, run, bench.clock(), "AA") == ""
