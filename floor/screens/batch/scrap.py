"""Asking whether scrap is marked or destroyed, once where it arises; Enter alone or Esc leaves it open."""

from __future__ import annotations

from floor.batch.counting.blind_count import find_blind_subjects
from floor.batch.counting.scrap import EndScrap, list_open_scrap, list_scrapped_by, say_open_scrap, say_scrapped
from floor.entry import Entry
from floor.screens.forms.dialogs import Choice, ChoiceDialog
from floor.screens.frame.screen import FloorScreen
from floor.shop.load_settings import load_scrap_place
from floor.text import capitalize_first, format_count

LATER = "What is neither stays open on the batch (d) and on the handover page."


def ask_scrap(screen: FloorScreen, batch_id: str, entries: list[Entry]) -> None:
    """Ask about what these entries have just scrapped; nothing where they scrapped nothing."""
    pieces = list_scrapped_by(screen.session.batch(batch_id), entries)
    if pieces:
        _ask_end(screen, batch_id, pieces, f"Scrap, {format_count(len(pieces), 'piece')}: marked or destroyed?")


def ask_open_scrap(screen: FloorScreen, batch_id: str) -> None:
    """Ask about what is still open, by what scrapped it: one may lie in the bin while another is looked for."""
    batch = screen.session.batch(batch_id)
    hidden, pieces = find_blind_subjects(batch), list_open_scrap(batch)
    apart: dict[int, list[int]] = {}
    for piece in pieces:
        apart.setdefault(batch.places[piece].seq, []).append(piece)
    title = f"{capitalize_first(say_open_scrap(batch, hidden))}:"
    if hidden or len(apart) < 2:
        _ask_end(screen, batch_id, pieces, title)
        return

    def answered(which: str | None) -> None:
        if which is not None:
            meant = tuple(apart[int(which)]) if which else pieces
            _ask_end(screen, batch_id, meant, f"Scrap, {format_count(len(meant), 'piece')}: marked or destroyed?")

    choices = [Choice("", "all of them"), *(Choice(str(seq), say_scrapped(batch, apart[seq])) for seq in apart)]
    screen.ask(ChoiceDialog(title, choices), answered)


def _ask_end(screen: FloorScreen, batch_id: str, pieces: tuple[int, ...], title: str) -> None:
    batch = screen.session.batch(batch_id)
    place = load_scrap_place(screen.session.shop.folder)
    if any(batch.places[piece].sits for piece in pieces):  # marked there, it lies in no bin yet
        place = "still on the carrier"

    def answered(how: str | None) -> None:
        if how is not None:
            end = EndScrap(pieces, how, place)  # type: ignore[arg-type]
            screen.give(batch_id, end, lambda _: screen.say(capitalize_first(how)))

    choices = [
        Choice("scrap marked", f"marked permanently{f': {place}' if place else ''}"),
        Choice("scrap destroyed", "destroyed: nobody can use it"),
        Choice("scrap not found", "not found: neither marked nor destroyed"),
    ]
    screen.ask(ChoiceDialog(title, choices, LATER, acts=True, later="not yet"), answered)
