"""Before a batch exists: how many pieces to start, on how many loads, from how much stock."""

from __future__ import annotations

import math
from collections.abc import Sequence

from floor.batch.command import Context, Person
from floor.batch.earlier import EarlierTold
from floor.batch.fold import fold
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.state import Batch
from floor.checklist.blank_layout import compute_layout
from floor.checklist.equipment import MOST_PIECES, Blank
from floor.checklist.expected_yields import (
    NO_TESTS,
    TestPieces,
    compute_yield_weights,
    find_start_unit,
    list_operation_yields,
)
from floor.checklist.material_required import Supply, list_supplies
from floor.checklist.model import Checklist
from floor.dataclass import dataclass
from floor.entry import Entry, Moment, format_time
from floor.figures.errors import ImpossibleOrder
from floor.figures.layout import Layout
from floor.figures.material import LotCount, count_lots
from floor.figures.route_yields import compute_mean_flow
from floor.figures.start_at_estimated_yields import estimate_start_quantity
from floor.figures.start_at_known_yields import StartQuantity, compute_start_quantity
from floor.text import format_count


@dataclass(frozen=True, slots=True)
class LegLoads:
    """Carriers to load on one leg of the route."""

    carrier: str
    first_op: int
    last_op: int
    lots: LotCount
    there: int
    """Carriers of that kind in the shop."""


@dataclass(frozen=True, slots=True)
class BlankStock:
    """How the pieces lie on the blank, and the blanks to cut."""

    layout: Layout
    blanks: LotCount


@dataclass(frozen=True, slots=True)
class StartPlan:
    """What to have ready for an order."""

    quantity: StartQuantity
    """Over estimated yields. ``rounded``: up to whole blanks, or whole first loads without blanks."""
    exactly: StartQuantity
    """The same if every yield were exactly as estimated."""
    pieces: int
    """The number of pieces that the fields below are for."""
    lot: str
    """What it is rounded to: ``blank`` or ``load``."""
    stock: BlankStock | None
    loads: tuple[LegLoads, ...]
    supplies: tuple[Supply, ...]
    """Material required for ``pieces``."""
    leaving: tuple[float, ...]
    """Mean pieces that leave each operation good when ``pieces`` are started."""
    reworked: tuple[float, ...]
    """Mean pieces that each operation sends to rework, if the checklist gives a share."""


def plan_start(
    checklist: Checklist,
    order: int,
    confidence: float,
    tests: TestPieces = NO_TESTS,
    pieces: int | None = None,
) -> StartPlan:
    """What to start for an order.

    Args:
        confidence: chance to fill the order, above 0 and below 1.
        pieces: to start. By default whole blanks if they are cut up whole; else, or without blanks, what is enough.

    Raises:
        Impossible: names what is impossible and what would make it possible.
    """
    yields = list_operation_yields(checklist, tests)
    lot = find_start_unit(checklist)
    quantity = estimate_start_quantity(order, confidence, yields, compute_yield_weights(checklist), lot=lot.pieces)
    exactly = compute_start_quantity(order, confidence, yields, lot=lot.pieces)
    started = pieces if pieces is not None else lot.choose(quantity)
    if started > MOST_PIECES and pieces is not None:
        raise ImpossibleOrder(f"one batch holds at most {MOST_PIECES} pieces, not {started}", "start fewer")
    beyond = find_batch_size_error(order, started)
    if beyond is not None:
        raise beyond
    if started < order:
        raise ImpossibleOrder(
            f"{started} pieces cannot fill an order of {order}",
            f"start {order} at the least, {quantity.pieces} for the chance that is wanted",
        )
    flows = compute_mean_flow(started, yields)
    return StartPlan(
        quantity,
        exactly,
        started,
        lot.word,
        compute_blank_stock(checklist, started),
        count_leg_loads(checklist, started),
        list_supplies(checklist, started),
        tuple(one.leaving for one in flows),
        tuple(one.reworks for one in flows),
    )


def find_batch_size_error(order: int, wanted: int) -> ImpossibleOrder | None:
    """The error, with a way to split, if an order needs more pieces than a batch holds; else None."""
    if wanted <= MOST_PIECES:
        return None
    several = math.ceil(wanted / MOST_PIECES)
    return ImpossibleOrder(
        f"an order of {order} needs {wanted} pieces started, and one batch holds at most {MOST_PIECES}",
        f"order fewer, or split it into {several} or more batches of {math.ceil(order / several)}",
    )


def count_leg_loads(checklist: Checklist, pieces: int) -> tuple[LegLoads, ...]:
    """Carriers to load with this many pieces, leg by leg, as if none were lost on the way."""
    kinds = [(leg, checklist.carrier(leg.carrier)) for leg in checklist.legs]
    return tuple(
        LegLoads(kind.name, leg.ops[0], leg.ops[-1], count_lots(pieces, kind.capacity), kind.count)
        for leg, kind in kinds
    )


def compute_blank_stock(checklist: Checklist, pieces: int) -> BlankStock | None:
    """Blanks to cut for this many pieces; None if the checklist lays out no blank.

    Raises:
        ImpossibleFit: no piece fits the blank.
    """
    if checklist.blank is None:
        return None
    layout = compute_layout(checklist.blank)
    return BlankStock(layout, count_lots(pieces, layout.pieces))


def describe_blanks(blank: Blank, stock: BlankStock) -> str:
    """``2 blanks to cut, 7 pieces on the last``."""
    count, last = stock.blanks.count, stock.blanks.last
    said = f"{format_count(count, 'blank')} to cut, {format_count(last, 'piece')}"
    if blank.part_used and last < stock.layout.pieces:
        return f"{said} from the last, with room for {stock.layout.pieces - last} more left over"
    return f"{said} on the last"


def build_fresh_batch(
    checklist: Checklist,
    order: int,
    pieces: int,
    now: Moment,
    id: str = "new",
    earlier: EarlierTold | None = None,
    tests: TestPieces = NO_TESTS,
) -> Batch:
    """The batch as it would be right after opening; nothing is recorded.

    Args:
        earlier: what earlier batches of the part tell, to plan by.

    Raises:
        Refused: an order or number of pieces that no batch can have.
    """
    command = OpenBatch(id, checklist, "-", "-", order, pieces, earlier=earlier, tests=tests)
    entries: Sequence[Entry] = [
        Entry(seq, format_time(now.at), 0, now.boot, now.up, "-", draft.kind, draft.body, "", "")
        for seq, draft in enumerate(command.decide_new(Context(now, Person("-"))), 1)
    ]
    return fold(entries)
