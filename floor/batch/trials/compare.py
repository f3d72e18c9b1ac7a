"""What the results of a trial tell: its settings side by side."""

from __future__ import annotations

import re

from floor.batch.trial import Trial
from floor.dataclass import dataclass
from floor.figures.quality.comparison import Comparison, Difference, Shares, compare_numbers, compare_shares

_LEVEL = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*(.*)", re.ASCII)


@dataclass(frozen=True, slots=True)
class TrialStudy:
    """A trial with what can be computed of it; nothing of words."""

    trial: Trial
    numbers: Comparison | None = None
    shares: Shares | None = None

    @property
    def differences(self) -> tuple[Difference, ...]:
        found = self.numbers or self.shares
        return found.differences if found is not None else ()


def study_trial(trial: Trial) -> TrialStudy:
    """Compare the settings by all results so far."""
    settings = range(1, len(trial.settings) + 1)
    if trial.response == "number":
        samples = [trial.list_values(one) for one in settings]
        return TrialStudy(trial, numbers=compare_numbers(samples, find_levels(trial)))
    if trial.response == "good or bad":
        return TrialStudy(trial, shares=compare_shares([trial.count_good(one) for one in settings]))
    return TrialStudy(trial)


def find_levels(trial: Trial) -> list[float] | None:
    """The settings as numbers, where one thing is varied and each setting is a number in the same unit."""
    read = [_LEVEL.fullmatch(one) for one in trial.settings] if len(trial.factors) == 1 else [None]
    found = [one for one in read if one is not None]
    if len(found) < len(read) or len({one[2] for one in found}) > 1:
        return None
    return [float(one[1].replace(",", ".")) for one in found]
