"""What is in force: units, offsets, lengths, spindle, feeds, shifts, and what it makes known or unknown.

Readings after NIST IR 6556 as quoted, and public control manuals as read for this project.
"""

from __future__ import annotations

from collections.abc import Callable
from math import nan
from typing import Any

import pytest

from floor.evidence.nc.state import UNKNOWN, UNKNOWN_CODE, UNKNOWN_MOTION, UNKNOWN_TOOL, Cycle, State
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


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("G54", "G54"),
        ("G59", "G59"),
        ("G59.1", "G59.1"),
        ("G59.3", "G59.3"),
        ("G54.1 P12", "G54.1 P12"),
        ("G54 P3", "G54.1 P3"),
        ("G54.1", "G54.1 P1"),
        ("G54 P#1", "G54.1 P?"),
        ("G54.1 P#1", "G54.1 P?"),
    ],
)
def test_work_offsets(words: str, name: str) -> None:
    told = read(f"G21 G90\n{words}\nG0 X1.\nM30")
    assert [(one.text, one.line) for one in told.work_offsets] == [(name, 2)]


def test_no_place_is_carried_over_between_offsets_not_known() -> None:
    told = read_after_start("G54.1 P#1 G0 X5.\nG54.1 P#2 G91 X1.")
    assert travel(told, "X", offset="G54.1 P?").sure == "unknown"


@pytest.mark.parametrize("word", ["F2.", "S5"])
def test_a_dwell_by_f_or_s_sets_neither(word: str) -> None:
    """Some controls take F as seconds, and S as turns, of a dwell (DIN-based controls; m)."""
    told = read_after_start(f"F100.\nG4 {word}\nG1 X5.")
    assert [one.subject for one in find(told, "word without use")] == [word]
    assert ([one.value for one in tool(told).feeds], [one.value for one in tool(told).speeds]) == ([100], [1000])
    assert "dwell" in [one.text for one in told.cycle_time.untimed]


@pytest.mark.parametrize(("code", "mm"), [("G33", 6), ("G33.1", 12)])
def test_a_thread_is_fed_by_its_pitch(code: str, mm: float) -> None:
    """K is the pitch (open-source controller manual): 6 mm at 1.5 mm a turn and 1000 rpm: 0.24 s."""
    told = read_after_start(f"G1 X5. F60.\n{code} Z4. K1.5\nG1 X6.")

    assert kinds(told) == set()
    assert [(one.value, one.unit) for one in tool(told).feeds] == [(60, "mm/min"), (1.5, "mm/rev")]
    assert told.cycle_time.feed_mm == pytest.approx(5 + mm + 1)
    assert told.cycle_time.feed_seconds == pytest.approx(5 + mm / 1.5 / 1000 * 60 + 1)


def test_each_offset_has_a_box_of_its_own_and_no_place_is_carried_over() -> None:
    told = read_after_start("G1 X5. F9.\nG55\nG91 X1.\nG90 X7.\nG54 X3.")

    assert cut(told, "X") == ("unknown", 0, 5)  # the last cut starts from a place that is not known in G54
    assert [one.text for one in travel(told, "X", offset="G55").why] == ["offset change", "unknown point"]


def test_what_is_not_given_is_assumed_and_said_so() -> None:
    told = read("T1 M6\nS9 M3\nG43 H1 Z5.\nG1 X1. F9.\nX2.\nM30")

    assert (told.plane.sure, told.distance_mode.sure, told.units.sure) == ("assumed", "assumed", "unknown")
    assert {one.text for one in travel(told, "X").why} == {"unknown point", "distance mode", "work offset", "units"}
    assert told.offset_assumed == 3
    assert {"no units", "offset assumed"} <= kinds(told)


def test_a_motion_word_is_needed_first() -> None:
    told = read("G21 G90 G54\nX5.\nM30")
    assert [(one.subject, one.line) for one in find(told, "no motion")] == [("X5.", 2)]
    assert went(told, "X", number=None) == ("unknown", 5, 5)


