"""Notes, strikes, and what they left unproved."""

from floor.batch.event_base import Event, register_event


@register_event("noted", "notes and corrections", proves=False)
class Noted(Event):
    text: str
    load: int | None = None
    run: int | None = None
    abnormal: bool = False
    next_shift: bool = False
    owner: str = ""
    """Who is to do what it says; with it, or with a time, it stays on the handover page until it is done."""
    due: str = ""
    """By when it is to be done."""

    @property
    def puts_off(self) -> bool:
        """Whether it is work that somebody is to do."""
        return bool(self.owner or self.due)


@register_event("note_done", "notes and corrections", proves=False)
class NoteDone(Event):
    of: int
    """The note."""
    how: str = ""


@register_event("struck_out", "notes and corrections", abnormal=True)
class StruckOut(Event):
    seq: int
    """The entry that is taken back."""
    reason: str
    what: str
    """Its kind."""
    told: str = ""
    """The strike in another batch that caused this one, as cited there."""
    note: str = ""


@register_event("unproved_settled", "notes and corrections", proves=False)
class UnprovedSettled(Event):
    strike: int
    how: str
    reason: str
