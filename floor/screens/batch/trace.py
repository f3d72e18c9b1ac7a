"""Where has this piece been? One page from the finished piece back to pallet, tools, lots and people."""

from __future__ import annotations

from textual import getters
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from floor.batch.search.trace import find_piece_at
from floor.batch.state import Batch
from floor.papers.catalog import list_offers
from floor.papers.trace import TraceLine, list_trace_lines
from floor.screens.batch.follow_up import choose_follow_up
from floor.screens.batch.lying import lay_out_load
from floor.screens.forms.dialogs import FormDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values
from floor.screens.frame.paper_choice import PAPERS, choose_paper, make_paper_source
from floor.screens.frame.screen import USUAL, WIDE
from floor.screens.frame.scrolled_frame import ScrolledFrame
from floor.screens.frame.session import Session
from floor.screens.widgets.place_map import PlaceMap

WIDEST = 118
"""Columns of a line that is still read at ease."""


class TraceScreen(ScrolledFrame):
    """The way of one piece; left and right for its neighbors."""

    GUIDE = (
        "The path of one piece: carriers, operations, tools, lots, people.",
        "`/` asks for another piece.",
    )
    BINDINGS = [
        Binding("slash", "choose", "Find a piece", key_display="/", id="choose"),
        Binding("left", "step(-1)", "Piece before", id="before"),
        Binding("right", "step(1)", "Piece after", id="after"),
        Binding("n", "follow_up", "Note", id="trace_note", tooltip="a cause found, or what the customer was told"),
        PAPERS,
    ]
    DEFAULT_CSS = """
    TraceScreen #lying { margin-bottom: 1; }
    TraceScreen.-wide #lying { dock: right; }
    """

    lying = getters.query_one("#lying", PlaceMap)

    def __init__(
        self,
        session: Session,
        batch: str,
        piece: int | None = None,
        load: int | None = None,
        among: tuple[int, ...] = (),
    ) -> None:
        """Show a piece, or ask which.

        Args:
            load: offered in the question.
            among: pieces that left and right step through; all of the batch where there are none.
        """
        super().__init__(session, batch)
        self.piece = piece
        self.load = load
        self.among = among
        self._shown: tuple[object, ...] = ()

    def missing(self, batch: Batch) -> str:
        """Also where its start was struck out."""
        known = self.piece is None or self.piece in batch.places
        return "" if known else f"There is no piece {self.piece} any more: {batch.started} pieces are started"

    def body(self) -> ComposeResult:
        with VerticalScroll(id="scrolled", can_focus=False):
            yield PlaceMap("lying")
            yield Static(id="scrolled-text", markup=False)

    def on_mount(self) -> None:
        super().on_mount()
        if self.piece is None:
            self.action_choose()

    def place(self) -> str:
        return f"{super().place()}  trace" + (f" of piece {self.piece}" if self.piece else "")

    def update_body(self) -> None:
        self._draw()
        if self.piece is None:
            self.text.update("No piece chosen yet. /: by its number, or by load and place")
            return
        width = self.find_width(WIDEST)
        shown = (self.piece, self.current_batch.seq, width, self.session.now().at.date())
        if shown == self._shown:
            return
        self._shown = shown
        lines = list_trace_lines(self.current_batch, self.piece, self.session.now(), width)
        self.text.update(Content("\n").join([_styled(line) for line in lines]))

    def _draw(self) -> None:
        """The carrier that the piece is on now, as it lies."""
        batch = self.current_batch
        place = batch.places.get(self.piece or 0)
        on = place is not None and (place.where == "load" or place.sits)
        load = batch.loads.get(place.load) if place is not None and on else None
        title = batch.format_load(load.number) if load is not None else ""
        wide = self.size.width >= WIDE
        width = self.size.width - WIDEST if wide else self.size.width - 4 if self.size.width >= USUAL else 0
        places = lay_out_load(batch, load, here=self.piece or 0, title=title, numbers=False)
        self.lying.draw(places, width, self.size.height // 4)

    def action_choose(self) -> None:
        """By number, or by load and place."""
        batch = self.current_batch
        load = "" if self.load is None else str(self.load)
        fields = [
            FieldSpec("piece", "Piece number", hint=f"1 to {batch.started}; or load and place below", number=True),
            FieldSpec("load", "Load", load),
            FieldSpec("place", "Place on its carrier", hint="as A1"),
        ]

        def attempt(given: Values) -> Errors:
            by_number = given["piece"].strip()
            piece, wrong = self._find(by_number, given["load"].strip(), given["place"].strip())
            if piece is None:
                return {"piece" if by_number else "load": wrong}
            self.go_to(piece)
            return {}

        self.floor.push_screen(FormDialog("Which piece?", fields, attempt))

    def _find(self, number: str, load: str, place: str) -> tuple[int | None, str]:
        batch = self.current_batch
        if number:
            known = number.isdecimal() and int(number) in batch.places
            return (int(number), "") if known else (None, f"There is no piece {number[:20]}: 1 to {batch.started}")
        piece = find_piece_at(batch, int(load), place) if load.isdecimal() else None
        if piece is not None:
            return piece, ""
        known_load = batch.loads.get(int(load)) if load.isdecimal() else None
        if known_load is None:
            return None, f"There is no load {load[:20]} in this batch. /: choose again"
        if not batch.checklist.carrier(known_load.carrier).positions:
            return None, f"{batch.format_carrier(known_load)} has no places: choose a piece by its number"
        return None, f"No piece was put in {place[:20] or 'no place'} of load {load}. /: choose again"

    def go_to(self, piece: int) -> None:
        self.piece = piece
        self.say("")
        self.update_all()
        self.box.scroll_home(animate=False)

    def action_step(self, way: int) -> None:
        pieces = self.among or tuple(sorted(self.current_batch.places))
        if self.piece is None:
            self.go_to(pieces[0])
        elif self.piece in pieces:
            self.go_to(pieces[(pieces.index(self.piece) + way) % len(pieces)])
        else:
            self.among = ()
            self.action_step(way)

    def action_follow_up(self) -> None:
        """What was found out about this piece, or told the customer."""
        if self.piece is None:
            self.say("No piece chosen yet. /: choose one", wrong=True)
        else:
            choose_follow_up(self, self.batch_id, (self.piece,), f"Piece {self.piece}")

    def action_papers(self) -> None:
        """The way of this piece first, then the papers of its batch."""
        choose_paper(self, list_offers(make_paper_source(self.session, self.current_batch), piece=self.piece))


STYLES = {"heading": "bold $accent", "doubt": "bold", "waiver": "bold"}
"""What stands out of a trace, by the kind of its line; its sign and its word say it too."""


def _styled(line: TraceLine) -> Content:
    style = STYLES.get(line.kind)
    return Content.assemble((line.text, style)) if style else Content(line.text)
