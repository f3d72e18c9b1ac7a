"""The set-up: zero and seat, tool, program, workholding."""

from __future__ import annotations

from dataclasses import replace

from floor.batch.gates.check_values import (
    find_missing_or_outside,
    is_same_program,
    is_same_text,
)
from floor.batch.gates.judge_readings import judge_values
from floor.batch.gates.offset_history import describe_difference, describe_tilt, list_unusual_offsets
from floor.batch.gates.offset_users import list_offset_owners
from floor.batch.gates.program_findings import count_program_faults
from floor.batch.gates.tool_life import compute_tool_life, format_life_left, say_life
from floor.batch.gates.verdict import GateVerdict, find_proof, format_evidence, say_or_waive
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.shared_cycles import find_runs_in_cycle
from floor.checklist import gates as spec
from floor.entry import Moment
from floor.text import format_count


def judge_probed(batch: Batch, run: Run, line: str, gate: spec.Probed, now: Moment) -> GateVerdict:
    """The right zero, within its limits, and the carrier seated as it always was."""
    verdict = judge_values(batch, run, line, gate, now)
    entered = str(verdict.proof.values.get("offset", "")) if verdict.proof is not None else ""
    if not entered or is_same_text(entered, gate.offset):
        return _judge_seat(batch, run, gate, verdict)
    carrier = batch.format_carrier(batch.loads[run.load])
    owners = list_offset_owners(batch.checklist, run.station, entered)
    whose = f"belongs to {', '.join(owners)}" if owners else "belongs to no carrier here"
    why = f"{entered} was probed, which {whose}; {carrier} uses {gate.offset}"
    clear = f"probe {gate.offset} and enter it; the earlier probing of {entered} is void"
    return replace(verdict, why=why, clear=clear)


def _judge_seat(batch: Batch, run: Run, gate: spec.Probed, verdict: GateVerdict) -> GateVerdict:
    """Within its limits a carrier may still sit tilted, or otherwise than it always did: a chip lies under it."""
    proof = verdict.proof
    if proof is None or verdict.status != "met" or batch.rules < COMPARED_SINCE:
        return verdict
    tilted = describe_tilt(gate, proof.values)
    if tilted:
        clear = f"clean under it, reseat it and probe again{say_or_waive(gate)}"
        return GateVerdict("ask", tilted, clear, proof=proof, again=True)
    unusual = list_unusual_offsets(batch, run, gate, proof)
    if not unusual:
        off = describe_difference(batch, run, gate, proof)
        return replace(verdict, evidence=f"{verdict.evidence} · {off}", notes=off) if off else verdict
    if all(one.probed_twice for one in unusual):
        return replace(verdict, evidence=f"{verdict.evidence} · unusual, probed twice")
    why = "; ".join(one.said for one in unusual if not one.probed_twice)
    return GateVerdict("ask", why, "clean under it and probe again; if it repeats, it counts", proof=proof, again=True)


COMPARED_SINCE = 3
"""Edition of the rules since which a probed offset is compared with earlier ones."""


def judge_tool(batch: Batch, run: Run, line: str, gate: spec.ToolLoaded, now: Moment) -> GateVerdict:
    """The right tool, its length within limits, and enough of its life left."""
    proof = find_proof(batch, run, line, gate, now, f"load tool {gate.tool} and enter its number and length")
    if isinstance(proof, GateVerdict):
        return proof
    wrong = find_missing_or_outside(gate.asks(), proof.values)
    if wrong:
        return GateVerdict("ask", "; ".join(wrong), f"load tool {gate.tool}", proof=proof, again=True)
    left, need = compute_tool_life(batch, run, gate.tool)
    if left is not None and left < need:
        card = batch.checklist.tool(gate.tool)
        what = "these loads take" if len(find_runs_in_cycle(batch, run)) > 1 else "this load takes"
        short = f"tool {gate.tool} has {format_life_left(card, left)}, {what} {say_life(card, need)}"
        return GateVerdict("blocked", short, "change the tool and record the change", change=gate.tool)
    life = f" · {format_life_left(batch.checklist.tool(gate.tool), left)}" if left is not None else ""
    return GateVerdict("met", "", evidence=format_evidence(gate, proof, now) + life, proof=proof)


def judge_program(batch: Batch, run: Run, line: str, gate: spec.ProgramLoaded, now: Moment) -> GateVerdict:
    """The file without faults where the operation names one, and the right program on the control."""
    operation = batch.find_operation(run)
    wanted, check = operation.program, batch.programs.get(run.setup)
    if operation.program_file and check is None:
        return GateVerdict("ask", f"{operation.program_file} has not been read", "press Enter to read it", reads=True)
    faults = count_program_faults(batch, run)
    if check is not None and faults:
        many = format_count(faults, "fault")
        clear = f"correct the program, then press Enter to read it again{say_or_waive(gate)}"
        return GateVerdict("blocked", f"{many} in {check.file}", clear, reads=True)
    proof = find_proof(batch, run, line, gate, now, f"load {wanted} and enter what the control shows")
    if isinstance(proof, GateVerdict):
        return proof
    shown = str(proof.values.get("program", ""))
    if not is_same_program(shown, wanted):
        return GateVerdict(
            "ask", f"the control shows {shown}; the route calls for {wanted}", f"load {wanted}", proof=proof, again=True
        )
    file = f" · {check.file} {check.sha256[:8]}" if check is not None else ""
    return GateVerdict("met", "", evidence=format_evidence(gate, proof, now) + file, proof=proof)


def judge_held(batch: Batch, run: Run, line: str, gate: spec.WorkHeld, now: Moment) -> GateVerdict:
    """The work is held as the checklist says."""
    verdict = judge_values(batch, run, line, gate, now)
    self_check = verdict.proof is not None and verdict.status == "met" and verdict.proof.values.get("self")
    return replace(verdict, evidence=f"{verdict.evidence} (self-check)") if self_check else verdict
