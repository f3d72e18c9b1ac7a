"""Drift: reference values, what an outlier does, pieces to the limit."""

import math
import random
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from floor.figures.errors import ImpossibleFigure
from floor.figures.quality.capability import ToleranceLimits
from floor.figures.quality.drift import (
    FIRST_LOADS,
    RECENT_LOADS,
    Drift,
    MeasuredPiece,
    PiecesToLimit,
    WearLine,
    find_drift,
    fit_wear_line,
)
from floor.figures.quality.exact_tests import compute_trend_tail
from floor.figures.quality.intervals import Interval
from floor.figures.quality.missing import Missing

LIMITS = ToleranceLimits(9.0, 11.0)


def life(values: list[float], step: int = 10) -> list[MeasuredPiece]:
    """One measured piece a load."""
    return [MeasuredPiece(step * (n + 1), value, n) for n, value in enumerate(values)]


def of(lives: list[list[MeasuredPiece]], limits: ToleranceLimits = LIMITS, **more) -> Drift:
    found = find_drift(lives, limits, lives[-1][-1].count if lives[-1] else 0, **more)
    assert isinstance(found, Drift)
    return found


@settings(deadline=None)
@given(st.integers(FIRST_LOADS, 40), st.integers(0, 10**6))
def test_one_life_is_kendalls_test_and_theils_slope(count: int, seed: int) -> None:
    """scipy's `kendalltau` (exact) and `theilslopes`, at the counts where a look is due."""
    draw = random.Random(seed)
    values = [10 + draw.gauss(0, 1) + 0.05 * n for n in range(count)]
    found = of([life(values)])

    looked = found.loads
    wanted = stats.kendalltau(range(looked), values[:looked], method="exact").pvalue
    assert found.p == pytest.approx(wanted, rel=1e-8)
    counts = [10 * (n + 1) for n in range(count)]
    assert found.slope == pytest.approx(stats.theilslopes(values, counts).slope, rel=1e-9)
    assert (found.values, found.loads) == (count, max(k for k in (8, 10, 13, 17, 22, 28, 35) if k <= count))


@given(st.lists(st.lists(st.integers(0, 3), max_size=4), min_size=1, max_size=2))
def test_trends_with_ties_counted_out(series: list[list[int]]) -> None:
    """Every order of every series."""

    def rise(values) -> int:
        return sum(b > a for n, a in enumerate(values) for b in values[n + 1 :])

    rising = sum(map(rise, series))
    sums = [0]
    for part in series:
        sums = [before + rise(order) for before in sums for order in permutations(part)]
    wanted = sum(one >= rising for one in sums) / len(sums)
    ties = [[part.count(value) for value in set(part)] for part in series]
    assert compute_trend_tail(rising, ties) == pytest.approx(wanted, rel=1e-11)


def test_the_normal_law_of_kendalls_test_with_ties() -> None:
    """Variance with ties as in Kendall 1970 (from memory): (n (n - 1) (2n + 5) - sum t (t - 1) (2t + 5)) / 18."""
    ties, n = [7, 12, 3, 20, 1, 17], 60
    variance = (n * (n - 1) * (2 * n + 5) - sum(t * (t - 1) * (2 * t + 5) for t in ties)) / 18
    pairs = (n * (n - 1) - sum(t * (t - 1) for t in ties)) // 2
    for score in (0.5, 1.5, 2.5):
        rising = round((pairs + score * math.sqrt(variance)) / 2)
        wanted = stats.norm.sf((2 * rising - 1 - pairs) / math.sqrt(variance))
        assert compute_trend_tail(rising, [ties]) == pytest.approx(wanted, rel=0.05)


def test_tools_before_count_with_their_own_height() -> None:
    """Three lives that rise by 0.01 a piece from different heights: all pairs inside the lives agree."""
    lives = [life([start + 0.1 * n for n in range(5)]) for start in (12.0, 10.0, 8.0)]
    found = of(lives)

    assert found.slope == pytest.approx(0.01)
    assert found.loads == 13
    assert found.p == pytest.approx(2 / (120 * 120 * 6))
    assert found.established
    third = of([*lives[:2], life([8.0, 8.1, 8.2])], ToleranceLimits(7.0, 11.005))
    assert third.to_limit == PiecesToLimit(280, 280)


