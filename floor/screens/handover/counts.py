"""What one person counted with own eyes at a handover: typed first, recorded together."""

from __future__ import annotations

from dataclasses import field

from floor.batch.counting.blind_count import CountSubject, find_blind_subjects, list_count_subjects
from floor.batch.handover.commands import CountSubjectPieces
from floor.batch.handover.page import list_lines_at, list_subjects_to_count
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import Entry, Moment
from floor.screens.frame.screen import BatchFrame
from floor.screens.handover.rows import TypedCounts
from floor.text import format_count


@dataclass(slots=True)
class Counts:
    """Counts typed and not recorded, and the place whose number is asked for."""

    typed: TypedCounts = field(default_factory=dict)
    by: str = ""
    """Who typed them: nobody else records them."""
    at: str = ""
    """Key of the place chosen, where it is not simply the next."""

    def drop_others(self, batch: Batch, who: str) -> None:
        """What somebody else typed, or of a place that is there no more, is nobody's count."""
        there = {subject.key for subject in list_count_subjects(batch)}
        self.typed = {key: count for key, count in self.typed.items() if self.by == who and key in there}
        self.by = who

    def find_chosen(self, batch: Batch, now: Moment, who: str) -> CountSubject | None:
        """The place whose number is asked for: the one moved to, else the first that is left, else the last."""
        known = {subject.key: subject for subject in list_count_subjects(batch)}
        left = [subject for subject in list_subjects_to_count(batch, now, who) if subject.key not in self.typed]
        disputed = [known[one.subject] for one in batch.list_open_differences() if one.subject in known]
        rest = list(known.values())[::-1]
        return known.get(self.at) or next(iter(left or (disputed if not self.typed else []) or rest), None)

    def keep(self, batch: Batch, now: Moment, who: str, subject: CountSubject, value: str) -> None:
        """Keep a number as the count of this place, with the lines read aloud there."""
        self.typed[subject.key] = int(value), tuple(line.key for line in list_lines_at(batch, now, subject.key, who))
        self.at = ""

    def move(self, batch: Batch, chosen: CountSubject, way: int) -> None:
        keys = [subject.key for subject in list_count_subjects(batch)]
        self.at = keys[(keys.index(chosen.key) + way) % len(keys)]


def record_counts(screen: BatchFrame, counts: Counts) -> bool | None:
    """Record all that was typed, and say the first that does not agree.

    Returns:
        Whether all agree; None if one was refused, or not written: said already, and what was typed stays.
    """
    titles = {one.key: one.title for one in list_count_subjects(screen.current_batch)}
    made: list[Entry] = []
    for key, (found, lines) in list(counts.typed.items()):
        before = len(made)
        screen.give(screen.batch_id, CountSubjectPieces(key, found, lines), made.extend)
        if len(made) == before:
            return None
        del counts.typed[key]
    counts.at = ""
    counted = [entry.body for entry in made if "found" in entry.body]
    wrong = next((body for body in counted if body["found"] != body["expected"]), None)
    if wrong is not None:
        _say_mismatch(screen, titles[wrong["subject"]], wrong["subject"], wrong["found"], wrong["expected"])
    elif len(counted) == 1:
        screen.say(f"{titles[counted[0]['subject']]}: {counted[0]['found']}, agrees with the record")
    else:
        screen.say(f"{format_count(len(counted), 'place')} counted, all agree with the record")
    return wrong is None


def _say_mismatch(screen: BatchFrame, title: str, key: str, found: int, expected: int) -> None:
    if key in find_blind_subjects(screen.current_batch):
        screen.say(f"{title}: counts do not match; recount (↑)", wrong=True)
    else:
        told = f"{title}: counted {found}, recorded {expected}"
        screen.say(f"{told}. Recount (↑), or have a lead settle it (Esc, d)", wrong=True)
