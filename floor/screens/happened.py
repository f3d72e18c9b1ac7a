"""Asking what happened at a station: it voids what was proved there."""

from __future__ import annotations

from floor.batch.commands.working import Disturb
from floor.batch.gates import DISTURBANCES
from floor.batch.state import Run
from floor.screens.base import FloorScreen
from floor.screens.dialogs import Choice, Choose


def what_happened(screen: FloorScreen, batch_id: str, run: Run) -> None:
    """Ask what happened where the run is, and which tool where a tool was changed."""
    checklist = screen.desk.batch(batch_id).checklist

    def happened(what: str | None) -> None:
        if what == "tool changed":
            tools = [tool for tool in checklist.tools if tool.station == run.station]
            choices = [Choice(str(tool.number), f"T{tool.number} {tool.name}") for tool in tools]
            screen.floor.push_screen(Choose("Which tool was changed?", choices), changed)
        elif what is not None:
            screen.give(batch_id, Disturb(run.station, what, load=run.load if what == "lifted" else None))

    def changed(number: str | None) -> None:
        if number is not None:
            screen.give(batch_id, Disturb(run.station, "tool changed", tool=int(number)))

    title = f"What happened at {checklist.station(run.station).name}?"
    choices = [Choice(what, text) for what, text in DISTURBANCES.items()]
    screen.floor.push_screen(Choose(title, choices, "It voids what was proved there."), happened)
