"""Cutting data that must agree, and what is unusual: feed, speed, depth and power of each tool's card."""

from __future__ import annotations

from collections.abc import Iterator

from floor.checklist.findings import Finding
from floor.checklist.model import Checklist
from floor.checklist.tool_card import find_card_faults, format_like
from floor.figures.cutting.mechanics import compute_speed, compute_surface_speed
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


def _list_faults(checklist: Checklist, certain: bool) -> Iterator[Finding]:
    for i, tool in enumerate(checklist.tools):
        for fault in find_card_faults(checklist, tool):
            if fault.certain == certain:
                yield Finding(("tools", i, *filter(None, [fault.field])), fault.wrong, fault.right)


RULES = (check_surface_speed, check_card)
ADVISED = (check_cut,)
