"""How many of an uncertain number of pieces pass an operation of uncertain yield: rows of chances.

A row is the smallest number and the chances from there up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from operator import mul

from floor.figures.convolution import convolve
from floor.figures.yields import Beta

_KEEP = 1e-12
_STEEP = -280.0
"""Natural logarithm of the least total of a convolution relative to its largest numbers; below it, digits are lost."""


def thin_distribution(first: int, row: list[float], passes: Beta) -> tuple[int, list[float]]:
    """Distribution of the pieces that pass, from that of the pieces entering.

    The beta-binomial chance of s good of m is u(s) v(m) w(m − s) with u(s) = Γ(s + a) / s!, v(m) = m! / Γ(m + a + b)
    and w(r) = Γ(r + b) / r!, so this is one convolution. A factor tᵐ t⁻ˢ t⁻ʳ = 1 keeps all three within range.
    """
    if passes.bad == 0:
        return first, row
    if passes.good == 0:
        return 0, [1.0]
    a, b, last = passes.good, passes.bad, first + len(row) - 1
    center = max(1.0, first + math.fsum(n * chance for n, chance in enumerate(row)))
    tilt = math.log1p((a + b) / center)
    entered, top = _scaled(
        [
            math.log(chance) + math.lgamma(m + 1) - math.lgamma(m + a + b) + tilt * m if chance else -math.inf
            for m, chance in enumerate(row, first)
        ]
    )
    lost, most = _scaled([math.lgamma(r + b) - math.lgamma(r + 1) - tilt * r for r in range(last + 1)])
    kept, best = _scaled([math.lgamma(s + a) - math.lgamma(s + 1) - tilt * s for s in range(last + 1)])
    # All chances sum to one, so the total is known beforehand, and so is what still matters in either row.
    whole = math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b) - top - most - best
    if whole < _STEEP and len(row) > 1:
        return _thinned_by_halves(first, row, passes)
    fine = max(1e-150, math.exp(whole) * _KEEP / (math.fsum(kept) * (math.fsum(entered) + math.fsum(lost))))
    while lost[-1] < fine:
        lost.pop()
    start = max(0, first - len(lost) + 1)
    through = convolve(entered, lost[::-1], fine)[start - first + len(lost) - 1 :]
    return trim_tails(start, list(map(mul, through, kept[start:])))


def _thinned_by_halves(first: int, row: list[float], passes: Beta) -> tuple[int, list[float]]:
    """Like `thin_distribution`, for numbers far apart and a yield so well known that no one scale fits all."""
    halves = []
    for at, half in ((first, row[: len(row) // 2]), (first + len(row) // 2, row[len(row) // 2 :])):
        chance = math.fsum(half)
        if chance:
            halves.append((chance, *thin_distribution(at, [value / chance for value in half], passes)))
    return trim_tails(*mix_distributions(halves))


def _scaled(logs: list[float]) -> tuple[list[float], float]:
    """Numbers from their logarithms, scaled to a maximum of 1; and the logarithm of that maximum."""
    top = max(logs)
    return [math.exp(value - top) for value in logs], top


def mix_distributions(rows: Sequence[tuple[float, int, list[float]]]) -> tuple[int, list[float]]:
    """One row from several, weighted by their chances."""
    if len(rows) == 1:
        return rows[0][1:]
    first = min(at for _, at, _ in rows)
    total = [0.0] * (max(at + len(row) for _, at, row in rows) - first)
    for chance, at, row in rows:
        place = slice(at - first, at - first + len(row))
        total[place] = [value + chance * more for value, more in zip(total[place], row, strict=True)]
    return first, total


def trim_tails(at: int, row: list[float]) -> tuple[int, list[float]]:
    """The row, starting at ``at``, without tails that weigh less than `_KEEP` each, scaled to sum to one."""
    total = math.fsum(row)
    spare = _KEEP * total
    first, last = 0, len(row)
    weight = row[first]
    while weight < spare and first < last - 1:
        first += 1
        weight += row[first]
    weight = row[last - 1]
    while weight < spare and last > first + 1:
        last -= 1
        weight += row[last - 1]
    total = math.fsum(row[first:last])
    return at + first, [value / total for value in row[first:last]]
