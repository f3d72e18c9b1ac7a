"""Finds places in the lines of a file: block numbers, program numbers and names, the statement that closes another."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Sequence

from floor.evidence.nc.block import Control, split_block

_LABEL = re.compile(r"\s*/?\d?\s*N\s*0*(\d+)", re.ASCII | re.IGNORECASE)
_PROGRAM = re.compile(
    r"\s*(?:N\s*\d+\s*)?[O:]\s*\d+(?!\d|\s*(?:SUB|END|CALL|RETURN|IF|ELSE|WHILE|DO|REPEAT|BREAK|CONTINUE))",
    re.ASCII | re.IGNORECASE,
)
"""The number of a program, not a statement such as ``O1 IF``."""
_WORDLESS = re.compile(r"[\s%]*(?:\([^()]*\)\s*)*", re.ASCII)
_NAME = re.compile(r"\s*(?:N\s*\d+\s*)?[O:]\s*(?:0*(\d+)|(<[^<>]*>))", re.ASCII | re.IGNORECASE)


class Places:
    """The places of a file; each kind is searched for when it is first asked for, and kept."""

    def __init__(self, lines: Sequence[str]) -> None:
        self.lines = lines
        self._programs: list[int] = []
        self._labels: dict[tuple[int, int], int | None] | None = None
        self._names: dict[str, int] | None = None
        self._controls: dict[tuple[int, str, frozenset[str]], int | None] = {}

    def starts_program(self, at: int) -> bool:
        return _PROGRAM.match(self.lines[at]) is not None

    def find_program(self, at: int) -> int:
        """Line of the number of the program around a line; -1 if it has none."""
        return next((place for place in range(at, -1, -1) if self.starts_program(place)), -1)

    def read_control(self, at: int) -> Control | None:
        return split_block(self.lines[at][:4096]).control

    def find_control(self, at: int, kinds: set[str], name: str) -> int | None:
        """Line of the next statement of these kinds and this name; cached, as loops ask again and again."""
        key = at, name, frozenset(kinds)
        if key not in self._controls:
            self._controls[key] = next(
                (
                    place
                    for place in range(at + 1, len(self.lines))
                    if ("END" in (text := self.lines[place].upper()) or "ELSE" in text)
                    and (control := self.read_control(place))
                    and control.kind in kinds
                    and control.name == name
                ),
                None,
            )
        return self._controls[key]

    def find_label(self, number: int, at: int) -> int | None:
        """Line of a block number in the program around a line; None if none has it, or more than one."""
        if self._labels is None:
            self._labels = self._index_labels()
        return self._labels.get((bisect_right(self._programs, at), number))

    def _index_labels(self) -> dict[tuple[int, int], int | None]:
        """(program, block number) → its line, None if it is there twice."""
        labels: dict[tuple[int, int], int | None] = {}
        for at, text in enumerate(self.lines):
            if _PROGRAM.match(text):
                self._programs.append(at)
            found = _LABEL.match(text)
            if found:
                key = len(self._programs), int(found[1][:12])
                labels[key] = None if key in labels else at
        return labels

    def find_name(self, name: str) -> int | None:
        """Line of a program's number, or of a subprogram's number or name."""
        if self._names is None:
            self._names = {}
            for at, text in enumerate(self.lines):
                found = _NAME.match(text)
                if found:
                    self._names.setdefault(found[1] or found[2].replace(" ", "").upper(), at)
        return self._names.get(name)


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
