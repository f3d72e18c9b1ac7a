"""A letter means the same on every screen, and the keys everybody needs stand on the same key everywhere."""

from __future__ import annotations

from importlib import import_module
from pkgutil import walk_packages

import pytest
from textual.binding import Binding
from textual.screen import ModalScreen

import floor.screens
from floor.batch.corrections.commands import Note, StrikeOut
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.walk.commands import BeginRun, DoStep
from floor.screens.batch.screen import BatchScreen
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.take_back import list_last_act
from floor.screens.walk.screen import WalkScreen
from tests.batch.factory import part
from tests.screens.conftest import Open
from tests.screens.operator import Place, said

SIZE = (80, 24)


def kinds(screen: type) -> set[type]:
    return {screen} | {one for kind in screen.__subclasses__() for one in kinds(kind)}


def all_bindings() -> list[tuple[str, str, Binding]]:
    for module in walk_packages(floor.screens.__path__, "floor.screens."):
        import_module(module.name)
    ours = {one for kind in (FloorScreen, ModalScreen) for one in kinds(kind) if one.__module__.startswith("floor")}
    found = []
    for screen in ours:
        for one in vars(screen).get("BINDINGS", ()):
            assert isinstance(one, Binding)
            found += [(key, screen.__name__, one) for key in one.key.split(",")]
    return found


def test_a_letter_has_one_meaning_on_all_screens() -> None:
    """Signing in and out is the one key whose word says which of the two it does now."""
    meanings: dict[str, set[str]] = {}
    for key, _, one in all_bindings():
        if len(key) == 1 and key.isalpha():
            meanings.setdefault(key, set()).add(one.description.split(",")[0])
    several = {key: words for key, words in meanings.items() if len(words) > 1}
    assert several == {"l": {"Sign in", "Sign out"}}
    assert len(meanings) > 15, "or nothing was looked at"


def test_a_word_has_one_letter() -> None:
    letters: dict[str, set[str]] = {}
    for key, _, one in all_bindings():
        if len(key) == 1 and key.isalpha():
            letters.setdefault(one.description, set()).add(key)
    assert {word: keys for word, keys in letters.items() if len(keys) > 1} == {}


@pytest.mark.parametrize("key", ["u", "n", "e"])
def test_take_back_note_and_papers_are_on_their_key_wherever_work_is_done(key: str) -> None:
    screens = {name for one, name, _ in all_bindings() if one == key}
    assert {"WalkScreen", "BatchScreen"} <= screens


# --- one key takes the last act back ---------------------------------------------------------------------------------


async def test_the_last_step_is_taken_back_with_one_key_for_a_minute(open_app: Open, place: Place) -> None:
    run = place.at(place.load(), "Clamp the pallet")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        done = place.batch.seq
        place.clock.forward(20)
        await pilot.press("enter")
        assert place.batch.entries[-1].seq > done
        place.clock.forward(59)
        await pilot.press("u")
        assert "Taken back: " in said(app)
        assert place.batch.entries[-1].kind == "struck_out"
        assert place.batch.entries[-1].body["reason"] == "taken back at once"
        assert isinstance(app.screen, WalkScreen)
        assert app.screen.get_walk().current.title == "Clamp the pallet"  # type: ignore[union-attr]
        await pilot.press("enter")
        place.clock.forward(61)
        before = place.batch.seq
        await pilot.press("u", "escape")
        assert place.batch.seq == before, "older ones are struck out in the history"


async def test_only_ones_own_last_act_is_taken_back(open_app: Open, place: Place) -> None:
    load = place.load()
    place.shop.do(place.id, BeginRun(load), "BB")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go(BatchScreen(app.session, place.id))
        await pilot.pause()
        await pilot.press("u")
        assert "Nothing of yours from the last minute" in said(app)
    assert list_last_act(place.batch, "AA", place.shop.now()) == []
    assert [one.kind for one in list_last_act(place.batch, "BB", place.shop.now())] == ["run_begun"]


def test_an_act_of_several_entries_is_taken_back_whole(place: Place) -> None:
    run = place.at(place.load(), "do")
    line = place.hand.current(place.batch.runs[run].load)
    assert line is not None
    place.clock.forward(20)
    made = place.shop.do(place.id, DoStep(run, line.key), "AA")
    assert [one.seq for one in list_last_act(place.batch, "AA", place.shop.now())] == [one.seq for one in made][::-1]


def test_a_strike_with_a_reason_is_not_taken_back(place: Place) -> None:
    """It is no act of the work: whoever struck out by mistake enters again what was right."""
    noted = place.shop.do(place.id, Note("typed twice"), "AA")[0]
    place.clock.forward(5)
    place.shop.do(place.id, StrikeOut(noted.seq, "typed twice"), "AA")
    assert list_last_act(place.batch, "AA", place.shop.now()) == []


async def test_on_what_next_the_latest_act_is_taken_back_on_whichever_batch(open_app: Open, place: Place) -> None:
    first = place.batch
    second = place.shop.open_batch(OpenBatch(place.shop.find_next_id(), part(), "digest", "part.toml", 8, 10), by="LL")
    place.shop.do(first.id, Note("the older one"), "AA")
    place.clock.forward(20)
    place.shop.do(second.id, Note("the latest one"), "AA")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("u")
        assert "Taken back: " in said(app)
    assert place.shop.batch(second.id).entries[-1].kind == "struck_out"
    assert place.batch.entries[-1].kind == "noted"
