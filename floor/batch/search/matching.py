"""A filter as a TinyDB query over a batch's record: one condition per criterion, joined by ``&``.

Imported only where something is asked, because it imports TinyDB.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from datetime import datetime
from functools import reduce
from typing import Any

from tinydb import where
from tinydb.queries import QueryInstance

from floor.batch.describe import describe
from floor.batch.events import (
    BeforeDecided,
    CountCorrected,
    Disposed,
    Event,
    FollowedUp,
    MeasuredAgain,
    OutDecided,
    OutSettled,
    Proved,
    SetAside,
    SuspectGaugeSettled,
    UnprovedSettled,
    read_run_numbers,
)
from floor.batch.run import Run
from floor.batch.search.history_filter import GROUPS, Filter
from floor.batch.search.typed_criteria import find_loads_on, find_stations_called
from floor.batch.state import Batch
from floor.database import query_entries
from floor.entry import Entry, format_time
from floor.text import sanitize

TYPED = frozenset(
    {
        "reason",
        "why",
        "how",
        "decision",
        "note",
        "text",
        "remarks",
        "answers",
        "concession",
        "granted",
        "person",
        "measured",
        "gauge",
        "exception",
        "instead",
        "ahead_why",
        "lot",
        "serial",
        "reference",
        "to",
        "marks",
        "values",
        "shown",
        "was",
        "rows",
        "question",
        "factors",
        "characteristic",
        "seen",
        "offer",
        "proofs",
    }
)
"""Fields of entries that hold, directly or nested, what a person typed or chose."""

AS_IS = "use as is"

Say = Callable[[Batch, Entry], str]


def find_matching_entries(batch: Batch, wanted: Filter, say: Say = describe) -> list[Entry]:
    """The entries that a filter matches, in order, struck ones too."""
    query = compose_filter_query(batch, wanted, say)
    return list(batch.entries) if query is None else query_entries(batch.entries, query)


def compose_filter_query(batch: Batch, wanted: Filter, say: Say = describe) -> QueryInstance | None:
    """The query of a filter; None if it matches everything. The narrowest and cheapest conditions come first."""
    asked = list(_conditions(batch, wanted, say))
    return reduce(lambda later, first: first & later, reversed(asked)) if asked else None


def read_out_of_limits(batch: Batch) -> list[Entry]:
    """The proofs with a value that was out of limits, struck ones too."""
    return query_entries(batch.entries, match_kinds(Proved) & where("body")["out"].exists())


def list_soak_entries(batch: Batch) -> list[Entry]:
    """The proofs of soaks, struck ones too."""
    return query_entries(batch.entries, match_kinds(Proved) & (where("body")["gate"] == "soaked"))


def list_use_as_is_entries(batch: Batch) -> list[Entry]:
    """Decisions to use pieces as is."""
    so = (where("body")["decision"] == AS_IS) | (where("body")["how"] == AS_IS)
    return query_entries(batch.entries, match_kinds(Disposed, UnprovedSettled, OutSettled) & so & is_standing(batch))


def list_decisions(
    batch: Batch, pieces: Collection[int], runs: Collection[int], suspect: Collection[int] = ()
) -> list[Entry]:
    """Entries that set one of these pieces aside, or decided on it, or on a reading or a gauge of one of the runs.

    Args:
        suspect: the entries that reported gauges of theirs as suspect.
    """
    of_piece = match_kinds(SetAside, CountCorrected, Disposed, FollowedUp) & where("body")["pieces"].any(list(pieces))
    of_value = match_kinds(OutDecided, OutSettled, BeforeDecided, MeasuredAgain) & where("body")["run"].one_of(
        list(runs)
    )
    of_gauge = match_kinds(SuspectGaugeSettled) & where("body")["report"].one_of(list(suspect))
    reported = _on("seq", frozenset(suspect).__contains__)
    return query_entries(batch.entries, (of_piece | of_value | of_gauge | reported) & is_standing(batch))


def list_run_entries(batch: Batch, runs: frozenset[int]) -> list[Entry]:
    """Standing entries of one of these runs, or of another run for their shared cycle."""
    return query_entries(
        batch.entries, _on("body", lambda body: not runs.isdisjoint(read_run_numbers(body))) & is_standing(batch)
    )


def match_load(batch: Batch, load: int) -> QueryInstance:
    """Entries about a load, also as one of several in a cycle or as one that a lot goes into."""
    return _about(batch, "load", (load,), lambda run: run.load == load)


def match_carrier(batch: Batch, carrier: str) -> QueryInstance:
    """Entries about any load that was on the carrier of this name."""
    loads = find_loads_on(batch, carrier)
    return _about(batch, "load", loads, lambda run: run.load in loads)


def match_op(batch: Batch, op: int) -> QueryInstance:
    """Entries about an operation."""
    return _about(batch, "op", (op,), lambda run: run.op == op)


def match_station(batch: Batch, station: str) -> QueryInstance:
    """Entries about a station, or about work at it."""
    ids = find_stations_called(batch, station)
    return _about(batch, "station", tuple(ids), lambda run: run.station in ids)


def match_kinds(*kinds: type[Event]) -> QueryInstance:
    """Entries of one of these kinds."""
    return _called(kind.KIND for kind in kinds)


def is_standing(batch: Batch) -> QueryInstance:
    """Entries that nobody struck out."""
    struck = batch.struck
    return _on("seq", lambda seq: seq not in struck)


def is_struck(batch: Batch) -> QueryInstance:
    return _on("seq", batch.struck.__contains__)


def match_written_words(text: str) -> QueryInstance:
    """Entries with this text among what a person typed or chose, ignoring case."""
    sought = sanitize(text).casefold()

    def says(body: dict[str, Any]) -> bool:
        for field, value in body.items():  # noqa: SIM110 - see `_says`
            if field in TYPED and _says(value, sought):
                return True
        return False

    return _on("body", says)


def _conditions(batch: Batch, wanted: Filter, say: Say) -> Iterator[QueryInstance]:
    if wanted.load is not None:
        yield match_load(batch, wanted.load)
    if wanted.carrier:
        yield match_carrier(batch, wanted.carrier)
    if wanted.kinds:
        yield _called(wanted.kinds)
    if wanted.group:
        yield _called(GROUPS[wanted.group])
    if wanted.by:
        yield where("by") == wanted.by
    if wanted.station:
        yield match_station(batch, wanted.station)
    if wanted.op is not None:
        yield match_op(batch, wanted.op)
    if wanted.since is not None or wanted.until is not None:
        yield _between(wanted.since, wanted.until)
    if wanted.struck is not None:
        yield is_struck(batch) if wanted.struck else is_standing(batch)
    if wanted.words:
        yield match_written_words(wanted.words)
    if wanted.says:
        sought = wanted.says.casefold()
        yield _on("seq", lambda seq: sought in say(batch, batch.entries[seq - 1]).casefold())


def _called(kinds: Iterable[str]) -> QueryInstance:
    return _on("kind", frozenset(kinds).__contains__)


def _on(field: str, test: Callable[[Any], bool]) -> QueryInstance:
    """``where(field).test(test)`` without following a path, which would take a third of a search's time."""
    return QueryInstance(lambda entry: test(entry[field]), None)


