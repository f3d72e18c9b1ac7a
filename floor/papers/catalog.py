"""The papers of a batch: which there are, their names, and how to write each."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Literal, get_args

from floor.batch.counting.blind_count import find_blind_subjects
from floor.batch.handover.offers import list_handovers
from floor.batch.load import Load
from floor.batch.quality.first_article import has_first_pieces
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import Moment
from floor.figures.calendar import Calendar
from floor.papers.closeout import write_close_out
from floor.papers.first_article import write_first_article
from floor.papers.handover import write_handover_sheet, write_signed_handover
from floor.papers.history import write_history
from floor.papers.record_export import write_entries_csv, write_entries_json
from floor.papers.tags import (
    TagLabel,
    label_box,
    label_load,
    list_carrier_labels,
    list_load_labels,
    list_lot_labels,
    list_station_labels,
    list_tool_labels,
    write_tags,
)
from floor.papers.trace import write_trace
from floor.papers.traveler import write_traveler
from floor.text import format_count
from floor.wall import format_local

if TYPE_CHECKING:
    from floor.batch.quality.costs import CostRates
    from floor.papers.chart_pictures import ChartPicture
    from floor.papers.earlier_batches import EarlierReport

Kind = Literal["traveler", "handover", "close-out", "first-article", "trace", "history", "csv", "json", "earlier"]
KINDS: tuple[Kind, ...] = get_args(Kind)
LAST_SIGNED = 5
"""Signed handover sheets that a list of papers offers; the command line writes every one."""
MOST_ALONE = 25
"""Tags of a kind that a list offers one by one: it has a letter for each line."""
NEW_PAGE = "\f"
"""Form feed between the travelers of several loads: a printer starts a new sheet."""


@dataclass(frozen=True, slots=True)
class PaperSource:
    """Input of every paper."""

    batch: Batch
    now: Moment
    head: str
    """Hash of the newest entry."""
    names: Mapping[str, str]
    """Initials → name, as far as known."""
    reader: str = ""
    """Initials of the person who asked for it."""
    pressing: Sequence[str] = ()
    """Deadlines of runs under way that no plan can meet, for the handover sheet."""
    shop: str = ""
    """Hash of the first entry of the shop's record, for its tags; without, none are offered."""
    calendar: Calendar | None = None
    """The shop's hours, for key figures about time; None if they cannot be read."""
    earlier: Callable[[], EarlierReport] | None = None
    """Reads earlier batches; None where there are none, or the shop's settings cannot be read."""
    rates: CostRates | None = None
    """What the shop pays; None where it names no rates, or they cannot be read."""


@dataclass(frozen=True, slots=True)
class PaperOffer:
    """A paper that can be written."""

    title: str
    stem: str
    """File name without time and extension."""
    write: Callable[[], str]
    ending: str = "txt"
    labels: tuple[TagLabel, ...] = ()
    """The tags on it, if it is one of tags."""
    list_charts: Callable[[], Sequence[ChartPicture]] = tuple
    """The charts that go beside it, each a file of its own."""

    @property
    def printable(self) -> bool:
        """Whether people read it on paper; tables and JSON are for other programs."""
        return self.ending == "txt"


@dataclass(frozen=True, slots=True)
class PaperGroup:
    """Papers behind one line of a list."""

    title: str
    make: Callable[[], list[PaperOffer | PaperGroup]]


