"""What of a card and a cut does not fit the tool, the work or the machine, as data: kind, value and limit.

Nothing is found where the card does not tell enough to be sure. Words come from whoever shows it.
"""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum

from floor.dataclass import dataclass
from floor.figures.cutting.card import Cut, CuttingFigures, Tool, ToolKind, compute_cutting_figures
from floor.figures.cutting.geometry import compute_cone_height, require_amount
from floor.figures.cutting.materials import (
    EDGE_RADIUS,
    INSERT_EDGE_RADIUS,
    LEAST_CHIP_SHARE,
    SPEED_BANDS,
)
from floor.figures.cutting.mechanics import DRIVE_EFFICIENCY, compute_feed

ROUNDED = 0.05
"""How far a feed may lie from the one worked out: speeds and feeds are rounded to what the control takes."""
TAP_ROUNDED = 0.002
"""The same of a tap, which is torn where it is not followed (common practice, no source)."""
AT_LIMIT = 0.95
"""From this share of its limit on a spindle cannot be asked for more."""
FLY_CUTTER_CHIP = 0.06
"""Least feed per tooth in mm of a single-insert fly cutter: it likes 0.003 in and hardly less (common practice, no
source)."""
FLY_CUTTER_DEPTH = 0.2
"""Least depth in mm of the same: near 0.010 in rather than a light skim (common practice, no source)."""


class MisfitKind(StrEnum):
    """What does not fit. The value and the limit are in the base unit of the dimension in `DIMENSIONS`."""

    SPEED_OVER_LIMIT = "speed over limit"
    """Faster than the spindle may turn."""
    FEED_OFF_CHIP_LOAD = "feed off chip load"
    """Not speed · teeth · the card's chip load; more is right as far as the chip is thinned."""
    FEED_OFF_PITCH = "feed off pitch"
    """Of a tap: not speed · pitch."""
    RUBBING = "rubbing"
    """The thickest chip is thinner than the edge cuts."""
    LIGHT_SKIM = "light skim"
    """A pass less deep than the tool cuts."""
    POWER_OVER_LIMIT = "power over limit"
    """More than the machine has, by the highest published energy."""
    DEEPER_THAN_FLUTES = "deeper than flutes"
    """Deeper than its flutes are long, or than the cone of a pointed tool."""
    WIDER_THAN_TOOL = "wider than tool"
    """A cut wider than the tool, so it leaves metal standing."""
    SURFACE_SPEED_HIGH = "surface speed high"
    SURFACE_SPEED_LOW = "surface speed low"
    """Below the usual, and the spindle could turn faster."""


DIMENSIONS = {
    MisfitKind.SPEED_OVER_LIMIT: "speed",
    MisfitKind.FEED_OFF_CHIP_LOAD: "feed",
    MisfitKind.FEED_OFF_PITCH: "feed",
    MisfitKind.RUBBING: "length",
    MisfitKind.LIGHT_SKIM: "length",
    MisfitKind.POWER_OVER_LIMIT: "power",
    MisfitKind.DEEPER_THAN_FLUTES: "length",
    MisfitKind.WIDER_THAN_TOOL: "length",
    MisfitKind.SURFACE_SPEED_HIGH: "surface speed",
    MisfitKind.SURFACE_SPEED_LOW: "surface speed",
}
"""Kind → the dimension of its value and limit."""


@dataclass(frozen=True, slots=True)
class Misfit:
    """One thing that does not fit."""

    kind: MisfitKind
    value: float
    limit: float
    """The nearest value that fits."""


@dataclass(frozen=True, slots=True)
class Machine:
    """What the station gives; None where nobody knows.

    Raises:
        ImpossibleFigure: a limit that is not above 0.
    """

    speed_limit: float | None = None
    """rpm."""
    power_limit: float | None = None
    """Of the spindle motor, W."""
    efficiency: float = DRIVE_EFFICIENCY
    """Share of the motor's power that comes to the cutter."""

    def __post_init__(self) -> None:
        for name, limit in (("a speed limit", self.speed_limit), ("a power limit", self.power_limit)):
            if limit is not None:
                require_amount(name, limit)


