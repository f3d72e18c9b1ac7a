"""Measured values as a chart: which kind, which limits, which signals, which figures."""

from __future__ import annotations

from dataclasses import replace

import pytest

from floor.batch.quality.measured_values import MeasuredCharacteristic, MeasuredValue
from floor.figures.quality.run_rules import Rule
from floor.papers.measured_values import list_value_lines, study_values
from tests.batch.factory import MORNING, open_bench

DEPTH = MeasuredCharacteristic(10, "groove depth", 4, "mm", 2.9, 3.1, True)
FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
"""NIST/SEMATECH e-Handbook 6.3.2.2: flow rates of 10 batches."""
RINGS = [[30, 2, 19, -8, 8], [-5, -8, 1, 11, 4], [-12, 24, 21, 5, 2], [2, -4, -7, 15, 9], [-8, 7, 15, -11, 14]]
"""The first of Montgomery's piston rings, in thousandths above 74 mm (data of the R package qcc)."""


def measured(*values: float, per_load: int = 1) -> list[MeasuredValue]:
    return [
        MeasuredValue(
            value, n // per_load + 1, MORNING, "AA", n // per_load + 1, n // per_load + 1, 1, "mill", False, ""
        )
        for n, value in enumerate(values)
    ]


def lines(shape: MeasuredCharacteristic, values: list[MeasuredValue], width: int = 78, height: int = 20) -> list[str]:
    return list_value_lines(open_bench().state, study_values(shape, values), width, height)


def test_single_values_have_the_limits_of_the_drawing_and_of_the_chart() -> None:
    """Center 50.81, limits 45.82 and 55.80, of moving ranges 1.8778 and 6.135 (NIST, with the exact d2)."""
    flow = replace(DEPTH, what="flow", low=40.0, high=60.0, unit="l/min")
    found = lines(flow, measured(*FLOW))
    assert found[0] == "op 10 flow (4): 10 values on 10 loads, single values; limits 40 to 60 l/min"
    heads = [line.split()[:2] for line in found if line.split()[:1] in (["high"], ["UCL"], ["mean"], ["LCL"], ["low"])]
    assert heads == [["high", "60"], ["UCL", "55.8024"], ["mean", "50.81"], ["LCL", "45.8176"], ["low", "40"],
                     ["UCL", "6.13382"], ["mean", "1.87778"]]  # fmt: skip
    assert "Moving range by load" in found
    assert "✓ No run rule met (Western Electric, four rules)" in found
    assert "Cpk from 25 values on; 10 so far" in found


def test_limits_and_values_keep_the_digits_of_the_file_and_of_the_gauge() -> None:
    bore = replace(DEPTH, what="bore", low=8.0, high=8.02, places=2)
    values = [replace(one, text=f"{one.value:.3f}") for one in measured(*[8.01, 8.0, 8.02] * 9)]
    found = lines(bore, values)
    assert found[0].endswith("limits 8.00 to 8.02 mm")
    heads = [line.split()[:2] for line in found if line.split()[:1] in (["high"], ["low"])]
    assert heads == [["high", "8.02"], ["low", "8.00"]]
    assert any(line.startswith("8.000 to 8.020, mean 8.01;") for line in found)


def test_means_of_loads_are_not_set_against_the_limits_of_the_drawing() -> None:
    """A mean lies within them long after its pieces do not."""
    rings = replace(DEPTH, what="diameter", low=-50.0, high=50.0)
    found = lines(rings, measured(*[float(one) for group in RINGS for one in group], per_load=5))
    assert "means of loads" in found[0]
    assert not any(line.startswith(("high", "low ")) for line in found)
    assert any(line.startswith("UCL") for line in found)
    assert any(line.startswith("-12 to 30, mean 5.04; Cp ") for line in found), "25 values are enough for Cpk"


