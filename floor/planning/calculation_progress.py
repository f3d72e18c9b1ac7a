"""Progress of a long computation, reported while it runs."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[float, str], None]
"""Called with the share done, 0 to 1 and never falling, and a few words on the state."""


class ProgressReporter:
    """Passes progress on, scaled between its ends and never falling; does nothing without a receiver.

    Args:
        progress: the receiver; None for none.
    """

    def __init__(self, progress: Progress | None) -> None:
        self.progress, self.most = progress, 0.0

    def __call__(self, share: float, words: str) -> None:
        if self.progress is not None:
            self.most = max(self.most, min(share, 1.0))
            self.progress(self.most, words)

    def part(self, first: float, last: float) -> Progress:
        """A reporter for one part of the work, from share ``first`` to ``last`` of the whole."""
        return lambda share, words: self(first + (last - first) * min(share, 1.0), words)
