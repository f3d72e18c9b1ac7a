"""A soak proved on the walk: by a logger's file in the shop's folder, or by readings typed in its field."""

from __future__ import annotations

from datetime import timedelta

import pytest

from floor.batch.lifecycle.commands import OpenBatch
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.batch.test_soak_gate import LINE, baked
from tests.screens.keys import fill, words
from tests.screens.operator import Place, said
from tests.screens.test_walk_screen import on_walk


@pytest.fixture
def place(shop: Shop, clock: ManualClock) -> Place:
    opened = OpenBatch(shop.find_next_id(), baked(), "digest", "part.toml", 4, 4)
    return Place(shop, shop.open_batch(opened, by="LL").id, clock)


def bake(place: Place) -> int:
    """A tray in the oven for seventy minutes."""
    place.through(place.load(10), 10, 20, 30)
    run = place.at(place.hand.form(40), "Prove the soak: 1 h at 145 to 155 degC")
    started = place.batch.runs[run].started
    assert started is not None
    place.clock.until(started + timedelta(minutes=70, seconds=5))
    return run


async def test_a_loggers_file_proves_it_and_one_that_is_not_there_is_said_at_the_field(place: Place) -> None:
    run = bake(place)
    started = place.batch.runs[run].started
    assert started is not None
    rows = [f"{started + timedelta(minutes=10 * n):%Y-%m-%d %H:%M:%S},150.0" for n in range(8)]
    folder = place.shop.folder / "readings"
    folder.mkdir()
    (folder / "bake.csv").write_text("Time,Oven (degC)\n" + "\n".join(rows) + "\n")
    async with on_walk(place, run) as (app, keys, pilot):
        await fill(pilot, "150", "bakes.csv")
        await pilot.pause()
        assert "Readings: bakes.csv is not there" in words(app)
        assert place.batch.entries[-1].kind != "proved"
        await pilot.press(*["backspace"] * 9)
        await fill(pilot, "bake.csv")
        await pilot.pause()
    values = place.batch.entries[-1].body["values"]
    assert (values["file"], values["soak"]["total"], values["set_point"]) == ("bake.csv", 4200.0, 150.0)


async def test_readings_are_typed_and_what_they_lack_is_said(place: Place) -> None:
    run = bake(place)
    started = place.batch.runs[run].started
    assert started is not None
    typed = ", ".join(f"{started + timedelta(minutes=n, seconds=59):%H:%M} 150" for n in (0, 10, 20))
    async with on_walk(place, run) as (app, keys, pilot):
        await fill(pilot, "150", typed)
        await pilot.pause()
        assert "20 min of 1 h 00 at temperature" in said(app)
        assert "sparse: readings at temperature: 3" in words(app)
    assert place.batch.runs[run].ended is None
    assert [entry.body["line"] for entry in place.batch.entries if entry.kind == "proved"][-1] == LINE