def test_pieces_of_one_load_count_once() -> None:
    """By their median; ten of each load tell no more than one."""
    single = [MeasuredPiece(10 * n + 5, 10 + 0.01 * n, n) for n in range(12)]
    many = [MeasuredPiece(10 * n + k, 10 + 0.01 * n + 0.001 * (k - 5), n) for n in range(12) for k in range(1, 10)]

    one, all_of_them = of([single]), of([many])
    assert (one.loads, one.p) == (10, pytest.approx(2 / math.factorial(10)))
    assert (all_of_them.loads, all_of_them.p) == (12, pytest.approx(2 / math.factorial(12)))
    assert one.slope == pytest.approx(all_of_them.slope)
    assert (one.values, all_of_them.values) == (12, 108)


def several(means: list[float], around: tuple[float, ...], step: int = 12) -> list[MeasuredPiece]:
    """A load of several values around each mean."""
    return [MeasuredPiece(step * (n + 1), mean + off, n) for n, mean in enumerate(means) for off in around]


@pytest.mark.parametrize("count", [4, 5, 7])
def test_fewer_loads_of_several_values_are_judged_by_the_slope_of_their_means(count: int) -> None:
    """scipy's `linregress` of the means, which differ by more than the values inside the loads."""
    means = [10.0, 10.02, 10.09, 10.11, 10.12, 10.2, 10.21][:count]
    found = of([several(means, (-0.001, 0.001))])

    wanted = stats.linregress([12 * (n + 1) for n in range(count)], means).pvalue
    assert (found.loads, found.p) == (count, pytest.approx(wanted, rel=1e-9))


def test_the_means_of_two_tools_have_their_own_heights() -> None:
    """Least squares with a height for each of two lives, by numpy; 6 loads less 2 heights and the slope: 3."""
    means = ([10.0, 10.05, 10.08], [9.7, 9.71, 9.79, 9.8])
    found = of([several(list(part), (-0.001, 0.001)) for part in means])
    x = np.array([12, 24, 36, 12, 24, 36, 48])
    design = np.column_stack([x, [1, 1, 1, 0, 0, 0, 0], [0, 0, 0, 1, 1, 1, 1]]).astype(float)
    y = np.array([*means[0], *means[1]])
    (slope, *_), left, *_ = np.linalg.lstsq(design, y, rcond=None)
    error = math.sqrt(left[0] / 4 * np.linalg.inv(design.T @ design)[0, 0])
    assert found.p == pytest.approx(2 * stats.t.sf(slope / error, 4), rel=1e-9)


def test_means_on_a_line_by_luck_are_no_proof() -> None:
    """What the values inside the loads differ by (standard deviation √2, of a mean 1), and the rounding of the gauge
    (step 0.1), stand for what so few means cannot tell: Student's t with 2 degrees of freedom, by scipy.
    """
    scattered = of([several([10.0, 10.1, 10.2, 10.3], (-1.0, 1.0))])
    coarse = of([several([10.0, 10.1, 10.2, 10.3], (0.0, 0.0))])

    assert scattered.p == pytest.approx(2 * stats.t.sf(0.1 * math.sqrt(5), 2), rel=1e-9)
    assert coarse.p == pytest.approx(2 * stats.t.sf(math.sqrt(5 * 12), 2), rel=1e-6)
    assert not scattered.established
    assert not of([several([10.0, 10.1, 10.0, 10.1], (0.0, 0.0))]).established


def test_single_values_and_a_load_with_one_wait_for_eight_loads() -> None:
    four = several([10.0, 10.1, 10.2, 10.3], (-0.001, 0.001))
    assert find_drift([four[:-1]], LIMITS, 100) is Missing.TOO_FEW
    assert find_drift([life([10.0 + n for n in range(7)])], LIMITS, 100) is Missing.TOO_FEW
    assert of([four]).loads == 4
    assert of([[*four, MeasuredPiece(60, 10.4, 4)]]).loads == 5, "a later load of one value moves no look"


