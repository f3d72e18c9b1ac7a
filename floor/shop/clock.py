"""The shop's clock: the only place that asks the machine for the time."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import datetime
from functools import cache
from pathlib import Path

from floor.entry import Moment

Clock = Callable[[], Moment]


@cache
def _boot() -> str:
    """A short name of the machine's present start; empty where the system does not give one."""
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()[:8]
    except OSError:
        return ""


def real_clock() -> Moment:
    """Now, in the shop's zone, with the time since the machine started, sleep included."""
    clock = getattr(time, "CLOCK_BOOTTIME", None)
    boot = _boot() if clock is not None else ""
    up = time.clock_gettime(clock) if boot and clock is not None else 0.0
    return Moment(datetime.now().astimezone(), boot, round(up, 3))
