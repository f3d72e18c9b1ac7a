"""The shop's clock: the only place that asks the machine for the time."""

from __future__ import annotations

import hashlib
import platform
import time
from collections.abc import Callable
from datetime import datetime
from functools import cache
from pathlib import Path

from floor.entry import Moment
from floor.wall import MACHINE

Clock = Callable[[], Moment]


@cache
def _boot() -> str:
    """A short name of the machine, if it has one, and of its present start; empty if the system gives none."""
    try:
        boot = Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()[:8]
    except OSError:
        return ""
    machine = _machine()
    return f"{machine}-{boot}" if machine else boot


def _machine() -> str:
    """A short name of the machine: a hash of its ID, which stays private, and its host name, as cloned systems share
    the ID."""
    try:
        number = Path("/etc/machine-id").read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError):
        return ""
    return hashlib.sha256(f"{number} {platform.node()}".encode()).hexdigest()[:8] if number else ""


def read_clock() -> Moment:
    """Now, in the machine's time zone, with the time since the machine started, sleep included."""
    clock = getattr(time, "CLOCK_BOOTTIME", None)
    boot = _boot() if clock is not None else ""
    up = time.clock_gettime(clock) if boot and clock is not None else 0.0
    return Moment(datetime.now(MACHINE), boot, round(up, 3))
