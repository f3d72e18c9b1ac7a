"""The view from two meters: job, operation, carrier, what is next and how long it takes, in large letters."""

from __future__ import annotations

from itertools import product

from textual import events, getters
from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.widgets import Static

from floor.batch.command import Refused
from floor.batch.worklist.due_task import DueTask
from floor.batch.worklist.large_view_content import LargeView, build_large_view
from floor.block_letters import (
    count_squares,
    count_terminal_rows,
    draw_block_letters,
    draw_blocks,
    is_drawable,
    wrap_squares,
)
from floor.dataclass import dataclass
from floor.screens.frame.screen import FloorScreen, describe_missing_run
from floor.screens.frame.session import Session
from floor.screens.frame.theme import SIGNAL_PANELS
from floor.screens.frame.troubles import Trouble, list_batch_troubles
from floor.screens.widgets.diff_static import DiffStatic

LARGEST = 4
"""Size of letters beyond which nothing is gained at the distances of a shop."""
LARGEST_BESIDE = 2
"""The same where they stand beside other text: read from four meters."""
QUIET, BRIGHT, LOUD = "$foreground", "bold $accent", "bold reverse"
WORDS = {"blocked": "Blocked", "missed": "Missed", "over": "Over"}
MOST_LINES = 6
MOST_BONUS = 3
"""Sizes by which the time may be larger than the rest."""
GAP = ("", "")


@dataclass(frozen=True, slots=True)
class LargeText:
    """A text that goes into lines of large letters."""

    text: str
    style: str = QUIET
    bonus: int = 0
    """How many sizes larger than the rest."""
    most: int = 1
    """Lines it may take."""


class LargeViewScreen(FloorScreen):
    """Questions 1 and 2 from where one stands at the machine: any key goes back to where one was."""

    DEFAULT_CSS = """
    LargeViewScreen #large { height: 1fr; width: 100%; padding: 0 1; text-wrap: nowrap; }
    LargeViewScreen #reply { margin-bottom: 0; }
    LargeViewScreen #large-full { height: auto; max-height: 2; padding: 0 1; background: $surface; }
    """
    BINDINGS = [Binding("escape", "back", "Back", show=False, id="back")]
    AUTO_FOCUS = ""

    large = getters.query_one("#large", Static)
    full = getters.query_one("#large-full", Static)

    def __init__(self, session: Session, batch: str, run: int | None = None, key: str = "") -> None:
        """Follow a run, or one thing that is due.

        Args:
            key: names what is due; where that is gone, the most pressing thing of the shop is shown.
        """
        super().__init__(session)
        self.batch_id = batch
        self.run_ = run
        self.key = key

    def compose(self) -> ComposeResult:
        """The frame without the line of keys: any will do, and that is said above."""
        from textual.containers import Vertical

        with Vertical(id="head"):
            yield DiffStatic(id="head-left", markup=False)
            yield DiffStatic(id="head-right", markup=False)
        yield DiffStatic(id="strip", markup=False)
        yield DiffStatic(id="large", markup=False)
        yield DiffStatic(id="large-full", markup=False)
        yield DiffStatic(id="reply", markup=False)

    def gone(self) -> str:
        """A run that is followed; what is due is looked for again each time."""
        if self.run_ is None:
            return ""
        try:
            return describe_missing_run(self.session.batch(self.batch_id), self.run_)
        except Refused as refused:
            return str(refused)

    def on_resize(self) -> None:
        self.call_after_refresh(self.update_all)

    def place(self) -> str:
        found = self._found()
        if found is None:
            return "Floor"
        batch = self.session.batch(self.batch_id)
        due, run = found
        op = batch.runs[run].op if run is not None else due.op if due is not None else None
        part = batch.checklist.part
        said = [f"{batch.id} {part.number} {part.revision}", batch.reference]
        said += [f"op {op} {batch.operation(op).title}"] if op else []
        return "  ".join(filter(None, said))

    def aside(self) -> str:
        return "any key: back"

    def abnormal(self) -> list[Trouble]:
        return list_batch_troubles(self.session, self.session.batch(self.batch_id)) if self.batch_id else []

    def _found(self) -> tuple[DueTask | None, int | None] | None:
        """What is shown: the run, or what is due; None where nothing is."""
        dues = self.session.due()
        if self.run_ is not None:
            mine = (due for due in dues if due.batch == self.batch_id and due.run == self.run_)
            return next(mine, None), self.run_
        due = next((due for due in dues if due.key == self.key), dues[0] if dues else None)
        if due is None:
            self.batch_id = ""
            return None
        self.batch_id, self.key = due.batch, due.key
        return due, due.run

    def update_body(self) -> None:
        found = self._found()
        if found is None:
            self.large.update("Nothing is due.")
            return
        seen = build_large_view(self.session.batch(self.batch_id), self.session.now(), *found, self.session.who)
        self.reply.display = bool(str(self.reply.content))
        height = self.size.height - (4 if self.reply.display else 3) - (self.size.width < len(seen.full) + 2)
        self.large.update(draw_large_view(seen, max(self.size.width - 2, 20), max(height, 6)))
        self.full.update(seen.full)

    # --- any key goes back -------------------------------------------------------------------------------------

    def on_key(self, event: events.Key) -> None:
        event.stop()
        event.prevent_default()
        self.action_back()

    def on_click(self) -> None:
        self.action_back()


