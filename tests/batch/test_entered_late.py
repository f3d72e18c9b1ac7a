"""A batch entered half done: what is entered is kept as such, nothing else is claimed, and work goes on."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from hypothesis import Phase, assume, given, settings
from hypothesis import strategies as st

from floor.batch.command import OtherBatches, Refused
from floor.batch.corrections.commands import StrikeOut
from floor.batch.counting.commands import Dispose
from floor.batch.counting.losses import count_losses
from floor.batch.counting.op_yields import list_op_outcomes
from floor.batch.describe import describe
from floor.batch.fold import fold
from floor.batch.gates.commands import CloseWaiver, Waive
from floor.batch.handover.page import build_handover_page
from floor.batch.lifecycle.commands import CloseBatch, SetPiecesAside
from floor.batch.lifecycle.enter_half_done import EnterLate, find_row_fault
from floor.batch.lifecycle.half_done import PaperProof, PlacedPieces, format_placed_pieces, list_clocks_to_enter
from floor.batch.run import PieceResult
from floor.batch.search.trace import trace
from floor.batch.stations.commands import Disturb
from floor.checklist.gates import Cured
from floor.entry import Entry
from floor.papers.closeout import write_close_out
from floor.papers.trace import write_trace
from floor.planning.batch_forecast import collect_forecast_inputs, count_yields
from tests.batch.factory import MORNING, VANCE, Bench, conserved, edited, open_bench, part, two_up

HOUR = timedelta(hours=1)
NEVER = MORNING
"""Stands for a time that the test sets."""


@pytest.fixture
def bench() -> Bench:
    """22 pieces started two hours ago, nothing else on record."""
    bench = open_bench(start=22, order=10)
    bench.clock.forward(7200)
    return bench


def ago(bench: Bench, hours: float) -> datetime:
    return bench.clock().at - hours * HOUR


def curing(bench: Bench, hours: float | None, number: int = 1, count: int = 4) -> PlacedPieces:
    """A coated pallet."""
    since = None if hours is None else ago(bench, hours)
    return PlacedPieces("load", count, 30, number, clocks=(("recoat", since), ("cure", since)))


def typical(bench: Bench) -> tuple[PlacedPieces, ...]:
    """Two pallets curing, a tray in the oven, the rest loose; two scrap, one to be coated again, one on hold."""
    return (
        curing(bench, 5),
        curing(bench, 3, number=2, count=3),
        PlacedPieces("load", 5, 40, 1, stands="runs", began=ago(bench, 1)),
        PlacedPieces("waiting", 5, 10),
        PlacedPieces("waiting", 1, 20, rework="touch up", found=30),
        PlacedPieces("scrap", 2, 10, reason="deep"),
        PlacedPieces("hold", 1, 30, reason="soft"),
        PlacedPieces("finished", 1),
    )


def enter(bench: Bench, *rows: PlacedPieces, shown: tuple[PaperProof, ...] = (), second: str = "") -> Entry:
    """Enter these rows; all other pieces wait for the first operation."""
    rest = bench.state.started - sum(row.count for row in rows)
    more = (PlacedPieces("waiting", rest, 10),) if rest else ()
    return bench.say(EnterLate((*rows, *more), bench.clock().at, shown, second), "LL")[0]


def test_every_piece_is_where_it_was_told_to_be_in_one_entry(bench: Bench) -> None:
    entry = enter(bench, *typical(bench))

    assert bench.where() == {"waiting": 6, "load": 12, "hold": 1, "scrap": 2, "finished": 1}
    assert bench.state.list_waiting_pools() == [(10, "", 5), (20, "touch up", 1)]
    assert [bench.state.format_carrier(load) for load in bench.state.list_live_loads()] == [
        "Pallet 1",
        "Pallet 2",
        "Tray 1",
    ]
    assert [load.at for load in bench.state.list_live_loads()] == [30, 30, 40]
    assert [run.op for run in bench.state.list_open_runs()] == [40]
    assert describe(bench.state, entry) == (
        "entered late, as of Mon 09:00: 12 on 3 loads + 6 waiting + 1 on hold + 2 scrap + 1 finished"
    )
    conserved(bench.state)


def test_how_a_piece_came_out_last_is_known_of_what_was_done_before_the_record(bench: Bench) -> None:
    enter(bench, *typical(bench))

    found = {where: bench.state.find_last_result(piece) for piece, place in bench.state.places.items()
             for where in [place.where]}  # fmt: skip
    assert found["scrap"] == PieceResult(10, 0, "scrap")
    assert found["hold"] == PieceResult(30, 0, "hold")
    assert found["finished"] == PieceResult(50, 0, "good")


@pytest.mark.parametrize(
    ("more", "wrong"), [(-1, "21 accounted for: 1 piece missing"), (1, "23 accounted for: 1 piece too many")]
)
def test_what_does_not_add_up_is_refused_with_what_is_missing(bench: Bench, more: int, wrong: str) -> None:
    rows = (*typical(bench)[:3], PlacedPieces("waiting", 10 + more, 10))

    refused = bench.refused(EnterLate(rows, bench.clock().at), "LL")

    assert refused.why == "count"
    assert wrong in refused.wrong


YEARS = timedelta(days=365 * 30)


@pytest.mark.parametrize(
    ("row", "wrong"),
    [
        (lambda at: PlacedPieces("waiting", 0, 10), "the pieces must be a whole number"),
        (lambda at: PlacedPieces("lost", 4, 10), "lost is not a place for pieces"),
        (lambda at: PlacedPieces("waiting", 4, 10, clocks=(("cure", at),)), "clock cure does not matter there"),
        (
            lambda at: PlacedPieces("load", 4, 30, 1, clocks=(("recoat", at - YEARS), ("cure", at))),
            "more than ten years",
        ),
        (lambda at: PlacedPieces("load", 4, 30, 1, clocks=(("recoat", at + HOUR), ("cure", at))), "recoat since"),
        (lambda at: PlacedPieces("load", 4, 20, 1, rework="polish", found=30), "there is no rework polish"),
        (lambda at: PlacedPieces("load", 4, 40, 1, stands="runs", began=at - YEARS), "more than ten years"),
        (lambda at: PlacedPieces("load", 4, 40, 1, stands="runs", began=at + HOUR), "begun"),
        (lambda at: PlacedPieces("load", 4, 40, 1, stands="over", began=at - HOUR, ended=at - 2 * HOUR), "begun"),
        (lambda at: PlacedPieces("load", 4, 40, 1, stands="over", began=at - HOUR, ended=at + HOUR), "ended"),
    ],
)  # fmt: skip
def test_a_row_that_makes_no_sense_is_refused(
    bench: Bench, row: Callable[[datetime], PlacedPieces], wrong: str
) -> None:
    told = row(bench.clock().at)
    rest = PlacedPieces("waiting", 22 - told.count, 10)
    assert wrong in bench.refused(EnterLate((told, rest), bench.clock().at), "LL").wrong


@pytest.mark.parametrize(("off", "wrong"), [(HOUR, "as of"), (-YEARS, "more than ten years")])
def test_it_is_told_for_a_time_that_is_past_and_near(bench: Bench, off: timedelta, wrong: str) -> None:
    told = EnterLate((PlacedPieces("waiting", 22, 10),), bench.clock().at + off)
    assert wrong in bench.refused(told, "LL").wrong


@pytest.mark.parametrize(
    ("row", "wrong"),
    [
        (PlacedPieces("load", 5, 10, 1), "5 pieces: Pallet 1 holds 4"),
        (PlacedPieces("load", 4, 10, 9), "the number of the Pallet must be a whole number from 1 to 3, not 9"),
        (PlacedPieces("load", 4, 20, 1, stands="runs"), "op 20 Coat has no cycle"),
        (PlacedPieces("load", 1, 10, 1, places=("Z9",)), "Pallet has no place Z9"),
        (PlacedPieces("load", 2, 10, 1, places=("A1",)), "1 place named for 2 pieces"),
        (PlacedPieces("load", 2, 10, 1, places=("A1", "a1 ")), "a place is named twice"),
        (PlacedPieces("load", 4, 10, 1, stands="stopped"), "it waits, runs or is over"),
        (PlacedPieces("load", 4, 30, 1, rework="touch up", found=20), "Scrape and coat again goes from op 20 to"),
        (PlacedPieces("load", 4, 20, 1, rework="touch up", found=21), "Scrape and coat again goes from op 20 to"),
        (PlacedPieces("load", 4, 30, 1), "recoat: no time entered"),
        (PlacedPieces("waiting", 4, 11), "there is no op 11 in the route"),
        (
            PlacedPieces("waiting", 4, 30, rework="touch up", found=30),
            "loose pieces wait for Scrape and coat again at op 20",
        ),
        (PlacedPieces("waiting", 4, 20, rework="touch up", found=10), "Scrape and coat again goes from op 20 to"),
        (PlacedPieces("scrap", 1, 10), "a piece that is not good needs a reason"),
    ],
)
def test_a_row_that_cannot_be_is_refused(bench: Bench, row: PlacedPieces, wrong: str) -> None:
    rows = (row, PlacedPieces("waiting", 22 - row.count, 10))

    assert wrong in bench.refused(EnterLate(rows, bench.clock().at), "LL").wrong


def test_no_carrier_and_no_station_is_told_twice(bench: Bench) -> None:
    twice = (PlacedPieces("load", 4, 10, 1), PlacedPieces("waiting", 14, 10), PlacedPieces("load", 4, 20, 1))
    assert bench.refused(EnterLate(twice, bench.clock().at), "LL").wrong == "Pallet 1 is entered twice"
    both = tuple(PlacedPieces("load", 4, 10, n, stands="runs", began=ago(bench, 1)) for n in (1, 2))
    refused = bench.refused(EnterLate((*both, PlacedPieces("waiting", 14, 10)), bench.clock().at), "LL")
    assert refused.wrong == "Mill takes 1 at once; entered: Pallet 1, Pallet 2"


def test_what_another_batch_has_is_not_told_of_this_one(bench: Bench) -> None:
    """Its carrier, and its place on the station."""
    bench.elsewhere = OtherBatches({"mill": ("Pallet 3 (load 1) of B0002",)}, {("pallet", 1): "B0002"})
    waits, runs = PlacedPieces("load", 4, 10, 1), PlacedPieces("load", 4, 10, 2, stands="runs", began=ago(bench, 1))

    taken = bench.refused(EnterLate((waits, PlacedPieces("waiting", 18, 10)), bench.clock().at), "LL")
    assert (taken.why, taken.wrong) == ("busy", "Pallet 1 holds a load of B0002")
    full = bench.refused(EnterLate((runs, PlacedPieces("waiting", 18, 10)), bench.clock().at), "LL")
    assert full.wrong == "Mill takes 1 at once; entered: Pallet 2, Pallet 3 (load 1) of B0002"
    enter(bench, dataclasses.replace(waits, number=2))


def test_a_row_is_looked_at_as_it_is_entered(bench: Bench) -> None:
    bench.elsewhere = OtherBatches(carriers={("pallet", 1): "B0002"})
    context = bench.context("", "LL")
    for row, wrong in [
        (PlacedPieces("load", 5, 10, 2), "5 pieces: Pallet 2 holds 4"),
        (PlacedPieces("load", 4, 10, 1), "Pallet 1 holds a load of B0002"),
        (PlacedPieces("load", 4, 10, 2), None),
    ]:
        fault = find_row_fault(bench.state, row, bench.clock().at, context)
        assert (fault and fault.wrong) == wrong


def test_one_station_is_not_set_up_for_two_operations() -> None:
    """There is room for two pallets on the bed, but not for two programs, nor for proofs of another set-up."""
    bench = open_bench(two_up, start=22)
    bench.clock.forward(7200)
    groove = PlacedPieces("load", 4, 10, 1, stands="runs", began=ago(bench, 1))
    free = dataclasses.replace(groove, op=30, number=2, clocks=(("recoat", ago(bench, 14)),))
    read = PaperProof(10, "program loaded 1", {"program": "KB7-10 A"}, "AA", ago(bench, 1))

    both = EnterLate((groove, free, PlacedPieces("waiting", 14, 10)), bench.clock().at)
    assert bench.refused(both, "LL").wrong == "Mill cannot be set up for op 10 and op 30 at once"
    other = EnterLate((free, PlacedPieces("waiting", 18, 10)), bench.clock().at, (read,))
    assert bench.refused(other, "LL").wrong == "Mill cannot be set up for op 30 and op 10 at once"
    enter(bench, groove, shown=(read,))
    assert bench.line(1, "program loaded 1").state == "done"


def test_a_set_up_that_is_told_stands_for_the_first_load_to_come(bench: Bench) -> None:
    enter(bench, shown=(PaperProof(10, "program loaded 1", {"program": "KB7-10 A"}, "AA", ago(bench, 1)),))
    load = bench.form(10)
    bench.begin(load)
    assert bench.line(load, "program loaded 1").state == "done"


@pytest.mark.parametrize("back", [False, True])
def test_started_pieces_cannot_be_entered_over(bench: Bench, back: bool) -> None:
    """Pieces that are out of work already; or that were on a carrier once, and wait again."""
    if back:
        bench.say(SetPiecesAside("hold", "dropped?", load=bench.form(10), count=4, off=True))
        bench.say(Dispose(tuple(bench.state.held()), "use as is", "not a scratch"), "LL")
        assert len(bench.state.waiting(10)) == 22
    else:
        bench.say(SetPiecesAside("scrap", "bent bar", op=10, count=4))
    told = EnterLate((PlacedPieces("waiting", 22, 10),), bench.clock().at)
    assert bench.refused(told, "LL").wrong == "work on B0001 is already on record"


def test_a_lead_enters_it_and_only_what_is_not_on_record_yet(bench: Bench) -> None:
    told = EnterLate((PlacedPieces("waiting", 22, 10),), bench.clock().at)

    assert bench.refused(told, "AA").why == "authority"
    bench.say(told, "LL")
    assert bench.refused(told, "LL").wrong == "work on B0001 is already on record"


def test_it_is_struck_out_as_one(bench: Bench) -> None:
    entry = enter(bench, *typical(bench))

    bench.say(StrikeOut(entry.seq, "counted wrong"), "LL")

    assert bench.where() == {"waiting": 22}
    assert bench.state.late is None
    enter(bench, *typical(bench))


def test_a_rework_that_is_told_is_one_of_its_passes_and_known_by_where_it_was_found(bench: Bench) -> None:
    loose = PlacedPieces("waiting", 1, 20, rework="touch up", found=30)
    enter(bench, loose, PlacedPieces("load", 2, 20, 1, rework="touch up", found=50))
    assert [bench.state.passes[piece, "touch up"] for piece in (1, 2, 3, 4)] == [1, 1, 1, 0]
    assert bench.state.found == {1: 30, 2: 50, 3: 50}


@pytest.mark.parametrize("hours", [0.25, None])
def test_a_clock_of_the_batch_runs_from_the_told_end_or_from_the_entry_where_nobody_knows(hours: float | None) -> None:
    once = ('{ id = "cooling", starts = "end"', '{ id = "cooling", starts = "end", per = "batch"')
    bench = open_bench(lambda: edited(once), start=5)
    bench.clock.forward(7200)
    ended = None if hours is None else ago(bench, hours)
    enter(bench, PlacedPieces("load", 5, 40, 1, stands="over", began=ago(bench, 2), ended=ended), second="BB")
    assert bench.state.batch_clocks["cooling"][0] == (ended or bench.clock().at)
    assert "cooling" not in bench.state.piece_clocks


# --- the law of time -----------------------------------------------------------------------------------------------


def ripe(bench: Bench, clock: str = "cure") -> tuple[str, datetime | None]:
    """State of a clock's gate for load 1, and until when."""
    run = bench.begin(1)
    key = next(key for key, step in bench.state.operation(run.op).numbered_steps if getattr(step, "clock", "") == clock)
    verdict = bench.line(1, key).verdict
    assert verdict is not None
    return verdict.status, verdict.when


