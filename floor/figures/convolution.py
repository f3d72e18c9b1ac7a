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

_BITS = 64
"""Binary places kept of each number, beside the greatest of its row."""


def convolve(one: Sequence[float], other: Sequence[float]) -> list[float]:
    """Sums of ``one[i] * other[k - i]`` for every k.

    Args:
        one, other: 0 or more each, at least one number in each row and one of them above 0.

    Returns:
        ``len(one) + len(other) - 1`` numbers. Each is right to the last digit but a few, and to 1e-19 of the rows'
        greatest numbers multiplied, for every number in the shorter row.
    """
    short, long = sorted((one, other), key=len)
    if len(short) <= _SHORT:
        edge = [0.0] * (len(short) - 1)
        padded, turned = [*edge, *long, *edge], short[::-1]
        return [sum(map(mul, turned, padded[k : k + len(short)])) for k in range(len(one) + len(other) - 1)]
    digit = (2 * _BITS + len(short).bit_length() + 7) // 8
    size = digit * (len(one) + len(other) - 1)
    tops = max(one), max(other)
    product = (_number(one, tops[0], digit) * _number(other, tops[1], digit)).to_bytes(size, "little")
    scale = math.ldexp(tops[0] * tops[1], -2 * _BITS)
    return [int.from_bytes(product[at : at + digit], "little") * scale for at in range(0, size, digit)]


def _number(row: Sequence[float], top: float, digit: int) -> int:
    """The row as one whole number, the first place the lowest; each place is ``digit`` bytes wide."""
    scale = math.ldexp(1.0, _BITS)
    return int.from_bytes(b"".join([int(value / top * scale).to_bytes(digit, "little") for value in row]), "little")
