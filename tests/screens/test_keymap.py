"""Keys of the shop's own: WCAG 2.2, success criterion 2.1.4, single-letter keys can be turned off or remapped."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from floor.app import FloorApp
from floor.screens.batch.screen import BatchScreen
from floor.screens.forms.dialogs import TroubleDialog
from floor.screens.frame.key_map import build_key_map
from floor.screens.shop.what_next import NextScreen
from floor.shop.settings import SettingsError
from tests.screens.operator import Place
from tests.screens.seen import seen

Open = Callable[..., FloorApp]
HERE = Path("shop")


async def test_a_key_of_its_own_does_what_the_usual_one_did_and_stands_on_the_screen(
    place: Place, open_app: Open
) -> None:
    place.load()
    (place.shop.folder / "shop.toml").write_text('[keys]\nbatch = "f9"\nplan = "ctrl+p"\n')
    app = open_app("AA")
    async with app.run_test(size=(100, 24)) as pilot:  # at 80 columns a moved key comes last, behind the mark
        await pilot.pause()
        await pilot.press("b")
        assert isinstance(app.screen, NextScreen), "the usual key is free"
        assert "f9 Batch" in seen(app)
        await pilot.press("f9")
        assert isinstance(app.screen, BatchScreen)
        await pilot.press("?")
        assert "Ctrl+P" in seen(app)


async def test_letters_alone_can_be_turned_off(place: Place, open_app: Open) -> None:
    """A cough into dictation, or a sleeve on the keys, then enters nothing."""
    run = place.at(place.load(), "Clamp the pallet")
    (place.shop.folder / "shop.toml").write_text('[keys]\nletters = "alt"\n')
    app = open_app("AA")
    async with app.run_test(size=(160, 50)) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        walk = app.screen
        for key in "swxnpmbefgaoytdvk":
            await pilot.press(key)
            assert app.screen is walk, key
        await pilot.press("alt+b")
        assert isinstance(app.screen, BatchScreen)
        await pilot.press("escape", "enter")
        assert place.hand.current(1).title != "Clamp the pallet"  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"skp": "f9"}, "there is no key named skp; there are letters, abnormal, add, afar"),
        ({"skip": "fn+s"}, 'skip: "fn+s" is not a key; write it like "f9"'),
        ({"letters": "shift"}, 'letters: "shift" is not alt or ctrl+alt'),
        ({"skip": "w"}, "would both be w"),
        ({"batch": "ctrl+q"}, "would both be ctrl+q"),
    ],
)
def test_what_is_wrong_is_reported_with_its_place(asked: dict[str, str], said: str) -> None:
    with pytest.raises(SettingsError) as wrong:
        build_key_map(asked, HERE, FloorApp.BINDINGS)
    assert said in str(wrong.value)
    assert str(wrong.value).startswith("shop/shop.toml: keys: ")


def test_two_that_change_places_do_not_clash() -> None:
    assert build_key_map({"skip": "w", "waive": "s"}, HERE, FloorApp.BINDINGS) == {"skip": "w", "waive": "s"}


async def test_with_a_fault_the_usual_keys_hold_and_it_is_reported(place: Place, open_app: Open) -> None:
    place.load()
    (place.shop.folder / "shop.toml").write_text('[keys]\nbatch = "f99"\n')
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert isinstance(app.screen, TroubleDialog)
        assert "f99" in seen(app)
        await pilot.press("enter", "b")
        assert isinstance(app.screen, BatchScreen)


async def test_all_that_is_wrong_in_the_file_is_told_in_one_box_of_its_own(place: Place, open_app: Open) -> None:
    """Also where nothing that opening reads is wrong, and where the keys cannot be read."""
    place.load()
    (place.shop.folder / "shop.toml").write_text("half_life_days = 0\n[keys]\nskip = 9\n")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert isinstance(app.screen, TroubleDialog)
        assert "✕ Settings in shop.toml" in seen(app)
        assert "line 1, half_life_days: 0 is out of range; 1 or more" in seen(app)
        assert "line 3, keys skip: 9 is not right here" in seen(app)
        await pilot.press("enter")
        assert not isinstance(app.screen, TroubleDialog)
