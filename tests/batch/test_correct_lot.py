"""A lot recorded wrong is corrected to the right one, and one struck out alone is missed in every paper.

That records trace material to pieces, and that a corrected entry keeps what was written first, is asked by quality
systems everywhere (REC-09; 21 CFR 11.10(e), from memory); the rest is common practice, no source.
"""

from __future__ import annotations

from functools import partial

import pytest

from floor.batch.corrections.commands import SettleUnproved, StrikeOut
from floor.batch.corrections.unproved_work import find_open_unproved_work
from floor.batch.describe import describe
from floor.batch.fold import fold
from floor.batch.gates.commands import Prove
from floor.batch.gates.correct_lot import CorrectLot
from floor.batch.gates.open_lot import OpenLot, list_runs_of_lot
from floor.batch.gates.value_slips import find_lot_slip
from floor.batch.lifecycle.commands import CloseBatch, open_points
from floor.batch.search.history_filter import Filter
from floor.batch.search.matching import find_matching_entries
from floor.batch.search.recorded_lots import list_recorded_lots
from floor.checklist.gates import LotRecorded
from floor.papers.closeout import write_close_out
from floor.papers.first_article import write_first_article
from floor.papers.trace import format_trace
from floor.papers.traveler import write_traveler
from tests.batch.factory import Bench, edited, open_bench
from tests.batch.test_lots import BAR, FIRST, LACQUER, begun_with, lots, per, prove

DAY, LATER = "2027-01-31", "2027-03-31"
LINE = "lot recorded 1"


def entry_of(bench: Bench, lot: str) -> int:
    """The entry that recorded this lot."""
    return next(
        entry.seq
        for entry in bench.state.entries
        if lot in (entry.body.get("values", {}).get("lot") if entry.kind == "proved" else None, entry.body.get("lot"))
    )


def lacquered(*loads_lots: str, scope: str = "load") -> tuple[Bench, list[int]]:
    """Loads through op 20, each with its lot of lacquer."""
    bench, loads = open_bench(per(scope), start=4 * len(loads_lots)), []
    for lot in loads_lots:
        load = bench.form(10)
        bench.through(load, 10)
        prove(bench, load, lot)
        bench.through(load, 20)
        loads.append(load)
    return bench, loads


def trace_of(bench: Bench, load: int) -> str:
    return " ".join(" ".join(format_trace(bench.state, bench.state.loads[load].pieces[0], bench.clock())).split())


def closeout(bench: Bench) -> str:
    return " ".join(write_close_out(bench.state, bench.clock(), "0" * 64).split())


def test_the_lot_of_one_load_is_corrected_for_its_pieces_alone() -> None:
    bench, (first, second) = lacquered("E-200", "E-200")
    bench.say(CorrectLot(entry_of(bench, "E-200"), "E-201", LATER, "read the can again"))

    assert (lots(bench, first), lots(bench, second)) == (["E-201"], ["E-200"])
    said = "lacquer E-201 (entered as E-200, corrected by AA: read the can again)"
    assert said in trace_of(bench, first)
    assert "E-201" not in trace_of(bench, second)
    assert "lacquer: lot E-201, in 4 pieces" in closeout(bench)
    assert "lacquer: lot E-201 entered as E-200, corrected by AA: read the can again" in closeout(bench)
    assert sorted(list_recorded_lots(bench.state))[-2:] == [("lacquer", "E-200"), ("lacquer", "E-201")]
    assert not find_open_unproved_work(bench.state)


def test_what_was_entered_first_stays_readable_and_both_are_found() -> None:
    bench, _ = lacquered("E-200")
    seq = entry_of(bench, "E-200")
    bench.say(CorrectLot(seq, "E-201", LATER, "typed wrong"))

    entry = bench.state.entries[seq - 1]
    assert entry.body["values"]["lot"] == "E-200"
    assert "E-201" in describe(bench.state, entry)
    assert "entered as E-200, corrected by AA: typed wrong" in describe(bench.state, entry)
    assert "E-201, use by 2027-03-31, was E-200: typed wrong" in describe(bench.state, bench.state.entries[-1])
    for lot in ("E-200", "E-201"):
        assert {seq, bench.state.seq} <= {one.seq for one in find_matching_entries(bench.state, Filter(says=lot))}
        assert bench.state.seq in {one.seq for one in find_matching_entries(bench.state, Filter(words=lot))}
    assert bench.state.seq in {one.seq for one in find_matching_entries(bench.state, Filter(load=1, op=20))}


