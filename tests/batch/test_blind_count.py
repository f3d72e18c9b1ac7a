"""The incoming person counts before seeing the recorded figure (HSE, shift handover: cross-checking)."""

from __future__ import annotations

import json
import re
from typing import get_args

import pytest

from floor.batch.command import Refused
from floor.batch.corrections.commands import Note
from floor.batch.counting.blind_count import (
    find_blind_subjects,
    find_subjects_to_count,
    format_count_subject,
    format_total,
    hide_piece_count,
    list_count_subjects,
)
from floor.batch.counting.commands import CountRun
from floor.batch.describe import describe
from floor.batch.events import make_drafts
from floor.batch.fold import advance
from floor.batch.handover.commands import (
    AcceptHandover,
    CountSubjectPieces,
    OfferHandover,
    ReadBackLine,
    ReadHandoverPage,
    WithdrawHandover,
)
from floor.batch.handover.offers import find_current_handover, list_handovers
from floor.batch.handover.page import (
    build_handover_page,
    list_safety_lines,
    say_difference,
)
from floor.batch.handover.risks import (
    find_risks,
)
from floor.batch.lifecycle.commands import SetPiecesAside, open_points
from floor.batch.load import Where
from floor.batch.walk.recap import find_recap
from floor.batch.worklist.tasks import list_due_tasks
from floor.papers.status import write_status_json, write_status_text
from tests.batch.factory import Bench, entries_of, open_bench
from tests.papers.half_done import half_done


def text_of(bench: Bench, who: str) -> str:
    hidden = find_subjects_to_count(bench.state, who)
    return "\n".join(
        line.text for section in build_handover_page(bench.state, bench.clock(), hidden) for line in section.lines
    )


def test_only_who_holds_the_batch_sees_the_figures() -> None:
    bench = half_done()
    bench.say(OfferHandover("as usual"), "LL")

    assert "Pallet 2 (load 2), 4 pieces" in text_of(bench, "LL")
    for who in ("BB", "AA", ""):
        assert not re.search(r"\d+ pieces?|, 4\b", text_of(bench, who)), who
        assert "Pallet 2 (load 2): waits for op 30" in text_of(bench, who)


def test_a_figure_is_seen_once_it_agrees_and_the_others_are_not() -> None:
    bench = half_done()
    bench.say(OfferHandover("as usual"), "LL")
    bench.say(CountSubjectPieces("load 2", 4), "BB")

    text = text_of(bench, "BB")

    assert "Pallet 2 (load 2), 4 pieces" in text
    assert "Pallet 1 (load 1): waits" in text


def test_a_count_that_disagrees_is_made_again_as_blindly() -> None:
    """HSE: cross-checking on handover. That a disputed count is repeated unseen is common practice, no source."""
    bench = half_done()
    bench.say(OfferHandover("as usual"), "LL")
    bench.say(CountSubjectPieces("load 2", 3), "BB")

    difference = bench.state.list_open_differences()[0]
    assert "Pallet 2 (load 2): waits" in text_of(bench, "BB")
    assert "load 2: counts do not match, recount (BB)" in text_of(bench, "BB")
    assert describe(bench.state, bench.state.entries[-1]) == "load 2: counted 3, to be counted again"
    bench.say(CountSubjectPieces("load 2", 3), "BB")

    assert "Pallet 2 (load 2), 4 pieces" in text_of(bench, "BB")
    assert bench.state.list_open_differences()[0].seq > difference.seq, "the first count is settled by the second"
    assert say_difference(bench.state.list_open_differences()[0]) == "load 2: counted 3, recorded 4 (BB)"
    assert describe(bench.state, bench.state.entries[-1]) == "load 2: counted 3, recorded 4"


def test_what_is_next_gives_no_number_away_while_a_handover_is_to_be_counted() -> None:
    bench = half_done()
    bench.say(OfferHandover("as usual"), "LL")
    bench.say(CountSubjectPieces("load 2", 3), "BB")

    said = [due.sentence for due in list_due_tasks([bench.state], bench.clock())]

    assert "Pallet 2 (load 2): counts do not match, recount" in said
    assert "Decide on the held pieces (lead)" in said
    for text in said:
        assert not re.search(r"[0-9]+ (pieces?|held|of)|recorded|counted", text), text


def test_what_can_be_loaded_says_no_number_while_it_is_to_be_counted() -> None:
    bench = open_bench(start=8, order=8)
    (before,) = [due.what for due in list_due_tasks([bench.state], bench.clock()) if due.go == "form"]
    bench.say(OfferHandover("as usual"), "LL")

    (after,) = [due.what for due in list_due_tasks([bench.state], bench.clock()) if due.go == "form"]

    assert (before, after) == ("Load 4 of 8 pieces on Pallet", "Load pieces on Pallet")


