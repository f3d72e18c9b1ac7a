"""What a person reads on the top screen, and text entered into fields without a key per letter."""

from __future__ import annotations

from typing import Any

from textual import events
from textual.app import App
from textual.pilot import Pilot
from textual.widgets import Static

PIN = "2468"
"""Of a lead or a second person, wherever one is typed by a key a letter."""


def words(app: App[Any]) -> str:
    """All text on the top screen."""
    return "\n".join(str(one.content) for one in app.screen.query(Static) if one.display)


async def fill(pilot: Pilot[Any], *texts: str) -> None:
    """Paste each text into the field that has the cursor, and press Enter."""
    for text in texts:
        if text:
            pilot.app.post_message(events.Paste(text))
        await pilot.press("enter")
