"""Charts in text: every value is in sight at its height, and nothing is wider than it may be."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from floor.text import count_cells
from floor.text_charts import Happening, Level, draw_bars, draw_places, draw_scatter, draw_values

NUMBERS = st.floats(-1e6, 1e6, allow_nan=False)


def test_values_stand_at_their_height_with_the_limits_named() -> None:
    lines = draw_values(
        [2.9, 3.0, 3.1, 3.3],
        [Level("high", 3.2, "="), Level("mean", 3.0), Level("low", 2.8, "=")],
        signals=[3],
        happenings=[Happening(2, "T")],
        names=["1", "2", "3", "14"],
        width=21,
        height=6,
    )
    assert lines == [
        "                  ✕",
        "high 3.2 ==========",
        "               o   ",
        "mean 3   ---o------",
        "         o         ",
        "low 2.8  ==========",
        "               T   ",
        "         1  2  3  14",
    ]


def test_a_level_may_stand_at_another_height_for_each_value() -> None:
    """Its name stands where the first of them does; a value without one has none."""
    own = Level("UCL", 3.2, own=[3.2, 3.2, None, 3.4])
    lines = draw_values([3.0, 3.0, 3.2, 3.1], [own, Level("mean", 3.0, "·")], [], [], [], width=21, height=5)
    assert [line.rstrip() for line in lines] == [
        "                 -",
        "",
        "UCL 3.2 ------o",
        "                 o",
        "mean 3  o··o······",
        "",
    ]


def test_more_values_than_columns_share_them_and_the_extremes_stay() -> None:
    values = [0.0] * 99 + [10.0]
    lines = draw_values(values, [], [99], [Happening(50, "S")], [], width=14, height=3)
    assert lines[0].rstrip().endswith("✕")
    assert all(count_cells(line) <= 14 for line in lines)
    assert lines[-1].strip() == "S"


@given(st.lists(NUMBERS, min_size=1, max_size=300), st.integers(12, 160), st.integers(2, 40))
def test_a_chart_is_as_large_as_it_may_be_and_no_larger(values: list[float], width: int, height: int) -> None:
    lines = draw_values(values, [Level("mean", values[0])], [], [], [], width, height)
    assert len(lines) == height + 1
    assert max(map(count_cells, lines)) <= max(width, 24)
    assert any("o" in line for line in lines)


def test_between_the_levels_an_axis_has_round_numbers() -> None:
    lines = draw_values([0.0, 10.0, 4.0], [], [], [], ["7", "8", "9"], width=20, height=7)
    assert lines == [
        "10    o   ",
        "          ",
        "          ",
        " 5        ",
        "         o",
        "          ",
        " 0 o      ",
        "          ",
        "   7  8  9",
    ]


def test_points_lie_at_both_their_numbers() -> None:
    lines = draw_scatter([(20, 2.0)], [(0, 0.0)], [(10, 1.0)], [Level("high", 2.0, "=")], width=27, height=3)
    assert lines == [
        "high 2 ===================o",
        "                 ·         ",
        "     0 +                   ",
        "       0                 20",
    ]


def test_nothing_to_draw_draws_nothing() -> None:
    assert draw_values([], [], [], [], [], 80, 10) == []
    assert draw_scatter([], [], [], [], 80, 10) == []
    assert draw_bars([], 40) == []
    assert draw_places([], 4, {}) == []


def test_bars_are_as_long_as_their_amounts() -> None:
    assert draw_bars([("Chatter", 4, "4  80 %"), ("Void", 1, "1 100 %"), ("Bent", 0, "0")], 24) == [
        "Chatter ████████ 4  80 %",
        "Void    ██       1 100 %",
        "Bent             0",
    ]


def test_places_lie_as_on_the_carrier() -> None:
    assert draw_places(("A1", "A2", "B1", "B2"), 2, {"A2": "3", "B1": "1"}) == ["A1 ·  A2 3", "B1 1  B2 ·"]
