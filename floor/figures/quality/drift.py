"""Drift of a characteristic with the pieces made since a tool or a set-up was new: whether it is established, how
fast, and how many more pieces stay inside the limits.

One outlier must not make a drift nor hide one: whether there is one is judged by the order of the values only
(Kendall), the line is the median of all slopes between two loads (Theil 1950, Sen 1968, both from memory), and the
spread about it is the median absolute deviation. Values of one load are not independent, so each load counts once, by
its median. Tools before the present one tell the slope too; each life has its own height.

The order of fewer than eight loads tells nothing, so where each has several values their means are judged before, by
the t test of a slope: the wear of a fast tool is known while it still cuts inside the limits.

Two or three loads cannot tell how much loads differ, so a tool that leaves the limits within four is told by two
things together: all values of the last load lie in the outer quarter of the tolerance, where pre-control warns
(Satterthwaite 1954, from memory), and the means move there more than loads do that differ twice as much as their
values, which is an assumption. Simulated (`tests/bench/pattern_alarms.py`): of six characteristics in the middle of
their limits at Cp 1, one is told without a cause in 0.5 % of batches where the variance of loads is that inside them,
in 5.4 % where it is four times as large; a mean that comes to its limit with the fourth load is told by the third in
81 % where four values are measured and the tolerance is 24 standard deviations, in 14 % where it is 12.
"""

from __future__ import annotations

import math
import statistics
from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Sequence
from itertools import chain, combinations, groupby, islice, pairwise
from typing import NamedTuple, TypeVar

from floor.dataclass import dataclass
from floor.figures.distributions import beta_cdf, find_student_t_quantile
from floor.figures.errors import ImpossibleFigure
from floor.figures.offset_statistics import get_scale_factor
from floor.figures.quality.capability import ToleranceLimits
from floor.figures.quality.exact_tests import compute_trend_tail
from floor.figures.quality.intervals import Interval, require_confidence
from floor.figures.quality.looks import FALSE_ALARMS, find_look
from floor.figures.quality.missing import Missing, find_missing

FIRST_LOADS = 8
"""Measured loads at the first look by their order."""
FIRST_OF_SEVERAL = 4
"""Measured loads at the first look where each has two values or more."""
RECENT_LOADS = 60
"""How many measured loads count, the latest ones."""
FEWEST_AT_ALL = 2
"""Measured loads, each with two values or more, before anything is told."""
LOADS_DIFFER = 2.0
"""Variance of loads taken for granted while so few cannot tell it, as a multiple of that inside them."""
OUTER_ZONE = 0.25
"""Share of the tolerance, next to a limit, in which all values of the last of so few loads lie."""
FEWEST_IN_LIFE = 3
"""Measured loads of the present life before its line has a height that can be trusted."""
_EFFICIENCY = 0.37
"""A median absolute deviation tells a normal spread as well as a standard deviation of this share of the values."""
_FARTHEST = 10_000_000
"""Pieces beyond which nobody needs to know when a limit is reached."""


@dataclass(frozen=True, slots=True)
class MeasuredPiece:
    """One value."""

    count: int
    """Number of the piece since the tool or set-up was new."""
    value: float
    load: Hashable


@dataclass(frozen=True, slots=True)
class PiecesToLimit:
    """Pieces after the present one that stay inside the limit."""

    about: int
    """Until the line reaches it."""
    at_least: int
    """Until the near end of the band does in which the next values lie: a single piece may be out from there on."""


@dataclass(frozen=True, slots=True)
class Drift:
    """What the order of the values tells."""

    values: int
    """Measured so far, over all lives."""
    loads: int
    """Measured loads up to the last look."""
    look: int
    """0 where it is told by two or three loads."""
    slope: float
    """Median slope, in the unit of the values per piece; of all values so far, as the pieces to the limit."""
    p: float
    """Chance of such an order by luck, either way, looking at this characteristic only and once."""
    adjusted: float
    """The same, for any of the characteristics watched at any look."""
    to_limit: PiecesToLimit | Missing
    """`Missing.NO_LIMIT` if it drifts toward none, `Missing.TOO_FEW` if the present life has too few measured loads,
    `Missing.TOO_LARGE` if it is farther than anybody works."""

    @property
    def established(self) -> bool:
        return self.adjusted <= FALSE_ALARMS


