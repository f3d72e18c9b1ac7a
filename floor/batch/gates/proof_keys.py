"""Which proof a gate looks for: of a load, a run, a set-up, a shift, a tool, a lot."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from floor.batch.proof import (
    LotKey,
    OffsetKey,
    ProofKey,
    RunKey,
    SetupKey,
    ShiftKey,
    StationShiftKey,
    ToolKey,
)
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist import gates as spec
from floor.checklist.operation import Do


def _by_offset(batch: Batch, run: Run, line: str, gate: spec.Probed) -> OffsetKey:
    return OffsetKey("probed", run.load, run.station, gate.offset)


def _by_run(batch: Batch, run: Run, line: str, gate: spec.Gate) -> RunKey:
    return RunKey(gate.gate, "run", run.number, line)


def _by_setup(batch: Batch, run: Run, line: str, gate: spec.Gate) -> SetupKey:
    return SetupKey(gate.gate, "setup", run.setup, line)


def _by_lot(batch: Batch, run: Run, line: str, gate: spec.LotRecorded) -> ProofKey:
    if gate.per == "batch":
        return LotKey("lot recorded", gate.what)
    return _by_setup(batch, run, line, gate) if gate.per == "setup" else _by_run(batch, run, line, gate)


def _by_scope(batch: Batch, run: Run, line: str, gate: spec.Measured | spec.Signed | spec.Confirmed) -> ProofKey:
    if gate.per == "shift":
        key = ShiftKey(gate.gate, "shift", batch.shift, run.op, line)
        operation = batch.operation(run.op)
        return StationShiftKey(*key, run.station) if operation.also_at or run.station != operation.station else key
    return _by_setup(batch, run, line, gate) if gate.per == "setup" else _by_run(batch, run, line, gate)


_KEYS: dict[str, Callable[[Batch, Run, str, Any], ProofKey]] = {
    "probed": _by_offset,
    "cured": _by_run,
    "tool loaded": lambda batch, run, line, gate: ToolKey("tool loaded", run.station, gate.tool),
    "program loaded": _by_setup,
    "work held": _by_run,
    "measured": _by_scope,
    "counted": _by_run,
    "first piece accepted": _by_setup,
    "signed": _by_scope,
    "lot recorded": _by_lot,
    "confirmed": _by_scope,
    "soaked": _by_run,
    "air measured": _by_run,
}
"""Kind of gate → the key of its proof."""


def find_proof_key(batch: Batch, run: Run, line: str, gate: spec.Gate) -> ProofKey:
    """The key of the proof that a gate looks for."""
    return _KEYS[gate.gate](batch, run, line, gate)


def find_lines_proved_by(batch: Batch, run: Run, key: ProofKey) -> set[str]:
    """The lines of a run that a proof with this key serves."""
    return {
        line
        for line, step in batch.find_operation(run).numbered_steps
        if not isinstance(step, Do) and find_proof_key(batch, run, line, step) == key
    }
