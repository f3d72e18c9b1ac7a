"""Give a paper to the shop's printer: a command that reads it from its standard input, never through a shell."""

from __future__ import annotations

import os
import signal
import subprocess
import tempfile
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import IO, Literal

SECONDS = 20.0
"""The longest a print command may take: it only hands the paper to a queue (shop decision)."""
MOST_SAID = 300
"""Characters kept of what a print command said."""
WAYS_OUT = 5.0
"""Seconds a stopped command has to go."""
Fault = Literal["not found", "not allowed", "cannot run", "failed", "too slow"]


class NotPrinted(Exception):
    """The paper did not go to the printer, or nobody knows whether it did."""

    def __init__(self, fault: Fault, command: Sequence[str], said: str = "", status: int = 0) -> None:
        super().__init__(_describe(fault, command, said, status))
        self.fault = fault
        self.said = said
        """What the command wrote, in one line."""
        self.status = status
        """Its exit status if it failed; minus the number of the signal that ended it."""


Wait = Callable[[subprocess.Popen[bytes], float], int]
"""Waits for a command to end, so many seconds at most."""


def print_paper(command: Sequence[str], content: bytes, wait: Wait = subprocess.Popen.wait) -> str:
    """Run a print command with a paper on its standard input; returns what it said, in one line.

    Files instead of pipes: a command that leaves a process behind, reads nothing or says too much holds up nothing.

    Args:
        command: the program and its arguments.
        wait: waits for it, and raises `subprocess.TimeoutExpired` when it is to be stopped.

    Raises:
        NotPrinted
    """
    try:
        with tempfile.TemporaryFile() as paper, tempfile.TemporaryFile() as heard:
            paper.write(content)
            paper.seek(0)
            with subprocess.Popen(
                command, stdin=paper, stdout=heard, stderr=subprocess.STDOUT, start_new_session=True
            ) as process:
                try:
                    status = wait(process, SECONDS)
                except subprocess.TimeoutExpired:
                    _stop(process, wait)
                    raise NotPrinted("too slow", command, _read(heard)) from None
            if status:
                raise NotPrinted("failed", command, _read(heard), status)
            return _read(heard)
    except OSError as error:
        raise NotPrinted(_name_fault(error), command, error.strerror or "") from None


def _name_fault(error: OSError) -> Fault:
    if isinstance(error, FileNotFoundError):
        return "not found"
    return "not allowed" if isinstance(error, PermissionError) else "cannot run"


def _stop(process: subprocess.Popen[bytes], wait: Wait) -> None:
    """Ask it to end, then end it, with all that it started."""
    for number in (signal.SIGTERM, signal.SIGKILL):
        with suppress(ProcessLookupError):
            os.killpg(process.pid, number)
        with suppress(subprocess.TimeoutExpired):
            wait(process, WAYS_OUT)


def _read(heard: IO[bytes]) -> str:
    heard.seek(0)
    text = heard.read(4 * MOST_SAID).decode(errors="replace")
    return " ".join("".join(one if one.isprintable() else " " for one in text).split())[:MOST_SAID]


def _describe(fault: Fault, command: Sequence[str], said: str, status: int) -> str:
    program = command[0][:40]
    match fault:
        case "not found":
            return f"Not printed: there is no program {program}. Correct print in shop.toml"
        case "not allowed":
            return f"Not printed: {program} may not be run. Correct its rights, or print in shop.toml"
        case "cannot run":
            return f"Not printed: {program} cannot be run ({said})"
        case "too slow":
            return f"Perhaps not printed: {program} was stopped, it took too long. Look at the printer"
        case "failed":
            how = f"ended by signal {-status}" if status < 0 else f"exit status {status}"
            return f"Not printed: {said or program} ({how}). Look at the printer, then print again"