@pytest.mark.parametrize(
    ("text", "sure", "finding"),
    [
        ("G43 H1 Z5.\nG1 Z-1. F9.", "known", None),
        ("G1 Z5. F9.\nZ-1.", "unknown", "no length offset"),  # and it starts from a place not known
        ("G0 Z5.\nG1 Z-1. F9.", "assumed", "no length offset"),
        ("G43 H1 Z5.\nT1 M6\nS9 M3\nG0 Z5.\nG1 Z-1. F9.", "assumed", "no length offset"),
        ("G43 H1 Z5.\nG49\nG0 Z5.\nG1 Z-1. F9.", "assumed", "no length offset"),
        ("G43 Z5.\nG1 Z-1. F9.", "assumed", "H left out"),
        ("G43.1 Z5.\nG1 Z-1. F9.", "assumed", "length from program"),
        ("G44 H1 Z5.\nG1 Z-1. F9.", "known", "length subtracted"),
        ("G43 H0 Z5.\nG1 Z-1. F9.", "known", "H zero"),
        ("G43 H1 Z5.\nG0 Z6. H2\nG1 Z-1. F9.", "known", "H not T"),
    ],
)
def test_depth_needs_a_length_offset(text: str, sure: str, finding: str | None) -> None:
    told = read(f"G21 G17 G90 G54\nT1 M6\nS1000 M3\nG0 X0. Y0.\n{text}{END}")
    assert sure in [one.all[2].sure for one in tool(told).travels if one.all[2].low]
    assert kinds(told) == ({finding} if finding else set())


@pytest.mark.parametrize(
    ("text", "gap"),
    [
        ("G28 Z0.", "home"),
        ("G30 Z0.", "home"),
        ("G53 Z0.", "machine coordinates"),
        ("T1 M6\nG43 H1", "no word"),
        ("G10 L2 P1 Z1.", "offset written"),
        ("G92 Z0.", "axes changed"),
        ("G38.2 Z-9. F9.", "probe"),
        ("G187", "unknown code"),
        ("G10 L1 P1 Z1.", "offset written"),
    ],
)
def test_what_leaves_z_unknown(text: str, gap: str) -> None:
    told = read_after_start(f"G1 Z5. F9.\n{text}\nG91 G1 Z-1. F9.")
    assert gap in [one.text for one in travel(told, "Z").why]
    assert travel(told, "Z").sure == "unknown"


