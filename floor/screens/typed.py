"""A field that is ended by Enter in the order in which the keys came."""

from __future__ import annotations

from collections.abc import Callable

from textual import events
from textual.widgets import Input


class Typed(Input):
    """An input whose Enter does not wait behind what is typed after it.

    The library lets Enter go up to the program before it ends the field; by then a scanner, or a slow line that
    brings many keys at once, has put the next value behind this one.
    """

    ended: Callable[[Typed, str], None] | None = None
    """Called at once with what stands in it when Enter is pressed; without, the usual message is sent."""

    async def _on_key(self, event: events.Key) -> None:
        """Only what is said here; for all else the library goes on to its own handler."""
        focused = self.screen.focused
        if focused is not self and isinstance(focused, Typed):
            event.prevent_default()
            event.stop()
            focused.post_message(events.Key(event.key, event.character))  # it came while the cursor went on
        elif event.key == "enter":
            event.prevent_default()
            event.stop()
            if self.ended is not None:
                self.ended(self, self.value)
            else:
                await self.action_submit()
