"""Program flow: subprograms, loops and jumps, followed as far as the file and its variables allow.

After an unknown jump the rest is read line by line, so no tool, offset or coolant word is missed; but travel is
unknown from there on.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from floor.evidence.nc.control_statements import obey
from floor.evidence.nc.endless_loops import LoopWatch
from floor.evidence.nc.execute import Signal, read_line
from floor.evidence.nc.fast_path import Plain, read_plain
from floor.evidence.nc.flow import Flow
from floor.evidence.nc.program_facts import Record
from floor.evidence.nc.state import State
from floor.evidence.nc.subprogram_calls import call, go_back, leave

LONGEST_HELD = 300_000
"""Most lines of a file held in memory to follow jumps."""
MOST_STEPS = 500_000
"""Most lines read, with loops unrolled."""
TICK = 1000
"""Lines between two chances to stop."""


class Follower:
    """Goes through the lines of a file in the order a control would."""

    def __init__(
        self, lines: Sequence[str], s: State, r: Record, plain: Plain, tick: Callable[[], None] = lambda: None
    ) -> None:
        """
        Args:
            tick: called now and then; may raise to stop.
        """
        self.lines, self.s, self.r, self.plain, self.tick = lines, s, r, plain, tick
        self.flow = Flow(lines, s, r)
        self.watch = LoopWatch(self.flow)
        self.seen = bytearray(len(lines))

    def follow(self, at: int, signal: Signal) -> None:
        """Go on after this line (from 0), which was read and gave the signal, to the end of the program."""
        flow = self.flow
        self.seen[: at + 1] = b"\1" * (at + 1)
        flow.main = flow.places.find_program(at)
        at = self._go_on(signal, at)
        while at >= 0:
            if flow.calls and self._runs_out(at):
                self.r.log.add("no return", at, self._name_call())
                at = go_back(flow)
                continue
            if at >= len(self.lines):
                return
            self.r.steps += 1
            if not self.r.steps % TICK:
                self.tick()
            if self.r.steps > MOST_STEPS and not self._may_read_on(at):
                return
            self.r.read_again, self.seen[at] = bool(self.seen[at]), 1
            found = read_any(self.s, self.r, self.lines[at], at + 1, self.plain)
            at = at + 1 if found is None else self._branch_off(found, at)

    def _runs_out(self, at: int) -> bool:
        """Whether a subprogram runs into the end of the file, or into the next program."""
        if at >= len(self.lines):
            return True
        text = self.lines[at].lstrip()[:1]
        if not text or text not in "Oo:%":
            return False
        return text == "%" or (at != self.flow.calls[-1].start and self.flow.places.starts_program(at))

    def _name_call(self) -> str:
        """The number of the program that runs now, as written at its start."""
        return " ".join(self.lines[self.flow.calls[-1].start].split()[:1])[:20]

    def _branch_off(self, signal: Signal, at: int) -> int:
        to = self._go_on(signal, at)
        if 0 <= to <= at and not self.s.lost:
            self.watch.note(to, at, self.r.steps > MOST_STEPS / 2)
        return to

    def _may_read_on(self, at: int) -> bool:
        """After too many lines: as after a jump not known; once only, as even so calls may go on without end."""
        if self.r.steps == MOST_STEPS + 1 and not self.s.lost:
            self.watch.tell(at, MOST_STEPS)
        self.flow.lose("too long to follow", at)
        if self.r.steps > 2 * MOST_STEPS:
            self.r.log.add("too long to follow", at + 1)
        return self.r.steps <= 2 * MOST_STEPS

    def _go_on(self, signal: Signal, at: int) -> int:
        """The line after one that may branch; -1 at the end of the program."""
        flow = self.flow
        if signal.kind == "percent":
            over, self.r.opened = self.r.started or self.r.opened, True
            return flow.end("%", at) if over else at + 1
        if signal.kind == "end":
            return at + 1 if signal.optional else flow.end(signal.name, at)
        if signal.optional:
            flow.lose("jump not known", at)
        if signal.kind == "return":
            return leave(flow, signal, at)
        if signal.kind == "control":
            control = signal.block.control
            return at + 1 if control is None else obey(flow, control, at)
        return call(flow, signal, at)


def read_any(s: State, r: Record, text: str, line: int, plain: Plain) -> Signal | None:
    """Read a line, by the fast path if the result is the same."""
    found = plain.sure(text)
    if found and read_plain(s, r, found.groups(), line):
        return None
    return read_line(s, r, text, line, plain)
