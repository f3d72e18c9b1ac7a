"""Whether the first operation's set-up stands, in words, and the faults of an order by field."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from floor.batch.command import Context, Person, Refused
from floor.batch.events import BatchOpened, read_event
from floor.batch.lifecycle.commands import OpenBatch, order_faults
from floor.batch.lifecycle.enter_half_done import EnterLate
from floor.batch.lifecycle.half_done import PlacedPieces
from floor.batch.stations.commands import Disturb, TakeDown
from floor.batch.stations.standing_setup import describe_first_setup
from floor.entry import Moment
from tests.batch.factory import MORNING, Bench, open_bench, part


def set_up() -> Bench:
    bench = open_bench(order=8, start=10)
    bench.until(bench.form(10), "start")
    return bench


def test_no_set_up_before_the_first_run() -> None:
    bench = open_bench()
    stands, said = describe_first_setup(bench.state, bench.clock())
    assert not stands
    assert "does not stand now (Mill: not set up yet)" in said


def test_the_set_up_stands_from_the_first_run_on() -> None:
    bench = set_up()
    stands, said = describe_first_setup(bench.state, bench.clock())
    assert stands
    assert "stands at Mill since 07:0" in said


def test_it_no_longer_stands_when_another_batch_set_the_station_up() -> None:
    bench = set_up()
    bench.say(TakeDown("mill", "B0002"))
    stands, said = describe_first_setup(bench.state, bench.clock())
    assert not stands
    assert "set up for B0002" in said


def test_it_no_longer_stands_when_the_workholding_was_changed_between_loads() -> None:
    bench = open_bench(order=8, start=10)
    load = bench.form(10)
    bench.through(load)
    bench.say(Disturb("mill", "refixtured"))
    stands, said = describe_first_setup(bench.state, bench.clock())
    assert not stands
    assert "workholding changed" in said


def test_the_faults_of_an_order_by_field_all_at_once() -> None:
    today = date(2026, 3, 2)
    assert order_faults(8, 10, None, today) == {}
    assert order_faults(8, 8, today, today) == {}
    assert set(order_faults("x", 0, date(2026, 3, 1), today)) == {"order", "start", "due"}
    assert set(order_faults(8, 7, None, today)) == {"start"}
    assert set(order_faults(5001, True, None, today)) == {"order", "start"}


def test_pieces_used_up_fill_no_order() -> None:
    """50 named for a batch of 10 started were taken; 8 ordered and 3 used up take 11."""
    today = date(2026, 3, 2)
    assert order_faults(8, 10, None, today, {10: 2}) == {}
    fault = order_faults(8, 10, None, today, {10: 2, 30: 1})["tests"]
    assert str(fault) == (
        "8 ordered and 3 used in tests or trials make 11, and only 10 are started. Start 11, or enter fewer."
    )
    assert set(order_faults(8, 7, None, today, {10: 2})) == {"start"}, "and so are the pieces started"
    assert "tests" not in order_faults("x", 10, None, today, {10: 50}), "the order is wrong first"
    with pytest.raises(Refused) as refusal:
        open_bench(order=8, start=10, tests={30: 50})
    assert (refusal.value.why, refusal.value.field) == ("count", "tests")


@pytest.mark.parametrize(("tests", "why"), [({25: 2}, "unknown"), ({10: -1}, "input"), ({10: 1.5}, "input")])
def test_test_pieces_are_a_number_at_an_op_of_the_route(tests: dict[int, Any], why: str) -> None:
    with pytest.raises(Refused) as refusal:
        open_bench(tests=tests)
    assert (refusal.value.why, refusal.value.field) == (why, "tests")


def test_test_pieces_are_kept_with_the_batch_where_there_are_any() -> None:
    bench = open_bench(tests={30: 2, 20: 1, 10: 0})
    opened = read_event(bench.state.entries[0])
    assert isinstance(opened, BatchOpened)
    assert opened.tests == ((20, 1), (30, 2))


def test_a_batch_can_be_looked_at_before_it_is_opened() -> None:
    late = EnterLate((PlacedPieces("waiting", 8, 10),), MORNING)
    command = OpenBatch("B0001", part(), "digest", "part.toml", 1, 8, late=late)
    ahead = command.opened(Context(Moment(MORNING), Person("AA")))
    assert (ahead.started, ahead.waiting(10), ahead.late) == (8, [1, 2, 3, 4, 5, 6, 7, 8], None)
