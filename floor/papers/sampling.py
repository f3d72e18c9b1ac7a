"""A sampling plan at a gate: what it lets through, drawn, and what it said of each load."""

from __future__ import annotations

from floor.batch.gates.samples import describe_lots_before, find_next_severity, iter_sampled_gates
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
from floor.text import format_chance, format_count, format_share, wrap_text
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
        PlanInUse(op, line, gate, sample, batch.checklist.carrier(batch.operation(op).carrier).capacity)
        for op, line, gate, sample in iter_sampled_gates(batch.checklist)
    ]


def list_plan_lines(batch: Batch, plan: PlanInUse, width: int) -> list[str]:
    """What a plan does with a full load, how likely it accepts one with so many bad, and the loads it has judged.

    Rework is measured too, but is no lot, as its pieces were chosen for being bad.
    """
    head = f"Op {plan.op}, {plan.gate.title()}: {plan.sample} (MIL-STD-105E, single, each load a lot)"
    lines = wrap_text(head, "", "  ", width)
    lines += wrap_text(say_plan_in_force(batch, plan), "", "  ", width)
    before = batch.lots_before.get((plan.op, plan.line))
    if before is not None:
        lines += wrap_text(f"At the opening: {describe_lots_before(batch.checklist, before)}", "", "  ", width)
    chances = list_chances(batch, plan)
    if chances:
        # the least sample is 2, so a load that is not measured whole has 3 pieces or more
        drawn = sorted({round(share * plan.capacity) for share in SHARES} | {1, 2})
        bars = [(f"{bad} of {plan.capacity} bad", chances[bad], _format_acceptance(chances[bad])) for bad in drawn]
        lines += ["", "Chance of accepting a load, by bad pieces in it", *draw_bars(bars, width)]
    runs = [run for run in batch.runs.values() if run.op == plan.op and plan.line in run.samples and not run.rework]
    lines += ["", f"Loads judged: {len(runs)}", *(_say_load(run, run.samples[plan.line]) for run in runs[-LAST_LOADS:])]
    return lines


def _find(plan: PlanInUse, severity: Severity) -> SamplingPlan:
    return find_sampling_plan(plan.capacity, plan.sample.aql, InspectionLevel(plan.sample.level), severity)


def say_plan_in_force(batch: Batch, plan: PlanInUse) -> str:
    """How the next load is inspected."""
    state = find_next_severity(batch, plan.op, plan.line, plan.sample)
    return _say_plan(plan.capacity, _find(plan, state.severity), state)


def list_chances(batch: Batch, plan: PlanInUse) -> list[float]:
    """The chance of accepting a full load with 0, 1, 2 … bad pieces in it, exact, as the sample is taken from just
    these; empty where every piece is measured.
    """
    state = find_next_severity(batch, plan.op, plan.line, plan.sample)
    in_force = _find(plan, state.severity)
    if in_force.every_piece or state.discontinued:
        return []
    return [compute_lot_acceptance_chance(in_force, plan.capacity, bad) for bad in range(plan.capacity + 1)]


def _say_plan(lot: int, plan: SamplingPlan, state: InspectionState) -> str:
    if state.discontinued:
        return "Ten loads in a row under tightened inspection: every piece is measured until the cause is removed"
    if plan.every_piece:
        return f"A full load of {lot} is measured to its last piece, as the plan asks for no fewer"
    rest = f"accept on {plan.accept} out, reject on {plan.reject}: then every piece of it is measured"
    return (
        f"{state.severity.capitalize()} inspection: of a full load of {lot}, {format_count(plan.size, 'piece')}; {rest}"
    )


def _say_load(run: Run, taken: SampleResult) -> str:
    verdict = "rejected" if taken.is_rejected else "accepted"
    return f"  load {run.load}: {taken.severity}, {taken.size} of {taken.lot} measured, {taken.out} out, {verdict}"


def _format_acceptance(chance: float) -> str:
    """Certain only where no draw can find, or miss, a bad piece."""
    return format_share(chance) if chance in (0, 1) else format_chance(chance, 0)
