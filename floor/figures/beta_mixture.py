"""The chance to leave an operation with rework good, as a mixture of a few Betas.

That chance is θ = 1 − (1 − y)(1 − c·q) with three Beta variables: y good at the first pass, c share of rejects sent to
rework, q share of those saved. In most batches little is known about q, and then θ has two peaks: rework works or it
does not. One Beta cannot have two peaks, so the distribution of θ is cut into slices of equal chance, and each becomes
a Beta of the same mean and variance.

No sampling, no integrals: a Beta variable is a mixture of narrower ones, one for each number good out of so many
imagined pieces. What pieces already in rework will show about q is kept the same way, with the pieces themselves
instead of imagined ones.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from operator import itemgetter

from floor.dataclass import dataclass
from floor.figures.distributions import beta_binomial_pmf
from floor.figures.yields import Beta, OperationBelief

Mixture = Sequence[tuple[float, Beta]]
"""(chance, Beta) pairs; the chances sum to one."""

MOST_SLICES = 12
"""More slices at one operation change no chance by 0.01."""

_TOGETHER = 30.3
"""Slices over all operations, roughly. Not a whole number, so identical operations never tie in rounding."""

_GROUPS = 8
"""Most cases kept of how many pieces already in rework come back."""

_IMAGINED = 24
_FINE = 48
_NEGLIGIBLE = 1e-10

_Atom = tuple[float, float, float]
"""A chance, and mean and mean square of a share in that case."""


@dataclass(frozen=True, slots=True)
class ReworkCase:
    """One case of how many of those already in rework come back good."""

    chance: float
    back: tuple[int, list[float]]
    """Chances of the smallest number that comes back, and of each one above it."""
    good: Mixture
    """The chance of any other piece to leave good, in this case."""


def match_moments(belief: OperationBelief) -> Beta:
    """The chance to leave an operation good, rework included, as one Beta of the same mean and variance."""
    again, saved = belief.reworkable, belief.saved
    if again is None or saved is None:
        return belief.first
    stuck = 1 - again.mean * saved.mean
    stuck_square = 1 - 2 * again.mean * saved.mean + again.mean_square * saved.mean_square
    lost = belief.first.complement
    return _matched(lost.mean * stuck, lost.mean_square * stuck_square).complement


def choose_slice_counts(spreads: Sequence[float]) -> list[int]:
    """How many slices each operation gets, given what the doubt about it does to the good count.

    Args:
        spreads: Deviation of the good count due to each operation's yield alone, up to a factor.
    """
    whole = math.fsum(spreads)
    # A barely known operation may hold nearly all the spread in its tail while another decides the likely outcome.
    least = max(1, int(_TOGETHER / max(1, len(spreads))))
    return [min(MOST_SLICES, max(least, round(_TOGETHER * one / whole))) if one > 0 else 1 for one in spreads]


def compute_yield_deviation(belief: OperationBelief) -> float:
    """Deviation of the chance to leave an operation good, relative to its mean."""
    beta = match_moments(belief)
    return compute_standard_deviation(beta) / beta.mean if beta.good else 0.0


def compute_standard_deviation(beta: Beta) -> float:
    """Standard deviation."""
    whole = beta.good + beta.bad
    return math.sqrt(beta.good * beta.bad / (whole + 1)) / whole


def build_mixture(belief: OperationBelief, most: int) -> Mixture:
    """The chance to leave an operation good, as at most so many Betas."""
    if most == 1 or belief.reworkable is None or belief.saved is None:
        return [(1.0, match_moments(belief))]
    return _good(belief.first, _split(belief.reworkable), _split(belief.saved), most)


def build_rework_cases(belief: OperationBelief, already: int, most: int) -> list[ReworkCase]:
    """The same together with what becomes of ``already`` pieces in rework: they share one rework yield."""
    saved = belief.saved
    assert saved is not None
    first, row = beta_binomial_pmf(already, saved.good, saved.bad)
    if already == 0 or most == 1:
        return [ReworkCase(1.0, (first, row), build_mixture(belief, most))]
    again = _split(belief.reworkable or Beta(1, 0))
    found = []
    groups = _groups(row, min(_GROUPS, most))
    for start, end in groups:
        chance = math.fsum(row[start:end])
        if chance < _NEGLIGIBLE:
            continue
        known: list[_Atom] = []
        for n in range(start, end):
            back = first + n
            after = Beta(saved.good + back, saved.bad + already - back)
            known += [(row[n] / chance * share, mean, square) for share, mean, square in _split(after)]
        good = _good(belief.first, again, _cut(known, _FINE), max(1, math.ceil(most * chance)))
        found.append(ReworkCase(chance, (first + start, [value / chance for value in row[start:end]]), good))
    return found


def _groups(row: Sequence[float], most: int) -> list[tuple[int, int]]:
    """Groups of neighbors of about equal chance, as (from, up to) places in the row."""
    ends, total = [0], 0.0
    for at, value in enumerate(row):
        if at > ends[-1] and len(ends) < most and total + value / 2 > len(ends) / most:
            ends.append(at)
        total += value
    return list(zip(ends, [*ends[1:], len(row)], strict=True))


def _good(first: Beta, again: Sequence[_Atom], saved: Sequence[_Atom], most: int) -> Mixture:
    """Slices of θ from the possible values of its three parts."""
    rescued = _cut([(p * w, c * q, c2 * q2) for p, c, c2 in again for w, q, q2 in saved], _FINE)
    stuck = [(w, 1 - s, 1 - 2 * s + s2) for w, s, s2 in rescued]
    rejected = _split(first.complement)
    lost = _cut([(p * w, r * s, r2 * s2) for p, r, r2 in rejected for w, s, s2 in stuck], most)
    return [(chance, _matched(mean, square).complement) for chance, mean, square in lost]


def _split(beta: Beta) -> list[_Atom]:
    """A Beta as a mixture of narrower ones: what it would be after a few pieces, for each number good."""
    first, row = beta_binomial_pmf(_IMAGINED, beta.good, beta.bad)
    return [
        (chance, after.mean, after.mean_square)
        for good, chance in enumerate(row, first)
        if chance > _NEGLIGIBLE
        for after in (Beta(beta.good + good, beta.bad + _IMAGINED - good),)
    ]


def _cut(atoms: list[_Atom], most: int) -> list[_Atom]:
    """Atoms of similar mean merged into at most so many of about equal chance; overall mean and variance are kept."""
    if len(atoms) <= most:
        return atoms
    atoms = sorted(atoms, key=itemgetter(1))
    share = math.fsum(chance for chance, _, _ in atoms) / most
    found: list[_Atom] = []
    total = weight = mean = square = 0.0
    for chance, m, s in atoms:
        if weight and len(found) < most - 1 and total + chance / 2 > share * (len(found) + 1):
            found.append((weight, mean / weight, square / weight))
            weight = mean = square = 0.0
        total, weight, mean, square = total + chance, weight + chance, mean + chance * m, square + chance * s
    found.append((weight, mean / weight, square / weight))
    return [(chance / total, m, s) for chance, m, s in found]


def _matched(mean: float, mean_square: float) -> Beta:
    """The Beta with this mean and mean square; of infinite weight if there is no spread."""
    spread = mean_square - mean * mean
    if not 0 < mean < 1:
        return Beta(min(1.0, max(0.0, mean)), min(1.0, max(0.0, 1 - mean)))
    weight = (mean - mean_square) / spread if spread > 1e-9 * mean * (1 - mean) else 1e9
    return Beta(mean * weight, (1 - mean) * weight)
