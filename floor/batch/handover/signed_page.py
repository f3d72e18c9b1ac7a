"""The page as both signed it: it prints the same next week, whatever is recorded or worded otherwise since."""

from __future__ import annotations

from floor.batch import events
from floor.batch.counting.blind_count import CountSubject, list_count_subjects
from floor.batch.handover.events import Talk
from floor.batch.handover.page import (
    PageLine,
    Section,
    build_handover_page,
    list_miscounts,
)
from floor.batch.handover.risks import (
    RISKS,
    RiskKind,
    find_depth,
    find_risks,
)
from floor.batch.open_items import OpenHandover
from floor.batch.state import Batch
from floor.entry import Moment


def sign_page(
    batch: Batch,
    handover: OpenHandover,
    now: Moment,
    taker: str,
    *,
    supervisor: str,
    long_shift_hours: float,
    talked: Talk,
    why: str,
) -> events.HandoverAccepted:
    """What is recorded of a handover that is accepted now, everything asked for having been counted.

    Args:
        why: why the two did not talk.
    """
    risks: list[RiskKind] = [*find_risks(batch, now, taker, long_shift_hours)]
    risks += ["no talk"] if talked == "none" else []
    return events.HandoverAccepted(
        giver=handover.by,
        risks=tuple(RISKS[kind] for kind in risks),
        depth=find_depth(batch, taker, now),
        supervisor=supervisor,
        talked=talked,
        why=why,
        page=tuple(
            events.SignedSection(
                title=section.title,
                lines=tuple(events.SignedLine(text=line.text, safety=line.safety) for line in section.lines),
                empty="" if section.lines else section.empty,
            )
            for section in build_handover_page(batch, now)
        ),
        counts=tuple(
            events.SignedCount(
                what=subject.title,
                recorded=subject.expected,
                found=handover.counted[subject.key],
                settled=find_settlement(batch, handover, subject),
                miscounts=tuple(
                    events.SignedMiscount(recorded=one.expected, found=one.found, by=one.by)
                    for one in list_miscounts(batch, handover, subject)
                ),
            )
            for subject in list_count_subjects(batch)
            if subject.key in handover.counted
        ),
    )


def find_settlement(batch: Batch, handover: OpenHandover, subject: CountSubject) -> str:
    """What settled a count that still differs from the record; empty where it agrees, or nothing has."""
    if handover.counted[subject.key] == subject.expected:
        return ""
    settled = [one for one in batch.differences.values() if one.subject == subject.key and one.seq > handover.seq]
    return settled[-1].resolved if settled else ""


def read_signed_page(event: events.HandoverAccepted) -> tuple[Section, ...]:
    """The page of an accepted handover; empty where it was accepted before pages were kept."""
    return tuple(
        Section(one.title, tuple(PageLine("", line.text, line.safety) for line in one.lines), one.empty)
        for one in event.page
    )
