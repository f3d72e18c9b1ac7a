"""A handover from one shift to the next."""

from floor.batch.event import Event, event, named


@event("handover_offered", "handover", locked=True)
class HandoverOffered(Event):
    remarks: str
    unattended: bool
    """Whether nobody is there until somebody takes over."""


@event("handover_withdrawn", "handover", proves=False)
class HandoverWithdrawn(Event):
    pass


@event("page_read", "handover", locked=True)
class PageRead(Event):
    of: int
    """The entry that offered it."""


@event("carrier_counted", "handover", locked=True)
class CarrierCounted(Event):
    subject: str
    expected: int
    found: int


@event("read_back", "handover", locked=True)
class ReadBack(Event):
    line: str
    text: str


@event("question_asked", "handover", proves=False)
class QuestionAsked(Event):
    text: str


@event("question_answered", "handover", proves=False)
class QuestionAnswered(Event):
    question: int
    text: str


@event("handover_accepted", "handover", locked=True)
class HandoverAccepted(Event):
    giver: str = named("from")


@event("difference_resolved", "handover", proves=False)
class DifferenceResolved(Event):
    difference: int
    how: str
