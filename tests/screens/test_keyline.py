"""The line of keys: true to the screen, and laid out anew only where the keys are others."""

from __future__ import annotations

import pytest
from textual.widgets._footer import FooterKey

from floor.screens.keyline import KeyLine
from tests.screens.conftest import Open
from tests.screens.operator import Place


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

        assert set(shown()) == {"escape", "f1"}, "in a field the letters are letters"
        await pilot.press("escape")
        out = shown()
        assert {"enter", "s", "w", "x", "b"} <= set(out)

        app.screen.refresh_bindings()
        await pilot.pause()
        assert all(shown()[key] is widget for key, widget in out.items()), "told of the same keys, it stands still"

        monkeypatch.setattr(app.screen, "check_action", lambda action, parameters: None if action == "skip" else True)
        app.screen.refresh_bindings()
        await pilot.pause()
        assert shown()["s"].has_class("-disabled"), "a key that does nothing now is shown so"
        assert not shown()["w"].has_class("-disabled")
