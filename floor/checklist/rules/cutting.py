"""Cutting data that must agree, and what is unusual: feed, speed, depth and power of each tool's card."""

from __future__ import annotations

from collections.abc import Iterator

from floor.checklist.equipment import Tool
from floor.checklist.findings import Finding
from floor.checklist.model import Checklist
from floor.checklist.tool_card import find_card_faults, format_like
from floor.figures.cutting.mechanics import compute_feed_per_tooth, compute_speed, compute_surface_speed
from floor.figures.cutting.misfits import ROUNDED
from floor.text import with_article


def check_surface_speed(checklist: Checklist) -> Iterator[Finding]:
    for i, tool in enumerate(checklist.tools):
        stated, speed, diameter = tool.surface_speed, tool.speed, tool.diameter
        if not (stated and speed and diameter and stated.base and speed.base and diameter.base):
            continue
        right = compute_surface_speed(diameter.base, speed.base)
        # A pointed tool may state the speed where it cuts, inside its full diameter.
        if stated.base > right * (1 + ROUNDED) or (tool.angle is None and stated.base < right * (1 - ROUNDED)):
            wrong = f"{stated} is not what {speed} gives at {diameter}"
            rpm = compute_speed(diameter.base, stated.base)
            said = format_like(right, stated, False, "surface speed")
            yield Finding(("tools", i, "surface_speed"), wrong, f"{said} (pi x diameter x rpm); or {rpm:.0f} rpm")


def check_card(checklist: Checklist) -> Iterator[Finding]:
    """What a card says against itself."""
    yield from _list_faults(checklist, certain=True)


def check_cut(checklist: Checklist) -> Iterator[Finding]:
    """What is unusual in a cut: it rubs, it takes more power than there is, its edge is fast or slow."""
    yield from _list_faults(checklist, certain=False)


def check_card_complete(checklist: Checklist) -> Iterator[Finding]:
    """A field that others are checked by, and that is not stated: they would pass unseen."""
    for i, tool in enumerate(checklist.tools):
        wrong, missing = _find_missing(tool)
        if wrong and tool.kind != "tap":
            each = _advance(checklist, tool)
            yield Finding(("tools", i), wrong, f"add {missing}" + (f"; now each tooth takes {each}" if each else ""))
        if tool.stroke is not None and (tool.depth is None or tool.angle is None):
            wrong = f"its stroke of {tool.stroke} cannot be checked"
            yield Finding(("tools", i), wrong, "add `depth` and `angle`")


def _find_missing(tool: Tool) -> tuple[str, str]:
    """(what a feed is not checked by, the field); empty if there is nothing."""
    if tool.chip_load is not None and tool.flutes is None:
        return f"{tool.chip_load} per tooth, but the number of teeth is not stated", "`flutes`"
    if tool.feed and tool.speed and tool.flutes and tool.chip_load is None:
        return f"its feed of {tool.feed} cannot be checked", "`chip_load`"
    return "", ""


def _advance(checklist: Checklist, tool: Tool) -> str:
    """Feed per tooth, of a tap per turn; empty where the card does not say enough."""
    teeth = 1 if tool.kind == "tap" else tool.flutes
    if tool.feed is None or tool.speed is None or teeth is None:
        return ""
    each = compute_feed_per_tooth(tool.feed.base, tool.speed.base, teeth)
    return format_like(each, None, checklist.part.units == "inch", "length")


def check_tap_pitch(checklist: Checklist) -> Iterator[Finding]:
    """A tap whose feed is not speed x pitch tears the thread."""
    for i, tool in enumerate(checklist.tools):
        if tool.kind == "tap" and tool.pitch is None:
            each = _advance(checklist, tool)
            right = "add `pitch`" + (f"; now it advances {each} per rev" if each else "")
            yield Finding(("tools", i), "a tap without a pitch: its feed cannot be checked", right)


_POINTED = frozenset({"V-tool", "chamfer mill"})
_MILLS = frozenset({"face mill", "fly cutter", "end mill", "ball end mill"})
_KINDS_WITH = {
    "pitch": frozenset({"tap"}),
    "chip_load": _MILLS | _POINTED | {"drill", "reamer"},
    "min_chip": _MILLS | _POINTED | {"drill", "reamer"},
    "angle": _POINTED | {"drill"},
    "tip": _POINTED,
    "stroke": _POINTED,
    "plunge": _MILLS | _POINTED,
    "width": _MILLS | _POINTED,
}
"""Field of a card → the kinds of tool that have it; all have the others."""


def check_fields_of_kind(checklist: Checklist) -> Iterator[Finding]:
    for i, tool in enumerate(checklist.tools):
        for field, kinds in _KINDS_WITH.items() if tool.kind is not None else ():
            if getattr(tool, field) is not None and tool.kind not in kinds:
                wrong = f"{with_article(str(tool.kind))} has no `{field}`"
                yield Finding(("tools", i, field), wrong, "take it out, or correct `kind`")


def check_reamed_holes(checklist: Checklist) -> Iterator[Finding]:
    """A reamer follows a smaller drill: one drill of an operation at least leaves it something to cut."""
    for operation in checklist.operations:
        before: list[Tool] = []
        for tool in filter(None, map(checklist.tool, operation.tool_numbers)):
            size, i = tool.diameter, checklist.tools.index(tool)
            sizes = [one.diameter for one in before if one.kind == "drill" and one.diameter is not None]
            if tool.kind == "reamer" and size is not None and sizes and min(one.base for one in sizes) >= size.base:
                wrong = f"nothing is left to ream at {size}: op {operation.op} drills {sizes[-1]} before it"
                yield Finding(("tools", i, "diameter"), wrong, "use a smaller drill or a larger reamer")
            before.append(tool)


def _list_faults(checklist: Checklist, certain: bool) -> Iterator[Finding]:
    for i, tool in enumerate(checklist.tools):
        for fault in find_card_faults(checklist, tool):
            if fault.certain == certain:
                yield Finding(("tools", i, *filter(None, [fault.field])), fault.wrong, fault.right)


RULES = (check_surface_speed, check_card, check_tap_pitch, check_fields_of_kind, check_reamed_holes)
ADVISED = (check_cut, check_card_complete)
