"""Material required: blanks and loads, cuts from rolls, coating by area and coats, mixes by pot life."""

from __future__ import annotations

import math
from collections.abc import Iterable

from floor.dataclass import dataclass
from floor.figures.errors import ImpossibleFit, ImpossibleOrder
from floor.figures.layout import Size, to_exact_fraction


@dataclass(frozen=True, slots=True)
class LotCount:
    """Pieces made up into blanks, loads or rolls that hold a fixed number."""

    count: int
    last: int
    """Pieces in the last one; the full number if all are full, 0 if there is none."""


def count_lots(pieces: int, per_lot: int) -> LotCount:
    """Blanks to cut or loads to fill for so many pieces.

    Raises:
        ImpossibleOrder: fewer than 0 pieces.
        ImpossibleFit: a lot that holds none.
    """
    if pieces < 0:
        raise ImpossibleOrder(f"{pieces} pieces", "give 0 or more")
    if per_lot < 1:
        raise ImpossibleFit(f"a blank or load of {per_lot} pieces", "it holds at least one piece")
    count = -(-pieces // per_lot)
    return LotCount(count, pieces - (count - 1) * per_lot if count else 0)


def count_packages(amount: float, package: float) -> int:
    """Whole packages for an amount in the same unit; a float a hair above a whole number counts as that number.

    Raises:
        ImpossibleFit: an amount below 0 or infinite, or a package that holds nothing.
    """
    if not (0 <= amount < math.inf and 0 < package < math.inf):
        raise ImpossibleFit(f"{amount} from packages of {package}", "give an amount of 0 or more, and packages above 0")
    return math.ceil(amount / package * (1 - 1e-12))


def add_waste_allowance(amount: float, waste: float) -> float:
    """What to take so that an amount is left after waste: amount / (1 − waste).

    Raises:
        ImpossibleFit: a share below 0, or nothing left.
    """
    if not 0 <= waste < 1:
        raise ImpossibleFit(f"a waste of {100 * waste:.0f} %", "state 0 % or more, and less than 100 %")
    return amount / (1 - waste)


@dataclass(frozen=True, slots=True)
class StockCount:
    """Rolls or bars required."""

    cuts: int
    """Spoiled ones included."""
    length: float
    """Of all cuts together, in the unit of one."""
    rolls: int | None


def count_stock_lengths(cuts: int, each: Size, roll: Size | None, waste: float = 0.0) -> StockCount:
    """Rolls or bars for so many cuts, none pieced together from two.

    Args:
        cuts: Good cuts wanted, 0 or more.
        each: Length of one cut, kerf and trim included.
        roll: Length of a roll or bar, in the same unit; None if unknown.
        waste: Share of the cuts spoiled.

    Raises:
        ImpossibleFit: fewer than 0 cuts, a cut longer than the roll, a length not above 0, or a share out of range.
    """
    one, whole = to_exact_fraction(each), to_exact_fraction(roll) if roll is not None else None
    if one <= 0 or (whole is not None and whole <= 0):
        raise ImpossibleFit(f"cuts of {each} from rolls of {roll}", "give lengths above 0")
    if whole is not None and one > whole:
        raise ImpossibleFit(f"a cut of {each} from a roll of {roll}", "take longer rolls or shorter cuts")
    made = count_packages(add_waste_allowance(cuts, waste), 1)
    lots = count_lots(made, math.floor(whole / one)).count if whole is not None else None
    return StockCount(made, float(made * one), lots)


def compute_pieces_per_mix(mix: float, each: float, pot_life: float, time_each: float, *, waste: float = 0.0) -> int:
    """Pieces one mix covers: as many as it is enough for and as get done within its pot life.

    Args:
        mix: Amount of one mix.
        each: Amount that ends up on a piece, in the same unit, above 0.
        pot_life: How long a mix may be used; infinite if that does not matter.
        time_each: Time for one piece, in the same unit of time; 0 if unknown.
        waste: Share of the mix that is left in the cup.

    Raises:
        ImpossibleFit: a figure out of range.
    """
    if not (0 < mix < math.inf and 0 < each < math.inf and pot_life > 0 and 0 <= time_each < math.inf):
        raise ImpossibleFit(f"{each} from a mix of {mix} within {pot_life}", "give amounts and times above 0")
    if not 0 <= waste < 1:
        raise ImpossibleFit(f"a waste of {100 * waste:.0f} %", "state 0 % or more, and less than 100 %")
    enough = math.floor(mix * (1 - waste) / each * (1 + 1e-12))
    return enough if not time_each or pot_life == math.inf else min(enough, math.floor(pot_life / time_each + 1e-9))


def count_mixes(loads: Iterable[int], per_mix: int) -> int:
    """Mixes for loads of so many pieces, fresh for each load: leftovers have set by the next.

    Raises:
        ImpossibleFit: a mix not enough for one piece.
    """
    return sum(count_lots(pieces, per_mix).count for pieces in loads)


def compute_spreading_rate(solids: float, film: float) -> float:
    """Theoretical spreading rate of a coating in m² per liter: 10 · volume solids / dry film thickness.

    One liter at 100 % solids covers 1 m² at 1000 µm, by volume alone; `compute_coating_volume` adds the losses.

    Args:
        solids: Volume solids from the data sheet, percent, above 0 to 100.
        film: Dry film thickness of one coat in micrometers, above 0.

    Raises:
        ImpossibleFit: out of range.
    """
    if not (0 < solids <= 100 and 0 < film < math.inf):
        raise ImpossibleFit(
            f"a film of {film} µm from a coating of {solids} % solids", "give a film above 0 and solids up to 100 %"
        )
    return 10 * solids / film


def compute_coating_volume(area: float, coats: int, spreading: float, *, transfer: float = 1.0) -> float:
    """Volume of coating for an area: area · coats / (spreading rate · transfer).

    In the unit of volume of the spreading rate.

    Args:
        area: Total area sprayed, overspray on masks and between pieces included.
        coats: Number of coats, 0 or more.
        spreading: Area that one unit of volume covers with one coat.
        transfer: Transfer efficiency, above 0 to 1, from the data sheet or a trial.

    Raises:
        ImpossibleFit: a figure out of range.
    """
    if not (0 <= area < math.inf and coats >= 0 and spreading > 0 and 0 < transfer <= 1):
        raise ImpossibleFit(
            f"coating for {area} in {coats} coats at {spreading} a unit, transfer {transfer}",
            "area and coats are 0 or more, spreading above 0, transfer above 0 and at most 1",
        )
    return area * coats / (spreading * transfer)
