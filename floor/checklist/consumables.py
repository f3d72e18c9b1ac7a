"""What an operation uses up, as the checklist states it: the basis for the material required.

Four kinds, by ``by``: cut to length from rolls or bars, spread over an area, weighed or measured out (in fresh mixes
if there is a pot life), counted.
"""

from typing import Annotated, Literal

from floor.checklist.field_types import Id, Limits, Strict, Tagged, Text
from floor.checklist.units import Amount, Area, PositiveLength, Share, Spreading, Volume

Per = Literal["piece", "load"]


class Consumable(Strict):
    """Something used up at one or more operations of the route."""

    what: Annotated[Text, Limits(min_length=2, max_length=40)]
    ops: Annotated[tuple[int, ...], Limits(min_length=1, max_length=40)]
    """Operations that use it, the same amount each."""
    waste: Share | None = None
    """Share taken that does not end up on a piece: overspray, leftovers in the cup, spoiled strips."""
    source: Annotated[Text, Limits(min_length=3)]
    """Source of the amount: data sheet, trial, common practice."""


class ByLength(Consumable):
    """Cut to length: tape from a roll, bar, tube."""

    by: Literal["length"]
    each: PositiveLength
    """Length of one cut, kerf and trim included."""
    cuts: Annotated[int, Limits(ge=1, le=1000)] = 1
    """How many per piece, or per load."""
    per: Per = "piece"
    package: PositiveLength | None = None
    """Length of a roll or bar; no cut is pieced together from two."""


class ByArea(Consumable):
    """Spread over an area: paint, primer, coating."""

    by: Literal["area"]
    each: Area
    """Coated area of one piece."""
    coats: Annotated[int, Limits(ge=1, le=9)] = 1
    """Coats at each of the operations."""
    spreading: Spreading | None = None
    """Area one unit covers with one coat, without losses; or `solids` and `film`."""
    solids: Share | None = None
    """Volume solids from the data sheet."""
    film: PositiveLength | None = None
    """Dry film thickness of one coat."""
    package: Volume | None = None


class ByAmount(Consumable):
    """Weighed or measured out: adhesive, potting, solvent, oil."""

    by: Literal["amount"]
    each: Amount
    """Per piece, or per load."""
    per: Per = "piece"
    mix: Amount | None = None
    """Size of one mix, if it is mixed: a new one for each load, and whenever the pot life is over."""
    pot_life: Id = ""
    """Name of the clock for the pot life of a mix."""
    package: Amount | None = None


class ByCount(Consumable):
    """Counted: seals, plugs, bags, inserts."""

    by: Literal["count"]
    each: Annotated[int, Limits(ge=1, le=1000)] = 1
    per: Per = "piece"
    package: Annotated[int, Limits(ge=1, le=1_000_000)] | None = None


KINDS: dict[str, type[Consumable]] = {"length": ByLength, "area": ByArea, "amount": ByAmount, "count": ByCount}

AnyConsumable = Annotated[ByLength | ByArea | ByAmount | ByCount, Tagged("by", KINDS, untagged="")]
