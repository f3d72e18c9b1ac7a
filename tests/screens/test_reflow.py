"""Every dialog fits the terminal that it is shown on, also one that was made smaller or larger while it was open."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from textual.screen import Screen
from textual.widgets import OptionList, Static

from floor.app import FloorApp
from floor.batch.walk.recap import Recap
from floor.checklist.model import Caution
from floor.screens.forms.dialogs import Choice, ChoiceDialog, ConfirmDialog, TextDialog
from floor.screens.frame.keys import KeysDialog, Row
from floor.screens.frame.sign_in import SignInDialog
from floor.screens.walk.recap_dialog import RecapDialog
from floor.screens.walk.screen import WalkScreen
from floor.screens.widgets.entry_lines import EntryDetail
from floor.text import wrap_text
from tests.screens.operator import Place

LONG = "The piece was measured with a gauge that was found suspect afterwards, and nobody has decided on it since then"
CAUTION = Caution(
    word="WARNING",
    hazard="Turning cutter behind a door that can be opened while it runs down",
    avoid="Stay clear until the spindle has stopped; door shut, eyes covered",
    source="29 CFR 1910.212(a)(1)",
)
RECAP = Recap(last=LONG, away="2 h", others=("BB",), lapsed=(LONG,), current=LONG, is_interrupted=True)
Make = Callable[[FloorApp, Place], Screen[Any]]
MADE: dict[str, Make] = {
    "choice": lambda app, place: ChoiceDialog("Which?", [Choice("a", LONG), Choice("b", "short"), Choice("c", LONG)]),
    "question": lambda app, place: ConfirmDialog(LONG, [CAUTION], "start"),
    "text": lambda app, place: TextDialog("Read", lambda width: "\n".join(wrap_text(LONG, width=width))),
    "recap": lambda app, place: RecapDialog(RECAP),
    "sign in": lambda app, place: SignInDialog(app.session),
    "keys": lambda app, place: KeysDialog("Here", [Row("x", "Report", LONG, False)]),
    "entry": lambda app, place: EntryDetail(place.batch, place.batch.entries[-1]),
}


def list_laid_out(screen: Screen[Any]) -> list[str]:
    """All text of a dialog, each as it was laid out."""
    found = [str(one.content) for one in screen.query(".dialog Static").results(Static) if one.display]
    for listed in screen.query(OptionList):
        found += [str(listed.get_option_at_index(n).prompt) for n in range(listed.option_count)]
    return found


@pytest.mark.parametrize("kind", MADE)
async def test_a_dialog_is_laid_out_anew_when_the_terminal_is_resized(place: Place, kind: str) -> None:
    """As if it had been opened at the size that the terminal has now, and nothing beside its edge."""
    place.load()
    texts = {}
    for sizes in (((40, 20),), ((100, 40), (40, 20)), ((100, 40),), ((40, 20), (100, 40))):
        app = FloorApp(place.shop, who="AA", ticking=False)
        async with app.run_test(size=sizes[0]) as pilot:
            app.push_screen(MADE[kind](app, place))
            await pilot.pause()
            for size in sizes[1:]:
                await pilot.resize_terminal(*size)
                await pilot.pause()
                await pilot.pause()
            texts[sizes] = list_laid_out(app.screen)
            box = app.screen.query_one(".dialog")
            assert box.region.right <= sizes[-1][0]
            assert box.max_scroll_x == 0
    opened, resized, wide, larger = texts.values()
    assert resized == opened
    assert larger == wide
    assert opened != wide, "or it would show nothing"


async def test_the_cursor_stays_at_its_choice(place: Place) -> None:
    app = FloorApp(place.shop, who="AA", ticking=False)
    answers: list[str | None] = []
    async with app.run_test(size=(100, 40)) as pilot:
        app.push_screen(
            ChoiceDialog("Which?", [Choice("a", LONG), Choice("b", LONG), Choice("c", LONG)]), answers.append
        )
        await pilot.press("down")
        await pilot.resize_terminal(40, 20)
        await pilot.press("enter")
    assert answers == ["b"]


async def test_how_and_why_of_a_step_fit_a_smaller_terminal(place: Place) -> None:
    run = place.at(place.load(), "Probe G54 X Z")
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=(100, 40)) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        assert isinstance(app.screen, WalkScreen)
        app.screen.set_focus(None)
        await pilot.press("v")
        await pilot.resize_terminal(40, 20)
        await pilot.pause()
        assert max(len(row) for row in str(app.screen.query_one("#text", Static).content).split("\n")) <= 30
