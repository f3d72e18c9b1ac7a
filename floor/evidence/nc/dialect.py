"""How one control reads what controls read differently. None is not set: both readings are reported."""

from __future__ import annotations

from dataclasses import fields
from typing import Literal, get_args, get_type_hints

from floor.dataclass import dataclass

Medium = Literal["flood", "mist", "through tool", "air", "off", "none"]
"""What an M-code turns on at this machine; "off" turns all of it off, "none" has nothing to do with coolant."""


@dataclass(frozen=True, slots=True)
class Dialect:
    """Settings of one control, and the rates of its machine."""

    bare_number: Literal["whole", "increment"] | None = None
    """What a length without a dot is in: whole millimeters or inches, or 0.001 mm and 0.0001 in."""
    dwell: Literal["seconds", "milliseconds"] | None = None
    """What the P of a dwell without a dot is in."""
    tool_change: Literal["this block", "staged"] | None = None
    """Which tool ``M6 T7`` loads when another one is staged: that of this block, or the staged one."""
    cycle_fires: Literal["X Y Z", "X Y", "any axis"] | None = None
    """Which words make a block drill a hole while a canned cycle is in force."""
    repeats: Literal["L", "K"] | None = None
    """Which word repeats a canned cycle."""
    arc_centers: Literal["from start", "absolute"] | None = None
    """What I, J and K count from where neither G90.1 nor G91.1 is given. Not set: from the start, as usual."""
    g10_l20: Literal["set current", "extra offset"] | None = None
    """Whether G10 L20 has the current point read a value, or writes an extra offset (G54.1 Pn)."""
    block_delete: Literal["on", "off"] | None = None
    """Where the switch stands that skips blocks with a slash."""
    m_codes: tuple[tuple[int, Medium], ...] = ()
    """What M-codes turn on here, such as ``(71, "air")``; goes before M7, M8 and M9."""
    rapid: tuple[float, float, float] | None = None
    """Rapid rates of X, Y and Z in mm/min."""
    tool_change_seconds: float | None = None


UNSET = Dialect()


def list_choices() -> dict[str, tuple[str, ...]]:
    """Each setting that has a choice of readings, with its choices."""
    hints = get_type_hints(Dialect)
    found = {}
    for field in fields(Dialect):
        choices = tuple(one for part in get_args(hints[field.name]) for one in get_args(part) if isinstance(one, str))
        if choices and field.name != "m_codes":
            found[field.name] = choices
    return found
