"""What a checklist can require to be proved: one small model for each kind of gate.

A gate is a step proved from the record instead of ticked. The model, in the module of its subject, defines what the
file may state and which values the operator enters (`asks`); `floor.batch.gates` judges it. They are all named here.
"""

from typing import get_args

from floor.checklist.check_gates import (
    ByPlan,
    Characteristic,
    Confirmed,
    Counted,
    EveryNth,
    FirstPiece,
    LotRecorded,
    Measured,
    Signed,
    list_asked_values,
)
from floor.checklist.process_gates import AirMeasured, Cured, Soaked
from floor.checklist.setup_gates import Axis, CarrierProbed, Probed, ProgramLoaded, ToolLoaded, WorkHeld

__all__ = [
    "AirMeasured", "Axis", "ByPlan", "CarrierProbed", "Characteristic", "Confirmed", "Counted", "Cured", "EveryNth",
    "FirstPiece",
    "GATE_KINDS",
    "Gate", "LotRecorded", "Measured", "Probed", "ProgramLoaded", "Signed", "Soaked", "ToolLoaded", "WorkHeld",
    "list_asked_values",
]  # fmt: skip

Gate = (
    Probed
    | Cured
    | ToolLoaded
    | ProgramLoaded
    | WorkHeld
    | Measured
    | Counted
    | FirstPiece
    | Signed
    | LotRecorded
    | Confirmed
    | Soaked
    | AirMeasured
)

GATE_KINDS: dict[str, type[Gate]] = {get_args(kind.__annotations__["gate"])[0]: kind for kind in get_args(Gate)}
"""The gates by the value of ``gate``."""
