"""Earlier batches of a part beside one: how sure the start quantity is, yields, times, other parts; as lines."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from functools import partial
from typing import Protocol

from floor.batch.earlier import EarlierTold, expect
from floor.batch.quality.batch_facts import BatchFacts, EarlierBatches, OpFacts
from floor.batch.quality.yield_lessons import FEWEST_LOADS
from floor.batch.state import Batch
from floor.checklist.expected_yields import NO_TESTS, Sureness, TestPieces, assess_start, list_confidence_levels
from floor.checklist.model import Checklist
from floor.dataclass import dataclass
from floor.entry import Moment
from floor.figures.errors import Impossible
from floor.figures.forecast import forecast_good_count
from floor.figures.quality.intervals import Interval, compute_exact_interval
from floor.figures.quality.missing import Missing
from floor.figures.quality.share_by_load import ShareByLoad, compute_share_by_load
from floor.figures.quality.spread import Spread, compute_spread
from floor.figures.yields import PLAN_RUNS
from floor.papers.lessons import PLAUSIBLE_SAID
from floor.papers.page import begin_paper
from floor.planning.batch_forecast import collect_forecast_inputs, compute_outlook
from floor.planning.earlier_batches import EarlierOp, EarlierStudy, NotUsed, TimeRow, YieldRow, find_age, study_earlier
from floor.planning.pace import Part, set_against_plan
from floor.text import WIDTH, cut, format_chance, format_count, format_share, format_span, pad, wrap_text
from floor.wall import get_local_day

PARTS: dict[Part, str] = {Part.CYCLE: "cycle", Part.HANDS: "by hand"}
WHY: dict[NotUsed, str] = {
    NotUsed.OTHER_WORK: "other work",
    NotUsed.IN_FILE: "in the file",
    NotUsed.REWORK: "rework",
}
WHY_LONG: dict[NotUsed, str] = {
    NotUsed.OTHER_WORK: "other work: the operation has another title, station or cycle there",
    NotUsed.IN_FILE: "in the file: taken as a lesson, so its pieces are in the checklist's yield already",
    NotUsed.REWORK: "rework: not in the start quantity",
}
TIME_HEAD = (
    f"  {'batch':<8} {'age':>6} {'runs':>4} {'median':>8} {'middle half':>17} {'per piece':>10} "
    f"{'x stated':>8} {'counts':>6}"
)
OTHER_HEAD = f"  {'part':<9} {'batch':<7} {'no rework':>13} {'share':>8} {'cycle':>8} {'by hand':>8}  operation"
SAID = {
    "checklist": "by the checklist alone",
    "opened": "as opened, with {}",
    "next": "next order, with this batch",
}
WHY_NOT_AS_LESSONS = (
    "Next order: each batch counts for fewer pieces the older it is and the more batches differ. Lessons start "
    "another number: by the file alone, once its lines are taken."
)
YEAR = 365.25
MOST_AT_ONCE = 600
"""Pieces of a batch up to which the pieces to start are worked out between two keys."""
NONE = "No earlier batch of this part: the plan goes by the checklist alone"


@dataclass(frozen=True, slots=True)
class EarlierReport:
    """A batch beside earlier ones, for its next plan."""

    batch: Batch
    own: BatchFacts
    now: datetime
    read: EarlierBatches
    study: EarlierStudy
    """Of this batch and those before it: what the next plan takes."""
    level: float
    """The shop's chance to fill an order."""


class AskedOfBatch(Protocol):
    """What the shop was asked: `floor.shop.earlier_batches.Asked`."""

    @property
    def own(self) -> BatchFacts | None: ...
    @property
    def in_file(self) -> Mapping[str, frozenset[int]]: ...


def make_report(
    batch: Batch, asked: AskedOfBatch, read: EarlierBatches, now: datetime, fill_level: float, half_life: float
) -> EarlierReport:
    """What earlier batches say beside this one."""
    assert asked.own is not None, "it is this batch"
    study = study_earlier(batch.checklist, [asked.own, *read.same], now, asked.in_file, half_life)
    return EarlierReport(batch, asked.own, now, read, study, list_confidence_levels(fill_level)[-1])


# --- how sure the start quantity is ----------------------------------------------------------------------------------


