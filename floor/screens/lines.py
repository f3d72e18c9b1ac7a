"""The lines of a walk as they are drawn: phase by phase, each with its mark, its word and its evidence."""

from __future__ import annotations

from textual.content import Content

from floor.batch.walk import PHASE_TITLES, Line, Walk
from floor.screens.looks import MARKS, SAID
from floor.screens.shown import Shown

STYLES = {"now": "bold $accent", "reopened": "bold $accent", "blocked": "bold $error", "waits": "bold"}


class Lines(Shown):
    """As many lines of the walk as there is room for, around the current one or the one looked at."""

    def show_walk(self, walked: Walk, look: int | None) -> None:
        rows, at = _rows(walked)
        height = max(self.size.height, 5)
        centre = at[min(walked.place, len(walked.lines) - 1) if look is None else look]
        top = max(0, min(centre - height // 3, len(rows) - height))
        width = max(self.size.width, 40)
        self.update(Content("\n").join([_row(row, width, walked, look) for row in rows[top : top + height]]))


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
            rows.append(PHASE_TITLES[line.phase])
        at.append(len(rows))
        if line.kind != "caution":
            rows.append((number, line))
    return rows, at


def _row(row: tuple[int, Line] | str, width: int, walked: Walk, look: int | None) -> Content:
    if isinstance(row, str):
        return Content.assemble((row, "$secondary"))
    number, line = row
    reading = number > 0 and walked.place == number - 1 and walked.lines[walked.place].kind == "caution"
    state = walked.lines[walked.place].state if reading else line.state
    right = "READ FIRST" if reading else SAID[state] or line.evidence
    if state in ("skipped", "waived", "not needed"):
        right = f"{SAID[state]} {line.evidence}"
    alert = f" ⚠ {line.cautions[0][1].word}" if line.cautions and not line.satisfied else ""
    title = f"{'>' if number == look else ' '}{MARKS[state]} {line.title}{alert}"
    room = max(min(len(right), width - len(title) - 1), 12 if right else 0)
    if len(right) > room:
        right = right[: room - 1] + "…"
    if len(title) > width - room - 1:
        title = title[: width - room - 2] + "…"
    style = "$secondary" if line.satisfied else STYLES.get(state, "")
    text = f"{title:<{width - room - 1}} {right:>{room}}"
    return Content.assemble((text, style)) if style else Content(text)
