"""The chance to leave an operation with rework good, as a mixture of Betas: the estimate's own shape, in few pieces.

That chance is θ = 1 − (1 − y)(1 − c·q), where each of the three is a Beta variable: y good at the first pass, c sent to
rework of the rejects, q saved of those. Little is known of q in most batches, and then θ has two heaps: rework works,
or it does not. One Beta has no two heaps, so the law of θ is cut into slices of equal chance, each of which a Beta of
its own mean and variance stands for.

Nothing is sampled and no integral is worked out: a Beta variable is a mixture of narrower ones, one for each number
of good pieces of so many imagined ones. What pieces already in rework will tell of q is kept in the same way, with the
pieces themselves instead of imagined ones.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from operator import itemgetter

from floor.dataclass import dataclass
from floor.figures.distributions import beta_binomial_pmf
from floor.figures.yields import Beta, OperationBelief

Mixture = Sequence[tuple[float, Beta]]
"""Chances that sum to one, and the Beta that holds then."""

MOST_SLICES = 12
"""More at one operation change no chance by 0.01."""

_TOGETHER = 30.3
"""Slices of all operations, about. No whole number, so that operations just alike are never a tie of rounding."""

_GROUPS = 8
"""Cases told apart of how many of those already in rework come back."""

_IMAGINED = 24
_FINE = 48
_NEGLIGIBLE = 1e-10

_Atom = tuple[float, float, float]
"""A chance, and the mean and the mean square of a share, given that it comes to pass."""


@dataclass(frozen=True, slots=True)
class ReworkCase:
    """One case of how many of those already in rework come back good."""

    chance: float
    back: tuple[int, list[float]]
    """Chances of the smallest number that comes back, and of each above it."""
    good: Mixture
    """The chance of every other piece to leave good, given this case."""


def match_moments(belief: OperationBelief) -> Beta:
    """The chance to leave an operation good, rework and all, as one Beta of its mean and variance."""
    again, saved = belief.reworkable, belief.saved
    if again is None or saved is None:
        return belief.first
    stuck = 1 - again.mean * saved.mean
    stuck_square = 1 - 2 * again.mean * saved.mean + again.mean_square * saved.mean_square
    lost = belief.first.complement
    return _matched(lost.mean * stuck, lost.mean_square * stuck_square).complement


def choose_slice_counts(spreads: Sequence[float]) -> list[int]:
    """How many slices to cut each operation's law into, given what the doubt about it does to the good count.

    Args:
        spreads: Deviation of the good count by each operation's yield alone, up to a factor.
    """
    whole = math.fsum(spreads)
    # One that is hardly known may have nearly all of the spread in its tail, and another tell what is likely.
    least = max(1, int(_TOGETHER / max(1, len(spreads))))
    return [min(MOST_SLICES, max(least, round(_TOGETHER * one / whole))) if one > 0 else 1 for one in spreads]


def compute_yield_deviation(belief: OperationBelief) -> float:
    """Deviation of the chance to leave an operation good, beside its mean."""
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
    """The same beside what becomes of ``already`` pieces in rework: one yield of rework holds for both."""
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
    """Neighbors taken together, about equal in chance, from and up to a place of the row."""
    ends, total = [0], 0.0
    for at, value in enumerate(row):
        if at > ends[-1] and len(ends) < most and total + value / 2 > len(ends) / most:
            ends.append(at)
        total += value
    return list(zip(ends, [*ends[1:], len(row)], strict=True))


def _good(first: Beta, again: Sequence[_Atom], saved: Sequence[_Atom], most: int) -> Mixture:
    """Slices of θ from what its three parts may be."""
    rescued = _cut([(p * w, c * q, c2 * q2) for p, c, c2 in again for w, q, q2 in saved], _FINE)
    stuck = [(w, 1 - s, 1 - 2 * s + s2) for w, s, s2 in rescued]
    rejected = _split(first.complement)
    lost = _cut([(p * w, r * s, r2 * s2) for p, r, r2 in rejected for w, s, s2 in stuck], most)
    return [(chance, _matched(mean, square).complement) for chance, mean, square in lost]


def _split(beta: Beta) -> list[_Atom]:
    """A Beta as a mixture of narrower ones: what it would be after a few pieces, however many of them were good."""
    first, row = beta_binomial_pmf(_IMAGINED, beta.good, beta.bad)
    return [
        (chance, after.mean, after.mean_square)
        for good, chance in enumerate(row, first)
        if chance > _NEGLIGIBLE
        for after in (Beta(beta.good + good, beta.bad + _IMAGINED - good),)
    ]


def _cut(atoms: list[_Atom], most: int) -> list[_Atom]:
    """Atoms of near means gathered into at most so many of about equal chance; mean and variance of all are kept."""
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
    """The Beta with this mean and mean square; one of endless weight where there is no spread."""
    spread = mean_square - mean * mean
    if not 0 < mean < 1:
        return Beta(min(1.0, max(0.0, mean)), min(1.0, max(0.0, 1 - mean)))
    weight = (mean - mean_square) / spread if spread > 1e-9 * mean * (1 - mean) else 1e9
    return Beta(mean * weight, (1 - mean) * weight)
