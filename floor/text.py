"""Text for people: times, spans and counts as a tired person reads them, columns, and cleaning of typed text."""

from __future__ import annotations

import unicodedata
from collections.abc import Collection, Iterable, Sequence
from datetime import date, datetime

from floor.wall import WEEKDAYS, convert_to_zone, get_local_day, get_zone

LONGEST_TEXT = 500
"""Most characters kept of a note or reason."""
WIDTH = 80
"""Columns of a paper, and of the smallest screen."""

BETWEEN_NUMBERS = frozenset({"or", "and", "·", "to"})
"""Words between the numbers at the end of a name."""
LEAST_OF_A_NAME = 2
"""Columns from which the beginning of a name is still shown."""


def format_clock(at: datetime, now: datetime | None = None) -> str:
    """``14:05``, with the day if not the day of ``now`` (or without ``now``): ``Thu 14:05``.

    More than six days away, the date instead of the weekday.
    """
    return format_wall_clock(convert_to_zone(at, get_zone(now or at)), now and get_local_day(now))


def format_wall_clock(read: datetime, today: date | None = None) -> str:
    """The same for a wall-clock time as kept in the record."""
    if today is not None and read.date() == today:
        return f"{read:%H:%M}"
    if today is not None and abs((read.date() - today).days) > 6:
        return f"{read:%Y-%m-%d %H:%M}"
    return f"{WEEKDAYS[read.weekday()]} {read:%H:%M}"


def format_day(day: date, today: date) -> str:
    """``Fri 31 Dec``, with the year if it is not this year's."""
    return f"{day:%a %d %b}" + (f" {day.year}" if day.year != today.year else "")