def test_a_told_cure_counts_from_the_entry_and_with_a_second_from_its_time(bench: Bench) -> None:
    """12 h of cure, entered as started 5 h ago."""
    enter(bench, curing(bench, 5))
    assert ripe(bench) == ("wait", bench.clock().at + 12 * HOUR)


def test_with_a_second_who_saw_the_papers_it_counts_from_the_told_time(bench: Bench) -> None:
    entry = enter(bench, curing(bench, 5), second="BB")
    assert ripe(bench) == ("wait", bench.clock().at + 7 * HOUR)
    assert "BB saw the papers" in describe(bench.state, entry)


@pytest.mark.parametrize(("hours", "second", "status"), [(0.5, "", "met"), (2, "", "wait"), (2, "BB", "wait"),
                                                         (None, "", "wait")])  # fmt: skip
def test_a_window_that_closes_counts_from_the_told_time_in_any_case(
    bench: Bench, hours: float | None, second: str, status: str
) -> None:
    """Recoat within 1 h, or after 48 h: loose pieces that are cut free and wait for the oven."""
    since = None if hours is None else ago(bench, hours)
    enter(bench, PlacedPieces("waiting", 6, 40, clocks=(("recoat", since),)), second=second)
    bench.form(40)
    assert ripe(bench, "recoat")[0] == status


