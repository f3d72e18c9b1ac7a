"""Strokes, balls and chips against published figures, and against shapes cut into thousands of lines."""

import math

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.figures.cutting.geometry import (
    compute_ball_diameter,
    compute_ball_section,
    compute_cone_height,
    compute_engagement,
    compute_mean_chip,
    compute_stroke_depth,
    compute_stroke_width,
    compute_thinning,
)
from floor.figures.errors import Impossible

INCH = 25.4
LENGTHS = st.floats(0.01, 100)
ANGLES = st.floats(5, 175)


@pytest.mark.parametrize(
    ("depth", "angle", "tip", "width"),
    [(0.010, 60, 0, 0.011547), (0.010, 60, 0.005, 0.016547), (0.010, 90, 0, 0.020000), (0.008, 120, 0.010, 0.037713)],
)
def test_width_of_a_stroke(depth: float, angle: float, tip: float, width: float) -> None:
    """Inches; worked out outside this project by trigonometry. A length is a length: the same in mm."""
    assert compute_stroke_width(depth, angle, tip) == pytest.approx(width, abs=1e-6)
    assert compute_stroke_width(depth * INCH, angle, tip * INCH) == pytest.approx(width * INCH, abs=3e-5)


def test_depth_for_a_stroke() -> None:
    """0.030 in wide at 60 degrees with 0.005 in of flat: 0.021651 in (trigonometry, worked out outside the project).

    0.020 in wide is about 0.017 in deep at 60 degrees and 0.027 in at 40 (common practice, no source)."""
    assert compute_stroke_depth(0.030, 60, 0.005) == pytest.approx(0.021651, abs=1e-6)
    assert compute_stroke_depth(0.020, 60) == pytest.approx(0.017, abs=5e-4)
    assert compute_stroke_depth(0.020, 40) == pytest.approx(0.027, abs=6e-4)
    assert compute_cone_height(6, 90, 1) == pytest.approx(2.5), "45 degrees: as high as half of what it narrows by"


@given(depth=LENGTHS, angle=ANGLES, tip=st.floats(0, 1))
def test_depth_gives_the_width_back(depth: float, angle: float, tip: float) -> None:
    assert compute_stroke_depth(compute_stroke_width(depth, angle, tip), angle, tip) == pytest.approx(depth)


@pytest.mark.parametrize("angle", [20, 60, 90, 140])
def test_a_stroke_is_as_wide_as_the_cone_that_is_sunk_into_it(angle: float) -> None:
    """By turning points of the edge about its tip: a rotation matrix instead of a tangent."""
    tip, depth = 0.2, 1.3
    half = math.radians(angle / 2)
    turn = np.array([[math.cos(half), math.sin(half)], [-math.sin(half), math.cos(half)]])
    edge = (turn @ np.array([[0.0] * 200_001, np.linspace(0, 30, 200_001)])).T + np.array([tip / 2, 0])
    at_surface = edge[np.argmin(abs(edge[:, 1] - depth)), 0]

    assert compute_stroke_width(depth, angle, tip) == pytest.approx(2 * at_surface, rel=1e-3)


@pytest.mark.parametrize(
    ("share", "multiplier"),
    [(0.05, 2.294157), (0.10, 1.666667), (0.25, 1.154701), (0.50, 1), (0.70, 1), (1.0, 1)],
)
def test_feed_that_keeps_the_thickest_chip(share: float, multiplier: float) -> None:
    """D / (2·√(ae·(D - ae))) by the geometry of a chord, worked out outside; from half the diameter on 1."""
    assert 1 / compute_thinning(share * 12, 12) == pytest.approx(multiplier, abs=1e-6)


