"""Below the top of the work: rapids, steps down, passes, holes and coolant; what is wrong, and what is ordinary.

Ordinary and wrong are common practice, no source; the share of a ramp's feed that goes down is trigonometry.
"""

from __future__ import annotations

from math import radians, sin, tan
from typing import Any

import pytest

from floor.evidence.nc.against_card import ExpectedProgram, find_program_faults
from floor.evidence.nc.finding_kinds import NOTES
from floor.evidence.nc.summary import Work
from floor.evidence.nc.tools_against_card import ExpectedTool
from floor.figures.cutting.card import ToolKind
from tests.evidence.nc.programs import END, NEXT, START, read

MILL = ExpectedTool(1, kind=ToolKind.END_MILL, plunge=200, depth=3)
DRILL = ExpectedTool(1, kind=ToolKind.DRILL, depth=3)
TAP = ExpectedTool(1, kind=ToolKind.TAP, pitch=1, left_hand=False)
POINT = ExpectedTool(1, kind=ToolKind.V_TOOL, depth=0.4)
IN_AIR = Work(rapid_low=-8.0)


def faults(text: str, tool: ExpectedTool = MILL, **card: Any) -> list[tuple[str, int]]:
    """(kind, how many lines after the start)."""
    expected = ExpectedProgram("mm", tools=(tool,), **card)
    found = find_program_faults(read(START + text + END, work=expected.work), expected)
    return [(one.kind, one.line - NEXT) for one in found if one.kind not in NOTES]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("G0 Z0.", []),  # to the top, not into it
        ("G0 Z-.5", [("rapid down", 0)]),
        ("G0 X5. Z-.5", [("rapid across", 0)]),
        ("G0 Z#5\nG0 Z-.5", [("rapid down", 1)]),  # from wherever
        ("G1 Z-2. F200.\nG0 Z5.", []),
        ("G1 Z-2. F200.\nG0 X9.", [("rapid across", 1)]),
        ("G1 Z-2. F200.\nG0 X9. Z5.", [("rapid across", 1)]),  # out at a slant, or with its corner cut off
        ("G1 Z-2. F200.\nG0 Z2.\nG0 Z-1.5\nG1 Z-4.", []),  # a peck written out
        ("G1 Z-2. F200.\nG0 Z2.\nG0 Z-2.5", [("rapid down", 2)]),
        ("G1 Z-2. F200.\nG0 Z2.\nX1.\nG0 Z-1.5", [("rapid down", 3)]),  # beside the hole
        ("G91 G0 Z-9.\nZ-9.", [("rapid down", 1)]),
        ("/G0 Z-1.", [("rapid down", 0)]),
        ("G81 X5. Y5. Z-3. R-1. F100.\nG80", [("R too low", 0)]),
        ("G81 X5. Y5. Z-3. R0. F100.\nG80", []),
        ("G1 Z-1. F200.\nG81 X5. Y5. Z-3. R1.\nG80", [("rapid across", 1)]),
        ("G18\nG81 X5. Z5. Y-3. R-1. F100.\nG80", []),  # the tool's axis is another
        ("G91 G28 Z0.\nG90", []),
        ("G1 Z-2. F200.\nG91 G28 X0 Y0", [("rapid across", 1)]),  # across home, as by any rapid
        ("G1 Z-2. F200.\nG91 G30 Y0", [("rapid across", 1)]),
        ("G1 Z-2. F200.\nG28", [("rapid across", 1)]),  # all axes at once
        ("G1 Z-2. F200.\nG91 G28 X0 Y0 Z0", [("rapid across", 1)]),
        ("G1 Z-2. F200.\nG91 G28 X0 Z12.", []),  # out to its middle point first
        ("G1 Z-2. F200.\nG53 G0 X-300.", [("rapid across", 1)]),
        ("G1 Z-2. F200.\nG53 G0 Y-300. Z0.", [("rapid across", 1)]),
        ("G1 Z-2. F200.\nG53 G0 Z0.\nG53 G0 X-300. Y0.", []),
        ("G1 Z-2. F200.\nG91 G28 Z0.\nG28 X0. Y0.\nG90", []),
        ("G1 Z-2. F200.\nG0 A0.", [("rapid across", 1)]),  # it turns in the work
        ("G0 A0.", []),
        ("G53 G0 Z-51.", []),
        ("G53 G0 Z-500.", [("low in machine", 0)]),
        ("G53 G0 Z#5", [("low in machine", 0)]),
    ],
)
def test_rapids(text: str, found: list[tuple[str, int]]) -> None:
    assert faults(text, ExpectedTool(1)) == found


