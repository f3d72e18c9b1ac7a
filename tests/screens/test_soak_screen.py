"""A soak proved on the walk: by a logger's file in the shop's folder, or by readings typed in its field."""

from __future__ import annotations

from datetime import timedelta

import pytest
from textual.widgets import Input

from floor.batch.gates.commands import Waive
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.lifecycle.half_done import PaperProof, PlacedPieces
from floor.batch.walk.clocks import compute_planned_end
from floor.screens.batch import enter_half_done
from floor.screens.forms.dialogs import ConfirmDialog, FormDialog
from floor.screens.frame import file_reading
from floor.shop import Shop
from floor.shop.logger_readings import LoggerReading
from floor.shop.simulation import ManualClock
from tests.batch.factory import edited_text
from tests.batch.test_soak_gate import AFTER, LINE, OUT, baked
from tests.screens.conftest import Open
from tests.screens.keys import fill, words
from tests.screens.operator import Place, said
from tests.screens.slow_reading import slow_down, stop_and_read_again
from tests.screens.test_underway import under_way_with
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


def log(place: Place, run: int) -> None:
    """The logger's file of the bake."""
    started = place.batch.runs[run].started
    assert started is not None
    rows = [f"{started + timedelta(minutes=10 * n):%Y-%m-%d %H:%M:%S},150.0,3.1" for n in range(8)]
    folder = place.shop.folder / "readings"
    folder.mkdir()
    (folder / "bake.csv").write_text("Time,Oven (degC),Battery (V)\n" + "\n".join(rows) + "\n")


async def test_a_loggers_file_proves_it_and_one_that_is_not_there_is_said_at_the_field(place: Place) -> None:
    run = bake(place)
    log(place, run)
    async with on_walk(place, run) as (app, keys, pilot):
        await fill(pilot, "150", "bakes.csv")
        await pilot.pause()
        assert "Readings: bakes.csv is not there" in words(app)
        assert place.batch.entries[-1].kind != "proved"
        await pilot.press(*["backspace"] * 9)
        await fill(pilot, "bake.csv")
        await pilot.pause()
        assert said(app) == "✓ Recorded: Battery (V): not a temperature, left out"
    values = place.batch.entries[-1].body["values"]
    assert (values["file"], values["soak"]["total"], values["set_point"]) == ("bake.csv", 4200.0, 150.0)


async def test_the_end_of_a_proved_soak_is_not_asked_about_though_it_was_planned_later(place: Place) -> None:
    run = bake(place)
    log(place, run)
    ends = compute_planned_end(place.batch, place.batch.runs[run], place.clock())
    async with on_walk(place, run) as (app, keys, pilot):
        await fill(pilot, "150", "bake.csv")
        await pilot.pause()
        assert ends is not None
        assert ends - place.clock().at > timedelta(minutes=15)
        await pilot.press("enter")
        await pilot.pause()
    assert place.batch.runs[run].ended is not None


async def test_the_end_of_a_waived_soak_is_asked_about_before_its_time(place: Place) -> None:
    run = bake(place)
    place.shop.do(place.id, Waive(run, LINE, "logger is out"), "LL")
    async with on_walk(place, run) as (app, keys, pilot):
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, ConfirmDialog)
    assert place.batch.runs[run].ended is None


async def test_readings_are_typed_and_what_they_lack_is_said(place: Place) -> None:
    run = bake(place)
    started = place.batch.runs[run].started
    assert started is not None
    typed = ", ".join(f"{started + timedelta(minutes=n, seconds=59):%H:%M} 150" for n in (0, 10, 20))
    async with on_walk(place, run) as (app, keys, pilot):
        await fill(pilot, "150", typed)
        await pilot.pause()
        assert "20 min of 1 h 00 at temperature" in said(app)
        assert "few readings at temperature: 3" in words(app)
        assert app.focused is not None
        more = ", ".join(f"{started + timedelta(minutes=n, seconds=59):%H:%M} 150" for n in range(30, 70, 10))
        await fill(pilot, f", {more}")
        await pilot.pause()
        assert place.batch.entries[-1].body["values"]["soak"]["readings"] == 7, "what was typed stands there still"
        assert said(app) == ""
    assert place.batch.runs[run].ended is None
    assert [entry.body["line"] for entry in place.batch.entries if entry.kind == "proved"][-1] == LINE


async def test_the_readings_take_all_the_room_beside_their_label(place: Place) -> None:
    async with on_walk(place, bake(place)) as (app, keys, pilot):
        await keys.until(lambda: len(app.screen.query("#asks Input")) == 2, "the form")
        await pilot.pause()
        point, readings = app.screen.query("#asks Input").results(Input)
        assert (point.size.width, readings.size.width) == (13, 49)


async def test_a_large_file_is_read_behind_a_dialog_that_escape_stops(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = bake(place)
    log(place, run)
    go_on = slow_down(monkeypatch, LoggerReading)
    async with on_walk(place, run) as (app, keys, pilot):
        await fill(pilot, "150", "bake.csv")
        await stop_and_read_again(app, keys, pilot, place, go_on, "proved")
    assert place.batch.entries[-1].body["values"]["file"] == "bake.csv"


@pytest.mark.parametrize("small", [250_000, -1], ids=["at once", "in a thread"])
async def test_a_batch_entered_half_done_takes_a_loggers_file(
    open_app: Open, shop: Shop, clock: ManualClock, monkeypatch: pytest.MonkeyPatch, small: int
) -> None:
    monkeypatch.setattr(file_reading, "SMALL", small)
    now = clock().at
    began = now - timedelta(minutes=80)
    folder = shop.folder / "readings"
    folder.mkdir()
    rows = [f"{began + timedelta(minutes=10 * n):%Y-%m-%d %H:%M:%S},150.0" for n in range(8)]
    (folder / "bake.csv").write_text("Time,Oven (degC)\n" + "\n".join(rows) + "\n")
    app = open_app()
    async with app.run_test() as pilot:
        screen = await under_way_with(pilot, shop, edited_text((OUT, AFTER + OUT)), "1", "4")
        load = PlacedPieces("load", 4, 40, 1, stands="over", began=began, ended=now)
        found: list[PaperProof] = []
        enter_half_done._ask_values(screen, 40, LINE, load, found.append)
        await pilot.pause()
        await fill(pilot, "150", "bakes.csv", "AA", f"{now:%H:%M}")
        await pilot.pause()
        assert "bakes.csv is not there" in words(app)
        assert isinstance(app.screen, FormDialog)
        readings = app.screen.query("Input").results(Input)
        next(one for one in readings if one.value == "bakes.csv").value = "bake.csv"
        await pilot.press("enter")
        await fill(pilot, "", "")
        for _ in range(100):
            await pilot.pause(0.02)
            if found:
                break
    assert found[0].values["readings"].file == "bake.csv"
    assert found[0].by == "AA"
