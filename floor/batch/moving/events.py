"""Events of pieces moved by hand between two counts."""

from floor.batch.event_base import Event, register_event


@register_event("pieces_moved", "batch")
class PiecesMoved(Event):
    """Pieces went onto a carrier, to another place on theirs, or off it to wait loose.

    Those now riding on the carrier are a load of their own, so what is on record of earlier loads keeps its places.
    """

    op: int
    """The operation that they go to next."""
    pieces: tuple[int, ...]
    """Those that somebody took in hand, in the order of their new places."""
    where: str = ""
    """The places they were in, or how many they are."""
    left: tuple[int, ...] = ()
    """The loads that they were taken from."""
    rework: str = ""
    load: int = 0
    """The load that they are on now; 0 if they wait loose."""
    carrier: str = ""
    number: int = 0
    """The carrier's."""
    slots: tuple[int | None, ...] = ()
    """All pieces now on that carrier, by its places."""
    joined: int = 0
    """The load that was on that carrier before, and ends here; 0 if it was free."""
    placed: bool = False
    """Whether somebody named the place of each."""
