"""The trace of one piece: where it has been, on what, with which tools, programs, lots and people."""

from __future__ import annotations

from typing import Literal

from floor.batch.describe import describe, describe_proof
from floor.batch.events import Proved, read_event, read_if_kind
from floor.batch.gates.gauges import GaugeUse, list_gauges_of_runs
from floor.batch.gates.setup_sheet import find_own_offset
from floor.batch.gates.suspect_gauges import list_suspect_gauges_of
from floor.batch.lifecycle.half_done import format_placed_pieces
from floor.batch.load import LOST
from floor.batch.open_items import SuspectGauge
from floor.batch.run import Run
from floor.batch.search.recorded_lots import (
    find_lots_struck_out,
    list_corrections_by_run,
    list_lots_by_papers,
    list_mixed_lots,
)
from floor.batch.search.trace import Stay, Trace, list_tools_of_run, trace
from floor.batch.state import Batch
from floor.batch.walk.shared_cycles import list_other_runs_in_cycle
from floor.checklist.gates import ToolLoaded
from floor.checklist.operation import Operation
from floor.dataclass import dataclass
from floor.entry import Entry, Moment
from floor.papers.page import begin_paper
from floor.text import WIDTH, format_clock, format_count, format_numbers, join_sentences, wrap_text


def write_trace(batch: Batch, piece: int, now: Moment, head_hash: str) -> str:
    """The trace of a piece as its own paper.

    Raises:
        KeyError: no such piece was started.
    """
    paper = begin_paper("TRACE", batch, now, head_hash)
    paper.add(format_trace(batch, piece, now))
    return paper.text()


def format_trace(batch: Batch, piece: int, now: Moment) -> list[str]:
    """The trace of a piece as lines of a paper.

    Raises:
        KeyError: no such piece was started.
    """
    return [line.text for line in list_trace_lines(batch, piece, now)]


@dataclass(frozen=True, slots=True)
class TraceLine:
    """A line of a trace and its kind, for a screen that highlights it."""

    text: str
    kind: Literal["heading", "doubt", "waiver", ""] = ""


def list_trace_lines(batch: Batch, piece: int, now: Moment, width: int = WIDTH) -> list[TraceLine]:
    """The trace of a piece in lines of at most ``width`` columns, for screen and paper alike.

    Raises:
        KeyError: no such piece was started.
    """
    from floor.batch.search.matching import list_decisions  # here, because the first screen asks nothing

    found = trace(batch, piece)
    lines = [TraceLine(text) for text in wrap_text(_opening(batch, found, now), "", "", width)]

    def doubt(text: str) -> None:
        lines.extend(_set_off(wrap_text(text, "! ", "  ", width), "doubt"))

    runs = frozenset(stay.run.number for stay in found.stays)
    entered = _by_run(batch, runs)
    if len(found.candidates) > 1:
        pieces = format_count(len(found.candidates), "piece")
        text = (
            f"Loose pieces were mixed on the way: looking back it is one of {pieces} "
            f'({format_numbers(found.candidates)}). "One of" means one of these, not known which.'
        )
        doubt(text)
    if found.moves:
        moves = ", ".join(f"{one} to {two}" for one, two in found.moves)
        text = (
            f"Moved by hand: {moves}. The pieces are taken to have been loaded again in the order in which they were "
            'unloaded; nobody confirmed each place. "By order" means inferred from the loading order, not confirmed.'
        )
        doubt(text)
    if before := _say_before_record(batch, piece, now):
        doubt(before)
    passed = [stay.run for stay in found.stays]
    gauges = list_gauges_of_runs(batch, passed)
    suspect = list_suspect_gauges_of(batch, passed)
    lots = _list_lots(batch, found, now)
    for stay in found.stays:
        number = stay.run.number
        used = _say_gauges(gauges[number], suspect)
        lines += [TraceLine(""), *_stay(batch, stay, entered[number], used, lots[number], now, width)]
    decided = list_decisions(batch, found.candidates, runs, [one.seq for one in suspect])
    lines += [TraceLine("")] if decided else []
    for entry in decided:
        said = f"{format_clock(entry.done, now.at)} {entry.by}: {_say_of(entry, piece)}{describe(batch, entry)}"
        lines += [TraceLine(text) for text in wrap_text(said, "decided  ", " " * 9, width)]
    return lines


