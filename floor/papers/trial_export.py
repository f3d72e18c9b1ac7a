"""Trials as plain data; what cannot be told is null."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from floor.batch.state import Batch
from floor.batch.trial import Trial
from floor.batch.trials.compare import TrialStudy, study_trial
from floor.batch.trials.pieces import list_pieces_in_trial
from floor.entry import format_time
from floor.figures.quality.comparison import Difference, Trend
from floor.figures.quality.intervals import Interval
from floor.figures.quality.missing import Missing


def export_trials(batch: Batch) -> list[dict[str, Any]]:
    """Of each trial the plan, what each setting gave, what is told by it, and the choice."""
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
