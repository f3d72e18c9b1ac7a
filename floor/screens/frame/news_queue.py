"""News that a person must hear of once: one after the other in the line of replies, over nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field

from floor.dataclass import dataclass

STANDS = 20.0
"""Seconds a piece of news stands."""
HURRIED = 8.0
"""Seconds where others wait."""
MOST = 3
"""Told one by one; of more it is said only how many there are."""


@dataclass(slots=True)
class NewsQueue:
    """What waits to be told; times are seconds by a clock that nobody can set."""

    waiting: list[str] = field(default_factory=list)
    since: float | None = None
    """When the first was put on view."""
    meant_for: dict[str, str] = field(default_factory=dict)
    """News about one person → their initials: over once somebody else is signed in, or nobody."""

    def add(self, texts: Sequence[str], to: str = "") -> None:
        """Have these told, each once; where too many wait, the rest becomes one that counts them.

        Args:
            to: initials of the only person they are about.
        """
        self.meant_for |= {text: to for text in texts if to}
        new = [text for text in dict.fromkeys(texts) if text not in self.waiting]
        more = [f"+{len(new) - MOST} more (Esc: list)"] if len(new) > MOST else []
        self.waiting += [*new[:MOST], *more]

    def on_view(self, up: float, who: str = "") -> str:
        """What stands now; the empty string where there is nothing to tell.

        Args:
            who: initials of the person signed in.
        """
        if self.waiting and self.meant_for.get(self.waiting[0], who) != who:
            self.since = None
        self.waiting = [text for text in self.waiting if self.meant_for.get(text, who) == who]
        if self.waiting and self.since is not None:
            over = up - self.since >= (HURRIED if len(self.waiting) > 1 else STANDS)
            if over or up < self.since:  # the machine was restarted
                del self.waiting[0]
                self.since = None
        if not self.waiting:
            return ""
        if self.since is None:
            self.since = up
        rest = len(self.waiting) - 1
        return self.waiting[0] + (f"  ({rest} more)" if rest else "")