def find_drift(
    lives: Sequence[Sequence[MeasuredPiece]],
    limits: ToleranceLimits,
    now: int,
    *,
    tries: int = 1,
    confidence: float = 0.95,
) -> Drift | Missing:
    """Drift at the last look that was due, and what it means for the pieces to come.

    Looks are due as measured loads grow by a quarter, and share 5 % as in `looks`. The first is due at 8, or at 4 if
    each of these has several values; two and three such loads are judged where the last lies near a limit.

    Args:
        lives: Values of each tool or set-up, the present one last, each in the order made.
        limits: Of the characteristic, in its unit.
        now: Pieces made in the present life.
        tries: Characteristics watched in the batch, which share the false alarms.
        confidence: Of the band, both sides together.

    Returns:
        `Missing.TOO_FEW` before the first look.

    Raises:
        ImpossibleFigure: counts that fall inside a life, fewer pieces made than measured, less than 1 try, or a
            confidence out of its range.
    """
    _require(lives, now, tries, confidence)
    missing = find_missing([piece.value for life in lives for piece in life])
    if missing:
        return missing
    loads = [list(_list_loads(life)) for life in lives]
    series = [list(_list_medians(part)) for part in loads]
    look = find_look([1] * sum(map(len, loads)), _find_first_look(loads))
    if look is None:
        return _find_by_first_loads(lives, loads, limits, tries)
    seen = [[y for _, y in part] for part in _cut(series, look.entries - RECENT_LOADS, look.entries)]
    if len(set(chain.from_iterable(seen))) == 1:
        return Missing.CONSTANT
    early = look.entries < FIRST_LOADS
    p = _compute_slope_chance(_cut(loads, 0, look.entries)) if early else _compute_kendall(seen)
    recent = _find_recent(series)
    slope = _compute_slope(recent)
    return Drift(
        values=sum(map(len, lives)),
        loads=look.entries,
        look=look.number,
        slope=slope,
        p=p,
        adjusted=min(1.0, p * tries * FALSE_ALARMS / look.alpha),
        to_limit=_count_to_limit(lives, recent, slope, limits, now, confidence),
    )


def _require(lives: Sequence[Sequence[MeasuredPiece]], now: int, tries: int, confidence: float) -> None:
    require_confidence(confidence)
    if tries < 1 or any(one.count > other.count for life in lives for one, other in pairwise(life)):
        raise ImpossibleFigure(f"{tries} tries, or counts that fall", "give the values in the order made")
    if lives and lives[-1] and lives[-1][-1].count > now:
        raise ImpossibleFigure(f"piece {lives[-1][-1].count} measured of {now}", "give all pieces made")


_Point = tuple[float, float]
"""Count and value."""
_Any = TypeVar("_Any")


def _list_loads(life: Sequence[MeasuredPiece]) -> Iterator[list[MeasuredPiece]]:
    return (list(load) for _, load in groupby(life, key=lambda piece: piece.load))


def _list_medians(loads: Iterable[Sequence[MeasuredPiece]]) -> Iterator[_Point]:
    for pieces in loads:
        yield statistics.median(piece.count for piece in pieces), statistics.median(piece.value for piece in pieces)


def _find_first_look(loads: Iterable[Sequence[Sequence[MeasuredPiece]]]) -> int:
    """Decided by the first loads alone, so that no later one moves a look that was made."""
    first = list(islice(chain.from_iterable(loads), FIRST_OF_SEVERAL))
    return FIRST_OF_SEVERAL if all(len(load) > 1 for load in first) else FIRST_LOADS


def _cut(series: Sequence[Sequence[_Any]], first: int, last: int) -> list[Sequence[_Any]]:
    """The same series with the points from ``first`` to ``last`` only, counted through all of them."""
    parts, before = [], 0
    for part in series:
        parts.append(part[max(0, first - before) : max(0, last - before)])
        before += len(part)
    return parts


