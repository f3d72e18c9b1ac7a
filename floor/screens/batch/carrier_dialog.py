"""The carrier of a load as it lies, over the whole screen: where the list of loads leaves no room for it."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Static

from floor.batch.counting.blind_count import find_blind_subjects
from floor.batch.load import Load, PiecePlace
from floor.batch.state import Batch
from floor.screens.batch.lying import lay_out_load
from floor.screens.widgets.place_map import PlaceMap, Places

AROUND = 6
"""Columns and rows that the dialog takes of the screen around the drawing."""


def describe_no_drawing(batch: Batch, load: Load | None) -> str:
    """Why the carrier of a row of loads is not drawn."""
    if load is None:
        return "These pieces are on no carrier: nothing to draw"
    if PiecePlace("load", load=load.number).heap in find_blind_subjects(batch):
        return f"{batch.format_carrier(load)} is still to be counted: count it first (o)"
    return f"{batch.format_carrier(load)} has no places: nothing to draw"


class CarrierDialog(ModalScreen[None]):
    """What lies in each place; nothing is recorded."""

    BINDINGS = [Binding("enter,escape", "close", "Back")]

    def __init__(self, batch: Batch, load: Load) -> None:
        super().__init__()
        self.heading = batch.format_load(load.number)
        self.places: Places | None = lay_out_load(batch, load)

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog -drawn"):
            yield Static(self.heading, classes="dialog-title", markup=False)
            yield PlaceMap("lying-large", gives_way=False)
            yield Static("Esc: back", classes="dialog-hint")

    def on_mount(self) -> None:
        self._draw()

    def on_resize(self) -> None:
        self._draw()

    def _draw(self) -> None:
        width, height = self.app.size
        self.query_one(PlaceMap).draw(self.places, width * 96 // 100 - AROUND, height * 9 // 10 - AROUND)

    def action_close(self) -> None:
        if self.is_active:
            self.dismiss(None)
