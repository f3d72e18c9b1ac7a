"""Acts that were written on paper while the power was out, entered afterwards as such."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from floor.batch.commands.base import Context, Refused, alive
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
from floor.entry import Draft, Moment, format_time

MINUTE = timedelta(minutes=1)
Act = BeginRun | ReadCautions | DoStep | SkipStep | Prove | StartCycle | EndCycle | CountRun | Release
"""What is done at a station, and may be on the travelling copy."""


@dataclass(frozen=True, slots=True)
class Transcribed:
    """One act with the time that stands on the paper, entered now.

    It must have been allowed then. On one person's word a dwell that it starts counts from the act towards its latest
    end and from the entry towards its earliest: a cure is never shortened by it. With a second person, who has seen
    the paper, the dwell counts from the act.
    """

    act: Act
    at: datetime
    """When it was done, aware."""
    second: str = ""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        alive(batch)
        before, now = last_act(batch, self.act), context.now.at
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
        drafts = self.act.decide(shown, replace(context, now=then))
        acted = {"acted": format_time(done)} | ({"seen_by": second} if second else {})
        return [Draft(draft.kind, draft.body | acted) for draft in drafts]


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
