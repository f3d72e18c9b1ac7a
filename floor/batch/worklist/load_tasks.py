"""The task of one load: of its run under way, of the run it would begin, or of pieces that wait to be loaded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from floor.batch.command import Context
from floor.batch.counting.blind_count import hide_piece_count
from floor.batch.gates.judge_process import describe_closed_window, describe_missed_window
from floor.batch.gates.verdict import GateVerdict
from floor.batch.lifecycle.commands import list_free_carriers
from floor.batch.load import Load, PiecePlace
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.stations.capacity import count_places_in_use, describe_lack_of_room
from floor.batch.stations.conditions import find_hold
from floor.batch.stations.station_choice import ask_stations, set_up_for_another
from floor.batch.walk.clocks import compute_planned_end, compute_turn_due, find_overrun, say_what_closes_first
from floor.batch.walk.clocks_before_next_run import BindingClock, find_binding_clocks
from floor.batch.walk.lines import Line, Walk
from floor.batch.walk.next_run import find_next_run
from floor.batch.walk.shared_cycles import find_open_runs_in_cycle, format_carriers
from floor.batch.walk.station_walk import build_walk
from floor.batch.worklist.due_task import DueTask, Loading
from floor.checklist.gates import Counted
from floor.checklist.operation import BEFORE_CYCLE
from floor.entry import Moment
from floor.text import format_count, with_article


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


def find_run_task(batch: Batch, load: Load, run: Run, now: Moment, hidden: frozenset[str]) -> DueTask:
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
        over_since=find_overrun(batch, run, now) if current.kind == "end" else None,
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


def find_begin_task(batch: Batch, load: Load, context: Context) -> DueTask:
    """A load between two operations: ready, curing, or waiting for its station."""
    now = context.now
    assert load.at is not None
    title = batch.format_op_title(load, load.at)
    if not batch.find_next_pieces(load):
        where = batch.format_carrier(load)
        what = "Every piece is on hold"
        return DueTask("blocked", None, batch.id, what, where, load.number, op=load.at, title=title, go="hold")
    stations = batch.list_stations_for(load.at)
    free, refusals = ask_stations(batch, load, context) if len(stations) > 1 else ([], [])
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
    if refusals and not free:
        said = "; ".join(one.wrong for one in refusals)
        return replace(due, urgency="blocked", what=said)
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


def _begin(batch: Batch, load: Load, now: Moment, station: str) -> str:
    run = find_next_run(batch, load, now, station=station)
    others = find_open_runs_in_cycle(batch, run)
    with_others = f", for one cycle with {format_carriers(batch, others)}" if others else ""
    return "Start" + with_others + (", in one go" if batch.operation(run.op).in_one_go else "")


def find_form_task(batch: Batch, op: int, rework: str, count: int, context: Context, hidden: frozenset[str]) -> DueTask:
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
