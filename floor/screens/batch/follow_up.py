"""The form for a cause found, and for what the customer was told, of pieces that do not conform."""

from __future__ import annotations

from floor.batch.counting.follow_up import FollowUp
from floor.screens.forms.dialogs import Choice, ChoiceDialog
from floor.screens.forms.fields import FieldSpec, Values
from floor.screens.frame.screen import FloorScreen
from floor.text import capitalize_first, format_count

FOLLOW_UPS = ("cause found", "customer told")


def choose_follow_up(screen: FloorScreen, batch: str, pieces: tuple[int, ...], text: str) -> None:
    """Ask which of the two, then for it, and record it.

    Args:
        text: the pieces in words.
    """

    def chosen(what: str | None) -> None:
        if what is not None:
            _ask(screen, batch, what, pieces, text)

    choices = [Choice(what, what) for what in FOLLOW_UPS]
    screen.ask(ChoiceDialog(f"Note on {format_count(len(pieces), 'piece')}", choices, text, acts=True), chosen)


def _ask(screen: FloorScreen, batch: str, what: str, pieces: tuple[int, ...], text: str) -> None:
    told, today = what == "customer told", screen.session.now().at.date().isoformat()
    fields = [
        FieldSpec("text", "What they were told" if told else "Cause", needed=True),
        FieldSpec("person", "Who was told" if told else "Who looked into it", needed=True),
        FieldSpec("on", "Day", today, hint="YYYY-MM-DD", kept=True),
    ]
    fields += [FieldSpec("reference", "Their reference", hint="blank if they gave none")] if told else []

    def command(values: Values) -> FollowUp:
        reference = values.get("reference", "")
        return FollowUp(pieces, what, values["person"], values["on"], values["text"], reference)  # type: ignore[arg-type]

    many = format_count(len(pieces), "piece")
    title = f"{capitalize_first(what)}: {many}"
    screen.ask_and_give(batch, title, fields, command, lambda _: screen.say(f"{many}: {what}"), text)
