"""Each wrong word planted once in correct programs: every one is caught, and the correct programs are clean."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import NamedTuple

import pytest

from floor.evidence.nc.against_card import ExpectedProgram, find_program_faults
from floor.evidence.nc.finding_kinds import NOTES
from floor.evidence.nc.tools_against_card import ExpectedTool
from floor.figures.cutting.card import ToolKind
from tests.evidence.nc.programs import read

MILLED = """%
O1234 (PROGRAM 1234 TOP SIDE)
G21 G17 G90 G94 G40 G49 G80
G54
T3 M6 (6 MM END MILL)
S12000 M3
G0 X0. Y0.
G43 H3 Z5.
M71 (AIR)
G1 Z-0.5 F400.
X40. F1200.
G2 X60. Y20. I0. J20.
G1 X60. Y30.
G0 Z5.
M5
T7 M6 (DRILL 3)
S6000 M3
G54 G0 X10. Y10.
G43 H7 Z5.
G1 Z4. F400.
G98 G81 X10. Y10. Z-2.2 R1. F400.
X30.
G80
M5
G91 G28 Z0.
G90
M30
%
"""
INCHES = """%
O77
N10 G20 G17 G90 G94 G54
N20 T1 M6
N30 S9000 M3
N40 G0 X0. Y0.
N50 G43 H1 Z.2
N60 G1 Z-.01 F20.
N70 X1.5
N80 G3 X1.5 Y1. R.5
N90 G0 Z.2
N100 M5
N110 M30
%
"""
CALLS = """%
O500
G21 G90 G94 G17 G54
T3 M6
S12000 M3
G0 X0. Y0.
G43 H3 Z5.
G1 Z0. F400.
M98 P501 L3
G90 G0 Z5.
M5
M30
O501
G91 G1 Z-0.2
X10.
X-10.
M99
%
"""
FLOODED = """%
O310 (PLATE)
G21 G17 G90 G94 G40 G49 G80
T1 M6 (FACE MILL)
G0 G90 G54 X-30. Y20. S4000 M3
G43 H1 Z25. M8
Z2.
G1 Z-1. F400.
X150. F1600.
Y60.
X-30.
G0 Z25. M9
G91 G28 Z0.
G90
T2 M6 (END MILL)
G0 G54 X-10. Y-10. S8000 M3
G43 H2 Z25. M8
Z2.
G1 Z-5. F300.
G41 D2 X0. Y0. F1200.
Y80.
X120.
Y0.
X0.
G40 X-10. Y-10.
G0 Z2.
G1 Z-10. F300.
G41 D2 X0. Y0. F1200.
Y80.
X120.
Y0.
X0.
G40 X-10. Y-10.
G0 Z2.
X60. Y30.
G1 Z0.5 F300.
X80. Z-1. F1200. (RAMP: 89 MM/MIN DOWN)
X60.
G0 Z25. M9
T3 M6 (DRILL)
G0 G54 X10. Y10. S6000 M3
G43 H3 Z25. M8
G98 G83 X10. Y10. Z-20. R2. Q3. F600.
X110.
G81 X60. Y60. Z-3. R2. F600.
G80
G0 Z25. M9
T4 M6 (TAP)
G0 G54 X10. Y10. S500 M3
G43 H4 Z25. M8
G98 G84 X10. Y10. Z-15. R5. F500.
X110.
G80
G0 Z25. M9
T6 M6 (LEFT-HAND TAP)
G0 G54 X60. Y60. S500 M4
G43 H6 Z25. M8
G98 G74 X60. Y60. Z-2. R5. F500.
G80
G0 Z25. M9
T5 M6 (V-TOOL)
G0 G54 X5. Y5. S8000 M3
G43 H5 Z25. M8
Z2.
G1 Z-0.4 F200.
X115. F800.
Y75. Z-0.3
G0 Z25. M9
G91 G28 Z0.
M30
%
"""
"""Every kind of tool, with coolant, radius compensation, a ramp and a peck."""
CARD = ExpectedProgram(
    units="mm",
    carriers={"G54": "Vise 1"},
    holds_dry=True,
    lowest_z=-2.5,
    travel_x=(-1, 85),
    travel_y=(-1, 41),
    program="1234",
    tools=(
        ExpectedTool(3, (11990, 12010), (400, 1200), sideways=(1200, 1200), plunge=400),
        ExpectedTool(7, (5990, 6010), (400, 400)),
    ),
)
INCH_CARD = ExpectedProgram(
    units="inch",
    carriers={"G54": "Vise 1"},
    holds_dry=True,
    lowest_z=-0.5,
    travel_x=(-2, 55),
    travel_y=(-2, 28),
    program="77",
    tools=(ExpectedTool(1, (8990, 9010), (508, 508)),),
)
CALL_CARD = replace(CARD, program="500", lowest_z=-0.7, tools=(ExpectedTool(3, (11990, 12010), (400, 400)),))
FLOOD_CARD = ExpectedProgram(
    units="mm",
    carriers={"G54": "Vise 1"},
    coolant="flood",
    lowest_z=-20.5,
    travel_x=(-30, 150),
    travel_y=(-30, 110),
    program="310",
    tools=(
        ExpectedTool(1, (3990, 4010), (400, 1600), (1600, 1600), kind=ToolKind.FACE_MILL, plunge=400, depth=1),
        ExpectedTool(2, (7990, 8010), (300, 1200), (1200, 1200), kind=ToolKind.END_MILL, plunge=300, depth=5),
        ExpectedTool(3, (5990, 6010), (600, 600), kind=ToolKind.DRILL, depth=3),
        ExpectedTool(4, (500, 500), (500, 500), left_hand=False, kind=ToolKind.TAP, pitch=1),
        ExpectedTool(5, (7990, 8010), (200, 800), (800, 800), kind=ToolKind.V_TOOL, plunge=200, depth=0.4),
        ExpectedTool(6, (500, 500), (500, 500), left_hand=True, kind=ToolKind.TAP, pitch=1),
    ),
)
SET = {"m_codes": ((71, "air"),)}
PROGRAMS = [
    ("milled", MILLED, CARD),
    ("inches", INCHES, INCH_CARD),
    ("calls", CALLS, CALL_CARD),
    ("flooded", FLOODED, FLOOD_CARD),
]


class Mutation(NamedTuple):
    """One wrong word: where it is made, the program with it, and the kinds of finding that would catch it."""

    what: str
    text: str
    caught_as: tuple[str, ...]


def each(text: str, pattern: str, change: str | Callable[[re.Match[str]], str], *kinds: str) -> Iterator[Mutation]:
    """The change made at each place of the pattern, one at a time, outside comments and the program numbers."""
    for found in re.finditer(pattern, text):
        before = text[: found.start()]
        if before.count("(") > before.count(")"):
            continue
        new = found.expand(change) if isinstance(change, str) else change(found)
        line = before.count("\n") + 1
        yield Mutation(f"line {line}: {found.group()!r} -> {new!r}", before + new + text[found.end() :], kinds)


AS_FED = r"(?<!Z0\.5 )F(\d+)\."
"""A feed word, but for the one of a move in the air, where any feed of the card may be."""
FED_ANEW = r"(?<!R1\. F400\.)(?<!Z-3\. R2\. F600\.)(?<!Z-2\. R5\. F500\.)"
"""Not one that only says again which feed is in force."""
FEED_FAULTS = "feed off card", "sideways feed off card", "plunge off card", "tap pitch"
BLOCK = r"\n(?=[XN]\d|G1)"
"""Before a plain move."""
WORDS: tuple[tuple[str, str | Callable[[re.Match[str]], str], tuple[str, ...]], ...] = (
    ("G54", "G55", ("wrong offset",)),
    (r"T\d+(?= M6)", "T9", ("tool not on card",)),
    (r"T\d+ M6", "", ("tool not called",)),
    (r"H\d+", "H9", ("H not T",)),
    (r"G43 H\d+ ", "", ("no length offset", "Z not known")),
    (r"S\d+", "S400", ("speed off card",)),
    (r"S\d+", "S60000", ("speed off card",)),
    (r"F([\d.]+)", r"F9\1", ("feed off card",)),
    (r"F([\d.]+)", "F.5", ("feed off card",)),
    (r"S(\d+)", lambda at: f"S{int(at[1]) * 1.02:.0f}", ("speed off card",)),
    (AS_FED, lambda at: f"F{int(at[1]) * 1.02:.1f}", FEED_FAULTS),
    (AS_FED, lambda at: f"F{int(at[1]) * 0.98:.1f}", FEED_FAULTS),
    (r"F(800|1[26]00)\.", "F700.", FEED_FAULTS),
    (AS_FED + FED_ANEW, "", (*FEED_FAULTS, "no feed")),
    (r"(?<=\d )M[34](?=\n)", "", ("spindle off",)),
    (r"(?<=\d )M3(?=\n)", "M3 M4", ("group clash",)),
    (r"(?<=M8\nZ2\.\n)", "M19\n", ("spindle off",)),
    (r"Z-([\d.]+)", r"Z-9\1", ("Z too deep",)),
    (r"\b([XY])(\d+\.\d*)(?=[ \n])", r"\g<1>999\2", ("outside carrier", "bad arc")),
    # a letter O in place of a zero, or of an axis
    (r"(?<=[\d.A-Z])0", "O", ("bad word", "call missing")),
    (r"(?<=\d)\.(?=[ \n])", "O.", ("bad word",)),
    (r"\b[XYZ](?=[-\d.])", "O", ("bad word", "no return")),
    (r"O\d+(?= \(|\nG|\nN)", "O4321", ("number differs", "call missing")),
    (r"G90 |G90\n", "G90 G91 ", ("group clash",)),
    (BLOCK, "\nG52 X1.\n", ("left on",)),
    (BLOCK, "\nG92 X1.\n", ("shift",)),
    (BLOCK, "\nG10 L2 P1 X1.\n", ("offset written",)),
    (BLOCK, "\nG68 X0. Y0. R9.\n", ("axes changed",)),
    (BLOCK, "\nG1 X1.2.3\n", ("bad word",)),
    (BLOCK, "\nG1 X1\n", ("two readings",)),
    (BLOCK, "\nG1 X1. X2.\n", ("word repeated",)),
    (BLOCK, "\nG1 X#9\n", ("travel not known",)),
    (BLOCK, "\nG65 P9\n", ("macro call",)),
    (BLOCK, "\nM98 P99\n", ("call missing",)),
    (BLOCK, "\nG31 Z-9.\n", ("probe",)),
    (BLOCK, "\nG187 P1\n", ("unknown code",)),
    (BLOCK, "\n%\n", ("unread lines", "no return")),
    (r"(?s)(N\d+ )?M30.*", "", ("no end",)),
    (r"\nO\d+(?: \(.*\))?(?=\nG|\nN)", "", ("no number", "call missing")),
    # what turns the part, exchanges it, or nobody knows
    (r"\n(?=X\d|G1)", "\nG0 A90.\n", ("part turned",)),
    (r"\n(?=X\d|G1)", "\nM60\n", ("pallet exchanged",)),
    (BLOCK, "\nM123\n", ("unlisted M-code",)),
    (BLOCK, "\n(A (B) M5)\n", ("nested words",)),
    (r"(?<=G90 )G94 ", "", ("no feed mode",)),
    # coolant
    (r"(?<!\d)M8\b", "", ("coolant missing",)),
    (r"(?<!\d)M8\b", "M7", ("coolant off card",)),
    (r"(?<=\n)(?=G43.* M8)", "/", ("coolant not known", "no length offset", "Z not known")),
    (r"(?<=M8\n)", "M9\n", ("coolant missing",)),
    # depth of passes, pecks and strokes; feed down
    (r"(?<=G1 )Z-(1\.|5\.|10\.|0\.4) (?=F[234]00\.\n)", "Z-11.7 ", ("pass too deep",)),
    (r"(?<=G1 )Z-0\.4 ", "Z-0.6 ", ("pass too deep",)),
    (r"(?<=Y75\. )Z-0\.3", "Z-0.6", ("pass too deep",)),
    (r"Q3\.", "Q6.", ("peck too deep",)),
    (r"G83(?= X)", "G81", ("stroke too deep",)),
    (r"G83(?= X)", "G85", ("bored too deep",)),
    (r"(?<=R2\. )Q3\.", "Q0", ("no peck",)),
    (r"(?<=R2\. )Q3\.", "Q.003", ("no peck",)),
    (r"(?<=G1 Z-)(\S+) F([234]00)\.", lambda at: f"{at[1]} F{4 * int(at[2])}.", ("plunge off card", "feed off card")),
    (r"(?<=X80\. Z)-1\.", "-6.", ("plunge off card",)),
    # rapids, R and tool changes in the work
    (r"\nG1 Z-(\S+) F\S+", r"\nG0 Z-\1", ("rapid down",)),
    (r"(?<=X-10\. Y-10\.\n)G0 Z2\.\n", "G0 X60. Y30.\n", ("rapid across",)),
    (r"(?<=G1 Z-[15]\. F[34]00\.\n)", "G91 G28 X0 Y0\nG90\n", ("rapid across",)),
    (r"(?<=G1 Z-[15]\. F[34]00\.\n)", "G53 G0 X-300. Y0. Z0.\n", ("rapid across",)),
    (r"G91 G28 Z0\.\n", "G53 G0 Z-300.\n", ("low in machine",)),
    (r"G91 G28 Z0\.\n", "G91 G53 G0 Z0.\n", ("G53 in G91",)),
    (r"R([125])\.", r"R-\1.", ("R too low",)),
    (r"(?<!G80\n)G0 Z25\. M9(?=\nT)", "M9", ("not retracted",)),
    (r"G0 Z25\. M9(?=\nT)", "G0 Z2. M9", ("not retracted",)),
    # taps and other tools
    (r"G84|G74", "G81", ("tap without cycle",)),
    (r"G84 X10\. Y10\. Z-15\. R5\.", "G1 Z-15.", ("tap without cycle",)),
    ("G84", "G74", ("tap cycle",)),
    ("G74", "G84", ("tap cycle",)),
    (r"G83(?= X)", "G84", ("not a tap",)),
    (r"F500\.", "F502.4", ("tap pitch",)),
    (r"(?<=Y10\. S6000 M3\n)(.*\n)", r"\1G1 Z-1. F600.\nX30.\n", ("cuts sideways",)),
    # radius compensation
    (r"(?<=G41 )D2 ", "D4 ", ("D not T",)),
    (r"(?<=G41 )D2 (?=(?:.*\n)+?G41)", "", ("D left out",)),
    (r"G40 (?=X-10\. Y-10\.\nG0 Z2\.\nX60)", "", ("left on",)),
)
"""(pattern, what is written instead, kinds of finding any of which catches it)."""


def mutate(text: str) -> Iterator[Mutation]:
    units = "G20" if "G20" in text else "G21"
    yield from each(text, r"G54\b ?", "", "offset assumed") if text.count("G54") == 1 else ()
    yield from each(text, units, "G21" if units == "G20" else "G20", "wrong units")
    yield from each(text, units + " ", "", "no units")
    if "M8" not in text:
        yield from each(text, r"\nM5|\nN\d+ M5", r"\nM8\g<0>", "coolant on dry")
        yield from each(text, r"\nM5|\nN\d+ M5", r"\nM88\g<0>", "unlisted M-code")
    for pattern, change, caught in WORDS:
        yield from each(text, pattern, change, *caught)


def faults(text: str, card: ExpectedProgram) -> list[str]:
    return [one.kind for one in find_program_faults(read(text, **SET), card) if one.kind not in NOTES]


@pytest.mark.parametrize(("text", "card"), [row[1:] for row in PROGRAMS], ids=[row[0] for row in PROGRAMS])
def test_a_correct_program_has_no_fault(text: str, card: ExpectedProgram) -> None:
    summary = read(text, **SET)
    found = find_program_faults(summary, replace(card, sha256=summary.sha256))
    assert [one for one in found if one.kind not in NOTES] == []


def test_every_wrong_word_is_caught(capsys: pytest.CaptureFixture[str]) -> None:
    made = [(name, one, card) for name, text, card in PROGRAMS for one in mutate(text)]
    missed = [
        f"{name}, {one.what}: {sorted(set(faults(one.text, card)))}, not {one.caught_as}"
        for name, one, card in made
        if not set(one.caught_as) & set(faults(one.text, card))
    ]
    with capsys.disabled():
        print(f"\nwrong words caught / made: {len(made) - len(missed)} / {len(made)}")  # noqa: T201

    assert missed == []
    assert len(made) > 1200


def test_any_changed_byte_is_a_changed_file() -> None:
    summary = read(MILLED)
    for at in range(0, len(MILLED), 7):
        changed = MILLED[:at] + ("X" if MILLED[at] != "X" else "Y") + MILLED[at + 1 :]
        assert "file changed" in faults(changed, replace(CARD, sha256=summary.sha256))
