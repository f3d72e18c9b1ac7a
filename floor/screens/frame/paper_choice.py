"""Papers by one key: choose, have it written into the shop's folder, read it on screen, print it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from textual import getters
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Log, Static

from floor.batch.state import Batch
from floor.papers.catalog import NEW_PAGE, PaperOffer, PaperSource
from floor.papers.printing import NotPrinted, print_paper
from floor.papers.save import make_file_name, save_paper
from floor.screens.forms.dialogs import Choice, ChoiceDialog
from floor.screens.frame.run_in_thread import run_in_thread
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.session import Session
from floor.shop.load_settings import load_settings
from floor.shop.settings import FILE, SettingsError

PAPERS = Binding("e", "papers", "Papers", id="papers", tooltip="copies, sheets, reports, tables: write, read, print")
"""The same key on every screen that has papers."""
SHOWN_LINES = 20_000
"""More than anybody reads on a screen; the file has them all."""


def make_paper_source(session: Session, batch: Batch) -> PaperSource:
    """What the papers of a batch are made from, for whoever is signed in."""
    from floor.planning.plan_text import (
        describe_missed_deadlines,  # the plan's words are not needed to open the program
    )

    names = {person.initials: person.name for person in session.shop.people.known.values()}
    shop_plan = session.planner.shop_plan
    pressing = describe_missed_deadlines(shop_plan, batch.id) if shop_plan is not None else ()
    return PaperSource(batch, session.now(), batch.entries[-1].hash, names, session.who, pressing)


def choose_paper(screen: FloorScreen, offers: Sequence[PaperOffer]) -> None:
    """Offer papers; the chosen one is written and shown."""

    def picked(key: str | None) -> None:
        if key is not None:
            write_paper(screen, offers[int(key)])

    choices = [Choice(str(n), one.title) for n, one in enumerate(offers)]
    text = "It is saved to the shop's folder and shown here; there, p prints it."
    screen.floor.push_screen(ChoiceDialog("Papers", choices, text), picked)


def write_paper(screen: FloorScreen, offer: PaperOffer) -> None:
    """Write a paper and show it; where the disk refuses, it is shown all the same, and that it was not kept."""
    session = screen.session
    text, folder = offer.write(), session.shop.folder
    path: Path | None = None
    wrong = ""
    try:
        path = save_paper(folder, make_file_name(offer.stem, session.now().at, offer.ending), text)
    except OSError as error:
        why = error.strerror or error
        wrong = f"Not written: {why}. Make room, or let {folder / 'papers'} be written to; then choose it again"
    screen.floor.go(PaperScreen(session, offer.title, text, path, wrong, text.encode() if offer.printable else None))


class PaperScreen(FloorScreen):
    """A paper to read on screen, as it was written, with the path of its file."""

    DEFAULT_CSS = """
    PaperScreen #paper { height: 1fr; background: $background; scrollbar-size: 0 0; }
    PaperScreen.-wide #paper { padding: 0 4; }
    PaperScreen #paper:focus { background-tint: $background 0%; }
    PaperScreen #paper-path { height: auto; max-height: 3; padding: 0 1; background: $surface; }
    """
    BINDINGS = [
        Binding("p", "print", "Print", id="paper_print", tooltip="on the printer named in shop.toml"),
        Binding("space", "page", "Next page", id="paper_page"),
    ]
    AUTO_FOCUS = "#paper"

    paper = getters.query_one("#paper", Log)

    def __init__(
        self,
        session: Session,
        title: str,
        text: str,
        path: Path | None,
        wrong: str = "",
        printed: bytes | None = None,
    ) -> None:
        """Show a text.

        Args:
            path: where it was written; None where it was not.
            wrong: why not.
            printed: what goes to the printer; None for a table or a record for other programs.
        """
        super().__init__(session)
        self.heading = title
        self.text = text
        self.path = path
        self.wrong = wrong
        self.printed = printed
        self.printing = False
        """Whether a print command is under way."""
        self.many = 0
        """Lines of the paper."""

    def body(self) -> ComposeResult:
        yield Log(id="paper", auto_scroll=False)
        yield Static(f"Written to {self.path}" if self.path else f"✕ {self.wrong}", id="paper-path", markup=False)

    def on_mount(self) -> None:
        self.update_all()
        lines = self.text.replace(NEW_PAGE, "\n").splitlines()
        self.many = len(lines)
        more = [f"… and {len(lines) - SHOWN_LINES} more lines in the file"] if len(lines) > SHOWN_LINES else []
        self.paper.write("\n".join([*map(_harmless, lines[:SHOWN_LINES]), *more]), scroll_end=False)
        self.watch(self.paper, "scroll_y", self.update_all, init=False)
        self.call_after_refresh(self.update_all)

    def on_resize(self) -> None:
        self.call_after_refresh(self.update_all)

    def place(self) -> str:
        return self.heading

    def aside(self) -> str:
        last = min(int(self.paper.scroll_y) + max(self.paper.size.height, 1), self.many)
        return f"to line {last} of {self.many}"

    def abnormal(self) -> list[str]:
        return ["Shown only: this paper was not written"] if self.wrong else []

    def action_print(self) -> None:
        """Give it to the printer, in the background; where none is named, how to name one."""
        if self.printed is None:
            self.say("Not printed: it is machine-readable. The file is saved", wrong=True)
            return
        if self.printing:
            self.say("Printing already", wrong=True)
            return
        folder = self.session.shop.folder
        try:
            command = load_settings(folder, self.session.now().at).print
        except SettingsError as error:
            self.floor.trouble(str(error), "Not printed")
            return
        if not command:
            self.say(f'No printer is named. Write print = "lp" in {folder / FILE}, then p again', wrong=True)
            return
        self.printing = True
        self.say("Printing …")
        self.app.run_worker(self._print(command, self.printed), exit_on_error=False)  # goes on if one leaves the paper

    async def _print(self, command: Sequence[str], content: bytes) -> None:
        try:
            heard = await run_in_thread(print_paper, command, content)
            said, wrong = f"Sent to the printer. {heard}".strip(), False
        except NotPrinted as error:
            said, wrong = str(error), True
        self.printing = False
        if self.is_active:
            self.say(said, wrong)
        else:
            self.floor.mention([f"{self.heading}: {said}"])

    def action_page(self) -> None:
        """Arrows and page keys are the text's own."""
        self.paper.scroll_page_down(animate=False)


def _harmless(line: str) -> str:
    """A line that no terminal takes for a command to itself."""
    if line.isprintable():
        return line
    return "".join(one if one.isprintable() else "\N{REPLACEMENT CHARACTER}" for one in line)
