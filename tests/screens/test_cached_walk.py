"""The walk on view is judged once, and never for another state, person or time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest

from floor.app import FloorApp
from floor.batch.corrections.commands import Note, StrikeOut
from floor.batch.walk.station_walk import build_walk
from floor.entry import Moment
from floor.screens.walk.cached_walk import WalkOnView
from tests.batch.factory import Bench, open_bench
from tests.bench.walks import count_walks
from tests.screens.operator import Operator, Place


def later(now: Moment, wall: float, up: float | None = None) -> Moment:
    return replace(now, at=now.at + timedelta(seconds=wall), up=now.up + (wall if up is None else up))


@pytest.fixture
def bench() -> Bench:
    return open_bench()


@pytest.mark.parametrize(
    "change",
    [
        lambda bench, now, run: bench.say(Note("seen from the other terminal", run=run)) and now,
        lambda bench, now, run: later(now, 2.0),
        lambda bench, now, run: later(now, 0.0, 3600.0),
        lambda bench, now, run: later(now, -3600.0, 0.5),
        lambda bench, now, run: replace(now, boot="another start"),
    ],
    ids=["an entry", "two seconds", "uptime alone", "a clock set back", "another start"],
)
def test_what_another_state_or_moment_would_show_is_judged_anew(
    bench: Bench, change: Callable[[Bench, Moment, int], Moment]
) -> None:
    run = bench.begin(bench.form(10)).number
    view, now = WalkOnView(), bench.clock()
    first = view.judge(bench.state, bench.state.runs[run], now, "AA")
    assert view.judge(bench.state, bench.state.runs[run], later(now, 1.9), "AA") is first
    then = change(bench, now, run)
    assert view.judge(bench.state, bench.state.runs[run], then, "AA") is not first


def test_another_person_and_a_record_folded_anew_are_judged_anew(bench: Bench) -> None:
    run = bench.begin(bench.form(10)).number
    view, now = WalkOnView(), bench.clock()
    mine = view.judge(bench.state, bench.state.runs[run], now, "AA")
    assert view.judge(bench.state, bench.state.runs[run], now, "BB") is not mine
    note = bench.say(Note("wrong batch", run=run))[0].seq
    bench.say(StrikeOut(note, "meant for another batch"))
    anew = view.judge(bench.state, bench.state.runs[run], now, "BB")
    assert anew == build_walk(bench.state, bench.state.runs[run], now, "BB")
    assert anew.run is bench.state.runs[run]


def test_what_is_drawn_is_as_of_now(bench: Bench) -> None:
    run = bench.begin(bench.form(10)).number
    view, now = WalkOnView(), bench.clock()
    first = view.judge(bench.state, bench.state.runs[run], now, "AA")
    view.let_age(later(now, 0.05))
    assert view.judge(bench.state, bench.state.runs[run], later(now, 0.05), "AA") is first
    view.let_age(later(now, 0.2))
    assert view.judge(bench.state, bench.state.runs[run], later(now, 0.2), "AA") is not first


async def test_one_key_judges_the_walk_it_is_decided_on_and_the_walk_that_is_shown(place: Place) -> None:
    run = place.at(place.load(), "start")
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)):
        keys = Operator(app, place.clock, "BB")
        app.go_walk(place.id, run)
        await keys.line()
        with count_walks() as asked:
            await keys.press("enter")
        assert place.batch.runs[run].started is None, "it is asked first"
        with count_walks() as walks:
            await keys.press("y")
    assert asked["walks"] == 1
    assert place.batch.runs[run].started is not None
    assert walks["walks"] == 2