def test_loads_of_unequal_size_have_limits_of_their_own() -> None:
    """Limits of the mean of n values are 3 sigma / √n about it: those of 3 lie twice as far as those of 12."""
    sizes, values = [12, 3, 12, 3, 12, 3], []
    for load, size in enumerate(sizes, 1):
        some = [3.0 + 0.001 * (n % 3 - 1) for n in range(size)]
        values += [replace(one, run=load, load=load) for one in measured(*some)]
    found = lines(DEPTH, values, width=100, height=40)
    legend = "by load; limits for each load's own size, figures for the first load; "
    assert any(line.startswith(legend) for line in found)
    start = found.index("")
    chart = found[start + 1 : next(n for n, line in enumerate(found) if line.startswith("by load"))]
    at = {line.split()[0]: line for line in chart if line.split()[:1] in (["UCL"], ["LCL"])}
    assert all(line.count("---") == 3 for line in at.values()), "of the first, third and fifth load"
    steps = [n for n, line in enumerate(chart) if "---" in line]
    ends = sorted(steps)
    center = next(n for n, line in enumerate(chart) if line.startswith("mean"))
    assert [center - n for n in ends[:2]] == [n - center for n in ends[:1:-1]]
    assert (center - ends[0]) == pytest.approx(2 * (center - ends[1]), abs=1)
    assert not any(line.startswith("by load; limits for") for line in lines(DEPTH, measured(*[3.0, 3.01, 2.99] * 4)))


def test_the_spread_is_drawn_beside_the_values_where_both_have_room_else_last() -> None:
    values = measured(*[3.0, 3.01, 2.99] * 10)
    low, high = lines(DEPTH, values, height=12), lines(DEPTH, values, height=30)
    ruled = "✓ No run rule met (Western Electric, four rules)"
    assert high.index("Moving range by load") < high.index(ruled)
    assert low.index("Moving range by load") > low.index(ruled)
    assert len(high) <= 30
    assert low[-1].split()[0] in ("0.00", "0.000") or "o" in low[-1]


def test_a_value_out_of_limits_and_a_run_are_told_with_their_loads() -> None:
    found = lines(DEPTH, measured(*[3.0, 2.99] * 4, *[3.02] * 8, 3.2))
    assert "✕ 1 of 17 out of limits: load 17" in found
    assert any(line.startswith(f"✕ {Rule.EIGHT_ON_ONE_SIDE.value}: load ") for line in found) or any(
        line.startswith(f"✕ {Rule.ONE_BEYOND_THREE.value}: load 17") for line in found
    )


def test_a_spread_beyond_its_limits_is_told_with_its_load() -> None:
    """D4 is 2.114 for loads of 5 (Montgomery's tables): a range of 9 beside nine of 1 has a mean of 1.8."""
    wide = [-4.5, 0.0, 0.0, 0.0, 4.5]
    values = measured(*[-0.5, 0.0, 0.0, 0.0, 0.5] * 9, *wide, per_load=5)
    assert "✕ range beyond its limits: load 10" in lines(replace(DEPTH, low=-9.0, high=9.0), values)
    assert study_values(replace(DEPTH, low=-9.0, high=9.0), values).is_telling

    single = lines(replace(DEPTH, low=0.0, high=9.0), measured(*[3.0, 3.1] * 9, 4.0))
    assert "✕ moving range beyond its limits: load 19" in single


def test_loads_too_large_for_a_range_have_standard_deviations() -> None:
    """Above 25 values a range wastes most of what they tell."""
    values = measured(*[3.0, 3.01] * 13 * 5, *[2.99, 3.02] * 13, per_load=26)
    found = lines(DEPTH, values)
    assert "means of loads" in found[0]
    assert "✕ standard deviation beyond its limits: load 6" in found


def test_what_only_nelsons_tests_find_is_no_alarm() -> None:
    """Six rising (Nelson 1984, test 3): no rule of Western Electric asks for it."""
    values = measured(3.0, 3.02, 2.98, 3.01, 2.97, 2.98, 2.99, 3.0, 3.01, 3.02, 2.99, 3.01)
    found = lines(DEPTH, values)
    assert "· Nelson's tests add 6 rising or falling: load 10" in found
    assert "✓ No run rule met (Western Electric, four rules)" in found
    assert not study_values(DEPTH, values).is_telling


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ([], ""),
        ([3.0], "No control limits: 1 value so far, from 5 on"),
        ([3.0, 3.01], "No control limits: 2 values so far, from 5 on"),
        ([3.0] * 30, "No control limits: all values are the same"),
    ],
)
def test_where_there_is_no_number_the_reason_stands(values: list[float], said: str) -> None:
    found = lines(DEPTH, measured(*values))
    assert said in found or not values


