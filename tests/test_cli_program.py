"""``floor program``: what it prints, and what it answers if the file or a setting is wrong."""

from __future__ import annotations

import json
import re
from dataclasses import fields
from pathlib import Path

import pytest

from floor.checklist.control_settings import read_settings
from floor.cli.help import PROGRAM
from floor.cli.main import Exit, main
from floor.evidence.nc.dialect import Dialect, list_choices
from tests.batch.factory import TWO_UP, edited_text
from tests.evidence.nc.test_mutated import MILLED
from tests.shop.programmed import EDITS
from tests.shop.programmed import PROGRAM as RIGHT

PART = edited_text(*EDITS)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "O1234.nc"
    path.write_text(MILLED)
    return path


def test_a_program_is_listed(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["program", str(file)]) == Exit.FINE
    said = capsys.readouterr().out

    assert max(len(line) for line in said.splitlines()) <= 80
    for words in (
        "Program     1234 (line 2)",
        "Units       mm (line 3)",
        "Offsets     G54 (line 4)",
        "T3, line 5",
        "S12000 (line 6)",
        "400 mm/min (line 10); 1200 mm/min (line 11)",
        "Z -0.5 mm to 5 mm; deepest cut -0.5 mm (line 10)",
        "Z -2.2 mm to 5 mm; deepest cut -2.2 mm (line 21)",
        "M71 AIR (line 9)",
        "0 findings",
    ):
        assert words in said


BEFORE_LENGTH = (
    "%\nO1\nG21 G90 G94 G17 G40 G54\nT2 M6\nS8000 M3\nG0 X0 Y0\nG43 H2 Z50.\nG1 Z-5. F300.\nG0 Z50.\nM30\n%\n"
)


