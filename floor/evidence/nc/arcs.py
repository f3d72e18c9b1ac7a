"""Arcs in a plane: center, sweep, length and extreme points, not just the ends.

The plane has coordinates u, v: X, Y in G17; Z, X in G18; Y, Z in G19. Counterclockwise is from u to v.
"""

from __future__ import annotations

from math import atan2, hypot, pi, sqrt
from typing import NamedTuple

TURN = 2 * pi
SLACK_MM, SLACK_SHARE, WORST_MM = 0.005, 0.001, 0.5
"""Tolerances between the radii at start and end: the first alone, or the share of the radius up to the last.

As in open-source controllers; read in their manual and source.
"""


class Arc(NamedTuple):
    """An arc: its sweep in radians, positive counterclockwise; its length in the plane; the least and most u and v."""

    radius: float
    sweep: float
    length: float
    u_low: float
    u_high: float
    v_low: float
    v_high: float


def compute_center(
    u0: float, v0: float, u1: float, v1: float, radius: float, clockwise: bool
) -> tuple[float, float] | None:
    """Center of an arc by signed radius; negative means more than half a turn.

    None if start and end coincide, or are farther apart than twice the radius.
    """
    du, dv = u1 - u0, v1 - v0
    chord = hypot(du, dv)
    rest = radius * radius - chord * chord / 4
    if chord == 0 or rest < -SLACK_MM * abs(radius):
        return None
    side = sqrt(max(rest, 0.0)) / chord
    if clockwise == (radius > 0):
        side = -side
    return (u0 + u1) / 2 - side * dv, (v0 + v1) / 2 + side * du


def compute_arc(
    u0: float, v0: float, u1: float, v1: float, cu: float, cv: float, clockwise: bool, turns: int = 1
) -> Arc:
    """The arc from start to end around the center; a full turn if they coincide.

    Args:
        turns: number of turns; full turns are added to the sweep to end in this one.
    """
    radius = hypot(u0 - cu, v0 - cv)
    start, end = atan2(v0 - cv, u0 - cu), atan2(v1 - cv, u1 - cu)
    sweep = (start - end if clockwise else end - start) % TURN
    if sweep < 1e-9 or sweep > TURN - 1e-12 or (u0 == u1 and v0 == v1):
        sweep = TURN
    sweep += (turns - 1) * TURN
    low = (start - sweep if clockwise else start) % TURN
    u_low, u_high = (u0, u1) if u0 < u1 else (u1, u0)
    v_low, v_high = (v0, v1) if v0 < v1 else (v1, v0)
    if -low % TURN < sweep:
        u_high = max(u_high, cu + radius)
    if (pi / 2 - low) % TURN < sweep:
        v_high = max(v_high, cv + radius)
    if (pi - low) % TURN < sweep:
        u_low = min(u_low, cu - radius)
    if (1.5 * pi - low) % TURN < sweep:
        v_low = min(v_low, cv - radius)
    return Arc(radius, -sweep if clockwise else sweep, radius * sweep, u_low, u_high, v_low, v_high)


def is_bad_arc(u0: float, v0: float, u1: float, v1: float, cu: float, cv: float) -> bool:
    """Whether start and end are at too different radii for a control. NaN is unknown, not bad."""
    first, second = hypot(u0 - cu, v0 - cv), hypot(u1 - cu, v1 - cv)
    apart = abs(first - second)
    return first == 0 or apart > WORST_MM or apart > max(SLACK_MM, SLACK_SHARE * first)
