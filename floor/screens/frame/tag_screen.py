"""Tags on screen: light as paper, so that a scanner reads them there too; to the label printer, or as pictures."""

from __future__ import annotations

from collections.abc import Sequence

from textual.binding import Binding

from floor.papers.catalog import NEW_PAGE
from floor.papers.save import save_tag
from floor.papers.tags import TagLabel
from floor.screens.frame.paper_screen import NotDone, PaperScreen
from floor.screens.frame.session import Session
from floor.shop.settings import Settings

BELOW_CODE = 1
"""Lines of a tag below its code: what it says."""


class TagScreen(PaperScreen):
    """Which tag is it, and does the scanner read it?"""

    DEFAULT_CSS = """
    TagScreen #paper, TagScreen #paper:focus { background: white; color: black; }
    """
    BINDINGS = [
        Binding("ctrl+s", "save", "Save", id="tag_save", tooltip="as SVG and PNG into the shop's papers"),
    ]

    def __init__(self, session: Session, title: str, text: str, labels: Sequence[TagLabel]) -> None:
        super().__init__(session, title, text, (), printable=True)
        self.labels = tuple(labels)

    def on_mount(self) -> None:
        self.call_after_refresh(self._show_code)

    def _show_code(self) -> None:
        """A code longer than its place opens with its last row in sight: a scanner reads none that is cut off."""
        page, _, _ = self.text.partition(NEW_PAGE)
        rows = len(page.splitlines()) - BELOW_CODE
        self.paper.scroll_to(y=max(rows - self.paper.size.height, 0), animate=False)

    def describe_file(self) -> str:
        return "Not saved yet. Ctrl+S: save as SVG and PNG    Ctrl+P: print"

    def find_command(self, settings: Settings) -> tuple[str, ...]:
        return settings.print_tags

    def list_jobs(self) -> list[bytes]:
        return [label.draw_png() for label in self.labels]

    def action_save(self) -> None:
        self.work_aside("Saving …", self._save)

    def _save(self) -> str:
        folder = self.session.shop.folder
        try:
            paths = [path for label in self.labels for path in save_tag(folder, label)]
        except OSError as error:
            wrong = f"Not saved: {error.strerror or error}. Free some space, or make {folder / 'papers'} writable"
            raise NotDone(wrong) from None
        more = f" and {len(paths) - 1} more" if len(paths) > 1 else ""
        return f"Saved {paths[0]}{more}"
