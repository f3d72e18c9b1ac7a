"""One line of history for people, for each kind of entry."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, TypeVar

from floor.batch.blind import blind
from floor.batch.events import (
    BackInService,
    BatchClosed,
    BatchOpened,
    BeforeDecided,
    CarrierCounted,
    CautionsRead,
    ClockConfirmed,
    Counted,
    CycleEnded,
    CycleStarted,
    CycleStopped,
    DifferenceResolved,
    Disposed,
    Disturbed,
    EnteredLate,
    Event,
    GoneOver,
    HandoverAccepted,
    HandoverOffered,
    HandoverWithdrawn,
    LoadFormed,
    LotOpened,
    MeasuredAgain,
    Noted,
    OutDecided,
    OutOfService,
    OutSettled,
    PageRead,
    Paused,
    PiecesStarted,
    Proved,
    QuestionAnswered,
    QuestionAsked,
    ReadBack,
    Released,
    RunBegun,
    RunPutBack,
    SetAside,
    SetupTakenDown,
    StepDone,
    StepSkipped,
    StruckOut,
    SurplusBroughtBack,
    SurplusGoesOn,
    SurplusTakenOut,
    TakenIn,
    TakenOff,
    ToolWorn,
    UnprovedSettled,
    Waived,
    WaiverClosed,
    of_kind,
    read,
)
from floor.batch.gates import DISTURBANCES, outside, said, same_text
from floor.batch.late import Told, say_sum
from floor.batch.reliance import after_strike, line_title
from floor.batch.run import Run
from floor.batch.said import clock_time, plural, span, wall_time
from floor.batch.state import Batch
from floor.checklist.gates import Gate, ProgramLoaded
from floor.checklist.model import Do
from floor.entry import Entry, parse_wall

E = TypeVar("E", bound=Event)
DESCRIBED: dict[type[Event], Callable[[Batch, Any], str]] = {}
"""What each kind of entry says, without where it was."""


def says(kind: type[E]) -> Callable[[Callable[[Batch, E], str]], Callable[[Batch, E], str]]:
    """Make a function the one that puts a kind of entry into words."""

    def made(words: Callable[[Batch, E], str]) -> Callable[[Batch, E], str]:
        DESCRIBED[kind] = words
        return words

    return made


@dataclass(frozen=True, slots=True)
class Description:
    """What an entry says, in parts, so that nobody has to take a sentence apart again."""

    at: str
    """The load and operation whose run it belongs to; empty where it belongs to none, or says so itself."""
    what: str
    paper: str = ""
    """Where it was entered from paper: both times, and who saw the paper."""
    struck: int | None = None
    """The entry that struck it out."""

    @property
    def here(self) -> str:
        """For a reader who sees already where it was and whether it stands."""
        return f"{self.what} ({self.paper})" if self.paper else self.what

    @property
    def standing(self) -> str:
        """Without the mark of being struck out, for a reader to whom that is said in another way."""
        return f"{self.at}: {self.here}" if self.at else self.here

    def __str__(self) -> str:
        return f"{self.standing} (struck out)" if self.struck is not None else self.standing


def describe(batch: Batch, entry: Entry) -> str:
    """What the entry says, in the shop's words, without who and when."""
    return str(describe_parts(batch, entry))


def describe_parts(batch: Batch, entry: Entry) -> Description:
    """The same, in its parts."""
    event, body = read(entry), entry.body
    paper = ""
    if "acted" in body and not isinstance(event, EnteredLate):
        done, entered = (wall_time(at, entry.time.date()) for at in (entry.done, entry.time))
        seen = f", {body['seen_by']} saw it" if body.get("seen_by") else ""
        paper = f"from paper: done {done}, entered {entered}{seen}"
    return Description(_at(batch, event), DESCRIBED[type(event)](batch, event), paper, batch.struck.get(entry.seq))


def describe_proof(batch: Batch, entry: Entry) -> str:
    """A proof among others of its run: its title, and its values; a bare confirmation goes without saying."""
    proved, said = of_kind(entry, Proved), describe_parts(batch, entry)
    if proved is None or said.paper or _values(batch, proved) or _afterthoughts(batch, proved):
        return said.here
    return replace(said, what=_line(batch, proved)).here


def _at(batch: Batch, event: Event) -> str:
    """Where it was; a run that is begun says so itself."""
    run = batch.runs.get(next(iter(event.runs), 0))
    return f"load {run.load}, op {run.op}" if run and not isinstance(event, RunBegun) else ""


def _along(batch: Batch, event: Event) -> str:
    """``, with load 4``: the other loads that one cycle took."""
    others = [str(batch.runs[run].load) for run in event.runs[1:] if run in batch.runs]
    return f", with load {', '.join(others)}" if others else ""


