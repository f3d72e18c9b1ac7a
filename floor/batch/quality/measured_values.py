"""Every value measured in a batch, by characteristic, in the order of measuring.

A value typed wrong never was one, so the corrected one takes its place. Of a piece that was measured again the last
reading counts, in limits or not: whoever measured it again said what was wrong with the measurement before, and the
piece is judged by it. The first reading stays beside it, for charts to name (common practice, no source).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import field
from datetime import datetime
from itertools import count
from typing import Any

from floor.batch.events import Proved, iter_events
from floor.batch.gates.check_values import find_values_outside, list_texts, split_by_piece
from floor.batch.gates.measured_pieces import find_measured_pieces
from floor.batch.gates.second_readings import find_first_readings, find_values_read_last
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.gate_forms import make_number_field
from floor.checklist.gates import FirstPiece, Measured, list_asked_values
from floor.checklist.units import convert_unit
from floor.dataclass import dataclass
from floor.entry import Entry
from floor.figures.quality.capability import ToleranceLimits

MEASURING = ("measured", "first piece accepted")
"""The gates, as the record names them, that take values of pieces."""
DIGITS = 5
"""Of a value that no gauge showed."""
_EXACT = 9
"""Decimal places of a value turned into another unit: what is beyond comes from turning it."""


@dataclass(frozen=True, slots=True)
class MeasuredCharacteristic:
    """What is measured at an operation, with its limits."""

    op: int
    what: str
    number: int | None
    """The balloon number on the drawing."""
    unit: str
    low: float | None
    high: float | None
    of_piece: bool
    """Whether it is one of the piece; otherwise a reading at the station."""
    places: int = field(default=0, compare=False)
    """Decimal places of its limits in the checklist's file."""

    @property
    def tolerance(self) -> ToleranceLimits:
        """Its limits; none where both are the same value, which no process can be capable of."""
        return ToleranceLimits(None, None) if self.low == self.high else ToleranceLimits(self.low, self.high)

    def say_limit(self, limit: float) -> str:
        """With the decimal places of the file: 8.00 and not 8."""
        return f"{limit:.{self.places}f}" if self.places else f"{limit:.5g}"

    def is_out(self, value: float) -> bool:
        return (self.low is not None and value < self.low) or (self.high is not None and value > self.high)


@dataclass(frozen=True, slots=True)
class MeasuredValue:
    """One value, in the unit of its characteristic."""

    value: float
    seq: int
    at: datetime
    by: str
    run: int
    load: int
    setup: int
    station: str
    first_piece: bool
    """Whether it was measured to accept the first piece of the set-up."""
    gauge: str
    """The serial number of the gauge, where it was asked for."""
    place: str = ""
    """Of the piece, on its carrier; empty where nobody can tell."""
    text: str = ""
    """As the gauge showed it; empty if that was in another unit."""
    first: str = ""
    """What was read first, in the unit of the characteristic, if the piece was measured again."""


def list_measured_values(batch: Batch) -> dict[MeasuredCharacteristic, list[MeasuredValue]]:
    """Characteristic → its values, also those out of limits; a value that stood in the form and was entered once more
    with others counts once, and struck ones are left out. Of a first piece that is in the sample of
    its load too, the last value counts.
    """
    found: dict[MeasuredCharacteristic, dict[int, MeasuredValue]] = defaultdict(dict)
    numbers = count()  # a value is taken out by its number: to look for it takes long where there are thousands
    entered: set[tuple[int, str, int, MeasuredCharacteristic, float]] = set()
    known: dict[_Same, int] = {}
    kept: dict[tuple[int, str], frozenset[int]] = {}
    for entry, event, run, gate in _iter_readings(batch):
        pieces = find_measured_pieces(batch, entry.seq)
        places = [batch.format_slot(batch.loads[run.load], piece) for piece in pieces]
        out = batch.out.get(entry.seq)
        read, before = (find_values_read_last(out), find_first_readings(out)) if out is not None else (event.values, {})
        stands = kept.get((run.number, event.line), frozenset())
        kept[run.number, event.line] = _list_kept(gate, read) if out is not None else frozenset()
        for characteristic, n, value, text, gauge, first in _read(run.op, gate, read, before):
            # After a piece that was out, the good ones stand in the form and are entered again. A loose one is known
            # by its order in the form alone.
            again = (run.number, event.line, pieces[n] if n < len(pieces) else -1 - n, characteristic, value)
            if again in entered and (n < len(pieces) or n in stands):
                continue
            entered.add(again)
            number, values = next(numbers), found[characteristic]
            values[number] = MeasuredValue(
                value,
                entry.seq,
                entry.done,
                entry.by,
                run.number,
                run.load,
                run.setup,
                run.station,
                isinstance(gate, FirstPiece),
                gauge,
                places[n] if n < len(places) else "",
                text,
                first,
            )
            if n < len(pieces):
                _count_once(values, number, known, (run.number, pieces[n], characteristic))
    return {characteristic: [*values.values()] for characteristic, values in found.items()}


