"""Shared by the words for all kinds of entry: the table of describers, and names for lines and cycles."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from floor.batch.corrections.unproved_work import find_line_title
from floor.batch.events import (
    Event,
    Proved,
    StepDone,
    StepsChecked,
    StepSkipped,
)
from floor.batch.state import Batch

E = TypeVar("E", bound=Event)
DESCRIBED: dict[type[Event], Callable[[Batch, Any], str]] = {}
"""Kind of entry → the function that puts it into words, without where it was."""


def describes(kind: type[E]) -> Callable[[Callable[[Batch, E], str]], Callable[[Batch, E], str]]:
    """Register a function that puts a kind of entry into words."""

    def made(words: Callable[[Batch, E], str]) -> Callable[[Batch, E], str]:
        DESCRIBED[kind] = words
        return words

    return made


def format_other_loads(batch: Batch, event: Event) -> str:
    """``, with load 4``: the other loads that one cycle took."""
    others = [str(batch.runs[run].load) for run in event.runs[1:] if run in batch.runs]
    return f", with load {', '.join(others)}" if others else ""


def format_line_title(batch: Batch, event: Proved | StepDone | StepSkipped | StepsChecked, line: str) -> str:
    """The title of a line that an entry is about, also where its run is struck out."""
    run = batch.runs.get(event.run)
    operation = batch.find_operation(run) if run is not None else batch.checklist.ops[event.op]
    return find_line_title(batch, operation, line)
