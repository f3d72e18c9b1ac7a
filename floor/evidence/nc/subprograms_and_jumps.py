"""Program flow: subprograms, loops and jumps, followed as far as the file and its variables allow.

After an unknown jump the rest is read line by line, so no tool, offset or coolant word is missed; but travel is
unknown from there on.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from math import isnan
from typing import NamedTuple

from floor.evidence.nc.applied_block import Step
from floor.evidence.nc.block import Control, split_block
from floor.evidence.nc.code_actions import miss_everywhere
from floor.evidence.nc.ending import end_program
from floor.evidence.nc.execute import Signal, read_block, read_both_ways, read_line
from floor.evidence.nc.expressions import evaluate
from floor.evidence.nc.fast_path import Plain, read_plain
from floor.evidence.nc.finding_kinds import Kind
from floor.evidence.nc.program_facts import Record
from floor.evidence.nc.state import State
from floor.evidence.nc.summary import Word
from floor.evidence.nc.travel import Gap

LONGEST_HELD = 300_000
"""Most lines of a file held in memory to follow jumps."""
MOST_STEPS = 500_000
"""Most lines read, with loops unrolled."""
TICK = 1000
"""Lines between two chances to stop."""
DEEPEST = 50
"""Most nested calls."""
_LABEL = re.compile(r"\s*/?\d?\s*N\s*0*(\d+)", re.ASCII | re.IGNORECASE)
_PROGRAM = re.compile(
    r"\s*(?:N\s*\d+\s*)?[O:]\s*\d+(?!\d|\s*(?:SUB|END|CALL|RETURN|IF|ELSE|WHILE|DO|REPEAT|BREAK|CONTINUE))",
    re.ASCII | re.IGNORECASE,
)
"""The number of a program, not a statement such as ``O1 IF``."""
_WORDLESS = re.compile(r"[\s%]*(?:\([^()]*\)\s*)*", re.ASCII)
_NAME = re.compile(r"\s*(?:N\s*\d+\s*)?[O:]\s*(?:0*(\d+)|(<[^<>]*>))", re.ASCII | re.IGNORECASE)
_ARGUMENT = re.compile(r"\[[^\[\]]*(?:\[[^\[\]]*\][^\[\]]*)*\]")


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


class Flow(NamedTuple):
    """All that decides which blocks run from a line on: conditions can ask for no position and no mode, as the
    variables that hold them have no known value."""

    to: int
    begun: tuple[bool, bool]
    calls: list[Call]
    loops: list[Loop]
    variables: dict[str, float]


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
        self.seen = bytearray(len(lines))
        self.calls: list[Call] = []
        self.loops: list[Loop] = []
        self.ended_at = len(lines)
        self.main = -1
        """Where the number of the main program is."""
        self._back: Counter[int] = Counter()
        """Lines jumped back to in the second half of `MOST_STEPS`, with how often."""
        self._jumps_back = 0
        self._met: Flow | None = None
        """At the jump back whose number was the last power of two: a loop of any length meets it again (Brent)."""
        self._heads: set[int] = set()
        """Lines jumped back to since then."""
        self._programs: list[int] = []
        self._labels: dict[tuple[int, int], int | None] | None = None
        self._names: dict[str, int] | None = None
        self._found: dict[tuple[int, str, frozenset[str]], int | None] = {}

    def follow(self, at: int, signal: Signal) -> None:
        """Go on after this line (from 0), which was read and gave the signal, to the end of the program."""
        self.seen[: at + 1] = b"\1" * (at + 1)
        self.main = next((place for place in range(at, -1, -1) if _PROGRAM.match(self.lines[place])), -1)
        at = self._go_on(signal, at)
        while at >= 0:
            if self.calls and self._runs_out(at):
                self.r.log.add("no return", at, self._name_call())
                at = self._return()
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
        return text == "%" or (at != self.calls[-1].start and _PROGRAM.match(self.lines[at]) is not None)

    def _name_call(self) -> str:
        """The number of the program that runs now, as written at its start."""
        return " ".join(self.lines[self.calls[-1].start].split()[:1])[:20]

    def _branch_off(self, signal: Signal, at: int) -> int:
        to = self._go_on(signal, at)
        if 0 <= to <= at and not self.s.lost:
            if self.r.steps > MOST_STEPS / 2:
                self._back[to] += 1
            self._leave_if_never_left(to, at)
        return to

    def _leave_if_never_left(self, to: int, at: int) -> None:
        """Follow no more jumps once one back finds all as an earlier one did: the loop goes on like that forever."""
        now = Flow(to, (self.r.started, self.r.opened), self.calls, self.loops, self.s.variables)
        self._heads.add(to)
        if now == self._met:
            self._forget_passes(self._heads)
            self.r.log.add("never left", min(self._heads) + 1, "", at + 1)
            self._lose("never left", at)
            return
        self._jumps_back += 1
        if not self._jumps_back & (self._jumps_back - 1):
            self._met = Flow(to, now.begun, [*self.calls], [*self.loops], {**self.s.variables})
            self._heads.clear()

    def _forget_passes(self, heads: Iterable[int]) -> None:
        """Nobody is told how often a loop without end was gone through before it was left."""
        for to in heads:
            self.r.loops.pop(to + 1, None)

    def _may_read_on(self, at: int) -> bool:
        """After too many lines: as after a jump not known; once only, as even so calls may go on without end."""
        if self.r.steps == MOST_STEPS + 1 and not self.s.lost:
            self._tell_loop(at)
        self._lose("too long to follow", at)
        if self.r.steps > 2 * MOST_STEPS:
            self.r.log.add("too long to follow", at + 1)
        return self.r.steps <= 2 * MOST_STEPS

    def _tell_loop(self, at: int) -> None:
        """The loop that was not left: the first line jumped back to again and again at the end."""
        heads = [to for to, count in self._back.items() if count > 1]
        self._forget_passes(heads)
        if heads:
            self.r.log.add("endless loop", min(heads) + 1, "", MOST_STEPS)
        else:
            self.r.log.add("too long to follow", at + 1)

    def _go_on(self, signal: Signal, at: int) -> int:
        """The line after one that may branch; -1 at the end of the program."""
        if signal.kind == "percent":
            over, self.r.opened = self.r.started or self.r.opened, True
            return self._end("%", at) if over else at + 1
        if signal.kind == "end":
            return at + 1 if signal.optional else self._end(signal.name, at)
        if signal.optional:
            self._lose("jump not known", at)
        if signal.kind == "return":
            return self._leave(signal, at)
        if signal.kind == "control":
            control = signal.block.control
            return at + 1 if control is None else self._control(control, at)
        return self._call(signal, at)

    def _end(self, name: str, at: int) -> int:
        end_program(self.s, self.r, name, at + 1)
        self.ended_at = at
        return -1

    def _lose(self, why: Kind, at: int, subject: str = "") -> None:
        """From here on it is unknown which blocks run."""
        if self.s.lost is None:
            gap: Gap = why if why in ("too long to follow", "never left") else "jump not known"
            miss_everywhere(Step(self.s, self.r, at + 1, False), gap)
            self.s.lost = gap, at + 1
            self.r.lost_line = at + 1
            if gap == "jump not known":
                self.r.log.add(why, at + 1, subject)
            self.s.changed()

    # subprograms

    def _call(self, signal: Signal, at: int) -> int:
        """M98 and M97: run the subprogram as often as stated; if it is not in the file, go on with nothing known."""
        start, count, name = self._find_call(signal, at)
        self.r.calls.setdefault(name, Word(name, at + 1))
        if start is not None and self._calls_itself(start):
            self.r.log.add("calls itself", at + 1, name)
            self._lose("never left", at)
            return at + 1
        if start is None or len(self.calls) >= DEEPEST:
            return self._miss_call(name, at)
        if count < 1 or self._is_lost_in(start):
            return at + 1
        self.calls.append(Call(at + 1, start, count - 1, {}, {**self.s.variables}))
        self.r.called_lines.add(start + 1)
        return start

    def _calls_itself(self, start: int) -> bool:
        """Whether it runs already, and no variable has changed that could end it; or is nested too deep to go on."""
        entered = [call.given for call in self.calls if call.start == start] + [{}] * (start == self.main)
        return bool(entered) and (len(self.calls) >= DEEPEST or self.s.variables in entered)

    def _find_call(self, signal: Signal, at: int) -> tuple[int | None, int, str]:
        """(line of its name, how often, name). In ``P51002`` the digits before the last four may be a repeat count."""
        number = signal.name
        if signal.kind == "external":
            return None, 1, f"O{number or '?'}"
        if signal.kind == "local":
            return (self._find_label(int(number), at) if number else None), signal.count, f"N{number or '?'}"
        start = self._find_name(number)
        if start is None and len(number) > 4:
            shorter = str(int(number[-4:]))
            start = self._find_name(shorter)
            if start is not None:
                return start, int(number[:-4]) * signal.count, f"O{shorter}"
        return start, signal.count, f"O{number or '?'}"

    def _leave(self, signal: Signal, at: int) -> int:
        """M99: return to the caller; in the main program, repeat forever."""
        if signal.optional:
            return at + 1
        if not self.calls:
            self.r.log.add("main loops", at + 1)
            return self._end("M99", at)
        back = self.calls[-1].back
        to = self._return()
        return self._jump_to(int(signal.name), at, back - 1) if signal.name and to == back else to

    def _return(self) -> int:
        call = self.calls.pop()
        if call.again > 0 and not self.s.lost:
            self.calls.append(call._replace(again=call.again - 1))
            return call.start
        if call.local:
            self.s.variables = {**{k: v for k, v in self.s.variables.items() if not _is_local(k)}, **call.local}
        return call.back

    # statements

    def _control(self, control: Control, at: int) -> int:
        handler = _HANDLERS.get(control.kind)
        if handler is None or (self.s.lost and control.kind not in _ALWAYS):
            if handler is None:
                self._lose("jump not known", at)
            return at + 1
        return handler(self, control, at)

    def _test(self, control: Control, at: int) -> bool | None:
        """Whether a condition holds; None, with everything unknown, if it cannot be known."""
        value = evaluate(control.test, self.s.variables)
        if isnan(value):
            self._lose("jump not known", at)
            return None
        return bool(value)

    def _if_goto(self, control: Control, at: int) -> int:
        return self._goto(control, at) if self._test(control, at) else at + 1

    def _goto(self, control: Control, at: int) -> int:
        target = evaluate(control.name, self.s.variables)
        if isnan(target):
            self._lose("jump not known", at)
            return at + 1
        return self._jump_to(int(target), at, at)

    def _jump_to(self, number: int, at: int, around: int) -> int:
        """The line of a block number in the program around a line; if there is none, go on with nothing known."""
        if self.s.lost:
            return around + 1
        place = self._find_label(number, around)
        if place is None:
            self._lose("label not found", at, f"N{number}")
            return around + 1
        return place

    def _if_then(self, control: Control, at: int) -> int:
        value = evaluate(control.test, self.s.variables)
        block = split_block(control.name)
        if block.control or value == 0:
            if block.control:
                self._lose("jump not known", at)
            return at + 1
        if isnan(value):
            read_both_ways(self.s, self.r, block, at + 1)
        else:
            read_block(self.s, self.r, block, at + 1, False)
        return at + 1

    def _while(self, control: Control, at: int) -> int:
        test = self._test(control, at)
        if test is None:
            return at + 1
        name = control.name
        if test:
            self._enter(name, at, 0)
            return at + 1
        self._forget(name)
        end = self._find_control(at, {"END", "OENDWHILE"}, name)
        return self._need(end, at)

    def _enter(self, name: str, at: int, left: int) -> None:
        self._forget(name)
        self.loops.append(Loop(name, at, left))
        self.r.loops[at + 1] = self.r.loops.get(at + 1, 0) + 1

    def _forget(self, name: str) -> None:
        self.loops = [loop for loop in self.loops if loop.name != name]

    def _loop_again(self, control: Control, at: int) -> int:
        for loop in self.loops:
            if loop.name == control.name:
                return loop.head
        return at + 1

    def _repeat(self, control: Control, at: int) -> int:
        count = evaluate(control.test, self.s.variables)
        if isnan(count):
            self._lose("jump not known", at)
            return at + 1
        if count < 1:
            return self._need(self._find_control(at, {"OENDREPEAT"}, control.name), at)
        self._enter(control.name, at, int(count))
        return at + 1

    def _repeat_again(self, control: Control, at: int) -> int:
        loop = next((one for one in self.loops if one.name == control.name), None)
        if loop is None or loop.left <= 1:
            self._forget(control.name)
            return at + 1
        self._enter(loop.name, loop.head, loop.left - 1)
        return loop.head + 1

    def _define(self, control: Control, at: int) -> int:
        return self._need(self._find_control(at, {"OENDSUB"}, control.name), at)

    def _call_named(self, control: Control, at: int) -> int:
        name = control.name if control.name.startswith("<") else str(int(control.name))
        start = self._find_name(name)
        shown = f"O{name}"
        self.r.calls.setdefault(shown, Word(shown, at + 1))
        found = None if start is None else self._read_control(start)
        if start is None or found is None or found.kind != "OSUB" or len(self.calls) >= DEEPEST:
            return self._miss_call(shown, at)
        if self._is_lost_in(start):
            return at + 1
        self._pass_arguments(control.test, at, start + 1)
        return start + 1

    def _pass_arguments(self, text: str, at: int, start: int) -> None:
        """The values in brackets become the subprogram's #1, #2 …; the caller's are kept for the return."""
        variables = self.s.variables
        values = [evaluate(one, variables) for one in _ARGUMENT.findall(text)]
        local = {name: value for name, value in variables.items() if _is_local(name)}
        self.s.variables = {name: value for name, value in variables.items() if not _is_local(name)}
        self.s.variables |= {str(n): value for n, value in enumerate(values, 1) if not isnan(value)}
        self.calls.append(Call(at + 1, start, 0, local or {"0": 0.0}, {}))

    def _miss_call(self, name: str, at: int) -> int:
        self.r.missing.add(name)
        self.r.log.add("call missing", at + 1, name)
        miss_everywhere(Step(self.s, self.r, at + 1, False), "call missing")
        return at + 1

    def _is_lost_in(self, start: int) -> bool:
        """Whether a subprogram calls itself while it is unknown which blocks run."""
        return self.s.lost is not None and any(call.start in (start, start + 1) for call in self.calls)

    def _return_named(self, control: Control, at: int) -> int:
        return self._return() if self.calls else at + 1

    def _branch(self, control: Control, at: int) -> int:
        """``O1 IF``: enter it, or go to the next ELSEIF, ELSE or ENDIF of that name."""
        while True:
            test = self._test(control, at)
            if test is None or test:
                return at + 1
            place = self._find_control(at, {"OELSEIF", "OELSE", "OENDIF"}, control.name)
            found = None if place is None else self._read_control(place)
            if place is None or found is None or found.kind != "OELSEIF":
                return self._need(place, at)
            control, at = found, place

    def _skip_branch(self, control: Control, at: int) -> int:
        return self._need(self._find_control(at, {"OENDIF"}, control.name), at)

    def _pass(self, control: Control, at: int) -> int:
        return at + 1

    def _need(self, place: int | None, at: int) -> int:
        """The line after a place; if there is none, go on with nothing known."""
        if place is None:
            self._lose("jump not known", at)
            return at + 1
        return place + 1

    # places in the file

    def _read_control(self, at: int) -> Control | None:
        return split_block(self.lines[at][:4096]).control

    def _find_control(self, at: int, kinds: set[str], name: str) -> int | None:
        """Line of the next statement of these kinds and this name; cached, as loops ask again and again."""
        key = at, name, frozenset(kinds)
        if key not in self._found:
            self._found[key] = next(
                (
                    place
                    for place in range(at + 1, len(self.lines))
                    if ("END" in (text := self.lines[place].upper()) or "ELSE" in text)
                    and (control := self._read_control(place))
                    and control.kind in kinds
                    and control.name == name
                ),
                None,
            )
        return self._found[key]

    def _find_label(self, number: int, at: int) -> int | None:
        """Line of a block number in the program around a line; None if none has it, or more than one."""
        if self._labels is None:
            self._labels = self._index_labels()
        return self._labels.get((bisect_right(self._programs, at), number))

    def _index_labels(self) -> dict[tuple[int, int], int | None]:
        """(program, block number) → its line, None if it is there twice; read when it is first asked for."""
        labels: dict[tuple[int, int], int | None] = {}
        for at, text in enumerate(self.lines):
            if _PROGRAM.match(text):
                self._programs.append(at)
            found = _LABEL.match(text)
            if found:
                key = len(self._programs), int(found[1][:12])
                labels[key] = None if key in labels else at
        return labels

    def _find_name(self, name: str) -> int | None:
        if self._names is None:
            self._names = {}
            for at, text in enumerate(self.lines):
                found = _NAME.match(text)
                if found:
                    self._names.setdefault(found[1] or found[2].replace(" ", "").upper(), at)
        return self._names.get(name)


_HANDLERS: dict[str, Callable[[Follower, Control, int], int]] = {
    "IFGOTO": Follower._if_goto, "GOTO": Follower._goto, "IFTHEN": Follower._if_then, "WHILEDO": Follower._while,
    "END": Follower._loop_again, "OWHILE": Follower._while, "OENDWHILE": Follower._loop_again,
    "OREPEAT": Follower._repeat, "OENDREPEAT": Follower._repeat_again, "OSUB": Follower._define,
    "OENDSUB": Follower._return_named, "ORETURN": Follower._return_named, "OCALL": Follower._call_named,
    "OIF": Follower._branch, "OELSEIF": Follower._skip_branch, "OELSE": Follower._skip_branch,
    "OENDIF": Follower._pass,
}  # fmt: skip
_ALWAYS = {"OSUB", "OENDSUB", "OCALL"}
"""Followed even while it is unknown which blocks run."""


def _is_local(name: str) -> bool:
    return name.isdigit() and int(name) <= 33


def read_any(s: State, r: Record, text: str, line: int, plain: Plain) -> Signal | None:
    """Read a line, by the fast path if the result is the same."""
    found = plain.sure(text)
    if found and read_plain(s, r, found.groups(), line):
        return None
    return read_line(s, r, text, line, plain)


def find_unread(lines: Sequence[str], after: int, seen: bytearray | None = None) -> tuple[int, int, bool]:
    """(count, index of the first) of lines with words after the program end; whether another program follows."""
    count, first = 0, -1
    for at in range(after + 1, len(lines)):
        text = lines[at]
        if _NAME.match(text):
            return count, first, True
        if (seen is None or not seen[at]) and not _WORDLESS.fullmatch(text):
            count, first = count + 1, at if first < 0 else first
    return count, first, False
