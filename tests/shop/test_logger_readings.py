"""A logger's file named at a soak: read from the shop's folder, with what is wrong with it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path

import pytest

from floor.batch.command import Refused
from floor.shop import Shop
from floor.shop.logger_readings import names_file, read_logger
from floor.shop.simulation import ManualClock
from tests.batch.factory import MORNING

TEXT = "Time;Oven top (°F);Humidity (%)\n2026-03-02 10:00;302,0;20\n2026-03-02 10:10;303,8;20\nbroken\n"


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    made = Shop(tmp_path / "shop", ManualClock(MORNING))
    (made.folder / "readings").mkdir()
    yield made
    made.close()


def test_its_temperatures_are_in_celsius_with_what_was_not_read(shop: Shop) -> None:
    """302 degF are 150 degC, 303.8 are 151 (by the definition of the scale)."""
    file = shop.folder / "readings" / "bake.csv"
    file.write_text(TEXT, encoding="utf-8")
    read = read_logger(shop, "bake.csv")
    ((name, readings),) = read["sensors"].items()
    assert "Oven top" in name
    at = MORNING.replace(hour=10, minute=0).timestamp()
    assert readings == [(at, pytest.approx(150)), (at + 600, pytest.approx(151))]
    assert (read["file"], read["sha256"]) == ("bake.csv", hashlib.sha256(file.read_bytes()).hexdigest())
    assert ["line unread", "", None, 1] in read["lacks"]


def test_a_file_elsewhere_is_named_with_its_folder(shop: Shop, tmp_path: Path) -> None:
    (tmp_path / "stick.csv").write_text(TEXT, encoding="utf-8")
    assert read_logger(shop, str(tmp_path / "stick.csv"))["file"] == "stick.csv"


@pytest.mark.parametrize(
    ("data", "wrong"),
    [
        (None, "Readings: bake.csv is not there"),
        (b"", "Readings: no temperatures in bake.csv"),
        (b"\x00\xff\x00" * 90, "Readings: no temperatures in bake.csv"),
        (b"Time;A\n2026-03-02 10:00;150\n2026-03-02 10:10;150\n", "Readings: no temperatures in bake.csv"),
    ],
)
def test_what_cannot_be_read_is_said_at_the_field(shop: Shop, data: bytes | None, wrong: str) -> None:
    if data is not None:
        (shop.folder / "readings" / "bake.csv").write_bytes(data)
    with pytest.raises(Refused) as refused:
        read_logger(shop, "bake.csv")
    assert (refused.value.wrong, refused.value.field) == (wrong, "readings")


def test_what_is_typed_is_no_file() -> None:
    assert names_file("bake.CSV")
    assert names_file("/media/stick/run 12")
    assert not names_file("14:05 172, 14:20 175.5")
