"""Forty lines easy to misread, each with its right reading.

The readings come from NIST IR 6556 ("The NIST RS274/NGC Interpreter", sections 3.3 to 3.7 and table 8, as quoted in
public mail archives and code) and, where controls differ, from public manuals of controls as read for this project; "m"
marks what is from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from floor.evidence.nc.block import split_block
from floor.evidence.nc.finding_kinds import FindingLog
from floor.evidence.nc.lines import split_lines
from floor.evidence.nc.summary import ProgramSummary
from tests.evidence.nc.programs import (
    END,
    NEXT,
    START,
    cut,
    find,
    kinds,
    read,
    read_after_start,
    tool,
    travel,
    went,
)


def words(text: str) -> list[str]:
    return [letter + number for letter, number in split_block(text).words]


def lines_of(data: bytes) -> list[str]:
    return [line for block in split_lines([data], FindingLog()) for line in block]


def speeds(summary: ProgramSummary, number: int | None = 1) -> list[float]:
    return [one.value for one in tool(summary, number).speeds]


AFTER_START: list[tuple[str, Callable[[ProgramSummary], Any], Any]] = [
    # spaces, case, dots
    (
        "g1x.5y-.25f40",
        lambda s: (cut(s, "X"), cut(s, "Y"), tool(s).feeds[0].value),
        (("known", 0, 0.5), ("known", -0.25, 0), 40),
    ),
    ("(T5 IN COMMENT) T3 M6", lambda s: [one.number for one in s.tools], [1, 3]),
    ("/M8", lambda s: [(one.code, one.optional) for one in tool(s).coolants], [("M8", True)]),
    ("/2 M1", lambda s: ([one.text for one in s.stops], "word without use" in kinds(s)), (["M1"], False)),
    ("G90\nG91 G1 Z-.1 F9.\nX1.", lambda s: (cut(s, "Z"), cut(s, "X")), (("known", 9.9, 10), ("known", 0, 1))),
    (
        "T1 M6\nG43 H05 Z1.",
        lambda s: ([one.value for one in tool(s).length_offsets], went(s, "Z")),
        ([1, 5], ("known", 1, 1)),
    ),
    ("T4 M6\nG43 H3 Z1.", lambda s: [(one.subject, one.values) for one in find(s, "H not T")], [("T4", (3,))]),
    ("S12000M3\nG1 Z-1. F9.", speeds, [12000]),
    ("T2 M6\nG43 H2 Z1.\nG1 Z0. F9.", lambda s: "spindle off" in kinds(s), True),
    (
        "G20\nG1 X1. F10.\nG21\nX30. F100.",
        lambda s: (cut(s, "X"), [one.value for one in tool(s).feeds], len(s.unit_words)),
        (("known", 0, 30), [254, 100], 2),
    ),
    ("(open X5\nG1 Y1. F9.", lambda s: (kinds(s), went(s, "X")), ({"open comment"}, ("known", 0, 0))),
    ("(a (b) c)", kinds, {"nested comment"}),
    ("; T9 M6", lambda s: ([one.number for one in s.tools], s.comments[-1].text), ([1], "T9 M6")),
    ("G1 X1. F9. ;\nX2. ;", lambda s: (cut(s, "X"), kinds(s)), (("known", 0, 2), set())),
    (
        "G1 X1. F9.\n%\nX9.\nX10.",
        lambda s: (went(s, "X"), [(one.line, one.values) for one in find(s, "unread lines")]),
        (("known", 0, 1), [(NEXT + 2, (3,))]),
    ),
    (
        "M30\nG1 X5. F9.",
        lambda s: (went(s, "X"), [one.line for one in find(s, "unread lines")]),
        (("unknown", None, None), [NEXT + 1]),
    ),
    ("M30\n(END) (OF FILE)\n%", lambda s: [one.values for one in find(s, "unread lines")], [(1,)]),  # the M30 after it
    ("M30\nO7\nG1 X5.\nM99", lambda s: "unread lines" in kinds(s), False),
    # numbers without a dot: both readings
    ("G1 X100 F9.", lambda s: (cut(s, "X")[0], find(s, "two readings")[0].values), ("unknown", ("X100", 100, 0.1))),
    ("G1 X10. F9.\nX10", lambda s: (cut(s, "X")[0], find(s, "two readings")[0].line), ("unknown", NEXT + 1)),
    ("G4 P500", lambda s: find(s, "two readings")[0].values, (500, 0.5)),
    # not words, and never guessed
    (
        "G1 X\u22125. F9.",
        lambda s: (cut(s, "X"), [one.kind for one in find(s, "bad word")]),
        (("unknown", None, None), ["bad word"]),
    ),
    ("G1 X1. X2. F9.", lambda s: (kinds(s), cut(s, "X")[0]), ({"word repeated"}, "unknown")),
    ("G0 G1 X5. F9.", lambda s: [one.subject for one in find(s, "group clash")], ["G0 G1"]),
    (
        "G1 X1.2.3 F9.",
        lambda s: ([one.subject for one in find(s, "bad word")], went(s, "X")[0]),
        (["X1.2.3"], "unknown"),
    ),
    ("G1 X--5 F9.", lambda s: [one.subject for one in find(s, "bad word")], ["X--5"]),
    ("G1 X. F9.", lambda s: [one.subject for one in find(s, "bad word")], ["X."]),
    ("G1 XO F9.", lambda s: ([one.subject for one in find(s, "bad word")], went(s, "X")[0]), (["XO"], "unknown")),
    (
        "G01. X1. F9.",
        lambda s: (cut(s, "X"), [one.subject for one in find(s, "dot in code")]),
        (("known", 0, 1), ["G01."]),
    ),
    ("G1.0 X1. F9.", lambda s: cut(s, "X"), ("known", 0, 1)),
    ("G001 X1. F9.", lambda s: (cut(s, "X"), kinds(s)), (("known", 0, 1), set())),
    # tools
    ("T2\nG1 X1. F9.", lambda s: (cut(s, "X"), [one.value for one in s.staged]), (("known", 0, 1), [2])),
    ("T2\nM6 T7", lambda s: ([one.number for one in s.tools], find(s, "two readings")[0].values), ([1, 7], (7, 2))),
    # cycles
    (
        "G81 Z-5. R2. F80.\nX10.\nG80",
        lambda s: (cut(s, "Z"), went(s, "X"), [one.subject for one in find(s, "two readings")]),
        (("known", -5, 2), ("assumed", 0, 10), ["cycle_fires"]),
    ),
    (
        "G91 G81 X1. Z-5. R-8. L3 F80.",
        lambda s: (s.cycles[0].clearance, s.cycles[0].bottom, s.cycles[0].holes),
        (2, -3, 3),
    ),
    # arcs
    ("G2 I5. F9.", lambda s: (cut(s, "X"), cut(s, "Y")), (("known", 0, 10), ("known", -5, 5))),
    ("G2 X0. Y0. R5. F9.", lambda s: (kinds(s), cut(s, "X")[0]), ({"bad arc"}, "unknown")),
    # variables
    ("G1 F9.\n#1=5 G1 X#1", lambda s: (cut(s, "X")[0], [one.text for one in s.variables]), ("unknown", ["#1"])),
    ("#1=5\nG1 X#1 F9.", lambda s: cut(s, "X"), ("known", 0, 5)),
]


@pytest.mark.parametrize(
    ("text", "asked", "right"), AFTER_START, ids=[row[0].replace("\n", " | ") for row in AFTER_START]
)
def test_a_line_after_the_start(text: str, asked: Callable[[ProgramSummary], Any], right: Any) -> None:
    assert asked(read_after_start(text)) == right


WHOLE: list[tuple[str, str, Callable[[ProgramSummary], Any], Any]] = [
    (
        "no spaces",
        "N10G0G90G54X0Y0\nM30",
        lambda s: (s.work_offsets[0].text, s.distance_mode.value, went(s, "X", number=None)),
        ("G54", "G90", ("assumed", 0, 0)),
    ),
    (
        "M3 without S",
        "G21 G54 G90\nT1 M6\nM3\nG43 H1 Z1.\nG1 Z-1. F9.\nM30",
        lambda s: ("no speed" in kinds(s), tool(s).speed_gap),
        (True, 5),
    ),
    (
        "no G20 or G21",
        "G90 G54\nT1 M6\nS9 M3\nG43 H1 Z1.\nG1 Z-1. F9.\nM30",
        lambda s: (s.units.sure, "no units" in kinds(s), tool(s).travels[0].units),
        ("unknown", True, "unknown"),
    ),
    ("no final percent sign, no M30", "%\nG21\nG90", lambda s: "no end" in kinds(s), True),
    ("M6 before any T", "G21\nM6\nM30", lambda s: "tool unknown" in kinds(s), True),
]


@pytest.mark.parametrize(("text", "asked", "right"), [row[1:] for row in WHOLE], ids=[row[0] for row in WHOLE])
def test_a_whole_program(text: str, asked: Callable[[ProgramSummary], Any], right: Any) -> None:
    assert asked(read(text)) == right


@pytest.mark.parametrize(
    ("text", "right"),
    [
        ("X\t5", ["X5"]),
        ("g0 x +0. 12 34y 7", ["G0", "X+0.1234", "Y7"]),  # the example of NIST IR 6556, section 3.3.2 (m)
        ("N10G0G90G54X0Y0", ["N10", "G0", "G90", "G54", "X0", "Y0"]),
        ("/2 M1", ["M1"]),
        (": 1234", ["O1234"]),
        ("/10 G0", ["G0"]),  # levels up to 10 (DIN-based controls)
        ("G0 /2 X9.", ["G0", "X9."]),  # not G02
        ("G0 X5. /Y5.", ["G0", "X5.", "Y5."]),
        ("X#[#1+1]Y##2", ["X#[#1+1]", "Y##2"]),
    ],
)
def test_words_of_a_line(text: str, right: list[str]) -> None:
    assert words(text) == right


@pytest.mark.parametrize(
    "data",
    [
        b"G21\nG90\nX1.",
        b"G21\rG90\rX1.",
        b"G21\r\nG90\r\nX1.\r\n",
        b"\xef\xbb\xbfG21\nG90\nX1.",
        "G21\nG90\nX1.".encode("utf-16"),
        "G21\r\nG90\r\nX1.".encode("utf-16-le"),
        "G21\nG90\nX1.\n".encode("utf-16-be"),
    ],
    ids=["LF", "CR", "CR LF", "byte order mark", "UTF-16", "UTF-16 LE", "UTF-16 BE"],
)
def test_a_file_however_it_is_written(data: bytes) -> None:
    assert [line for line in lines_of(data) if line] == ["G21", "G90", "X1."]


def test_encodings_are_found_and_told() -> None:
    marked = read("\ufeff%\nG21\nM30\n%".encode())
    wide = read("%\nG21 (\u00c4)\nM30\n%".encode("utf-16"))

    assert kinds(marked) == {"byte order mark"}
    assert kinds(wide) == {"byte order mark", "other encoding"}
    assert (wide.units.value, wide.comments[0].text) == ("mm", "\u00c4")


def test_nul_bytes_are_dropped_and_told() -> None:
    told = read(START + "G1 X5\0. F9." + END)
    assert (kinds(told), cut(told, "X")) == ({"control character"}, ("known", 0, 5))


def test_a_comment_in_another_code_page_is_kept() -> None:
    assert read("(Fräser)\nM30\n".encode("latin-1")).comments[0].text == "Fräser"


def test_lines_are_those_of_the_file_and_not_n_words() -> None:
    told = read("N100 G21\nN90 T5 M6\nM30")
    assert tool(told, 5).line == 2


@pytest.mark.parametrize(
    ("setting", "text", "right"),
    [
        ({"bare_number": "whole"}, "G1 X100 F9.", ("known", 0, 100)),
        ({"bare_number": "increment"}, "G1 X100 F9.", ("known", 0, 0.1)),
        ({"cycle_fires": "X Y"}, "X7.\nG81 Z-5. R2. F80.\nX10.\nG80", ("known", 10, 10)),
        ({"block_delete": "on"}, "/G1 X100. F9.\nG1 X1. F9.", ("known", 0, 1)),
        ({"block_delete": "off"}, "/G1 X100. F9.\nG1 X1. F9.", ("known", 0, 100)),
        ({"arc_centers": "absolute"}, "G1 X10. F9.\nG2 X20. Y10. I20. J0.", ("known", 0, 20)),
    ],
)
def test_a_setting_decides(setting: dict[str, Any], text: str, right: tuple[str, float, float]) -> None:
    told = read_after_start(text, **setting)
    assert (cut(told, "X"), find(told, "two readings")) == (right, [])


@pytest.mark.parametrize(
    ("text", "spoiled", "axis"),
    [
        ("G1 X1O0. F9.", "X1O0.", "X"),
        ("G1 X1o0. F9.", "X1O0.", "X"),
        ("G1 X#1 Z-1O5. F9.", "Z-1O5.", "Z"),
        ("G1 X1O0O0. F9.", "X1O0O0.", "X"),
        ("G1 X1. O10. F9.", "X1.O10.", "X"),
        ("G1 F9.\nO100.", "O100.", "X"),
        ("G1 F9.\nN7 O-5 Y1.", "O-5", "X"),
        ("G1 X2. F9.\nO0999\nY1.", "O0999", "Y"),
        ("G1 X2. F9.\n:999\nY1.", "O999", "Y"),
    ],
)
def test_a_letter_o_in_a_number_is_no_smaller_number(text: str, spoiled: str, axis: str) -> None:
    """Nor is it the number of a program, which only leads one."""
    told = read_after_start(text)
    assert [one.subject for one in find(told, "bad word")] == [spoiled]
    assert travel(told, axis).sure == "unknown"
    assert told.number.value is None


def test_a_program_number_leads_its_program_with_other_words_or_alone() -> None:
    for text in ("%\nO0310\nG21", "%\nN1 O310 (TOP) G21", "%\n(TOP)\n:310 G21 G90"):
        told = read(text + "\nM98 P501\nM30\nO501\nM99\n%")
        assert (told.number.value, told.units.value, kinds(told)) == ("310", "mm", set())


@pytest.mark.parametrize("word", ["O-5", "O1.5", "O"])
def test_what_leads_a_program_and_is_no_whole_number_is_no_program_number(word: str) -> None:
    told = read(f"%\n{word}\nG21\nM30\n%")
    assert [one.subject for one in find(told, "bad word")] == [word]
    assert told.number.value is None


def test_a_place_stays_unknown_until_an_absolute_word() -> None:
    told = read_after_start("G0 Z5.\nG1 X1.2.3 F9.\nG91 X1.\nG90 X4.\nX5.")
    span = travel(told, "X")

    assert span.sure == "unknown"
    assert [(one.text, one.line) for one in span.why] == [("bad word", NEXT + 1), ("unknown point", NEXT + 3)]
