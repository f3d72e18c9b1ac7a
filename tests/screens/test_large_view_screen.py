"""The view from two meters: one key opens it, any key leaves it, and it follows clocks and other terminals."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from floor.app import FloorApp
from floor.batch.walk.commands import BeginRun
from floor.batch.worklist.large_view_content import LargeView
from floor.block_letters import draw_block_letters, draw_blocks
from floor.screens.shop.what_next import NextScreen
from floor.screens.walk.large_view import LargeViewScreen, draw_large_view
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.screens.conftest import Picture
from tests.screens.operator import Place
from tests.screens.seen import seen

Open = Callable[..., FloorApp]


def shown(app: FloorApp) -> str:
    """The rows of large letters."""
    assert isinstance(app.screen, LargeViewScreen)
    return str(app.screen.large.content)


def stands(app: FloorApp, text: str) -> bool:
    """Whether a text stands there in letters of some size."""
    rows = shown(app).splitlines()
    for size in (1, 2, 3, 4, 5):
        letters = [row.rstrip() for row in draw_blocks(draw_block_letters(text), size)]
        if any(
            all(row.startswith(letter) for row, letter in zip(rows[top:], letters, strict=False))
            and len(rows[top:]) >= len(letters)
            for top in range(len(rows))
        ):
            return True
    return False


@pytest.mark.parametrize("key", ["escape", "enter", "x", "f", "space", "left", "q"])
async def test_any_key_goes_back_to_the_same_place_and_does_nothing_else(
    place: Place, open_app: Open, key: str
) -> None:
    """SAF and HMI: a key pressed in passing at the machine must enter nothing."""
    run = place.at(place.load(), "Clamp the pallet")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        walked = app.screen
        assert isinstance(walked, WalkScreen)
        await pilot.press("down", "down")
        look, entries = walked.look, place.batch.seq
        await pilot.press("f")
        assert stands(app, "Pallet 1 of 3")
        await pilot.press(key)

        assert app.screen is walked
        assert (walked.look, walked.focused, place.batch.seq) == (look, None, entries)


async def test_it_follows_what_the_cursor_of_what_next_stands_at(place: Place, open_app: Open) -> None:
    place.at(place.load(), "Clamp the pallet")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press("f")
        assert stands(app, "B0001 Op 10")
        assert "Clamp the pallet" in seen(app)
        await pilot.press("escape", "down", "f")
        assert "Clamp the pallet" not in seen(app)
        await pilot.press("escape")
        assert isinstance(app.screen, NextScreen)
        assert app.screen.table.cursor_row == 1


async def test_it_moves_with_the_clock_and_says_when_the_time_is_over(
    place: Place, open_app: Open, clock: ManualClock
) -> None:
    """The cycle of the test part takes 20 min."""
    run = place.at(place.load(), "end", wait=False)
    started = place.batch.runs[run].started
    assert started is not None
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(LargeViewScreen(app.session, place.id, run))
        await pilot.pause()
        left = 20 - int((clock().at - started).total_seconds() // 60)
        for minutes in (left - 3, 13):
            clock.forward(60 * minutes)
            app.advance_clocks()
            await pilot.pause()
            assert stands(app, "10 min") == (minutes == 13)
        assert stands(app, "Over")


async def test_it_shows_what_another_terminal_enters(place: Place, open_app: Open, clock: ManualClock) -> None:
    load = place.load()
    run = place.at(load, "Clamp the pallet")
    other = Shop(place.shop.folder, clock)
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(LargeViewScreen(app.session, place.id, run))
        await pilot.pause()
        assert "Clamp the pallet" in seen(app)
        SimulatedOperator(other, place.id, "BB", clock, second="AA").work(
            load, stop=lambda line: line.title == "Shut the door"
        )
        other.close()
        app.look()
        await pilot.pause()

        assert "Shut the door" in seen(app)
        assert "⚠ WARNING" in seen(app)
        assert "at this step: read before it is done" in seen(app)


async def test_what_is_gone_gives_way_to_the_most_pressing(place: Place, open_app: Open) -> None:
    load = place.load()
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        due = next(due for due in place.shop.due() if due.load == load)
        app.push_screen(LargeViewScreen(app.session, place.id, None, due.key))
        await pilot.pause()
        place.hand.do(BeginRun(load, anyway=True))
        app.advance_clocks()
        await pilot.pause()
        assert "Record the lot" in seen(app) or "Load 4 of" in seen(app)


@pytest.mark.parametrize("size", [(78, 20), (158, 46)])
def test_the_time_left_is_the_largest_thing_and_what_blocks_is_never_left_out(size: tuple[int, int]) -> None:
    """HMI-23, -24: with the longest titles of the shipped checklists and a caution beside it."""
    long = "Read the seat depth on the comparator in three places, turned by a third each time, and write down all"
    runs = LargeView("B0001", "Op 100", "Pallet 12 of 12", "runs", "2 h 05", long, cautions=("DANGER", "NOTICE"))
    rows = draw_large_view(runs, *size).plain.splitlines()
    blocked = draw_large_view(
        LargeView("B0001", "Op 100", "Pallet 12 of 12", "blocked", "", long, "12 min"), *size
    ).plain.splitlines()

    assert len(rows) <= size[1]
    assert len(blocked) <= size[1]
    at = next(
        n
        for n in (1, 2, 3, 4)
        if draw_blocks(draw_block_letters("B0001 Op 100"), n)[0].rstrip() in [row.rstrip() for row in rows]
    )
    for text, sizes in (("2 h 05", range(at + 1, at + 4)), ("Pallet 12 of 12", range(at, at + 1))):
        assert any(
            all(
                any(row.startswith(part.rstrip()) for row in rows)
                for part in draw_blocks(draw_block_letters(text), larger)
            )
            for larger in sizes
        )
    assert "⚠ DANGER" in rows[-1]
    for word in ("Blocked", "Closes 12 min"):
        assert any(
            all(
                any(row.startswith(part.rstrip()) for row in blocked)
                for part in draw_blocks(draw_block_letters(word), n)
            )
            for n in (1, 2)
        )


def test_a_name_in_another_script_is_shown_in_plain_letters() -> None:
    rows = draw_large_view(LargeView("B0001", "Op 10", "Паллета 1 of 3", "now", "", "Закрыть дверь"), 78, 20).plain

    assert "Паллета 1 of 3" in rows
    assert "Закрыть дверь" in rows


# --- pictures ------------------------------------------------------------------------------------------------------


def _afar(app: FloorApp, place: Place, run: int) -> Callable[[Any], Any]:
    async def go(pilot: Any) -> None:
        app.push_screen(LargeViewScreen(app.session, place.id, run))
        await pilot.pause()
        await pilot.pause()

    return go


def test_picture_of_a_cycle_from_afar(picture: Picture, place: Place, open_app: Open) -> None:
    """To be seen from two meters: which job, operation and pallet, how long the cycle still takes, what then."""
    run = place.at(place.load(), "end", wait=False)
    app = open_app("AA")
    picture(app, run_before=_afar(app, place, run))


def test_picture_of_a_step_with_a_caution_from_afar(picture: Picture, place: Place, open_app: Open) -> None:
    """To be seen: the step in large letters, and that it has a warning."""
    run = place.at(place.load(), "Shut the door")
    app = open_app("AA")
    picture(app, run_before=_afar(app, place, run))


def test_picture_of_what_is_blocked_from_afar(picture: Picture, place: Place, open_app: Open) -> None:
    """To be seen at once: BLOCKED, and by what."""
    place.through(place.load(), 10, 20, 30)
    place.through(place.load(40), 40)
    packed = place.load(50)
    place.clock.forward(9 * 3600)
    run = int(place.hand.do(BeginRun(packed, anyway=True))[0].body["run"])
    app = open_app("AA")
    picture(app, run_before=_afar(app, place, run))