def _say_of(entry: Entry, piece: int) -> str:
    """A decision about several pieces says first that it is about this one."""
    pieces = entry.body.get("pieces", ())
    others = len(pieces) - 1
    return f"piece {piece} and {format_count(others, 'other')}: " if others > 0 and piece in pieces else ""


def _say_gauges(uses: list[GaugeUse], suspect: list[SuspectGauge]) -> list[str]:
    """Each gauge once, and whether a check of it is in doubt."""
    doubted = {seq for one in suspect for seq in one.checks}
    return list(dict.fromkeys(f"{use}, found suspect" if use.seq in doubted else str(use) for use in uses))


def _say_before_record(batch: Batch, piece: int, now: Moment) -> str:
    """What was stated of a piece of a batch entered half done, lots included; empty if nothing was."""
    told = batch.late.find_row(piece) if batch.late is not None else None
    if batch.late is None or told is None:
        return ""
    place = f"{batch.late.head(now.at)}: {format_placed_pieces(batch.checklist, told, now.at)}"
    lots = [f"{what} {lot} at op {op}" for op, what, lot, pieces in list_lots_by_papers(batch) if piece in pieces]
    if not lots:
        return join_sentences(place, "What it went through before is not on record")
    return join_sentences(
        place, f"By the papers: {', '.join(lots)}", "What else it went through before is not on record"
    )


def _set_off(texts: list[str], kind: Literal["heading", "doubt", "waiver"]) -> list[TraceLine]:
    """Highlight the first of these lines."""
    return [TraceLine(texts[0], kind), *map(TraceLine, texts[1:])]


def _opening(batch: Batch, found: Trace, now: Moment) -> str:
    place = batch.places[found.piece]
    reason = f", {place.reason}" if place.reason else ""
    at = f" at op {place.op}" if place.where in ("hold", *LOST) else ""
    at = f" before op {place.op}" if place.where in ("spare", "stopped", "trial") else at
    started = format_clock(batch.started_at[found.piece], now.at)
    return f"Piece {found.piece} of {batch.started}: {found.place}{at}{reason}. Started {started}."


def _stay(
    batch: Batch, stay: Stay, entered: list[Entry], gauges: list[str], lots: list[str], now: Moment, width: int
) -> list[TraceLine]:
    run = stay.run
    station = batch.checklist.station(run.station).name
    sure = "" if stay.candidates == 1 else f", one of {stay.candidates}"
    where = f"{stay.carrier} {stay.position}".strip() if stay.candidates == 1 else f"{stay.carrier}{sure}"
    where += " by order" if stay.by_order else ""
    rework = " (rework)" if run.rework else ""
    title = f"{batch.find_operation(run).title}{rework} · {where} · {stay.condition}"
    lines = _set_off(wrap_text(title, f"op {run.op:<5}", " " * 8, width), "heading")

    def say(label: str, text: str) -> None:
        texts = wrap_text(text, f"        {label:<9}", " " * 17, width) if text else []
        lines.extend(_set_off(texts, "waiver") if texts and label == "WAIVED" else map(TraceLine, texts))

    say("station", f"{station}, load {run.load}, run {run.number}, {_times(run, now)}")
    say("program", run.program)
    say("offset", find_own_offset(batch, run))
    say("with", ", ".join(batch.format_load(other.load) for other in list_other_runs_in_cycle(batch, run)))
    ours = _tools_of(batch.find_operation(run))
    say("tools", ", ".join(_tool(batch, run, number, entered, now) for number in run.tools if number in ours))
    say("lots", ", ".join(lots))
    say("gauges", ", ".join(gauges))
    say("people", _people(run, entered))
    say("training", _training(batch, run))
    say("proved", "; ".join(_proofs(batch, run, entered)))
    if run.count is not None:
        marks = "".join(f", {total} {to}" for to in ("scrap", "rework", "hold") if (total := run.count.total(to)))
        say("count", f"{run.count.went_in} in: {run.count.good} good{marks} ({run.count.by})")
    for waiver in stay.waivers:
        second = f", {waiver.second} signed too" if waiver.second else ""
        closed = f"; closed: {waiver.said_closed}" if waiver.closed else "; OPEN"
        say("WAIVED", f"{waiver.title} by {waiver.by}{second}: {waiver.reason}{closed}")
    return lines


