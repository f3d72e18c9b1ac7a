"""Programs as a machinist meets them, invented for this test. Every figure beside them is computed by hand.

Common practice, no source, for how such programs are laid out.
"""

from __future__ import annotations

from math import hypot, pi
from typing import NamedTuple

import pytest

from tests.evidence.nc.programs import cut, find, kinds, read, tool, travel, went

Ends = tuple[float, float]
FRONT = "%\nO100\nG21 G17 G90 G54\nT1 M6\nS1000 M3\nG0 X0. Y0.\nG43 H1 Z5.\n"
BACK = "M5\nM30\n%\n"


class Job(NamedTuple):
    """A program, the tool's travel in G54 in mm, how far it cuts, and the kinds of findings."""

    name: str
    text: str
    x: Ends
    y: Ends
    z: Ends
    cut_mm: float
    kinds: frozenset[str] = frozenset()


JOBS = [
    Job(
        "header of a post processor, inches, rotary axis at zero",
        "%\nO0101 (BRACKET OP10)\n(DATE 2026-11-02  TIME 14:05)\n"
        "(T1 | 1/2 FLAT ENDMILL | H1 | D1 | TOOL DIA. - .5)\n"
        "N100 G20\nN102 G0 G17 G40 G49 G80 G90\nN104 T1 M6\nN106 G0 G90 G54 X-.35 Y.5 A0. S6000 M3\n"
        "N108 G43 H1 Z1. M8\n"
        "N110 Z.1\nN112 G1 Z-.25 F15.\nN114 X4.35 F30.\nN116 G0 Z1.\nN118 M5\n"
        "N120 G91 G28 Z0. M9\nN122 G28 X0. Y0. A0.\n"
        "N124 M30\n%\n",
        (-8.89, 110.49),
        (12.7, 12.7),
        (-6.35, 25.4),
        25.4 * (0.35 + 4.7),
    ),
    Job(
        "rigid tapping M6 x 1",
        FRONT + "M29 S1000\nG98 G84 X10. Y10. Z-12. R2. F1000.\nX20.\nX30. Y20.\nG80\nG53 G0 Z0.\n" + BACK,
        (10, 30),
        (10, 20),
        (-12, 5),
        3 * 2 * 14,
    ),
    Job(
        "helical entry: down 1 mm a turn, a flat turn, to the middle",
        FRONT + "G0 X25. Y20.\nG1 Z0.5 F300.\nG3 X25. Y20. Z-0.5 I-5. J0. F400.\nG3 X25. Y20. Z-1.5 I-5. J0.\n"
        "G3 X25. Y20. Z-2. I-5.\nG3 X25. Y20. I-5. J0.\nG1 X20.\nG0 Z10.\n" + BACK,
        (15, 25),
        (15, 25),
        (-2, 10),
        4.5 + 2 * hypot(10 * pi, 1) + hypot(10 * pi, 0.5) + 10 * pi + 5,
    ),
    Job(
        "peck drilling, G99 and then G98 over a clamp",
        FRONT + "G0 Z20.\nG99 G83 X0. Y0. Z-15. R2. Q4. F120.\nX10.\nG98 X20.\nX60.\nG80\nG0 Z50.\n" + BACK,
        (0, 60),
        (0, 0),
        (-15, 50),
        4 * 17,
    ),
    Job(
        "bolt circle by a macro loop: six holes on a radius of 20",
        "#1=0 (ANGLE)\n#2=20. (RADIUS)\n" + FRONT + "G81 Z-5. R2. F100. L0\nWHILE [#1 LT 360] DO1\n"
        "X[#2*COS[#1]] Y[#2*SIN[#1]]\n#1=#1+60\nEND1\nG80\n" + BACK,
        (-20, 20),
        (-17.3205, 17.3205),
        (-5, 5),
        6 * 7,
        frozenset({"two readings"}),
    ),
    Job(
        "thread milling: in on a quarter, one turn up by the pitch, out on a quarter",
        FRONT + "G0 X50. Y50.\nG1 Z-10. F500.\nG1 X52. Y48. F200.\nG3 X54. Y50. Z-9.8125 I0. J2.\n"
        "G3 X54. Y50. Z-8.3125 I-4. J0.\nG3 X52. Y52. Z-8.125 I-2. J0.\nG1 X50. Y50.\nG0 Z10.\n" + BACK,
        (46, 54),
        (46, 54),
        (-10, 10),
        15 + 2 * hypot(2, 2) + 2 * hypot(pi, 0.1875) + hypot(8 * pi, 1.5),
    ),
    Job(
        "engraving 0.0085 in deep",
        "%\nO110\nG20 G17 G90 G54\nT1 M6\nS24000 M3\nG0 X.1 Y.1\nG43 H1 Z.1\nZ.02\nG1 Z-.0085 F5.\n"
        "X.15 Y.2 F12.\nX.2 Y.1\n"
        "G0 Z.02\nX.12 Y.15\nG1 Z-.0085 F5.\nX.18 F12.\nG0 Z.1\n" + BACK,
        (2.54, 5.08),
        (2.54, 5.08),
        (-0.2159, 2.54),
        25.4 * (2 * 0.0285 + 2 * hypot(0.05, 0.1) + 0.06),
    ),
    Job(
        "facing with a slight ramp and two dwells",
        FRONT + "G0 X-30.\nG1 Z0. F600.\nG1 X130. Z-0.2\nG4 P1.0\nY20.\nG4 X.5\nX-30.\nG0 Z50.\n" + BACK,
        (-30, 130),
        (0, 20),
        (-0.2, 50),
        5 + hypot(160, 0.2) + 20 + 160,
    ),
    Job(
        "a pocket in a subprogram, deeper by 0.25 at each of four passes",
        FRONT
        + "G0 X5. Y5.\nG1 Z0. F100.\nM98 P115 L4\nG90 G0 Z20.\n"
        + BACK.removesuffix("%\n")
        + "O115\nG91 G1 Z-.25 F100.\nX10. F300.\nY10.\nX-10.\nY-10.\nG90\nM99\n%\n",
        (5, 15),
        (5, 15),
        (-1, 20),
        5 + 4 * 40.25,
    ),
    Job(
        "a profile by radius words, the last arc of more than half a turn",
        FRONT + "G0 X-10. Y-10.\nG1 Z-3. F200.\nX0. Y0. F400.\nY30.\nG2 X10. Y40. R10.\nG1 X50.\nG2 X60. Y30. R10.\n"
        "G2 X60. Y10. R-12.\nG1 Y0.\nX-10.\nY-10.\nG0 Z50.\n" + BACK,
        # the last center is 6.6332 to the right of the chord's middle, as sqrt(12^2 - 10^2)
        (-10, 60 + 6.6332 + 12),
        (-10, 40),
        (-3, 50),
        8 + hypot(10, 10) + 30 + 5 * pi + 40 + 5 * pi + 12 * (2 * pi - 1.9702214) + 10 + 70 + 10,
    ),
    Job(
        "two parts by G52",
        FRONT
        + "G52 X0. Y0.\nG81 X5. Y5. Z-2. R1. F50.\nG80\nG52 X100. Y0.\nG0 X0. Y0.\nG81 X5. Y5. Z-2. R1. F50.\nG80\n"
        "G52 X0. Y0.\nG0 Z50.\n" + BACK,
        (5, 105),
        (0, 5),
        (-2, 50),
        6,
        frozenset({"local shift"}),
    ),
    Job(
        "carriage returns only, lower case, no spaces",
        (FRONT + "G1 Z-.5 F100.\nX10.\nG0 Z5.\n" + BACK).lower().replace(" ", "").replace("\n", "\r"),
        (0, 10),
        (0, 0),
        (-0.5, 5),
        15.5,
    ),
    Job(
        "a jump back, three cuts, each less deep",
        "#3=3\n" + FRONT + "N10\nG1 Z[-#3*0.5] F100.\nG0 Z5.\n#3=#3-1\nIF [#3 GT 0] GOTO 10\n" + BACK,
        (0, 0),
        (0, 0),
        (-1.5, 5),
        6.5 + 6 + 5.5,
    ),
    Job(
        "four incremental pecks by K",
        FRONT + "G91 G83 X10. Z-8. R-3. Q2. K4 F80.\nG80 G90\nG0 Z50.\n" + BACK,
        (10, 40),
        (0, 0),
        (-6, 50),
        4 * 8,
        frozenset({"two readings"}),
    ),
]


