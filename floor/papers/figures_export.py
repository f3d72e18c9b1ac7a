"""What ``floor figures`` writes: losses, patterns, measured values, key figures and times."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any

from floor.batch.quality.costs import BatchCosts, CostRates, compute_costs
from floor.batch.quality.drifts import list_wear
from floor.batch.quality.loss_causes import LossPath, count_pieces
from floor.batch.quality.loss_patterns import LossStudy, study_losses
from floor.batch.quality.measured_values import MeasuredCharacteristic, list_measured_values, narrow_values
from floor.batch.quality.time_elements import BatchElements, TimeElements, compute_time_elements
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import format_time
from floor.figures.calendar import Calendar
from floor.figures.key_figures import (
    KEY_FIGURES,
    SCRAP,
    WORKER,
    Absence,
    Amount,
    Input,
    KeyFigure,
    Unknown,
    compute_key_figure,
    compute_rolled_throughput_yield,
    compute_scrap_bound,
)
from floor.figures.quality.capability import Index
from floor.figures.quality.describe_values import describe_values
from floor.figures.quality.drift import WearLine
from floor.figures.quality.intervals import compute_exact_interval
from floor.figures.quality.missing import Missing
from floor.papers.costs import list_cost_lines, say_reason
from floor.papers.key_figures import (
    PARTS,
    list_figure_lines,
    list_formula_lines,
    list_scope_lines,
    list_time_lines,
    say_why_not,
)
from floor.papers.losses import list_cause_lines, list_reason_lines, list_verdict_lines, say_suspect
from floor.papers.measured_values import ValueStudy, say_why_no_index, study_values
from floor.papers.nothing_since import say_nothing_since
from floor.papers.trial_export import export_trials
from floor.papers.trials import list_all_trial_lines
from floor.planning.pace import RunTime, list_run_times, summarize_run_times
from floor.text import WIDTH, capitalize_first, wrap_text
from floor.wall import WHEN, format_local

FORMAT = 1
"""Raised if a field of the JSON changes meaning or goes away; new fields do not raise it."""
COLUMNS = ("scope", "name", "value", "unit", "estimate", "formula", "why_not")
BATCH_SCOPE = "batch"


@dataclass(frozen=True, slots=True)
class ProcessFigures:
    """What is known of a batch's process, for the stations asked for."""

    batch: Batch
    calendar: Calendar
    now: datetime
    since: datetime | None
    stations: Collection[str]
    """Empty for the whole batch."""
    elements: BatchElements
    losses: LossStudy
    """Of the whole batch."""
    lost: LossStudy
    """Of runs since then."""
    values: tuple[ValueStudy, ...]
    wear: Mapping[MeasuredCharacteristic, WearLine]
    """Of the whole batch."""
    times: tuple[RunTime, ...]
    costs: BatchCosts | None

    @property
    def scopes(self) -> Mapping[str, TimeElements]:
        """``batch``, station or ``shift 06:00 to 14:00`` → its elements."""
        stations = {id: one for id, one in self.elements.stations.items() if not self.stations or id in self.stations}
        return stations if self.stations else {BATCH_SCOPE: self.elements.whole, **stations, **self.elements.shifts}


def gather_process_figures(
    batch: Batch,
    calendar: Calendar,
    now: datetime,
    since: datetime | None = None,
    stations: Collection[str] = (),
    rates: CostRates | None = None,
) -> ProcessFigures:
    """All figures of a batch.

    Args:
        since: only of runs started and values measured then or later; patterns and cost stay those of the whole batch.
        stations: only figures of these, and of operations that were done there.
        rates: what the shop pays; without them there is no cost. Cost is always of the whole batch.
    """
    ops = {run.op for run in batch.runs.values() if run.station in stations}
    later = narrow_values(list_measured_values(batch), since)
    measured = [study_values(shape, values) for shape, values in later.items()]
    elements = compute_time_elements(batch, calendar, now, since)
    whole = elements if since is None else compute_time_elements(batch, calendar, now)
    return ProcessFigures(
        batch,
        calendar,
        now,
        since,
        stations,
        elements,
        losses := study_losses(batch, calendar),
        losses.narrow(since),
        tuple(one for one in measured if not stations or one.shape.op in ops),
        {one.shape: one.line for one in list_wear(batch) if not stations or one.shape.op in ops},
        tuple(one for one in list_run_times(batch, calendar, since) if not stations or one.op in ops),
        compute_costs(batch, whole, rates),
    )


