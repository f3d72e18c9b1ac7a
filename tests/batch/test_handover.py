"""Handing a half-done batch over: counts without seeing the figure, read-backs, questions, and who is responsible.

Numbers are those of the guidance followed, after HSE and DOE-STD-1038-93.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest

from floor.batch.command import OtherBatches
from floor.batch.corrections.commands import Note, StrikeOut
from floor.batch.counting.commands import CountRun, MarkedPieces
from floor.batch.describe import describe
from floor.batch.gates.commands import Waive
from floor.batch.handover.commands import (
    AcceptHandover,
    AnswerQuestion,
    AskQuestion,
    CountSubjectPieces,
    OfferHandover,
    ReadBackLine,
    ReadHandoverPage,
    ResolveDifference,
    WithdrawHandover,
)
from floor.batch.handover.offers import list_handovers
from floor.batch.handover.page import (
    build_handover_page,
    list_count_subjects,
    list_lines_at,
    list_lines_to_read_back,
    list_safety_lines,
    list_subjects_to_count,
    list_unread_entries,
)
from floor.batch.handover.risks import (
    find_risks,
)
from floor.batch.lifecycle.commands import CloseBatch, FormLoad, SetPiecesAside, StartPieces
from floor.batch.load import PiecePlace, format_heap
from floor.batch.stations.commands import Disturb
from floor.batch.walk.commands import BeginRun, DoStep, SkipStep
from floor.papers.handover import write_handover_sheet, write_signed_handover
from floor.wall import format_local
from tests.batch.factory import Bench, conserved, open_bench


@pytest.fixture
def bench() -> Bench:
    """One pallet cures after its coat, one is being cut, one piece is held and two wait."""
    bench = open_bench(start=10)
    one, two = bench.form(10), bench.form(10)
    bench.through(one, 10)
    bench.until(one, "count")
    bench.say(CountRun(bench.run_of(one).number, 4))
    bench.hand().work(one)
    bench.say(SetPiecesAside("hold", "scratched?", op=10, count=1))
    bench.until(two, "end")
    return bench


def count_all(bench: Bench, by: str = "BB", **off: int) -> None:
    for subject in list_count_subjects(bench.state):
        bench.say(CountSubjectPieces(subject.key, subject.expected + off.get(subject.key.replace(" ", "_"), 0)), by=by)


def read_all(bench: Bench, by: str = "BB") -> None:
    for line in list_safety_lines(bench.state, bench.clock()):
        bench.say(ReadBackLine(line.key), by=by)


def texts(bench: Bench) -> dict[str, list[str]]:
    return {
        section.title: [line.text for line in section.lines]
        for section in build_handover_page(bench.state, bench.clock())
    }


def test_the_page_is_written_from_the_record(bench: Bench) -> None:
    """HND-05, HND-08, HND-09: what is where, what runs, what cures until when, what is held."""
    bench.say(Disturb("mill", "power lost"))
    bench.say(Note("coolant smells", next_shift=True))
    said = texts(bench)

    assert said["Running now"] == ["Mill: load 2, op 10 Mill the groove, cycle STOPPED since 07:30: power lost"]
    assert any(line.startswith("Pallet 1: cure: ready ") for line in said["Curing and dwelling"])
    assert said["Where everything is"][0].startswith("Pallet 1 (load 1), 4 pieces: waits for op 30 Cut free")
    assert said["Where everything is"][1].startswith("Pallet 2 (load 2), 4 pieces: op 10 Mill the groove, at: ")
    assert said["Where everything is"][2] == "1 piece loose, waiting for op 10"
    assert said["On hold, in rework, mismatch"] == ["on hold from op 10, loose: scratched?"]
    assert any("power lost" in line for line in said["Abnormal this shift"])
    assert any("for the next shift: coolant smells" in line for line in said["Abnormal this shift"])
    assert "piece 10 set aside as hold" in " ".join(said["Abnormal this shift"])


def test_a_value_that_was_read_out_of_limits_is_told_to_the_next_shift(bench: Bench) -> None:
    load = next(load.number for load in bench.state.list_live_loads() if load.at == 10)
    bench.until(load, "measured 1")
    bench.prove(load, "measured 1", value=[3.0, 3.3])

    said = "\n".join(line.text for section in build_handover_page(bench.state, bench.clock()) for line in section.lines)
    assert "groove depth" in said.lower()
    assert "✕ not accepted" in said


def test_waived_gates_come_first_on_the_page_and_are_read_back(bench: Bench) -> None:
    """HND-11: every open override, listed first."""
    bench.hand().work(2)
    load = bench.form(10)
    bench.until(load, "probed 1")
    bench.say(Waive(bench.run_of(load).number, "probed 1", "probe is broken, set by indicator"), by="LL")

    guards, first = build_handover_page(bench.state, bench.clock())[:2]

    assert guards.lines == ()
    assert [line.text for line in first.lines] == [
        f"op 10 {bench.line(load, 'probed 1').title}: waived by LL, probe is broken, set by indicator"
    ]
    assert first.lines[0].key in {line.key for line in list_safety_lines(bench.state, bench.clock())}
    assert bench.refused(OfferHandover()).why == "handover", "with a gate waived, it takes remarks (HND-20)"


def test_the_responsibility_passes_only_with_acceptance_by_name(bench: Bench) -> None:
    """HND-03."""
    bench.say(OfferHandover("as usual"))
    assert bench.state.responsible == "AA"
    assert bench.refused(AcceptHandover(), by="BB").wrong == "BB has not read the page yet"
    bench.say(ReadHandoverPage(), by="BB")
    assert bench.refused(ReadHandoverPage(), by="BB").why == "not now"
    assert list_handovers(bench.state)[-1].page_read == {"BB": bench.clock().at}
    assert bench.refused(AcceptHandover(), by="BB").wrong.startswith("not counted yet: Pallet 1 (load 1)")
    count_all(bench)
    assert bench.refused(AcceptHandover(), by="BB").wrong.startswith("not read back yet: ")
    read_all(bench)
    assert bench.refused(AcceptHandover(), by="AA").why == "authority"
    assert bench.refused(AcceptHandover(), by="CC").wrong == "CC has not read the page yet", "reading is not lent"
    assert bench.state.responsible == "AA"

    entry = bench.say(AcceptHandover(talked="face to face"), by="BB")[0]

    assert (entry.by, entry.body["from"]) == ("BB", "AA")
    assert (bench.state.responsible, bench.state.shift, bench.state.handover) == ("BB", 1, None)


def test_only_the_responsible_person_or_a_lead_offers(bench: Bench) -> None:
    assert bench.refused(OfferHandover("bye"), by="BB").why == "authority"
    bench.say(OfferHandover("for AA, who went home"), by="LL")
    assert bench.refused(OfferHandover("bye"), by="AA").why == "handover"
    assert bench.refused(WithdrawHandover(), by="BB").why == "authority"
    bench.say(WithdrawHandover(), by="LL")
    assert bench.refused(WithdrawHandover(), by="LL").why == "handover"


def test_a_count_is_asked_before_its_figure_is_shown_and_a_mismatch_opens_an_item(bench: Bench) -> None:
    """HND-16."""
    bench.say(OfferHandover("as usual"))
    refused = bench.refused(CountSubjectPieces("load 2", -1), by="BB")
    assert "4" not in refused.wrong

    count_all(bench, load_2=-1)

    [difference] = bench.state.list_open_differences()
    assert (difference.subject, difference.expected, difference.found, difference.by) == ("load 2", 4, 3, "BB")
    read_all(bench)
    bench.say(ReadHandoverPage(), by="BB")
    refused = bench.refused(AcceptHandover(), by="BB")
    assert refused.wrong == "a count does not match: load 2: counts do not match, recount (BB)", "still blind"
    bench.say(CountSubjectPieces("load 2", 3), by="BB")
    refused = bench.refused(AcceptHandover(), by="BB")
    assert refused.wrong == "a count does not match: load 2: counted 3, recorded 4 (BB)"
    [difference] = bench.state.list_open_differences()
    bench.say(ResolveDifference(difference.seq, "one is at the gauge"), by="LL")
    (accepted,) = bench.say(AcceptHandover(talked="face to face"), by="BB")
    assert {
        "what": "Pallet 2 (load 2, by its tag)", "recorded": 4, "found": 3, "settled": "one is at the gauge · LL",
        "miscounts": [{"recorded": 4, "found": 3, "by": "BB"}],
    } in accepted.body["counts"]  # fmt: skip
    assert bench.state.started == 10
    conserved(bench.state)


def test_what_is_shut_in_a_running_machine_is_counted_by_its_tag(bench: Bench) -> None:
    """HND-16: nobody opens an oven for a count."""
    assert [subject.by_tag for subject in list_count_subjects(bench.state)][:2] == [False, True]
    bench.say(OfferHandover("as usual"))
    assert bench.say(CountSubjectPieces("load 2", 4), by="BB")[0].body["by_tag"] is True
    assert "by_tag" not in bench.say(CountSubjectPieces("load 1", 4), by="BB")[0].body


def test_the_page_stays_as_both_signed_it(bench: Bench) -> None:
    """HND-14: whatever is recorded after the acceptance."""
    bench.say(Note("the left clamp slips", next_shift=True, abnormal=True))
    bench.say(OfferHandover("as usual"))
    (asked,) = bench.say(AskQuestion("which clamp?"), by="BB")
    bench.say(ReadHandoverPage(), by="BB")
    count_all(bench)
    read_all(bench)
    bench.say(AcceptHandover(talked="face to face"), by="BB")
    (turnover,) = list_handovers(bench.state)
    first = write_signed_handover(bench.state, turnover)
    assert "the left clamp slips" in first
    assert "Mill: running load 2" in first

    bench.clock.forward(7 * 86400)
    bench.say(Note("the clamp is mended", abnormal=True))
    bench.say(StartPieces(5))
    bench.say(AnswerQuestion(asked.seq, "on the left"), by="BB")
    bench.say(OfferHandover("next"), by="BB")
    (turnover, _) = list_handovers(bench.state)

    assert turnover.signed is not None
    again = write_signed_handover(bench.state, turnover)
    assert again == first, "head and questions too"
    accepted = bench.state.entries[turnover.ended - 1]
    assert format_local(accepted.time, "%Y-%m-%d %H:%M") in again.splitlines()[1]
    assert f"record up to entry {accepted.seq}, whose hash is\n{accepted.hash}" in again
    with pytest.raises(ValueError, match="was not kept"):
        write_signed_handover(bench.state, replace(turnover, signed=None))


def test_a_page_that_changed_since_it_was_read_is_read_again(bench: Bench) -> None:
    """HND-14: nobody signs for a line that they never read; what they entered themselves they know."""
    bench.say(OfferHandover("as usual"))
    bench.say(ReadHandoverPage(), by="BB")
    count_all(bench)
    read_all(bench)
    bench.say(Note("I look for the gauge", next_shift=True), by="BB")
    bench.say(Note("private"), by="AA")
    (asked,) = bench.say(AskQuestion("which gauge?"), by="BB")
    bench.say(AnswerQuestion(asked.seq, "the long one"), by="AA")
    assert list_unread_entries(bench.state, "BB") == []

    bench.say(Note("the belt of the router squeals", next_shift=True), by="AA")
    refused = bench.refused(AcceptHandover(), by="BB")
    assert refused.wrong == "the page has changed since BB read it: entries by AA"
    bench.say(ReadHandoverPage(), by="BB")
    bench.say(AcceptHandover(talked="face to face"), by="BB")
    assert list_unread_entries(bench.state, "BB") == []


def test_the_count_that_did_not_agree_is_on_the_sheet(bench: Bench) -> None:
    """HND-16: also where the second count agreed, and where a lead settled the second one."""
    bench.say(OfferHandover("as usual"))
    bench.say(ReadHandoverPage(), by="BB")
    count_all(bench, load_2=-1, load_1=-2)
    [one, two] = bench.state.list_open_differences()
    sheet = write_handover_sheet(bench.state, bench.clock(), "0" * 64, reader="BB")
    assert "before" not in sheet, "both are counted blind again"
    bench.say(CountSubjectPieces("load 2", 4), by="BB")
    bench.say(CountSubjectPieces("load 1", 3), by="BB")
    [open_] = bench.state.list_open_differences()
    bench.say(ResolveDifference(open_.seq, "one is at the gauge"), by="LL")
    sheet = write_handover_sheet(bench.state, bench.clock(), "0" * 64, reader="BB")
    read_all(bench)
    bench.say(AcceptHandover(talked="face to face"), by="BB")
    (turnover,) = list_handovers(bench.state)
    for text in (sheet, write_signed_handover(bench.state, turnover)):
        assert "(load 1): counted 2 before, recorded 4 (BB)" in text
        assert "(load 2, by its tag): counted 3 before, recorded 4 (BB)" in text
        assert text.count(" before, recorded") == 2, "the last counts stand in the table"


def test_counting_again_settles_a_miscount_and_both_counts_stay_on_record(bench: Bench) -> None:
    bench.say(OfferHandover("as usual"))
    bench.say(CountSubjectPieces("load 2", 3), by="BB")
    bench.say(CountSubjectPieces("load 2", 4), by="BB")

    assert bench.state.list_open_differences() == []
    assert [e.body["found"] for e in bench.state.entries if e.kind == "carrier_counted"] == [3, 4]


def test_a_difference_is_resolved_by_a_lead_with_what_was_found_out(bench: Bench) -> None:
    bench.say(OfferHandover("as usual"))
    count_all(bench, hold=1)
    [difference] = bench.state.list_open_differences()

    assert bench.refused(ResolveDifference(difference.seq, "one was in the drawer"), by="BB").why == "authority"
    assert bench.refused(ResolveDifference(difference.seq, ""), by="LL").field == "how"
    bench.say(ResolveDifference(difference.seq, "one was in the drawer"), by="LL")
    assert bench.state.list_open_differences() == []
    assert bench.refused(ResolveDifference(difference.seq, "one was in the drawer"), by="LL").why == "unknown"


@pytest.mark.parametrize("found", [-1, 10**9, 2.5, "4", None, True])
def test_an_absurd_count_is_refused(bench: Bench, found: Any) -> None:
    bench.say(OfferHandover("as usual"))

    assert bench.refused(CountSubjectPieces("load 1", found), by="BB").why == "input"


def test_safety_lines_are_read_back_one_by_one(bench: Bench) -> None:
    """HND-17: not one "accept all"."""
    bench.say(OfferHandover("as usual"))
    keys = [line.key for line in list_safety_lines(bench.state, bench.clock())]
    assert {key.split()[0] for key in keys} == {"running", "clock"}
    bench.say(ReadBackLine(keys[0]), by="BB")

    assert bench.refused(ReadBackLine(keys[0]), by="BB").why == "not now"
    assert bench.refused(ReadBackLine("everything"), by="BB").why == "unknown"
    assert bench.refused(ReadBackLine(keys[1]), by="AA").why == "authority"
    entry = next(e for e in bench.state.entries if e.kind == "read_back")
    assert "Mill: load 2" in entry.body["text"], "what was read stands in the record word for word"


def test_a_line_about_a_load_is_read_back_with_its_count_and_no_other_line_is(bench: Bench) -> None:
    """HND-17, HND-06: aloud at the place itself; its own line only, and only as it stood there."""
    bench.say(OfferHandover("as usual"))
    here = [line.key for line in list_lines_at(bench.state, bench.clock(), "load 2")]
    elsewhere = [line.key for line in list_lines_at(bench.state, bench.clock(), "load 1")]
    assert here
    assert elsewhere
    made = bench.say(CountSubjectPieces("load 2", 4, (*elsewhere, *here, "everything")), by="BB")
    assert [(entry.kind, entry.body.get("line", "")) for entry in made] == [
        ("carrier_counted", ""),
        *(("read_back", key) for key in here),
    ]
    assert "Mill: load 2" in made[1].body["text"], "what was read stands in the record word for word"
    assert list_lines_at(bench.state, bench.clock(), "load 2") == []
    assert [entry.kind for entry in bench.say(CountSubjectPieces("load 2", 4, tuple(here)), by="BB")] == [
        "carrier_counted"
    ], "once"
    assert bench.say(CountSubjectPieces("load 1", 3), by="BB")[1:] == [], "a count alone reads nothing back"


def test_a_line_that_changed_before_the_count_is_left_to_be_read_back() -> None:
    bench = open_bench()
    bench.until(bench.form(10), "end")
    bench.say(OfferHandover("one runs"))
    seen = tuple(line.key for line in list_lines_at(bench.state, bench.clock(), "load 1"))
    bench.clock.forward(3 * 3600)
    made = bench.say(CountSubjectPieces("load 1", 4, seen), by="BB")
    assert [entry.kind for entry in made] == ["carrier_counted"]
    assert list_lines_at(bench.state, bench.clock(), "load 1"), "its cycle is over by now: another message"


def test_what_ran_when_it_was_offered_and_ended_meanwhile_is_not_read_back(bench: Bench) -> None:
    bench.say(OfferHandover("as usual"))
    bench.hand().work(2)
    count_all(bench)
    read_all(bench)

    bench.say(ReadHandoverPage(), by="BB")
    bench.say(AcceptHandover(talked="face to face"), by="BB")

    assert bench.state.responsible == "BB"


def test_while_a_handover_is_open_no_run_starts_without_a_stated_exception(bench: Bench) -> None:
    bench.say(OfferHandover("as usual"))
    bench.hand().work(2)
    load = bench.form(10)

    assert bench.refused(BeginRun(load), by="BB").why == "handover"
    assert bench.refused(BeginRun(load, " "), by="BB").why == "input"
    bench.say(BeginRun(load, "mix would go off"), by="BB")

    assert bench.run_of(load).exception == "mix would go off"
    assert any("by exception" in line for line in texts(bench)["Abnormal this shift"])
    assert bench.state.handover is not None, "the handover is still open"


def test_a_run_under_way_is_not_stopped_by_an_open_handover(bench: Bench) -> None:
    bench.say(OfferHandover("as usual"))

    bench.through(2)

    assert bench.state.responsible == "AA"


def test_questions_stay_open_until_they_are_answered(bench: Bench) -> None:
    """HND-18."""
    assert bench.refused(AskQuestion("why hold?"), by="BB").why == "handover"
    bench.say(OfferHandover("as usual"))
    assert bench.refused(AskQuestion("\x00\x1b[2J"[:1]), by="BB").why == "input"
    seq = bench.say(AskQuestion("why is one on hold?"), by="BB")[0].seq
    count_all(bench)
    read_all(bench)
    bench.say(ReadHandoverPage(), by="BB")
    bench.say(AcceptHandover(talked="face to face"), by="BB")

    assert "question open: why is one on hold?" in bench.refused(CloseBatch(), by="LL").wrong
    assert bench.refused(AnswerQuestion(seq, " ")).why == "input"
    assert bench.refused(AnswerQuestion(seq + 1, "a scratch")).why == "unknown"
    bench.say(AnswerQuestion(seq, "a scratch near the edge"))
    assert bench.state.questions[seq].answer == "a scratch near the edge · AA"
    assert bench.refused(AnswerQuestion(seq, "again")).why == "unknown"


def ready_to_accept(bench: Bench, **offer: Any) -> None:
    bench.say(OfferHandover("as usual", **offer))
    bench.say(ReadHandoverPage(), by="BB")
    count_all(bench)
    read_all(bench)


def test_taking_over_asks_whether_the_two_talked_and_a_no_takes_a_reason_and_is_a_risk(bench: Bench) -> None:
    """HSE: face to face, two-way, spoken and written (from memory)."""
    ready_to_accept(bench)
    refused = bench.refused(AcceptHandover(), by="BB")
    assert (refused.why, refused.field) == ("handover", "talked")
    assert refused.wrong == "nobody has said whether you talked it over with AA"
    assert bench.refused(AcceptHandover(talked="none", why="-"), by="BB").field == "why"

    entry = bench.say(AcceptHandover(talked="none", why="AA had left"), by="BB")[0]

    assert entry.body["risks"][-1] == "whoever hands over and whoever takes over have not talked"
    assert describe(bench.state, entry) == "taken over from AA, without a talk: AA had left"
    sheet = write_handover_sheet(bench.state, bench.clock(), "0" * 64)
    assert "Taken over, without a talk: AA had left" in sheet
    assert "EXTRA CARE: whoever hands over and whoever takes over have not talked" in sheet


@pytest.mark.parametrize("talked", ["face to face", "by phone or radio"])
def test_how_the_two_talked_stands_in_the_history_and_on_the_sheet(bench: Bench, talked: Any) -> None:
    ready_to_accept(bench)
    entry = bench.say(AcceptHandover(talked=talked, why="not asked for"), by="BB")[0]
    assert not [risk for risk in entry.body["risks"] if "talked" in risk]
    assert "why" not in entry.body
    assert describe(bench.state, entry) == f"taken over from AA, talked {talked}"
    assert f"Taken over, talked {talked}" in write_handover_sheet(bench.state, bench.clock(), "0" * 64)


def test_after_a_night_with_nobody_there_no_talk_is_asked_for(bench: Bench) -> None:
    ready_to_accept(bench, unattended=True, safe="mill off")
    assert "talked" not in bench.say(AcceptHandover(), by="BB")[0].body


def test_a_night_with_nobody_there_is_a_handover_too(bench: Bench) -> None:
    """HND-23: a safe, stable state confirmed; the same person may come back to it, and counts again."""
    assert bench.refused(OfferHandover(unattended=True)).why == "input"
    bench.say(OfferHandover("Oven free.", unattended=True, safe="mill off, air shut"))
    assert bench.state.handover is not None
    assert bench.state.handover.remarks == "Oven free. Left: mill off, air shut"
    bench.clock.forward(14 * 3600)

    assert bench.refused(AcceptHandover(), by="AA").why == "handover"
    count_all(bench, by="AA")
    read_all(bench, by="AA")
    bench.say(ReadHandoverPage(), by="AA")
    bench.say(AcceptHandover(talked="face to face"), by="AA")

    assert (bench.state.responsible, bench.state.shift) == ("AA", 1)


def test_an_empty_handover_has_nothing_to_count() -> None:
    bench = open_bench(start=1)
    bench.say(SetPiecesAside("scrap", "no stock", op=10, count=1))
    bench.say(OfferHandover("nothing left"))

    bench.say(ReadHandoverPage(), by="BB")
    bench.say(AcceptHandover(talked="face to face"), by="BB")

    assert bench.state.responsible == "BB"


def test_rework_waiting_loose_is_counted_apart(bench: Bench) -> None:
    bench.through(2)
    bench.through(1)
    tray = bench.form(40)
    bench.through(tray)
    tote = bench.form(50)
    bench.until(tote, "count")
    bench.say(CountRun(bench.run_of(tote).number, 3, (MarkedPieces("scratch", count=1),)))

    keys = {subject.key: subject.expected for subject in list_count_subjects(bench.state)}

    assert keys["waiting 20 touch up"] == 1
    assert keys["waiting 10"] == 1
    assert keys["hold"] == 1
    assert sum(keys.values()) == 10 - bench.state.total("finished") - bench.state.total("scrap")


def test_pieces_started_during_a_handover_are_counted_too(bench: Bench) -> None:
    bench.say(OfferHandover("as usual"))
    count_all(bench)
    bench.say(StartPieces(3), by="BB")
    load = bench.say(FormLoad(10), by="BB")[0].body["load"]

    bench.say(ReadHandoverPage(), by="BB")
    refused = bench.refused(AcceptHandover(), by="BB")

    assert f"(load {load})" in refused.wrong


def test_what_changed_after_it_was_counted_is_counted_again(bench: Bench) -> None:
    bench.say(OfferHandover("as usual"))
    count_all(bench)
    read_all(bench)
    bench.say(SetPiecesAside("hold", "dropped", load=2, positions=("A1",), off=True))

    bench.say(ReadHandoverPage(), by="BB")
    refused = bench.refused(AcceptHandover(), by="BB")

    assert refused.wrong == "not counted yet: Pallet 2 (load 2, by its tag), pieces on hold, off their carriers"
    assert bench.state.list_open_differences() == []


def test_what_was_read_back_is_read_back_again_when_it_has_changed() -> None:
    """HND-17: a window that was open and closes meanwhile is another message, and so is a cycle whose time is up."""
    bench = open_bench()
    bench.through(bench.form(10), 10, 20)
    bench.until(bench.form(10), "end")
    bench.say(OfferHandover("one cures, one runs"))
    bench.say(ReadHandoverPage(), by="BB")
    read_all(bench)
    bench.clock.forward(3 * 3600)
    count_all(bench)

    left = [line.text for line in list_lines_to_read_back(bench.state, bench.clock())]
    assert [text for text in left if "recoat: ready" in text], "it was open, it is timed again later"
    assert [text for text in left if text.startswith("Mill:")]
    assert not [text for text in left if "cure:" in text], "that one goes on as it was read back"
    assert bench.refused(AcceptHandover(), by="BB").wrong.startswith("not read back yet")
    for line in list_lines_to_read_back(bench.state, bench.clock()):
        bench.say(ReadBackLine(line.key), by="BB")
    bench.say(AcceptHandover(talked="face to face"), by="BB")


def test_what_the_shop_asks_is_answered_before_the_offer_stays_as_answered_and_takes_nothing_of_safety_off(
    bench: Bench,
) -> None:
    """HND-15: a shop adds items; those of safety stand whatever it adds."""
    safety = [line.key for line in list_safety_lines(bench.state, bench.clock())]
    sections = [section.title for section in build_handover_page(bench.state, bench.clock())]
    bench.elsewhere = OtherBatches(handover_questions=("Chip bin?", "Gauges put away"))
    for answers, place in (((), 0), (("emptied",), 1), (("emptied", "  "), 1)):
        refused = bench.refused(OfferHandover("as usual", answers=answers))
        assert (refused.why, refused.field) == ("handover", f"answer_{place}")
        assert refused.remedy.startswith("answer it")
    assert 'no answer to "Gauges put away"' in refused.wrong
    offered = bench.say(OfferHandover("as usual", answers=("emptied", "one in use", "asked by nobody")))[0]
    bench.elsewhere = OtherBatches(handover_questions=("Lights?",))

    asked = ["Chip bin? emptied", "Gauges put away: one in use"]
    assert (
        describe(bench.state, offered) == "handover offered: as usual; Chip bin? emptied; Gauges put away: one in use"
    )
    assert texts(bench)["Asked by the shop"] == asked
    assert [title for title in texts(bench) if title != "Asked by the shop"] == sections
    assert [line.key for line in list_safety_lines(bench.state, bench.clock())] == safety
    assert bench.refused(AcceptHandover(talked="face to face"), by="BB").wrong == "BB has not read the page yet"
    bench.say(ReadHandoverPage(), by="BB")
    count_all(bench)
    read_all(bench)
    bench.say(AcceptHandover(talked="face to face"), by="BB")
    sheet = write_signed_handover(bench.state, list_handovers(bench.state)[-1])
    assert all(f"  - {line}\n" in sheet for line in asked)


def test_a_count_is_made_again_after_an_hour_and_after_work_on_the_carrier() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "load step 1")
    bench.say(OfferHandover("soon"))
    bench.say(ReadHandoverPage(), by="BB")
    count_all(bench)
    read_all(bench)
    assert list_subjects_to_count(bench.state, bench.clock()) == []
    bench.say(DoStep(bench.run_of(load).number, "load step 1"))
    assert [subject.key for subject in list_subjects_to_count(bench.state, bench.clock())] == [f"load {load}"]
    count_all(bench)
    bench.clock.forward(3601)

    assert len(list_subjects_to_count(bench.state, bench.clock())) == len(list_count_subjects(bench.state))
    bench.say(ReadHandoverPage(), by="BB")
    assert bench.refused(AcceptHandover(), by="BB").wrong.startswith("not counted yet")
    count_all(bench)
    bench.say(AcceptHandover(talked="face to face"), by="BB")


def test_who_miscounted_counts_again_until_the_handover_is_accepted_and_both_counts_stay() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.say(OfferHandover("soon"))
    bench.say(ReadHandoverPage(), by="BB")
    for found in (5, 6, 4):
        bench.say(CountSubjectPieces(f"load {load}", found), by="BB")
    count_all(bench)
    assert bench.state.list_open_differences() == []
    said = [difference.resolved for difference in bench.state.differences.values()]
    assert said == ["counted again: 6 · BB", "counted again: 4 · BB"]
    bench.say(AcceptHandover(talked="face to face"), by="BB")


def test_what_is_in_rework_stands_on_the_page_wherever_it_is_by_now() -> None:
    """Waiting loose for its rework, back on its carrier, and counted but not released."""
    bench = open_bench()
    load, second = bench.form(10), bench.form(10)
    for one in (load, second):
        bench.through(one, 10, 20)
    bench.clock.forward(12 * 3600)
    bench.through(load, 30)
    tray = bench.form(40)
    bench.clock.forward(48 * 3600)
    bench.through(tray, 40)
    bench.through(bench.form(50), 50, marks=(MarkedPieces("scratch", count=3),))
    bench.until(second, "count")
    bench.say(CountRun(bench.run_of(second).number, 3, (MarkedPieces("bare", ("A1",)),)))

    said = texts(bench)["On hold, in rework, mismatch"]
    assert said == [
        "in rework: 3 pieces wait for op 20 Coat: Scrape and coat again",
        "in rework: 1 piece on Pallet 2, counted at op 30, not released: Bare place in the coat",
    ]

    bench.hand().work(second)
    said = texts(bench)["On hold, in rework, mismatch"]
    assert said[1] == "in rework: 1 piece on Pallet 2 at op 20: Scrape and coat again"
    hidden = frozenset(subject.key for subject in list_count_subjects(bench.state))
    blind = next(
        one for one in build_handover_page(bench.state, bench.clock(), hidden) if one.title.startswith("On hold")
    )
    assert [line.text.split(" wait")[0].split(" on ")[0] for line in blind.lines] == ["in rework: pieces"] * 2


def test_timers_stand_soonest_first_over_all_loads() -> None:
    """CBP-51: a window that closes in an hour before a cure of tonight, whichever load it is on."""
    bench = open_bench()
    bench.through(bench.form(10), 10, 20)
    bench.through(bench.form(10), 10, 20)
    (clocks,) = [one for one in build_handover_page(bench.state, bench.clock()) if one.title == "Curing and dwelling"]
    said = [line.text for line in clocks.lines]
    assert [(text[:8], text.split(": ")[1]) for text in said] == [
        ("Pallet 1", "recoat"), ("Pallet 2", "recoat"), ("Pallet 1", "cure"), ("Pallet 2", "cure")
    ]  # fmt: skip


def test_steps_skipped_in_the_shift_make_it_a_handover_of_higher_risk() -> None:
    """HND-20: it takes remarks then; struck out, it does not any more."""
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "load step 1")
    (skip,) = bench.say(SkipStep(bench.run_of(load).number, "load step 1", "clamped already"))
    assert find_risks(bench.state) == ("skipped",)
    assert bench.refused(OfferHandover("")).why == "handover"
    bench.say(StrikeOut(skip.seq, "it was not"))
    assert find_risks(bench.state) == ()


def test_a_heap_is_named_in_words_wherever_its_count_is_told(bench: Bench) -> None:
    keys = [
        PiecePlace("waiting", op=60).heap,
        PiecePlace("waiting", op=60, rework="deep").heap,
        "hold",
        "spare",
        "load 3",
    ]
    assert [format_heap(key) for key in keys] == [
        "waiting for op 60",
        "waiting for op 60 in rework",
        "on hold",
        "kept as spares",
        "load 3",
    ]


def test_a_cycle_past_its_plan_is_not_told_as_a_part_of_it() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "end")
    bench.clock.forward(60)
    (line,) = texts(bench)["Running now"]
    assert re.search(r"running .+ of \d+ min$", line), line
    bench.clock.forward(7200)
    (line,) = texts(bench)["Running now"]
    assert re.search(r"running 2 h \d+, \d+ min planned$", line), line