def _compute_kendall(series: Sequence[Sequence[float]]) -> float:
    """Two-sided chance; a load measured later counts as later even at the same count."""
    ties = [[count for _, count in sorted(Counter(part).items())] for part in series]
    tails = []
    for sign in (1, -1):
        rising = sum(sign * later > sign * value for part in series for value, later in combinations(part, 2))
        tails.append(compute_trend_tail(rising, ties))
    return min(1.0, 2 * min(tail for tail in tails if tail is not None))


def _find_by_first_loads(
    lives: Sequence[Sequence[MeasuredPiece]],
    loads: Sequence[Sequence[Sequence[MeasuredPiece]]],
    limits: ToleranceLimits,
    tries: int,
) -> Drift | Missing:
    """What two or three loads tell, if the last lies in the outer zone of the side to which they move."""
    flat = list(chain.from_iterable(loads))
    if not FEWEST_AT_ALL <= len(flat) < FIRST_OF_SEVERAL or any(len(load) < 2 for load in flat):
        return Missing.TOO_FEW
    line = _fit_means(loads)
    if not line.slope or not _is_near_limit(flat[-1], limits, line.slope):
        return Missing.TOO_FEW
    freedom = sum(map(len, flat)) - len(flat)
    inside = max(_estimate_variance_inside(flat), _find_resolution(flat) ** 2 / 12)
    residual = line.left / (len(flat) - FEWEST_AT_ALL) if len(flat) > FEWEST_AT_ALL else 0.0
    noise = max(residual, inside * (LOADS_DIFFER + statistics.fmean(1 / len(load) for load in flat)))
    p = _compute_t_chance(line.slope / math.sqrt(noise / line.across), freedom)
    looks = FIRST_OF_SEVERAL - FEWEST_AT_ALL
    return Drift(
        values=sum(map(len, lives)),
        loads=len(flat),
        look=0,
        slope=line.slope,
        p=p,
        adjusted=min(1.0, p * tries * looks),
        to_limit=Missing.TOO_FEW,
    )


def _is_near_limit(load: Sequence[MeasuredPiece], limits: ToleranceLimits, slope: float) -> bool:
    if limits.lower is None or limits.upper is None:
        return False
    zone = OUTER_ZONE * (limits.upper - limits.lower)
    if slope > 0:
        return all(piece.value >= limits.upper - zone for piece in load)
    return all(piece.value <= limits.lower + zone for piece in load)


class _MeansLine(NamedTuple):
    """The line through the means of loads, each life with its own height."""

    slope: float
    across: float
    """Sum of the squares of the counts from their means."""
    left: float
    """Sum of the squares of the means from the line."""


def _fit_means(lives: Iterable[Sequence[Sequence[MeasuredPiece]]]) -> _MeansLine:
    across, along, left = 0.0, 0.0, 0.0
    for loads in lives:
        means = [(load[0].count, statistics.fmean(piece.value for piece in load)) for load in loads]
        x, y = (statistics.fmean(column) for column in zip(*means, strict=True)) if means else (0.0, 0.0)
        across += math.fsum((a - x) ** 2 for a, _ in means)
        along += math.fsum((a - x) * (b - y) for a, b in means)
        left += math.fsum((b - y) ** 2 for _, b in means)
    return _MeansLine(along / across, across, max(0.0, left - along**2 / across)) if across else _MeansLine(0, 0, left)


def _compute_slope_chance(lives: Sequence[Sequence[Sequence[MeasuredPiece]]]) -> float:
    """Two-sided chance of such a slope of the means of loads, by Student's t.

    What the means may differ by is told by their distances from the line, but is no less than what the values inside
    loads let expect, nor than the rounding of the gauge: so few means lie on a line by luck all too easily.
    """
    loads = list(chain.from_iterable(lives))
    freedom = len(loads) - sum(map(bool, lives)) - 1
    line = _fit_means(lives)
    if freedom < 1 or not line.slope:
        return 1.0
    of_means = _estimate_variance_inside(loads) * statistics.fmean(1 / len(load) for load in loads)
    noise = max(line.left / freedom, of_means, _find_resolution(loads) ** 2 / 12)
    return _compute_t_chance(line.slope / math.sqrt(noise / line.across), freedom)