def make_offer(source: PaperSource, kind: Kind, load: int | None = None, piece: int | None = None) -> PaperOffer:
    """One kind of paper.

    Args:
        load: for the traveler; all loads under way if none is named.
        piece: for the trace.

    Raises:
        ValueError: no such load or piece, or nothing to write about.
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

        def report() -> str:
            return write_close_out(batch, now, head, source.names, source.calendar, source.rates)

        return PaperOffer(
            f"{title}, with its charts", f"{batch.id}-close-out", report, list_charts=lambda: _list_charts(batch)
        )
    if kind == "first-article":
        if not has_first_pieces(batch):
            raise ValueError(f"the checklist of {batch.id} asks for no first piece")
        stem = f"{batch.id}-first-article"
        return PaperOffer("First-article report", stem, lambda: write_first_article(batch, now, head, source.names))
    if kind == "history":
        title = "History: every entry"
        return PaperOffer(title, f"{batch.id}-history", lambda: write_history(batch, now, head, source.names))
    if kind == "earlier":
        return _earlier(source)
    if kind == "csv":
        title = "History as a table for a spreadsheet (CSV)"
        return PaperOffer(title, f"{batch.id}-entries", lambda: write_entries_csv(batch), "csv")
    return PaperOffer(
        "The record, machine-readable (JSON)", f"{batch.id}-entries", lambda: write_entries_json(batch), "json"
    )


def _list_charts(batch: Batch) -> Sequence[ChartPicture]:
    from floor.papers.chart_pictures import list_chart_pictures  # here, because most papers have none

    return list_chart_pictures(batch)


def list_offers(
    source: PaperSource, load: int | None = None, piece: int | None = None
) -> list[PaperOffer | PaperGroup]:
    """The papers that make sense for a batch as it stands, those of the current load or piece first; tags last."""
    batch = source.batch
    found: list[PaperOffer | PaperGroup] = [make_offer(source, "trace", piece=piece)] if piece in batch.places else []
    under_way = _under_way(batch)
    if load in [one.number for one in under_way]:
        found.append(make_offer(source, "traveler", load))
    if len(under_way) > 1 or (under_way and load is None):
        found.append(make_offer(source, "traveler"))
    kinds: tuple[Kind, ...] = ("handover", "close-out", "first-article", "history", "csv", "json", "earlier")
    left_out = {"handover"} if batch.closed else set()
    left_out |= set() if has_first_pieces(batch) else {"first-article"}
    left_out |= set() if source.earlier is not None else {"earlier"}
    found += [make_offer(source, kind) for kind in kinds if kind not in left_out]
    found += _list_signed_offers(source) if batch.closed else []
    if source.shop:
        found.append(PaperGroup("Tags for a scanner …", lambda: _list_tag_offers(source, load)))
    return found


def _list_tag_offers(source: PaperSource, load: int | None) -> list[PaperOffer | PaperGroup]:
    """Tags of what the batch knows, that of the current load first."""
    batch, batches, shop = source.batch, [source.batch], source.shop
    box = make_tag_offer("Tag of a box of finished pieces", [label_box(batch)])
    if batch.closed:
        return [box]
    found: list[PaperOffer | PaperGroup] = []
    if load is not None and load in batch.loads:
        label = label_load(batch, batch.loads[load])
        found.append(make_tag_offer(label.title, [label]))
    carriers = list_carrier_labels(batches, shop)
    kinds = {label.words[1]: [one for one in carriers if one.words[1] == label.words[1]] for label in carriers}
    groups = {
        "loads under way": list_load_labels(batch),
        **{f"{kind}s": labels for kind, labels in kinds.items()},
        "stations": list_station_labels(batches, shop),
        "tools": list_tool_labels(batches, shop),
        "material lots": list_lot_labels(batches, shop),
    }
    found += [group_tags(f"Tags of {what}", labels) for what, labels in groups.items() if labels]
    return [*found, box]


def make_tag_offer(title: str, labels: Sequence[TagLabel]) -> PaperOffer:
    return PaperOffer(title, "", lambda: NEW_PAGE.join(write_tags(labels)), labels=tuple(labels))


def group_tags(title: str, labels: Sequence[TagLabel]) -> PaperOffer | PaperGroup:
    """Tags as one paper, and each alone."""
    if len(labels) == 1:
        return make_tag_offer(labels[0].title, labels)
    beyond = f" (alone, those beyond {MOST_ALONE}: floor tag)" if len(labels) > MOST_ALONE else ""
    every = make_tag_offer(f"All {len(labels)}{beyond}", labels)
    alone = labels[:MOST_ALONE]
    return PaperGroup(f"{title} ({len(labels)})", lambda: [every, *(make_tag_offer(one.title, [one]) for one in alone)])


def make_signed_offer(source: PaperSource, number: int) -> PaperOffer:
    """The sheet of an accepted handover, as both signed it.

    Args:
        number: of the accepted ones, from 1.

    Raises:
        ValueError: no such handover, or its page was not kept.
    """
    accepted = [one for one in list_handovers(source.batch) if one.accepted]
    if find_blind_subjects(source.batch):
        raise ValueError(f"a handover of {source.batch.id} is open: count first, its figures are hidden until then")
    if not 1 <= number <= len(accepted):
        there = f"it has {format_count(len(accepted), 'accepted handover')}"
        raise ValueError(f"{source.batch.id} has no handover {number}; {there}")
    turnover = accepted[number - 1]
    if turnover.signed is None or not turnover.signed.page:
        raise ValueError(f"the page of handover {number} was not kept; floor paper history has its entries")
    when = format_local(turnover.accepted or turnover.offered, "%a %d %b %H:%M")

    def sheet() -> str:
        return write_signed_handover(source.batch, turnover, source.names)

    return PaperOffer(
        f"Handover {number}, {turnover.by} to {turnover.to}, {when}", f"{source.batch.id}-handover-{number}", sheet
    )


def list_handover_offers(source: PaperSource, blind: bool) -> list[PaperOffer]:
    """The sheet, the travelers for working on by hand, and the last sheets that were signed.

    Args:
        blind: the reader has yet to count; the travelers show the figures, so they come afterward.
    """
    found = [make_offer(source, "handover")]
    if blind:
        return found
    travelers = [make_offer(source, "traveler")] if _under_way(source.batch) else []
    return [*found, *travelers, *_list_signed_offers(source)]


def _list_signed_offers(source: PaperSource) -> list[PaperOffer]:
    """The last few, the newest first."""
    if find_blind_subjects(source.batch):
        return []
    kept = [bool(one.signed and one.signed.page) for one in list_handovers(source.batch) if one.accepted]
    return [make_signed_offer(source, n) for n, there in enumerate(kept, 1) if there][: -LAST_SIGNED - 1 : -1]


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


def _earlier(source: PaperSource) -> PaperOffer:
    read, batch = source.earlier, source.batch
    if read is None:
        raise ValueError(f"there is no batch beside {batch.id}, or shop.toml has errors: floor figures says which")

    def write() -> str:
        from floor.papers.earlier_batches import write_earlier  # the first screen asks for no yields

        return write_earlier(read(), source.now, source.head)

    return PaperOffer("Earlier batches of the part beside this one", f"{batch.id}-earlier", write)
