"""Forecasts against scipy's beta-binomial, Gauss-Jacobi quadrature and simulation."""

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import special, stats

from floor.figures import forecast as module
from floor.figures.beta_mixture import match_moments
from floor.figures.errors import Impossible
from floor.figures.forecast import Forecast, WorkInProcess, forecast_good_count
from floor.figures.yields import Beta, OperationBelief, build_prior


def plain(*betas: Beta) -> list[OperationBelief]:
    return [OperationBelief(beta) for beta in betas]


class TestOneOperation:
    def test_beta_binomial(self) -> None:
        """Beta(9, 1), 27 good of 30 seen, 75 to come (scipy betabinom(75, 36, 4)).

        Plugging in 0.9 would say 0.227085: the spread of the estimate must not be dropped.
        """
        beliefs = plain(build_prior(0.9, 10).seen(27, 3))
        seventy, sixty = (forecast_good_count(n, 0, [WorkInProcess(75)], beliefs) for n in (70, 60))

        assert seventy.probability == pytest.approx(0.368298, abs=1e-6)
        assert sixty.probability == pytest.approx(0.948550, abs=1e-6)
        assert seventy.expected == pytest.approx(67.5, abs=1e-6)
        assert seventy.probability > stats.binom.sf(69, 75, 0.9) + 0.1
        assert (seventy.low, seventy.high) == tuple(stats.betabinom.ppf([0.1, 0.9], 75, 36, 4))
        goods = np.arange(76)
        short = (np.maximum(70 - goods, 0) * stats.betabinom.pmf(goods, 75, 36, 4)).sum()
        assert seventy.shortage == pytest.approx(short, abs=1e-9)

    def test_finished_pieces_count(self) -> None:
        assert forecast_good_count(100, 30, [WorkInProcess(75)], plain(Beta(36, 4))).probability == pytest.approx(
            0.368298, abs=1e-6
        )
        assert forecast_good_count(30, 30, [WorkInProcess(0)], plain(Beta(36, 4))) == Forecast(
            30, 1.0, 30.0, 0, 30, 30, True
        )

    def test_pieces_in_rework_pass_by_reworks_yield(self) -> None:
        belief = OperationBelief(Beta(9, 1), Beta(2, 3), Beta(6, 4))

        assert forecast_good_count(5, 0, [WorkInProcess(rework=9)], [belief]).probability == pytest.approx(
            stats.betabinom.sf(4, 9, 6, 4), abs=1e-10
        )


@pytest.mark.parametrize(("first", "second"), [(24, 0), (15, 12), (0, 20)])
def test_two_operations_share_an_uncertain_yield(first: int, second: int) -> None:
    """∫∫ P(Bin(n₁, θ₁θ₂) + Bin(n₂, θ₂) ≥ N) over both Betas; Gauss-Jacobi with 40 nodes is exact for the polynomial."""
    one, two = Beta(8.5, 1.5), Beta(27.0, 1.2)

    def nodes(beta: Beta) -> tuple[np.ndarray, np.ndarray]:
        x, w = special.roots_jacobi(40, beta.bad - 1, beta.good - 1)
        return (x + 1) / 2, w / w.sum()

    expected = 0.0
    for theta1, weight1 in zip(*nodes(one), strict=True):
        for theta2, weight2 in zip(*nodes(two), strict=True):
            early = stats.binom.pmf(np.arange(first + 1), first, theta1 * theta2)
            late = stats.binom.pmf(np.arange(second + 1), second, theta2)
            expected += weight1 * weight2 * np.convolve(early, late)[18:].sum()

    assert forecast_good_count(
        18, 0, [WorkInProcess(first), WorkInProcess(second)], plain(one, two)
    ).probability == pytest.approx(expected, abs=1e-9)