def _iter_readings(batch: Batch) -> Iterator[tuple[Entry, Proved, Run, Measured | FirstPiece]]:
    """Every entry of values at a gate that is still there, without those struck out."""
    measured = (entry for entry in batch.list_entries(Proved.KIND) if entry.body.get("gate") in MEASURING)
    for entry, event in iter_events(measured, Proved):
        run = batch.runs.get(event.run)
        if entry.seq in batch.struck or run is None:
            continue
        gate = dict(batch.find_operation(run).numbered_steps).get(event.line)
        if isinstance(gate, Measured | FirstPiece):
            yield entry, event, run, gate


def _list_kept(gate: Measured | FirstPiece, read: Mapping[str, Any]) -> frozenset[int]:
    """The pieces of a reading out of limits, by their order in it, whose values stand in the form after it: only
    those that were out are replaced, and for loose ones the form keeps the order.
    """
    if not isinstance(gate, Measured) or not gate.of_piece:
        return frozenset()
    asks = gate.asks()
    return frozenset(n for n, piece in enumerate(split_by_piece(gate, read)) if not find_values_outside(asks, piece))


_Same = tuple[int, int, MeasuredCharacteristic]
"""Run, piece and characteristic."""


def _count_once(values: dict[int, MeasuredValue], number: int, known: dict[_Same, int], same: _Same) -> None:
    """Take out the value that this one replaces: of the same piece, as the first one or in the sample."""
    before = known.get(same)
    if before is not None and values[before].first_piece is not values[number].first_piece:
        del values[before]
    known[same] = number


def narrow_values(
    values: Mapping[MeasuredCharacteristic, list[MeasuredValue]], since: datetime | None
) -> dict[MeasuredCharacteristic, list[MeasuredValue]]:
    """Those of that time or later; a characteristic without any is left out."""
    later = {shape: [one for one in some if since is None or one.at >= since] for shape, some in values.items()}
    return {shape: some for shape, some in later.items() if some}


def _read(
    op: int, gate: Measured | FirstPiece, values: Mapping[str, Any], firsts: Mapping[tuple[int, str], str]
) -> Iterator[tuple[MeasuredCharacteristic, int, float, str, str, str]]:
    """(characteristic, of which piece, value, its text, serial number of the gauge, first reading) of each number
    entered, in the unit of the drawing: one balloon may be measured with gauges of both kinds.
    """
    serials = {ask.short: str(values.get(ask.name, "")) for ask in gate.asks() if ask.kind == "gauge"}
    for ask, one in list_asked_values(gate):
        if not one.accept:
            drawn = make_number_field(ask.name, ask.label, one.low, one.high) if one.gauge_unit else ask
            shape = MeasuredCharacteristic(
                op, one.what, one.number, drawn.unit, drawn.low, drawn.high, gate.of_piece, drawn.places
            )
            given = values.get(ask.name)
            read = given if isinstance(given, list) else [given]
            numbers = [both for both in zip(read, list_texts(values, ask.name), strict=True) if _is_number(both[0])]
            for n, (value, text) in enumerate(numbers):
                serial = serials.get(one.gauge, "") if one.serial else ""
                first = firsts.get((n, ask.name), "")
                if drawn.unit == ask.unit:
                    yield shape, n, float(value), text, serial, first
                else:
                    first = f"{convert_unit(float(first), ask.unit, drawn.unit):.{DIGITS}g}" if first else ""
                    yield shape, n, round(convert_unit(value, ask.unit, drawn.unit), _EXACT), "", serial, first


def _is_number(value: object) -> bool:
    return isinstance(value, int | float)
