"""A program against its card: comparisons the mutated programs do not reach, and the sentences."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, get_args

import pytest

from floor.evidence.nc import describe, travel
from floor.evidence.nc.against_card import ExpectedProgram, find_program_faults
from floor.evidence.nc.describe import describe_finding, describe_reason
from floor.evidence.nc.finding_kinds import LISTED, NOTES, Finding, FindingLog, Kind
from floor.evidence.nc.tools_against_card import ExpectedTool
from floor.figures.cutting.card import ToolKind
from tests.evidence.nc.programs import END, NEXT, START, read

CARD = ExpectedProgram("mm", {"G54": ""}, tools=(ExpectedTool(1, (900, 1100), (50, 150)),), lowest_z=-1.0)


def faults(text: str, card: ExpectedProgram = CARD, **settings: Any) -> list[tuple[str, int]]:
    return [(one.kind, one.line) for one in find_program_faults(read(START + text + END, **settings), card)]


def test_nothing_is_checked_that_the_card_does_not_give() -> None:
    assert faults("G1 Z-99. F9999.\nG55 G0 X1.", ExpectedProgram("mm")) == []


@pytest.mark.parametrize(
    ("card", "text", "found"),
    [
        ({}, "G1 Z-1. F100.", []),
        ({}, "G1 Z-1.001 F100.", [("Z too deep", NEXT)]),
        ({}, "G0 Z-1.001", [("rapid down", NEXT), ("Z too deep", NEXT)]),
        ({}, "G1 Z#5 F100.", [("Z not known", NEXT)]),
        ({}, "G53 G0 Z0.\nG1 X5. F100.", [("Z not known", NEXT)]),  # it cuts, nobody knows how deep
        ({}, "G55 G1 Z-.5 F100.", [("wrong offset", NEXT), ("Z not known", NEXT)]),
        ({}, "/G55", [("wrong offset", NEXT)]),
        ({}, "/G55\nG0 X5.", [("wrong offset", NEXT), ("offset not known", NEXT + 1), ("Z not known", NEXT + 1)]),
        ({}, "/G0 X5.\nG1 Z-.5 F100.", [("travel assumed", NEXT)]),
        ({}, "G95 G1 Z-1. F.1", []),  # 0.1 mm × 1000 rpm
        ({}, "G95 G1 Z-1. F.2", [("feed off card", NEXT)]),
        ({}, "G93 G1 Z-1. F5.", [("feed not known", NEXT)]),
        ({}, "G1 Z-1. F#7", [("feed not known", NEXT)]),
        ({}, "S#7\nG1 Z-1. F100.", [("speed not known", NEXT + 1)]),
        ({}, "G96 G1 Z-1. F100.", [("speed not known", NEXT)]),
        ({"units": "inch"}, "", [("wrong units", 1)]),
        ({"travel_x": (-0.5, 5.0)}, "G1 X5. F100.\nG0 X5.1", [("outside carrier", NEXT + 1)]),
        ({"travel_x": (-0.5, 5.0)}, "G2 X4. Y0. I2. J0. F100.\nG3 X0. Y0. I-2. J0.", []),
        (
            {"travel_y": (-1.9, 5.0)},
            "G3 X4. Y0. I2. J0. F100.",
            [("outside carrier", NEXT)],
        ),  # the lowest point of the arc
        ({"travel_x": (-0.5, 5.0)}, "G0 X#1", [("travel not known", NEXT)]),
        (
            {"travel_x": (-0.5, 5.0)},
            "G52 X1.\nG0 X2.",
            [("local shift", NEXT), ("left on", NEXT + 2)],
        ),
        ({"travel_x": (-0.5, 5.0)}, "G52 X1.\nG0 X2.\nG52 X0 Y0 Z0", [("local shift", NEXT)]),
        (
            {"travel_x": (-0.5, 5.0)},
            "G52 X4.\nG0 X2.\nG52 X0 Y0 Z0",
            [("local shift", NEXT), ("outside carrier", NEXT + 1)],
        ),
        ({"holds_dry": True}, "M8", [("coolant on dry", NEXT)]),
        ({"holds_dry": True}, "/M7", [("coolant on dry", NEXT)]),
        ({}, "M88", [("unlisted M-code", NEXT)]),
        ({}, "M60", []),  # nothing is cut after it
        ({}, "M60\nG1 X5. F100.", [("pallet exchanged", NEXT)]),
        ({}, "G0 A0.\nX5.", []),
        ({}, "G0 B90.\nX5.\nX6.", [("part turned", NEXT + 1)]),
        ({}, "G0 A#1\nX5.", [("part turned", NEXT + 1), ("Z not known", NEXT + 1)]),
        ({}, "(A (B) M5)", [("nested words", NEXT)]),
        ({"program": "O0012"}, "", [("no number", 0)]),
        ({"program": "O0012"}, "(PROGRAM NO. 12)", []),
        ({"program": "KB7-10 A", "file_name": "O0012.nc"}, "", []),
        ({"program": "12", "file_name": "O0013.NC"}, "(PROGRAM NO. 12)", [("number differs", 0)]),
        ({"program": "12", "file_name": "bracket-13.nc"}, "(PROGRAM NO. 12)", []),
        ({"tools": ()}, "", [("tool not on card", 2)]),
        ({"speed_limit": 900.0}, "G1 Z-1. F100.", []),  # the card has a speed, and is compared with the station itself
        ({"speed_limit": 1000.0, "tools": (ExpectedTool(1),)}, "G1 Z-1. F100.", []),
        ({"speed_limit": 900.0, "tools": (ExpectedTool(1),)}, "G1 Z-1. F100.", [("speed over limit", 3)]),
        ({"speed_limit": 900.0, "tools": None}, "G1 Z-1. F100.", [("speed over limit", 3)]),
        ({"tools": (*CARD.tools, ExpectedTool(9))}, "", [("tool not called", 0)]),  # type: ignore[misc]
        ({"h_rule": "any"}, "G43 H5 Z9.", []),
        ({"h_rule": "as card"}, "G43 H5 Z9.", []),
        ({"h_rule": "as card", "tools": (ExpectedTool(1, length_offset=1),)}, "G43 H5 Z9.", [("H not T", NEXT)]),
        ({"sha256": "0" * 64}, "", [("file changed", 0)]),
    ],
)
def test_a_program_against_its_card(card: dict[str, Any], text: str, found: list[tuple[str, int]]) -> None:
    assert faults(text, replace(CARD, **card)) == found


def test_what_keeps_the_travel_unknown_is_told_once_and_a_missing_subprogram_first() -> None:
    card = replace(CARD, tools=None, travel_x=(-1.0, 9.0), travel_y=(-1.0, 9.0))
    text = "G21 G17 G94 G54\nT1 M6\nS1000 M3\nG0 X0. Y0.\nG43 H1 Z10.\nG1 Z-1. F100.\nX5.\nG0 Z10.\nT2 M6"
    told = find_program_faults(read(text + "\nG0 X1. Y1. S900 M3\nG43 H2 Z10.\nG1 Z-1. F50.\nG0 Z10.\nM30"), card)
    assert [(one.kind, one.line, one.subject) for one in told] == [("travel assumed", 4, "X Y Z")]

    told = find_program_faults(read(START + "G1 Z#1 F100.\nG0 Z10.\nM98 P9000" + END), card)
    assert [(one.kind, one.line, one.subject) for one in told] == [
        ("call missing", NEXT + 2, "O9000"),
        ("Z not known", NEXT, "Z T1 G54"),
        ("travel not known", NEXT + 2, "X Y T1 G54"),
    ]


def test_a_missing_subprogram_may_have_stopped_the_spindle() -> None:
    card = replace(CARD, lowest_z=None, tools=(ExpectedTool(1, left_hand=False),))
    told = find_program_faults(read(START + "M98 P9000\nG0 Z10.\nG1 Z-1. F100." + END), card)
    assert [(one.kind, one.line) for one in told] == [("call missing", NEXT), ("spindle not known", NEXT)]


def test_a_subprogram_by_itself_is_told_shortly() -> None:
    text = "O9000\nG0 X0. Y0.\nZ5.\nG1 Z-1. F100.\nX9.\nG0 Z5.\nM99\n"
    card = replace(CARD, tools=None, travel_x=(-1.0, 9.0), travel_y=(-1.0, 9.0))
    told = [one.kind for one in find_program_faults(read(text), card)]
    assert [kind for kind in told if kind.startswith(("travel", "Z "))] == ["travel assumed"], "no G90"


def test_the_same_in_the_same_words_is_counted() -> None:
    card = ExpectedProgram("mm", tools=(ExpectedTool(1, kind=ToolKind.END_MILL, depth=1),))
    told = find_program_faults(read(START + "G1 Z-3. F100.\nX9.\nZ-6.\nX0.\nZ-8.\nX9." + END), card)
    assert [(one.line - NEXT, one.values, one.count) for one in told] == [(1, (3.0, 1), 2), (5, (2.0, 1), 1)]


def test_f_counts_by_minute_or_turn_as_the_program_says() -> None:
    text = "G1 Z-1. F100.\nX5." + END
    assert [(one.kind, one.line) for one in find_program_faults(read(START + text), CARD)] == []
    told = find_program_faults(read(START.replace("G94 ", "") + text), CARD)
    assert [(one.kind, one.line) for one in told] == [("no feed mode", NEXT)]


def test_a_cut_with_what_is_in_the_spindle_is_a_fault() -> None:
    told = read("G21 G17 G90 G94 G54\nS1000 M3\nG0 X0. Y0.\nG43 H1 Z5.\nG1 Z-1. F100.\nG53 Z0. M30")
    assert [(one.kind, one.line) for one in find_program_faults(told, CARD)] == [
        ("tool not called", 0),
        ("tool unknown", 5),
    ]


def test_inch_programs_are_told_of_in_inches() -> None:
    card = ExpectedProgram(
        "inch", {"G54": ""}, tools=(ExpectedTool(1, feed=(101.6, 1016)),), lowest_z=-0.062 * 25.4, travel_x=(0, 76.2)
    )
    good = "G20 G17 G90 G94 G54\nT1 M6\nS1000 M3\nG0 X0. Y0.\nG43 H1 Z.2\nG1 Z-.062 F40.\nX3.\nG53 Z0. M30"

    assert find_program_faults(read(good), card) == ()
    wrong = find_program_faults(
        read(good.replace("F40.", "F41.").replace("-.062", "-.063").replace("X3.", "X3.01")), card
    )
    assert [describe_finding(one, "inch") for one in wrong] == [
        "T1 F 41 in/min; the card allows 4 in/min to 40 in/min",
        "T1 G54 goes to Z -0.063 in; the lowest allowed is -0.062 in",
        "X T1 G54 goes to 3.01 in; allowed is 0 in to 3 in",
    ]


def test_every_kind_has_its_sentence_and_every_reason_its_words() -> None:
    assert set(describe._SENTENCES) == set(get_args(Kind)) - {"two readings"}
    reasons = {*get_args(travel.Gap), *get_args(travel.Doubt)}
    assert set(describe._REASONS) == reasons
    assert [one for one in reasons if describe_reason(one) == one] == []


@pytest.mark.parametrize(
    ("lines", "words"), [(1, "1 line after the program end"), (2, "2 lines after the program end")]
)
def test_lines_are_counted_in_words(lines: int, words: str) -> None:
    assert describe_finding(Finding("unread lines", 9, "", (lines,))).startswith(words)


def test_a_tool_is_named_in_the_sentence_or_left_out() -> None:
    assert describe_finding(Finding("H zero", 1, "T1")).startswith("H0 for T1 gives no length")
    assert describe_finding(Finding("H zero", 1)).startswith("H0 gives no length")


def test_sentences_fit_a_line() -> None:
    values = ("X100", 1234.5, -1234.567)
    for kind in get_args(Kind):
        if kind != "two readings":
            assert len(describe_finding(Finding(kind, 1, "T12", values))) <= 80
    for subject in describe._READINGS:
        assert len(describe_finding(Finding("two readings", 1, subject, values))) <= 80


def test_a_zero_that_is_put_back_is_only_noted() -> None:
    """One left shifted may outlive the program (public control manuals; from memory)."""
    shifted = START + "G52 X1.\nG0 X2.\n{}" + END
    for back, wrong in (("G52 X0 Y0 Z0", []), ("", ["left on"])):
        found = find_program_faults(read(shifted.format(back)), CARD)
        assert [one.kind for one in found if one.kind not in NOTES] == wrong


def test_what_lasts_is_found_once() -> None:
    log = FindingLog()
    for line in (3, 4, 5):
        log.add("no units", line)
    assert [(one.line, one.count) for one in log.list()] == [(3, 1)]


def test_the_same_finding_is_one_with_a_count_and_the_list_has_an_end() -> None:
    log = FindingLog()
    for line in (1, 2, 3, 2, 3, 1):  # again and again in a loop
        log.add("bad word", line, "XO")
    for n in range(LISTED + 10):
        log.add("bad word", 9, f"X{n}..")

    first = log.list()[0]
    assert (first.line, first.count, len(log.list()), log.left_out) == (1, 3, LISTED, 11)
