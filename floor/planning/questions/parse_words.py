"""Numbers, directions and names as people write them in a what-if."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from difflib import get_close_matches

from floor.dataclass import dataclass
from floor.planning.questions.days import NotUnderstood

_COUNTED = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
NUMBERS = dict.fromkeys(("a", "an", "another", "second"), 1) | {word: n for n, word in enumerate(_COUNTED, 1)}
MORE = {
    "more",
    "extra",
    "another",
    "additional",
    "further",
    "second",
    "borrow",
    "borrowed",
    "add",
    "added",
    "buy",
    "bought",
    "hire",
    "hired",
    "rent",
    "rented",
    "got",
    "get",
}
LESS = {"less", "fewer", "without", "minus", "lose", "lost", "missing"}
PIECES = ("piece", "pieces", "part", "parts")
LEADING = {
    "what",
    "if",
    "we",
    "i",
    "had",
    "have",
    "came",
    "come",
    "in",
    "on",
    "work",
    "worked",
    "with",
    "the",
    "there",
    "were",
    "was",
    "is",
    "also",
    "use",
    "used",
    "took",
    "take",
    "make",
    "made",
    "let",
    "do",
    "did",
}
_IDLE = ("of", "the", "then", "there", "here", "only")
"""What may stand in a count without changing it."""
MOST = 99
"""Largest number more or fewer in one change."""
LONGEST = 2000
"""Most hours that anything may take longer."""
_DURATION = re.compile(r"\b(\d+(?:[.,]\d+)?|an|a|one|two|half an) ?(h|hrs?|hours?|min|mins|minutes?)\b")


@dataclass(frozen=True, slots=True)
class CountChange:
    """How many more of what."""

    more: int
    """Negative is fewer."""
    what: str
    """The rest of the words."""


def tidy_phrase(phrase: str) -> str:
    """A phrase in lower case, without lead-in words such as "What if we had"."""
    words = phrase.lower().strip(" ?.!").split()
    while len(words) > 1 and words[0] in LEADING:
        words = words[1:]
    return " ".join(words)


def split_off_duration(text: str) -> tuple[str, float | None]:
    """Split off a length of time, in minutes: ``1 h``, ``90 min``, ``1.5 hours``.

    Raises:
        NotUnderstood: not a length of time, or too long.
    """
    found = _DURATION.search(text)
    if found is None:
        return text, None
    word = found[1].replace(",", ".")
    many = 0.5 if word == "half an" else float(NUMBERS.get(word, 0) or word)
    rest = f"{text[: found.start()]} {text[found.end() :]}"
    minutes = many * (60 if found[2].startswith("h") else 1)
    if not 1 <= minutes <= 60 * LONGEST:
        raise NotUnderstood(f"{found[0]} is out of range. Write 1 min to {LONGEST} h")
    return " ".join(rest.split()), minutes


def read_number(text: str) -> CountChange | None:
    """How many more or fewer; None without number and direction.

    Raises:
        NotUnderstood: one of the two is missing, or it is too many.
    """
    words = text.split()
    way = sum((word in MORE) - (word in LESS) for word in words)
    told = [count for word in words if (count := _count(word)) is not None]
    signed = next(filter(re.compile(r"[+-]\d+").fullmatch, words), "")
    what = " ".join(word for word in words if word != signed and not _tells_a_count(word))
    if signed:
        way, told = _read_sign(signed, way, what), [int(signed[1:])]
    if not told and not way:
        return None
    count = told[0] if told else 1
    if not way:
        raise NotUnderstood(f"more or fewer? {_either(count, what)}")
    if not 1 <= count <= MOST:
        raise NotUnderstood(f"{count} is out of range. Write 1 to {MOST}")
    return CountChange(count if way > 0 else -count, what)


def _tells_a_count(word: str) -> bool:
    return word in MORE or word in LESS or word in _IDLE or _count(word) is not None


def _read_sign(signed: str, way: int, what: str) -> int:
    """1 for a plus and -1 for a minus.

    Args:
        way: above 0 where words say more, below where they say fewer.

    Raises:
        NotUnderstood: the words beside it contradict it, or may.
    """
    sign = 1 if signed[0] == "+" else -1
    if way and not way > 0 < sign:
        both = f'{"a plus" if sign > 0 else "a minus"} and "{"more" if way > 0 else "fewer"}"'
        raise NotUnderstood(f"{both} contradict each other. {_either(int(signed[1:]), what)}")
    return sign


def _either(count: int, what: str) -> str:
    fewer = "" if what in PIECES else f' or "{count} fewer {what}"'  # those that are started stay
    return f'Write "{count} more {what}"{fewer}'


def _count(word: str) -> int | None:
    return int(word) if word.isdecimal() and len(word) < 9 else NUMBERS.get(word)


def read_name(text: str, names: Mapping[str, str]) -> str | None:
    """The key of the thing named, in singular or plural, in full or by a distinctive word; else None.

    Args:
        names: key → what it is called.

    Raises:
        NotUnderstood: several are meant.
    """
    wanted = _forms(text)
    exact = [key for key, name in names.items() if wanted & (_forms(name) | {key.lower()})]
    if not exact:
        exact = [key for key, name in names.items() if any(wanted & _forms(word) for word in name.split())]
    if len(exact) > 1:
        raise NotUnderstood(
            f'"{text}" can be {format_name_list((names[key] for key in exact), "or")}. Write its whole name'
        )
    return exact[0] if exact else None


def build_unknown_name_error(text: str, names: Iterable[str]) -> NotUnderstood:
    """The error for an unknown name, with the likely meant one and the known ones."""
    known = list(dict.fromkeys(names))
    close = get_close_matches(text.lower(), [name.lower() for name in known], n=1, cutoff=0.6)
    meant = next((f"Did you mean {name}? " for name in known if close and name.lower() == close[0]), "")
    return NotUnderstood(f'there is no "{text}" here. {meant}There are: {", ".join(known)}')


def format_name_list(names: Iterable[str], last: str = "and") -> str:
    """``Pallet, Tray and Vise``."""
    *before, end = names
    return f"{', '.join(before)} {last} {end}" if before else end


def _forms(text: str) -> set[str]:
    """Ways to write a name: plural and singular."""
    text = text.lower().strip()
    return {text, text.removesuffix("s"), text.removesuffix("es")} - {""}
