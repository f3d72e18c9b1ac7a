"""Trials as lines for screen and paper, and as plain data: settings side by side, what can be told, the choice."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime
from typing import Any, NamedTuple

from floor.batch.state import Batch
from floor.batch.trial import Trial, TrialReading
from floor.batch.trials.compare import TrialStudy, study_trial
from floor.batch.trials.pieces import list_pieces_in_trial
from floor.entry import format_time
from floor.figures.quality.comparison import (
    Difference,
    Trend,
    estimate_pieces_each,
    estimate_pieces_each_of_shares,
)
from floor.figures.quality.factor_effects import Effect, FactorEffects, Interaction
from floor.figures.quality.intervals import Interval
from floor.figures.quality.missing import Missing
from floor.text import capitalize_first, count_cells, cut, format_clock, format_count, pad, wrap_text
from floor.text_charts import draw_interval

NO_TRIAL = "No trial yet: a plans one"
WIDEST_NAME = 24
MOST_DIFFERENCES = 10
"""Comparisons that are spelled out, those that are shown first."""
SHOWN, OPEN = "✓ ", "· "
NOTE = "So many pieces show it 4 times in 5; nothing shown does not mean that there is no difference."
NOTHING = "-"
WHY_NO_INTERVAL = {Missing.EMPTY: "no result yet", Missing.TOO_FEW: "one value", Missing.CONSTANT: "all the same"}


class _Row(NamedTuple):
    """What a setting gave."""

    values: int
    middle: float | None
    """Its mean, or its share good; None without a result."""
    interval: Interval | Missing


def list_trial_lines(batch: Batch, trial: Trial, now: datetime, width: int) -> list[str]:
    """The question, a table with intervals, what the results tell and what not, pieces, the choice."""
    study = study_trial(trial)
    lines = wrap_text(f"Trial {trial.number}: {trial.question}", "", "  ", width)
    lines += wrap_text(_say_plan(batch, trial, now), "", "  ", width)
    lines += ["", *_list_table(study, width), ""]
    for sign, said in _list_verdicts(study):
        lines += wrap_text(said, sign, None, width)
    if trial.used or trial.each:
        lines += wrap_text(_say_pieces(batch, trial), OPEN, None, width)
    if trial.each and (without := _say_results_without_pieces(trial)):
        lines += wrap_text(without, OPEN, None, width)
    lines += [line for said in _list_sources(trial) for line in wrap_text(said, OPEN, None, width)]
    return [*lines, "", *_list_choice(trial, now, width)]


def _say_plan(batch: Batch, trial: Trial, now: datetime) -> str:
    where = f"Op {trial.op} {batch.operation(trial.op).title}. " if trial.op else ""
    unit = f" in {trial.unit}" if trial.unit else f", {trial.response}" if trial.response != "number" else ""
    worth = ""
    if trial.worth is not None:
        least = f"{trial.worth:.4g} {trial.unit}" if trial.response == "number" else f"{100 * trial.worth:.0f} %"
        worth = f" A difference of {least} matters."
    each = f"{format_count(trial.each, 'piece')} per setting." if trial.each else "It uses no pieces."
    factors = f"Factor{'s' * (len(trial.factors) > 1)}: {' and '.join(name for name, _ in trial.factors)}"
    planned = f"{each} Planned by {trial.by}, {format_clock(trial.at, now)}."
    return f"{where}{factors}. Result: {trial.characteristic}{unit}.{worth} {planned}"


def _list_table(study: TrialStudy, width: int) -> list[str]:
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
        said = _format(study, row.middle) if study.numbers is not None else share
    return str(row.values), said, _say_interval(study, row.interval)


def _say_interval(study: TrialStudy, interval: Interval | Missing) -> str:
    if isinstance(interval, Missing):
        return WHY_NO_INTERVAL.get(interval, NOTHING)
    if study.numbers is None:
        return f"{100 * interval.low:.0f} to {100 * interval.high:.0f} %"
    return f"{_format(study, interval.low)} to {_format(study, interval.high)}"


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
    """The ends of the scale, below the drawing."""
    if high <= low:
        return []
    first, last = (_format(study, low), _format(study, high)) if study.numbers else ("0 %", "100 %")
    return [" " * left + first + " " * max(width - left - len(first) - len(last), 1) + last]


def _count_decimals(study: TrialStudy) -> int | None:
    """Two figures of the narrowest interval, so that all numbers of a trial stand below each other; None if none."""
    settings = study.numbers.settings if study.numbers is not None else ()
    halves = [(one.interval.high - one.interval.low) / 2 for one in settings if isinstance(one.interval, Interval)]
    least = min((half for half in halves if half > 0), default=0.0)
    return max(1 - math.floor(math.log10(least)), 0) if 1e-6 < least < 1e6 else None


def _format(study: TrialStudy, value: float) -> str:
    decimals = _count_decimals(study)
    return f"{value:.4g}" if decimals is None or abs(value) >= 1e9 else f"{value:.{decimals}f}"


def _join(cells: Sequence[str], widths: Sequence[int]) -> str:
    """The name on the left, figures on the right of their columns."""
    first, *others = cells
    parts = [pad(first, widths[0]), *(f"{text:>{room}}" for text, room in zip(others, widths[1:], strict=True))]
    return "  ".join(parts) + "  "


def _list_verdicts(study: TrialStudy) -> list[tuple[str, str]]:
    """What the results tell and what not, with the sign of each."""
    trial = study.trial
    if trial.response == "words":
        return [(OPEN, "Words are set side by side and not tested; a number or good and bad can be.")]
    if not trial.readings:
        why = "tried one after the other, a drift in the meantime looks like a difference of settings"
        return [(OPEN, f"No result yet. Try each setting once before any of them twice: {why}.")]
    if not study.differences:
        return [(OPEN, "Cannot tell: only one setting has results.")]
    told = [] if study.factors is None else _tell_effects(study, study.factors)
    if study.factors is None or _must_compare_settings(study.factors):
        told += _tell_all(_compare_settings(study), study)
    if study.numbers is not None and isinstance(study.numbers.trend, Trend):
        told.append(_tell_trend(study, study.numbers.trend))
    lines = [(SHOWN if one.shown else OPEN, one.said) for one in told]
    return [*lines, (OPEN, NOTE)] if any(one.estimated for one in told) else lines


class _Told(NamedTuple):
    """A sentence about the results."""

    shown: bool
    """Whether it says that something is shown."""
    said: str
    estimated: bool = False
    """Whether it says how many pieces would show it."""


class _Family(NamedTuple):
    """Settings that are compared with each other: those of the trial, or of one of its factors."""

    names: Sequence[str]
    values: Sequence[tuple[int, int]]
    """(good, all) of each; of numbers, all of them are good."""
    differences: Sequence[Difference]
    deviation: float | Missing
    tries: int


def _compare_settings(study: TrialStudy) -> _Family:
    trial, numbers = study.trial, study.numbers
    if numbers is not None:
        values = [(one.about.count, one.about.count) for one in numbers.settings]
        return _Family(trial.settings, values, numbers.differences, numbers.deviation, numbers.tries)
    values = [trial.count_good(n) for n in range(1, len(trial.settings) + 1)]
    return _Family(trial.settings, values, study.differences, Missing.NO_LIMIT, len(study.differences))


def _compare_factor(study: TrialStudy, found: FactorEffects, effect: Effect, factor: int) -> _Family:
    trial = study.trial
    name, settings = trial.factors[factor]
    values = [(many, many) for many in effect.counts]
    if study.shares is not None:
        counts = [trial.count_good(n) for n in range(1, len(trial.settings) + 1)]
        many = len(trial.factors[1][1])
        rows = [counts[n * many : (n + 1) * many] if factor == 0 else counts[n::many] for n in range(len(settings))]
        values = [(sum(good for good, _ in row), sum(pieces for _, pieces in row)) for row in rows]
    return _Family([f"{name} {one}" for one in settings], values, effect.differences, found.deviation, found.tries)


def _must_compare_settings(found: FactorEffects) -> bool:
    """Whether what a factor does cannot be told for all settings of the other at once."""
    joint = found.interaction
    return isinstance(found.effects, Missing) or (isinstance(joint, Interaction) and joint.shown)


def _tell_effects(study: TrialStudy, found: FactorEffects) -> list[_Told]:
    """What each of two factors does, over all settings of the other; nothing of it where one depends on the other."""
    (first, _), (second, _) = study.trial.factors
    if isinstance(found.effects, Missing):
        why = f"{first} and {second} were only changed together: nobody can tell which did it"
        return [_Told(False, f"{why}. Try the settings that are missing.")]
    joint = found.interaction
    if isinstance(joint, Interaction) and joint.shown:
        chance = _say_chance(joint.adjusted, found.tries)
        return [_Told(True, f"What {first} does depends on {second}: {chance}. So setting by setting:")]
    families = [_compare_factor(study, found, effect, factor) for factor, effect in enumerate(found.effects)]
    told = [one for family in families for one in _tell_all(family, study)]
    return [*told, _Told(False, f"Each over all settings of the other. {_say_joint(found, first, second)}")]


def _say_joint(found: FactorEffects, first: str, second: str) -> str:
    what, joint = f"what {first} does depends on {second}", found.interaction
    if isinstance(joint, Interaction):
        return f"That {what} is not shown (p {joint.adjusted:.2g})."
    why = {
        Missing.EMPTY: "it takes results of every setting",
        Missing.TOO_FEW: "it takes a setting with two values",
        Missing.NO_LIMIT: "it takes a number as the result",
    }
    return f"Whether {what} is not tested: {why.get(joint, 'it takes numbers that differ')}."


def _tell_all(family: _Family, study: TrialStudy) -> list[_Told]:
    """Its comparisons, those that are shown first."""
    ranked = sorted(family.differences, key=lambda one: (not one.shown, 2.0 if isinstance(one.p, Missing) else one.p))
    tell = _tell_means if study.numbers is not None else _tell_shares
    told = [tell(study, family, one) for one in ranked[:MOST_DIFFERENCES]]
    if rest := ranked[MOST_DIFFERENCES:]:
        shown = sum(one.shown for one in rest)
        told.append(_Told(False, f"{len(rest)} more comparisons; shown are {shown or 'none'} of them."))
    return told


def _tell_trend(study: TrialStudy, trend: Trend) -> _Told:
    factor, what = study.trial.factors[0][0], study.trial.characteristic
    assert study.numbers is not None
    if not trend.shown:
        return _Told(False, f"No trend of {what} with {factor} is shown.")
    way, chance = "rises" if trend.rising else "falls", _say_chance(trend.adjusted, study.numbers.tries)
    return _Told(True, f"{capitalize_first(what)} {way} with {factor}: {chance}.")


def _say_chance(adjusted: float, tries: int) -> str:
    chance = f"p {adjusted:.2g}" if adjusted >= 0.001 else "p below 0.001"
    return f"unlikely by chance ({chance} after {format_count(tries, 'comparison')})"


def _tell_means(study: TrialStudy, family: _Family, one: Difference) -> _Told:
    low, high = (one.first, one.second) if one.difference >= 0 else (one.second, one.first)
    names, apart = (family.names[high], family.names[low]), abs(one.difference)
    by = f"{_format(study, apart)} {study.trial.unit}".strip()
    both = f"{names[0]} and {names[1]}"
    if one.adjusted is Missing.TOO_FEW:
        return _Told(False, f"{both}: cannot tell from a single value; two or more of each give an interval.")
    if not isinstance(one.interval, Interval) and not apart:
        return _Told(False, f"{both}: every value is the same; no difference, and no spread to judge by.")
    span = "every time"
    if isinstance(one.interval, Interval):
        ends = (one.interval.low, one.interval.high)
        least, most = ends if one.difference >= 0 else (-ends[1], -ends[0])
        span = f"{_format(study, least)} to {_format(study, most)}"
    if one.shown and not isinstance(one.adjusted, Missing):
        by += f" ({span})" if isinstance(one.interval, Interval) else f", {span}"
        return _Told(True, f"{names[0]} above {names[1]} by {by}: {_say_chance(one.adjusted, family.tries)}.")
    if not isinstance(one.interval, Interval):
        return _Told(False, f"{names[0]} above {names[1]} by {by}, every time, but too few values to tell.")
    counts = [family.values[n][1] for n in (high, low)]
    values = f"{counts[0]} values each" if counts[0] == counts[1] else f"{counts[0]} and {counts[1]} values"
    each, what = _estimate_values(study.trial, family, apart)
    said = f"{both}: cannot tell from {values}. Measured apart {by}, possible {span}; {_say_each(each, 'value', what)}."
    return _Told(False, said, isinstance(each, int))


def _estimate_values(trial: Trial, family: _Family, apart: float) -> tuple[int | Missing, str]:
    """How many values would show the difference that matters, or else the one that was measured; and what that is."""
    wanted = trial.worth or apart
    what = f"a difference of {wanted:.4g} {trial.unit}" if trial.worth else "such a difference"
    if isinstance(family.deviation, Missing) or not wanted:
        return Missing.EMPTY, what
    return estimate_pieces_each(family.deviation, wanted, family.tries), what


def _say_each(each: int | Missing, noun: str, what: str) -> str:
    if each is Missing.EMPTY:
        return "nothing tells how many would show one"
    if isinstance(each, Missing):
        return f"no practical number of {noun}s would show {what}"
    return f"about {format_count(each, noun)} each would show {what}"


def _tell_shares(study: TrialStudy, family: _Family, one: Difference) -> _Told:
    low, high = (one.first, one.second) if one.difference >= 0 else (one.second, one.first)
    counts = [family.values[n] for n in (high, low)]
    good, less = (f"{many} of {pieces}" for many, pieces in counts)
    names = (family.names[high], family.names[low])
    if isinstance(one.adjusted, Missing):
        return _Told(False, f"{names[0]} and {names[1]}: cannot tell, as no setting of the other factor has both.")
    if one.shown:
        chance = _say_chance(one.adjusted, family.tries)
        return _Told(True, f"{names[0]} better than {names[1]}, {good} good against {less}: {chance}.")
    better, worse = (many / pieces for many, pieces in counts)
    worth, what = study.trial.worth, "such a difference"
    if worth is not None:
        middle = min(max((better + worse) / 2, worth / 2), 1 - worth / 2)
        better, worse = middle + worth / 2, middle - worth / 2
        what = f"a difference of {100 * worth:.0f} %"
    said = f"{names[0]} and {names[1]}: cannot tell from {good} good against {less}"
    if better == worse:
        return _Told(False, f"{said}.")
    each = estimate_pieces_each_of_shares(better, worse, family.tries)
    return _Told(False, f"{said}; {_say_each(each, 'piece', what)}.", isinstance(each, int))


def _say_pieces(batch: Batch, trial: Trial) -> str:
    used, out = len(trial.used), len(list_pieces_in_trial(batch, trial))
    planned = trial.each * len(trial.settings)
    if not used:
        return f"No piece of the batch used so far; {planned} planned."
    back = f", {used - out} of them back in process" if used > out else ""
    count = f"{format_count(used, 'piece')} of the batch used{back}; {planned} planned."
    return f"{count} Those out of process count neither as good nor as scrap."


def _say_results_without_pieces(trial: Trial) -> str:
    """Settings that have results, but no piece on record: ``No piece used yet, but results: 0.15.``"""
    used = {setting for setting, _ in trial.used.values()}
    bare = [trial.name_setting(n) for n in sorted({one.setting for one in trial.readings} - used)]
    return f"No piece used yet, though results are entered: {'; '.join(bare)}." if bare else ""


def _list_sources(trial: Trial) -> list[str]:
    """Where results came from that nobody typed."""
    return [
        f"{trial.name_setting(one.setting)}: {_format_reading(trial, one)} from {describe_source(one)}"
        for one in trial.readings
        if one.source
    ]


def describe_source(one: TrialReading) -> str:
    """``run1.csv, each row, 2 rows without a number``."""
    empty = f", {format_count(one.left_out, 'row')} without a number" if one.left_out else ""
    return one.source + empty


def _format_reading(trial: Trial, one: TrialReading) -> str:
    if len(one.values) > 1:
        return format_count(len(one.values), "value")
    return f"{one.values[0]:.4g} {trial.unit}".strip()


def _list_choice(trial: Trial, now: datetime, width: int) -> list[str]:
    if trial.choice is None:
        return ["No choice yet."]
    choice = trial.choice
    name = trial.name_setting(choice.setting)
    said = f"Chosen by {choice.by}, {format_clock(choice.at, now)}: {name}. Reason: {choice.reason}"
    lines = wrap_text(said, "", "  ", width)
    return lines + (wrap_text(f"Offered to the checklist: {choice.offer}", "", "  ", width) if choice.offer else [])


def list_all_trial_lines(batch: Batch, now: datetime, width: int) -> list[str]:
    """All trials of a batch, one below the other."""
    lines: list[str] = []
    for trial in batch.trials.values():
        lines += [""] * bool(lines) + list_trial_lines(batch, trial, now, width)
    return lines


def export_trials(batch: Batch) -> list[dict[str, Any]]:
    """The same as plain data; what cannot be told is null."""
    return [_export_trial(batch, trial) for trial in batch.trials.values()]


def _export_trial(batch: Batch, trial: Trial) -> dict[str, Any]:
    study, choice = study_trial(trial), trial.choice
    trend = study.numbers.trend if study.numbers else Missing.NO_LIMIT
    return {
        "trial": trial.number,
        "question": trial.question,
        "op": trial.op or None,
        "factors": [{"name": name, "settings": list(settings)} for name, settings in trial.factors],
        "response": trial.response,
        "characteristic": trial.characteristic,
        "unit": trial.unit or None,
        "pieces_each": trial.each,
        "worth": trial.worth,
        "settings": [_export_setting(batch, study, n) for n in range(1, len(trial.settings) + 1)],
        "differences": [_export_difference(one, trial.settings) for one in study.differences],
        "effects": _export_effects(study),
        "interaction": _export_interaction(study),
        "trend": {"rising": trend.rising, "adjusted_p": trend.adjusted, "shown": trend.shown}
        if isinstance(trend, Trend)
        else None,
        "choice": {
            "setting": trial.name_setting(choice.setting) if choice.setting else None,
            "reason": choice.reason,
            "offered": choice.offer or None,
            "by": choice.by,
            "at": format_time(choice.at),
        }
        if choice is not None
        else None,
    }


def _export_difference(one: Difference, names: Sequence[str]) -> dict[str, Any]:
    return {
        "first": names[one.first],
        "second": names[one.second],
        "difference": one.difference,
        **_export_interval(one.interval),
        "p": None if isinstance(one.p, Missing) else one.p,
        "adjusted_p": None if isinstance(one.adjusted, Missing) else one.adjusted,
        "shown": one.shown,
    }


def _export_effects(study: TrialStudy) -> list[dict[str, Any]]:
    """Of each of two factors, where they can be told apart."""
    if study.factors is None or isinstance(study.factors.effects, Missing):
        return []
    return [
        {"factor": name, **_export_difference(one, settings)}
        for (name, settings), effect in zip(study.trial.factors, study.factors.effects, strict=True)
        for one in effect.differences
    ]


def _export_interaction(study: TrialStudy) -> dict[str, Any] | None:
    found = study.factors.interaction if study.factors is not None else Missing.NO_LIMIT
    if isinstance(found, Missing):
        return None
    return {"p": found.p, "adjusted_p": found.adjusted, "shown": found.shown}


def _export_interval(interval: Interval | Missing) -> dict[str, float | None]:
    if isinstance(interval, Missing):
        return {"low": None, "high": None}
    return {"low": interval.low, "high": interval.high}


def _export_setting(batch: Batch, study: TrialStudy, n: int) -> dict[str, Any]:
    trial = study.trial
    used = [piece for piece, (setting, _) in trial.used.items() if setting == n]
    found: dict[str, Any] = {
        "setting": trial.settings[n - 1],
        "pieces_used": len(used),
        "pieces_out": len(list_pieces_in_trial(batch, trial, n)),
        "seen": trial.list_seen(n),
    }
    if study.numbers is not None:
        one = study.numbers.settings[n - 1]
        mean, deviation = one.about.mean, one.about.deviation
        found |= {
            "values": trial.list_values(n),
            "mean": None if isinstance(mean, Missing) else mean,
            "deviation": None if isinstance(deviation, Missing) else deviation,
            **_export_interval(one.interval),
        }
    if study.shares is not None:
        good, pieces = trial.count_good(n)
        found |= {"good": good, "pieces": pieces, **_export_interval(study.shares.settings[n - 1])}
    return found