def format_span(seconds: float) -> str:
    """``45 s``, ``12 min``, ``3 h 05``, ``2 d 4 h``; never negative."""
    seconds = max(seconds, 0.0)
    if seconds < 60:
        return f"{int(seconds)} s"
    minutes = int(seconds // 60)
    if minutes < 60:
        return f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    if hours < 48:
        return f"{hours} h {minutes:02d}"
    days, hours = divmod(hours, 24)
    return f"{days} d {hours} h"


def format_count(count: int, noun: str) -> str:
    """``1 piece``, ``2 pieces``, ``3 entries``."""
    if count != 1 and noun.endswith("y") and noun[-2:-1] not in "aeiou":
        return f"{count} {noun[:-1]}ies"
    ending = "" if count == 1 else "es" if noun.endswith(("s", "x", "ch", "sh")) else "s"
    return f"{count} {noun}{ending}"


def format_numbers(numbers: Iterable[int]) -> str:
    """Numbers, those in a row together: ``3-6, 9``."""
    rows: list[list[int]] = []
    for number in sorted(numbers):
        if rows and number == rows[-1][-1] + 1:
            rows[-1].append(number)
        else:
            rows.append([number])
    return ", ".join(str(row[0]) if len(row) == 1 else f"{row[0]}-{row[-1]}" for row in rows)


def name_pieces(pieces: Collection[int]) -> str:
    """``piece 5``, ``pieces 2-12, 14-24``: all of them, however many."""
    return f"piece{'' if len(pieces) == 1 else 's'} {format_numbers(pieces)}"


def with_article(noun: str) -> str:
    """``a pallet``, ``an oven rack``: by its first letter, which is right for what carriers are called."""
    return f"{'an' if noun[:1].lower() in tuple('aeiou') else 'a'} {noun}"


def capitalize_first(text: str) -> str:
    """The text with its first letter capitalized and all others as they are: ``UV cure`` stays."""
    return text[:1].upper() + text[1:]


def join_sentences(*parts: str) -> str:
    """Parts as consecutive sentences: each starts with a capital and ends with a period."""
    said = [part.strip().rstrip(".") for part in parts if part.strip()]
    return " ".join(f"{capitalize_first(part)}." for part in said)


def format_share(share: float, decimals: int = 0) -> str:
    """``12 %``, with the space that NIST SP 811, 7.10.2 asks for."""
    return f"{100 * share:.{decimals}f} %"


def format_chance(chance: float, decimals: int = 1) -> str:
    """``96.4 %``; never rounded up to certainty, nor down to zero."""
    least = 10.0**-decimals
    if chance > 1 - least / 100:
        return f"> {100 - least:.{decimals}f} %"
    return f"< {least:.{decimals}f} %" if 0 < chance < least / 100 else format_share(chance, decimals)


def sanitize(text: str, limit: int = LONGEST_TEXT) -> str:
    """Text safe to keep and show: no control characters, escapes or lone surrogates, one line, bounded."""
    text = text[: 16 * limit]  # do not read a pasted file to its end
    if text.isprintable():  # nearly every text
        return " ".join(text.split())[:limit]
    kept = []
    for character in text:
        category = unicodedata.category(character)
        if category == "Cs":
            kept.append("\N{REPLACEMENT CHARACTER}")
        elif category[0] == "C" or category in ("Zl", "Zp"):
            kept.append(" ")
        else:
            kept.append(character)
    return " ".join("".join(kept).split())[:limit]


def count_cells(text: str) -> int:
    """Columns of a text in a fixed-width font: wide letters two, combining marks none."""
    if text.isascii():  # nearly every text, counted several times a key
        return len(text)
    return sum(
        0 if unicodedata.combining(letter) else 2 if unicodedata.east_asian_width(letter) in "WF" else 1
        for letter in text
    )


def cut(text: str, width: int) -> str:
    """The text in at most so many columns, with a mark if it was cut."""
    if count_cells(text) <= width:
        return text
    kept = ""
    for letter in text:
        if count_cells(kept + letter) > width - 1:
            break
        kept += letter
    return kept + "…"


def pad(text: str, width: int) -> str:
    """The text in exactly so many columns: cut, or filled up with blanks."""
    shown = cut(text, width)
    return shown + " " * (width - count_cells(shown))


def cut_name(name: str, width: int) -> str:
    """A name in at most so many columns: its beginning is cut, never its number or place: ``Fixt… 3 B4``."""
    name = name.strip()
    if count_cells(name) <= width:
        return name
    words = name.split()
    tail: list[str] = []
    while words and (words[-1] in BETWEEN_NUMBERS or any(letter.isdigit() for letter in words[-1])):
        tail.insert(0, words.pop())
    while tail and tail[0] in BETWEEN_NUMBERS:
        words.append(tail.pop(0))
    ending = " ".join(tail).replace(" or ", "/").replace(" · ", " ")
    room = width - count_cells(ending) - (1 if ending else 0)
    if not ending or room >= LEAST_OF_A_NAME:
        return cut(" ".join(words), room) + (f" {ending}" if ending else "")
    while ending and count_cells(ending) > width - 1:
        ending = ending[1:]
    return "…" + ending.lstrip()


def wrap_text(text: str, first: str = "", then: str | None = None, width: int = WIDTH) -> list[str]:
    """The text in lines of at most ``width`` columns, broken at spaces, longer words anywhere.

    Args:
        first: what the first line starts with.
        then: what the others start with; by default as many spaces as ``first`` has columns.
    """
    said = sanitize(text, len(text))
    if said and count_cells(first) + count_cells(said) <= width:  # nearly every text
        return [first + said]
    lead = " " * count_cells(first) if then is None else then
    lines: list[str] = []
    line, empty = first, True
    for word in said.split(" "):
        while word:
            gap = "" if empty else " "
            if count_cells(line) + len(gap) + count_cells(word) <= width:
                line, empty = line + gap + word, False
                break
            if empty:
                head = _head(word, width - count_cells(line))
                line, word = line + head, word[len(head) :]
            lines.append(line.rstrip())
            line, empty = lead, True
    if not empty or not lines:
        lines.append(line.rstrip())
    return lines


def wrap_cut(text: str, rows: int, first: str = "", width: int = WIDTH) -> list[str]:
    """The text in at most so many lines; what has no room ends in a mark."""
    lines = wrap_text(text, first, width=width)
    if len(lines) > rows:
        lines = [*lines[: rows - 1], cut(" " * count_cells(first) + " ".join(map(str.strip, lines[rows - 1 :])), width)]
    return lines


def format_answered(question: str, answer: str) -> str:
    """A question and its answer in one line, told apart where the question ends without a mark of its own."""
    return f"{question} {answer}" if question.endswith(("?", ":")) else f"{question}: {answer}"


KEY_GAP = "   "
"""Between two keys of a row at least."""


def set_out(parts: Sequence[str], width: int, gap: str = "   ") -> list[str]:
    """Parts in lines of at most so many columns, broken between two of them; a longer one at its spaces."""
    lines: list[str] = []
    for part in parts:
        if lines and count_cells(lines[-1] + gap + part) <= width:
            lines[-1] += gap + part
        else:
            lines += wrap_text(part, width=width)
    return lines


def break_keys(keys: str, width: int, gap: str = KEY_GAP) -> str:
    """A row of keys, or rows broken between two of them where it is too long.

    Args:
        gap: between two keys of a row that was broken.
    """
    if count_cells(keys) <= width:
        return keys
    return "\n".join(set_out([key.strip() for key in keys.split(KEY_GAP)], width, gap))


def _head(word: str, room: int) -> str:
    """As many letters as fit, at least one."""
    kept = word[0]
    for letter in word[1:]:
        if count_cells(kept + letter) > room:
            break
        kept += letter
    return kept
