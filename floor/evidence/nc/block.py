"""One line of a program as a block: words, comments, block delete, and anything that is not a word.

Rules of NIST IR 6556, as quoted: case, blanks and tabs do not matter outside comments; a number has digits, at most one
dot, no exponent; ``( )`` is a comment within its line. ``;`` starts a comment that ends with the line.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Literal, NamedTuple

from floor.dataclass import dataclass
from floor.evidence.nc.finding_kinds import Kind

_WORD = re.compile(r"([A-Z])([-+]?(?:\d+\.?\d*|\.\d+))", re.ASCII)
_PIECE = re.compile(r"[A-Z]O(?=[A-Z][-+.\d])|[A-Z]+[^A-Z]*|[^A-Z]+", re.ASCII)
"""A letter O in place of a zero spoils its own word, not the next."""
_CAPITALS = str.maketrans({chr(n): chr(n - 32) for n in range(ord("a"), ord("z") + 1)})
_SKIP = re.compile(r"/(10|\d)?", re.ASCII)
"""Block delete and its level."""
_PRINTS = re.compile(r"(?:N\d+)?(?:POPEN|PCLOS|[DB]PRNT\[.*\])", re.ASCII)
"""Statements that send text to a printer or file: they move nothing (public control manuals; m)."""
_DROPPED = re.compile("[\x00\x1a]+")
_MACRO = re.compile(r"[#\[]|IF|WHILE|GOTO|^(?:N\d+)?(?:END|O<|O\d+[A-Z])|DO\d", re.ASCII)
_VALUE = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?![\d.])", re.ASCII)
_FUNCTION = re.compile(r"ATAN2|ATAN|ASIN|ACOS|SQRT|ABS|SIN|COS|TAN|ROUND|FIX|FUP|EXP|LN|EXISTS")
_VARIABLE = re.compile(r"#+(?:\d+|<[^<>]*>)", re.ASCII)
_NUMBER_LINE = re.compile(r"N\d+(?:\.\d+)?", re.ASCII)
_OPERATOR = re.compile(r"\*\*|[-+*/]|MOD|AND|OR|XOR|EQ|NE|GT|GE|LT|LE")
_STATEMENT = re.compile(r"(IF|WHILE)(\[.*\])(GOTO|THEN|DO)(.*)|(GOTO)(.+)|(DO|END)(\d+)", re.ASCII)
_O_STATEMENT = re.compile(
    r"O(\d+|<[^<>]*>)(SUB|ENDSUB|CALL|RETURN|IF|ELSEIF|ELSE|ENDIF|WHILE|ENDWHILE|DO|REPEAT|ENDREPEAT|BREAK|CONTINUE)(.*)",
    re.ASCII,
)


class Word(NamedTuple):
    """A letter and what follows it: a number, or an expression such as ``#1`` or ``[#1+2]``."""

    letter: str
    text: str


class Assignment(NamedTuple):
    """``#1=…``: the variable, which may be an expression too (``#[#2+1]``), and the expression it is set to."""

    name: str
    text: str


class Control(NamedTuple):
    """A statement that decides the next block: ``GOTO``, ``IF``, ``WHILE``, ``SUB`` …

    ``kind`` is the statement, ``name`` the label, loop number or subprogram, ``test`` its condition or arguments.
    """

    kind: str
    name: str
    test: str


Mark = tuple[Kind, str]


@dataclass(frozen=True, slots=True)
class Block:
    """A parsed line. All its text except blanks is in one of the fields."""

    words: tuple[Word, ...] = ()
    comments: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()
    """Not words: ``XO``, ``X1.2.3``, a Unicode minus."""
    skip: int = 0
    """Block delete level that skips it; 0 for none."""
    assignments: tuple[Assignment, ...] = ()
    control: Control | None = None
    percent: Literal["", "%"] = ""
    name: str = ""
    """Text after a percent sign."""
    marks: tuple[Mark, ...] = ()
    """Findings about its notation, each with its subject."""


