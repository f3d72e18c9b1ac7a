"""What in a cut does not fit the tool, the work or the machine, as data: kind, value and limit.

Nothing is reported where the card does not say enough to be sure. The caller makes the words.
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
"""How far a feed may be off the computed one: programmers round speeds and feeds."""
TAP_ROUNDED = 0.002
"""The same for a tap, which tears the thread if the feed is off (common practice, no source)."""
AT_LIMIT = 0.95
"""At this share of its limit and above, a spindle has no speed to spare."""
FLY_CUTTER_CHIP = 0.06
"""Least feed per tooth in mm of a single-insert fly cutter: 0.003 in (common practice, no source)."""
FLY_CUTTER_DEPTH = 0.2
"""Least depth in mm of the same: about 0.010 in, not a light skim (common practice, no source)."""


class MisfitKind(StrEnum):
    """What does not fit. Value and limit are in the base unit of its dimension (`DIMENSIONS`)."""

    FEED_OFF_CHIP_LOAD = "feed off chip load"
    """Not speed · teeth · the card's chip load; a higher feed is right as far as it makes up for chip thinning."""
    FEED_OFF_PITCH = "feed off pitch"
    """A tap whose feed is not speed · pitch."""
    RUBBING = "rubbing"
    """Even the thickest chip is too thin for the edge."""
    LIGHT_SKIM = "light skim"
    """A pass too shallow for the tool to cut."""
    POWER_OVER_LIMIT = "power over limit"
    """More power than the machine has, by the highest published energy."""
    DEEPER_THAN_FLUTES = "deeper than flutes"
    """Deeper than the flutes, or than the cone of a pointed tool."""
    WIDER_THAN_TOOL = "wider than tool"
    """A step wider than the tool, which leaves metal standing."""
    SURFACE_SPEED_HIGH = "surface speed high"
    SURFACE_SPEED_LOW = "surface speed low"
    """Below the usual surface speed, though the spindle could turn faster; of a small tool, as fast as it turns."""


DIMENSIONS = {
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
    """What the station can do; None if unknown.

    Raises:
        ImpossibleFigure: a limit that is not above 0.
    """

    speed_limit: float | None = None
    """rpm."""
    power_limit: float | None = None
    """Of the spindle motor, W."""
    efficiency: float = DRIVE_EFFICIENCY
    """Share of motor power that reaches the cutter."""

    def __post_init__(self) -> None:
        for name, limit in (("a speed limit", self.speed_limit), ("a power limit", self.power_limit)):
            if limit is not None:
                require_amount(name, limit)


def find_misfits(tool: Tool, cut: Cut, machine: Machine = Machine()) -> tuple[Misfit, ...]:  # noqa: B008 (frozen)
    """Everything that does not fit in a tool's cut on a machine, in the order of `MisfitKind`.

    Raises:
        ImpossibleFigure: an efficiency out of range.
    """
    figures = compute_cutting_figures(tool, cut, efficiency=machine.efficiency)
    found = [
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
    """Thinnest chip in mm that a tool cuts instead of rubbing; None if unknown, and for taps and reamers."""
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
    """Least depth of a pass in mm; None if unknown, and for tools fed along their axis.

    A tool that cuts on its end takes a chip no thicker than the pass is deep, so the thinnest chip counts too.
    """
    if tool.least_depth is not None:
        return tool.least_depth
    if tool.kind is ToolKind.FLY_CUTTER:
        return FLY_CUTTER_DEPTH
    return None if tool.kind.makes_holes else find_least_chip(tool)


def find_greatest_depth(tool: Tool) -> float | None:
    """How deep in mm a tool may go: its flutes or, if less, the cone of a pointed tool; None if unknown."""
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
    """A feed that does not match the speed. One raised to make up for chip thinning is right too."""
    if cut.speed is None or cut.feed is None:
        return
    teeth: int | None = 1
    if tool.kind is ToolKind.TAP:
        each, most, rounded, kind = tool.pitch, 1.0, TAP_ROUNDED, MisfitKind.FEED_OFF_PITCH
    else:
        most = 1.0 if tool.kind.makes_holes else 1 / figures.thinning
        each, teeth, rounded, kind = tool.chip_load, tool.teeth, ROUNDED, MisfitKind.FEED_OFF_CHIP_LOAD
    if each is None or teeth is None:
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
    if tool.kind.makes_holes or machine.speed_limit is None or cut.speed is None or figures.surface_speed is None:
        return  # drills, reamers and taps run slower than mills
    reached = figures.surface_speed / cut.speed * AT_LIMIT * machine.speed_limit
    yield from _under(MisfitKind.SURFACE_SPEED_LOW, figures.surface_speed, min(band.low, reached))
