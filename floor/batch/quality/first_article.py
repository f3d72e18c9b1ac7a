"""The first article of a batch: what its first pieces were accepted by, made of what, and what was verified since.

After AS9102 as far as it is public: part, materials and processes, each numbered characteristic. The first acceptance
at each operation is the full one, so every batch has its own, however long ago the part was made last. A later one,
at another set-up or after a change, is partial: it has only what was measured then, and why.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from typing import Any

from floor.batch.events import Proved, iter_events
from floor.batch.gates.check_values import find_values_outside, format_values, split_by_piece
from floor.batch.gates.measured_pieces import find_measured_pieces
from floor.batch.gates.second_readings import find_first_readings, find_values_read_last
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.gate_forms import FormField, make_number_field
from floor.checklist.gates import Characteristic, FirstPiece, Gate, Measured, list_asked_values
from floor.checklist.units import convert_unit
from floor.dataclass import dataclass
from floor.entry import Entry


@dataclass(frozen=True, slots=True)
class Result:
    """A characteristic of the drawing as verified once."""

    op: int
    what: str
    number: int | None
    """The balloon number on the drawing."""
    required: str
    found: str
    """Empty if nobody has verified it yet."""
    good: bool = True
    gauge: str = ""
    """Serial number, or the kind of gauge if none was asked for."""
    seq: int = 0
    """The entry."""
    of: str = ""
    """What it was found on: ``load 1, first piece``, ``load 1 B2``."""
    by_first: bool = True
    """Whether on the first piece."""
    piece: int | None = None
    """Where that is known."""


@dataclass(frozen=True, slots=True)
class Acceptance:
    """A first piece looked at by all that its gate asks for."""

    op: int
    setup: int
    run: int
    load: int
    seq: int
    at: datetime
    by: str
    """Who accepted it."""
    good: bool
    results: tuple[Result, ...]
    found: str
    """In words, where the gate has no characteristics."""
    why: str
    """Why it was done again at the same set-up; empty for the first one of a set-up."""


@dataclass(frozen=True, slots=True)
class FirstArticle:
    full: tuple[Acceptance, ...]
    """The first good one at each operation."""
    partial: tuple[Acceptance, ...]
    """Good ones after it, in the order made."""
    refused: tuple[Acceptance, ...]
    """With a value out of limits."""
    results: tuple[Result, ...]
    """Each characteristic of the checklist once, in the order of the drawing; those nobody verified without a value."""
    out: tuple[Result, ...] = ()
    """What was measured out of limits before one of them was verified on another piece."""

    @property
    def elsewhere(self) -> int:
        """Characteristics verified on another piece than the first; a first article is one piece."""
        first = next((one.piece for one in self.results if one.by_first and one.piece is not None), None)
        return sum(
            bool(one.found) and (one.piece != first if one.piece is not None and first else not one.by_first)
            for one in self.results
        )

    @property
    def missing(self) -> tuple[Result, ...]:
        return tuple(one for one in self.results if not one.found)


def find_first_article(batch: Batch) -> FirstArticle:
    """What is on record of the first pieces; struck entries are left out."""
    accepted = list(_iter_acceptances(batch))
    full: dict[int, Acceptance] = {}
    for one in accepted:
        if one.good:
            full.setdefault(one.op, one)
    partial = tuple(one for one in accepted if one.good and one is not full[one.op])
    refused = tuple(one for one in accepted if not one.good)
    results = _list_first_results(batch, full.values())
    return FirstArticle(tuple(full.values()), partial, refused, results, _list_out_before(batch, results))


def _list_out_before(batch: Batch, results: Iterable[Result]) -> tuple[Result, ...]:
    """Of characteristics that no first piece was accepted by."""
    verified = {(one.op, one.what): one.seq for one in results if one.found and not one.by_first}
    bad = (one for one in _iter_measured(batch) if not one.good)
    return tuple(one for one in bad if one.seq < verified.get((one.op, one.what), 0))


def _list_first_results(batch: Batch, full: Iterable[Acceptance]) -> tuple[Result, ...]:
    """Each characteristic with what verified it first: an accepted first piece, else the first good reading."""
    first = {(one.op, one.what): one for acceptance in full for one in acceptance.results}
    for result in _iter_measured(batch):
        if result.good:
            first.setdefault((result.op, result.what), result)
    wanted = [first.get((one.op, one.what), one) for one in _list_wanted(batch)]
    # One balloon may be checked at several operations: verified at one, it is verified.
    verified = {(one.number, one.what) for one in wanted if one.number is not None and one.found}
    kept = [one for one in wanted if one.found or (one.number, one.what) not in verified]
    return tuple(sorted(kept, key=lambda one: (one.number is None, one.number or 0, one.op)))


def has_first_pieces(batch: Batch) -> bool:
    """Whether the checklist asks for a first piece anywhere."""
    return any(isinstance(step, FirstPiece) for operation in batch.checklist.operations for step in operation.steps)


def _list_wanted(batch: Batch) -> list[Result]:
    """Each characteristic of a piece that the checklist asks for, not verified."""
    found: dict[tuple[int, str], Result] = {}
    for operation in batch.checklist.operations:
        for step in operation.steps:
            if isinstance(step, FirstPiece | Measured) and step.of_piece:
                for ask, one in list_asked_values(step):
                    found.setdefault((operation.op, one.what), _make_result(operation.op, one, ask))
    return list(found.values())


def _make_result(op: int, one: Characteristic | Measured, ask: FormField) -> Result:
    return Result(op, one.what, one.number, _say_required(one, ask), "")


def _say_required(one: Characteristic | Measured, ask: FormField) -> str:
    """As the drawing has it, whatever the gauge shows."""
    if one.accept or not one.gauge_unit:
        return one.accept or ask.band
    return make_number_field(ask.name, ask.label, one.low, one.high).band


def _convert(one: Characteristic | Measured, ask: FormField, value: object) -> str:
    """`` (12.027 mm)``: a value read in another unit as the drawing has it, one place finer than its limits."""
    if not one.gauge_unit or not isinstance(value, int | float):
        return ""
    drawn = make_number_field(ask.name, ask.label, one.low, one.high)
    if drawn.unit == ask.unit:
        return ""
    return f" ({convert_unit(value, ask.unit, drawn.unit):.{drawn.places + 1}f} {drawn.unit})"


def _iter_acceptances(batch: Batch) -> Iterator[Acceptance]:
    for entry, event, run, gate in _iter_proofs(batch, "first piece accepted"):
        assert isinstance(gate, FirstPiece)
        good = not find_values_outside(gate.asks(), _find_values_read(batch, entry, event))
        yield Acceptance(
            run.op,
            run.setup,
            run.number,
            run.load,
            entry.seq,
            entry.done,
            str(event.values.get("person", entry.by)),
            good,
            tuple(_read_results(batch, run, gate, entry, event)),
            str(event.values.get("found", "")),
            event.again,
        )


def _iter_measured(batch: Batch) -> Iterator[Result]:
    """What the first reading of each load's gates found, the earliest first."""
    for entry, event, run, gate in _iter_proofs(batch, "measured"):
        if isinstance(gate, Measured) and gate.of_piece:
            yield from _read_results(batch, run, gate, entry, event)


