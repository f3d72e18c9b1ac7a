"""The windows of a clock as instants agree with its standing, also after the shop's clock was set."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from floor.batch.walk.clocks import compute_window_spans, judge_clock
from tests.batch.factory import open_bench


@pytest.mark.parametrize("stepped", [0.0, 7200.0, -7200.0])
def test_each_window_opens_and_closes_when_the_standing_says_so(stepped: float) -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.clock.step(stepped)
    batch, now = bench.state, bench.clock()
    found = batch.checklist.clock("recoat")
    assert found is not None
    clock, pieces = found[1], batch.present(batch.loads[load])

    first, second = compute_window_spans(batch, clock, pieces, now)

    def at(seconds_from: object) -> str:
        later = (seconds_from - now.at).total_seconds()  # type: ignore[operator]
        moment = replace(now, at=now.at + timedelta(seconds=later), up=now.up + later)
        return judge_clock(batch, clock, pieces, moment).status

    assert first[1] is not None
    assert second[1] is None
    tick = timedelta(seconds=1)
    assert [at(first[1]), at(first[1] + tick), at(second[0] - tick), at(second[0])] == ["open", "wait", "wait", "open"]


def test_a_window_too_short_for_the_age_of_the_pieces_is_left_out() -> None:
    """Two pallets coated two hours apart are never both within one hour of their coat."""
    bench = open_bench()
    first = bench.form(10)
    bench.through(first, 10, 20)
    second = bench.form(10)
    bench.through(second, 10)
    bench.clock.forward(7200)
    bench.through(second, 20)
    batch = bench.state
    found = batch.checklist.clock("recoat")
    assert found is not None
    both = (*batch.present(batch.loads[first]), *batch.present(batch.loads[second]))

    assert len(compute_window_spans(batch, found[1], both, bench.clock())) == 1
    assert len(compute_window_spans(batch, found[1], both[:4], bench.clock())) == 2


def test_a_clock_that_runs_for_no_piece_has_no_windows() -> None:
    bench = open_bench()
    found = bench.state.checklist.clock("recoat")
    assert found is not None
    assert compute_window_spans(bench.state, found[1], (1, 2), bench.clock()) == []