def test_the_state_is_as_if_the_right_one_had_been_recorded() -> None:
    bench, loads = lacquered("E-200")
    right, _ = lacquered("E-201")
    seq = entry_of(bench, "E-200")
    bench.say(CorrectLot(seq, "E-201", DAY, "typed wrong"))

    assert bench.state.runs == right.state.runs
    assert bench.state.lots == right.state.lots
    assert bench.state == fold(bench.state.entries)
    bench.say(StrikeOut(bench.state.seq, "it was right"))
    assert lots(bench, loads[0]) == ["E-200"], "a correction is taken back like any entry"


def test_one_of_the_batch_is_corrected_for_all_that_had_it() -> None:
    bench = open_bench(start=12)
    first, second, third = bench.form(10), bench.form(10), bench.form(10)
    for load in (first, second, third):
        bench.through(load, 10)
    bench.through(first, 20)
    bench.through(second, 20)
    bench.say(OpenLot("lacquer", "E-300", DAY))
    bench.through(third, 20)
    seq = bench.state.lot_entries["lacquer"][0]
    loads = [run.load for run in list_runs_of_lot(bench.state, bench.state.entries[seq - 1])]
    bench.say(CorrectLot(seq, "E-201", LATER, "typed wrong"), by="LL")

    assert loads == [first, second]
    assert [lots(bench, load) for load in (first, second, third)] == [["E-201"], ["E-201"], ["E-300"]]
    assert bench.state.lots["lacquer"].lot == "E-300"
    bench.say(CorrectLot(entry_of(bench, "E-300"), "E-301", DAY, "typed wrong"), by="LL")
    assert [lots(bench, load) for load in (first, second, third)] == [["E-201"], ["E-201"], ["E-301"]]
    assert "E-200" not in trace_of(bench, third)


def test_a_bar_of_the_set_up_is_corrected_for_the_loads_of_it() -> None:
    bench = open_bench(per("setup"))
    first, second = bench.form(10), bench.form(10)
    for load in (first, second):
        bench.through(load, 10)
    prove(bench, first, "F-1")
    bench.through(first, 20)
    bench.through(second, 20)
    bench.say(CorrectLot(entry_of(bench, "F-1"), "F-2", DAY, "typed wrong"))

    assert (lots(bench, first), lots(bench, second)) == (["F-2"], ["F-2"])
    assert "entered as F-1" in trace_of(bench, second)


def test_a_run_under_way_goes_on_by_the_right_one_and_its_traveler_says_so() -> None:
    bench = open_bench(per("load"))
    load = bench.form(10)
    bench.through(load, 10)
    prove(bench, load, "E-200")
    bench.say(CorrectLot(entry_of(bench, "E-200"), "E-201", LATER, "typed wrong"))

    line = bench.line(load, LINE)
    assert (line.state, line.evidence) == ("done", f"E-201, use by {LATER}; entered as E-200, corrected by AA")
    assert "E-201" in write_traveler(bench.state, load, bench.clock(), "0" * 64)
    bench.through(load, 20)
    assert lots(bench, load) == ["E-201"]


def test_who_recorded_it_or_a_lead_corrects_it_and_twice_a_lead_only() -> None:
    bench, (load,) = lacquered("E-200")
    seq = entry_of(bench, "E-200")
    right = CorrectLot(seq, "E-201", LATER, "typed wrong")
    assert "needs a lead" in bench.refused(right, by="BB").wrong
    bench.say(right)
    twice = CorrectLot(seq, "E-202", LATER, "typed wrong again")
    assert "correcting a lot twice needs a lead" in bench.refused(twice).wrong
    bench.say(twice, by="LL")

    assert lots(bench, load) == ["E-202"]
    assert "entered as E-200, corrected by LL: typed wrong again" in trace_of(bench, load)


