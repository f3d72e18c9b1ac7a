"""Durations of a large order's runs: identical loads are computed once, with the same result."""

from __future__ import annotations

from datetime import timedelta

import pytest

from floor.figures.schedule import PhaseKind
from floor.planning.durations import (
    AS_PLANNED,
    DurationCache,
    TimeFactors,
    build_phases,
    compute_remaining_phases,
    compute_run_duration,
)
from tests.batch.factory import edited, open_bench
from tests.planning.planned import potted


def test_loads_that_are_alike_take_what_each_would_alone() -> None:
    ops, slow = potted().ops, TimeFactors(hands=1.5, cycle=1.25)
    alike = DurationCache(ops, {10: slow})
    for op, operation in ops.items():
        pace = slow if op == 10 else AS_PLANNED
        for pieces in (1, 4, 1):
            each = compute_run_duration(operation, pieces, pace)
            assert alike.parts(op, pieces) == each
            assert alike.phases(op, each) == build_phases(operation, each, pace)


@pytest.mark.parametrize(("at", "minutes"), [("load", 90.0), ("after", 20.0)])
def test_a_dwell_lengthens_the_cycle_that_it_begins_in(at: str, minutes: float) -> None:
    """The cycle is planned with 20 min; a wait of 90 min that begins at the load runs with it."""
    dwelling = edited(
        ('  { do = "Clamp the pallet", at = "load" },\n', ""),
        ('  { do = "Watch the first cut", at = "cycle" },\n',
         f'  {{ do = "Open the valve", id = "valve", at = "{at}" }},\n'),
        ('  { gate = "measured", what = "groove depth"',
         '  { gate = "cured", clock = "settle", at = "after" },\n  { gate = "measured", what = "groove depth"'),
        ('reasons = [\n  { code = "deep"',
         'clocks = [{ id = "settle", starts = "step valve", windows = [{ earliest = "90 min" }], source = "Trial" }]\n'
         'reasons = [\n  { code = "deep"'),
    )  # fmt: skip
    assert compute_run_duration(dwelling.ops[10], 4).cycle == pytest.approx(minutes)


def test_they_are_worked_out_once() -> None:
    alike = DurationCache(potted().ops, {})
    assert alike.phases(10, alike.parts(10, 4)) is alike.phases(10, alike.parts(10, 4))


def test_a_run_begun_before_its_cure_is_over_waits_for_the_rest_of_it() -> None:
    """The coat cures 12 h; the load is set up for the cut 2 h after it was coated, so 10 h are left."""
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10, 20)
    coated = next(entry.time for entry in reversed(bench.state.entries) if entry.body.get("line") == "coat")
    bench.begin(load)
    bench.clock.until(coated + timedelta(hours=2))

    wait, *others = compute_remaining_phases(bench.state, [bench.walk(load)], bench.clock().at)

    assert (wait.kind, wait.minutes) == (PhaseKind.CURE, pytest.approx(600))
    assert others
    bench.clock.forward(11 * 3600)
    kinds = [phase.kind for phase in compute_remaining_phases(bench.state, [bench.walk(load)], bench.clock().at)]
    assert kinds[0] is PhaseKind.ATTENDED
