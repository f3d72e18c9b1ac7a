"""Learned yields and times against scipy."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from floor.figures.errors import Impossible, ImpossibleFigure, ImpossibleYield
from floor.figures.route_yields import OperationYield, compute_piece_outcomes
from floor.figures.yields import (
    Beta,
    OperationBelief,
    YieldCounts,
    build_prior,
    estimate_time,
    update_beliefs,
)


class TestBeta:
    def test_estimate_and_counts(self) -> None:
        """0.9 weighing ten pieces, then 27 good of 30: Beta(36, 4) (conjugate update, scipy)."""
        belief = build_prior(0.9, 10).seen(27, 3)

        assert (belief.good, belief.bad) == (pytest.approx(36), pytest.approx(4))
        assert belief.mean == pytest.approx(0.9)
        assert belief.mean_square == pytest.approx(stats.beta.moment(2, 36, 4))

    def test_certainty_lasts_until_the_first_bad_piece(self) -> None:
        sure = build_prior(1.0, 30)

        assert (sure.mean, sure.complement.mean) == (1, 0)
        assert sure.seen(10, 1).mean == pytest.approx(40 / 41)

    @settings(deadline=None)
    @given(estimate=st.floats(0.01, 1), weight=st.floats(0.1, 1e6), good=st.integers(0, 500), bad=st.integers(0, 500))
    def test_the_mean_lies_between_estimate_and_count(
        self, estimate: float, weight: float, good: int, bad: int
    ) -> None:
        mean = build_prior(estimate, weight).seen(good, bad).mean
        counted = good / (good + bad) if good + bad else estimate

        assert min(estimate, counted) - 1e-9 <= mean <= max(estimate, counted) + 1e-9


class TestLearn:
    def test_first_pass_splits_as_the_dirichlet_does(self) -> None:
        """Good, rework, scrap ~ Dirichlet: good and rework ÷ rejects are the stated Betas, unrelated (scipy sample)."""
        (belief,) = update_beliefs([OperationYield("cut", 0.8, 0.15, 0.6)], [40], [YieldCounts(50, 6, 4, 3, 1)])
        draws = stats.dirichlet.rvs([32 + 50, 6 + 6, 2 + 4], size=200_000, random_state=np.random.default_rng(7))
        share = draws[:, 1] / (draws[:, 1] + draws[:, 2])

        assert belief.reworkable is not None
        for beta, sample in ((belief.first, draws[:, 0]), (belief.reworkable, share)):
            assert beta.mean == pytest.approx(sample.mean(), abs=0.002)
            assert beta.mean_square - beta.mean**2 == pytest.approx(sample.var(), rel=0.03)
        assert abs(np.corrcoef(draws[:, 0], share)[0, 1]) < 0.01

    def test_fate_of_rework_starts_from_all_passes(self) -> None:
        """Weight 6 (40 pieces × 0.15 reworked), chance 0.6 + 0.4 · 0.75 · 0.6 = 0.78 in two passes; then 3 of 4."""
        (belief,) = update_beliefs(
            [OperationYield("cut", 0.8, 0.15, 0.6, passes=2)], [40], [YieldCounts(0, 4, 0, 3, 1)]
        )

        assert belief.saved is not None
        assert (belief.saved.good, belief.saved.bad) == pytest.approx((6 * 0.78 + 3, 6 * 0.22 + 1))

    def test_without_counts_it_is_the_route_as_estimated(self) -> None:
        route = [
            OperationYield("1", 0.9, 0.05, 0.5),
            OperationYield("2", 0.95, 0.03, 0.8, 2, back_to=0),
            OperationYield("3"),
        ]

        beliefs = update_beliefs(route, [30, 50, 30], [YieldCounts()] * 3)

        assert [b.mean for b in beliefs] == pytest.approx([fate.passed for fate in compute_piece_outcomes(route)])
        assert beliefs[2] == OperationBelief(Beta(30, 0))

    def test_rework_nobody_expected(self) -> None:
        (belief,) = update_beliefs(
            [OperationYield("cut", 0.9)], [20], [YieldCounts(good=40, rework=2, scrap=1, saved=1)]
        )

        assert (belief.first.good, belief.first.bad) == pytest.approx((58, 5))
        assert belief.reworkable is not None
        assert (belief.reworkable.good, belief.reworkable.bad) == pytest.approx((2, 3))
        assert belief.saved == Beta(2, 0)

    @pytest.mark.parametrize(
        "asked",
        [
            lambda: build_prior(0, 10),
            lambda: build_prior(1.1, 10),
            lambda: build_prior(0.9, 0),
            lambda: build_prior(0.9, float("nan")),
            lambda: Beta(0, 0),
            lambda: Beta(-1, 2),
            lambda: Beta(2, -1),
            lambda: Beta(3, 1).seen(-1, 0),
            lambda: YieldCounts(good=-1),
            lambda: YieldCounts(rework=2, saved=2, lost=1),
            lambda: update_beliefs([OperationYield("cut")], [0], [YieldCounts()]),
            lambda: update_beliefs([OperationYield("cut", 0.0)], [9], [YieldCounts()]),
            lambda: update_beliefs([OperationYield("cut")], [9, 9], [YieldCounts()]),
            lambda: estimate_time(-1, [], 3),
            lambda: estimate_time(3, [float("inf")], 3),
            lambda: estimate_time(3, [], 0),
        ],
    )
    def test_impossible_figures_are_refused(self, asked: object) -> None:
        assert callable(asked)
        with pytest.raises(Impossible) as refusal:
            asked()
        assert isinstance(refusal.value, ImpossibleYield | ImpossibleFigure)
        assert refusal.value.remedy


class TestTimes:
    def test_plan_gives_way_to_what_runs_took(self) -> None:
        """Planned 6 min weighing 3 runs; five runs with a median of 5.8: (3 · 6 + 5 · 5.8) / 8 (by hand)."""
        learned = estimate_time(6, [5.7, 5.8, 5.9, 5.8, 47.0])

        assert learned.time == pytest.approx((3 * 6 + 5 * 5.8) / 8)
        assert learned.runs == 5

    def test_spread_is_the_scaled_median_deviation(self) -> None:
        times = [5.7, 5.85, 5.9, 5.8, 47.0, 6.3]

        spread = estimate_time(6, times).spread
        assert spread == pytest.approx(stats.median_abs_deviation(times, scale="normal"), rel=1e-4)
        assert estimate_time(6, times[:2]).spread is None

    @settings(deadline=None)
    @given(planned=st.floats(1, 100), observed=st.lists(st.floats(1, 100), min_size=1), wild=st.floats(1e3, 1e6))
    def test_one_forgotten_run_moves_little(self, planned: float, observed: list[float], wild: float) -> None:
        """However long one run of many was left open, the time stays among the others."""
        honest = sorted([*observed, *observed])

        assert estimate_time(planned, [*honest, wild]).time <= max(planned, honest[-1]) + 1e-9

    def test_no_runs_yet(self) -> None:
        assert estimate_time(6, []).time == 6
