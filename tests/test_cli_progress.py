"""The progress line of a long command."""

from __future__ import annotations

import json
from io import StringIO
from pathlib import Path
from typing import Any

import pytest

import floor.cli.plan
import floor.cli.progress
from floor.cli.main import main
from floor.cli.progress import WAITS, WIDTH, ProgressLine


class Terminal(StringIO):
    def isatty(self) -> bool:
        return True


class Gone(Terminal):
    def write(self, text: str) -> int:
        raise OSError("Input/output error")


def late(stream: StringIO) -> ProgressLine:
    """A progress line after its first second."""
    line = ProgressLine(stream)
    line.began -= WAITS
    return line


def test_nothing_is_told_within_a_second_nor_where_there_is_no_terminal() -> None:
    terminal, file = Terminal(), StringIO()
    ProgressLine(terminal)(0.3, "best so far Tue 15 Dec 14:31")
    late(file)(0.3, "best so far Tue 15 Dec 14:31")
    assert terminal.getvalue() == file.getvalue() == ""


def test_the_line_is_written_over_and_gone_at_the_end() -> None:
    terminal = Terminal()
    line = late(terminal)
    line(0.3, "best so far Tue 15 Dec 14:31")
    line(0.301, "best so far Tue 15 Dec 14:31")
    line(0.5, "spread of the finish")
    line.clear()
    line.clear()
    clear = "\r\x1b[K"
    assert terminal.getvalue() == (
        f"{clear}planning 30 %, best so far Tue 15 Dec 14:31{clear}planning 50 %, spread of the finish{clear}"
    )


def test_a_line_stays_one_line_of_80_columns() -> None:
    terminal = Terminal()
    late(terminal)(0.3, "x" * 200)
    assert len(terminal.getvalue()) <= WIDTH + len("\r\x1b[K")


def test_a_terminal_that_is_gone_stops_nothing() -> None:
    line = late(Gone())
    line(0.3, "best so far")
    line(0.4, "best so far")
    line.clear()
    assert not line.shows


def test_a_plan_tells_of_itself_its_spread_and_what_one_more_saves(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    terminal = Terminal()
    monkeypatch.setattr(floor.cli.progress, "WAITS", 0.0)
    monkeypatch.setattr(floor.cli.progress, "ProgressLine", lambda real=ProgressLine: real(terminal))
    file = Path(__file__).parents[1] / "checklists" / "thermal-break-plate.toml"

    assert main(["plan", str(file), "--order", "12", "--json", "--shop", str(tmp_path)]) == 0

    told: list[Any] = [part.partition(", ") for part in terminal.getvalue().split("\r\x1b[K") if part]
    shares = [int(share.removeprefix("planning ").removesuffix("%")) for share, _, _ in told]
    assert shares == sorted(shares)
    words = [words for *_, words in told]
    assert words[0].startswith("best so far ")
    assert "spread of the finish" in words
    assert words[-1].startswith("one more ")
    assert terminal.getvalue().endswith("\r\x1b[K")
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize(("many", "samples"), [(100, 80), (3, 6)])
def test_somebody_who_waits_for_a_plan_of_many_runs_gets_a_band_of_fewer_draws(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], many: int, samples: int
) -> None:
    monkeypatch.setattr(floor.cli.plan, "MANY", many)
    monkeypatch.setattr("floor.planning.whatif.compute_savings_of_one_more", lambda *given, **named: ())
    file = Path(__file__).parents[1] / "checklists" / "thermal-break-plate.toml"

    assert main(["plan", str(file), "--order", "12", "--json", "--shop", str(tmp_path)]) == 0

    assert json.loads(capsys.readouterr().out)["plan"]["draws"] == samples
