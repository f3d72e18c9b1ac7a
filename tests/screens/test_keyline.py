"""The line of keys: true to the screen, and laid out anew only where the keys are others."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from textual.widgets._footer import FooterKey

from floor.screens.frame.key_line import KeyLine
from tests.screens.conftest import Open
from tests.screens.operator import Place
from tests.screens.painted import rows


async def test_the_keys_are_laid_out_anew_only_where_they_are_others(
    open_app: Open, place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    load = place.load()
    place.through(load, 10)
    run = place.at(load, "Record the lot of lacquer")
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        line = app.screen.query_one(KeyLine)

        def shown() -> dict[str, FooterKey]:
            return {key.key: key for key in line.query(FooterKey)}

        async def until(laid_out: Callable[[], bool]) -> None:
            """The keys are laid out after the screen says that they are others, on a busy machine some turns later."""
            for _ in range(50):
                if laid_out():
                    return
                await pilot.pause()
            raise AssertionError(f"the keys are still {set(shown())}")

        await until(lambda: set(shown()) == {"escape", "f1"})  # in a field the letters are letters
        await pilot.press("escape")
        await until(lambda: {"enter", "s", "w", "x"} <= set(shown()))
        out = shown()

        app.screen.refresh_bindings()
        await pilot.pause()
        assert all(shown()[key] is widget for key, widget in out.items()), "told of the same keys, it stands still"

        monkeypatch.setattr(app.screen, "check_action", lambda action, parameters: None if action == "skip" else True)
        app.screen.refresh_bindings()
        await pilot.pause()
        await until(lambda: shown()["s"].has_class("-disabled"))  # a key that does nothing now is shown so
        assert not shown()["w"].has_class("-disabled")


@pytest.mark.parametrize("width", [80, 90, 100, 160])
async def test_no_key_is_cut_and_it_says_where_there_are_more(open_app: Open, place: Place, width: int) -> None:
    """At 80 columns not all keys of the walk have room; ``?`` shows the others."""
    run = place.at(place.load(), "Clamp the pallet")
    app = open_app()
    async with app.run_test(size=(width, 30)) as pilot:
        await pilot.pause()
        for screen in ("next", "walk"):
            line = app.screen.query_one(KeyLine)
            keys = list(line.query(FooterKey))
            more = [one for one in line.children if not isinstance(one, FooterKey)]
            shown = {one.binding.action for one in app.screen.active_bindings.values() if one.binding.show}
            assert max(one.region.right for one in line.children) <= width
            assert bool(more) == ({key.action for key in keys} < shown)
            assert {"all_keys", "app.quit" if screen == "next" else "pause"} <= {key.action for key in keys}
            app.go_walk(place.id, run)
            await pilot.pause()
            await pilot.pause()
        await pilot.resize_terminal(200, 30)
        await pilot.pause()
        assert {key.action for key in app.screen.query(FooterKey)} == {
            one.binding.action for one in app.screen.active_bindings.values() if one.binding.show
        }


async def test_what_a_key_does_stays_in_its_column_where_it_takes_two_lines(place: Place, open_app: Open) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(place.id, place.at(place.load(), "Clamp the pallet"))
        await pilot.pause()
        await pilot.press("question_mark")
        lines = rows(app)
        column = next(line.index("report: moved") for line in lines if "report: moved" in line)
        assert next(line.index("stopped") for line in lines if "stopped" in line) == column
