"""The rows of the handover screen: the page, what to count, what to read back, what to sign."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from textual.content import Content

from floor.batch.counting.blind_count import CountSubject, find_blind_subjects, list_count_subjects
from floor.batch.handover.page import (
    PageLine,
    build_handover_page,
    list_lines_to_read_back,
    list_safety_lines,
    say_difference,
)
from floor.batch.handover.risks import (
    asks_for_talk,
)
from floor.batch.handover.signed_page import find_settlement
from floor.batch.state import Batch
from floor.entry import Moment
from floor.text import count_cells, format_answered, format_count, set_out, wrap_text

Rows = list[Content]
TypedCounts = dict[str, tuple[int, tuple[str, ...]]]
"""Subject → the number typed for it, and the safety lines read aloud there."""


def draw_page(batch: Batch, now: Moment, hidden: frozenset[str], width: int) -> Rows:
    """The turnover page: what the outgoing person says, then its sections; empty ones take one line."""
    rows: Rows = []
    if batch.handover is not None and batch.handover.remarks:
        rows += _section(f"{batch.handover.by} says", [("", batch.handover.remarks)], width)
    for section in build_handover_page(batch, now, hidden):
        if section.lines:
            signed = [("! " if line.safety else "- ", line.text) for line in section.lines]
            rows += _section(section.title, signed, width)
        else:
            rows.append(Content.assemble((f"{section.title}: {section.empty}", "$secondary")))
    asked = [("? ", f"{one.text} ({one.by}): {one.answer or 'not answered'}") for one in batch.questions.values()]
    return rows + _section("Questions", asked, width) if asked else rows


def _section(title: str, lines: list[tuple[str, str]], width: int) -> Rows:
    rows = [Content.assemble((title, "bold $accent"))]
    for sign, text in lines:
        rows += [Content(line) for line in wrap_text(text, f"  {sign}", width=width)]
    return rows


def draw_counts(
    batch: Batch, chosen: CountSubject | None, aloud: Sequence[PageLine], typed: TypedCounts, width: int
) -> tuple[Rows, int]:
    """Every place to count with what was found so far, and the row of the one whose turn it is.

    The recorded figure stands only beside a number that was recorded.

    Args:
        aloud: safety lines about that one, to be read aloud there.
        typed: counts that Enter will record.
    """
    go = "Go there, read its line aloud, count." if aloud else "Go there and count."
    rows, at = [_hint(f"{go} The recorded figure comes afterwards.")], 0
    counted, hidden = batch.handover.counted if batch.handover else {}, find_blind_subjects(batch)
    for subject in list_count_subjects(batch):
        now = chosen is not None and subject.key == chosen.key
        at = len(rows) if now else at
        found = counted.get(subject.key)
        sign, said, style = "·", "", ""
        if subject.key in typed:
            said = f"{typed[subject.key][0]}, Enter records it"
        elif found is not None:
            sign, said, style = _say_found(batch, subject, found, subject.key in hidden)
        elif now:
            said = "count it"
        if now:
            sign, style = "▶", "bold $accent"
        rows += [_row(text, style) for text in _set_beside(f"{sign} ", subject.title, said, width)]
        for line in aloud if now else ():
            rows += [_row(text, style) for text in wrap_text(line.text, "    ! ", width=width)]
    return rows, at


def _set_beside(sign: str, title: str, said: str, width: int) -> list[str]:
    """A title and what is said of it in one row; below it where there is no room for both."""
    gap = width - count_cells(sign) - count_cells(title) - count_cells(said)
    if gap > 1 or not said:
        return [f"{sign}{title}{' ' * max(gap, 0)}{said}"] if gap >= 0 else wrap_text(title, sign, width=width)
    return [*wrap_text(title, sign, width=width), *wrap_text(said, "    ", width=width)]


def _say_found(batch: Batch, subject: CountSubject, found: int, hidden: bool) -> tuple[str, str, str]:
    """The sign, words and style of a number that was recorded: it agrees, was settled, or is still to be."""
    if found == subject.expected:
        return "✓", f"{found}, agrees", "$secondary"
    if hidden:
        return "✕", f"{found}, counts do not match, recount", "bold"
    recorded = f"{found}, recorded {subject.expected}"
    if batch.handover is not None and find_settlement(batch, batch.handover, subject):
        return "✓", f"{recorded}: settled", "$secondary"
    return "✕", f"{recorded}: DIFFERS", "bold"


def draw_read_back(batch: Batch, now: Moment, who: str, width: int) -> tuple[Rows, int]:
    """The safety lines, and the first row of the one whose turn it is."""
    rows, at = [_hint("Read each line aloud, then press its number.")], 0
    left = list_lines_to_read_back(batch, now, who)
    for n, line in enumerate(list_safety_lines(batch, now, find_blind_subjects(batch), who)):
        turn = bool(left) and line.key == left[0].key
        at = len(rows) if turn else at
        sign = "▶" if turn else "·" if line in left else "✓"
        style = "bold $accent" if turn else "" if line in left else "$secondary"
        rows += [_row(text, style) for text in wrap_text(line.text, f"{sign} {get_row_digit(n)}  ", width=width)]
    return rows, at


def draw_acceptance(batch: Batch, who: str, width: int) -> Rows:
    """What stands when it comes to signing: counts, read-back, what stays open, and what the signature means."""
    handover = batch.handover
    said = [*_list_done(batch), *_list_open(batch)]
    rows = [Content(line) for sign, text in said for line in wrap_text(text, sign, width=width)]
    before = handover.by if handover else batch.responsible
    last = f"{who} takes {batch.id} over from {before} and is responsible from now on."
    told, keys = [last], ["n: ask a question", "y: accept and sign"]
    if handover is not None and asks_for_talk(handover):
        told.append(f"Did you talk it over with {before}, face to face?")
        keys = ["y: yes, accept and sign", "d: by phone, or not at all", "n: ask a question"]
    return [
        *rows,
        Content(""),
        *(_row(text, "bold") for line in told for text in wrap_text(line, width=width)),
        *(_row(text, "bold $accent") for text in set_out(keys, width)),
    ]


def _list_done(batch: Batch) -> Iterator[tuple[str, str]]:
    """What was counted and read back, and each count that was settled: the signature covers it too."""
    handover, open_ = batch.handover, batch.list_open_differences()
    counted, read_back = (len(handover.counted), len(handover.read_back)) if handover else (0, 0)
    settled = [
        f"{one.title}: {handover.counted[one.key]} counted, {one.expected} recorded; settled"
        for one in list_count_subjects(batch)
        if handover and one.key in handover.counted and find_settlement(batch, handover, one)
    ]
    but = f", {len(settled)} of them settled" if settled else ""
    disputed = f", {format_count(len(open_), 'count')} disputed and open" if open_ else ""
    yield "✓ ", f"{format_count(counted, 'place')} counted{but}{disputed}"
    yield from (("! ", one) for one in settled)
    yield "✓ ", f"{format_count(read_back, 'safety line')} read back"


def _list_open(batch: Batch) -> Iterator[tuple[str, str]]:
    """What stays open when it is signed."""
    waived = len(batch.list_open_waivers())
    if waived:
        yield "! ", f"{format_count(waived, 'waiver')} open: you take it over"
    for difference in batch.list_open_differences():
        yield "! ", say_difference(difference, find_blind_subjects(batch))
    for one in batch.questions.values():
        yield "? ", format_answered(one.text, one.answer or "not answered, it stays open")


def get_row_digit(n: int) -> str:
    """Lines are numbered 1 to 9, then again: one key held down never runs through them."""
    return str(n % 9 + 1)


def clip_rows(rows: Rows, at: int, height: int) -> Content:
    """As many rows as there is room for, around the one at ``at``."""
    top = max(0, min(at - height // 3, len(rows) - height))
    return Content("\n").join(rows[top : top + height])


def _row(text: str, style: str) -> Content:
    return Content.assemble((text, style)) if style else Content(text)


def _hint(text: str) -> Content:
    return Content.assemble((text, "$secondary"))
