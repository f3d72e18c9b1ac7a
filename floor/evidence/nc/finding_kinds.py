"""Things in a program a person should look at, as data. `describe` makes the sentences."""

from __future__ import annotations

from collections import Counter
from typing import Literal

from floor.dataclass import dataclass

Kind = Literal[
    # notation of the file
    "empty file", "not text", "byte order mark", "other encoding", "control character", "long line", "open comment",
    "nested comment", "nested words", "slash inside", "bad word", "word repeated", "word without use", "dot in code",
    "group clash", "unknown code", "unread lines", "no end", "main loops", "lathe",
    # what controls read differently
    "two readings",
    # what is left open
    "no units", "units changed", "offset assumed", "tool unknown", "pallet exchanged", "no speed",
    "no feed", "feed zero", "spindle off", "no length offset", "no motion",
    # lengths and radii
    "H not T", "D not T", "D left out", "H zero", "H left out", "length from program", "length subtracted",
    "radius compensation",
    # what changes the coordinates
    "offset written", "tool table written", "system variable", "local shift", "shift", "axes changed",
    "home through zero", "G53 in G91", "left on",
    # rapids into the work
    "rapid down", "rapid across", "low in machine", "R too low", "not retracted", "low at end",
    # what cannot be followed
    "bad arc", "cycle word left out", "no peck", "R below Z", "tap direction", "cycle varies", "probe", "probe turning",
    "call missing", "calls itself", "macro call", "jump not known", "label not found", "no return", "endless loop",
    "never left", "too long to follow",
    # against the card
    "wrong offset", "offset not called", "offset not known", "tool not on card", "tool not called", "speed off card",
    "feed off card", "sideways feed off card", "rubbing", "pass too light",
    "speed not known", "feed not known", "spindle not known", "spindle reversed", "wrong units",
    "file changed", "file not read", "number differs", "no number", "Z too deep", "Z not known", "outside carrier",
    "travel not known", "travel assumed", "part turned", "no feed mode",
    "coolant on dry", "coolant off card", "coolant missing", "coolant not known",
    "unlisted M-code", "plunge off card", "pass too deep", "peck too deep", "stroke too deep", "bored too deep",
    "cuts sideways",
    "tap without cycle", "tap cycle", "tap pitch", "not a tap", "holder too low", "past flutes", "speed over limit",
]  # fmt: skip
Value = float | int | str
ANYWHERE = 1e9
"""Beyond the travel of any machine, in mm: a limit that is not stated."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding: lengths in mm, feeds in mm/min, speeds in rpm.

    ``line`` counts from 1; 0 means the whole file. ``count`` is on how many lines the same was found; ``line`` is then
    the first. What lasts until a word changes it counts as one.
    """

    kind: Kind
    line: int
    subject: str = ""
    values: tuple[Value, ...] = ()
    count: int = 1


NOTES: frozenset[Kind] = frozenset(
    {
        "byte order mark", "other encoding", "control character", "long line", "nested comment",
        "radius compensation", "local shift",
    }
)  # fmt: skip
"""Good to know, and nothing wrong: how the file is written, a path that the control shifts by the tool's radius, a zero
that the program shifts and puts back: one not put back is "left on".

Lines after the end are none of them: an end too early leaves out work."""
NOTHING_READ: frozenset[Kind] = frozenset({"empty file", "not text"})
"""No program: nothing in the file was read."""
LISTED = 1000
"""Most findings, comments and values kept of one kind; the rest are counted."""


LASTING: frozenset[Kind] = frozenset(
    {"no units", "offset assumed", "no speed", "no feed", "feed zero", "spindle off", "no length offset"}
)
"""What is left open until a word gives it: found at one line, true for all that follow."""
_MOST_LINES = 300_000
"""Most lines of one finding told apart; beyond, a line read again in a loop would count again."""


def rank(kind: str, line: int) -> tuple[bool, int]:
    """Sorts findings by line, but a missing subprogram first: what it would do, much of the rest may follow from."""
    return kind not in ("call missing", "calls itself"), line


class FindingLog:
    """Findings while reading a program: same kind and subject is one finding; its lines are counted."""

    def __init__(self) -> None:
        self._first: dict[tuple[Kind, str], Finding] = {}
        self._lines: dict[tuple[Kind, str], set[int]] = {}
        self._more: Counter[tuple[Kind, str]] = Counter()
        self.left_out = 0

    def add(self, kind: Kind, line: int, subject: str = "", *values: Value) -> None:
        """Add a finding. ``subject`` tells it from earlier ones of its kind."""
        key = kind, subject
        lines = self._lines.get(key)
        if lines is not None:
            if kind in LASTING or line in lines:
                return
            if len(lines) < _MOST_LINES:
                lines.add(line)
            else:
                self._more[key] += 1
        elif len(self._first) < LISTED:
            self._first[key] = Finding(kind, line, subject, values)
            self._lines[key] = {line}
        else:
            self.left_out += 1

    def list(self) -> tuple[Finding, ...]:
        """All findings by `rank`."""
        found = [
            Finding(one.kind, one.line, one.subject, one.values, len(self._lines[key]) + self._more[key])
            for key, one in self._first.items()
        ]
        return tuple(sorted(found, key=lambda one: rank(one.kind, one.line)))
