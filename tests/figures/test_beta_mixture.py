"""Rework of many pieces against the count of all cases: the forecast's promise of 0.025, at each operation alone."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.figures.beta_mixture import MOST_SLICES, build_mixture, build_rework_cases, choose_slice_counts
from floor.figures.forecast import EXACT_PIECES, WorkInProcess, compute_good_count_distribution, forecast_good_count
from floor.figures.yields import Beta, OperationBelief
from tests.figures.rework_count import Station, counted_out, exactly_out, station

PROMISED = 0.025


def worst(at: Station) -> float:
    """The largest error of the chance to fill any order."""
    law = compute_good_count_distribution(0, (WorkInProcess(at.waiting, at.in_rework),), (belief(at),))
    seen = np.zeros(at.waiting + at.in_rework + 1)
    seen[law.first : law.first + len(law.chances)] = law.chances
    return float(np.abs(np.cumsum(seen - counted_out(at))).max())


def belief(at: Station) -> OperationBelief:
    return OperationBelief(Beta(*at.good), Beta(*at.sent), Beta(*at.saved))


def test_rework_that_is_hardly_known_and_much_under_way() -> None:
    """221 waiting and 20 in rework, all wanted: 0.368 by the count of all cases."""
    at = station(0.98, 0.02, 0.5, 2, 30, (0, 0, 0, 0, 0), 221, 20)
    exact = float(counted_out(at)[241])

    seen = forecast_good_count(241, 0, [WorkInProcess(221, 20)], [belief(at)])

    assert exact == pytest.approx(0.368, abs=0.0005)
    assert seen.probability == pytest.approx(exact, abs=0.002)
    assert not seen.exact


@pytest.mark.parametrize(
    ("at", "reached"),
    [
        (Station((188, 13), (13, 0), (0.75, 0.25), 400), 0.00054),  # rework works or it does not
        (Station((98.5, 102.5), (92.45, 10.05), (0.95, 0.05), 201, 60), 0.016),
        (Station((27, 3), (3, 0), (2.85, 0.15), 400, 3), 0.0048),
        (Station((2.7, 0.3), (0.15, 0.15), (0.5, 0.5), 800, 3), 0.015),  # sent to rework or not is as little known
        (Station((0.9, 2.1), (2.1, 0), (2, 0.1), 500, 60), 0.0046),  # the first pass too
        (Station((29.4, 0.6), (0.6, 0), (0.5, 0.5), 260, 1), 0.0041),
        (Station((29, 1), (0.5, 0.5), (0.7, 0.3), 300, 300), 0.0012),  # more in rework than was ever sent
    ],
)
def test_two_heaps_are_kept(at: Station, reached: float) -> None:
    """Within the promise, and as near as the slices and cases bring it."""
    assert worst(at) < 1.03 * reached < PROMISED


@settings(max_examples=25, deadline=None)
@given(
    good=st.sampled_from([0.5, 0.8, 0.9, 0.95, 0.98, 0.995]),
    share=st.sampled_from([0.2, 0.5, 1.0]),
    saves=st.sampled_from([0.1, 0.3, 0.5, 0.8, 0.95]),
    passes=st.integers(1, 3),
    weight=st.sampled_from([1, 3, 10, 30, 100]),
    counts=st.sampled_from([(0, 0, 0, 0, 0), (19, 1, 0, 0, 0), (180, 15, 5, 9, 3)]),
    waiting=st.integers(EXACT_PIECES + 1, 500),
    in_rework=st.sampled_from([0, 1, 4, 20, 60]),
)
def test_any_rework_of_many_pieces_comes_within_the_promise(
    good: float, share: float, saves: float, passes: int, weight: float, counts: tuple[int, int, int, int, int],
    waiting: int, in_rework: int,
) -> None:  # fmt: skip
    assert worst(station(good, (1 - good) * share, saves, passes, weight, counts, waiting, in_rework)) < PROMISED


@settings(max_examples=20, deadline=None)
@given(
    weight=st.sampled_from([2, 5, 30]), waiting=st.integers(1, 7), in_rework=st.integers(0, 3), passes=st.integers(1, 2)
)
def test_few_pieces_are_exact(weight: float, waiting: int, in_rework: int, passes: int) -> None:
    at = station(0.9, 0.05, 0.5, passes, weight, (3, 1, 1, 1, 0), waiting, in_rework)
    exact = exactly_out(at)

    for ordered in range(1, waiting + in_rework + 1):
        seen = forecast_good_count(ordered, 0, [WorkInProcess(waiting, in_rework)], [belief(at)])
        assert seen.exact
        assert seen.probability == pytest.approx(float(sum(exact[ordered:])), abs=1e-9)


shapes = st.builds(Beta, st.floats(0.05, 80), st.floats(0.05, 80))


@settings(max_examples=30, deadline=None)
@given(st.builds(OperationBelief, shapes, shapes, shapes), st.integers(0, 40), st.integers(1, MOST_SLICES))
def test_mean_and_variance_are_kept_however_few_the_slices(one: OperationBelief, already: int, most: int) -> None:
    """By the definition: E θ and E θ² of θ = 1 − (1 − y)(1 − c·q), from the moments of the three."""
    y, c, q = one.first, one.reworkable, one.saved
    assert c is not None
    assert q is not None
    stuck = 1 - 2 * c.mean * q.mean + c.mean_square * q.mean_square
    lost, lost_square = (1 - y.mean) * (1 - c.mean * q.mean), y.complement.mean_square * stuck
    found = build_rework_cases(one, already, most)
    parts = [(case.chance * chance, beta.complement) for case in found for chance, beta in case.good]

    assert sum(chance for chance, _ in parts) == pytest.approx(1, abs=1e-8)
    assert sum(chance * beta.mean for chance, beta in parts) == pytest.approx(lost, abs=1e-8)
    assert sum(chance * beta.mean_square for chance, beta in parts) == pytest.approx(lost_square, abs=1e-8)
    back = [(case.chance * chance, n) for case in found for n, chance in enumerate(case.back[1], case.back[0])]
    assert sum(chance * n for chance, n in back) == pytest.approx(already * q.mean, abs=1e-6)
    assert len(build_mixture(one, most)) <= most


def test_slices_go_where_the_doubt_is() -> None:
    assert choose_slice_counts([1.0]) == [MOST_SLICES]
    assert choose_slice_counts([0.0, 2.0]) == [1, MOST_SLICES]
    assert choose_slice_counts([1.0] * 60) == [1] * 60
    many = choose_slice_counts([10.0, *[1.0] * 39])
    assert many[0] > many[1] == 1
    assert choose_slice_counts([0.0, 0.0]) == [1, 1]
    assert choose_slice_counts([100.0, 1.0]) == [MOST_SLICES, MOST_SLICES]  # few operations: all are cut


def test_without_a_yield_of_rework_there_is_nothing_to_mix() -> None:
    assert build_mixture(OperationBelief(Beta(9, 1), Beta(2, 3)), MOST_SLICES) == [(1.0, Beta(9, 1))]
    assert build_mixture(OperationBelief(Beta(9, 1), None, Beta(2, 3)), MOST_SLICES) == [(1.0, Beta(9, 1))]


def test_what_comes_back_tells_of_the_rework_of_the_others() -> None:
    """Of 20 in rework all come back, or none: the next piece's chance follows, as rework has one yield."""
    found = build_rework_cases(OperationBelief(Beta(5, 5), Beta(5, 0), Beta(0.5, 0.5)), 20, MOST_SLICES)
    means = [sum(chance * beta.mean for chance, beta in case.good) for case in found]

    assert all(one < more for one, more in itertools.pairwise(means))
    assert means[0] < 0.55
    assert means[-1] > 0.95