def list_sure_lines(report: EarlierReport, width: int) -> list[str]:
    """The start quantity by the checklist alone, as the batch was opened, and as the next one would be."""
    batch = report.batch
    assessed = {
        SAID[by].format(_name_batches(batch.earlier.batches if batch.earlier is not None else ())): partial(
            assess_start, checklist, batch.order, batch.started, report.level, batch.tests
        )
        for by, checklist in list_plans(report).items()
    }
    head = f"For {batch.order} good ones, {batch.started} started"
    lines = [head, *_list_sureness(assessed, report.level, width)]
    return lines if report.study.told is None else [*lines, *wrap_text(WHY_NOT_AS_LESSONS, "", "  ", width)]


def list_plans(report: EarlierReport) -> dict[str, Checklist]:
    """``checklist``, ``opened``, ``next``, as far as there are → the checklist with the yields of that plan."""
    batch = report.batch
    plans = {"checklist": batch.checklist}
    if batch.earlier is not None:
        plans["opened"] = batch.expected
    if report.study.told is not None:
        plans["next"] = expect(batch.checklist, report.study.told)
    return plans


def list_before_and_after(
    checklist: Checklist,
    told: EarlierTold,
    order: int,
    started: int,
    level: float,
    width: int,
    tests: TestPieces = NO_TESTS,
) -> list[str]:
    """Where a start quantity is chosen: by the checklist alone, and with earlier batches."""
    rows = {
        "by the checklist alone": checklist,
        f"with {_name_batches(told.batches)}": expect(checklist, told),
    }
    return _list_sureness(
        {name: partial(assess_start, by, order, started, level, tests) for name, by in rows.items()}, level, width
    )


def list_more_lines(batch: Batch, now: Moment, level: float, width: int) -> list[str]:
    """Where more pieces are started: what is on the way now, with and without earlier batches; empty without any.

    Of a large batch the pieces to start are worked out with the plan, as that takes seconds.
    """
    if batch.earlier is None:
        return []

    def assess(one: Batch) -> Sureness:
        known = collect_forecast_inputs(one, now)
        reached = forecast_good_count(known.ordered, known.finished, known.hand, known.beliefs).probability
        pieces = one.started
        if one.started > MOST_AT_ONCE:
            pieces = 0
        elif reached < level:
            more = compute_outlook(known, level).top_up
            pieces = one.started + more.pieces if more is not None and more.probability >= level else 0
        weights = [belief.first.good + belief.first.bad for belief in known.beliefs if belief.first.bad]
        return Sureness(reached, pieces, min(weights, default=0.0), max(weights, default=0.0))

    rows = {
        "by checklist and counts": replace(batch, earlier=None),
        f"with {_name_batches(batch.earlier.batches)}": batch,
    }
    return _list_sureness({name: partial(assess, one) for name, one in rows.items()}, level, width)


def _list_sureness(rows: Mapping[str, Callable[[], Sureness]], level: float, width: int) -> list[str]:
    head = f"{'chance':>8} {f'start for {100 * level:.0f} %':>15} {'based on pcs':>13}"
    names = max(min(width - len(head) - 1, 44), 12)
    lines = [f"{'':{names}} {head}"]
    for name, assess in rows.items():
        try:
            found = assess()
        except Impossible as error:
            lines += wrap_text(f"{name}: n/a, because {error}", "", "  ", width)
            continue
        needed = str(found.pieces) if found.pieces else "n/a"
        said = f"{format_chance(found.chance):>8} {needed:>15} {_say_known(found):>13}"
        lines.append(f"{pad(cut(name, names), names)} {said}")
    return lines


def _say_known(found: Sureness) -> str:
    """Pieces that the yields of the operations stand on: ``30``, ``30 to 88``."""
    least, most = round(found.least), round(found.most)
    if not most:
        return "no loss"
    return str(least) if least == most else f"{least} to {most}"


def _name_batches(names: Sequence[str]) -> str:
    """``B0003``, ``B0003, B0002``, ``4 earlier batches``."""
    return ", ".join(names) if len(names) <= 2 else f"{len(names)} earlier batches"


def list_batch_lines(report: EarlierReport, width: int) -> list[str]:
    """The batches of the part, the newest first; what was left out, by name."""
    head = f"{'batch':<10} {'revision':<8} {'opened':<10} {'age':>6} {'good':>12}"
    lines = [head]
    for one in report.study.batches:
        this = "  this one" if one.first == report.own.first else "" if one.closed else "  open"
        this += ", entered half done" if one.late and this else "  entered half done" if one.late else ""
        lines.append(
            f"{cut(one.id, 10):<10} {cut(one.revision, 8):<8} {get_local_day(one.opened)} "
            f"{format_age(find_age(one, report.now)):>6} {f'{one.finished} of {one.started}':>12}{this}"
        )
    if not report.read.same:
        lines += wrap_text(NONE, "", "  ", width)
    return [*lines, *list_left_out(report.read, report.study, width)]