def test_an_unknown_clock_counts_from_the_entry_and_needs_no_waiver(bench: Bench) -> None:
    enter(bench, curing(bench, None), second="BB")
    assert ripe(bench) == ("wait", bench.clock().at + 12 * HOUR)
    bench.clock.forward(12 * 3600)
    assert bench.line(1, "cured 1").state == "done"


def test_a_clock_restarted_afterward_counts_like_any_other(bench: Bench) -> None:
    """What was entered about the first coat no longer matters after the second."""
    enter(bench, PlacedPieces("load", 4, 20, 1, rework="touch up", found=30), second="")
    bench.through(1, 20)
    coated = bench.state.piece_clocks["recoat"][1][0]
    assert ripe(bench) == ("wait", coated + 12 * HOUR)
    assert not bench.state.late or not bench.state.late.claimed.get("recoat", {}).get(1)


@settings(max_examples=40, deadline=None)
@given(told=st.floats(0, 100), wait=st.integers(0, 30 * 3600))
def test_on_one_persons_word_no_told_cure_is_ever_shorter_than_from_the_entry(told: float, wait: int) -> None:
    bench = open_bench(start=4)
    bench.clock.forward(7200)
    enter(bench, curing(bench, told))
    bench.clock.forward(wait)

    assert (ripe(bench)[0] == "met") == (wait >= 12 * 3600)