def _compute_t_chance(t: float, freedom: float) -> float:
    return beta_cdf(freedom / (freedom + t * t), freedom / 2, 0.5)


def _estimate_variance_inside(loads: Iterable[Sequence[MeasuredPiece]]) -> float:
    """Of single values about the means of their loads."""
    squares, freedom = 0.0, 0
    for load in loads:
        mean = statistics.fmean(piece.value for piece in load)
        squares += math.fsum((piece.value - mean) ** 2 for piece in load)
        freedom += len(load) - 1
    return squares / freedom if freedom else 0.0


def _find_resolution(loads: Iterable[Sequence[MeasuredPiece]]) -> float:
    """The least step between two different values."""
    values = sorted({piece.value for load in loads for piece in load})
    return min((later - value for value, later in pairwise(values)), default=0.0)


def _compute_slope(series: Sequence[Sequence[_Point]]) -> float:
    """Median of the slopes between all two loads of a life; 0 if no count differs."""
    slopes = _list_slopes(series)
    return statistics.median(slopes) if slopes else 0.0


def _list_slopes(series: Sequence[Sequence[_Point]]) -> list[float]:
    return [(y - b) / (x - a) for part in series for (a, b), (x, y) in combinations(part, 2) if x > a]


def _find_slope_interval(series: Sequence[Sequence[_Point]], confidence: float) -> Interval | Missing:
    """All slopes that Kendall's test of what they leave does not rule out: exact (Sen 1968, from memory)."""
    slopes = sorted(_list_slopes(series))
    ties = [[count for _, count in sorted(Counter(x for x, _ in part).items())] for part in series]
    fewest, too_few = len(slopes) + 1, 0
    while fewest - too_few > 1:
        middle = (fewest + too_few) // 2
        tail = compute_trend_tail(middle, ties)
        fewest, too_few = (middle, too_few) if tail is not None and tail <= (1 - confidence) / 2 else (fewest, middle)
    if fewest > len(slopes):
        return Missing.TOO_FEW
    return Interval(slopes[-fewest], slopes[fewest - 1])


@dataclass(frozen=True, slots=True)
class WearLine:
    """The line of the present life, and the band about it in which the next values lie."""

    slope: float
    """In the unit of the values per piece."""
    slope_interval: Interval | Missing
    """Of the slope; `Missing.TOO_FEW` if so few loads cannot bound it."""
    height: float
    """Of the line where no piece is made."""
    middle: float
    """Mean of the counts that the line stands on in the present life."""
    loads: int
    leverage: float
    """Sum of the squares of the counts from their means, over all lives."""
    factor: float
    """Half the band of a value beside a line known for sure."""

    @property
    def is_shown(self) -> bool:
        """Whether its interval leaves out a slope of 0."""
        known = self.slope_interval
        return not isinstance(known, Missing) and (known.low > 0 or known.high < 0)

    def find_value(self, count: float) -> float:
        return self.height + self.slope * count

    def find_half_band(self, count: float) -> float:
        return self.factor * math.sqrt(1 + 1 / self.loads + (count - self.middle) ** 2 / self.leverage)


def fit_wear_line(lives: Sequence[Sequence[MeasuredPiece]], confidence: float = 0.95) -> WearLine | Missing:
    """The line of the last life as all of them tell its slope, whether a drift is established or not.

    Returns:
        `Missing.TOO_FEW` if the last life has too few measured loads, `Missing.CONSTANT` if all were measured at the
        same count.
    """
    missing = find_missing([piece.value for life in lives for piece in life])
    if missing:
        return missing
    recent = _find_recent([list(_list_medians(_list_loads(life))) for life in lives])
    return _fit(lives, recent, _compute_slope(recent), confidence)


def _find_recent(series: Sequence[Sequence[_Point]]) -> list[Sequence[_Point]]:
    measured = sum(map(len, series))
    return _cut(series, measured - RECENT_LOADS, measured)