@pytest.mark.parametrize(
    ("text", "finding", "subject"),
    [
        ("G10 L2 P1 X1.", "offset written", "G10 L2 P1"),
        ("G10 L20 P1 X1.", "offset written", "G10 L20 P1"),
        ("G10 L1 P5 Z1.", "tool table written", "G10 L1 P5"),
        ("G52 X5.", "local shift", ""),
        ("G92 X5.", "shift", "G92"),
        ("G68 X0. Y0. R30.", "axes changed", "G68"),
        ("G51 P2.", "axes changed", "G51"),
        ("G16", "axes changed", "G16"),
        ("G5.1 X1. Y1. I1. J1.", "axes changed", "G5.1"),
        ("G5.1 Q1", None, ""),
        ("G41 D1", "radius compensation", "G41"),
        ("G41 D2", "D not T", "T1"),
        ("G90 G28 Z0.", "home through zero", "G28"),
        ("G91 G28 Z0.\nG90", None, ""),
        ("G91 G53 G0 Z0.", "G53 in G91", ""),
        ("G53 G91 G0 Z0.", "G53 in G91", ""),
        ("G90 G53 G0 Z0.", None, ""),
        ("G38.2 Z-9. F9.", "probe turning", ""),
        ("G71 P1 Q2 U1.", "lathe", "G71"),
        ("T0101", "lathe", "T0101"),
        ("G0 U5.", "lathe", "U"),
        ("M7 M8", None, ""),
        ("M8 M9", "group clash", "M8 M9"),
        ("G90 G91", "group clash", "G90 G91"),
        ("G0 G80", None, ""),
        ("G17 G18", "group clash", "G17 G18"),
        ("M3 M5", "group clash", "M3 M5"),
        ("/G0 X5.", None, ""),
        ("G0 X5. /Y5.", "slash inside", ""),
        ("G70", "two readings", "G70 and G71"),
        ("G1 X1 F9.", "two readings", "bare_number"),
        ("G1 X5. R9. F9.", "word without use", "R9."),
        ("G187 P2", "unknown code", "G187"),
        ("G1.5 X1.", "unknown code", "G1.5"),
        ("M3.5", "unknown code", "M3.5"),
        ("G54.1", "two readings", "extra offset without P"),
        ("E5", "word without use", "E5"),
        ("G2 X4. Y0. I2. K1. F9.", "word without use", "K1."),
        ("G2 X4. Y0. I2. K0. F9.", None, ""),
        ("G18\nG2 X4. Z10. I2. J1. F9.", "word without use", "J1."),
        ("G2 X4. Y0. R2. I2. F9.", "word without use", "I2."),
        ("T1.5 M6", "bad word", "T1.5"),
        ("G43 H1.5 Z5.", "bad word", "H1.5"),
        ("M198 P200", "call missing", "O200"),
        ("#5221=-10.", "system variable", "#5221"),
        ("#2001=1.", "system variable", "#2001"),
        ("#100=1.", None, ""),
        ("DPRNT[X#1[42]T#2]", None, ""),
        ("POPEN", None, ""),
    ],
)
def test_alerts(text: str, finding: str | None, subject: str) -> None:
    told = read_after_start(text)
    if finding is None:
        assert kinds(told) == set()
    else:
        assert subject in [one.subject for one in find(told, finding)]
        assert find(told, finding)[0].line == NEXT + text.count("\n")


def test_g52_moves_the_zero_within_the_offset_and_back() -> None:
    told = read_after_start("G52 X10.\nG0 X1.\nX2.\nG52 X0.\nG0 X3.")
    assert went(told, "X") == ("assumed", 3, 12)


def test_turned_axes_give_no_box_until_they_are_off() -> None:
    told = read_after_start("G68 X0. Y0. R45.\nG1 X90. F9.\nG69\nG0 X5.\nG1 X6.")
    assert [one.all[0].sure for one in tool(told).travels] == ["known", "known", "unknown"]
    assert cut_in(told, 1) == (5, 6)


def test_turning_off_what_is_not_on_changes_nothing() -> None:
    told = read_after_start("G1 X5. F9.\nG69 G15\nG50\nG91 X1.")
    assert went(told, "X") == ("known", 0, 6)


def cut_in(told: ProgramSummary, place: int) -> tuple[float, float]:
    span = tool(told).travels[place].all[0]
    assert span.low is not None
    assert span.high is not None
    return span.low.at, span.high.at


def test_radius_compensation_makes_the_box_a_guess() -> None:
    told = read_after_start("G41 D1 G1 X5. F9.\nG40 X9.")
    assert (cut(told, "X")[0], [one.value for one in tool(told).radius_offsets]) == ("assumed", [1])


@pytest.mark.parametrize(
    ("settings", "tools"), [({}, [1, 7]), ({"tool_change": "this block"}, [1, 7]), ({"tool_change": "staged"}, [1, 2])]
)
def test_which_tool_m6_loads(settings: dict[str, Any], tools: list[int]) -> None:
    told = read_after_start("T2\nG0 X1.\nM6 T7\nG0 X2.", **settings)
    assert [one.number for one in told.tools] == tools
    assert ("two readings" in kinds(told)) == (not settings)


def test_a_staged_tool_that_is_loaded_next_is_no_riddle() -> None:
    told = read_after_start("T2\nT2 M6\nM6")
    assert ([one.number for one in told.tools], kinds(told), told.staged) == ([1, 2], set(), ())


