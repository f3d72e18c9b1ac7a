"""A sampling plan at a gate: what it lets through, drawn, and what it said of each load."""

from __future__ import annotations

from collections.abc import Iterator

from floor.batch.gates.samples import find_next_severity
from floor.batch.run import Run, SampleResult
from floor.batch.state import Batch
from floor.checklist.gates import ByPlan, Measured
from floor.dataclass import dataclass
from floor.figures.quality.sampling_plans import (
    InspectionLevel,
    InspectionState,
    SamplingPlan,
    Severity,
    compute_lot_acceptance_chance,
    find_sampling_plan,
)
from floor.text import format_count, wrap_text
from floor.text_charts import draw_bars

SHARES = (0.0, 0.02, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5)
"""Shares of bad pieces whose chance is drawn, as far as a load of that size can have them."""
LAST_LOADS = 8


@dataclass(frozen=True, slots=True)
class PlanInUse:
    """A gate that is sampled by a plan."""

    op: int
    line: str
    gate: Measured
    sample: ByPlan
    capacity: int
    """Of the carrier: the usual size of a load."""


def list_plans(batch: Batch) -> list[PlanInUse]:
    """The gates of the route that are sampled by a plan."""
    return [
        PlanInUse(operation.op, line, step, step.sample, batch.checklist.carrier(operation.carrier).capacity)
        for operation in batch.checklist.operations
        for line, step in operation.numbered_steps
        if isinstance(step, Measured) and isinstance(step.sample, ByPlan)
    ]


def list_plan_lines(batch: Batch, plan: PlanInUse, width: int) -> list[str]:
    """What a plan does with a full load, how likely it accepts one with so many bad, and the loads it has judged."""
    head = f"Op {plan.op}, {plan.gate.title()}: {plan.sample} (MIL-STD-105E, single, each load a lot)"
    lines = wrap_text(head, "", "  ", width)
    state = find_next_severity(batch, plan.op, plan.line, plan.sample)
    in_force = _find(plan, state.severity)
    lines += wrap_text(_say_plan(plan.capacity, in_force, state), "", "  ", width)
    if not in_force.every_piece and not state.discontinued:
        bars = [
            (f"{bad} of {plan.capacity} bad", chance, f"{chance:.0%}")
            for bad, chance in _iter_chances(plan.capacity, in_force)
        ]
        lines += ["", "Chance of accepting a load, by bad pieces in it", *draw_bars(bars, width)]
    runs = [run for run in batch.runs.values() if run.op == plan.op and plan.line in run.samples]
    lines += ["", f"Loads judged: {len(runs)}", *(_say_load(run, run.samples[plan.line]) for run in runs[-LAST_LOADS:])]
    return lines


def _find(plan: PlanInUse, severity: Severity) -> SamplingPlan:
    return find_sampling_plan(plan.capacity, plan.sample.aql, InspectionLevel(plan.sample.level), severity)


def _say_plan(lot: int, plan: SamplingPlan, state: InspectionState) -> str:
    """How the next load is inspected."""
    if state.discontinued:
        return "Ten loads in a row under tightened inspection: every piece is measured until the cause is removed"
    if plan.every_piece:
        return f"A full load of {lot} is measured to its last piece, as the plan asks for no fewer"
    rest = f"accept on {plan.accept} out, reject on {plan.reject}: then every piece of it is measured"
    return (
        f"{state.severity.capitalize()} inspection: of a full load of {lot}, {format_count(plan.size, 'piece')}; {rest}"
    )


def _iter_chances(lot: int, plan: SamplingPlan) -> Iterator[tuple[int, float]]:
    """(bad pieces, chance of acceptance), exact, as the sample is taken from just these pieces."""
    for bad in sorted({round(share * lot) for share in SHARES} | {1, 2}):
        if bad <= lot:
            yield bad, compute_lot_acceptance_chance(plan, lot, bad)


def _say_load(run: Run, taken: SampleResult) -> str:
    verdict = "rejected" if taken.is_rejected else "accepted"
    return f"  load {run.load}: {taken.severity}, {taken.size} of {taken.lot} measured, {taken.out} out, {verdict}"
