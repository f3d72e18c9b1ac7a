"""A new can by the keys: from what is next between two runs, and on the walk for the load it goes into."""

from __future__ import annotations

import pytest

from floor.screens.walk.new_lot import NEW_LOT_TITLE
from tests.screens.conftest import Open
from tests.screens.keys import fill, words
from tests.screens.operator import Place


@pytest.mark.parametrize("where", ["next", "batch"])
async def test_between_two_runs_it_holds_for_what_is_begun_later(open_app: Open, place: Place, where: str) -> None:
    load = place.load()
    place.through(load, 10, 20)
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press(*(["b"] if where == "batch" else []), "i")
        assert NEW_LOT_TITLE in words(app)
        await pilot.press("2")
        await fill(pilot, "L-77", "soon")
        assert "soon is not a date" in words(app)
        app.screen.query_one("#field-use_by").value = ""  # type: ignore[attr-defined]
        await fill(pilot, "2027-01-31")
        await pilot.pause()
        assert "lacquer: from now on L-77" in words(app)
    assert place.batch.lots["lacquer"].lot == "L-77"
    assert place.batch.entries[-1].body["into"] == []


async def test_on_the_walk_it_goes_into_the_load_under_way(open_app: Open, place: Place) -> None:
    load = place.load()
    place.through(load, 10)
    run = place.at(load, "count")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("i", "1")  # what this operation uses comes first
        await fill(pilot, "L-77", "2020-01-31")
        assert "2020-01-31, which is past" in words(app), "at its field, before the next"
        app.screen.query_one("#field-use_by").value = ""  # type: ignore[attr-defined]
        await fill(pilot, "2027-01-31", "")
        await pilot.pause()
    assert place.batch.entries[-1].body["into"] == [load]
    assert place.batch.runs[run].taken["lacquer"][-1] == "L-77"
