"""What is open about a batch beside its pieces and runs, and by whom and how it was settled."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from floor.batch.said import clock_time
from floor.entry import parse_time


@dataclass(slots=True)
class Waiver:
    """A gate passed unproved by a named lead; follows the pieces until it is closed."""

    seq: int
    run: int
    op: int
    line: str
    title: str
    by: str
    second: str
    reason: str
    at: datetime
    pieces: frozenset[int]
    closed: str = ""


@dataclass(slots=True)
class Difference:
    """A physical count that disagreed with the record; open until a person resolves it."""

    seq: int
    subject: str
    expected: int
    found: int
    by: str
    at: datetime
    resolved: str = ""


@dataclass(frozen=True, slots=True)
class Outage:
    """A station out of service."""

    why: str
    by: str
    since: datetime
    back: datetime | None = None
    """When it is expected back; None where nobody knows."""

    def said(self, now: datetime) -> str:
        back = f"expected back {clock_time(self.back, now)}" if self.back else "nobody knows when it is back"
        late = ", which is past" if self.back and self.back <= now else ""
        return f"out of service since {clock_time(self.since, now)}: {self.why}; {back}{late}"

    @classmethod
    def read(cls, body: dict[str, Any], at: datetime) -> Outage:
        """From an entry's data; times in the offset of ``at``."""
        back = parse_time(body["back"]).astimezone(at.tzinfo) if body.get("back") else None
        return cls(body["why"], body["said_by"], parse_time(body["since"]).astimezone(at.tzinfo), back)


@dataclass(frozen=True, slots=True)
class GoesOn:
    """The decision that pieces go on although the order is filled without them."""

    until: int
    """The last operation that they still go through."""
    by: str
    reason: str
    at: datetime


@dataclass(slots=True)
class Question:
    seq: int
    by: str
    text: str
    answer: str = ""


@dataclass(slots=True)
class Handover:
    """A turnover offered by one person and not yet accepted by another."""

    seq: int
    by: str
    at: datetime
    remarks: str
    unattended: bool
    counted: dict[str, int] = field(default_factory=dict)
    counted_at: dict[str, datetime] = field(default_factory=dict)
    tries: Counter[str] = field(default_factory=Counter)
    """How often each was counted: after the second time both figures are shown, whether they agree or not."""
    read_back: set[str] = field(default_factory=set)
    readers: dict[str, datetime] = field(default_factory=dict)
    """Who has read the page, and when."""


@dataclass(frozen=True, slots=True)
class Jump:
    """The clock was moved by so many seconds before this entry, where a dwell counts as little as is proved, and where
    it counts as much as can be; exact where uptime says so, or a lead."""

    seq: int
    at: datetime
    delta: float
    most: float
    exact: bool
    low: float = 0.0
    high: float = 0.0
    """Seconds that the clock may be ahead since then of what it showed when it was last known to be right, at the least
    and at the most; negative where it is behind."""
    right: bool = False
    """A lead said here that the clock is right."""


@dataclass(slots=True)
class Unproved:
    """What was struck out after loads had gone on by it; a lead decides on what went through those runs."""

    strike: int
    """The entry that struck it out."""
    line: str
    title: str
    by: str
    reason: str
    at: datetime
    runs: frozenset[int]
    """Released runs that have nothing to stand on for it now."""
    held: frozenset[int] = frozenset()
    """Of these, the runs whose pieces were held back since."""
    settled: str = ""

    @property
    def open(self) -> bool:
        return not self.settled and not self.runs <= self.held
