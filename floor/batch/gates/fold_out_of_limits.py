"""What is read out of limits, and what is decided about it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from floor.batch.events import BeforeDecided, Mark, MeasuredAgain, OutDecided, OutSettled, Proved
from floor.batch.fold_registry import Inapplicable, handles, require
from floor.batch.gates.check_values import find_values_outside, split_by_piece
from floor.batch.gates.measured_pieces import list_values_to_read_again, name_pieces
from floor.batch.gates.second_readings import put_second
from floor.batch.open_items import Decided, OutOfLimits, SecondReading
from floor.batch.run import CountMark, Run
from floor.batch.state import Batch
from floor.checklist.gates import FirstPiece, Measured
from floor.entry import Entry


def read_out(
    batch: Batch, entry: Entry, event: Proved, run: Run, gate: Measured | FirstPiece, at: datetime
) -> OutOfLimits:
    """Which pieces a reading concerns: for a piece, one of the run's; for a station, all in it now."""
    in_it = [one for one in batch.list_open_runs() if one.station == run.station and (one is run or one.running)]
    among = run.undecided if gate.of_piece else [piece for one in in_it for piece in one.pieces]
    return OutOfLimits(
        seq=entry.seq,
        run=run.number,
        op=run.op,
        line=event.line,
        key=event.key,
        gate=gate,
        values=event.values,
        by=entry.by,
        at=at,
        many=event.out,
        among=frozenset(among),
        before=event.before,
        pieces=event.pieces,
    )


def _out_of(batch: Batch, entry: Entry, out: int) -> OutOfLimits:
    one = batch.out.get(out)
    if one is None:
        raise Inapplicable(entry, f"the reading it is about, entry {out}, does not stand")
    return one


def _commit(batch: Batch, entry: Entry, number: int, mark: Mark) -> None:
    """Fix what the run's count will say of these pieces; until then they ride on."""
    run = batch.runs[number]
    require(entry, run.count is None and set(mark.pieces) <= set(run.pieces), "the pieces are not in the run any more")
    said = CountMark(mark.to, mark.reason, mark.pieces, mark.note)
    for piece in said.pieces:
        run.decided[piece] = said


@handles(OutDecided)
def _out_decided(batch: Batch, entry: Entry, event: OutDecided, at: datetime) -> None:
    one = _out_of(batch, entry, event.out)
    require(entry, len(set(event.pieces) - one.named) <= one.left, "that many were not out")
    one.pieces = name_pieces(one, event.pieces)
    one.decided.append(Decided(event.pieces, event.where, event.to, entry.by))
    if event.mark is not None:
        _commit(batch, entry, event.run, event.mark)


@handles(BeforeDecided)
def _before_decided(batch: Batch, entry: Entry, event: BeforeDecided, at: datetime) -> None:
    one = _out_of(batch, entry, event.out)
    require(entry, one.asks_before, "those before it are already decided")
    why = f", the others not: {event.reason}" if event.reason else ""
    one.before_said = f"{event.hold} of {event.of} on hold{why} ({entry.by})"
    if event.mark is not None:
        _commit(batch, entry, event.run, event.mark)


@handles(MeasuredAgain)
def _measured_again(batch: Batch, entry: Entry, event: MeasuredAgain, at: datetime) -> None:
    one = _out_of(batch, entry, event.out)
    proof = batch.proofs.get(one.key)
    require(entry, proof is not None and one.left > 0, "that reading is already decided, or its proof is void")
    assert proof is not None
    gate = batch.operation(one.op).step(one.line)
    assert isinstance(gate, Measured | FirstPiece)
    nth, name = event.nth, event.name
    if not name:  # an older record, where it is the first value out
        wrong = list_values_to_read_again(one, gate, proof.values)[0]
        nth, name = wrong.at, wrong.ask.name
    second = SecondReading(
        nth, name, event.value, event.shown, event.reason, entry.by, event.good, corrects=event.corrects
    )
    one.again.append(second)
    if not (event.good or event.corrects):
        return
    values = put_second(one, proof.values, second)
    batch.proofs[one.key] = replace(proof, values=dict(values))
    run = batch.runs[one.run]
    left = split_by_piece(gate, values)[nth:]
    if (isinstance(gate, Measured) and gate.accept) or not find_values_outside(gate.asks(), left[0] if left else {}):
        one.many -= 1
        taken = run.samples.get(one.line)
        if taken is not None and taken.seq == one.seq:
            run.samples[one.line] = replace(taken, out=taken.out - 1)
    if not find_values_outside(gate.asks(), values):
        run.reopened.discard(one.line)


@handles(OutSettled)
def _out_settled(batch: Batch, entry: Entry, event: OutSettled, at: datetime) -> None:
    one = _out_of(batch, entry, event.out)
    require(entry, one.open, "it is already decided")
    one.settled = f"{event.how}, {event.reason} ({entry.by})"
