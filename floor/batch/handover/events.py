"""A handover from one shift to the next."""

from typing import Literal

from floor.batch.event_base import Event, alias_field, register_event, register_part

Relief = Literal["", "break", "illness"]
Depth = Literal["", "short", "whole"]
"""The usual one, one without counts, one with every line read back."""
Talk = Literal["", "face to face", "by phone or radio", "none"]
"""How giver and taker talked; empty where nobody was there to talk to, and in older records."""


@register_part
class ShopAnswer:
    """What the shop asks for at each handover, and what the outgoing person answered."""

    question: str
    answer: str


@register_event("handover_offered", "handover", locked=True)
class HandoverOffered(Event):
    remarks: str
    unattended: bool
    """Whether the batch is unattended until somebody takes over."""
    relief: Relief = ""
    """In mid-shift: for a break, or for an injury or illness; empty for the end of a shift."""
    answers: tuple[ShopAnswer, ...] = ()


@register_event("handover_withdrawn", "handover", proves=False)
class HandoverWithdrawn(Event):
    pass


@register_event("page_read", "handover", locked=True)
class PageRead(Event):
    of: int
    """The entry that offered it."""


@register_event("carrier_counted", "handover", locked=True)
class CarrierCounted(Event):
    subject: str
    expected: int
    found: int
    by_tag: bool = False
    """Whether the tag was read, as the pieces are shut in a running machine."""


@register_event("read_back", "handover", locked=True)
class ReadBack(Event):
    line: str
    text: str


@register_event("question_asked", "handover", proves=False)
class QuestionAsked(Event):
    text: str


@register_event("question_answered", "handover", locked=True, proves=False)
class QuestionAnswered(Event):
    question: int
    text: str


@register_part
class SignedLine:
    text: str
    safety: bool = False


@register_part
class SignedSection:
    title: str
    lines: tuple[SignedLine, ...] = ()
    empty: str = ""


@register_part
class SignedMiscount:
    recorded: int
    found: int
    by: str


@register_part
class SignedCount:
    what: str
    recorded: int
    found: int
    settled: str = ""
    """How a lead settled that they differ."""
    miscounts: tuple[SignedMiscount, ...] = ()
    """Those before it that did not agree."""


@register_event("handover_accepted", "handover", locked=True)
class HandoverAccepted(Event):
    giver: str = alias_field("from")
    risks: tuple[str, ...] = ()
    """Why it took more care, in words."""
    page: tuple[SignedSection, ...] = ()
    """As it was when both had signed: what is written later, or worded otherwise, does not change it. Empty where it
    was accepted before pages were kept."""
    counts: tuple[SignedCount, ...] = ()
    depth: Depth = ""
    """What was asked of the taker."""
    supervisor: str = ""
    """The lead with whom the taker talked it through, at a relief for injury or illness."""
    talked: Talk = ""
    why: str = ""
    """Why they did not talk."""


@register_event("difference_resolved", "handover", locked=True, proves=False)
class DifferenceResolved(Event):
    difference: int
    how: str
