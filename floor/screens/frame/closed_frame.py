"""The frame of a screen that also reads closed batches."""

from __future__ import annotations

from floor.batch.state import Batch
from floor.screens.frame.screen import BatchFrame
from floor.screens.frame.troubles import Trouble
from floor.wall import format_local

STRUCK = "✕ STRUCK OUT "


class ClosedFrame(BatchFrame):
    """A screen that also reads closed batches: those are folded once, for they never change again."""

    _folded: Batch | None = None

    def missing(self, batch: Batch) -> str:
        return ""

    @property
    def current_batch(self) -> Batch:
        if self._folded is None:
            batch = super().current_batch
            if batch.closed is None and not batch.damage:
                return batch
            self._folded = batch
        return self._folded

    def abnormal(self) -> list[Trouble]:
        closed = self.current_batch.closed
        said = f"This batch was closed {format_local(closed, '%Y-%m-%d %H:%M')}: it can only be read" if closed else ""
        return [*([Trouble("know", said)] if said else []), *super().abnormal()]
