"""Reasons by how often they occurred, with the share that the first few make up."""

from __future__ import annotations

from collections.abc import Mapping

from floor.dataclass import dataclass
from floor.figures.errors import ImpossibleFigure


@dataclass(frozen=True, slots=True)
class ParetoRow:
    """One reason; shares are of all pieces, from 0 to 1."""

    reason: str
    count: int
    share: float
    running_share: float
    """Of this reason and all before it; of the last one exactly 1."""


def rank_reasons(counts: Mapping[str, int]) -> list[ParetoRow]:
    """Reasons that occurred, the most frequent first, ties by name; none if nothing occurred.

    Args:
        counts: Reason → pieces.

    Raises:
        ImpossibleFigure: a count below 0.
    """
    wrong = [reason for reason, count in counts.items() if count < 0]
    if wrong:
        raise ImpossibleFigure(f"{wrong[0]} counted {counts[wrong[0]]} times", "give counts of 0 or more")
    total, running = sum(counts.values()), 0
    rows = []
    for reason, count in sorted(counts.items(), key=lambda one: (-one[1], one[0])):
        if count:
            running += count
            rows.append(ParetoRow(reason, count, count / total, running / total))
    return rows
