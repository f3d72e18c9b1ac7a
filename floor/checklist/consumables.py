"""What an operation uses up, as the checklist states it, for what to have on the shelf.

Four kinds, told apart by ``by``: cut to length from rolls or bars, spread over an area, weighed or measured out (mixed
by the cup where a pot life says so), counted.
"""

from typing import Annotated, Literal

from floor.checklist.base import Id, Limits, Strict, Tagged, Text
from floor.checklist.units import Amount, Area, PositiveLength, Share, Spreading, Volume

Per = Literal["piece", "load"]


class Consumable(Strict):
    """Something used up at one or more operations of the route."""

    what: Annotated[Text, Limits(min_length=2, max_length=40)]
    ops: Annotated[tuple[int, ...], Limits(min_length=1, max_length=40)]
    """Operations that use it up, each as much."""
    waste: Share | None = None
    """Share of what is taken that does not end up on a piece: overspray, cup leavings, spoiled strips."""
    source: Annotated[Text, Limits(min_length=3)]
    """Where the amount comes from: data sheet, trial, common practice."""


class ByLength(Consumable):
    """Cut to length: tape from a roll, bar, tube."""

    by: Literal["length"]
    each: PositiveLength
    """Length of one cut, with what the cut and the trimming take."""
    cuts: Annotated[int, Limits(ge=1, le=1000)] = 1
    """How many for a piece, or for a load."""
    per: Per = "piece"
    package: PositiveLength | None = None
    """Length of a roll or bar; no cut is pieced together from two."""


class ByArea(Consumable):
    """Spread over an area: paint, primer, coating."""

    by: Literal["area"]
    each: Area
    """Area of one piece that is coated."""
    coats: Annotated[int, Limits(ge=1, le=9)] = 1
    """At each of the operations."""
    spreading: Spreading | None = None
    """Area that one measure covers with one coat, nothing lost; or `solids` and `film`."""
    solids: Share | None = None
    """Volume solids by the data sheet."""
    film: PositiveLength | None = None
    """Dry film thickness of one coat."""
    package: Volume | None = None


class ByAmount(Consumable):
    """Weighed or measured out: adhesive, potting, wipes of solvent, oil."""

    by: Literal["amount"]
    each: Amount
    """On one piece, or for one load."""
    per: Per = "piece"
    mix: Amount | None = None
    """Size of one mix, where it is mixed; a new one for each load, and whenever the pot life is over."""
    pot_life: Id = ""
    """Name of the clock that is the pot life of a mix."""
    package: Amount | None = None


class ByCount(Consumable):
    """Counted: seals, plugs, bags, inserts."""

    by: Literal["count"]
    each: Annotated[int, Limits(ge=1, le=1000)] = 1
    per: Per = "piece"
    package: Annotated[int, Limits(ge=1, le=1_000_000)] | None = None


KINDS: dict[str, type[Consumable]] = {"length": ByLength, "area": ByArea, "amount": ByAmount, "count": ByCount}

AnyConsumable = Annotated[ByLength | ByArea | ByAmount | ByCount, Tagged("by", KINDS, untagged="")]
