"""From entries to state: the only code that builds or changes a `Batch`.

One small function for each kind of entry, found by its name. A function trusts that the entry was decided by
`floor.batch.commands`, but refuses what the state cannot take (`Inapplicable`): that is how striking out an
entry is checked, and how a damaged or foreign record shows itself instead of folding into nonsense.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime, timedelta, timezone
from typing import Any

from floor.batch.clocks import jump_between
from floor.batch.gates import DISTURBANCES, RULES, serves
from floor.batch.state import (
    MOST_PIECES,
    Batch,
    Count,
    CountMark,
    Detour,
    Difference,
    Handover,
    Load,
    Lot,
    Mark,
    Place,
    Proof,
    Question,
    Run,
    Setup,
    ToolState,
    Void,
    Waiver,
)
from floor.batch.walk import LONG_BREAK, needs_person
from floor.checklist.frozen import frozen_checklist
from floor.checklist.model import Do
from floor.entry import Entry, Moment, parse_time


class Inapplicable(Exception):
    """An entry that the state before it cannot take."""

    def __init__(self, entry: Entry, why: str) -> None:
        super().__init__(f"entry {entry.seq} ({entry.kind.replace('_', ' ')}): {why}")
        self.entry = entry
        self.why = why


Handler = Callable[[Batch, Entry, dict[str, Any], datetime], None]
HANDLERS: dict[str, Handler] = {}


def _kind(handler: Handler) -> Handler:
    HANDLERS[handler.__name__.lstrip("_")] = handler
    return handler


def fold(entries: Iterable[Entry]) -> Batch:
    """Build the state from the whole record of a batch.

    Raises:
        Inapplicable: an entry does not fit the state before it.
    """
    known = list(entries)
    struck = struck_out(known)
    batch: Batch | None = None
    for entry in known:
        batch = _open(entry) if batch is None else _apply(batch, entry, entry.seq in struck)
        batch.entries.append(entry)
    if batch is None:
        raise ValueError("a batch without entries")
    batch.struck = struck
    return batch


def advance(batch: Batch, entries: Sequence[Entry]) -> Batch:
    """The state after further entries: in place, or built anew where one of them strikes out another."""
    if any(entry.kind == "struck_out" for entry in entries):
        return fold([*batch.entries, *entries])
    for entry in entries:
        _apply(batch, entry, False)
        batch.entries.append(entry)
    return batch


def struck_out(entries: Sequence[Entry]) -> dict[int, int]:
    """Which entries are struck out, and by which; a strike may itself be struck."""
    struck: dict[int, int] = {}
    for entry in reversed(entries):
        if entry.kind == "struck_out" and entry.seq not in struck:
            with _fitting(entry):
                struck[entry.body["seq"]] = entry.seq
    return struck


def _open(entry: Entry) -> Batch:
    if entry.kind != "batch_opened":
        raise Inapplicable(entry, "the record of a batch begins with its opening")
    body = entry.body
    at = entry.time
    with _fitting(entry):
        return _opened(entry, body, at)


@contextmanager
def _fitting(entry: Entry) -> Iterator[None]:
    """Data of the wrong shape, as in a foreign record, are said of the entry they are in."""
    try:
        yield
    except (LookupError, TypeError, ValueError, AttributeError, AssertionError, StopIteration) as error:
        raise Inapplicable(entry, f"its data do not fit ({error})") from error


def _opened(entry: Entry, body: dict[str, Any], at: datetime) -> Batch:
    return Batch(
        id=body["id"],
        checklist=frozen_checklist(body["checklist"]),
        digest=body.get("digest", ""),
        file=body.get("file", ""),
        order=body["order"],
        due=date.fromisoformat(body["due"]) if body.get("due") else None,
        reference=body.get("reference", ""),
        opened=at,
        opened_by=entry.by,
        responsible=entry.by,
        last=Moment(at, entry.boot, entry.up),
        seq=entry.seq,
        shift_began=at,
    )


def _apply(batch: Batch, entry: Entry, struck: bool) -> Batch:
    at = parse_time(entry.at).astimezone(timezone(timedelta(minutes=entry.tz)))
    moment = Moment(at, entry.boot, entry.up)
    jump = jump_between(batch.last, moment, entry.seq)
    if jump is not None:
        batch.jumps.append(jump)
    batch.last = moment
    batch.seq = entry.seq
    if struck:
        return batch
    handler = HANDLERS.get(entry.kind)
    if handler is None:
        raise Inapplicable(entry, "this version of Floor does not know such an entry")
    with _fitting(entry):
        handler(batch, entry, entry.body, at)
    return batch


# --- pieces and where they are ---------------------------------------------------------------------------------


def _put(batch: Batch, piece: int, place: Place) -> None:
    """Move one piece; the only place where a piece changes its place."""
    before = batch.places.get(piece)
    if before is not None:
        batch.tally[(before.where, before.op, before.rework)] -= 1
        if before.where == "load":
            batch.on[before.load].discard(piece)
    if batch.handover is not None:  # what was counted for it is another number now
        for one in (before, place):
            batch.handover.counted.pop(one.heap if one else "", None)
    batch.places[piece] = place
    batch.tally[(place.where, place.op, place.rework)] += 1
    if place.where == "load":
        batch.on.setdefault(place.load, set()).add(piece)


def _need(entry: Entry, holds: bool, why: str) -> None:
    if not holds:
        raise Inapplicable(entry, why)


def _run(batch: Batch, entry: Entry) -> Run:
    run = batch.runs.get(entry.body["run"])
    if run is None:
        raise Inapplicable(entry, f"there is no run {entry.body['run']}")
    if run.touched is not None and entry.time - run.touched > LONG_BREAK and needs_person(run):
        run.resumed = entry.time
    run.touched, run.touched_by = entry.time, entry.by
    if entry.kind != "paused":
        run.paused = ""
    return run


def _open_run(batch: Batch, entry: Entry) -> Run:
    run = _run(batch, entry)
    _need(entry, run.released is None, f"run {run.number} is already released")
    return run


@_kind
def _batch_opened(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    raise Inapplicable(entry, "a batch is opened once")


@_kind
def _pieces_started(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    first, count = body["first"], body["count"]
    _need(entry, first == batch.started + 1, "the pieces before these are not started")
    _need(entry, count > 0 and batch.started + count <= MOST_PIECES, f"a batch holds 1 to {MOST_PIECES} pieces")
    op = batch.checklist.operations[0].op
    for piece in range(first, first + count):
        batch.started_at[piece] = at
        _put(batch, piece, Place("waiting", op=op, seq=entry.seq))


@_kind
def _load_formed(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    number, op, rework = body["load"], body["op"], body.get("rework", "")
    slots = tuple(body["slots"])
    _need(entry, number not in batch.loads, f"there is a load {number} already")
    for piece in slots:
        if piece is None:
            continue
        place = batch.places.get(piece)
        _need(
            entry,
            place is not None and place.where == "waiting" and place.op == op and place.rework == rework,
            f"piece {piece} is not waiting at op {op}",
        )
    for load in batch.live_loads():
        taken = (load.carrier, load.carrier_number) == (body["carrier"], body["number"])
        _need(entry, not taken, f"{batch.carrier_name(load)} carries load {load.number}")
    batch.loads[number] = Load(
        number=number,
        carrier=body["carrier"],
        carrier_number=body["number"],
        slots=slots,
        first_op=op,
        next_op=op,
        formed=at,
        seq=entry.seq,
        rework=rework,
        came_from=tuple(body.get("came_from", ())),
    )
    for piece in slots:
        if piece is not None:
            _put(batch, piece, Place("load", load=number, seq=entry.seq))


# --- the run ---------------------------------------------------------------------------------------------------


@_kind
def _run_begun(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    load = batch.loads[body["load"]]
    station = body["station"]
    _need(entry, load.dissolved is None and load.run is None, f"load {load.number} is not free for a run")
    _need(entry, load.at == body["op"], f"load {load.number} is not at op {body['op']}")
    _need(entry, tuple(body["pieces"]) == batch.next_pieces(load), "the pieces of the load are others")
    busy = sum(run.station == station for run in batch.open_runs())
    _need(entry, busy < batch.checklist.station(station).runs_at_once, f"{station} is taken by another load")
    if body["new_setup"]:
        for setup in batch.setups.values():
            if setup.station == station and setup.stands:
                setup.stands, setup.why_not = False, f"set up for op {body['op']}"
        batch.setups[body["setup"]] = Setup(body["setup"], station, body["op"], at)
    else:
        standing = batch.standing_setup(station)
        _need(entry, standing is not None and standing.number == body["setup"], "its set-up does not stand")
    alone = batch.checklist.station(station).runs_at_once == 1
    for key in [key for key in batch.proofs if key[0] == "probed"]:
        other = key[1] != load.number
        # Moving a carrier to another station lifts it; so does putting another one in its place.
        if (other and alone and key[2] == station) or (not other and key[2] != station):
            _void(batch, key, "the carrier left the station", entry, at)
    run = Run(
        number=body["run"],
        load=load.number,
        op=body["op"],
        station=station,
        setup=body["setup"],
        pieces=tuple(body["pieces"]),
        begun=at,
        by=entry.by,
        seq=entry.seq,
        rework=body.get("rework", ""),
        exception=body.get("exception", ""),
        touched=at,
        touched_by=entry.by,
    )
    batch.runs[run.number] = run
    load.run, load.last_station = run.number, station


def _marks_of(batch: Batch, run: Run, line: str) -> dict[str, Mark]:
    """Lines of the set-up are marked once for all its runs, the others for the run alone."""
    for key, step in batch.operation(run.op).numbered_steps:
        if key == line and step.at == "setup":
            return batch.setups[run.setup].marks
    return run.marks


@_kind
def _cautions_read(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    run = _open_run(batch, entry)
    for caution in body["cautions"]:
        batch.read[(entry.by, run.op, caution)] = (at, batch.shift)
    run.marks[f"caution {body['line']}"] = Mark("done", entry.seq, at, entry.by)


def _mark(batch: Batch, entry: Entry, how: Any, note: str, at: datetime) -> None:
    run = _open_run(batch, entry)
    line = entry.body["line"]
    marks = _marks_of(batch, run, line)
    _need(entry, line not in marks or _again(batch, run, line), f'"{line}" is marked already')
    marks[line] = Mark(how, entry.seq, at, entry.by, note)
    run.reopened.discard(line)
    if how == "done":
        _start_clocks(batch, run, f"step {line}", at, entry.seq)


def _again(batch: Batch, run: Run, line: str) -> bool:
    """Whether a step may be done again in one run: a mix that is past its pot life is mixed anew."""
    step = dict(batch.operation(run.op).numbered_steps).get(line)
    return isinstance(step, Do) and bool(step.while_running)


@_kind
def _step_done(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    _mark(batch, entry, "done", body.get("note", ""), at)


@_kind
def _step_skipped(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    _mark(batch, entry, "skipped", body["reason"], at)


@_kind
def _proved(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    run = _open_run(batch, entry)
    key, values = tuple(body["key"]), body["values"]
    batch.proofs[key] = Proof(entry.seq, at, entry.by, values, run.number)
    batch.voids.pop(key, None)
    run.marks[body["line"]] = Mark("done", entry.seq, at, entry.by)
    run.reopened.discard(body["line"])
    if body["gate"] == "lot recorded":
        use_by = values.get("use_by")
        batch.lots[key[1]] = Lot(values["lot"], date.fromisoformat(use_by) if use_by else None, entry.seq, at)
    if body["gate"] == "tool loaded":
        tool = (run.station, key[2])
        known = batch.tools.get(tool)
        batch.tools[tool] = ToolState(values.get("length"), known.since if known else at, known.used if known else 0.0)
    _start_clocks(batch, run, f"step {body['line']}", at, entry.seq)


@_kind
def _cycle_started(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    run = _open_run(batch, entry)
    _need(entry, run.started is None, "the cycle is started already")
    run.started, run.started_by = at, entry.by
    run.program = batch.operation(run.op).program
    run.tools = {tool: state.length for (station, tool), state in batch.tools.items() if station == run.station}
    _start_clocks(batch, run, "start", at, entry.seq)


@_kind
def _cycle_ended(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    run = _open_run(batch, entry)
    _need(entry, run.started is not None and run.ended is None, "the cycle is not running")
    run.ended = at
    for use in batch.operation(run.op).tools:
        state = batch.tools.get((run.station, use.tool))
        if state is not None:
            state.used += use.per_piece.base * len(run.pieces)
    _start_clocks(batch, run, "end", at, entry.seq)


def _start_clocks(batch: Batch, run: Run, event: str, at: datetime, seq: int) -> None:
    for clock in batch.operation(run.op).clocks:
        if clock.starts != event:
            continue
        if clock.per == "batch":
            batch.batch_clocks[clock.id] = (at, seq)
        else:
            started = batch.piece_clocks.setdefault(clock.id, {})
            for piece in run.pieces:
                started[piece] = (at, seq)


# --- counting and release --------------------------------------------------------------------------------------


def reworked_in_place(batch: Batch, run: Run, back_to: int) -> bool:
    """Whether pieces of this run can be reworked without leaving their carrier."""
    return back_to in batch.checklist.leg_of(run.op).ops and batch.loads[run.load].first_op <= back_to


@_kind
def _counted(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    run = _open_run(batch, entry)
    _need(entry, run.count is None, "the run is counted already")
    marks = tuple(
        CountMark(mark["to"], mark["reason"], tuple(mark["pieces"]), mark.get("note", "")) for mark in body["marks"]
    )
    marked = [piece for mark in marks for piece in mark.pieces]
    _need(
        entry, len(set(marked)) == len(marked) and set(marked) <= set(run.pieces), "pieces counted that are not in it"
    )
    _need(entry, body["good"] + len(marked) == len(run.pieces) == body["in"], "the count does not add up")
    _need(entry, all(batch.places[piece].where == "load" for piece in run.pieces), "a piece is no longer on the load")
    run.count = Count(entry.seq, at, entry.by, body["in"], body["good"], marks)
    for mark in marks:
        for piece in mark.pieces:
            if mark.to == "rework":
                reason = batch.operation(run.op).reason(mark.reason)
                assert reason is not None
                route = batch.checklist.rework(reason.rework)
                assert route is not None
                batch.passes[(piece, route.id)] += 1
                if not reworked_in_place(batch, run, route.back_to):
                    _put(batch, piece, Place("waiting", op=route.back_to, rework=route.id, seq=entry.seq))
            else:
                _put(batch, piece, Place(mark.to, op=run.op, load=run.load, reason=mark.reason, seq=entry.seq))
    for _, step in batch.operation(run.op).numbered_steps:
        if getattr(step, "gate", "") == "lot recorded":
            what = step.what  # type: ignore[union-attr]
            if what in batch.lots:
                run.lots[what] = batch.lots[what].lot


@_kind
def _released(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    run = _open_run(batch, entry)
    _need(entry, run.count is not None, "the run is not counted")
    load = batch.loads[run.load]
    run.released, run.released_by = at, entry.by
    load.run = None
    _start_clocks(batch, run, "release", at, entry.seq)
    leg = batch.checklist.leg_of(run.op).ops
    after = next((op for op in leg if op > run.op), None)
    if load.detours:
        load.detours[-1].at = None if run.op == load.detours[-1].found else after
    else:
        load.next_op = after
    assert run.count is not None
    _send_back(batch, run, load)
    _end_detours(batch, load, entry, at)


def _send_back(batch: Batch, run: Run, load: Load) -> None:
    """Put each rework route marked in the count, as far as it stays on the carrier, on top of the load's detours."""
    assert run.count is not None
    for mark in run.count.marks:
        reason = batch.operation(run.op).reason(mark.reason)
        route = batch.checklist.rework(reason.rework) if reason and mark.to == "rework" else None
        if route is None or not reworked_in_place(batch, run, route.back_to):
            continue
        same = next((d for d in load.detours if (d.rework, d.found, d.at) == (route.id, run.op, route.back_to)), None)
        if same is not None:
            same.pieces |= frozenset(mark.pieces)
        else:
            load.detours.append(Detour(route.id, frozenset(mark.pieces), run.op, route.back_to))