# --- what is known and what is not ---------------------------------------------------------------------------------


def cutting(bench: Bench) -> PlacedPieces:
    return PlacedPieces("load", 4, 10, 1, stands="runs", began=ago(bench, 0.2))


def test_what_was_proved_stands_and_what_was_not_told_is_not_known(bench: Bench) -> None:
    probed = PaperProof(10, "probed 1", {"X": 0, "Z": 0.05}, "AA", ago(bench, 0.4), 1)
    tool = PaperProof(10, "tool loaded 1", {"tool": 1, "length": 80.5}, "BB", ago(bench, 1))
    lot = PaperProof(10, "lot recorded 1", {"lot": "H-77"}, "BB", ago(bench, 1.5))
    enter(bench, cutting(bench), shown=(probed, tool, lot))

    states = {line.key: (line.state, line.evidence) for line in bench.walk(1).lines}
    assert states["probed 1"] == ("done", "X 0 mm, Z 0.05 mm · AA 08:36")
    assert states["tool loaded 1"][1].startswith("tool 1, length 80.5 · BB 08:00")
    assert states["lot recorded 1"] == ("done", "H-77")
    assert states["confirmed 1"] == states["tool loaded 2"] == ("not known", "entered late by LL")
    assert states["start"] == ("done", "08:48, entered late by LL")
    assert bench.current(1).key == "cycle step 1"
    assert bench.state.tools["mill", 1].length == 80.5