def write_figures_json(found: ProcessFigures) -> str:
    """Stable field names; times of day are UTC, lengths of time seconds."""
    batch, look = found.batch, found.losses.look
    zone = found.calendar.zone
    data = {
        "format": FORMAT,
        "batch": batch.id,
        "as_of": format_time(found.now),
        "since": format_time(found.since) if found.since is not None else None,
        "zone": zone if isinstance(zone, str) else None,
        "looks": look.number if look is not None else 0,
        "losses": [_export_path(found, path) for path in found.lost.outcomes if _is_wanted(found, path)],
        "patterns": _export_patterns(found),
        "characteristics": [_export_values(one, found.wear.get(one.shape)) for one in found.values],
        "key_figures": [_export_figure(scope, one, elements) for scope, elements in found.scopes.items()
                        for one in (*KEY_FIGURES, WORKER)],
        "rolled_throughput_yield": _roll(batch),
        "elements": [_export_elements(scope, elements) for scope, elements in found.scopes.items()],
        "times": _export_times(found),
        "costs": _export_costs(found),
        "trials": export_trials(batch),
    }  # fmt: skip
    return json.dumps(data, indent=2, ensure_ascii=False)


def write_figures_csv(found: ProcessFigures) -> str:
    """A row for each key figure of each scope, and for what each tool changes as it wears, or why that is not shown."""
    out = io.StringIO()
    rows = csv.DictWriter(out, COLUMNS, extrasaction="ignore", lineterminator="\n")
    rows.writeheader()
    for scope, elements in found.scopes.items():
        for one in KEY_FIGURES:
            rows.writerow(_export_figure(scope, one, elements))
    for shape, line in found.wear.items():
        known = _export_wear(line)
        about = {"scope": f"op {shape.op} {shape.what}", "name": "wear in 100 pieces", "unit": shape.unit}
        rows.writerow(
            {**about, "formula": "median slope", **known, "value": None if known["why_not"] else known["value"]}
        )
    return out.getvalue()


def write_figures_text(found: ProcessFigures) -> str:
    """What is sure of the losses, reasons, key figures with formulas and inputs, times; or that nothing is there."""
    batch = found.batch
    nothing = say_nothing_since(batch, found.since)
    if nothing:
        return "\n".join(wrap_text(nothing, "", "  ", WIDTH))
    head = []
    if found.since is not None:
        said = (
            f"Of runs started since {format_local(found.since, WHEN)}; statistical tests and cost cover the whole batch"
        )
        head = [*wrap_text(said, "", "  ", WIDTH), ""]
    lines = [
        *head,
        *list_verdict_lines(batch, found.losses, WIDTH),
        "",
        *list_reason_lines(batch, WIDTH, since=found.since),
        "",
        *list_cause_lines(batch, WIDTH, found.since),
    ]
    for scope, elements in found.scopes.items():
        name = "The whole batch" if scope == BATCH_SCOPE else capitalize_first(scope)
        if scope in found.elements.stations:
            name = batch.checklist.station(scope).name
        lines += ["", *list_scope_lines(elements, found.calendar, name, found.now, WIDTH), ""]
        lines += [*list_figure_lines(elements, WIDTH), "", *list_formula_lines(elements, WIDTH, with_beyond=False)]
    lines += ["", *list_time_lines(batch, found.times, WIDTH), "", *list_cost_lines(batch, found.costs, WIDTH)]
    if batch.trials:
        lines += ["", *list_all_trial_lines(batch, found.now, WIDTH)]
    return "\n".join(lines)


def _is_wanted(found: ProcessFigures, path: LossPath) -> bool:
    return not found.stations or any(run.station in found.stations for run in found.losses.outcomes[path])


def _export_path(found: ProcessFigures, path: LossPath) -> dict[str, Any]:
    lost, pieces = count_pieces(found.lost.outcomes[path])
    interval = compute_exact_interval(lost, pieces) if pieces else Missing.EMPTY
    ends = (None, None) if isinstance(interval, Missing) else (interval.low, interval.high)
    return {
        "op_caused": path.caused,
        "op_found": path.found,
        "lost": lost,
        "pieces": pieces,
        "share": lost / pieces if pieces else None,
        "share_low": ends[0],
        "share_high": ends[1],
    }


def _export_patterns(found: ProcessFigures) -> list[dict[str, Any]]:
    rows = []
    for one in found.losses.patterns:
        path = one.suspect.operation
        assert isinstance(path, LossPath)
        if _is_wanted(found, path):
            rows.append(
                {
                    "what": say_suspect(found.batch, found.losses, one),
                    "op_caused": path.caused,
                    "op_found": path.found,
                    "lost": one.bad,
                    "pieces": one.pieces,
                    "expected": one.expected,
                    "p": one.p,
                    "adjusted_p": one.adjusted,
                    "named": one.named,
                    "explained": one.explained,
                }
            )
    return rows


