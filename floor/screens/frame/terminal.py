"""The terminal under the program, which may be lost at any moment: a window shut, a line dropped."""

from __future__ import annotations

import errno
import sys
import termios
from codecs import IncrementalDecoder, getincrementaldecoder
from collections.abc import Callable, Mapping
from contextlib import suppress
from functools import partial
from typing import Any, TextIO, cast

from textual.drivers import linux_driver
from textual.drivers.linux_driver import LinuxDriver


def _reading(encoding: str) -> Callable[[], IncrementalDecoder]:
    """What reads the keyboard, with a sign (U+FFFD) for each byte that is no text, as one set to Latin-1 sends."""
    return partial(getincrementaldecoder(encoding), "replace")


# The usual driver ends the program at such a byte, and has no other door to its decoder than the name it knows it by.
setattr(linux_driver, "getincrementaldecoder", _reading)  # noqa: B010


def is_terminal_lost() -> bool:
    """Whether the terminal that the program was started at is gone."""
    try:
        if sys.__stdin__ is not None:
            termios.tcgetattr(sys.__stdin__.fileno())
    except (OSError, ValueError, termios.error) as error:
        return bool(error.args) and error.args[0] == errno.EIO
    return False


def is_served(environ: Mapping[str, str]) -> bool:
    """Whether a browser is the terminal: then Textual's own driver for it takes the place of ours."""
    return "TEXTUAL_DRIVER" in environ


class LossTolerantOutput:
    """What is written to a terminal; once that is gone, nothing more, and it is no fault.

    Whatever writes must go on taking: where it ends by a fault, the program waits forever to hand it the next line.
    """

    def __init__(self, file: TextIO) -> None:
        self._file = file

    def write(self, text: str) -> None:
        with suppress(OSError):
            self._file.write(text)

    def flush(self) -> None:
        with suppress(OSError):
            self._file.flush()

    def fileno(self) -> int:
        return self._file.fileno()


class LossTolerantDriver(LinuxDriver):
    """The usual one, which outlasts the terminal, so that the program ends in order when it is told to."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self._file = cast("Any", LossTolerantOutput(cast("TextIO", self._file)))

    def _sigcont_application(self, *_: object) -> None:
        """Take the terminal up again only after it was let go; one that is lost sends this signal too."""
        if self._must_signal_resume:
            super()._sigcont_application()
