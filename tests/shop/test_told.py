"""What one batch told others is struck out where it was entered, for all of them or for none."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from floor.batch.command import Refused
from floor.batch.corrections.commands import StrikeOut
from floor.batch.fold import fold
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.stations.commands import Disturb
from floor.batch.walk.commands import BeginRun, StartCycle
from floor.batch.walk.station_walk import build_walk
from floor.batch.walk.stop_cycle import StopCycle
from floor.entry import Entry
from floor.shop import Shop
from floor.shop.simulation import SimulatedOperator
from tests.batch.factory import MORNING, StepClock, part


@pytest.fixture
def clock() -> StepClock:
    return StepClock(MORNING)


@pytest.fixture
def shop(tmp_path: Path, clock: StepClock) -> Iterator[Shop]:
    shop = Shop(tmp_path, clock)
    shop.add_person("LL", "Lee Lead", True, by="-")
    shop.add_person("AA", "Ann", False, by="LL")
    shop.add_person("BB", "Bo", False, by="LL")
    yield shop
    shop.close()


def opened(shop: Shop) -> str:
    return shop.open_batch(OpenBatch(shop.find_next_id(), part(), "digest", "part.toml", 1, 4), "AA").id


def hand(shop: Shop, id: str, clock: StepClock) -> SimulatedOperator:
    return SimulatedOperator(shop, id, "AA", clock, second="BB")


def at_the_start(shop: Shop, clock: StepClock) -> tuple[str, int]:
    """A batch whose load is about to be cut at op 10."""
    id = opened(shop)
    load = hand(shop, id, clock).form(10)
    assert not hand(shop, id, clock).work(load, stop=lambda line: line.kind == "start")
    return id, load


def at_the_oven(shop: Shop, clock: StepClock, until: str = "start") -> tuple[str, int]:
    id = opened(shop)
    worker = hand(shop, id, clock)
    first = worker.form(10)
    for _ in (10, 20, 30):
        assert worker.work(first)
    load = worker.form(40)
    assert not worker.work(load, stop=lambda line: line.kind == until)
    return id, load


def current(shop: Shop, id: str, load: int, clock: StepClock) -> str:
    batch = shop.batch(id)
    run = batch.loads[load].run
    assert run is not None
    line = build_walk(batch, batch.runs[run], clock(), "AA").current
    assert line is not None
    return line.key


def last(shop: Shop, id: str, kind: str) -> Entry:
    return next(entry for entry in reversed(shop.batch(id).entries) if entry.kind == kind)


def refused(shop: Shop, id: str, entry: Entry, by: str = "LL") -> Refused:
    before = {batch.id: batch.seq for batch in shop.batches}
    with pytest.raises(Refused) as refusal:
        shop.do(id, StrikeOut(entry.seq, "never happened"), by)
    assert {batch.id: batch.seq for batch in shop.batches} == before
    return refusal.value


def test_a_power_cut_is_struck_out_where_it_was_reported_and_for_all_that_were_told(
    shop: Shop, clock: StepClock
) -> None:
    one, load = at_the_oven(shop, clock)
    two, other = at_the_oven(shop, clock)
    three = opened(shop)
    shop.do(one, Disturb("oven", "power lost"), "AA")
    assert current(shop, one, load, clock) == current(shop, two, other, clock) == "confirmed 1"
    assert last(shop, three, "pieces_started"), "never at the oven, told nothing"
    locked = refused(shop, two, last(shop, two, "disturbed"))
    assert "came from another batch (entered on B0001) and is locked here" in locked.wrong
    assert not locked.signs, "not by a lead either"

    shop.do(one, StrikeOut(last(shop, one, "disturbed").seq, "the other oven"), "AA")

    assert current(shop, one, load, clock) == current(shop, two, other, clock) == "start"
    struck = last(shop, two, "struck_out")
    assert (struck.body["reason"], struck.body["note"]) == ("the other oven", "entered on B0001")
    assert "locked" in refused(shop, two, struck).wrong

    shop.do(one, StrikeOut(last(shop, one, "struck_out").seq, "it was this one"), "AA")

    assert current(shop, one, load, clock) == current(shop, two, other, clock) == "confirmed 1"
    for batch in shop.batches:
        assert batch == fold(batch.entries)


def test_what_another_batch_went_on_from_is_struck_out_in_none(shop: Shop, clock: StepClock) -> None:
    """Its oven cycle stopped by the power cut and was restarted: without the cut it would have been started twice."""
    one, load = at_the_oven(shop, clock)
    two, other = at_the_oven(shop, clock, "end")
    shop.do(one, Disturb("oven", "power lost"), "AA")
    hand(shop, two, clock).work(other, stop=lambda line: line.kind == "start")
    shop.do(two, StartCycle(shop.batch(two).loads[other].run or 0), "AA")
    started = last(shop, two, "cycle_started")

    said = refused(shop, one, last(shop, one, "disturbed"))

    assert said.remedy == f"strike out entry {started.seq} of {two} first"
    assert current(shop, one, load, clock) == "confirmed 1"


def test_a_crash_told_with_the_stop_of_a_cycle_is_taken_back_for_all(shop: Shop, clock: StepClock) -> None:
    one, load = at_the_oven(shop, clock, "end")
    two, other = at_the_oven(shop, clock)
    shop.do(one, StopCycle(shop.batch(one).loads[load].run or 0, "power lost"), "AA")
    assert current(shop, two, other, clock) == "confirmed 1"

    shop.do(one, StrikeOut(last(shop, one, "disturbed").seq, "only stopped by the operator"), "AA")

    assert current(shop, two, other, clock) == "start"


def test_a_set_up_that_another_batch_took_down_stays_down(shop: Shop, clock: StepClock) -> None:
    one, load = at_the_start(shop, clock)
    shop.do(one, StartCycle(shop.batch(one).loads[load].run or 0), "AA")
    hand(shop, one, clock).work(load)
    two = opened(shop)
    shop.do(two, BeginRun(hand(shop, two, clock).form(10)), "AA")

    assert "locked" in refused(shop, one, last(shop, one, "setup_taken_down")).wrong
    assert shop.batch(one).find_setup("mill") is None


def test_a_set_up_is_taken_down_although_something_struck_out_later_had_taken_it_down_before(
    shop: Shop, clock: StepClock
) -> None:
    """A workholding change was entered; meanwhile another batch sets up; then the change is struck out."""
    one, load = at_the_start(shop, clock)
    shop.do(one, StartCycle(shop.batch(one).loads[load].run or 0), "AA")
    hand(shop, one, clock).work(load)
    shop.do(one, Disturb("mill", "refixtured"), "AA")
    two = opened(shop)
    shop.do(two, BeginRun(hand(shop, two, clock).form(10)), "AA")
    said = next(entry for entry in shop.batch(one).entries if entry.kind == "disturbed")

    shop.do(one, StrikeOut(said.seq, "it was not"), "AA")

    assert shop.batch(one).find_setup("mill") is None
    assert not any(key[0] == "tool loaded" for key in shop.batch(one).proofs)


def test_a_tool_changed_twice_in_two_batches_and_once_taken_back_is_still_changed(shop: Shop, clock: StepClock) -> None:
    one, load = at_the_start(shop, clock)
    two = opened(shop)
    shop.do(one, Disturb("mill", "tool changed", tool=1), "AA")
    shop.do(two, Disturb("mill", "tool changed", tool=1), "AA")

    shop.do(one, StrikeOut(last(shop, one, "disturbed").seq - 1, "not at that time"), "AA")

    assert current(shop, one, load, clock) == "tool loaded 1"
