"""What a person who comes back to a run needs to know first."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

from floor.batch.counting.blind_count import find_blind_subjects
from floor.batch.describe import describe_parts
from floor.batch.events import AttemptRefused, Counted, Paused, Proved, read_event, read_run_numbers
from floor.batch.run import Run
from floor.batch.search.history_filter import GROUPS
from floor.batch.state import Batch
from floor.batch.walk.station_walk import build_walk
from floor.entry import Entry, Moment
from floor.text import format_clock, format_span, join_sentences

AWAY = timedelta(minutes=15)
"""After an absence longer than this, a recap is shown (shop decision)."""
AT_WORK = timedelta(minutes=10)
"""A person with an entry within this time is assumed to be still at the load (shop decision)."""


def find_last_walk(batches: Iterable[Batch], who: str) -> tuple[str, int] | None:
    """Batch and run under way of which this person, or else anybody, made the newest entry; None if none is under way.

    By when it was entered, not done: an act from paper was done long before. Of a cycle with several loads it is the
    one from whose walk it was entered.
    """
    found = []
    for batch in batches:
        under_way = {run.number for run in batch.list_open_runs()}
        of_runs = [one for one in batch.entries if one.body.get("run") in under_way and one.seq not in batch.struck]
        found += [(entry.by == who, entry.time, entry.seq, batch.id, entry.body["run"]) for entry in of_runs]
    return max(found)[3:] if found else None


def describe_absence(batch: Batch, run: Run, now: Moment, by: str) -> str:
    """Absence, last step, who worked meanwhile, what lapsed; empty after a short absence."""
    if run.touched is None or now.at - run.touched < AWAY or run.released:
        return ""
    mine = [
        entry for entry in batch.entries if run.number in read_run_numbers(entry.body) and entry.seq not in batch.struck
    ]
    last = mine[-1].seq if mine else 0
    since = [entry for entry in batch.entries[last:] if entry.kind not in GROUPS["handover"]]  # a handover is not work
    others = sorted({entry.by for entry in since} - {by})
    parts = [f"Last entry {format_span((now.at - run.touched).total_seconds())} ago"]
    if mine:
        parts[0] += f": {_say_last(batch, run, mine[-1])}"
    if others:
        parts.append(f"Since then, entries by {', '.join(others)}")
    if lapsed := _list_lapsed(batch, run, now, by):
        parts.append(f"To repeat: {', '.join(lapsed)}")
    return join_sentences(*parts)


def _list_lapsed(batch: Batch, run: Run, now: Moment, by: str) -> list[str]:
    """The gates that were met and are asked for again."""
    return [
        line.title
        for line in build_walk(batch, run, now, by).lines
        if line.kind == "gate" and not line.is_satisfied and line.verdict is not None and line.verdict.again
    ]


def _say_last(batch: Batch, run: Run, entry: Entry) -> str:
    """What was entered last on the run, and by whom; no figure of it while its load is counted blind."""
    event = read_event(entry)
    paused = f", paused: {run.paused}" if run.paused and not isinstance(event, Paused) else ""
    refused = isinstance(event, AttemptRefused) and event.what == "does not add up"
    counts = isinstance(event, Counted) or (isinstance(event, Proved) and event.gate == "counted")
    hidden = (counts or refused) and f"load {run.load}" in find_blind_subjects(batch)
    blind = "count refused" if refused else "counted"
    return f"{blind if hidden else describe_parts(batch, entry).here} ({entry.by}){paused}"


def describe_other_person(batch: Batch, run: Run, now: Moment, who: str) -> str:
    """Who else is at this load now, so two people at one walk know of each other; empty if nobody.

    A person who has handed the batch over has left.
    """
    if run.released or run.touched is None or not who or run.touched_by == who or now.at - run.touched > AT_WORK:
        return ""
    if run.touched_by == batch.handed_over_by and batch.shift_began and run.touched <= batch.shift_began:
        return ""
    return f"{run.touched_by} is also working on this load: last entry {format_clock(run.touched, now.at)}"
