"""The history as a paper: every entry in a line or two, struck ones included, for people without the program."""

from __future__ import annotations

from collections.abc import Mapping

from floor.batch.describe import describe_parts
from floor.batch.state import Batch
from floor.entry import Entry, Moment
from floor.papers.page import begin_paper, format_person, format_stamp
from floor.text import wrap_text


def write_history(batch: Batch, now: Moment, head_hash: str, names: Mapping[str, str] | None = None) -> str:
    """All entries, oldest first: number, time, who, what.

    Args:
        names: initials → name, as far as known.
    """
    paper = begin_paper("HISTORY", batch, now, head_hash)
    for entry in batch.entries:
        paper.add(format_entry(batch, entry, now))
    paper.say(f"End of the history: {len(batch.entries)} entries in all, {len(batch.struck)} struck out.", "")
    people = sorted({entry.by for entry in batch.entries})
    paper.say(f"By {', '.join(format_person(initials, names or {}) for initials in people)}.", "")
    return paper.text()


def format_entry(batch: Batch, entry: Entry, now: Moment) -> list[str]:
    """One entry: number, time, who, what, and whether it was struck out."""
    said = describe_parts(batch, entry)
    struck = f"STRUCK OUT by entry {said.struck}: " if said.struck else ""
    return wrap_text(
        f"{struck}{said.without_strike}", f"{entry.seq:>6}  {format_stamp(entry.time, now)}  {entry.by:<4}  "
    )
