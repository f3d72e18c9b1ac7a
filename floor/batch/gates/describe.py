"""Proofs, waivers and readings out of limits, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from floor.batch.describe_registry import describes, format_line_title
from floor.batch.events import (
    AirRead,
    AttemptRefused,
    BeforeDecided,
    ClockConfirmed,
    GaugeSuspected,
    LotCorrected,
    LotOpened,
    MeasuredAgain,
    OutDecided,
    OutSettled,
    ProgramRead,
    Proved,
    SuspectGaugeSettled,
    Waived,
    WaiverClosed,
)
from floor.batch.gates.check_values import format_value, format_values
from floor.batch.gates.events import Fault
from floor.batch.gates.measured_pieces import find_measured_pieces
from floor.batch.gates.program_findings import describe_program_finding, sort_findings
from floor.batch.gates.proof_remarks import describe_proof_remarks
from floor.batch.gates.room_air import list_air_fields
from floor.batch.state import Batch
from floor.checklist.gates import FirstPiece, Gate
from floor.checklist.operation import Do
from floor.checklist.units import find_temperature_scale
from floor.text import format_count


@describes(Proved)
def _proved(batch: Batch, event: Proved) -> str:
    values = format_proof_values(batch, event) or "confirmed"
    return f"{format_line_title(batch, event, event.line)}: {values}{format_proof_remarks(batch, event)}"


def format_proof_values(batch: Batch, event: Proved) -> str:
    """The values, each with the place of its piece where that is known."""
    gate = _gate(batch, event)
    places = _list_places(batch, event.run, event.pieces)
    if isinstance(gate, FirstPiece) and places:
        return f"{places[0]}: {format_values(gate.asks(), event.values)}"
    return format_values(gate.asks(), event.values, places) if gate is not None else ""


def _list_places(batch: Batch, number: int, pieces: Sequence[int]) -> list[str]:
    """Of pieces on the carrier of a run; none where they have none there."""
    run = batch.runs.get(number)
    return [batch.format_slot(batch.loads[run.load], piece) for piece in pieces] if run is not None else []


def format_proof_remarks(batch: Batch, event: Proved) -> str:
    """What to know about a proof besides its values."""
    gate = _gate(batch, event)
    return describe_proof_remarks(batch, event.op, gate, event.values) if gate is not None else ""


def _gate(batch: Batch, event: Proved | AttemptRefused | MeasuredAgain) -> Gate | None:
    run = batch.runs.get(event.run)  # an attempt to enter a batch half done has none
    operation = batch.find_operation(run) if run else batch.checklist.ops.get(event.op)
    step = operation.step(event.line) if operation else None
    return None if isinstance(step, Do) else step


REFUSED: Mapping[Fault, str] = {
    "past its date": "refused, past its date",
    "zero in use": "refused, another load was being cut from that zero",
    "does not add up": "refused, does not add up",
    "withdrawn": "refused, withdrawn",
    "not in the register": "refused, not in the register",
    "another gauge": "refused, another kind of gauge",
}


@describes(AttemptRefused)
def _attempt_refused(batch: Batch, event: AttemptRefused) -> str:
    if event.what == "does not add up":
        said = f"count of {event.values['in']} pieces: {event.values['good']} good, {event.values['marked']} marked"
        return f"{said}; {REFUSED[event.what]}"
    gate = _gate(batch, event)
    values = format_values(gate.asks(), event.values) if gate else ", ".join(map(str, event.values.values()))
    about = event.subject or (gate.title() if gate is not None else "a check")
    return f"{about}: {values}; {REFUSED[event.what]}"


@describes(AirRead)
def _air_read(batch: Batch, event: AirRead) -> str:
    ask, _ = list_air_fields(batch.checklist)
    air = find_temperature_scale(ask.unit).from_celsius(event.temperature)
    return f"room air {air:.4g} {ask.unit}, {event.humidity:g} %"


@describes(ProgramRead)
def _program_read(batch: Batch, event: ProgramRead) -> str:
    faults, notes = sort_findings(event.findings)
    if not event.sha256:
        return f"{event.file} not read: {'; '.join(one.subject for one in faults)}"
    found = [describe_program_finding(batch, one) for one in (*faults, *notes)]
    said = f": {'; '.join(found)}" if found else ": no faults"
    return f"{event.file} read ({event.sha256[:8]}, {format_count(event.lines, 'line')}){said}"


@describes(Waived)
def _waived(batch: Batch, event: Waived) -> str:
    second = f", {event.second} signed too" if event.second else ""
    return f"{event.title} waived: {event.reason}{second}"


@describes(WaiverClosed)
def _waiver_closed(batch: Batch, event: WaiverClosed) -> str:
    waiver = batch.waivers.get(event.waiver)
    alone = " by the lead who gave it" if waiver is not None and waiver.is_closed_alone else ""
    return f"waiver {event.waiver} closed{alone}: {event.reason}"


@describes(LotOpened)
def _lot_opened(batch: Batch, event: LotOpened) -> str:
    return (
        f"new: {event.what} {event.lot}"
        + (f", {event.use_by}" if event.use_by else "")
        + (f", goes into load {', '.join(map(str, event.into))}" if event.into else "")
    )


@describes(LotCorrected)
def _lot_corrected(batch: Batch, event: LotCorrected) -> str:
    until = f", use by {event.use_by}" if event.use_by else ""
    return f"lot of {event.what} corrected (entry {event.of}): {event.lot}{until}, was {event.was}: {event.reason}"


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
    gate = _gate(batch, event)
    ask = next((ask for ask in gate.asks() if ask.name == event.name), None) if gate is not None else None
    places = _list_places(batch, event.run, find_measured_pieces(batch, event.out))
    place = places[event.nth] if event.nth < len(places) and ask is not None else ""
    whose = " ".join(filter(None, (place or "the same piece", ask.short if ask is not None else "")))
    said = format_value(event.value, event.shown) if event.name else str(event.value)
    read = " ".join(filter(None, (said, ask.unit if ask is not None else "")))
    first = f" (first {event.was})" if event.was else ""
    if event.corrects:
        return f"{whose} corrected: {read}{first}, {event.reason}" + ("" if event.good else " ✕ out of limits")
    return f"{whose} measured again: {read}{first}, {event.reason}" + ("" if event.good else " ✕ out of limits again")


@describes(OutSettled)
def _out_settled(batch: Batch, event: OutSettled) -> str:
    return f"reading of entry {event.out} decided: {event.how}, {event.reason}"


@describes(GaugeSuspected)
def _gauge_suspected(batch: Batch, event: GaugeSuspected) -> str:
    checks = format_count(len(event.checks), "check")
    return f"{event.gauge} {event.serial} withdrawn as suspect: {event.reason}; {checks} here used it"


@describes(SuspectGaugeSettled)
def _suspect_gauge_settled(batch: Batch, event: SuspectGaugeSettled) -> str:
    one = batch.suspect_gauges.get(event.report)
    return f"checks with {one.serial if one is not None else 'the gauge'} decided: {event.reason}"


@describes(ClockConfirmed)
def _clock_confirmed(batch: Batch, event: ClockConfirmed) -> str:
    return f"the clock is right: {event.reason}"
