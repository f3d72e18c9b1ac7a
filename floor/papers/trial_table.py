"""The settings of a trial side by side: how many values, their middle, its interval as figures and drawn."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from floor.batch.trials.compare import TrialStudy
from floor.figures.quality.intervals import Interval
from floor.figures.quality.missing import Missing
from floor.text import count_cells, cut, pad, wrap_text
from floor.text_charts import draw_interval

WIDEST_NAME = 24
NOTHING = "-"
WHY_NO_INTERVAL = {Missing.EMPTY: "no result yet", Missing.TOO_FEW: "one value", Missing.CONSTANT: "all the same"}


class _Row(NamedTuple):
    """What a setting gave."""

    values: int
    middle: float | None
    """Its mean, or its share good; None without a result."""
    interval: Interval | Missing


def list_table(study: TrialStudy, width: int) -> list[str]:
    trial = study.trial
    names = [cut(name, WIDEST_NAME) for name in trial.settings]
    if trial.response == "words":
        room = max(map(count_cells, names))
        said = ["; ".join(trial.list_seen(n)) or "nothing entered yet" for n in range(1, len(names) + 1)]
        told = [wrap_text(words, f"{pad(name, room)}  ", None, width) for name, words in zip(names, said, strict=True)]
        return [line for lines in told for line in lines]
    rows = _list_rows(study)
    head = ("setting", "n", "mean" if study.numbers else "good", "95 % interval")
    cells = [(name, *_say_row(study, row)) for name, row in zip(names, rows, strict=True)]
    widths = [max(count_cells(row[n]) for row in [head, *cells]) for n in range(4)]
    left = sum(widths) + 2 * len(widths)
    low, high = _find_scale(study, rows)
    drawn = [_draw_row(row, low, high, width - left) for row in rows]
    lines = [(_join(cell, widths) + one).rstrip() for cell, one in zip(cells, drawn, strict=True)]
    return [_join(head, widths).rstrip(), *lines, *_list_scale(study, low, high, left, width)]


def _list_rows(study: TrialStudy) -> list[_Row]:
    if study.numbers is not None:
        return [
            _Row(one.about.count, None if isinstance(one.about.mean, Missing) else one.about.mean, one.interval)
            for one in study.numbers.settings
        ]
    assert study.shares is not None, "words have no table"
    counts = [study.trial.count_good(n) for n in range(1, len(study.shares.settings) + 1)]
    return [
        _Row(pieces, good / pieces if pieces else None, interval)
        for (good, pieces), interval in zip(counts, study.shares.settings, strict=True)
    ]


def _say_row(study: TrialStudy, row: _Row) -> tuple[str, str, str]:
    """How many, the middle, the interval."""
    said = NOTHING
    if row.middle is not None:
        share = f"{round(row.middle * row.values)} ({100 * row.middle:.0f} %)"
        said = format_value(study, row.middle) if study.numbers is not None else share
    return str(row.values), said, _say_interval(study, row.interval)


def _say_interval(study: TrialStudy, interval: Interval | Missing) -> str:
    if isinstance(interval, Missing):
        return WHY_NO_INTERVAL.get(interval, NOTHING)
    if study.numbers is None:
        return f"{100 * interval.low:.0f} to {100 * interval.high:.0f} %"
    return f"{format_value(study, interval.low)} to {format_value(study, interval.high)}"


def _find_scale(study: TrialStudy, rows: Sequence[_Row]) -> tuple[float, float]:
    if study.numbers is None:
        return 0.0, 1.0
    ends = [end for row in rows for end in (*(_find_ends(row) or ()), row.middle) if end is not None]
    return min(ends, default=0.0), max(ends, default=0.0)


def _find_ends(row: _Row) -> tuple[float, float] | None:
    return (row.interval.low, row.interval.high) if isinstance(row.interval, Interval) else None


def _draw_row(row: _Row, low: float, high: float, room: int) -> str:
    return draw_interval(row.middle, _find_ends(row), low, high, room) if row.middle is not None else ""


def _list_scale(study: TrialStudy, low: float, high: float, left: int, width: int) -> list[str]:
    """The ends of the scale, below the drawing; none where they have no room."""
    first, last = (format_value(study, low), format_value(study, high)) if study.numbers else ("0 %", "100 %")
    between = width - left - len(first) - len(last)
    return [" " * left + first + " " * between + last] if high > low and between > 0 else []


def _count_decimals(study: TrialStudy) -> int | None:
    """Two figures of the narrowest interval, so that all numbers of a trial stand below each other; None if none."""
    assert study.numbers is not None, "shares and words have none"
    found = [one.interval for one in study.numbers.settings]
    least = min(((one.high - one.low) / 2 for one in found if isinstance(one, Interval)), default=0.0)
    return max(1 - math.floor(math.log10(least)), 0) if 1e-6 < least < 1e6 else None


def format_value(study: TrialStudy, value: float) -> str:
    decimals = _count_decimals(study)
    return f"{value:.4g}" if decimals is None or abs(value) >= 1e9 else f"{value:.{decimals}f}"


def _join(cells: Sequence[str], widths: Sequence[int]) -> str:
    """The name on the left, figures on the right of their columns."""
    first, *others = cells
    parts = [pad(first, widths[0]), *(f"{text:>{room}}" for text, room in zip(others, widths[1:], strict=True))]
    return "  ".join(parts) + "  "