@pytest.mark.parametrize("code", ["G85", "G86", "G89 P1."])
def test_a_cycle_that_goes_down_in_one_stroke_is_held_to_the_card(code: str) -> None:
    assert faults(f"G98 {code} X5. Y5. Z-3. R1. F100.\nG80", DRILL) == []
    assert faults(f"G98 {code} X5. Y5. Z-3.1 R1. F100.\nG80", DRILL) == [("bored too deep", 0)]


@pytest.mark.parametrize(("peck", "found"), [("0", 1), (".019", 1), (".02", 0), ("-3.", 1), ("3.", 0)])
@pytest.mark.parametrize("code", ["G73", "G83"])
def test_a_peck_is_one(code: str, peck: str, found: int) -> None:
    assert faults(f"G98 {code} X5. Y5. Z-9. R1. Q{peck} F100.\nG80", DRILL) == [("no peck", 0)] * found


@pytest.mark.parametrize("text", ["G0 Z-7.", "G81 X5. Y5. Z-9. R-7. F100.\nG80", "G0 X5. Z-8."])
def test_where_there_is_air_a_rapid_may_go_down(text: str) -> None:
    """Beside the work, or in a pocket: the shop says how far."""
    assert faults(text, ExpectedTool(1), work=IN_AIR) == []
    assert faults(text, ExpectedTool(1)) != []


def test_the_zero_may_be_below_the_work() -> None:
    above = "G0 Z9.\nX5.\nG0 Z7.\nG1 Z5. F100."
    assert faults(above, ExpectedTool(1)) == []
    assert faults(above, ExpectedTool(1), work=Work(8.0, 8.0)) == [("rapid down", 2)]


@pytest.mark.parametrize(
    ("end", "found"),
    [
        ("G0 Z10.", []),  # where it came in
        ("G0 Z40.", []),
        ("G0 Z2.", [("not retracted", 2)]),
        ("", [("not retracted", 2)]),
        ("G91 G28 Z0.\nG90", []),
        ("G53 G0 Z0.", []),
        ("G49", []),  # nothing says where it is then
    ],
)
def test_a_tool_is_changed_clear_of_the_work(end: str, found: list[tuple[str, int]]) -> None:
    assert faults(f"G1 Z-2. F200.\n{end}\nT1 M6", ExpectedTool(1)) == found


def test_an_inch_above_the_work_is_clear_wherever_it_came_in() -> None:
    text = "G43 H1 Z100.\nG0 {}\nT1 M6"
    assert faults("T1 M6\nS1000 M3\n" + text.format("Z25."), ExpectedTool(1)) == []
    assert faults("T1 M6\nS1000 M3\n" + text.format("Z24."), ExpectedTool(1)) == [("not retracted", 4)]


@pytest.mark.parametrize(
    ("end", "found"),
    [
        ("G0 Z10.\nM30", []),
        ("G0 Z2.\nM30", [("low at end", 2)]),
        ("M2", [("low at end", 1)]),
        ("%", [("low at end", 1)]),
        ("G91 G28 Z0.\nM30", []),
        ("G53 Z0. M30", []),
    ],
)
def test_a_program_ends_clear_of_the_work(end: str, found: list[tuple[str, int]]) -> None:
    told = read(f"{START}G1 Z-2. F200.\n{end}\n")
    assert [(one.kind, one.line - NEXT) for one in find_program_faults(told, ExpectedProgram("mm"))] == found


STEEP = 45.0
FLAT = 3.0


