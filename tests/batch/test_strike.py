"""Striking out: a later entry takes back a wrong one, which stays readable, and the state follows."""

from __future__ import annotations

import dataclasses

import pytest

from floor.batch.command import OtherBatches
from floor.batch.corrections.commands import Note, StrikeOut, find_dependent_entries
from floor.batch.corrections.strike_effects import find_dependent_runs
from floor.batch.corrections.unproved_work import find_suspect_pieces
from floor.batch.counting.commands import CountRun, Dispose, HoldBack, MarkedPieces
from floor.batch.describe import describe
from floor.batch.fold import fold
from floor.batch.gates.commands import CloseWaiver, Waive
from floor.batch.handover.commands import (
    AcceptHandover,
    AnswerQuestion,
    AskQuestion,
    CountSubjectPieces,
    OfferHandover,
    ReadBackLine,
    ReadHandoverPage,
    ResolveDifference,
)
from floor.batch.handover.page import list_count_subjects, list_safety_lines
from floor.batch.lifecycle.commands import SetPiecesAside, StartPieces
from floor.batch.state import Batch
from floor.batch.stations.commands import Disturb
from floor.batch.walk.commands import StartCycle
from floor.entry import Entry
from tests.batch.factory import Bench, conserved, open_bench


@pytest.fixture
def bench() -> Bench:
    return open_bench()


def last(bench: Bench, kind: str) -> Entry:
    return next(entry for entry in reversed(bench.state.entries) if entry.kind == kind)


def strike(bench: Bench, entry: Entry, by: str = "AA") -> None:
    bench.say(StrikeOut(entry.seq, "entered wrong"), by)
    conserved(bench.state)


def without_history(batch: Batch) -> Batch:
    """What the state says now, apart from the record itself and the reopened places in its walks."""
    runs = {
        number: dataclasses.replace(run, reopened=set(), unmet=set(), proved_since={})
        for number, run in batch.runs.items()
    }
    return dataclasses.replace(batch, entries=[], struck={}, seq=0, last=batch.entries[0].time, runs=runs)  # type: ignore[arg-type]


def counted(bench: Bench, *marks: MarkedPieces) -> int:
    load = bench.form(10)
    bench.until(load, "count")
    bad = sum(len(mark.positions) for mark in marks)
    bench.say(CountRun(bench.run_of(load).number, 4 - bad, marks))
    return load


@pytest.mark.parametrize("kind", ["counted", "step_done", "proved", "cycle_ended", "cautions_read"])
def test_the_state_is_the_fold_without_the_struck_entry(bench: Bench, kind: str) -> None:
    counted(bench, MarkedPieces("deep", ("A1",)))
    entry = last(bench, kind)
    if kind == "cycle_ended":
        bench = open_bench()
        bench.until(bench.form(10), "after step 1")
        entry = last(bench, kind)
    kept = fold([one for one in bench.state.entries if one.seq != entry.seq])

    strike(bench, entry)

    assert without_history(bench.state) == without_history(kept)


def test_the_old_value_stays_readable_with_who_struck_it_and_why(bench: Bench) -> None:
    """REC-30: a correction is a new event pointing to the old one, with a reason; the old value is still readable."""
    load = counted(bench, MarkedPieces("deep", ("A1",)))
    wrong = last(bench, "counted")
    strike(bench, wrong)
    bench.say(CountRun(bench.run_of(load).number, 3, (MarkedPieces("deep", ("A2",)),)))

    assert wrong in bench.state.entries
    assert bench.state.struck == {wrong.seq: last(bench, "struck_out").seq}
    assert describe(bench.state, wrong) == "load 1, op 10: counted 4: 3 good, 1 scrap deep at A1 (struck out)"
    assert last(bench, "struck_out").body == {"seq": wrong.seq, "reason": "entered wrong", "what": "counted"}
    assert bench.state.places[1].where == "load"
    assert bench.state.places[2].where == "scrap"


def test_what_later_entries_rest_on_is_refused_naming_the_one_to_strike_first(bench: Bench) -> None:
    """CBP-39: list the later steps that depended on it."""
    load = counted(bench)
    bench.hand().work(load)
    count, release = last(bench, "counted"), last(bench, "released")

    refused = bench.refused(StrikeOut(count.seq, "entered wrong"))

    assert refused.why == "later entries"
    assert f"entry {release.seq} (released) depends on entry {count.seq}" in refused.wrong
    assert refused.remedy == f"strike out entry {release.seq} first"
    strike(bench, release)
    strike(bench, count)
    assert bench.current(load).key == "count"


