"""Cutting data that must agree, and what is unusual: feed, speed, depth and power of each tool's card."""

from __future__ import annotations

from collections.abc import Iterator

from floor.checklist.equipment import Tool
from floor.checklist.findings import Finding
from floor.checklist.model import Checklist
from floor.checklist.tool_card import find_card_faults, format_like
from floor.figures.cutting.mechanics import compute_feed_per_tooth, compute_speed, compute_surface_speed
from floor.figures.cutting.misfits import ROUNDED


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
        if wrong:
            each = _advance(tool)
            told = format_like(each, None, checklist.part.units == "inch", "length") if each else ""
            turn = "it advances {} per rev" if tool.kind == "tap" else "each tooth takes {}"
            yield Finding(("tools", i), wrong, f"add {missing}" + (f"; now {turn.format(told)}" if each else ""))
        if tool.stroke is not None and (tool.depth is None or tool.angle is None):
            wrong = f"nothing to check its stroke of {tool.stroke} by"
            yield Finding(("tools", i), wrong, "add `depth` and `angle`")


def _find_missing(tool: Tool) -> tuple[str, str]:
    """(what a feed is not checked by, the field); empty if there is nothing."""
    if tool.kind == "tap":
        return ("a tap without a pitch to check its feed by", "`pitch`") if tool.pitch is None else ("", "")
    if tool.chip_load is not None and tool.flutes is None:
        return f"{tool.chip_load} per tooth, but the number of teeth is not stated", "`flutes`"
    if tool.feed and tool.speed and tool.flutes and tool.chip_load is None:
        return f"nothing to check its feed of {tool.feed} by", "`chip_load`"
    return "", ""


def _advance(tool: Tool) -> float | None:
    """Feed per tooth in mm, of a tap per turn; None where the card does not say enough."""
    teeth = 1 if tool.kind == "tap" else tool.flutes
    if tool.feed is None or tool.speed is None or teeth is None:
        return None
    return compute_feed_per_tooth(tool.feed.base, tool.speed.base, teeth)


def _list_faults(checklist: Checklist, certain: bool) -> Iterator[Finding]:
    for i, tool in enumerate(checklist.tools):
        for fault in find_card_faults(checklist, tool):
            if fault.certain == certain:
                yield Finding(("tools", i, *filter(None, [fault.field])), fault.wrong, fault.right)


RULES = (check_surface_speed, check_card)
ADVISED = (check_cut, check_card_complete)