@pytest.mark.parametrize("share", [0.02, 0.1, 0.3, 0.5, 0.8, 1.0])
def test_chips_lie_between_the_circles_of_two_teeth(share: float) -> None:
    """The gap along a radius between two circles set off by the feed, at 200,001 places of the arc that cuts.

    By solving the circle's equation, so without the sine that the formula is made of; they agree as the feed gets
    small beside the radius."""
    radius, feed = 5.0, 1e-4
    start = math.acos(1 - share * 2)
    at = np.linspace(0, start, 200_001)
    x = np.sin(at)
    # The point r·(x, y) lies on the circle about (-feed, 0) of the tooth before: r² + 2·r·x·feed + feed² = radius².
    before = -x * feed + np.sqrt((x * feed) ** 2 - feed**2 + radius**2)
    gap = radius - before

    assert compute_thinning(share * 10, 10) == pytest.approx(gap.max() / feed, rel=1e-3)
    assert compute_mean_chip(feed, share * 10, 10) == pytest.approx(gap.mean(), rel=1e-3)
    assert compute_engagement(share * 10, 10) == pytest.approx(start)


def test_mean_chip_of_a_narrow_cut_is_the_form_of_the_catalogs() -> None:
    """hm = fz · √(ae / D), as cutter makers' catalogs print it for narrow cuts: another quantity than the thickest."""
    assert compute_mean_chip(0.1, 0.2, 20) == pytest.approx(0.1 * math.sqrt(0.2 / 20), rel=2e-3)
    assert compute_thinning(0.2, 20) == pytest.approx(2 * math.sqrt(0.2 / 20), rel=6e-3)


@given(diameter=st.floats(0.1, 50), share=st.floats(0.001, 1.5))
def test_a_ball_is_as_wide_as_its_circle_is_there(diameter: float, share: float) -> None:
    """Pythagoras on the circle's own points, and the area in strips (numpy's trapezoid)."""
    depth = share * diameter
    heights = np.linspace(0, depth, 4001)
    radius = diameter / 2
    rise = np.minimum(heights, radius)
    widths = 2 * np.sqrt(np.maximum(radius**2 - (radius - rise) ** 2, 0))

    assert compute_ball_diameter(diameter, depth) == pytest.approx(widths.max())
    assert compute_ball_section(diameter, depth) == pytest.approx(np.trapezoid(widths, heights), rel=2e-3)


def test_half_a_ball_is_half_a_circle() -> None:
    units = pint.UnitRegistry()
    half = (math.pi / 8 * (0.25 * units.inch) ** 2).to("mm**2").magnitude
    assert compute_ball_section(0.25 * INCH, 0.125 * INCH) == pytest.approx(half)


@pytest.mark.parametrize("angle", [0, 0.9, 179.1, 180, -60, float("nan")])
def test_an_angle_that_is_none_is_refused(angle: float) -> None:
    with pytest.raises(Impossible):
        compute_stroke_width(1, angle)


@pytest.mark.parametrize(("width", "diameter"), [(0, 10), (11, 10), (-1, 10), (float("nan"), 10), (1, 0)])
def test_a_cut_wider_than_the_tool_is_refused(width: float, diameter: float) -> None:
    with pytest.raises(Impossible):
        compute_thinning(width, diameter)


@pytest.mark.parametrize(("width", "tip"), [(0.1, 0.1), (0.1, 0.2), (float("inf"), 0), (0.1, -0.01)])
def test_a_stroke_no_wider_than_the_tip_has_no_depth(width: float, tip: float) -> None:
    with pytest.raises(Impossible):
        compute_stroke_depth(width, 60, tip)


def test_the_ends_of_what_is_taken_are_taken() -> None:
    assert compute_stroke_width(1, 1) == pytest.approx(2 * math.tan(math.radians(0.5)))
    assert compute_stroke_width(1, 179) == pytest.approx(2 * math.tan(math.radians(89.5)))
    assert compute_thinning(10, 10) == 1


@pytest.mark.parametrize(("diameter", "depth"), [(6, 0), (6, -1), (0, 1), (6, float("nan"))])
def test_a_ball_needs_a_diameter_and_a_depth(diameter: float, depth: float) -> None:
    for compute in (compute_ball_diameter, compute_ball_section):
        with pytest.raises(Impossible):
            compute(diameter, depth)
