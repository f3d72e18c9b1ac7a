"""Batches of one operation with scrap that has a cause, or none: loads of unequal luck, tools, lots, people, shifts."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence

from floor.dataclass import dataclass
from floor.figures.quality.looks import Look, find_look
from floor.figures.quality.patterns import Pattern, find_patterns
from floor.figures.quality.suspects import LoadResult, OperationResult, PlaceGroup, list_place_groups

GRID = {f"{'ABC'[row]}{column + 1}": (row, column) for row in range(3) for column in range(4)}
GROUPS: list[PlaceGroup] = list_place_groups(GRID)
LOADS_PER_LOT, TOOL_LIFE, LOADS_PER_SHIFT, LOADS_PER_SET_UP = 20, 120, 5, 8


@dataclass(frozen=True, slots=True)
class Cause:
    """What makes a piece ``times`` as likely to be scrapped; with times 1 there is no cause."""

    name: str
    times: float
    hits: Callable[[str, LoadResult], bool]
    """Whether a place and load are hit."""
    guilty: Callable[[Pattern], bool]
    """Whether a named pattern points at it."""


def _suspects(pattern: Pattern, factor: str, where: Callable[[object], bool]) -> bool:
    return pattern.suspect.factor == factor and where(pattern.suspect.where[0])


NONE = Cause("none", 1.0, lambda place, load: False, lambda pattern: False)
ONE_PLACE = Cause("place", 4.0, lambda place, load: place == "A1", lambda pattern: "A1" in pattern.suspect.where)
ONE_PERSON = Cause(
    "person", 4.0, lambda place, load: load.by == "S", lambda pattern: pattern.suspect.kind.value == "people"
)
ONE_LOT = Cause(
    "lot",
    4.0,
    lambda place, load: load.labels["lot"] == 1,
    lambda pattern: _suspects(pattern, "lot", lambda lot: lot == 1),
)
TOOL_AGE = Cause(
    "tool_age",
    4.0,
    lambda place, load: load.values["tool age"] >= 80,
    lambda pattern: pattern.suspect.kind.value == "from" and pattern.suspect.factor == "tool age",
)


def make_loads(draw: random.Random, count: int, scrap: float, spread: float, cause: Cause) -> list[LoadResult]:
    """So many loads of 12.

    Args:
        scrap: Mean share of scrap where the cause does not hit.
        spread: Overdispersion: correlation of two pieces of one load, by a Beta share of each load; 0 for none.
    """
    loads = []
    places = tuple(GRID)
    for n in range(count):
        made = 12 * n
        bare = LoadResult(
            places,
            frozenset(),
            {
                "carrier": draw.randrange(4),
                "tool": made // TOOL_LIFE,
                "lot": n // LOADS_PER_LOT,
                "shift": n // LOADS_PER_SHIFT % 2,
                "first of set-up": n % LOADS_PER_SET_UP == 0,
            },
            {"tool age": made % TOOL_LIFE, "time": n},
            "RST"[n // LOADS_PER_SHIFT % 3],
        )
        weight = 1 / spread - 1 if spread else 0.0
        share = draw.betavariate(scrap * weight, (1 - scrap) * weight) if spread else scrap
        bad = [
            n
            for n, place in enumerate(places)
            if draw.random() < min(1.0, share * (cause.times if cause.hits(place, bare) else 1))
        ]
        loads.append(LoadResult(places, frozenset(bad), bare.labels, bare.values, bare.by))
    return loads


def list_looks(loads: Sequence[LoadResult]) -> list[Look]:
    """Every look that comes due, as the loads are made."""
    looks: list[Look] = []
    counts = [len(load.bad) for load in loads]
    total = 0
    for n, count in enumerate(counts, 1):
        total += count
        if count and (not looks or total >= looks[-1].next_count):
            look = find_look(counts[:n])
            if look and (not looks or look != looks[-1]):
                looks.append(look)
    return looks


def watch(loads: Sequence[LoadResult]) -> list[tuple[int, list[Pattern]]]:
    """(pieces made, what is named and not explained by a stronger one) at each look."""
    seen = []
    for look in list_looks(loads):
        part = loads[: look.entries]
        patterns = find_patterns([OperationResult(10, part, GROUPS)], look)
        seen.append((12 * look.entries, [one for one in patterns if one.named and not one.explained]))
    return seen
