"""Values against their limits: as a band beside the field while they are typed, and beside what was proved."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.app import FloorApp
from floor.batch.gates.verdict import GateVerdict
from floor.batch.proof import Proof
from floor.batch.walk.lines import Line
from floor.checklist.gates import Measured
from floor.checklist.units import read_measure
from floor.screens.frame.theme import draw_band
from floor.screens.widgets.lines import _bands
from floor.text import count_cells
from tests.screens.conftest import MORNING
from tests.screens.operator import Place
from tests.screens.seen import seen

Open = Callable[..., FloorApp]
FINITE = st.floats(-1e6, 1e6)


@pytest.mark.parametrize(
    ("value", "shown"),
    [(2.9, "├●──────────┤"), (3.0, "├─────●─────┤"), (3.1, "├──────────●┤"), (2.89, "◄├───────────┤ below"),
     (3.11, "├───────────┤► above")],
)  # fmt: skip
def test_the_ends_and_the_middle_of_the_band(value: float, shown: str) -> None:
    assert draw_band(value, 2.9, 3.1) == shown


@given(FINITE, FINITE, FINITE)
def test_the_mark_stands_in_the_band_where_the_value_does_and_outside_a_word_says_so(
    value: float, low: float, high: float
) -> None:
    shown = draw_band(value, low, high)
    if low >= high:
        assert not shown
        return
    assert ("●" in shown) == (low <= value <= high)
    assert ("below" in shown) == (value < low)
    assert ("above" in shown) == (value > high)
    if "●" in shown:
        assert count_cells(shown) == 13
        assert abs(shown.index("●") - 1 - (value - low) / (high - low) * 10) <= 0.5 + 1e-9


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_has_no_place(value: float) -> None:
    assert draw_band(value, 0, 1) == ""


async def test_the_band_moves_as_the_value_is_typed_and_stays_with_what_was_proved(
    place: Place, open_app: Open
) -> None:
    """Limits of the test part: X from -1 to 1 mm."""
    run = place.at(place.load(), "Probe G54 X Z")
    app = open_app("AA")
    async with app.run_test(size=(160, 50)) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.pause()
        assert "-1 to 1 mm" in seen(app)
        await pilot.press("1")
        assert "-1 to 1 mm  ├──────────●┤" in seen(app)
        await pilot.press("1")
        assert "├───────────┤► above" in seen(app)
        await pilot.press("backspace", "backspace", "0", "enter", "0", "enter")
        await pilot.pause()
        assert "-1 ├─────●─────┤ 1" in seen(app)
        assert "-0.1 ├─────●─────┤ 0.1" in seen(app)


async def test_a_gate_without_fields_has_no_hint_about_fields(place: Place, open_app: Open) -> None:
    run = place.at(place.load(), "Press each corner: nothing rocks")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.pause()
        assert "Enter: record it as checked" in seen(app)
        assert "next field" not in seen(app)


def test_beside_what_was_proved_stand_the_limits_as_the_file_writes_them() -> None:
    """0.100 is not 0.1: a drawing says by it how finely to measure."""
    low, high = read_measure("0.100 mm", "any"), read_measure("0.250 mm", "any")
    gate = Measured(gate="measured", what="gap", low=low, high=high)
    proof = Proof(1, MORNING, "AA", {"value": 0.2}, 1, "mill", 1)
    line = Line("measured 1", "gate", "after", gate.title(), "done", gate, verdict=GateVerdict("met", "", proof=proof))

    assert [row.strip() for row in _bands(line)] == ["0.100 ├───────●───┤ 0.250"]