def test_a_lot_by_the_papers_is_that_of_the_pieces_already_through_its_operation(bench: Bench) -> None:
    """REC-09: they were made of it, yet their trace said that nothing was known."""
    lot = PaperProof(10, "lot recorded 1", {"lot": "H-77"}, "BB", ago(bench, 1.5))
    enter(bench, curing(bench, 5), PlacedPieces("waiting", 5, 20), shown=(lot,))

    def trace_of(piece: int) -> str:
        return " ".join(write_trace(bench.state, piece, bench.clock(), "0" * 64).split())

    waits = next(piece for piece, place in bench.state.places.items() if (place.where, place.op) == ("waiting", 10))
    said = "By the papers: bar stock H-77 at op 10"
    through = [piece for piece, place in bench.state.places.items() if place.op != 10]
    assert len(through) == 9
    assert all(said in trace_of(piece) for piece in through)
    assert said not in trace_of(waits)
    assert "bar stock: lot H-77, in 9 pieces" in " ".join(write_close_out(bench.state, bench.clock(), "0" * 64).split())


def test_what_is_not_known_is_asked_of_the_next_load_and_what_stands_is_not(bench: Bench) -> None:
    tool = PaperProof(10, "tool loaded 1", {"tool": 1, "length": 80.5}, "BB", ago(bench, 1))
    enter(bench, cutting(bench), shown=(tool,))
    bench.through(1, 10)
    two = bench.form(10)
    bench.begin(two)

    assert bench.line(two, "tool loaded 1").state == "done"
    assert bench.line(two, "tool loaded 2").state == "ahead"
    assert bench.current(two).key == "lot recorded 1"


def test_a_proof_that_is_not_known_is_asked_for_when_the_power_was_lost(bench: Bench) -> None:
    """Nobody knows whether it was probed; after a power loss that is no longer good enough."""
    enter(bench, cutting(bench))
    bench.say(Disturb("mill", "power lost"))

    assert {"probed 1", "program loaded 1"} <= {line.key for line in bench.walk(1).lines if not line.is_satisfied}


