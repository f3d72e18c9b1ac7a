"""Whether a held piece still stands out of limits, and what shows that it conforms after all.

Only what was done to this piece clears it: its rework, the operation once more, or a new reading of it. A good reading
of another piece says nothing of this one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple, TypeVar

from floor.batch import events
from floor.batch.command import Refused
from floor.batch.events import Counted, Disposed, Event, iter_events
from floor.batch.gates.check_values import find_values_outside, format_reading, split_by_piece
from floor.batch.gates.entered_values import find_digits_shown, read_value
from floor.batch.gates.second_readings import find_values_standing
from floor.batch.open_items import OutOfLimits
from floor.batch.state import Batch
from floor.checklist.gate_forms import FormField
from floor.checklist.gates import Characteristic, Measured
from floor.text import LONGEST_TEXT, format_count

_E = TypeVar("_E", bound=Event)


class StandingValue(NamedTuple):
    """A value of a piece that was out of limits."""

    out: int
    """The entry that read it."""
    ask: FormField


def list_standing_values(batch: Batch, piece: int) -> list[StandingValue]:
    """The values by which a piece stands out of limits."""
    standing = list_standing_readings(batch, [piece])
    return [StandingValue(one.seq, ask) for one in standing for ask in _list_outside(one, piece)]


def list_standing_readings(batch: Batch, pieces: Iterable[int]) -> list[OutOfLimits]:
    """Readings that found one of these pieces out of limits, if nothing has cleared it since."""
    chosen = set(pieces)
    return [
        one
        for one in batch.out.values()
        if one.gate.of_piece and any(not _is_cleared(batch, piece, one) for piece in one.named & chosen)
    ]


def read_again(batch: Batch, pieces: Sequence[int], given: Sequence[object]) -> tuple[events.ReadAgain, ...]:
    """What was read on a piece once more, in the order of `list_standing_values`; empty where nothing was.

    Raises:
        Refused: of several pieces, not each value, or no value of its kind.
    """
    if not any(str(one or "").strip() for one in given):
        return ()
    if len(pieces) != 1:
        raise Refused("input", "a reading is that of one piece", "decide on each piece by itself", field="measured-1")
    standing = list_standing_values(batch, pieces[0])
    if len(given) != len(standing):
        many = f"{format_count(len(given), 'value')} measured again, {len(standing)} out of limits"
        raise Refused("count", many, "enter one for each", field="measured-1")
    found = []
    for n, (value, entered) in enumerate(zip(standing, given, strict=True), 1):
        ask = value.ask._replace(name=f"measured-{n}")
        read = read_value(ask, entered)
        assert read is not None, "each is asked for"
        good = not find_values_outside((ask,), {ask.name: read})
        shown = find_digits_shown(entered, read)
        found.append(
            events.ReadAgain(
                out=value.out, what=ask.short or ask.label, value=read, unit=ask.unit, good=good, shown=shown
            )
        )
    return tuple(found)


def say_why_used(event: Disposed) -> str:
    """``two hundredths deep, concession of Ms Vance 2026-11-20, 12``, or ``…, measured again: depth 3.05 mm``."""
    again = ", ".join(map(format_reading, event.measured))
    return (
        event.reason
        + (f", concession {event.concession}" if event.concession else "")
        + (f", concession of {_say_granted(event.granted)}" if event.granted is not None else "")
        + (f", measured again: {again}" if again else "")
    )


def find_where(event: Disposed) -> str:
    """Which pieces those were and what held them; empty where older records cut it short, after a few of many."""
    return "" if len(event.where) == LONGEST_TEXT else event.where


def _say_granted(granted: events.Concession) -> str:
    return f"{granted.by} {granted.on}" + (f", {granted.number}" if granted.number else "")


def _list_outside(one: OutOfLimits, piece: int) -> list[FormField]:
    """What of a piece was out of limits; of the whole reading where the record does not say whose values they were."""
    if isinstance(one.gate, Measured) and one.gate.accept:  # the form asked how many fail
        return [Characteristic(what=one.gate.what, accept=one.gate.accept).ask("value")]
    values = find_values_standing(one)
    by_piece = split_by_piece(one.gate, values)
    if len(by_piece) == len(one.pieces) and piece in one.pieces:
        values = by_piece[one.pieces.index(piece)]
    return [ask for ask in one.gate.asks() if find_values_outside((ask,), values)]


def _is_cleared(batch: Batch, piece: int, one: OutOfLimits) -> bool:
    """Whether a piece was accepted, found good, reworked, or passed the operation once more, since it was out."""
    return any(
        event.concession or event.granted is not None or one.seq in _list_cleared(event)
        for _, event in _iter_since(batch, one, Disposed)
        if piece in event.pieces and event.decision == "use as is"
    ) or _has_passed_again(batch, piece, one)


def _list_cleared(event: Disposed) -> set[int]:
    """The readings out of limits for which each value was good when it was read again."""
    return {one.out for one in event.measured} - {one.out for one in event.measured if not one.good}


def _has_passed_again(batch: Batch, piece: int, one: OutOfLimits) -> bool:
    """Whether it came out good of a later run of the operation, or of the last operation of its rework."""
    ways = [(one.op, one.seq), *_iter_reworks(batch, piece, one)]
    return any(
        run.count is not None
        and run.number != one.run
        and any(run.op == op and run.count.seq > seq for op, seq in ways)
        and piece in run.pieces
        and not any(piece in mark.pieces for mark in run.count.marks)
        for run in batch.runs.values()
    )


def _iter_reworks(batch: Batch, piece: int, one: OutOfLimits) -> Iterator[tuple[int, int]]:
    """(last operation of its own, the entry that sent the piece there) of each rework since."""
    for seq, disposed in _iter_since(batch, one, Disposed):
        if piece in disposed.pieces and disposed.rework:
            yield _find_last_op(batch, disposed.rework), seq
    for seq, count in _iter_since(batch, one, Counted):
        for mark in count.marks:
            reason = batch.operation(count.op).reason(mark.reason)
            if piece in mark.pieces and mark.to == "rework" and reason is not None:
                yield _find_last_op(batch, reason.rework), seq


def _find_last_op(batch: Batch, rework: str) -> int:
    route = batch.checklist.rework(rework)
    assert route is not None, "checked when it was sent there"
    return route.ops[-1] if route.ops else route.back_to


def _iter_since(batch: Batch, one: OutOfLimits, kind: type[_E]) -> Iterator[tuple[int, _E]]:
    """Entries of a kind after a reading, that were not struck out."""
    found = iter_events(batch.entries[one.seq :], kind)
    return ((entry.seq, event) for entry, event in found if entry.seq not in batch.struck)
