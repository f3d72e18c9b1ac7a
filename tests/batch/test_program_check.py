"""The program's file at its gate: what is expected of it, what keeps the gate open, what a change of it voids."""

from __future__ import annotations

from dataclasses import replace

import pytest

from floor.batch.corrections.commands import StrikeOut
from floor.batch.corrections.from_paper import TranscribeAct
from floor.batch.corrections.unproved_work import find_unproved_work
from floor.batch.describe import describe
from floor.batch.events import ProgramFinding, ProgramOffset
from floor.batch.gates.commands import Prove, Waive
from floor.batch.gates.program_check import MOST_FINDINGS, ReadProgram
from floor.batch.gates.program_findings import HARMLESS, describe_program_finding, list_program_faults
from floor.batch.gates.setup_sheet import build_setup_card
from floor.batch.stations.commands import Disturb
from floor.batch.walk.stop_cycle import StopCycle
from floor.checklist.expected_program import expect_program
from floor.checklist.model import Checklist
from floor.evidence.nc.dialect import Dialect
from floor.evidence.nc.finding_kinds import Kind
from tests.batch.factory import ONE_CYCLE, TWO_UP, Bench, edited, open_bench

LINE = "program loaded 1"
FILE = (
    ('program = "KB7-10 A"\n', 'program = "KB7-10 A"\nprogram_file = "O0710.nc"\n'),
    ('offsets = ["G54"]\n', 'offsets = ["G54"]\nprogram_folder = "programs"\n'),
)
FOLDER_TWO_UP = (("runs_at_once = 2\n", 'runs_at_once = 2\nprogram_folder = "programs"\n'),)
FAULT = ProgramFinding(kind="no feed", line=20)
WRONG = ProgramFinding(kind="wrong offset", line=14, subject="G55", values=("G54",))
CHANGED = ProgramFinding(kind="file changed", line=0, values=("b" * 64, "a" * 64))


def with_file(*more: tuple[str, str]) -> Checklist:
    return edited(*FILE, *more)


@pytest.fixture
def bench() -> Bench:
    return open_bench(with_file)


def read(bench: Bench, load: int, *findings: ProgramFinding, sha: str = "a", line: str = LINE) -> ReadProgram:
    run = bench.run_of(load).number
    return ReadProgram(run, line, "O0710.nc", sha * 64, 200, 1080.0, findings)


def test_the_program_is_proved_only_after_its_file_is_read(bench: Bench) -> None:
    load = bench.form(10)
    line = bench.until(load, LINE)
    assert (line.state, line.verdict.reads, line.verdict.why) == ("now", True, "O0710.nc has not been read")  # type: ignore[union-attr]
    run = bench.run_of(load).number
    assert bench.refused(Prove(run, LINE, {"program": "KB7-10 A"})).why == "gate"

    bench.say(read(bench, load))

    assert bench.line(load, LINE).verdict.clear == "load KB7-10 A and enter what the control shows"  # type: ignore[union-attr]
    bench.prove(load, LINE, program="KB7-10 A")
    assert bench.line(load, LINE).evidence.endswith(" · O0710.nc aaaaaaaa")
    assert bench.current(load).key == "tool loaded 1"


def test_a_fault_keeps_it_open_until_the_file_is_mended_or_a_lead_waives_it(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, LINE)
    entry = bench.say(read(bench, load, WRONG))[0]
    line = bench.current(load)
    assert line.verdict is not None
    assert (line.key, line.state, line.verdict.why) == (LINE, "blocked", "1 fault in O0710.nc")
    card = build_setup_card(bench.state, bench.run_of(load), line)
    assert card is not None
    assert card.facts[0] == ("fault", "line 14: the program uses G55; the parts are in G54")
    assert card.brief[0] == "! line 14: the program uses G55; the parts are in G54"
    assert dict(card.facts)["time"] == "18 min in the file, 20 min in the checklist"
    assert "line 14" in describe(bench.state, entry)
    assert bench.refused(Prove(bench.run_of(load).number, LINE, {"program": "KB7-10 A"})).why == "gate"

    bench.say(read(bench, load, sha="b"))
    assert bench.line(load, LINE).verdict.status == "ask"  # type: ignore[union-attr]
    bench.say(read(bench, load, WRONG, sha="c"))
    bench.say(Waive(bench.run_of(load).number, LINE, "two pallets on one bed, checked by hand"), by="LL")
    assert bench.line(load, LINE).state == "waived"


