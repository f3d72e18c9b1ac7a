"""What a lead lets a load do otherwise than the list says: another station, another order."""

from __future__ import annotations

from functools import cache

import pytest

from floor.batch.corrections.commands import StrikeOut
from floor.batch.describe import describe
from floor.batch.gates.commands import CloseWaiver
from floor.batch.handover.page import build_handover_page
from floor.batch.proof import StationShiftKey
from floor.batch.run import Run
from floor.batch.search.trace import trace
from floor.batch.walk.commands import BeginRun
from floor.batch.walk.put_back import PutBack
from floor.checklist.model import Checklist
from tests.batch.factory import TWO_MILLS, Bench, conserved, edited, open_bench

WHY = "the spindle is out"


# --- another station -------------------------------------------------------------------------------------------------


CUT_FREE = 'station = "mill"\ncarrier = "pallet"\ntime = { cycle_piece'
SPARE_MILL = (TWO_MILLS[0], (CUT_FREE, CUT_FREE.replace("carrier", 'also_at = ["mill 2"]\ncarrier', 1)))
"""Edits of the test part: a second mill, which the list names for cutting free only."""


@cache
def spare_mill() -> Checklist:
    return edited(*SPARE_MILL)


@pytest.fixture
def bench() -> Bench:
    return open_bench(spare_mill)


def begun(bench: Bench, command: BeginRun, by: str = "LL") -> Run:
    run = bench.state.runs[bench.say(command, by)[0].body["run"]]
    conserved(bench.state)
    return run


def test_another_station_takes_a_lead_and_a_reason(bench: Bench) -> None:
    """CBP-36, CBP-37: a deviation has a name, a role and a reason."""
    load = bench.form(10)

    assert bench.refused(BeginRun(load, station="mill 2")).why == "unknown"
    assert bench.refused(BeginRun(load, station="mill 2", instead=WHY)).why == "authority"
    assert bench.refused(BeginRun(load, station="mill 2", instead="x"), by="LL").field == "why"
    for station in ("bench", "moon"):
        assert bench.refused(BeginRun(load, station=station, instead=WHY), by="LL").why == "unknown"
    assert begun(bench, BeginRun(load, station="mill 2", instead=WHY, anyway=True)).station == "mill 2"


def test_the_gates_of_that_station_are_asked_for_there(bench: Bench) -> None:
    """CBP-31: what was proved at the one mill says nothing of the other."""
    one, two = bench.form(10), bench.form(10)
    bench.through(one, 10)
    begun(bench, BeginRun(two, station="mill 2", instead=WHY, anyway=True))

    open_lines = {line.key for line in bench.walk(two).lines if not line.is_satisfied}
    assert {"program loaded 1", "tool loaded 1", "signed 1", "probed 1", "first piece accepted 1"} <= open_lines
    bench.through(two, 10)
    assert bench.state.loads[two].at == 20


def test_a_check_of_the_shift_is_made_at_each_station() -> None:
    rocks = 'do = "Press each corner: nothing rocks", at = "load"'
    bench = open_bench(lambda: edited(*SPARE_MILL, (rocks, f'{rocks}, per = "shift"')))
    one, two = bench.form(10), bench.form(10)
    bench.through(one, 10)
    begun(bench, BeginRun(two, station="mill 2", instead=WHY, anyway=True))

    assert not bench.line(two, "confirmed 1").is_satisfied
    bench.through(two, 10)
    assert {key.station for key in bench.state.proofs if isinstance(key, StationShiftKey)} == {"mill 2"}


def test_it_is_a_waiver_that_goes_with_its_pieces(bench: Bench) -> None:
    """CBP-38, HND-11: shown until a lead closes it, in the trace for good."""
    load = bench.form(10)
    run = begun(bench, BeginRun(load, station="mill 2", instead=WHY, anyway=True))
    seq = bench.state.seq
    bench.through(load, 10)

    (waiver,) = bench.state.list_open_waivers(bench.state.loads[load])
    assert (waiver.title, waiver.by, waiver.reason) == ("at Mill 2, not at Mill", "LL", WHY)
    assert waiver.pieces == set(run.pieces)
    assert trace(bench.state, 1).stays[0].waivers == (waiver,)
    page = build_handover_page(bench.state, bench.clock())
    assert any(WHY in str(line) for section in page for line in section.lines)
    bench.say(CloseWaiver(seq, "measured, all good"), by="LL")
    assert not bench.state.list_open_waivers()


def test_it_is_put_back_or_struck_out_like_any_start(bench: Bench) -> None:
    load = bench.form(10)
    run = begun(bench, BeginRun(load, station="mill 2", instead=WHY, anyway=True))
    bench.say(PutBack(run.number))
    assert not bench.state.list_open_waivers()

    begun(bench, BeginRun(load, station="mill 2", instead=WHY, anyway=True))
    bench.say(StrikeOut(bench.state.seq, "it was the first mill"), by="LL")
    assert bench.state.loads[load].run is None
    assert not bench.state.list_open_waivers()


def test_it_reads_in_the_history_as_what_it_is(bench: Bench) -> None:
    begun(bench, BeginRun(bench.form(10), station="mill 2", instead=WHY, anyway=True))

    said = describe(bench.state, bench.state.entries[-1])
    assert said.startswith(
        "load 1: op 10 started at mill 2, new set-up, another station than the list's: the spindle is out"
    )