@pytest.mark.parametrize("text", ["T#100 M6", "T#100\nM6", "T2\nT#100\nM6", "/T2\nM6", "T-2 M6"])
def test_a_tool_by_a_number_not_known_is_no_tool_of_the_program(text: str) -> None:
    told = read_after_start(f"{text}\nG0 X3.")
    assert ("tool unknown" in kinds(told), [one.number for one in told.tools]) == (True, [1, None])
    assert went(told, "X", number=None)[1:] == (3, 3)


@pytest.mark.parametrize(
    ("text", "x", "z"),
    [
        ("G28 X50. Z40.", (0, 50), (10, 40)),
        ("G30 X50. Z40.", (0, 50), (10, 40)),
        ("G91 G28 X50. Z4.", (0, 50), (10, 14)),
        ("G91 G28 X0. Z0.", (0, 0), (10, 10)),
        ("G91 G28 Z4.", (0, 0), (10, 14)),
    ],
)
def test_the_way_home_is_by_a_point(text: str, x: tuple[float, float], z: tuple[float, float]) -> None:
    told = read_after_start(f"X0. Z10.\n{text}")
    assert (went(told, "X"), went(told, "Z")) == (("known", *x), ("known", *z))


def test_the_point_on_the_way_home_counts_in_the_offset_of_its_block() -> None:
    told = read_after_start("X0.\nG55 G90 G28 X50. Z40.")
    assert (went(told, "X"), went(told, "X", offset="G55")[2]) == (("known", 0, 0), 50)


@pytest.mark.parametrize("text", ["G0 A90.", "G0 X5. A90.", "G81 X5. A90. Z-3. R1. F9.\nG80"])
def test_a_rotary_word_turns_by_the_motion_of_its_block(text: str) -> None:
    told = read_after_start(f"G81 X1. Z-3. R1. F9.\n{text}\nG1 X9. F9.")
    last = tool(told).travels[-1]
    assert (last.angles, [span.sure for span in last.all]) == ((("A", 90.0),), ["known", "known", "known"])


def test_a_turned_axis_counts_from_where_it_is_in_g91() -> None:
    told = read_after_start("G0 A90.\nG91 A45.\nG90\n/A0.\nG1 X5. F9.")
    assert tool(told).travels[-1].angles == (("A", None),)
    told = read_after_start("G0 A90.\nG91 A45.\nG90\nG1 X5. F9.")
    assert tool(told).travels[-1].angles == (("A", 135.0),)


def test_speed_feed_and_direction_of_each_tool() -> None:
    told = read_after_start("G1 X1. F100.\nS2000\nX2. F200.\nT2 M6\nM4 S300\nG0 G43 H2 Z5.\nG1 X5. F9.\nG0 X9. F999.")

    first, second = tool(told, 1), tool(told, 2)
    assert [one.value for one in first.speeds] == [1000, 2000]
    assert [(one.value, one.unit) for one in first.feeds] == [(100, "mm/min"), (200, "mm/min")]
    assert [one.value for one in second.feeds] == [9]  # the one that it never cuts at is not listed
    assert [(one.text, one.line) for one in first.directions] == [("M3", 3)]
    assert [(one.text, one.line) for one in second.directions] == [("M4", NEXT + 4)]


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("M5\nG1 X1. F9.", "spindle off"),
        ("M19 R90.\nG1 X1. F9.", "spindle off"),  # held at an angle
        ("T1 M6\nG43 H1 Z9.\nG1 X1. F9.", "spindle off"),
        ("G1 X1.", "no feed"),
    ],
)
def test_what_has_to_run_before_a_cut(text: str, kind: str) -> None:
    assert kinds(read_after_start(text)) == {kind}


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("G0 Z5.\nG43 H1 Z9.", 4),
        ("G43 H1 Z9.\nG0 Z5.", 0),
        ("G0 X5.\nG43 H1 Z9.", 0),
        ("G43 H1 Z9.\nT2 M6\nG0 Z5.", 6),  # by the length of the last tool
        ("G43 H1 Z9.\nG49 Z5.", 5),
        ("G43 H1 Z9.\nG49\nG91 G28 Z0.\nG53 Z0.", 0),
        ("G28 Z50.", 4),  # the point on the way counts in the offset
    ],
)
def test_a_rapid_in_z_needs_a_length_too(text: str, found: int) -> None:
    told = read(f"G21 G17 G90 G54\nT1 M6\nG0 X0. Y0.\n{text}\nM30")
    assert [one.line for one in find(told, "no length offset")] == ([found] if found else [])


