"""Arcs against another method: a circle walked in small steps, by its parametric form alone."""

from __future__ import annotations

from math import cos, hypot, pi, sin

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.evidence.nc.arcs import compute_arc, compute_center, is_bad_arc
from tests.evidence.nc.programs import cut, kinds, read_after_start, travel

STEPS = 7200
PLACES = st.floats(-500, 500)
ANGLES = st.floats(0, 2 * pi)


def walk(cu: float, cv: float, radius: float, start: float, sweep: float) -> tuple[float, float, float, float, float]:
    """(least and most u, least and most v, length) of points along an arc."""
    points = [
        (cu + radius * cos(start + sweep * n / STEPS), cv + radius * sin(start + sweep * n / STEPS))
        for n in range(STEPS + 1)
    ]
    length = sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in zip(points, points[1:], strict=False))
    us, vs = [u for u, _ in points], [v for _, v in points]
    return min(us), max(us), min(vs), max(vs), length


@settings(max_examples=60, deadline=None)
@given(PLACES, PLACES, st.floats(0.1, 200), ANGLES, st.floats(0.01, 2 * pi - 0.01), st.booleans())
def test_extremes_and_length_are_those_of_a_dense_walk(
    cu: float, cv: float, radius: float, start: float, turn: float, clockwise: bool
) -> None:
    sweep = -turn if clockwise else turn
    u0, v0 = cu + radius * cos(start), cv + radius * sin(start)
    u1, v1 = cu + radius * cos(start + sweep), cv + radius * sin(start + sweep)

    arc = compute_arc(u0, v0, u1, v1, cu, cv, clockwise)
    walked = walk(cu, cv, radius, start, sweep)

    near = radius * (turn / STEPS) ** 2 + 1e-6  # how far a chord stays inside the arc
    assert (arc.u_low, arc.u_high, arc.v_low, arc.v_high) == pytest.approx(walked[:4], abs=near)
    assert arc.length == pytest.approx(walked[4], rel=1e-6)
    assert not is_bad_arc(u0, v0, u1, v1, cu, cv)


@settings(max_examples=60, deadline=None)
@given(PLACES, PLACES, st.floats(0.5, 200), ANGLES, st.floats(0.05, 2 * pi - 0.05), st.booleans())
def test_center_of_a_radius_word(
    cu: float, cv: float, radius: float, start: float, turn: float, clockwise: bool
) -> None:
    """R above zero is the arc of less than half a turn, below zero that of more (NIST IR 6556, 3.5.3.1, m)."""
    if abs(turn - pi) < 0.05:
        return  # there the center moves far for little
    sweep = -turn if clockwise else turn
    u0, v0 = cu + radius * cos(start), cv + radius * sin(start)
    u1, v1 = cu + radius * cos(start + sweep), cv + radius * sin(start + sweep)

    found = compute_center(u0, v0, u1, v1, radius if turn < pi else -radius, clockwise)

    assert found == pytest.approx((cu, cv), abs=1e-4)


@pytest.mark.parametrize(
    ("text", "x", "y"),
    [
        ("G3 X10. Y10. I0. J10.", (0, 10), (0, 10)),  # a quarter: no extreme but its ends
        ("G3 X-10. Y10. I0. J10.", (-10, 10), (0, 20)),  # three quarters
        ("G2 X10. Y10. I0. J10.", (-10, 10), (0, 20)),
        ("G2 X0. Y20. R10.", (-10, 0), (0, 20)),  # half a turn, to the left
        ("G3 X0. Y20. R10.", (0, 10), (0, 20)),
        ("G91 G3 X10. Y10. J10.", (0, 10), (0, 10)),
        ("G90.1 G3 X10. Y10. I0. J10.", (0, 10), (0, 10)),
    ],
)
def test_arcs_in_a_program(text: str, x: tuple[float, float], y: tuple[float, float]) -> None:
    """By hand, from the origin: centers and quarter points can be drawn."""
    told = read_after_start("F100.\n" + text)
    assert (cut(told, "X"), cut(told, "Y"), kinds(told)) == (("known", *x), ("known", *y), set())


def test_a_helix_goes_down_as_it_turns() -> None:
    """Two turns of a radius of 5 by 2 mm each: length by Pythagoras, sqrt((2 pi r n)^2 + dz^2)."""
    told = read_after_start("G1 Z0. F100.\nG3 I5. Z-2. F100.\nI5. Z-4.")

    assert (cut(told, "X"), cut(told, "Y"), cut(told, "Z")) == (("known", 0, 10), ("known", -5, 5), ("known", -4, 10))
    assert told.cycle_time.feed_mm == pytest.approx(10 + 2 * hypot(2 * pi * 5, 2))


@pytest.mark.parametrize(
    ("text", "across", "z"),
    [
        ("G18 G3 X10. Z0. I0. K-10.", (0, 10), (0, 10)),  # from +Z to +X: a quarter
        ("G18 G2 X10. Z0. I0. K-10.", (-10, 10), (-10, 10)),  # the other way round: three quarters
        ("G19 G3 Y-10. Z0. J0. K-10.", (-10, 0), (0, 10)),  # from +Z to -Y
        ("G19 G2 Y-10. Z0. J0. K-10.", (-10, 10), (-10, 10)),
    ],
)
def test_other_planes(text: str, across: tuple[float, float], z: tuple[float, float]) -> None:
    """From Z10 over the origin. G18 turns from Z to X, G19 from Y to Z (right-handed, as ISO 841 has the axes; m)."""
    told = read_after_start("F100.\n" + text)
    letter = "X" if "G18" in text else "Y"
    assert (cut(told, letter), cut(told, "Z"), kinds(told)) == (("known", *across), ("known", *z), set())


def test_full_turns_by_p() -> None:
    once, thrice = read_after_start("G2 I5. F100."), read_after_start("G2 I5. P3 F100.")
    assert thrice.cycle_time.feed_mm == pytest.approx(3 * once.cycle_time.feed_mm)
    assert once.cycle_time.feed_mm == pytest.approx(2 * pi * 5)


@pytest.mark.parametrize("text", ["G2 X10. Y0. I5.1 J0.", "G2 X10. R4.", "G2 X5.", "G2 X0. Y0. R5."])
def test_an_arc_that_does_not_fit_gives_no_box(text: str) -> None:
    told = read_after_start("F100.\n" + text)
    assert (kinds(told), travel(told, "X").sure) == ({"bad arc"}, "unknown")


def test_an_arc_from_a_place_not_known_gives_no_box() -> None:
    told = read_after_start("G55\nG2 X10. Y0. I5. J0. F100.")
    assert travel(told, "X", offset="G55").sure == "unknown"
