"""What needs a person, now and later, over all open batches, the most pressing first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Literal

from floor.batch.command import Context, OtherBatches, Person, Refused
from floor.batch.corrections.put_off import list_put_off
from floor.batch.corrections.unproved_work import find_open_unproved_work, format_unproved_work
from floor.batch.counting.blind_count import find_blind_subjects, format_count_subject, hide_piece_count, hides_total
from floor.batch.counting.surplus import find_undecided_surplus, format_order_filled, is_wanted_at
from floor.batch.gates.judge_process import describe_closed_window, describe_missed_window
from floor.batch.gates.out_of_limits import list_undecided_readings, say_open
from floor.batch.gates.suspect_gauges import describe_suspect_gauge
from floor.batch.gates.verdict import GateVerdict
from floor.batch.lifecycle.commands import PointKind, list_free_carriers, open_points, say_points
from floor.batch.load import Load, PiecePlace, Where
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.stations.capacity import count_places_in_use, describe_lack_of_room
from floor.batch.stations.conditions import find_hold
from floor.batch.stations.station_choice import open_stations, refuse_station, set_up_for_another
from floor.batch.walk.clocks import compute_planned_end, compute_turn_due, say_what_closes_first
from floor.batch.walk.clocks_before_next_run import BindingClock, find_binding_clocks
from floor.batch.walk.lines import Line, Walk
from floor.batch.walk.next_run import find_next_run
from floor.batch.walk.shared_cycles import find_open_runs_in_cycle, format_carriers
from floor.batch.walk.station_walk import build_walk
from floor.checklist.gates import Counted
from floor.checklist.operation import BEFORE_CYCLE
from floor.dataclass import dataclass
from floor.entry import Moment
from floor.text import format_clock, format_count, format_span, with_article
from floor.wall import shift_time

Urgency = Literal["overdue", "now", "soon", "later", "blocked"]
Destination = Literal[
    "run", "begin", "form", "hold", "handover", "difference", "unproved", "out", "gauge", "settle", "close", "surplus"
]
CLOSING_SOON = timedelta(minutes=30)
"""A window that closes within this time is pressing (shop decision)."""


@dataclass(frozen=True, slots=True)
class Loading:
    """Waiting pieces that can be loaded on a free carrier now."""

    pieces: int
    """How many go on it."""
    those: tuple[int, ...]
    """All that wait, the longest first."""
    carrier: str
    told: bool = True
    """Whether figures may be shown: not during a blind count."""
    rework: bool = False
    fit: int = 0
    """How many of them the carrier holds; more than go on it where the plan starts with a smaller load."""

    @property
    def what(self) -> str:
        some = format_count(len(self.those), "piece")
        if not self.told:
            some = "pieces"
        elif self.pieces < len(self.those):
            some = f"{self.pieces} of {some}"
        why = f" ({self.fit} fit; the plan starts with {self.pieces})" if self.told and self.pieces < self.fit else ""
        return f"Load {some}{' in rework' if self.rework else ''} on {self.carrier}{why}"


@dataclass(frozen=True, slots=True)
class DueTask:
    """One task that waits for a person, or will."""

    urgency: Urgency
    when: datetime | None
    """When it comes due; None if due already."""
    batch: str
    what: str
    """What to do, or what it is waiting for."""
    where: str
    load: int | None = None
    run: int | None = None
    op: int | None = None
    go: Destination = "run"
    """What opens when the task is chosen."""
    rework: str = ""
    closes: datetime | None = None
    """When a window that the work must hit closes."""

    outlasts: str = ""
    """Whether a window elsewhere closes before this work is done; only a plan knows."""

    at_once: bool = False
    """Whether a running cycle asks for it, such as a reading at the start of a soak: it cannot wait for the end."""
    title: str = ""
    """Title of the operation."""
    loading: Loading | None = None
    """form: what can be loaded now."""
    entry: int | None = None
    """unproved: the strike. out: the reading. gauge: the report."""
    needs_lead: bool = False
    short_where: str = ""
    """Of several stations the first and how many more, for a narrow column: ``Mill +1``; empty where there is one."""
    over_since: datetime | None = None
    """Since when its cycle has been over by the plan, with nobody there."""

    @property
    def is_pressing(self) -> bool:
        """Whether a window closed, or its cycle is over with nobody there."""
        return self.urgency == "overdue" or self.over_since is not None

    @property
    def sentence(self) -> str:
        """``Confirm cycle complete · 60 Face the seat``, and which window closes meanwhile."""
        said = f"{self.what} · {self.op} {self.title}" if self.op else self.what
        return f"{said} · {self.outlasts}" if self.outlasts else said

    @property
    def short_sentence(self) -> str:
        """The same without the title of the operation: ``Confirm cycle complete · op 60``."""
        said = f"{self.what} · op {self.op}" if self.op else self.what
        return f"{said} · {self.outlasts}" if self.outlasts else said

    @property
    def key(self) -> str:
        """Identifies the same task between looks, to notice what has become due."""
        return f"{self.batch} {self.go} {self.load} {self.op} {self.rework or self.what if self.op is None else ''}"


STILL_GOOD: tuple[Where, ...] = ("load", "waiting", "hold")
"""Where pieces may still become good ones."""
NO_ROW: tuple[PointKind, ...] = ("waiver", "question", "put off")
"""What keeps a batch open and has no row of its own."""
_ORDER: dict[Urgency, int] = {"overdue": 0, "now": 1, "soon": 2, "later": 3, "blocked": 4}


def list_due_tasks(
    batches: Iterable[Batch], now: Moment, elsewhere: dict[str, OtherBatches] | None = None
) -> list[DueTask]:
    """All tasks, the most pressing first: closed windows, what waits now, then by time."""
    found: list[DueTask] = []
    for batch in batches:
        if batch.closed is None and not batch.gone:
            context = Context(now, Person("-"), (elsewhere or {}).get(batch.id, OtherBatches()))
            found += _of_batch(batch, context)
    far = shift_time(now.at, 3650 * 86400)
    return sorted(
        found,
        key=lambda due: (
            due.go != "surplus",
            _ORDER[due.urgency],
            due.closes or due.when or far,
            due.batch,
            due.load or 0,
        ),
    )


def _of_batch(batch: Batch, context: Context) -> list[DueTask]:
    hidden = find_blind_subjects(batch)
    return [
        *_surplus_due(batch, hidden),
        *_decisions_due(batch, hidden),
        *_put_off_due(batch, context.now.at),
        *_loads_due(batch, context, hidden),
        *_end_due(batch),
    ]


def _batch_due(
    batch: Batch,
    what: str,
    go: Destination,
    where: str = "batch",
    entry: int | None = None,
    *,
    lead: bool = False,
) -> DueTask:
    """What the whole batch waits for, now."""
    return DueTask("now", None, batch.id, what, where, go=go, entry=entry, needs_lead=lead)


def _decisions_due(batch: Batch, hidden: frozenset[str]) -> Iterator[DueTask]:
    """What somebody has to decide, count or take over before anything else is sure."""
    if batch.handover is not None:
        yield _batch_due(batch, f"Take over from {batch.handover.by}", "handover")
    for difference in batch.list_open_differences():
        what = f"{format_count_subject(batch, difference.subject)}: counts do not match, recount"
        yield _batch_due(batch, what, "difference")
    for one in find_open_unproved_work(batch):
        what = f"Decide (lead): {format_unproved_work(batch, one)}"
        yield _batch_due(batch, what, "unproved", entry=one.strike, lead=True)
    for out in list_undecided_readings(batch):
        lead = "" if out.gate.of_piece else " (lead)"
        yield _batch_due(
            batch, f"Decide{lead}: {say_open(batch, out)}", "out", entry=out.seq, lead=not out.gate.of_piece
        )
    for gauge in batch.list_open_suspect_gauges():
        what = f"Decide (lead): {describe_suspect_gauge(batch, gauge)}"
        yield _batch_due(batch, what, "gauge", entry=gauge.seq, lead=True)
    held = batch.total("hold")
    if held:
        held_pieces = "the held pieces" if hides_total(batch, "hold", hidden) else format_count(held, "held piece")
        yield _batch_due(batch, f"Decide on {held_pieces} (lead)", "hold", "hold", lead=True)


def list_decisions_due(batch: Batch) -> list[DueTask]:
    """What is to be decided before the batch is sure of its pieces again, except pieces on hold: they have a list."""
    decisions = _decisions_due(batch, find_blind_subjects(batch))
    return [due for due in decisions if due.go not in ("handover", "hold")]


def _put_off_due(batch: Batch, now: datetime) -> Iterator[DueTask]:
    """Work that a note put off until a time; without one it stands on the handover page alone."""
    for one in list_put_off(batch):
        if one.due is not None:
            due = _batch_due(batch, one.describe(now), "handover")
            yield due if one.is_overdue(now) else replace(due, urgency="later", when=one.due)


def _loads_due(batch: Batch, context: Context, hidden: frozenset[str]) -> Iterator[DueTask]:
    """Loads under way, loads that wait to begin, and pieces that wait for a carrier."""
    for load in batch.list_live_loads():
        if load.run is not None:
            run = batch.runs[load.run]
            if has_own_row(batch, run, context.now):
                yield _run_due(batch, load, run, context.now, hidden)
        elif is_wanted_at(batch, load.at):
            yield _begin_due(batch, load, context)
    for op, rework, count in batch.list_waiting_pools():
        if is_wanted_at(batch, op):
            yield _form_due(batch, op, rework, count, context, hidden)


def _end_due(batch: Batch) -> Iterator[DueTask]:
    """The batch can be closed, or could be but for what has no row of its own."""
    points = open_points(batch)
    rest = [point for point in points if point.kind in NO_ROW]
    if not points:
        yield _batch_due(batch, "Close the batch: every piece is accounted for", "close")
    elif rest and not (batch.list_live_loads() or batch.total("waiting") or batch.total("hold")):
        yield _batch_due(batch, f"Resolve, then close the batch: {say_points(rest)}", "settle")


def _surplus_due(batch: Batch, hidden: frozenset[str]) -> list[DueTask]:
    """The task to decide on surplus pieces of a filled order, or on spares it needs again."""
    if find_undecided_surplus(batch):
        return [_batch_due(batch, format_order_filled(batch, hidden), "surplus")]
    finished, spare = batch.total("finished"), batch.total("spare")
    short = batch.order - finished - sum(batch.total(where) for where in STILL_GOOD)
    if spare and short > 0:
        spares = (
            "spares are" if "spare" in hidden else f"{format_count(spare, 'spare')} {'is' if spare == 1 else 'are'}"
        )
        few = (
            "pieces" if any(hides_total(batch, where, hidden) for where in STILL_GOOD) else format_count(short, "piece")
        )
        what = f"{few} short of the order, and {spares} there: take back what is needed"
        return [_batch_due(batch, what, "surplus")]
    return []


def has_own_row(batch: Batch, run: Run, now: Moment) -> bool:
    """Whether a run has a row of its own: the first of several loads in one cycle stands for those at the same line."""
    first = min((run, *find_open_runs_in_cycle(batch, run)), key=lambda one: one.number)
    if first is run or run.ended is not None:
        return True
    mine, its = build_walk(batch, run, now).current, build_walk(batch, first, now).current
    assert mine is not None, "a released run is no longer under way"
    assert its is not None
    at_once = mine.kind in ("start", "end") or (mine.kind == "do" and run.running)
    return mine.key != its.key or not at_once


def _run_due(batch: Batch, load: Load, run: Run, now: Moment, hidden: frozenset[str]) -> DueTask:
    walked = hide_piece_count(build_walk(batch, run, now), hidden)
    current = walked.current
    assert current is not None, "a released run is no longer under way"
    due = DueTask(
        urgency="now",
        when=None,
        batch=batch.id,
        what=current.title,
        where=batch.checklist.station(run.station).name,
        load=load.number,
        run=run.number,
        op=run.op,
        title=batch.format_op_title(load, run.op),
        closes=_closes(walked),
        at_once=run.running and current.kind != "end",
        over_since=_find_overrun(batch, run, current, now),
    )
    verdict = current.verdict
    if verdict is not None and verdict.decide:
        return replace(due, what=f"Decide: {verdict.why}")
    turn = compute_turn_due(batch, run, current.key, now)
    if turn is not None and turn > now.at:
        return replace(due, urgency="later", when=turn, at_once=False)
    return (
        _comes_later(batch, walked, due, now)
        or _held_up_in_cycle(batch, run, current, due, now)
        or _held_up_here(batch, run, current, due, now)
        or due
    )


def _find_overrun(batch: Batch, run: Run, current: Line, now: Moment) -> datetime | None:
    ends = compute_planned_end(batch, run, now) if run.running and current.kind == "end" else None
    return ends if ends is not None and ends < now.at else None


def _comes_later(batch: Batch, walked: Walk, due: DueTask, now: Moment) -> DueTask | None:
    """The row of a run that waits for a clock or for its cycle to end."""
    run, current = walked.run, walked.lines[walked.place]
    verdict = current.verdict
    waits = verdict.when if verdict is not None and verdict.status == "wait" else None
    ends = compute_planned_end(batch, run, now) if run.running else None
    if ends is None or not (current.kind == "end" or waits):
        return replace(due, urgency="later", when=waits) if waits else None
    ready = max(ends, waits) if waits else ends
    what = current.title if current.kind == "end" else walked.operation.end
    return replace(due, urgency="later", when=ready, what=what) if ready > now.at else None


def _held_up_in_cycle(batch: Batch, run: Run, current: Line, due: DueTask, now: Moment) -> DueTask | None:
    """The row of a run whose cycle waits for another load that it takes too."""
    if current.kind not in ("start", "end"):
        return None
    for other in find_open_runs_in_cycle(batch, run):
        its = build_walk(batch, other, now).current
        if its is not None and its.key != current.key:
            return replace(due, urgency="blocked", what=f"{current.title}: load {other.load} first ({its.title})")
    return None


def _held_up_here(batch: Batch, run: Run, current: Line, due: DueTask, now: Moment) -> DueTask | None:
    """The row of a run whose station is out of service, or whose gate somebody has to clear."""
    verdict, outage = current.verdict, batch.outages.get(run.station)
    if outage is not None and not run.running and current.phase in BEFORE_CYCLE:
        return replace(due, urgency="blocked", when=outage.back, what=f"{due.where} {outage.said(now.at)}")
    hold = find_hold(batch.conditions, run.station, cuts=True) if current.kind == "start" else None
    if hold is not None:
        return replace(due, urgency="blocked", what=f"{due.where}: {hold.said(now.at)}")
    if current.state == "blocked" and verdict is not None and not isinstance(current.step, Counted):
        return replace(due, urgency="overdue" if verdict.late else "now", what=_to_clear(verdict))
    return None


def _to_clear(verdict: GateVerdict) -> str:
    """What blocks a run under way and how to clear it: waiting would not help."""
    return f"Change the tool: {verdict.why}" if verdict.change else verdict.why


def _closes(walked: Walk) -> datetime | None:
    """The earliest end of a window that a line ahead in this run must hit."""
    run = walked.run
    over = set(BEFORE_CYCLE) if run.started else set()
    over |= {"cycle"} if run.ended else set()
    closing = [
        line.verdict.when
        for line in walked.lines
        if line.verdict is not None and line.verdict.status == "met" and line.verdict.when and line.phase not in over
    ]
    return min(closing, default=None)


def _begin_due(batch: Batch, load: Load, context: Context) -> DueTask:
    """A load between two operations: ready, curing, or waiting for its station."""
    now = context.now
    assert load.at is not None
    title = batch.format_op_title(load, load.at)
    if not batch.find_next_pieces(load):
        where = batch.format_carrier(load)
        what = "Every piece is on hold"
        return DueTask("blocked", None, batch.id, what, where, load.number, op=load.at, title=title, go="hold")
    stations = batch.list_stations_for(load.at)
    free = open_stations(batch, load, context) if len(stations) > 1 else []
    names = [batch.checklist.station(one).name for one in (free or stations)]
    due = DueTask(
        urgency="now",
        when=None,
        batch=batch.id,
        what="Start",
        where=" or ".join(names),
        short_where=f"{names[0]} +{len(names) - 1}" if len(names) > 1 else "",
        load=load.number,
        op=load.at,
        title=title,
        go="begin",
    )
    binding = [*find_binding_clocks(batch, load, now)]
    held_up = next(filter(None, (_held_up_by_clock(batch, load, due, one, binding, now) for one in binding)), None)
    if held_up is not None:
        return held_up
    closes = [one.ripeness.closes for one in binding if one.ripeness.closes is not None]
    due = replace(due, closes=min(closes, default=None))
    if len(stations) > 1 and not free:
        return replace(due, urgency="blocked", what=_none_free(batch, load, context))
    return _due_at_station(batch, load, due, free[0] if free else stations[0], context)


def _held_up_by_clock(
    batch: Batch, load: Load, due: DueTask, one: BindingClock, binding: Sequence[BindingClock], now: Moment
) -> DueTask | None:
    """The row of a load that cures, will miss its window, or is too late.

    Args:
        binding: all clocks of the load; the window of another may close first.
    """
    ripe = one.ripeness
    if ripe.status == "wait":
        others = [(it.ripeness.closes, it.clock.id) for it in binding if it.ripeness.status == "open"]
        first = say_what_closes_first(ripe.opens, others, now)
        return replace(due, urgency="later", when=ripe.opens, what=f"Wait for {one.clock.id}{first and f': {first}'}")
    if ripe.status == "misses":
        missed = describe_missed_window(one.clock, ripe, now)
        return replace(due, urgency="overdue", what=missed, closes=ripe.closes)
    if ripe.status == "late":
        closed = describe_closed_window(batch, one.clock, load.number, one.pieces, now)
        return replace(due, urgency="overdue", what=closed)
    return None


def _due_at_station(batch: Batch, load: Load, due: DueTask, station: str, context: Context) -> DueTask:
    """The row of a load that is ready, or waits for its station to be in service, free or set up for it."""
    now, outage = context.now, batch.outages.get(station)
    if outage is not None:
        said = f"{batch.checklist.station(station).name} {outage.said(now.at)}"
        return replace(due, urgency="blocked", when=outage.back, what=said)
    hold = find_hold(batch.conditions, station, cuts=not batch.operation(due.op or 0).cycle)
    if hold is not None:
        name = batch.checklist.station(station).name
        return replace(due, urgency="blocked", what=f"{name}: {hold.said(now.at)}")
    busy = [batch.format_load(run.load) for run in batch.list_open_runs() if run.station == station]
    busy += context.elsewhere.runs.get(station, ())
    held = count_places_in_use(batch, station) + context.elsewhere.taken(station)
    if full := describe_lack_of_room(batch, station, load, busy, held) or set_up_for_another(
        batch, load, station, busy
    ):
        return replace(due, urgency="blocked", what=full)
    return replace(due, what=_begin(batch, load, now, station))


def _none_free(batch: Batch, load: Load, context: Context) -> str:
    """Why none of several stations can take a load now."""
    said = []
    for station in batch.list_stations_for(load.at or 0):
        try:
            refuse_station(batch, load, station, context)
        except Refused as refused:
            said.append(refused.wrong)
    return "; ".join(said)


def _begin(batch: Batch, load: Load, now: Moment, station: str) -> str:
    run = find_next_run(batch, load, now, station=station)
    others = find_open_runs_in_cycle(batch, run)
    with_others = f", for one cycle with {format_carriers(batch, others)}" if others else ""
    return "Start" + with_others + (", in one go" if batch.operation(run.op).in_one_go else "")


def _form_due(batch: Batch, op: int, rework: str, count: int, context: Context, hidden: frozenset[str]) -> DueTask:
    operation = batch.operation(op)
    kind = batch.checklist.carrier(operation.carrier)
    free = list_free_carriers(batch, kind.id, context)
    told = PiecePlace("waiting", op=op, rework=rework).heap not in hidden
    those = tuple(batch.waiting(op, rework)) if free else ()
    fit = min(count, kind.capacity)
    loading = Loading(fit, those, kind.name, told, bool(rework), fit) if free else None
    many = format_count(count, "piece") if told else "pieces"
    wait = "waits" if told and count == 1 else "wait"
    what = f"{many}{' in rework' if rework else ''} {wait} for {with_article(kind.name)}"
    return DueTask(
        urgency="now" if free else "blocked",
        when=None,
        batch=batch.id,
        what=loading.what if loading else what,
        where=kind.name,
        op=op,
        title=operation.title,
        go="form",
        rework=rework,
        loading=loading,
    )


def say_when(due: DueTask, now: datetime, long: bool = True) -> str:
    """The time column: how long it waits, or until when; short without the time that is left."""
    missed = due.urgency == "overdue"
    if due.closes is not None and (due.closes > now if missed else due.closes - now < CLOSING_SOON):
        return f"closes {format_clock(due.closes, now)}"
    if missed:
        return "missed"
    if due.over_since is not None and due.urgency == "now":
        return f"over {format_span((now - due.over_since).total_seconds())}"
    if due.when is not None:
        left = format_span((due.when - now).total_seconds())
        return f"{format_clock(due.when, now)} in {left}" if long else format_clock(due.when, now)
    return "now" if due.urgency == "now" else "waits"
