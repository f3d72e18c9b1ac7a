"""What the results of a trial tell: its settings side by side."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TypeVar

from floor.batch.trial import Trial
from floor.dataclass import dataclass
from floor.figures.quality.comparison import Comparison, Difference, Shares, compare_numbers, compare_shares
from floor.figures.quality.factor_effects import FactorEffects, compare_factor_shares, compare_factors

T = TypeVar("T")
_LEVEL = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*(.*)", re.ASCII)


@dataclass(frozen=True, slots=True)
class TrialStudy:
    """A trial with what can be computed of it; nothing of words."""

    trial: Trial
    numbers: Comparison | None = None
    shares: Shares | None = None
    factors: FactorEffects | None = None
    """What each of two factors does; None of one."""

    @property
    def differences(self) -> tuple[Difference, ...]:
        found = self.numbers or self.shares
        return found.differences if found is not None else ()


def study_trial(trial: Trial) -> TrialStudy:
    """Compare the settings by all results so far."""
    settings, two = range(1, len(trial.settings) + 1), len(trial.factors) == 2
    if trial.response == "number":
        samples = [trial.list_values(one) for one in settings]
        numbers = compare_numbers(samples, find_levels(trial))
        return TrialStudy(trial, numbers=numbers, factors=compare_factors(_fold(trial, samples)) if two else None)
    if trial.response == "good or bad":
        counts = [trial.count_good(one) for one in settings]
        factors = compare_factor_shares(_fold(trial, counts)) if two else None
        return TrialStudy(trial, shares=compare_shares(counts), factors=factors)
    return TrialStudy(trial)


def _fold(trial: Trial, found: Sequence[T]) -> list[Sequence[T]]:
    """What the settings gave, by the setting of the first factor, then of the second."""
    many = len(trial.factors[1][1])
    return [found[start : start + many] for start in range(0, len(found), many)]


def find_levels(trial: Trial) -> list[float] | None:
    """The settings as numbers, where one thing is varied and each setting is a number in the same unit."""
    read = [_LEVEL.fullmatch(one) for one in trial.settings] if len(trial.factors) == 1 else [None]
    found = [one for one in read if one is not None]
    if len(found) < len(read) or len({one[2] for one in found}) > 1:
        return None
    return [float(one[1].replace(",", ".")) for one in found]
