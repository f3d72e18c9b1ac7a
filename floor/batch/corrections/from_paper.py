"""Acts written on paper while the power was out, entered afterwards.

An act is not checked against batches closed since, and cannot use a carrier that is loaded now.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import TypeVar

from floor.batch.command import Context, Refused, refuse_closed_batch, require_within_ten_years
from floor.batch.counting.commands import CountRun
from floor.batch.events import (
    AttemptRefused,
    BackInService,
    EnteredLate,
    LoadFormed,
    OutOfService,
    PiecesMoved,
    ProgramRead,
    RunBegun,
    TakenIn,
    read_event,
)
from floor.batch.gates.commands import Prove
from floor.batch.gauge import look_back
from floor.batch.lifecycle.commands import FormLoad
from floor.batch.load import PiecePlace
from floor.batch.moving.commands import MovePieces
from floor.batch.open_items import Outage, StationCondition
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.stations.capacity import count_places_in_use, describe_lack_of_room
from floor.batch.walk.commands import (
    BeginRun,
    CheckAgain,
    DoStep,
    EndCycle,
    ReadCautions,
    Release,
    SkipStep,
    StartCycle,
)
from floor.batch.walk.shared_cycles import find_runs_in_cycle
from floor.dataclass import dataclass
from floor.entry import Draft, Entry, Moment, format_wall
from floor.text import format_clock

MINUTE = timedelta(minutes=1)
Act = (
    FormLoad
    | MovePieces
    | BeginRun
    | ReadCautions
    | CheckAgain
    | DoStep
    | SkipStep
    | Prove
    | StartCycle
    | EndCycle
    | CountRun
    | Release
)
"""Acts at a station that a traveler may show."""

Key = TypeVar("Key")
Stands = TypeVar("Stands", Outage, StationCondition)


@dataclass(frozen=True, slots=True)
class TranscribeAct:
    """One act, entered now with the time from the paper.

    It must have been possible then, as far as the open batches know: the pieces of a load waiting and its carrier free;
    for a run or its cycle, the station free and in service. On one person's word, a dwell it starts counts from the
    entry toward its earliest end and from the act toward its latest: that never shortens a cure. With a second person
    who has seen the paper, it counts from the act.
    """

    act: Act
    at: datetime
    """When it was done, aware."""
    second: str = ""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        before, now = find_last_act(batch, self.act), context.now.at
        require_within_ten_years(self.at, now, "enter the time on the paper")
        if self.at > now:
            raise Refused("input", f"done {format_clock(self.at, now)} is still to come", "enter the time on the paper")
        done = self.at
        if before is not None and done < before < done + MINUTE:
            done = before  # paper has no seconds
        if before is not None and done < before:
            wrong = f"done {format_clock(self.at, now)} is before what was done last here, {format_clock(before, now)}"
            raise Refused("input", wrong, _in_order(batch, self.act))
        second = context.need_second(self.second, "an entry by the time on the paper") if self.second.strip() else ""
        then = _then(batch, context.now, done)
        # The record may have moved past the act: no dwell counts the time since.
        shown = replace(batch, last=then) if done < batch.last.at else batch
        act = _at_station(batch, self.act)
        if isinstance(act, BeginRun | StartCycle):
            _need_free_then(batch, act, done, context)
            known = context.elsewhere
            shown = replace(shown, outages=_by_then(batch.outages, done), conditions=_by_then(batch.conditions, done))
            outages, conditions = _by_then(known.outages, done), _by_then(known.conditions, done)
            context = replace(context, elsewhere=replace(known, outages=outages, conditions=conditions))
        if isinstance(act, Prove):
            gauges = look_back(context.elsewhere.gauges, done)
            context = replace(context, elsewhere=replace(context.elsewhere, gauges=gauges))
        if isinstance(self.act, FormLoad | MovePieces):
            if isinstance(self.act, FormLoad) or self.act.load is None:
                shown = replace(shown, places=_waiting_then(batch, self.act, done, now))
            taken = dict.fromkeys(find_carriers_then(batch, done), "") | context.elsewhere.carriers
            context = replace(context, elsewhere=replace(context.elsewhere, carriers=taken))
        drafts = act.decide(shown, replace(context, now=then))
        acted = {"acted": format_wall(done)} | ({"seen_by": second} if second else {})
        return [Draft(draft.kind, draft.body | acted) for draft in drafts]


def _at_station(batch: Batch, act: Act) -> Act:
    """The act with its station; if several could do it and none is named, the usual one."""
    load = batch.loads.get(act.load) if isinstance(act, BeginRun) and not act.station else None
    if load is None or load.at is None:
        return act
    assert isinstance(act, BeginRun), "only that has a load to be started"
    return replace(act, station=batch.operation(act.ahead or load.at).station)


def _waiting_then(batch: Batch, act: FormLoad | MovePieces, done: datetime, now: datetime) -> dict[int, PiecePlace]:
    """The places without pieces that started to wait for the operation only later."""
    waiting = batch.waiting(act.op, act.rework) if act.op is not None and act.op in batch.checklist.ops else []
    since = {piece for piece in waiting if batch.entries[batch.places[piece].seq - 1].done >= done + MINUTE}
    if waiting and len(since) == len(waiting):
        raise Refused(
            "count",
            f"no piece waited for op {act.op} at {format_clock(done, now)}",
            "first enter from paper what brought them there, or check the time",
        )
    return {piece: place for piece, place in batch.places.items() if piece not in since}


def find_carriers_then(batch: Batch, done: datetime) -> frozenset[tuple[str, int]]:
    """The carriers that held a load of this batch then."""
    return frozenset(
        (load.carrier, load.carrier_number)
        for load in batch.loads.values()
        if load.formed <= done and (load.dissolved is None or load.dissolved >= done + MINUTE)
    )


def find_runs_then(batch: Batch, at: datetime) -> list[Run]:
    """The runs of a batch that were under way then; paper has no seconds."""
    return [
        run for run in batch.runs.values() if run.begun <= at and (run.released is None or run.released >= at + MINUTE)
    ]


def _in_order(batch: Batch, act: Act) -> str:
    """What to do when an act is earlier than what is on record."""
    last = _last_entry(batch, act)
    formed = last is not None and last.kind == LoadFormed.KIND
    if last is None or not (formed or last.kind == RunBegun.KIND) or "acted" in last.body:
        return "enter the acts in their order, each with its time"
    what = "loaded" if formed else "begun"
    return f"first strike out entry {last.seq} ({what}) and enter that from paper with its own time"


def _need_free_then(batch: Batch, act: BeginRun | StartCycle, done: datetime, context: Context) -> None:
    """Refuse a start at a station that was occupied, by this batch or another, or out of service at that time."""
    now = context.now.at
    own = batch.runs.get(act.run) if isinstance(act, StartCycle) else None
    load = batch.loads.get(own.load if own is not None else getattr(act, "load", 0))
    if load is None or (own is None and load.at is None):
        return  # the act itself says what is wrong
    station = batch.checklist.station(own.station if own is not None else getattr(act, "station", ""))
    there = [run for run in find_runs_then(batch, done) if run is not own and run.station == station.id]
    look = "look at the time on the paper again, and at the history for what was there then"
    others = context.elsewhere.runs.get(station.id, ())
    names = [f"{batch.format_load(run.load)} {_spell(run.begun, run.released, now)}" for run in there]
    held = count_places_in_use(batch, station.id, there) + context.elsewhere.taken(station.id)
    full = describe_lack_of_room(batch, station.id, load, [*names, *others], held, f"at {format_clock(done, now)}")
    if full:
        raise Refused("busy", full, look)
    outage, back = _find_outage_then(batch, station.id, done)
    if outage is not None:
        when = _spell(outage.since, back, now)
        raise Refused("busy", f"{station.name} was out of service {when}: {outage.why} ({outage.by})", look)


def _find_outage_then(batch: Batch, station: str, done: datetime) -> tuple[Outage | None, datetime | None]:
    """Why a station was out of service then, and when it was back."""
    for outage, back in list_outage_periods(batch, station):
        if outage.since <= done and (back is None or back >= done + MINUTE):
            return outage, back
    return None, None


_OF_SERVICE = {TakenIn.KIND, OutOfService.KIND, BackInService.KIND}


def list_outage_periods(batch: Batch, station: str) -> list[tuple[Outage, datetime | None]]:
    """Each outage of the station with the time it ended; None if it has not."""
    found: list[tuple[Outage, datetime | None]] = []
    for entry in batch.entries:
        event = read_event(entry) if entry.kind in _OF_SERVICE else None
        if isinstance(event, TakenIn) and station in event.in_service and found:
            found[-1] = (found[-1][0], entry.time)  # entries about stations out of service here follow this one
        if entry.seq in batch.struck:
            continue
        if isinstance(event, OutOfService) and event.station == station:
            if found and found[-1][1] is None:  # entered again with another reason or time
                found.pop()
            found.append((Outage.read(event, entry.time), None))
        elif isinstance(event, BackInService) and event.station == station and found and found[-1][1] is None:
            found[-1] = (found[-1][0], entry.time)
    return found


def _by_then(known: dict[Key, Stands], done: datetime) -> dict[Key, Stands]:
    """Without what came over the stations later."""
    return {key: stands for key, stands in known.items() if stands.since <= done}


def _spell(start: datetime, end: datetime | None, now: datetime) -> str:
    return f"from {format_clock(start, now)} {f'to {format_clock(end, now)}' if end is not None else 'on'}"


def find_last_act(batch: Batch, act: Act) -> datetime | None:
    """Time of the last entry in the act's run, or about its load; None if there is none."""
    entry = _last_entry(batch, act)
    return entry.done if entry is not None else None


