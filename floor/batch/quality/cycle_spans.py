"""When the cycles of a batch ran and when they were stopped, from the record."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime
from typing import NamedTuple

from floor.batch.event_base import read_run_numbers
from floor.batch.events import BackInService, CycleEnded, CycleStarted, CycleStopped, Disturbed, OutOfService
from floor.batch.state import Batch
from floor.entry import Entry, parse_time, parse_wall
from floor.figures.spans import Span, merge_spans


class CycleSpans(NamedTuple):
    """By run, in seconds since 1970 UTC; a cycle begun anew after a stop ran before that too."""

    ran: dict[int, list[Span]]
    stopped: dict[int, list[Span]]
    outages: dict[str, list[Span]]
    """By station: out of service."""


class _Reader:
    """Goes through the entries once and keeps what is open."""

    def __init__(self, batch: Batch) -> None:
        self.batch = batch
        self.ran: dict[int, list[Span]] = defaultdict(list)
        self.stopped: dict[int, list[Span]] = defaultdict(list)
        self.outages: dict[str, list[Span]] = defaultdict(list)
        self.running: dict[int, float] = {}
        self.standing: dict[int, float] = {}
        self.out: dict[str, float] = {}

    def read_cycle(self, entry: Entry) -> None:
        at = (entry.done if "acted" in entry.body else parse_time(entry.at)).timestamp()  # there are thousands
        for run in read_run_numbers(entry.body):
            if entry.kind == CycleStarted.KIND:
                self._end_stop(run, at)
                self.running.setdefault(run, at)
            elif entry.kind == CycleStopped.KIND:
                self._stop(run, at - float(entry.body.get("ago", 0.0)))
            else:
                self._end_stop(run, at)
                self._close(run, at)

    def read_station(self, entry: Entry) -> None:
        at, station = entry.done.timestamp(), str(entry.body["station"])
        if entry.kind == OutOfService.KIND:
            since = parse_wall(entry.body["since"], entry.time).timestamp()
            self.out[station] = min(self.out.get(station, since), since)
        elif entry.kind == BackInService.KIND:
            self._return(station, at)
        elif entry.body.get("what") == "power lost":
            runs = self.batch.runs
            for run in [run for run in self.running if run in runs and runs[run].station == station]:
                self._stop(run, at)

    def _stop(self, run: int, at: float) -> None:
        self._close(run, at)
        self.standing.setdefault(run, at)

    def _close(self, run: int, at: float) -> None:
        if run in self.running:
            self.ran[run].append((self.running.pop(run), at))

    def _end_stop(self, run: int, at: float) -> None:
        if run in self.standing:
            self.stopped[run].append((self.standing.pop(run), at))

    def _return(self, station: str, at: float) -> None:
        if station in self.out:
            self.outages[station].append((self.out.pop(station), at))

    def finish(self, until: float) -> CycleSpans:
        for run in self.standing.keys() & self.batch.runs.keys():
            released = self.batch.runs[run].released
            if released is not None:  # its last piece was taken out during the stop
                self._end_stop(run, released.timestamp())
        for station in list(self.out):
            self._return(station, until)
        outages = {station: merge_spans(spans) for station, spans in self.outages.items()}
        return CycleSpans(dict(self.ran), dict(self.stopped), outages)


def list_cycle_spans(batch: Batch, until: datetime) -> CycleSpans:
    """What ran, stood and was out of service; what is still open ends at ``until``, but for cycles under way."""
    reader = _Reader(batch)
    readers = {
        **dict.fromkeys((one.KIND for one in (CycleStarted, CycleStopped, CycleEnded)), reader.read_cycle),
        **dict.fromkeys((one.KIND for one in (Disturbed, OutOfService, BackInService)), reader.read_station),
    }
    for entry in batch.list_entries(*readers):
        if entry.seq not in batch.struck:
            readers[entry.kind](entry)
    return reader.finish(until.timestamp())
