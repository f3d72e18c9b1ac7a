"""Waiting until the program has done all that a key brought about, without sleeping longer than that takes."""

from __future__ import annotations

import asyncio
from asyncio import AbstractEventLoop
from concurrent.futures import ThreadPoolExecutor
from time import monotonic, process_time, thread_time
from typing import Any, cast

from textual._context import active_app

ROUNDS = 3
"""How often nothing is found to do before it is believed."""
HELD, IDLE = 0.15, 0.001
"""A thread that works for less than the second, in seconds of the processor, within the first is held."""


async def wait_until_settled(min_sleep: float = 0.0, max_sleep: float = 30.0) -> None:
    """Wait until no message is under way, no thread works, and what changed on the screen has been laid out.

    The toolkit's own wait sleeps a fiftieth of a second at least, twice for each key, and guesses by processor time.
    """
    loop, until, quiet, held = asyncio.get_running_loop(), monotonic() + max_sleep, 0, _Held()
    while quiet < ROUNDS and monotonic() < until:
        await asyncio.sleep(0)
        if _is_thread_busy(loop) and not held.find():
            quiet = 0
            await asyncio.sleep(0.002)
        elif cast(Any, loop)._ready:
            quiet = 0
        else:
            quiet += 1
            _do_at_once()
    assert quiet == ROUNDS, "it never comes to rest: does a scroll bar make the room that takes it away again?"


class _Held:
    """Whether the threads wait for something themselves, as where a test holds them."""

    def __init__(self) -> None:
        self._worked, self._since = _count_worked(), monotonic()

    def find(self) -> bool:
        worked, now = _count_worked(), monotonic()
        if worked - self._worked > IDLE:
            self._worked, self._since = worked, now
        return now - self._since > HELD


def _count_worked() -> float:
    """Seconds of processor time of all threads but this one."""
    return process_time() - thread_time()


def _is_thread_busy(loop: AbstractEventLoop) -> bool:
    pool: ThreadPoolExecutor | None = cast(Any, loop)._default_executor
    if pool is None:
        return False
    private = cast(Any, pool)
    return bool(private._work_queue.qsize()) or private._idle_semaphore._value < len(private._threads)


def _do_at_once() -> None:
    """What timers do sixty times a second for the screen, and soon after a resize."""
    app = active_app.get()
    if app._resize_timer is not None:
        app._check_resize()
    for screen in app._screen_stack[-1:]:
        if screen.is_running:
            screen._on_timer_update()
