"""Open items of a batch besides its pieces and runs, and how they were settled."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import field
from datetime import datetime
from typing import Any, NamedTuple

from floor.batch.events import Condition, ConditionCleared, ConditionReported, OutOfService
from floor.batch.proof import ProofKey
from floor.checklist.gates import FirstPiece, Measured
from floor.dataclass import dataclass
from floor.entry import parse_wall
from floor.text import format_clock


@dataclass(slots=True)
class Waiver:
    """A gate passed unproved, or a rule not kept, by a named lead; follows the pieces until it is closed."""

    seq: int
    run: int
    op: int
    line: str
    """Of the gate; empty if it was a rule."""
    title: str
    by: str
    second: str
    reason: str
    at: datetime
    pieces: frozenset[int]
    closed: str = ""
    closed_by: str = ""
    spent: bool = False
    """Whether the waived gate must be proved after all, so the waiver passes nothing any more."""

    @property
    def is_closed_alone(self) -> bool:
        """Whether the lead who gave it closed it too."""
        return bool(self.closed) and self.closed_by == self.by

    @property
    def said_closed(self) -> str:
        """Why and by whom it was closed, and whether that was who gave it."""
        return f"{self.closed}, who gave it" if self.is_closed_alone else self.closed


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
class StationCondition:
    """What stands at a station until somebody clears it: a guard off, a lock on, a temporary fix."""

    what: Condition
    note: str
    by: str
    since: datetime

    def said(self, now: datetime) -> str:
        return f"{self.what} since {format_clock(self.since, now)}: {self.note} ({self.by})"


class ConditionKey(NamedTuple):
    station: str
    what: Condition
    whose: str = ""
    """Whose lock; of the others there is one for all."""


Conditions = dict[ConditionKey, StationCondition]


def make_condition_key(station: str, what: Condition, by: str) -> ConditionKey:
    return ConditionKey(station, what, by if what == "lock on" else "")


def fold_condition(conditions: Conditions, event: ConditionReported | ConditionCleared, at: datetime) -> None:
    """What stands at the stations after an entry, in a batch or in the shop's own record."""
    if isinstance(event, ConditionCleared):
        for key in [key for key in conditions if (key.station, key.what) == (event.station, event.what)]:
            if event.whose in ("", key.whose):  # older records had one lock at a station, and said of none whose
                del conditions[key]
    else:
        stands = StationCondition(event.what, event.note, event.said_by, parse_wall(event.since, at))
        conditions[make_condition_key(event.station, event.what, event.said_by)] = stands


@dataclass(slots=True)
class SuspectGauge:
    """A gauge withdrawn as suspect after this batch was measured with it."""

    seq: int
    serial: str
    gauge: str
    reason: str
    by: str
    checks: tuple[int, ...]
    """The entries that used it since its last good check."""
    settled: str = ""
    """A lead's decision."""


@dataclass(frozen=True, slots=True)
class SurplusPermission:
    """The decision to let surplus pieces go on."""

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
    """A handover offered by one person and not yet accepted by another."""

    seq: int
    by: str
    at: datetime
    remarks: str
    unattended: bool
    counted: dict[str, int] = field(default_factory=dict)
    counted_at: dict[str, datetime] = field(default_factory=dict)
    tries: Counter[str] = field(default_factory=Counter)
    """How often each subject was counted; after the second time both figures are shown either way."""
    read_back: set[str] = field(default_factory=set)
    readers: dict[str, int] = field(default_factory=dict)
    """Who has read the page → the entry that says so, the last time."""
    relief: str = ""
    """``break`` or ``illness`` in mid-shift."""
    answers: tuple[tuple[str, str], ...] = ()
    """What the shop asks for, each with its answer."""


@dataclass(frozen=True, slots=True)
class ClockJump:
    """A jump of the clock before this entry, in seconds: the value for the shortest proved dwell and for the longest
    possible one; equal if uptime or a lead settles it.
    """

    seq: int
    at: datetime
    delta: float
    most: float
    exact: bool
    low: float = 0.0
    high: float = 0.0
    """(least, most) seconds that the clock may be ahead since it was last known to be right; negative if behind."""
    right: bool = False
    """A lead said here that the clock is right."""


@dataclass(frozen=True, slots=True)
class Unproved:
    """A proof struck out after loads had gone on by it; a lead decides on the pieces of those runs."""

    strike: int
    """The entry that struck it out."""
    title: str
    by: str
    reason: str
    at: datetime
    pairs: frozenset[tuple[int, str]]
    """(released run, line) left without a proof."""
    held: frozenset[int]
    """Runs whose pieces were held back since."""
    settled: str
    outright: bool
    """Whether the proof itself was struck out, and not something it rested on."""

    @property
    def runs(self) -> frozenset[int]:
        return frozenset(run for run, _ in self.pairs)

    @property
    def open(self) -> bool:
        return not self.settled and not self.runs <= self.held


@dataclass(frozen=True, slots=True)
class Decided:
    """A decision on pieces measured out of limits."""

    pieces: tuple[int, ...]
    where: str
    """Their places on the carrier, or how many."""
    to: str
    """scrap, rework or hold."""
    by: str


@dataclass(frozen=True, slots=True)
class SecondReading:
    """A value of a reading out of limits, read once more or corrected."""

    nth: int
    """Of which piece, counted from 0 in the order entered."""
    name: str
    """Its field of the form."""
    value: Any
    shown: str
    """As the gauge showed it; empty where the number says it itself."""
    why: str
    by: str
    good: bool
    corrects: bool
    """Whether the first value was typed wrong; else it stays what was read first."""


@dataclass(slots=True)
class OutOfLimits:
    """A reading out of limits: no later reading clears it; somebody decides.

    For a piece: which one, its disposition, and that of the pieces made since the last good check. For a station read
    during its cycle: the disposition of all pieces in it.
    """

    seq: int
    """The entry that read it."""
    run: int
    op: int
    line: str
    key: ProofKey
    """Key of the proof it failed to give."""
    gate: Measured | FirstPiece
    values: Mapping[str, Any]
    """All values of the reading, by name, as they were entered; see `floor.batch.gates.second_readings`."""
    by: str
    at: datetime
    many: int
    """Pieces whose value was out."""
    among: frozenset[int]
    """The candidates; for a station, the pieces in it at the time."""
    before: int = 0
    """Other pieces made since the last good check, which may be out too."""
    pieces: tuple[int, ...] = ()
    """The pieces that the values are of, one for each; empty where nobody can tell."""
    decided: list[Decided] = field(default_factory=list)
    before_said: str = ""
    """The decision on pieces made before it, and by whom."""
    again: list[SecondReading] = field(default_factory=list)
    """What was read once more of the same pieces, or corrected."""
    settled: str = ""
    """For a station: a lead's decision."""

    @property
    def named(self) -> frozenset[int]:
        return frozenset(piece for one in self.decided for piece in one.pieces)

    @property
    def left(self) -> int:
        """Pieces that are still to be named."""
        return max(self.many - len(self.named), 0)

    @property
    def open(self) -> bool:
        if not self.gate.of_piece:
            return not self.settled
        return self.left > 0 or self.asks_before

    @property
    def asks_before(self) -> bool:
        """Whether earlier pieces must be decided on: not if the same piece was found good after all."""
        return bool(self.before and self.many and not self.before_said)
