"""The chances behind every quantity, against scipy and published figures."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from floor.figures.distributions import (
    beta_binomial_pmf,
    beta_cdf,
    binomial_pmf,
    binomial_upper_tail,
)

chances = st.floats(0.001, 0.999)


@settings(deadline=None)
@given(n=st.integers(0, 6000), share=st.floats(0, 1), p=chances)
def test_binomial_equals_scipy(n: int, share: float, p: float) -> None:
    k = round(share * n)

    assert binomial_pmf(k, n, p) == pytest.approx(stats.binom.pmf(k, n, p), rel=1e-9, abs=1e-15)
    assert binomial_upper_tail(k, n, p) == pytest.approx(stats.binom.sf(k - 1, n, p), rel=1e-9, abs=1e-14)


@pytest.mark.parametrize(("n", "p"), [(10_000_000, 0.9), (1_000_000, 0.5), (2_000_000, 1e-5)])
def test_binomial_tail_stays_exact_for_millions(n: int, p: float) -> None:
    k = round(n * p) + 3

    assert binomial_upper_tail(k, n, p) == pytest.approx(stats.binom.sf(k - 1, n, p), abs=1e-11)


@settings(deadline=None)
@given(x=chances, a=st.floats(0.05, 3000), b=st.floats(0.05, 3000))
def test_incomplete_beta_equals_scipy(x: float, a: float, b: float) -> None:
    assert beta_cdf(x, a, b) == pytest.approx(stats.beta.cdf(x, a, b), abs=1e-12)


@settings(deadline=None)
@given(n=st.integers(0, 400), a=st.floats(0.05, 500), b=st.floats(0.05, 500))
def test_beta_binomial_equals_scipy_also_where_it_has_two_peaks(n: int, a: float, b: float) -> None:
    first, row = beta_binomial_pmf(n, a, b)

    assert math.fsum(row) == pytest.approx(1, abs=1e-12)
    for k in {first, first + len(row) // 2, first + len(row) - 1}:
        assert row[k - first] == pytest.approx(stats.betabinom.pmf(k, n, a, b), rel=1e-7, abs=1e-13)


def test_edges_of_certainty() -> None:
    """A yield of one or zero needs no limit of a formula."""
    assert (binomial_pmf(3, 3, 1), binomial_pmf(2, 3, 1), binomial_pmf(0, 3, 0)) == (1, 0, 1)
    assert (binomial_upper_tail(3, 3, 1), binomial_upper_tail(4, 3, 1), binomial_upper_tail(0, 0, 0.5)) == (1, 0, 1)
    assert (beta_binomial_pmf(5, 8, 0), beta_binomial_pmf(5, 0, 8), beta_binomial_pmf(0, 2, 3)) == (
        (5, [1]),
        (0, [1]),
        (0, [1]),
    )


def test_boys_in_saxony_families() -> None:
    """Families of twelve by number of sons (Geissler's Saxony data, 6,115 families): the printed binomial column.

    The beta-binomial parameters are from memory; scipy stands beside them.
    """
    printed = [0.0002, 0.0020, 0.0117, 0.0423, 0.1027, 0.1775, 0.2236, 0.2070, 0.1397, 0.0671, 0.0217, 0.0043, 0.0004]
    assert [binomial_pmf(k, 12, 0.5192) for k in range(13)] == pytest.approx(printed, abs=1e-4)

    families = [2.3, 22.6, 104.8, 310.8, 655.7, 1036.3, 1258.1, 1182.2, 853.6, 461.9, 177.8, 43.8, 5.2]
    first, row = beta_binomial_pmf(12, 34.1350, 31.6085)
    assert first == 0
    assert [6115 * chance for chance in row] == pytest.approx(families, abs=0.06)
    assert row == pytest.approx(stats.betabinom.pmf(range(13), 12, 34.1350, 31.6085), abs=1e-12)