def _between(since: datetime | None, until: datetime | None) -> QueryInstance:
    """Entered from one time until before another; the record's times sort as text."""
    first = format_time(since) if since is not None else ""
    end = format_time(until) if until is not None else "~"
    return _on("at", lambda at: first <= at < end)


def _about(batch: Batch, field: str, values: tuple[Any, ...], meant: Callable[[Run], bool]) -> QueryInstance:
    """Entries that hold one of these values, or are about one of the runs meant: most name only a run."""
    runs = frozenset(run.number for run in batch.runs.values() if meant(run))

    def about(body: dict[str, Any]) -> bool:
        if body.get("run", body.get("of_run")) in runs or body.get(field) in values:
            return True
        if "along" in body:
            return not runs.isdisjoint(read_run_numbers(body))
        others = (*body.get("into", ()), *body.get("left", ()), body.get("joined"))
        return field == "load" and not set(values).isdisjoint(others)

    return _on("body", about)


def _says(value: Any, sought: str) -> bool:
    """Whether any text in plain JSON data contains this."""
    kind = type(value)
    if kind is str:
        return sought in value.casefold()
    if kind is dict:
        value = value.values()
    elif kind is not list:
        return False
    for one in value:  # noqa: SIM110 - `any` would take half as long again, at every entry there is
        if _says(one, sought):
            return True
    return False
