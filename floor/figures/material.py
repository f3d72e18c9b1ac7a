"""What to have on the shelf: blanks to cut, loads to make up, tape by length, coating by area and coats."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from floor.figures.errors import ImpossibleFit, ImpossibleOrder
from floor.figures.layout import Size, exact


@dataclass(frozen=True, slots=True)
class Lots:
    """Pieces made up into blanks, loads or rolls that hold a fixed number."""

    count: int
    last: int
    """Pieces in the last one; the full number where all are full, 0 where there is none."""


def make_up(pieces: int, per_lot: int) -> Lots:
    """Blanks to cut or loads to fill for so many pieces.

    Raises:
        ImpossibleOrder: fewer than no pieces.
        ImpossibleFit: a lot that holds none.
    """
    if pieces < 0:
        raise ImpossibleOrder(f"{pieces} pieces", "give 0 or more")
    if per_lot < 1:
        raise ImpossibleFit(f"a blank or load of {per_lot} pieces", "it holds at least one piece")
    count = -(-pieces // per_lot)
    return Lots(count, pieces - (count - 1) * per_lot if count else 0)


@dataclass(frozen=True, slots=True)
class Tape:
    """Tape to have ready."""

    length: Fraction
    """Length that ends up on blanks, in the unit of the strips."""
    rolls: int


def tape(strips: int, strip: Size, roll: Size) -> Tape:
    """Rolls to cut so many strips from, none pieced together from two rolls.

    Args:
        strips: Strips of tape in all, 0 or more.
        strip: Length of one, with what is trimmed off.
        roll: Length on a roll, in the same unit.

    Raises:
        ImpossibleOrder: fewer than no strips.
        ImpossibleFit: a strip longer than the roll, or a length not above 0.
    """
    each, whole = exact(strip), exact(roll)
    if each <= 0 or whole <= 0:
        raise ImpossibleFit(f"tape strips of {strip} from rolls of {roll}", "give lengths above 0")
    if each > whole:
        raise ImpossibleFit(f"a tape strip of {strip} from a roll of {roll}", "take longer rolls or shorter strips")
    return Tape(strips * each, make_up(strips, math.floor(whole / each)).count)


def spreading_rate(solids: float, film: float) -> float:
    """Theoretical spreading rate of a coating in square metres to the litre: 10 · solids / film.

    One litre at 100 % solids covers 1 m² with 1000 µm, by volume alone; losses are `coating`'s part.

    Args:
        solids: Volume solids from the data sheet, percent, above 0 to 100.
        film: Dry film thickness of one coat in micrometres, above 0.

    Raises:
        ImpossibleFit: out of range.
    """
    if not (0 < solids <= 100 and 0 < film < math.inf):
        raise ImpossibleFit(
            f"a film of {film} µm from a coating of {solids} % solids", "give a film above 0 and solids up to 100 %"
        )
    return 10 * solids / film


@dataclass(frozen=True, slots=True)
class Coating:
    """Coating to have ready."""

    volume: float
    """In the unit of volume that the spreading rate is stated for."""
    containers: int


def coating(area: float, coats: int, spreading: float, *, transfer: float = 1.0, container: float = 1.0) -> Coating:
    """Coating for an area and so many coats: area · coats / (spreading rate · transfer).

    Args:
        area: Area coated in all, masks and blanks between the pieces included where they are sprayed over.
        coats: Number of coats, 0 or more.
        spreading: Area that one unit of volume covers with one coat.
        transfer: Share of what is sprayed that ends up on the area, above 0 to 1; the data sheet or a trial says.
        container: Volume in one container.

    Raises:
        ImpossibleFit: a figure out of range.
    """
    if not (0 <= area < math.inf and coats >= 0 and spreading > 0 and 0 < transfer <= 1 and container > 0):
        raise ImpossibleFit(
            f"coating for {area} in {coats} coats at {spreading} a unit, transfer {transfer}, by {container}",
            "area and coats are 0 or more, spreading and container above 0, transfer above 0 and at most 1",
        )
    volume = area * coats / (spreading * transfer)
    return Coating(volume, math.ceil(volume / container - 1e-9))
