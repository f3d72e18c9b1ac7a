"""Work put off in a note is kept by the program, with a cue (Wilson et al. 2019, Human Factors: from memory)."""

from __future__ import annotations

from datetime import timedelta

import pytest

from floor.batch.command import Refused
from floor.batch.corrections.commands import MarkNoteDone, Note, StrikeOut
from floor.batch.corrections.put_off import list_put_off
from floor.batch.describe import describe
from floor.batch.fold import Inapplicable, fold
from floor.batch.handover.commands import (
    AcceptHandover,
    CountSubjectPieces,
    OfferHandover,
    ReadBackLine,
    ReadHandoverPage,
)
from floor.batch.handover.page import (
    build_handover_page,
    list_lines_to_read_back,
    list_subjects_to_count,
    list_unread_entries,
)
from floor.batch.lifecycle.commands import open_points
from floor.batch.worklist.due_alarms import DueAlarms
from floor.batch.worklist.tasks import list_due_tasks
from tests.batch.factory import Bench, entries_of, open_bench

SECTION = "Put off, still to do"


@pytest.fixture
def bench() -> Bench:
    return open_bench()


def put_off(bench: Bench, hours: float | None = 2, owner: str = "bb", text: str = "swap the coolant") -> int:
    due = None if hours is None else bench.clock().at + timedelta(hours=hours)
    return bench.say(Note(text, owner=owner, due=due))[0].seq


def lines(bench: Bench) -> list[str]:
    page = build_handover_page(bench.state, bench.clock())
    return [line.text for section in page if section.title == SECTION for line in section.lines]


def hand_over(bench: Bench, to: str) -> None:
    bench.say(OfferHandover("as usual"), bench.state.responsible)
    bench.say(ReadHandoverPage(), to)
    for subject in list_subjects_to_count(bench.state):
        bench.say(CountSubjectPieces(subject.key, subject.expected), to)
    for line in list_lines_to_read_back(bench.state, bench.clock(), to):
        bench.say(ReadBackLine(line.key), to)
    bench.say(AcceptHandover(talked="face to face"), to)


def test_a_note_with_an_owner_or_a_time_outlasts_handovers_until_it_is_done(bench: Bench) -> None:
    bench.say(Note("rag bin is full", next_shift=True))
    assert lines(bench) == [], "a plain note is told among what is abnormal, and not kept"
    note = put_off(bench)
    assert lines(bench) == ["swap the coolant; BB; by 09:00 (noted by AA)"]
    said = "\n".join(line.text for one in build_handover_page(bench.state, bench.clock()) for line in one.lines)
    assert said.count("swap the coolant") == 1, "said in one place"
    hand_over(bench, "BB")
    hand_over(bench, "CC")
    assert lines(bench) == ["swap the coolant; BB; by 09:00 (noted by AA)"]
    done = bench.say(MarkNoteDone(note, "sump scrubbed too"), "CC")[0]
    assert describe(bench.state, done) == "done: swap the coolant: sump scrubbed too"
    assert lines(bench) == []
    assert bench.refused(MarkNoteDone(note), "CC").why == "unknown"


def test_either_an_owner_or_a_time_is_enough_and_what_is_due_first_comes_first(bench: Bench) -> None:
    put_off(bench, hours=None, text="order lacquer")
    put_off(bench, hours=30, owner="", text="oil the ways")
    put_off(bench, hours=3, text="clean the gauge")
    assert lines(bench) == [
        "clean the gauge; BB; by 10:00 (noted by AA)",
        "oil the ways; by Tue 13:00 (noted by AA)",
        "order lacquer; BB (noted by AA)",
    ]
    assert describe(bench.state, bench.state.entries[-1]) == (
        "for the next shift: clean the gauge; BB; by Mon 10:00"
    ), "the history says it too"