BATCH = (
    [WorkInProcess(40, 2), WorkInProcess(0, 1), WorkInProcess(30, 3, tests=2), WorkInProcess(20, 0)],
    [
        OperationBelief(Beta(40, 3), Beta(3, 2), Beta(7, 3)),
        OperationBelief(Beta(60, 2), Beta(4, 4), Beta(3, 1)),
        OperationBelief(Beta(28, 2), Beta(1, 1), Beta(2, 2)),
        OperationBelief(Beta(90, 1)),
    ],
)


def simulated(in_hand: list[WorkInProcess], beliefs: list[OperationBelief], runs: int) -> np.ndarray:
    """Good pieces of so many batches: each yield drawn once per batch, and each piece, by scipy's distributions."""
    random = np.random.default_rng(20220)
    pieces = np.zeros(runs, int)
    for here, belief in zip(in_hand, beliefs, strict=True):
        pieces += here.waiting
        good = random.binomial(pieces, random.beta(belief.first.good, belief.first.bad, runs))
        back = np.zeros(runs, int)
        if belief.reworkable is not None and belief.saved is not None:
            share = random.beta(belief.reworkable.good, belief.reworkable.bad, runs)
            sent = random.binomial(pieces - good, share) + here.rework
            back = random.binomial(sent, random.beta(belief.saved.good, belief.saved.bad, runs))
        pieces = np.maximum(0, good + back - here.tests)
    return pieces


def test_pieces_all_over_the_route_equal_a_simulation() -> None:
    sample = simulated(*BATCH, runs=400_000)

    for ordered in (70, 80, 86):
        seen = forecast_good_count(ordered, 0, *BATCH)
        assert seen.exact
        chance = (sample >= ordered).mean()
        assert seen.probability == pytest.approx(chance, abs=4 * math.sqrt(chance * (1 - chance) / len(sample)))
        assert seen.expected == pytest.approx(sample.mean(), abs=0.05)
        assert seen.shortage == pytest.approx(np.maximum(ordered - sample, 0).mean(), abs=0.05)
        assert (seen.low, seen.high) == tuple(np.quantile(sample, [0.1, 0.9]))


