"""The first article report: part, materials and processes, each characteristic of the drawing with what was found."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from floor.batch.describe import describe
from floor.batch.events import Proved, read_if_kind
from floor.batch.quality.first_article import Acceptance, FirstArticle, Result, find_first_article
from floor.batch.state import Batch
from floor.checklist.gates import AirMeasured, Cured, LotRecorded, ProgramLoaded, Soaked, WorkHeld
from floor.entry import Entry, Moment
from floor.papers.page import Column, Paper, begin_paper, format_person, format_stamp, format_table
from floor.text import count_cells, format_count

PROCESS = (LotRecorded, ProgramLoaded, WorkHeld, Cured, Soaked, AirMeasured)
"""Gates whose proofs are evidence of material and process."""


def write_first_article(batch: Batch, now: Moment, head_hash: str, names: Mapping[str, str] | None = None) -> str:
    """The report of a batch as far as it has come.

    Args:
        names: initials → name, as far as known.
    """
    found = find_first_article(batch)
    paper = begin_paper("FIRST-ARTICLE REPORT", batch, now, head_hash)
    paper.say(_sum_up(found), "")
    _write_part(paper, batch, found, names or {}, now)
    _write_processes(paper, batch, found)
    paper.title(f"3  Characteristics: {len(found.results) - len(found.missing)} of {len(found.results)} verified")
    _write_results(paper, found.results)
    if found.out:
        paper.title("Refused before they were verified")
        _write_results(paper, found.out)
    _write_partial(paper, batch, found, names or {}, now)
    paper.title("Signed")
    paper.add(["", "  Checked by ______________________  Approved by ______________________"])
    return paper.text()


def _sum_up(found: FirstArticle) -> str:
    if not found.full:
        return "NOT STARTED: no first piece has been accepted."
    if found.missing:
        numbers = ", ".join(_name(one) for one in found.missing)
        return f"NOT COMPLETE: {format_count(len(found.missing), 'characteristic')} not verified yet: {numbers}."
    kind = "Partial" if found.elsewhere else "Full"
    elsewhere = f", {found.elsewhere} of them on another piece than the first" if found.elsewhere else ""
    return f"{kind}: each of the {format_count(len(found.results), 'characteristic')} is verified{elsewhere}."


def _name(one: Result) -> str:
    return f"{one.number} {one.what}" if one.number is not None else one.what


def _write_part(paper: Paper, batch: Batch, found: FirstArticle, names: Mapping[str, str], now: Moment) -> None:
    part = batch.checklist.part
    paper.title("1  Part")
    paper.say(f"{part.number} {part.name}, revision {part.revision}")
    if part.drawing:
        paper.say(f"Drawing {part.drawing}")
    for one in found.full:
        who = format_person(one.by, names)
        where = f"{batch.checklist.station(batch.runs[one.run].station).name}, load {one.load}, entry {one.seq}"
        paper.say(f"Op {one.op}: accepted {format_stamp(one.at, now)} by {who} on {where}", "  ", "      ")
        if one.found:
            paper.say(one.found, "      ")


def _write_processes(paper: Paper, batch: Batch, found: FirstArticle) -> None:
    """What is on record of the loads that the first pieces were on."""
    loads = {one.load for one in found.full}
    paper.title("2  Materials and processes")
    said = [
        (proved.op, describe(batch, entry))
        for entry in _iter_proofs(batch)
        if (proved := read_if_kind(entry, Proved)) is not None
        and batch.runs[proved.run].load in loads
        and isinstance(batch.operation(proved.op).step(proved.line), PROCESS)
    ]
    for op, text in dict.fromkeys(said):
        paper.say(text, f"  op {op:<4} ", " " * 10)
    if not said:
        paper.say("Nothing is on record of material and process.")


def _iter_proofs(batch: Batch) -> Iterator[Entry]:
    return (entry for entry in batch.entries if entry.kind == Proved.KIND and entry.seq not in batch.struck)


REQUIRED_ROOM, FOUND_ROOM = 22, 14
COLUMNS = (
    Column("No", 4, right=True), Column("op", 4, right=True), Column("characteristic"),
    Column("required", REQUIRED_ROOM), Column("found", FOUND_ROOM),
)  # fmt: skip


def _write_results(paper: Paper, results: tuple[Result, ...]) -> None:
    if not results:
        paper.say("The checklist names none.")
        return
    for n, one in enumerate(results):
        found = (one.found if one.good else f"{one.found} OUT") or "not verified"
        fits = count_cells(one.required) <= REQUIRED_ROOM and count_cells(found) <= FOUND_ROOM
        cells = (one.required, found) if fits else ("", "")
        row = ("" if one.number is None else one.number, one.op, one.what, *cells)
        paper.add(format_table(COLUMNS, [row])[1 if n else 0 :])
        if not fits:
            paper.say(f"required {one.required}; found {found}", " " * 14)
        gauge = f"{one.gauge}, " if one.gauge else ""
        if one.found:
            paper.say(f"{gauge}{one.of}, entry {one.seq}", " " * 14)


def _write_partial(paper: Paper, batch: Batch, found: FirstArticle, names: Mapping[str, str], now: Moment) -> None:
    """What was verified anew after a change or at another set-up, and what was refused: only that."""
    for one in sorted((*found.partial, *found.refused), key=lambda each: each.seq):
        kind = "Partial" if one.good else "Refused"
        paper.title(f"{kind}: op {one.op}, load {one.load}, entry {one.seq}")
        paper.say(f"{format_stamp(one.at, now)} by {format_person(one.by, names)}: {_say_why(batch, found, one)}")
        if one.found:
            paper.say(one.found)
        _write_results(paper, one.results)


def _say_why(batch: Batch, found: FirstArticle, one: Acceptance) -> str:
    """Why a first piece was looked at again, or what was wrong with it."""
    if not one.good:
        return "out of limits, not accepted"
    if one.why:
        return one.why
    first = next(each for each in found.full if each.op == one.op)
    if one.setup != first.setup:
        return f"{batch.checklist.station(batch.runs[one.run].station).name} was set up again"
    return "entered again"
