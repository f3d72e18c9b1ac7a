"""A logger's file named at a soak: read from the folder of its station, with what is wrong with it."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory
from zoneinfo import ZoneInfo

import pytest

from floor.batch.command import Refused
from floor.batch.gates import soak_readings
from floor.batch.gates.soak_outcome import Lack
from floor.batch.gates.soak_readings import LoggerReadings, WorkSpan, read_soak
from floor.checklist.gates import Soaked
from floor.shop import Shop
from floor.shop.logger_readings import find_named_file, names_file, prepare_logger
from floor.shop.simulation import ManualClock
from floor.shop.station_folders import find_folder
from floor.wall import convert_to_zone
from tests.batch.factory import MORNING
from tests.batch.test_soak_gate import LINE, baked

TEXT = "Time;Oven top (°F);Humidity (%)\n2026-03-02 10:00;302,0;20\n2026-03-02 10:10;303,8;20\nbroken\n"
OVEN = baked().station("oven")


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    made = Shop(tmp_path / "shop", ManualClock(MORNING))
    (made.folder / "readings").mkdir()
    yield made
    made.close()


def read(shop: Shop, name: str, data: bytes | str | None = None) -> LoggerReadings:
    if data is not None:
        raw = data.encode() if isinstance(data, str) else data
        (shop.folder / "readings" / name).write_bytes(raw)
    return prepare_logger(shop, OVEN, name).read()


def test_its_temperatures_are_in_celsius_with_what_was_not_read(shop: Shop) -> None:
    """302 degF are 150 degC, 303.8 are 151 (by the definition of the scale)."""
    found = read(shop, "bake.csv", TEXT)
    ((name, readings),) = found.sensors.items()
    assert "Oven top" in name
    at = MORNING.replace(hour=10, minute=0).timestamp()
    assert readings == [(at, pytest.approx(150)), (at + 600, pytest.approx(151))]
    assert (found.file, found.sha256) == ("bake.csv", hashlib.sha256(TEXT.encode()).hexdigest())
    assert Lack("line unread", "", None, 1) in found.lacks


def test_only_files_in_the_folder_are_read(shop: Shop, tmp_path: Path) -> None:
    """A file of anybody's cannot be opened by its path, nor a pipe or a device that never ends."""
    (tmp_path / "stick.csv").write_text(TEXT, encoding="utf-8")
    for name in (str(tmp_path / "stick.csv"), "../../stick.csv", "~/stick.csv", "~nobody/stick.csv"):
        with pytest.raises(Refused) as refused:
            read(shop, name)
        assert refused.value.wrong == f"Readings: only files in {shop.folder / 'readings'} can be read"
        assert refused.value.remedy == "copy it there, then enter stick.csv"
    os.mkfifo(shop.folder / "readings" / "pipe.csv")
    for name in ("pipe.csv", "."):
        with pytest.raises(Refused, match="it is not a file"):
            read(shop, name)


def test_a_station_names_its_folder(shop: Shop, tmp_path: Path) -> None:
    (tmp_path / "logger").mkdir()
    (tmp_path / "logger" / "run 12.csv").write_text(TEXT, encoding="utf-8")
    oven = replace(OVEN, readings_folder=str(tmp_path / "logger"))
    assert prepare_logger(shop, oven, "run 12.csv").read().file == "run 12.csv"
    away = replace(OVEN, readings_folder="~nobody-of-this-name/logger")
    with pytest.raises(Refused, match="a user unknown on this computer"):
        prepare_logger(shop, away, "run 12.csv")


