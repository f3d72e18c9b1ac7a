"""What the results of a trial tell, what they do not, and how many pieces would tell it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from floor.batch.trial import Trial
from floor.batch.trials.compare import TrialStudy
from floor.figures.quality.comparison import (
    Difference,
    Trend,
    estimate_pieces_each,
    estimate_pieces_each_of_shares,
)
from floor.figures.quality.factor_effects import Effect, FactorEffects, Interaction
from floor.figures.quality.intervals import Interval
from floor.figures.quality.missing import Missing
from floor.papers.trial_table import format_value
from floor.text import capitalize_first, format_count

MOST_DIFFERENCES = 10
"""Comparisons that are spelled out, those that are shown first."""
SHOWN, OPEN = "✓ ", "· "
NOTE = "So many pieces show it 4 times in 5; nothing shown does not mean that there is no difference."


def list_verdicts(study: TrialStudy) -> list[tuple[str, str]]:
    """What the results tell and what not, with the sign of each."""
    trial = study.trial
    if trial.response == "words":
        return [(OPEN, "Remarks are listed side by side, not tested; numbers, or good and bad, can be tested.")]
    if not trial.readings:
        why = "run one after the other, a drift looks like a difference between settings"
        return [(OPEN, f"No result yet. Try every setting once before any twice: {why}.")]
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
        why = f"{first} and {second} were only changed together, so their effects cannot be told apart"
        return [_Told(False, f"{why}. Try the missing settings.")]
    joint = found.interaction
    if isinstance(joint, Interaction) and joint.shown:
        chance = _say_chance(joint.adjusted, found.tries)
        return [_Told(True, f"The effect of {first} depends on {second}: {chance}. So, setting by setting:")]
    families = [_compare_factor(study, found, effect, factor) for factor, effect in enumerate(found.effects)]
    told = [one for family in families for one in _tell_all(family, study)]
    return [*told, _Told(False, f"Each is compared over all settings of the other. {_say_joint(found, first, second)}")]


def _say_joint(found: FactorEffects, first: str, second: str) -> str:
    what, joint = f"the effect of {first} depends on {second}", found.interaction
    if isinstance(joint, Interaction):
        return f"Not shown: that {what} (p {joint.adjusted:.2g})."
    why = {
        Missing.EMPTY: "that needs results at every setting",
        Missing.TOO_FEW: "that needs a setting with two values",
        Missing.NO_LIMIT: "that needs a number as the result",
    }
    return f"Not tested: whether {what}; {why.get(joint, 'that needs numbers that differ')}."


def _tell_all(family: _Family, study: TrialStudy) -> list[_Told]:
    """Its comparisons, those that are shown first."""
    ranked = sorted(family.differences, key=lambda one: (not one.shown, 2.0 if isinstance(one.p, Missing) else one.p))
    tell = _tell_means if study.numbers is not None else _tell_shares
    told = [tell(study, family, one) for one in ranked[:MOST_DIFFERENCES]]
    if rest := ranked[MOST_DIFFERENCES:]:
        shown = sum(one.shown for one in rest)
        told.append(_Told(False, f"{len(rest)} more comparisons; {shown or 'none'} of them shown."))
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
    by = f"{format_value(study, apart)} {study.trial.unit}".strip()
    both = f"{names[0]} and {names[1]}"
    if one.adjusted is Missing.TOO_FEW:
        return _Told(False, f"{both}: cannot tell from a single value; two or more of each give an interval.")
    if not isinstance(one.interval, Interval) and not apart:
        return _Told(False, f"{both}: every value is the same; no difference, and no spread to judge by.")
    span = "every time"
    if isinstance(one.interval, Interval):
        ends = (one.interval.low, one.interval.high)
        least, most = ends if one.difference >= 0 else (-ends[1], -ends[0])
        span = f"{format_value(study, least)} to {format_value(study, most)}"
    if one.shown and not isinstance(one.adjusted, Missing):
        by += f" ({span})" if isinstance(one.interval, Interval) else f", {span}"
        return _Told(True, f"{names[0]} above {names[1]} by {by}: {_say_chance(one.adjusted, family.tries)}.")
    if not isinstance(one.interval, Interval):
        return _Told(False, f"{names[0]} above {names[1]} by {by}, every time, but too few values to tell.")
    counts = [family.values[n][1] for n in (high, low)]
    values = f"{counts[0]} values each" if counts[0] == counts[1] else f"{counts[0]} and {counts[1]} values"
    each, what = _estimate_values(study.trial, family, apart)
    said = f"{both}: cannot tell from {values}. Measured difference {by}, possible {span}; "
    said += f"{_say_each(each, 'value', what)}."
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
        return "how many would show one is not known"
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