def _export_values(one: ValueStudy, wear: WearLine | None) -> dict[str, Any]:
    shape = one.shape
    about = describe_values([value.value for value in one.values])
    known = one.capability
    indices = {"cp": known.cp, "cpk": known.cpk, "pp": known.pp, "ppk": known.ppk}
    return {
        "op": shape.op,
        "what": shape.what,
        "number": shape.number,
        "unit": shape.unit,
        "low": shape.low,
        "high": shape.high,
        "count": about.count,
        "mean": _number(about.mean),
        "median": _number(about.median),
        "deviation": _number(about.deviation),
        "least": _number(about.least),
        "greatest": _number(about.greatest),
        "out_of_limits": one.out,
        "read_again": len(one.again),
        "rules_met": sorted({signal.rule.value for signal in one.signals}),
        "nelson_adds": sorted({signal.rule.value for signal in one.by_nelson}),
        "spread_out": len(one.spread_out),
        "capability": {name: _export_index(index, one) for name, index in indices.items()},
        "wear": None if wear is None else _export_wear(wear),
    }


def _export_wear(line: WearLine) -> dict[str, Any]:
    """The change in 100 pieces; one that may be none has a reason beside it."""
    known = line.slope_interval
    ends = (None, None) if isinstance(known, Missing) else (100 * known.low, 100 * known.high)
    why = None if line.is_shown else "too few loads" if ends[0] is None else "its interval includes 0"
    return {"value": 100 * line.slope, "low": ends[0], "high": ends[1], "why_not": why}


def _export_index(index: Index, study: ValueStudy) -> dict[str, Any]:
    if isinstance(index, Missing):
        return {"value": None, "low": None, "high": None, "why_not": say_why_no_index(index, study)}
    return {"value": index.value, "low": index.low, "high": index.high, "why_not": None}


def _number(value: float | Missing) -> float | None:
    return None if isinstance(value, Missing) else value


def _export_figure(scope: str, figure: KeyFigure, elements: TimeElements) -> dict[str, Any]:
    value = compute_key_figure(figure, elements.amounts)
    unknown = isinstance(value, Unknown)
    return {
        "scope": scope,
        "name": figure.name,
        "value": None if isinstance(value, Unknown) else 3600 * value if figure.per_time else value,
        "unit": "pieces an hour" if figure.per_time else "share",
        "more_is_better": figure.more_is_better,
        "at_most": compute_scrap_bound(elements.amounts) if figure is SCRAP else None,
        "estimate": not unknown and Input.GP in figure.inputs and not elements.identified,
        "formula": figure.formula,
        "inputs": {one.value: _amount(elements.amounts.get(one, Absence.NOTHING)) for one in figure.inputs},
        "why_not": say_why_not(value) if isinstance(value, Unknown) else None,
    }


def _amount(amount: Amount) -> float | None:
    return None if isinstance(amount, Absence) else amount


def _roll(batch: Batch) -> float | None:
    from floor.batch.counting.op_yields import list_op_outcomes

    made = [one for one in list_op_outcomes(batch) if one.op in batch.checklist.route]
    return compute_rolled_throughput_yield([(one.first_pass, one.produced) for one in made])


def _export_elements(scope: str, elements: TimeElements) -> dict[str, Any]:
    return {
        "scope": scope,
        "start": format_time(elements.start),
        "end": format_time(elements.end),
        "runs": elements.runs,
        "left_out": {why.value: many for why, many in elements.left_out.items()},
    }


def _export_times(found: ProcessFigures) -> list[dict[str, Any]]:
    return [
        {
            "op": one.op,
            "part": PARTS[one.part],
            "runs": one.runs,
            "planned": one.planned,
            "took": one.took,
            "took_quartiles": [one.lower, one.upper],
            "times_planned": one.ratio,
        }
        for one in summarize_run_times([one for one in found.times if one.is_plausible])
    ]


def _export_costs(found: ProcessFigures) -> dict[str, Any] | None:
    costs = found.costs
    if costs is None:
        return None
    each = costs.per_good_piece
    return {
        "currency": costs.currency,
        "total": costs.total,
        "stations": costs.stations,
        "labor": costs.labor,
        "tools": costs.tools,
        "material": costs.material,
        "per_good_piece": None if isinstance(each, Absence) else each,
        "scrap": [
            {"op": one.op, "reason": say_reason(found.batch, one), "pieces": one.pieces, "cost": one.cost}
            for one in costs.scrap
        ],
        "without_rate": list(costs.unpriced),
    }
