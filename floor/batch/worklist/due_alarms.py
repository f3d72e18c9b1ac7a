"""What rings: tasks that have become ready, and windows about to close, each once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import field
from datetime import datetime, timedelta

from floor.batch.worklist.due_task import CLOSING_SOON, DueTask
from floor.dataclass import dataclass
from floor.text import format_clock

SAME_WINDOW = timedelta(minutes=1)
"""A window that closes within this of one already announced is the same news."""


@dataclass(slots=True)
class DueAlarms:
    """What a terminal has announced so far."""

    waiting: dict[str, DueTask] | None = None
    """Tasks that were not ready yet at the last check, by key; None before the first."""
    closing: dict[tuple[str, int | None, int | None], datetime] = field(default_factory=dict)
    """(batch, load, op) → the close that was announced."""

    def list_news(self, tasks: Iterable[DueTask], now: datetime) -> list[str]:
        """What has become ready since the last check, and which windows are about to close, a line each."""
        due = {one.key: one for one in tasks}
        before = self.waiting
        self.waiting = {key: one for key, one in due.items() if one.when is not None}
        if before is None:
            return []
        over = [key for key, one in before.items() if key not in self.waiting and one.when and one.when <= now]
        ripe = [due.get(key, before[key]) for key in over]  # the wait is over: what is to be done now
        said = [f"{one.sentence} · {one.where}{f', load {one.load}' if one.load else ''} · {one.batch}" for one in ripe]
        return [*said, *self._announce_closing(due.values(), now)]

    def _announce_closing(self, due: Iterable[DueTask], now: datetime) -> Iterator[str]:
        for one in due:
            if one.closes is None or one.closes - now >= CLOSING_SOON:
                continue
            what = (one.batch, one.load, one.op)
            told = self.closing.get(what)
            if told is None or abs(one.closes - told) > SAME_WINDOW:
                self.closing[what] = one.closes
                yield f"Do by {format_clock(one.closes, now)}: {one.sentence} · {one.where} · {one.batch}"
