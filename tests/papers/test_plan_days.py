"""The plan over odd days, through the command line: clock changes, shifts over midnight, the leap day, days off.

The zone's changes are those of the IANA time zone database: Europe/Vienna on 29 March and 25 October 2026.
"""

from __future__ import annotations

import csv
import io
import json
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from floor.cli.main import Exit, main
from floor.entry import Moment

PART = Path(__file__).parents[1] / "planning" / "lid.toml"
VIENNA = ZoneInfo("Europe/Vienna")
EVERY_DAY = '["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]'


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("floor.cli.plan.EFFORT", 50)


def planned(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], folder: Path, now: datetime, settings: str,
    form: str,
) -> str:  # fmt: skip
    """What is printed for an order of 12 plates, 13 of them on each of two pallets, at an instant."""
    (folder / "shop.toml").write_text(f'zone = "Europe/Vienna"\n{settings}', encoding="utf-8")
    monkeypatch.setattr("floor.cli.plan.read_clock", lambda: Moment(now))
    assert main(["plan", str(PART), "--order", "20", "--shop", str(folder), form]) == Exit.FINE
    return capsys.readouterr().out


def shift(start: str, end: str, days: str = EVERY_DAY) -> str:
    return f'[[shifts]]\ndays = {days}\nstart = "{start}"\nend = "{end}"\n'


@pytest.mark.parametrize(
    ("day", "wall_hours"),
    [(date(2026, 3, 28), 25), (date(2026, 10, 24), 23), (date(2026, 6, 6), 24)],
    ids=["forward", "back", "no change"],
)
def test_a_day_of_cure_is_a_day_whatever_the_clock_on_the_wall_says(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path, day: date, wall_hours: int
) -> None:
    now = datetime(day.year, day.month, day.day, 7, tzinfo=VIENNA)
    out = planned(monkeypatch, capsys, tmp_path, now, shift("06:00", "22:00"), "--csv")

    rows = list(csv.DictReader(io.StringIO(out)))
    filled = next(row for row in rows if row["op"] == "20")
    faced = next(row for row in rows if row["op"] == "30" and row["load_name"] == filled["load_name"])
    done = datetime.fromisoformat(filled["start"]) + timedelta(seconds=40 * int(filled["pieces"]))
    ripe = datetime.fromisoformat(filled["end"])

    assert ripe - done == timedelta(hours=24)
    assert datetime.fromisoformat(faced["start"]) >= ripe
    on_the_wall = ripe.replace(tzinfo=None) - done.replace(tzinfo=None)
    assert on_the_wall == timedelta(hours=wall_hours)


def attended(found: dict[str, Any]) -> list[tuple[datetime, datetime]]:
    parts = [part for run in found["plan"]["runs"] for part in run["stretches"] if part["people"]]
    return [(datetime.fromisoformat(part["start"]), datetime.fromisoformat(part["end"])) for part in parts]


def test_a_shift_over_midnight_and_over_the_change_of_the_clocks(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Saturday 22:00 to Sunday 06:00 is seven hours in that night; the next such shift is a week later."""
    now = datetime(2026, 3, 28, 12, tzinfo=VIENNA)
    out = planned(monkeypatch, capsys, tmp_path, now, shift("22:00", "06:00", '["Sat"]'), "--json")

    nights = [datetime(2026, 3, 28, 22, tzinfo=VIENNA) + timedelta(days=7 * n) for n in range(8)]
    ends = [(night + timedelta(days=1)).replace(hour=6) for night in nights]
    work = attended(json.loads(out))
    assert work
    for start, end in work:
        assert any(night <= start and end <= morning for night, morning in zip(nights, ends, strict=True))
    first = [(start, end) for start, end in work if start < ends[0]]
    assert min(start for start, _ in first).astimezone(VIENNA) == nights[0]
    assert ends[0].timestamp() - nights[0].timestamp() == 7 * 3600


def test_the_leap_day_is_worked_and_can_be_a_day_off(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    now = datetime(2028, 2, 28, 7, tzinfo=VIENNA)

    worked = attended(json.loads(planned(monkeypatch, capsys, tmp_path, now, shift("07:00", "15:30"), "--json")))
    assert date(2028, 2, 29) in {start.astimezone(VIENNA).date() for start, _ in worked}

    off = f"days_off = [2028-02-29]\n{shift('07:00', '15:30')}"
    rested = attended(json.loads(planned(monkeypatch, capsys, tmp_path, now, off, "--json")))
    days = {start.astimezone(VIENNA).date() for start, _ in rested}
    assert date(2028, 2, 29) not in days
    assert date(2028, 3, 1) in days


def test_breaks_and_a_wrong_break(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    now = datetime(2026, 6, 8, 7, tzinfo=VIENNA)
    pause = f'{shift("07:00", "15:30")}breaks = [["09:00", "09:30"]]\n'

    for start, end in attended(json.loads(planned(monkeypatch, capsys, tmp_path, now, pause, "--json"))):
        morning = start.astimezone(VIENNA).replace(hour=9, minute=0, second=0)
        assert end <= morning or start >= morning + timedelta(minutes=30)

    (tmp_path / "shop.toml").write_text(pause.replace("09:30", "08:30"), encoding="utf-8")
    assert main(["plan", str(PART), "--shop", str(tmp_path)]) == Exit.WRONG
    assert "shop.toml: line 1, shifts 1: the break 09:00 to 08:30 is not inside the shift" in capsys.readouterr().err
