"""Stations out of service and back, and tools worn there by other batches."""

from __future__ import annotations

from datetime import datetime

from floor.batch.events import (
    BackInService,
    ConditionCleared,
    ConditionReported,
    OutOfService,
    ToolWorn,
)
from floor.batch.fold_registry import handles
from floor.batch.open_items import Outage, fold_condition
from floor.batch.state import Batch
from floor.entry import Entry


@handles(OutOfService)
def _out_of_service(batch: Batch, entry: Entry, event: OutOfService, at: datetime) -> None:
    batch.outages[event.station] = Outage.read(event, at)


@handles(BackInService)
def _back_in_service(batch: Batch, entry: Entry, event: BackInService, at: datetime) -> None:
    batch.outages.pop(event.station, None)


@handles(ConditionReported)
def _condition_reported(batch: Batch, entry: Entry, event: ConditionReported, at: datetime) -> None:
    fold_condition(batch.conditions, event, at)


@handles(ConditionCleared)
def _condition_cleared(batch: Batch, entry: Entry, event: ConditionCleared, at: datetime) -> None:
    fold_condition(batch.conditions, event, at)


@handles(ToolWorn)
def _tool_worn(batch: Batch, entry: Entry, event: ToolWorn, at: datetime) -> None:
    for number, used in event.tools:
        state = batch.tools.get((event.station, number))
        if state is not None:
            state.used = max(state.used, used)