def _fit(
    lives: Sequence[Sequence[MeasuredPiece]], recent: Sequence[Sequence[_Point]], slope: float, confidence: float
) -> WearLine | Missing:
    if not recent or len(recent[-1]) < FEWEST_IN_LIFE:
        return Missing.TOO_FEW
    leverage = math.fsum((x - statistics.fmean(a for a, _ in part)) ** 2 for part in recent if part for x, _ in part)
    if not leverage:
        return Missing.CONSTANT
    freedom = _EFFICIENCY * _find_freedom(lives, recent, slope)
    spread = _estimate_spread(lives, recent, slope)
    return WearLine(
        slope=slope,
        slope_interval=_find_slope_interval(recent, confidence),
        height=statistics.median(y - slope * x for x, y in recent[-1]),
        middle=statistics.fmean(x for x, _ in recent[-1]),
        loads=len(recent[-1]),
        leverage=leverage,
        factor=find_student_t_quantile((1 + confidence) / 2, max(1, freedom)) * spread,
    )


def _find_freedom(lives: Sequence[Sequence[MeasuredPiece]], recent: Sequence[Sequence[_Point]], slope: float) -> float:
    """Degrees of freedom of the spread of single values: of loads where these differ, else of values as well.

    F. E. Satterthwaite, Biometrics Bulletin 2 (1946) 110, from memory.
    """
    between, inside, pieces, loads = 0.0, 0.0, 0, 0
    for life, part in zip(lives, recent, strict=True):
        left = [
            [piece.value - slope * piece.count for piece in load]
            for load in _list_loads([piece for piece in life if part and piece.count >= part[0][0]])
        ]
        means = [statistics.fmean(load) for load in left]
        whole = statistics.fmean(chain.from_iterable(left)) if left else 0.0
        between += math.fsum(len(load) * (mean - whole) ** 2 for load, mean in zip(left, means, strict=True))
        inside += math.fsum((one - mean) ** 2 for load, mean in zip(left, means, strict=True) for one in load)
        pieces, loads = pieces + sum(map(len, left)), loads + len(left)
    of_loads, of_values = loads - sum(map(bool, recent)) - 1, pieces - loads
    size = pieces / loads
    b, w = between / of_loads / size, inside / max(of_values, 1) * (size - 1) / size
    return (b + w) ** 2 / (b**2 / of_loads + w**2 / of_values) if w else of_loads


def _count_to_limit(
    lives: Sequence[Sequence[MeasuredPiece]],
    recent: Sequence[Sequence[_Point]],
    slope: float,
    limits: ToleranceLimits,
    now: int,
    confidence: float,
) -> PiecesToLimit | Missing:
    limit = limits.upper if slope > 0 else limits.lower
    if limit is None or slope == 0:
        return Missing.NO_LIMIT
    line = _fit(lives, recent, slope, confidence)
    if isinstance(line, Missing):
        return line
    about = max(0.0, (limit - line.height) / slope - now)
    if about > _FARTHEST:
        return Missing.TOO_LARGE

    def is_out(pieces: int) -> bool:
        past = math.copysign(1, slope) * (line.find_value(now + pieces) - limit)
        return past + line.find_half_band(now + pieces) > 0

    inside, out = 0, math.floor(about) + 1
    while out - inside > 1:
        at = (inside + out) // 2
        inside, out = (inside, at) if is_out(at) else (at, out)
    return PiecesToLimit(math.floor(about), inside)


def _estimate_spread(
    lives: Sequence[Sequence[MeasuredPiece]], recent: Sequence[Sequence[_Point]], slope: float
) -> float:
    """Standard deviation of single values about the lines of their lives, by the median absolute deviation."""
    residuals = []
    for life, part in zip(lives, recent, strict=True):
        if part:
            height = statistics.median(y - slope * x for x, y in part)
            residuals += [
                abs(piece.value - height - slope * piece.count) for piece in life if piece.count >= part[0][0]
            ]
    deviation = statistics.median(residuals)
    if deviation:
        return deviation * get_scale_factor(max(4, len(residuals)))
    return math.sqrt(math.fsum(each * each for each in residuals) / len(residuals))
