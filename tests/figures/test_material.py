"""Blanks, loads, tape and coating against hand calculations and a units library."""

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.figures.errors import Impossible
from floor.figures.material import (
    LotCount,
    StockCount,
    add_waste_allowance,
    compute_coating_volume,
    compute_pieces_per_mix,
    compute_spreading_rate,
    count_lots,
    count_mixes,
    count_packages,
    count_stock_lengths,
)


def test_loads_of_twelve() -> None:
    """120 pieces make 10 full loads; 113 make 10, the last with 5 (by hand)."""
    assert count_lots(120, 12) == LotCount(10, 12)
    assert count_lots(113, 12) == LotCount(10, 5)
    assert count_lots(0, 12) == LotCount(0, 0)


@settings(deadline=None)
@given(pieces=st.integers(1, 5000), per_lot=st.integers(1, 200))
def test_lots_hold_exactly_the_pieces(pieces: int, per_lot: int) -> None:
    lots = count_lots(pieces, per_lot)

    assert (lots.count - 1) * per_lot + lots.last == pieces
    assert 1 <= lots.last <= per_lot


def test_no_cut_is_pieced_together_from_two_rolls() -> None:
    """A 36 yd roll (1296 in) gives 107 strips of 12.1 in, so 108 strips take a second one (by hand)."""
    assert count_stock_lengths(107, 12.1, 1296) == StockCount(107, pytest.approx(1294.7), 1)
    assert count_stock_lengths(108, 12.1, 1296).rolls == 2
    assert count_stock_lengths(108, 12.1, None).rolls is None
    assert count_stock_lengths(0, 12.1, 1296) == StockCount(0, 0, 0)


def test_bars_for_an_order_of_pins() -> None:
    """3 m bars, 64.5 mm a pin: ⌊3000/64.5⌋ = 46 to a bar; 200 pins with 1 % spoiled are 203 cuts, 5 bars (by hand)."""
    assert count_stock_lengths(200, "64.5", 3000, waste=0.01) == StockCount(203, pytest.approx(203 * 64.5), 5)


@settings(deadline=None)
@given(cuts=st.integers(0, 5000), each=st.integers(1, 400), roll=st.integers(400, 5000), waste=st.floats(0, 0.9))
def test_the_rolls_hold_the_cuts_and_one_fewer_would_not(cuts: int, each: int, roll: int, waste: float) -> None:
    found = count_stock_lengths(cuts, each, roll, waste)
    assert found.rolls is not None
    assert found.cuts * (1 - waste) >= cuts * (1 - 1e-9)
    assert found.rolls * (roll // each) >= found.cuts
    assert found.cuts == 0 or (found.rolls - 1) * (roll // each) < found.cuts


def test_mixes_by_amount_and_by_pot_life() -> None:
    """100 g mixes at 4 g a piece do 25, with a tenth left in the cup 22; 30 min at 2 min a piece do 15 (by hand)."""
    assert compute_pieces_per_mix(100, 4, 1800, 0) == 25
    assert compute_pieces_per_mix(100, 4, 1800, 0, waste=0.1) == 22
    assert compute_pieces_per_mix(100, 4, 1800, 120, waste=0.1) == 15
    assert compute_pieces_per_mix(0.3, 0.1, 1800, 0) == 3, "0.3 / 0.1 is a shade below 3 in doubles"
    assert compute_pieces_per_mix(100, 4, 60, 120) == 0


def test_a_mix_is_not_kept_for_the_next_load() -> None:
    """Loads of 16, 16 and 4 at 15 to a mix take two, two and one; as one heap of 36 they would take three (by hand)."""
    assert count_mixes([16, 16, 4], 15) == 5
    assert count_mixes([36], 15) == 3


@settings(deadline=None)
@given(loads=st.lists(st.integers(0, 60), max_size=20), per_mix=st.integers(1, 80))
def test_mixes_are_enough_and_never_more_than_one_a_load_too_many(loads: list[int], per_mix: int) -> None:
    made = count_mixes(loads, per_mix)
    assert made * per_mix >= sum(loads)
    assert made <= sum(loads) / per_mix + len(loads)


def test_waste_is_a_share_of_what_is_taken() -> None:
    """A fifth lost: 100 on the pieces takes 125, not 120 (by hand)."""
    assert add_waste_allowance(100, 0.2) == 125
    assert count_packages(0.3, 0.1) == 3, "0.3 / 0.1 in doubles is not 3"
    assert count_packages(0, 5) == 0


@pytest.mark.parametrize(
    ("solids", "film", "rate"),
    [(50, 50, 10), (60, 75, 8), (65, 125, 5.2), (100, 1000, 1)],
)
def test_theoretical_spreading_rate(solids: float, film: float, rate: float) -> None:
    """Volume solids in % × 10 / dry film thickness in µm gives m²/L: the formula coating makers print on every data
    sheet, and ISO 3233 and ISO 12944-5 reckon by (from memory; the sums by hand)."""
    assert compute_spreading_rate(solids, film) == pytest.approx(rate)


def test_spreading_rate_is_the_volume_of_the_film() -> None:
    """A gallon of solids spreads 1604 ft² at one thousandth of an inch (coating-industry figure, from memory; pint)."""
    units = pint.UnitRegistry()
    rate = compute_spreading_rate(100, 25.4) * units.meter**2 / units.liter

    assert rate.to("foot**2 / gallon").magnitude == pytest.approx(1604.17, abs=0.01)
    film = 55 * units.percent * units.liter / (40 * units.micrometer)
    assert compute_spreading_rate(55, 40) == pytest.approx(film.to("meter**2").magnitude)


def test_coating_for_a_batch() -> None:
    """2 m² in three coats at 10 m²/l, 60 % transfer: 1 liter (by hand)."""
    assert compute_coating_volume(2, 3, 10, transfer=0.6) == pytest.approx(1.0)
    assert compute_coating_volume(0, 3, 10) == 0


@pytest.mark.parametrize(
    "asked",
    [
        lambda: count_lots(-1, 12),
        lambda: count_lots(10, 0),
        lambda: count_stock_lengths(5, 12, 10),
        lambda: count_stock_lengths(5, 0, 10),
        lambda: count_stock_lengths(-1, 1, 10),
        lambda: count_stock_lengths(5, 1, 10, waste=1),
        lambda: add_waste_allowance(1, -0.1),
        lambda: count_packages(1, 0),
        lambda: count_packages(float("nan"), 1),
        lambda: compute_pieces_per_mix(0, 1, 60, 1),
        lambda: compute_pieces_per_mix(9, 1, 0, 1),
        lambda: compute_pieces_per_mix(9, 1, 60, 1, waste=1),
        lambda: count_mixes([4], 0),
        lambda: compute_spreading_rate(0, 25),
        lambda: compute_spreading_rate(101, 25),
        lambda: compute_spreading_rate(50, 0),
        lambda: compute_coating_volume(1, 1, 0),
        lambda: compute_coating_volume(1, -1, 10),
        lambda: compute_coating_volume(1, 1, 10, transfer=0),
        lambda: compute_coating_volume(float("nan"), 1, 10),
    ],
)
def test_impossible_material_is_refused(asked: object) -> None:
    assert callable(asked)
    with pytest.raises(Impossible) as refusal:
        asked()
    assert refusal.value.remedy
