"""The program's file at its gate: what is expected of it, what keeps the gate open, what a change of it voids."""

from __future__ import annotations

import pytest

from floor.batch.describe import describe
from floor.batch.events import ProgramFinding
from floor.batch.gates.commands import Prove, Waive
from floor.batch.gates.program_check import HARMLESS, ReadProgram, expect_program
from floor.batch.gates.setup_sheet import build_setup_card
from floor.batch.stations.commands import Disturb
from floor.checklist.model import Checklist
from floor.evidence.nc.finding_kinds import Kind
from tests.batch.factory import TWO_UP, Bench, edited, open_bench

LINE = "program loaded 1"
FILE = (
    ('program = "KB7-10 A"\n', 'program = "KB7-10 A"\nprogram_file = "O0710.nc"\n'),
    ('offsets = ["G54"]\n', 'offsets = ["G54"]\nprogram_folder = "programs"\n'),
)
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
    assert (line.state, line.verdict.reads, line.verdict.why) == ("now", True, "O0710.nc is not read yet")  # type: ignore[union-attr]
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
    assert card.facts[0] == ("fault", "line 14: the program works in G55, this carrier is in G54")
    assert card.brief[0] == "! line 14: the program works in G55, this carrier is in G54"
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
    assert (expected.units, expected.offset, expected.coolant, expected.h_rule) == ("inch", "G54", "dry", "H is T")
    assert expected.lowest_z == pytest.approx(-3.2 / 25.4)
    assert (expected.travel_x, expected.travel_y) == (
        (pytest.approx(-1 / 25.4), 1e9),
        (-1e9, pytest.approx(60 / 25.4)),
    )
    assert (expected.file_name, expected.sha256) == ("O0710.nc", "a" * 64)
    assert expected.tools is not None
    mill, drill = expected.tools
    assert (mill.number, drill.number, drill.speed, drill.feed) == (1, 2, None, None)
    assert mill.speed == (pytest.approx(8000 * 0.995), pytest.approx(8000 * 1.005))
    assert mill.feed == (pytest.approx(200 / 25.4 * 0.995), pytest.approx(800 / 25.4 * 1.005))


def test_each_carrier_has_its_own_offset_in_it() -> None:
    checklist = edited(*TWO_UP)
    operation = checklist.ops[10]
    assert expect_program(checklist, operation, "G55").offset == "G55"
    assert expect_program(checklist, operation).offset is None, "several, so none is expected"


@pytest.mark.parametrize("by", ["tape", "adhesive"])
def test_what_is_held_by_tape_or_glue_is_cut_dry(by: str) -> None:
    clamp = '{ do = "Clamp the pallet", at = "load" },'
    held = f'{{ gate = "work held", by = "{by}", do = "Pull at each piece", second = true }},\n  {clamp}'
    checklist = with_file((clamp, held))
    assert expect_program(checklist, checklist.ops[10]).coolant == "dry"
