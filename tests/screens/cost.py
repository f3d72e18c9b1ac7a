"""What a record costs by keys, and what it would cost on paper: the keystroke-level model.

Operators and their times are those of Card, Moran & Newell 1980, "The keystroke-level model for user performance
time with interactive systems", CACM 23(7), as quoted by others: K 0.28 s (average non-typist), H 0.40 s, M 1.35 s,
P 1.10 s. Writing by hand at 0.6 s for each character is an estimate (common practice, no source). The model has a
practiced person who makes no mistakes, without walking or gloves: it is a lower bound.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from floor.batch.gates.check_values import format_value
from floor.batch.state import Batch
from floor.entry import Entry
from tests.screens.keys import PIN

KEY, HAND, THINK, POINT = 0.28, 0.40, 1.35, 1.10
PEN = 0.6
STAMP = 7
"""Characters of time and initials on paper; the count makes 12 of them."""

KINDS = {
    "load_formed": "load pieces",
    "run_begun": "begin a run",
    "cautions_read": "cautions read",
    "step_done": "step done",
    "proved": "value or signature",
    "cycle_started": "cycle started, ended",
    "cycle_ended": "cycle started, ended",
    "counted": "count",
    "followed_up": "scrap marked or destroyed",
    "released": "release",
    "disturbed": "tool changed",
}
"""Kind of entry → its row in the table."""


@dataclass(frozen=True)
class Cost:
    """Keys, decisions and characters that one record takes."""

    keys: int
    thoughts: int
    written: int

    @property
    def seconds(self) -> float:
        return HAND + self.thoughts * THINK + self.keys * KEY

    @property
    def paper(self) -> float:
        return HAND + self.thoughts * THINK + self.written * PEN


def cost(batch: Batch, entry: Entry) -> Cost:
    """The cost of one entry made by a key of the daily round.

    A serial number is typed each time: it stands in the form only where the shop's register has one such gauge.
    """
    if entry.kind == "proved" and entry.body["values"]:
        gate = batch.operation(entry.body["op"]).gate(entry.body["line"])
        asked = {ask.name for ask in gate.asks()} | {"typed"}  # readings as typed; the rest is worked out of these
        entered = (_texts(value) for name, value in entry.body["values"].items() if name in asked)
        typed = [text for texts in entered for text in texts]
        letters, fields = sum(map(len, typed)), len(typed)
        signs = entry.body["values"].get("person", entry.by) != entry.by
        pin, more = (len(PIN) + 1, 1) if signs else (0, 0)
        return Cost(letters + fields + pin, fields + more, STAMP + letters)
    if entry.kind == "counted":
        return _count(batch, entry)
    if entry.kind == "disturbed":
        return Cost(3, 3, STAMP + len(entry.body["what"]))
    if entry.kind in ("load_formed", "run_begun", "cycle_started"):
        return Cost(2, 1, STAMP)  # Enter opens or asks, y records
    return Cost(1, 1, STAMP)


def _texts(value: object) -> list[str]:
    return [format_value(one) for one in value] if isinstance(value, list) else [format_value(value)]


def _count(batch: Batch, entry: Entry) -> Cost:
    """Enter, to each place, its digit, Enter."""
    run = batch.runs[entry.body["run"]]
    load = batch.loads[run.load]
    carrier = batch.checklist.carrier(load.carrier)
    bad = [place for mark in entry.body["marks"] for place in mark.get("places", ())]
    count = sum(len(mark["pieces"]) for mark in entry.body["marks"])
    first = batch.format_slot(load, run.pieces[0])
    way = [first, *bad] if bad else []
    moves = sum(steps(one, other, carrier.rows or 1, carrier.columns or 1) for one, other in pairwise(way))
    reasons = sum(len(mark["reason"]) * len(mark["pieces"]) for mark in entry.body["marks"])
    return Cost(2 + moves + count, 1 + 2 * count, 12 + sum(map(len, bad)) + reasons)


def steps(one: str, other: str, rows: int, columns: int) -> int:
    """Arrow presses from one place to another, around the edges if shorter."""
    down, right = abs(ord(one[0]) - ord(other[0])), abs(int(one[1:]) - int(other[1:]))
    return min(down, rows - down) + min(right, columns - right)


def table(batch: Batch, entries: Iterable[Entry]) -> str:
    """Keys and seconds, by keys and on paper, by kind of record, as a table for people."""
    sums: dict[str, list[float]] = {}
    for entry in entries:
        if entry.kind in KINDS:
            one = cost(batch, entry)
            row = sums.setdefault(KINDS[entry.kind], [0, 0, 0.0, 0.0])
            row[0] += 1
            row[1] += one.keys
            row[2] += one.seconds
            row[3] += one.paper
    lines = ["| record | number | keys each | s each | s each on paper |", "| --- | --- | --- | --- | --- |"]
    for name, (number, keys, seconds, paper) in sorted(sums.items(), key=lambda item: -item[1][2]):
        lines.append(f"| {name} | {number:.0f} | {keys / number:.1f} | {seconds / number:.1f} | {paper / number:.1f} |")
    number, keys, seconds, paper = (sum(row[n] for row in sums.values()) for n in range(4))
    lines.append(
        f"| **all** | {number:.0f} | {keys:.0f} keys | {seconds / 60:.0f} min in all | {paper / 60:.0f} min in all |"
    )
    return "\n".join(lines)
