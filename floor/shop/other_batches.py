"""What other batches, and the shop itself, mean to one batch: taken stations and carriers, worn tools, gauges."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import datetime
from functools import partial
from operator import attrgetter

from floor.batch.command import OtherBatches
from floor.batch.corrections.from_paper import find_carriers_then, find_runs_then
from floor.batch.gates.offset_history import find_last_probed
from floor.batch.gates.offset_users import list_zeros
from floor.batch.proof import ProbedLast, ProbedPlace
from floor.batch.state import Batch
from floor.batch.stations.capacity import count_places_needed
from floor.shop.effects_on_other_batches import merge_tool_wear
from floor.shop.shop_record import ShopRecord


def gather_other_batches(
    others: Sequence[Batch],
    known: ShopRecord,
    registered_gauges_only: bool,
    long_shift_hours: float,
    handover_questions: tuple[str, ...],
    then: datetime | None,
) -> OtherBatches:
    """What these batches occupy, now or at a past time; for a carrier both count."""
    runs: dict[str, tuple[str, ...]] = {}
    places: Counter[str] = Counter()
    carriers: dict[tuple[str, int], str] = {}
    zeros: list[tuple[str, str, str]] = []
    for batch in others:
        for run in batch.list_open_runs() if then is None else find_runs_then(batch, then):
            runs[run.station] = (*runs.get(run.station, ()), f"{batch.format_load(run.load)} of {batch.id}")
            places[run.station] += count_places_needed(batch, run.station, batch.loads[run.load])
        for run in batch.list_open_runs() if then is None else ():
            if run.running:
                load = f"{batch.format_load(run.load)} of {batch.id}"
                zeros += [(run.station, zero, load) for zero in list_zeros(batch, run)]
        held = {(load.carrier, load.carrier_number) for load in batch.list_live_loads()}
        held |= find_carriers_then(batch, then) if then is not None else set()
        carriers |= dict.fromkeys(held, batch.id)
    return OtherBatches(
        runs,
        carriers,
        merge_tool_wear(others, known),
        dict(known.outages),
        dict(places),
        dict(known.conditions),
        dict(known.gauges),
        registered_gauges_only,
        dict(known.qualified),
        long_shift_hours,
        handover_questions,
        tuple(zeros),
        partial(_find_probed, others, known),
    )


def _find_probed(others: Sequence[Batch], known: ShopRecord, place: ProbedPlace) -> ProbedLast | None:
    """What was probed last of a carrier for any of these batches, or one that left."""
    found = [known.probed.get(place), *(find_last_probed(batch, place) for batch in others)]
    return max((last for last in found if last is not None), key=attrgetter("at"), default=None)
