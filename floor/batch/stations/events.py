"""What happened at a station: something that voids proofs, another set-up, tools worn, out of service."""

from typing import Literal

from floor.batch.event_base import Event, alias_field, register_event
from floor.checklist.gate_base import Disturbance


@register_event("disturbed", "gates", abnormal=True)
class Disturbed(Event):
    station: str
    what: Disturbance
    load: int | None = None
    tool: int | None = None
    offset: str = ""
    note: str = ""
    worn: float = 0.0
    """Wear of the tool that was taken out: it counts again if this is struck out."""
    told: str = ""
    """The entry of another batch that reported it, as cited there."""


@register_event("setup_taken_down", "gates", locked=True)
class SetupTakenDown(Event):
    station: str
    other: str = alias_field("for")
    """The batch the station is now set up for."""


@register_event("tool_worn", "gates", locked=True)
class ToolWorn(Event):
    station: str
    tools: tuple[tuple[int, float], ...]
    """(tool, its wear)."""
    other: str = alias_field("from")
    """The batch that cut with them."""


@register_event("out_of_service", "gates", locked=True)
class OutOfService(Event):
    station: str
    why: str
    said_by: str
    since: str
    back: str = ""
    """When it is expected back; empty where nobody knows."""


Condition = Literal["guard off", "interlock bypassed", "lock on", "safety equipment out", "temporary fix"]
"""What outlasts a shift at a station and can hurt whoever does not know of it."""


@register_event("condition_reported", "gates", locked=True)
class ConditionReported(Event):
    station: str
    what: Condition
    note: str
    said_by: str
    since: str


@register_event("condition_cleared", "gates", locked=True)
class ConditionCleared(Event):
    station: str
    what: Condition
    note: str
    whose: str = ""
    """Whose lock, as each person has their own; older records do not say."""


@register_event("back_in_service", "gates", locked=True)
class BackInService(Event):
    station: str
    note: str = ""