def ramp(degrees: float, feed: float) -> str:
    return f"G1 Z0. F200.\nX20. Z-{20 * tan(radians(degrees)):.4f} F{feed:.1f}"


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("G1 Z-2. F200.", []),
        ("G1 Z-2. F201.", []),  # a last digit
        ("G1 Z-2. F800.", [("plunge off card", 0)]),
        ("G1 Z1. F800.\nZ-2. F200.", []),  # through the air
        ("G1 Z-2. F200.\nZ5. F800.", []),  # out again
        ("G91 G1 Z-12. F800.", [("plunge off card", 0)]),
        (ramp(FLAT, 800), []),
        (ramp(STEEP, 800), [("plunge off card", 1)]),
        (ramp(FLAT, 1.004 * 200 / sin(radians(FLAT))), []),
        (ramp(FLAT, 1.01 * 200 / sin(radians(FLAT))), [("plunge off card", 1)]),
        ("G1 Z0. F200.\nG3 X0. Y0. Z-1. I5. J0. F800.", []),  # a helix, 2 degrees down
        ("G1 Z0. F200.\nG3 X0. Y0. Z-3. I.5 J0. F800.", [("plunge off card", 1)]),
        ("G95 G1 Z-2. F.8", [("plunge off card", 0)]),  # 800 mm/min at 1,000 rpm
    ],
)
def test_how_fast_it_goes_down(text: str, found: list[tuple[str, int]]) -> None:
    assert faults(text, ExpectedTool(1, plunge=200)) == found


SIDEWAYS = ExpectedTool(1, feed=(199, 804), sideways=(796, 804), plunge=200)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("G1 Z-1. F200.\nX9. F800.\nY9.\nG2 X0. Y0. I-4.5 J-4.5", []),
        ("G1 Z-1. F200.\nX9.\nY9. F800.", [("sideways feed off card", 1)]),  # F left out
        ("G1 Z-1. F200.\nX9. F310.\nY9. F800.", [("sideways feed off card", 1)]),
        ("G1 Z-1. F200.\nX9. F800.\nY9. F780.\nX0. F800.", [("sideways feed off card", 2)]),
        ("G1 Z-1. F200.\nG2 X9. Y0. I4.5 J0. F310.", [("sideways feed off card", 1)]),
        ("G1 Z-1. F200.\nX9. F900.", [("feed off card", 1)]),  # said once
        ("G95 G1 Z-1. F.2\nX9. F.8\nY9. F.7", [("sideways feed off card", 2)]),  # at 1,000 rpm
        ("G1 Z0. F200.\nX9.", [("sideways feed off card", 1)]),  # it faces the top
        ("G1 Z1. F200.\nX9.", []),  # in the air
        ("G1 Z0. F200.\nX9. Z-1. F310.\nX0. F800.", []),  # a ramp
    ],
)
def test_the_feed_sideways_is_not_that_of_the_plunge(text: str, found: list[tuple[str, int]]) -> None:
    assert faults(text, SIDEWAYS) == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("G1 Z-1. F200.\nX9. F90.", []),
        ("G1 Z-1. F200.\nX9. F89.", [("rubbing", 1)]),
        ("G1 Z-1. F200.\nX9. F90.\nS1100\nY9.", [("rubbing", 3)]),  # the same feed at a higher speed
        ("G95 G1 Z-1. F.2\nX9. F.08", [("rubbing", 1)]),
        ("G1 Z-1. F50.\nX9. F200.", []),  # straight down
        ("G1 Z-1. F200.\nX9. F89.6", []),  # 90 as rounded
        ("G1 Z-1. F200.\nX9. F89.5", [("rubbing", 1)]),
        ("G96 S2000\nG1 Z-1. F200.\nX9. F90.", []),  # S is no speed of the spindle
        ("G1 Z-1. F200.\nG33 X9. F.5", []),  # a thread has its pitch
        ("S0\nG1 Z-1. F200.\nX9. F89.", [("spindle off", 1)]),
    ],
)
def test_a_feed_per_turn_too_low_rubs(text: str, found: list[tuple[str, int]]) -> None:
    assert faults(text, ExpectedTool(1, least_turn=0.09)) == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("X20. Z-1. F90.", []),
        ("X20. Z-1. F89.", [("rubbing", 1)]),
        ("X20. Z-1. F89.6", []),  # 90 as rounded
        ("X20. Z-1. F50.", []),  # as slow as a plunge may be
        ("X20. Z-1. F51.", [("rubbing", 1)]),
        ("X20. Z-1. F50.\nX0. Z-2. F89.", [("rubbing", 2)]),
        ("G3 X0. Y0. Z-1. I5. J0. F60.", [("rubbing", 1)]),  # a helix
        ("G3 X0. Y0. Z-1. I5. J0. F800.", []),
        ("X20. Z2. F60.", []),  # through the air
        ("X20. Z-1. F95.\nS1100\nX0. Z-2.", []),  # at the lower of its speeds it cuts
    ],
)
def test_a_ramp_faster_than_a_plunge_and_too_slow_to_cut_rubs(text: str, found: list[tuple[str, int]]) -> None:
    """By hand: 0.09 mm per turn at 1,000 rpm is 90 mm/min. A plunge may be slower: common practice, no source."""
    assert faults(f"G1 Z0. F50.\n{text}", ExpectedTool(1, least_turn=0.09, plunge=50)) == found