def test_a_move_over_the_work_before_g43_looks_like_no_fault(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file.write_text(BEFORE_LENGTH)
    assert main(["program", str(file)]) == Exit.FINE
    said = capsys.readouterr().out
    assert "    Z not known before its length offset\n" in said
    assert "- no length offset" not in said

    file.write_text(BEFORE_LENGTH.replace("G43 H2 ", ""))
    assert main(["program", str(file)]) == Exit.WRONG
    assert "    - no length offset of this tool (line 6)\n" in capsys.readouterr().out, "it moves down without one"


def test_findings_stand_with_their_lines(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file.write_text(MILLED.replace("H3", "H4").replace("X40. F1200.", "X40 F1200."))
    assert main(["program", str(file)]) == Exit.WRONG
    said = capsys.readouterr().out

    assert "line 8: T3 has H4, the length offset of another tool; correct H" in said
    assert "line 11: X40 has no dot: 40 mm or 0.04 mm; set `control = {" in said
    assert main(["program", str(file), "--set", "bare-number=whole"]) == Exit.WRONG
    assert "has no dot" not in capsys.readouterr().out


def test_what_is_assumed_or_listed_is_told_where_it_stands(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file.write_text(
        "G21 G17 G90 G94\nT1 M6\nS6000000 M3\nG0 X0. Y0.\nG43 H1 Z5.\n"
        "G83 X1. Z-3. R1. Q1. F100.\nX2.\nG80\nXO\nXO\nG54 G0 X1.\nM30\n"
    )
    main(["program", str(file)])
    said = capsys.readouterr().out

    for words in (
        "Offsets     G54 (line 4, assumed)",
        "S6000000 (line 3)",
        "G83 from 1 mm to -3 mm, Q 1 mm, 2 holes (line 6)",
        '"XO" cannot be read; correct the program (on 2 lines)',
        "call the offset first\n",
    ):
        assert words in said


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "the file is empty"),
        (b"\n \r\n", "the file is empty"),
        (bytes(range(256)) * 9, "the file is not text, so not an NC program; choose another"),
    ],
)
def test_a_file_that_is_no_program_is_told_in_a_line(
    file: Path, data: bytes, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    file.write_bytes(data)
    assert main(["program", str(file)]) == Exit.CANNOT
    assert capsys.readouterr().out == f"O1234.nc: {words}\n"


def test_a_punched_tape_may_have_a_leader_of_zeros(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file.write_bytes(b"\0" * 400 + MILLED.encode() + b"\x1a")
    main(["program", str(file)])
    assert "Program     1234 (line 2)" in capsys.readouterr().out


def test_the_same_as_json(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["program", str(file), "--json"]) == Exit.FINE
    told = json.loads(capsys.readouterr().out)

    assert told["format"] == 1
    assert [tool["number"] for tool in told["tools"]] == [3, 7]
    assert told["tools"][1]["travels"][-1]["feed"][2]["low"] == {"at": -2.2, "line": 21}


@pytest.mark.parametrize(
    ("setting", "right"),
    [
        ("bare-number=maybe", "choose whole or increment"),
        ("dwell", "choose seconds or milliseconds"),
        ("paint=red", "choose from bare-number, dwell, tool-change, "),
        ("dwel", "rapid, tool-change-time, or an M-code as M71=air"),
        ("M71=fog", "choose flood or mist or "),
        ("rapid=fast", 'write it like rapid="400 in/min"'),
        ("rapid=400", 'write it like "40 in/min"'),
        ("rapid=1, 2 mm/min", 'write it like rapid="400 in/min"'),
        ("rapid=0 mm/min", "is not above 0"),
        ("tool-change-time=8", 'write it like "24 h"'),
    ],
)
def test_a_setting_that_is_none_is_refused(
    file: Path, setting: str, right: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["program", str(file), "--set", setting]) == Exit.USAGE
    assert right in capsys.readouterr().err


def test_every_setting_can_be_typed_and_is_in_the_help() -> None:
    for name, choices in list_choices().items():
        typed = name.replace("_", "-")
        assert f"{typed}=" in PROGRAM
        for choice in choices:
            assert getattr(read_settings([f"{typed}={choice}"]), name) == choice
    also = {"m_codes": "M71=", "rapid": "rapid=", "tool_change_seconds": "tool-change-time="}
    assert {field.name for field in fields(Dialect)} == list_choices().keys() | also.keys()
    assert all(words in PROGRAM for words in also.values())


def test_the_time_has_rapids_and_tool_changes_by_the_machine(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["program", str(file), "--set", "rapid=6000 mm/min", "--set", "tool-change-time=8 s", "--set", "M71=air"])
    said = capsys.readouterr().out

    assert "M71 air (line 9)" in said
    assert "as no rapid rate is set" not in said
    assert "as no time is set" not in said


def test_a_file_that_is_not_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A command line that names none exits as argparse does."""
    for none in (tmp_path / "none.nc", tmp_path / "none"):
        assert main(["program", str(none)]) == Exit.CANNOT
        assert f"{none} cannot be read: No such file or directory" in capsys.readouterr().err
    assert main(["program", str(tmp_path)]) == Exit.CANNOT
    assert f"{tmp_path} cannot be read: it is not a file" in capsys.readouterr().err
    for data, said in ((b"", "the file is empty"), (b"\x00\x9c\xff\x01" * 99, "the file is not text")):
        (tmp_path / "none.nc").write_bytes(data)
        assert main(["program", str(tmp_path / "none.nc")]) == Exit.CANNOT
        assert said in capsys.readouterr().out
    for unnamed in ("", "."):
        assert main(["program", unnamed, "--checklist", "part.toml"]) == Exit.USAGE
        assert "no program is named: give the name of its file" in capsys.readouterr().err


def test_a_program_is_compared_with_the_operation_that_names_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The offset, the folder's control and the card of each tool come from the checklist."""
    checklist, program = tmp_path / "part.toml", tmp_path / "O0710.nc"
    checklist.write_text(PART)
    program.write_text(RIGHT.replace("G54", "G55"))

    assert main(["program", str(program), "--checklist", str(checklist)]) == Exit.WRONG
    assert "the program uses G55; the parts are in G54" in capsys.readouterr().out
    assert main(["program", str(program), "--checklist", str(checklist), "--op", "10", "--offset", "g55"]) == Exit.FINE
    capsys.readouterr()


def test_a_program_for_several_carriers_moves_in_the_offset_of_each(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    checklist, program = tmp_path / "part.toml", tmp_path / "O0710.nc"
    checklist.write_text(
        edited_text(
            *TWO_UP,
            *EDITS[:1],
            ("runs_at_once = 2\n", f"runs_at_once = 2\n{EDITS[1][1].splitlines()[1]}\n"),
            *EDITS[2:],
        )
    )
    both = RIGHT.replace(
        "M5\nT2", "G55 G0 X10. Y10.\nG43 H1 Z5.\nM8\nG1 Z-3. F200.\nX50. F800.\nG0 Z5.\nM9\nM5\nG54\nT2"
    )
    given = ["program", str(program), "--checklist", str(checklist)]

    program.write_text(both)
    assert main(given) == Exit.FINE
    said = " ".join(capsys.readouterr().out.split())
    assert "offset G54, G55, G56;" in said
    assert re.search(r"Not for \S.* in G56: the program never moves there", said)
    assert main([*given, "--offset", "g54, G55"]) == Exit.FINE
    assert main([*given, "--offset", "G54"]) == Exit.WRONG
    assert "the program uses G55; the parts are in G54" in capsys.readouterr().out

    program.write_text(RIGHT)
    assert main([*given, "--offset", "G54"]) == Exit.FINE
    assert main([*given, "--offset", "G54,G55"]) == Exit.WRONG
    assert "file: the program never uses G55, where Pallet 2 is" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("more", "said", "status"),
    [
        (["--op", "10"], "--op needs --checklist FILE", Exit.USAGE),
        (["--offset", "G54"], "--offset needs --checklist FILE", Exit.USAGE),
        (
            ["--checklist", "part.toml", "--op", "15"],
            "there is no op 15 in part.toml: choose one with --op (10 O0710.nc, 20, 30, 40, 50)",
            Exit.USAGE,
        ),
        (["--checklist", "part.toml"], "no op has the program file O1 in part.toml", Exit.USAGE),
        (["--checklist", "VB-1"], "VB-1 is not a file: name the part's, such as my-part.toml", Exit.CANNOT),
        (["--checklist", "wrong.toml"], "wrong.toml cannot be used: floor check wrong.toml lists why", Exit.CANNOT),
    ],
)
def test_an_operation_that_is_not_there_is_said(
    more: list[str],
    said: str,
    status: Exit,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("part.toml").write_text(PART)
    Path("wrong.toml").write_text("format = 1\n")
    Path("O1").write_text(RIGHT)
    assert main(["program", "O1", *more]) == status
    assert said in capsys.readouterr().err


def test_what_was_compared_is_said_where_nothing_is_found(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    checklist, program = tmp_path / "part.toml", tmp_path / "O0710.nc"
    checklist.write_text(PART)
    program.write_text(RIGHT)

    assert main(["program", str(program), "--checklist", str(checklist)]) == Exit.FINE
    said = " ".join(capsys.readouterr().out.split())
    assert "Compared op 10 Mill the groove: units mm; offset G54; coolant flood; top of the work Z 0 mm; " in said
    assert "lowest Z -3.2 mm; travel in X -1 mm to 80 mm; travel in Y -1 mm to 60 mm; " in said
    assert "T1 speed, feed, plunge; " in said
    assert "Not checked number, T1 kind, depth, " in said
    assert said.endswith("0 findings")

    assert main(["program", str(program), "--checklist", str(checklist), "--json"]) == Exit.FINE
    told = json.loads(capsys.readouterr().out)["compared"]
    assert (told["name"], told["expected"]["coolant"], told["expected"]["work"]) == (
        "op 10 Mill the groove",
        "flood",
        {"top": 0.0, "rapid_low": 0.0},
    )


def test_limits_left_open_are_said_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    checklist, program = tmp_path / "part.toml", tmp_path / "O0710.nc"
    limits = PART[PART.index("program_limits = {") : PART.index('coolant = "flood"')]
    checklist.write_text(PART.replace(limits, 'program_limits = { x_low = "-1 mm", rapid_z_low = "-2 mm" }\n'))
    program.write_text(RIGHT)

    assert main(["program", str(program), "--checklist", str(checklist)]) == Exit.FINE
    said = " ".join(capsys.readouterr().out.split())
    assert "rapids down to Z -2 mm; travel in X -1 mm or more;" in said
    assert "Not checked number, lowest Z, travel in Y, T1 kind" in said


def test_only_the_first_comments_are_listed(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file.write_text(MILLED.replace("M30", "".join(f"(NOTE {n} {'LONG ' * 40})\n" for n in range(90)) + "M30"))
    main(["program", str(file)])
    said = capsys.readouterr().out
    assert "; and 89 more" in " ".join(said.split())
    assert "LONG " * 15 not in " ".join(said.split())


def test_a_note_is_no_finding(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Radius compensation is ordinary."""
    file.write_text(MILLED.replace("X40. F1200.", "G41 D3 X40. F1200.").replace("G1 X60. Y30.", "G40 G1 X60. Y30."))
    assert main(["program", str(file)]) == Exit.FINE
    said = capsys.readouterr().out
    assert (
        "0 findings\n1 note\n  line 11: G41: the control shifts the path by the radius; travel is as written\n" in said
    )
