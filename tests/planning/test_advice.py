"""What next, for real: the order comes from the plan, with how long each may wait."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from floor.batch.nextup import next_up
from floor.checklist.gates import Measured
from floor.checklist.measure import read_measure
from floor.planning.advice import advise
from floor.planning.problem import Crew
from tests.batch.factory import Bench, open_bench, part
from tests.planning.planned import ALWAYS, ONE_SHIFT, baked, engraved, planned


def two_things_to_do() -> Bench:
    """One pallet's plates wait to be packed; the other pallet waits to be filled, with a day of cure to come."""
    bench = open_bench(engraved, start=26, order=26)
    first = bench.form(10)
    bench.through(first, 10, 20)
    bench.clock.forward(24 * 3600)
    bench.through(first, 30)
    second = bench.form(10)
    bench.through(second, 10)
    return bench


def test_what_the_finish_hangs_on_comes_first_and_the_other_says_how_long_it_may_wait() -> None:
    bench = two_things_to_do()
    now = bench.clock()
    dues = next_up([bench.state], now)
    assert [due.go for due in dues] == ["form", "begin"], "without a plan: in no special order"

    advised = advise(dues, planned(bench.state, now=now, mixed=False), now.at)

    assert [one.due.go for one in advised] == ["begin", "form"]
    assert advised[0].said(now.at) == "now"
    assert advised[1].said(now.at).startswith("by Wed ")
    assert advised[1].latest is not None
    assert advised[1].latest - now.at > timedelta(hours=20)


def test_doing_another_thing_first_replans_without_complaint() -> None:
    bench = two_things_to_do()
    bench.through(bench.form(40), 40)
    now = bench.clock()

    advised = advise(next_up([bench.state], now), planned(bench.state, now=now, mixed=False), now.at)

    assert [one.due.go for one in advised] == ["begin"]
    assert advised[0].said(now.at) == "now"


def test_a_thing_the_plan_does_not_know_keeps_its_place_and_says_nothing() -> None:
    bench = two_things_to_do()
    now = bench.clock()
    plan = planned(bench.state, now=now, mixed=False)
    bench.through(bench.form(40), 40)
    bench.form(10, count=1) if bench.state.waiting(10) else None
    dues = next_up([bench.state], bench.clock())

    advised = advise(dues, plan, bench.clock().at)

    assert {one.due.key for one in advised} == {due.key for due in dues}


def test_a_window_that_closes_soon_stays_on_top() -> None:
    bench = baked()
    tote = bench.form(50)
    bench.clock.forward(7.75 * 3600)
    now = bench.clock()

    advised = advise(next_up([bench.state], now), planned(bench.state, now=now), now.at)

    assert advised[0].due.load == tote
    assert advised[0].due.closes is not None


@pytest.mark.parametrize("hours", [1.0, 5.0, 7.0])
@pytest.mark.parametrize("crew", [ONE_SHIFT, ALWAYS], ids=["one shift", "always"])
def test_nothing_is_said_to_wait_longer_than_its_window(hours: float, crew: Crew) -> None:
    """Cooled and to be inspected within 8 h of the bake, whether or not the plan can hit that."""
    bench = baked()
    tote = bench.form(50)
    bench.clock.forward(hours * 3600)
    now = bench.clock()

    advised = advise(next_up([bench.state], now), planned(bench.state, now=now, crew=crew), now.at)

    mine = next(one for one in advised if one.due.load == tote)
    assert mine.due.closes is not None
    assert mine.latest is not None
    assert now.at <= mine.latest <= mine.due.closes


def test_a_reading_in_a_soak_is_asked_for_now_and_not_by_the_end_of_it() -> None:
    """The plan knows only when the cycle ends; the reading says whether the soak has begun."""
    plain = part()
    steps = tuple(replace(one, at="cycle") if isinstance(one, Measured) else one for one in plain.ops[40].steps)
    time = replace(plain.ops[40].time, after=read_measure("5 min", "time"))
    soak = replace(plain, operations=tuple(replace(one, steps=steps, time=time) if one.op == 40 else one
                                           for one in plain.operations))  # fmt: skip
    bench = open_bench(lambda: soak, start=4)
    bench.through(bench.form(10), 10, 20, 30)
    tray = bench.form(40)
    bench.until(tray, "measured 1")
    now = bench.clock()
    plan = planned(bench.state, now=now, crew=ALWAYS, mixed=False)

    (asked,) = advise(next_up([bench.state], now), plan, now.at)
    assert (asked.due.at_once, asked.said(now.at)) == (True, "now")

    bench.prove(tray, "measured 1", value=150)
    assert bench.current(tray).kind == "end"
    (ending,) = advise(next_up([bench.state], now), plan, now.at)
    assert ending.due.urgency == "later"
    assert not ending.due.at_once