def test_a_ramp_of_a_card_without_a_plunge_is_held_to_what_cuts() -> None:
    card = ExpectedTool(1, least_turn=0.09)
    assert faults("G1 Z0. F50.\nX20. Z-1. F50.", card) == [("rubbing", 1)]
    assert faults("G1 Z0. F50.\nX20. Z-1. F90.", card) == []


def test_a_ramp_is_never_faster_than_the_feed_of_its_card() -> None:
    assert faults(f"G1 Z0. F200.\nX20. Z-{20 * tan(radians(FLAT)):.4f} F810.", SIDEWAYS) == [("feed off card", 1)]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("G1 Z-.5 F200.\nX9.", []),
        ("G1 Z-.05 F200.\nX9.", [("pass too light", 1)]),
        ("G1 Z-5. F200.\nX9.\nG0 Z5.\nX50.\nG1 Z-5.1\nX60.", []),  # maybe a pocket of its own
        ("G1 Z0. F200.\nX9.", []),
    ],
)
def test_a_pass_too_near_to_the_top_rubs(text: str, found: list[tuple[str, int]]) -> None:
    assert faults(text, ExpectedTool(1, least_depth=0.5)) == found


def test_a_light_pass_of_another_tool_is_its_own_affair() -> None:
    expected = ExpectedProgram("mm", tools=(ExpectedTool(1, least_depth=0.5), ExpectedTool(2, least_depth=0.01)))
    text = "G1 Z-.5 F200.\nX9.\nG0 Z5.\nG53 Z0.\nT2 M6\nG43 H2 Z5.\nS1000 M3\nG1 Z-.05 F200.\nX0."
    found = find_program_faults(read(START + text + END, work=expected.work), expected)
    assert [one.kind for one in found if one.kind not in NOTES] == []


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("G1 Z-3. F200.\nX9.\nZ-6.\nX0.", []),
        ("G1 Z-3.02 F200.\nX9.", [("pass too deep", 1)]),
        ("G1 Z-3. F200.\nX9.\nZ-6.1\nX0.", [("pass too deep", 3)]),
        ("G1 Z-6. F200.\nX9.\nZ-3.\nX0.", [("pass too deep", 1)]),  # the upper pass is too late
        ("G1 Z-6. F200.\nG2 X4. Y0. I2. J0.", [("pass too deep", 1)]),
        ("G1 Z-6. F200.", []),  # a hole is no pass
        ("G1 Z0. F200.\nX9. Z-3.\nX0. Z-6.\nX9.", [("pass too deep", 3)]),  # ramped to and fro, then in one pass
        ("G1 Z-3. F200.\nX9.\nG55 G0 X0. Z5.\nG1 Z-6.\nX9.", [("pass too deep", 4)]),  # other work
    ],
)
def test_how_deep_a_pass_is(text: str, found: list[tuple[str, int]]) -> None:
    assert faults(text) == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("G1 Z0. F200.\nX9. Z-3.\nX0. Z-6.\nG0 Z5.", []),  # three deep at the end of each leg
        ("G1 Z0. F200.\nX9. Z-4.\nG0 Z5.", [("pass too deep", 1)]),
        ("G1 Z0. F200.\nX9. Z-3.\nX0. Z-6.1\nG0 Z5.", [("pass too deep", 2)]),
        ("G1 Z4. F200.\nX9. Z-3.\nG0 Z5.", []),  # down through the air
        ("G1 Z-3. F200.\nX9.\nX0. Z0.\nX9. Z-6.\nG0 Z5.", []),  # the first three are cut
        ("G1 Z-3. F200.\nX9.\nX0. Z0.\nX9. Z-6.1\nG0 Z5.", [("pass too deep", 3)]),
        ("G1 Z0. F200.\nG3 X0. Y0. Z-2. I5. J0.\nG0 Z5.", []),
        ("G1 Z0. F200.\nG3 X0. Y0. Z-4. I5. J0.\nG0 Z5.", [("pass too deep", 1)]),  # a turn of a helix
        ("G91 G1 X9. Z-14.1 F200.\nG90 G0 Z5.", [("pass too deep", 0)]),
    ],
)
def test_how_deep_a_ramp_is(text: str, found: list[tuple[str, int]]) -> None:
    """It may not end deeper in metal than a pass: what one move goes down below its start, the top and what is cut."""
    assert faults(text, ExpectedTool(1, kind=ToolKind.END_MILL, depth=3)) == found


