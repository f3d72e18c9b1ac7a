"""Whether an operation is the same work in another checklist, or still in its own file."""

from __future__ import annotations

from typing import Protocol

from floor.checklist.model import Checklist
from floor.checklist.operation import Operation


class Work(Protocol):
    """What tells one operation from another of its number."""

    @property
    def op(self) -> int: ...
    @property
    def title(self) -> str: ...
    @property
    def station(self) -> str: ...
    @property
    def cycle(self) -> bool: ...


def find_same_work(operation: Work, now: Checklist) -> Operation | None:
    """The operation as the file has it now, if it is the same work."""
    there = now.ops.get(operation.op)
    same = there is not None and (there.title, there.station, there.cycle) == (
        operation.title,
        operation.station,
        operation.cycle,
    )
    return there if same else None
