"""Proofs, waivers and readings out of limits, in words."""

from __future__ import annotations

from typing import Any

from floor.batch.describe_registry import describes, format_line_title
from floor.batch.events import (
    BeforeDecided,
    ClockConfirmed,
    LotOpened,
    MeasuredAgain,
    OutDecided,
    OutSettled,
    ProgramRead,
    Proved,
    Waived,
    WaiverClosed,
)
from floor.batch.gates.check_values import find_values_outside, format_values, is_same_text
from floor.batch.gates.program_findings import describe_program_finding, sort_findings
from floor.batch.gates.soak_outcome import describe_over_temperature, describe_soak
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.gates import Gate, ProgramLoaded, Soaked
from floor.checklist.operation import Do
from floor.text import format_count


@describes(Proved)
def _proved(batch: Batch, event: Proved) -> str:
    values = format_proof_values(batch, event) or "confirmed"
    return f"{format_line_title(batch, event)}: {values}{format_proof_remarks(batch, event)}"


def format_proof_values(batch: Batch, event: Proved) -> str:
    gate = _gate(batch, event)
    return format_values(gate.asks(), event.values) if gate is not None else ""


def format_proof_remarks(batch: Batch, event: Proved) -> str:
    """What to know about a proof besides its values."""
    run, gate = batch.runs.get(event.run), _gate(batch, event)
    if isinstance(gate, Soaked) and "soak" in event.values:
        over = describe_over_temperature(gate, event.values, batch.last)
        short = event.values["soak"]["total"] < gate.time.base
        said = over or describe_soak(gate, event.values, batch.last)
        return f"; {said}{' ✕ not accepted' if over or short else ''}"
    self_check = " (self-check)" if event.values.get("self") else ""
    return self_check + (_refused(batch, run, gate, event.values) if run is not None and gate is not None else "")


def _gate(batch: Batch, event: Proved) -> Gate | None:
    run = batch.runs.get(event.run)
    step = batch.find_operation(run).step(event.line) if run else None
    return None if isinstance(step, Do) else step


def _refused(batch: Batch, run: Run, gate: Gate, values: dict[str, Any]) -> str:
    """Marks a reading that failed, so that nobody takes it for an accepted value."""
    amiss = bool(find_values_outside(gate.asks(), values))
    if isinstance(gate, ProgramLoaded):
        amiss = not is_same_text(str(values.get("program", "")), batch.find_operation(run).program)
    return " ✕ not accepted" if amiss else ""


@describes(ProgramRead)
def _program_read(batch: Batch, event: ProgramRead) -> str:
    faults, notes = sort_findings(event.findings)
    found = [describe_program_finding(batch, one) for one in (*faults, *notes)]
    said = f": {'; '.join(found)}" if found else ": no faults"
    return f"{event.file} read ({event.sha256[:8]}, {format_count(event.lines, 'line')}){said}"


@describes(Waived)
def _waived(batch: Batch, event: Waived) -> str:
    second = f", {event.second} signed too" if event.second else ""
    return f"{event.title} waived: {event.reason}{second}"


@describes(WaiverClosed)
def _waiver_closed(batch: Batch, event: WaiverClosed) -> str:
    return f"waiver {event.waiver} closed: {event.reason}"


@describes(LotOpened)
def _lot_opened(batch: Batch, event: LotOpened) -> str:
    return (
        f"new: {event.what} {event.lot}"
        + (f", {event.use_by}" if event.use_by else "")
        + (f", goes into load {', '.join(map(str, event.into))}" if event.into else "")
    )


@describes(OutDecided)
def _out_decided(batch: Batch, event: OutDecided) -> str:
    return f"{event.where} was out of limits: {event.to}, {event.reason}" + (f" ({event.note})" if event.note else "")


@describes(BeforeDecided)
def _before_decided(batch: Batch, event: BeforeDecided) -> str:
    return f"{event.hold} of {event.of} made since the last good check put on hold" + (
        f", the others not: {event.reason}" if event.reason else ""
    )


@describes(MeasuredAgain)
def _measured_again(batch: Batch, event: MeasuredAgain) -> str:
    return f"the same piece measured again: {event.value}, {event.reason}" + (
        "" if event.good else " ✕ out of limits again"
    )


@describes(OutSettled)
def _out_settled(batch: Batch, event: OutSettled) -> str:
    return f"reading of entry {event.out} decided: {event.how}, {event.reason}"


@describes(ClockConfirmed)
def _clock_confirmed(batch: Batch, event: ClockConfirmed) -> str:
    return f"the clock is right: {event.reason}"