def _line(batch: Batch, event: Proved | StepDone | StepSkipped) -> str:
    """The title of the line an entry is about."""
    run = batch.runs.get(event.run)
    return event.line if run is None else line_title(batch, run, event.line)


@says(Proved)
def _proved(batch: Batch, event: Proved) -> str:
    return f"{_line(batch, event)}: {_values(batch, event) or 'confirmed'}{_afterthoughts(batch, event)}"


def _values(batch: Batch, event: Proved) -> str:
    gate = _gate(batch, event)
    return said(gate.asks(), event.values) if gate is not None else ""


def _afterthoughts(batch: Batch, event: Proved) -> str:
    """What has to be known of a proof beside its values."""
    run, gate = batch.runs.get(event.run), _gate(batch, event)
    self_check = " (self-check)" if event.values.get("self") else ""
    return self_check + (_refused(batch, run, gate, event.values) if run is not None and gate is not None else "")


def _gate(batch: Batch, event: Proved) -> Gate | None:
    run = batch.runs.get(event.run)
    step = batch.operation_of(run).step(event.line) if run else None
    return None if isinstance(step, Do) else step


def _refused(batch: Batch, run: Run, gate: Gate, values: dict[str, Any]) -> str:
    """Said of what was entered and did not do, so that nobody takes it for a value that was accepted."""
    amiss = bool(outside(gate.asks(), values))
    if isinstance(gate, ProgramLoaded):
        amiss = not same_text(str(values.get("program", "")), batch.operation_of(run).program)
    return " ✕ not accepted" if amiss else ""


@says(Counted)
def _counted(batch: Batch, event: Counted) -> str:
    parts = [f"{event.good} good"]
    for mark in event.marks:
        where = f" at {', '.join(mark.places)}" if mark.places else ""
        note = f" ({mark.note})" if mark.note else ""
        parts.append(f"{len(mark.pieces)} {mark.to} {mark.reason}{where}{note}")
    return f"counted {event.went_in}: {', '.join(parts)}"


@says(EnteredLate)
def _entered_late(batch: Batch, event: EnteredLate) -> str:
    rows = [Told.read(row, batch.opened) for row in event.rows]
    as_of = wall_time(parse_wall(event.acted, batch.opened))
    seen = f", {event.seen_by} saw the papers" if event.seen_by else ""
    proved = f", {plural(len(event.proofs), 'proof')}" if event.proofs else ""
    return f"entered late, as of {as_of}{seen}: {say_sum(rows)}{proved}"


def proofs_told(batch: Batch, now: datetime) -> list[str]:
    """What was told to be proved when a batch was entered late: by whom and when."""
    late = (of_kind(entry, EnteredLate) for entry in batch.entries if entry.seq not in batch.struck)
    found = []
    for one in (proof for event in late if event is not None for proof in event.proofs):
        gate: Any = batch.operation(one.op).step(one.line)
        when = clock_time(parse_wall(one.at, now), now)
        values = said(gate.asks(), one.values) or "confirmed"
        found.append(f"op {one.op} {gate.title()}: {values} · {one.by} {when}")
    return found


@says(LoadFormed)
def _loaded(batch: Batch, event: LoadFormed) -> str:
    carrier = batch.checklist.carrier(event.carrier).label(event.number)
    count = sum(1 for piece in event.slots if piece is not None)
    rework = " for rework" if event.rework else ""
    return f"load {event.load}: {plural(count, 'piece')} on {carrier} for op {event.op}{rework}"


@says(RunBegun)
def _begun(batch: Batch, event: RunBegun) -> str:
    setup = ", new set-up" if event.new_setup else ""
    exception = f", by exception: {event.exception}" if event.exception else ""
    rework = ", rework" if event.rework else ""
    unmet = f", although {event.unmet}" if event.unmet else ""
    joined = [str(run.load) for run in batch.runs.values()
              if event.cycle and run.cycle == event.cycle and run.number < event.run and not run.put_back]  # fmt: skip
    joint = f", for one cycle with load {' and '.join(joined)}" if joined else ""
    return f"load {event.load}: op {event.op} begun at {event.station}{setup}{joint}{rework}{exception}{unmet}"


@says(RunPutBack)
def _put_back(batch: Batch, event: RunPutBack) -> str:
    falls = f"; {plural(event.falls, 'line')} of its walk to be done again" if event.falls else ""
    return f"put back, nothing done to the pieces{falls}"


@says(CycleStopped)
def _stopped(batch: Batch, event: CycleStopped) -> str:
    ago = f", {span(event.ago)} before this was entered" if event.ago else ""
    more = [f"tool {event.tool}"] if event.tool else []
    more += [event.note] if event.note else []
    said = f"cycle stopped{_along(batch, event)}: {event.why}{ago}"
    return said + (f" ({', '.join(more)})" if more else "")