def test_lifting_the_carrier_voids_a_told_probing_as_any_other(bench: Bench) -> None:
    enter(bench, cutting(bench), shown=(PaperProof(10, "probed 1", {"X": 0, "Z": 0}, "AA", ago(bench, 0.4), 1),))
    bench.say(Disturb("mill", "lifted", load=1))

    assert bench.line(1, "probed 1").state in ("now", "reopened", "ahead")


@pytest.mark.parametrize(
    ("shown", "wrong"),
    [
        (PaperProof(10, "probed 1", {"X": 0, "Z": 0}, "AA", NEVER, 2), "no load is entered at op"),
        (PaperProof(10, "probed 1", {"X": "far", "Z": 0}, "AA", NEVER, 1), "far is not a number"),
        (PaperProof(10, "nothing 1", {}, "AA", NEVER, 1), 'op 10 has no gate "nothing 1"'),
        (PaperProof(10, "tool loaded 1", {"tool": 1, "length": 8}, "ZZ", NEVER), "ZZ is not in the people list"),
        (PaperProof(30, "cured 1", {}, "AA", NEVER, 1), 'op 30 has no gate "cured 1" to prove'),
        (PaperProof(10, "load step 1", {}, "AA", NEVER, 1), 'op 10 has no gate "load step 1" to prove'),
        (PaperProof(11, "probed 1", {"X": 0, "Z": 0}, "AA", NEVER, 1), 'op 11 has no gate "probed 1"'),
        (PaperProof(10, "signed 1", {"person": "ZZ"}, "AA", NEVER), "ZZ is not in the people list"),
        (
            PaperProof(20, "lot recorded 1", {"lot": "L1", "use_by": "2026-03-01"}, "AA", NEVER),
            "use-by date 2026-03-01 had",
        ),
        (
            PaperProof(20, "counted 1", {"pieces": 4}, "AA", NEVER, 1),
            "no load is entered at op 20 that it could be for",
        ),
    ],
)
def test_a_proof_that_cannot_stand_is_refused(bench: Bench, shown: PaperProof, wrong: str) -> None:
    shown = dataclasses.replace(shown, at=ago(bench, 1))
    told = EnterLate((cutting(bench), PlacedPieces("waiting", 18, 10)), bench.clock().at, (shown,))

    assert wrong in bench.refused(told, "LL").wrong


def test_what_is_proved_in_a_run_is_not_told_of_a_load_that_waits(bench: Bench) -> None:
    sits = PaperProof(10, "confirmed 1", {}, "AA", ago(bench, 1), 1)
    told = EnterLate((PlacedPieces("load", 4, 10, 1), PlacedPieces("waiting", 18, 10)), bench.clock().at, (sits,))
    assert "no load is entered at op 10 that it could be for" in bench.refused(told, "LL").wrong


def test_a_lot_that_was_good_on_the_day_is_told(bench: Bench) -> None:
    enter(bench, shown=(PaperProof(20, "lot recorded 1", {"lot": "L1", "use_by": "2026-03-02"}, "AA", ago(bench, 1)),))
    assert bench.state.lots["lacquer"].lot == "L1"


def test_nothing_was_proved_later_than_the_time_for_which_it_is_told(bench: Bench) -> None:
    late = PaperProof(10, "tool loaded 1", {"tool": 1, "length": 80.5}, "BB", ago(bench, 0.5))
    told = EnterLate((PlacedPieces("waiting", 22, 10),), ago(bench, 1), (late,))
    assert "08:30 is later than 08:00" in bench.refused(told, "LL").wrong


def test_a_told_tool_is_as_worn_as_another_batch_knows_it(bench: Bench) -> None:
    bench.elsewhere = OtherBatches(worn={("mill", 1): 1200.0})
    enter(bench, shown=(PaperProof(10, "tool loaded 1", {"tool": 1, "length": 80.5}, "BB", ago(bench, 1)),))
    assert bench.state.tools["mill", 1].used == 1200.0