def test_what_is_overdue_is_told_on_the_page_and_read_back_by_the_next_person(bench: Bench) -> None:
    note = put_off(bench)
    assert list_lines_to_read_back(bench.state, bench.clock(), "BB") == []
    bench.clock.forward(2 * 3600)
    assert lines(bench) == ["OVERDUE since 09:00: swap the coolant; BB (noted by AA)"]
    [line] = list_lines_to_read_back(bench.state, bench.clock(), "BB")
    assert line.text == lines(bench)[0]
    bench.say(MarkNoteDone(note))
    assert list_lines_to_read_back(bench.state, bench.clock(), "BB") == []


def test_its_time_is_a_cue_it_waits_in_what_next_and_rings_once(bench: Bench) -> None:
    put_off(bench, hours=None, text="order lacquer")
    put_off(bench)
    alarms = DueAlarms()

    def look() -> list[str]:
        tasks = list_due_tasks([bench.state], bench.clock())
        return [one for one in alarms.list_news(tasks, bench.clock().at) if "coolant" in one]

    [due] = [one for one in list_due_tasks([bench.state], bench.clock()) if one.go == "handover"]
    assert (due.urgency, due.when) == ("later", bench.clock().at + timedelta(hours=2)), "without a time it has no row"
    assert look() == []
    bench.clock.forward(2 * 3600 + 1)
    assert look() == ["swap the coolant; BB; by 09:00 (noted by AA) · batch · B0001"]
    assert look() == []
    [due] = [one for one in list_due_tasks([bench.state], bench.clock()) if one.go == "handover"]
    assert (due.urgency, due.when) == ("now", None)
    assert due.what == "OVERDUE since 09:00: swap the coolant; BB (noted by AA)"


def test_it_keeps_the_batch_open(bench: Bench) -> None:
    note = put_off(bench)
    assert [str(one) for one in open_points(bench.state) if one.kind == "put off"] == [
        "put off and not done: swap the coolant"
    ]
    bench.say(MarkNoteDone(note))
    assert not [one for one in open_points(bench.state) if one.kind == "put off"]


def test_a_struck_note_is_not_to_be_done_and_a_struck_mark_makes_it_so_again(bench: Bench) -> None:
    note = put_off(bench)
    done = bench.say(MarkNoteDone(note))[0].seq
    bench.say(StrikeOut(done, "it was another pump"))
    assert [one.seq for one in list_put_off(bench.state)] == [note]
    bench.say(StrikeOut(note, "not needed"))
    assert list_put_off(bench.state) == []


def test_what_others_put_off_or_marked_done_meanwhile_changes_the_page(bench: Bench) -> None:
    note = put_off(bench)
    bench.say(OfferHandover("as usual"))
    bench.say(ReadHandoverPage(), "BB")
    assert list_unread_entries(bench.state, "BB") == []
    done = bench.say(MarkNoteDone(note))[0]
    more = bench.say(Note("empty the bin", owner="BB"))[0]
    assert list_unread_entries(bench.state, "BB") == [done, more]


def test_a_stranger_as_owner_and_a_time_that_is_past_are_refused(bench: Bench) -> None:
    assert bench.refused(Note("oil the ways", owner="zz")).field == "owner"
    past = bench.refused(Note("oil the ways", due=bench.clock().at))
    assert (past.field, past.wrong) == ("due", "07:00, by when it is to be done, is past")
    far = bench.refused(Note("oil the ways", due=bench.clock().at + timedelta(days=4000)))
    assert far.field == "due"


def test_a_mark_about_no_earlier_note_is_refused_when_it_is_read(bench: Bench) -> None:
    note = put_off(bench)
    drafts = MarkNoteDone(note).decide(bench.state, bench.context("", "AA"))
    [entry] = entries_of(drafts, bench.clock(), "AA", bench.state.entries)
    for wrong in (0, entry.seq):
        odd = type(entry)(**{**{name: getattr(entry, name) for name in entry.__slots__}, "body": {"of": wrong}})
        with pytest.raises(Inapplicable, match="a note that is not there"):
            fold([*bench.state.entries, odd])
    with pytest.raises(Refused):
        MarkNoteDone(note + 1).decide(bench.state, bench.context("", "AA"))
