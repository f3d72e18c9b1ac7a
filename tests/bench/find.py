"""Searching a record of 100,000 entries: processor time per criterion, and for several at once."""

from __future__ import annotations

import time
from dataclasses import replace
from itertools import cycle, islice
from typing import Any

from floor.batch.search.history_filter import Filter
from floor.batch.search.matching import find_matching_entries
from floor.batch.state import Batch
from tests.papers.half_done import half_done

MANY = 100_000
TIMES = 9

ASKED = {
    "kind": Filter(kinds=("counted", "set_aside")),
    "person": Filter(by="LL"),
    "load": Filter(load=2),
    "op": Filter(op=20),
    "station": Filter(station="mill"),
    "time": Filter(since="middle"),  # type: ignore[arg-type] - put there below
    "struck": Filter(struck=False),
    "words": Filter(words="coolant"),
    "all": Filter(
        load=2, op=20, by="AA", kinds=("step_done", "proved", "counted"), station="mill", words="z", struck=False
    ),
    "load_words": Filter(load=2, words="coolant"),
}


def measure() -> tuple[dict[str, float], dict[str, Any]]:
    """The best of several of each, in milliseconds, and the worst of them."""
    batch = large()
    taken = {name: _best(batch, wanted) for name, wanted in ASKED.items()}
    figures: dict[str, Any] = {f"find_{name}_ms": value for name, value in taken.items()}
    figures["million_additions_ms"] = _beside()
    return {"find_100k_worst_ms": max(taken.values())}, figures


def large() -> Batch:
    """A half-done batch with its entries repeated: as many, of as many kinds, as in a very long life."""
    batch = half_done().state
    once = batch.entries[1:]
    batch.entries[1:] = [replace(one, seq=n) for n, one in enumerate(islice(cycle(once), MANY - 1), 2)]
    return batch


def _beside() -> float:
    """This machine's present time for a million additions in a loop."""
    taken = []
    for _ in range(TIMES):
        start, total = time.process_time(), 0
        for n in range(1_000_000):
            total += n
        taken.append(time.process_time() - start)
    return round(1000 * min(taken), 1)


def _best(batch: Batch, wanted: Filter) -> float:
    if wanted.since is not None:
        wanted = replace(wanted, since=batch.entries[len(batch.entries) // 2].time)
    taken = []
    for _ in range(TIMES):
        start = time.process_time()
        find_matching_entries(batch, wanted)
        taken.append(time.process_time() - start)
    return round(1000 * min(taken), 1)
