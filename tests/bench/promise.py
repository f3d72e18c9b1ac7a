"""How honest the promised finish is: simulate whole batches, and ask the program every morning.

A promise is right where its 10–90 % band holds the moment at which the order is filled in truth. A jump is unexplained
where the finish stated in the evening is another one in the morning though nothing was entered in the night; it is
counted in working hours too, as the working hour after Friday's last is Monday's first.
"""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import datetime
from datetime import time as clock
from functools import cache
from itertools import chain
from pathlib import Path
from random import Random
from statistics import fmean, median
from zoneinfo import ZoneInfo

from floor.checklist.loading import load_checklist
from floor.checklist.model import Checklist
from floor.figures.calendar import Calendar
from floor.figures.schedule import choose_draw_count, simulate_finishes
from floor.planning.finish import compute_finish
from floor.planning.plan import make_plan
from floor.planning.problem import Crew
from floor.planning.snapshot import take_snapshot
from floor.planning.start_plan import plan_start
from tests.bench.promised.shop import Order, SimulatedShop

HERE = Path(__file__).parent / "promised"
ZONE = "Etc/GMT-1"
MONDAY = datetime(2026, 3, 2, 7, 0, tzinfo=ZoneInfo(ZONE))
SHIFTS = Calendar.weekly(ZONE, range(5), clock(7), clock(15, 30), (clock(11, 30), clock(12)))
EFFORT = 2000
"""Of each plan, in runs placed: a quarter of that on the screen, for shops that are small."""
SAMPLES = 60
"""Draws for a band, as on the screen."""
KINDS = {
    "make-up": ("cap",),
    "rework on its own load": ("cover",),
    "wear, rework in place": ("lever",),
    "plenty started": ("pulley",),
    "three at once": ("cover", "lever", "cap"),
}
"""Kinds of simulated shops: the checklists of their orders."""
SHARE = {"cap": 0.0, "cover": 0.8, "lever": 0.8, "pulley": 0.97}
"""Chance to fill the order for which pieces are started; of none two more than are ordered."""
MOST_DAYS = 60
SHOPS = {kind: 35 if len(orders) == 1 else 20 for kind, orders in KINDS.items()}
"""How many of each kind: 200 batches in all."""

Jump = tuple[float, float]
"""Hours by the clock, and working hours."""


@dataclass(frozen=True)
class Promised:
    """What was said of a batch at one time, in hours from the true end: positive where the truth came later."""

    kind: str
    day: int
    batch: str
    stated: float
    early: float
    late: float

    @property
    def holds(self) -> bool:
        return self.late <= 0 <= self.early


def measure(shops: Mapping[str, int] = SHOPS) -> tuple[dict[str, float], dict[str, float]]:
    """(ratios, figures): how many promises held, by kind of shop; about half an hour on two cores."""
    ratios: dict[str, float] = {}
    figures: dict[str, float] = {}
    said: dict[str, list[Promised]] = {kind: [] for kind in shops}
    jumps: list[Jump] = []
    asked = [(kind, seed) for kind, many in shops.items() for seed in range(many)]
    with ProcessPoolExecutor() as pool:
        for (kind, _), (promised, jumped) in zip(asked, pool.map(follow, *zip(*asked, strict=True)), strict=True):
            said[kind] += promised
            jumps += jumped
    for kind, mine in said.items():
        _tell(ratios, figures, f" {kind}", mine)
    _tell(ratios, figures, "", list(chain.from_iterable(said.values())))
    figures["promise_jump_h"] = max((wall for wall, _ in jumps), default=0.0)
    figures["promise_jump_worked_h"] = max((worked for _, worked in jumps), default=0.0)
    return ratios, figures


def _tell(ratios: dict[str, float], figures: dict[str, float], name: str, said: list[Promised]) -> None:
    first = [one.stated for one in said if one.day == 0]
    ratios[f"band_coverage{name}"] = sum(one.holds for one in said) / len(said)
    figures |= {
        f"promises{name}": len(said),
        f"ended_after_band{name}": sum(one.late > 0 for one in said) / len(said),
        f"ended_before_band{name}": sum(one.early < 0 for one in said) / len(said),
        f"stated_before_end{name}": sum(one.stated > 0 for one in said) / len(said),
        f"first_promise_bias_h{name}": fmean(first),
        f"first_promise_bias_h_median{name}": median(first),
        f"band_h{name}": fmean(one.early - one.late for one in said),
    }


def follow(kind: str, seed: int) -> tuple[list[Promised], list[Jump]]:
    """All promises of one shop until its orders are filled, and by how much they jumped overnight."""
    random = Random(f"{kind} {seed}")
    crew = Crew(SHIFTS, len(KINDS[kind]) if len(KINDS[kind]) < 3 else 2)
    orders = [_order(f"B{n}", name, random) for n, name in enumerate(KINDS[kind], 1)]
    shop = SimulatedShop(orders, crew, seed, MONDAY)
    told: list[tuple[int, str, datetime, datetime, datetime]] = []
    jumps: list[Jump] = []
    evening: dict[str, datetime] = {}
    seen = -1
    for day in range(MOST_DAYS):
        if shop.done:
            break
        at = SHIFTS.span(shop.now, 1)[0]
        shop.until(at)
        entries = sum(batch.seq for batch in shop.batches.values())
        morning = _ask(shop)
        told += [(day, *one) for one in morning]
        if entries == seen:
            jumps += [_jump(*sorted((stated, evening[id]))) for id, stated, *_ in morning if id in evening]
        shop.until(at.replace(hour=15, minute=30))
        if not shop.done and day % 3 == 0:
            seen = sum(batch.seq for batch in shop.batches.values())
            evening = {id: stated for id, stated, *_ in _ask(shop)}
    assert shop.done, f"{kind} {seed} was never filled"
    ends = shop.filled_at
    return [
        Promised(kind, day, id, *((ends[id] - one).total_seconds() / 3600 for one in (stated, early, late)))
        for day, id, stated, early, late in told
    ], jumps


def _jump(first: datetime, last: datetime) -> Jump:
    return (last - first).total_seconds() / 3600, SHIFTS.worked(first, last) / 60


def _order(id: str, name: str, random: Random) -> Order:
    checklist = _checklist(name)
    assert checklist.order is not None
    pieces = checklist.order + random.randint(-8, 8)
    started = plan_start(checklist, pieces, SHARE[name]).quantity.pieces if SHARE[name] else pieces + 2
    return Order(id, checklist, pieces, started)


@cache
def _checklist(name: str) -> Checklist:
    loaded = load_checklist(HERE / f"{name}.toml")
    assert loaded.checklist is not None, "\n".join(map(str, loaded.problems))
    return loaded.checklist


def _ask(shop: SimulatedShop) -> list[tuple[str, datetime, datetime, datetime]]:
    """What the program promises of each batch that is not filled yet: batch, finish, 10 % and 90 %."""
    taken = take_snapshot(list(shop.batches.values()), shop.clock(), shop.crew)
    made = make_plan(taken.ways, effort=EFFORT, previous=shop.shop_plan, hold=True)
    shop.shop_plan = made
    band = simulate_finishes(made.problem, made.plan, samples=choose_draw_count(made.problem, SAMPLES))
    found = []
    for id in shop.batches:
        if id in shop.filled_at:
            continue
        stated = compute_finish(made, id, band.batches[id]).at
        assert stated is not None
        found.append((id, stated, band.batches[id].early, band.batches[id].late))
    return found
