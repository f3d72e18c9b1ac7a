"""The work of one load at one station: its walk, its cycle and its count."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from floor.batch.proof import LineMark


@dataclass(frozen=True, slots=True)
class CountMark:
    """Pieces of a run that are not simply good."""

    to: Literal["scrap", "rework", "hold"]
    reason: str
    pieces: tuple[int, ...]
    note: str = ""


@dataclass(slots=True)
class Count:
    """What came out of a run; adds up to what went in."""

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
    """0 where it was told and not counted here."""
    how: str
    """good, scrap, rework or hold."""


@dataclass(frozen=True, slots=True)
class CycleStop:
    """Why and since when a cycle stands before its end."""

    why: str
    at: datetime
    seq: int


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
    """What the cycle is called that may take several loads: the same for all it takes. 0: it takes this load alone."""
    exception: str = ""
    """Why it was begun while a handover was open."""
    late: str = ""
    """Who entered it when its cycle had begun already: what was done before is known as far as that was told."""
    marks: dict[str, LineMark] = field(default_factory=dict)
    halted: dict[str, tuple[datetime, int]] = field(default_factory=dict)
    """Clock → when and by which entry it began, where the cycle stopped while it ran."""
    reopened: set[str] = field(default_factory=set)
    unmet: set[tuple[str, int]] = field(default_factory=set)
    """Line, and the entry with which the run went past it with nothing on record now that proves it."""
    proved_since: dict[str, int] = field(default_factory=dict)
    """Of these lines, those proved when it was released → the entry that proves it."""
    started: datetime | None = None
    started_seq: int = 0
    started_by: str = ""
    stopped: CycleStop | None = None
    """Why the cycle stands now, before its end."""
    stands: CycleStop | None = None
    """For which step of the cycle the program stands, and since when: it goes on by another step."""
    resumed_at: datetime | None = None
    """When the cycle went on after it had stopped last."""
    stood: float = 0.0
    """Seconds for which it stood since it was started."""
    ended: datetime | None = None
    ended_by: str = ""
    count: Count | None = None
    released: datetime | None = None
    released_by: str = ""
    put_back: bool = False
    """Whether it was taken back before its work began; it is over then, and no piece went through it."""
    paused: str = ""
    touched: datetime | None = None
    """When somebody last did something in this run."""
    resumed: datetime | None = None
    """When somebody came back to it after the last long break."""
    touched_by: str = ""
    lots: dict[str, str] = field(default_factory=dict)
    taken: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """Material → its lots so far, where another was opened while the run was under way."""
    tools: dict[int, float | None] = field(default_factory=dict)
    """Tools in the station at the start, with the length recorded for each."""
    program: str = ""
    decided: dict[int, CountMark] = field(default_factory=dict)
    """Piece → what its count will say of it: it was measured out of limits, and stays on its carrier until then."""

    @property
    def undecided(self) -> tuple[int, ...]:
        """The pieces that nothing is decided about before they are counted."""
        return tuple(piece for piece in self.pieces if piece not in self.decided)

    @property
    def began_by(self) -> str:
        """``by TN``, or who entered it late."""
        return f"entered late by {self.late}" if self.late else f"by {self.by}"

    @property
    def running(self) -> bool:
        """Its cycle is under way; the program may stand in it for work by hand."""
        return self.started is not None and self.ended is None and self.stopped is None

    def ran(self, now: datetime) -> float:
        """Seconds for which its cycle has run by now, or ran in all."""
        if self.started is None:
            return 0.0
        stands = self.stands or self.stopped
        until = self.ended or (stands.at if stands else now)
        return (until - self.started).total_seconds() - self.stood