def test_how_the_file_is_written_keeps_nothing_open(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, LINE)
    bench.say(read(bench, load, ProgramFinding(kind="byte order mark", line=1)))
    line = bench.current(load)
    assert line.verdict is not None
    assert line.verdict.status == "ask"
    card = build_setup_card(bench.state, bench.run_of(load), line)
    assert card is not None
    assert "byte order mark" in dict(card.facts)["note"]


def test_what_is_harmless_is_a_kind_of_finding() -> None:
    assert set(Kind.__args__) >= HARMLESS  # type: ignore[attr-defined]


def test_another_file_is_read_back_and_its_first_piece_accepted_again(bench: Bench) -> None:
    first = bench.form(10)
    bench.until(first, LINE)
    bench.say(read(bench, first))
    bench.through(first)
    accepted = [key for key in bench.state.proofs if key.gate == "first piece accepted"]
    assert accepted
    second = bench.form(10)
    bench.until(second, "load step 1")
    assert bench.line(second, LINE).state == "done", "the same set-up"

    bench.say(read(bench, second))
    assert [key for key in bench.state.proofs if key.gate == "first piece accepted"] == accepted, "the same file"
    bench.say(read(bench, second, CHANGED, sha="b"))

    line = bench.current(second)
    assert line.key == LINE
    assert line.verdict is not None
    assert "O0710.nc has changed" in line.verdict.why
    assert not [key for key in bench.state.proofs if key.gate == "first piece accepted"]


def test_it_is_read_again_after_a_power_loss_only_where_it_has_changed(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, LINE)
    bench.say(read(bench, load))
    bench.until(load, "load step 1")
    bench.say(Disturb("mill", "power lost"))
    line = bench.line(load, LINE)
    assert line.verdict is not None
    assert (line.verdict.status, line.verdict.reads) == ("ask", False)


def test_it_is_read_at_its_gate_and_before_the_start(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, LINE)
    assert bench.refused(read(bench, load, line="tool loaded 1")).why == "unknown"
    bench.say(read(bench, load))
    bench.until(load, "end", wait=False)
    refused = bench.refused(read(bench, load))
    assert (refused.why, refused.remedy) == ("not now", "read it before the next start")


def test_a_file_that_changed_while_the_cycle_stood_is_read_before_it_goes_on(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, LINE)
    bench.say(read(bench, load))
    bench.until(load, "end", wait=False)
    bench.say(StopCycle(bench.run_of(load).number, "stopped"))
    bench.say(read(bench, load, CHANGED, sha="b"))
    line = bench.current(load)
    assert (line.key, line.state) == (LINE, "reopened")
    bench.prove(load, LINE, program="KB7-10 A")
    assert bench.current(load).key == "start"


def test_a_cycle_under_way_goes_on_while_another_load_reads_what_is_new() -> None:
    bench = open_bench(two_up)
    first, second = bench.form(10), bench.form(10)
    bench.until(first, LINE)
    bench.say(read(bench, first))
    bench.until(first, "end", wait=False)
    bench.until(second, "load step 1")
    bench.say(read(bench, second, FAULT, CHANGED, sha="b"))
    assert bench.current(second).key == LINE
    assert bench.current(first).key in ("cycle step 1", "end")
    assert bench.line(first, LINE).state == "done"


def test_a_reading_that_was_struck_out_is_read_again_while_the_cycle_runs(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, LINE)
    entry = bench.say(read(bench, load))[0]
    bench.until(load, "end", wait=False)
    bench.say(StrikeOut(entry.seq, "another machine's file"), by="LL")
    assert bench.current(load).key == LINE
    bench.say(read(bench, load))
    assert bench.current(load).key != LINE


