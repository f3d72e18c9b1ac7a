"""The figures of a batch of 5,000 pieces, 40 operations and 100,000 entries: processor time of each page.

One load of 25 is worked through by a simulated operator; its entries are repeated for 200 loads, one after the other,
with other numbers, times and measured values. Every load loses the piece in its last place. `figures_100k_ms` is from
the key to the first page about key figures, `times_…`, `costs_…`, `losses_…` and `lessons_100k_ms` likewise.
`chart_ms` is the control chart of 5,000 values. `entry_cost_with_figures` sets folding an entry in that batch, all
figures shown before, beside folding one in a batch of a single load.
"""

from __future__ import annotations

import random
import tempfile
import time
from collections.abc import Callable
from copy import deepcopy
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from statistics import median
from typing import Any

from floor.batch.corrections.commands import Note
from floor.batch.counting.commands import MarkedPieces
from floor.batch.fold import advance, fold
from floor.batch.quality.costs import CostRates, compute_costs
from floor.batch.quality.lessons import study_lessons
from floor.batch.quality.loss_patterns import study_losses
from floor.batch.quality.measured_values import list_measured_values
from floor.batch.quality.time_elements import BatchElements, compute_time_elements
from floor.batch.state import Batch
from floor.checklist.loading import load_checklist
from floor.checklist.model import Checklist
from floor.cli.base import collect_garbage_seldom
from floor.entry import Entry, format_time
from floor.papers.costs import list_cost_lines
from floor.papers.key_figures import list_figure_lines, list_formula_lines, list_time_lines
from floor.papers.lessons import list_kept_lines, list_offer_lines, list_spare_lines
from floor.papers.losses import list_cause_lines, list_path_lines, list_reason_lines, list_verdict_lines
from floor.papers.measured_values import list_value_lines, study_values
from floor.planning.pace import list_run_times
from tests.batch.factory import MORNING, Bench, entries_of, open_bench
from tests.bench.large import CAPACITY, written
from tests.planning.planned import ONE_SHIFT

LOADS, OPERATIONS, ENTRIES = 200, 40, 100_000
TIMES = 5
WIDTH, HEIGHT = 158, 40
RATES = CostRates("EUR", 38.0, {"mill": 45.0, "lathe": 40.0})
GATE = '{ gate = "measured", what = "depth", low = "9 mm", high = "11 mm", sample = 25, at = "after" }, '


def measure() -> tuple[dict[str, float], dict[str, float]]:
    """(ratios, figures)."""
    collect_garbage_seldom()  # as the program does
    one = work_one_load()
    batch = repeat(one)
    study = compute_time_elements(batch, ONE_SHIFT.calendar, batch.last.at)
    figures = {
        "figures_100k_ms": _best(lambda: show_overview(batch)),
        "times_100k_ms": _best(lambda: show_times(batch)),
        "costs_100k_ms": _best(lambda: show_costs(batch, study)),
        "losses_100k_ms": _best(lambda: show_losses(batch)),
        "lessons_100k_ms": _best(lambda: show_lessons(batch)),
        "chart_ms": _best(lambda: show_chart(batch)),
        "figures_100k_entries": float(batch.seq),
    }
    large, small = _fold_notes(batch), _fold_notes(one.state)
    return {"entry_cost_with_figures": round(large / small, 2)}, figures


def show_overview(batch: Batch) -> list[str]:
    """The first page; those of the stations come with it."""
    study = compute_time_elements(batch, ONE_SHIFT.calendar, batch.last.at)
    return [*list_figure_lines(study.whole, WIDTH), *list_formula_lines(study.whole, WIDTH)]


def show_times(batch: Batch) -> list[str]:
    return list_time_lines(batch, list_run_times(batch, ONE_SHIFT.calendar), WIDTH)


def show_costs(batch: Batch, study: BatchElements) -> list[str]:
    """The page of the cost, from what the first page has worked out."""
    return list_cost_lines(batch, compute_costs(batch, study, RATES), WIDTH)


def show_losses(batch: Batch) -> list[str]:
    study = study_losses(batch)
    shown = [*list_verdict_lines(batch, study, WIDTH), *list_cause_lines(batch, WIDTH)]
    shown += list_reason_lines(batch, WIDTH)
    for path in study.outcomes:
        shown += list_path_lines(batch, study, path, WIDTH, HEIGHT)
    return shown


