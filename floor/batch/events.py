"""Everything that can happen: a frozen class for each kind of entry, of batches and of the shop.

Only these classes know a kind's name and data in the record and what it means elsewhere: whether it can be struck out,
is reported at a handover, or proves anything.
"""

from floor.batch.corrections.events import Noted, NoteDone, StruckOut, UnprovedSettled
from floor.batch.counting.events import (
    ENDS,
    Concession,
    Counted,
    Decision,
    Disposed,
    FollowedUp,
    Mark,
    ReadAgain,
    SetAside,
    SurplusBroughtBack,
    SurplusGoesOn,
    SurplusTakenOut,
    TakenOff,
)
from floor.batch.event_base import (
    KINDS,
    Event,
    Group,
    NewerEvent,
    iter_events,
    make_drafts,
    read_event,
    read_if_kind,
    read_run_numbers,
)
from floor.batch.gates.events import (
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
    ProgramFinding,
    ProgramOffset,
    ProgramRead,
    Proved,
    SampleTaken,
    SuspectGaugeSettled,
    Waived,
    WaiverClosed,
)
from floor.batch.handover.events import (
    CarrierCounted,
    DifferenceResolved,
    HandoverAccepted,
    HandoverOffered,
    HandoverWithdrawn,
    PageRead,
    QuestionAnswered,
    QuestionAsked,
    ReadBack,
    ShopAnswer,
    SignedCount,
    SignedLine,
    SignedMiscount,
    SignedSection,
)
from floor.batch.lifecycle.events import (
    BatchClosed,
    BatchOpened,
    ChecklistWeakened,
    EnteredLate,
    GoneOver,
    LateProof,
    LateRow,
    LateSetup,
    LoadFormed,
    PiecesStarted,
    TakenIn,
    WeakenedPoint,
)
from floor.batch.moving.events import PiecesMoved
from floor.batch.stations.events import (
    BackInService,
    Condition,
    ConditionCleared,
    ConditionReported,
    Disturbed,
    OutOfService,
    SetupTakenDown,
    ToolWorn,
)
from floor.batch.trials.events import (
    TrialFactor,
    TrialFile,
    TrialPiecesBack,
    TrialPiecesTaken,
    TrialPlanned,
    TrialResult,
    TrialSettingChosen,
)
from floor.batch.walk.events import (
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
    StepsChecked,
    StepSkipped,
)

__all__ = [
    "ENDS", "KINDS", "AirRead", "AttemptRefused", "BackInService", "BatchClosed", "BatchOpened", "BeforeDecided",
    "CarrierCounted", "CautionsRead", "ChecklistWeakened", "ClockConfirmed", "Concession", "Condition",
    "ConditionCleared", "ConditionReported", "Counted", "CycleEnded", "CycleStarted", "CycleStopped", "Decision",
    "DifferenceResolved", "Disposed", "Disturbed", "EnteredLate", "Event", "FollowedUp", "GaugeSuspected",
    "GoneOver", "Group", "HandoverAccepted", "HandoverOffered", "HandoverWithdrawn", "LateProof", "LateRow",
    "LateSetup", "LoadFormed", "LotCorrected", "LotOpened", "Mark", "MeasuredAgain", "NewerEvent", "NoteDone",
    "Noted", "OfRun", "OutDecided", "OutOfService", "OutSettled", "PageRead", "Paused", "PiecesStarted",
    "ProgramFinding", "ProgramOffset", "ProgramRead", "Proved", "QuestionAnswered", "QuestionAsked", "ReadAgain",
    "ReadBack", "Released", "RunBegun", "RunPutBack", "SampleTaken", "SetAside", "SetupTakenDown", "ShopAnswer",
    "SignedCount", "SignedLine", "SignedMiscount", "SignedSection", "StepDone", "StepSkipped", "StepsChecked",
    "StruckOut", "SurplusBroughtBack", "SurplusGoesOn", "SurplusTakenOut", "SuspectGaugeSettled", "TakenIn",
    "TakenOff", "ToolWorn", "TrialFactor", "TrialFile", "TrialPiecesBack", "TrialPiecesTaken", "TrialPlanned",
    "TrialResult", "TrialSettingChosen", "UnprovedSettled", "Waived", "WaiverClosed", "WeakenedPoint",
    "make_drafts", "iter_events", "read_if_kind", "read_event", "read_run_numbers", "PiecesMoved",
]  # fmt: skip