def list_left_out(read: EarlierBatches, study: EarlierStudy, width: int) -> list[str]:
    lines = [
        line
        for name, why in read.left_out.items()
        for line in wrap_text(f"{name} is left out: {why}", "✕ ", "  ", width)
    ]
    for name, ops in study.gone.items():
        lines += wrap_text(f"{name}: left out, not in this checklist: {', '.join(ops)}", "· ", "  ", width)
    if read.not_read:
        lines.append(f"· {format_count(read.not_read, 'older batch')} not read")
    return lines


def format_age(days: float) -> str:
    """``0 d``, ``28 d``, ``2.4 y``."""
    return f"{days:.0f} d" if days < 2 * YEAR else f"{days / YEAR:.1f} y"


# --- yields and times ------------------------------------------------------------------------------------------------


def list_yield_lines(report: EarlierReport, width: int) -> list[str]:
    """Each operation where something was counted: what was good of each batch, and what it is worth."""
    found = [one for one in report.study.ops if one.yields]
    if not found:
        return ["Nothing has been counted yet, in this batch or an earlier one"]
    lines = []
    for one in found:
        lines += wrap_text(f"op {one.op} {one.title}: {_say_plan(one)}", "", "    ", width)
        lines.append(f"  {'batch':<10} {'age':>6} {'no rework':>14} {'share':>8} {'95 % sure':>15} {'counts as':>11}")
        lines += [_say_yield(report, one.op, row) for row in one.yields]
        lines.append("")
    note = "In parentheses, and under counts as: pieces it counts as in the next plan. Pieces of one load, and of one "
    note += f"batch, tend to turn out alike; {_say_half_life(report)}. "
    note += "; ".join(WHY_LONG[why] for why in NotUsed if any(row.not_used is why for op in found for row in op.yields))
    return [*lines, *wrap_text(note.strip(), "", "  ", width)]


def _say_half_life(report: EarlierReport) -> str:
    return f"a batch counts half after {report.study.half_life:g} days (half_life_days in shop.toml)"


def _say_plan(one: EarlierOp) -> str:
    stated = f"checklist {format_share(one.stated, 1)} ({one.weight:.0f})"
    if one.found is None:
        return stated
    return f"{stated}, next order {format_share(one.found.good, 1)} ({one.found.weight:.0f})"


def _say_yield(report: EarlierReport, op: int, row: YieldRow) -> str:
    share, loads = row.share, row.batch.ops[op].loads
    counts = f"{row.weight:.0f}" if row.not_used is None else WHY[row.not_used]
    return (
        f"  {pad(cut(_name(report, row.batch), 10), 10)} {format_age(row.days):>6} "
        f"{f'{share.good} of {share.pieces}':>14} {format_share(share.share, 1):>8} "
        f"{say_interval(share, len(loads)):>15} {counts:>11}"
    )


def say_interval(share: ShareByLoad, loads: int) -> str:
    """``90.1 to 98.9 %``"""
    found = find_interval(share, loads)
    return "" if isinstance(found, Missing) else f"{100 * found.low:.1f} to {100 * found.high:.1f} %"


def find_interval(share: ShareByLoad, loads: int) -> Interval | Missing:
    """That of pieces with luck of their own where too few loads tell how much loads differ."""
    if loads < FEWEST_LOADS:
        return compute_exact_interval(share.good, share.pieces)
    return share.interval


def list_time_lines(report: EarlierReport, width: int) -> list[str]:
    """Each part of an operation that was timed: what it took in each batch, and what it is worth."""
    lines = []
    for one in report.study.ops:
        for part in Part:
            rows = [row for row in one.times if row.part is part and row.per_run.median]
            if not rows:
                continue
            pace = one.paces.get(part)
            next_time = (
                f": next order {pace.ratio:.2f} x stated, counts as {format_count(round(pace.weight), 'run')}"
                if pace
                else ""
            )
            lines += wrap_text(f"op {one.op} {one.title}, {PARTS[part]}{next_time}", "", "    ", width)
            lines.append(TIME_HEAD)
            lines += [_say_times(report, row) for row in rows]
            lines += [line for row in rows if row.odd for line in wrap_text(_say_odd(report, row), "  · ", None, width)]
            lines.append("")
    if not lines:
        return wrap_text("No run has been timed yet: enter start, end and release as they happen", "", "  ", width)
    note = f"Counts: as how many runs, beside the plan's own {PLAN_RUNS:.0f}; the runs of one batch share people, "
    note += f"tools and material; {_say_half_life(report)}. Left out: rework, hand work of a set-up's "
    note += "first load, runs entered late."
    return [*lines, *wrap_text(note, "", "  ", width)]


