"""Which pieces of a load to measure: chosen by the record, so that nobody takes those that look good or lie handy."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from floor.batch.command import Refused
from floor.batch.events import Proved, read_if_kind
from floor.batch.gates.check_values import OF_A_PIECE, find_values_outside, format_value, list_texts, split_by_piece
from floor.batch.gates.proof_keys import find_proof_key
from floor.batch.gates.samples import count_loads_before, count_pieces_before, find_sample_size
from floor.batch.gates.second_readings import find_outside_by_piece
from floor.batch.open_items import OutOfLimits
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.shared_cycles import find_runs_in_cycle
from floor.checklist.gate_forms import PLACE, SHOWN, FormField
from floor.checklist.gates import EveryNth, FirstPiece, Gate, Measured
from floor.text import sanitize


def choose_measured_pieces(batch: Batch, run: Run, line: str, gate: Gate) -> tuple[int, ...]:
    """The pieces that the values at a gate are of, in the order of their places.

    After a reading out of limits those of it that are not decided on come first, as their values stand. Empty where the
    pieces have no places, or the gate is not about so many pieces: then nobody knows which piece is which.
    """
    carrier = batch.checklist.carrier(batch.loads[run.load].carrier)
    if not isinstance(gate, Measured) or not gate.of_piece or gate.accept or not carrier.positions:
        return ()
    from floor.figures.quality.sampling_places import choose_every_nth, choose_first_and_last  # few gates sample

    undecided = set(run.undecided)
    there = [piece for piece in batch.loads[run.load].pieces if piece in undecided]
    number = find_sample_size(batch, run, line, gate)
    kept = [piece for piece in _list_measured_before(batch, run, line) if piece in there][:number]
    if gate.sample == "first and last":
        chosen = choose_first_and_last(there)
    elif isinstance(gate.sample, EveryNth):
        before = count_pieces_before(batch, run)
        chosen = choose_every_nth(count_loads_before(batch, run), there, gate.sample.every, before)
    else:
        chosen = _choose_spread(batch, run, number)
    others = [piece for piece in [*chosen, *there] if piece not in kept]
    return (*kept, *sorted(others[: number - len(kept)], key=there.index))


def find_first_piece(batch: Batch, run: Run, line: str, gate: FirstPiece, place: object) -> tuple[int, ...]:
    """The piece in this place; none where pieces have no places, or nobody said which it was.

    Raises:
        Refused: no piece that may be it lies there, or it is to be one cut since and nobody said which.
    """
    named = sanitize(str(place[0] if isinstance(place, list) and place else place or ""), 20).upper()
    load = batch.loads[run.load]
    if not batch.checklist.carrier(load.carrier).positions:
        return ()
    if not named:
        if _is_voided_in_run(batch, run, line, gate):
            raise Refused(
                "input", "which piece was cut since the first one was voided?", "enter its place, e.g. A5", field=PLACE
            )
        return ()
    by_place = {batch.format_slot(load, piece): piece for piece in run.undecided}
    if named not in by_place:
        raise Refused("input", f"no piece to be measured lies in {named}", "enter its place, e.g. A1", field=PLACE)
    return (by_place[named],)


def propose_first_piece(batch: Batch, run: Run, line: str, gate: FirstPiece) -> str | None:
    """The place of the first piece that is not decided on; None where pieces have no places.

    Empty once something voided the acceptance in mid-run: it takes a piece cut since, and only a person knows which.
    """
    load = batch.loads[run.load]
    there = [piece for piece in load.pieces if piece in set(run.undecided)]
    if not there or not batch.format_slot(load, there[0]):
        return None
    return "" if _is_voided_in_run(batch, run, line, gate) else batch.format_slot(load, there[0])


def _is_voided_in_run(batch: Batch, run: Run, line: str, gate: FirstPiece) -> bool:
    """Whether the first piece was accepted in this run, or by another load of its cycle, and something has voided that
    since.
    """
    void = batch.voids.get(find_proof_key(batch, run, line, gate))
    numbers = {one.number for one in find_runs_in_cycle(batch, run)}
    return void is not None and void.proof is not None and void.proof.run in numbers


def _choose_spread(batch: Batch, run: Run, number: int) -> list[int]:
    """So many undecided pieces, spread over the carrier."""
    from floor.figures.quality.sampling_places import choose_on_grid

    load = batch.loads[run.load]
    carrier = batch.checklist.carrier(load.carrier)
    assert carrier.rows is not None
    assert carrier.columns is not None
    at = {load.slots.index(piece): piece for piece in run.undecided}
    empty = [divmod(n, carrier.columns) for n in range(carrier.rows * carrier.columns) if n not in at]
    places = choose_on_grid(run.load - 1, carrier.rows, carrier.columns, number, empty)
    return [at[row * carrier.columns + column] for row, column in places]


def _list_measured_before(batch: Batch, run: Run, line: str) -> tuple[int, ...]:
    """The pieces of the last reading out of limits at this line."""
    before = [one for one in batch.out.values() if (one.run, one.line) == (run.number, line)]
    return before[-1].pieces if before else ()


def find_pieces_outside(one: OutOfLimits) -> tuple[int, ...]:
    """The pieces whose value was out of limits; empty where the record does not say whose values they were."""
    return tuple(piece for piece, wrong in find_outside_by_piece(one).items() if wrong)


def find_values_meant(one: OutOfLimits, named: Sequence[int]) -> list[int]:
    """Of each piece that somebody names as out, the piece whose value that was as entered: its own if that was out,
    else the first one's that is not named.
    """
    outside = set(find_pieces_outside(one))
    others = [piece for piece in find_pieces_outside(one) if piece not in named and piece not in one.named]
    return [piece if piece in outside or not others else others.pop(0) for piece in named]


def name_pieces(one: OutOfLimits, named: tuple[int, ...]) -> tuple[int, ...]:
    """The pieces of a reading once somebody named those that were out: perhaps others than were asked for, or two mixed
    up, whose values then change places.
    """
    pieces = list(one.pieces)
    for piece, meant in zip(named, find_values_meant(one, named), strict=True):
        if pieces and piece != meant:
            at = pieces.index(meant)
            if piece in pieces:
                pieces[pieces.index(piece)] = meant
            pieces[at] = piece
    return tuple(pieces)


class ValueOutside(NamedTuple):
    """A value out of limits in a reading."""

    at: int
    """Of which piece, counted from 0 in the order entered."""
    ask: FormField


class ValueRead(NamedTuple):
    """One value of a reading, as it reads now."""

    nth: int
    """Of which piece, counted from 0 in the order entered."""
    name: str
    """Its field of the form."""
    reads: str
    """What it was read or corrected to last."""


def find_value_to_read_again(batch: Batch, one: OutOfLimits) -> ValueRead | None:
    """The value that is next to be read again or corrected; None where none can be any more."""
    proof = batch.proofs.get(one.key)
    if proof is None or not one.gate.of_piece or not one.left:
        return None
    outside = list_values_to_read_again(one, one.gate, proof.values)
    nth, ask = outside[0] if outside else (0, one.gate.asks()[0])
    again = [format_value(each.value, each.shown) for each in one.again if (each.nth, each.name) == (nth, ask.name)]
    return ValueRead(nth, ask.name, again[-1] if again else list_texts(proof.values, ask.name)[nth])


def list_values_to_read_again(
    one: OutOfLimits, gate: Measured | FirstPiece, values: Mapping[str, Any]
) -> list[ValueOutside]:
    """The values out of limits of the first piece that is not decided on, those not read again yet first."""
    read, asks = split_by_piece(gate, values), gate.asks()
    known = one.pieces if len(one.pieces) == len(read) else ()
    for n, piece in enumerate(read):
        if n < len(known) and known[n] in one.named:
            continue
        if outside := [ask for ask in asks if find_values_outside((ask,), piece)]:
            again = [each.name for each in one.again if each.nth == n]
            return [ValueOutside(n, ask) for ask in sorted(outside, key=lambda ask: again.count(ask.name))]
    return []


def find_measured_pieces(batch: Batch, seq: int) -> tuple[int, ...]:
    """The pieces that the values of an entry are of, as far as known; whoever decided on one out of limits named it."""
    if seq in batch.out:
        return batch.out[seq].pieces
    proved = read_if_kind(batch.entries[seq - 1], Proved) if seq else None
    return proved.pieces if proved is not None else ()


def keep_values(
    gate: Gate, tried: dict[str, Any] | None, measured: tuple[int, ...], chosen: tuple[int, ...]
) -> dict[str, Any] | None:
    """What was entered at the last reading, if any, put beside the pieces that are asked for now."""
    if tried is None or not chosen or not isinstance(gate, Measured):
        return tried
    read = split_by_piece(gate, tried)
    if len(read) != len(measured):
        return tried
    by_piece = dict(zip(measured, read, strict=True))
    names = [ask.name for ask in gate.asks() if ask.kind in OF_A_PIECE]
    kept = {name: [by_piece.get(piece, {}).get(name, "") for piece in chosen] for name in names}
    digits = {name: [by_piece.get(piece, {}).get(SHOWN, {}).get(name, "") for piece in chosen] for name in names}
    return tried | kept | ({SHOWN: digits} if SHOWN in tried else {})