def test_a_folder_is_the_shops_unless_it_names_another(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    assert find_folder(tmp_path, "programs") == tmp_path / "programs"
    assert find_folder(tmp_path, "/srv/programs") == Path("/srv/programs")
    assert find_folder(tmp_path, "~/programs") == tmp_path / "home" / "programs"


@pytest.mark.parametrize(
    ("data", "wrong", "remedy"),
    [
        (None, "bake.csv is not there", "put it in "),
        (b"", "bake.csv is empty", "export it again"),
        (b"\x00\xff\x00" * 90, "bake.csv is not text", "export it as CSV"),
        (b"x" * (16 * 2**20 + 1), "bake.csv is larger than 16 MB", "export only the hours of this cycle"),
        (
            b"Time;A (degC)\n2026-03-02 10:00;150\n" + b"8" * 4_000_000,
            "line 3 of bake.csv has more than 10,000 characters",
            "export it again as CSV",
        ),
        (b"a,b\n1,2\n", "no temperatures in bake.csv", "it needs dates, times and temperatures"),
        (
            b"Time;A\n2026-03-02 10:00;150\n2026-03-02 10:10;150\n",
            "no temperatures in bake.csv",
            "put degC or degF in the column heading",
        ),
        (
            b"Time;Set point (degC)\n2026-03-02 10:00;150\n2026-03-02 10:10;150\n",
            "no temperatures in bake.csv",
            "export the oven's sensors too",
        ),
    ],
    ids=["missing", "empty", "binary", "large", "long line", "no times", "no unit", "set point"],
)
def test_what_cannot_be_read_is_said_at_the_field(shop: Shop, data: bytes | None, wrong: str, remedy: str) -> None:
    with pytest.raises(Refused) as refused:
        read(shop, "bake.csv", data)
    assert (refused.value.wrong, refused.value.field) == (f"Readings: {wrong}", "readings")
    assert refused.value.remedy.startswith(remedy)


def test_reading_tells_how_far_it_is_and_stops_when_nobody_waits(shop: Shop) -> None:
    rows = "".join(f"2026-03-02 {n // 3600:02}:{n // 60 % 60:02}:{n % 60:02},150.0,151.0\n" for n in range(20000))
    (shop.folder / "readings" / "bake.csv").write_text(f"Time,Top (degC),Door (degC)\n{rows}")
    shares: list[float] = []
    found = prepare_logger(shop, OVEN, "bake.csv").read(shares.append)
    assert [len(readings) for readings in found.sensors.values()] == [20000, 20000]
    assert shares == sorted(shares)
    assert (shares[0], len(shares) > 20, shares[-1] > 0.9, max(shares) <= 1) == (0, True, True, True)

    def stop(share: float) -> None:
        shares.append(share)
        if share > 0.3:
            raise KeyboardInterrupt

    shares.clear()
    with pytest.raises(KeyboardInterrupt):
        prepare_logger(shop, OVEN, "bake.csv").read(stop)
    assert shares[-1] < 0.4


def test_reading_tells_how_far_it_is_where_lines_and_cells_are_skipped(shop: Shop) -> None:
    some = "".join(f"2026-03-02 10:{n:02},150.0\n" for n in range(10))
    shares: list[float] = []
    for skipped in ("no reading\n" * 40_000, "2026-03-02 11:00,\n" * 40_000):
        (shop.folder / "readings" / "bake.csv").write_text(f"Time,Top (degC)\n{some}{skipped}")
        shares.clear()
        prepare_logger(shop, OVEN, "bake.csv").read(shares.append)
        assert len([share for share in shares if 0 < share < 1]) >= 20
        assert max(after - before for before, after in pairwise(shares)) < 0.7


def hours_between(now: str, *written: str) -> tuple[list[float], set[str]]:
    """Hours between the readings of a file of the logger's wall clock, read in Chicago at a moment; what it lacks."""
    chicago = ZoneInfo("America/Chicago")
    with TemporaryDirectory() as folder:
        made = Shop(Path(folder), ManualClock(convert_to_zone(datetime.fromisoformat(now), chicago)))
        (made.folder / "readings").mkdir()
        text = "Time,Top (degC)\n" + "".join(f"{at},150\n" for at in written)
        found = read(made, "bake.csv", text)
        made.close()
    ((_, readings),) = found.sensors.items()
    first = datetime.fromisoformat(f"{written[0]}:00").replace(tzinfo=chicago)
    assert readings[0][0] == first.timestamp()
    return [(at - readings[0][0]) / 3600 for at, _ in readings], {one.kind for one in found.lacks}


def test_a_file_is_read_in_the_zone_of_the_shop_not_at_its_offset_of_today() -> None:
    """15 U.S.C. 260a: at 02:00 on 8 March 2026 clocks in Chicago went forward an hour, on 1 November back."""
    july, december = "2026-07-01T12:00Z", "2026-12-01T12:00Z"
    for now in (july, december):
        assert hours_between(now, "2026-03-07 23:00", "2026-03-08 04:00") == ([0, 4], set())
        assert hours_between(now, "2026-10-31 23:00", "2026-11-01 04:00") == ([0, 6], set())
        assert hours_between(now, "2026-01-15 10:00", "2026-01-15 11:00") == ([0, 1], set())
        assert hours_between(now, "2026-07-15 10:00", "2026-07-15 11:00") == ([0, 1], set())


def test_an_hour_that_the_shop_clock_shows_twice_or_never_is_said() -> None:
    """The order of the lines tells the passes apart; where it cannot, the first is taken and said."""
    now = "2026-12-01T12:00Z"
    twice = ("2026-11-01 00:30", "2026-11-01 01:00", "2026-11-01 01:30", "2026-11-01 01:00", "2026-11-01 02:00")
    assert hours_between(now, *twice) == ([0, 0.5, 1, 1.5, 2.5], {"hour repeated"})
    assert hours_between(now, "2026-11-01 00:30", "2026-11-01 01:30") == ([0, 1], {"hour ambiguous"})
    assert hours_between(now, "2026-03-08 01:30", "2026-03-08 02:30") == ([0, 1], {"hour skipped"})


def test_what_is_typed_is_no_file(shop: Shop) -> None:
    assert names_file("bake.CSV")
    assert names_file("/media/stick/run 12")
    assert not names_file("14:05 172, 14:20 175.5")
    gate = baked().ops[40].gate(LINE)
    assert gate is not None
    assert find_named_file(shop, OVEN, gate, {"readings": "14:05 172"}, None) is None


def test_what_follows_from_the_readings_is_worked_out_where_they_are_read(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Days of readings take seconds, and no key waits for them; for another span it is worked out anew."""
    (shop.folder / "readings" / "bake.csv").write_text(TEXT, encoding="utf-8")
    gate = baked().ops[40].gate(LINE)
    assert isinstance(gate, Soaked)
    start, end = MORNING.replace(hour=10), MORNING.replace(hour=11)
    named = find_named_file(shop, OVEN, gate, {"readings": "bake.csv"}, WorkSpan(start, end, end))
    assert named is not None
    shares: list[float] = []
    values = {"set_point": 150, "readings": named.reading.read(shares.append)}
    assert shares[-1] == 1.0, "whoever waits is told when it is read"
    later = end + timedelta(seconds=2)
    soak = read_soak(gate, values, WorkSpan(start, later, later))["soak"]
    assert (soak["readings"], soak["total"]) == (2, 600)
    monkeypatch.setattr(soak_readings, "_prove_file", lambda *_: {"anew": True})
    assert read_soak(gate, values, WorkSpan(start, later, later))["soak"] == soak
    moved = start + timedelta(minutes=5)
    assert read_soak(gate, values, WorkSpan(moved, later, later))["soak"] == {"anew": True}
    much_later = end + timedelta(hours=1)
    assert read_soak(gate, values, WorkSpan(start, much_later, much_later))["soak"] == {"anew": True}
