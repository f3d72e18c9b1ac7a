"""The line of each value in a TOML file, which the standard parser does not give."""

from __future__ import annotations

import re
from bisect import bisect_right

Path = tuple[str | int, ...]
"""Keys and 0-based indexes of a value: ``("operations", 2, "title")``."""

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_BARE_VALUE = re.compile(r"[^,\]}\n#]+")
_STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}(?!")' + r"|'''.*?'{3,5}(?!')" + r'|"(?:\\.|[^"\\\n])*"' + r"|'[^'\n]*'", re.DOTALL
)

MOST_DEPTH = 16
"""Most levels of nested tables and lists; a checklist needs seven."""


def is_nested_deeper(data: object, most: int = MOST_DEPTH) -> bool:
    """Whether tables and lists are nested deeper than a limit. Handles any depth."""
    level = [data]
    for _ in range(most + 1):
        level = [
            inner
            for one in level
            if isinstance(one, dict | list)
            for inner in (one.values() if isinstance(one, dict) else one)
        ]
        if not level:
            return False
    return any(isinstance(one, dict | list) for one in level)


def map_lines(text: str) -> dict[Path, int]:
    """The line (from 1) of every table, key and array element of a valid TOML text.

    A table or array opened more than once has the line where it is first opened.
    """
    return _Scanner(text).run()


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.starts = [0, *(match.end() for match in re.finditer("\n", text))]
        self.lines: dict[Path, int] = {}
        self.tables: dict[Path, int] = {}
        """Number of tables so far in each array of tables."""

    def run(self) -> dict[Path, int]:
        inside: Path = ()
        self.skip(_BLANK)
        while self.at < len(self.text):
            if self.text.startswith("[", self.at):
                inside = self.header()
            else:
                self.pair(inside)
            self.skip(_BLANK)
        return self.lines

    def skip(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        assert match, f"not TOML at character {self.at}"
        self.at = match.end()
        return match.group()

    def note(self, path: Path, at: int) -> None:
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], bisect_right(self.starts, at))

    def header(self) -> Path:
        start = self.at
        array = self.text.startswith("[[", self.at)
        self.at += 2 if array else 1
        keys = self.keys()
        self.at += 2 if array else 1
        path: Path = ()
        for place, key in enumerate(keys):
            path = (*path, key)
            if array and place == len(keys) - 1:
                self.tables[path] = self.tables.get(path, 0) + 1
            if path in self.tables:
                path = (*path, self.tables[path] - 1)
        self.note(path, start)
        return path

    def keys(self) -> list[str]:
        """A dotted key; stops before the ``=`` or ``]``."""
        keys = []
        while True:
            self.skip(_SPACE)
            quoted = self.text[self.at] in "\"'"
            key = self.skip(_STRING if quoted else _BARE_KEY)
            keys.append(key[1:-1] if quoted else key)
            self.skip(_SPACE)
            if not self.text.startswith(".", self.at):
                return keys
            self.at += 1

    def pair(self, inside: Path) -> None:
        start = self.at
        path = (*inside, *self.keys())
        self.note(path, start)
        self.at += 1  # the "="
        self.skip(_SPACE)
        self.value(path)

    def value(self, path: Path) -> None:
        mark = self.text[self.at]
        if mark == "[":
            self.listed(path)
        elif mark == "{":
            self.at += 1
            while self.next_is_item("}"):
                self.pair(path)
        else:
            self.skip(_STRING if mark in "\"'" else _BARE_VALUE)

    def listed(self, path: Path) -> None:
        self.at += 1
        place = 0
        while self.next_is_item("]"):
            self.note((*path, place), self.at)
            self.value((*path, place))
            place += 1

    def next_is_item(self, close: str) -> bool:
        """Skip to the next item of an array or inline table; False after its closing mark."""
        self.skip(_BLANK)
        if self.text.startswith(",", self.at):
            self.at += 1
            self.skip(_BLANK)
        if self.text.startswith(close, self.at):
            self.at += 1
            return False
        return True
