"""Numbers as people type or paste them: several in a row, with decimal points or commas, with their unit or without."""

from __future__ import annotations

import re

from floor.batch.command import LARGEST_VALUE, Refused

_COMMA = re.compile(r"[+-]?\d+,\d+")
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?", re.ASCII)


def read_numbers(text: str, unit: str, most: int, field: str) -> tuple[float, ...]:
    """The numbers in a text, apart by blanks or semicolons, or by commas that are no decimal ones.

    Args:
        unit: may stand behind each of them.
        field: the form field that it was typed into.

    Raises:
        Refused: it holds something else, or may be read in two ways.
    """
    words = [word.removesuffix(unit) or word for word in re.split(r"[\s;]+", text.strip()) if word and word != unit]
    words = _part_at_commas(words, field)
    if not words:
        raise Refused("input", "no value", "type one or more, with blanks between", field=field)
    if len(words) > most:
        raise Refused("input", f"{len(words)} values at once", f"enter at most {most}", field=field)
    return tuple(_read(word, field) for word in words)


def _part_at_commas(words: list[str], field: str) -> list[str]:
    """The numbers, with decimal points: a comma within a word is a decimal one where no word has a point."""
    words = list(filter(None, (word.strip(",") for word in words)))
    inside = [word for word in words if "," in word]
    if not inside:
        return words
    if any("." in word for word in words):
        return _part_points(words, field)
    if len(words) == 1 or not all(map(_is_with_comma, words)):
        raise _refuse_either_way(inside[0], field)
    return [word.replace(",", ".") for word in words]


def _part_points(words: list[str], field: str) -> list[str]:
    """Numbers with points, commas between them."""
    mixed = next((word for word in words if "," in word and not all("." in part for part in word.split(","))), "")
    if mixed:
        wrong = f"{mixed[:20]} has a comma, and other values a point"
        raise Refused("input", wrong, "write all with points, blanks between", field=field)
    return [part for word in words for part in word.split(",")]


def split_unit(text: str) -> tuple[str, str]:
    """What is measured and its unit: ``roughness in um``; without a unit where none is named."""
    words = text.split()
    at = max((n for n, word in enumerate(words) if word == "in"), default=0)
    return (" ".join(words[:at]), " ".join(words[at + 1 :])) if at else (" ".join(words), "")


def _is_with_comma(word: str) -> bool:
    """Whether a word is a number with a decimal comma, or a whole one."""
    return _COMMA.fullmatch(word) is not None or word.isdecimal()


def _refuse_either_way(value: str, field: str) -> Refused:
    point = f"{value.replace(',', '.')}, or " if value.count(",") == 1 else ""
    right = f"write {point}{value.replace(',', ' ')}"
    return Refused("input", f"{value[:20]} may be one number or several", right, field=field)


def _read(word: str, field: str) -> float:
    if not _NUMBER.fullmatch(word):
        raise Refused("input", f"{word[:20]} is not a number", "write numbers with blanks between", field=field)
    value = float(word)
    if abs(value) > LARGEST_VALUE:
        raise Refused("input", f"{word[:20]} is too large", f"enter at most {LARGEST_VALUE:g}", field=field)
    return value
