"""A reading out of limits: which pieces it may concern besides the one measured.

Measuring another piece does not fix the one that is out. It is named and dispositioned, and so are those made since the
last good check, which the same cause may have put out (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from floor.batch.corrections.unproved_work import find_suspect_pieces
from floor.batch.events import Proved, iter_events
from floor.batch.gates.check_values import find_values_outside, format_values_outside
from floor.batch.gates.samples import find_sample_size
from floor.batch.gates.second_readings import find_outside_by_piece, say_second
from floor.batch.load import Where
from floor.batch.open_items import OutOfLimits
from floor.batch.run import CountMark, Run
from floor.batch.state import Batch
from floor.checklist.gates import ByPlan, FirstPiece, Measured
from floor.text import format_count

OUT_OF_QUESTION: tuple[Where, ...] = ("hold", "stopped", "trial", "scrap")
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


def list_pieces_made_since(
    batch: Batch,
    run: Run,
    line: str,
    gate: Measured,
    among: Collection[int],
    named: Collection[int] = (),
    measured: Collection[int] = (),
) -> tuple[int, ...]:
    """Unmeasured pieces made since the last good check at this line: of this load those before the one that was out,
    the last first, then those after it; then those of earlier loads, the last first.

    None of this load if each of its pieces is checked; of earlier runs those after the last check. None at all where a
    sampling plan says what is accepted.

    Args:
        among: the pieces of the run when it was measured.
        named: those of them that were out.
        measured: those whose values were read, where that is known.
    """
    if not gate.of_piece or isinstance(gate.sample, ByPlan):
        return ()
    own = [] if gate.accept else _list_doubtful_here(batch, run, line, gate, among, named, measured)
    earlier = [piece for one in _runs_since(batch, run, line) for piece in reversed(find_suspect_pieces(batch, one))]
    mine = set(run.pieces) | set(among)
    return tuple(
        piece
        for piece in dict.fromkeys([*own, *(one for one in earlier if one not in mine)])
        if batch.places[piece].where not in OUT_OF_QUESTION
    )


def _list_doubtful_here(
    batch: Batch,
    run: Run,
    line: str,
    gate: Measured,
    among: Collection[int],
    named: Collection[int],
    measured: Collection[int],
) -> list[int]:
    """Of this load. Where nobody knows which were measured good, only their number is left out."""
    many = len(among) - min(len(among), find_sample_size(batch, run, line, gate, len(among)))
    unknown = [piece for piece in run.pieces if piece in among and piece not in named and piece not in measured]
    order = {piece: n for n, piece in enumerate(run.pieces)}
    out = min((order[piece] for piece in named if piece in order), default=len(order))
    before = [piece for piece in unknown if order[piece] < out]
    return [*reversed(before), *unknown[len(before) :]][:many]


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


def describe_outside(batch: Batch, one: OutOfLimits, pieces: Collection[int] | None = None) -> str:
    """What of these pieces is out of limits, each named by its place where that is known: ``A1: depth 3.2 mm, …``.

    Args:
        pieces: left out, all that are still to be named.
    """
    by_piece = find_outside_by_piece(one)
    chosen = {
        piece: wrong
        for piece, wrong in by_piece.items()
        if wrong and (piece not in one.named if pieces is None else piece in pieces)
    }
    if not chosen:
        return format_values_outside(one)
    load = batch.loads[batch.runs[one.run].load]
    faults = {piece: "; ".join(wrong) for piece, wrong in chosen.items()}
    if pieces is None:
        return "; ".join(f"{batch.format_slot(load, piece)}: {fault}" for piece, fault in faults.items())
    return "; ".join(dict.fromkeys(faults.values()))


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
    open_ = left if one.left else f"{one.before} made since the last good check, not decided yet"
    done = "; ".join(f"{decided.where} {decided.to} ({decided.by})" for decided in one.decided)
    again = "" if known else "; ".join(list_second_readings(batch, one))
    return f"{where}: {describe_outside(batch, one)} ({one.by}): {'; '.join(filter(None, (done, again, open_)))}"


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