@pytest.mark.parametrize(
    ("text", "kind", "line"),
    [
        ("G1 X5. F0", "feed zero", NEXT),
        ("G1 X5. F9.\nF0\nG0 X9.", "feed zero", 0),
        ("G1 X5. F9.\nX6. F0.", "feed zero", NEXT + 1),
        ("F0\nG2 X4. Y0. I2. J0.", "feed zero", NEXT + 1),
        ("S0\nG1 X5. F9.", "spindle off", NEXT + 1),
    ],
)
def test_nothing_cuts_at_zero(text: str, kind: str, line: int) -> None:
    assert [one.line for one in find(read_after_start(text), kind)] == ([line] if line else [])


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("G41 D1\nG1 X5. F9.", [("G41", "G40")]),
        ("G42 D1\nG1 X5. F9.\nG40", []),
        ("G41 D1\nG1 X5. F9.\n/G40", [("G41", "G40")]),
        ("G81 X5. Z-3. R1. F9.", [("G81", "G80")]),
        ("G81 X5. Z-3. R1. F9.\nG0", []),
        ("G68 X0. Y0. R9.", [("G68", "G69")]),
        ("G16", [("G16", "G15")]),
        ("G51 P2.\nG50", []),
        ("G52 X5.", [("G52", "G52 X0 Y0 Z0")]),
        ("G52 X5.\nG52 X0.", []),
        ("G92 X5.", []),  # has a finding that it lasts
    ],
)
@pytest.mark.parametrize("call", ["", "M98 P100\n"])
def test_what_is_left_on_at_the_end(text: str, found: list[tuple[str, str]], call: str) -> None:
    told = read(f"{START}{call}{text}\nM30\nO100\nM99")
    assert [(one.subject, one.values[0]) for one in find(told, "left on")] == found


@pytest.mark.parametrize(
    ("settings", "text", "medium"),
    [
        ({}, "M7", "mist"),
        ({}, "M8", "flood"),
        ({}, "M88", None),
        ({"m_codes": ((88, "through tool"),)}, "M88", "through tool"),
        ({"m_codes": ((7, "flood"), (8, "air"))}, "M8", "air"),
        ({"m_codes": ((8, "none"),)}, "M8", None),
    ],
)
def test_coolant_words_are_those_of_the_machine(settings: dict[str, Any], text: str, medium: str | None) -> None:
    told = read_after_start(text, **settings)
    assert [one.medium for one in tool(told).coolants] == ([medium] if medium else [])
    assert [one.text for one in told.other_m] == (["M88"] if text == "M88" and not settings else [])


@pytest.mark.parametrize(
    ("text", "found"),
    [("G1 X5. F9. M5", {"two readings"}), ("G0 X5. M5", set()), ("G0 X5. M5\nG1 X6. F9.", {"spindle off"})],
)
def test_a_spindle_stop_beside_a_move_comes_before_or_after_it(text: str, found: set[str]) -> None:
    assert kinds(read_after_start(text)) == found


def test_an_angle_in_machine_coordinates_is_not_known() -> None:
    told = read_after_start("G0 A90.\nG53 G0 A0.\nG1 X5. F9.")
    assert (tool(told).travels[-1].angles, travel(told, "X").sure) == ((("A", None),), "unknown")


