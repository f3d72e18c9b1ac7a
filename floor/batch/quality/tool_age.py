"""How many pieces a tool had cut when a run started, from its last change."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Mapping
from typing import NamedTuple

from floor.batch.events import Disturbed, iter_events
from floor.batch.run import Run
from floor.batch.state import Batch


class ToolStay(NamedTuple):
    """A tool from one change to the next."""

    station: str
    tool: int
    changes: int
    """How often this tool was changed here before."""


class ToolChange(NamedTuple):
    """A tool taken out for another."""

    seq: int
    station: str
    tool: int


def list_tool_changes(batch: Batch) -> list[ToolChange]:
    """In the order of the record; those struck out are left out."""
    return [
        ToolChange(entry.seq, event.station, event.tool or 0)
        for entry, event in iter_events(batch.entries, Disturbed)
        if event.what == "tool changed" and entry.seq not in batch.struck
    ]


def compute_tool_ages(batch: Batch) -> Mapping[int, Mapping[ToolStay, int]]:
    """Run → its tools → the pieces of this batch that each had cut when the run's cycle started.

    A tool that came used from another batch starts at 0 here: how many pieces it had cut there is not on this record.
    """
    changed = deque(list_tool_changes(batch))
    started = sorted((run for run in batch.runs.values() if run.started is not None), key=lambda run: run.started_seq)
    changes: dict[tuple[str, int], int] = defaultdict(int)
    cut: dict[tuple[str, int], int] = defaultdict(int)
    found: dict[int, Mapping[ToolStay, int]] = {}
    for run in started:
        while changed and changed[0].seq <= run.started_seq:
            key = changed.popleft()[1:]
            changes[key] += 1
            cut[key] = 0
        found[run.number] = _use(batch, run, changes, cut)
    return found


def _use(
    batch: Batch, run: Run, changes: Mapping[tuple[str, int], int], cut: dict[tuple[str, int], int]
) -> Mapping[ToolStay, int]:
    ages = {}
    for use in batch.find_operation(run).tools:
        key = (run.station, use.tool)
        ages[ToolStay(*key, changes[key])] = cut[key]
        cut[key] += len(run.pieces)
    return ages
