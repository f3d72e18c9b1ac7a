"""Acts that were written on paper while the power was out, entered afterwards as such."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from floor.batch.commands.base import Context, Refused, alive, within_reach
from floor.batch.commands.counting import CountRun
from floor.batch.commands.working import (
    BeginRun,
    DoStep,
    EndCycle,
    Prove,
    ReadCautions,
    Release,
    SkipStep,
    StartCycle,
)
from floor.batch.said import clock_time
from floor.batch.state import Batch
from floor.batch.unsettled import Outage
from floor.entry import Draft, Moment, format_time

MINUTE = timedelta(minutes=1)
Act = BeginRun | ReadCautions | DoStep | SkipStep | Prove | StartCycle | EndCycle | CountRun | Release
"""What is done at a station, and may be on the travelling copy."""


@dataclass(frozen=True, slots=True)
class Transcribed:
    """One act with the time that stands on the paper, entered now.

    It must have been allowed then; where a run or its cycle begins, the station free and in service, as far as this
    batch knows. On one person's word a dwell that it starts counts from the act towards its latest end and from the
    entry towards its earliest: a cure is never shortened by it. With a second person, who has seen the paper, the dwell
    counts from the act.
    """

    act: Act
    at: datetime
    """When it was done, aware."""
    second: str = ""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        alive(batch)
        before, now = last_act(batch, self.act), context.now.at
        within_reach(self.at, now, "enter the time on the paper")
        if self.at > now:
            raise Refused("input", f"done {clock_time(self.at, now)} is still to come", "enter the time on the paper")
        done = self.at
        if before is not None and done < before < done + MINUTE:
            done = before  # paper has no seconds
        if before is not None and done < before:
            wrong = f"done {clock_time(self.at, now)} is before what was done last here, {clock_time(before, now)}"
            raise Refused("input", wrong, "enter the acts in their order, each with its time")
        second = context.need_second(self.second, "an entry by the time on the paper") if self.second.strip() else ""
        then = _then(batch, context.now, done)
        # The record may have gone on past the act: no dwell counts what went by since.
        shown = replace(batch, last=then) if done < batch.last.at else batch
        if isinstance(self.act, BeginRun | StartCycle):
            _need_free_then(batch, self.act, done, now)
            shown = replace(shown, outages=_by_then(batch.outages, done))
            known = context.elsewhere
            context = replace(context, elsewhere=replace(known, outages=_by_then(known.outages, done)))
        drafts = self.act.decide(shown, replace(context, now=then))
        acted = {"acted": format_time(done)} | ({"seen_by": second} if second else {})
        return [Draft(draft.kind, draft.body | acted) for draft in drafts]


def _need_free_then(batch: Batch, act: BeginRun | StartCycle, done: datetime, now: datetime) -> None:
    """Refuse what was begun where another load was, or out of service, at the time on the paper.

    What other batches had at the station then is not known to this one.
    """
    own = batch.runs.get(act.run) if isinstance(act, StartCycle) else None
    load = batch.loads.get(act.load) if isinstance(act, BeginRun) else None
    op = own.op if own is not None else load.at if load is not None else None
    if op is None:
        return  # the act itself says what is wrong
    station = batch.checklist.station(batch.operation(op).station)
    there = [
        run
        for run in batch.runs.values()
        if run is not own
        and run.station == station.id
        and run.begun <= done
        and (run.released is None or run.released >= done + MINUTE)
    ]
    look = "look at the time on the paper again, and at the history for what was there then"
    if len(there) >= station.runs_at_once:
        taken = [f"{batch.load_name(run.load)} {_spell(run.begun, run.released, now)}" for run in there]
        raise Refused("busy", f"{station.name} was taken at {clock_time(done, now)} by {', '.join(taken)}", look)
    for outage, back in outages(batch, station.id):
        if outage.since <= done and (back is None or back >= done + MINUTE):
            when = _spell(outage.since, back, now)
            raise Refused("busy", f"{station.name} was out of service {when}: {outage.why} ({outage.by})", look)


def outages(batch: Batch, station: str) -> list[tuple[Outage, datetime | None]]:
    """Each time that a station was out of service, with when it was back; None where it is not."""
    found: list[tuple[Outage, datetime | None]] = []
    for entry in batch.entries:
        if entry.kind == "taken_in" and station in entry.body.get("in_service", ()) and found:
            found[-1] = (found[-1][0], entry.time)  # what is out of service here is told after this
        if entry.seq in batch.struck or entry.body.get("station") != station:
            continue
        if entry.kind == "out_of_service":
            if found and found[-1][1] is None:  # said again, with another reason or time
                found.pop()
            found.append((Outage.read(entry.body, entry.time), None))
        elif entry.kind == "back_in_service" and found and found[-1][1] is None:
            found[-1] = (found[-1][0], entry.time)
    return found


def _by_then(known: dict[str, Outage], done: datetime) -> dict[str, Outage]:
    """Without what went out of service since."""
    return {station: outage for station, outage in known.items() if outage.since <= done}


def _spell(start: datetime, end: datetime | None, now: datetime) -> str:
    return f"from {clock_time(start, now)} {f'to {clock_time(end, now)}' if end is not None else 'on'}"


def last_act(batch: Batch, act: Act) -> datetime | None:
    """When the last thing was done in the run of an act, or with its load; None where there was nothing."""
    runs = {act.run} if not isinstance(act, BeginRun) else {
        run.number for run in batch.runs.values() if run.load == act.load
    }  # fmt: skip
    load = act.load if isinstance(act, BeginRun) else 0
    for entry in reversed(batch.entries):
        mine = entry.body.get("run") in runs or (load and entry.body.get("load") == load)
        if mine and entry.seq not in batch.struck:
            return entry.done
    return None


def _then(batch: Batch, now: Moment, at: datetime) -> Moment:
    """The reading of the clock at the act; the machine may not have been on."""
    if at < batch.last.at:
        return Moment(at, batch.last.boot, batch.last.up - (batch.last.at - at) / timedelta(seconds=1))
    up = now.up - (now.at - at) / timedelta(seconds=1)
    return Moment(at, now.boot, up if now.boot == batch.last.boot else max(up, 0.0))