def test_rotary_words_part_the_boxes() -> None:
    told = read_after_start("G0 A90.\nG1 X5. F9.\nG0 A180.\nG1 X9.")
    assert [(one.angles, one.all[0].high and one.all[0].high.at) for one in tool(told).travels[2:]] == [
        ((("A", 90.0),), 5),
        ((("A", 180.0),), 9),
    ]


def test_a_rotary_axis_that_turns_with_the_cut_gives_no_box() -> None:
    told = read_after_start("G0 A0.\n" + "\n".join(f"G1 X{n}. A{n}. F9." for n in range(500)))
    assert tool(told).travels[-1].all[0].sure == "unknown"
    assert len(tool(told).travels) < 250


def test_numbers_of_a_program() -> None:
    told = read("%\nO0012 (PROGRAM NO. 13)\nM30\n%")
    assert (told.number.value, told.header_number.value) == ("12", "13")
    assert read("%12\nM30").number.value == "12"
    assert read("%O0012\nM30").number.value == "12"
    assert read(":12\nM30").number.value == "12"
    assert read("(O0077 LEFT SIDE)\nM30").header_number.value == "77"
    for other in ("(DRILL 3 HOLES)", "(PROGRAM 2 OF 3)", "(O5 DRILL)", "(O-RING 1234)"):
        assert read(f"{other}\nM30").header_number.sure == "unknown"


def test_stops_by_a_variable_are_stops() -> None:
    told = read_after_start("#3006=1(TURN OVER)\n#3000=1(NO TOOL)\nG0 X5.")
    assert [(one.text, one.line) for one in told.stops] == [("#3006", NEXT), ("#3000", NEXT + 1)]
    assert (went(told, "X"), kinds(told)) == (("known", 5, 5), set())


def test_comments_stops_and_other_codes_are_listed_with_their_lines() -> None:
    told = read_after_start("M0 (TURN OVER)\nM1\nM88 (PUMP)")
    assert [(one.text, one.line) for one in told.comments] == [("TURN OVER", NEXT), ("PUMP", NEXT + 2)]
    assert [(one.text, one.line) for one in told.stops] == [("M0", NEXT), ("M1", NEXT + 1)]
    assert [(one.text, one.line) for one in told.other_m] == [("M88 PUMP", NEXT + 2)]


@pytest.mark.parametrize(
    ("text", "asked", "right"),
    [
        ("G41 D1 G1 X5. F9.\n/G40\nX9.", lambda s: cut(s, "X")[0], "assumed"),
        ("G40\n/G41 D1\nG1 X9. F9.", lambda s: cut(s, "X")[0], "assumed"),
        ("G98\n/G99\nG81 X5. Z-3. R1. F9.\nG80\nG91 G1 Z-1.", lambda s: cut(s, "Z")[0], "unknown"),
        ("G99\n/G98\nG81 X5. Z-3. R1. F9.\nG80", lambda s: s.cycles[0].returns_to, "unknown"),
        ("G81 X5. Z-3. R1. F9.\n/Z-8.\nX9.\nG80", lambda s: cut(s, "Z")[0], "unknown"),
        ("G1 F9.\n/G95\nX9. F5.", lambda s: [one.unit for one in tool(s).feeds], ["?"]),
        ("G1 F9.\n/G95\nX9. F5.", lambda s: s.cycle_time.feed_seconds, 0),
        ("/G18\nG2 X4. Y0. I2. J0. F9.", lambda s: cut(s, "X")[0], "unknown"),
        ("/G90.1\nG2 X4. Y0. I2. J0. F9.", lambda s: cut(s, "X")[0], "unknown"),
        ("/G96\nG1 X4. F9.", lambda s: tool(s).speed_gap, NEXT + 1),
        ("/G55\nG1 X4. F9.", lambda s: [one.offset for one in tool(s).travels][-1], "unknown"),
        ("/G52 X9.\nG1 X4. F9.", lambda s: cut(s, "X")[0], "unknown"),
        ("/G20\nG1 X4. F9.", lambda s: tool(s).travels[-1].units, "unknown"),
    ],
)
def test_a_mode_behind_a_slash_is_one_or_the_other(
    text: str, asked: Callable[[ProgramSummary], Any], right: Any
) -> None:
    assert asked(read_after_start(text)) == right


