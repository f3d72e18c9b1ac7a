"""The handover page: Floor writes it from the record, so people only add what the record cannot know."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from datetime import timedelta
from typing import get_args

from floor.batch.corrections.put_off import list_put_off
from floor.batch.corrections.unproved_work import find_open_unproved_work, format_unproved_work
from floor.batch.counting.blind_count import CountSubject, find_blind_subjects, hide_piece_count, list_count_subjects
from floor.batch.counting.holds import list_pieces_in_rework
from floor.batch.counting.scrap import say_open_scrap
from floor.batch.counting.surplus import format_order_filled, list_pieces_out_of_work
from floor.batch.describe import describe
from floor.batch.events import (
    KINDS,
    Disposed,
    Event,
    Noted,
    Proved,
    RunBegun,
    UnprovedSettled,
    iter_events,
)
from floor.batch.gates.out_of_limits import format_marked_pieces, say_open
from floor.batch.gates.setup_sheet import find_own_offset
from floor.batch.gates.suspect_gauges import describe_suspect_gauge
from floor.batch.handover.risks import OF_THE_PAGE, find_depth
from floor.batch.load import PiecePlace, Where, format_heap
from floor.batch.open_items import CountDifference, OpenHandover
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.trials.pieces import list_pieces_in_trial
from floor.batch.walk.clock_jumps import is_clock_change_untold
from floor.batch.walk.clocks import (
    compute_planned_end,
    convert_to_present_clock,
)
from floor.batch.walk.load_clocks import list_running_clocks
from floor.batch.walk.shared_cycles import compute_cycle_seconds, find_open_runs_in_cycle
from floor.batch.walk.station_walk import build_walk
from floor.dataclass import dataclass
from floor.entry import Entry, Moment
from floor.text import format_answered, format_clock, format_count, format_span

COUNT_LASTS = timedelta(hours=1)
"""A count older than this when the handover is accepted must be repeated (shop decision)."""
ORDER = "The order"
"""Title of the first section, if the order is filled."""
TOOL_NEAR_END = 0.2
"""A tool with less than this fraction of its life left is near its end (shop decision)."""


@dataclass(frozen=True, slots=True)
class PageLine:
    key: str
    text: str
    safety: bool = False
    """Read back one by one by the incoming person."""
    load: int = 0
    """The load that a safety line is about: it is read back where that load is counted."""


@dataclass(frozen=True, slots=True)
class Section:
    title: str
    lines: tuple[PageLine, ...]
    empty: str
    """Shown for an empty section."""


def list_subjects_to_count(batch: Batch, now: Moment | None = None, taker: str = "") -> list[CountSubject]:
    """What the incoming person has not counted yet, or counted too long ago; nothing at a short relief."""
    handover = batch.handover
    if now is not None and find_depth(batch, taker, now) == "short":
        return []
    counted = {
        key
        for key in (handover.counted if handover else ())
        if handover is None or now is None or abs(now.at - handover.counted_at[key]) <= COUNT_LASTS
    }
    return [subject for subject in list_count_subjects(batch) if subject.key not in counted]


def list_lines_to_read_back(batch: Batch, now: Moment, taker: str = "") -> list[PageLine]:
    """The lines that the incoming person has not read back yet."""
    done = batch.handover.read_back if batch.handover else set()
    return [line for line in list_safety_lines(batch, now, find_blind_subjects(batch), taker) if line.key not in done]


def list_lines_at(batch: Batch, now: Moment, subject: str, taker: str = "") -> list[PageLine]:
    """Safety lines about a load, still to be read back, which the incoming person reads aloud at the place itself."""
    return [line for line in list_lines_to_read_back(batch, now, taker) if line.load and f"load {line.load}" == subject]


def list_miscounts(batch: Batch, handover: OpenHandover, subject: CountSubject) -> list[CountDifference]:
    """The counts of a subject at this handover that did not agree, before the one that stands now."""
    found = [one for one in batch.differences.values() if one.subject == subject.key and one.seq > handover.seq]
    return found if handover.counted.get(subject.key) == subject.expected else found[:-1]


def list_unread_entries(batch: Batch, who: str) -> list[Entry]:
    """What others entered since this person read the page of the open handover, and what may stand on it now.

    Counts, questions and answers of the handover itself are shown beside the page. Empty if it was not read.
    """
    read = batch.handover.readers.get(who) if batch.handover else None
    return (
        [
            entry
            for entry, event in iter_events(batch.entries[read:], *OF_THE_PAGE)
            if entry.by != who and (not isinstance(event, Noted) or _told(event))
        ]
        if read is not None
        else []
    )


def say_difference(difference: CountDifference, hidden: Collection[str] = ()) -> str:
    """A count that disagreed; without figures if its subject is still to be counted."""
    if difference.subject in hidden:
        return f"{format_heap(difference.subject)}: counts do not match, recount ({difference.by})"
    found = f"counted {difference.found}, recorded {difference.expected} ({difference.by})"
    return f"{format_heap(difference.subject)}: {found}"


def list_safety_lines(batch: Batch, now: Moment, hidden: Collection[str] = (), taker: str = "") -> list[PageLine]:
    """The lines that the taker reads back: those about safety, one by one; where the handover goes to its whole depth,
    the others too, those of a section together."""
    sections = build_handover_page(batch, now, hidden)
    found = [line for one in sections for line in one.lines if line.safety]
    if find_depth(batch, taker, now) == "whole":
        for one in sections:
            routine = [line for line in one.lines if not line.safety]
            if routine:  # with another line in it, it is read back again
                said = f"{one.title}: {'; '.join(line.text for line in routine)}"
                found.append(PageLine(f"section {', '.join(line.key for line in routine)}", said))
    return found


def build_handover_page(batch: Batch, now: Moment, hidden: Collection[str] = ()) -> tuple[Section, ...]:
    """The sections of the page, what can hurt or spoil first.

    ``hidden``: keys of subjects whose recorded figures are left out because the reader still has to count them.
    """
    said = format_order_filled(batch, hidden)
    return (
        *([Section(ORDER, (PageLine("filled", said),), "")] if said else []),
        Section("Guards off, locks on, temporary fixes", tuple(_conditions(batch, now)), "none reported"),
        Section("Waived gates", tuple(_waivers(batch)), "no gate is waived"),
        Section("Running now", tuple(_running(batch, now)), "nothing runs"),
        *([Section("Maintenance in progress", tuple(_outages(batch, now)), "")] if batch.outages else []),
        Section("Curing and dwelling", tuple(_clocks(batch, now)), "no timers running"),
        *([Section("Put off, still to do", put_off, "")] if (put_off := tuple(_put_off(batch, now))) else []),
        Section("Where everything is", tuple(_places(batch, now, hidden)), "no pieces in process"),
        Section("On hold, in rework, mismatch", tuple(_doubtful(batch, hidden)), "nothing on hold, nothing in rework"),
        Section("Gates not met", tuple(_gates(batch, now, hidden)), "no run waits at a gate"),
        Section("Tools near end of life", tuple(_tools(batch)), "none"),
        Section("Abnormal this shift", tuple(_abnormal(batch, now)), "nothing"),
        *([Section("Asked by the shop", answers, "")] if (answers := tuple(_answers(batch))) else []),
        Section("Stations", tuple(_stations(batch)), "none is set up"),
        Section("Quantities", tuple(_quantities(batch, hidden)), "left out until everything is counted by hand"),
    )


def _waivers(batch: Batch) -> list[PageLine]:
    return [
        PageLine(f"waiver {w.seq}", f"op {w.op} {w.title}: waived by {w.by}, {w.reason}", safety=True)
        for w in batch.list_open_waivers()
    ]


def _conditions(batch: Batch, now: Moment) -> list[PageLine]:
    """What can hurt at a station comes before all else (HND-11); changed since, it is read back again."""
    return [
        PageLine(
            f"condition {station} {what} {stands.by} {stands.note}",
            f"{batch.checklist.station(station).name}: {stands.said(now.at)}",
            safety=True,
        )
        for (station, what, _), stands in batch.conditions.items()
    ]


def _outages(batch: Batch, now: Moment) -> list[PageLine]:
    """Maintenance may outlast the shift: the next person must know who goes on with it (HND-12)."""
    lines = []
    for station, outage in batch.outages.items():
        said = f"{batch.checklist.station(station).name} is {outage.said(now.at)} ({outage.by})"
        lines.append(PageLine(f"outage {station}", f"{said}. It continues over the shift change", safety=True))
    return lines


def _running(batch: Batch, now: Moment) -> list[PageLine]:
    lines = []
    for run in batch.list_open_runs():
        others = find_open_runs_in_cycle(batch, run)
        if run.started is None or run.ended is not None or any(other.number < run.number for other in others):
            continue  # the first load of a shared cycle stands for the others
        loads = ", ".join(str(one.load) for one in (run, *others))
        station = batch.checklist.station(run.station)
        where = f"{station.name}: load {loads}, op {run.op} {batch.find_operation(run).title}"
        halt = run.stopped or run.stands
        if halt is not None:
            key, how = ("stopped", "cycle STOPPED") if run.stopped else ("stands", "program at its planned stop")
            since = format_clock(convert_to_present_clock(batch, halt.at, halt.seq, now), now.at)
            text = f"{where}, {how} since {since}: {halt.why}"
            lines.append(PageLine(f"{key} {run.number} {halt.seq}", text, safety=True, load=run.load))
            continue
        began = convert_to_present_clock(batch, run.started, run.started_seq, now)
        took = format_span((now.at - began).total_seconds())
        planned = compute_cycle_seconds(batch, run)
        ends = compute_planned_end(batch, run, now)
        over = " over" if ends is not None and ends <= now.at else ""
        text = f"{where}, running {took}"
        if planned:
            text += f", {format_span(planned)} planned" if over else f" of {format_span(planned)}"
        lines.append(PageLine(f"running {run.number}{over}", text, safety=True, load=run.load))
    return lines


def _clocks(batch: Batch, now: Moment) -> list[PageLine]:
    lines = []
    for load, one in list_running_clocks(batch, now):
        key = f"clock {one.name} {load.number} {one.status}"  # opening or closing, it must be read back again
        lines.append(PageLine(key, f"{batch.format_carrier(load)}: {one.sentence}", safety=True, load=load.number))
    return lines


def _put_off(batch: Batch, now: Moment) -> Iterator[PageLine]:
    """What is overdue is read back, as nobody has done it."""
    for one in list_put_off(batch):
        late = one.is_overdue(now.at)
        yield PageLine(f"put off {one.seq}{' late' if late else ''}", one.describe(now.at), safety=late)


def _places(batch: Batch, now: Moment, hidden: Collection[str]) -> list[PageLine]:
    lines = []
    for load in batch.list_live_loads():
        present = "" if f"load {load.number}" in hidden else f", {format_count(len(batch.present(load)), 'piece')}"
        present += f", {said}" if present and (said := batch.format_sitting_pieces(load)) else ""
        text = f"{batch.format_carrier(load)} (load {load.number}){present}: "
        if load.run is not None:
            run = batch.runs[load.run]
            current = hide_piece_count(build_walk(batch, run, now), hidden).current
            text += f"op {run.op} {batch.find_operation(run).title}"
            text += f", at: {current.title}" if current else ""
            text += f" (paused: {run.paused})" if run.paused else ""
        elif load.at is not None:
            text += f"waits for op {load.at} {batch.operation(load.at).title}"
        lines.append(PageLine(f"load {load.number}", text))
    for op, rework, count in batch.list_waiting_pools():
        many = "pieces" if f"waiting {op} {rework}".strip() in hidden else format_count(count, "piece")
        kind = " (rework)" if rework else ""
        lines.append(PageLine(f"pool {op} {rework}", f"{many} loose, waiting for op {op}{kind}"))
    for where, op, rework, count in list_pieces_out_of_work(batch):
        many = "pieces" if where in hidden else format_count(count, "piece")
        how = "kept as spares" if where == "spare" else "stopped"
        lines.append(PageLine(f"{where} {op} {rework}", f"{many} {how} before op {op}"))
    return [*lines, *_trials(batch)]


def _trials(batch: Batch) -> Iterator[PageLine]:
    for trial in batch.trials.values():
        if out := list_pieces_in_trial(batch, trial):
            said = f"{format_count(len(out), 'piece')} out of process in trial {trial.number}: {trial.question}"
            yield PageLine(f"trial {trial.number}", said)


def _doubtful(batch: Batch, hidden: Collection[str]) -> list[PageLine]:
    lines = [
        PageLine(f"unproved {one.strike}", f"{format_unproved_work(batch, one)}; a lead decides", safety=True)
        for one in find_open_unproved_work(batch)
    ]
    lines += [
        PageLine(f"out {one.seq}", f"OUT OF LIMITS, to be decided: {say_open(batch, one)}", safety=True)
        for one in batch.list_open_out_of_limits()
    ]
    lines += [
        PageLine(f"gauge {one.seq}", f"{describe_suspect_gauge(batch, one)}; a lead decides", safety=True)
        for one in batch.list_open_suspect_gauges()
    ]
    for run in batch.list_open_runs():
        for mark in dict.fromkeys(run.decided.values()) if run.count is None else ():
            where = format_marked_pieces(batch, run, mark)
            said = f"{where} will be {mark.to} at the count: {mark.note}"
            lines.append(PageLine(f"decided {run.number} {where}", said))
    if "hold" in hidden:
        lines.append(PageLine("hold", "pieces on hold, apart from the good ones"))
    lines += [_line_of_held(batch, piece, place) for piece, place in batch.held().items() if place.heap not in hidden]
    lines += [
        PageLine(f"rework {n}", f"in rework: {said}") for n, said in enumerate(list_pieces_in_rework(batch, hidden), 1)
    ]
    if scrap := say_open_scrap(batch, hidden):
        lines.append(PageLine("scrap", scrap))
    for difference in batch.list_open_differences():
        lines.append(PageLine(f"difference {difference.seq}", say_difference(difference, hidden), safety=True))
    return lines


def _line_of_held(batch: Batch, piece: int, place: PiecePlace) -> PageLine:
    load = batch.loads.get(place.load)
    where = f"{batch.format_carrier(load)} {batch.format_slot(load, piece)}".strip() if load else "loose"
    where += "" if place.sits or not load else ", taken off"
    route = batch.checklist.rework(place.rework) if place.rework else None
    owes = f"; still to be reworked: {route.name}" if route else ""
    return PageLine(f"hold {piece}", f"on hold from op {place.op}, {where}: {place.reason}{owes}")


def _gates(batch: Batch, now: Moment, hidden: Collection[str]) -> list[PageLine]:
    lines = []
    for run in batch.list_open_runs():
        current = hide_piece_count(build_walk(batch, run, now), hidden).current
        if current is not None and current.verdict is not None:
            said = f"load {run.load}, op {run.op}, {current.title}: {current.verdict.why}"
            lines.append(PageLine(f"gate {run.number}", said))
    return lines


def _tools(batch: Batch) -> list[PageLine]:
    lines = []
    for (station, number), state in batch.tools.items():
        card = batch.checklist.tool(number)
        if card is None or card.life is None:
            continue
        left = card.life.base - state.used
        if left < TOOL_NEAR_END * card.life.base:
            percent = max(round(100 * left / card.life.base), 0)
            lines.append(PageLine(f"tool {number}", f"tool {number} {card.name} at {station}: {percent} % life left"))
    return lines


MAY_BE_TOLD: tuple[type[Event], ...] = (
    *(kind for kind in KINDS.values() if kind.ABNORMAL),
    Noted,
    RunBegun,
    Disposed,
    UnprovedSettled,
    Proved,
)
"""Kinds reported to the next shift, always or because of their content."""


def _told(event: Event) -> bool:
    """Whether an entry is reported to the next shift."""
    match event:
        case Noted():
            return event.abnormal or event.next_shift
        case RunBegun():
            return bool(event.exception)
        case Disposed():
            return event.decision not in ("rework", "scrap")
        case UnprovedSettled(how="use as is"):
            return True
        case Proved():
            return event.out > 0
    return event.ABNORMAL


def _abnormal(batch: Batch, now: Moment) -> list[PageLine]:
    lines = []
    for entry, event in iter_events(batch.entries[batch.shift_seq :], *MAY_BE_TOLD):
        apart = isinstance(event, Noted) and event.puts_off  # it has a section of its own
        if entry.seq not in batch.struck and _told(event) and not apart:
            lines.append(
                PageLine(
                    f"entry {entry.seq}", f"{format_clock(entry.time, now.at)} {entry.by}: {describe(batch, entry)}"
                )
            )
    if is_clock_change_untold(batch, now):
        lines.append(PageLine("clock", "the shop's clock was changed: dwell times leave the jump out"))
    return lines


def _answers(batch: Batch) -> Iterator[PageLine]:
    """What the shop asks for beside what Floor itself writes: it adds, and takes nothing off the page (HND-15)."""
    for n, (question, answer) in enumerate(batch.handover.answers if batch.handover is not None else ()):
        yield PageLine(f"answer {n}", format_answered(question, answer))


def _stations(batch: Batch) -> Iterator[PageLine]:
    """Each station: running or not, its zero, what it is set up for, its program and tools."""
    for station in batch.checklist.stations:
        here = [run for run in batch.list_open_runs() if run.station == station.id]
        if here or batch.find_setup(station.id) is not None:
            said = "; ".join(_describe_station(batch, station.id, here))
            yield PageLine(f"station {station.id}", f"{station.name}: {said}")


def _describe_station(batch: Batch, station: str, runs: Sequence[Run]) -> Iterator[str]:
    """A station with these open runs, part by part."""
    loads = {run.number: " by ".join(filter(None, (f"load {run.load}", find_own_offset(batch, run)))) for run in runs}
    running = [loads[run.number] for run in runs if run.running]
    stopped = [loads[run.number] for run in runs if not run.running]
    yield f"running {', '.join(running)}" if running else "idle"
    if stopped:
        yield f"on it: {', '.join(stopped)}"
    setup = batch.find_setup(station)
    if setup:
        program = batch.operation(setup.op).program
        yield f"set up for op {setup.op}" + (f", program {program}" if program else "")
    tools = [f"T{number}" for place, number in batch.tools if place == station]
    if tools:
        yield f"tools {', '.join(tools)}"


def _quantities(batch: Batch, hidden: Collection[str]) -> Iterator[PageLine]:
    if hidden:
        return
    words: dict[str, str] = {"load": "on loads", "trial": "in trials"}
    parts = [
        f"{batch.total(where)} {words.get(where, where)}"
        for where in get_args(Where)
        if batch.total(where) or where not in ("spare", "stopped", "trial", "regraded", "returned")
    ]
    yield PageLine("quantities", f"{batch.started} started = {' + '.join(parts)}")
