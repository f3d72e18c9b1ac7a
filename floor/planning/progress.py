"""Progress of a long computation, reported while it runs."""

from __future__ import annotations

from collections.abc import Callable

Telling = Callable[[float, str], None]
"""Called with the share done, 0 to 1 and never falling, and a few words on the state."""


class ProgressReporter:
    """Passes progress on, scaled between its ends and never falling; does nothing without a receiver.

    Args:
        telling: the receiver; None for none.
    """

    def __init__(self, telling: Telling | None) -> None:
        self.telling, self.most = telling, 0.0

    def __call__(self, share: float, words: str) -> None:
        if self.telling is not None:
            self.most = max(self.most, min(share, 1.0))
            self.telling(self.most, words)

    def part(self, first: float, last: float) -> Telling:
        """A reporter for one part of the work, from share ``first`` to ``last`` of the whole."""
        return lambda share, words: self(first + (last - first) * min(share, 1.0), words)
