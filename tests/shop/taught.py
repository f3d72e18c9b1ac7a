"""A batch that teaches: slower than its checklist says, with scrap at its first operation, tools changed early."""

from __future__ import annotations

from pathlib import Path

from floor.batch.counting.commands import MarkedPieces
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.state import Batch
from floor.batch.stations.commands import Disturb
from floor.shop import Shop
from floor.shop.checklists import list_checklists
from floor.shop.simulation import ManualClock, SimulatedOperator

PART = Path(__file__).parents[1] / "batch" / "part.toml"
ALL_DAY = """zone = "Etc/GMT-1"
[[shifts]]
days = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
start = "00:00"
end = "00:00"
"""
LOADS = 7


def own_file(shop: Shop) -> Path:
    return shop.folder / "checklists" / "part.toml"


def teach(shop: Shop, clock: ManualClock, text: str = "", loads: int = LOADS) -> Batch:
    """Open a batch from the shop's own file, mill, coat and cut free: late, A1 scrapped on all loads but the first, and
    the end mill changed after each.
    """
    (shop.folder / "shop.toml").write_text(ALL_DAY, encoding="utf-8")
    own_file(shop).parent.mkdir(exist_ok=True)
    own_file(shop).write_text(text or PART.read_text(encoding="utf-8"), encoding="utf-8")
    one = next(one for one in list_checklists(shop.folder) if one.own)
    assert one.loaded.checklist is not None, one.loaded.problems
    opening = OpenBatch(shop.find_next_id(), one.loaded.checklist, one.digest, one.name, 4 * loads - 8, 4 * loads)
    id = shop.open_batch(opening, "LL").id
    hand = SimulatedOperator(shop, id, "AA", clock, second="LL")
    for number in range(loads):
        load = hand.form(10)
        assert not hand.work(load, stop=lambda line: line.kind == "end")
        clock.forward(60.0 * number)
        assert hand.work(load, marks=(MarkedPieces("deep", ("A1",)),) if number else ())
        hand.do(Disturb("mill", "tool changed", tool=1))
        assert hand.work(load)
        if number % 3 == 2:  # three pallets: the first ones must be free again
            clock.forward(12 * 3600)
            for waiting in [one.number for one in hand.batch.list_live_loads()]:
                assert hand.work(waiting)
    return shop.batch(id)