def find_misfits(tool: Tool, cut: Cut, machine: Machine = Machine()) -> tuple[Misfit, ...]:  # noqa: B008 (frozen)
    """All that does not fit of a tool at a cut on a machine, in the order of `MisfitKind`.

    Raises:
        ImpossibleFigure: an efficiency out of range.
    """
    figures = compute_cutting_figures(tool, cut, efficiency=machine.efficiency)
    found = [
        *_over(MisfitKind.SPEED_OVER_LIMIT, cut.speed, machine.speed_limit),
        *_find_feed(tool, cut, figures),
        *_under(MisfitKind.RUBBING, figures.chip, find_least_chip(tool)),
        *_under(MisfitKind.LIGHT_SKIM, cut.depth, find_least_depth(tool)),
        *_over(MisfitKind.POWER_OVER_LIMIT, figures.power, machine.power_limit),
        *_over(MisfitKind.DEEPER_THAN_FLUTES, cut.depth, find_greatest_depth(tool)),
        *_over(MisfitKind.WIDER_THAN_TOOL, cut.width, tool.diameter),
        *_find_surface_speed(tool, cut, figures, machine),
    ]
    return tuple(found)


def find_least_chip(tool: Tool) -> float | None:
    """Thinnest chip in mm that a tool cuts instead of rubbing; None where it is not known, or of a tap or reamer."""
    if tool.least_chip is not None:
        return tool.least_chip
    if tool.kind in (ToolKind.TAP, ToolKind.REAMER):
        return None
    if tool.kind is ToolKind.FLY_CUTTER:
        return FLY_CUTTER_CHIP
    radius = tool.edge_radius
    if radius is None and tool.kind is ToolKind.FACE_MILL:
        radius = INSERT_EDGE_RADIUS
    if radius is None and tool.material is not None:
        radius = EDGE_RADIUS[tool.material]
    return None if radius is None else LEAST_CHIP_SHARE * radius


def find_least_depth(tool: Tool) -> float | None:
    """Least depth in mm of a pass; None of a tool fed along its axis, or where it is not known.

    A tool that cuts with its end meets the work there as thinly as the pass is deep, so the thinnest chip counts too.
    """
    if tool.least_depth is not None:
        return tool.least_depth
    if tool.kind is ToolKind.FLY_CUTTER:
        return FLY_CUTTER_DEPTH
    return None if tool.kind.makes_holes else find_least_chip(tool)


def find_greatest_depth(tool: Tool) -> float | None:
    """How deep in mm a tool may go: its flutes, or the cone of a pointed one, whichever is less; None: not known."""
    known = [] if tool.flute_length is None else [tool.flute_length]
    if tool.kind.pointed and tool.angle is not None:
        known.append(compute_cone_height(tool.diameter, tool.angle, tool.tip))
    return min(known, default=None)


def _over(kind: MisfitKind, value: float | None, limit: float | None) -> Iterator[Misfit]:
    if value is not None and limit is not None and value > limit * (1 + 1e-9):
        yield Misfit(kind, value, limit)


def _under(kind: MisfitKind, value: float | None, limit: float | None) -> Iterator[Misfit]:
    if value is not None and limit is not None and value < limit * (1 - 1e-9):
        yield Misfit(kind, value, limit)


def _find_feed(tool: Tool, cut: Cut, figures: CuttingFigures) -> Iterator[Misfit]:
    """A feed that does not follow from the speed. One that is raised as far as the chip is thinned is right too."""
    if cut.speed is None or cut.feed is None:
        return
    if tool.kind is ToolKind.TAP:
        each, teeth, most, rounded, kind = tool.pitch, 1, 1.0, TAP_ROUNDED, MisfitKind.FEED_OFF_PITCH
    else:
        most = 1.0 if tool.kind.makes_holes else 1 / figures.thinning
        each, teeth, rounded, kind = tool.chip_load, tool.teeth, ROUNDED, MisfitKind.FEED_OFF_CHIP_LOAD
    if each is None:
        return
    right = compute_feed(cut.speed, teeth, each)
    if cut.feed < right * (1 - rounded):
        yield Misfit(kind, cut.feed, right)
    elif cut.feed > right * most * (1 + rounded):
        yield Misfit(kind, cut.feed, right * most)


def _find_surface_speed(tool: Tool, cut: Cut, figures: CuttingFigures, machine: Machine) -> Iterator[Misfit]:
    if cut.work is None or tool.material is None:
        return
    band = SPEED_BANDS[cut.work, tool.material]
    yield from _over(MisfitKind.SURFACE_SPEED_HIGH, figures.surface_speed, band.high)
    at_limit = machine.speed_limit is None or (cut.speed or 0.0) >= AT_LIMIT * machine.speed_limit
    if tool.kind.makes_holes or at_limit:
        return  # drills, reamers and taps run slower than mills; a small tool never gets there
    yield from _under(MisfitKind.SURFACE_SPEED_LOW, figures.surface_speed, band.low)
