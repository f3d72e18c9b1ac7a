"""Reliefs in mid-shift, long shifts and absences: how deep a handover goes, and what handovers took.

DOE-STD-1038-93 (mid-shift relief; relief for injury or illness), HSE (long shifts lean on writing), from memory.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from floor.batch.command import OtherBatches
from floor.batch.corrections.commands import Note, StrikeOut
from floor.batch.describe import describe
from floor.batch.gates.verifiers import list_signatures
from floor.batch.handover.commands import (
    AcceptHandover,
    AskQuestion,
    CountSubjectPieces,
    OfferHandover,
    ReadBackLine,
    ReadHandoverPage,
)
from floor.batch.handover.measures import measure_handovers
from floor.batch.handover.page import (
    build_handover_page,
    list_count_subjects,
    list_lines_to_read_back,
    list_subjects_to_count,
)
from floor.batch.handover.risks import (
    find_depth,
    find_risks,
)
from floor.batch.stations.conditions import ReportCondition
from floor.papers.closeout import write_close_out
from floor.papers.handover import write_handover_sheet
from tests.batch.factory import Bench, open_bench

DAY = 86_400


@pytest.fixture
def bench() -> Bench:
    """A pallet is being cut by AA; BB has worked on it today, CC never."""
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "end")
    bench.say(Note("chips are clear", run=bench.run_of(load).number), "BB")
    return bench


def read_back(bench: Bench, by: str) -> int:
    return len(read_back_texts(bench, by))


def read_back_texts(bench: Bench, by: str) -> list[str]:
    lines = list_lines_to_read_back(bench.state, bench.clock(), by)
    for line in lines:
        bench.say(ReadBackLine(line.key), by)
    return [line.text for line in lines]


def count(bench: Bench, by: str) -> None:
    for subject in list_count_subjects(bench.state):
        bench.say(CountSubjectPieces(subject.key, subject.expected), by)


def read_back_whole(bench: Bench, by: str) -> None:
    """Every line of the page is read back: those about safety one by one, of a section the others together."""
    sections = build_handover_page(bench.state, bench.clock())
    said = read_back_texts(bench, by)
    routine = [one for one in sections if not all(line.safety for line in one.lines)]
    alone = [line.text for one in sections for line in one.lines if line.safety]
    assert said[: len(alone)] == alone
    assert len(said) == len(alone) + len(routine)
    assert routine, "or nothing was looked at"
    for one, text in zip(routine, said[len(alone) :], strict=True):
        assert text.startswith(f"{one.title}: ")
        assert all(line.text in text for line in one.lines if not line.safety)


def test_a_break_is_short_for_who_knows_the_work_and_safety_is_read_back_all_the_same(bench: Bench) -> None:
    bench.say(OfferHandover(relief="break"))
    assert find_depth(bench.state, "BB", bench.clock()) == "short"
    assert list_subjects_to_count(bench.state, bench.clock(), "BB") == []
    assert bench.refused(AcceptHandover(), "BB").wrong == "BB has not read the page yet"
    bench.say(ReadHandoverPage(), "BB")
    assert bench.refused(AcceptHandover(), "BB").wrong.startswith("not read back yet: Mill: load 1")
    assert read_back(bench, "BB") == 1
    entry = bench.say(AcceptHandover(talked="face to face"), "BB")[0]
    assert describe(bench.state, entry) == "taken over from AA, without counts, talked face to face"
    assert bench.state.responsible == "BB"


@pytest.mark.parametrize(("who", "days"), [("CC", 0), ("BB", 4)])
def test_who_does_not_know_the_work_counts_at_a_break_too(bench: Bench, who: str, days: int) -> None:
    bench.clock.forward(days * DAY)
    bench.say(OfferHandover(relief="break"))
    assert find_depth(bench.state, who, bench.clock()) == ""
    bench.say(ReadHandoverPage(), who)
    read_back(bench, who)
    assert bench.refused(AcceptHandover(), who).wrong.startswith("not counted yet: ")
    count(bench, who)
    bench.say(AcceptHandover(talked="face to face"), who)


def test_where_something_is_out_of_the_ordinary_a_break_takes_a_full_handover(bench: Bench) -> None:
    bench.say(ReportCondition("mill", "guard off", "hinge bent"))
    assert bench.refused(OfferHandover(relief="break")).wrong.startswith("a break needs a full handover here (a guard")
    assert bench.refused(OfferHandover("hinge", unattended=True, safe="all off", relief="break")).why == "input"


def test_a_relief_is_of_a_kind_there_is(bench: Bench) -> None:
    refused = bench.refused(OfferHandover(relief="injury"))  # type: ignore[arg-type]
    assert (refused.why, refused.remedy) == ("input", "one of: break, illness")


def test_a_guard_taken_off_after_the_offer_ends_the_short_form(bench: Bench) -> None:
    bench.say(OfferHandover(relief="break"))
    bench.say(ReportCondition("mill", "guard off", "hinge bent"), "BB")
    assert find_depth(bench.state, "BB", bench.clock()) == ""


def test_a_relief_for_injury_goes_to_its_whole_depth_and_is_talked_through_with_a_lead(bench: Bench) -> None:
    offer = OfferHandover(relief="illness", unusual="cut finger", done="bandaged", first="watch the end")
    assert bench.refused(offer).why == "authority"
    assert bench.refused(OfferHandover(relief="illness"), "LL").wrong.startswith("this handover takes more care")
    for part in ("unusual", "done", "first"):
        assert bench.refused(replace(offer, **{part: ""}), "LL").field == part
    bench.say(offer, "LL")
    assert find_risks(bench.state) == ("relief",)
    bench.say(ReadHandoverPage(), "BB")
    assert bench.refused(AcceptHandover(), "BB").wrong.startswith("not counted yet: ")
    count(bench, "BB")
    read_back_whole(bench, "BB")
    assert bench.refused(AcceptHandover(), "BB").field == "second"
    assert bench.refused(AcceptHandover("BB"), "BB").field == "second"
    assert bench.refused(AcceptHandover("CC"), "BB").wrong == "CC is no lead"
    drafts = AcceptHandover("ll").decide(bench.state, bench.context("", "BB"))
    assert list_signatures(bench.state, drafts, "BB") == {"LL"}, "by their PIN, once the shop has any"
    entry = bench.say(AcceptHandover("ll"), "BB")[0]
    assert describe(bench.state, entry) == "taken over from LL, talked through with LL"
    sheet = " ".join(write_handover_sheet(bench.state, bench.clock(), "0" * 64).split())
    assert "Relief in mid-shift, for injury or illness" in sheet
    assert "Talked through with LL" in sheet


def test_a_lead_who_takes_over_after_an_injury_talks_it_through_with_a_second_person(bench: Bench) -> None:
    bench.leads = frozenset({"LL", "BB"})
    bench.say(OfferHandover(relief="illness", unusual="cut finger", done="bandaged", first="the end"), "LL")
    bench.say(ReadHandoverPage(), "BB")
    count(bench, "BB")
    read_back(bench, "BB")
    assert bench.say(AcceptHandover("CC"), "BB")


def test_after_a_long_absence_everything_is_read_back(bench: Bench) -> None:
    bench.clock.forward(7 * DAY + 60)
    bench.say(OfferHandover("all quiet"))
    assert find_risks(bench.state, bench.clock(), "BB") == ("absent",)
    assert find_depth(bench.state, "CC", bench.clock()) == "", "who is new has no old picture to be corrected"
    bench.say(ReadHandoverPage(), "BB")
    count(bench, "BB")
    read_back_whole(bench, "BB")
    signed = bench.say(AcceptHandover(talked="face to face"), "BB")[0].body
    assert signed["risks"] == ["whoever takes over has not worked on it for a week or more"]


def test_who_is_new_to_the_batch_or_to_a_station_that_runs_makes_it_a_handover_of_higher_risk(bench: Bench) -> None:
    """HSG48: handovers to people without experience are of higher risk (from memory)."""
    assert find_risks(bench.state, bench.clock(), "BB") == ()
    assert find_risks(bench.state) == (), "whoever takes over is not known yet"
    assert find_risks(bench.state, bench.clock(), "CC") == ("new",)
    bench.say(Note("stock is in"), "CC")
    assert find_risks(bench.state, bench.clock(), "CC") == ("new there",)
    bench.say(OfferHandover(relief="break"))
    assert find_depth(bench.state, "CC", bench.clock()) == "", "nothing is left out for who does not know the mill"
    bench.say(ReadHandoverPage(), "CC")
    count(bench, "CC")
    read_back(bench, "CC")
    signed = bench.say(AcceptHandover(talked="face to face"), "CC")[0].body
    assert signed["risks"] == ["whoever takes over has not worked on this batch yet at a station that runs now"]


def test_a_station_that_stands_asks_for_no_experience_and_an_earlier_run_there_counts() -> None:
    bench = open_bench()
    first, second = bench.form(10), bench.form(10)
    bench.until(first, "end")
    bench.say(Note("chips are clear", run=bench.run_of(first).number), "BB")
    bench.say(Note("stock is in"), "CC")
    assert find_risks(bench.state, bench.clock(), "CC") == ("new there",)
    bench.through(first)
    assert find_risks(bench.state, bench.clock(), "CC") == ()
    bench.until(second, "end")
    assert find_risks(bench.state, bench.clock(), "BB") == (), "by the run before"


def test_after_a_long_shift_remarks_are_needed_if_the_shop_says_so(bench: Bench) -> None:
    bench.clock.forward(5 * 3600)
    bench.say(Note("lunch over"))
    bench.clock.forward(5 * 3600)
    bench.elsewhere = OtherBatches(long_shift_hours=10)
    assert find_risks(bench.state, bench.clock(), long_shift_hours=12) == ()
    assert "whoever hands over has worked a long shift" in bench.refused(OfferHandover()).wrong
    offer = OfferHandover(unusual="none", done="none", first="end the cycle")
    for part in ("unusual", "done", "first"):
        assert bench.refused(replace(offer, **{part: " "}, remarks="all is well")).field == part
    entry = bench.say(offer)[0]
    assert entry.body["remarks"] == "Abnormal: none. Action taken: none. Do first: end the cycle"
    bench.say(ReadHandoverPage(), "BB")
    count(bench, "BB")
    read_back(bench, "BB")
    assert bench.say(AcceptHandover(talked="face to face"), "BB")[0].body["risks"] == [
        "whoever hands over has worked a long shift"
    ]


def test_a_night_between_parts_two_shifts(bench: Bench) -> None:
    bench.clock.forward(14 * 3600)
    bench.say(Note("back in the morning"))
    bench.clock.forward(3600)
    assert find_risks(bench.state, bench.clock(), long_shift_hours=10) == ()


def test_handovers_are_measured_and_the_close_out_report_says_what_they_took_and_let_through(bench: Bench) -> None:
    assert measure_handovers(bench.state) == []
    wrong = bench.say(Note("all tools are new"))[0].seq
    bench.say(OfferHandover("all quiet"))
    bench.clock.forward(600)
    bench.say(ReadHandoverPage(), "BB")
    bench.say(AskQuestion("which bar?"), "BB")
    subjects = list_count_subjects(bench.state)
    for _ in range(2):  # one place typed wrong twice is one dispute
        bench.say(CountSubjectPieces(subjects[0].key, subjects[0].expected + 1), "BB")
    bench.clock.forward(240)
    count(bench, "BB")
    lines = read_back(bench, "BB")
    bench.say(AcceptHandover(talked="face to face"), "BB")
    bench.say(StrikeOut(wrong, "tool 2 is not"), "AA")
    own = bench.say(Note("begun"), "BB")[0].seq
    bench.say(StrikeOut(own, "not yet"), "BB")

    [one] = measure_handovers(bench.state)
    assert (one.giver, one.taker, one.minutes) == ("AA", "BB", 4.0), "not from the offer: nobody was there yet"
    assert (one.counted, one.disputed, one.read_back, one.questions) == (len(subjects), 1, lines, 1)
    assert one.struck == 1, "what the next shift struck out of its own is no fault of the handover"
    report = " ".join(write_close_out(bench.state, bench.clock(), "0" * 64).split())
    assert "4 min from reading the page to the signature" in report
    assert "1 count disputed" in report
    assert "1 earlier entry struck out in the next shift" in report
    assert "In all 1: median 4 min; 1 disputed; 1 struck out afterwards" in report
