"""The state of a control reading a program: modal words, position, offsets, as far as the text gives them."""

from __future__ import annotations

from collections.abc import Iterable
from math import nan
from typing import Any, Final

from floor.evidence.nc.travel import AXES, Doubt, Gap, TravelLog

UNKNOWN: Final = "unknown"
UNKNOWN_CODE: Final = 0
"""Plane, feed mode or cycle return that depends on a switch."""
UNKNOWN_TOOL: Final = -1
"""Staged by a T word without a known value."""
NO_MOTION: Final = -1
"""Canceled, or not given yet."""
UNKNOWN_MOTION: Final = -2


class Cycle:
    """The words of the canned cycle in force, in mm as given."""

    __slots__ = ("bottom", "clearance", "code", "dwell", "dwell_bare", "given", "initial", "levels", "peck")

    def __init__(self, code: int, initial: float) -> None:
        self.code, self.initial = code, initial
        self.clearance = self.bottom = self.peck = self.dwell = nan
        self.given: frozenset[str] = frozenset()
        """Letters of its words given so far, maybe without a known value."""
        self.dwell_bare = False
        """Its dwell has no decimal point."""
        self.levels: tuple[float, float] | None = None
        """(clearance, bottom) in the offset where the words were given; None until a hole is drilled by them."""

    def copy(self) -> Cycle:
        other = Cycle(self.code, self.initial)
        other.clearance, other.bottom, other.peck, other.dwell = self.clearance, self.bottom, self.peck, self.dwell
        other.given, other.dwell_bare, other.levels = self.given, self.dwell_bare, self.levels
        return other

    def merge(self, before: Cycle) -> None:
        """Words that blocks since ``before`` changed become unknown, as they may have been skipped."""
        for name in ("initial", "clearance", "bottom", "peck", "dwell"):
            if not _same(getattr(self, name), getattr(before, name)):
                setattr(self, name, nan)
        self.given &= before.given
        self.levels = None


class State:
    """Modal state. Positions are in mm in the work offset; NaN if unknown."""

    __slots__ = (
        "angles", "approach", "arc_absolute", "at", "axes_changed", "checked", "comp", "coolant", "cutting",
        "cycle", "distance_given", "doubts", "feed", "feed_line", "feed_mode", "flat", "hole", "incremental", "length",
        "lost", "media_noted", "motion", "offset", "offset_given", "plain", "plane", "plane_given", "rate", "retract",
        "scale", "shift", "speed", "speed_line", "spindle", "spindle_line", "staged", "surface_speed", "tool",
        "tool_sure", "travel", "units", "variables", "why",
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
        self.arc_absolute: bool | str | None = None
        self.scale, self.units = 1.0, ""
        self.plane, self.plane_given = 170, False
        self.motion = NO_MOTION
        self.plain = False
        """The fast path may be used: a motion, no canned cycle, no inverse-time feed, no unknown mode."""
        self.retract = 980
        self.cycle: Cycle | None = None
        self.feed_mode, self.feed, self.feed_line, self.rate = 940, nan, 0, nan
        self.speed, self.speed_line, self.surface_speed = nan, 0, False
        self.spindle, self.spindle_line = "off", 0
        self.coolant: frozenset[str] | None = frozenset()
        """Media that are on; None if it is not known which."""
        self.flat = False
        """The level of this cut is noted, and its feed."""
        self.hole: tuple[float, float, float] | None = None
        """Where the last feed straight down ended: the tool may go back to there by rapid."""
        self.approach = nan
        """Z of this tool's first rapid in this offset: high enough to come in, so high enough to leave."""
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
        self.media_noted = False
        """The media of this cut are noted."""

    def lose(self, gap: Gap, line: int, axes: Iterable[int] = (0, 1, 2)) -> None:
        """The position on these axes becomes unknown."""
        for axis in axes:
            self.at[axis] = nan
            self.why[axis] = gap, line

    def changed(self) -> None:
        """A modal word was read: the next move checks again what is in force."""
        self.travel = None
        self.cutting = self.checked = self.flat = self.media_noted = False
        self.plain = self.is_plain()

    def is_plain(self) -> bool:
        return 0 <= self.motion <= 30 and self.feed_mode in (940, 950) and self.incremental is not None

    def lose_modes(self, gap: Gap, line: int) -> None:
        """All modes become unknown, as after a call of something not in the file."""
        self.lose(gap, line)
        self.motion, self.incremental, self.cycle = UNKNOWN_MOTION, None, None
        self.feed = self.rate = self.speed = nan
        self.feed_line = self.speed_line = self.spindle_line = line
        self.spindle = self.length = UNKNOWN
        self.coolant = None
        self.changed()

    def copy(self) -> State:
        other = State.__new__(State)
        for name in self.__slots__:
            value = getattr(self, name)
            setattr(other, name, value.copy() if isinstance(value, list | dict | Cycle) else value)
        return other

    def merge(self, before: State, line: int) -> None:
        """What the blocks since ``before`` changed becomes unknown, as they may have been skipped."""
        changed = {name for name in self.__slots__ if not _same(getattr(self, name), getattr(before, name))}
        lost = {"units", "shift"} & changed or self.offset == UNKNOWN or "offset" in changed
        for axis in range(len(AXES)):
            if lost or not _same(self.at[axis], before.at[axis]):
                self.lose("skipped", line, (axis,))
        for name in changed & _AFTER_SKIP.keys():
            setattr(self, name, _AFTER_SKIP[name])
        self.spindle_line = line if "spindle" in changed else before.spindle_line
        self.shift = [nan] * len(AXES) if "shift" in changed else self.shift
        self._merge_given(before)
        self.surface_speed = self.surface_speed or before.surface_speed
        self.comp = before.comp if self.comp == 400 else self.comp
        self._merge_cycle(before)
        self.variables = {k: v for k, v in self.variables.items() if _same(v, before.variables.get(k))}
        self.axes_changed.update(before.axes_changed)
        self._merge_angles(before)
        self.changed()

    def _merge_given(self, before: State) -> None:
        for name in _GIVEN:
            setattr(self, name, getattr(self, name) and getattr(before, name))

    def _merge_angles(self, before: State) -> None:
        angles = {**before.angles, **self.angles}
        self.angles = {k: v if _same(self.angles.get(k), before.angles.get(k)) else nan for k, v in angles.items()}

    def _merge_cycle(self, before: State) -> None:
        if self.cycle is None or before.cycle is None or self.motion == UNKNOWN_MOTION:
            self.cycle = None
        else:
            self.cycle.merge(before.cycle)


_AFTER_SKIP: dict[str, Any] = {
    "incremental": None, "motion": UNKNOWN_MOTION, "plane": UNKNOWN_CODE, "feed_mode": UNKNOWN_CODE, "feed": nan,
    "rate": nan, "speed": nan, "spindle": UNKNOWN, "tool_sure": False, "tool": None, "staged": UNKNOWN_TOOL,
    "length": UNKNOWN, "offset": UNKNOWN, "arc_absolute": UNKNOWN, "scale": nan, "units": "", "retract": UNKNOWN_CODE,
    "coolant": None, "hole": None, "approach": nan,
}  # fmt: skip
"""Stands for a mode that depends on the block delete switch."""
_GIVEN = ("distance_given", "plane_given", "offset_given")
"""True only if the program gives the mode whether or not the blocks are skipped."""


def _same(one: Any, other: Any) -> bool:
    return bool(one == other or (one != one and other != other))
