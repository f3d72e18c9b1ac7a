"""A reading out of limits: which pieces it may concern besides the one measured.

Measuring another piece does not fix the one that is out. It is named and dispositioned, and so are those made since the
last good check, which the same cause may have put out (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any, NamedTuple

from floor.batch.corrections.unproved_work import find_suspect_pieces
from floor.batch.events import Proved, iter_events
from floor.batch.gates.check_values import find_values_outside, format_values_outside
from floor.batch.gates.samples import find_sample_size
from floor.batch.gates.second_readings import find_outside_by_piece, say_second
from floor.batch.load import LOST, Where
from floor.batch.open_items import OutOfLimits
from floor.batch.run import CountMark, Run
from floor.batch.state import Batch
from floor.checklist.gates import ByPlan, FirstPiece, Measured
from floor.text import format_count

OUT_OF_QUESTION: tuple[Where, ...] = ("hold", "stopped", "trial", *LOST)
"""Where a piece may be out of limits and nobody is asked about it: it does not go on from there by itself."""


def stands_until_decided(gate: Measured | FirstPiece, values: dict[str, Any]) -> bool:
    """Whether a reading stands until somebody decides on it, whatever is read next.

    For a piece: always when out. For a station: when too high during or after its cycle, because the pieces have had
    it; a low reading may still rise, and before the start it is adjusted and read again. Of a piece, each that is out.
    Of a station, what is too much while its cycle runs or after it: the pieces have had it. Too little may still come,
    and before the start it is set right and read again.
    """
    wrong = find_values_outside(gate.asks(), values)
    if isinstance(gate, FirstPiece) or gate.of_piece or not wrong:
        return bool(wrong)
    high, given = gate.high, values.get("value")
    read = given if isinstance(given, list) else [given]
    return gate.at in ("cycle", "after") and high is not None and any(one > high.number for one in read if one)


class SuspectPieces(NamedTuple):
    """Unmeasured pieces that the same cause may have put out of limits."""

    before: tuple[int, ...] = ()
    """Made since the last good check and before one that was out, the last made first."""
    after: tuple[int, ...] = ()
    """Made after it, before the next good check, when it was measured: the first made first."""
    earlier: tuple[int, ...] = ()
    """Of the loads before, since the last good check, the last made first."""

    @property
    def all(self) -> tuple[int, ...]:
        """In the order in which they are held."""
        return (*self.before, *self.after, *self.earlier)


class ReadPieces(NamedTuple):
    """The pieces of a run that were measured, where that is known."""

    out: frozenset[int] = frozenset()
    good: frozenset[int] = frozenset()


def find_suspect(
    batch: Batch, run: Run, line: str, gate: Measured, among: Collection[int], read: ReadPieces
) -> SuspectPieces:
    """The pieces that a reading out of limits at this line puts in doubt: of this load, and of the loads before it
    since the last whose check was all good; one good piece of this load clears none of them, as the cause may lie in
    the place.

    None of this load if each of its pieces is checked. None at all where a sampling plan says what is accepted.

    Args:
        among: the pieces of the run when it was measured.
    """
    if not gate.of_piece or isinstance(gate.sample, ByPlan):
        return SuspectPieces()
    own = SuspectPieces() if gate.accept else _find_suspect_here(batch, run, line, gate, among, read)
    mine = set(run.pieces) | set(among)
    others = [piece for one in _runs_since(batch, run, line) for piece in reversed(find_suspect_pieces(batch, one))]
    chosen = (own.before, own.after, (piece for piece in others if piece not in mine))
    return SuspectPieces(
        *(
            tuple(piece for piece in dict.fromkeys(some) if batch.places[piece].where not in OUT_OF_QUESTION)
            for some in chosen
        )
    )


def find_suspect_of(batch: Batch, one: OutOfLimits) -> SuspectPieces:
    """Those of a reading as it stands, pieces named since taken for out; older records say how many at most."""
    run = batch.runs[one.run]
    gate = batch.find_operation(run).gate(one.line)
    assert isinstance(gate, Measured)
    outside = find_outside_by_piece(one)
    out = {piece for piece, wrong in outside.items() if wrong} | one.named
    read = ReadPieces(frozenset(out), frozenset(outside) - out)
    found = find_suspect(batch, run, one.line, gate, one.among, read)
    return found if outside else SuspectPieces(found.all[: one.before])


def _order_pieces(batch: Batch, run: Run) -> dict[int, int]:
    """Piece → its turn on the carrier, also of one that has left it."""
    slots = [piece for piece in batch.loads[run.load].slots if piece is not None]
    return {piece: n for n, piece in enumerate(slots)}


def _find_suspect_here(
    batch: Batch, run: Run, line: str, gate: Measured, among: Collection[int], read: ReadPieces
) -> SuspectPieces:
    """Of this load: between a piece out of limits and the next good one on either side. Where nobody knows which were
    measured good, only their number is left out.
    """
    order = _order_pieces(batch, run)
    unknown = [piece for piece in run.pieces if piece in among and piece not in read.out | read.good]
    out, good = (_list_turns(some, order) for some in (read.out, read.good))
    if not out and not good:
        many = len(among) - min(len(among), find_sample_size(batch, run, line, gate, len(among)))
        return SuspectPieces(tuple(reversed(unknown))[:many])
    before = tuple(piece for piece in reversed(unknown) if _comes_first(order[piece], out, good))
    back_out, back_good = ([-n for n in reversed(some)] for some in (out, good))
    rest = (piece for piece in unknown if piece not in before)
    return SuspectPieces(before, tuple(piece for piece in rest if _comes_first(-order[piece], back_out, back_good)))


def _list_turns(pieces: Collection[int], order: Mapping[int, int]) -> list[int]:
    return sorted(order[piece] for piece in pieces if piece in order)


def _comes_first(at: int, out: Sequence[int], good: Sequence[int]) -> bool:
    """Whether the next piece measured was out of limits."""
    next_out, next_good = (next((n for n in some if n > at), None) for some in (out, good))
    return next_out is not None and (next_good is None or next_out < next_good)


def _runs_since(batch: Batch, run: Run, line: str) -> list[Run]:
    """Other runs of the operation at this station since the last good check, the latest first."""
    same = [one for one in batch.runs.values() if (one.op, one.station) == (run.op, run.station) and one is not run]
    good = _last_good(batch, run, line)
    return [one for one in reversed(same) if one.number > good and (one.started or one.count)]


def _last_good(batch: Batch, run: Run, line: str) -> int:
    """The number of the run in which the last good check at this line was made; 0 where there was none."""
    gate = dict(batch.find_operation(run).numbered_steps).get(line)
    for entry, proved in iter_events(reversed(batch.entries), Proved):
        if proved.line != line or entry.seq in batch.struck:
            continue
        there = batch.runs.get(proved.run)
        if there is None or there is run or (there.op, there.station) != (run.op, run.station):
            continue
        if isinstance(gate, Measured) and not find_values_outside(gate.asks(), proved.values):
            return there.number
    return 0


def stays_on_carrier(batch: Batch, run: Run, one: OutOfLimits) -> bool:
    """Whether a piece stays on its carrier until the count repeats the decision.

    A piece found out before the cycle leaves the load at once, so nothing more is done to it.
    """
    step = dict(batch.find_operation(run).numbered_steps).get(one.line)
    phase = step.at if step is not None else "after"
    work_is_done = not batch.find_operation(run).cycle or run.started is not None or phase in ("cycle", "after")
    return run.count is None and run.released is None and work_is_done


def list_undecided_readings(batch: Batch) -> list[OutOfLimits]:
    """Open readings out of limits other than the current line of a run: each has its own row."""
    return [
        one
        for one in batch.list_open_out_of_limits()
        if not one.gate.of_piece or batch.runs[one.run].released is not None
    ]


def find_pieces_in_question(batch: Batch) -> set[int]:
    """Pieces that an open decision on a reading may concern: out of limits, not named yet, or made since a good one."""
    found: set[int] = set()
    for one in batch.list_open_out_of_limits():
        if one.left:
            found |= one.among - one.named
        if one.asks_before:
            found.update(find_suspect_of(batch, one).all)
    return found


def describe_outside(batch: Batch, one: OutOfLimits, pieces: Collection[int]) -> str:
    """What of these pieces is out of limits, without their places: ``depth 3.2, must be …``."""
    by_piece = find_outside_by_piece(one)
    faults = ["; ".join(wrong) for piece, wrong in by_piece.items() if wrong and piece in pieces]
    return "; ".join(dict.fromkeys(faults)) or format_values_outside(one)


def describe_each_outside(batch: Batch, one: OutOfLimits, *, all: bool = False) -> str:
    """What is out of limits, each piece named by its place where that is known: ``A1: depth 3.2, must be …; B2: …``.

    Args:
        all: also those decided on; else what is still to be decided.
    """
    load = batch.loads[batch.runs[one.run].load]
    by_piece = find_outside_by_piece(one)
    chosen = {piece: wrong for piece, wrong in by_piece.items() if wrong and (all or piece not in one.named)}
    told = [f"{batch.format_slot(load, piece)}: {'; '.join(wrong)}" for piece, wrong in chosen.items()]
    return "; ".join(told) or format_values_outside(one)


def find_next_outside(one: OutOfLimits) -> int | None:
    """The first piece out of limits that is still to be named; None where the record does not say whose values."""
    by_piece = find_outside_by_piece(one)
    return next((piece for piece, wrong in by_piece.items() if wrong and piece not in one.named), None)


def say_open(batch: Batch, one: OutOfLimits) -> str:
    """``load 2, op 10: A1: groove depth 3.2, wanted 2.9 to 3.1 mm (AA): the piece is not named``."""
    where = f"load {batch.runs[one.run].load}, op {one.op}"
    if not one.gate.of_piece:
        station = batch.checklist.station(batch.runs[one.run].station).name
        loads = sorted({batch.places[piece].load or batch.runs[one.run].load for piece in one.among})
        rode = ", ".join(f"load {load}" for load in loads)
        return f"{station}: {format_values_outside(one)} ({one.by}), with {rode} in it"
    known = find_next_outside(one) is not None
    left = "the piece is not named" if not one.decided else f"{one.left} still to be named"
    left = f"{format_count(one.left, 'piece')} to decide on" if known else left
    open_ = left if one.left else _say_suspect(batch, one)
    done = "; ".join(f"{decided.where} {decided.to} ({decided.by})" for decided in one.decided)
    again = "" if known else "; ".join(list_second_readings(batch, one))
    return f"{where}: {describe_each_outside(batch, one)} ({one.by}): {'; '.join(filter(None, (done, again, open_)))}"


def _say_suspect(batch: Batch, one: OutOfLimits) -> str:
    many = len(find_suspect_of(batch, one).all)
    return f"{many} made since the last good check, not decided yet" if many else "to be confirmed: none is suspect now"


def list_second_readings(batch: Batch, one: OutOfLimits) -> list[str]:
    """What was read again or corrected, in words."""
    load = batch.loads[batch.runs[one.run].load]
    return [
        say_second(one, each, batch.format_slot(load, one.pieces[each.nth]) if each.nth < len(one.pieces) else "")
        for each in one.again
    ]


def format_marked_pieces(batch: Batch, run: Run, mark: CountMark) -> str:
    """``Pallet 1 A1, A2``, or how many of it."""
    load = batch.loads[run.load]
    names = ", ".join(filter(None, (batch.format_slot(load, piece) for piece in mark.pieces)))
    return f"{batch.format_carrier(load)} {names or format_count(len(mark.pieces), 'piece')}"
