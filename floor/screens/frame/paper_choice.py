"""Papers by one key: choose, have it written into the shop's folder, read it on screen, print it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from textual.binding import Binding

from floor.batch.state import Batch
from floor.papers.catalog import PaperGroup, PaperOffer, PaperSource, make_tag_offer
from floor.papers.save import save_offer
from floor.papers.tags import TagLabel
from floor.screens.forms.dialogs import Choice, ChoiceDialog
from floor.screens.frame.paper_screen import PaperScreen
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.session import Session
from floor.screens.frame.tag_screen import TagScreen
from floor.shop.load_settings import load_readable_settings
from floor.shop.settings import Settings

if TYPE_CHECKING:
    from floor.papers.earlier_batches import EarlierReport

PAPERS = Binding("e", "papers", "Papers", id="papers", tooltip="sheets, reports, tables: read, save, print")
"""The same key on every screen that has papers."""
SAVED = "It is saved to the shop's folder and shown here; there, Ctrl+P prints it."
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
    now = session.now()
    source = PaperSource(batch, now, batch.entries[-1].hash, names, session.who, pressing, shop)
    settings = load_readable_settings(session.shop.folder, now.at)
    if settings is None:
        return source
    earlier = _offer_earlier(session, batch, settings)
    return replace(source, calendar=settings.calendar, earlier=earlier, rates=settings.costs)


def _offer_earlier(session: Session, batch: Batch, settings: Settings) -> Callable[[], EarlierReport] | None:
    """Reads the batches beside this one; None where there are none."""
    shop = session.shop
    if not {*shop.closed(), *(one.id for one in shop.batches)} - {batch.id}:
        return None

    def read() -> EarlierReport:
        from floor.papers.earlier_batches import make_report
        from floor.shop.earlier_batches import ask_of_batch, read_earlier

        asked = ask_of_batch(shop, batch, settings.calendar)
        return make_report(
            batch, asked, read_earlier(asked), session.now().at, settings.fill_level, settings.half_life_days
        )

    return read


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
    screen.floor.push_screen(ChoiceDialog(title, choices, text), picked)


def offer_tags(screen: FloorScreen, labels: Sequence[TagLabel], first: str) -> None:
    """Offer the tag of what is under the cursor by its first name, and all of its kind."""
    chosen = [make_tag_offer(one.title, [one]) for one in labels if one.names[0] == first]
    others = [make_tag_offer(f"All {len(labels)} tags", labels)] if len(labels) > 1 else []
    choose_paper(screen, [*chosen, *others], "Tags for a scanner", TAGS)


def write_paper(screen: FloorScreen, offer: PaperOffer) -> None:
    """Write a paper and show it; where the disk refuses, it is shown all the same, and that it was not kept."""
    session = screen.session
    if offer.labels:
        screen.floor.go(TagScreen(session, offer.title, offer.write(), offer.labels))
        return
    text, folder = offer.write(), session.shop.folder
    paths: list[Path] = []
    wrong = ""
    try:
        paths = save_offer(folder, offer, text, session.now().at)
    except OSError as error:
        why = error.strerror or error
        wrong = f"Not written: {why}. Free some space, or make {folder / 'papers'} writable; then choose it again"
    screen.floor.go(PaperScreen(session, offer.title, text, paths, wrong, offer.printable))
