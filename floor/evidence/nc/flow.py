"""Where a program is: the subprograms and loops that run, and how it goes on or ends.

Lines count from 0 here, from 1 in the record.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from floor.evidence.nc.applied_block import Step
from floor.evidence.nc.code_actions import miss_everywhere
from floor.evidence.nc.ending import end_program
from floor.evidence.nc.finding_kinds import Kind
from floor.evidence.nc.places_in_file import Places
from floor.evidence.nc.program_facts import Record
from floor.evidence.nc.state import State
from floor.evidence.nc.travel import Gap


class Call(NamedTuple):
    """A running subprogram: where it returns to, where it starts, repeats left, the caller's locals."""

    back: int
    start: int
    again: int
    local: dict[str, float]
    given: dict[str, float]
    """The variables when it was called."""


class Loop(NamedTuple):
    """A running loop: its name, the line of its head, and repeats left if counted."""

    name: str
    head: int
    left: int


class Flow:
    """What runs now, the file it is in, and the state and record it changes."""

    def __init__(self, lines: Sequence[str], s: State, r: Record) -> None:
        self.places, self.s, self.r = Places(lines), s, r
        self.calls: list[Call] = []
        self.loops: list[Loop] = []
        self.main = -1
        """Where the number of the main program is."""
        self.ended_at = len(lines)

    def end(self, name: str, at: int) -> int:
        end_program(self.s, self.r, name, at + 1)
        self.ended_at = at
        return -1

    def lose(self, why: Kind, at: int, subject: str = "") -> None:
        """From here on it is unknown which blocks run."""
        if self.s.lost is None:
            gap: Gap = why if why in ("too long to follow", "never left") else "jump not known"
            miss_everywhere(Step(self.s, self.r, at + 1, False), gap)
            self.s.lost = gap, at + 1
            self.r.lost_line = at + 1
            if gap == "jump not known":
                self.r.log.add(why, at + 1, subject)
            self.s.changed()

    def jump_to(self, number: int, at: int, around: int) -> int:
        """The line of a block number in the program around a line; if there is none, go on with nothing known."""
        if self.s.lost:
            return around + 1
        place = self.places.find_label(number, around)
        if place is None:
            self.lose("label not found", at, f"N{number}")
            return around + 1
        return place

    def go_behind(self, place: int | None, at: int) -> int:
        """The line after a place; if there is none, go on with nothing known."""
        if place is None:
            self.lose("jump not known", at)
            return at + 1
        return place + 1