def test_following_the_refusals_always_leads_back(bench: Bench) -> None:
    """However far the work has gone, striking what each refusal names ends with the entry that was wrong."""
    load = bench.form(10)
    bench.through(load, 10, 20, 30)
    bench.form(40)
    wanted = next(entry for entry in bench.state.entries if entry.kind == "load_formed")
    stack, struck = [wanted.seq], 0
    while stack:
        if stack[-1] in bench.state.struck:
            stack.pop()
            continue
        drafts_before = len(bench.state.entries)
        try_first = StrikeOut(stack[-1], "all of it was wrong")
        try:
            bench.say(try_first)
        except Exception as refused:  # its remedy names the next one
            stack.append(int(str(refused).rsplit("entry ", 1)[1].split()[0]))
        else:
            struck += len(bench.state.entries) - drafts_before
            stack.pop()

    assert wanted.seq in bench.state.struck
    assert bench.state.loads == {}
    assert bench.state.list_waiting_pools() == [(10, "", 8)]
    assert struck > 10


def test_the_entries_of_the_same_run_that_came_after_are_listed(bench: Bench) -> None:
    counted(bench)
    probed = next(entry for entry in bench.state.entries if entry.body.get("line") == "probed 1")

    later = find_dependent_entries(bench.state, probed.seq)

    assert later == [entry.seq for entry in bench.state.entries if entry.seq > probed.seq]
    assert find_dependent_entries(bench.state, 1) == []


# --- what a struck proof had let through (CBP-39)


def proof(bench: Bench, gate: str) -> Entry:
    return next(entry for entry in bench.state.entries if entry.body.get("gate") == gate)


def two_loads_and_one_under_a_changed_tool(bench: Bench) -> tuple[Entry, list[int]]:
    """Two loads cut with one proof of tool 1; then it is changed and proved again for the third."""
    loads = [bench.form(10) for _ in range(3)]
    bench.through(loads[0], 10)
    bench.through(loads[1], 10)
    bench.say(Disturb("mill", "tool changed", tool=1))
    bench.through(loads[2], 10)
    return proof(bench, "tool loaded"), loads


def test_released_runs_that_used_a_set_up_proof_are_listed_and_no_others() -> None:
    bench = open_bench(start=12)
    loaded, loads = two_loads_and_one_under_a_changed_tool(bench)

    later = find_dependent_entries(bench.state, loaded.seq)

    assert [run.load for run in find_dependent_runs(bench.state, loaded.seq)] == [loads[1]]
    second = next(run for run in bench.state.runs.values() if run.load == loads[1])
    theirs = [entry for entry in bench.state.entries if entry.seq in later and entry.body.get("run") == second.number]
    assert [entry.kind for entry in theirs] == ["cycle_started", "counted", "released"]
    strike(bench, loaded)
    assert [run.number for run in find_dependent_runs(bench.state, loaded.seq)] == [second.number]
    said = describe(bench.state, last(bench, "struck_out"))
    assert said.endswith(f"relied on by run {second.number} (load {second.load}, op 10)")


def test_a_proof_of_one_load_let_no_other_run_through(bench: Bench) -> None:
    for _ in range(2):
        bench.through(bench.form(10), 10)

    assert find_dependent_runs(bench.state, proof(bench, "probed").seq) == []
    assert find_dependent_runs(bench.state, proof(bench, "measured").seq) == []
    assert [run.number for run in find_dependent_runs(bench.state, proof(bench, "first piece accepted").seq)] == [2]
    assert [run.number for run in find_dependent_runs(bench.state, proof(bench, "lot recorded").seq)] == [2]
    assert find_dependent_runs(bench.state, 1) == []


def test_a_run_that_has_not_come_to_its_start_has_not_relied_on_it(bench: Bench) -> None:
    bench.through(bench.form(10), 10)
    load = bench.form(10)
    bench.until(load, "start")
    assert find_dependent_runs(bench.state, proof(bench, "tool loaded").seq) == []

    bench.say(StartCycle(bench.run_of(load).number))

    assert [run.load for run in find_dependent_runs(bench.state, proof(bench, "tool loaded").seq)] == [load]


