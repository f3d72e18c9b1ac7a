"""Entries of the shop's own record: people, PINs, qualifications, gauges, worn tools left behind, restored records."""

from floor.batch.event_base import Event, register_event


@register_event("person_added", "shop", locked=True)
class PersonAdded(Event):
    initials: str
    name: str
    lead: bool


@register_event("person_changed", "shop", locked=True)
class PersonChanged(Event):
    initials: str
    name: str
    lead: bool
    left: bool


@register_event("pin_set", "shop", locked=True)
class PinSet(Event):
    initials: str
    salt: str
    hash: str


@register_event("pin_refused", "shop", locked=True)
class PinRefused(Event):
    initials: str


@register_event("signed_in", "shop", locked=True)
class SignedIn(Event):
    initials: str


@register_event("tools_left", "shop", locked=True)
class ToolsLeft(Event):
    batch: str
    tools: tuple[tuple[str, int, float], ...]
    """(station, tool, wear)."""


@register_event("carrier_left", "shop", locked=True)
class CarrierLeft(Event):
    """A batch left the shop: what was probed last of a carrier that sits alike for the next one of the part."""

    batch: str
    part: str
    station: str
    op: int
    carrier: str
    number: int
    offset: str
    at: float
    """When it was probed: seconds since 1970."""
    values: dict[str, float]


@register_event("tool_changed", "shop", locked=True)
class ToolChanged(Event):
    station: str
    tool: int


@register_event("gauge_added", "shop", locked=True)
class GaugeAdded(Event):
    serial: str
    name: str
    due: str
    calibrated: str | None = None
    """The day, from its first moment on; empty if not known. Entries of earlier versions, without, count as one."""


@register_event("gauge_changed", "shop", locked=True)
class GaugeChanged(Event):
    serial: str
    name: str
    due: str
    calibrated: str | None = None
    """Likewise; empty if it was not. In entries of earlier versions a new due date counts as a calibration."""


@register_event("gauge_withdrawn", "shop", locked=True)
class GaugeWithdrawn(Event):
    serial: str
    reason: str
    suspect: bool
    """Whether what it measured since its last good check is suspect."""
    closed: tuple[tuple[str, str, int], ...] = ()
    """(batch, hash of its first entry, checks) of each closed or transferred batch that it measured since; no hash
    where the record could not be read."""


@register_event("gauge_found_suspect", "shop", locked=True)
class GaugeFoundSuspect(Event):
    """After it was withdrawn, as when the calibration laboratory found it out of its limits."""

    serial: str
    reason: str
    since: str
    """From when on its readings are; empty if that is not known."""
    closed: tuple[tuple[str, str, int], ...] = ()
    """Likewise."""


@register_event("gauge_returned", "shop", locked=True)
class GaugeReturned(Event):
    serial: str
    due: str
    reason: str


@register_event("qualification_entered", "shop", locked=True)
class QualificationEntered(Event):
    """What a person was trained or examined for; entered again, it is renewed."""

    initials: str
    what: str
    since: str
    until: str
    """The last day on which it holds, as an ISO date; empty where it has no end."""


@register_event("qualification_withdrawn", "shop", locked=True)
class QualificationWithdrawn(Event):
    initials: str
    what: str
    reason: str


@register_event("part_opened", "shop", locked=True)
class PartOpened(Event):
    """The newest batch of a part: the next one is compared with its checklist."""

    part: str
    batch: str
    strongest: str = ""
    """The earlier batch whose checklist asks for more, if there is one."""


@register_event("lesson_taken", "shop", locked=True)
class LessonTaken(Event):
    """What a batch taught was written into a checklist's file."""

    batch: str
    first: str
    """Hash of the batch's first entry, which tells it from another of its name."""
    file: str
    changes: tuple[tuple[str, str, str], ...]
    """(field, what it said before, what it says now)."""


@register_event("checklist_approved", "shop", locked=True)
class ChecklistApproved(Event):
    """A lead approved the content of a checklist's file for work."""

    digest: str
    """SHA-256 of its text."""
    file: str
    part: str
    revision: str


@register_event("batch_given_up", "shop", locked=True)
class BatchGivenUp(Event):
    batch: str


@register_event("record_restored", "shop", locked=True)
class RecordRestored(Event):
    copy: str
    former: str | None
    """Where the former record is now; None if there was none."""


@register_event("record_recovered", "shop", locked=True)
class RecordRecovered(Event):
    said: str
