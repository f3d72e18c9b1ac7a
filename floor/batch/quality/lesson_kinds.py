"""What a lesson is, by kind: what was seen, what the checklist states, and what would be offered or why nothing."""

from __future__ import annotations

from enum import StrEnum

from floor.checklist.patching import Change
from floor.checklist.units import Measure
from floor.dataclass import dataclass
from floor.figures.quality.share_by_load import ShareByLoad
from floor.figures.quality.spread import Spread


class WhyNot(StrEnum):
    """Why a lesson is not offered."""

    FEW = "too few"
    AS_STATED = "no further off than luck, or by too little to matter"
    NOT_STATED = "the checklist states nothing to set it against"
    ODD = "most are too far off to be those of the work"
    USED_UP = "each was used up, so nobody knows how much longer it lasts"
    OTHER_WORK = "the checklist's file has another operation or tool there now"
    TAKEN = "taken before: its pieces are in the file's figure"
    SHARES = "with the shares that the file sends to rework it would add up to more than 1"


class TimePart(StrEnum):
    """What the checklist states times for, as far as the record tells it."""

    SETUP = "set-up"
    BEFORE = "before the cycle"
    CYCLE = "cycle"
    AFTER = "after the cycle"
    WORK = "hand work"

    @property
    def keys(self) -> tuple[str, ...]:
        """Fields of `Times` that make it up."""
        return _KEYS[self]


_KEYS = {
    TimePart.SETUP: ("setup",),
    TimePart.BEFORE: ("before", "before_piece"),
    TimePart.CYCLE: ("cycle", "cycle_piece"),
    TimePart.AFTER: ("after", "after_piece"),
    TimePart.WORK: ("before", "before_piece", "cycle", "cycle_piece", "after", "after_piece"),
}


Offer = tuple[Change, ...] | WhyNot
"""What the lesson would change in the checklist's file, or why nothing."""


class Offered:
    """Something that may be offered."""

    __slots__ = ()
    offer: Offer

    @property
    def changes(self) -> tuple[Change, ...]:
        return () if isinstance(self.offer, WhyNot) else self.offer

    @property
    def why_not(self) -> WhyNot | None:
        return self.offer if isinstance(self.offer, WhyNot) else None


@dataclass(frozen=True, slots=True)
class TimeLesson(Offered):
    """What one part of an operation took."""

    op: int
    part: TimePart
    took: Spread
    """Seconds."""
    ratio: Spread | None
    """Of what was stated for each; None where nothing is."""
    over: float
    """Seconds that all of them took more than stated; below 0 if less."""
    odd: int
    """Times left out as too far off."""
    offer: Offer


@dataclass(frozen=True, slots=True)
class YieldLesson(Offered):
    """How many pieces were good at their first count, or found good when held there."""

    op: int
    loads: int
    share: ShareByLoad
    stated: float
    weight: float
    """Pieces that the stated yield weighs."""
    offer: Offer


@dataclass(frozen=True, slots=True)
class LifeLesson(Offered):
    """How worn tools were when they were changed."""

    tool: int
    used: Spread
    """In the base unit of the card: seconds, or pieces; used up counts as its stated life."""
    used_up: int
    """Tools that could cut no further load."""
    stated: Measure | None
    offer: Offer


@dataclass(frozen=True, slots=True)
class ChoiceLesson(Offered):
    """What was chosen in a trial, as a step of its operation."""

    op: int
    trial: int
    text: str
    by: str
    reason: str
    offer: Offer


Lesson = TimeLesson | YieldLesson | LifeLesson | ChoiceLesson


@dataclass(frozen=True, slots=True)
class SpareLesson:
    """Whether the pieces started beyond the order were enough."""

    ordered: int
    started: int
    finished: int
    lost: int
    """Scrapped, or stopped in work."""
    unfinished: int
    """Still in process, on hold or in rework."""
    tried: int = 0
    """Used up in trials."""
    filled: bool = False
    """Whether the order is filled, whatever becomes of those unfinished."""


@dataclass(frozen=True, slots=True)
class Lessons:
    """All of a batch."""

    lessons: tuple[Lesson, ...]
    spares: SpareLesson

    @property
    def offered(self) -> tuple[Lesson, ...]:
        return tuple(one for one in self.lessons if one.changes)

    @property
    def kept(self) -> tuple[Lesson, ...]:
        """Those that are not offered."""
        return tuple(one for one in self.lessons if not one.changes)
