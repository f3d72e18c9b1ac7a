"""Cutting data that must agree: rpm and diameter give the surface speed, teeth and chip load the feed.

The formulas of every machining handbook: V = pi D N, F = f n N (Groover, "Fundamentals of Modern Manufacturing",
chapter on theory of metal machining; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from floor.checklist.findings import Finding
from floor.checklist.model import Checklist
from floor.checklist.units import Measure

ROUNDED = 0.05
"""How far a stated figure may be off the computed one: programmers round speeds and feeds."""


def check_surface_speed(checklist: Checklist) -> Iterator[Finding]:
    for i, tool in enumerate(checklist.tools):
        stated, speed, diameter = tool.surface_speed, tool.speed, tool.diameter
        if stated is None or speed is None or not diameter or not diameter.base:
            continue
        right = math.pi * diameter.base / 1000 * speed.base
        # A pointed tool may state the speed where it cuts, inside its full diameter.
        if stated.base > right * (1 + ROUNDED) or (tool.angle is None and stated.base < right * (1 - ROUNDED)):
            wrong = f"{stated} is not what {speed} gives at {diameter}"
            should = f"{_in(stated, right)} (pi x diameter x rpm); or {_rpm(stated, diameter)} for {stated}"
            yield Finding(("tools", i, "surface_speed"), wrong, should)


def check_feed(checklist: Checklist) -> Iterator[Finding]:
    for i, tool in enumerate(checklist.tools):
        stated, speed, chip = tool.feed, tool.speed, tool.chip_load
        if stated is None or speed is None or chip is None or tool.flutes is None:
            continue
        right = speed.base * tool.flutes * chip.base
        if abs(stated.base - right) > ROUNDED * right:
            teeth = "1 tooth" if tool.flutes == 1 else f"{tool.flutes} teeth"
            wrong = f"{stated} is not what {speed}, {teeth} and {chip} a tooth give"
            yield Finding(("tools", i, "feed"), wrong, f"{_in(stated, right)} (rpm x teeth x chip load)")


def _in(stated: Measure, base: float) -> str:
    """A value in base units, in the unit of another of its kind."""
    scale = stated.number / stated.base if stated.base else 1.0
    return f"{base * scale:.4g} {stated.unit if stated.base else '(metric)'}"


def _rpm(surface: Measure, diameter: Measure) -> str:
    return f"{surface.base * 1000 / (math.pi * diameter.base):.0f} rpm"


RULES = (check_surface_speed, check_feed)
