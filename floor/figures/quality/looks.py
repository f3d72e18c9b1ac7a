"""How tests that are made again and again as a batch grows share 5 % of false alarms.

Whoever tests often enough finds something, so each look may spend only a part: look k spends 5 % / (k (k + 1)), which
adds up to 5 % over all looks that can ever be. And a look is due only when what is counted has grown by a quarter, so
that a whole batch has some twenty looks.

Patterns of scrap have 5 %, and drift has 5 % of its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from floor.dataclass import dataclass
from floor.figures.errors import ImpossibleFigure

FALSE_ALARMS = 0.05
"""Chance of any false alarm over all looks and tries together."""
FIRST_BAD = 6
"""Bad pieces at the first look: fewer could name only what is always bad, and would spend most of the 5 %."""


@dataclass(frozen=True, slots=True)
class Look:
    """The last look that was due. Nothing newer may be looked at until the next one is."""

    number: int
    """From 1."""
    entries: int
    """How many of the counted entries it covers."""
    count: int
    """Total of their counts."""

    @property
    def next_count(self) -> int:
        """The total at which the next look is due: a quarter more."""
        return -(-5 * self.count // 4)

    @property
    def alpha(self) -> float:
        """What this look may spend."""
        return FALSE_ALARMS / (self.number * (self.number + 1))


def find_look(counts: Iterable[int], first: int = FIRST_BAD) -> Look | None:
    """The last look due over these entries; None before the first.

    Args:
        counts: Number bad of each load, or any other counts, in the order of the record.
        first: Total at which the first look is due, 1 or more.

    Raises:
        ImpossibleFigure: a count below 0, or a first look at less than 1.
    """
    if first < 1:
        raise ImpossibleFigure(f"a first look at {first}", "give it 1 or more")
    look, total, due = None, 0, first
    for entries, count in enumerate(counts, 1):
        if count < 0:
            raise ImpossibleFigure(f"a count of {count}", "give it as 0 or more")
        total += count
        if total >= due:
            look = Look(look.number + 1 if look else 1, entries, total)
            due = look.next_count
    return look


def adjust_for_tries(p_values: Sequence[float]) -> list[float]:
    """Holm's adjusted p values, in the order given: at most alpha in as many as may be named at alpha together.

    Source: S. Holm, "A simple sequentially rejective multiple test procedure", Scandinavian Journal of Statistics 6
    (1979) 65.
    """
    adjusted, highest = [1.0] * len(p_values), 0.0
    for left, n in enumerate(sorted(range(len(p_values)), key=p_values.__getitem__)):
        highest = max(highest, min(1.0, (len(p_values) - left) * p_values[n]))
        adjusted[n] = highest
    return adjusted


def adjust_for_tries_and_looks(p_values: Sequence[float], look: Look) -> list[float]:
    """P values after all tries and looks, in the order given: those at most `FALSE_ALARMS` are named."""
    return [min(1.0, p * FALSE_ALARMS / look.alpha) for p in adjust_for_tries(p_values)]
