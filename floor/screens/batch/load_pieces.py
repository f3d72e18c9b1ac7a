"""Loading loose pieces on a carrier: which, how many and where they go is said before anything is recorded."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from floor.batch.command import Refused
from floor.batch.counting.blind_count import HIDDEN_FIGURE, format_unless_blind
from floor.batch.events import LoadFormed, read_event
from floor.batch.lifecycle.commands import FormLoad
from floor.batch.load import PiecePlace
from floor.entry import Entry
from floor.screens.batch.lying import lay_out_seats
from floor.screens.forms.dialogs import ConfirmDialog
from floor.screens.frame.screen import FloorScreen
from floor.text import format_count


def say_loaded(screen: FloorScreen, batch_id: str, made: Sequence[Entry]) -> None:
    """``Pallet 2 loaded with 4 pieces: load 7``."""
    batch = screen.session.batch(batch_id)
    load = batch.loads[int(made[0].body["load"])]
    pieces = format_count(len(load.pieces), "piece")
    screen.say(f"{batch.format_carrier(load)} loaded with {pieces}: load {load.number}")


def ask_load(screen: FloorScreen, batch_id: str, command: FormLoad, loaded: Callable[[list[Entry]], None]) -> None:
    """Ask whether the pieces are on their carrier; a refusal comes before the question."""

    def ask() -> None:
        batch = screen.session.batch(batch_id)
        try:
            (draft,) = screen.session.as_entered(command).decide(batch, screen.session.context(batch_id))
        except Refused as refused:
            screen.say_refused(refused)
            return
        formed = read_event(draft)
        assert isinstance(formed, LoadFormed)
        loaded_pieces = tuple(piece for piece in formed.slots if piece is not None)
        count, waiting = len(loaded_pieces), len(batch.waiting(command.op, command.rework))
        pieces = format_unless_blind(batch, PiecePlace("waiting", op=command.op, rework=command.rework).heap, waiting)
        pieces = pieces if count == waiting or pieces.startswith(HIDDEN_FIGURE) else f"{count} of {pieces}"
        # Another terminal may load before the answer: what is recorded is what the question named, or nothing.
        asked = replace(command, carrier_number=formed.number, pieces=loaded_pieces)
        carrier = batch.checklist.carrier(formed.carrier).label(formed.number)
        question = f"Load {pieces} on {carrier} for op {command.op} {batch.operation(command.op).title}?"
        most = min(waiting, batch.checklist.carrier(formed.carrier).capacity)
        if command.count is not None and count < most and not pieces.startswith(HIDDEN_FIGURE):
            question += (
                f" The plan starts with {count}, as in the earliest finish it found; "
                f"{most} fit (h on the batch loads another number)."
            )

        def answered(yes: bool | None) -> None:
            if yes:
                screen.give(batch_id, asked, loaded)

        hidden = pieces.startswith(HIDDEN_FIGURE)
        seats = None if hidden else lay_out_seats(batch.checklist.carrier(formed.carrier), formed.slots)
        screen.ask(ConfirmDialog(question, does="loaded", places=seats), answered)

    screen.run_signed_in(ask)
