"""What a tool does at a speed, feed and depth: every figure its card is complete enough for.

Cards are rarely complete. What is missing is None, and so is every figure that needs it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from enum import StrEnum
from functools import partial

from floor.dataclass import dataclass
from floor.figures.cutting.geometry import (
    compute_ball_diameter,
    compute_ball_section,
    compute_mean_chip,
    compute_stroke_width,
    compute_thinning,
    require_angle,
)
from floor.figures.cutting.materials import SPECIFIC_ENERGY, ToolMaterial, WorkMaterial
from floor.figures.cutting.mechanics import (
    DRIVE_EFFICIENCY,
    compute_cutting_power,
    compute_feed_per_tooth,
    compute_removal_rate,
    compute_specific_energy,
    compute_surface_speed,
    compute_torque,
)
from floor.figures.errors import ImpossibleFigure

SENSIBLE = (1e-6, 1e9)
"""Every real shop figure is within these; beyond them floats overflow."""
DRILL_POINT = 118.0
"""Default included angle in degrees of a drill point (general purpose; common practice, no source)."""


class ToolKind(StrEnum):
    """How a tool removes metal."""

    FACE_MILL = "face mill"
    FLY_CUTTER = "fly cutter"
    END_MILL = "end mill"
    BALL_MILL = "ball end mill"
    V_TOOL = "V-tool"
    """Includes engravers."""
    CHAMFER_MILL = "chamfer mill"
    DRILL = "drill"
    REAMER = "reamer"
    TAP = "tap"

    @property
    def pointed(self) -> bool:
        """Whether its cutting edges taper to a tip."""
        return self in (ToolKind.V_TOOL, ToolKind.CHAMFER_MILL)

    @property
    def makes_holes(self) -> bool:
        """Whether it is fed along its axis alone."""
        return self in (ToolKind.DRILL, ToolKind.REAMER, ToolKind.TAP)


@dataclass(frozen=True, slots=True)
class Tool:
    """The card of a tool. Lengths in mm.

    Raises:
        ImpossibleFigure: no positive diameter or number of teeth, or an angle or another figure out of range.
    """

    kind: ToolKind
    diameter: float
    """Largest cutting diameter."""
    teeth: int | None = None
    """Unknown, nothing per tooth is worked out. A tap feeds by its pitch, however many it has."""
    material: ToolMaterial | None = None
    angle: float | None = None
    """Included angle in degrees, of a pointed tool or a drill point."""
    tip: float = 0.0
    """Width of the flat on a pointed tool."""
    flute_length: float | None = None
    chip_load: float | None = None
    """Feed per tooth the card states."""
    pitch: float | None = None
    """Taps only."""
    edge_radius: float | None = None
    least_chip: float | None = None
    """Thinnest chip it cuts, if the card states one; else the edge radius decides."""
    least_depth: float | None = None
    """A shallower pass skims."""

    def __post_init__(self) -> None:
        _require_sensible("diameter", self.diameter)
        _require_sensible("number of teeth", self.teeth)
        if self.angle is not None:
            require_angle(self.angle)
        if not 0 <= self.tip < self.diameter:
            raise ImpossibleFigure(f"a tip of {self.tip:g} mm on {self.diameter:g} mm", "give a tip below the diameter")
        for name in ("flute_length", "chip_load", "pitch", "edge_radius", "least_chip", "least_depth"):
            _require_sensible(name, getattr(self, name))


@dataclass(frozen=True, slots=True)
class Cut:
    """What the program has the tool do: rpm, mm/min, mm; None if unknown.

    Raises:
        ImpossibleFigure: a figure not above 0.
    """

    speed: float | None = None
    feed: float | None = None
    depth: float | None = None
    """Along the tool's axis: one pass or stroke; one peck of a hole."""
    width: float | None = None
    """Across the feed; None when the tool cuts its full width."""
    work: WorkMaterial | None = None

    def __post_init__(self) -> None:
        for name in ("speed", "feed", "depth", "width"):
            _require_sensible(name, getattr(self, name))


def _require_sensible(name: str, value: float | None) -> None:
    if value is not None and not SENSIBLE[0] <= value <= SENSIBLE[1]:
        raise ImpossibleFigure(f"a {name.replace('_', ' ')} of {value:g}", "give one that a shop has")


@dataclass(frozen=True, slots=True)
class CuttingFigures:
    """What follows from a card and a cut; None if they do not say enough."""

    diameter: float
    """Widest diameter in mm that cuts at this depth."""
    stroke_width: float | None
    """Of a pointed tool, mm at the surface."""
    surface_speed: float | None
    """m/min at ``diameter``; at the tip of a pointed tool it is nearly nothing."""
    feed_per_turn: float | None
    """mm."""
    feed_per_tooth: float | None
    """mm."""
    thinning: float
    """Thickest chip as a share of the feed per tooth, 0 to 1."""
    chip: float | None
    """Thickness of the thickest chip in mm."""
    removal_rate: float | None
    """mm³/min."""
    least_power: float | None
    """At the motor, W, by the lowest published energy and sharp edges."""
    power: float | None
    """The same by the highest published energy."""
    torque: float | None
    """At the spindle, N·m, by the highest."""


