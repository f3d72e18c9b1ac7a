"""What happened at a station: something that voids proofs, another set-up, tools worn, out of service."""

from floor.batch.events.base import Event, event, named


@event("disturbed", "gates", abnormal=True)
class Disturbed(Event):
    station: str
    what: str
    """A key of `floor.batch.gates.DISTURBANCES`."""
    load: int | None = None
    tool: int | None = None
    offset: str = ""
    note: str = ""
    worn: float = 0.0
    """How far the tool was used up that was changed: it counts again if this is struck out."""
    told: str = ""
    """The entry of another batch that says so, as that cites it."""


@event("setup_taken_down", "gates", locked=True)
class SetupTakenDown(Event):
    station: str
    other: str = named("for")
    """The batch for which the station is set up now."""


@event("tool_worn", "gates", locked=True)
class ToolWorn(Event):
    station: str
    tools: tuple[tuple[int, float], ...]
    """(tool, how far it is used up)."""
    other: str = named("from")
    """The batch that cut with them."""


@event("out_of_service", "gates", locked=True)
class OutOfService(Event):
    station: str
    why: str
    said_by: str
    since: str
    back: str = ""
    """When it is expected back; empty where nobody knows."""


@event("back_in_service", "gates", locked=True)
class BackInService(Event):
    station: str
    note: str = ""
