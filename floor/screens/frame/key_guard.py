"""Telling what a hand means from a key that is held down, one pressed twice, one that nothing takes, and a scan."""

from __future__ import annotations

REPEATS = 0.1
"""Seconds: a key that comes sooner after itself is held down. Keyboards repeat about thirty times a second; fingers
tap less than ten times (shop decision)."""
GAP = 0.6
"""Seconds between two confirmings: nobody reads a line in less, and a keyboard starts to repeat a held key after a
quarter to two thirds of a second (shop decision).
"""
BURST = 0.04
"""Seconds within which a fast scanner, or a paste, sends its next letter, and no hand does (shop decision)."""
SLOW = 0.28
"""Seconds within which a slow scanner sends its next letter: 200 ms, and what a busy line adds. So long a key waits
that answers a question or takes an entry back; and who presses a key, sees the question and answers it takes longer
(shop decision)."""
STUTTER = 0.5
"""Seconds within which the next letter of what was recognized as a scan still belongs to it (shop decision)."""
TYPED_ON = 2.0
"""Seconds after a letter or digit that nothing took, within which another one does not show that it was forgotten: a
gloved hand types the digits of a label that far apart (shop decision)."""
HELD_KEY, READ_KEY = "held", "read"
"""What a key becomes when it is not taken: held down or pressed twice; read where no field is open. No keyboard sends
them."""
ACTING = frozenset({"confirm", "count", "go", "next", "select", "look"})
"""Beginnings of the actions that make an entry, or go on to where the same key makes one."""
AT_ONCE = frozenset({"take_back", "begin", "record", "answer"})
"""Beginnings of the actions by which a letter alone makes an entry."""


class KeyGuard:
    """Remembers the last key, and when the last one of confirming was taken."""

    def __init__(self, gap: float = GAP) -> None:
        self.gap = gap
        self._key = ""
        self._seen = 0.0
        self._taken: float | None = None
        self._letter: float | None = None
        """When the last letter or digit came that no field took."""
        self.scanning = False
        """Whether the rest of a scan is still coming in."""
        self.ignored = ""
        """Letters and digits that nothing took, since the last key that something did."""
        self._ignored_at = 0.0

    def note_letter(self, time: float) -> None:
        self._letter = time

    def note_ignored(self, letter: str, time: float) -> None:
        """Nothing took a letter or digit: somebody types, or scans, what no field takes."""
        self.ignored, self._ignored_at = self.ignored + letter, time

    def forget_ignored(self, time: float, letter: bool) -> None:
        """Another key goes where it was meant. A letter shows that only some time later: labels mix letters that are
        keys here with those that are none."""
        if not letter or time - self._ignored_at > TYPED_ON:
            self.ignored = ""

    def goes_on(self, time: float) -> bool:
        """Whether a key comes so soon after a letter that a scanner sends both."""
        within = STUTTER if self.scanning else SLOW
        soon = bool(self.gap) and self._letter is not None and time - self._letter < within
        self.scanning = self.scanning and soon
        return soon

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
