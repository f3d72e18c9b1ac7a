"""Where a piece has been: one query from a finished piece back to its pallet, runs, tools, lots and people.

On a carrier with places each piece keeps its identity. On one without, the pieces of a load are one heap: from there
back the trace only knows that the piece is one of them, and says so. Between carriers a piece keeps its number because
pieces are assumed to be loaded in the order they were unloaded. Where nobody named the place of each, what lies before
such a move is marked.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from itertools import pairwise

from floor.batch.events import CycleEnded, CycleStarted, Proved, iter_events
from floor.batch.load import Load
from floor.batch.open_items import Waiver
from floor.batch.proof import ToolKey
from floor.batch.quality.tool_age import list_tool_changes
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import Entry


@dataclass(frozen=True, slots=True)
class Stay:
    """One run that the piece went, or may have gone, through."""

    run: Run
    carrier: str
    position: str
    candidates: int
    """1: certain. More: the piece is one of that many that cannot be told apart."""
    condition: str
    """What the count said of it: good, or a reason."""
    by_order: bool
    """Whether its identity here rests on the order in which pieces were moved to a later carrier."""
    lots: dict[str, str]
    waivers: tuple[Waiver, ...]


@dataclass(frozen=True, slots=True)
class Trace:
    piece: int
    place: str
    candidates: tuple[int, ...]
    """All pieces it may be, at its start."""
    stays: tuple[Stay, ...]
    """In the order of time."""
    moves: tuple[tuple[str, str], ...]
    """(from, to) carrier kinds of its moves by hand, in the order of the route."""


def trace(batch: Batch, piece: int) -> Trace:
    """Trace one piece.

    Raises:
        KeyError: no such piece was started.
    """
    place = batch.places[piece]
    candidates = _find_first_candidates(batch, piece)
    stays: list[Stay] = []
    ridden = [load for load in batch.loads.values() if _loose(batch, load.number)]
    passed: list[Run | Load] = [*batch.runs.values(), *ridden]
    for one in sorted(passed, key=lambda one: one.seq, reverse=True):
        if candidates.isdisjoint(one.pieces):
            continue
        if isinstance(one, Load):  # it came out of this heap, whether or not any work was done there
            candidates |= set(one.pieces)
            continue
        by_order = any(
            load.number > one.load and not load.placed and not candidates.isdisjoint(load.pieces)
            for load in batch.loads.values()
        )
        stays.append(_make_stay(batch, one, candidates, by_order=by_order))
    stays.reverse()
    said = {"waiting": f"waiting for op {place.op}", "load": f"on load {place.load}"}.get(place.where, place.where)
    said += ", still on its carrier" if place.sits else ""
    return Trace(piece, said, tuple(sorted(candidates)), tuple(stays), _list_moves(batch, stays, place.load))


def _find_first_candidates(batch: Batch, piece: int) -> set[int]:
    """The pieces that a piece may be, where it is now: all of a loose load until it is counted there."""
    load = batch.places[piece].load
    counted = any(run.load == load and run.count and piece in run.pieces for run in batch.runs.values())
    return {piece, *batch.loads[load].pieces} if load and _loose(batch, load) and not counted else {piece}


def _make_stay(batch: Batch, run: Run, candidates: set[int], *, by_order: bool) -> Stay:
    """What a run was to one of these pieces; before a heap, it may have been any piece of that: they are added."""
    load, loose = batch.loads[run.load], _loose(batch, run.load)
    conditions = sorted({_condition(run, piece) for piece in candidates.intersection(run.pieces)})
    if loose:
        # Before it was counted out of this heap, good or marked, it may have been any piece of it.
        candidates |= set(load.pieces)
    mine = candidates.intersection(run.pieces)
    positions = sorted(batch.format_slot(load, piece) for piece in mine)
    return Stay(
        run=run,
        carrier=batch.format_carrier(load),
        position="" if loose else positions[0] if len(positions) == 1 else f"one of {len(positions)} places",
        candidates=len(mine),
        condition=", ".join(conditions),
        by_order=by_order,
        lots=dict(run.lots),
        waivers=tuple(waiver for waiver in batch.waivers.values() if waiver.run == run.number),
    )


def _list_moves(batch: Batch, stays: list[Stay], load: int) -> tuple[tuple[str, str], ...]:
    """The kinds of carrier from and to which a piece with these stays was moved; ``load`` is the one it is on now."""
    loads = [batch.loads[stay.run.load] for stay in stays] + ([batch.loads[load]] if load else [])
    legs = dict(sorted((batch.list_leg_ops(one)[0], one.carrier) for one in loads))
    kinds = [batch.checklist.carrier(carrier).name for carrier in legs.values()]
    if len(kinds) == 1 and any(stay.by_order for stay in stays):  # for a rework, onto another of the same kind
        kinds *= 2
    return tuple(pairwise(kinds))


def find_piece_at(batch: Batch, load: int, position: str) -> int | None:
    """The piece put in this place of a load; None if there is no such load or place, or it is empty."""
    found = batch.loads.get(load)
    positions = batch.checklist.carrier(found.carrier).positions if found else ()
    name = position.strip().upper()
    if found is None or name not in positions:
        return None
    place = positions.index(name)
    return found.slots[place] if place < len(found.slots) else None


def list_tools_of_run(
    batch: Batch, run: Run, tool: int, entered: Sequence[Entry]
) -> list[tuple[float | None, datetime | None]]:
    """The tools of that number that cut in the cycle of a run, one after the other: length and when it was taken out,
    each None where it is not known or not so.

    Args:
        entered: the entries of the run that stand.
    """
    since = next((entry.seq for entry in entered if entry.kind == CycleStarted.KIND), run.started_seq)
    until = next((entry.seq for entry in entered if entry.kind == CycleEnded.KIND), batch.seq + 1)
    changes = [one.seq for one in list_tool_changes(batch) if one[1:] == (run.station, tool)]
    changes = [seq for seq in changes if since < seq < until]
    if not changes:
        return [(run.tools[tool], None)]
    known = _list_lengths(batch, ToolKey("tool loaded", run.station, tool), [0, *changes, until])
    if since == run.started_seq:  # not begun anew, so what the station had then is what was taken out first
        known[0] = run.tools[tool]
    return list(zip(known, [*(batch.entries[seq - 1].done for seq in changes), None], strict=True))


def _list_lengths(batch: Batch, key: ToolKey, bounds: Sequence[int]) -> list[float | None]:
    """The length that was proved last between each two of these entries; None where none was. Another tool that was
    read there by mistake is left out.
    """
    proofs = iter_events(batch.list_entries(Proved.KIND), Proved)
    of_tool = [(entry.seq, one.values) for entry, one in proofs if one.key == key and entry.seq not in batch.struck]
    lengths = [(seq, values.get("length")) for seq, values in of_tool if values.get("tool", key.tool) == key.tool]
    return [
        next((length for seq, length in reversed(lengths) if low < seq < high), None) for low, high in pairwise(bounds)
    ]


def _loose(batch: Batch, load: int) -> bool:
    return not batch.checklist.carrier(batch.loads[load].carrier).positions


def _condition(run: Run, piece: int) -> str:
    if run.count is None:
        return "under way"
    for mark in run.count.marks:
        if piece in mark.pieces:
            return f"{mark.to}: {mark.reason}"
    return "good"
