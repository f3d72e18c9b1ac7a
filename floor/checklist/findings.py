"""A finding: one thing wrong in a checklist, wherever it was noticed."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches
from typing import NamedTuple

from floor.checklist.line_numbers import Path


class Finding(NamedTuple):
    """One thing wrong at a path of the file's data."""

    path: Path
    wrong: str
    right: str


def suggest_known_name(given: str, known: Iterable[str]) -> str:
    """A hint at the known name probably meant, then all of them."""
    names = [str(name) for name in known]
    if not names:
        return "there are none in the file yet"
    close = get_close_matches(given, names, n=1, cutoff=0.6)
    meant = f'did you mean "{close[0]}"? ' if close else ""
    return f"{meant}known: {', '.join(names)}"
