"""A batch that was away: its proofs at the stations do not count when it comes back.

Common practice, no source: a set-up that nobody watched is checked like a new one.
"""

from __future__ import annotations

from floor.batch.describe import describe
from floor.batch.fold import fold
from floor.batch.lifecycle.transfer import TakeInBatch, TransferBatch
from floor.batch.walk.commands import BeginRun
from tests.batch.factory import Bench, conserved, open_bench
from tests.batch.test_clocks import coated, ripens

AT_THE_STATION = {"program loaded 1", "tool loaded 1", "tool loaded 2", "signed 1", "probed 1"}
WHY = "the batch was away, and nobody told it what happened at the station"


def away(bench: Bench) -> None:
    bench.say(TransferBatch("the other shop"), "LL")
    bench.say(TakeInBatch("never sent", withdrawn=True), "LL")


def unproved(bench: Bench, load: int) -> set[str]:
    lines = [line for line in bench.walk(load).lines if line.kind == "gate" and not line.is_satisfied]
    return {line.key for line in lines if line.verdict is not None and WHY in line.verdict.why}


def test_the_next_load_sets_the_station_up_again() -> None:
    bench = open_bench()
    bench.through(bench.form(10))
    load = bench.form(10)
    away(bench)

    begun = bench.say(BeginRun(load))[0]

    assert begun.body["new_setup"] is True
    assert bench.state.setups[1].why_not == WHY
    assert {"tool loaded 1", "tool loaded 2"} == unproved(bench, load), "the rest is new with the set-up"
    assert not any(bench.line(load, key).is_satisfied for key in AT_THE_STATION)
    bench.through(load)
    conserved(bench.state)


def test_a_load_at_the_station_proves_it_again_and_its_own_pieces_not() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "start")
    away(bench)

    assert unproved(bench, load) == AT_THE_STATION
    assert bench.line(load, "confirmed 1").is_satisfied
    bench.through(load)
    assert bench.state == fold(bench.state.entries)


def test_a_cycle_that_ran_meanwhile_ends_only_when_the_station_is_looked_at() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "end")
    away(bench)

    assert bench.run_of(load).running
    assert bench.current(load).key in AT_THE_STATION
    bench.through(load)


def test_a_dwell_runs_on() -> None:
    bench = open_bench()
    load = coated(bench)
    before = ripens(bench, load)
    away(bench)
    assert ripens(bench, load) == before


def test_a_record_of_an_earlier_floor_folds_as_it_did() -> None:
    """Its later entries rely on the earlier set-up."""
    bench = open_bench()
    bench.through(bench.form(10))
    bench.say(TransferBatch("the other shop"), "LL")
    drafts = TakeInBatch().decide(bench.state, bench.context("", "LL"))
    assert drafts[0].body.pop("untold") is True

    class Earlier:
        def decide(self, batch: object, context: object) -> object:
            return drafts

    bench.say(Earlier())  # type: ignore[arg-type]
    setup = bench.state.find_setup("mill")
    assert setup is not None
    assert "taken in here" in describe(bench.state, bench.state.entries[-1])
