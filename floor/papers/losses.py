"""Where the scrap and rework come from, as lines for screen and paper."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

from floor.batch.counting.losses import Loss, count_held, count_losses
from floor.batch.counting.op_yields import count_produced
from floor.batch.quality.happenings import Point
from floor.batch.quality.loss_causes import LossPath, RunOutcome, count_pieces
from floor.batch.quality.loss_patterns import Factor, FactorKind, LossStudy
from floor.batch.state import Batch
from floor.figures.quality.control_charts import Chart, compute_p_chart
from floor.figures.quality.intervals import compute_exact_interval, compute_upper_bound
from floor.figures.quality.missing import Missing
from floor.figures.quality.pareto import ParetoRow, rank_reasons
from floor.figures.quality.patterns import Pattern
from floor.figures.quality.run_rules import WESTERN_ELECTRIC, RunSignal, find_run_signals
from floor.figures.quality.suspects import SuspectKind
from floor.papers.measured_values import OWN_LIMITS, list_limit_levels, list_rules, mark_happenings
from floor.text import format_count, format_share, wrap_text
from floor.text_charts import Happening, draw_bars, draw_places, draw_values

MOST_REASONS = 8
MOST_SUSPECTS = 5
"""Suspects of one way of loss that are listed, the strongest."""
FEWEST_ROWS = 4
WAYS = {"scrap": "scrap", "rework": "rework", "hold": "held"}
WHY_NO_ESTIMATE: dict[Missing, str] = {
    Missing.EMPTY: "no place can be told from others, as these pieces lie in none",
    Missing.TOO_FEW: "no load with a loss has come through its count yet",
    Missing.TOO_LARGE: "it would take millions of pieces to show a place that loses twice as many as the others",
}
"""Why nobody can say how many more pieces it takes."""


def list_verdict_lines(batch: Batch, study: LossStudy, width: int) -> list[str]:
    """What is established about the losses, or how much more it takes."""
    if not study.outcomes:
        return wrap_text(_say_none(batch), "✓ ", "  ", width)
    if study.named:
        return [line for one in study.named for line in wrap_text(_say_named(batch, study, one), "✕ ", "  ", width)]
    return wrap_text(_say_no_pattern(batch, study), "", "  ", width)


def _say_none(batch: Batch) -> str:
    """No loss is no proof of none: how many there may be all the same."""
    pieces = {piece for _, _, said in batch.counts() for piece in said}
    bound = compute_upper_bound(0, len(pieces))
    if isinstance(bound, Missing):
        return "Nothing has been counted yet"
    most = f"95 % sure that at most {format_share(bound, 1)} are lost at the counts they came through"
    return f"No piece lost of {format_count(len(pieces), 'piece')} counted, each once; {most}"


def _say_no_pattern(batch: Batch, study: LossStudy) -> str:
    # The table below counts scrap and rework alone: without the words in brackets its sum looks wrong.
    looked = "" if study.look is None else f" at the last look, with {study.look.count} losses (scrap, rework, held)"
    told = f"No pattern{looked or ' yet'}"
    more = study.to_detect
    if isinstance(more, Missing):
        return f"{told}; {WHY_NO_ESTIMATE[more]}"
    about = f"about {_round_estimate(more)} more pieces"
    if more > batch.started:
        about += f", {format_count(round(more / batch.started), 'time')} what was started,"
    return f"{told}; {about} would show a place that loses twice as many as the others"


def _round_estimate(pieces: int) -> int:
    """With two digits that count: it is no better known."""
    return int(float(f"{pieces:.2g}"))


def _say_named(batch: Batch, study: LossStudy, one: Pattern) -> str:
    assert study.look is not None
    path = one.suspect.operation
    assert isinstance(path, LossPath)
    chance = f"p {one.adjusted:.2g}" if one.adjusted >= 0.001 else "p below 0.001"
    looks = format_count(study.look.number, "look")
    what = f"{say_suspect(batch, study, one)}, {say_path(batch, path)}: {_say_counts(one, ' lost', '; ')}"
    return f"{what}unlikely by chance ({chance} after {looks})"


def _say_counts(one: Pattern, lost: str, then: str) -> str:
    """Nothing of people, whose counts together tell nothing."""
    if one.suspect.kind is SuspectKind.PEOPLE:
        return ""
    return f"{one.bad} of {one.pieces}{lost}, {one.expected:.1f} expected{then}"


def say_path(batch: Batch, path: LossPath) -> str:
    """``op 40 Cut free`` or ``op 20 Coat, found at op 30``."""
    caused = f"op {path.caused} {batch.operation(path.caused).title}"
    return caused if path.found == path.caused else f"{caused}, found at op {path.found}"


PLACE_WORDS = {
    SuspectKind.PLACE: "Place",
    SuspectKind.ROW: "Row",
    SuspectKind.COLUMN: "Column",
    SuspectKind.CORNERS: "Corners",
    SuspectKind.EDGE: "Edge",
    SuspectKind.NEIGHBORS: "Places",
}


def say_suspect(batch: Batch, study: LossStudy, one: Pattern) -> str:
    """A suspect in a few words: ``Places A1, A2``, ``Pallet 3``, ``T3 after 80 pieces``."""
    suspect = one.suspect
    if suspect.kind in PLACE_WORDS:
        return f"{PLACE_WORDS[suspect.kind]} {', '.join(map(str, suspect.where))}"
    if suspect.kind in (SuspectKind.EARLY, SuspectKind.LATE):
        return f"{'First' if suspect.kind is SuspectKind.EARLY else 'Last'} half of each load"
    if suspect.kind is SuspectKind.PEOPLE:
        return "Losses differ by person (unnamed)"
    factor = study.factors[suspect.factor]
    (where,) = suspect.where
    if suspect.kind in (SuspectKind.FROM, SuspectKind.UP_TO):
        return _say_span(factor.kind, factor.of, suspect.kind is SuspectKind.FROM, where)
    if factor.kind is FactorKind.SHIFT:
        assert isinstance(where, tuple)
        start, end = where
        return f"Shift {start:%H:%M} to {end:%H:%M}"
    return _say_label(batch, factor, where)


def _say_label(batch: Batch, factor: Factor, where: object) -> str:
    """What loads have in common that is suspected as a whole."""
    match factor.kind:
        case FactorKind.STATION:
            return batch.checklist.station(str(where)).name
        case FactorKind.SETUP:
            return f"Set-up {where}"
        case FactorKind.FIRST:
            return "First load of each set-up" if where else "Later loads of each set-up"
        case FactorKind.STINT:
            return f"After handover {where}" if where else "Before the first handover"
        case FactorKind.TOOL:
            changes = where[1] if isinstance(where, tuple) else 0
            return f"{factor.of} after change {changes}" if changes else f"{factor.of} before its first change"
        case FactorKind.LOT:
            lots = ", ".join(map(str, where)) if isinstance(where, tuple) else str(where)
            return f"Lot {lots} of {factor.of}"
    return str(where)


def _say_span(kind: FactorKind, of: str, later: bool, where: object) -> str:
    count = int(float(str(where)))
    if kind is FactorKind.AGE:
        return f"{of} after {format_count(count, 'piece')}" if later else f"{of} up to {format_count(count, 'piece')}"
    return f"Loads from the {count + 1}th run on" if later else f"The first {format_count(count + 1, 'run')}"


def rank_losses(batch: Batch, since: datetime | None = None) -> list[ParetoRow]:
    """The reasons of scrap and rework with their pieces, the most frequent first; of runs begun since then."""
    counts: Counter[str] = Counter()
    for loss, many in _count_decided(batch, since).items():
        operation = batch.checklist.ops.get(loss.found)
        code = operation.reason(loss.reason) if operation else None
        counts[f"op {loss.caused or loss.found} {code.text if code else loss.reason}"] += many
    return rank_reasons(counts)


def _count_decided(batch: Batch, since: datetime | None) -> Counter[Loss]:
    return Counter({loss: many for loss, many in count_losses(batch, since).items() if loss.to != "hold"})


def list_reason_lines(batch: Batch, width: int, most: int = MOST_REASONS, since: datetime | None = None) -> list[str]:
    """A bar for each reason of scrap and rework, with the running share; what is held and not decided apart."""
    rows = rank_losses(batch, since)
    bars = [
        (row.reason, float(row.count), f"{row.count:>3} {format_share(row.running_share):>5}") for row in rows[:most]
    ]
    more, total = rows[most:], sum(row.count for row in rows)
    lines = [f"Scrap and rework: {total}, by reason, with the running share", *draw_bars(bars, width)] if bars else []
    if more:
        lines.append(f"and {format_count(len(more), 'more reason')}, {sum(row.count for row in more)} together")
    held = count_held(batch, since)
    return lines + ([f"Held, not decided: {format_count(held, 'piece')}"] if held else [])


def list_cause_lines(batch: Batch, width: int, since: datetime | None = None) -> list[str]:
    """The same scrap and rework by the operation that caused it, and where it was found."""
    counts: Counter[LossPath] = Counter()
    for loss, many in _count_decided(batch, since).items():
        counts[LossPath(loss.caused or loss.found, loss.found)] += many
    made = {op: count_produced(batch, op, since) for op in {path.found for path in counts}}
    rows = [
        (say_path(batch, path), float(many), f"{many:>3} of {made[path.found]} counted there")
        for path, many in sorted(counts.items())
    ]
    title = f"The same {counts.total()} by the operation that caused it"
    return [title, *draw_bars(rows, width)] if rows else []


def list_path_lines(batch: Batch, study: LossStudy, path: LossPath, width: int, height: int) -> list[str]:
    """One way of loss: where on the carrier, by load, and the strongest suspects."""
    runs = study.outcomes[path]
    lost, pieces = count_pieces(runs)
    if not pieces:
        return wrap_text(f"{say_path(batch, path)}: no load has come through that count yet", "", "  ", width)
    interval = compute_exact_interval(lost, pieces)
    ways = Counter(one.spoiled.to for run in runs for one in run.pieces if one.spoiled is not None)
    how = ", ".join(f"{ways[to]} {word}" for to, word in WAYS.items() if ways[to])
    share = f" ({how}), {format_share(lost / pieces, 1)}" if how else f", {format_share(lost / pieces, 1)}"
    share += "" if isinstance(interval, Missing) else f" ({100 * interval.low:.1f} to {format_share(interval.high, 1)})"
    head = f"{say_path(batch, path)}: {lost} of {pieces} lost{share}; {format_count(len(runs), 'load')}"
    lines = wrap_text(head, "", "  ", width)
    places = _draw_map(batch, path, runs)
    suspects = _list_suspect_lines(batch, study, path, width)
    lines += ["", *places] if places else []
    left = height - len(lines) - len(suspects) - 5
    return [*lines, "", *_draw_chart(batch, path, runs, width, max(left, FEWEST_ROWS)), "", *suspects]


def _draw_map(batch: Batch, path: LossPath, runs: Sequence[RunOutcome]) -> list[str]:
    carrier = batch.checklist.carrier(batch.operation(path.caused).carrier)
    if not carrier.positions or not carrier.columns:
        return []
    lost = Counter(one.place for run in runs for one in run.pieces if one.spoiled is not None)
    bare = set(carrier.positions) - {one.place for run in runs for one in run.pieces}
    amounts = {place: str(many) for place, many in lost.items()} | dict.fromkeys(bare, "")
    legend = ["lost by place; · none lost" + ("; a name alone: no piece lay there" if bare else "")]
    return [*draw_places(carrier.positions, carrier.columns, amounts), *legend]


class LossChart(NamedTuple):
    """The share lost by load."""

    chart: Chart
    loads: Sequence[int]
    """Of the points."""
    signals: frozenset[int]
    rules: Sequence[RunSignal]
    happened: Sequence[Happening]
    axis: str
    """What the letters on the axis mean."""


def study_p_chart(batch: Batch, path: LossPath, runs: Sequence[RunOutcome]) -> LossChart:
    """Its points, limits and signals, with what happened between."""
    counted = [run for run in runs if run.pieces]
    chart = compute_p_chart([(run.spoiled, len(run.pieces)) for run in counted])
    signals = {n for n, point in enumerate(chart.points) if point.out}
    rules = find_run_signals([point.score for point in chart.points], WESTERN_ELECTRIC)
    signals |= {one.index for one in rules}
    points = [Point(run.known, run.setup, run.station, path.caused) for run in counted]
    happened, axis = mark_happenings(batch, points)
    return LossChart(chart, [run.load for run in counted], frozenset(signals), rules, happened, axis)


def _draw_chart(batch: Batch, path: LossPath, runs: Sequence[RunOutcome], width: int, rows: int) -> list[str]:
    """Share lost by load, with the limits for each load's own size, and which run rules are met."""
    found = study_p_chart(batch, path, runs)
    shares = [100 * (point.value or 0.0) for point in found.chart.points]
    loads = [str(load) for load in found.loads]
    levels = list_limit_levels(found.chart.points, " %", 100)
    levels = [one._replace(figure=f"{one.value:.1f}") for one in levels]
    told = [each for line in list_rules("✕", found.loads, found.rules) for each in wrap_text(line, "", "  ", width)]
    own = OWN_LIMITS if any(one.own for one in levels) else ""
    legend = wrap_text("; ".join(filter(None, ["percent lost by load", own, found.axis])), "", "  ", width)
    left = max(rows - len(told) - len(legend) + 1, FEWEST_ROWS)
    drawn = draw_values(shares, levels, sorted(found.signals), found.happened, loads, width, left)
    return [*drawn, *legend, *told]


def _list_suspect_lines(batch: Batch, study: LossStudy, path: LossPath, width: int) -> list[str]:
    mine = [one for one in study.patterns if one.suspect.operation == path][:MOST_SUSPECTS]
    if study.look is None:
        return ["No test yet: the first is made at 6 losses"]
    rows = [
        f"{'✕' if one.named else '·'} {say_suspect(batch, study, one)}: {_say_counts(one, '', ', ')}p {one.p:.2g}"
        + ("; explained by the one above" if one.explained else "")
        for one in mine
    ]
    title = f"The strongest of {len(study.patterns)} suspects, each with its p by luck alone:"
    return [title, *(line for row in rows for line in wrap_text(row, "", "    ", width))]