def test_a_file_that_is_gone_at_the_start_opens_the_gate_that_a_lead_may_waive(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, LINE)
    bench.say(read(bench, load))
    bench.until(load, "start")
    run = bench.run_of(load)
    gone = ReadProgram(run.number, LINE, "O0710.nc", "", 0, 0.0, (ProgramFinding(kind="file not read", line=0),))
    bench.say(gone)
    line = bench.current(load)
    assert (line.key, line.state) == (LINE, "blocked")
    bench.say(read(bench, load))
    assert bench.current(load).key == "start", "the same file is there again: nothing is lost"
    bench.say(gone)
    bench.say(Waive(run.number, LINE, "checked against the paper copy"), by="LL")
    assert bench.current(load).key == "start"


def test_a_stopped_cycle_does_not_go_on_with_a_file_that_cannot_be_read(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, LINE)
    bench.say(read(bench, load))
    bench.until(load, "end", wait=False)
    run = bench.run_of(load).number
    bench.say(StopCycle(run, "stopped"))
    why = ProgramFinding(kind="file not read", line=0, subject="gone")
    entry = bench.say(ReadProgram(run, LINE, "O0710.nc", "", 0, 0.0, (why,)))[0]
    assert (bench.current(load).key, bench.current(load).state) == (LINE, "blocked")
    assert describe(bench.state, entry) == "load 1, op 10: O0710.nc not read: gone"
    assert bench.state.programs[bench.run_of(load).setup].seconds == 1080.0, "what it was stays known"
    bench.say(Waive(run, LINE, "the control holds it"), by="LL")
    assert bench.current(load).key == "start"


def test_what_a_lead_waived_was_another_files_matter(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, LINE)
    bench.say(read(bench, load, WRONG))
    bench.say(Waive(bench.run_of(load).number, LINE, "checked by hand"), by="LL")
    bench.until(load, "start")
    bench.say(read(bench, load, FAULT, CHANGED, sha="b"))
    assert (bench.current(load).key, bench.current(load).state) == (LINE, "blocked")


def test_notes_left_out_are_no_faults(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, LINE)
    notes = [ProgramFinding(kind="control character", line=n, subject=str(n)) for n in range(MOST_FINDINGS + 5)]
    bench.say(read(bench, load, *notes))
    assert bench.line(load, LINE).verdict.status == "ask"  # type: ignore[union-attr]
    bench.say(read(bench, load, *[replace(FAULT, line=n) for n in range(MOST_FINDINGS + 5)], *notes))
    assert bench.line(load, LINE).verdict.why == f"{MOST_FINDINGS + 5} faults in O0710.nc"  # type: ignore[union-attr]


def test_faults_left_out_by_the_reader_block_the_gate_too(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, LINE)
    bench.say(replace(read(bench, load), left_out=3))
    assert bench.line(load, LINE).verdict.why == "3 faults in O0710.nc"  # type: ignore[union-attr]


def two_up() -> Checklist:
    return edited(*TWO_UP, *FILE[:1], *FOLDER_TWO_UP)


def works_in(bench: Bench, load: int, *offsets: str) -> ReadProgram:
    placed = tuple(ProgramOffset(offset=one, line=n) for n, one in enumerate(offsets, 4))
    return replace(read(bench, load), offsets=placed)


def faults(bench: Bench, load: int) -> list[tuple[str, str]]:
    return [(one.kind, one.subject) for one in list_program_faults(bench.state, bench.run_of(load))]


def test_the_next_carrier_of_a_set_up_does_not_go_by_the_offset_of_the_one_before() -> None:
    bench = open_bench(two_up)
    first, second = bench.form(10), bench.form(10)
    bench.until(first, LINE)
    bench.say(works_in(bench, first, "G54"))
    assert faults(bench, first) == []
    bench.begin(second)
    assert faults(bench, second) == [("wrong offset", "G54")]
    assert bench.line(second, LINE).verdict.status == "blocked"  # type: ignore[union-attr]
    assert faults(bench, first) == []


