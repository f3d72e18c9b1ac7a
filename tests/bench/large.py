"""Large orders through the whole planner: the first plan on screen, the good plan, the band, the command line.

Times are of the processor, on one core; that of the command line is of a whole process.
"""

from __future__ import annotations

import os
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
from floor.cli.base import collect_garbage_seldom
from floor.entry import Moment
from floor.figures.schedule import FIRST, THOROUGH_LARGE, choose_draw_count, simulate_finishes
from floor.planning.plan import ShopPlan, make_plan
from floor.planning.snapshot import Snapshot, take_snapshot
from floor.planning.start_plan import build_fresh_batch
from floor.screens.plan.background_plan import SAMPLES
from tests.planning.planned import MORNING, ONE_SHIFT
from tests.planning.test_impossible import BENCH, HEAD

T = TypeVar("T")

CAPACITY = 25
"""Pieces on a pallet or a tray: 5,000 are the 200 loads of the largest batch."""

_MORE = f"""
[[stations]]
id = "lathe"
name = "Lathe"
[[stations]]
id = "booth"
name = "Booth"
kind = "bench"
[[carriers]]
id = "tray"
name = "Tray"
kind = "tray"
capacity = {CAPACITY}
count = 12
"""

_OPERATION = """[[operations]]
op = {op}
title = "{title} {op}"
station = "{station}"
carrier = "{carrier}"
reasons = [{{ code = "bad", text = "Bad", caused_at = {op} }}]
"""

_CYCLE = """may_outlast_shift = true
expected_yield = 0.999
time = {{ before = "6 min", cycle_piece = "40 s", after = "3 min", setup = "25 min" }}
steps = [{gate}{{ do = "Clamp the pieces", at = "load" }}]
"""

_BY_HAND = """cycle = false
time = {{ before_piece = "20 s" }}
steps = [{{ do = "Break the edges", at = "load" }}]
"""

_COAT = """cycle = false
time = {{ before_piece = "15 s" }}
steps = [{{ do = "Coat the pieces", id = "coat{op}", at = "load", skip = false }}]
clocks = [
  {{ id = "coat{op}", starts = "step coat{op}", source = "Invented", windows = [
    {{ earliest = "2 h", latest = "72 h" }},
  ] }},
]
"""


_KINDS = (
    ("Cut face", "mill", _CYCLE), ("Cut face", "lathe", _CYCLE), ("Deburr", "bench", _BY_HAND),
    ("Coat", "booth", _COAT), ("Cut face", "mill", _CYCLE),
)  # fmt: skip


def measure() -> tuple[dict[str, float], dict[str, float]]:
    """(ratios, figures): no ratios; seconds for the largest order as the screens plan it, and for the command line.

    Figures: `plan_5000x40_first_s` from the batch to the first plan that can be shown, `plan_5000x40_s` the good one
    behind it, `plan_5000x40_band_s` its band, by how much the first is longer; `plan_command_..._s` whole processes.
    """
    collect_garbage_seldom()
    batch = build_fresh_batch(checklist(40), 5000, 5000, Moment(MORNING))

    def first_plan() -> tuple[Snapshot, ShopPlan]:
        taken = take_snapshot([batch], Moment(MORNING), ONE_SHIFT)
        return taken, make_plan(taken.ways, effort=FIRST)

    (taken, first), first_s = _timed(first_plan)
    good, good_s = _timed(lambda: make_plan(taken.like(first), effort=THOROUGH_LARGE, previous=first))
    _, band_s = _timed(
        lambda: simulate_finishes(good.problem, good.plan, samples=choose_draw_count(good.problem, SAMPLES))
    )
    longer = (first.plan.end - good.plan.start) / (good.plan.end - good.plan.start)
    return {}, {
        "plan_5000x40_first_s": first_s, "plan_5000x40_s": good_s, "plan_5000x40_band_s": band_s,
        "plan_5000x40_first_vs_good": longer, **_commands(),
    }  # fmt: skip


def checklist(operations: int) -> Checklist:
    """Cycles on two machines, work by hand, and coats with a window after each; on trays from the middle on."""
    with tempfile.TemporaryDirectory() as folder:
        loaded = load_checklist(written(operations, Path(folder)))
    assert loaded.checklist is not None, "\n".join(map(str, loaded.problems))
    return loaded.checklist


def written(operations: int, folder: Path) -> Path:
    """The checklist as a file in a folder."""
    text = [HEAD.format(capacity=CAPACITY, count=12), BENCH, _MORE]
    gate = ""
    for n in range(operations):
        op, carrier = 10 * (n + 1), "pallet" if n < operations / 2 else "tray"
        title, station, kind = _KINDS[n % 5]
        text.append((_OPERATION + kind).format(op=op, title=title, station=station, carrier=carrier, gate=gate))
        gate = f'{{ gate = "cured", clock = "coat{op}", at = "arrive" }}, ' if kind is _COAT else ""
    file = folder / "large.toml"
    file.write_text("\n".join(text), encoding="utf-8")
    return file


def _timed(work: Callable[[], T]) -> tuple[T, float]:
    started = time.process_time()
    found = work()
    return found, time.process_time() - started


def _commands() -> dict[str, float]:
    """Processor seconds of ``floor plan`` by order and form, compiled beforehand like an installed program."""
    found = {}
    with tempfile.TemporaryDirectory() as compiled:
        env = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
        env["PYTHONPYCACHEPREFIX"] = compiled
        _command(10, 5, "--json", env)
        for pieces, operations in ((1000, 10), (5000, 40)):
            for form, option in (("", "--json"), ("csv_", "--csv")):
                found[f"plan_command_{pieces}x{operations}_{form}s"] = _command(pieces, operations, option, env)
    return found


def _command(pieces: int, operations: int, form: str, env: dict[str, str]) -> float:
    """Processor seconds of ``floor plan`` for an order, in a shop of its own."""
    with tempfile.TemporaryDirectory() as folder:
        file = written(operations, Path(folder))
        before = getrusage(RUSAGE_CHILDREN)
        subprocess.run(
            [
                sys.executable,
                "-m",
                "floor",
                "plan",
                str(file),
                "--order",
                str(pieces * 9 // 10),
                "--start",
                str(pieces),
                form,
                "--shop",
                folder,
            ],
            check=True,
            capture_output=True,
            env=env,
        )
        after = getrusage(RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
