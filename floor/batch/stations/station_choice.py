"""Which of an operation's stations a load may start at now, and why not at the others."""

from __future__ import annotations

from collections.abc import Sequence

from floor.batch.command import FREE_IT, Context, Refused
from floor.batch.load import Load
from floor.batch.state import Batch
from floor.batch.stations.capacity import count_places_in_use, describe_lack_of_room
from floor.batch.stations.conditions import refuse_unsafe_start
from floor.batch.stations.out_of_service import refuse_out_of_service


def refuse_station(batch: Batch, load: Load, station: str, context: Context) -> None:
    """Refuse a station that is out of service, unsafe, full, or set up for other work under way there."""
    assert load.at is not None, "a load past its leg starts nothing"
    refuse_out_of_service(batch, station, context)
    refuse_unsafe_start(batch, station, context, cuts=not batch.operation(load.at).cycle)
    busy = describe_runs_at_station(batch, station, context)
    full = describe_lack_of_room(
        batch, station, load, busy, count_places_in_use(batch, station) + context.elsewhere.taken(station)
    )
    if full:
        raise Refused("busy", full, FREE_IT)
    if other := set_up_for_another(batch, load, station, busy):
        raise Refused("busy", other, "wait until it is free")


def set_up_for_another(batch: Batch, load: Load, station: str, busy: Sequence[str]) -> str:
    """Why a station cannot be set up for a load's next operation while these loads are there; empty if it can, or need
    not be.
    """
    needs_setup = any(step.at == "setup" for _, step in batch.operation(load.at or 0).numbered_steps)
    standing = batch.find_setup(station)
    if not busy or not needs_setup or (standing is not None and standing.op == load.at):
        return ""
    name = batch.checklist.station(station).name
    return f"{name} is set up for another operation and in use: {', '.join(busy)}"


def describe_runs_at_station(batch: Batch, station: str, context: Context) -> list[str]:
    """The runs under way at a station, those of other batches too, in words."""
    here = [f"{batch.format_load(run.load)} at op {run.op}" for run in batch.list_open_runs() if run.station == station]
    return [*here, *context.elsewhere.runs.get(station, ())]


def open_stations(batch: Batch, load: Load, context: Context) -> list[str]:
    """Stations where a load's next operation may start now, those set up for it first."""
    return ask_stations(batch, load, context)[0]


def list_station_refusals(batch: Batch, load: Load, context: Context) -> list[Refused]:
    """Why none of its stations takes a load's next operation now; none if one does."""
    free, refusals = ask_stations(batch, load, context)
    return [] if free else refusals


def ask_stations(batch: Batch, load: Load, context: Context) -> tuple[list[str], list[Refused]]:
    """The stations that take a load's next operation now, those set up for it first, and why the others do not."""
    assert load.at is not None, "a load past its leg starts nothing"
    free: list[str] = []
    refusals: list[Refused] = []
    for station in batch.list_stations_for(load.at):
        try:
            refuse_station(batch, load, station, context)
            free.append(station)
        except Refused as refused:
            refusals.append(refused)
    return free, refusals