@pytest.mark.parametrize("words", ["G90", "G17", "G54"])
def test_a_mode_given_behind_a_slash_is_still_assumed(words: str) -> None:
    told = read(f"G21\n/{words}\nT1 M6\nS9 M3\nG0 X0. Y0.\nG43 H1 Z5.\nG2 X4. Y0. I2. J0. F9.\nM30")
    doubt = {"G90": "distance mode", "G17": "arc plane", "G54": "work offset"}[words]
    assert doubt in [one.text for one in travel(told, "X").why]


OF_THE_LINE = {"travel", "cutting", "checked", "flat", "media_noted", "plain"}
"""Worked out anew by `changed`."""
KEPT = {"axes_changed", "doubts", "lost", "why", "feed_line", "speed_line", "spindle_line"}
"""Only grow, or say where something came from."""


AFTER_SKIP: dict[str, tuple[Any, Any, Any]] = {
    "angles": ({"A": 0.0}, {"A": 90.0}, {"A": nan}),
    "approach": (25.0, 50.0, nan),
    "arc_absolute": (False, True, UNKNOWN),
    "at": ([1.0, 2.0, 3.0], [1.0, 2.0, 4.0], [1.0, 2.0, nan]),
    "comp": (410, 400, 410),  # the path may be off by the radius
    "coolant": (frozenset(), frozenset({"flood"}), None),
    "distance_given": (False, True, False),
    "feed": (90.0, 100.0, nan),
    "feed_mode": (940, 950, UNKNOWN_CODE),
    "hole": (None, (1.0, 2.0, -3.0), None),
    "incremental": (False, True, None),
    "length": ("H1", "H2", UNKNOWN),
    "motion": (0, 10, UNKNOWN_MOTION),
    "offset": ("G54", "G55", UNKNOWN),
    "offset_given": (False, True, False),
    "plane": (170, 180, UNKNOWN_CODE),
    "plane_given": (False, True, False),
    "rate": (90.0, 100.0, nan),
    "retract": (980, 990, UNKNOWN_CODE),
    "scale": (1.0, 25.4, nan),
    "shift": ([0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [nan, nan, nan]),
    "speed": (900.0, 1000.0, nan),
    "spindle": ("M3", "off", UNKNOWN),
    "staged": (4, 5, UNKNOWN_TOOL),
    "surface_speed": (True, False, True),  # no rpm may be in force
    "tool": (4, 5, None),
    "tool_sure": (True, False, False),
    "units": ("mm", "inch", ""),
    "variables": ({"1": 1.0, "2": 2.0}, {"1": 5.0, "2": 2.0}, {"2": 2.0}),
}
"""Each part of the state: before a block, after it, and if it may have been skipped."""


def test_each_part_of_the_state_is_treated_where_blocks_may_be_skipped() -> None:
    """A part `merge` does not know would be believed to be as the block left it."""
    assert set(State.__slots__) - OF_THE_LINE - KEPT == set(AFTER_SKIP) | {"cycle"}


@pytest.mark.parametrize("name", sorted(AFTER_SKIP))
def test_what_a_block_sets_that_may_be_skipped_is_one_or_the_other(name: str) -> None:
    before, after = State(), State()
    first, last, merged = AFTER_SKIP[name]
    setattr(before, name, first)
    setattr(after, name, last)

    after.merge(before, 9)

    assert str(getattr(after, name)) == str(merged)


def test_a_word_of_a_cycle_behind_a_slash_is_one_or_the_other() -> None:
    before, after = State(), State()
    before.cycle, after.cycle = Cycle(810, 5.0), Cycle(810, 5.0)
    before.cycle.bottom, after.cycle.bottom = -3.0, -8.0
    before.motion = after.motion = 810

    after.merge(before, 9)

    assert after.cycle is not None
    assert (after.cycle.initial, str(after.cycle.bottom)) == (5.0, "nan")


def test_blocks_with_a_slash_are_read_both_ways() -> None:
    told = read_after_start("/G1 X50. F9.\nG91 X1.\nG90\n/M8\n/G55")

    assert travel(told, "X").sure == "unknown"
    assert went(told, "X")[2] == 50  # as far as it may go
    assert [one.text for one in told.work_offsets] == ["G54", "G55"]


@pytest.mark.parametrize("block", ["/X5.", "IF[#9 EQ 1]THEN X5."])
def test_a_place_that_is_given_after_a_block_maybe_skipped_is_known_again(block: str) -> None:
    told = read_after_start(f"{block}\nG55 X1. Z9.\nX2.")
    assert (went(told, "X"), went(told, "X", offset="G55")) == (("assumed", 5, 5), ("known", 1, 2))


# time


def test_time_of_moves_by_hand() -> None:
    """100 mm at 1200 mm/min are 5 s; 30 mm by 40 mm are 50 mm; rapids: the slower axis counts."""
    told = read_after_start(
        "G1 X100. F1200.\nX130. Y40.\nG4 P1.5\nG0 X30. Y140.", rapid=(6000, 3000, 3000), tool_change_seconds=8
    )
    before = read_after_start("", rapid=(6000, 3000, 3000))
    time = told.cycle_time

    assert time.feed_seconds == pytest.approx(150 / 20)
    assert (time.rapid_seconds or 0) - (before.cycle_time.rapid_seconds or 0) == pytest.approx(2.0)
    assert (time.dwell_seconds, time.tool_change_seconds) == (1.5, 8)
    assert time.seconds == pytest.approx(time.feed_seconds + (time.rapid_seconds or 0) + 1.5 + 8)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("G93 G1 X10. F2.\nX20. F4.", 45),  # 1/F minutes each
        ("G95 G1 X10. F.1", 6),  # 0.1 mm × 1000 rpm = 100 mm/min
        ("G20 G1 X1. F10.", 6),  # 1 in at 10 in/min
        ("G1 X10. F100.\nF50.\nX20.", 18),
        ("G95 G1 X10. F.1\nS500\nX20.", 6 + 12),
        ("G95 G1 X10. F.1\nG97 S500 X20.", 6 + 12),
        ("G95 G1 X10. F.1\nG96 S100\nX20.", 6),
        ("G3 X0. Y20. R10. F60.", 31.41592653589793),  # half a turn of 10 mm at 1 mm/s
    ],
)
def test_time_by_feed_mode(text: str, seconds: float) -> None:
    assert read_after_start(text).cycle_time.feed_seconds == pytest.approx(seconds)


@pytest.mark.parametrize("lost", ["M98 P9", "G65 P9", "GOTO#1", "/F5", "IF[#1 EQ 1]THEN F5", "M97 P9"])
def test_time_up_to_something_unknown_is_kept(lost: str) -> None:
    told = read_after_start(f"G1 X10. F60.\n{lost}\nG1 G90 X20.\nX30.\nG0 X40.").cycle_time
    assert told.feed_seconds == pytest.approx(10)
    assert [one.line for one in told.untimed if one.text == "feed"] == [NEXT + 2]


def test_what_is_not_in_the_time_is_told() -> None:
    told = read_after_start("G1 X5.\nG4 P500\nG0 X9.\nM98 P9").cycle_time
    assert {one.text for one in told.untimed} == {"moves", "feed", "dwell", "calls", "rapids", "tool changes"}


def test_the_start_of_the_next_line_is_line_six() -> None:
    assert START.count("\n") == NEXT - 1
