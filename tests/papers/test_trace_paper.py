"""The trace of a piece says what it was cut with, and not what else stood in the machine."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import pytest

from floor.batch.command import OtherBatches
from floor.batch.counting.commands import Dispose
from floor.batch.describe import describe
from floor.batch.events import Disposed, iter_events
from floor.batch.gates.open_lot import OpenLot
from floor.batch.gates.suspect_gauges import ReportSuspectGauge, SettleSuspectGauge
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.walk.commands import BeginRun, StartCycle
from floor.batch.walk.stop_cycle import StopCycle
from floor.papers.closeout import write_close_out
from floor.papers.trace import format_trace
from floor.text import LONGEST_TEXT
from tests.batch.factory import MORNING, Bench, edited, open_bench
from tests.batch.test_correct_lot import DAY
from tests.batch.test_gauges import DEPTH, gauge, register
from tests.batch.test_qualified_people import ASKS, TODAY, known


@pytest.fixture
def bench() -> Bench:
    return open_bench()


def test_only_the_tools_of_the_operation_are_listed(bench: Bench) -> None:
    """Both tools of op 10 stand in the mill still when op 30 cuts there, which asks for neither."""
    load = bench.form(10)
    for _ in range(2):
        assert bench.hand().work(load)
    bench.clock.forward(13 * 3600)
    assert bench.hand().work(load)
    cut = next(run for run in bench.state.runs.values() if run.op == 30)
    assert cut.tools, "they are in the station"

    lines = format_trace(bench.state, 1, bench.clock())

    at = next(n for n, line in enumerate(lines) if line.startswith("op 30"))
    assert any("6 mm end mill" in line for line in lines[:at])
    assert not any("tools" in line for line in lines[at:])


@pytest.mark.parametrize(("minutes", "into"), [(5, False), (60, False), (5, True)])
def test_a_piece_worked_from_an_earlier_mix_names_the_lot_of_that_mix(minutes: int, into: bool) -> None:
    """Pot life 40 min: the second load is coated from the mix of the first, of the lot before; after that it is mixed
    anew, of the lot then recorded. A lot that somebody says goes into the load stands as recorded.
    """
    bench = open_bench()
    first, second = bench.form(10), bench.form(10)
    bench.through(first, 10)
    bench.through(second, 10)
    bench.through(first, 20)
    mixed = next(entry.done for entry in bench.state.entries if entry.body.get("line") == "mix")
    if not into:
        bench.say(OpenLot("lacquer", "E-300", DAY))
    bench.clock.forward(60 * minutes)
    bench.until(second, "coat")
    if into:
        bench.say(OpenLot("lacquer", "E-300", DAY, into=(second,)))
    bench.through(second, 20)

    def find_lots(piece: int) -> str:
        said = " ".join("\n".join(format_trace(bench.state, piece, bench.clock())).split())
        return said.partition("op 20 ")[2].partition("lots ")[2].partition(" people ")[0]

    assert find_lots(1) == "lacquer 20-01A"
    of_mix = f"lacquer 20-01A from the mix of {mixed:%H:%M}, though E-300 was recorded since"
    if into:
        assert "E-300" in find_lots(5)
        assert "mix" not in find_lots(5)
    else:
        assert find_lots(5) == (of_mix if minutes < 40 else "lacquer E-300")


@pytest.mark.parametrize("anew", [False, True])
def test_a_tool_changed_during_the_cycle_stands_there_with_the_one_before(anew: bool) -> None:
    """Which piece was under which of them nobody knows; the run after has the new one alone."""
    bench = open_bench()
    load, after = bench.form(10), bench.form(10)
    bench.until(load, "end", wait=False)
    bench.clock.forward(300)
    bench.say(StopCycle(bench.run_of(load).number, "tool broke", tool=1))
    changed = bench.clock().at
    bench.prove(load, "tool loaded 1", tool=1, length=3.87)
    bench.until(load, "start")
    bench.say(StartCycle(bench.run_of(load).number, anew=anew))
    bench.through(load, 10)
    bench.through(after, 10)

    def find_tools(piece: int) -> str:
        said = " ".join("\n".join(format_trace(bench.state, piece, bench.clock())).split())
        return said.partition("tools ")[2].partition(" lots ")[0]

    name = "T1 6 mm end mill length"
    assert f"{name} 4 until {changed:%H:%M}, then length 3.87" in find_tools(1)
    assert f"{name} 3.87" in find_tools(5)
    assert "until" not in find_tools(5)


def test_the_page_says_what_whoever_worked_there_was_qualified_for() -> None:
    """REC-07, ISO 9001:2015 8.5.1: the rules let nobody else work at a station that asks for it."""
    bench = open_bench(partial(edited, ASKS), start=4, order=4)
    bench.elsewhere = OtherBatches(qualified=known(TODAY, "AA", "BB"))
    load = bench.form(10)
    assert bench.refused(BeginRun(load), by="CC").why == "authority"
    bench.through(load, 10, 20)
    said = " ".join("\n".join(format_trace(bench.state, 1, bench.clock())).split())
    assert "training Spray painting, health surveillance: whoever did a step here had it" in said
    assert said.count("training") == 1, "the bench asks for none"


def test_what_was_decided_about_a_piece_stands_on_its_trace() -> None:
    bench = open_bench(start=4, order=4)
    load = bench.form(10)
    bench.through(load, 10)
    bench.say(SetPiecesAside("hold", "scratch?", load=load, positions=("A1",)))
    bench.say(Dispose((1,), "use as is", "only a hair on it"), by="LL")
    said = "\n".join(format_trace(bench.state, 1, bench.clock()))
    assert "decided  07:26 AA: load 1: A1 set aside as hold: scratch?" in said
    assert "decided  07:26 LL: 1 held piece: use as is, only a hair on it" in said
    assert "hair" not in "\n".join(format_trace(bench.state, 2, bench.clock()))


SIX_PALLETS = ("columns = 2\ncount = 3", "columns = 2\ncount = 6")


def use_many(bench: Bench) -> None:
    """Twenty-two of the pieces of six pallets, on hold for a reason of some length, are used as is in one decision."""
    for load in [bench.form(10) for _ in range(6)]:
        places = ("A1", "A2", "B1", "B2") if load < 6 else ("A1", "A2")
        bench.say(
            SetPiecesAside("hold", "may be out of limits: the gauge read one of them wrong", load, positions=places)
        )
    bench.say(Dispose(tuple(bench.state.held()), "use as is", "all measured again"), by="LL")


def test_a_decision_about_many_pieces_names_each_of_them() -> None:
    bench = open_bench(partial(edited, SIX_PALLETS), start=24, order=24)
    use_many(bench)
    every = sorted(piece for load in bench.state.loads.values() for piece in load.pieces)[:22]
    assert bench.state.held() == {}
    [(_, event)] = iter_events(bench.state.entries, Disposed)
    assert sorted(event.pieces) == every

    history = " ".join(describe(bench.state, bench.state.entries[-1]).split())
    report = " ".join(write_close_out(bench.state, bench.clock(), "h" * 64).split())
    for said in (history, report):
        assert "pieces 1-4 on Pallet 1, op 10: may be" in said
        assert "pieces 21-22 on Pallet 6, op 10: may be" in said, "the last as well as the first"
    lines = " ".join("\n".join(format_trace(bench.state, 20, bench.clock())).split())
    assert "LL: piece 20 and 21 others: 22 held pieces: use as is" in lines


def test_an_older_record_that_cut_the_places_short_gives_the_numbers() -> None:
    bench = open_bench(partial(edited, SIX_PALLETS), start=24, order=24)
    use_many(bench)
    [(entry, event)] = iter_events(bench.state.entries, Disposed)
    cut_off = replace(event, where=event.where[:LONGEST_TEXT])
    assert len(event.where) > len(cut_off.where), "this many did not have room"
    older = replace(entry, body=entry.body | {"where": cut_off.where})
    assert describe(bench.state, older).startswith("held pieces 1-22: use as is, all measured again")


def test_a_suspect_gauge_and_the_decision_on_it_stand_on_the_trace_of_what_it_measured() -> None:
    bench = open_bench(partial(edited, DEPTH))
    bench.elsewhere = register(gauge("DM-04"), gauge("DM-05"))
    measured, other = bench.form(10), bench.form(10)
    for load, serial in ((measured, "DM-04"), (other, "DM-05")):
        bench.until(load, "measured 1")
        bench.prove(load, "measured 1", value=[3.0, 3.0], gauge=serial)
        bench.through(load, 10)
    report = bench.say(ReportSuspectGauge("DM-04", "Depth micrometer", "dropped", MORNING))[0].seq
    bench.say(SettleSuspectGauge(report, "measured again with DM-05"), "LL")

    def trace_of(load: int) -> str:
        return " ".join(" ".join(format_trace(bench.state, bench.state.loads[load].pieces[0], bench.clock())).split())

    assert "found suspect" in trace_of(measured)
    assert "LL: checks with DM-04 decided: measured again with DM-05" in trace_of(measured)
    assert "DM-04" not in trace_of(other)
