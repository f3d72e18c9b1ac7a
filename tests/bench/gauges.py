"""Finding in a record of 100,000 entries what a gauge measured: processor time, in milliseconds, best of several.

``gauge_checks_ms``: what depends on a gauge, as asked before it is withdrawn, here 7,700 checks. ``gauge_unused_ms``:
the same of one that none of them used. ``gauge_report_ms``: telling a batch that it is suspect. ``gauge_trace_ms``:
the trace of one piece.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from itertools import cycle, islice
from typing import Any

from floor.batch.command import Context, Person
from floor.batch.gates.suspect_gauges import ReportSuspectGauge, list_checks_with
from floor.papers.trace import format_trace
from floor.shop.effects_on_other_batches import draft_effects
from tests.batch.factory import MORNING, Bench, edited, open_bench
from tests.batch.test_gauges import DEPTH

MANY = 100_000
TIMES = 3


def measure() -> tuple[dict[str, float], dict[str, Any]]:
    """(ratios, figures): no ratios."""
    bench = large()
    batch, now = bench.state, bench.clock()
    news = [ReportSuspectGauge("DM-1", "Depth micrometer", "dropped", MORNING)]
    context = Context(now, Person("LL", lead=True))
    piece = batch.loads[1].pieces[0]
    return {}, {
        "gauge_checks_ms": _best(lambda: list_checks_with(batch, "DM-1", MORNING)),
        "gauge_unused_ms": _best(lambda: list_checks_with(batch, "DM-2", MORNING)),
        "gauge_report_ms": _best(lambda: draft_effects(batch, news, context)),
        "gauge_trace_ms": _best(lambda: format_trace(batch, piece, now)),
    }


def large() -> Bench:
    """A batch whose groove is measured with a gauge; the entries of its second load are repeated, as of many loads."""
    bench = open_bench(partial(edited, DEPTH))
    bench.through(bench.form(10), 10)
    first = bench.state.seq
    bench.through(bench.form(10), 10)
    again = islice(cycle(bench.state.entries[first:]), MANY - first)
    bench.state.entries[first:] = [replace(one, seq=n) for n, one in enumerate(again, first + 1)]
    return bench


def _best(do: Callable[[], object]) -> float:
    taken = []
    for _ in range(TIMES):
        start = time.process_time()
        do()
        taken.append(time.process_time() - start)
    return round(1000 * min(taken), 1)
