"""A run, step by step, in words."""

from __future__ import annotations

from floor.batch.describe_registry import describes, format_line_title, format_other_loads
from floor.batch.events import (
    CautionsRead,
    CycleEnded,
    CycleStarted,
    CycleStopped,
    Noted,
    Paused,
    Released,
    RunBegun,
    RunPutBack,
    StepDone,
    StepsChecked,
    StepSkipped,
    read_if_kind,
)
from floor.batch.state import Batch
from floor.text import format_count, format_span


@describes(RunBegun)
def _begun(batch: Batch, event: RunBegun) -> str:
    setup = ", new set-up" if event.new_setup else ""
    exception = f", by exception: {event.exception}" if event.exception else ""
    rework = ", rework" if event.rework else ""
    unmet = f", although {event.unmet}" if event.unmet else ""
    ahead = ", before its turn" + (f": {event.ahead_why}" if event.ahead_why else "") if event.ahead else ""
    instead = f", another station than the list's: {event.instead}" if event.instead else ""
    joined = [
        str(run.load)
        for run in batch.runs.values()
        if event.cycle and run.cycle == event.cycle and run.number < event.run and not run.put_back
    ]
    joint = f", for one cycle with load {' and '.join(joined)}" if joined else ""
    started = f"load {event.load}: op {event.op} started at {batch.checklist.station(event.station).name}"
    return f"{started}{setup}{joint}{rework}{ahead}{instead}{exception}{unmet}{_say_words_read(batch, event)}"


def _say_words_read(batch: Batch, event: RunBegun) -> str:
    words = [batch.entries[seq - 1] for seq in event.read]
    left = [f"{noted.text} ({entry.by})" for entry in words if (noted := read_if_kind(entry, Noted))]
    return f"; read what was left with it: {'; '.join(left)}" if left else ""


@describes(RunPutBack)
def _put_back(batch: Batch, event: RunPutBack) -> str:
    falls = f"; {format_count(event.falls, 'line')} of its walk to be done again" if event.falls else ""
    return f"put back, nothing done to the pieces{falls}"


@describes(CycleStopped)
def _stopped(batch: Batch, event: CycleStopped) -> str:
    ago = f", {format_span(event.ago)} before this was entered" if event.ago else ""
    more = [f"tool {event.tool}"] if event.tool else []
    more += [event.note] if event.note else []
    said = f"cycle stopped{format_other_loads(batch, event)}: {event.why}{ago}"
    return said + (f" ({', '.join(more)})" if more else "")


@describes(CautionsRead)
def _cautions_read(batch: Batch, event: CautionsRead) -> str:
    return f"cautions read: {', '.join(event.cautions)}"


@describes(StepsChecked)
def _steps_checked(batch: Batch, event: StepsChecked) -> str:
    return f"rechecked: {'; '.join(format_line_title(batch, event, line) for line in event.lines)}"


@describes(StepDone)
def _step_done(batch: Batch, event: StepDone) -> str:
    return (
        f"{format_line_title(batch, event, event.line)}"
        + (f" ({event.note})" if event.note else "")
        + format_other_loads(batch, event)
    )


@describes(StepSkipped)
def _step_skipped(batch: Batch, event: StepSkipped) -> str:
    return f"{format_line_title(batch, event, event.line)} skipped: {event.reason}{format_other_loads(batch, event)}"


@describes(CycleStarted)
def _cycle_started(batch: Batch, event: CycleStarted) -> str:
    return (
        "cycle "
        + ("resumed" if event.resumed else "started over" if event.anew else "started")
        + format_other_loads(batch, event)
    )


@describes(CycleEnded)
def _cycle_ended(batch: Batch, event: CycleEnded) -> str:
    return f"cycle ended{format_other_loads(batch, event)}"


@describes(Released)
def _released(batch: Batch, event: Released) -> str:
    return "released"


@describes(Paused)
def _paused(batch: Batch, event: Paused) -> str:
    return f"paused: {event.reason}"