def test_a_load_at_its_count_says_no_number_on_the_list_and_in_the_recap() -> None:
    bench = open_bench(order=4)
    load = bench.form(10)
    bench.until(load, "count")
    bench.say(CountRun(bench.run_of(load).number, 4), "AA")
    bench.clock.forward(3600)
    assert "ago: counted 4: 4 good (AA)" in str(find_recap(bench.state, bench.run_of(load), bench.clock(), "BB"))
    bench.say(OfferHandover(), "LL")

    assert "ago: counted (AA)" in str(find_recap(bench.state, bench.run_of(load), bench.clock(), "BB"))
    bench = open_bench(order=4)
    load = bench.form(10)
    bench.until(load, "count")
    attempt = bench.refused(CountRun(bench.run_of(load).number, 3), "AA").attempt
    assert attempt is not None
    bench.state = advance(bench.state, entries_of(make_drafts(attempt), bench.clock(), "AA", list(bench.state.entries)))
    bench.clock.forward(3600)
    assert "ago: count of 4 pieces: 3 good" in str(find_recap(bench.state, bench.run_of(load), bench.clock(), "BB"))
    bench.say(OfferHandover(), "LL")
    assert "ago: count refused (AA)" in str(find_recap(bench.state, bench.run_of(load), bench.clock(), "BB"))
    other = open_bench(order=4)
    other.until(other.form(10), "count")
    other.say(OfferHandover(), "LL")
    assert [due.what for due in list_due_tasks([other.state], other.clock()) if due.load] == ["Count pieces"]


def test_what_is_read_back_and_refused_tells_no_figure_either() -> None:
    bench = half_done()
    bench.say(OfferHandover("first"), "LL")
    for subject in list_count_subjects(bench.state):
        bench.say(CountSubjectPieces(subject.key, subject.expected - 1), "BB")
    refused = bench.refused(AcceptHandover(talked="face to face"), "BB")
    assert not re.search("recorded [0-9]", refused.wrong)

    for line in list_safety_lines(bench.state, bench.clock()):
        said = bench.say(ReadBackLine(line.key), "BB")[0]
        assert "recorded" not in said.body["text"]


def test_the_line_where_a_load_stands_does_not_give_its_number_away() -> None:
    """A load at its count, or at a gate that counts it, shows that without the figure."""
    bench = open_bench(order=4)
    load = bench.form(10)
    bench.until(load, "count")
    bench.say(OfferHandover(), "LL")

    assert "at: Count pieces (4 in)" in text_of(bench, "LL")
    assert "at: Count pieces" in text_of(bench, "BB")
    bench.say(WithdrawHandover(), "LL")
    bench.through(load, 10)
    bench.until(load, "counted 1")
    bench.say(OfferHandover(), "LL")
    assert "load 1, op 20, Count the pieces on the pallet: not counted" in text_of(bench, "BB")


def test_the_walk_says_no_number_of_a_load_that_is_to_be_counted() -> None:
    """Not at the count and not at a gate that counts it: neither what was found nor what the record says."""
    bench = open_bench(order=4)
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "counted 1")
    for found, evidence, why in ((3, "", "counts do not match"), (4, "counted (AA)", "")):
        bench.prove(load, "counted 1", pieces=found)
        plain = bench.walk(load)
        assert str(found) in plain.lines[plain.place].verdict.why + bench.line(load, "counted 1").evidence

        unseen = hide_piece_count(plain, {"load 1"})

        gate = next(line for line in unseen.lines if line.key == "counted 1")
        assert gate.verdict is not None
        assert (gate.evidence, gate.verdict.evidence, gate.verdict.why) == (evidence, evidence, why)
        assert [line.title for line in unseen.lines if line.kind == "count"] == ["Count pieces"]
        assert hide_piece_count(plain, {"load 2"}) == plain, "another load is to be counted"


def test_the_count_of_a_run_is_not_read_off_its_walk() -> None:
    bench = open_bench(order=4)
    load = bench.form(10)
    bench.until(load, "count")
    bench.say(CountRun(bench.run_of(load).number, 4), "AA")
    bench.say(OfferHandover(), "LL")

    line = next(
        line
        for line in hide_piece_count(bench.walk(load), find_blind_subjects(bench.state)).lines
        if line.kind == "count"
    )

    assert bench.line(load, "count").evidence.startswith("4 good")
    assert (line.title, line.evidence) == ("Count pieces", "counted (AA)")


def test_a_refusal_to_set_more_aside_than_there_are_tells_no_figure_that_is_to_be_counted() -> None:
    """Nobody finds out by trying how many wait, or lie on a load."""
    bench = open_bench()
    load = bench.form(10)
    for offered, known in ((False, r"\d+"), (True, r"\?")):
        if offered:
            bench.say(OfferHandover("as usual"), "LL")
        for aside in (
            SetPiecesAside("hold", "dropped", op=10, count=99),
            SetPiecesAside("hold", "dropped", load, count=99),
        ):
            with pytest.raises(Refused, match=f"99 pieces set aside, {known} are there"):
                bench.say(aside, "AA")


