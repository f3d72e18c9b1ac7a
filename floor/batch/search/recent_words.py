"""Words people used lately, offered as picks: a typed note costs seven seconds, a pick one key (HMI-34)."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from typing import TypeVar

from floor.batch.events import Event, iter_events
from floor.batch.state import Batch

MOST_WORDS = 4
"""As many are offered: more take longer to read than to type (shop decision)."""
LONGEST_WORDS = 48
"""Longer texts are about one case only (shop decision)."""

E = TypeVar("E", bound=Event)


def list_recent_words(batches: Iterable[Batch], kind: type[E], read: Callable[[E], Iterable[str]]) -> tuple[str, ...]:
    """What entries of a kind said last in these batches, the newest first, each once; struck ones are left out.

    Args:
        read: the texts of an entry that are offered.
    """
    newest: dict[str, tuple[datetime, str]] = {}
    for batch in batches:
        standing = (one for one in iter_events(batch.entries, kind) if one[0].seq not in batch.struck)
        for entry, event in standing:
            for text in read(event):
                said = text.casefold()
                if 0 < len(text) <= LONGEST_WORDS and (said not in newest or newest[said][0] < entry.time):
                    newest[said] = entry.time, text
    return tuple(text for _, text in sorted(newest.values(), key=lambda one: one[0], reverse=True)[:MOST_WORDS])
