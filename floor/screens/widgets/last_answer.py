"""What was worked out last, for as long as it is asked for in the same way: a screen is shown again each second."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar, cast

T = TypeVar("T")


class Memo:
    """The last answer of each piece of work about something that never changes itself, such as a plan."""

    def __init__(self) -> None:
        self._found: dict[Callable[..., object], tuple[object, tuple[object, ...], object]] = {}

    def of(self, work: Callable[..., T], about: object, *given: object) -> T:
        """``work(about, *given)``, done again only where it is about something else, or asked in another way."""
        known = self._found.get(work)
        if known is None or known[0] is not about or known[1] != given:
            known = self._found[work] = (about, given, work(about, *given))
        return cast(T, known[2])
