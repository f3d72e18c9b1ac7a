"""The rows of the batch screen: its loads and what lies loose, against the operations, each with its sign."""

from __future__ import annotations

from typing import NamedTuple

from floor.batch.command import Context
from floor.batch.counting.blind_count import HIDDEN_FIGURE, hide_piece_count
from floor.batch.counting.surplus import is_wanted_at, list_pieces_out_of_work
from floor.batch.lifecycle.commands import list_free_carriers
from floor.batch.load import Load, PiecePlace, Where
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.clocks import find_overrun
from floor.batch.walk.clocks_before_next_run import find_binding_clocks
from floor.batch.walk.station_walk import build_walk
from floor.text import format_clock, format_span, with_article

NOT_NEEDED = "not needed: d decides"
SITTING_SIGNS: tuple[tuple[Where, str], ...] = (("scrap", "✕"), ("hold", "?"))
"""Of pieces that stay on their carrier although they do not go on."""

TAKE_BACK = "These are out of process; d: take them back"
NOT_IN_WORK = {
    "spare": TAKE_BACK,
    "stopped": TAKE_BACK,
    "finished": "These are finished; m: set bad ones aside",
}
"""Kind of row → what to press where a key can do nothing with its pieces."""

RowKey = tuple[str, int, str]
"""What a row is: ("load", number, ""), ("pool", operation, rework route); spare, stopped as a pool; finished, 0."""


def list_row_keys(batch: Batch) -> list[RowKey]:
    """Loads, then what waits loose, then what is out of work, then what is finished."""
    return [
        *(("load", load.number, "") for load in batch.list_live_loads()),
        *(("pool", op, rework) for op, rework, _ in batch.list_waiting_pools()),
        *((where, op, rework) for where, op, rework, _ in list_pieces_out_of_work(batch)),
        *([("finished", 0, "")] if batch.total("finished") else []),
    ]


class LoadRow(NamedTuple):
    """A row in the order of a short route."""

    name: str
    pieces: str
    ops: tuple[str, ...]
    """One sign for each operation."""
    now: str
    """What is next, or what it waits for."""


def make_row(batch: Batch, key: RowKey, context: Context, hidden: frozenset[str]) -> LoadRow:
    """The row of a load or of loose pieces.

    Args:
        hidden: what is still to be counted at a handover.
    """
    kind, number, rework = key
    if kind == "finished":
        return LoadRow(kind, f"{batch.total('finished'):>3}", tuple("" for _ in batch.checklist.ops), "m: set aside")
    if kind == "load":
        return _make_load_row(batch, batch.loads[number], context, hidden)
    return _make_heap_row(batch, kind, number, rework, context, hidden)


def _make_load_row(batch: Batch, load: Load, context: Context, hidden: frozenset[str]) -> LoadRow:
    here, said = _sign(batch, load, context, hidden) if load.at in batch.checklist.ops else ("", "")
    rework = batch.find_rework(load)
    way = batch.checklist.list_way(rework.id if rework else "")
    cells = (f" {here if op == load.at else _sign_beside(batch, load, op, op in way)}" for op in batch.checklist.ops)
    pieces = str(len(batch.present(load)))
    if load.detours:
        pieces += f" ↺{len(batch.find_next_pieces(load))}"
    pieces += "".join(f" {sign}{len(there)}" for where, sign in SITTING_SIGNS if (there := batch.sitting(load, where)))
    pieces = HIDDEN_FIGURE if f"load {load.number}" in hidden else pieces
    pieces += " W" if batch.list_open_waivers(load) else ""
    return LoadRow(batch.format_carrier(load), f"{pieces:>3}", tuple(cells), said)


def _sign(batch: Batch, load: Load, context: Context, hidden: frozenset[str]) -> tuple[str, str]:
    """The sign of a load at its operation, and what it stands for."""
    assert load.at is not None
    if load.run is not None:
        return _sign_of_run(batch, batch.runs[load.run], context, hidden)
    for one in find_binding_clocks(batch, load, context.now):
        if one.ripeness.status == "wait" and one.ripeness.opens:
            return "◔", f"{one.clock.id}: ready {format_clock(one.ripeness.opens, context.now.at)}"
        if one.ripeness.status == "misses":
            return "✕", f"{one.clock.id}: closes before it is ready"
        if one.ripeness.status == "late":
            return "✕", f"{one.clock.id}: time limit passed"
    return "○", batch.format_op_title(load, load.at) if is_wanted_at(batch, load.at) else NOT_NEEDED


def _sign_of_run(batch: Batch, run: Run, context: Context, hidden: frozenset[str]) -> tuple[str, str]:
    current = hide_piece_count(build_walk(batch, run, context.now), hidden).current
    if current is None:
        return "▶", ""
    if current.state not in ("waits", "blocked"):
        over = find_overrun(batch, run, context.now) if current.kind == "end" else None
        late = f"over {format_span((context.now.at - over).total_seconds())}: " if over is not None else ""
        return "▶", f"{late}{current.title}"
    why = current.verdict.why if current.verdict else current.title
    return "◔" if current.state == "waits" else "✕", why


def _make_heap_row(batch: Batch, kind: str, op: int, rework: str, context: Context, hidden: frozenset[str]) -> LoadRow:
    where: Where = "spare" if kind == "spare" else "stopped" if kind == "stopped" else "waiting"
    unseen = PiecePlace(where, op=op, rework=rework).heap in hidden
    count = HIDDEN_FIGURE if unseen else batch.tally[(where, op, rework)]
    sign = " ○" if where == "waiting" else " ="
    there = {piece for piece, at in batch.places.items() if (at.where, at.op, at.rework) == (where, op, rework)}
    waived = " W" if any(there & waiver.pieces for waiver in batch.list_open_waivers()) else ""
    cells = tuple(sign if one == op else "" for one in batch.checklist.ops)
    if where != "waiting":
        return LoadRow(where, f"{count:>3}{waived}", cells, f"out of process before op {op}; d: take back")
    carrier = batch.checklist.carrier(batch.operation(op).carrier)
    free = list_free_carriers(batch, carrier.id, context)
    said = ("rework, " if rework else "") + f"{'to load on' if free else 'wait for'} {with_article(carrier.name)}"
    said = said if is_wanted_at(batch, op) else NOT_NEEDED
    return LoadRow("loose", f"{count:>3}{waived}", cells, said)


def _sign_beside(batch: Batch, load: Load, op: int, on_its_way: bool) -> str:
    """The sign of an operation that a load is not at: done, still to come, or none of its business."""
    at, leg = load.next_op if load.ahead is not None else load.at, batch.list_leg_ops(load)
    if op < load.first_op:
        return " "
    if op in load.early:
        return "✓"
    if not on_its_way:
        return "✓" if op in leg and op < (load.next_op or at or 0) else ""
    if at is not None and op < at:
        return "✓"
    if load.detours and op <= load.detours[0].found:
        return "↺"
    return "·" if op in leg else ""
