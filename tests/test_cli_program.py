"""``floor program``: what it prints, and what it answers if the file or a setting is wrong."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from floor.cli.main import Exit, main
from tests.evidence.nc.test_mutated import MILLED


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


def test_findings_stand_with_their_lines(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file.write_text(MILLED.replace("H3", "H4").replace("X40. F1200.", "X40 F1200."))
    assert main(["program", str(file)]) == Exit.WRONG
    said = capsys.readouterr().out

    assert "line 8: T3 has H4; the length offset is another tool's" in said
    assert "line 11: X40 has no dot: 40 mm or 0.04 mm; set how this control reads it" in said
    assert main(["program", str(file), "--set", "bare-number=whole"]) == Exit.WRONG
    assert "has no dot" not in capsys.readouterr().out


def test_the_same_as_json(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["program", str(file), "--json"]) == Exit.FINE
    told = json.loads(capsys.readouterr().out)

    assert told["format"] == 1
    assert [tool["number"] for tool in told["tools"]] == [3, 7]
    assert told["tools"][1]["travels"][-1]["feed"][2]["low"] == {"at": -2.2, "line": 21}


@pytest.mark.parametrize("setting", ["bare-number=maybe", "paint=red", "dwell"])
def test_a_setting_that_is_none_is_refused(file: Path, setting: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["program", str(file), "--set", setting]) == Exit.USAGE
    assert setting in capsys.readouterr().err


def test_a_file_that_is_not_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["program", str(tmp_path / "none.nc")]) == Exit.CANNOT
    assert "cannot be read" in capsys.readouterr().err
    assert main(["program", str(tmp_path)]) == Exit.CANNOT