@pytest.mark.parametrize(("around", "means"), [
    ((-0.02, 0.0, 0.01), [10.1, 10.35, 10.6]),
    ((-0.02, 0.02), [10.0, 10.3, 10.6]),
    ((-0.02, 0.02), [10.0, 10.55]),
    ((-0.001, 0.001), [10.0, 10.5, 10.6]),
])  # fmt: skip
@pytest.mark.parametrize("side", [1, -1])
def test_the_first_loads_are_judged_as_if_loads_differed_twice_as_much_as_their_values(
    around: tuple[float, ...], means: list[float], side: int
) -> None:
    """Student's t by scipy, of the slope by numpy; in the last row the means lie off their line by more."""
    found = of([several([10 + side * (mean - 10) for mean in means], around)])
    x = 12.0 * np.arange(1, len(means) + 1)
    (slope, _), left, *_ = np.polyfit(x, means, 1, full=True)
    inside = len(around) * np.var(around) / (len(around) - 1)
    noise = max(inside * (2 + 1 / len(around)), left[0] if len(means) == 3 else 0.0)
    t = slope / math.sqrt(noise / np.sum((x - x.mean()) ** 2))
    assert found.p == pytest.approx(2 * stats.t.sf(t, len(means) * (len(around) - 1)), rel=1e-9)
    assert (found.look, found.loads, found.to_limit) == (0, len(means), Missing.TOO_FEW)
    assert found.slope == pytest.approx(side * slope)
    six = of([several([10 + side * (mean - 10) for mean in means], around)], tries=6)
    assert (found.adjusted, six.adjusted) == (min(1, 2 * found.p), min(1, 12 * found.p)), "at two looks"


@pytest.mark.parametrize(("means", "limits"), [
    ([10.0, 10.25, 10.5], LIMITS),
    ([10.9, 10.75, 10.6], LIMITS),
    ([10.6, 10.6, 10.6], LIMITS),
    ([10.0, 10.3, 10.6], ToleranceLimits(None, 11.0)),
    ([10.0, 10.3, 10.6], ToleranceLimits(9.0, None)),
    ([10.6], LIMITS),
], ids=["a value inside", "away from it", "no slope", "no lower limit", "no upper limit", "one load"])  # fmt: skip
def test_the_first_loads_tell_nothing_unless_all_of_the_last_lie_next_to_the_limit_they_move_to(
    means: list[float], limits: ToleranceLimits
) -> None:
    """Of 9 to 11 the outer quarters are up to 9.5 and from 10.5 on."""
    assert find_drift([several(means, (-0.01, 0.01))], limits, 99) is Missing.TOO_FEW


def test_first_loads_of_single_values_tell_nothing() -> None:
    assert find_drift([life([10.0, 10.3, 10.6])], LIMITS, 99) is Missing.TOO_FEW
    assert find_drift([several([10.0, 10.3, 10.6], (-0.01, 0.01))[1:]], LIMITS, 99) is Missing.TOO_FEW


def test_first_loads_keep_the_false_alarms_and_tell_a_fast_tool() -> None:
    """Loads that differ as their values do, in the middle of limits three standard deviations away, looked at after two
    and three loads: at most 5 % of 400 batches of six characteristics; and a mean that comes to a limit 12 away with
    the fourth load, told by the third by 2 of 3.
    """
    alarms = sum(any(tell_first(draw, 3.0, 0.0) for _ in range(6)) for draw in map(random.Random, range(400)))
    assert alarms <= 0.05 * 400
    assert sum(tell_first(random.Random(seed), 12.0, 4.0) for seed in range(90)) >= 60


def tell_first(draw: random.Random, limit: float, rise: float) -> bool:
    """Whether two or three loads of four values tell it."""
    values: list[MeasuredPiece] = []
    told = False
    for n in range(3):
        mean = rise * n + draw.gauss(0, math.sqrt(0.5))
        values += [MeasuredPiece(4 * (n + 1), mean + draw.gauss(0, math.sqrt(0.5)), n) for _ in range(4)]
        found = find_drift([values], ToleranceLimits(-limit, limit), 4 * (n + 1), tries=6)
        told |= isinstance(found, Drift) and found.established
    return told


