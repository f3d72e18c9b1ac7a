"""How far a long piece of work is, told while it goes on."""

from __future__ import annotations

from collections.abc import Callable

Telling = Callable[[float, str], None]
"""Called with the share that is done, 0 to 1 and never less than before, and a few words on how it goes."""


class ProgressReporter:
    """Passes on what it is told, the share held between its ends and never falling; tells nobody where there is none.

    Args:
        telling: whom to tell; None for nobody.
    """

    def __init__(self, telling: Telling | None) -> None:
        self.telling, self.most = telling, 0.0

    def __call__(self, share: float, words: str) -> None:
        if self.telling is not None:
            self.most = max(self.most, min(share, 1.0))
            self.telling(self.most, words)

    def part(self, first: float, last: float) -> Telling:
        """What tells of one part of the work, which reaches from share ``first`` to ``last`` of the whole."""
        return lambda share, words: self(first + (last - first) * min(share, 1.0), words)
