"""A paper on screen, and its way to the printer."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from textual import getters
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Log, Static

from floor.papers.catalog import NEW_PAGE
from floor.papers.printing import NotPrinted, print_paper
from floor.screens.frame.run_in_thread import run_in_thread
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.session import Session
from floor.screens.frame.troubles import Trouble
from floor.shop.load_settings import load_settings
from floor.shop.settings import FILE, Settings, SettingsError
from floor.text import format_count

SHOWN_LINES = 20_000
"""More than anybody reads on a screen; the file has them all."""


class NotDone(Exception):
    """Something was not printed or saved, as a sentence."""


class PaperScreen(FloorScreen):
    """A paper to read on screen, as it was written, with the path of its file."""

    DEFAULT_CSS = """
    PaperScreen #paper { height: 1fr; background: $background; scrollbar-size: 0 0; }
    PaperScreen.-wide #paper { padding: 0 4; }
    PaperScreen #paper:focus { background-tint: $background 0%; }
    PaperScreen #paper-path { height: auto; max-height: 3; padding: 0 1; background: $surface; }
    """
    GUIDE = (
        "A paper as it was written; its file is named below.",
        "`Ctrl+P` prints it with the command that shop.toml names.",
    )
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
        paths: Sequence[Path],
        wrong: str = "",
        printable: bool = False,
    ) -> None:
        """Show a text.

        Args:
            paths: where it was written, and then its charts; none where it was not.
            wrong: why not.
            printable: whether people read it on paper.
        """
        super().__init__(session)
        self.heading = title
        self.text = text
        self.paths = paths
        self.wrong = wrong
        self.printable = printable
        self.working = False
        """Whether something is printed or saved now."""
        self.many = 0
        """Lines of the paper."""

    def body(self) -> ComposeResult:
        yield Log(id="paper", auto_scroll=False)
        yield Static(self.describe_file(), id="paper-path", markup=False)

    def describe_file(self) -> str:
        """Where it is saved, or why it is not."""
        if not self.paths:
            return f"✕ {self.wrong}"
        charts = f", and beside it {format_count(len(self.paths) - 1, 'chart')} (SVG)" if len(self.paths) > 1 else ""
        return f"Written to {self.paths[0]}{charts}"

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

    def abnormal(self) -> list[Trouble]:
        unsaved = [Trouble("shift", "Not saved: this paper is on this screen only")] if self.wrong else []
        return [*unsaved, *super().abnormal()]

    # --- printing ----------------------------------------------------------------------------------------------

    def find_command(self, settings: Settings) -> tuple[str, ...]:
        """The shop's command that prints it; empty if there is none."""
        return settings.print

    def list_jobs(self) -> list[bytes]:
        """What goes to the printer, each by a command of its own."""
        return [self.text.encode()]

    def action_print(self) -> None:
        """Give it to the printer, in the background; where none is named, how to name one."""
        if not self.printable:
            self.say("Not printed: it is machine-readable. The file is saved", wrong=True)
            return
        folder = self.session.shop.folder
        try:
            command = self.find_command(load_settings(folder, self.session.now().at))
        except SettingsError as error:
            self.floor.trouble(str(error), "Not printed")
            return
        if command:
            self.work_aside("Printing …", lambda: self._print(command))
        else:
            self.say(f'No printer is named. Write print = "lp" in {folder / FILE}, then Ctrl+P again', wrong=True)

    def _print(self, command: tuple[str, ...]) -> str:
        jobs, heard = self.list_jobs(), ""
        for n, job in enumerate(jobs):
            try:
                heard = print_paper(command, job)
            except NotPrinted as error:
                raise NotDone(f"{n} of {len(jobs)} printed. {error}" if n else str(error)) from None
        many = f"All {len(jobs)} sent" if len(jobs) > 1 else "Sent"
        return f"{many} to the printer. {heard}".strip()

    def work_aside(self, what: str, work: Callable[[], str]) -> None:
        """Work off the thread of the keys; it goes on if one leaves the paper. Its answer is said, or is news.

        Args:
            what: said meanwhile.
            work: may raise `NotDone`.
        """
        if self.working:
            self.say("Still working on the last key. Wait, then press again", wrong=True)
            return
        self.working = True
        self.say(what)
        self.app.run_worker(self._wait(work), exit_on_error=False)

    async def _wait(self, work: Callable[[], str]) -> None:
        try:
            said, wrong = await run_in_thread(work), False
        except NotDone as error:
            said, wrong = str(error), True
        self.working = False
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