@pytest.mark.parametrize("luck", [0.0, 1.5], ids=["none", "luck of loads"])
@pytest.mark.parametrize("per_load", [2, 12])
def test_looks_at_few_loads_keep_the_false_alarms(per_load: int, luck: float) -> None:
    """400 batches of 9 loads looked at after 4, 5, 7 and 9: at most 5 %, and of 400 by luck 6.5 % once in ten times."""
    draw, alarms = random.Random(per_load), 0
    for _ in range(400):
        values = []
        for n in range(9):
            mean = luck * draw.gauss(0, 1)
            values += [MeasuredPiece(12 * (n + 1), mean + draw.gauss(0, 1), n) for _ in range(per_load)]
        looks = (of([values[: per_load * loads]], ToleranceLimits(-99, 99)) for loads in (4, 5, 7, 9))
        alarms += any(one.established for one in looks)
    assert alarms / 400 <= 0.065


def test_a_fast_tool_is_told_of_while_its_pieces_are_inside() -> None:
    """0.0006 mm a piece, standard deviation 0.004, loads of 12 with 4 measured: out after 83 pieces; told by 60 of
    100 tools in about 77, and rarely with more pieces than are left."""
    draw, told, too_many = random.Random(5), 0, 0
    for _ in range(100):
        values = [
            MeasuredPiece(12 * (n + 1), 10 + 0.0072 * (n + 1) + draw.gauss(0, 0.004), n)
            for n in range(5)
            for _ in range(4)
        ]
        found = of([values], ToleranceLimits(9.95, 10.05), tries=3)
        told += found.established
        if isinstance(found.to_limit, PiecesToLimit):
            too_many += found.to_limit.at_least > 23
    assert told >= 70
    assert too_many <= 5


@pytest.mark.parametrize("off", [50.0, -50.0])
def test_one_outlier_makes_no_drift_and_hides_none(off: float) -> None:
    steady = [10 + 0.01 * (-1) ** n * (n * 7 % 5) for n in range(16)]
    drifting = [10 + 0.02 * n for n in range(16)]
    for values, established in ((steady, False), (drifting, True)):
        for at in (0, 7, 15):
            spoiled = [*values[:at], off, *values[at + 1 :]]
            found = of([life(spoiled)])
            assert found.established is established
            assert found.slope == pytest.approx(of([life(values)]).slope, abs=5e-4)
    clean, spoiled = of([life(drifting)]), of([life([*drifting[:7], off, *drifting[8:]])])
    assert isinstance(clean.to_limit, PiecesToLimit)
    assert isinstance(spoiled.to_limit, PiecesToLimit)
    assert spoiled.to_limit.about == pytest.approx(clean.to_limit.about, abs=2)


@pytest.mark.parametrize(("step", "about"), [(0.02, 349), (-0.02, 629)])
def test_pieces_to_the_limit_on_a_straight_line(step: float, about: int) -> None:
    """10.3 or 10.26 after 160 pieces, 0.002 a piece; exact but for the rounding of floats."""
    found = of([life([10 + step * (n + 1) - 0.02 + (0.6 if step < 0 else 0) for n in range(16)])])

    assert isinstance(found.to_limit, PiecesToLimit)
    assert found.to_limit.about == pytest.approx(about, abs=2)
    assert found.to_limit.at_least == pytest.approx(about, abs=2)


def test_pieces_to_a_limit_already_reached() -> None:
    assert of([life([10.9 + 0.02 * n for n in range(16)])]).to_limit == PiecesToLimit(0, 0)


@pytest.mark.parametrize("limit", [12.0, 10.9])
def test_the_near_end_of_the_band_by_hand(limit: float) -> None:
    """Median slope and height, spread by the median absolute deviation, prediction interval of a line (NIST/SEMATECH
    e-Handbook 4.5.1.2): scipy for the slope and the t quantile."""
    draw = random.Random(2)
    values = [10 + 0.004 * 10 * (n + 1) + draw.gauss(0, 0.05) for n in range(13)]
    found = of([life(values)], ToleranceLimits(None, limit))

    counts = [10 * (n + 1) for n in range(13)]
    slope = stats.theilslopes(values, counts).slope
    residuals = [y - slope * x for x, y in zip(counts, values, strict=True)]
    height = sorted(residuals)[6]
    spread = sorted(abs(each - height) for each in residuals)[6]
    spread /= 0.6744897501960817 * (1 - 0.76213 / 13 - 0.86413 / 169)
    leverage = sum((x - 70) ** 2 for x in counts)
    inside = 0
    while True:
        x = 130 + inside + 1
        half = stats.t.ppf(0.975, 0.37 * 11) * spread * math.sqrt(1 + 1 / 13 + (x - 70) ** 2 / leverage)
        if height + slope * x + half > limit:
            break
        inside += 1
    assert found.to_limit == PiecesToLimit(math.floor((limit - height) / slope - 130), inside)
    assert inside > 30


