"""What a lead lets a load do otherwise than the list says: another station, another order."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from floor.batch.corrections.commands import StrikeOut
from floor.batch.counting.commands import CountRun, Dispose, MarkedPieces
from floor.batch.describe import describe
from floor.batch.gates.commands import CloseWaiver
from floor.batch.handover.page import build_handover_page
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.moving.commands import MovePieces
from floor.batch.proof import StationShiftKey
from floor.batch.run import Run
from floor.batch.search.trace import trace
from floor.batch.walk.any_order import list_later_ops
from floor.batch.walk.commands import BeginRun, Release
from floor.batch.walk.put_back import PutBack
from floor.checklist.model import Checklist
from tests.batch.factory import OWN_LOAD, TWO_MILLS, Bench, conserved, edited, open_bench

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
        "load 1: op 10 started at Mill 2, new set-up, another station than the list's: the spindle is out"
    )


# --- another order ---------------------------------------------------------------------------------------------------


STEPS = """time = {{ cycle = "5 min" }}
steps = [{{ do = "Close the vise", at = "load" }}]
reasons = [
  {{ code = "slip{0}", text = "Slipped" }},
  {{ code = "faint{0}", text = "Faint", to = "hold" }},
{2}]
{1}
"""

AGAIN = '  {{ code = "again{0}", text = "To be cut again", to = "rework", rework = "recut" }},\n'


@cache
def line_of_ops(*any_order: int) -> Checklist:
    """The test part with operations 12, 14 and 16 on the pallet before it is coated, these in any order."""
    rework = '[[reworks]]\nid = "recut"\nname = "Cut again"\nback_to = 14\nops = [14]\npasses = 2\n\n'
    ops = "".join(
        f'[[operations]]\nop = {op}\ntitle = "Cut {op}"\nstation = "mill"\ncarrier = "pallet"\n'
        + STEPS.format(op, "any_order = true" if op in any_order else "", AGAIN.format(op) if op > 12 else "")
        for op in (12, 14, 16)
    )
    start = "[[operations]]\nop = 20\n"
    return edited((start, ops + start), ("[[operations]]\nop = 10\n", f"{rework}[[operations]]\nop = 10\n"))


@pytest.fixture
def cut() -> Bench:
    """A pallet of four through op 10, with ops 12, 14 and 16 before it."""
    bench = open_bench(line_of_ops, start=8)
    bench.through(bench.form(10), 10)
    return bench


def ahead(bench: Bench, op: int, load: int = 1) -> Run:
    return begun(bench, BeginRun(load, ahead=op, ahead_why="the cutter for 12 is away"))


def counted_at(bench: Bench, piece: int) -> list[int]:
    return [run.op for run in bench.state.runs.values() if run.count is not None and piece in run.pieces]


def marked(bench: Bench, load: int, code: str, place: str) -> None:
    bench.until(load, "count")
    run = bench.run_of(load)
    bench.say(CountRun(run.number, len(run.pieces) - 1, (MarkedPieces(code, (place,), 1),)))
    bench.say(Release(run.number))
    conserved(bench.state)


def test_another_order_takes_a_lead_and_a_reason(cut: Bench) -> None:
    assert cut.refused(BeginRun(1, ahead=14)).why == "authority"
    assert cut.refused(BeginRun(1, ahead=14), by="LL").field == "why"
    for op in (10, 12, 40, 99):
        refused = cut.refused(BeginRun(1, ahead=op, ahead_why="as well"), by="LL")
        assert refused.wrong == f"op {op} cannot be done before op 12 on Pallet 1 (load 1)"
        assert refused.remedy == "one of: 14, 16, 20, 30"
    assert ahead(cut, 14).op == 14


def test_where_the_list_allows_any_order_nobody_is_asked() -> None:
    bench = open_bench(lambda: line_of_ops(12, 14), start=4)
    bench.through(bench.form(10), 10)
    assert bench.refused(BeginRun(1, ahead=16)).why == "authority", "16 is not one of them"
    run = begun(bench, BeginRun(1, ahead=14), by="AA")

    assert (run.op, bench.state.list_open_waivers()) == (14, [])
    assert describe(bench.state, bench.state.entries[-1]).endswith("started at Mill, new set-up, before its turn")


def test_what_a_lead_let_be_done_early_opens_no_order_beyond_it() -> None:
    """20 is no neighbor of 12 and 14 in the list, whatever was done between them."""
    listed = line_of_ops(12, 14)
    free = tuple(replace(one, any_order=one.op in (12, 14, 20)) for one in listed.operations)
    bench = open_bench(lambda: replace(listed, operations=free), start=4)
    bench.through(bench.form(10), 10)
    ahead(bench, 16)
    bench.through(1, 16)

    assert bench.refused(BeginRun(1, ahead=20)).why == "authority"


def test_each_operation_is_passed_once_whatever_the_order(cut: Bench) -> None:
    for op in (16, 14):
        ahead(cut, op)
        cut.through(1, op)
        assert cut.state.loads[1].at == 12
    cut.through(1, 12)

    assert cut.state.loads[1].at == 20
    assert counted_at(cut, 1) == [10, 16, 14, 12]


def test_it_is_a_waiver_of_its_pieces_and_says_so(cut: Bench) -> None:
    """CBP-38."""
    ahead(cut, 14)

    (waiver,) = cut.state.list_open_waivers(cut.state.loads[1])
    assert (waiver.op, waiver.title, waiver.reason) == (14, "before op 12", "the cutter for 12 is away")
    said = describe(cut.state, cut.state.entries[-1])
    assert said.endswith("before its turn: the cutter for 12 is away")


def test_put_back_it_stands_where_it_stood(cut: Bench) -> None:
    run = ahead(cut, 14)
    cut.say(PutBack(run.number))

    assert (cut.state.loads[1].at, cut.state.turn) == (12, {})
    assert not cut.state.list_open_waivers()


def test_put_back_it_keeps_what_was_let_past_before(cut: Bench) -> None:
    ahead(cut, 14)
    cut.through(1, 14)
    run = ahead(cut, 16)
    cut.say(PutBack(run.number))

    assert cut.state.turn == dict.fromkeys((1, 2, 3, 4), 12)


def test_what_was_let_past_comes_before_all_that_follows(cut: Bench) -> None:
    ahead(cut, 14)
    assert [cut.state.find_turn(1, op) for op in (10, 12, 16, None)] == [10, 12, 12, 12]
    assert cut.state.find_turn(5, None) is None


def test_a_rework_passes_by_itself_only_what_the_others_have_behind_them() -> None:
    """12 and 14, which all were let past, they do together."""
    listed = line_of_ops()
    reasons = {
        one.op: tuple(replace(why, rework=why.rework and "regroove") for why in one.reasons)
        for one in listed.operations
    }
    deeper = tuple(replace(one, reasons=reasons[one.op]) if one.op == 16 else one for one in listed.operations)
    bench = open_bench(lambda: replace(listed, operations=deeper), start=4)
    bench.through(bench.form(10), 10)
    ahead(bench, 16)
    marked(bench, 1, "again16", "A1")
    bench.through(1, 10, 16, 12, 14)

    assert counted_at(bench, 1) == [10, 16, 10, 16, 12, 14]
    assert counted_at(bench, 2) == [10, 16, 12, 14]
    assert bench.state.loads[1].at == 20


def test_it_is_struck_out_until_work_rests_on_it(cut: Bench) -> None:
    ahead(cut, 14)
    seq = cut.state.seq
    cut.say(StrikeOut(seq, "it was op 12"), by="LL")
    assert cut.state.loads[1].at == 12
    ahead(cut, 14)
    seq = cut.state.seq
    cut.through(1, 14)

    assert cut.refused(StrikeOut(seq, "it was op 12"), by="LL").why == "later entries"


def test_a_piece_held_meanwhile_makes_up_for_what_it_was_let_past(cut: Bench) -> None:
    ahead(cut, 14)
    marked(cut, 1, "faint14", "A1")
    cut.through(1, 12)
    assert cut.state.loads[1].at == 16
    cut.say(Dispose((1,), "use as is", "it can be read"), "LL")
    conserved(cut.state)

    assert (cut.state.loads[1].at, cut.state.find_next_pieces(cut.state.loads[1])) == (12, (1,))
    cut.through(1, 12, 16)
    assert counted_at(cut, 1) == [10, 14, 12, 16]
    assert counted_at(cut, 2) == [10, 14, 12, 16]


def test_a_piece_set_aside_before_the_count_passes_both(cut: Bench) -> None:
    ahead(cut, 14)
    cut.say(SetPiecesAside("hold", "odd", load=1, positions=("A1",)))
    cut.through(1, 14, 12)
    cut.say(Dispose((1,), "use as is", "looked at"), "LL")
    cut.through(1, 12, 14, 16)

    assert counted_at(cut, 1) == [10, 12, 14, 16]


def test_a_rework_repeats_what_was_done_early_and_no_more(cut: Bench) -> None:
    ahead(cut, 14)
    marked(cut, 1, "again14", "B2")
    assert (cut.state.loads[1].at, cut.state.find_next_pieces(cut.state.loads[1])) == (14, (4,))
    cut.through(1, 14, 12, 16)

    assert counted_at(cut, 4) == [10, 14, 14, 12, 16]
    assert counted_at(cut, 1) == [10, 14, 12, 16]


def test_pieces_taken_off_and_joined_to_others_go_on_by_themselves(cut: Bench) -> None:
    cut.through(cut.form(10), 10)
    ahead(cut, 14)
    cut.through(1, 14)
    cut.say(MovePieces(2, (5, 6)))
    joined = cut.say(MovePieces(1, (1, 2), 2))[0].body["load"]
    conserved(cut.state)
    cut.through(joined, 12)
    assert cut.state.find_next_pieces(cut.state.loads[joined]) == (7, 8), "the others have it behind them"
    cut.through(joined, 14, 16)
    assert counted_at(cut, 1) == counted_at(cut, 3)[:2] + [12, 16]
    cut.say(MovePieces(1, (3, 4)))
    again = cut.form(12, count=4)
    cut.through(again, 12)

    assert {cut.state.loads[again].at} == {14}, "5 and 6 are still to go there"
    assert cut.state.find_next_pieces(cut.state.loads[again]) == (5, 6)


def test_what_all_on_a_load_have_behind_them_is_not_offered_again(cut: Bench) -> None:
    ahead(cut, 14)
    cut.through(1, 14)
    cut.say(MovePieces(1))
    again = cut.form(12)

    assert list_later_ops(cut.state, cut.state.loads[again]) == (16, 20, 30)
    cut.through(again, 12)
    assert cut.state.loads[again].at == 16


def test_a_load_in_rework_keeps_its_order(cut: Bench) -> None:
    cut.through(1, 12)
    marked(cut, 1, "again14", "A1")

    refused = cut.refused(BeginRun(1, ahead=16, ahead_why="as well"), by="LL")
    assert refused.remedy == "go on with its next operation"


def test_a_load_formed_for_a_rework_keeps_its_order_too() -> None:
    bench = open_bench(lambda: edited(OWN_LOAD), start=4)
    bench.through(bench.form(10), 10)
    assert list_later_ops(bench.state, bench.state.loads[1]) == (30,)
    marked(bench, 1, "thin", "A1")
    mended = bench.form(20, rework="touch up")

    assert list_later_ops(bench.state, bench.state.loads[mended]) == ()