@pytest.mark.parametrize(("wish", "field"), [
    (("", LATER, "why"), "lot"), (("n/a", LATER, "why"), "lot"),
    (("E-200", DAY, "why"), "lot"), (("E-201", "soon", "why"), "use_by"),
    (("E-201", "", "why"), "use_by"), (("E-201", "2025-01-31", "why"), "use_by"),
    (("E-201", "2127-01-31", "why"), "use_by"), (("E-201", LATER, " "), "why"),
])  # fmt: skip
def test_what_cannot_be_is_refused_at_its_field(wish: tuple[str, str, str], field: str) -> None:
    bench, _ = lacquered("E-200")
    assert bench.refused(CorrectLot(entry_of(bench, "E-200"), *wish)).field == field


def test_one_past_its_date_when_it_was_used_is_refused_and_stays_on_record_as_an_attempt() -> None:
    """A correction would make it look good: a lead decides on its pieces."""
    bench, _ = lacquered("E-200")
    refused = bench.refused(CorrectLot(entry_of(bench, "E-200"), "E-190", "2025-01-31", "read the can"))
    assert (refused.why, refused.attempt is not None) == ("gate", True)
    assert "a lead holds what was made with it" in refused.remedy


def test_a_lot_is_kept_without_what_was_typed_around_it() -> None:
    bench, _ = lacquered("E-200")
    made = bench.say(CorrectLot(entry_of(bench, "E-200"), " E-201\t", f" {LATER} ", "typed wrong"))[0]
    assert (made.body["lot"], made.body["use_by"]) == ("E-201", LATER)


def test_what_records_no_lot_is_refused() -> None:
    bench, _ = lacquered("E-200")
    assert bench.refused(CorrectLot(2, "E-201", LATER, "why")).why == "unknown"
    assert bench.refused(CorrectLot(9999, "E-201", LATER, "why")).why == "unknown"


def test_a_lot_struck_out_alone_is_missed_in_every_paper_and_stays_open() -> None:
    bench, (first, second) = lacquered("E-200", "E-210")
    struck = bench.say(StrikeOut(entry_of(bench, "E-200"), "lot was E-201"))[0]

    said = "no lot on record (E-200 struck out by AA: lot was E-201; OPEN)"
    assert f"lacquer: {said}" in trace_of(bench, first)
    assert "no lot on record" not in trace_of(bench, second)
    assert f"lacquer: {said}, in 4 pieces" in closeout(bench)
    assert said in " ".join(write_traveler(bench.state, first, bench.clock(), "0" * 64).split())
    assert [one.strike for one in find_open_unproved_work(bench.state)] == [struck.seq]
    assert any(point.kind == "unproved" for point in open_points(bench.state))
    assert bench.refused(CloseBatch(), by="LL")

    bench.say(SettleUnproved(struck.seq, "use as is", "the customer agrees"), by="LL")
    assert "lot was E-201; use as is · LL: the customer agrees)" in trace_of(bench, first)
    assert "use as is · LL: the customer agrees), in 4 pieces" in closeout(bench)


def test_an_earlier_lot_of_the_batch_is_not_taken_for_the_one_struck_out() -> None:
    bench = open_bench(start=8)
    first, second = bench.form(10), bench.form(10)
    bench.through(first, 10, 20)
    bench.through(second, 10)
    bench.say(OpenLot("lacquer", "E-300", DAY))
    bench.through(second, 20)
    bench.say(StrikeOut(entry_of(bench, "E-300"), "another can"))

    old = bench.state.lots["lacquer"].lot
    assert "lacquer: no lot on record (E-300 struck out by AA: another can; OPEN)" in trace_of(bench, second)
    assert f"lacquer {old}" not in trace_of(bench, second)
    assert f"lacquer: lot {old}, in 4 pieces" in closeout(bench)


