"""Each wrong word planted once in correct programs: every one is caught, and the correct programs are clean."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import NamedTuple

import pytest

from floor.evidence.nc.against_card import ExpectedProgram, ExpectedTool, find_program_faults
from tests.evidence.nc.programs import read

MILLED = """%
O1234 (PROGRAM 1234 TOP SIDE)
G21 G17 G90 G40 G49 G80
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
N10 G20 G17 G90 G54
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
G21 G90 G17 G54
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
CARD = ExpectedProgram(
    units="mm",
    offset="G54",
    coolant="dry",
    lowest_z=-2.5,
    travel_x=(-1, 85),
    travel_y=(-1, 41),
    number="1234",
    tools=(ExpectedTool(3, (11000, 13000), (300, 1300)), ExpectedTool(7, (5000, 7000), (300, 500))),
)
INCH_CARD = ExpectedProgram(
    units="inch",
    offset="G54",
    coolant="dry",
    lowest_z=-0.02,
    travel_x=(-0.1, 2.2),
    travel_y=(-0.1, 1.1),
    number="77",
    tools=(ExpectedTool(1, (8000, 10000), (10, 30)),),
)
CALL_CARD = replace(CARD, number="500", lowest_z=-0.7, tools=CARD.tools[:1])  # type: ignore[index]
SET = {"m_codes": ((71, "air"),)}
PROGRAMS = [("milled", MILLED, CARD), ("inches", INCHES, INCH_CARD), ("calls", CALLS, CALL_CARD)]


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


def mutate(text: str) -> Iterator[Mutation]:
    units = "G20" if "G20" in text else "G21"
    yield from each(text, "G54", "G55", "wrong offset")
    yield from each(text, r"G54\b ?", "", "offset assumed") if text.count("G54") == 1 else ()
    yield from each(text, r"T\d+(?= M6)", "T9", "tool not on card")
    yield from each(text, r"T\d+ M6", "", "tool not called")
    yield from each(text, r"H\d+", "H9", "H not T")
    yield from each(text, r"G43 H\d+ ", "", "no length offset", "Z not known")
    yield from each(text, r"S\d+", "S400", "speed off card")
    yield from each(text, r"S\d+", "S60000", "speed off card")
    yield from each(text, r"F([\d.]+)", r"F9\1", "feed off card")
    yield from each(text, r"F([\d.]+)", "F.5", "feed off card")
    yield from each(text, r"\nM5|\nN\d+ M5", r"\nM8\g<0>", "coolant on dry")
    yield from each(text, r"\nM5|\nN\d+ M5", r"\nM88\g<0>", "unlisted M-code")
    yield from each(text, r"(?<=\d )M3(?=\n)", "", "spindle off")
    yield from each(text, units, "G21" if units == "G20" else "G20", "wrong units")
    yield from each(text, units + " ", "", "no units")
    yield from each(text, r"Z-([\d.]+)", r"Z-9\1", "Z too deep")
    yield from each(text, r"\b([XY])(\d+\.\d*)(?=[ \n])", r"\g<1>9\2", "outside carrier", "bad arc")
    yield from each(text, r"O\d+(?= \(|\nG|\nN)", "O4321", "number differs", "call missing")
    yield from each(text, r"G90 |G90\n", "G90 G91 ", "group clash")
    yield from each(text, r"M3(?=\n)", "M3 M4", "group clash")
    yield from each(text, r"\n(?=[XN]\d|G1)", "\nG52 X1.\n", "local shift")
    yield from each(text, r"\n(?=[XN]\d|G1)", "\nG92 X1.\n", "shift")
    yield from each(text, r"\n(?=[XN]\d|G1)", "\nG10 L2 P1 X1.\n", "offset written")
    yield from each(text, r"\n(?=[XN]\d|G1)", "\nG68 X0. Y0. R9.\n", "axes changed")
    yield from each(text, r"\n(?=[XN]\d|G1)", "\nG1 X1.2.3\n", "bad word")
    yield from each(text, r"\n(?=[XN]\d|G1)", "\nG1 X1\n", "two readings")
    yield from each(text, r"\n(?=[XN]\d|G1)", "\nG1 X1. X2.\n", "word repeated")
    yield from each(text, r"\n(?=[XN]\d|G1)", "\nG1 X#9\n", "travel not known")
    yield from each(text, r"\n(?=[XN]\d|G1)", "\nG65 P9\n", "macro call")
    yield from each(text, r"\n(?=[XN]\d|G1)", "\nM98 P99\n", "call missing")
    yield from each(text, r"\n(?=[XN]\d|G1)", "\nG31 Z-9.\n", "probe")
    yield from each(text, r"\n(?=[XN]\d|G1)", "\nG187 P1\n", "unknown code")
    yield from each(text, r"\n(?=[XN]\d|G1)", "\n%\n", "unread lines", "no return")
    yield from each(text, r"(?s)(N\d+ )?M30.*", "", "no end")


def faults(text: str, card: ExpectedProgram) -> list[str]:
    return [one.kind for one in find_program_faults(read(text, **SET), card)]


@pytest.mark.parametrize(("text", "card"), [row[1:] for row in PROGRAMS], ids=[row[0] for row in PROGRAMS])
def test_a_correct_program_has_no_fault(text: str, card: ExpectedProgram) -> None:
    summary = read(text, **SET)
    assert find_program_faults(summary, replace(card, sha256=summary.sha256)) == ()


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
    assert len(made) > 250


def test_any_changed_byte_is_a_changed_file() -> None:
    summary = read(MILLED)
    for at in range(0, len(MILLED), 7):
        changed = MILLED[:at] + ("X" if MILLED[at] != "X" else "Y") + MILLED[at + 1 :]
        assert "file changed" in faults(changed, replace(CARD, sha256=summary.sha256))
