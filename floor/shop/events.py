"""The shop's own record: people and their pins, tools that batches left worn, records that were brought back."""

from floor.batch.event import Event, event


@event("person_added", "shop", locked=True)
class PersonAdded(Event):
    initials: str
    name: str
    lead: bool


@event("person_changed", "shop", locked=True)
class PersonChanged(Event):
    initials: str
    name: str
    lead: bool
    left: bool


@event("pin_set", "shop", locked=True)
class PinSet(Event):
    initials: str
    salt: str
    hash: str


@event("pin_refused", "shop", locked=True)
class PinRefused(Event):
    initials: str


@event("signed_in", "shop", locked=True)
class SignedIn(Event):
    initials: str


@event("tools_left", "shop", locked=True)
class ToolsLeft(Event):
    batch: str
    tools: tuple[tuple[str, int, float], ...]
    """(station, tool, how far it is used up)."""


@event("tool_changed", "shop", locked=True)
class ToolChanged(Event):
    station: str
    tool: int


@event("batch_given_up", "shop", locked=True)
class BatchGivenUp(Event):
    batch: str


@event("record_restored", "shop", locked=True)
class RecordRestored(Event):
    copy: str
    former: str | None
    """Where the record that was there lies now; None where there was none."""


@event("record_recovered", "shop", locked=True)
class RecordRecovered(Event):
    said: str
