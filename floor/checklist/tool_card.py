"""A tool's card as figures: what it does at its speed, feed and depth, and what does not fit, in the shop's words.

Cards are rarely complete. What one does not say is not checked.
"""

from __future__ import annotations

from floor.checklist.equipment import Tool
from floor.checklist.model import Checklist
from floor.checklist.units import Measure, read_measure
from floor.dataclass import dataclass
from floor.figures.cutting import card as cutting
from floor.figures.cutting.geometry import compute_stroke_depth
from floor.figures.cutting.materials import ToolMaterial, WorkMaterial
from floor.figures.cutting.misfits import DIMENSIONS, Machine, Misfit, MisfitKind, find_misfits
from floor.figures.errors import ImpossibleFigure

MOST_DECIMALS = 1e-4
"""Below it four figures need an exponent."""
STROKE_ROUNDED = 0.05
"""How far a stroke may be off the one its depth gives."""
OF_ANY_KIND = (MisfitKind.FEED_OFF_CHIP_LOAD, MisfitKind.WIDER_THAN_TOOL, MisfitKind.DEEPER_THAN_FLUTES)
"""What is wrong whatever kind of tool it is."""
FACTS = (
    MisfitKind.FEED_OFF_CHIP_LOAD,
    MisfitKind.FEED_OFF_PITCH,
    MisfitKind.DEEPER_THAN_FLUTES,
    MisfitKind.WIDER_THAN_TOOL,
)
"""What the card itself contradicts; the others are what is usual, and a warning."""


@dataclass(frozen=True, slots=True)
class CardFault:
    """What does not fit on a card."""

    field: str
    """The field that is most likely wrong; empty for the card as a whole."""
    wrong: str
    right: str
    certain: bool
    """Whether the card contradicts itself; else it is only unusual."""


def find_card_faults(checklist: Checklist, tool: Tool) -> tuple[CardFault, ...]:
    """Everything that does not fit on a tool's card, what is certainly wrong first."""
    try:
        read = _read_card(checklist, tool)
        found = [_describe(checklist, tool, one) for one in _find_misfits(checklist, tool, *read)] if read else []
        found += [*_check_stroke(tool), *_check_stick_out(tool), *_check_plunge(tool)]
    except ImpossibleFigure as error:
        return (CardFault("", error.problem, error.remedy, certain=True),)
    return tuple(sorted(found, key=lambda one: not one.certain))


def describe_card_figures(checklist: Checklist, tool: Tool) -> tuple[tuple[str, str], ...]:
    """What follows from a card, as (name, figure with its unit); empty if its kind or size is not stated."""
    try:
        read = _read_card(checklist, tool) if tool.kind else None
        figures = cutting.compute_cutting_figures(*read) if read is not None else None
    except ImpossibleFigure:
        return ()
    if figures is None:
        return ()
    inch = checklist.part.units == "inch"
    found: list[tuple[str, str]] = []
    if figures.stroke_width is not None:
        found.append(("stroke", f"{format_like(figures.stroke_width, tool.diameter, inch, 'length')} wide"))
    if figures.chip is not None and figures.thinning < 1 - 1e-9:
        found.append(("chip", f"{format_like(figures.chip, tool.chip_load, inch, 'length')} at its thickest"))
    if figures.least_power is not None and figures.power is not None:
        kw = read_measure("1 kW", "power").base
        found.append(("power", f"{figures.least_power / kw:.2g} to {figures.power / kw:.2g} kW"))
    return tuple(found)


def compute_least_turn(checklist: Checklist, tool: Tool) -> float | None:
    """Feed per turn in mm at which its thickest chip is the thinnest that its card says it cuts; None if not stated."""
    if tool.min_chip is None or tool.flutes is None:
        return None
    try:
        read = _read_card(checklist, tool)
        figures = cutting.compute_cutting_figures(*read) if read is not None else None
    except ImpossibleFigure:
        return None
    return tool.min_chip.base * tool.flutes / figures.thinning if figures is not None and figures.thinning else None


def format_like(base: float, like: Measure | None, inch: bool, dimension: str) -> str:
    """A value in base units in the unit of another of its kind; without one, in that of the drawing."""
    if like is not None and like.base:
        return f"{_format_number(base * like.number / like.base)} {like.unit}"
    unit = _UNITS[dimension][inch]
    return f"{_format_number(base / read_measure(f'1 {unit}', dimension).base)} {unit}"


def _format_number(value: float) -> str:
    """Four figures, and no exponent for what is thinner than a hair."""
    return f"{value:.4g}" if value >= MOST_DECIMALS else f"{value:.6f}".rstrip("0")


_UNITS = {
    "length": ("mm", "in"),
    "feed": ("mm/min", "in/min"),
    "surface speed": ("m/min", "ft/min"),
    "power": ("kW", "kW"),
}
"""Dimension → its unit, metric and inch."""


def _read_card(checklist: Checklist, tool: Tool) -> tuple[cutting.Tool, cutting.Cut] | None:
    if tool.diameter is None or not tool.diameter.base:
        return None
    work = checklist.part.work_material
    card = cutting.Tool(
        cutting.ToolKind(tool.kind or "end mill"),
        tool.diameter.base,
        tool.flutes,
        ToolMaterial(tool.material) if tool.material else None,
        angle=_base(tool.angle),
        tip=_base(tool.tip) or 0.0,
        flute_length=_base(tool.flute_length),
        chip_load=_base(tool.chip_load),
        pitch=_base(tool.pitch),
        edge_radius=_base(tool.edge_radius),
        least_chip=_base(tool.min_chip),
        least_depth=_base(tool.min_depth),
    )
    cut = cutting.Cut(
        _base(tool.speed), _base(tool.feed), _base(tool.depth), _base(tool.width), WorkMaterial(work) if work else None
    )
    return card, cut