def test_one_program_for_two_carriers_works_in_the_offsets_of_both() -> None:
    bench = open_bench(lambda: edited(*ONE_CYCLE, *FILE[:1], *FOLDER_TWO_UP))
    first, second = bench.form(10), bench.form(10)
    bench.until(first, LINE)
    bench.say(works_in(bench, first, "G54", "G55"))
    assert faults(bench, first) == [("wrong offset", "G55")], "nothing sits there yet"
    bench.begin(second)
    assert (faults(bench, first), faults(bench, second)) == ([], [])
    bench.say(works_in(bench, first, "G54"))
    assert faults(bench, first) == faults(bench, second) == [("offset not called", "G55")]
    bench.say(works_in(bench, first, "G54", "G55", "unknown"))
    assert faults(bench, second) == [("offset not known", "")]


def test_what_a_program_says_is_kept_short_and_clean(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, LINE)
    found = [ProgramFinding(kind="byte order mark", line=1)]
    found += [ProgramFinding(kind="bad word", line=n, subject="\x1b[2J" + "w" * 500) for n in range(1, 300)]
    bench.say(replace(read(bench, load, *found), left_out=4))
    check = bench.state.programs[bench.run_of(load).setup]
    assert len(check.faults) == MOST_FINDINGS
    assert check.notes == ()
    assert check.left_out == 299 - MOST_FINDINGS + 4, "the note is not counted"
    assert all("\x1b" not in one.subject and len(one.subject) <= 80 for one in check.faults)
    line = bench.current(load)
    assert line.verdict is not None
    assert line.verdict.why == "303 faults in O0710.nc"
    card = build_setup_card(bench.state, bench.run_of(load), line)
    assert card is not None
    assert [said for name, said in card.facts if name == "fault"][-1].startswith("and ")


def test_a_finding_that_nobody_here_knows_is_shown_all_the_same(bench: Bench) -> None:
    strange = ProgramFinding(kind="from a newer reader", line=3, subject="G999")
    assert describe_program_finding(bench.state, strange) == "line 3: from a newer reader G999"
    damaged = ProgramFinding(kind="wrong offset", line=3)
    assert describe_program_finding(bench.state, damaged) == "line 3: wrong offset"


def test_striking_a_reading_concerns_only_what_went_by_its_program(bench: Bench) -> None:
    """A loss that a lead has decided stays decided when some reading of another line is struck out."""
    load = bench.form(10)
    bench.until(load, LINE)
    entry = bench.say(read(bench, load))[0]
    proof = bench.until(load, "load step 1") and next(
        one for one in bench.state.entries if one.kind == "proved" and one.body["line"] == "tool loaded 1"
    )
    bench.through(load)
    bench.say(StrikeOut(proof.seq, "typed for another tool"), by="LL")
    strike = bench.state.entries[-1].seq
    assert set(find_unproved_work(bench.state)) == {strike}
    bench.say(StrikeOut(entry.seq, "another machine's file"), by="LL")
    assert "tool loaded 1" in {line for _, line in find_unproved_work(bench.state)[strike].pairs}


def test_acts_from_paper_go_on_after_the_file_was_read(bench: Bench) -> None:
    """Reading a file is no act at the station: what was done an hour ago is entered after it."""
    load = bench.form(10)
    bench.until(load, LINE)
    done = bench.clock().at
    bench.clock.forward(3600)
    bench.say(read(bench, load))
    run = bench.run_of(load).number
    bench.say(TranscribeAct(Prove(run, LINE, {"program": "KB7-10 A"}), done))
    assert bench.current(load).key == "tool loaded 1"


