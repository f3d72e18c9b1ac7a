"""What can happen: a frozen class for each kind of entry, of batches and of the shop.

The only place that knows how a kind is spelt in the record, what data it has there, and what it means for the rest:
whether it can be struck out, is told at a handover, or proves anything.
"""

from floor.batch.events.base import KINDS, Event, Group, UnknownKind, draft, each_of, of_kind, read, runs_in
from floor.batch.events.corrections import Noted, StruckOut, UnprovedSettled
from floor.batch.events.counting import (
    Counted,
    Disposed,
    Mark,
    SetAside,
    SurplusBroughtBack,
    SurplusGoesOn,
    SurplusTakenOut,
    TakenOff,
)
from floor.batch.events.handover import (
    CarrierCounted,
    DifferenceResolved,
    HandoverAccepted,
    HandoverOffered,
    HandoverWithdrawn,
    PageRead,
    QuestionAnswered,
    QuestionAsked,
    ReadBack,
)
from floor.batch.events.opening import (
    BatchClosed,
    BatchOpened,
    EnteredLate,
    GoneOver,
    LateProof,
    LateRow,
    LateSetup,
    LoadFormed,
    PiecesStarted,
    TakenIn,
)
from floor.batch.events.proving import (
    BeforeDecided,
    ClockConfirmed,
    LotOpened,
    MeasuredAgain,
    OutDecided,
    OutSettled,
    Proved,
    Waived,
    WaiverClosed,
)
from floor.batch.events.running import (
    CautionsRead,
    CycleEnded,
    CycleStarted,
    CycleStopped,
    OfRun,
    Paused,
    Released,
    RunBegun,
    RunPutBack,
    StepDone,
    StepSkipped,
)
from floor.batch.events.shop import (
    BatchGivenUp,
    PersonAdded,
    PersonChanged,
    PinRefused,
    PinSet,
    RecordRecovered,
    RecordRestored,
    SignedIn,
    ToolChanged,
    ToolsLeft,
)
from floor.batch.events.stations import BackInService, Disturbed, OutOfService, SetupTakenDown, ToolWorn

__all__ = [
    "KINDS",
    "BackInService", "BatchClosed", "BatchGivenUp", "BatchOpened", "BeforeDecided", "CarrierCounted", "CautionsRead",
    "ClockConfirmed", "Counted", "CycleEnded", "CycleStarted", "CycleStopped", "DifferenceResolved", "Disposed",
    "Disturbed", "EnteredLate", "Event", "GoneOver", "Group", "HandoverAccepted", "HandoverOffered",
    "HandoverWithdrawn", "LateProof", "LateRow", "LateSetup", "LoadFormed", "LotOpened", "Mark", "MeasuredAgain",
    "Noted", "OfRun", "OutDecided", "OutOfService", "OutSettled", "PageRead", "Paused", "PersonAdded", "PersonChanged",
    "PiecesStarted", "PinRefused", "PinSet", "Proved", "QuestionAnswered", "QuestionAsked", "ReadBack",
    "RecordRecovered", "RecordRestored", "Released", "RunBegun", "RunPutBack", "SetAside", "SetupTakenDown", "SignedIn",
    "StepDone", "StepSkipped", "StruckOut", "SurplusBroughtBack", "SurplusGoesOn", "SurplusTakenOut", "TakenIn",
    "TakenOff", "ToolChanged", "ToolWorn", "ToolsLeft", "UnknownKind", "UnprovedSettled", "Waived", "WaiverClosed",
    "draft", "each_of", "of_kind", "read", "runs_in",
]  # fmt: skip