def draw_large_view(seen: LargeView, width: int, height: int) -> Content:
    """All of it in letters as large as fit; below them the cautions of the step, by their signal words."""
    band = [_band(seen.cautions)] if seen.cautions else []
    room = height - len(band)
    for size, bonus in product(range(LARGEST, 0, -1), range(MOST_BONUS if seen.time else 1, 0, -1)):
        rows = _set(_parts(seen, bonus), size, width, room, whole=True)
        if rows:
            break
    else:
        rows = _set(_parts(seen, 1), 1, width, room, whole=False)
    return Content("\n").join([*rows, *band])


def draw_large_lines(lines: list[LargeText], width: int, height: int) -> Content | None:
    """Lines beside all else on a screen, in letters as large as fit; None where the smallest do not."""
    found = (_set(lines, size, width, height, whole=True) for size in range(LARGEST_BESIDE, 0, -1))
    rows = next(filter(None, found), None)
    return Content("\n").join(rows) if rows else None


def _parts(seen: LargeView, bonus: int) -> list[LargeText]:
    parts = [LargeText(f"{seen.job} {seen.operation}".strip())]
    parts += [LargeText(seen.carrier)] if seen.carrier else []
    parts += [LargeText(seen.offset)] if seen.offset else []
    parts += [LargeText(WORDS[seen.kind], LOUD)] if seen.kind in WORDS else []
    parts += [LargeText(f"Closes {seen.closes}", LOUD)] if seen.closes else []
    parts += [LargeText(seen.time, LOUD if seen.kind == "over" else BRIGHT, bonus)] if seen.time else []
    return [*parts, LargeText(seen.doing, QUIET if seen.time else BRIGHT, most=MOST_LINES)]


def _set(parts: list[LargeText], size: int, width: int, height: int, whole: bool) -> list[Content]:
    """The parts in rows; none where they do not fit.

    Args:
        whole: whether every word has to be there; else the last part is shortened.
    """
    rows: list[tuple[str, str]] = []
    for part in parts:
        at = size + part.bonus
        left = height - len(rows)  # the gap below the last line may be missing
        most = min(part.most, (left + 1) // (count_terminal_rows(at) + 1))
        if not is_drawable(part.text):
            rows += [(part.text, part.style), GAP] if left > 1 else []
            continue
        lines = wrap_squares(draw_block_letters(part.text), width // at, most)
        if whole and (not lines or any(line.endswith("…") or count_squares(line) > width // at for line in lines)):
            return []
        for line in lines:
            rows += [(f"{row:<{width}}", part.style) for row in draw_blocks(line, at)]
            rows.append(GAP)
    rows = rows[:-1] if len(rows) > height else rows
    return _edged([GAP, *rows] if len(rows) < height else rows, width)


def _edged(rows: list[tuple[str, str]], width: int) -> list[Content]:
    """The rows with half a row of the panel above and below what is loud, in the gaps: letters need an edge."""
    found = []
    for above, row, below in zip([GAP, *rows], rows, [*rows[1:], GAP], strict=False):
        if row == GAP:
            edge = {(True, True): " ", (True, False): "▀", (False, True): "▄", (False, False): ""}
            panel = edge[above[1] == LOUD, below[1] == LOUD] * width
            row = (panel, LOUD if panel.isspace() else QUIET)
        found.append(Content.assemble(row))
    return found


def _band(cautions: tuple[str, ...]) -> Content:
    """The signal words of the step; what they warn of is read on the walk."""
    words: list[tuple[str, str] | str] = []
    for word in cautions:
        letters, panel = SIGNAL_PANELS[word]
        words += [(f" {word} " if word == "NOTICE" else f" ⚠ {word} ", f"bold {letters} on {panel}"), " "]
    return Content.assemble(*words, "at this step: read before it is done")