def test_a_confirmation_of_the_shift_serves_its_runs_until_the_shift_ends() -> None:
    bench = open_bench(start=18)
    loads = [bench.form(10), bench.form(10)]
    for op in (10, 20, 30):
        for load in loads:
            bench.through(load, op)
    first, second = bench.form(40, 4), bench.form(40, 4)
    bench.through(first, 40)
    bench.through(second, 40)

    confirmed = next(
        entry
        for entry in bench.state.entries
        if entry.body.get("gate") == "confirmed" and entry.body["key"][1] == "shift"
    )

    assert [run.load for run in find_dependent_runs(bench.state, confirmed.seq)] == [second]


def test_a_lead_holds_back_what_went_through_a_run_wherever_it_is(bench: Bench) -> None:
    bench = open_bench(start=4)
    load = bench.form(10)
    bench.through(load, 10, 20, 30)
    run = next(run for run in bench.state.runs.values() if run.op == 10)
    tray = bench.form(40, 3)
    bench.through(tray, 40)
    bench.through(bench.form(50), 50)
    assert bench.where() == {"waiting": 1, "finished": 3}

    assert bench.refused(HoldBack(run.number, "spindle was wrong"), "AA").why == "authority"
    assert bench.refused(HoldBack(9999, "spindle was wrong"), "LL").why == "unknown"
    held = bench.say(HoldBack(run.number, "spindle was wrong"), "LL")[0]

    assert bench.where() == {"hold": 4}
    conserved(bench.state)
    assert describe(bench.state, held) == f"of run {run.number}: pieces 1-4 set aside as hold: spindle was wrong"
    assert bench.refused(HoldBack(run.number, "once more"), "LL").why == "count"
    bench.say(Dispose((1, 2, 3, 4), "use as is", "measured again"), "LL")
    assert bench.where() == {"waiting": 1, "finished": 3}, "each goes back to where it was in the route"
    conserved(bench.state)


def test_pieces_mixed_loose_since_are_all_held_back(bench: Bench) -> None:
    """On a tote the pieces lose their identity: any of its eight may be one of the four."""
    loads = [bench.form(10), bench.form(10)]
    for op in (10, 20, 30):
        for load in loads:
            bench.through(load, op)
    for _ in range(2):
        bench.through(bench.form(40), 40)
    bench.through(bench.form(50), 50)
    run = next(run for run in bench.state.runs.values() if run.op == 10)

    assert len(run.pieces) == 4
    assert find_suspect_pieces(bench.state, run) == tuple(range(1, 9))


def test_what_is_counted_and_not_released_is_released_before_it_is_held_back(bench: Bench) -> None:
    load = counted(bench)

    refused = bench.refused(HoldBack(bench.run_of(load).number, "doubtful"), "LL")

    assert refused.wrong == f"load {load} is counted but not released"


def test_a_strike_is_itself_struck_and_the_entry_counts_again(bench: Bench) -> None:
    load = counted(bench, MarkedPieces("deep", ("A1",)))
    before = without_history(bench.state)
    strike(bench, last(bench, "counted"))
    assert bench.current(load).key == "count"

    strike(bench, last(bench, "struck_out"))

    assert without_history(bench.state) == before
    assert bench.state.places[1].where == "scrap"


def test_pieces_that_were_not_started_after_all_are_started_again(bench: Bench) -> None:
    """Their strike is struck: there are more pieces without it than with it."""
    bench.say(StartPieces(2))
    strike(bench, last(bench, "pieces_started"))
    assert bench.state.started == 8

    strike(bench, last(bench, "struck_out"))

    assert bench.state.started == 10


def test_a_strike_that_can_no_longer_be_taken_back_is_refused(bench: Bench) -> None:
    load = counted(bench, MarkedPieces("deep", ("A1",)))
    strike(bench, last(bench, "counted"))
    undo = last(bench, "struck_out")
    bench.say(CountRun(bench.run_of(load).number, 4))

    assert bench.refused(StrikeOut(undo.seq, "was right after all")).why == "later entries"


def test_struck_once_is_enough_and_a_reason_is_needed(bench: Bench) -> None:
    counted(bench)
    seq = last(bench, "counted").seq
    assert bench.refused(StrikeOut(seq, "  ")).why == "input"
    assert bench.refused(StrikeOut(10_000, "entered wrong")).why == "unknown"
    strike(bench, last(bench, "counted"))

    assert f"struck out already by entry {seq + 1}" in bench.refused(StrikeOut(seq, "entered wrong")).wrong


def test_striking_out_somebody_elses_entry_needs_a_lead(bench: Bench) -> None:
    counted(bench)

    assert bench.refused(StrikeOut(last(bench, "counted").seq, "entered wrong"), by="BB").why == "authority"
    strike(bench, last(bench, "counted"), by="LL")


