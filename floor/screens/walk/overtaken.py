"""What somebody typed for a line that another terminal recorded meanwhile: who did, what stands, what does not."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from floor.batch.describe import describe_parts
from floor.batch.events import Event, MeasuredAgain, OutDecided, StruckOut, iter_events, read_event
from floor.batch.gates.check_values import format_values
from floor.batch.state import Batch
from floor.batch.walk.lines import Line, Walk
from floor.screens.forms.form import Form
from floor.text import cut

MOST_TYPED = 60
"""Cells of what was typed that are said again: enough to see how it differs from what was recorded."""


class Typed(NamedTuple):
    """What somebody typed in a field, and which one."""

    name: str
    label: str
    text: str


class Seen:
    """A line of a walk as it stood on view, and what was typed in its form."""

    def __init__(self, shown: tuple[str, int], form: Form) -> None:
        self.line, self.seq = shown
        self.form = form
        self.about = form.about
        self.typed = _list_typed(form)

    def answer(self, batch: Batch, walked: Walk) -> str:
        """What to say where another terminal recorded at the line; empty where none did.

        What was typed and is asked for still stands in the form again.
        """
        current = walked.current
        if current is None or not self.line or batch.seq == self.seq:
            return ""
        moved = current.key != self.line
        if not moved and (not self.typed or self.form.about == self.about):
            return ""
        said = _describe_recorded(batch, walked.line(self.line))
        if not self.typed:
            return said
        if not moved and _put_back(self.form, self.typed) == len(self.typed):
            return f"{said}; what you typed still stands here, not recorded"
        return f"{said}; {_say_not_recorded(one.text for one in self.typed)}"


def describe_decided_since(batch: Batch, seen: int, out: int, typed: str) -> str:
    """What another terminal recorded last about a reading out of limits, and that what was typed here does not stand.

    Args:
        seen: the last entry when the form was opened.
        out: the entry of the reading.
    """
    since = iter_events(batch.entries[seen:], MeasuredAgain, OutDecided, StruckOut)
    told = [entry for entry, event in since if out in _list_subjects(batch, event)]
    by, said = (told[-1].by, describe_parts(batch, told[-1]).what) if told else (batch.entries[-1].by, "")
    recorded = f"{by} recorded this at another terminal: {said}" if said else f"{by} recorded here at another terminal"
    return f"{recorded}; {_say_not_recorded([typed])}"


def _list_subjects(batch: Batch, event: Event) -> tuple[int, ...]:
    """The readings that an entry is about; what was struck out may have been about one itself."""
    if not isinstance(event, StruckOut):
        return (event.out,) if isinstance(event, MeasuredAgain | OutDecided) else ()
    struck = read_event(batch.entries[event.seq - 1])
    return (event.seq, struck.out) if isinstance(struck, MeasuredAgain | OutDecided) else (event.seq,)


def _say_not_recorded(typed: Iterable[str]) -> str:
    return f"yours was not recorded: {cut(', '.join(typed), MOST_TYPED)}"


def _list_typed(form: Form) -> list[Typed]:
    """In the order of the fields; what was proposed is not typed, and no secret is kept."""
    return [
        Typed(field.name, field.label, input.value)
        for field, input in zip(form.fields, form.inputs, strict=True)
        if input.value.strip() not in ("", field.value) and not field.secret
    ]


def _put_back(form: Form, typed: Sequence[Typed]) -> int:
    """Put what was typed before into the fields that ask for it still and are empty; into how many."""
    fields = zip(form.fields, form.inputs, strict=True)
    empty = {(field.name, field.label): input for field, input in fields if not input.value}
    found = [(empty[one[:2]], one.text) for one in typed if one[:2] in empty]
    for input, text in found:
        input.value = text
    return len(found)


def _describe_recorded(batch: Batch, line: Line | None) -> str:
    """Who recorded what at a line as it is now."""
    proof = line.verdict.proof if line is not None and line.verdict is not None else None
    by = proof.by if proof is not None else batch.entries[-1].by
    if line is None or (proof is None and not line.is_satisfied):
        return f"{by} recorded here at another terminal"
    values = format_values(line.gate.asks(), proof.values) if proof is not None and line.gate else line.evidence
    return f"{by} recorded this at another terminal{f': {values}' if values else ''}"
