"""Read a program file from start to end: what it makes a machine do, without running it.

Line by line, so 300 MB need no more room than 3. Only files of up to `LONGEST_HELD` lines are held whole, to follow
jumps.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import islice

from floor.evidence.nc.applied_block import Step
from floor.evidence.nc.build_summary import FileFacts, collect_summary
from floor.evidence.nc.code_actions import miss_everywhere
from floor.evidence.nc.dialect import UNSET, Dialect
from floor.evidence.nc.ending import end_program
from floor.evidence.nc.execute import Signal, read_line
from floor.evidence.nc.fast_path import compile_plain, read_plain
from floor.evidence.nc.finding_kinds import FindingLog
from floor.evidence.nc.follower import LONGEST_HELD, Follower
from floor.evidence.nc.lines import split_lines
from floor.evidence.nc.places_in_file import find_unread
from floor.evidence.nc.program_facts import Record
from floor.evidence.nc.state import State
from floor.evidence.nc.summary import ProgramSummary, Word, Work

Chunks = Callable[[], Iterable[bytes]]
"""Yields the bytes of the file in chunks, from the start each time it is called."""


def read_program(
    open_chunks: Chunks,
    name: str = "",
    dialect: Dialect = UNSET,
    progress: Callable[[int], None] | None = None,
    work: Work = Work(),  # noqa: B008 (frozen)
) -> ProgramSummary:
    """Read a program.

    Args:
        open_chunks: opens the file; called again if subprograms or jumps must be followed.
        name: name of the file, kept in the summary.
        progress: called with the bytes read so far.
        work: where the metal is; rapids and steps down are judged by it.
    """
    return _Reading(open_chunks, Record(dialect, FindingLog(), work), progress).read(name)


class _Reading:
    """One pass over a file."""

    def __init__(self, open_chunks: Chunks, record: Record, progress: Callable[[int], None] | None) -> None:
        self.open_chunks, self.progress = open_chunks, progress
        self.s, self.r = State(), record
        self.plain = compile_plain(record.dialect)
        self.hash, self.size, self.line = hashlib.sha256(), 0, 0
        self.over = self.followed = self.too_long = False
        self.counted = False
        """Lines after the end have been counted."""
        self.unread = 0, 0
        """(count, first) of lines with words after the end of the program."""

    def read(self, name: str) -> ProgramSummary:
        s, r = self.s, self.r
        for lines in split_lines(self._measure(), r.log):
            if self.over:
                self._pass(lines, -1)
            else:
                self._read_lines(lines)
            self.line += len(lines)
        r.flush_run(s.rate, self.line)
        if self.unread[0]:
            r.log.add("unread lines", self.unread[1], "", self.unread[0])
        if not (r.started or r.opened or r.comment_count or r.log.list()):
            r.log.add("empty file", 0)
        elif r.end is None and self.line:
            r.log.add("no end", self.line)
        return collect_summary(r, FileFacts(name, self.hash.hexdigest(), self.size, self.line))

    def _measure(self) -> Iterator[bytes]:
        for chunk in self.open_chunks():
            self.hash.update(chunk)
            self.size += len(chunk)
            self._tick()
            yield chunk

    def _tick(self) -> None:
        if self.progress:
            self.progress(self.size)

    def _read_lines(self, lines: list[str]) -> None:
        """The core loop: each line by the fast path if possible, until one may not be followed by the next."""
        s, r, line = self.s, self.r, self.line
        match = self.plain.sure
        for text in lines:
            line += 1
            found = match(text)
            if found and read_plain(s, r, found.groups(), line):
                continue
            signal = read_line(s, r, text, line, self.plain)
            if signal and self._go_on(signal, line):
                self._pass(lines, line - self.line - 1)
                return

    def _go_on(self, signal: Signal, line: int) -> bool:
        """Whether the program ends with this line."""
        r = self.r
        if signal.kind == "percent":
            if signal.name and not r.started:
                r.numbers.append(Word(signal.name, line))
            self.over = r.started or r.opened
            r.opened = True
        elif signal.kind in ("end", "return"):
            self.over = not signal.optional
            if signal.kind == "return" and self.over:
                r.log.add("main loops", line)
        elif not self.too_long:
            self._follow(signal, line)
        else:
            r.missing.add(signal.name or "?")
            r.calls.setdefault(signal.name or "?", Word(signal.name or "?", line))
        if self.over and r.end is None and not self.followed:
            end_program(self.s, r, {"percent": "%", "return": "M99"}.get(signal.kind, signal.name), line)
        return self.over

    def _follow(self, signal: Signal, line: int) -> None:
        """After this line follow jumps; if the file is too long for that, go line by line with nothing known."""
        stream = (text for lines in split_lines(self.open_chunks(), FindingLog()) for text in lines)
        held = list(islice(stream, LONGEST_HELD + 1))
        if len(held) > LONGEST_HELD:
            self.too_long = True
            self.r.log.add("too long to follow", line)
            miss_everywhere(Step(self.s, self.r, line, False), "too long to follow")
            self.s.lost, self.r.lost_line = ("too long to follow", line), line
            self.s.changed()
            return
        follower = Follower(held, self.s, self.r, self.plain, self._tick)
        follower.follow(line - 1, signal)
        count, first, _ = find_unread(held, follower.flow.ended_at, follower.seen)
        self.unread = count, first + 1
        self.over = self.followed = self.counted = True

    def _pass(self, lines: Sequence[str], after: int) -> None:
        """Count lines after the end of the program, up to the next program number."""
        if self.counted:
            return
        count, first, self.counted = find_unread(lines, after)
        self.unread = self.unread[0] + count, self.unread[1] or (self.line + first + 1 if count else 0)
