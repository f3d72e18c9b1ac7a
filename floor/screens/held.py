"""Telling a key that is held down, or pressed twice by a tired hand, from one that is meant."""

from __future__ import annotations

GAP = 0.6
"""Seconds: a key of confirming that comes sooner after itself is not taken. Keyboards repeat a held key after a quarter
to two thirds of a second and then thirty times a second; nobody reads a line in less (shop decision)."""
CONFIRMING = frozenset({"enter", "space"})
HELD_KEY = "held"
"""What a confirming key becomes when it is not taken; no keyboard sends it."""


class Held:
    """Remembers when each key of confirming last came."""

    def __init__(self, gap: float = GAP) -> None:
        self.gap = gap
        self._last: dict[str, float] = {}

    def again(self, key: str, time: float) -> bool:
        """Whether this key came too soon after itself; a held key stays so until it is let go.

        Args:
            time: when it came, in seconds by a clock that nobody can set.
        """
        if key not in CONFIRMING:
            return False
        before, self._last[key] = self._last.get(key), time
        return before is not None and time - before < self.gap
