"""Pieces counted, set aside, disposed of, taken off their carrier; what becomes of surplus."""

from typing import Literal

from floor.batch.event_base import Event, alias_field, register_event, register_part
from floor.batch.load import Where
from floor.batch.walk.events import OfRun


@register_part
class Mark:
    """Pieces of a count that are not simply good."""

    to: Literal["scrap", "rework", "hold"]
    reason: str
    pieces: tuple[int, ...]
    places: tuple[str, ...] = ()
    """On the carrier, in words."""
    sits: bool = False
    """Whether they stay on it."""
    caused_at: int | None = None
    note: str = ""


@register_event("counted", "counts")
class Counted(OfRun):
    load: int
    went_in: int = alias_field("in")
    good: int
    marks: tuple[Mark, ...]


@register_event("set_aside", "counts", abnormal=True)
class SetAside(Event):
    pieces: tuple[int, ...]
    to: Literal["scrap", "hold"]
    reason: str
    load: int | None = None
    op: int | None = None
    where: str = ""
    """In words."""
    sits: bool = False
    """Whether they stay on a carrier that holds them fast."""
    off: bool = False
    """Whether they were taken off a carrier that holds them fast."""
    of_run: int | None = None
    """The run whose reading put all its pieces on hold."""


@register_event("count_corrected", "counts", abnormal=True)
class CountCorrected(Event):
    """Pieces that an entry counted or set aside as scrap were good: they are on hold until a lead decides."""

    of: int
    """That entry."""
    pieces: tuple[int, ...]
    reason: str


@register_part
class ReadAgain:
    """A value of one piece that was out of limits, measured once more."""

    out: int
    """The entry that read it out of limits."""
    what: str
    value: float | int | str
    unit: str
    good: bool
    shown: str = ""
    """The value as the gauge showed it; empty where the number says it itself."""


@register_part
class Concession:
    """The customer's word that pieces that do not conform may be used (ISO 9000:2015, 3.12.5)."""

    by: str
    """Who gave it."""
    on: str
    """The day, as an ISO date."""
    number: str = ""
    """Theirs; empty where they gave none."""


Decision = Literal["use as is", "rework", "scrap", "repair", "regrade", "return to supplier"]
"""What becomes of a nonconforming piece (ISO 9000:2015, 3.12.4 to 3.12.10; ISO 9001:2015, 8.7.1). Rework restores what
the drawing asks for; repair makes it fit for use only, as the customer allows."""
ENDS: dict[str, Where] = {"scrap": "scrap", "regrade": "regraded", "return to supplier": "returned"}
"""Where a decision ends the way of a piece."""


@register_event("disposed", "counts")
class Disposed(Event):
    pieces: tuple[int, ...]
    decision: Decision
    reason: str
    rework: str = ""
    waives_rework: bool = False
    where: str = ""
    stays: tuple[int, ...] = ()
    """Pieces that are reworked without leaving their carrier."""
    granted: Concession | None = None
    """None if used as is because the pieces were found to conform."""
    concession: str = ""
    """The same in words, in older records."""
    measured: tuple[ReadAgain, ...] = ()
    """Use as is: what shows that the piece conforms after all."""
    to: str = ""
    """Regrade: the grade they are now. Return to supplier: who gets them, and the number of the return."""
    own_way: bool = False
    """Whether it was checked where else a piece belongs; absent in older records."""


ScrapEnd = Literal["scrap marked", "scrap destroyed", "scrap not found"]
"""What became of scrap, so that it cannot come back among good pieces."""


@register_event("followed_up", "counts", abnormal=True, proves=False)
class FollowedUp(Event):
    """What was found out about nonconforming pieces, the customer was told of them, or what was done with scrap; it
    moves none."""

    what: Literal["cause found", "customer told", ScrapEnd]
    pieces: tuple[int, ...]
    person: str
    """Who looked into it; who was told; who marked or destroyed it, or looked for it."""
    on: str
    """The day, as an ISO date."""
    text: str
    """The cause; what they were told; where marked scrap lies, if the shop names a place."""
    reference: str = ""
    """The customer's."""


@register_event("taken_off", "counts")
class TakenOff(Event):
    pieces: tuple[int, ...]
    load: int
    where: str


@register_event("surplus_taken_out", "counts", abnormal=True)
class SurplusTakenOut(Event):
    to: Literal["spare", "stopped"]
    pieces: tuple[int, ...]
    reason: str
    load: int | None = None
    op: int | None = None


@register_event("surplus_brought_back", "counts", abnormal=True)
class SurplusBroughtBack(Event):
    pieces: tuple[int, ...]
    op: int
    reason: str


@register_event("surplus_goes_on", "counts", abnormal=True)
class SurplusGoesOn(Event):
    until: int
    """The last operation that they still go through."""
    reason: str
