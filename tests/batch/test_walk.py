"""The station walk: order, one current line, cautions before their step, breaks, skips and what is reopened."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest

from floor.batch.command import Command
from floor.batch.corrections.commands import Note, StrikeOut
from floor.batch.counting.commands import CountRun
from floor.batch.gates.commands import Prove, Waive
from floor.batch.handover.commands import (
    AcceptHandover,
    CountSubjectPieces,
    OfferHandover,
    ReadBackLine,
    ReadHandoverPage,
)
from floor.batch.handover.page import list_count_subjects, list_safety_lines
from floor.batch.walk.clocks import compute_planned_end
from floor.batch.walk.commands import BeginRun, DoStep, EndCycle, Pause, ReadCautions, Release, SkipStep, StartCycle
from floor.batch.walk.lines import PHASE_TITLES, find_phase_title
from floor.batch.walk.long_breaks import LONG_BREAK
from floor.checklist.operation import Do
from floor.entry import Entry
from tests.batch.factory import Bench, edited, open_bench, thermal_break


@pytest.fixture
def bench() -> Bench:
    return open_bench()


def at(bench: Bench, key: str) -> int:
    load = bench.form(10)
    bench.until(load, key)
    return load


def handed_over(bench: Bench, taker: str = "BB") -> None:
    bench.say(OfferHandover("as usual"), by=bench.state.responsible)
    for subject in list_count_subjects(bench.state):
        bench.say(CountSubjectPieces(subject.key, subject.expected), by=taker)
    for line in list_safety_lines(bench.state, bench.clock()):
        bench.say(ReadBackLine(line.key), by=taker)
    bench.say(ReadHandoverPage(), by=taker)
    bench.say(AcceptHandover(talked="face to face"), by=taker)


def test_the_lines_stand_in_the_order_of_the_work(bench: Bench) -> None:
    load = bench.form(10)
    bench.begin(load)
    lines = bench.walk(load).lines

    phases = [list(PHASE_TITLES).index(line.phase) for line in lines]
    assert phases == sorted(phases)
    assert [line.key for line in lines if line.kind not in ("gate", "do")] == [
        "caution load step 2",
        "start",
        "end",
        "caution after step 1",
        "count",
        "release",
    ]
    assert len({line.key for line in lines}) == len(lines)


def test_exactly_one_line_is_current_all_the_way(bench: Bench) -> None:
    """CBP-01, CBP-03: one step is marked current, and nothing after it is marked done by passing it."""
    load = bench.form(10)
    bench.begin(load)
    keys = [line.key for line in bench.walk(load).lines]
    visited = []
    while bench.state.loads[load].run is not None:
        walked = bench.walk(load)
        current = [line for line in walked.lines if line.state in ("now", "waits", "blocked", "reopened")]
        assert current == [walked.current]
        assert all(line.is_satisfied for line in walked.lines[: walked.place])
        ahead = [line for line in walked.lines[walked.place + 1 :] if line.kind != "caution"]
        assert not any(line.is_satisfied for line in ahead)
        visited.append(walked.current.key)  # type: ignore[union-attr]
        bench.hand().work(load, stop=lambda line: line.key != visited[-1])
    assert visited == [key for key in keys if key != "caution after step 1"], "that caution was read at the door"
    assert bench.state.loads[load].at == 20


def test_the_shipped_route_is_walked_in_order_too() -> None:
    bench = open_bench(thermal_break, start=16)
    load = bench.form(10)
    bench.begin(load)
    keys = [line.key for line in bench.walk(load).lines]

    bench.through(load)

    walked = [entry.body["line"] for entry in bench.state.entries if entry.kind in ("step_done", "proved")]
    events = ("start", "end", "count", "release")
    assert walked == [key for key in keys if not key.startswith("caution") and key not in events]


@pytest.mark.parametrize(
    "key", ["load step 2", "confirmed 1", "caution load step 2", "start", "end", "count", "release"]
)
def test_nothing_is_done_ahead_of_its_turn(bench: Bench, key: str) -> None:
    load = at(bench, "load step 1")
    run = bench.run_of(load).number
    refused = bench.refused({
        "load step 2": DoStep(run, key),
        "confirmed 1": Prove(run, key),
        "caution load step 2": ReadCautions(run, key),
        "start": StartCycle(run),
        "end": EndCycle(run),
        "count": CountRun(run, 4),
        "release": Release(run),
    }[key])  # fmt: skip
    assert refused.why == ("gate" if key in ("start", "end", "count", "release") else "not now")
    assert refused.remedy == "first: Clamp the pallet"


def test_a_line_that_is_done_says_so_instead_of_being_done_twice(bench: Bench) -> None:
    load = at(bench, "confirmed 1")

    refused = bench.refused(DoStep(bench.run_of(load).number, "load step 1"))

    assert refused.wrong.startswith("Clamp the pallet: done already (AA")
    assert "strike it out" in refused.remedy


def test_what_is_not_there_is_refused(bench: Bench) -> None:
    load = at(bench, "load step 1")
    run = bench.run_of(load).number

    assert bench.refused(DoStep(run, "nowhere")).why == "unknown"
    assert bench.refused(DoStep(99, "load step 1")).why == "unknown"
    assert bench.refused(BeginRun(load)).why == "not now"
    assert bench.refused(BeginRun(99)).why == "unknown"
    assert bench.refused(Prove(run, "nowhere")).why == bench.refused(Prove(run, "load step 1")).why == "unknown"


def test_a_gate_is_not_ticked_and_a_caution_line_is_no_step(bench: Bench) -> None:
    load = at(bench, "probed 1")
    assert bench.refused(DoStep(bench.run_of(load).number, "probed 1")).why == "input"
    bench.until(load, "caution load step 2")
    assert bench.refused(DoStep(bench.run_of(load).number, "caution load step 2")).why == "input"


# --- skipping


def test_a_step_is_skipped_with_a_reason_and_shown_as_skipped(bench: Bench) -> None:
    """CBP-36: none is silent."""
    load = at(bench, "load step 1")
    run = bench.run_of(load).number
    assert bench.refused(SkipStep(run, "load step 1", "")).why == "input"

    bench.say(SkipStep(run, "load step 1", "clamped since yesterday"))

    line = bench.line(load, "load step 1")
    assert line.state == "skipped"
    assert "clamped since yesterday" in line.evidence


def test_a_mix_is_done_while_it_is_good_and_to_do_again_once_it_is_not(bench: Bench) -> None:
    """The lacquer's pot life is 40 min (the part's file)."""
    load = bench.form(10)
    bench.through(load)
    bench.until(load, "coat")
    mixed = bench.clock().at
    bench.clock.until(mixed + timedelta(minutes=39))
    assert (bench.line(load, "mix").state, bench.line(load, "mix").evidence[:2]) == ("done", "AA")
    bench.clock.until(mixed + timedelta(minutes=41))
    assert bench.current(load).key == "mix"


def test_what_the_checklist_wants_done_is_not_skipped_nor_is_a_gate(bench: Bench) -> None:
    load = at(bench, "confirmed 1")
    assert bench.refused(SkipStep(bench.run_of(load).number, "confirmed 1", "no time")).why == "input"
    bench.through(load)
    bench.until(load, "mix")
    refused = bench.refused(SkipStep(bench.run_of(load).number, "mix", "no time"))
    assert (refused.why, refused.signs) == ("authority", ""), "nor by a lead"


# --- cautions


def read_entries(bench: Bench) -> list[Entry]:
    return [entry for entry in bench.state.entries if entry.kind == "cautions_read"]


def test_a_caution_stands_before_its_step_and_is_read_before_it(bench: Bench) -> None:
    """CBP-25: on screen before and together with the step it concerns."""
    load = at(bench, "caution load step 2")
    walked = bench.walk(load)
    assert walked.lines[walked.place + 1].key == "load step 2"
    assert [caution.word for _, caution in walked.lines[walked.place].cautions] == ["WARNING"]

    assert bench.refused(DoStep(bench.run_of(load).number, "load step 2")).why == "not now"
    bench.say(ReadCautions(bench.run_of(load).number, "caution load step 2"))
    assert bench.current(load).key == "load step 2"


def test_a_caution_is_read_once_for_each_operation_person_and_shift(bench: Bench) -> None:
    one, two = bench.form(10), bench.form(10)
    bench.through(one, 10)
    assert len(read_entries(bench)) == 1, "the same caution at the next step and the next load is not asked again"
    bench.until(two, "load step 2")
    assert len(read_entries(bench)) == 1

    assert bench.current(two, by="BB").key == "caution load step 2", "another person reads for themselves"
    bench.through(two, 10)
    before = len(read_entries(bench))
    bench.through(one, 20, 30)
    assert len(read_entries(bench)) == before + 1, "another operation, another reading"


def test_a_caution_is_read_again_after_a_handover(bench: Bench) -> None:
    load = at(bench, "load step 2")
    handed_over(bench)

    assert bench.current(load, by="AA").key == "caution load step 2"
    assert bench.current(load, by="BB").key == "caution load step 2"


def test_a_caution_is_read_again_after_a_long_break_for_every_line_still_ahead(bench: Bench) -> None:
    """CBP-44: after a break longer than the limit, the last safety-relevant step is confirmed again."""
    load = at(bench, "load step 2")
    bench.clock.forward(LONG_BREAK.total_seconds())
    assert bench.current(load).key == "load step 2"
    bench.clock.forward(1)
    assert bench.current(load).key == "confirmed 1", "a safety check is made again too"
    bench.prove(load, "confirmed 1")
    assert bench.current(load).key == "caution load step 2"

    bench.say(Note("back again", run=bench.run_of(load).number))
    assert bench.current(load).key == "caution load step 2", "a note does not stand for reading"
    bench.say(ReadCautions(bench.run_of(load).number, "caution load step 2"))
    assert bench.current(load).key == "load step 2"


def test_a_cycle_that_runs_by_itself_is_no_break(bench: Bench) -> None:
    load = at(bench, "cycle step 1")
    bench.clock.forward(5 * 3600)
    bench.until(load, "after step 1")

    assert len(read_entries(bench)) == 1


def test_a_caution_is_read_again_after_half_a_day(bench: Bench) -> None:
    one, two = bench.form(10), bench.form(10)
    bench.through(one, 10)
    bench.clock.forward(12 * 3600 + 1)
    bench.until(two, "caution load step 2")

    assert bench.current(two).state == "now"


# --- place keeping


def test_a_pause_keeps_the_place_and_says_why_until_somebody_goes_on(bench: Bench) -> None:
    """CBP-41, CBP-42: interrupting keeps the place, with one short reason."""
    load = at(bench, "load step 1")
    assert bench.refused(Pause(bench.run_of(load).number, "")).why == "input"
    bench.say(Pause(bench.run_of(load).number, "phone"))

    assert bench.run_of(load).paused == "phone"
    assert bench.current(load).key == "load step 1"
    bench.say(DoStep(bench.run_of(load).number, "load step 1"))
    assert bench.run_of(load).paused == ""


def test_several_loads_keep_their_places_at_once(bench: Bench) -> None:
    one, two = bench.form(10), bench.form(10)
    bench.through(one, 10)
    bench.until(one, "coat")
    bench.until(two, "probed 1")

    assert (bench.current(one).key, bench.current(two).key) == ("coat", "probed 1")


def test_a_struck_step_is_reopened_where_it_stands(bench: Bench) -> None:
    """CBP-39: undoing a "done" reopens the step."""
    load = at(bench, "start")
    entry = next(e for e in bench.state.entries if e.body.get("line") == "load step 1")

    bench.say(StrikeOut(entry.seq, "not clamped yet"))

    assert bench.current(load).key == "load step 1"
    assert bench.current(load).state == "reopened"
    bench.say(DoStep(bench.run_of(load).number, "load step 1"))
    assert bench.current(load).key == "start"


def test_a_struck_proof_reopens_its_gate_even_after_the_start(bench: Bench) -> None:
    load = at(bench, "end")
    entry = next(e for e in bench.state.entries if e.body.get("line") == "probed 1")

    bench.say(StrikeOut(entry.seq, "wrong offset page"))

    assert bench.current(load).key == "probed 1"
    assert bench.current(load).state == "reopened"
    bench.prove(load, "probed 1", X=0, Z=0)
    assert bench.current(load).key == "end"


def test_a_struck_set_up_proof_reopens_every_open_run_that_stands_on_it(bench: Bench) -> None:
    one, two = bench.form(10), bench.form(10)
    bench.through(one, 10)
    bench.until(two, "end")
    entry = next(e for e in bench.state.entries if e.body.get("line") == "tool loaded 1")

    bench.say(StrikeOut(entry.seq, "read the wrong holder"))

    assert bench.current(two).key == "tool loaded 1"
    assert bench.current(two).state == "reopened"


def test_the_walk_counts_steps_not_cautions(bench: Bench) -> None:
    load = bench.form(10)
    bench.begin(load)
    walked = bench.walk(load)

    assert walked.steps == 17
    assert walked.step == 1
    assert {line.key for line in walked.gates} >= {"probed 1", "tool loaded 1"}
    assert all(not isinstance(line.step, Do) for line in walked.gates)


def test_nothing_comes_after_a_cycle_where_there_is_none(bench: Bench) -> None:
    with_cycle, without = (
        next(one for one in bench.state.checklist.operations if one.cycle == cycle) for cycle in (True, False)
    )
    assert (find_phase_title(with_cycle, "after"), find_phase_title(without, "after")) == (
        "After the cycle",
        "Afterwards",
    )
    assert find_phase_title(without, "load") == find_phase_title(with_cycle, "load")


def test_a_caution_is_read_and_not_skipped() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "caution load step 2")
    assert bench.refused(SkipStep(bench.run_of(load).number, "caution load step 2", "no time")).why == "input"


def test_a_caution_before_a_gate_is_read_and_neither_proved_nor_waived() -> None:
    """A value entered at the caution would pass for the proof of the gate, and the caution for read."""
    bench = open_bench(lambda: edited(("tool = 1 }", 'tool = 1, cautions = ["cutter"] }')))
    load = bench.form(10)
    caution = bench.until(load, "caution tool loaded 1")
    run = bench.run_of(load).number

    assert caution.gate is None
    assert caution not in bench.walk(load).gates
    assert bench.refused(Prove(run, caution.key, {"tool": 1, "length": 100.0})).why == "unknown"
    assert bench.refused(Waive(run, caution.key, "in a hurry"), by="LL").why == "input"
    bench.say(ReadCautions(run, caution.key))
    assert bench.current(load).key == "tool loaded 1"


def cautioned(field: str) -> Bench:
    """The test part with a caution on a line of op 10 that is no step."""
    return open_bench(lambda: edited(('program = "KB7-10 A"\n', f'program = "KB7-10 A"\n{field} = ["hot"]\n')))


@pytest.mark.parametrize(
    ("field", "line", "command"),
    [("start_cautions", "start", StartCycle), ("count_cautions", "count", lambda run: CountRun(run, 4, ()))],
)
def test_a_caution_stands_before_the_start_or_the_count(
    field: str, line: str, command: Callable[[int], Command]
) -> None:
    bench = cautioned(field)
    load = bench.form(10)
    said = bench.until(load, f"caution {line}")
    run = bench.run_of(load).number

    assert said.title == f"Read: CAUTION. Then: {bench.line(load, line).title}"
    assert [name for name, _ in bench.line(load, line).cautions] == ["hot"], "it stays in sight with its line"
    assert bench.refused(command(run)).why == "not now"
    bench.say(ReadCautions(run, said.key))
    bench.say(command(run))


def test_a_caution_on_the_end_is_read_once_the_cycle_is_over() -> None:
    """What is read hours before the oven is opened is forgotten by then."""
    bench = cautioned("end_cautions")
    load = bench.form(10)
    bench.until(load, "end", wait=False)
    run = bench.run_of(load)
    assert bench.walk(load).line("caution end") is None
    assert [name for name, _ in bench.line(load, "end").cautions] == ["hot"]

    ends = compute_planned_end(bench.state, run, bench.clock())
    assert ends is not None
    bench.clock.until(ends)
    assert bench.current(load).key == "caution end"
    assert bench.refused(EndCycle(run.number)).why == "not now"
    bench.say(ReadCautions(run.number, "caution end"))
    bench.say(EndCycle(run.number))


def test_a_simulated_order_reads_the_cautions_of_every_line() -> None:
    bench = cautioned("end_cautions")
    load = bench.form(10)
    bench.through(load, 10)
    read = [entry.body["line"] for entry in bench.state.entries if entry.kind == "cautions_read"]
    assert read.count("end") == 1


def test_a_caution_that_is_read_already_is_told_so_and_what_comes_next() -> None:
    """Two terminals confirm it at once: there is nothing to strike out about a reading."""
    bench = open_bench()
    load = bench.form(10)
    caution = bench.until(load, "caution load step 2")
    command = ReadCautions(bench.run_of(load).number, caution.key)
    bench.say(command)
    refused = bench.refused(command)
    assert refused.wrong == f"{caution.title}: read already"
    assert refused.remedy == f"next: {bench.current(load).title}"


def test_the_end_of_a_cycle_stands_with_who_confirmed_it() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "count")
    assert bench.line(load, "end").evidence.startswith("AA ")


@pytest.mark.parametrize("left", [60.0, 1140.0], ids=["a minute early", "nearly all of it early"])
def test_a_cycle_ended_before_its_time_is_ended_with_its_cautions_read(left: float) -> None:
    """No caution line stands before the end yet: whoever opens it early still reads what is hot."""
    bench = cautioned("end_cautions")
    load = bench.form(10)
    bench.until(load, "end", wait=False)
    run = bench.run_of(load)
    ends = compute_planned_end(bench.state, run, bench.clock())
    assert ends is not None
    bench.clock.until(ends - timedelta(seconds=left))
    assert bench.current(load).key == "end"

    refused = bench.refused(EndCycle(run.number))
    assert (refused.why, refused.remedy) == ("not now", "read them first")
    said = bench.say(EndCycle(run.number, cautions_read=True))

    assert [(entry.kind, entry.body.get("cautions")) for entry in said] == [
        ("cautions_read", ["hot"]),
        ("cycle_ended", None),
    ]
    assert bench.line(load, "caution end").state == "done"


def test_what_was_read_on_this_shift_is_not_read_again_at_the_end() -> None:
    bench = open_bench(
        lambda: edited(
            ('program = "KB7-10 A"\n', 'program = "KB7-10 A"\nstart_cautions = ["hot"]\nend_cautions = ["hot"]\n')
        )
    )
    load = bench.form(10)
    bench.until(load, "end", wait=False)
    assert [entry.kind for entry in bench.say(EndCycle(bench.run_of(load).number))] == ["cycle_ended"]


@pytest.mark.parametrize("key", ["start", "end", "count", "release"])
def test_what_is_neither_skipped_nor_waived_does_not_send_from_one_key_to_the_other(key: str) -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, key)
    run = bench.run_of(load).number
    for command in (SkipStep(run, key, "in a hurry"), Waive(run, key, "in a hurry")):
        assert bench.refused(command, by="LL").remedy == "do it, or set its pieces aside on hold (m)"


def test_a_gate_that_nobody_waives_is_not_said_to_be_waived_by_a_lead() -> None:
    bench = open_bench()
    load = bench.form(10)
    for key, said in (("program loaded 1", "a lead may waive it (w)"), ("confirmed 1", "do it, or set its pieces")):
        bench.until(load, key)
        assert bench.refused(SkipStep(bench.run_of(load).number, key, "in a hurry")).remedy.startswith(said)
