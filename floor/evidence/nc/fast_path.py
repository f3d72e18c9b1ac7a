"""The fast path: a line with just a straight move or an arc, as most lines of a long program are.

Same result as `execute`, as a test checks; anything it does not match goes there.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from typing import NamedTuple

from floor.evidence.nc.applied_block import Num, Step
from floor.evidence.nc.dialect import Dialect
from floor.evidence.nc.motion import PLANES, move, move_arc, set_feed
from floor.evidence.nc.program_facts import Record
from floor.evidence.nc.state import State

Match = Callable[[str], "re.Match[str] | None"]
_COMMENT = re.compile(r"\(([^()]*)\)")
_DOTTED = r"[-+]?(?:\d{1,7}\.\d{0,9}|\.\d{1,9}|0+)"
_ANY = r"[-+]?(?:\d{1,7}\.?\d{0,9}|\.\d{1,9})"
_LETTERS = "XYZIJKR"
ONCE = "?+" if sys.version_info >= (3, 11, 5) else "?"
"""Once or not at all. What a possessive ``?+`` read is not tried again in parts, so what does not match fails at once;
Python before 3.11.5 goes on as if a word that failed had been left out (CPython issue 106052), and took ``X.``."""
_NO_PLANE = (0, 1, 2)
_NO_ENDS, _NO_ROUND, _NO_WORDS, _NOTHING = (None,) * 3, (None,) * 4, (None,) * 6, (None,) * 7


class Plain(NamedTuple):
    """Patterns for a plain line: one whose lengths mean the same on every control, or on this one; and for any."""

    sure: Match
    bare: Match


def compile_plain(dialect: Dialect) -> Plain:
    return Plain(_compile(_ANY if dialect.bare_number == "whole" else _DOTTED), _compile(_ANY))


def _compile(number: str, once: str = ONCE) -> Match:
    words = "".join(rf"(?:{letter}({number}) ?){once}" for letter in _LETTERS)
    return re.compile(
        rf"(?:N\d+ ?){once}(?:G0?([0-3]) ?){once}{words}(?:F(\d{{1,7}}\.?\d{{0,9}}) ?){once}", re.ASCII | re.IGNORECASE
    ).fullmatch


def read_plain(s: State, r: Record, words: tuple[str | None, ...], line: int) -> bool:
    """Read what `compile_plain` matched; False, with nothing changed, if the state needs the full path."""
    if not s.plain:
        return False
    motion, feed, ends, round_words = words[0], words[8], words[1:4], words[4:8]
    if round_words != _NO_ROUND and not _is_arc(s, words):
        return False
    if motion is not None:
        s.motion = int(motion) * 10
    arc = s.motion > 10
    if feed is not None:
        set_feed(s, r, float(feed), line)
    scale = s.scale
    x, y, z = [None if word is None else float(word) * scale for word in ends]
    if arc:
        if words[1:8] != _NOTHING:
            i, j, k, radius = [None if word is None else float(word) * scale for word in round_words]
            move_arc(s, r, line, (x, y, z), (i, j, k), radius)
    elif ends != _NO_ENDS:
        move(s, r, line, (x, y, z))
    return True


def _is_arc(s: State, words: tuple[str | None, ...]) -> bool:
    """Whether center or radius words are those of an arc in its plane; else the full path lists some."""
    motion = s.motion if words[0] is None else int(words[0]) * 10
    if motion <= 10 or words[1:7] == _NO_WORDS:
        return False
    return words[4:7] == _NO_ENDS or not (words[7] or words[4 + PLANES.get(s.plane, _NO_PLANE)[2]])


def read_tidied(s: State, r: Record, text: str, line: int, plain: Plain) -> bool:
    """The same for a line plain except for comments, blanks and numbers without a decimal point; False if not."""
    code, comments = _cut_comments(text) if "(" in text else (text, [])
    code = code.replace(" ", "").replace("\t", "")
    if ";" in text:
        if ";" in code[:-1] or text.find(";") < text.rfind(")"):
            return False
        code = code[:-1]  # a printed end of block
    found = plain.sure(code)
    words = found.groups() if found else None
    if words is None:
        found = plain.bare(code) if s.plain else None
        if found and (found.groups()[4:8] == _NO_ROUND or _is_arc(s, found.groups())):
            words = _mark_bare(s, r, found.groups(), line)
    if words is None or not read_plain(s, r, words, line):
        return False
    for comment in comments:
        r.comment(comment.strip(), line)
    return True


def _cut_comments(text: str) -> tuple[str, list[str]]:
    """A line without its simple comments, and those comments; others stay, so the line is not plain."""
    start = text.find("(")
    if text[-1] == ")" and text.find("(", start + 1) < 0 and text.find(")") == len(text) - 1:
        return text[:start], [text[start + 1 : -1]]  # one at the end, like most
    return _COMMENT.sub("", text), _COMMENT.findall(text)


def _mark_bare(s: State, r: Record, words: tuple[str | None, ...], line: int) -> tuple[str | None, ...]:
    """Words with lengths without a decimal point resolved: NaN if controls read them differently."""
    step = Step(s, r, line, False)
    marked = list(words)
    for place, letter in enumerate(_LETTERS, 1):
        text = words[place]
        if text is not None and "." not in text:
            step.words[letter] = Num(float(text), text, True)
            value = step.take_length(letter)
            marked[place] = repr(0.0 if value is None else value / s.scale)
    return tuple(marked)
