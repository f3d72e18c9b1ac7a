"""The program's file read at its line: faults in sight, a large file with how far it is, and no start with another."""

from __future__ import annotations

from pathlib import Path

import pytest

from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.walk.stop_cycle import StopCycle
from floor.screens.forms.dialogs import ChoiceDialog
from floor.screens.frame.session import Transcription
from floor.shop import Shop
from floor.shop.program_files import ProgramReading
from floor.shop.simulation import ManualClock
from tests.batch.factory import edited
from tests.screens.keys import words
from tests.screens.operator import Place, said
from tests.screens.slow_reading import slow_down, stop_and_read_again
from tests.screens.test_walk_screen import on_walk
from tests.shop.programmed import EDITS, PROGRAM


@pytest.fixture
def file(shop: Shop) -> Path:
    made = shop.folder / "programs" / "O0710.nc"
    made.parent.mkdir()
    made.write_text(PROGRAM)
    return made


@pytest.fixture
def place(shop: Shop, file: Path, clock: ManualClock) -> Place:
    opened = OpenBatch(shop.find_next_id(), edited(*EDITS), "digest", "part.toml", 8, 10)
    return Place(shop, shop.open_batch(opened, by="LL").id, clock)


async def test_enter_reads_it_and_then_asks_what_the_control_shows(place: Place) -> None:
    run = place.at(place.load(), "Read back the program")
    async with on_walk(place, run) as (app, keys, pilot):
        assert "O0710.nc has not been read. Press Enter to read it" in words(app)
        assert "Enter: read the program file" in words(app)
        await pilot.press("enter")
        await pilot.pause()
        assert said(app) == "✓ O0710.nc read: no faults"
        assert "Program and revision as the control shows it" in words(app)
    assert place.batch.entries[-1].kind == "program_read"


async def test_its_faults_stand_at_the_line_and_it_is_read_again_once_mended(place: Place, file: Path) -> None:
    file.write_text(PROGRAM.replace("\nG54\n", "\nG55\n"))
    run = place.at(place.load(), "Read back the program")
    async with on_walk(place, run) as (app, keys, pilot):
        await pilot.press("enter")
        await pilot.pause()
        assert said(app).startswith("✕ O0710.nc read: 1 fault")
        assert "line 4: the program uses G55; the parts are in G54" in words(app)
        file.write_text(PROGRAM)
        await pilot.pause(0.7)
        await pilot.press("enter")
        await pilot.pause()
        assert said(app).startswith("✓ O0710.nc has changed since AA read it: no faults")
        assert "the program works in G55" not in words(app)


async def test_a_file_that_is_not_there_is_said_at_the_line(place: Place, file: Path) -> None:
    file.unlink()
    run = place.at(place.load(), "Read back the program")
    async with on_walk(place, run) as (app, keys, pilot):
        await pilot.press("enter")
        await pilot.pause()
        assert said(app).startswith("✕ O0710.nc is not there. Put it into ")
    assert place.batch.entries[-1].kind != "program_read"


@pytest.mark.parametrize(
    ("data", "words_said"),
    [
        (b"\x00\x9c\xff\x01" * 99, "4 faults in O0710.nc"),
        (PROGRAM.replace("Y40.", "Y41.").encode(), "O0710.nc has changed since AA read it: no faults. Read it back"),
        (None, "O0710.nc is not there"),
    ],
    ids=["no program", "another", "gone"],
)
async def test_it_is_not_read_back_against_another_file(
    place: Place, file: Path, data: bytes | None, words_said: str
) -> None:
    run = place.at(place.load(), "Read back the program")
    async with on_walk(place, run) as (app, keys, pilot):
        await pilot.press("enter")
        await pilot.pause()
        file.unlink() if data is None else file.write_bytes(data)
        await keys.press(*"KB7-10", "space", "A", "enter")
        await pilot.pause()
        assert words_said in said(app)
        assert place.current(1) == "Read back the program"
    assert "proved" not in [entry.kind for entry in place.batch.entries[-2:]]

    if "no faults" not in words_said:
        file.write_text(PROGRAM)
    async with on_walk(place, run) as (app, keys, pilot):
        await pilot.press("enter")
        await pilot.pause()
        await keys.press(*"KB7-10", "space", "A", "enter")
        await keys.until(lambda: place.current(1) != "Read back the program", "proof")


async def test_a_changed_file_is_not_started(place: Place, file: Path) -> None:
    """Said before anybody is asked whether the cycle runs: after a yes the machine would run off the record."""
    run = place.at(place.load(), "start")
    file.write_text(PROGRAM.replace("Y40.", "Y41."))
    async with on_walk(place, run) as (app, keys, pilot):
        await pilot.press("enter")
        await pilot.pause()
        assert said(app).startswith("✕ O0710.nc has changed since AA read it: no faults")
        assert "O0710.nc has changed" in words(app)
    assert [entry.kind for entry in place.batch.entries].count("cycle_started") == 0
    assert place.current(1) == "Read back the program"


async def test_a_file_that_is_gone_is_not_started(place: Place, file: Path) -> None:
    run = place.at(place.load(), "start")
    file.unlink()
    async with on_walk(place, run) as (app, keys, pilot):
        await pilot.press("enter")
        await pilot.pause()
        assert said(app).startswith("✕ O0710.nc is not there")
        assert "the file cannot be read: O0710.nc is not there" in words(app)
    assert [entry.kind for entry in place.batch.entries].count("cycle_started") == 0
    assert place.current(1) == "Read back the program", "where a lead may waive it"


async def test_a_start_entered_from_paper_is_not_held_up_by_the_file_of_now(place: Place, file: Path) -> None:
    run = place.at(place.load(), "start")
    file.write_text(PROGRAM.replace("Y40.", "Y41."))
    async with on_walk(place, run) as (app, keys, pilot):
        started = place.clock().at
        place.clock.forward(600)
        app.session.paper = Transcription(started)
        await pilot.press("enter", "y")
        await pilot.pause()
    assert [entry.kind for entry in place.batch.entries].count("cycle_started") == 1


async def test_a_stopped_cycle_is_not_restarted_with_a_changed_file(place: Place, file: Path) -> None:
    run = place.at(place.load(), "Watch the first cut")
    place.shop.do(place.batch.id, StopCycle(run, "stopped"), "AA")
    file.write_text(PROGRAM.replace("Y40.", "Y41."))
    async with on_walk(place, run) as (app, keys, pilot):
        await pilot.press("x")
        await keys.until(lambda: isinstance(app.screen, ChoiceDialog), "what happened")
        dialog = app.screen
        assert isinstance(dialog, ChoiceDialog)
        dialog.dismiss("anew")
        await keys.until(lambda: said(app).startswith("✕ O0710.nc has changed since AA read it: no faults"), "no start")
    assert [entry.kind for entry in place.batch.entries].count("cycle_started") == 1


async def test_a_large_file_is_read_behind_a_dialog_that_escape_stops(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    go_on = slow_down(monkeypatch, ProgramReading)
    run = place.at(place.load(), "Read back the program")
    async with on_walk(place, run) as (app, keys, pilot):
        await pilot.press("enter")
        await stop_and_read_again(app, keys, pilot, place, go_on, "program_read")
    assert place.batch.programs
