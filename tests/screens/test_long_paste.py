"""Text pasted into a form is kept whole, or refused as too long before anything is kept."""

from __future__ import annotations

from textual import events
from textual.widgets import Input

from floor.app import FloorApp
from floor.screens.forms.dialogs import FormDialog
from floor.text import LONGEST_TEXT
from tests.screens.operator import Operator, Place, said


async def test_a_long_note_is_not_cut_unsaid_and_all_lines_are_kept(place: Place) -> None:
    run = place.at(place.load(), "Clamp the pallet")
    app = FloorApp(place.shop, who="AA", ticking=False)
    keys = Operator(app, place.clock, "BB")

    def paste(text: str) -> None:
        assert isinstance(app.focused, Input)
        app.focused.value = ""
        app.focused.post_message(events.Paste(text))

    async with app.run_test(size=(80, 24)):
        app.go_walk(place.id, run)
        await keys.line()
        keys.send("n")
        await keys.until(lambda: isinstance(app.screen, FormDialog) and isinstance(app.focused, Input), "the note")
        before = len(place.batch.entries)

        paste("x" * (LONGEST_TEXT + 12))
        await keys.until(lambda: isinstance(app.focused, Input) and app.focused.value, "the paste")
        keys.send("enter")
        await keys.until(lambda: "12 characters more than the 500 that are kept" in said(app), "what is wrong")
        assert len(place.batch.entries) == before

        paste("chuck key found\nbehind the vise\r\nagain")
        await keys.until(lambda: isinstance(app.focused, Input) and "again" in app.focused.value, "the paste")
        note = app.focused
        keys.send("enter")
        await keys.until(lambda: app.focused is not note, "the next field")
        keys.send("enter")
        await keys.until(lambda: len(place.batch.entries) > before, "the note kept")
    assert place.batch.entries[-1].body["text"] == "chuck key found behind the vise again"