@says(Disturbed)
def _disturbed(batch: Batch, event: Disturbed) -> str:
    what = DISTURBANCES[event.what]
    more = [f"load {event.load}"] if event.load else []
    more += [f"tool {event.tool}"] if event.tool else []
    more += [event.offset] if event.offset else []
    more += [event.note] if event.note else []
    return f"{event.station}: {what}" + (f" ({', '.join(more)})" if more else "")


@says(ToolWorn)
def _worn(batch: Batch, event: ToolWorn) -> str:
    tools = [f"tool {number} {_used(batch, number, used)}" for number, used in event.tools]
    return f"{event.station}: {', '.join(tools)}, after a cycle of {event.other}"


def _used(batch: Batch, number: int, used: float) -> str:
    card = batch.checklist.tool(number)
    whole = card.life.base if card is not None and card.life is not None else 0.0
    return f"{100 * used / whole:.0f} % used up" if whole else "used further"


def _named(batch: Batch, station: str) -> str:
    return next((one.name for one in batch.checklist.stations if one.id == station), station)


@says(OutOfService)
def _out_of_service(batch: Batch, event: OutOfService) -> str:
    back = f", expected back {wall_time(parse_wall(event.back, batch.opened))}" if event.back else ""
    return f"{_named(batch, event.station)} is out of service: {event.why}{back}"


@says(Waived)
def _waived(batch: Batch, event: Waived) -> str:
    second = f", {event.second} signed too" if event.second else ""
    return f"{event.title} waived: {event.reason}{second}"


@says(SetAside)
def _aside(batch: Batch, event: SetAside) -> str:
    where = f"load {event.load}" if event.load else f"waiting for op {event.op}"
    if event.of_run:
        where = f"of run {event.of_run}"
    pieces = event.where or plural(len(event.pieces), "piece")
    return f"{where}: {pieces} set aside as {event.to}: {event.reason}"


@says(SurplusTakenOut)
def _taken_out(batch: Batch, event: SurplusTakenOut) -> str:
    where = f" waiting for op {event.op}" if event.op else ""
    where = f" of load {event.load}" if event.load else where
    how = "kept as spares" if event.to == "spare" else "stopped"
    return f"order filled: {plural(len(event.pieces), 'piece')}{where} {how}: {event.reason}"


@says(SurplusGoesOn)
def _goes_on(batch: Batch, event: SurplusGoesOn) -> str:
    until = "" if event.until == batch.checklist.operations[-1].op else f" up to op {event.until}"
    return f"order filled: pieces in work go on{until}: {event.reason}"


@says(StruckOut)
def _struck(batch: Batch, event: StruckOut) -> str:
    let_through = after_strike(batch, event)
    return f"entry {event.seq} struck out: {event.reason}" + (f"; {let_through}" if let_through else "")


@says(Noted)
def _noted(batch: Batch, event: Noted) -> str:
    mark = "for the next shift: " if event.next_shift else "abnormal: " if event.abnormal else "note: "
    return f"{mark}{event.text}"


@says(BatchOpened)
def _batch_opened(batch: Batch, event: BatchOpened) -> str:
    return f"batch {event.id} opened: {event.order} of {batch.checklist.part.number}"


@says(PiecesStarted)
def _pieces_started(batch: Batch, event: PiecesStarted) -> str:
    return f"{plural(event.count, 'piece')} started"


@says(CautionsRead)
def _cautions_read(batch: Batch, event: CautionsRead) -> str:
    return f"cautions read: {', '.join(event.cautions)}"


@says(StepDone)
def _step_done(batch: Batch, event: StepDone) -> str:
    return (
        f"{_line(batch, event)}" + (f" ({event.note})" if event.note else "") + _along(batch, event)
    )


@says(StepSkipped)
def _step_skipped(batch: Batch, event: StepSkipped) -> str:
    return f"{_line(batch, event)} skipped: {event.reason}{_along(batch, event)}"


@says(CycleStarted)
def _cycle_started(batch: Batch, event: CycleStarted) -> str:
    return ("cycle "
    + ("resumed" if event.resumed else "started over" if event.anew else "started")
    + _along(batch, event))


@says(CycleEnded)
def _cycle_ended(batch: Batch, event: CycleEnded) -> str:
    return f"cycle ended{_along(batch, event)}"


@says(Released)
def _released(batch: Batch, event: Released) -> str:
    return "released"


@says(Paused)
def _paused(batch: Batch, event: Paused) -> str:
    return f"paused: {event.reason}"


@says(SetupTakenDown)
def _setup_taken_down(batch: Batch, event: SetupTakenDown) -> str:
    return f"{event.station}: set-up taken down for {event.other}"


