"""Waiting until the program has done all that a key brought about, without sleeping longer than that takes."""

from __future__ import annotations

import asyncio
from asyncio import AbstractEventLoop
from concurrent.futures import ThreadPoolExecutor
from time import monotonic
from typing import Any, cast

from textual._context import active_app

ROUNDS = 3
"""How often nothing is found to do before it is believed."""


async def wait_until_settled(min_sleep: float = 0.0, max_sleep: float = 5.0) -> None:
    """Wait until no message is under way, no thread works, and what changed on the screen has been laid out.

    The toolkit's own wait sleeps a fiftieth of a second at least, twice for each key, and guesses by processor time.
    """
    loop, until, quiet = asyncio.get_running_loop(), monotonic() + max_sleep, 0
    while quiet < ROUNDS and monotonic() < until:
        await asyncio.sleep(0)
        if _is_thread_busy(loop):
            quiet = 0
            await asyncio.sleep(0.001)
        elif cast(Any, loop)._ready:
            quiet = 0
        else:
            quiet += 1
            _do_at_once()


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
