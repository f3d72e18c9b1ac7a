"""Papers by one key: choose, have it written into the shop's folder, read it on screen, print it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from textual.binding import Binding

from floor.batch.state import Batch
from floor.papers.catalog import PaperGroup, PaperOffer, PaperSource, make_tag_offer
from floor.papers.save import make_file_name, save_paper
from floor.papers.tags import TagLabel
from floor.screens.forms.dialogs import Choice, ChoiceDialog
from floor.screens.frame.paper_screen import PaperScreen
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.session import Session
from floor.screens.frame.tag_screen import TagScreen

PAPERS = Binding("e", "papers", "Papers", id="papers", tooltip="copies, sheets, reports, tables: write, read, print")
"""The same key on every screen that has papers."""
SAVED = "It is saved to the shop's folder and shown here; there, p prints it."
TAGS = "It is shown here; there, Ctrl+P prints it and Ctrl+S saves it as pictures."


def make_paper_source(session: Session, batch: Batch) -> PaperSource:
    """What the papers of a batch are made from, for whoever is signed in."""
    from floor.planning.plan_text import (
        describe_missed_deadlines,  # the plan's words are not needed to open the program
    )

    names = {person.initials: person.name for person in session.shop.people.known.values()}
    shop_plan = session.planner.shop_plan
    pressing = describe_missed_deadlines(shop_plan, batch.id) if shop_plan is not None else ()
    shop = session.shop.first_hash
    return PaperSource(batch, session.now(), batch.entries[-1].hash, names, session.who, pressing, shop)


def choose_paper(
    screen: FloorScreen, offers: Sequence[PaperOffer | PaperGroup], title: str = "Papers", text: str = SAVED
) -> None:
    """Offer papers; the chosen one is shown, and written unless it is a tag; of a group, its papers are offered."""

    def picked(key: str | None) -> None:
        chosen = None if key is None else offers[int(key)]
        if isinstance(chosen, PaperGroup):
            choose_paper(screen, chosen.make(), chosen.title, TAGS)
        elif chosen is not None:
            write_paper(screen, chosen)

    choices = [Choice(str(n), one.title) for n, one in enumerate(offers)]
    text = "It is saved to the shop's folder and shown here; there, Ctrl+P prints it."
    screen.floor.push_screen(ChoiceDialog("Papers", choices, text), picked)


def write_paper(screen: FloorScreen, offer: PaperOffer) -> None:
    """Write a paper and show it; where the disk refuses, it is shown all the same, and that it was not kept."""
    session = screen.session
    if offer.labels:
        screen.floor.go(TagScreen(session, offer.title, offer.write(), offer.labels))
        return
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
        Binding("ctrl+p", "print", "Print", id="paper_print", tooltip="on the printer named in shop.toml"),
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
            self.say(f'No printer is named. Write print = "lp" in {folder / FILE}, then Ctrl+P again', wrong=True)
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
