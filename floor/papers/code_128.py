"""Code 128 (ISO/IEC 15417) of a text in printable ASCII, as bars and spaces; for laser scanners.

Encoded here, as the library tried first lost the first two digits of texts that begin with 99.
"""

from __future__ import annotations

import re

_TABLE = """
212222 222122 222221 121223 121322 131222 122213 122312 132212 221213 221312 231212 112232 122132 122231 113222
123122 123221 223211 221132 221231 213212 223112 312131 311222 321122 321221 312212 322112 322211 212123 212321
232121 111323 131123 131321 112313 132113 132311 211313 231113 231311 112133 112331 132131 113123 113321 133121
313121 211331 231131 213113 213311 213131 311123 311321 331121 312113 312311 332111 314111 221411 431111 111224
111422 121124 121421 141122 141221 112214 112412 122114 122411 142112 142211 241211 221114 413111 241112 134111
111242 121142 121241 114212 124112 124211 411212 421112 421211 212141 214121 412121 111143 111341 131141 114113
114311 411113 411311 113141 114131 311141 411131 211412 211214 211232 2331112
"""
"""Modules of the bars and spaces of each value, in turn, from a bar on (table 1 of the standard, from memory; a test
has every sign decoded)."""
_WIDTHS = _TABLE.split()
_TO_C, _TO_B, _START_B, _START_C, _STOP = 99, 100, 104, 105, 106
_DIGITS = re.compile(r"(^(?:\d\d){2,}|(?:\d\d){3,}|(?:\d\d){2,}$)", re.ASCII)
"""Where two digits to a sign save more than the change of set costs."""


def encode_code_128(text: str) -> list[bool]:
    """Whether each module is dark, without quiet zones."""
    values = _list_values(text)
    check = (values[0] + sum(at * value for at, value in enumerate(values))) % 103
    widths = "".join(_WIDTHS[value] for value in (*values, check, _STOP))
    return [at % 2 == 0 for at, width in enumerate(widths) for _ in range(int(width))]


def _list_values(text: str) -> list[int]:
    """The start, then set B, and set C for runs of digits."""
    values: list[int] = []
    for at, part in enumerate(_DIGITS.split(text)):
        if at % 2:
            values.append(_TO_C if values else _START_C)
            values += [int(part[n : n + 2]) for n in range(0, len(part), 2)]
        elif part:
            values.append(_TO_B if values else _START_B)
            values += [ord(sign) - 32 for sign in part]
    return values