def test_few_pieces_are_out_before_the_near_end() -> None:
    """300 simulated tools: the last piece that should still be inside is out in about 2.5 % of them, at most in 5 %."""
    draw, out, told = random.Random(8), 0, 0
    for _ in range(300):
        values = [10 + 0.004 * 10 * (n + 1) + draw.gauss(0, 0.05) for n in range(13)]
        to_limit = of([life(values)], ToleranceLimits(None, 12.0)).to_limit
        assert isinstance(to_limit, PiecesToLimit)
        assert to_limit.at_least <= to_limit.about
        told += 1
        out += 10 + 0.004 * (130 + to_limit.at_least) + draw.gauss(0, 0.05) > 12
    assert told == 300
    assert 0 < out / told <= 0.05


def test_reasons_in_the_place_of_a_forecast() -> None:
    rising = [10 + 0.02 * n for n in range(16)]
    assert of([life(rising)], ToleranceLimits(9.0, None)).to_limit is Missing.NO_LIMIT
    assert of([life(rising), life([10.0, 10.02])]).to_limit is Missing.TOO_FEW
    assert of([life(rising), []]).to_limit is Missing.TOO_FEW
    assert of([life([10 + 1e-9 * n for n in range(16)])]).to_limit is Missing.TOO_LARGE
    assert of([[MeasuredPiece(5, 10 + n % 3, n) for n in range(9)]]).to_limit is Missing.NO_LIMIT


@pytest.mark.parametrize(("values", "missing"), [
    ([], Missing.EMPTY), ([10.0] * (FIRST_LOADS - 1), Missing.TOO_FEW), ([10.0] * 20, Missing.CONSTANT),
    ([10.0] * 8 + [math.nan], Missing.NOT_A_NUMBER), ([10.0] * 8 + [1e200], Missing.TOO_LARGE),
])  # fmt: skip
def test_no_drift_can_be_told(values: list[float], missing: Missing) -> None:
    assert find_drift([life(values)], LIMITS, 1000) is missing
    assert find_drift([], LIMITS, 0) is Missing.EMPTY


def test_tries_and_looks_share_the_false_alarms() -> None:
    values = life([10 + 0.02 * n for n in range(10)])
    one, six = of([values]), of([values], tries=6)

    assert one.look == 2
    assert one.adjusted == pytest.approx(one.p * 6)
    assert six.adjusted == pytest.approx(one.p * 36)


def test_only_recent_loads_count() -> None:
    """A set-up that was moved long ago is no drift."""
    draw = random.Random(3)
    values = [20 + draw.gauss(0, 0.1) for _ in range(60)] + [10 + draw.gauss(0, 0.1) for _ in range(RECENT_LOADS + 30)]

    assert not of([life(values)]).established
    assert of([life(values[:90])]).established


def test_what_cannot_be_asked() -> None:
    values = life([10.0 + n for n in range(9)])
    for lives, now, more in (
        ([values[::-1]], 1000, {}), ([values], 89, {}), ([values], 90, {"tries": 0}),
        ([values], 90, {"confidence": 1.0}),
    ):  # fmt: skip
        with pytest.raises(ImpossibleFigure):
            find_drift(lives, LIMITS, now, **more)


@settings(deadline=None, max_examples=60)
@given(st.lists(st.lists(st.floats(-1e3, 1e3) | st.floats(), max_size=12), max_size=3))
def test_no_values_raise(series: list[list[float]]) -> None:
    found = find_drift([life(values) for values in series], LIMITS, 10_000)

    assert isinstance(found, Missing) or 0 <= found.p <= found.adjusted <= 1


