"""Tags: what they say of carriers, loads, boxes, stations, tools, people, lots and gauges, and their page of text."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence

from floor.batch.gauge import Gauge
from floor.batch.load import Load
from floor.batch.search.recorded_lots import list_recorded_lots
from floor.batch.state import Batch
from floor.batch.tag import TagKind, format_tag, make_tag
from floor.dataclass import dataclass
from floor.papers.page import Paper
from floor.papers.tag_codes import Code, CodeKind, draw_half_blocks, make_qr
from floor.papers.tag_pictures import draw_tag, encode_png, encode_svg
from floor.text import WIDTH, sanitize

BLANK = "______"
"""Where a person writes with a pen."""


@dataclass(frozen=True, slots=True)
class TagLabel:
    """What stands on one tag."""

    kind: TagKind
    words: tuple[str, ...]
    """What it is on, the first in large letters."""
    text: str
    """Of its code."""
    names: tuple[str, ...]
    """By which people ask for it."""

    @property
    def title(self) -> str:
        return f"Tag: {', '.join(self.words[:2])}"

    @property
    def stem(self) -> str:
        """File name without its ending: the same tag is the same file."""
        named = "-".join(re.findall(r"[a-z0-9]+", " ".join(self.names).casefold()))
        return f"tag-{self.kind}-{named}"

    def draw_png(self, kind: CodeKind = "qr") -> bytes:
        """Raises `ValueError` if its text is too long for bars."""
        return encode_png(draw_tag(self.text, self.words, kind))

    def draw_svg(self, kind: CodeKind = "qr") -> str:
        """Raises `ValueError` if its text is too long for bars."""
        return encode_svg(draw_tag(self.text, self.words, kind), " ".join(self.words))


def write_tags(labels: Iterable[TagLabel], draw: Callable[[Code], list[str]] = draw_half_blocks) -> list[str]:
    """A page of text for each tag, with its QR code in characters."""
    return [_write_page(label, draw) for label in labels]


def _write_page(label: TagLabel, draw: Callable[[Code], list[str]]) -> str:
    paper = Paper(["=" * WIDTH])
    for words in label.words:
        paper.say(words, "")
    paper.lines.append("=" * WIDTH)
    paper.add(draw(make_qr(label.text)))
    paper.say(label.text, "")
    return paper.text()


def label_load(batch: Batch, load: Load) -> TagLabel:
    """A load's tag stays with it to where its carrier is emptied; it names its batch."""
    part = batch.checklist.part
    carrier, text = batch.format_carrier(load), f"{part.number} {part.revision} {part.name}"
    words = (f"{batch.id} load {load.number}", carrier, text)
    return _label("load", words, (batch.id, load.number), batch.entries[0].hash)


def label_box(batch: Batch, pieces: int | None = None, box: str = "") -> TagLabel:
    """A box of finished pieces; what is not told is written with a pen."""
    part = batch.checklist.part
    counted = f"Pieces {BLANK if pieces is None else pieces}, box {sanitize(box, 20) or BLANK}"
    reference = (f"Reference {batch.reference}",) if batch.reference else ()
    words = (f"{part.number} {part.revision}", part.name, f"Batch {batch.id}", *reference, counted)
    return _label("box", words, (batch.id,), batch.entries[0].hash)


def list_load_labels(batch: Batch) -> list[TagLabel]:
    return [label_load(batch, load) for load in batch.list_live_loads()]


def list_carrier_labels(batches: Iterable[Batch], shop: str) -> list[TagLabel]:
    """Each carrier that open batches know, once.

    Args:
        shop: hash of the first entry of the shop's record, here and below.
    """
    kinds = {
        (kind.id, n): kind for batch in batches for kind in batch.checklist.carriers for n in range(1, kind.count + 1)
    }
    return [
        _label("carrier", (kind.label(number), kind.kind), (id, number), shop, (kind.label(number),))
        for (id, number), kind in kinds.items()
    ]


def list_station_labels(batches: Iterable[Batch], shop: str) -> list[TagLabel]:
    """Each station, once."""
    found = {station.id: station.name for batch in batches for station in batch.checklist.stations}
    return [_label("station", (name, f"Station {id}"), (id,), shop) for id, name in sorted(found.items())]


def list_tool_labels(batches: Iterable[Batch], shop: str) -> list[TagLabel]:
    """Each tool at each station that may hold it, once."""
    found: dict[tuple[str, int], tuple[str, str]] = {}
    for batch in batches:
        for station in batch.checklist.stations:
            for tool in batch.checklist.tools_at(station.id):
                found.setdefault((station.id, tool.number), (tool.name, station.name))
    return [_label("tool", (f"T{key[1]}", *words), key, shop) for key, words in sorted(found.items())]


def list_lot_labels(batches: Iterable[Batch], shop: str) -> list[TagLabel]:
    """Each material lot on record, once."""
    lots = dict.fromkeys(lot for batch in batches for lot in list_recorded_lots(batch))
    return [_label("lot", (f"Lot {lot}", what), (what, lot), shop) for what, lot in lots]


def list_person_labels(people: Mapping[str, str], shop: str) -> list[TagLabel]:
    """A badge for each person: initials → name."""
    return [_label("person", (initials, name), (initials,), shop) for initials, name in sorted(people.items())]


def list_gauge_labels(gauges: Iterable[Gauge], shop: str) -> list[TagLabel]:
    """Each gauge of the register; not when it is due, as that changes."""
    listed = sorted(gauges, key=lambda one: one.serial)
    return [_label("gauge", (one.serial, one.name), (one.serial,), shop) for one in listed]


def find_labels(labels: Sequence[TagLabel], names: Sequence[str]) -> list[TagLabel]:
    """Those that people ask for by these names, ignoring case; all where they name none."""
    asked = [sanitize(name).casefold() for name in names]
    return [one for one in labels if [name.casefold() for name in one.names[: len(asked)]] == asked]


def _label(
    kind: TagKind,
    words: tuple[str, ...],
    names: tuple[str | int, ...],
    owner: str,
    asked: tuple[str, ...] = (),
) -> TagLabel:
    """Raises `ValueError`: the shop has no record yet."""
    if not owner:
        raise ValueError("nobody is entered in this shop yet; start floor and enter the first person")
    shown = tuple(sanitize(one) for one in words)
    return TagLabel(kind, shown, format_tag(make_tag(kind, names, owner)), asked or tuple(map(str, names)))