def test_what_another_tool_has_cut_is_free() -> None:
    other = ExpectedTool(2)
    text = "G1 Z-9. F200.\nX9.\nG0 Z10.\nT1 M6\nS1000 M3\nG43 H1 Z10.\nG1 Z-9.3 F200.\nX0."
    start = START.replace("T1 M6", "T2 M6").replace("H1", "H2")
    for tool, found in ((ExpectedTool(1, depth=0.3), []), (ExpectedTool(1, depth=0.2), ["pass too deep"])):
        card = ExpectedProgram("mm", tools=(tool, other))
        assert [one.kind for one in find_program_faults(read(start + text + END), card)] == found


def test_air_as_far_as_rapids_go_is_free() -> None:
    assert faults("G1 Z-10. F200.\nX9.", work=IN_AIR) == []
    assert faults("G1 Z-12. F200.\nX9.", work=IN_AIR) == [("pass too deep", 1)]
    ramped = ExpectedTool(1, kind=ToolKind.END_MILL, depth=3)
    assert faults("G1 Z0. F200.\nX9. Z-10.\nG0 Z5.", ramped, work=IN_AIR) == []
    assert faults("G1 Z0. F200.\nX9. Z-12.\nG0 Z5.", ramped, work=IN_AIR) == [("pass too deep", 1)]


def test_a_surface_in_space_has_no_passes() -> None:
    steps = "".join(f"Z-{n / 100:.2f}\nX{n % 2}.\n" for n in range(1, 1200))
    assert faults(f"G1 Z0. F200.\n{steps}Z-50. F100.\nX9.") == []
    ramp_first = "G1 Z0. F200.\nX9. Z-4.\nX0. Z0.\n"
    assert faults(ramp_first) == [("pass too deep", 1)]
    assert faults(f"{ramp_first}{steps}") == [], "nor is a slant in it one"


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("G1 Z-.4 F100.\nX9. Z-.2\nX0. Z-.4", []),
        ("G1 Z-.3 F100.\nX9. Z-.7\nG0 Z5.", [("pass too deep", 1)]),  # deeper on the way
        ("G1 Z-.7 F100.\nX9.", [("pass too deep", 1)]),
    ],
)
def test_a_pointed_tool_cuts_as_it_goes_down(text: str, found: list[tuple[str, int]]) -> None:
    """A deeper stroke is a wider one."""
    assert faults(text, POINT) == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("G83 X5. Y5. Z-20. R2. Q3. F100.\nG80", []),
        ("G83 X5. Y5. Z-20. R2. Q3.5 F100.\nG80", [("peck too deep", 0)]),
        ("G73 X5. Y5. Z-20. R2. Q3.5 F100.\nG80", [("peck too deep", 0)]),
        ("G83 X5. Y5. Z-2. R2. Q9. F100.\nG80", []),  # no deeper than the hole
        ("G81 X5. Y5. Z-3. R2. F100.\nG80", []),
        ("G81 X5. Y5. Z-3.1 R2. F100.\nG80", [("stroke too deep", 0)]),
        ("G85 X5. Y5. Z-9. R2. F100.\nG80", [("bored too deep", 0)]),  # in one stroke too
        ("G1 Z-3. F100.\nG0 Z2.\nZ-2.5\nG1 Z-5.", []),
        ("G1 Z-3.1 F100.", [("stroke too deep", 0)]),
        ("G84 X5. Y5. Z-3. R2. F100.\nG80", [("not a tap", 0)]),
        ("G1 Z-1. F100.\nX9.", [("cuts sideways", 1)]),
    ],
)
def test_how_deep_a_drill_goes_at_once(text: str, found: list[tuple[str, int]]) -> None:
    assert faults(text, DRILL) == found