def _list_lots(batch: Batch, found: Trace, now: Moment) -> dict[int, list[str]]:
    """Run → the lots it was worked with: which were corrected, which came from an earlier mix, and where one was
    struck out and no other is known.
    """
    struck, corrections = find_lots_struck_out(batch), list_corrections_by_run(batch)
    lots: dict[int, list[str]] = {}
    for stay in found.stays:
        number = stay.run.number
        said = {what: f"{what} {lot}" for what, lot in stay.lots.items()}
        for what, (lot, at) in list_mixed_lots(batch, stay.run).items():
            recorded = f", though {stay.lots[what]} was recorded since" if what in stay.lots else ""
            said[what] = f"{what} {lot} from the mix of {format_clock(at, now.at)}{recorded}"
        for what in said:
            remarks = "; ".join(map(str, corrections.get((number, what), ())))
            said[what] += f" ({remarks})" if remarks else ""
        said |= {what: f"{what}: {text}" for (run, what), text in struck.items() if run == number}
        lots[number] = list(said.values())
    return lots


def _training(batch: Batch, run: Run) -> str:
    asked = ", ".join(batch.checklist.station(run.station).qualified)
    return f"{asked}: whoever did a step here had it, by the shop's register" if asked else ""


def _times(run: Run, now: Moment) -> str:
    said = format_clock(run.begun, now.at)
    return f"{said} to {format_clock(run.released, now.at)}" if run.released else f"started {said}"


def _tools_of(operation: Operation) -> set[int]:
    """The tools an operation cuts with or asks for; the station may hold others too."""
    asked = {step.tool for step in operation.steps if isinstance(step, ToolLoaded)}
    return asked | {use.tool for use in operation.tools}


def _tool(batch: Batch, run: Run, number: int, entered: list[Entry], now: Moment) -> str:
    """The tool with its length; changed during the cycle, each one, since nobody knows which piece was under it."""
    card = batch.checklist.tool(number)
    said = f"T{number} {card.name if card else ''}".strip()
    for n, (length, until) in enumerate(list_tools_of_run(batch, run, number, entered)):
        measured = f" length {length:g}" if length is not None else ""
        said += f", then{measured or ' a new one'}" if n else measured
        said += f" until {format_clock(until, now.at)}" if until is not None else ""
    return said


def _by_run(batch: Batch, runs: frozenset[int]) -> dict[int, list[Entry]]:
    """The entries of these runs that are not struck out."""
    from floor.batch.search.matching import list_run_entries  # here, because the first screen asks nothing

    found: dict[int, list[Entry]] = {run: [] for run in runs}
    for entry in list_run_entries(batch, runs):
        for run in runs.intersection(read_event(entry).runs):
            found[run].append(entry)
    return found


def _people(run: Run, entered: list[Entry]) -> str:
    """Everybody who made an entry in the run, signed in it, or released it."""
    found: dict[str, None] = {}
    for entry in entered:
        found.setdefault(entry.by)
        proved = read_if_kind(entry, Proved)
        if proved is not None and proved.values.get("person"):
            found.setdefault(f"{proved.values['person']} (signed)")
    released = f", released by {run.released_by}" if run.released_by else ""
    return ", ".join(found) + released


def _proofs(batch: Batch, run: Run, entered: list[Entry]) -> list[str]:
    """What was measured and proved in this run, gauges included, worded as in the history."""
    return [describe_proof(batch, entry) for entry in entered if entry.kind == Proved.KIND]