def test_many_values_on_few_loads_want_more_loads_for_cp() -> None:
    """The spread within loads is told by loads: of three it is not told, whatever they hold."""
    values = measured(*[3.0, 3.01, 2.99, 3.02, 2.98, 3.0, 3.01, 2.99, 3.0, 3.0] * 3, per_load=10)
    found = " ".join(" ".join(lines(DEPTH, values)).split())
    assert "No control limits: 3 loads so far, from 5 on" in found
    assert "Cp n/a (3 loads so far, from 5 on), Cpk n/a (3 loads so far, from 5 on), Pp " in found


def test_means_of_few_loads_can_be_read_off_an_axis_with_numbers() -> None:
    """16.025, 15.999, 16.000: without limits of the chart the numbers are the axis's own."""
    values = measured(*[16.025, 16.025, 15.999, 15.999, 16.0, 16.0], per_load=2)
    found = lines(replace(DEPTH, low=15.9, high=16.1), values)
    assert [line.split() for line in found if line.split()[:1] in (["16.00"], ["16.02"])][-1] == ["16.00", "o", "o"]
    assert any(line.split() == ["1", "2", "3"] for line in found), "the loads are named below"


def test_a_size_without_a_tolerance_has_no_capability() -> None:
    """A checklist may ask for exactly one value."""
    found = lines(replace(DEPTH, low=3.0, high=3.0), measured(*[3.0, 3.0, 3.1] * 9, 3.0, 3.0, 3.2))
    assert "✕ 10 of 30 out of limits: load 21, load 24, load 27, load 30" in found
    assert found[0].endswith("exactly 3 mm")
    assert "no Cp, Cpk, Pp, Ppk: no such limit on the drawing" in " ".join(" ".join(found).split())


def test_values_on_two_steps_of_a_gauge_have_no_capability() -> None:
    """33 values, as a caliper of 0.01 mm shows them: one of a third step is enough."""
    said = " ".join(" ".join(lines(DEPTH, measured(*[3.0, 3.01, 3.0] * 11))).split())
    assert "3 to 3.01, mean 3.0033; no Cp, Cpk, Pp, Ppk: only two different values: use a gauge with" in said
    assert "intervals" not in said
    assert "; Cp " in " ".join(lines(DEPTH, measured(*[3.0, 3.01, 3.0] * 11, 3.02)))


@pytest.mark.parametrize("width", [40, 60, 80, 158])
def test_no_line_is_wider_than_the_page(width: int) -> None:
    found = lines(DEPTH, measured(*[3.0 + 0.001 * n for n in range(200)]), width)
    assert max(map(len, found)) <= width


def test_a_chart_has_five_rows_however_little_room_there_is() -> None:
    """Below them what happened, and the loads."""
    found = lines(DEPTH, measured(3.0, 3.01, 2.99), height=3)
    end = next(n for n, line in enumerate(found) if line.startswith("by load"))
    assert end - found.index("") - 1 == 5 + 2


def test_the_chart_says_which_reading_it_uses_of_a_piece_measured_again() -> None:
    values = [replace(one, place="A1") for one in measured(*[3.0, 3.02] * 13)]
    values[3] = replace(values[3], value=3.05, text="3.050", first="3.21")
    found = lines(DEPTH, values)
    assert "· 1 measured again, the last reading counts: load 4 A1 3.050 (first 3.21)" in found
    assert "from 26 values, 1 of them measured again, intervals 95 %" in " ".join(" ".join(found).split())
    many = [replace(one, first="3.2") for one in values]
    assert any(line.startswith("· 26 measured again, the last reading counts: load 23 A1 3 (first 3.2), ")
               for line in lines(DEPTH, many, width=300))  # fmt: skip
    assert not any("measured again" in line for line in lines(DEPTH, measured(3.0, 3.02)))
