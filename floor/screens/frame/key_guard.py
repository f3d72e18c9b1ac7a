"""Telling what a hand means from a key that is held down, a key pressed twice, and a scanner that reads no field."""

from __future__ import annotations

REPEATS = 0.1
"""Seconds: a key that comes sooner after itself is held down. Keyboards repeat about thirty times a second; fingers
tap less than ten times (shop decision)."""
GAP = 0.6
"""Seconds between two confirmings: nobody reads a line in less, and a keyboard starts to repeat a held key after a
quarter to two thirds of a second (shop decision).
"""
BURST = 0.04
"""Seconds within which a scanner, or a paste, sends its next letter, and no hand does (shop decision)."""
HELD_KEY, READ_KEY = "held", "read"
"""What a key becomes when it is not taken: held down or pressed twice; read where no field is open. No keyboard sends
them."""
ACTING = frozenset({"confirm", "count", "go", "next", "select"})
"""Beginnings of the actions that make an entry, or go on to where the same key makes one."""


class KeyGuard:
    """Remembers the last key, and when the last one of confirming was taken."""

    def __init__(self, gap: float = GAP) -> None:
        self.gap = gap
        self._key = ""
        self._seen = 0.0
        self._taken: float | None = None

    def again(self, key: str, time: float, confirms: bool) -> bool:
        """Whether this key is the last one held down, or confirms too soon after the last confirming.

        Args:
            time: when it came, in seconds by a clock that nobody can set.
            confirms: whether it makes an entry here.
        """
        if not self.gap:
            return False
        repeats = key == self._key and time - self._seen < REPEATS
        self._key, self._seen = key, time
        if repeats:
            return True
        if confirms:
            if self._taken is not None and time - self._taken < self.gap:
                return True
            self._taken = time
        return False
