"""Which papers there are of a batch, what each is called, and how it is written."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Literal, get_args

from floor.batch.load import Load
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import Moment
from floor.papers.closeout import write_close_out
from floor.papers.export import write_entries_csv, write_entries_json
from floor.papers.handover import write_handover_sheet
from floor.papers.history import write_history
from floor.papers.trace import write_trace
from floor.papers.traveler import write_traveler

Kind = Literal["traveler", "handover", "close-out", "trace", "history", "csv", "json"]
KINDS: tuple[Kind, ...] = get_args(Kind)
NEW_PAGE = "\f"
"""Between the copies of several loads: a printer starts a new sheet there."""


@dataclass(frozen=True, slots=True)
class PaperSource:
    """What every paper is made from."""

    batch: Batch
    now: Moment
    head: str
    """Hash of the newest entry."""
    names: Mapping[str, str]
    """Initials → name, as far as they are known."""
    reader: str = ""
    """Initials of whoever has it written."""
    pressing: Sequence[str] = ()
    """What no plan can keep of the runs under way, for the handover sheet."""


@dataclass(frozen=True, slots=True)
class PaperOffer:
    """A paper that can be written."""

    title: str
    stem: str
    """Its file's name without time and ending."""
    write: Callable[[], str]
    ending: str = "txt"


def make_offer(source: PaperSource, kind: Kind, load: int | None = None, piece: int | None = None) -> PaperOffer:
    """One kind of paper.

    Args:
        load: for the traveler; all loads that are under way where none is named.
        piece: for the trace.

    Raises:
        ValueError: there is no such load or piece, or nothing to write about.
    """
    batch, now, head = source.batch, source.now, source.head
    if kind == "traveler":
        return _traveler(source, load)
    if kind == "trace":
        if piece not in batch.places:
            raise ValueError(f"name a piece of {batch.id}: 1 to {batch.started}")
        number = piece or 0
        stem = f"{batch.id}-trace-piece-{number}"
        return PaperOffer(f"Trace of piece {number}", stem, lambda: write_trace(batch, number, now, head))
    if kind == "handover":

        def sheet() -> str:
            return write_handover_sheet(batch, now, head, source.names, source.reader, source.pressing)

        return PaperOffer("Handover sheet", f"{batch.id}-handover", sheet)
    if kind == "close-out":
        title = "Close-out report" if batch.closed else "Close-out report, as the batch stands"
        return PaperOffer(title, f"{batch.id}-close-out", lambda: write_close_out(batch, now, head, source.names))
    if kind == "history":
        title = "History: every entry"
        return PaperOffer(title, f"{batch.id}-history", lambda: write_history(batch, now, head, source.names))
    if kind == "csv":
        title = "History as a table for a spreadsheet (CSV)"
        return PaperOffer(title, f"{batch.id}-entries", lambda: write_entries_csv(batch), "csv")
    return PaperOffer(
        "The record, machine-readable (JSON)", f"{batch.id}-entries", lambda: write_entries_json(batch), "json"
    )


def list_offers(source: PaperSource, load: int | None = None, piece: int | None = None) -> list[PaperOffer]:
    """The papers that make sense of a batch as it stands, those of the load or piece at hand first."""
    batch = source.batch
    found = [make_offer(source, "trace", piece=piece)] if piece in batch.places else []
    under_way = _under_way(batch)
    if load in [one.number for one in under_way]:
        found.append(make_offer(source, "traveler", load))
    if len(under_way) > 1 or (under_way and load is None):
        found.append(make_offer(source, "traveler"))
    kinds: tuple[Kind, ...] = ("handover", "close-out", "history", "csv", "json")
    return found + [make_offer(source, kind) for kind in kinds if not (kind == "handover" and batch.closed)]


def list_handover_offers(source: PaperSource, blind: bool) -> list[PaperOffer]:
    """The sheet, and the travelers to go on with by hand.

    Args:
        blind: whether the reader is still to count; the copies carry the figures and come afterwards.
    """
    found = [make_offer(source, "handover")]
    return found if blind or not _under_way(source.batch) else [*found, make_offer(source, "traveler")]


def _under_way(batch: Batch) -> list[Load]:
    return [load for load in batch.list_live_loads() if load.at is not None]


def _traveler(source: PaperSource, number: int | None) -> PaperOffer:
    batch, now, head = source.batch, source.now, source.head
    loads = [load for load in _under_way(batch) if number in (None, load.number)]
    if not loads:
        what = "no load is under way" if number is None else f"load {number} is not under way"
        known = ", ".join(str(load.number) for load in _under_way(batch))
        raise ValueError(f"{what} in {batch.id}" + (f"; there are loads {known}" if known else ""))
    if number is None:
        title, stem = f"Travelers of all {len(loads)} loads under way", f"{batch.id}-traveler"
        if len(loads) == 1:
            title = "Traveler of the one load under way"
    else:
        title = f"Traveler: {batch.format_carrier(loads[0])}, load {number}, op {loads[0].at}"
        stem = f"{batch.id}-traveler-load-{number}"
    return PaperOffer(
        title, stem, lambda: NEW_PAGE.join(write_traveler(batch, load.number, now, head) for load in loads)
    )
