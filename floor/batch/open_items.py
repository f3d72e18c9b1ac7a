"""What is open about a batch beside its pieces and runs, and by whom and how it was settled."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import datetime

from floor.batch.events import OutOfService
from floor.batch.proof import ProofKey
from floor.entry import parse_wall
from floor.text import format_clock


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
    spent: bool = False
    """What it let through is to be done anew, so that it lets nothing through any more."""


@dataclass(slots=True)
class CountDifference:
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
        back = f"expected back {format_clock(self.back, now)}" if self.back else "nobody knows when it is back"
        late = ", which is past" if self.back and self.back <= now else ""
        return f"out of service since {format_clock(self.since, now)}: {self.why}; {back}{late}"

    @classmethod
    def read(cls, event: OutOfService, at: datetime) -> Outage:
        """From an entry; times in the offset of ``at``."""
        back = parse_wall(event.back, at) if event.back else None
        return cls(event.why, event.said_by, parse_wall(event.since, at), back)


@dataclass(frozen=True, slots=True)
class SurplusPermission:
    """The decision that pieces go on although the order is filled without them."""

    until: int
    """The last operation that they still go through."""
    by: str
    reason: str
    at: datetime


@dataclass(slots=True)
class HandoverQuestion:
    seq: int
    by: str
    text: str
    answer: str = ""


@dataclass(slots=True)
class OpenHandover:
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
class ClockJump:
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


@dataclass(frozen=True, slots=True)
class Unproved:
    """What was struck out after loads had gone on by it; a lead decides on what went through those runs."""

    strike: int
    """The entry that struck it out."""
    title: str
    by: str
    reason: str
    at: datetime
    pairs: frozenset[tuple[int, str]]
    """(released run, line) that has nothing to stand on now."""
    held: frozenset[int]
    """Runs whose pieces were held back since."""
    settled: str
    outright: bool
    """The proof itself was struck out, and not something else that it rested on."""

    @property
    def runs(self) -> frozenset[int]:
        return frozenset(run for run, _ in self.pairs)

    @property
    def open(self) -> bool:
        return not self.settled and not self.runs <= self.held


@dataclass(frozen=True, slots=True)
class Decided:
    """What somebody said becomes of pieces that were measured out of limits."""

    pieces: tuple[int, ...]
    where: str
    """Their places on the carrier, or how many."""
    to: str
    """scrap, rework or hold."""
    by: str


@dataclass(slots=True)
class OutOfLimits:
    """A value that was read out of its limits: no other reading wipes it, somebody decides what it means.

    Of a piece: which one it was, what becomes of it, and of those made since the last good check. Of a station while
    its cycle ran: what becomes of all that was in it.
    """

    seq: int
    """The entry that read it."""
    run: int
    op: int
    line: str
    key: ProofKey
    """Of the proof that it does not make."""
    title: str
    said: str
    """What was read and what was wanted."""
    by: str
    at: datetime
    of_piece: bool
    many: int
    """Pieces whose value was out."""
    among: frozenset[int]
    """The pieces one of which it was; of a station, those in it at the time."""
    before: int = 0
    """Other pieces made since the last good check, which may be out too."""
    decided: list[Decided] = field(default_factory=list)
    before_said: str = ""
    """What was decided about those before it, and by whom."""
    again: list[str] = field(default_factory=list)
    """What was read of the same piece again, why, and by whom."""
    settled: str = ""
    """Of a station: what a lead decided."""

    @property
    def named(self) -> frozenset[int]:
        return frozenset(piece for one in self.decided for piece in one.pieces)

    @property
    def left(self) -> int:
        """Pieces that are still to be named."""
        return max(self.many - len(self.named), 0)

    @property
    def open(self) -> bool:
        if not self.of_piece:
            return not self.settled
        return self.left > 0 or self.asks_before

    @property
    def asks_before(self) -> bool:
        """Whether those before it are to be decided on: not where the same piece was found good after all."""
        return bool(self.before and self.many and not self.before_said)