def test_what_was_counted_and_is_no_longer_there_is_named_in_words() -> None:
    assert format_count_subject(open_bench().state, "waiting 60 deep") == "waiting for op 60 in rework"


def test_a_total_is_hidden_while_a_part_of_it_is_to_be_counted() -> None:
    """One load counted and found right leaves the others hidden; finished or lost pieces are not counted at all."""
    bench = half_done()
    totals = {where: format_total(bench.state, where, find_blind_subjects(bench.state)) for where in get_args(Where)}
    assert totals == {where: str(bench.state.total(where)) for where in get_args(Where)}
    bench.say(OfferHandover("as usual"), "LL")
    left = [subject.key for subject in list_count_subjects(bench.state)]
    while left:
        hidden = find_blind_subjects(bench.state)
        for where in ("load", "waiting", "hold"):
            apart = any(place.heap in left for place in bench.state.places.values() if place.where == where)
            assert (format_total(bench.state, where, hidden) == "?") == apart, (where, left)
        assert format_total(bench.state, "finished", hidden) == str(bench.state.total("finished"))
        key = left.pop()
        bench.say(
            CountSubjectPieces(key, {one.key: one.expected for one in list_count_subjects(bench.state)}[key]), "BB"
        )

    assert format_total(bench.state, "load", find_blind_subjects(bench.state)) == str(bench.state.total("load"))


def test_status_gives_no_figure_away_while_a_handover_is_to_be_counted() -> None:
    bench = half_done()
    open_ = json.loads(write_status_json([bench.state], [], bench.clock()))["batches"][0]
    assert None not in open_["counts"].values()
    bench.say(OfferHandover("as usual"), "LL")

    text = write_status_text([bench.state], list_due_tasks([bench.state], bench.clock()), bench.clock())
    told = json.loads(write_status_json([bench.state], [], bench.clock()))["batches"][0]

    assert "? on loads, ? on hold" in text
    assert not re.search(r"[0-9]+ (pieces?|on loads|waiting|on hold)", text)
    assert {where for where, count in told["counts"].items() if count is None} == {"load", "hold", "scrap"}
    assert [one["pieces"] for one in told["loads"] + told["waiting"]] == [None] * (
        len(told["loads"]) + len(told["waiting"])
    )
    for subject in list_count_subjects(bench.state):
        bench.say(CountSubjectPieces(subject.key, subject.expected), "BB")
    again = json.loads(write_status_json([bench.state], [], bench.clock()))["batches"][0]
    assert again == {**open_, "handover_open": True}


def test_what_keeps_a_batch_open_is_reported_without_the_figures() -> None:
    bench = half_done()
    bench.say(OfferHandover("as usual"), "LL")

    said = [str(point) for point in open_points(bench.state)]

    assert "pieces on hold: ?" in said
    assert not [one for one in said if re.match("[0-9]", one)]


def test_who_left_it_alone_counts_too_when_coming_back() -> None:
    """Leaving a job unattended is a handover too (DOE-STD-1038-93, unstaffed positions)."""
    bench = half_done()
    bench.say(OfferHandover("night", unattended=True, safe="all off"), "LL")

    assert find_subjects_to_count(bench.state, "LL") == {subject.key for subject in list_count_subjects(bench.state)}


def test_a_handover_of_higher_risk_takes_remarks() -> None:
    """HSE: higher-risk handovers are identified and get more care. That it is remarks is a shop decision."""
    bench = half_done()
    assert find_risks(bench.state) == ("waived",)

    refused = bench.refused(OfferHandover("  "), "LL")

    assert refused.why == "handover"
    assert "a gate is waived" in refused.wrong
    bench.say(OfferHandover("count pallet 3 at once"), "LL")
    routine = open_bench()
    routine.say(OfferHandover(), "LL")
    assert routine.state.handover is not None


def test_turnovers_keep_who_gave_who_took_and_what_was_counted() -> None:
    bench = half_done()
    bench.say(OfferHandover("first try"), "LL")
    bench.say(WithdrawHandover(), "LL")
    assert find_current_handover(bench.state) is None
    bench.say(OfferHandover("second try"), "LL")
    for subject in list_count_subjects(bench.state):
        bench.say(CountSubjectPieces(subject.key, subject.expected), "BB")
    for line in list_safety_lines(bench.state, bench.clock()):
        bench.say(ReadBackLine(line.key), "BB")
    bench.say(ReadHandoverPage(), "BB")
    bench.say(AcceptHandover(talked="face to face"), "BB")

    withdrawn, taken = list_handovers(bench.state)
    present = find_current_handover(bench.state)

    assert (withdrawn.remarks, withdrawn.to, bool(withdrawn.ended)) == ("first try", "", True)
    assert (taken.by, taken.to, taken.counted["load 2"]) == ("LL", "BB", (4, 4, "BB"))
    assert len(taken.read_back) == len(list_safety_lines(bench.state, bench.clock()))
    assert present == taken
    bench.say(Note("began with pallet 3"), "BB")
    assert find_current_handover(bench.state) is None, "the work has gone on since"