def _last_entry(batch: Batch, act: Act) -> Entry | None:
    if isinstance(act, FormLoad):
        return None
    loads = _loads_of(batch, act)
    runs = _runs_of(batch, act) or {run.number for run in batch.runs.values() if run.load in loads}
    for entry in reversed(batch.entries):
        if entry.kind == EnteredLate.KIND and entry.seq not in batch.struck:
            return entry  # what was entered about it held then
        event = read_event(entry)
        if isinstance(event, ProgramRead | AttemptRefused):
            continue  # no act at the station: the file is read, or an entry refused, when it is entered
        about = {getattr(event, "load", None)}
        if isinstance(event, PiecesMoved):
            about |= {*event.left, event.joined}
        mine = runs & set(event.runs) or loads & about
        if mine and entry.seq not in batch.struck:
            return entry
    return None


def _loads_of(batch: Batch, act: Act) -> set[int]:
    """The loads of an act that is between two runs: the one that is started, or those that pieces are moved on."""
    if isinstance(act, BeginRun):
        return {act.load}
    if not isinstance(act, MovePieces):
        return set()
    load, operation = batch.loads.get(act.load or 0), batch.checklist.ops.get(act.op or 0)
    kind = load.carrier if load is not None else operation.carrier if operation is not None else ""
    joined = {one.number for one in batch.list_live_loads() if (one.carrier, one.carrier_number) == (kind, act.onto)}
    return joined | ({load.number} if load is not None else set())


def _runs_of(batch: Batch, act: Act) -> set[int]:
    """The run of an act; for a cycle start, cycle end or step in the cycle, all runs in that cycle."""
    run = batch.runs.get(act.run) if not isinstance(act, FormLoad | MovePieces | BeginRun) else None
    steps = dict(batch.find_operation(run).numbered_steps) if run is not None else {}
    step = steps.get(act.line) if isinstance(act, DoStep | SkipStep) else None
    if run is not None and (isinstance(act, StartCycle | EndCycle) or (step is not None and step.at == "cycle")):
        return {one.number for one in find_runs_in_cycle(batch, run)}
    return {run.number} if run is not None else set()


def _then(batch: Batch, now: Moment, at: datetime) -> Moment:
    """The reading of the clock at the act; the machine may not have been on."""
    if at < batch.last.at:
        return Moment(at, batch.last.boot, batch.last.up - (batch.last.at - at) / timedelta(seconds=1))
    up = now.up - (now.at - at) / timedelta(seconds=1)
    return Moment(at, now.boot, up if now.boot == batch.last.boot else max(up, 0.0))
