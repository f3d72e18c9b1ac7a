"""Values of macro expressions, as far as known: NaN if a variable has no known value.

Operators and their order as in NIST IR 6556, section 3.3.2.3 (from memory); comparisons and AND, OR, XOR give 1 or 0.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping

_TOKEN = re.compile(
    r"\d+\.?\d*|\.\d+|\*\*|MOD|AND|XOR|OR|EQ|NE|GT|GE|LT|LE|ATAN|ASIN|ACOS|SQRT|ABS|SIN|COS|TAN|ROUND|FIX|FUP|EXP|LN"
    r"|<[^<>]*>|[-+*/#\[\]]|.",
    re.ASCII | re.DOTALL,
)
_LEVELS: tuple[dict[str, Callable[[float, float], float]], ...] = (
    {"AND": lambda a, b: float(bool(a) and bool(b)), "OR": lambda a, b: float(bool(a) or bool(b)),
     "XOR": lambda a, b: float(bool(a) != bool(b))},
    {"EQ": lambda a, b: float(abs(a - b) < 1e-6), "NE": lambda a, b: float(abs(a - b) >= 1e-6),
     "GT": lambda a, b: float(a > b), "GE": lambda a, b: float(a >= b), "LT": lambda a, b: float(a < b),
     "LE": lambda a, b: float(a <= b)},
    {"+": lambda a, b: a + b, "-": lambda a, b: a - b},
    {"*": lambda a, b: a * b, "/": lambda a, b: a / b, "MOD": lambda a, b: a % b},
    {"**": lambda a, b: a**b},
)  # fmt: skip
"""Binary operators, weakest first."""
_FUNCTIONS: dict[str, Callable[[float], float]] = {
    "SQRT": math.sqrt, "ABS": abs, "EXP": math.exp, "LN": math.log,
    "SIN": lambda a: math.sin(math.radians(a)), "COS": lambda a: math.cos(math.radians(a)),
    "TAN": lambda a: math.tan(math.radians(a)), "ASIN": lambda a: math.degrees(math.asin(a)),
    "ACOS": lambda a: math.degrees(math.acos(a)), "ROUND": lambda a: math.floor(a + 0.5) + 0.0,
    "FIX": lambda a: math.floor(a) + 0.0, "FUP": lambda a: math.ceil(a) + 0.0,
}  # fmt: skip
_DEEPEST = 40
"""Most nested brackets; deeper ones are not read."""


class _NotRead(Exception):
    """The text is not an expression, or too deep."""


def evaluate(text: str, variables: Mapping[str, float]) -> float:
    """Value of an expression without blanks, in capitals; NaN if it cannot be known.

    A bare number is whole units, as in an assignment. A variable the program did not set is unknown: it may hold
    anything, and controls differ on variables never set.
    """
    try:
        tokens = _TOKEN.findall(text)[::-1]
        value = _read_level(tokens, 0, variables, 0)
        if tokens:
            return math.nan
        return float(value) if math.isfinite(value) else math.nan
    except (_NotRead, ArithmeticError, ValueError, TypeError, IndexError):
        return math.nan


def _read_level(tokens: list[str], level: int, variables: Mapping[str, float], depth: int) -> float:
    if level == len(_LEVELS):
        return _read_value(tokens, variables, depth)
    value = _read_level(tokens, level + 1, variables, depth)
    while tokens and tokens[-1] in _LEVELS[level]:
        operator = tokens.pop()
        other = _read_level(tokens, level + 1, variables, depth)
        known = not (math.isnan(value) or math.isnan(other))
        value = _LEVELS[level][operator](value, other) if known else math.nan
        if isinstance(value, complex):
            raise _NotRead
    return value


def _read_value(tokens: list[str], variables: Mapping[str, float], depth: int) -> float:
    if depth > _DEEPEST:
        raise _NotRead
    token = tokens.pop()
    if token in "+-":
        value = _read_value(tokens, variables, depth + 1)
        return -value if token == "-" else value
    if token == "#":
        return _read_variable(tokens, variables, depth)
    if token == "[":
        value = _read_level(tokens, 0, variables, depth + 1)
        if tokens.pop() != "]":
            raise _NotRead
        return value
    if token == "ATAN":
        value = _read_value(tokens, variables, depth + 1)
        if not tokens or tokens[-1] != "/":
            return math.degrees(math.atan(value))
        tokens.pop()
        return math.degrees(math.atan2(value, _read_value(tokens, variables, depth + 1)))
    if token in _FUNCTIONS:
        value = _read_value(tokens, variables, depth + 1)
        return value if math.isnan(value) else _FUNCTIONS[token](value)
    return float(token)


def _read_variable(tokens: list[str], variables: Mapping[str, float], depth: int) -> float:
    """``#1``, ``#<name>`` and ``##1``."""
    if tokens and tokens[-1].startswith("<"):
        return variables.get(tokens.pop(), math.nan)
    number = _read_value(tokens, variables, depth + 1)
    return math.nan if math.isnan(number) else variables.get(str(int(number)), math.nan)
