"""Room at a station: how many of its places are taken, and whether another load fits."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from floor.batch.load import Load
from floor.batch.run import Run
from floor.batch.state import Batch


def count_places_needed(batch: Batch, station: str, load: Load) -> int:
    """How many places of a station a load takes, by its carrier."""
    return batch.checklist.station(station).places_of(load.carrier)


def count_places_in_use(batch: Batch, station: str, runs: Iterable[Run] | None = None) -> int:
    """How many places of a station these runs take; by default all runs under way."""
    there = batch.list_open_runs() if runs is None else runs
    return sum(count_places_needed(batch, station, batch.loads[run.load]) for run in there if run.station == station)


def list_other_stations(batch: Batch, op: int) -> tuple[str, ...]:
    """Stations of the same kind that the checklist does not name for an operation; a lead may send it there."""
    operation = batch.operation(op)
    kind = batch.checklist.station(operation.station).kind
    return tuple(
        one.id for one in batch.checklist.stations if one.kind in (kind, "outside") and one.id not in operation.stations
    )


def describe_lack_of_room(
    batch: Batch, station: str, load: Load, there: Sequence[str], held: int, then: str = ""
) -> str:
    """Why a load does not fit at a station; empty if it does.

    Args:
        there: the loads there, in words, those of other batches too.
        held: how many places they take.
        then: the time it is about, if not now: ``at 14:05``.
    """
    at, wants = batch.checklist.station(station), count_places_needed(batch, station, load)
    free = at.runs_at_once - held
    if wants <= free:
        return ""
    names = ", ".join(there)
    if free <= 0:
        return f"{at.name} busy{then and f' {then}'}: {names}"
    has = f"{at.name} has {free} of {at.runs_at_once} free beside {names}"
    return f"{batch.format_carrier(load)} takes {wants} places, and {has}"
