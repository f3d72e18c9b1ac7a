"""How far a long command is, in one line on a terminal, after the first second."""

from __future__ import annotations

import sys
import time
from typing import TextIO

from floor.text import format_share

WAITS = 1.0
"""Seconds before the first message."""
WIDTH = 78
_CLEAR = "\r\x1b[K"


class ProgressLine:
    """Shows progress on standard error if that is a terminal, and clears it before the answer is printed."""

    def __init__(self, stream: TextIO | None = None, doing: str = "planning") -> None:
        self.doing = doing
        self.stream = sys.stderr if stream is None else stream
        self.shows = self.stream is not None and self.stream.isatty()
        self.began = time.monotonic()
        self.told = ""

    def __call__(self, share: float, words: str) -> None:
        if not self.shows or time.monotonic() - self.began < WAITS:
            return
        line = f"{self.doing} {format_share(share)}, {words}"[:WIDTH]
        if line != self.told:
            self._write(_CLEAR + line)
            self.told = line

    def clear(self) -> None:
        """Clear it from the terminal."""
        if self.told:
            self._write(_CLEAR)
            self.told = ""

    def _write(self, text: str) -> None:
        try:
            self.stream.write(text)
            self.stream.flush()
        except OSError:  # the terminal is gone; the answer may still go to a file
            self.shows = False
