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
    find_beta_quantile,
    find_chi_square_quantile,
    find_student_t_quantile,
    gamma_cdf,
    hypergeometric_pmf,
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


@settings(deadline=None)
@given(chance=st.floats(1e-6, 1 - 1e-6), a=st.floats(0.5, 3000), b=st.floats(0.5, 3000))
def test_beta_quantile_equals_scipy(chance: float, a: float, b: float) -> None:
    assert find_beta_quantile(chance, a, b) == pytest.approx(stats.beta.ppf(chance, a, b), rel=1e-8, abs=1e-12)


@settings(deadline=None)
@given(share=st.floats(0.01, 4), shape=st.floats(0.1, 5000))
def test_incomplete_gamma_equals_scipy(share: float, shape: float) -> None:
    assert gamma_cdf(share * shape, shape) == pytest.approx(stats.gamma.cdf(share * shape, shape), abs=1e-12)


def test_incomplete_gamma_at_its_ends() -> None:
    assert (gamma_cdf(0, 2), gamma_cdf(-1, 2), gamma_cdf(math.inf, 2)) == (0, 0, 1)


@settings(deadline=None)
@given(chance=st.floats(1e-4, 1 - 1e-4), freedom=st.floats(1, 5000))
def test_chi_square_and_student_quantiles_equal_scipy(chance: float, freedom: float) -> None:
    assert find_chi_square_quantile(chance, freedom) == pytest.approx(stats.chi2.ppf(chance, freedom), rel=1e-8)
    t = find_student_t_quantile(chance, freedom)
    assert t == pytest.approx(stats.t.ppf(chance, freedom), rel=1e-6, abs=1e-7)
    assert stats.t.sf(t, freedom) == pytest.approx(1 - chance, abs=1e-8)


def test_printed_quantiles() -> None:
    """Tables of chi-square and of Student's t in the NIST/SEMATECH e-Handbook 1.3.6.7.2 and 1.3.6.7.4 (from memory)."""
    assert find_chi_square_quantile(0.95, 10) == pytest.approx(18.307, abs=5e-4)
    assert find_chi_square_quantile(0.025, 100) == pytest.approx(74.222, abs=5e-4)
    assert find_student_t_quantile(0.975, 10) == pytest.approx(2.228, abs=5e-4)
    assert find_student_t_quantile(0.5, 3) == 0


@settings(deadline=None)
@given(data=st.data())
def test_hypergeometric_equals_scipy_to_its_last_chance(data: st.DataObject) -> None:
    pieces = data.draw(st.integers(1, 600))
    marked, drawn = data.draw(st.integers(0, pieces)), data.draw(st.integers(0, pieces))

    least, row = hypergeometric_pmf(pieces, marked, drawn)

    assert (least, least + len(row) - 1) == (max(0, drawn + marked - pieces), min(drawn, marked))
    for k in {least, least + len(row) // 2, least + len(row) - 1}:
        exact = math.comb(marked, k) * math.comb(pieces - marked, drawn - k) / math.comb(pieces, drawn)
        assert row[k - least] == pytest.approx(exact, rel=1e-11)
        assert row[k - least] == pytest.approx(stats.hypergeom.pmf(k, pieces, marked, drawn), rel=1e-8, abs=1e-14)
