"""How many pieces of a load to measure: so many, or what follows from the loads before it.

By a sampling plan each load at the operation is a lot, judged by its first sample; the loads of the batch are the
series that tightens and loosens the plan, which goes on from those of earlier batches as they stood at the opening. A
load that is not accepted is sorted: every piece of it is measured.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from floor.batch.earlier import EarlierLots
from floor.batch.events import SampleTaken
from floor.batch.gates.second_readings import find_outside_by_piece
from floor.batch.run import Run, SampleResult
from floor.batch.state import Batch
from floor.checklist.gates import ByPlan, EveryNth, Gate, Measured
from floor.checklist.model import Checklist
from floor.text import format_count

if TYPE_CHECKING:
    from floor.figures.quality.sampling_plans import InspectionState, LotResult, SamplingPlan, Severity

REDUCING_LOADS = 10
"""Loads in a row without a bad piece before less is measured (MIL-STD-105E 4.7)."""
REDUCING_PIECES = 200.0
"""Pieces in their samples, times the AQL in percent: at a share bad of the AQL two bad ones would be expected among
them, and none found at most once in seven. Stricter than the limit numbers of Table VIII, as far as remembered."""


def count_samples(gate: Gate, pieces: int) -> int:
    """How many values of one kind a form asks for, given the number of pieces and nothing of the loads before."""
    if not isinstance(gate, Measured) or gate.accept:
        return 1
    sample = gate.sample
    if isinstance(sample, ByPlan):
        from floor.figures.quality.sampling_plans import InspectionLevel, find_sampling_plan

        return find_sampling_plan(max(1, pieces), sample.aql, InspectionLevel(sample.level)).size
    if isinstance(sample, EveryNth):
        return max(1, pieces // sample.every)
    wanted = pieces if sample == "all" else 2 if sample == "first and last" else sample
    return max(1, min(pieces, wanted))


def find_sample_size(batch: Batch, run: Run, line: str, gate: Gate, pieces: int | None = None) -> int:
    """How many pieces of a run to measure at a gate; 0 where none of them is due.

    Args:
        pieces: how many there are to choose from; left out, those not decided on.
    """
    pieces = len(run.undecided) if pieces is None else pieces
    if isinstance(gate, Measured) and isinstance(gate.sample, EveryNth):
        before, every = count_pieces_before(batch, run), gate.sample.every
        return min(pieces, (before + len(run.pieces)) // every - before // every)
    if isinstance(gate, Measured) and isinstance(gate.sample, ByPlan):
        taken = run.samples.get(line)
        rejected = taken is not None and taken.is_rejected
        return pieces if rejected else min(pieces, plan_sample(batch, run, line, gate.sample).size)
    return count_samples(gate, pieces)


def count_pieces_before(batch: Batch, run: Run) -> int:
    """Pieces of the runs of the same operation that were begun before this one."""
    return sum(len(one.pieces) for one in _list_runs_before(batch, run))


def count_loads_before(batch: Batch, run: Run) -> int:
    return sum(bool(one.pieces) for one in _list_runs_before(batch, run))


def _list_runs_before(batch: Batch, run: Run) -> list[Run]:
    return [one for one in batch.runs.values() if one.op == run.op and one.number < run.number]


def plan_sample(batch: Batch, run: Run, line: str, sample: ByPlan) -> SampleTaken:
    """The sample of a run by its plan, and how many of it may be bad."""
    state, lot = find_severity(batch, run, line, sample), len(run.pieces)
    plan = _find_plan(max(1, lot), sample, state)
    size = lot if state.discontinued else plan.size
    return SampleTaken(lot=lot, size=size, accept=plan.accept, reject=plan.reject, severity=state.severity.value)


def _find_plan(lot: int, sample: ByPlan, state: InspectionState) -> SamplingPlan:
    from floor.figures.quality.sampling_plans import InspectionLevel, find_sampling_plan

    return find_sampling_plan(lot, sample.aql, InspectionLevel(sample.level), state.severity)


def find_severity(batch: Batch, run: Run, line: str, sample: ByPlan) -> InspectionState:
    """How severely a run is inspected, by the first samples of the loads before it."""
    return _find_state(batch, _list_runs_before(batch, run), run.op, line, sample)


def find_next_severity(batch: Batch, op: int, line: str, sample: ByPlan) -> InspectionState:
    """How severely the next load of an operation is inspected, after all that were judged."""
    return _find_state(batch, [run for run in batch.runs.values() if run.op == op], op, line, sample)


def _find_state(batch: Batch, runs: Sequence[Run], op: int, line: str, sample: ByPlan) -> InspectionState:
    """After the lots of these runs, which go on from those of earlier batches."""
    from floor.figures.quality.sampling_plans import Severity

    before, own = batch.lots_before.get((op, line)), list_first_samples(runs, line)
    if before is None:
        return follow_lots(own, sample, Severity.NORMAL)[0]
    return follow_lots([*read_earlier_lots(before), *own], sample, Severity(before.severity))[0]


def read_earlier_lots(before: EarlierLots) -> list[SampleResult]:
    """The lots of earlier batches as they were judged there; the entry that read them is not of this batch."""
    return [SampleResult(0, one.lot, one.size, one.accept, one.reject, one.severity, one.out) for one in before.lots]


def list_first_samples(runs: Sequence[Run], line: str) -> list[SampleResult]:
    """What each load at this line was judged by, the oldest first."""
    return [one.samples[line] for one in runs if line in one.samples and not one.rework]


def follow_lots(
    lots: Sequence[SampleResult], sample: ByPlan, start: Severity
) -> tuple[InspectionState, Sequence[SampleResult]]:
    """The state after these lots, and those of them since the last switch."""
    from floor.figures.quality.sampling_plans import follow_switching

    state, since = follow_switching(_judge_lots(lots, sample), start)
    return state, lots[len(lots) - len(since) :]


def iter_sampled_gates(checklist: Checklist) -> Iterator[tuple[int, str, Measured, ByPlan]]:
    """(operation, line, gate, its plan) of those sampled by a plan."""
    for operation in checklist.operations:
        for line, step in operation.numbered_steps:
            if isinstance(step, Measured) and isinstance(step.sample, ByPlan):
                yield operation.op, line, step, step.sample


def describe_lots_before(checklist: Checklist, before: EarlierLots) -> str:
    """``op 10 Measure groove depth: tightened inspection, as B0003, B0002 left it``."""
    step = dict(checklist.ops[before.op].numbered_steps).get(before.line) if before.op in checklist.ops else None
    what = f" {step.title()}" if isinstance(step, Measured) else ""
    names = ", ".join(before.batches)
    if before.discontinued:
        how = f"tightened inspection, as sampling was discontinued in {names}: make sure the cause is gone"
    else:
        how = f"{before.severity} inspection, as {names} left it"
        how += f", {format_count(len(before.lots), 'load')} since the last switch" if before.lots else ""
    return f"op {before.op}{what}: {how}"


def _judge_lots(before: Sequence[SampleResult], sample: ByPlan) -> Iterator[LotResult]:
    from floor.figures.quality.sampling_plans import LotResult

    for n, taken in enumerate(before):
        last = before[max(0, n + 1 - REDUCING_LOADS) : n + 1]
        enough = sum(one.size for one in last) * sample.aql >= REDUCING_PIECES
        yield LotResult(
            accepted=not taken.is_rejected,
            between=taken.accept < taken.out < taken.reject,
            may_reduce=sample.reduced and enough and not any(one.out for one in last),
        )


def needs_sorting(run: Run, line: str, seq: int) -> bool:
    """Whether a run was not accepted by its sample, which is still its newest reading, so that the rest is due.

    Args:
        seq: the entry that proved the gate.
    """
    taken = run.samples.get(line)
    return taken is not None and taken.is_rejected and taken.seq == seq and taken.size < taken.lot


def _say_rest(batch: Batch, run: Run, taken: SampleResult) -> str:
    """What is left to measure of a load that is sorted: good values of its sample stand."""
    one = batch.out.get(taken.seq)
    outside = find_outside_by_piece(one) if one is not None else {}
    good = [piece for piece in run.undecided if piece in outside and not outside[piece]]
    return f"measure the other {len(run.undecided) - len(good)}" if good else f"measure all {len(run.undecided)}"


def describe_sample(batch: Batch, run: Run, line: str, gate: Gate) -> str:
    """``Measure 13 of 16: accept on 0 out, reject on 1``; empty where the checklist itself says how many."""
    if isinstance(gate, Measured) and isinstance(gate.sample, EveryNth):
        return f"Measure 1 of every {gate.sample.every} pieces made here, counted on from load to load"
    if not isinstance(gate, Measured) or not isinstance(gate.sample, ByPlan):
        return ""
    taken = run.samples.get(line)
    if taken is not None and taken.is_rejected:
        return f"Load rejected on its sample: {_say_rest(batch, run, taken)}"
    plan = plan_sample(batch, run, line, gate.sample)
    severity = "" if plan.severity == "normal" else f", {plan.severity} inspection"
    many = f"Measure {plan.size} of {plan.lot}{severity}"
    return many if plan.size >= plan.lot else f"{many}: accept on {plan.accept} out, reject on {plan.reject}"
