"""A batch opened, its pieces started and loaded, the batch closed; sent to another shop, and taken in again."""

from typing import Any, Literal

from floor.batch.earlier import EarlierLots, EarlierTold
from floor.batch.event_base import Event, register_event, register_part
from floor.batch.proof import ProofKey


@register_event("batch_opened", "batch", locked=True)
class BatchOpened(Event):
    id: str
    checklist: dict[str, Any]
    """As `floor.checklist.frozen.freeze` made it."""
    order: int
    digest: str = ""
    file: str = ""
    due: str = ""
    """The day, YYYY-MM-DD."""
    reference: str = ""
    rules: int = 1
    """The edition of the rules it is worked by."""
    earlier: EarlierTold | None = None
    """What earlier batches of the part told; None if there were none, or nobody asked."""
    tests: tuple[tuple[int, int], ...] = ()
    """(operation, its good pieces that tests and trials are to use up)."""
    lots_before: tuple[EarlierLots, ...] = ()
    """Where the sampling plans' series of lots of earlier batches stood."""
    approved_by: str = ""
    """The lead who had approved the checklist; empty where none had, and in older records."""
    unapproved: bool = False
    """Whether none had although the shop approves checklists: a lead opened it all the same."""


@register_part
class WeakenedPoint:
    """One thing less than in the checklist of the batch before: see `floor.checklist.weakening`."""

    kind: str
    subject: str
    op: int = 0
    was: str = ""
    now: str = ""


@register_event("checklist_weakened", "batch", locked=True, abnormal=True, proves=False)
class ChecklistWeakened(Event):
    """It was opened all the same: by whom stands on the entry, and why here."""

    before: str
    """The batch whose checklist protected more."""
    points: tuple[WeakenedPoint, ...]
    why: str
    strongest: str = ""
    """An earlier batch, and what was given up since, by steps."""
    earlier: tuple[WeakenedPoint, ...] = ()


@register_event("pieces_started", "batch", proves=False)
class PiecesStarted(Event):
    first: int
    count: int


@register_event("load_formed", "batch")
class LoadFormed(Event):
    load: int
    carrier: str
    number: int
    """The carrier's."""
    op: int
    slots: tuple[int | None, ...]
    """The pieces by their places."""
    came_from: tuple[int, ...] | None = None
    """Loads the pieces were on before; None in older records."""
    rework: str = ""
    placed: bool = False
    """Whether somebody named each piece and its place; otherwise they are loaded in the order they were unloaded."""


@register_part
class LateRow:
    """Pieces that were in one place when the batch was entered; see `floor.batch.lifecycle.half_done.PlacedPieces`."""

    what: Literal["load", "waiting", "hold", "scrap", "finished"]
    count: int
    pieces: tuple[int, ...]
    op: int = 0
    number: int = 0
    rework: str = ""
    found: int = 0
    reason: str = ""
    places: tuple[str, ...] = ()
    stands: Literal["", "waits", "runs", "over"] = ""
    began: str = ""
    ended: str = ""
    clocks: tuple[tuple[str, str | None], ...] = ()
    load: int = 0
    run: int = 0
    setup: int = 0


@register_part
class LateSetup:
    setup: int
    station: str
    op: int


@register_part
class LateProof:
    """What proved a gate by the papers."""

    op: int
    line: str
    gate: str
    key: ProofKey
    values: dict[str, Any]
    by: str
    at: str
    station: str
    run: int
    load: int
    worn: float = 0.0


@register_event("entered_late", "batch", abnormal=True)
class EnteredLate(Event):
    acted: str
    """When all this was so."""
    rows: tuple[LateRow, ...]
    setups: tuple[LateSetup, ...]
    proofs: tuple[LateProof, ...]
    seen_by: str = ""
    """Who saw the papers too."""


@register_event("batch_closed", "batch", locked=True)
class BatchClosed(Event):
    finished: int
    reason: str = ""
    spare: int = 0
    stopped: int = 0


@register_event("gone_over", "batch", locked=True)
class GoneOver(Event):
    to: str


@register_event("taken_in", "batch", locked=True)
class TakenIn(Event):
    reason: str = ""
    name: str = ""
    """The name of the batch here, if its own name is taken."""
    worn: tuple[tuple[str, int, float], ...] = ()
    """(station, tool, its wear)."""
    in_service: tuple[str, ...] = ()
    """Stations that were out of service there."""
    untold: bool = False
    """Whether it missed what happened at the stations meanwhile."""