def test_a_mixture_for_an_operation_comes_within_its_promise(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same batch by both ways: mean equal, chance within 0.025, band within a piece."""
    for ordered in range(60, 95, 5):
        exact = forecast_good_count(ordered, 0, *BATCH)
        with monkeypatch.context() as patch:
            patch.setattr(module, "EXACT_PIECES", 0)
            patch.setattr(
                module, "compute_good_count_distribution", module.compute_good_count_distribution.__wrapped__
            )  # past what is kept of the exact one
            matched = forecast_good_count(ordered, 0, *BATCH)
        assert (exact.exact, matched.exact) == (True, False)
        assert matched.expected == pytest.approx(exact.expected, abs=0.01)
        assert matched.probability == pytest.approx(exact.probability, abs=0.025)
        assert abs(matched.low - exact.low) <= 1 >= abs(matched.high - exact.high)


def test_what_each_doubt_does_to_the_good_count_is_by_pieces() -> None:
    """One operation by hand: waiting pieces count by the yield's deviation, pieces in rework by that of the rework
    yield."""
    in_hand, beliefs = BATCH
    twice = [WorkInProcess(2 * one.waiting, 2 * one.rework) for one in in_hand]
    one = OperationBelief(Beta(40, 3), Beta(3, 2), Beta(7, 3))
    theta = match_moments(one)
    by_hand = 40 * stats.beta.std(theta.good, theta.bad) / one.mean + 2 * stats.beta.std(7, 3) / one.mean

    assert module._spreads(twice, beliefs) == pytest.approx(
        [2 * spread for spread in module._spreads(in_hand, beliefs)]
    )
    assert module._spreads([WorkInProcess(40, 2)], [one]) == pytest.approx([by_hand])
    after = module._spreads([WorkInProcess(40, 2), WorkInProcess()], [one, one])[1]
    assert after == pytest.approx((40 * one.mean + 2 * 0.7) * stats.beta.std(theta.good, theta.bad) / one.mean**2)


@pytest.mark.parametrize("rework", [True, False])
def test_large_batch_equals_a_simulation(rework: bool) -> None:
    """2,000 pieces at five of ten operations; without rework it is exact at any size."""
    fate = (Beta(5, 5), Beta(7, 3)) if rework else (None, None)
    beliefs = [OperationBelief(Beta(150, 3), *fate)] * 10
    in_hand = [WorkInProcess(400, 3 if rework else 0) if n % 2 == 0 else WorkInProcess() for n in range(10)]
    sample = simulated(in_hand, beliefs, runs=60_000)

    for share in (0.2, 0.5, 0.8):
        ordered = int(np.quantile(sample, share))
        seen = forecast_good_count(ordered, 0, in_hand, beliefs)
        chance = (sample >= ordered).mean()
        noise = 4 * math.sqrt(chance * (1 - chance) / len(sample))
        assert seen.exact is not rework
        assert seen.probability == pytest.approx(chance, abs=noise + (0.025 if rework else 0))
        assert seen.expected == pytest.approx(sample.mean(), abs=5 * sample.std() / math.sqrt(len(sample)))


def test_the_largest_batch_by_forty_operations_keeps_nine_digits() -> None:
    """5,000 pieces × 40 operations beside scipy's beta-binomial.

    Beta(a, b) times an independent Beta(a + b, c) is Beta(a, b + c) (compare the moments, quotients of gamma
    functions), so forty yields chosen so multiply to one Beta.
    """
    each = [Beta(20 + 0.2 * n, 0.2) for n in range(40)]
    hand = [WorkInProcess(5000), *[WorkInProcess()] * 39]
    whole = stats.betabinom(5000, 20, 8)

    ordered = int(whole.ppf(0.1))
    seen = forecast_good_count(ordered, 0, hand, plain(*reversed(each)))
    assert seen.exact
    assert seen.probability == pytest.approx(whole.sf(ordered - 1), abs=1e-9)
    assert seen.expected == pytest.approx(whole.mean(), abs=1e-5)
    assert (seen.low, seen.high) == tuple(whole.ppf([0.1, 0.9]))


@pytest.mark.parametrize(
    ("vague", "known", "pieces"),
    [((1, 0.05), (416, 4.65), 2400), ((0.5, 0.5), (4000, 1), 1500), ((3, 0.3), (2000, 40), 2000)],
)
def test_a_yield_counted_often_after_one_hardly_known(
    vague: tuple[float, float], known: tuple[float, float], pieces: int
) -> None:
    """Summed over all that may enter the second operation (scipy)."""
    entering, chances = stats.betabinom.pmf(np.arange(pieces + 1), pieces, *vague), np.zeros(pieces + 1)
    for number, chance in enumerate(entering):
        if chance > 1e-14:
            chances[: number + 1] += chance * stats.betabinom.pmf(np.arange(number + 1), number, *known)
    for share in (0.3, 0.8, 0.95):
        ordered = int(share * pieces)
        seen = forecast_good_count(
            ordered, 0, [WorkInProcess(pieces), WorkInProcess()], plain(Beta(*vague), Beta(*known))
        )
        assert seen.probability == pytest.approx(chances[ordered:].sum(), abs=1e-9)


@given(first=st.integers(1, 3000), a=st.floats(0.1, 1e6), b=st.floats(0.1, 1e4))
@settings(max_examples=40, deadline=None)
def test_any_weight_of_belief_keeps_its_precision(first: int, a: float, b: float) -> None:
    """From a guess to a million pieces' experience (scipy)."""
    ordered = max(1, round(stats.betabinom.mean(first, a, b)))

    seen = forecast_good_count(ordered, 0, [WorkInProcess(first)], plain(Beta(a, b)))

    assert seen.probability == pytest.approx(stats.betabinom.sf(ordered - 1, first, a, b), abs=1e-6)
    assert seen.expected == pytest.approx(stats.betabinom.mean(first, a, b), abs=1e-4)


betas = st.builds(Beta, st.floats(0.5, 200), st.just(0.0) | st.floats(0.01, 20))
steps = st.lists(
    st.tuples(
        st.builds(WorkInProcess, st.integers(0, 15), st.integers(0, 3), st.integers(0, 2)),
        st.builds(OperationBelief, betas) | st.builds(OperationBelief, betas, betas, betas),
    ),
    min_size=1,
    max_size=4,
)


@settings(max_examples=60, deadline=None)
@given(steps=steps, ordered=st.integers(1, 60), finished=st.integers(0, 20), at=st.integers(0, 3))
def test_more_pieces_never_lower_the_chance(
    steps: list[tuple[WorkInProcess, OperationBelief]], ordered: int, finished: int, at: int
) -> None:
    hand, beliefs = [here for here, _ in steps], [belief for _, belief in steps]
    place = min(at, len(hand) - 1)
    more = list(hand)
    more[place] = WorkInProcess(hand[place].waiting + 1, hand[place].rework, hand[place].tests)

    now, then = (
        forecast_good_count(ordered, finished, hand, beliefs),
        forecast_good_count(ordered, finished, more, beliefs),
    )

    assert then.probability >= now.probability - 1e-10
    assert then.shortage <= now.shortage + 1e-8
    total = finished + sum(here.waiting + here.rework for here in hand)
    assert finished <= now.low <= now.high <= total
    assert finished - 1e-9 <= now.expected <= total + 1e-9
    assert now.expected + now.shortage >= ordered - 1e-9
    assert 0 <= now.probability <= 1


@settings(max_examples=40, deadline=None)
@given(steps=steps)
def test_the_carried_mean_is_the_product_of_means(steps: list[tuple[WorkInProcess, OperationBelief]]) -> None:
    """Conservation on average: each piece in hand counts for the chance that it ends good (no tests taken)."""
    hand = [WorkInProcess(here.waiting, here.rework) for here, _ in steps]
    beliefs = [belief for _, belief in steps]
    pieces = 0.0
    for here, belief in zip(hand, beliefs, strict=True):
        pieces = (pieces + here.waiting) * belief.mean + here.rework * (belief.saved.mean if belief.saved else 0)

    assert forecast_good_count(1, 0, hand, beliefs).expected == pytest.approx(pieces, abs=1e-8)


def test_a_chance_of_three_quarters_is_no_less_than_three_quarters() -> None:
    """Beta(1, 1): every number of good pieces is equally likely. One or more of three: 3/4; 0 to 9 good of 9: 1/10
    each."""
    for weight in (1, 2, 4, 10):
        beta = Beta(weight / 2, weight / 2)
        for pieces in range(1, 9):
            exact = 1 - math.prod((Fraction(weight, 2) + n) / (weight + n) for n in range(pieces))
            if round(exact, 10) == exact:
                assert forecast_good_count(1, 0, [WorkInProcess(pieces)], plain(beta)).probability == float(exact)
    nine = forecast_good_count(5, 0, [WorkInProcess(9)], plain(Beta(1, 1)))
    assert (nine.low, nine.high) == (0, 8)


@pytest.mark.parametrize(
    "asked",
    [
        lambda: forecast_good_count(0, 0, [WorkInProcess(5)], plain(Beta(9, 1))),
        lambda: forecast_good_count(5, -1, [WorkInProcess(5)], plain(Beta(9, 1))),
        lambda: forecast_good_count(5, 0, [WorkInProcess(5)], []),
        lambda: WorkInProcess(-1),
    ],
)
def test_impossible_states_are_refused(asked: object) -> None:
    assert callable(asked)
    with pytest.raises(Impossible) as refusal:
        asked()
    assert refusal.value.remedy


def test_rework_without_a_belief_of_what_it_saves_counts_for_nothing() -> None:
    hand = [WorkInProcess(20)]
    none, half = (forecast_good_count(17, 0, hand, [one]) for one in (
        OperationBelief(Beta(9, 1)), OperationBelief(Beta(9, 1), Beta(2, 3)),
    ))  # fmt: skip
    assert half == none
