"""Sums of counts against numpy, and long rows against integer arithmetic without rounding."""

from __future__ import annotations

from fractions import Fraction
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.figures.convolution import convolve

chances = st.lists(st.floats(0, 1, allow_subnormal=False), min_size=1, max_size=20)


@settings(max_examples=60)
@given(chances, chances)
def test_short_rows_equal_numpy(one: list[float], other: list[float]) -> None:
    assert convolve(one, other) == pytest.approx(np.convolve(one, other), abs=1e-12)


@pytest.mark.parametrize(("many", "few"), [(65, 65), (300, 66), (120, 400)])
def test_long_rows_keep_their_digits_over_twenty_orders_of_size(many: int, few: int) -> None:
    """Beside fractions, which do not round; each row falls from 1 to about 1e-9."""
    random = Random(few)
    one = [random.random() * 10 ** (-9 * n / many) for n in range(many)]
    other = [random.random() * 10 ** (-9 * n / few) for n in range(few)]

    found = convolve(one, other)

    assert len(found) == many + few - 1
    for k in (0, 1, few // 2, many - 1, many + few - 2):
        exact = sum(Fraction(one[i]) * Fraction(other[k - i]) for i in range(max(0, k - few + 1), min(k + 1, many)))
        assert found[k] == pytest.approx(float(exact), rel=1e-8)
        assert found[k] == pytest.approx(float(exact), abs=1e-15)


@pytest.mark.parametrize("size", [3, 200])
def test_rows_scaled_far_down_and_rows_of_one_number_come_out_the_same(size: int) -> None:
    row = [1.0 / (n + 1) for n in range(size)]
    far = [value * 1e-200 for value in row]

    assert convolve(far, row) == pytest.approx([value * 1e-200 for value in convolve(row, row)], rel=1e-12, abs=0)
    assert convolve(row, [2.0]) == [2 * value for value in row]