LONG = {"flute_length": 20.0, "stick_out": 30.0}


@pytest.mark.parametrize(
    ("tool", "text", "found"),
    [
        (ExpectedTool(1, kind=ToolKind.DRILL, **LONG), "G83 X5. Y5. Z-20. R2. Q3. F100.\nG80", []),
        (ExpectedTool(1, kind=ToolKind.DRILL, **LONG), "G83 X5. Y5. Z-20.1 R2. Q3. F100.\nG80", ["past flutes"]),
        (ExpectedTool(1, kind=ToolKind.DRILL, **LONG), "G83 X5. Y5. Z-31. R2. Q3. F100.\nG80", ["holder too low"]),
        (ExpectedTool(1, kind=ToolKind.DRILL, **LONG), "G1 Z-25. F100.", ["past flutes"]),  # without a cycle
        (ExpectedTool(1, kind=ToolKind.REAMER, **LONG), "G85 X5. Y5. Z-25. R2. F100.\nG80", ["past flutes"]),
        (ExpectedTool(1, kind=ToolKind.TAP, **LONG), "G84 X5. Y5. Z-25. R2. F100.\nG80", []),
        (ExpectedTool(1, kind=ToolKind.TAP, **LONG), "G84 X5. Y5. Z-31. R2. F100.\nG80", ["holder too low"]),
        (ExpectedTool(1, kind=ToolKind.END_MILL, **LONG), "G1 Z-25. F100.", []),  # no hole
        (ExpectedTool(1, kind=ToolKind.DRILL), "G83 X5. Y5. Z-99. R2. Q3. F100.\nG80", []),
    ],
)
def test_a_hole_is_no_deeper_than_the_tool_is_long(tool: ExpectedTool, text: str, found: list[str]) -> None:
    assert [kind for kind, _ in faults(text, tool)] == found


def test_where_there_is_air_above_a_hole_its_depth_counts_from_there() -> None:
    drill = ExpectedTool(1, kind=ToolKind.DRILL, **LONG)
    text = "G83 X5. Y5. Z-25. R-8. Q3. F100.\nG80"
    assert faults(text, drill, work=IN_AIR) == []


@pytest.mark.parametrize(
    ("text", "left", "found"),
    [
        ("G84 X5. Y5. Z-9. R2. F1000.\nG80", False, []),
        ("G1 Z1. F900.\nG84 X5. Y5. Z-9. R2. F1000.\nG80", False, []),  # an approach
        ("G33.1 Z-9. K1.", False, []),
        ("G84 X5. Y5. Z-9. R2. F1001.\nG80", False, []),  # rounded to a last digit
        ("G84 X5. Y5. Z-9. R2. F1004.\nG80", False, [("tap pitch", 0)]),
        ("G74 X5. Y5. Z-9. R2. F1000.\nG80", False, [("tap cycle", 0), ("tap direction", 0)]),
        ("M4\nG74 X5. Y5. Z-9. R2. F1000.\nG80", True, []),
        ("M4\nG84 X5. Y5. Z-9. R2. F1000.\nG80", True, [("tap cycle", 1), ("tap direction", 1)]),
        ("G81 X5. Y5. Z-9. R2. F1000.\nG80", False, [("tap without cycle", 0)]),
        ("G1 Z-9. F1000.\nM4\nZ2.", False, [("tap without cycle", 0), ("spindle reversed", 1)]),
    ],
)
def test_a_tap_comes_out_as_it_went_in(text: str, left: bool, found: list[tuple[str, int]]) -> None:
    assert sorted(faults(text, ExpectedTool(1, kind=ToolKind.TAP, pitch=1, left_hand=left))) == sorted(found)


