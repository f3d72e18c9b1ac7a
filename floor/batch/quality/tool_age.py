"""How many pieces a tool had cut when a run started, from its last change; and how worn it was when it was changed."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from floor.batch.event_base import read_run_numbers
from floor.batch.events import CycleEnded, CycleStarted, CycleStopped, Disturbed, Proved, ToolWorn, iter_events
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.gates import ToolLoaded
from floor.entry import Entry


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
        for entry, event in iter_events(batch.list_entries(Disturbed.KIND), Disturbed)
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
    for use in batch.operation(run.op).tools:
        key = (run.station, use.tool)
        ages[ToolStay(*key, changes[key])] = cut[key]
        cut[key] += len(run.pieces)
    return ages


class ToolLife(NamedTuple):
    """A tool from its loading to its change."""

    station: str
    tool: int
    used: float
    """Its wear when it was changed, in the unit of its card, with what other batches cut."""
    need: float
    """What the largest cycle took of it: with less than that left, it could cut no more."""


def list_tool_lives(batch: Batch) -> list[ToolLife]:
    """Every tool that was changed, in the order of the record, as `ToolState` counts its wear.

    In a batch entered half done nobody knows how worn the first ones were: they are left out.
    """
    if not list_tool_changes(batch):
        return []
    reader = _WearReader(batch)
    readers = {
        CycleStarted.KIND: reader.read_start,
        CycleStopped.KIND: reader.read_stop,
        CycleEnded.KIND: reader.read_end,
        Disturbed.KIND: reader.read_change,
        Proved.KIND: reader.read_loaded,
        ToolWorn.KIND: reader.read_worn,
    }
    for entry in batch.list_entries(*readers):
        if entry.seq not in batch.struck:
            readers[entry.kind](entry)
    return reader.found


class _WearReader:
    """Goes through the entries once; what is read of them is plain data, as there are thousands."""

    def __init__(self, batch: Batch) -> None:
        self.batch = batch
        self.worn: dict[tuple[str, int], float] = defaultdict(float)
        self.need: dict[tuple[str, int], float] = defaultdict(float)
        self.unknown: set[tuple[str, int]] | None = set() if batch.late is not None else None
        """Of a batch entered half done, the tools that were changed since."""
        self.stopped: dict[int, int] = {}
        """Run → the entry by which its cycle stands."""
        self.changed: dict[tuple[str, int], int] = {}
        """Tool → the entry of its last change."""
        self.found: list[ToolLife] = []

    def read_end(self, entry: Entry) -> None:
        self._wear(read_run_numbers(entry.body), 0)

    def read_stop(self, entry: Entry) -> None:
        self.stopped.update(dict.fromkeys(read_run_numbers(entry.body), entry.seq))

    def read_start(self, entry: Entry) -> None:
        """A cycle begun anew has cut for nothing before."""
        runs = read_run_numbers(entry.body)
        since = max(self.stopped.pop(number, 0) for number in runs)
        if entry.body.get("anew"):
            self._wear(runs, since)

    def _wear(self, numbers: Sequence[int], since: int) -> None:
        """Count a cycle; not of a tool that was changed after the entry ``since``, where that is not 0."""
        taken: dict[tuple[str, int], float] = defaultdict(float)
        for run in (self.batch.runs[number] for number in numbers if number in self.batch.runs):
            for use in self.batch.find_operation(run).tools:
                taken[run.station, use.tool] += use.per_piece.base * len(run.pieces)
        for key, wear in taken.items():
            if not since or self.changed.get(key, 0) < since:
                self.worn[key] += wear
            self.need[key] = max(self.need[key], wear)

    def read_change(self, entry: Entry) -> None:
        if entry.body.get("what") != "tool changed":
            return
        key = (str(entry.body["station"]), int(entry.body.get("tool") or 0))
        known = self.unknown is None or key in self.unknown
        used = max(self.worn.pop(key, 0.0), float(entry.body.get("worn", 0.0)))
        if known and used:
            self.found.append(ToolLife(*key, used, self.need[key]))
        if self.unknown is not None:
            self.unknown.add(key)
        self.changed[key] = entry.seq

    def read_loaded(self, entry: Entry) -> None:
        run = self.batch.runs.get(entry.body["run"]) if entry.body.get("worn") else None
        gate = self.batch.find_operation(run).gate(entry.body["line"]) if run is not None else None
        if run is not None and isinstance(gate, ToolLoaded):
            self._raise(run.station, gate.tool, float(entry.body["worn"]))

    def read_worn(self, entry: Entry) -> None:
        for tool, used in entry.body["tools"]:
            self._raise(str(entry.body["station"]), tool, used)

    def _raise(self, station: str, tool: int, used: float) -> None:
        self.worn[station, tool] = max(self.worn[station, tool], used)
