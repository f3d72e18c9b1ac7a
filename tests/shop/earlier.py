"""Earlier batches of the test part in a shop: worked through by a simulated operator, and closed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta

from floor.batch.counting.commands import MarkedPieces
from floor.batch.lifecycle.commands import CloseBatch, OpenBatch
from floor.batch.run import Run
from floor.checklist.model import Checklist
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import part

FILE = "checklists/part.toml"


def work_batch(
    shop: Shop,
    clock: ManualClock,
    scrap: Mapping[int, int] | None = None,
    *,
    checklist: Checklist | None = None,
    order: int = 6,
    start: int = 8,
    until: timedelta = timedelta(days=6),
    close: bool = True,
) -> str:
    """Open a batch, work it for so long and close it; returns its name.

    Args:
        scrap: operation → pieces that its first counts find bad, one a load.
    """
    id = shop.open_batch(OpenBatch(shop.find_next_id(), checklist or part(), "digest", FILE, order, start), "LL").id
    hand = SimulatedOperator(shop, id, "AA", clock, second="LL")
    left = dict(scrap or {})
    codes = {10: "deep", 20: "run", 30: "torn", 40: "burnt"}

    def find(run: Run) -> tuple[MarkedPieces, ...]:
        if not left.get(run.op) or run.rework:
            return ()
        left[run.op] -= 1
        first = next(one for one in hand.batch.loads[run.load].slots if one in run.pieces)
        return (MarkedPieces(codes[run.op], (hand.batch.format_slot(hand.batch.loads[run.load], first),)),)

    end = clock().at + until
    while clock().at < end and hand.batch.total("finished") + hand.batch.total("scrap") < start:
        hand.shift(min(clock().at + timedelta(hours=8), end), find)
    if close:
        hand.do(CloseBatch("enough" if hand.batch.total("finished") < order else ""))
    return id