@pytest.mark.parametrize(
    ("text", "coolant", "found"),
    [
        ("M8\nG1 Z-1. F100.", "flood", []),
        ("M8\nM51\nG1 Z-1. F100.", "flood", []),  # air beside it clears chips
        ("M50\nG1 Z-1. F100.", "flood", []),  # through the tool
        ("G1 Z-1. F100.", "flood", [("coolant missing", 0)]),
        ("M7\nG1 Z-1. F100.", "flood", [("coolant off card", 0)]),
        ("M51\nG1 Z-1. F100.", "flood", [("coolant missing", 1)]),
        ("M8\nM9\nG1 Z-1. F100.", "flood", [("coolant missing", 2)]),
        ("M8\nG1 Z-1. F100.\nM9\nX6.", "flood", [("coolant missing", 3)]),
        ("/M8\nG1 Z-1. F100.", "flood", [("coolant not known", 1)]),
        ("M8\nG1 Z-1. F100.\nG0 Z10.\nT1 M6\nS1000 M3\nG43 H1 Z10.\nG1 Z-1.", "flood", [("coolant missing", 6)]),
        ("G0 X5.", "flood", []),  # it cuts nothing
        ("M7\nG1 Z-1. F100.", "mist", []),
        ("M8\nG1 Z-1. F100.", "mist", [("coolant off card", 0)]),
        ("M51\nG1 Z-1. F100.", "air", []),
        ("G1 Z-1. F100.", "air", [("coolant missing", 0)]),
        ("M8\nG1 Z-1. F100.", "air", [("coolant off card", 0)]),
        ("M51\nG1 Z-1. F100.\nM9", "dry", []),
        ("M8\nG1 Z-1. F100.", "dry", [("coolant off card", 0)]),
        ("M8\nG1 Z-1. F100.", "", []),
        ("G1 X5. F100.\nZ0.\nM8\nZ-1.", "flood", []),  # fed through the air, down to the work
        ("G1 Z0. F100.\nX5.", "flood", [("coolant missing", 1)]),  # faced at its top
        ("M8\nG1 Z-1. F100.\nM9\nZ5.\nX9.", "flood", []),  # fed out of its own hole
        ("M8\nG1 Z-1. F100.\nM9\nX9. Z5.", "flood", [("coolant missing", 3)]),
        ("G1 Z#5 F100.", "flood", [("coolant missing", 0)]),  # wherever that is
        ("G81 X5. Y5. Z-3. R2. F100.\nG80", "flood", [("coolant missing", 0)]),
        ("G33.1 Z-9. K1.", "flood", [("coolant missing", 0)]),
        ("G18 G3 X40. Z10. I20. K0. F100.", "flood", []),  # over the work
        ("G18 G2 X40. Z10. I20. K0. F100.", "flood", [("coolant missing", 0)]),  # through it
    ],
)
def test_the_operation_says_which_coolant(text: str, coolant: str, found: list[tuple[str, int]]) -> None:
    expected = ExpectedProgram("mm", coolant=coolant, has_air_code=True)  # type: ignore[arg-type]
    told = read(START + text + END, m_codes=((50, "through tool"), (51, "air")))
    assert [(one.kind, one.line - NEXT) for one in find_program_faults(told, expected)] == found


def test_air_may_be_turned_on_by_hand() -> None:
    assert faults("G1 Z-1. F100.", ExpectedTool(1), coolant="air") == []


def test_radius_compensation_is_ordinary_and_told() -> None:
    told = read(START + "G41 D1 X5. Y5.\nG1 X9. F100.\nG40 X0." + END)
    assert [(one.kind, one.kind in NOTES) for one in find_program_faults(told, ExpectedProgram("mm"))] == [
        ("radius compensation", True)
    ]
    assert faults("G41 X5.\nG40", ExpectedTool(1)) == [("D left out", 0)]
    assert faults("G41 D1 X5.", ExpectedTool(1)) == [("left on", 1)]
