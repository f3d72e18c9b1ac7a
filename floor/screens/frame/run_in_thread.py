"""Work off the thread of the keys."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from threading import Thread
from typing import Any, TypeVar

T = TypeVar("T")


async def run_in_thread(work: Callable[..., T], *given: Any, **named: Any) -> T:
    """The answer of work done in a thread of its own, which nobody waits for when the program ends."""
    loop = asyncio.get_running_loop()
    answer: asyncio.Future[T] = loop.create_future()

    def settle(result: T | None, error: Exception | None) -> None:
        if answer.done():
            return
        if error is not None:
            answer.set_exception(error)
        else:
            answer.set_result(result)  # type: ignore[arg-type]

    def run() -> None:
        result: T | None = None
        fault: Exception | None = None
        try:
            result = work(*given, **named)
        except Exception as error:  # handed over, and raised where the answer is awaited
            fault = error
        with suppress(RuntimeError):  # the program has ended meanwhile
            loop.call_soon_threadsafe(settle, result, fault)

    Thread(target=run, daemon=True).start()
    return await answer