@pytest.mark.parametrize("job", JOBS, ids=[job.name for job in JOBS])
def test_a_job(job: Job) -> None:
    told = read(job.text)
    found = [went(told, axis)[1:] for axis in "XYZ"]
    assert found == [pytest.approx(ends, abs=1e-4) for ends in (job.x, job.y, job.z)]
    assert told.cycle_time.feed_mm == pytest.approx(job.cut_mm, abs=1e-3)
    assert kinds(told) == job.kinds
    assert "unknown" not in {travel(told, axis).sure for axis in "XYZ"}


def test_a_tap_has_its_pitch_and_its_holes() -> None:
    told = read(JOBS[1].text)
    assert [(one.code, one.pitch, one.holes, one.returns_to) for one in told.cycles] == [("G84", 1.0, 3, "G98")]


def test_rapids_of_the_peck_drill() -> None:
    """By hand: pecks 4, 8, 12, 16 up and down again, 80 in each hole; out of four holes 68; down to R from 20 three
    times less the one already there, and up to 20 twice: 18 each; across 60; to Z20 15, to Z50 30."""
    told = read(JOBS[3].text)
    assert told.cycle_time.rapid_mm == pytest.approx(4 * 80 + 4 * 17 + 18 + 18 + 18 + 18 + 60 + 15 + 30)