def _iter_proofs(batch: Batch, kind: str) -> Iterator[tuple[Entry, Proved, Run, Gate]]:
    entries = (one for one in batch.entries if one.body.get("gate") == kind and one.seq not in batch.struck)
    for entry, event in iter_events(entries, Proved):
        run = batch.runs.get(event.run)
        step = batch.find_operation(run).step(event.line) if run is not None else None
        if run is not None and isinstance(step, FirstPiece | Measured):
            yield entry, event, run, step


def _find_values_read(batch: Batch, entry: Entry, event: Proved) -> Mapping[str, Any]:
    """As they were read last: what was typed wrong never was, and of a piece measured again the last reading counts."""
    out = batch.out.get(entry.seq)
    return find_values_read_last(out) if out is not None else event.values


def _read_results(batch: Batch, run: Run, gate: FirstPiece | Measured, entry: Entry, event: Proved) -> Iterator[Result]:
    """The values of the first piece of a reading."""
    values = next(iter(split_by_piece(gate, _find_values_read(batch, entry, event))), {})
    out = batch.out.get(entry.seq)
    firsts = find_first_readings(out) if out is not None else {}
    serials = {ask.short: str(event.values.get(ask.name, "")) for ask in gate.asks() if ask.kind == "gauge"}
    first = isinstance(gate, FirstPiece)
    load, pieces = batch.loads[run.load], find_measured_pieces(batch, entry.seq)
    piece = pieces[0] if pieces else None
    place = f" {batch.format_slot(load, piece)}" if piece is not None else ""
    for ask, one in list_asked_values(gate):
        if ask.name in values:
            bare = ask._replace(short="")
            first_read = firsts.get((0, ask.name), "")
            yield Result(
                run.op,
                one.what,
                one.number,
                _say_required(one, ask),
                format_values((bare,), values)
                + _convert(one, ask, values[ask.name])
                + (f", first {first_read}" if first_read else ""),
                not find_values_outside((ask,), values),
                serials.get(one.gauge, "") or one.gauge,
                entry.seq,
                f"load {run.load}{place}{', first piece' if first else ''}",
                first,
                piece,
            )
