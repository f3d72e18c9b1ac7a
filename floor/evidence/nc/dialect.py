"""How one control reads what controls read differently. None means not set: both readings are reported."""

from __future__ import annotations

from dataclasses import fields
from typing import Literal, get_args, get_type_hints

from floor.dataclass import dataclass

Medium = Literal["flood", "mist", "through tool", "air", "off", "none"]
"""What an M-code turns on at this machine; "off" turns everything off, "none" is unrelated to coolant."""


@dataclass(frozen=True, slots=True)
class Dialect:
    """Settings of one control, and the rates of its machine."""

    bare_number: Literal["whole", "increment"] | None = None
    """Unit of a length without a decimal point: millimeters or inches, or 0.001 mm and 0.0001 in."""
    dwell: Literal["seconds", "milliseconds"] | None = None
    """Unit of a dwell's P without a decimal point."""
    tool_change: Literal["this block", "staged"] | None = None
    """Which tool ``M6 T7`` loads if another is staged: this block's, or the staged one."""
    cycle_fires: Literal["X Y Z", "X Y", "any axis"] | None = None
    """Which words make a block drill a hole during a canned cycle."""
    repeats: Literal["L", "K"] | None = None
    """Which word repeats a canned cycle."""
    arc_centers: Literal["from start", "absolute"] | None = None
    """What I, J and K count from without G90.1 or G91.1. Not set: from the start, as usual."""
    g10_l20: Literal["set current", "extra offset"] | None = None
    """Whether G10 L20 makes the current point read a value, or writes an extra offset (G54.1 Pn)."""
    block_delete: Literal["on", "off"] | None = None
    """Position of the block delete switch."""
    m_codes: tuple[tuple[int, Medium], ...] = ()
    """What M-codes turn on here, such as ``(71, "air")``; takes precedence over M7, M8 and M9."""
    rapid: tuple[float, float, float] | None = None
    """Rapid rates of X, Y and Z in mm/min."""
    tool_change_seconds: float | None = None


UNSET = Dialect()


def list_choices() -> dict[str, tuple[str, ...]]:
    """Each setting with a choice of readings, and its choices."""
    hints = get_type_hints(Dialect)
    found = {}
    for field in fields(Dialect):
        choices = tuple(one for part in get_args(hints[field.name]) for one in get_args(part) if isinstance(one, str))
        if choices and field.name != "m_codes":
            found[field.name] = choices
    return found