def test_signed_kinds_are_locked(bench: Bench) -> None:
    """HND-29: accepted handovers are locked; later remarks are added, not edited in."""
    load = bench.form(10)
    bench.until(load, "end")
    bench.say(OfferHandover("as usual"))
    bench.say(ReadHandoverPage(), by="BB")
    question = bench.say(AskQuestion("what runs?"), by="BB")[0].seq
    bench.say(CountSubjectPieces("load 1", 3), by="BB")
    [difference] = bench.state.list_open_differences()
    bench.say(ResolveDifference(difference.seq, "one lay in the tray"), by="LL")
    for subject in list_count_subjects(bench.state):
        bench.say(CountSubjectPieces(subject.key, subject.expected), by="BB")
    for line in list_safety_lines(bench.state, bench.clock()):
        bench.say(ReadBackLine(line.key), by="BB")
    bench.say(AcceptHandover(talked="face to face"), by="BB")
    bench.say(AnswerQuestion(question, "load 1, the groove"))

    handed_over = {
        *("handover_offered", "page_read", "carrier_counted", "difference_resolved", "read_back"),
        *("handover_accepted", "question_answered"),
    }
    signed = [entry for entry in bench.state.entries if entry.kind in handed_over]
    assert {entry.kind for entry in signed} == handed_over
    for entry in (bench.state.entries[0], *signed):
        for who in (entry.by, "LL"):
            refused = bench.refused(StrikeOut(entry.seq, "entered wrong"), by=who)
            assert "locked" in refused.wrong, entry.kind
            assert refused.remedy == "add a note instead"


def test_pieces_in_work_are_not_un_started(bench: Bench) -> None:
    bench.say(StartPieces(2))
    strike(bench, last(bench, "pieces_started"))
    assert bench.state.started == 8
    bench.form(10)

    first = next(entry for entry in bench.state.entries if entry.kind == "pieces_started")
    assert bench.refused(StrikeOut(first.seq, "entered wrong")).why == "later entries"


def test_a_disposition_and_a_disturbance_are_taken_back(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "start")
    bench.say(Disturb("mill", "power lost"))
    assert bench.current(load).key == "program loaded 1"
    strike(bench, last(bench, "disturbed"))
    assert bench.current(load).key == "start"

    bench.say(SetPiecesAside("hold", "odd", load=load, positions=("A1",)))
    bench.say(Dispose((1,), "scrap", "cracked"), by="LL")
    strike(bench, last(bench, "disposed"), by="LL")
    assert bench.state.places[1].where == "hold"
    strike(bench, last(bench, "set_aside"), by="LL")
    assert bench.run_of(load).pieces == (1, 2, 3, 4)


def test_a_struck_waiver_leaves_its_gate_open(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "probed 1")
    bench.say(Waive(bench.run_of(load).number, "probed 1", "set by indicator"), by="LL")
    bench.until(load, "end")
    waived = last(bench, "waived")
    bench.say(CloseWaiver(waived.seq, "probed since"), by="LL")
    assert bench.refused(StrikeOut(waived.seq, "entered wrong"), by="LL").why == "later entries"
    strike(bench, last(bench, "waiver_closed"), by="LL")

    strike(bench, waived, by="LL")

    assert bench.current(load).key == "probed 1"


def test_a_strike_does_not_put_two_loads_on_one_machine(bench: Bench) -> None:
    one, two = counted(bench), bench.form(10)
    bench.hand().work(one)
    release = last(bench, "released")
    bench.begin(two)

    refused = bench.refused(StrikeOut(release.seq, "not released yet"))

    assert refused.why == "later entries"
    assert "mill is taken by another load" in refused.wrong


def test_a_strike_does_not_take_what_another_batch_holds_by_now(bench: Bench) -> None:
    load = bench.form(10)
    bench.through(load, 10, 20, 30)
    release = last(bench, "released")

    bench.elsewhere = OtherBatches(carriers={("pallet", 1): "B0002"})
    assert "but B0002 has it" in bench.refused(StrikeOut(release.seq, "still on it")).wrong
    bench.elsewhere = OtherBatches({"mill": ("load 1 of B0002",)})
    assert "Mill busy: load 1 of B0002" in bench.refused(StrikeOut(release.seq, "still on it")).wrong
    bench.elsewhere = OtherBatches()
    strike(bench, release)


def test_a_struck_note_touches_nothing_else(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "start")
    bench.say(Note("looks odd"))
    strike(bench, last(bench, "noted"))

    assert bench.current(load).key == "start"
