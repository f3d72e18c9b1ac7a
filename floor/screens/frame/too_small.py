"""What is shown where the terminal is too small to work safely."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.screen import Screen
from textual.widgets import Static


class TooSmall(Screen[None]):
    """Says which size is needed; goes away by itself when the terminal has it. Nothing is lost meanwhile."""

    def __init__(self, width: int, height: int) -> None:
        super().__init__()
        self.needed = (width, height)

    def compose(self) -> ComposeResult:
        yield Static(self._text(), id="too-small")

    def on_screen_resume(self) -> None:
        """Where a dialog stood before it while the window was enlarged, it goes when it is seen again."""
        has, (width, height) = self.app.size, self.needed
        if has.width >= width and has.height >= height:
            self.dismiss()

    def on_resize(self) -> None:
        self.query_one("#too-small", Static).update(self._text())

    def _text(self) -> str:
        width, height = self.needed
        has = self.app.size
        return f"Floor needs {width} x {height}; this is {has.width} x {has.height}. Enlarge the window."
