"""What a person who comes back to a run needs to know first."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

from floor.batch.counting.blind_count import find_blind_subjects, hide_piece_count
from floor.batch.describe import describe_parts
from floor.batch.events import AttemptRefused, Counted, Paused, Proved, read_event, read_run_numbers
from floor.batch.run import Run
from floor.batch.search.history_filter import GROUPS
from floor.batch.state import Batch
from floor.batch.walk.lines import Walk
from floor.batch.walk.long_breaks import needs_person
from floor.batch.walk.station_walk import build_walk
from floor.dataclass import dataclass
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


@dataclass(frozen=True, slots=True)
class Recap:
    """What stands on the page that a person reads who comes back to a run (CBP-43)."""

    away: str
    """How long ago its last entry was made."""
    last: str
    """What that entry says; empty where it is not of the run."""
    others: tuple[str, ...]
    """Who else entered something since."""
    lapsed: tuple[str, ...]
    """The checks to repeat."""
    current: str
    """The line to go on at."""
    is_interrupted: bool
    """Whether its work by hand was left; a cycle that runs by itself was not."""

    def __str__(self) -> str:
        parts = [f"Last entry {self.away} ago" + (f": {self.last}" if self.last else "")]
        parts += [f"Since then, entries by {', '.join(self.others)}"] if self.others else []
        parts += [f"To repeat: {', '.join(self.lapsed)}"] if self.lapsed else []
        return join_sentences(*parts)


def find_recap(batch: Batch, run: Run, now: Moment, by: str) -> Recap | None:
    """Absence, last step, who worked meanwhile, what lapsed; None after a short absence."""
    if run.touched is None or now.at - run.touched < AWAY or run.released:
        return None
    mine = [
        entry for entry in batch.entries if run.number in read_run_numbers(entry.body) and entry.seq not in batch.struck
    ]
    last = mine[-1].seq if mine else 0
    since = [entry for entry in batch.entries[last:] if entry.kind not in GROUPS["handover"]]  # a handover is not work
    walked = hide_piece_count(build_walk(batch, run, now, by), find_blind_subjects(batch))
    return Recap(
        away=format_span((now.at - run.touched).total_seconds()),
        last=_say_last(batch, run, mine[-1]) if mine else "",
        others=tuple(sorted({entry.by for entry in since} - {by})),
        lapsed=_list_lapsed(walked),
        current=walked.current.title if walked.current is not None else "",
        is_interrupted=needs_person(run),
    )


def _list_lapsed(walked: Walk) -> tuple[str, ...]:
    """The gates that were met, and the steps that were done, and are asked for again."""
    return tuple(
        line.title
        for line in walked.lines
        if line.kind in ("gate", "do") and not line.is_satisfied and line.verdict is not None and line.verdict.again
    )


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
