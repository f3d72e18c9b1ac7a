"""The distribution of the sum of two independent counts, by convolution.

Long rows are packed into one big integer each and multiplied as such (Kronecker 1882): Python does that in far fewer
steps than product by product.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from operator import mul

_SHORT = 64
"""Longest shorter row for which product by product is as quick."""

_MOST_BITS = 500
"""Most binary places kept: a float can still hold twice as many."""


def convolve(one: Sequence[float], other: Sequence[float], fine: float = 2.0**-96) -> list[float]:
    """Sums of ``one[i] * other[k - i]`` for every k.

    Args:
        one, other: 0 or more each, at least one number in each row and one of them above 0.
        fine: For long rows, what may be dropped from each number, relative to the largest of its row.

    Returns:
        ``len(one) + len(other) - 1`` numbers, right except for what is dropped and the last digits.
    """
    short, long = sorted((one, other), key=len)
    if len(short) <= _SHORT:
        edge = [0.0] * (len(short) - 1)
        padded, turned = [*edge, *long, *edge], short[::-1]
        return [sum(map(mul, turned, padded[k : k + len(short)])) for k in range(len(one) + len(other) - 1)]
    bits = min(max(16, 1 - math.frexp(fine)[1]), _MOST_BITS)
    digit = (2 * bits + len(short).bit_length() + 7) // 8
    size = digit * (len(one) + len(other) - 1)
    tops = max(one), max(other)
    product = (_number(one, tops[0], bits, digit) * _number(other, tops[1], bits, digit)).to_bytes(size, "little")
    scale = math.ldexp(tops[0] * tops[1], -2 * bits)
    return [int.from_bytes(product[at : at + digit], "little") * scale for at in range(0, size, digit)]


def _number(row: Sequence[float], top: float, bits: int, digit: int) -> int:
    """The row as one integer, first number lowest; each takes ``digit`` bytes."""
    scale = math.ldexp(1.0, bits)
    return int.from_bytes(b"".join([int(value / top * scale).to_bytes(digit, "little") for value in row]), "little")
