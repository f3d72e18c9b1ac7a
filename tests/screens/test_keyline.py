"""The key line: true to the screen, no key cut, and each one clickable."""

from __future__ import annotations

from collections.abc import Awaitable, Callable

import pytest

from floor.app import FloorApp
from floor.screens.forms.dialogs import FormDialog
from floor.screens.frame.key_line import Key, KeyLine
from floor.screens.frame.screen import FloorScreen
from floor.screens.walk.screen import WalkScreen
from tests.screens.conftest import Open
from tests.screens.operator import Place, said
from tests.screens.painted import patches, rows


async def test_the_keys_are_those_of_the_moment(open_app: Open, place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    load = place.load()
    place.through(load, 10)
    run = place.at(load, "Record the lot of lacquer")
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        line = app.screen.query_one(KeyLine)

        def shown() -> dict[str, Key]:
            return {key.key: key for key in line.keys}

        async def until(laid_out: Callable[[], bool]) -> None:
            """The screen says that its keys are others some turns later on a busy machine."""
            for _ in range(50):
                if laid_out():
                    return
                await pilot.pause()
            raise AssertionError(f"the keys are still {set(shown())}")

        await until(lambda: set(shown()) == {"escape", "ctrl+g", "f1"})  # in a field the letters are letters
        await pilot.press("escape")
        await until(lambda: {"enter", "w", "x"} <= set(shown()))
        assert "s" not in shown(), "a required check is not skipped"
        drawn = line.content

        app.screen.refresh_bindings()
        await pilot.pause()
        assert line.content is drawn, "told of the same keys, it stands still"

        monkeypatch.setattr(app.screen, "check_action", lambda action, parameters: None if action == "waive" else True)
        app.screen.refresh_bindings()
        await until(lambda: not shown()["w"].enabled)
        assert shown()["x"].enabled
        await pilot.pause()
        letters = {patch.text.strip(): patch.letters for patch in patches(app) if patch.row == 23}
        assert letters["w"] != letters["x"], "a key that does nothing now is dim"
        assert letters["n"] == letters["x"]


@pytest.mark.parametrize(
    ("at", "keys"),
    [
        ("Clamp the pallet", {"enter", "s", "p"}),
        ("Press each corner: nothing rocks", {"enter", "p"}),
        ("Probe G54 X Z", {"enter", "w", "p"}),
        ("end", {"enter", "p"}),
        ("release", {"enter", "p"}),
        ("", set()),
    ],
    ids=["step", "check that nobody waives", "check", "end of the cycle", "release", "released"],
)
async def test_the_line_shows_the_keys_that_act_at_the_step_and_the_others_say_why(
    open_app: Open, place: Place, at: str, keys: set[str]
) -> None:
    load = place.load()
    if at:
        run = place.at(load, at)
    else:
        place.through(load, 10)
        run = max(place.batch.runs)
    app = open_app("LL")
    async with app.run_test(size=(160, 50)) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        if app.focused is not None:
            await pilot.press("escape")
        for _ in range(5):
            await pilot.pause()
        shown = {key.key for key in app.screen.query_one(KeyLine).keys}
        assert shown & {"enter", "s", "w", "p"} == keys
        for key in {"s", "w", "p"} - keys:
            before = place.batch.seq
            await pilot.press(key)
            assert said(app), f"{key} says why it does nothing"
            assert place.batch.seq == before


async def test_a_click_on_a_key_is_the_key(open_app: Open, place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    run = place.at(place.load(), "Clamp the pallet")
    app = open_app("AA")
    rung: list[bool] = []
    monkeypatch.setattr(FloorApp, "bell", lambda self: rung.append(True))
    async with app.run_test(size=(80, 24), tooltips=True) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        line = app.screen.query_one(KeyLine)

        async def at(key: str, act: Callable[..., Awaitable[object]]) -> None:
            text = rows(app)[23]
            before = sum(one.columns for one in line.keys[: [one.key for one in line.keys].index(key)])
            assert text[before + 1] == next(one.shown for one in line.keys if one.key == key)[0]
            await act(KeyLine, offset=(before + 1, 0))
            await pilot.pause()

        await at("n", pilot.hover)
        assert line.tooltip == "a note, also for the next shift"
        await at("n", pilot.click)
        assert isinstance(app.screen, FormDialog)
        await pilot.press("escape")
        monkeypatch.setattr(app.screen, "check_action", lambda action, parameters: None if action == "note" else True)
        app.screen.refresh_bindings()
        await pilot.pause()
        await at("n", pilot.click)
        assert isinstance(app.screen, WalkScreen)
        assert rung == [True]


@pytest.mark.parametrize("width", [80, 90, 100, 160])
async def test_no_key_is_cut_and_it_says_where_there_are_more(open_app: Open, place: Place, width: int) -> None:
    """At 80 columns not all keys of the walk have room; ``?`` shows the others."""
    run = place.at(place.load(), "Clamp the pallet")
    app = open_app()
    async with app.run_test(size=(width, 30)) as pilot:
        await pilot.pause()
        for screen in ("next", "walk"):
            keys = app.screen.query_one(KeyLine).keys
            bound = [one.binding for one in app.screen.active_bindings.values() if one.binding.show]
            assert isinstance(app.screen, FloorScreen)
            shown = {one.action for one in bound if not app.screen.is_idle(one.action)}
            text = rows(app)[29]
            assert all(f" {one.shown} {one.does} " in f"{text} " for one in keys)
            assert ("…" in text) == ({key.action for key in keys} < shown)
            assert {"all_keys", "app.quit" if screen == "next" else "pause"} <= {key.action for key in keys}
            app.go_walk(place.id, run)
            await pilot.pause()
            await pilot.pause()
        await pilot.resize_terminal(200, 30)
        await pilot.pause()
        bound = [one.binding for one in app.screen.active_bindings.values() if one.binding.show]
        assert {key.action for key in app.screen.query_one(KeyLine).keys} == {one.action for one in bound} - {"waive"}


async def test_what_a_key_does_stays_in_its_column_where_it_takes_two_lines(place: Place, open_app: Open) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 32)) as pilot:
        app.go_walk(place.id, place.at(place.load(), "Clamp the pallet"))
        await pilot.pause()
        await pilot.press("question_mark")
        lines = rows(app)
        at = next(n for n, line in enumerate(lines) if "a batch, load" in line)
        assert lines[at + 1].index("lot, gauge") == lines[at].index("a batch, load")