@says(BackInService)
def _back_in_service(batch: Batch, event: BackInService) -> str:
    return (
        f"{_named(batch, event.station)} is back in service" + (f": {event.note}" if event.note else "")
    )


@says(WaiverClosed)
def _waiver_closed(batch: Batch, event: WaiverClosed) -> str:
    return f"waiver {event.waiver} closed: {event.reason}"


@says(Disposed)
def _disposed(batch: Batch, event: Disposed) -> str:
    return (
        f"{plural(len(event.pieces), 'held piece')}: {event.decision}"
        + (", the rework waived" if event.waives_rework else "")
        + f", {event.reason}"
        + (f" ({event.where})" if event.where else "")
    )


@says(LotOpened)
def _lot_opened(batch: Batch, event: LotOpened) -> str:
    return (
        f"new: {event.what} {event.lot}"
        + (f", {event.use_by}" if event.use_by else "")
        + (f", goes into load {', '.join(map(str, event.into))}" if event.into else "")
    )


@says(OutDecided)
def _out_decided(batch: Batch, event: OutDecided) -> str:
    return (
        f"{event.where} was out of limits: {event.to}, {event.reason}"
        + (f" ({event.note})" if event.note else "")
    )


@says(BeforeDecided)
def _before_decided(batch: Batch, event: BeforeDecided) -> str:
    return (
        f"{event.hold} of {event.of} made since the last good check put on hold"
        + (f", the others not: {event.reason}" if event.reason else "")
    )


@says(MeasuredAgain)
def _measured_again(batch: Batch, event: MeasuredAgain) -> str:
    return (
        f"the same piece measured again: {event.value}, {event.reason}"
        + ("" if event.good else " ✕ out of limits again")
    )


@says(OutSettled)
def _out_settled(batch: Batch, event: OutSettled) -> str:
    return f"reading of entry {event.out} decided: {event.how}, {event.reason}"


@says(SurplusBroughtBack)
def _surplus_brought_back(batch: Batch, event: SurplusBroughtBack) -> str:
    return (
        f"{plural(len(event.pieces), 'piece')} back in work at op {event.op}: {event.reason}"
    )


@says(TakenOff)
def _taken_off(batch: Batch, event: TakenOff) -> str:
    return f"taken off the carrier: {event.where}"


@says(UnprovedSettled)
def _unproved_settled(batch: Batch, event: UnprovedSettled) -> str:
    return f"left unproved by entry {event.strike}, decided: {event.how}, {event.reason}"


@says(ClockConfirmed)
def _clock_confirmed(batch: Batch, event: ClockConfirmed) -> str:
    return f"the clock is right: {event.reason}"


@says(HandoverOffered)
def _handover_offered(batch: Batch, event: HandoverOffered) -> str:
    return (
        ("left alone" if event.unattended else "handover offered") + (f": {event.remarks}" if event.remarks else "")
    )


@says(HandoverWithdrawn)
def _handover_withdrawn(batch: Batch, event: HandoverWithdrawn) -> str:
    return "handover withdrawn"


@says(CarrierCounted)
def _carrier_counted(batch: Batch, event: CarrierCounted) -> str:
    return (
        f"{event.subject}: counted {event.found}"
        + (", to be counted again" if event.subject in blind(batch) else f", recorded {event.expected}")
    )


@says(PageRead)
def _page_read(batch: Batch, event: PageRead) -> str:
    return "handover page read"


@says(ReadBack)
def _read_back(batch: Batch, event: ReadBack) -> str:
    return f"read back: {event.text}"


@says(QuestionAsked)
def _question_asked(batch: Batch, event: QuestionAsked) -> str:
    return f"asked: {event.text}"


@says(QuestionAnswered)
def _question_answered(batch: Batch, event: QuestionAnswered) -> str:
    return f"answered: {event.text}"


@says(HandoverAccepted)
def _handover_accepted(batch: Batch, event: HandoverAccepted) -> str:
    return f"taken over from {event.giver}"


@says(DifferenceResolved)
def _difference_resolved(batch: Batch, event: DifferenceResolved) -> str:
    return f"difference {event.difference} resolved: {event.how}"


@says(BatchClosed)
def _batch_closed(batch: Batch, event: BatchClosed) -> str:
    return (
        f"closed with {event.finished} finished"
        + (f", {plural(event.spare, 'spare')}" if event.spare else "")
        + (f", {event.stopped} stopped" if event.stopped else "")
        + (f": {event.reason}" if event.reason else "")
    )


@says(GoneOver)
def _gone_over(batch: Batch, event: GoneOver) -> str:
    return f"gone over to {event.to}"


@says(TakenIn)
def _taken_in(batch: Batch, event: TakenIn) -> str:
    return f"taken in here: {event.reason}" if event.reason else "taken in here"
