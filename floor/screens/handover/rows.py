"""The rows of the handover screen: the page, what to count, what to read back, what to sign."""

from __future__ import annotations

from textual.content import Content

from floor.batch.counting.blind_count import Subject, blind, subjects
from floor.batch.handover.page import left_to_read_back, page, safety_lines, say_difference
from floor.batch.state import Batch
from floor.entry import Moment
from floor.papers.page import cells, cut, wrapped
from floor.text import plural

Rows = list[Content]


def page_rows(batch: Batch, now: Moment, hidden: frozenset[str], width: int) -> Rows:
    """The turnover page: what the outgoing person says, then its sections; empty ones take one line."""
    rows: Rows = []
    if batch.handover is not None and batch.handover.remarks:
        rows += _section(f"{batch.handover.by} says", [("", batch.handover.remarks)], width)
    for section in page(batch, now, hidden):
        if section.lines:
            signed = [("! " if line.safety else "- ", line.text) for line in section.lines]
            rows += _section(section.title, signed, width)
        else:
            rows.append(Content.assemble((f"{section.title}: {section.empty}", "$secondary")))
    asked = [("? ", f"{one.text} ({one.by})  {one.answer or 'not answered'}") for one in batch.questions.values()]
    return rows + _section("Questions", asked, width) if asked else rows


def _section(title: str, lines: list[tuple[str, str]], width: int) -> Rows:
    rows = [Content.assemble((title, "bold $accent"))]
    for sign, text in lines:
        rows += [Content(line) for line in wrapped(text, f"  {sign}", width=width)]
    return rows


def count_rows(batch: Batch, chosen: Subject | None, width: int) -> tuple[Rows, int]:
    """Every place to count with what was found so far, and the row of the one whose turn it is.

    The recorded figure stands only beside a number that was typed.
    """
    rows, at = [_hint("Go and count. The recorded figure is shown afterwards.")], 0
    counted, hidden = batch.handover.counted if batch.handover else {}, blind(batch)
    for subject in subjects(batch):
        now = chosen is not None and subject.key == chosen.key
        at = len(rows) if now else at
        found = counted.get(subject.key)
        sign, said, style = "·", "", ""
        if found == subject.expected:
            sign, said, style = "✓", f"{found}, agrees", "$secondary"
        elif found is not None:
            again = "counts do not match, recount"
            recorded = f"recorded {subject.expected}: DIFFERS"
            sign, said, style = "✕", f"{found}, {again if subject.key in hidden else recorded}", "bold"
        elif now:
            said = "count it"
        if now:
            sign, style = "▶", "bold $accent"
        title = cut(subject.title, width - cells(said) - 4)
        rows.append(_row(f"{sign} {title}{' ' * max(width - cells(title) - cells(said) - 2, 1)}{said}", style))
    return rows, at


def read_back_rows(batch: Batch, now: Moment, width: int) -> tuple[Rows, int]:
    """The safety lines, and the first row of the one whose turn it is."""
    rows, at = [_hint("Read each line aloud, then press its number.")], 0
    left = left_to_read_back(batch, now)
    for n, line in enumerate(safety_lines(batch, now, blind(batch))):
        turn = bool(left) and line.key == left[0].key
        at = len(rows) if turn else at
        sign = "▶" if turn else "·" if line in left else "✓"
        style = "bold $accent" if turn else "" if line in left else "$secondary"
        rows += [_row(text, style) for text in wrapped(line.text, f"{sign} {digit(n)}  ", width=width)]
    return rows, at


def accept_rows(batch: Batch, width: int) -> Rows:
    """What stands when it comes to signing: counts, read-back, disputed counts, questions."""
    handover, open_ = batch.handover, batch.open_differences()
    counted, read_back = (len(handover.counted), len(handover.read_back)) if handover else (0, 0)
    disputed = f", {plural(len(open_), 'count')} disputed and open" if open_ else ""
    said = [
        ("✓ ", f"{plural(counted, 'place')} counted{disputed}"),
        ("✓ ", f"{plural(read_back, 'safety line')} read back"),
        *(("! ", say_difference(one, blind(batch))) for one in open_),
        *(("? ", f"{one.text}  {one.answer or 'not answered: it stays open'}") for one in batch.questions.values()),
    ]
    rows = [Content(line) for sign, text in said for line in wrapped(text, sign, width=width)]
    last = "q: ask a question    Enter: accept and sign."
    return [*rows, Content(""), Content.assemble((last, "bold $accent"))]


def digit(n: int) -> str:
    """Lines are numbered 1 to 9, then again: one key held down never runs through them."""
    return str(n % 9 + 1)


def window(rows: Rows, at: int, height: int) -> Content:
    """As many rows as there is room for, around the one at ``at``."""
    top = max(0, min(at - height // 3, len(rows) - height))
    return Content("\n").join(rows[top : top + height])


def _row(text: str, style: str) -> Content:
    return Content.assemble((text, style)) if style else Content(text)


def _hint(text: str) -> Content:
    return Content.assemble((text, "$secondary"))
