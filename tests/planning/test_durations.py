"""Durations of a large order's runs: identical loads are computed once, with the same result."""

from __future__ import annotations

from floor.planning.durations import AS_PLANNED, DurationCache, TimeFactors, build_phases, compute_run_duration
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


def test_they_are_worked_out_once() -> None:
    alike = DurationCache(potted().ops, {})
    assert alike.phases(10, alike.parts(10, 4)) is alike.phases(10, alike.parts(10, 4))
