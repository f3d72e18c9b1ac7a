"""A tool that wears is told of before its pieces are out; chance alone is not."""

from __future__ import annotations

import random

import pytest

from floor.batch.quality.drifts import DriftWatch, find_drifts, list_wear
from floor.batch.quality.measured_values import list_measured_values
from floor.batch.state import Batch
from floor.batch.stations.commands import Disturb
from floor.papers.drifts import describe_drift, describe_wear, list_drift_warnings
from tests.batch.factory import Bench, edited, measure_again, open_bench

DEPTH = "measured 1"
PALLETS = ("columns = 2\ncount = 3", "columns = 2\ncount = 30")
LONG_LIFE = ('life = "60 min"', 'life = "2000 min"')


def cut(
    loads: int, slope: float, start: int = 100, seed: int = 1, bench: Bench | None = None, before: float = 2.95
) -> Bench:
    """So many pallets, the depth rising by the slope a piece from 2.95 mm, give or take 0.01."""
    draw = random.Random(seed)
    bench = bench or open_bench(lambda: edited(PALLETS, LONG_LIFE), start=start)
    for n in range(loads):
        load = bench.form(10)
        bench.until(load, DEPTH)
        depth = before + slope * 4 * n
        bench.prove(load, DEPTH, value=[round(depth + draw.gauss(0, 0.01), 4) for _ in range(2)])
        bench.through(load)
    return bench


def warned(batch: Batch) -> list[str]:
    return list_drift_warnings(batch, find_drifts(batch), 10)


def test_a_wearing_tool_is_told_with_the_pieces_left() -> None:
    """0.002 mm a piece from 2.95: the line is at 3.1 mm after 75 pieces, and 56 are cut."""
    batch = cut(14, 0.002).state
    (one,) = find_drifts(batch)
    assert one.drift.slope == pytest.approx(0.002, rel=0.2)
    assert one.to_limit is not None
    assert 8 <= one.to_limit.about <= 32
    assert one.to_limit.at_least <= one.to_limit.about
    assert describe_drift(one).startswith("groove depth drifts up: about ")
    assert warned(batch) == [describe_drift(one)], "44 pieces are still to come"


def test_a_tool_that_leaves_the_limits_within_four_loads_is_told_before_it_does() -> None:
    """Loads at 2.94, 3.004, 3.068 and 3.132 mm, of 2.9 to 3.1: the outer quarter is from 3.05 mm on."""
    bench = cut(2, 0.016, before=2.94)
    assert warned(bench.state) == []
    batch = cut(1, 0.016, bench=bench, before=2.94 + 8 * 0.016).state
    values = [one.value for shape, some in list_measured_values(batch).items() if shape.of_piece for one in some]
    assert len(values) == 6
    assert max(values) < 3.1
    assert warned(batch) == [
        "groove depth drifts up: the whole last load lies within a quarter of the tolerance of its limit 3.1 mm"
    ]
    (one,) = find_drifts(batch)
    assert (one.is_near, one.to_limit) == (True, None)
    assert list_wear(batch) == [], "so few values are no line"
    last = cut(3, 0.016, start=12, before=2.94).state
    assert find_drifts(last)
    assert warned(last) == [], "no piece is to come"


def test_after_a_change_only_the_pieces_of_the_new_tool_count() -> None:
    """56 cut with the old one, 32 with the new: 0.002 mm a piece from 2.95 is at 3.1 mm after 75, 43 more."""
    bench = cut(14, 0.002, start=200)
    bench.say(Disturb("mill", "tool changed", tool=1))
    batch = cut(8, 0.002, seed=2, bench=bench).state
    (one,) = find_drifts(batch)
    assert one.to_limit is not None
    assert 30 <= one.to_limit.about <= 56


def test_what_will_not_reach_the_limit_before_the_last_piece_is_not_told() -> None:
    batch = cut(14, 0.002, start=60).state
    assert find_drifts(batch)
    assert warned(batch) == [], "4 pieces are still to come"


@pytest.mark.parametrize("seed", range(5))
def test_chance_alone_is_no_drift(seed: int) -> None:
    assert find_drifts(cut(14, 0.0, seed=seed).state) == []


def test_it_is_found_anew_only_after_something_that_may_change_it(monkeypatch: pytest.MonkeyPatch) -> None:
    from floor.batch.quality import drifts

    bench, looks = cut(9, 0.002), []
    monkeypatch.setattr(drifts, "find_drifts", lambda batch: looks.append(batch.seq) or [])
    watch = DriftWatch()
    for _ in range(3):
        watch.find(bench.state)
    assert len(looks) == 1
    load = bench.form(10)
    watch.find(bench.state)
    bench.until(load, DEPTH)
    watch.find(bench.state)
    assert len(looks) == 1, "neither a load nor other gates change a value"
    out = bench.prove(load, DEPTH, value=[3.2, 3.0]).seq
    watch.find(bench.state)
    assert len(looks) == 2
    bench.say(measure_again(bench.state, out, "3.05", "burr"))
    watch.find(bench.state)
    assert len(looks) == 3, "the last reading counts"


def test_a_slope_that_may_be_none_is_no_wear() -> None:
    (worn,), (steady,) = list_wear(cut(14, 0.002).state), list_wear(cut(14, 0.0).state)
    assert describe_wear(worn).startswith("+0.2")
    assert " mm in 100 pieces (95 % sure: +0.1" in describe_wear(worn)
    assert describe_wear(steady).startswith("No wear shown: ")
    (few,) = list_wear(cut(4, 0.002).state)
    assert describe_wear(few).startswith("No wear shown: ")
    assert "(too few loads for an interval)" in describe_wear(few)
