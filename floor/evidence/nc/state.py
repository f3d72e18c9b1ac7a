"""The state of a control reading a program: modal words, position, offsets, as far as the text gives them."""

from __future__ import annotations

from collections.abc import Iterable
from math import nan
from typing import Any, Final

from floor.evidence.nc.travel import AXES, Doubt, Gap, TravelLog

MM_PER_INCH: Final = 25.4
UNKNOWN: Final = "unknown"
NO_MOTION: Final = -1
"""Canceled, or not given yet."""
UNKNOWN_MOTION: Final = -2


class Cycle:
    """The words of the canned cycle in force, in mm as given."""

    __slots__ = ("bottom", "clearance", "code", "dwell", "initial", "peck")

    def __init__(self, code: int, initial: float) -> None:
        self.code, self.initial = code, initial
        self.clearance = self.bottom = self.peck = self.dwell = nan

    def copy(self) -> Cycle:
        other = Cycle(self.code, self.initial)
        other.clearance, other.bottom, other.peck, other.dwell = self.clearance, self.bottom, self.peck, self.dwell
        return other


class State:
    """Modal state. Positions are in mm in the work offset; NaN if unknown."""

    __slots__ = (
        "angles", "arc_absolute", "at", "axes_changed", "checked", "comp", "cutting", "cycle", "distance_given",
        "doubts",
        "feed", "feed_line", "feed_mode", "incremental", "length", "lost", "motion", "offset", "offset_given", "plain",
        "plane", "plane_given", "rate", "retract", "scale", "shift", "speed", "speed_line", "spindle", "staged",
        "surface_speed", "tool", "tool_sure", "travel", "units", "variables", "why",
    )  # fmt: skip

    def __init__(self) -> None:
        self.at = [nan, nan, nan]
        self.why: list[tuple[Gap, int]] = [("program start", 0)] * 3
        self.shift = [0.0, 0.0, 0.0]
        """How far G52 has moved the zero within the work offset."""
        self.angles: dict[str, float] = {}
        self.axes_changed: dict[str, int] = {}
        """Words in force that turn, scale or shift the axes, with their lines: positions in the offset are unknown."""
        self.incremental: bool | None = False
        self.distance_given = False
        self.arc_absolute: bool | None = None
        self.scale, self.units = 1.0, ""
        self.plane, self.plane_given = 170, False
        self.motion = NO_MOTION
        self.plain = True
        """The fast path may be used: no canned cycle, no inverse-time feed, no unknown mode."""
        self.retract = 980
        self.cycle: Cycle | None = None
        self.feed_mode, self.feed, self.feed_line, self.rate = 940, nan, 0, nan
        self.speed, self.speed_line, self.spindle, self.surface_speed = nan, 0, "off", False
        self.tool: int | None = None
        self.tool_sure = False
        self.staged: int | None = None
        self.length = "none"
        self.comp = 400
        self.offset, self.offset_given = "G54", False
        self.variables: dict[str, float] = {}
        self.doubts: dict[Doubt, int] = {}
        """What has been assumed so far, for every position from here on."""
        self.lost: tuple[Gap, int] | None = None
        """Line from which it is unknown which blocks run."""
        self.travel: TravelLog | None = None
        self.cutting = self.checked = False

    def lose(self, gap: Gap, line: int, axes: Iterable[int] = (0, 1, 2)) -> None:
        """The position on these axes becomes unknown."""
        for axis in axes:
            self.at[axis] = nan
            self.why[axis] = gap, line

    def changed(self) -> None:
        """A modal word was read: the next move checks again what is in force."""
        self.travel = None
        self.cutting = self.checked = False
        self.plain = self.is_plain()

    def is_plain(self) -> bool:
        return 0 <= self.motion <= 30 and self.feed_mode != 930 and self.incremental is not None

    def lose_modes(self, gap: Gap, line: int) -> None:
        """All modes become unknown, as after a call of something not in the file."""
        self.lose(gap, line)
        self.motion, self.incremental, self.cycle = UNKNOWN_MOTION, None, None
        self.feed = self.rate = self.speed = nan
        self.feed_line = self.speed_line = line
        self.spindle = self.length = UNKNOWN
        self.changed()

    def copy(self) -> State:
        other = State.__new__(State)
        for name in self.__slots__:
            value = getattr(self, name)
            setattr(other, name, value.copy() if isinstance(value, list | dict | Cycle) else value)
        return other

    def merge(self, before: State, line: int) -> None:
        """What the blocks since ``before`` changed becomes unknown, as they may have been skipped."""
        for axis in range(len(AXES)):
            if not _same(self.at[axis], before.at[axis]):
                self.lose("skipped", line, (axis,))
        for name, unknown in _AFTER_SKIP.items():
            if not _same(getattr(self, name), getattr(before, name)):
                setattr(self, name, unknown)
        for name in {**self.variables, **before.variables}:
            if not _same(self.variables.get(name), before.variables.get(name)):
                self.variables.pop(name, None)
        if self.offset == UNKNOWN or self.units != before.units or self.shift != before.shift:
            self.lose("skipped", line)
            self.shift = [nan, nan, nan] if self.shift != before.shift else self.shift
        self.axes_changed.update(before.axes_changed)
        self.angles.update(dict.fromkeys(set(self.angles) ^ set(before.angles), nan))
        self.changed()


_AFTER_SKIP: dict[str, Any] = {
    "incremental": None, "motion": UNKNOWN_MOTION, "cycle": None, "plane": 0, "feed_mode": 940, "feed": nan,
    "rate": nan, "speed": nan, "spindle": UNKNOWN, "tool_sure": False, "tool": None, "staged": None, "length": UNKNOWN,
    "offset": UNKNOWN, "arc_absolute": None, "scale": nan, "units": "", "retract": 980,
}  # fmt: skip
"""Stands for a mode that depends on the block delete switch."""


def _same(one: Any, other: Any) -> bool:
    return bool(one == other or (one != one and other != other))
