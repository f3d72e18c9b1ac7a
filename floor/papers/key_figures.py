"""The key figures of ISO 22400-2 in words: value, or why there is none; formula, inputs, period and calendar."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from floor.batch.quality.time_elements import LeftOut, TimeElements
from floor.batch.state import Batch
from floor.figures.calendar import Calendar
from floor.figures.key_figures import (
    FIRST_PASS,
    KEY_FIGURES,
    Absence,
    Amount,
    Input,
    KeyFigure,
    Ratio,
    Unknown,
    compute_key_figure,
    compute_scrap_bound,
)
from floor.planning.pace import Part, RunTime, summarize_run_times
from floor.text import count_cells, cut, format_clock, format_count, format_span, wrap_text

NOT_KNOWN = "n/a"
"""No figure without data (ISO 22400-2's structure of a key figure)."""
PLAIN = 10.0
WIDE = 120
"""Columns from which formula and inputs stand beside each value."""
COLUMN = 36
WIDEST_NAME = 60
SLIM = 70
"""Columns under which the spread of times has no room."""
NAMES = max(len(one.name) for one in KEY_FIGURES) + 2

MEANINGS: dict[Input, str] = {
    Input.PQ: "produced quantity: pieces counted, each once; of a batch, also those lost without a count",
    Input.PQ_FIRST: "of the pieces counted in the period, those that the first operation has produced, whenever",
    Input.PQ_ENDED: "of them, those no longer in process",
    Input.GQ: "good quantity, pieces good after rework too; of a batch under way, good so far",
    Input.SQ: "scrap quantity; pieces regraded or returned are neither scrap nor good",
    Input.RQ: "rework quantity: pieces sent to rework at least once",
    Input.PSQ: "planned scrap quantity, by the yields of the checklist",
    Input.GP: "good parts: good at the first count, without rework",
    Input.IP: "inspected parts: pieces counted",
    Input.PRU: "planned run time of what was produced, by the checklist, without set-up",
    Input.PBT: "planned busy time: working hours from first start to last release at each station, added up, "
    "less time out of service with no load there",
    Input.AUBT: "actual busy time: working hours with a load there, and cycles outside them",
    Input.AUPT: "actual processing time: APT + ASUT",
    Input.APT: "actual production time: cycles without their stops; hand work by working hours, start to release",
    Input.ASUT: "actual setup time: start of the first run on a new set-up to that of its cycle, with loading",
    Input.ADET: "actual delay: stopped cycles and out of service during work, in working hours",
    Input.AOET: "order execution time from opening, nights and days off included",
    Input.APWT: "personnel work time: before, after and in attended cycles, in working hours",
    Input.APAT: "personnel attendance time",
}
WHY: dict[Absence, str] = {
    Absence.NOTHING: "is 0",
    Absence.NO_RUN: "needs a run with its start, end and release",
    Absence.NO_PLAN: "has no planned time in the checklist",
    Absence.NOT_SPLIT: "is not known: the checklist gives no share of rework",
    Absence.ATTENDANCE: "is not recorded",
    Absence.SETUP_IN_WORK: "is part of the hand work here",
    Absence.WHOLE_ORDER: "is of the whole batch only",
}
BEYOND: dict[Input, str] = {
    Input.PRU: "runs took less than the checklist's times: they are too long, or runs were entered afterwards",
    Input.PBT: "work was done outside shop hours",
}
"""Why a figure with this in it may be over 100 %, the first that fits."""
LEFT_OUT: dict[LeftOut, str] = {
    LeftOut.LATE: "entered late",
    LeftOut.UNDER_WAY: "still under way",
    LeftOut.NO_CYCLE: "without start or end",
}
PARTS: dict[Part, str] = {Part.CYCLE: "cycle", Part.HANDS: "by hand"}


def format_percent(ratio: float | Unknown | None) -> str:
    """``81.3 %``; of ten times as much as there can be, no decimals."""
    if not isinstance(ratio, float | int):
        return NOT_KNOWN
    return f"{100 * ratio:.0f} %" if ratio >= PLAIN else f"{100 * ratio:.1f} %"


def format_key_figure(figure: KeyFigure, amounts: Mapping[Input, Amount], *, estimate: bool = False) -> str:
    """``81.3 %``, ``12.50/h``, ``~97.0 %`` if it is an estimate, ``n/a``."""
    value = compute_key_figure(figure, amounts)
    if isinstance(value, Unknown):
        return NOT_KNOWN
    text = f"{3600 * value:.2f}/h" if figure.per_time else format_percent(value)
    return f"~{text}" if estimate and figure is FIRST_PASS else text


def say_why_not(value: Unknown) -> str:
    """``because PSQ is 0``."""
    return f"because {value.of} {WHY[value.why]}"


def format_amount(one: Input, amount: Amount, hours: bool = False) -> str:
    """``9.78333 min``, ``110``, ``n/a``: with the digits that give the figure shown; times in minutes or hours."""
    if isinstance(amount, Absence):
        return NOT_KNOWN
    if not one.is_time:
        return f"{amount:.6g}"
    return f"{amount / 3600:.6g} h" if hours else f"{amount / 60:.6g} min"


def format_inputs(figure: KeyFigure, amounts: Mapping[Input, Amount]) -> str:
    """The formula with its inputs in place of their symbols: ``40 min / (40 min + 15 min)``."""

    def say(ratio: Ratio) -> str:
        hours = figure.per_time
        below = " + ".join(format_amount(one, amounts.get(one, Absence.NOTHING), hours) for one in ratio.under)
        over = format_amount(ratio.over, amounts.get(ratio.over, Absence.NOTHING), hours)
        return f"{over} / {f'({below})' if len(ratio.under) > 1 else below}"

    return " x ".join(map(say, figure.ratios))


def list_scope_lines(elements: TimeElements, calendar: Calendar, what: str, now: datetime, width: int) -> list[str]:
    """Of what, for which period and by which hours the figures are; and the runs that are not in them."""
    hours = f"by shop hours in {calendar.zone if isinstance(calendar.zone, str) else 'the time zone of this computer'}"
    period = f"{format_clock(elements.start, now)} to {format_clock(elements.end, now)}"
    lines = wrap_text(f"{what}, {period}, {hours}; {format_count(elements.runs, 'run')}", "", "  ", width)
    gaps = [f"{many} {LEFT_OUT[why]}" for why, many in elements.left_out.items()]
    return [*lines, *(wrap_text(f"Left out: {', '.join(gaps)}", "", "  ", width) if gaps else [])]


def list_figure_lines(elements: TimeElements, width: int, figures: Sequence[KeyFigure] = KEY_FIGURES) -> list[str]:
    """Every figure with its value; those without one below, by reason. On wide screens with formula and inputs."""
    amounts, estimate = elements.amounts, not elements.identified
    values = [(one, format_key_figure(one, amounts, estimate=estimate)) for one in figures]
    if width >= WIDE:
        formulas = max(len(one.formula) for one in figures)
        rows = [
            cut(f"{one.name:<{NAMES}}{said:>9}   {one.formula:<{formulas}}   {format_inputs(one, amounts)}", width)
            for one, said in values
        ]
    else:
        rows = _set_in_columns([f"{one.name:<{NAMES}}{said:>9}" for one, said in values], width)
    notes = ["~ is an estimate: pieces are not told apart"] if estimate else []
    bound = compute_scrap_bound(amounts)
    if bound is not None:
        notes += wrap_text(
            f"No scrap so far: 95 % sure that the scrap ratio is at most {format_percent(bound)}", "", "  ", width
        )
    notes += wrap_text(_say_so_far(amounts), "", "  ", width)
    return [*rows, *_list_reasons(figures, amounts, width), *notes, *_list_beyond(figures, amounts, width)]


def _say_so_far(amounts: Mapping[Input, Amount]) -> str:
    """Of a batch under way: how many pieces may still be lost."""
    made, ended = amounts.get(Input.PQ, 0), amounts.get(Input.PQ_ENDED, Absence.WHOLE_ORDER)
    if isinstance(made, Absence) or isinstance(ended, Absence) or ended >= made:
        return ""
    counted = format_count(int(made), "piece")
    return f"So far: {made - ended:g} of {counted} counted are in process and may still be lost"


def _list_beyond(figures: Sequence[KeyFigure], amounts: Mapping[Input, Amount], width: int) -> list[str]:
    """Which figures are over 100 %, and what that may mean."""
    names: dict[str, list[str]] = {}
    for one in figures:
        value = compute_key_figure(one, amounts)
        why = next((why for symbol, why in BEYOND.items() if symbol in one.inputs), "")
        if why and not isinstance(value, Unknown) and value > 1:
            names.setdefault(why, []).append(one.name)
    said = (f"Over 100 %: {', '.join(some)}: {why}" for why, some in names.items())
    return [line for text in said for line in wrap_text(text, "", "  ", width)]


def _set_in_columns(cells: Sequence[str], width: int) -> list[str]:
    if width < 2 * COLUMN:
        return list(cells)
    rows = -(-len(cells) // 2)
    left, right = cells[:rows], [*cells[rows:], ""]
    return [
        f"{one + ' ' * (COLUMN - count_cells(one))}  {other}".rstrip() for one, other in zip(left, right, strict=False)
    ]


def _list_reasons(figures: Sequence[KeyFigure], amounts: Mapping[Input, Amount], width: int) -> list[str]:
    """``n/a: setup ratio, because …``, figures with the same reason together."""
    reasons: dict[Unknown, list[str]] = {}
    for figure in figures:
        value = compute_key_figure(figure, amounts)
        if isinstance(value, Unknown):
            reasons.setdefault(value, []).append(figure.name)
    return [
        line
        for value, names in reasons.items()
        for line in wrap_text(f"n/a: {', '.join(names)}, {say_why_not(value)}", "", "  ", width)
    ]


def list_formula_lines(
    elements: TimeElements, width: int, figures: Sequence[KeyFigure] = KEY_FIGURES, *, with_beyond: bool = True
) -> list[str]:
    """Every figure with formula and inputs, then what each symbol means here and how much it was.

    Args:
        with_beyond: name those over 100 %; not where `list_figure_lines` stands above and has.
    """
    lines = []
    for one in figures:
        said = format_key_figure(one, elements.amounts, estimate=not elements.identified)
        text = f"{one.name} {said} = {one.formula} = {format_inputs(one, elements.amounts)}"
        lines += wrap_text(text, "", "    ", width)
    lines += ["", *(_list_beyond(figures, elements.amounts, width) if with_beyond else [])]
    for symbol in dict.fromkeys(one for figure in figures for one in figure.inputs):
        amount = format_amount(symbol, elements.amounts.get(symbol, Absence.NOTHING))
        lines += wrap_text(f"{symbol} {amount}: {MEANINGS[symbol]}", "", "    ", width)
    return lines


def list_time_lines(batch: Batch, run_times: Sequence[RunTime], width: int) -> list[str]:
    """Planned against actual time of each operation, with its spread and how many runs it stands on."""
    plausible = [one for one in run_times if one.is_plausible]
    times, odd = summarize_run_times(plausible), len(run_times) - len(plausible)
    if not times:
        return wrap_text("No run has been timed yet: enter start, end and release as they happen", "", "  ", width)
    slim = width < SLIM
    head = f"{'planned':>8} {'took':>8}" + ("" if slim else f" {'middle half':>18}") + f" {'x plan':>6} {'runs':>4}"
    names = min(width - len(head) - 1, WIDEST_NAME)
    lines = [f"{'':{names}} {head}"]
    for one in times:
        name = cut(f"op {one.op} {PARTS[one.part]}: {batch.operation(one.op).title}", names)
        half = "" if slim else f" {format_span(one.lower) + ' to ' + format_span(one.upper):>18}"
        lines.append(
            f"{name}{' ' * (names - count_cells(name))} {format_span(one.planned):>8} {format_span(one.took):>8}"
            f"{half} {one.ratio:>6.2f} {one.runs:>4}"
        )
    note = "Medians; the middle half is from quartile to quartile, under 4 runs from least to most. Left out: rework, "
    if slim:
        note = "Medians; the spread is shown on a wider screen. Left out: rework, "
    note += "the hand work of first loads on a set-up, and cycles that ended while nobody was in"
    note += f"; and {odd} under a quarter or over four times the plan: entered later, it seems." if odd else "."
    return [*lines, "", *wrap_text(note, "", "  ", width)]
