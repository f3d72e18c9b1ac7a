"""The sum of two independent counts: their rows of chances folded into one.

Long rows are laid out as the digits of one great whole number each and multiplied as such (Kronecker 1882), which
Python does in far fewer steps than one product after another.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from operator import mul

_SHORT = 64
"""Numbers in the shorter row up to which one product after another is as quick."""

_MOST_BITS = 500
"""Binary places kept at most: twice as many are what a floating number can still hold."""


def convolve(one: Sequence[float], other: Sequence[float], fine: float = 2.0**-96) -> list[float]:
    """Sums of ``one[i] * other[k - i]`` for every k.

    Args:
        one, other: 0 or more each, at least one number in each row and one of them above 0.
        fine: Where the rows are long, what is left out of each number, beside the greatest of its row.

    Returns:
        ``len(one) + len(other) - 1`` numbers, right but for what is left out and the last digits.
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
    """The row as one whole number, the first place the lowest; each place is ``digit`` bytes wide."""
    scale = math.ldexp(1.0, bits)
    return int.from_bytes(b"".join([int(value / top * scale).to_bytes(digit, "little") for value in row]), "little")
