"""A trial as the record tells it: the question, the settings, the pieces used, the results, the choice."""

from __future__ import annotations

from dataclasses import field
from datetime import datetime
from itertools import product
from typing import Literal

from floor.dataclass import dataclass

Response = Literal["number", "good or bad", "words"]
"""What a piece of a trial gives."""


@dataclass(frozen=True, slots=True)
class TrialReading:
    """One result on record."""

    seq: int
    setting: int
    at: datetime
    by: str
    values: tuple[float, ...] = ()
    good: int = 0
    bad: int = 0
    seen: str = ""
    source: str = ""
    """The file it was read from, and how; empty if it was typed."""
    left_out: int = 0
    """Rows of the file without a number there."""


@dataclass(frozen=True, slots=True)
class TrialChoice:
    """The setting that was chosen, 0 for none of them."""

    setting: int
    reason: str
    offer: str
    """What is offered to the checklist; empty for nothing."""
    by: str
    at: datetime


@dataclass(slots=True)
class Trial:
    """Settings are numbered from 1, in the order of `settings`."""

    number: int
    question: str
    op: int
    """The operation it is about; 0 if none."""
    factors: tuple[tuple[str, tuple[str, ...]], ...]
    """(name, its settings): with two factors, every setting of the one is tried with every one of the other."""
    response: Response
    characteristic: str
    unit: str
    each: int
    """Pieces of the batch planned for each setting; 0 where none is used up."""
    worth: float | None
    """The least difference that would matter."""
    by: str
    at: datetime
    used: dict[int, tuple[int, int]] = field(default_factory=dict)
    """Piece → the setting it was last used for, and the entry; those that came back too."""
    readings: list[TrialReading] = field(default_factory=list)
    choice: TrialChoice | None = None

    @property
    def settings(self) -> tuple[str, ...]:
        return tuple(", ".join(one) for one in product(*(names for _, names in self.factors)))

    def list_values(self, setting: int) -> list[float]:
        return [value for one in self.readings if one.setting == setting for value in one.values]

    def count_good(self, setting: int) -> tuple[int, int]:
        """(good, all) of a setting."""
        mine = [one for one in self.readings if one.setting == setting]
        return sum(one.good for one in mine), sum(one.good + one.bad for one in mine)

    def list_seen(self, setting: int) -> list[str]:
        return [one.seen for one in self.readings if one.setting == setting and one.seen]

    def name_setting(self, setting: int) -> str:
        return self.settings[setting - 1] if setting else "none of them"
