"""What may cause scrap, and the record it is judged by."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from enum import StrEnum

from floor.dataclass import dataclass
from floor.figures.errors import ImpossibleFigure

Place = Hashable


class SuspectKind(StrEnum):
    """What is suspected to scrap more than its share; ``where`` of the suspect in brackets."""

    PLACE = "place"
    """One place of the carrier (the place)."""
    ROW = "row"
    COLUMN = "column"
    CORNERS = "corners"
    EDGE = "edge"
    NEIGHBORS = "neighbors"
    """A group of places (all of them)."""
    EARLY = "early"
    LATE = "late"
    """Pieces made early or late in their load (nothing)."""
    LABEL = "label"
    """Loads with one label of a factor (the label)."""
    FROM = "from"
    UP_TO = "up to"
    """The upper or lower half or quarter of the loads by a factor that has an order (its least or greatest value)."""
    PEOPLE = "people"
    """Loads of different people differ; who is worse is never told (nothing)."""


ORDER_KINDS = frozenset({SuspectKind.EARLY, SuspectKind.LATE})
LOAD_KINDS = frozenset({SuspectKind.LABEL, SuspectKind.FROM, SuspectKind.UP_TO, SuspectKind.PEOPLE})
"""Kinds that suspect whole loads; all others suspect pieces inside loads."""
PLACE_KINDS = frozenset(SuspectKind) - ORDER_KINDS - LOAD_KINDS


@dataclass(frozen=True, slots=True)
class Suspect:
    """One possible cause."""

    operation: Hashable
    kind: SuspectKind
    factor: str
    """Name of the label or value; empty for places and order."""
    where: tuple[Hashable, ...]


@dataclass(frozen=True, slots=True)
class LoadResult:
    """One run of an operation: its pieces in the order made, as far as that is known, and what the load as a whole had.

    Raises:
        ImpossibleFigure: a bad piece that is not in the load.
    """

    places: tuple[Place | None, ...]
    """Place of each piece, None where it is not known."""
    bad: frozenset[int]
    """Which of them are bad, from 0."""
    labels: Mapping[str, Hashable]
    """Factor (tool, lot, shift …) → what the load had; without those that are not known."""
    values: Mapping[str, float]
    """Factor that can be put in order (tool's age, time …) → its value, any unit; without those not known."""
    by: Hashable = None
    """Who made it; None if that is not known."""
    in_order: bool = True
    """Whether anybody knows in which order its pieces were made."""

    def __post_init__(self) -> None:
        if not all(0 <= n < len(self.places) for n in self.bad):
            raise ImpossibleFigure(f"bad pieces {sorted(self.bad)} of {len(self.places)}", "count those of the load")


@dataclass(frozen=True, slots=True)
class PlaceGroup:
    """Places that may have a cause in common."""

    kind: SuspectKind
    places: frozenset[Place]


@dataclass(frozen=True, slots=True)
class OperationResult:
    """All runs of one operation up to a look, and the groups of places to try besides single places."""

    operation: Hashable
    loads: Sequence[LoadResult]
    groups: Sequence[PlaceGroup]


def list_place_groups(places: Mapping[Place, tuple[int, int]]) -> list[PlaceGroup]:
    """Rows, columns, corners, edge and pairs of neighbors of a carrier, without groups of one place or of all.

    Args:
        places: Place → (row, column).
    """
    groups: dict[frozenset[Place], SuspectKind] = {}
    for kind, positions in _list_position_groups(sorted(places.values())):
        members = frozenset(place for place, position in places.items() if position in positions)
        if 1 < len(members) < len(places):
            groups.setdefault(members, kind)
    return [PlaceGroup(kind, members) for members, kind in groups.items()]


_Position = tuple[int, int]


def _list_position_groups(positions: Sequence[_Position]) -> Iterator[tuple[SuspectKind, set[_Position]]]:
    for axis, kind in ((0, SuspectKind.ROW), (1, SuspectKind.COLUMN)):
        for line in sorted({position[axis] for position in positions}):
            yield kind, {position for position in positions if position[axis] == line}
    ends = [{min(line), max(line)} for line in zip(*positions, strict=True)]
    on_ends = {(row, column): (row in ends[0]) + (column in ends[1]) for row, column in positions}
    yield SuspectKind.CORNERS, {position for position, number in on_ends.items() if number == 2}
    yield SuspectKind.EDGE, {position for position, number in on_ends.items() if number}
    for row, column in positions:
        for beside in ((row, column + 1), (row + 1, column)):
            yield SuspectKind.NEIGHBORS, {(row, column), beside}