def compute_cutting_figures(tool: Tool, cut: Cut, *, efficiency: float = DRIVE_EFFICIENCY) -> CuttingFigures:
    """All figures of a card at a cut.

    Args:
        tool: The card.
        cut: What the program does. A width above the diameter counts as the diameter.
        efficiency: Share of motor power that reaches the cutter, above 0 to 1.

    Raises:
        ImpossibleFigure: an efficiency out of range.
    """
    if not 0 < efficiency <= 1:
        raise ImpossibleFigure(f"an efficiency of {efficiency:g}", "give a share above 0 and at most 1")
    diameter = find_cutting_diameter(tool, cut.depth)
    per_turn = _of(partial(compute_feed_per_tooth, teeth=1), cut.feed, cut.speed)
    per_tooth = None if per_turn is None or tool.teeth is None else per_turn / tool.teeth
    thinning = _find_thinning(tool, cut, diameter)
    removal = _of(compute_removal_rate, _find_section(tool, cut), cut.feed)
    least, most = _find_powers(tool, cut, diameter, per_tooth, removal)
    return CuttingFigures(
        diameter=diameter,
        stroke_width=diameter if tool.kind.pointed and tool.angle and cut.depth else None,
        surface_speed=None if cut.speed is None else compute_surface_speed(diameter, cut.speed),
        feed_per_turn=per_turn,
        feed_per_tooth=per_tooth,
        thinning=thinning,
        chip=None if per_tooth is None or tool.kind is ToolKind.TAP else per_tooth * thinning,
        removal_rate=removal,
        least_power=None if least is None else least / efficiency,
        power=None if most is None else most / efficiency,
        torque=_of(compute_torque, most, cut.speed),
    )


def find_cutting_diameter(tool: Tool, depth: float | None) -> float:
    """Widest diameter in mm on which a tool cuts at a depth; its own diameter if the depth is unknown."""
    if depth is None:
        return tool.diameter
    if tool.kind is ToolKind.BALL_MILL:
        return compute_ball_diameter(tool.diameter, depth)
    if tool.kind.pointed and tool.angle is not None:
        return min(compute_stroke_width(depth, tool.angle, tool.tip), tool.diameter)
    return tool.diameter


def _of(compute: Callable[[float, float], float], one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else compute(one, other)


def _find_slant(tool: Tool, diameter: float) -> float:
    """Chip thickness of a slanted or round edge as a share of that of a straight one."""
    if tool.kind is ToolKind.BALL_MILL:
        return diameter / tool.diameter
    if tool.kind.pointed and tool.angle is not None:
        return math.cos(require_angle(tool.angle))
    if tool.kind is ToolKind.DRILL:
        return math.sin(require_angle(tool.angle or DRILL_POINT))
    return 1.0


def _find_thinning(tool: Tool, cut: Cut, diameter: float) -> float:
    slant = _find_slant(tool, diameter)
    if tool.kind.makes_holes or cut.width is None:
        return slant
    return slant * compute_thinning(min(cut.width, diameter), diameter)


def _find_section(tool: Tool, cut: Cut) -> float | None:
    """Area of cut in mm², across the feed; None if unknown, as for a hole that is already there."""
    if tool.kind.makes_holes:
        return math.pi / 4 * tool.diameter**2 if tool.kind is ToolKind.DRILL else None
    if cut.depth is None:
        return None
    if cut.width is not None:
        return min(cut.width, tool.diameter) * cut.depth
    if tool.kind is ToolKind.BALL_MILL:
        return compute_ball_section(tool.diameter, cut.depth)
    if tool.kind.pointed:
        return None if tool.angle is None else (tool.tip + find_cutting_diameter(tool, cut.depth)) / 2 * cut.depth
    return tool.diameter * cut.depth


def _find_powers(
    tool: Tool, cut: Cut, diameter: float, per_tooth: float | None, removal: float | None
) -> tuple[float | None, float | None]:
    """Power at the cutter in W, with the lowest and the highest published energy."""
    energy = None if cut.work is None else SPECIFIC_ENERGY.get(cut.work)
    if energy is None or per_tooth is None or removal is None:
        return None, None
    width = diameter if cut.width is None else min(cut.width, diameter)
    chip = per_tooth if tool.kind.makes_holes else compute_mean_chip(per_tooth, width, diameter)
    chip *= _find_slant(tool, diameter)
    at_chip = (compute_specific_energy(each, energy.exponent, chip) for each in (energy.low, energy.high))
    least, most = (compute_cutting_power(removal, each) for each in at_chip)
    return least, most