def test_a_cycle_told_to_be_over_wore_its_tool_and_began_what_its_end_begins(bench: Bench) -> None:
    enter(
        bench,
        PlacedPieces("load", 4, 10, 1, stands="over", began=ago(bench, 1), ended=ago(bench, 0.5)),
        PlacedPieces("load", 5, 40, 1, stands="over", began=ago(bench, 2), ended=ago(bench, 0.5)),
        second="BB",
    )
    run = bench.run_of(1)
    assert (run.started, run.ended) == (ago(bench, 1), ago(bench, 0.5))
    assert bench.state.tools["mill", 1].used == 4 * 300.0
    bench.through(2)
    tote = bench.form(50)
    bench.begin(tote)
    assert bench.line(tote, "cured 1").state == "done", "half an hour of cooling went by before it was entered"


# --- what is counted -----------------------------------------------------------------------------------------------


def test_a_loss_on_a_load_that_was_under_way_has_its_place(bench: Bench) -> None:
    enter(bench, PlacedPieces("load", 4, 10, 1))
    bench.say(SetPiecesAside("scrap", "dropped", load=1, positions=("B1",), off=True))
    assert [(loss.found, loss.position) for loss in count_losses(bench.state)] == [(10, "B1")]


def test_the_losses_before_enter_the_yields_and_the_close_out(bench: Bench) -> None:
    """22 at op 10: 5 not there yet, 2 lost; of the 15 past it, 7 on the pallets, 8 counted at op 30."""
    enter(bench, *typical(bench))

    made = {one.op: (one.produced, one.good, one.scrap, one.rework, one.hold) for one in list_op_outcomes(bench.state)}
    assert made == {
        10: (17, 15, 2, 0, 0), 20: (15, 15, 0, 0, 0), 30: (8, 6, 0, 1, 1), 40: (1, 1, 0, 0, 0), 50: (1, 1, 0, 0, 0),
    }  # fmt: skip
    assert {(loss.to, loss.found, loss.reason): many for loss, many in count_losses(bench.state).items()} == {
        ("scrap", 10, "deep"): 2, ("rework", 30, "bare"): 1, ("hold", 30, "soft"): 1,
    }  # fmt: skip
    known = count_yields(bench.state)
    assert [(one.good, one.scrap) for one in known] == [(15, 2), (15, 0), (6, 0), (1, 0), (1, 0)]
    assert collect_forecast_inputs(bench.state, bench.clock()).finished == 1


def test_a_held_piece_used_as_it_is_goes_on_after_the_operation_that_found_it(bench: Bench) -> None:
    enter(bench, PlacedPieces("hold", 1, 30, reason="soft"))

    bench.say(Dispose((1,), "use as is", "hard by now"), "LL")

    place = bench.state.places[1]
    assert (place.where, place.op) == ("waiting", 40)


def test_a_piece_tells_that_it_was_entered_late(bench: Bench) -> None:
    enter(bench, *typical(bench))
    lines = [line.text for section in build_handover_page(bench.state, bench.clock()) for line in section.lines]

    assert any("LL: entered late, as of Mon 09:00" in line for line in lines)
    assert trace(bench.state, 1).stays == ()
    late = bench.state.late
    assert late is not None
    row = late.find_row(1)
    assert row is not None
    assert format_placed_pieces(part(), row, bench.clock().at) == (
        "Pallet 1: 4 pieces, op 30, waiting; recoat since 04:00; cure since 04:00"
    )


# --- any state -----------------------------------------------------------------------------------------------------


@st.composite
def told(draw: st.DrawFn, now: datetime) -> PlacedPieces:
    """A row that is mostly right, sometimes wrong."""
    what = draw(st.sampled_from(["load", "load", "waiting", "hold", "scrap", "finished", "rework"]))
    count = draw(st.integers(1, 4))
    op = draw(st.sampled_from([10, 20, 30, 40, 50]))
    when = st.none() | st.floats(0, 80).map(lambda hours: now - hours * HOUR)
    if what == "rework":
        row = PlacedPieces("waiting", count, 20, rework="touch up", found=draw(st.sampled_from([20, 30, 50])))
    elif what == "load":
        stands = draw(st.sampled_from(["waits", "waits", "runs", "over"]))
        number = draw(st.integers(1, 3))
        row = PlacedPieces("load", count, op, number, stands=stands, began=draw(when), ended=draw(when))
    else:
        reasons = [reason.code for reason in part().ops[op].reasons] + ["not found"]
        row = PlacedPieces(what, count, op, reason=draw(st.sampled_from(reasons)))  # type: ignore[arg-type]
    clocks = tuple((clock.id, draw(when)) for clock in list_clocks_to_enter(part(), row))
    return dataclasses.replace(row, clocks=clocks)