@lru_cache(maxsize=1000)
def split_block(text: str) -> Block:
    """Parse a line; kept for loops and subprograms, whose lines come again."""
    marks: list[Mark] = []
    if _DROPPED.search(text):
        marks.append(("control character", ""))
        text = _DROPPED.sub("", text)
    code, comments, stray = cut_comments(text, marks) if "(" in text or ";" in text or ")" in text else (text, (), ())
    code = code.replace(" ", "").replace("\t", "").translate(_CAPITALS)
    if code.startswith("%"):
        return Block((), comments, stray, percent="%", name=code[1:], marks=tuple(marks))
    skip, code = _cut_skip(code, marks)
    if code.startswith(":"):
        code = "O" + code[1:]  # a program number in ISO code
    if code[:1] in "NPDB" and _PRINTS.fullmatch(code):
        return Block((), (*comments, code), stray, skip, marks=tuple(marks))
    if _MACRO.search(code):
        return _split_macro(code, comments, stray, skip, tuple(marks))
    words = _WORD.findall(code)
    if sum(len(letter) + len(number) for letter, number in words) != len(code):
        words, unread = _split_carefully(code)
        stray += unread
    kept, spoiled = _join_zeros([Word(*word) for word in words])
    return Block(kept, comments, stray + spoiled, skip, marks=tuple(marks))


def cut_comments(text: str, marks: list[Mark]) -> tuple[str, tuple[str, ...], tuple[str, ...]]:
    """(code, comments, stray brackets). A nested comment is one comment, and a finding."""
    code, comments, stray = "", [], []
    while text:
        place = min((at for at in (text.find("("), text.find(";"), text.find(")")) if at >= 0), default=len(text))
        code, text = code + text[:place], text[place:]
        if text.startswith(";"):
            comments += [text[1:].strip()] if text[1:].strip() else []
            break
        if text.startswith(")"):
            stray.append(")")
            text = text[1:]
        elif text:
            end = _find_close(text)
            inner = text[1 : end - 1] if end else text[1:]
            comments.append(inner.strip())
            if "(" in inner:
                after = inner.partition(")")[2]
                code_like = _WORD.search(after.replace(" ", "").upper())
                marks.append(("nested words", after.strip()[:40]) if end and code_like else ("nested comment", ""))
            if not end:
                marks.append(("open comment", ""))
            text = text[end:] if end else ""
    return code, tuple(comments), tuple(stray)


def _find_close(text: str) -> int:
    """Position after the bracket that closes the first one; 0 if none does."""
    depth = 0
    for found in re.finditer(r"[()]", text):
        depth += 1 if found.group() == "(" else -1
        if depth == 0:
            return found.end()
    return 0


def _cut_skip(code: str, marks: list[Mark]) -> tuple[int, str]:
    """(level, code without the slash). With a slash later in the block, the whole block depends on the switch."""
    level = 0
    found = _SKIP.match(code)
    if found:
        level, code = int(found[1] or 1) or 1, code[found.end() :]
    if "/" in code and "[" not in code and "#" not in code:
        marks.append(("slash inside", ""))
        found = _SKIP.search(code)
        level, code = level or int((found and found[1]) or 1), _SKIP.sub("", code)
    return level, code


def _split_carefully(code: str) -> tuple[list[tuple[str, str]], tuple[str, ...]]:
    """Words, and what is between them. ``X1.2.3``, ``X--5`` and ``XO5`` are not words: no guessing."""
    words, unread = [], []
    for piece in _PIECE.findall(code):
        if _WORD.fullmatch(piece):
            words.append((piece[0], piece[1:]))
        else:
            unread.append(piece)
    return words, tuple(unread)


