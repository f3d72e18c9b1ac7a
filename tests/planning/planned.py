"""Batches in memory, a crew, and their plan, for the tests of planning."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, time, timedelta
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

from floor.batch.state import Batch
from floor.checklist.loading import load_checklist
from floor.checklist.model import Checklist
from floor.entry import Moment
from floor.figures.calendar import Calendar
from floor.planning.plan import ShopPlan, make_plan
from floor.planning.problem import BatchChange, Crew, build_planning_request
from tests.batch.factory import Bench, open_bench

ZONE = "Etc/GMT-1"
MORNING = datetime(2026, 3, 2, 7, 0, tzinfo=ZoneInfo(ZONE))
"""A Monday, the start of a shift."""
ONE_SHIFT = Crew(Calendar.weekly(ZONE, range(5), time(7), time(15, 30), (time(11, 30), time(12))))
ALWAYS = Crew(Calendar.always(ZONE))


@cache
def potted() -> Checklist:
    """The potted lid of this folder."""
    loaded = load_checklist(Path(__file__).with_name("lid.toml"))
    assert loaded.checklist is not None, "\n".join(map(str, loaded.problems))
    return loaded.checklist


def filled(start: int, loads: int = 1) -> Bench:
    """An order of four test parts, filled by the first of several pallets; the others are untouched."""
    bench = open_bench(start=start, order=4)
    first, *_ = [bench.form(10) for _ in range(loads)]
    bench.through(first, 10, 20)
    bench.clock.forward(12 * 3600)
    bench.through(first, 30)
    tray = bench.form(40)
    bench.clock.forward(48 * 3600)
    bench.through(tray, 40)
    bench.through(bench.form(50), 50)
    return bench


def planned(*batches: Batch, now: datetime | Moment = MORNING, crew: Crew = ONE_SHIFT, mixed: bool = True,
            changes: Mapping[str, BatchChange] | None = None, effort: int = 1000) -> ShopPlan:  # fmt: skip
    moment = now if isinstance(now, Moment) else Moment(now)
    return make_plan([build_planning_request(batches, moment, crew, mixed=mixed, changes=changes)], effort=effort)


def conserves(plan: ShopPlan, batch: Batch) -> None:
    """Every piece in process passes the last operation once in the plan; held and scrapped ones do not."""
    last = batch.checklist.operations[-1].op
    through = sum(
        work.pieces
        for run in plan.runs
        if (work := plan.work(run)).batch == batch.id and work.op == last
    )  # fmt: skip
    assert through + batch.total("finished") + batch.total("scrap") + batch.total("hold") == batch.started


def minutes(start: datetime, end: datetime) -> float:
    return (end - start) / timedelta(minutes=1)


def baked() -> Bench:
    """A first pallet coated, cured and cut free, its tray just out of the oven; the other pieces not started."""
    bench = open_bench(order=8)
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.clock.forward(12 * 3600)
    bench.through(load, 30)
    tray = bench.form(40)
    bench.clock.forward(48 * 3600)
    bench.through(tray, 40)
    return bench
