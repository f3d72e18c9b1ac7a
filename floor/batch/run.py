"""The work of one load at one station: its walk, its cycle and its count."""

from __future__ import annotations

from dataclasses import field
from datetime import datetime
from typing import Literal

from floor.batch.proof import LineMark, VoidedProof
from floor.dataclass import dataclass


@dataclass(frozen=True, slots=True)
class CountMark:
    """Pieces of a run that are not simply good."""

    to: Literal["scrap", "rework", "hold"]
    reason: str
    pieces: tuple[int, ...]
    note: str = ""


@dataclass(slots=True)
class Count:
    """What came out of a run; it adds up to what went in."""

    seq: int
    at: datetime
    by: str
    went_in: int
    good: int
    marks: tuple[CountMark, ...]

    def total(self, to: str) -> int:
        return sum(len(mark.pieces) for mark in self.marks if mark.to == to)


@dataclass(frozen=True, slots=True)
class PieceResult:
    """How a piece came out of an operation."""

    op: int
    load: int
    """0 if it was stated and not counted here."""
    how: str
    """good, scrap, rework or hold."""


@dataclass(frozen=True, slots=True)
class CycleStop:
    """Why and since when a cycle is stopped."""

    why: str
    at: datetime
    seq: int


@dataclass(frozen=True, slots=True)
class SampleResult:
    """The sample of a run by a sampling plan, and how many of it were out of limits."""

    seq: int
    """The entry that read it."""
    lot: int
    size: int
    accept: int
    reject: int
    severity: str
    out: int

    @property
    def is_rejected(self) -> bool:
        return self.out >= self.reject


@dataclass(slots=True)
class Run:
    """One load's pass through one operation."""

    number: int
    load: int
    op: int
    station: str
    setup: int
    pieces: tuple[int, ...]
    begun: datetime
    by: str
    seq: int
    rework: str = ""
    """The rework route whose own steps are passed in this run."""
    cycle: int = 0
    """Number of a cycle that may take several loads, shared by all of them; 0 if it takes this load alone."""
    exception: str = ""
    """Why it was started while a handover was open."""
    late: str = ""
    """Who entered it if its cycle had started already; what was done before is known only as stated."""
    marks: dict[str, LineMark] = field(default_factory=dict)
    halted: dict[str, tuple[datetime, int]] = field(default_factory=dict)
    """Timer → its start and starting entry, for timers running when the cycle stopped."""
    lapsed: dict[str, VoidedProof] = field(default_factory=dict)
    """Step → why it is to be done again."""
    reopened: set[str] = field(default_factory=set)
    unmet: set[tuple[str, int]] = field(default_factory=set)
    """Line → the entry by which the run passed it, if nothing now on record proves it."""
    proved_since: dict[str, int] = field(default_factory=dict)
    """Those of these lines proved by the release → the proof."""
    started: datetime | None = None
    started_seq: int = 0
    started_by: str = ""
    stopped: CycleStop | None = None
    """The current stop of the cycle, if any."""
    stands: CycleStop | None = None
    """The step for which the program is stopped, and since when; another step lets it go on."""
    resumed_at: datetime | None = None
    """When the cycle last went on after a stop."""
    stood: float = 0.0
    """Seconds it was stopped since its start."""
    ended: datetime | None = None
    ended_by: str = ""
    count: Count | None = None
    released: datetime | None = None
    released_by: str = ""
    put_back: bool = False
    """Whether it was put back before its work started; it is then over, and no piece went through it."""
    paused: str = ""
    touched: datetime | None = None
    """When somebody last did something in this run."""
    left: datetime | None = None
    """When its manual work was last left for too long, until the steps done before are checked again."""
    resumed: datetime | None = None
    """When somebody came back to it after the last long break."""
    touched_by: str = ""
    lots: dict[str, str] = field(default_factory=dict)
    taken: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """Material → its lots so far, if another was opened in mid-run."""
    samples: dict[str, SampleResult] = field(default_factory=dict)
    """Line → the sample taken there, if by a sampling plan."""
    tools: dict[int, float | None] = field(default_factory=dict)
    """Tools in the station at the start, with the length recorded for each."""
    program: str = ""
    decided: dict[int, CountMark] = field(default_factory=dict)
    """Piece → its mark at the coming count: measured out of limits, it stays on its carrier until then."""

    @property
    def undecided(self) -> tuple[int, ...]:
        """The pieces not decided on before the count."""
        return tuple(piece for piece in self.pieces if piece not in self.decided)

    @property
    def began_by(self) -> str:
        """``by TN``, or who entered it late."""
        return f"entered late by {self.late}" if self.late else f"by {self.by}"

    @property
    def running(self) -> bool:
        """Whether its cycle is under way; the program may be stopped for attended work."""
        return self.started is not None and self.ended is None and self.stopped is None

    def ran(self, now: datetime) -> float:
        """Seconds its cycle has run so far, or ran in all."""
        if self.started is None:
            return 0.0
        stands = self.stands or self.stopped
        until = self.ended or (stands.at if stands else now)
        return (until - self.started).total_seconds() - self.stood
