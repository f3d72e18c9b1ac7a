"""Characteristics that drift with the pieces a tool has cut, and how many more it takes to a limit.

The walk tells only a drift that is established and reaches its limit before the last piece.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from itertools import groupby
from typing import NamedTuple

from floor.batch.events import CycleStarted, Disturbed, MeasuredAgain, Proved, StruckOut
from floor.batch.quality.measured_values import MEASURING, MeasuredCharacteristic, MeasuredValue, list_measured_values
from floor.batch.quality.tool_age import ToolStay, compute_tool_ages
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import Entry
from floor.figures.quality.capability import ToleranceLimits
from floor.figures.quality.drift import Drift, MeasuredPiece, PiecesToLimit, WearLine, find_drift, fit_wear_line
from floor.figures.quality.missing import Missing

NO_LIMITS = ToleranceLimits(None, None)
FEWEST_VALUES = 4
"""Of a characteristic that is watched at all: two loads of two."""
FEWEST_FOR_WEAR = 8
"""Of one whose wear is drawn."""


class Drifting(NamedTuple):
    """A characteristic that drifts."""

    shape: MeasuredCharacteristic
    drift: Drift

    @property
    def is_near(self) -> bool:
        """Whether so few loads tell it that nothing is known but that the last lies next to its limit."""
        return self.drift.look == 0

    @property
    def to_limit(self) -> PiecesToLimit | None:
        return None if isinstance(self.drift.to_limit, Missing) else self.drift.to_limit


def find_drifts(batch: Batch) -> list[Drifting]:
    """Those established, by the pieces made since a tool of the operation was changed; without tools, the set-up."""
    ages = compute_tool_ages(batch)
    watched = _list_watched(batch, FEWEST_VALUES)
    found = []
    for shape, values in watched.items():
        lives = _list_lives(batch, values, ages)
        made = _count_made(batch, values[-1], ages)
        drift = find_drift(lives, shape.tolerance, max(made, lives[-1][-1].count), tries=len(watched))
        if isinstance(drift, Drift) and drift.established:
            found.append(Drifting(shape, drift))
    return found


class Wear(NamedTuple):
    """The values of a characteristic by the pieces made since a tool of its operation was changed."""

    shape: MeasuredCharacteristic
    lives: Sequence[Sequence[MeasuredPiece]]
    """Of each tool or set-up, the present one last."""
    line: WearLine


def list_wear(batch: Batch) -> list[Wear]:
    """Every watched characteristic that has a line, whether it drifts or not."""
    ages = compute_tool_ages(batch)
    found = []
    for shape, values in _list_watched(batch, FEWEST_FOR_WEAR).items():
        lives = _list_lives(batch, values, ages)
        line = fit_wear_line(lives)
        if not isinstance(line, Missing):
            found.append(Wear(shape, lives, line))
    return found


def _list_watched(batch: Batch, fewest: int) -> dict[MeasuredCharacteristic, list[MeasuredValue]]:
    return {
        shape: values
        for shape, values in list_measured_values(batch).items()
        if shape.of_piece and len(values) >= fewest and shape.tolerance != NO_LIMITS
    }


def _list_lives(
    batch: Batch, values: Sequence[MeasuredValue], ages: Mapping[int, Mapping[ToolStay, int]]
) -> list[list[MeasuredPiece]]:
    """The values of each life of the tools, or of each set-up, in the order made."""
    lives = []
    for _, some in groupby(values, key=lambda one: _find_life(batch, one.run, ages)):
        life: list[MeasuredPiece] = []
        for one in some:
            count = _count_before(batch, one.run, ages) + len(batch.runs[one.run].pieces)
            life.append(MeasuredPiece(max(count, life[-1].count if life else 0), one.value, one.load))
        lives.append(life)
    return lives


def _find_life(batch: Batch, run: int, ages: Mapping[int, Mapping[ToolStay, int]]) -> object:
    tools = ages.get(run, {})
    return (batch.runs[run].station, *sorted(tools)) if tools else batch.runs[run].setup


def _count_before(batch: Batch, run: int, ages: Mapping[int, Mapping[ToolStay, int]]) -> int:
    """Pieces made in this life before a run."""
    tools = ages.get(run, {})
    if tools:
        return min(tools.values())
    this = batch.runs[run]
    return sum(len(one.pieces) for one in batch.runs.values() if one.setup == this.setup and one.number < run)


def _count_made(batch: Batch, last: MeasuredValue, ages: Mapping[int, Mapping[ToolStay, int]]) -> int:
    """Pieces made in the present life up to now."""
    life = _find_life(batch, last.run, ages)
    same = [
        run
        for run in batch.runs.values()
        if run.station == last.station and run.number >= last.run and _find_life(batch, run.number, ages) == life
    ]
    return max(_count_before(batch, run.number, ages) + len(run.pieces) for run in same)


@dataclass(slots=True)
class DriftWatch:
    """The drifts of the batches that are open, found anew only where something was measured or struck out since."""

    known: dict[str, tuple[int, list[Drifting]]] = field(default_factory=dict)
    """Batch → the entry up to which it was looked at, and what was found."""

    def find(self, batch: Batch) -> list[Drifting]:
        seq, drifts = self.known.get(batch.id, (0, []))
        if not seq or any(_may_change(entry, bool(drifts)) for entry in batch.entries[seq:]):
            drifts = find_drifts(batch)
        self.known[batch.id] = (batch.seq, drifts)
        return drifts


def _may_change(entry: Entry, drifting: bool) -> bool:
    """Whether an entry can make or end a drift or, where there is one, how many pieces it leaves.

    Most entries cannot: finding drifts reads all values of the batch, which no key of the walk should pay for.
    """
    if entry.kind == Proved.KIND:
        return entry.body["gate"] in MEASURING
    return entry.kind in (StruckOut.KIND, Disturbed.KIND, MeasuredAgain.KIND) or (
        drifting and entry.kind == CycleStarted.KIND
    )


def count_pieces_to_come(batch: Batch, op: int) -> int:
    """Pieces of the batch that have not been counted at an operation."""
    passed = {piece for at, _, said in batch.counts() if at == op for piece in said}
    return sum(
        place.where in ("waiting", "load", "hold") and piece not in passed for piece, place in batch.places.items()
    )
