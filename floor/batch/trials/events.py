"""A trial planned, pieces used for it and brought back, a result, a setting chosen."""

from floor.batch.event_base import Event, register_event, register_part
from floor.batch.trial import Response


@register_part
class TrialFactor:
    """What is varied."""

    name: str
    settings: tuple[str, ...]


@register_event("trial_planned", "trials", proves=False)
class TrialPlanned(Event):
    trial: int
    question: str
    factors: tuple[TrialFactor, ...]
    response: Response
    characteristic: str
    """What is measured, or looked at."""
    each: int
    """Pieces of the batch that each setting uses up; 0 where none is."""
    unit: str = ""
    op: int = 0
    worth: float | None = None
    """The least difference that would matter, in the unit, or as a share of the pieces."""


@register_event("trial_pieces_taken", "trials", proves=False)
class TrialPiecesTaken(Event):
    trial: int
    setting: int
    pieces: tuple[int, ...]
    load: int | None = None
    op: int | None = None
    """Where they waited, if they were on no load."""


@register_event("trial_pieces_back", "trials", proves=False)
class TrialPiecesBack(Event):
    trial: int
    pieces: tuple[int, ...]
    reason: str


@register_part
class TrialFile:
    """The file that a result was worked out from."""

    file: str
    sha256: str
    columns: tuple[str, ...]
    how: str
    """The reduction: see `floor.evidence.table_file.REDUCTIONS`."""
    rows: int
    left_out: int = 0
    """Rows without a number in these columns."""


@register_event("trial_result", "trials", proves=False)
class TrialResult(Event):
    trial: int
    setting: int
    values: tuple[float, ...] = ()
    good: int = 0
    bad: int = 0
    seen: str = ""
    source: TrialFile | None = None


@register_event("trial_setting_chosen", "trials", proves=False)
class TrialSettingChosen(Event):
    trial: int
    setting: int
    """0 for none of them: it stays as it was."""
    reason: str
    offer: str = ""
    """What is offered to the checklist."""