def test_the_line_of_wear_is_theils_and_its_pieces_to_the_limit_are_where_the_band_meets_it() -> None:
    """scipy's `theilslopes` with the intercept of the medians of both, ``joint``."""
    draw = random.Random(4)
    counts = [10 * (n + 1) for n in range(20)]
    values = [9.5 + 0.002 * count + draw.gauss(0, 0.02) for count in counts]
    line = fit_wear_line([life(values)])
    assert isinstance(line, WearLine)
    theil = stats.theilslopes(values, counts, method="joint")
    assert (line.slope, line.height) == pytest.approx((theil.slope, theil.intercept), rel=1e-9)

    left = of([life(values)]).to_limit
    assert isinstance(left, PiecesToLimit)
    last = counts[-1] + left.at_least
    ends = [line.find_value(at) + line.find_half_band(at) for at in (last, last + 1)]
    assert ends[0] <= LIMITS.upper < ends[1]
    assert line.find_half_band(line.middle) < line.find_half_band(last), "the farther, the wider"


@pytest.mark.parametrize("seed", range(4))
def test_the_interval_of_the_slope_is_what_kendalls_test_does_not_rule_out(seed: int) -> None:
    """scipy's `kendalltau` (exact) of what a slope leaves; and `theilslopes`, by the normal law, at most one off."""
    draw = random.Random(seed)
    counts = [10 * (n + 1) for n in range(9)]
    values = [10 + 0.002 * count * (seed % 2) + draw.gauss(0, 0.05) for count in counts]
    line = fit_wear_line([life(values)])
    assert isinstance(line, WearLine)
    known = line.slope_interval
    assert isinstance(known, Interval)
    for end, out in ((known.low, -1e-9), (known.high, 1e-9)):
        for side, ruled_out in ((out, True), (-out, False)):
            left = [value - (end + side) * count for value, count in zip(values, counts, strict=True)]
            assert bool(stats.kendalltau(counts, left, method="exact").pvalue <= 0.05) is ruled_out
    theil = stats.theilslopes(values, counts, alpha=0.95)
    slopes = sorted((values[b] - values[a]) / (counts[b] - counts[a]) for a in range(9) for b in range(a + 1, 9))
    assert abs(slopes.index(pytest.approx(known.low)) - slopes.index(pytest.approx(theil.low_slope))) <= 1
    assert line.is_shown is not (known.low <= 0 <= known.high)


def test_so_few_loads_bound_no_slope() -> None:
    """Of four values in order one of 24 orders rises throughout: 4.2 %, and 2.5 % are wanted on each side."""
    four, five = (fit_wear_line([life([10.0 + n for n in range(count)])]) for count in (4, 5))
    assert isinstance(four, WearLine)
    assert isinstance(five, WearLine)
    assert (four.slope_interval, four.is_shown) == (Missing.TOO_FEW, False)
    assert five.slope_interval == Interval(pytest.approx(0.1), pytest.approx(0.1))
    assert five.is_shown


def test_the_interval_of_a_slope_holds_the_truth_as_often_as_it_says() -> None:
    """300 times two lives of 8 and 5 loads, at least 95 %; 92.5 % of 300 by luck one time in fifty."""
    draw, held = random.Random(2), 0
    for _ in range(300):
        lives = [life([height + 0.03 * (n + 1) + draw.gauss(0, 0.1) for n in range(count)])
                 for height, count in ((10.0, 8), (9.0, 5))]  # fmt: skip
        line = fit_wear_line(lives)
        assert isinstance(line, WearLine)
        assert isinstance(line.slope_interval, Interval)
        held += line.slope_interval.low <= 0.003 <= line.slope_interval.high
    assert held / 300 >= 0.925


@pytest.mark.parametrize(
    ("values", "why"), [([], Missing.EMPTY), ([10.0, 10.1], Missing.TOO_FEW), ([math.nan] * 5, Missing.NOT_A_NUMBER)]
)
def test_without_enough_there_is_no_line(values: list[float], why: Missing) -> None:
    assert fit_wear_line([life(values)]) is why


def test_the_band_of_the_fewest_loads_is_no_wider_than_one_degree_of_freedom_makes_it() -> None:
    """0, 1, 0 has slope and height 0, so the spread is √(1/3); t of 95 % and one degree of freedom by scipy."""
    line = fit_wear_line([life([0.0, 1.0, 0.0])])
    assert isinstance(line, WearLine)
    assert line.factor == pytest.approx(stats.t.ppf(0.975, 1) * math.sqrt(1 / 3))


def test_values_all_measured_at_one_count_have_no_line() -> None:
    assert fit_wear_line([[MeasuredPiece(10, 10.0 + n, n) for n in range(5)]]) is Missing.CONSTANT
