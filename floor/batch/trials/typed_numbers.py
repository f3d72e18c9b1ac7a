"""Numbers as people type or paste them: several in a row, with decimal points or commas, with their unit or without."""

from __future__ import annotations

import re

from floor.batch.command import LARGEST_VALUE, Refused

_COMMA = re.compile(r"[+-]?\d+,\d+")
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?", re.ASCII)


def read_numbers(text: str, unit: str, most: int, field: str) -> tuple[float, ...]:
    """The numbers in a text, apart by blanks, semicolons or commas.

    Args:
        unit: may stand behind each of them.
        field: the form field that it was typed into.

    Raises:
        Refused: it holds something else, or may be read in two ways.
    """
    words = [word for word in re.split(r"[\s;]+", text.strip()) if word and word != unit]
    if unit:
        words = [word.removesuffix(unit) or word for word in words]
    decimal = "." not in text and words and all(_COMMA.fullmatch(word) or word.isdecimal() for word in words)
    if decimal and len(words) == 1 and "," in text:
        value, one = words[0], words[0].replace(",", ".")
        wrong = f"{value} may be one number or two"
        raise Refused("input", wrong, f"write {one}, or {value.replace(',', '; ')}", field=field)
    if decimal:
        words = [word.replace(",", ".") for word in words]
    else:
        words = [part for word in words for part in word.split(",") if part]
    if not words:
        raise Refused("input", "no value", "type one or more, with blanks between", field=field)
    if len(words) > most:
        raise Refused("input", f"{len(words)} values at once", f"enter at most {most}", field=field)
    return tuple(_read(word, field) for word in words)


def _read(word: str, field: str) -> float:
    if not _NUMBER.fullmatch(word):
        raise Refused("input", f"{word[:20]} is not a number", "write numbers with blanks between", field=field)
    value = float(word)
    if abs(value) > LARGEST_VALUE:
        raise Refused("input", f"{word[:20]} is too large", f"enter at most {LARGEST_VALUE:g}", field=field)
    return value
