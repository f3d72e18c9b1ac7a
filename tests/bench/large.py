"""Large orders through the whole planner: what stands on screen first, the good plan, the band, the command line.

Times are of the processor, on one core; that of the command line is of a whole process.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from resource import RUSAGE_CHILDREN, getrusage
from typing import TypeVar

from floor.checklist.loading import load_checklist
from floor.checklist.model import Checklist
from floor.entry import Moment
from floor.figures.schedule import FIRST, THOROUGH, draws, spread
from floor.planning.plan import ShopPlan, make_plan
from floor.planning.prospect import Taken, take
from floor.planning.start import fresh
from floor.screens.planner import SAMPLES
from tests.planning.planned import MORNING, ONE_SHIFT

T = TypeVar("T")

CAPACITY = 25
"""Pieces on a pallet or a tray: 5,000 are the 200 loads of the largest batch."""

_HEAD = f"""format = 1
[part]
number = "LG-1"
name = "Valve plate"
revision = "A"
revised = 2026-01-05
notice = "Local codes, the makers' data sheets and licensed practice govern; this list only reminds."
[[stations]]
id = "mill"
name = "Mill"
offsets = ["G54"]
[[stations]]
id = "lathe"
name = "Lathe"
offsets = ["G54"]
[[stations]]
id = "bench"
name = "Bench"
kind = "bench"
[[stations]]
id = "booth"
name = "Booth"
kind = "bench"
[[carriers]]
id = "pallet"
name = "Pallet"
kind = "pallet"
capacity = {CAPACITY}
count = 12
[[carriers]]
id = "tray"
name = "Tray"
kind = "tray"
capacity = {CAPACITY}
count = 12
"""

_CYCLE = """[[operations]]
op = {op}
title = "Cut face {op}"
station = "{station}"
carrier = "{carrier}"
may_outlast_shift = true
expected_yield = 0.999
time = {{ before = "6 min", cycle_piece = "40 s", after = "3 min", setup = "25 min" }}
steps = [{gate}{{ do = "Clamp the pieces", at = "load" }}]
reasons = [{{ code = "chatter", text = "Chatter", caused_at = {op} }}]
"""

_BY_HAND = """[[operations]]
op = {op}
title = "Deburr {op}"
station = "bench"
carrier = "{carrier}"
cycle = false
time = {{ before_piece = "20 s" }}
steps = [{{ do = "Break the edges", at = "load" }}]
reasons = [{{ code = "nick", text = "Nicked", caused_at = {op} }}]
"""

_COAT = """[[operations]]
op = {op}
title = "Coat {op}"
station = "booth"
carrier = "{carrier}"
cycle = false
time = {{ before_piece = "15 s" }}
steps = [{{ do = "Coat the pieces", id = "coat{op}", at = "load", skip = false }}]
clocks = [
  {{ id = "coat{op}", starts = "step coat{op}", source = "Invented", windows = [
    {{ earliest = "2 h", latest = "72 h" }},
  ] }},
]
reasons = [{{ code = "run", text = "Run in the coat", caused_at = {op} }}]
"""


def measure() -> tuple[dict[str, float], dict[str, float]]:
    """(ratios, figures): no ratios; seconds for the largest order as the screens plan it, and for the command line.

    Figures: `plan_5000x40_first_s` from the batch to the first plan that can be shown, `plan_5000x40_s` the good one
    behind it, `plan_5000x40_band_s` its band, by how much the first is longer; `plan_command_..._s` whole processes.
    """
    batch = fresh(checklist(40), 5000, 5000, Moment(MORNING))

    def first_plan() -> tuple[Taken, ShopPlan]:
        taken = take([batch], Moment(MORNING), ONE_SHIFT)
        return taken, make_plan(taken.ways, effort=FIRST)

    (taken, first), first_s = _timed(first_plan)
    good, good_s = _timed(lambda: make_plan(taken.like(first), effort=THOROUGH, previous=first))
    _, band_s = _timed(lambda: spread(good.problem, good.plan, samples=draws(good.problem, SAMPLES)))
    longer = (first.plan.end - good.plan.start) / (good.plan.end - good.plan.start)
    return {}, {
        "plan_5000x40_first_s": first_s, "plan_5000x40_s": good_s, "plan_5000x40_band_s": band_s,
        "plan_5000x40_first_vs_good": longer,
        **{
            f"plan_command_{pieces}x{operations}_{form}s": _command(pieces, operations, option)
            for pieces, operations in ((1000, 10), (5000, 40)) for form, option in (("", "--json"), ("csv_", "--csv"))
        },
    }  # fmt: skip


def checklist(operations: int) -> Checklist:
    """Cycles on two machines, work by hand, and coats with a window after each; on trays from the middle on."""
    with tempfile.TemporaryDirectory() as folder:
        loaded = load_checklist(written(operations, Path(folder)))
    assert loaded.checklist is not None, "\n".join(map(str, loaded.problems))
    return loaded.checklist


def written(operations: int, folder: Path) -> Path:
    """The checklist as a file in a folder."""
    text = [_HEAD]
    gate = ""
    for n in range(operations):
        op, carrier = 10 * (n + 1), "pallet" if n < operations / 2 else "tray"
        if n % 5 == 3:
            text.append(_COAT.format(op=op, carrier=carrier))
            gate = f'{{ gate = "cured", clock = "coat{op}", at = "arrive" }}, '
            continue
        kind = _BY_HAND if n % 5 == 2 else _CYCLE
        text.append(kind.format(op=op, carrier=carrier, station=("mill", "lathe")[n % 5 % 2], gate=gate))
        gate = ""
    file = folder / "large.toml"
    file.write_text("\n".join(text), encoding="utf-8")
    return file


def _timed(work: Callable[[], T]) -> tuple[T, float]:
    started = time.process_time()
    found = work()
    return found, time.process_time() - started


def _command(pieces: int, operations: int, form: str) -> float:
    """Processor seconds of ``floor plan`` for an order, in a shop of its own."""
    with tempfile.TemporaryDirectory() as folder:
        file = written(operations, Path(folder))
        before = getrusage(RUSAGE_CHILDREN)
        subprocess.run(
            [sys.executable, "-m", "floor", "plan", str(file), "--order", str(pieces * 9 // 10),
             "--start", str(pieces), form, "--shop", folder],
            check=True, capture_output=True,
        )  # fmt: skip
        after = getrusage(RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
