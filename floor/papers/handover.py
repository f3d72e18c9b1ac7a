"""The handover sheet: the page Floor wrote, the counts, both names and a place to sign."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from floor.batch.counting.blind_count import CountSubject, find_subjects_to_count, list_count_subjects
from floor.batch.fold import fold
from floor.batch.handover.offers import HandoverHistory, find_current_handover, say_talk
from floor.batch.handover.page import (
    ORDER,
    PageLine,
    Section,
    build_handover_page,
    list_miscounts,
    list_safety_lines,
)
from floor.batch.handover.risks import (
    RISKS,
    find_risks,
)
from floor.batch.handover.signed_page import find_settlement, read_signed_page
from floor.batch.state import Batch
from floor.entry import Moment
from floor.papers.page import Column, Paper, begin_paper, format_person, format_stamp, format_table
from floor.text import WIDTH, count_cells

SIGN_HERE = "_" * 24
FORM_REVISION = 1
"""Of the sheet itself: raised whenever its headings change, so that two sheets can be told apart (HND-07)."""
NAME = f"HANDOVER SHEET, form revision {FORM_REVISION}"


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
    if turnover is not None and turnover.signed is not None and turnover.signed.page:
        return write_signed_handover(batch, turnover, names)
    hidden = find_subjects_to_count(batch, reader)
    paper = begin_paper(NAME, batch, now, head_hash)
    _add_people(paper, turnover, now, names or {}, batch.responsible, [RISKS[kind] for kind in find_risks(batch)])
    _add_page(paper, build_handover_page(batch, now, hidden), pressing)
    _add_counts(paper, [_row_of(batch, subject, turnover, hidden) for subject in list_count_subjects(batch)])
    for subject in list_count_subjects(batch):
        if batch.handover is not None and subject.key not in hidden:
            for miscount in list_miscounts(batch, batch.handover, subject):
                paper.say(_format_miscount(subject.title, miscount.found, miscount.expected, miscount.by))
    _add_read_back(paper, turnover, list_safety_lines(batch, now, hidden))
    _add_questions(paper, batch, turnover)
    return paper.text()


def write_signed_handover(batch: Batch, turnover: HandoverHistory, names: Mapping[str, str] | None = None) -> str:
    """The sheet of an accepted handover as both signed it, head included, whatever has been recorded since.

    Raises:
        ValueError: it was accepted before pages were kept.
    """
    signed = turnover.signed
    if signed is None or not signed.page or turnover.accepted is None:
        raise ValueError(f"the page that {turnover.to or 'nobody'} accepted was not kept")
    then, now = fold(batch.entries[: turnover.ended], checklist=batch.checklist), Moment(turnover.accepted)
    then.damage = batch.damage
    paper = begin_paper(NAME, then, now, then.entries[-1].hash)
    _add_people(paper, turnover, now, names or {}, turnover.to, signed.risks)
    _add_page(paper, read_signed_page(signed))
    _add_counts(paper, [_format_count_row(one.what, one.recorded, one.found, one.settled) for one in signed.counts])
    for one in signed.counts:
        for miscount in one.miscounts:
            paper.say(_format_miscount(one.what, miscount.found, miscount.recorded, miscount.by))
        if one.settled:
            paper.say(f"{one.what}: {one.settled}")
    _add_read_back(paper, turnover, [])
    _add_questions(paper, then, turnover)
    return paper.text()


def _add_people(
    paper: Paper,
    turnover: HandoverHistory | None,
    now: Moment,
    names: Mapping[str, str],
    responsible: str,
    risks: Sequence[str],
) -> None:
    _add_signatures(paper, turnover, now, names, responsible)
    for reader, at in (turnover.page_read if turnover else {}).items():
        paper.say(f"Page read by {format_person(reader, names)} {format_stamp(at, now)}", "")
    open_end = "" if turnover and turnover.to else ", until someone accepts by name"
    role = "Responsible from then on" if turnover and turnover.to else "Responsible now"
    paper.say(f"{role}: {format_person(responsible, names)}{open_end}", "")
    if turnover:
        _add_relief(paper, turnover, names)
    if turnover and turnover.unattended:
        paper.say("Nobody was there to talk to: confirm each line as if face to face.", "! ")
    for risk in risks:
        paper.say(f"EXTRA CARE: {risk}", "! ")
    if turnover and turnover.remarks:
        paper.title("Remarks of the outgoing person")
        paper.say(turnover.remarks)


def _add_relief(paper: Paper, turnover: HandoverHistory, names: Mapping[str, str]) -> None:
    if turnover.relief:
        why = "for a break" if turnover.relief == "break" else "for injury or illness"
        paper.say(f"Relief in mid-shift, {why}", "! ")
    if turnover.signed is not None and turnover.signed.supervisor:
        paper.say(f"Talked through with {format_person(turnover.signed.supervisor, names)}", "")
    if turnover.signed is not None and (said := say_talk(turnover.signed)):
        paper.say(f"Taken over, {said}", "")


def _add_page(paper: Paper, page: Sequence[Section], pressing: Sequence[str] = ()) -> None:
    sections = list(page)
    if sections[0].title == ORDER:
        _add_section(paper, sections.pop(0))
    if pressing:
        paper.title("Deadlines the plan cannot meet")
    for said in pressing:
        paper.say(said, "  ! ")
    for section in sections:
        _add_section(paper, section)


def _add_signatures(
    paper: Paper, turnover: HandoverHistory | None, now: Moment, names: Mapping[str, str], responsible: str
) -> None:
    out = format_person(turnover.by if turnover else responsible, names)
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


def _row_of(
    batch: Batch, subject: CountSubject, turnover: HandoverHistory | None, hidden: frozenset[str]
) -> tuple[str, ...]:
    """What is to be counted: blank where that is left to do, by hand if need be."""
    found = (turnover.counted if turnover else {}).get(subject.key)
    if subject.key in hidden:
        return subject.title, "____", str(found[0]) if found else "____", "look again" if found else ""
    if found is None:
        return subject.title, str(subject.expected), "____", ""
    handover = batch.handover
    settled = find_settlement(batch, handover, subject) if handover and subject.key in handover.counted else ""
    return _format_count_row(subject.title, found[1], found[0], settled)


def _format_count_row(what: str, recorded: int, found: int, settled: str) -> tuple[str, ...]:
    """A count beside the record; what settled one that differs is said below the table, or among the lines."""
    said = f"{found - recorded:+d} {'settled' if settled else 'DIFFERS'}"
    return what, str(recorded), str(found), "agrees" if found == recorded else said


def _format_miscount(what: str, found: int, recorded: int, by: str) -> str:
    return f"{what}: counted {found} before, recorded {recorded} ({by})"


def _add_counts(paper: Paper, rows: Sequence[tuple[str, ...]]) -> None:
    paper.title("Counts by hand")
    paper.add(
        format_table([Column("What"), Column("recorded", 8, True), Column("counted", 8, True), Column("", 14)], rows)
    )


def _add_read_back(paper: Paper, turnover: HandoverHistory | None, safety: list[PageLine]) -> None:
    paper.title("Read back")
    if turnover and turnover.read_back:
        for text in turnover.read_back:
            paper.say(text, "  [x] ")
    elif turnover and turnover.to:
        paper.say("nothing to read back")
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