def _join_zeros(words: list[Word]) -> tuple[tuple[Word, ...], tuple[str, ...]]:
    """Words, and those with a letter O in place of a zero: ``X1O0.`` looks like X1 and a program number.

    A program number leads its block, so any other O belongs to the number before it.
    """
    if all(word.letter != "O" for word in words):
        return tuple(words), ()
    lead = 1 if words[0].letter == "N" else 0
    joined: list[list[Word]] = []
    for at, word in enumerate(words):
        if word.letter == "O" and at > lead:
            joined[-1].append(word)
        else:
            joined.append([word])
    whole = tuple(part[0] for part in joined if len(part) == 1)
    spoiled = tuple("".join(word.letter + word.text for word in part) for part in joined if len(part) > 1)
    return whole, spoiled


def _split_macro(
    code: str, comments: tuple[str, ...], stray: tuple[str, ...], skip: int, marks: tuple[Mark, ...]
) -> Block:
    """Parse a block with variables, expressions or flow statements."""
    label = _NUMBER_LINE.match(code)
    words = [Word("N", label.group()[1:])] if label else []
    code = code[label.end() :] if label else code
    control = _read_control(code)
    if control:
        return Block(tuple(words), comments, stray, skip, control=control, marks=marks)
    assignments, unread = [], list(stray)
    while code:
        size, part = _next_part(code)
        if isinstance(part, Word):
            words.append(part)
        elif isinstance(part, Assignment):
            assignments.append(part)
        else:
            unread.append(part)
        code = code[size:]
    kept, spoiled = _join_zeros(words)
    return Block(kept, comments, (*unread, *spoiled), skip, tuple(assignments), marks=marks)


def _read_control(code: str) -> Control | None:
    found = _O_STATEMENT.fullmatch(code)
    if found:
        return Control("O" + found[2], found[1], found[3])
    found = _STATEMENT.fullmatch(code)
    if not found:
        return None
    if found[1]:
        return Control(found[1] + found[3], found[4], found[2])
    return Control(found[5] or found[7], found[6] or found[8], "")


def _next_part(code: str) -> tuple[int, Word | Assignment | str]:
    """(characters taken, what they are) at the start of a block with variables; a text if not a word."""
    name_end = _find_variable_end(code, 0)
    if name_end and code[name_end : name_end + 1] == "=":
        end = _find_end(code, name_end + 1)
        return end, Assignment(code[1:name_end], code[name_end + 1 : end])
    if "A" <= code[:1] <= "Z":
        end = _find_value_end(code, 1)
        if end:
            return end, Word(code[0], code[1:end])
    junk = re.match(r".[^A-Z#]*", code, re.DOTALL)
    size = junk.end() if junk else 1
    return size, code[:size]


def _find_end(code: str, at: int) -> int:
    """End of an assignment's expression: before the next assignment or word, outside brackets."""
    while True:
        end = _find_value_end(code, at)
        if not end:
            return len(code)
        operator = _OPERATOR.match(code, end)
        if not operator:
            return end
        at = operator.end()


def _find_value_end(code: str, at: int) -> int:
    """End of the number, variable, bracket or function that starts here; 0 if none does."""
    number = _VALUE.match(code, at)
    if number:
        return number.end()
    while code[at : at + 1] in ("-", "+"):
        at += 1
    variable = _find_variable_end(code, at)
    if variable:
        return variable
    function = _FUNCTION.match(code, at)
    at = function.end() if function else at
    if code[at : at + 1] != "[":
        return 0
    end = _find_bracket(code, at)
    if function and function.group() == "ATAN" and code[end : end + 2] == "/[":
        end = _find_bracket(code, end + 1)
    return end


def _find_variable_end(code: str, at: int) -> int:
    """End of ``#1``, ``##1``, ``#<name>`` or ``#[1+2]``; 0 if there is no variable."""
    variable = _VARIABLE.match(code, at)
    if variable:
        return variable.end()
    while code[at : at + 1] == "#":
        at += 1
        if code[at : at + 1] == "[":
            return _find_bracket(code, at)
    return 0


def _find_bracket(code: str, at: int) -> int:
    depth = 0
    for place in range(at, len(code)):
        depth += (code[place] == "[") - (code[place] == "]")
        if depth == 0:
            return place + 1
    return 0