def finish(bench: Bench) -> None:
    """Work everything left to the close of the batch: a lead waives what no gate passes, or it is scrapped."""
    for _ in range(400):
        batch = bench.state
        if batch.held():
            bench.say(
                Dispose(tuple(batch.held()), "use as is", "looked at it", "", True, VANCE),
                "LL",
            )
        elif loads := sorted(batch.list_live_loads(), key=lambda load: load.run is None):  # what holds a station first
            _push(bench, loads[0].number)
        elif pools := batch.list_waiting_pools():
            bench.form(pools[-1][0], rework=pools[-1][1])
        else:
            for waiver in batch.list_open_waivers():
                bench.say(CloseWaiver(waiver.seq, "looked at it"), "LL")
            bench.say(CloseBatch("half done when it was entered"), "LL")
            return
    raise AssertionError("the batch does not come to its end")


def _push(bench: Bench, load: int) -> None:
    if bench.hand().work(load):
        return
    line, run = bench.current(load), bench.run_of(load)
    assert line.verdict is not None
    assert isinstance(line.step, Cured), f"only a window may be closed for good: {line}"
    try:
        bench.say(Waive(run.number, line.key, "nobody knows since when", "BB"), "LL")
    except Refused:
        bench.say(SetPiecesAside("scrap", "too late", load=load, count=len(run.pieces)))


@settings(max_examples=15, deadline=None, phases=[Phase.explicit, Phase.reuse, Phase.generate])
@given(st.data())
def test_any_state_that_is_accepted_conserves_folds_and_can_be_worked_to_its_close(data: st.DataObject) -> None:
    bench = open_bench(start=data.draw(st.integers(3, 10)), order=1)
    bench.clock.forward(4 * 86400)
    now = bench.clock().at
    rows: list[PlacedPieces] = []
    for row in data.draw(st.lists(told(now), min_size=1, max_size=5)):
        attempt = EnterLate((*rows, row, PlacedPieces("waiting", 22, 10)), now)
        try:
            attempt.decide(bench.state, bench.context("", "LL"))
        except Refused as refused:
            if refused.why == "count" and "too many" in refused.wrong and sum(
                one.count for one in (*rows, row)
            ) < bench.state.started:  # fmt: skip
                rows.append(row)
    assume(rows)

    enter(bench, *rows, second=data.draw(st.sampled_from(["", "BB"])))

    conserved(bench.state)
    text = json.dumps([dataclasses.asdict(entry) for entry in bench.state.entries])
    assert fold([Entry(**one) for one in json.loads(text)]) == bench.state
    produced = list_op_outcomes(bench.state)
    assert sum(one.scrap for one in produced) == bench.state.total("scrap")
    finish(bench)
    conserved(bench.state)
    batch: Any = bench.state
    assert batch.closed is not None
    assert batch.total("finished") + batch.total("scrap") == batch.started
    assert batch == fold(batch.entries)


def test_papers_say_what_was_entered_late(bench: Bench) -> None:
    lot = PaperProof(10, "lot recorded 1", {"lot": "H-77"}, "BB", ago(bench, 1.5))
    enter(bench, *typical(bench), shown=(lot,))

    report = " ".join(write_close_out(bench.state, bench.clock(), "").split())
    head = "entered late by LL 09:00; as of 09:00. What was done before is known only as far as it was entered"
    assert head in report
    assert "op 10 Record the lot of bar stock: H-77 · BB 07:30" in report
    way = " ".join(write_trace(bench.state, 1, bench.clock(), "").split())
    assert "Entered late by LL 09:00; as of 09:00: Pallet 1: 4 pieces, op 30" in way
    assert "By the papers: bar stock H-77 at op 10. What else it went through before is not on record." in way


def test_a_clock_stated_of_a_wait_that_is_over_is_kept_and_shown() -> None:
    """Nothing that somebody typed of the papers is dropped unseen, even if it decides nothing any more."""
    bench = open_bench(start=4)
    now = bench.clock().at
    row = PlacedPieces(
        "load",
        4,
        30,
        1,
        stands="runs",
        began=now - timedelta(minutes=5),
        clocks=(("cure", now - timedelta(hours=1)), ("recoat", None)),
    )
    bench.say(EnterLate((row,), now), "LL")
    assert bench.state.late is not None
    assert dict(bench.state.late.rows[0].clocks)["cure"] == now - timedelta(hours=1)
    line = bench.line(1, "cured 1")
    assert line.state == "not known"
    assert "; cure since" in line.evidence
