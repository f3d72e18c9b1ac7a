"""One task that waits for a person, or will: what it says, how it is told apart, and when it is due in words."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Literal

from floor.dataclass import dataclass
from floor.text import format_clock, format_count, format_span

Urgency = Literal["overdue", "now", "soon", "later", "blocked"]
Destination = Literal[
    "run", "begin", "form", "hold", "handover", "difference", "unproved", "out", "gauge", "settle", "close", "surplus"
]
CLOSING_SOON = timedelta(minutes=30)
"""A window that closes within this time is pressing (shop decision)."""


@dataclass(frozen=True, slots=True)
class Loading:
    """Waiting pieces that can be loaded on a free carrier now."""

    pieces: int
    """How many go on it."""
    those: tuple[int, ...]
    """All that wait, the longest first."""
    carrier: str
    told: bool = True
    """Whether figures may be shown: not during a blind count."""
    rework: bool = False
    fit: int = 0
    """How many of them the carrier holds; more than go on it where the plan starts with a smaller load."""

    @property
    def what(self) -> str:
        some = format_count(len(self.those), "piece")
        if not self.told:
            some = "pieces"
        elif self.pieces < len(self.those):
            some = f"{self.pieces} of {some}"
        why = f" ({self.fit} fit; the plan starts with {self.pieces})" if self.told and self.pieces < self.fit else ""
        return f"Load {some}{' in rework' if self.rework else ''} on {self.carrier}{why}"


@dataclass(frozen=True, slots=True)
class DueTask:
    """One task that waits for a person, or will."""

    urgency: Urgency
    when: datetime | None
    """When it comes due; None if due already."""
    batch: str
    what: str
    """What to do, or what it is waiting for."""
    where: str
    load: int | None = None
    run: int | None = None
    op: int | None = None
    go: Destination = "run"
    """What opens when the task is chosen."""
    rework: str = ""
    closes: datetime | None = None
    """When a window that the work must hit closes."""

    outlasts: str = ""
    """Whether a window elsewhere closes before this work is done; only a plan knows."""

    at_once: bool = False
    """Whether a running cycle asks for it, such as a reading at the start of a soak: it cannot wait for the end."""
    title: str = ""
    """Title of the operation."""
    loading: Loading | None = None
    """form: what can be loaded now."""
    entry: int | None = None
    """unproved: the strike. out: the reading. gauge: the report."""
    needs_lead: bool = False
    short_where: str = ""
    """Of several stations the first and how many more, for a narrow column: ``Mill +1``; empty where there is one."""
    over_since: datetime | None = None
    """Since when its cycle has been over by the plan, with nobody there."""

    @property
    def is_pressing(self) -> bool:
        """Whether a window closed, or its cycle is over with nobody there."""
        return self.urgency == "overdue" or self.over_since is not None

    @property
    def sentence(self) -> str:
        """``Confirm cycle complete · 60 Face the seat``, and which window closes meanwhile."""
        said = f"{self.what} · {self.op} {self.title}" if self.op else self.what
        return f"{said} · {self.outlasts}" if self.outlasts else said

    @property
    def short_sentence(self) -> str:
        """The same without the title of the operation: ``Confirm cycle complete · op 60``."""
        said = f"{self.what} · op {self.op}" if self.op else self.what
        return f"{said} · {self.outlasts}" if self.outlasts else said

    @property
    def key(self) -> str:
        """Identifies the same task between looks, to notice what has become due."""
        return f"{self.batch} {self.go} {self.load} {self.op} {self.rework or self.what if self.op is None else ''}"


def say_when(due: DueTask, now: datetime, long: bool = True) -> str:
    """The time column: how long it waits, or until when; short without the time that is left."""
    missed = due.urgency == "overdue"
    if due.closes is not None and (due.closes > now if missed else due.closes - now < CLOSING_SOON):
        return f"closes {format_clock(due.closes, now)}"
    if missed:
        return "missed"
    if due.over_since is not None and due.urgency == "now":
        return f"over {format_span((now - due.over_since).total_seconds())}"
    if due.when is not None:
        left = format_span((due.when - now).total_seconds())
        return f"{format_clock(due.when, now)} in {left}" if long else format_clock(due.when, now)
    return "now" if due.urgency == "now" else "waits"
