"""Starting more pieces while a batch runs: what stands ready for them."""

from __future__ import annotations

from floor.batch.state import Batch
from floor.entry import Moment
from floor.text import format_clock, format_span


def describe_first_setup(batch: Batch, now: Moment) -> tuple[bool, str]:
    """Whether the set-up of the first operation stands, and a sentence that says so or why not."""
    operation = batch.checklist.operations[0]
    station = batch.checklist.station(batch.list_stations_for(operation.op)[0])
    what = f"The set-up of op {operation.op} {operation.title}"
    setup = batch.find_setup(station.id)
    if setup is not None and setup.op == operation.op:
        since = format_clock(setup.at, now.at)
        return True, f"{what} stands at {station.name} since {since}: more pieces take no new one."
    before = [one for one in batch.setups.values() if one.station == station.id]
    if setup is not None:
        why = f"set up for op {setup.op}"
    elif before:
        why = before[-1].why_not
    else:
        why = "not set up yet"
    planned = operation.time.seconds("setup", 0)
    takes = f", {format_span(planned)} by plan" if planned else ""
    return False, f"{what} does not stand now ({station.name}: {why}): more pieces take a new one{takes}."
