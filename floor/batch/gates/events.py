"""Gates proved or waived, readings out of limits and the decisions on them, lots, the clock confirmed."""

from dataclasses import field
from typing import Any, Literal

from floor.batch.counting.events import Mark
from floor.batch.event_base import Event, register_event, register_part
from floor.batch.proof import ProofKey
from floor.batch.walk.events import OfRun


@register_part
class SampleTaken:
    """The first sample of a load by a sampling plan, as it was planned then."""

    lot: int
    """Pieces in the load."""
    size: int
    accept: int
    """Most bad ones with which the load is accepted."""
    reject: int
    """Fewest with which it is not."""
    severity: str
    """normal, tightened or reduced."""


@register_event("proved", "gates")
class Proved(OfRun):
    line: str
    gate: str
    key: ProofKey
    """Its key; see `floor.batch.proof`."""
    values: dict[str, Any]
    """What the gate's form asks for → what was entered."""
    worn: float = 0.0
    """The tool's wear from other batches, in the unit of its card."""
    out: int = 0
    """How many readings were out of limits."""
    before: int = 0
    """How many pieces made before them nobody has measured."""
    pieces: tuple[int, ...] = ()
    """The pieces that the values are of, one for each; empty where nobody can tell, and in older records."""
    sampled: SampleTaken | None = None
    """If they are the sample of a load by a sampling plan."""
    again: str = ""
    """Why a first piece was accepted again at the same set-up: what voided the one before."""
    last: dict[str, float] = field(default_factory=dict)
    """What was probed last of this carrier for another batch of the part, where the file says how it repeats."""


Fault = Literal["past its date", "zero in use", "does not add up", "withdrawn", "not in the register", "another gauge"]
"""Why an attempt was refused whose values are evidence."""


@register_event("attempt_refused", "gates", locked=True, proves=False)
class AttemptRefused(Event):
    """A proof or a count that was entered and not taken; it stays on record (REC-38)."""

    what: Fault
    values: dict[str, Any]
    subject: str = ""
    """What the lot or serial number is of."""
    run: int = 0
    op: int = 0
    line: str = ""


@register_part
class ProgramFinding:
    """What was found in a program: the fields of `floor.evidence.nc.finding_kinds.Finding`."""

    kind: str
    line: int
    subject: str = ""
    values: tuple[float | int | str, ...] = ()
    count: int = 1


@register_part
class ProgramOffset:
    """A work offset that a program moves in, with its first line."""

    offset: str
    """``G54``, ``G54.1 P7`` or "unknown"."""
    line: int


@register_event("program_read", "gates")
class ProgramRead(OfRun):
    """The program's file was read and compared with the operation; its work offsets are judged for each run."""

    line: str
    file: str
    sha256: str
    """Empty if it could not be read."""
    lines: int
    seconds: float
    """Cycle time by its moves, as far as they can be timed."""
    findings: tuple[ProgramFinding, ...] = ()
    untimed: bool = False
    """Whether some moves could not be timed, so that it takes longer."""
    offsets: tuple[ProgramOffset, ...] = ()
    left_out: int = 0
    """How many more faults there were."""


@register_event("air_read", "gates")
class AirRead(Event):
    """The air of the room was measured, besides the checks that ask for it."""

    temperature: float
    """°C."""
    humidity: float
    """Relative, percent."""


@register_event("lot_opened", "gates")
class LotOpened(Event):
    what: str
    lot: str
    into: tuple[int, ...]
    """Loads under way that it goes into."""
    use_by: str = ""


@register_event("lot_corrected", "gates", abnormal=True, proves=False)
class LotCorrected(Event):
    """A lot was recorded wrong; it is folded as if the right one had been recorded there."""

    of: int
    """The entry that recorded it."""
    what: str
    was: str
    """The lot on record until now."""
    lot: str
    reason: str
    use_by: str = ""
    run: int = 0
    """The run in which it was recorded, if it was in one."""


@register_event("measured_again", "gates", abnormal=True)
class MeasuredAgain(OfRun):
    out: int
    """The entry that read it out of limits."""
    line: str
    value: Any
    reason: str
    good: bool = False
    shown: str = ""
    """The value as the gauge showed it; empty where the number says it itself."""
    name: str = ""
    """Its field of the form; empty in older records: the first that was out."""
    nth: int = 0
    """Of which piece, counted from 0 in the order entered."""
    was: str = ""
    """What was read or typed first."""
    corrects: bool = False
    """Whether that was typed wrong."""


@register_event("out_decided", "counts", abnormal=True)
class OutDecided(OfRun):
    out: int
    to: str
    pieces: tuple[int, ...]
    reason: str
    where: str = ""
    note: str = ""
    mark: Mark | None = None
    """The mark that the run's count will give them."""


@register_event("before_decided", "counts", abnormal=True)
class BeforeDecided(OfRun):
    out: int
    hold: int
    of: int
    """How many were made since the last good check."""
    reason: str = ""
    mark: Mark | None = None


@register_event("out_settled", "gates", abnormal=True)
class OutSettled(OfRun):
    out: int
    how: str
    reason: str


@register_event("waived", "gates", abnormal=True)
class Waived(OfRun):
    line: str
    title: str
    reason: str
    unmet: str = ""
    second: str = ""


@register_event("waiver_closed", "gates", proves=False)
class WaiverClosed(Event):
    waiver: int
    reason: str


@register_event("gauge_suspected", "gates", locked=True, abnormal=True, proves=False)
class GaugeSuspected(Event):
    """The shop withdrew a gauge whose readings are suspect."""

    serial: str
    gauge: str
    reason: str
    checks: tuple[int, ...] = ()
    """The entries that used it since its last good check."""


@register_event("suspect_gauge_settled", "gates", locked=True, abnormal=True, proves=False)
class SuspectGaugeSettled(Event):
    report: int
    """The entry that reported it."""
    reason: str


@register_event("clock_confirmed", "gates")
class ClockConfirmed(Event):
    reason: str