def _say_times(report: EarlierReport, row: TimeRow) -> str:
    counts = f"{row.weight:.1f}" if row.not_used is None and row.ratio is not None else "-"
    ratio = f"{row.ratio:.2f}" if row.ratio is not None else "n/a"
    return (
        f"  {pad(cut(_name(report, row.batch), 8), 8)} {format_age(row.days):>6} {row.runs:>4} "
        f"{format_span(row.per_run.median):>8} {_say_half(row.per_run):>17} "
        f"{format_short(row.per_piece.median):>10} {ratio:>8} {counts:>6}"
    )


def _say_odd(report: EarlierReport, row: TimeRow) -> str:
    many = format_count(row.odd, "time")
    return f"{_name(report, row.batch)}: {many} not counted, outside {PLAUSIBLE_SAID} x stated: entered later, it seems"


def _say_half(spread: Spread) -> str:
    return f"{format_span(spread.lower)} to {format_span(spread.upper)}" if spread.count > 1 else ""


def format_short(seconds: float) -> str:
    """``1:58`` min and s, as a piece often takes less than some minutes; ``12 min`` above ten."""
    if seconds >= 600:
        return format_span(seconds)
    return f"{int(seconds // 60)}:{int(seconds % 60):02d}"


def _name(report: EarlierReport, batch: BatchFacts) -> str:
    return "this one" if batch.first == report.own.first else batch.id


# --- other parts -----------------------------------------------------------------------------------------------------


def list_other_lines(report: EarlierReport, width: int) -> list[str]:
    """Other parts at the stations of this one: for comparison only, no plan takes them."""
    names = {one.id: one.name for one in report.batch.checklist.stations}
    by_station: dict[str, list[tuple[BatchFacts, OpFacts]]] = defaultdict(list)
    for batch in sorted(report.read.others, key=lambda one: (one.opened, one.id), reverse=True):
        for facts in batch.ops.values():
            if facts.station in names and (facts.loads or facts.times):
                by_station[facts.station].append((batch, facts))
    if not by_station:
        return ["No other part has been counted or timed at these stations"]
    said = "For comparison only: no plan uses another part's yields and times. Medians: cycle per run, by hand per "
    lines = wrap_text(said + "piece", "", "  ", width)
    for station, rows in by_station.items():
        lines += ["", names[station], OTHER_HEAD]
        for batch, facts in rows:
            share = compute_share_by_load(facts.loads)
            good, share_said = ("", "")
            if not isinstance(share, Missing):
                good, share_said = f"{share.good} of {share.pieces}", format_share(share.share, 1)
            said = (
                f"  {pad(cut(batch.part, 9), 9)} {pad(cut(batch.id, 7), 7)} {good:>13} {share_said:>8} "
                f"{_say_median(facts, Part.CYCLE, format_span):>8} {_say_median(facts, Part.HANDS, format_short):>8}  "
            )
            lines.append(cut(f"{said}op {facts.op} {facts.title}", width))
    return lines


def _say_median(facts: OpFacts, part: Part, say: Callable[[float], str]) -> str:
    found = find_median(facts, part)
    return "" if found is None else say(found)


def find_median(facts: OpFacts, part: Part) -> float | None:
    """Seconds of a cycle, or by hand for a piece."""
    taken = [one for one in set_against_plan(((facts.op, *one) for one in facts.times), {}) if one.part is part]
    found = compute_spread([one.took / (1 if part is Part.CYCLE else max(one.pieces, 1)) for one in taken])
    return None if isinstance(found, Missing) else found.median


# --- all of it -------------------------------------------------------------------------------------------------------


def list_report_lines(report: EarlierReport, width: int = WIDTH) -> list[str]:
    return [
        *list_sure_lines(report, width),
        "",
        *list_batch_lines(report, width),
        "",
        *list_yield_lines(report, width),
        "",
        *list_time_lines(report, width),
        "",
        *list_other_lines(report, width),
    ]


def write_earlier(report: EarlierReport, now: Moment, head: str) -> str:
    """The paper."""
    paper = begin_paper("EARLIER BATCHES", report.batch, now, head)
    paper.add(["", *list_report_lines(report)])
    return paper.text()
