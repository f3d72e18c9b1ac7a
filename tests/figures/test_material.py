"""Blanks, loads, tape and coating beside sums by hand and a units library."""

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.figures.errors import Impossible
from floor.figures.material import Coating, Lots, Tape, coating, make_up, spreading_rate, tape


def test_loads_of_twelve() -> None:
    """120 pieces make 10 full loads; 113 make 10, the last with 5 (by hand)."""
    assert make_up(120, 12) == Lots(10, 12)
    assert make_up(113, 12) == Lots(10, 5)
    assert make_up(0, 12) == Lots(0, 0)


@settings(deadline=None)
@given(pieces=st.integers(1, 5000), per_lot=st.integers(1, 200))
def test_lots_hold_exactly_the_pieces(pieces: int, per_lot: int) -> None:
    lots = make_up(pieces, per_lot)

    assert (lots.count - 1) * per_lot + lots.last == pieces
    assert 1 <= lots.last <= per_lot


def test_tape_is_not_pieced_together() -> None:
    """A 36 yd roll (1296 in) gives 107 strips of 12.1 in, so 108 strips take a second one (by hand)."""
    assert tape(107, 12.1, 1296) == Tape(length=tape(107, "12.1", 1296).length, rolls=1)
    assert tape(108, 12.1, 1296).rolls == 2
    assert float(tape(107, 12.1, 1296).length) == pytest.approx(1294.7)


def test_spreading_rate_is_the_volume_of_the_film() -> None:
    """A gallon of solids spreads 1604 ft² at one thousandth of an inch (coating-industry figure, from memory; pint)."""
    units = pint.UnitRegistry()
    rate = spreading_rate(100, 25.4) * units.meter**2 / units.liter

    assert rate.to("foot**2 / gallon").magnitude == pytest.approx(1604.17, abs=0.01)
    film = 55 * units.percent * units.liter / (40 * units.micrometer)
    assert spreading_rate(55, 40) == pytest.approx(film.to("meter**2").magnitude)


def test_coating_for_a_batch() -> None:
    """2 m² in three coats at 10 m²/l, 60 % transfer: 1 litre, three cans of 0.4 l (by hand)."""
    assert coating(2, 3, 10, transfer=0.6, container=0.4) == Coating(pytest.approx(1.0), 3)
    assert coating(3, 1, 10, container=0.1).containers == 3  # 3 / 10 / 0.1 is a shade above 3 in doubles
    assert coating(0, 3, 10) == Coating(0, 0)


@pytest.mark.parametrize(
    "asked",
    [
        lambda: make_up(-1, 12),
        lambda: make_up(10, 0),
        lambda: tape(5, 12, 10),
        lambda: tape(5, 0, 10),
        lambda: tape(-1, 1, 10),
        lambda: spreading_rate(0, 25),
        lambda: spreading_rate(101, 25),
        lambda: spreading_rate(50, 0),
        lambda: coating(1, 1, 0),
        lambda: coating(1, -1, 10),
        lambda: coating(1, 1, 10, transfer=0),
        lambda: coating(float("nan"), 1, 10),
    ],
)
def test_impossible_material_is_refused(asked: object) -> None:
    assert callable(asked)
    with pytest.raises(Impossible) as refusal:
        asked()
    assert refusal.value.remedy