def _check_stick_out(tool: Tool) -> list[CardFault]:
    """The holder is above the flutes, and above the cut."""
    out = _base(tool.stick_out)
    sizes = (("flute_length", tool.flute_length), ("depth", tool.depth))
    return [
        CardFault(name, f"{size} is longer than the stick-out of {tool.stick_out}", "more stick-out", certain=True)
        for name, size in sizes
        if out and size is not None and size.base > out
    ][:1]


def _check_plunge(tool: Tool) -> list[CardFault]:
    """Straight down a tool cuts worse than sideways."""
    if tool.plunge is None or tool.feed is None or tool.plunge.base <= tool.feed.base:
        return []
    wrong = f"{tool.plunge} straight down is faster than {tool.feed} sideways"
    return [CardFault("plunge", wrong, f"at most {tool.feed}", certain=True)]


def _base(measure: Measure | None) -> float | None:
    """In base units; 0 counts as not stated."""
    return (measure.base or None) if measure is not None else None


def _find_misfits(checklist: Checklist, tool: Tool, card: cutting.Tool, cut: cutting.Cut) -> list[Misfit]:
    """What does not fit; speeds over the spindle's limit have a rule of their own, for cards without a size too."""
    at = [station for station in checklist.stations if tool in checklist.tools_at(station.id)]
    speeds = [one.speed_limit.base for one in at if one.speed_limit is not None and one.speed_limit.base]
    powers = [one.power_limit.base for one in at if one.power_limit is not None and one.power_limit.base]
    machine = Machine(min(speeds, default=None), min(powers, default=None))
    return [one for one in find_misfits(card, cut, machine) if tool.kind is not None or one.kind in OF_ANY_KIND]


_FIELDS = {
    MisfitKind.FEED_OFF_CHIP_LOAD: "feed",
    MisfitKind.FEED_OFF_PITCH: "feed",
    MisfitKind.RUBBING: "feed",
    MisfitKind.LIGHT_SKIM: "depth",
    MisfitKind.POWER_OVER_LIMIT: "depth",
    MisfitKind.DEEPER_THAN_FLUTES: "depth",
    MisfitKind.WIDER_THAN_TOOL: "width",
    MisfitKind.SURFACE_SPEED_HIGH: "speed",
    MisfitKind.SURFACE_SPEED_LOW: "speed",
}
_SAID = {
    MisfitKind.FEED_OFF_CHIP_LOAD: (
        "{value} does not match {speed}, {teeth} and {chip_load} per tooth",
        "{limit} (rpm x teeth x chip load)",
    ),
    MisfitKind.FEED_OFF_PITCH: ("{value} does not match {speed} and a pitch of {pitch}", "{limit} (rpm x pitch)"),
    MisfitKind.RUBBING: (
        "rubs: its thickest chip is {value}; the edge needs {limit}",
        "more feed or less speed",
    ),
    MisfitKind.LIGHT_SKIM: ("{value} deep is too light: it rubs", "{limit} deep or more"),
    MisfitKind.POWER_OVER_LIMIT: (
        "needs up to {value}; the spindle has {limit}",
        "less depth, width or feed",
    ),
    MisfitKind.DEEPER_THAN_FLUTES: ("{value} is deeper than its cutting length", "at most {limit}, in more passes"),
    MisfitKind.WIDER_THAN_TOOL: ("{value} is wider than the tool: it leaves stock", "at most {limit}"),
    MisfitKind.SURFACE_SPEED_HIGH: ("{value} at the edge is fast for {material} in {work}", "{limit} or less"),
    MisfitKind.SURFACE_SPEED_LOW: ("{value} at the edge is slow for {material} in {work}", "{limit} or more"),
}


def _describe(checklist: Checklist, tool: Tool, misfit: Misfit) -> CardFault:
    dimension, inch = DIMENSIONS[misfit.kind], checklist.part.units == "inch"
    like = {
        "feed": tool.feed,
        "length": tool.diameter,
        "surface speed": tool.surface_speed,
        "power": None,
    }[dimension]
    wrong, right = _SAID[misfit.kind]
    names = {
        "value": format_like(misfit.value, like, inch, dimension),
        "limit": format_like(misfit.limit, like, inch, dimension),
        "speed": tool.speed,
        "teeth": "1 tooth" if tool.flutes == 1 else f"{tool.flutes} teeth",
        "chip_load": tool.chip_load,
        "pitch": tool.pitch,
        "material": tool.material,
        "work": checklist.part.work_material,
    }
    return CardFault(_FIELDS[misfit.kind], wrong.format(**names), right.format(**names), misfit.kind in FACTS)


def _check_stroke(tool: Tool) -> list[CardFault]:
    """The width a pointed tool is to leave against what its depth gives."""
    if tool.stroke is None or tool.depth is None or tool.angle is None:
        return []
    needed = compute_stroke_depth(tool.stroke.base, tool.angle.base, _base(tool.tip) or 0.0)
    if abs(tool.depth.base - needed) <= STROKE_ROUNDED * needed:
        return []
    wrong = f"{tool.depth} deep does not leave a stroke of {tool.stroke} with {tool.angle}"
    right = f"{format_like(needed, tool.depth, False, 'length')} deep"
    return [CardFault("depth", wrong, right, certain=True)]