def _end_detours(batch: Batch, load: Load, entry: Entry, at: datetime) -> None:
    """Detours that are through, or without a piece, end; a load without a piece, or through its leg, is dissolved."""
    while load.detours and (load.detours[-1].at is None or not batch.next_pieces(load)):
        load.detours.pop()
    if batch.present(load) and load.at is not None:
        return
    following = batch.checklist.after(batch.checklist.leg_of(load.first_op).ops[-1])
    for piece in batch.present(load):
        if following is None:
            _put(batch, piece, Place("finished", seq=entry.seq))
        else:
            _put(batch, piece, Place("waiting", op=following, seq=entry.seq))
    load.dissolved = at


@_kind
def _set_aside(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    pieces = body["pieces"]
    for piece in pieces:
        place = batch.places[piece]
        _need(entry, place.where in ("waiting", "load"), f"piece {piece} is not in work")
    for piece in pieces:
        place = batch.places[piece]
        load = place.load if place.where == "load" else 0
        op = place.op
        if load:
            run = batch.loads[load].run
            _need(entry, run is None or batch.runs[run].count is None, f"load {load} is counted and not released")
            op = batch.loads[load].at or 0
            if run is not None:
                batch.runs[run].pieces = tuple(one for one in batch.runs[run].pieces if one != piece)
        _put(batch, piece, Place(body["to"], op=op, load=load, reason=body["reason"], seq=entry.seq))
    for number in {batch.places[piece].load for piece in pieces} - {0}:
        _close_up(batch, batch.loads[number], entry, at)


def _close_up(batch: Batch, load: Load, entry: Entry, at: datetime) -> None:
    """What is left of a load after pieces were taken from it: without a piece, no run, no detour and no load."""
    if load.run is not None and not batch.runs[load.run].pieces:
        run = batch.runs[load.run]
        run.released, run.released_by, load.run = at, entry.by, None
    if load.run is None:
        _end_detours(batch, load, entry, at)


@_kind
def _disposed(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    for piece in body["pieces"]:
        place = batch.places[piece]
        _need(entry, place.where == "hold", f"piece {piece} is not on hold")
        if body["decision"] == "scrap":
            _put(batch, piece, Place("scrap", op=place.op, load=place.load, reason=place.reason, seq=entry.seq))
        elif body["decision"] == "rework":
            route = batch.checklist.rework(body["rework"])
            assert route is not None
            batch.passes[(piece, route.id)] += 1
            _put(batch, piece, Place("waiting", op=route.back_to, rework=route.id, seq=entry.seq))
        else:
            _use_as_is(batch, piece, place, entry)


def _use_as_is(batch: Batch, piece: int, place: Place, entry: Entry) -> None:
    """Back onto its load where that has not gone further without it, else to wait for the next operation."""
    following = batch.checklist.after(place.op)
    load = batch.loads.get(place.load)
    counted = load is not None and any(
        run.load == load.number and run.op == place.op and piece in run.pieces and run.count
        for run in batch.runs.values()
    )
    target = following if counted else place.op
    if load is not None and load.dissolved is None and load.run is None and load.next_op == target:
        _put(batch, piece, Place("load", load=load.number, seq=entry.seq))
    elif target is None:
        _put(batch, piece, Place("finished", seq=entry.seq))
    else:
        _put(batch, piece, Place("waiting", op=target, seq=entry.seq))


# --- what voids, what is waived, what is said ------------------------------------------------------------------


def _void(batch: Batch, key: tuple[Any, ...], why: str, entry: Entry, at: datetime) -> None:
    batch.proofs.pop(key, None)
    batch.voids[key] = Void(why, at, entry.seq)


@_kind
def _disturbed(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    what, station = body["what"], body["station"]
    for key, proof in list(batch.proofs.items()):
        run = batch.runs[proof.run]
        if what not in RULES[key[0]].voided_by or run.station != station:
            continue
        if what == "lifted" and (run.load != body.get("load") or key[1] in ("setup", "shift")):
            continue
        if what == "tool changed" and key[0] == "tool loaded" and key[2] != body.get("tool"):
            continue
        _void(batch, key, DISTURBANCES[what], entry, at)
        for running in batch.open_runs():
            if running.station == station and running.started is not None and running.ended is None:
                running.reopened |= serves(batch, running, key)  # the cut goes on only when it is proved again
    if what == "tool changed":
        batch.tools.pop((station, body.get("tool", 0)), None)
    if what == "refixtured":
        _take_down(batch, station, DISTURBANCES["refixtured"])


def _take_down(batch: Batch, station: str, why: str) -> None:
    setup = batch.standing_setup(station)
    if setup is not None:
        # The runs under way keep the set-up they began with; its steps are to be done again.
        setup.marks.clear()
        if not any(run.station == station for run in batch.open_runs()):
            setup.stands, setup.why_not = False, why


@_kind
def _setup_taken_down(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    station = body["station"]
    setup = batch.standing_setup(station)
    if setup is not None:
        setup.stands, setup.why_not = False, f"set up for {body['for']}"
    for key, proof in list(batch.proofs.items()):
        if batch.runs[proof.run].station == station and key[0] in ("probed", "tool loaded"):
            _void(batch, key, f"station set up for {body['for']}", entry, at)


@_kind
def _waived(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    run = _open_run(batch, entry)
    batch.waivers[entry.seq] = Waiver(
        seq=entry.seq,
        run=run.number,
        op=run.op,
        line=body["line"],
        title=body["title"],
        by=entry.by,
        second=body.get("second", ""),
        reason=body["reason"],
        at=at,
        pieces=frozenset(run.pieces),
    )


@_kind
def _waiver_closed(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    waiver = batch.waivers[body["waiver"]]
    _need(entry, not waiver.closed, "the waiver is closed already")
    waiver.closed = f"{body['reason']} · {entry.by}"


@_kind
def _paused(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    _open_run(batch, entry).paused = body["reason"]


@_kind
def _noted(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    if body.get("run"):
        _run(batch, entry)


@_kind
def _struck_out(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    _need(entry, 0 < body["seq"] < entry.seq, "it strikes out what is not there")
    struck = next((one for one in batch.entries if one.seq == body["seq"]), None)
    if struck is None:
        return
    for run in batch.open_runs():
        if struck.kind == "proved":
            run.reopened |= serves(batch, run, tuple(struck.body["key"]))
        elif struck.body.get("run") == run.number and "line" in struck.body:
            run.reopened.add(struck.body["line"])


@_kind
def _clock_confirmed(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    # Right now and right before the doubt: what the clock was moved by in between is no longer of any matter.
    doubt = min((jump.seq for jump in batch.jumps if not jump.exact), default=None)
    if doubt is not None:
        batch.jumps = [jump for jump in batch.jumps if jump.seq < doubt]


# --- handover --------------------------------------------------------------------------------------------------


@_kind
def _handover_offered(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    _need(entry, batch.handover is None, "a handover is open already")
    batch.handover = Handover(entry.seq, entry.by, at, body["remarks"], body["unattended"])


def _handover(batch: Batch, entry: Entry) -> Handover:
    if batch.handover is None:
        raise Inapplicable(entry, "no handover is open")
    return batch.handover


@_kind
def _handover_withdrawn(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    _handover(batch, entry)
    batch.handover = None


@_kind
def _carrier_counted(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    handover = _handover(batch, entry)
    handover.counted[body["subject"]] = body["found"]
    for difference in batch.differences.values():
        if difference.subject == body["subject"] and not difference.resolved and difference.seq > handover.seq:
            difference.resolved = f"counted again: {body['found']} · {entry.by}"
    if body["found"] != body["expected"]:
        batch.differences[entry.seq] = Difference(
            entry.seq, body["subject"], body["expected"], body["found"], entry.by, at
        )


@_kind
def _read_back(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    _handover(batch, entry).read_back.add(body["line"])


@_kind
def _question_asked(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    batch.questions[entry.seq] = Question(entry.seq, entry.by, body["text"])


@_kind
def _question_answered(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    batch.questions[body["question"]].answer = f"{body['text']} · {entry.by}"


@_kind
def _handover_accepted(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    _handover(batch, entry)
    batch.handover = None
    batch.responsible = entry.by
    batch.shift += 1
    batch.shift_began, batch.shift_seq = at, entry.seq


@_kind
def _difference_resolved(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    difference = batch.differences[body["difference"]]
    _need(entry, not difference.resolved, "the difference is resolved already")
    difference.resolved = f"{body['how']} · {entry.by}"


@_kind
def _batch_closed(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    _need(entry, batch.closed is None, "the batch is closed already")
    batch.closed = at


@_kind
def _gone_over(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    batch.gone = body["to"]


@_kind
def _taken_in(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    batch.gone = ""