def show_lessons(batch: Batch) -> list[str]:
    """Both pages, against the checklist that the batch was opened with."""
    found = study_lessons(batch, ONE_SHIFT.calendar)
    shown = [*list_spare_lines(batch, found, batch.checklist, WIDTH), *list_offer_lines(batch, found, None, WIDTH)]
    return [*shown, *list_kept_lines(batch, found, WIDTH)]


def show_chart(batch: Batch) -> list[str]:
    studies = [study_values(shape, values) for shape, values in list_measured_values(batch).items()]
    return [line for one in studies for line in list_value_lines(batch, one, WIDTH, HEIGHT)]


def measured_checklist() -> Checklist:
    """The large order's checklist, with a measured value of each piece at the first operation."""
    with tempfile.TemporaryDirectory() as folder:
        file = written(OPERATIONS, Path(folder))
        clamp = '{ do = "Clamp the pieces", at = "load" }'
        file.write_text(file.read_text().replace(clamp, GATE + clamp, 1), encoding="utf-8")
        loaded = load_checklist(file)
    assert loaded.checklist is not None, "\n".join(map(str, loaded.problems))
    return loaded.checklist


def work_one_load() -> Bench:
    """The first load through every operation; its last place is lost at the first."""
    checklist = measured_checklist()
    bench = open_bench(lambda: checklist, start=CAPACITY)
    hand = bench.hand()
    while bench.state.total("finished") + bench.state.total("scrap") < CAPACITY:
        live = bench.state.list_live_loads()
        load = live[0].number if live else hand.form(bench.state.list_waiting_pools()[0][0])
        marks = (MarkedPieces("bad", count=1),) if bench.state.loads[load].at == 10 else ()
        assert hand.work(load, marks=marks)
    return bench


def repeat(bench: Bench) -> Batch:
    """The same for 200 loads, and pauses up to 100,000 entries."""
    opened, started, *once = bench.state.entries
    start = replace(started, body=started.body | {"count": LOADS * CAPACITY})
    runs, loads, setups = (max(given) for given in (bench.state.runs, bench.state.loads, bench.state.setups))
    pauses = (ENTRIES // LOADS - len(once)) // runs
    draw, entries, span = random.Random(1), [opened, start], once[-1].time - MORNING
    for n in range(LOADS):
        for one in once:
            body = _renumber(
                one.body, n, {"run": n * runs, "load": n * loads, "number": n * loads, "setup": n * setups}
            )
            if one.kind == "proved":
                body["values"] = {"value": [10 + draw.gauss(0, 0.2) for _ in range(CAPACITY)]}
            moved = one.time + n * span
            entries.append(_at(one, len(entries) + 1, moved, body))
            if one.kind == "run_begun":
                said = {"run": body["run"], "op": body["op"], "reason": "to fetch pieces"}
                entries += [replace(_at(one, len(entries) + 1 + m, moved, said), kind="paused") for m in range(pauses)]
    return fold(entries, checklist=bench.state.checklist)


def _renumber(body: dict[str, Any], n: int, by: dict[str, int]) -> dict[str, Any]:
    """The body with other runs, loads, set-ups and pieces."""
    found = deepcopy(body)
    for name, more in by.items():
        if isinstance(found.get(name), int):
            found[name] += more
    for part in (found, *found.get("marks", ())):
        for name in ("pieces", "slots"):
            if name in part:
                part[name] = [piece + n * CAPACITY for piece in part[name]]
    if isinstance(found.get("key"), list):
        found["key"] = [one + by["run"] if isinstance(one, int) else one for one in found["key"]]
    return found


def _at(entry: Entry, seq: int, moved: datetime, body: dict[str, Any]) -> Entry:
    up = 1000.0 + (moved - MORNING) / timedelta(seconds=1)
    return replace(entry, seq=seq, at=format_time(moved), up=up, body=body)


def _fold_notes(batch: Batch) -> float:
    """Processor seconds for one more entry, the median of many."""
    bench, taken = Bench(open_bench().clock, batch), []
    for _ in range(200):
        drafts = Note("coolant filled up").decide(batch, bench.context("", "AA"))
        entries = entries_of(drafts, batch.last, "AA", batch.entries)
        began = time.process_time()
        advance(batch, entries)
        taken.append(time.process_time() - began)
    return median(taken)


def _best(do: Callable[[], object]) -> float:
    taken = []
    for _ in range(TIMES):
        began = time.process_time()
        do()
        taken.append(time.process_time() - began)
    return round(1000 * min(taken), 1)
