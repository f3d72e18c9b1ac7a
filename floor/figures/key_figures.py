"""Key figures of a batch, named and computed as in ISO 22400-2.

A ratio of zero over zero is None ("n/a"): nothing made, nothing seen. The formulas were read in the published ontology
of the standard; rolled throughput yield is not in it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from floor.dataclass import dataclass
from floor.figures.errors import ImpossibleFigure


def compute_quality_ratio(good: int, produced: int) -> float | None:
    """GQ / PQ: good quantity over produced quantity, pieces good after rework counted as good."""
    return _share("good quantity", good, "produced quantity", produced)


def compute_scrap_ratio(scrap: int, produced: int) -> float | None:
    """SQ / PQ: scrap quantity over produced quantity."""
    return _share("scrap quantity", scrap, "produced quantity", produced)


def compute_rework_ratio(rework: int, produced: int) -> float | None:
    """RQ / PQ: rework quantity over produced quantity."""
    return _share("rework quantity", rework, "produced quantity", produced)


def compute_fall_off_ratio(scrap: int, produced_first: int) -> float | None:
    """SQ / PQ of the first operation: scrap of an operation over what was started."""
    return _share("scrap quantity", scrap, "produced quantity of the first operation", produced_first)


@dataclass(frozen=True, slots=True)
class FirstPassYield:
    """GP / IP: good parts, at the first run and without rework, over inspected parts."""

    value: float | None
    estimate: bool
    """True if pieces are not identified, so a piece seen twice may count twice."""


def compute_first_pass_yield(good_at_first: int, inspected: int, *, identified: bool) -> FirstPassYield:
    """First pass yield, marked as an estimate unless every piece is identified from run to run.

    Raises:
        ImpossibleFigure: more good than inspected, or a count below 0.
    """
    value = _share("good parts at the first run", good_at_first, "inspected parts", inspected)
    return FirstPassYield(value, not identified)


def compute_rolled_throughput_yield(steps: Sequence[tuple[int, int]]) -> float | None:
    """Product over the operations of (good at the first pass / entered), from the counts themselves, unrounded.

    Our addition: ISO 22400-2 has no such figure. None if there is no operation, or one that has seen nothing.

    Args:
        steps: (good at the first pass, entered) for each operation, in pieces.

    Raises:
        ImpossibleFigure: more good than entered, or a count below 0.
    """
    yields = [_share("good at the first pass", good, "pieces entered", entered) for good, entered in steps]
    known = [value for value in yields if value is not None]
    return math.prod(known) if known and len(known) == len(yields) else None


def compute_throughput_rate(produced: int, order_execution: float) -> float | None:
    """PQ / AOET: pieces produced per unit of actual order execution time."""
    return _ratio("produced quantity", produced, "actual order execution time", order_execution)


def _share(part_name: str, part: int, whole_name: str, whole: int) -> float | None:
    if part > whole:
        raise ImpossibleFigure(f"{part_name} {part} above {whole_name} {whole}", "count each piece once")
    return _ratio(part_name, part, whole_name, whole)


def _ratio(part_name: str, part: float, whole_name: str, whole: float) -> float | None:
    for name, value in ((part_name, part), (whole_name, whole)):
        if not 0 <= value < math.inf:
            raise ImpossibleFigure(f"{name} of {value}", "give a finite figure of 0 or more")
    if whole == 0:
        if part == 0:
            return None
        raise ImpossibleFigure(f"{part_name} of {part} with no {whole_name}", f"record the {whole_name}")
    return part / whole
