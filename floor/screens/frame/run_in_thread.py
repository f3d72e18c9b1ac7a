"""Work off the thread of the keys."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import suppress
from threading import Thread
from typing import Any, Generic, TypeVar

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


class NotReady(Exception):
    """The answer of work begun ahead is not there yet."""

    def __init__(self, ahead: Ahead[Any]) -> None:
        super().__init__()
        self.ahead = ahead


class Ahead(Generic[T]):
    """Work begun in a thread before anybody needs it: as a rule its answer is there once they have typed."""

    def __init__(self, work: Callable[[], T]) -> None:
        self._answer: Future[T] = Future()
        Thread(target=self._run, args=(work,), daemon=True).start()

    def _run(self, work: Callable[[], T]) -> None:
        try:
            self._answer.set_result(work())
        except Exception as error:  # raised where the answer is taken
            self._answer.set_exception(error)

    def take(self) -> T:
        """The answer, or what the work raised.

        Raises:
            NotReady: it is still under way; a form then waits for it without holding up the keys.
        """
        if not self._answer.done():
            raise NotReady(self)
        return self._answer.result()

    async def wait(self) -> None:
        """Until the answer is there, good or not."""
        await run_in_thread(self._answer.exception)