def test_what_is_expected_follows_from_the_operation() -> None:
    checklist = with_file(
        (
            'name = "6 mm end mill"\n',
            'name = "End mill"\nspeed = "8000 rpm"\nfeed = "800 mm/min"\nplunge = "200 mm/min"\n',
        ),
        (
            'program_file = "O0710.nc"\n',
            'program_file = "O0710.nc"\nprogram_limits = { z_low = "-3.2 mm", x_low = "-1 mm", y_high = "60 mm" }\n'
            'coolant = "dry"\n',
        ),
    )
    expected = expect_program(checklist, checklist.ops[10], sha256="a" * 64)
    assert (expected.units, [*expected.carriers], expected.coolant, expected.h_rule) == (
        "inch",
        ["G54"],
        "dry",
        "H is T",
    )
    assert expected.lowest_z == pytest.approx(-3.2)
    assert (expected.travel_x, expected.travel_y) == (
        (pytest.approx(-1), 1e9),
        (-1e9, pytest.approx(60)),
    )
    assert (expected.file_name, expected.sha256) == ("O0710.nc", "a" * 64)
    assert expected.tools is not None
    mill, drill = expected.tools
    assert (mill.number, drill.number, drill.speed, drill.feed) == (1, 2, None, None)
    assert mill.speed == (pytest.approx(8000 * 0.995), pytest.approx(8000 * 1.005))
    assert mill.feed == (pytest.approx(200 * 0.995), pytest.approx(800 * 1.005))
    assert mill.sideways == (pytest.approx(800 * 0.995), pytest.approx(800 * 1.005))
    assert (mill.least_turn, mill.least_depth, drill.sideways) == (None, None, None)


def test_the_lightest_cut_is_that_of_the_card() -> None:
    """At a tenth of the diameter the thickest chip is 2 √(0.1 · 0.9) = 0.6 of the feed per tooth (trigonometry)."""
    card = 'kind = "end mill"\ndiameter = "6 mm"\nwidth = "0.6 mm"\nmin_chip = "0.03 mm"\nmin_depth = "0.2 mm"\n'
    named = 'name = "6 mm end mill"\n'
    checklist = with_file((named, f"{named}{card}flutes = 3\n"))
    mill = (expect_program(checklist, checklist.ops[10]).tools or ())[0]
    assert (mill.least_turn, mill.least_depth) == (pytest.approx(3 * 0.03 / 0.6), pytest.approx(0.2))

    checklist = with_file((named, named + card))
    mill = (expect_program(checklist, checklist.ops[10]).tools or ())[0]
    assert mill.least_turn is None, "nobody knows how many teeth share it"


def test_each_carrier_has_its_own_offset_in_it() -> None:
    checklist = edited(*TWO_UP)
    operation = checklist.ops[10]
    expected = expect_program(checklist, operation, offsets=["G55"])
    assert (expected.carriers, expected.each) == ({"G55": "Pallet 2"}, False)
    expected = expect_program(checklist, operation, offsets=["G54", "G56"])
    assert (expected.carriers, expected.each) == ({"G54": "Pallet 1", "G56": "Pallet 3"}, True)
    expected = expect_program(checklist, operation)
    assert ([*expected.carriers], expected.each) == (["G54", "G55", "G56"], False), "whichever comes"


def test_air_is_asked_of_the_program_where_the_control_has_a_code_for_it() -> None:
    checklist = with_file()
    for code, medium in ((71, "air"), (71, "none")):
        expected = expect_program(checklist, checklist.ops[10], Dialect(m_codes=((code, medium),)))  # type: ignore[arg-type]
        assert expected.has_air_code == (medium == "air")


@pytest.mark.parametrize("by", ["tape", "adhesive"])
def test_what_is_held_by_tape_or_glue_is_cut_dry(by: str) -> None:
    clamp = '{ do = "Clamp the pallet", at = "load" },'
    held = f'{{ gate = "work held", by = "{by}", do = "Pull at each piece", second = true }},\n  {clamp}'
    checklist = with_file((clamp, held))
    expected = expect_program(checklist, checklist.ops[10])
    assert (expected.holds_dry, expected.coolant) == (True, "")
