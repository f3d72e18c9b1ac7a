"""A field that is ended by Enter in the order in which the keys came."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from textual import events
from textual.message import Message
from textual.widgets import Input

from floor.screens.frame.key_guard import SLOW

IN_A_NUMBER = frozenset("0123456789+-.,")
"""What a field for a number takes."""
DELETES = frozenset(("backspace", "delete", "ctrl+u", "ctrl+k", "ctrl+w", "ctrl+x"))
ONLY_NUMBER = "takes a number: digits, sign, point or comma"
LEFT_OUT = f"{ONLY_NUMBER}. Letters ignored: type it again"


class OrderedInput(Input):
    """An input whose Enter does not wait behind what is typed after it.

    The library lets Enter go up to the program before it ends the field; by then a scanner, or a slow line that
    brings many keys at once, has put the next value behind this one.
    """

    ended: Callable[[OrderedInput, str], None] | None = None
    """Called at once with what stands in it when Enter is pressed; without, the usual message is sent."""

    changed: Callable[[str], None] | None = None
    """Called at once with what stands in it after each key, before the next key comes."""

    class NotInANumber(Message):
        """A letter was typed where a number is asked for, and not taken; or Enter came after one."""

        def __init__(self, field: OrderedInput, said: str) -> None:
            super().__init__()
            self.field = field
            self.said = said

        @property
        def control(self) -> OrderedInput:
            return self.field

    def __init__(self, value: str | None = None, *, number: bool = False, unit: str = "", **given: Any) -> None:
        """A field; for a number it takes no letters, and the key that shows the keys is one there too.

        Args:
            unit: the unit of the number: then letters behind a digit are taken, for the rules to judge.
        """
        super().__init__(value, **given)
        self.given = value or ""
        """What stood in it at first."""
        self.number = number
        self.unit = unit
        self.left_out = False
        """Whether a letter was typed and not taken, and nothing begun again since."""
        self._scanned = False
        """Whether all keys since it came as quick as a scanner's: then what stands there is less than was meant, and
        goes again. A hand that is told of its letter, and types on, means what stands there."""
        self._before = self.given
        """What stood there before these keys."""
        self._last_key = 0.0

    def check_consume_key(self, key: str, character: str | None) -> bool:
        return super().check_consume_key(key, character) and not (self.number and character == "?")

    async def _on_key(self, event: events.Key) -> None:
        """Only what is said here; for all else the library goes on to its own handler."""
        self._tell_hand_from_scanner(event)
        focused = self.screen.focused
        if focused is not self and isinstance(focused, OrderedInput):
            event.prevent_default()
            event.stop()
            focused.post_message(events.Key(event.key, event.character))  # it came while the cursor went on
        elif event.key == "enter":
            event.prevent_default()
            event.stop()
            await self._end()
        elif self.number and event.is_printable and not self._takes(event.character):
            event.prevent_default()
            if event.character != "?":
                event.stop()
            if event.character not in ("?", " ") and not self.restrict:
                self.left_out = self._scanned = True
                self.post_message(self.NotInANumber(self, ONLY_NUMBER))
        elif self._is_begun_again(event):
            self.left_out = False

    def _tell_hand_from_scanner(self, event: events.Key) -> None:
        """A pause longer than a scanner's begins anew."""
        if event.time - self._last_key >= SLOW:
            self._scanned, self._before = False, self.value
        self._last_key = event.time

    def watch_value(self, value: str) -> None:
        """An emptied field is typed from the start, whichever key emptied it."""
        if not value:
            self.left_out = False
        if self.changed is not None:
            self.changed(value)

    async def _end(self) -> None:
        """Enter: taken, unless letters were left out of what a scanner sent, or nothing but letters was typed: then
        what stood there before stands there again.
        """
        if self.left_out and (self._scanned or not self.value):
            said = LEFT_OUT if self.value else ONLY_NUMBER
            self.left_out, self.value = False, self._before if self._scanned else self.value
            self.select_all()
            self.post_message(self.NotInANumber(self, said))
        elif self.ended is not None:
            self.ended(self, self.value)
        else:
            await self.action_submit()

    def _is_begun_again(self, event: events.Key) -> bool:
        """Whether a key leaves nothing of what stood there."""
        if event.key in DELETES and (not self.value or (event.key == "backspace" and len(self.value) == 1)):
            return True  # an empty field reports no change
        return self._is_replaced and (event.is_printable or event.key in ("backspace", "delete"))

    def _takes(self, character: str | None) -> bool:
        """Whether a character may stand in a number here: its digits, and behind one the unit."""
        behind = self.unit and any(one.isdigit() for one in self.value[: self.cursor_position])
        return character in IN_A_NUMBER or bool(behind and character != "?" and not self._is_replaced)

    @property
    def _is_replaced(self) -> bool:
        """Whether what is typed next takes the place of all that stands there."""
        return bool(self.value) and self.selected_text == self.value
