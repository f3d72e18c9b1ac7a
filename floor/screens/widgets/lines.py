"""The lines of a walk as they are drawn: phase by phase, each with its mark, its word and its evidence."""

from __future__ import annotations

from collections import Counter

from textual.content import Content

from floor.batch.gates.setup_sheet import Card
from floor.batch.walk.lines import Line, Walk, find_phase_title
from floor.checklist.operation import Do
from floor.screens.frame.theme import MARKS, SAID, draw_band, find_mark
from floor.screens.widgets.diff_static import DiffStatic
from floor.text import count_cells, cut, wrap_text

HOLD_POINT_SAID = "hold point"
LEAST_ROWS = 5
"""Rows that are drawn before the room is known."""
LEAST_BESIDE = 12
"""Columns that a title leaves to what stands beside it."""
STYLES = {"now": "bold $accent", "reopened": "bold $accent", "blocked": "bold $error", "waits": "bold"}


class WalkLines(DiffStatic):
    """As many lines of the walk as there is room for, around the current one or the one looked at."""

    shown: tuple[Walk, int | None] | None = None

    def on_resize(self) -> None:
        """What stands above takes more or less room than before: the height is known only now."""
        if self.shown is not None:
            self.show_walk(*self.shown)

    def show_walk(self, walked: Walk, look: int | None) -> None:
        self.shown = walked, look
        rows, at = _rows(walked)
        height = self.size.height or LEAST_ROWS
        center = at[min(walked.place, len(walked.lines) - 1) if look is None else look]
        top = max(0, min(center - height // 3, len(rows) - height))
        width = max(self.size.width, 34)
        self.update(Content("\n").join([_row(row, width, walked, look) for row in rows[top : top + height]]))


def draw_rows_from_current(walked: Walk, width: int, height: int) -> list[Content]:
    """The lines from the one that is now, as many as there is room for."""
    rows, at = _rows(walked)
    first = at[min(walked.place, len(walked.lines) - 1)]
    return [_row(row, width, walked, None) for row in rows[first : first + height]]


def draw_card(card: Card, width: int) -> list[Content]:
    """All of a card, each fact behind its name, and a blank row."""
    room = max(len(name) for name, _ in card.facts) + 2
    rows = [Content.assemble((card.title, "bold"))]
    for name, said in card.facts:
        rows += [Content(text) for text in wrap_text(said, f"{name:<{room}}", " " * room, width=width)]
    return [*rows, Content("")]


def format_card_brief(card: Card, width: int, room: int) -> list[str]:
    """A card in so many lines at most; a fact is not broken where it fits a line, the last ones may be left out."""
    rows = [""]
    for said in card.brief:
        joined = f"{rows[-1]} · {said}" if rows[-1] else said
        if count_cells(joined) <= width - 2:
            rows[-1] = joined
        elif len(rows) < room:
            rows.append(said)
        else:
            rows[-1] += " …"
            break
    return [cut(row, width) for row in rows]


def count_met(walked: Walk) -> str:
    """``2 of 7``."""
    return f"{sum(line.state == 'done' for line in walked.gates)} of {len(walked.gates)}"


def describe_gates(walked: Walk) -> str:
    """``Op 30: required checks, 2 of 7 met, 1 waived``."""
    states = Counter(line.state for line in walked.gates)
    if not walked.gates:
        return f"Op {walked.operation.op}: no required checks"
    found = [
        f"{count_met(walked)} met",
        *(f"{states[state]} {SAID[state].lower()}" for state in ("waived", "not known") if states[state]),
    ]
    return f"Op {walked.operation.op}: required checks, {', '.join(found)}"


def draw_gates(walked: Walk, width: int) -> list[Content]:
    """What must be proved at the operation: each gate, whether it is met and by what, and where its values lie."""
    rows: list[Content] = []
    for line in walked.gates:
        met = "met" if line.state == "done" else SAID[line.state].lower() or "not met"
        why = line.evidence or (line.verdict.why if line.verdict else "")
        rows += [Content(text) for text in wrap_text(line.title, f"{find_mark(line)} ", width=width)]
        said = wrap_text(f"{met}: {why}" if why else met, "    ", width=width)
        rows += [Content.assemble((text, "$secondary")) for text in [*said, *_bands(line)]]
    return rows


def draw_beside(card: Card | None, walked: Walk, width: int) -> Content:
    """The panel beside a walk: the card of the current tool or set-up, then what must be proved."""
    head = [Content.styled(row, "bold") for row in wrap_text(describe_gates(walked), width=width)]
    rows = draw_card(card, width) if card is not None else []
    return Content("\n").join([*rows, *head, *draw_gates(walked, width)])


def name_more(walked: Walk, line: Line | None) -> str:
    """The title of the page behind a walk: the step, where it says how and why."""
    return (
        line.step.title() if line is not None and line.step is not None and line.step.more else describe_gates(walked)
    )


def draw_more(walked: Walk, line: Line | None, width: int) -> Content:
    """The page behind a walk: how and why of a step, then what must be proved at its operation."""
    checks = draw_gates(walked, width)
    if line is None or line.step is None or not line.step.more:
        return Content("\n").join(checks)
    said = [Content(row) for text in line.step.more for row in [*wrap_text(text, width=width), ""]]
    return Content("\n").join([*said, Content.styled(describe_gates(walked), "bold"), *checks])


def _bands(line: Line) -> list[str]:
    """A band for each value that was proved between two limits."""
    proof = line.verdict.proof if line.verdict is not None else None
    if proof is None or line.step is None or isinstance(line.step, Do):
        return []
    found = []
    for ask in line.step.asks():
        entered = proof.values.get(ask.name)
        for value in entered if isinstance(entered, list) else [entered]:
            shown = draw_band(value, ask.low, ask.high) if isinstance(value, int | float) else ""
            if shown and ask.low is not None and ask.high is not None:
                found.append(f"    {ask.said(ask.low)} {shown} {ask.said(ask.high)}")
    return found


def _rows(walked: Walk) -> tuple[list[tuple[int, Line] | str], list[int]]:
    """Lines with the titles of their phases, and at which row each line stands.

    A caution has no row of its own: it belongs to its step, and the step's row is the place while it is read.
    """
    rows: list[tuple[int, Line] | str] = []
    at: list[int] = []
    phase = ""
    for number, line in enumerate(walked.lines):
        if line.phase != phase:
            phase = line.phase
            rows.append(find_phase_title(walked.operation, line.phase))
        at.append(len(rows))
        if line.kind != "caution":
            rows.append((number, line))
    return rows, at


def _warn_of(line: Line) -> str:
    """The signal word of the first caution of a line that is still to be done."""
    return f" ⚠ {line.cautions[0][1].word}" if line.cautions and not line.is_satisfied else ""


def _say_beside(line: Line, room: int) -> str:
    """What stands at the right; that a hold point is one, where no word of the title gives way for it."""
    if line.state in ("skipped", "waived", "not needed", "not known"):
        return f"{SAID[line.state]} {line.evidence}"
    said = SAID[line.state] or line.evidence
    return HOLD_POINT_SAID if not said and line.is_hold_point_ahead and room > LEAST_BESIDE else said


def _row(row: tuple[int, Line] | str, width: int, walked: Walk, look: int | None) -> Content:
    if isinstance(row, str):
        return Content.assemble((row, "$secondary"))
    number, line = row
    reading = number > 0 and walked.place == number - 1 and walked.lines[walked.place].kind == "caution"
    state = walked.lines[walked.place].state if reading else line.state
    alert = "" if reading else _warn_of(line)  # while a caution is read it stands above in full
    title = f"{'>' if number == look else ' '}{MARKS[state] if reading else find_mark(line)} {line.title}"
    right = "READ FIRST" if reading else _say_beside(line, width - len(title) - len(alert))
    room = max(min(len(right), width - len(title) - len(alert) - 1), LEAST_BESIDE if right else 0)
    right = cut(right, room)  # of a proof the values that stand come first
    title = cut(title, width - room - 1 - len(alert)) + alert
    style = "$secondary" if line.is_satisfied else STYLES.get(state, "")
    text = f"{title:<{max(width - room - 1, 0)}} {right:>{room}}"
    return Content.assemble((text, style)) if style else Content(text)
