"""The handover sheet: the page Floor wrote, the counts, both names and a place to sign."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import get_args

from floor.batch.counting.blind_count import find_subjects_to_count, list_count_subjects
from floor.batch.gates.setup_sheet import find_own_offset
from floor.batch.handover.offers import HandoverHistory, find_current_handover
from floor.batch.handover.page import (
    ORDER,
    RISKS,
    PageLine,
    Section,
    build_handover_page,
    find_risks,
    list_safety_lines,
)
from floor.batch.load import Where
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.entry import Moment
from floor.papers.page import Column, Paper, begin_paper, format_person, format_stamp, format_table
from floor.text import WIDTH, count_cells

SIGN_HERE = "_" * 24


def write_handover_sheet(
    batch: Batch,
    now: Moment,
    head_hash: str,
    names: Mapping[str, str] | None = None,
    reader: str = "",
    pressing: Sequence[str] = (),
) -> str:
    """The sheet of the open or just accepted handover; without one, of the present state.

    Figures the reader has yet to count are left blank, to be filled in by hand (HSE: cross-check on handover).

    Args:
        names: initials → name, as far as known.
        reader: initials of the person who asked for it.
        pressing: deadlines of runs under way that no plan can meet, such as a window closing while nobody is in.
    """
    turnover = find_current_handover(batch)
    hidden = find_subjects_to_count(batch, reader)
    paper = begin_paper("HANDOVER SHEET", batch, now, head_hash)
    _add_people(paper, batch, turnover, now, names or {})
    sections = list(build_handover_page(batch, now, hidden))
    if sections[0].title == ORDER:
        _add_section(paper, sections.pop(0))
    if pressing:
        paper.title("What the plan cannot keep")
    for said in pressing:
        paper.say(said, "  ! ")
    for section in sections:
        _add_section(paper, section)
    _add_stations(paper, batch)
    _add_quantities(paper, batch, hidden)
    _add_counts(paper, batch, turnover, hidden)
    _add_read_back(paper, turnover, list_safety_lines(batch, now, hidden))
    _add_questions(paper, batch, turnover)
    return paper.text()


def _add_people(
    paper: Paper, batch: Batch, turnover: HandoverHistory | None, now: Moment, names: Mapping[str, str]
) -> None:
    _add_signatures(paper, batch, turnover, now, names)
    for reader, at in (turnover.page_read if turnover else {}).items():
        paper.say(f"Page read by {format_person(reader, names)} {format_stamp(at, now)}", "")
    paper.say(
        f"Responsible now: {format_person(batch.responsible, names)}"
        + ("" if turnover and turnover.to else ", until somebody accepts by name"),
        "",
    )
    if turnover and turnover.unattended:
        paper.say("Nobody was there to talk to: confirm each line as if face to face.", "! ")
    for kind in find_risks(batch):
        paper.say(f"HIGHER RISK: {RISKS[kind]}", "! ")
    if turnover and turnover.remarks:
        paper.title("Remarks of the outgoing person")
        paper.say(turnover.remarks)


def _add_signatures(
    paper: Paper, batch: Batch, turnover: HandoverHistory | None, now: Moment, names: Mapping[str, str]
) -> None:
    out = format_person(turnover.by if turnover else batch.responsible, names)
    offered = f"offered {format_stamp(turnover.offered, now)}" if turnover else "not offered yet"
    into = format_person(turnover.to, names) if turnover and turnover.to else SIGN_HERE
    taken = f"accepted {format_stamp(turnover.accepted, now)}" if turnover and turnover.accepted else ""
    for role, who, what in (("Outgoing", out, offered), ("Incoming", into, taken)):
        left = f"{role:<10}{who}  {what}"
        sign = f"signed {SIGN_HERE}"
        if count_cells(left) + count_cells(sign) + 2 > WIDTH:
            paper.say(f"{who}, {what}" if what else who, f"{role:<10}")
            left = ""
        paper.lines.append(left + " " * (WIDTH - count_cells(left) - count_cells(sign)) + sign)


def _add_section(paper: Paper, section: Section) -> None:
    paper.title(section.title)
    for line in section.lines:
        paper.say(line.text, "  ! " if line.safety else "  - ")
    if not section.lines:
        paper.say(section.empty)


def _add_stations(paper: Paper, batch: Batch) -> None:
    """Each station: running or not, its zero, what it is set up for, its program and tools."""
    paper.title("Stations")
    for station in batch.checklist.stations:
        here = [run for run in batch.list_open_runs() if run.station == station.id]
        if here or batch.find_setup(station.id) is not None:
            paper.say(f"{station.name}: {'; '.join(_describe_station(batch, station.id, here))}", "  - ")


def _describe_station(batch: Batch, station: str, runs: Sequence[Run]) -> Iterator[str]:
    """A station with these open runs, part by part."""
    loads = {run.number: " by ".join(filter(None, (f"load {run.load}", find_own_offset(batch, run)))) for run in runs}
    running = [loads[run.number] for run in runs if run.running]
    stopped = [loads[run.number] for run in runs if not run.running]
    yield f"runs {', '.join(running)}" if running else "stands still"
    if stopped:
        yield f"on it: {', '.join(stopped)}"
    setup = batch.find_setup(station)
    if setup:
        program = batch.operation(setup.op).program
        yield f"set up for op {setup.op}" + (f", program {program}" if program else "")
    tools = [f"T{number}" for place, number in batch.tools if place == station]
    if tools:
        yield f"tools in it {', '.join(tools)}"


def _add_quantities(paper: Paper, batch: Batch, hidden: frozenset[str]) -> None:
    paper.title("Quantities")
    if hidden:
        paper.say("left out until everything is counted by hand")
        return
    words: dict[str, str] = {"load": "on loads"}
    parts = [
        f"{batch.total(where)} {words.get(where, where)}"
        for where in get_args(Where)
        if batch.total(where) or where not in ("spare", "stopped")
    ]
    paper.say(f"{batch.started} started = {' + '.join(parts)}")


def _add_counts(paper: Paper, batch: Batch, turnover: HandoverHistory | None, hidden: frozenset[str]) -> None:
    paper.title("Counts by hand")
    counted = turnover.counted if turnover else {}
    rows = []
    for subject in list_count_subjects(batch):
        found = counted.get(subject.key)
        recorded = "" if subject.key in hidden else str(found[1] if found else subject.expected)
        differs = f"{found[0] - found[1]:+d} DIFFERS" if found and recorded else "look again"
        agrees = "" if found is None else "agrees" if found[0] == found[1] else differs
        rows.append((subject.title, recorded or "____", str(found[0]) if found else "____", agrees))
    paper.add(
        format_table([Column("What"), Column("recorded", 8, True), Column("counted", 8, True), Column("", 14)], rows)
    )


def _add_read_back(paper: Paper, turnover: HandoverHistory | None, safety: list[PageLine]) -> None:
    paper.title("Read back")
    if turnover and turnover.read_back:
        for text in turnover.read_back:
            paper.say(text, "  [x] ")
    elif turnover and turnover.to:
        paper.say("there was nothing to read back")
    else:
        for line in safety:
            paper.say(line.text, "  [ ] ")
        if not safety:
            paper.say("nothing to read back")


def _add_questions(paper: Paper, batch: Batch, turnover: HandoverHistory | None) -> None:
    paper.title("Questions")
    asked = [batch.questions[seq] for seq in (turnover.questions if turnover else ()) if seq in batch.questions]
    asked = asked or [question for question in batch.questions.values() if not question.answer]
    for question in asked:
        paper.say(f"{question.text} ({question.by})", "  ? ")
        paper.say(question.answer or "OPEN", "    ")
    if not asked:
        paper.say("none")