def test_the_lead_asked_after_a_strike_enters_the_lot_not_words() -> None:
    bench, (load,) = lacquered("E-200")
    seq = entry_of(bench, "E-200")
    struck = bench.say(StrikeOut(seq, "lot was E-201"))[0]
    words = SettleUnproved(struck.seq, "proved afterwards", "lot E-201 on the can")
    assert f"enter the right lot of entry {seq}" in bench.refused(words, by="LL").remedy

    bench.say(CorrectLot(seq, "E-201", LATER, "E-201 on the can"), by="LL")
    assert lots(bench, load) == ["E-201"]
    assert "lacquer E-201 (entered as E-200, corrected by LL: E-201 on the can)" in trace_of(bench, load)
    assert not find_open_unproved_work(bench.state)
    assert seq not in bench.state.struck
    assert "no lot on record" not in closeout(bench)


def test_one_struck_out_that_was_right_comes_back_as_it_was() -> None:
    bench, (load,) = lacquered("E-200")
    seq = entry_of(bench, "E-200")
    strike = bench.say(StrikeOut(seq, "lot was E-201"))[0].seq
    made = bench.say(CorrectLot(seq, "E-200", DAY, "the can says E-200"))

    assert [(one.kind, one.body["seq"]) for one in made] == [("struck_out", strike)]
    assert "lacquer E-200" in trace_of(bench, load)
    assert "entered as" not in trace_of(bench, load)


def test_a_strike_by_a_lead_is_taken_back_by_a_lead_only() -> None:
    bench, _ = lacquered("E-200")
    seq = entry_of(bench, "E-200")
    bench.say(StrikeOut(seq, "lot was E-201"), by="LL")
    assert bench.refused(CorrectLot(seq, "E-201", LATER, "why")).why == "authority"


def test_a_first_piece_of_the_lot_that_was_corrected_is_no_other_first_piece() -> None:
    bench = open_bench(partial(edited, *BAR), start=16)
    first = begun_with(bench, "H-1")
    bench.through(first, 10)
    bench.say(CorrectLot(entry_of(bench, "H-1"), "H-2", "", "typed wrong"))

    assert "H-2 (entered as H-1, corrected by AA: typed wrong)" in " ".join(
        write_first_article(bench.state, bench.clock(), "0" * 64).split()
    )
    second = begun_with(bench, "H-2")
    bench.until(second, "count")
    bench.through(second, 10)
    verdict = bench.until(begun_with(bench, "H-1"), FIRST).verdict
    assert verdict is not None
    assert verdict.why == "must be repeated, new lot: bar stock H-1", "that lot is another one now"


def test_one_of_the_batch_that_was_corrected_asks_for_no_other_first_piece() -> None:
    bench = open_bench(partial(edited, BAR[1]), start=8)
    first = bench.form(10)
    bench.through(first, 10)
    bench.say(CorrectLot(bench.state.lot_entries["bar stock"][0], "H-9", "", "typed wrong"), by="LL")
    bench.until(bench.form(10), "count")


def test_a_gauge_recorded_by_its_serial_number_is_struck_out_instead() -> None:
    serial = LACQUER.replace(" }", ", serial = true }").replace('"lacquer"', '"depth gauge"')
    bench = open_bench(partial(edited, (LACQUER, serial)))
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, LINE)
    bench.say(Prove(bench.run_of(load).number, LINE, {"lot": "DM-04", "use_by": DAY}))
    refused = bench.refused(CorrectLot(entry_of(bench, "DM-04"), "DM-05", DAY, "why"))
    assert "strike out the entry" in refused.remedy


@pytest.mark.parametrize(("typed", "near"), [
    ("yE-200", True), ("E-20", True), ("E-2000", True), ("E-201", True), ("E200", True), ("F-200", True),
    ("E-200", False), ("e-200", False), ("E-211", False), ("E-2", False), ("K-7", False), ("", False),
])  # fmt: skip
def test_a_lot_a_letter_away_from_the_last_one_is_asked_about(typed: str, near: bool) -> None:
    bench, _ = lacquered("E-100", "E-200")
    run = bench.state.runs[max(bench.state.runs)]
    gate = bench.state.find_operation(run).step(LINE)
    assert isinstance(gate, LotRecorded)
    assert find_lot_slip(bench.state, run, LINE, gate, {"lot": typed}) == ("E-200" if near else "")