def test_one_subprogram_in_two_offsets() -> None:
    """The P of a call beside G54 names the subprogram and no extra offset."""
    told = read(
        "%\nO105\nG21 G17 G90\nT1 M6\nS5000 M3\nG54 M98 P106\nG55 M98 P106\nM5\nM30\n"
        "O106\nG0 X0. Y0.\nG43 H1 Z5.\nG1 Z-1. F200.\nX10.\nG0 Z5.\nM99\n%\n"
    )

    assert [one.text for one in told.work_offsets] == ["G54", "G55"]
    for offset in ("G54", "G55"):
        assert (cut(told, "X", offset=offset), cut(told, "Z", offset=offset)) == (("known", 0, 10), ("known", -1, 5))
    assert kinds(told) == set()


def test_probing_leaves_the_depth_open() -> None:
    told = read(
        "%\nO107\nG21 G17 G90 G54\nT99 M6\nM5\nG0 X0. Y0.\nG43 H99 Z20.\nG31 Z-5. F100.\n#100=#5063\nG0 Z20.\n"
        "G10 L2 P1 Z#100\nM30\n%\n"
    )

    assert (travel(told, "Z", 99).sure, tool(told, 99).first_feed) == ("unknown", 0)
    assert [(one.kind, one.line) for one in told.findings] == [("probe", 8), ("offset written", 11)]
    assert [one.text for one in told.writes] == ["G10 L2 P1 Z#100"]


def test_a_probing_macro_of_the_control_may_do_anything() -> None:
    told = read("%\nO108\nG21 G17 G90 G54\nT99 M6\nG0 G43 H99 Z50.\nG65 P9811 Z0. S1.\nG90 G53 G0 Z0.\nM30\n%\n")
    assert ([one.subject for one in find(told, "macro call")], travel(told, "Z", 99).sure) == (["O9811"], "unknown")


def test_lengths_without_dots_as_simple_posts_write_them() -> None:
    text = "G21 ; mm\nG90\nG94\nG54\nM3 S10000\nG0 Z5\nG0 X0 Y0\nG1 Z-1 F100\nG1 X10 F300\nG0 Z5\nM5\nM30\n"
    unset, whole = read(text), read(text, bare_number="whole")

    assert (travel(unset, "X", None).sure, [one.count for one in find(unset, "two readings")]) == ("unknown", [4])
    assert (cut(whole, "X", number=None), cut(whole, "Z", number=None)) == (("known", 0, 10), ("assumed", -1, 5))
    assert kinds(whole) == {"no length offset"}


def test_a_tombstone_has_a_box_for_each_face() -> None:
    told = read(
        "%\nO115\nG21 G17 G90 G54\nT1 M6\nS3000 M3\nG0 B0.\nX0. Y0.\nG43 H1 Z100.\nG1 Z50. F300.\nX20.\nG0 Z200.\n"
        "G55 B90.\nX0. Y0.\nZ100.\nG1 Z40. F300.\nX30.\nG0 Z200.\nM5\nM30\n%\n"
    )

    assert (cut(told, "Z"), cut(told, "X")) == (("known", 50, 100), ("known", 0, 20))
    assert (cut(told, "Z", offset="G55"), cut(told, "X", offset="G55")) == (("known", 40, 100), ("known", 0, 30))
    assert [one.angles for one in tool(told).travels] == [(("B", 0.0),), (("B", 0.0),), (("B", 90.0),)]


def test_a_tool_made_ready_is_not_the_one_that_cuts() -> None:
    told = read(
        "%\nO118\nG21 G17 G90 G54\nT1\nM6\nT2\nS1000 M3\nG0 X0. Y0.\nG43 H1 Z5.\nG1 Z-1. F100.\nG0 Z5.\nM6\n"
        "T3\nS2000 M3\nG0 X0. Y0.\nG43 H2 Z5.\nG1 Z-2. F200.\nG0 Z5.\nM5\nM30\n%\n"
    )

    assert [(one.number, one.line, one.speeds[0].value) for one in told.tools] == [(1, 5, 1000), (2, 12, 2000)]
    assert (cut(told, "Z", number=1), cut(told, "Z", number=2)) == (("known", -1, 5), ("known", -2, 5))
    assert ([one.value for one in told.staged], kinds(told)) == ([3], set())


def test_radius_compensation_is_told_and_the_sides_are_assumed() -> None:
    told = read(FRONT + "G1 Z-3. F200.\nG41 D1 X10. F400.\nY30.\nG40 X0.\nG0 Z5.\n" + BACK)
    assert ([travel(told, axis).sure for axis in "XYZ"], kinds(told)) == (
        ["assumed", "assumed", "known"],
        {"radius compensation"},
    )


def test_units_by_g71_are_asked_for() -> None:
    told = read("%12\nN1 G71 G90 G17 G54\nN2 T1 M6\nN3 S1000 M3\nN4 G0 X0. Y0. Z50.\nN5 G1 Z-1. F100\nN6 G53 Z0 M30\n")
    assert (told.number.value, told.units.sure, kinds(told)) == (
        "12",
        "unknown",
        {"two readings", "no units", "no length offset"},
    )
