"""Where a tool meets the work: stroke of a pointed tool, cutting diameter of a ball, chip thickness.

Plane trigonometry. Lengths in mm, angles in degrees.
"""

from __future__ import annotations

import math

from floor.figures.errors import ImpossibleFigure


def require_amount(name: str, value: float) -> float:
    """The value, if it is a finite number above 0.

    Raises:
        ImpossibleFigure: any other.
    """
    if not 0 < value < math.inf:
        raise ImpossibleFigure(f"{name} of {value:g}", "give a number above 0")
    return value


def require_angle(angle: float) -> float:
    """Half an included angle, in radians.

    Raises:
        ImpossibleFigure: less than 1 degree, or more than 179.
    """
    if not 1 <= angle <= 179:
        raise ImpossibleFigure(f"an included angle of {angle:g} degrees", "give one from 1 to 179")
    return math.radians(angle) / 2


def _require_tip(tip: float) -> float:
    if not 0 <= tip < math.inf:
        raise ImpossibleFigure(f"a tip {tip:g} mm wide", "give 0 for a sharp one, or its flat")
    return tip


def compute_stroke_width(depth: float, angle: float, tip: float = 0.0) -> float:
    """How wide a pointed tool cuts at the surface: tip + 2 · depth · tan(angle / 2).

    Args:
        depth: Of the stroke, above 0.
        angle: Included.
        tip: Width of the flat at the tip.

    Raises:
        ImpossibleFigure: a figure out of range.
    """
    return _require_tip(tip) + 2 * require_amount("a depth", depth) * math.tan(require_angle(angle))


def compute_stroke_depth(width: float, angle: float, tip: float = 0.0) -> float:
    """Depth at which a pointed tool cuts a stroke of this width: (width - tip) / (2 · tan(angle / 2)).

    Raises:
        ImpossibleFigure: a stroke no wider than the tip, or a figure out of range.
    """
    if not _require_tip(tip) < width < math.inf:
        raise ImpossibleFigure(f"a stroke {width:g} mm wide with a tip of {tip:g} mm", "take a narrower tip")
    return (width - tip) / (2 * math.tan(require_angle(angle)))


def compute_ball_diameter(diameter: float, depth: float) -> float:
    """Widest diameter on which a ball cuts at a depth: 2 · √(depth · (diameter - depth)), at most its own."""
    require_amount("a diameter", diameter)
    require_amount("a depth", depth)
    return diameter if depth >= diameter / 2 else 2 * math.sqrt(depth * (diameter - depth))


def compute_ball_section(diameter: float, depth: float) -> float:
    """Area in mm² of the groove a ball cuts in one pass: a circle segment, with straight walls above its center."""
    radius = require_amount("a diameter", diameter) / 2
    round_part = min(require_amount("a depth", depth), radius)
    half = math.acos(1 - round_part / radius)
    return radius * radius * (half - math.sin(half) * math.cos(half)) + diameter * (depth - round_part)


def compute_engagement(width: float, diameter: float) -> float:
    """Engagement angle in radians for a cut from the edge of the cutter: acos(1 - 2·width/D).

    Raises:
        ImpossibleFigure: a width not above 0, or above the diameter.
    """
    require_amount("a diameter", diameter)
    if not 0 < width <= diameter:
        raise ImpossibleFigure(f"a cut {width:g} mm wide with a tool of {diameter:g} mm", "give at most its diameter")
    return math.acos(max(1 - 2 * width / diameter, -1.0))


def compute_thinning(width: float, diameter: float) -> float:
    """Thickest chip as a share of the feed per tooth: 1 from half the diameter on.

    Below half the diameter no tooth reaches the point where the chip is as thick as the feed. The thickest chip is at
    the edge of the work: sin(engagement) = 2·√(width·(D - width)) / D of the feed.
    """
    engaged = compute_engagement(width, diameter)
    return 1.0 if engaged >= math.pi / 2 else math.sin(engaged)


def compute_mean_chip(feed_per_tooth: float, width: float, diameter: float) -> float:
    """Thickness of a chip in mm, averaged over the angle of engagement: feed · (1 - cos φ) / φ."""
    engaged = compute_engagement(width, diameter)
    return feed_per_tooth * (1 - math.cos(engaged)) / engaged


def compute_cone_height(diameter: float, angle: float, tip: float = 0.0) -> float:
    """How deep a pointed tool cuts on its tapered edges alone: (diameter - tip) / (2 · tan(angle / 2))."""
    return compute_stroke_depth(diameter, angle, tip)
