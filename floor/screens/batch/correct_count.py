"""Correcting a count, or pieces set aside: which of the scrap was none. They come back on hold."""

from __future__ import annotations

from floor.batch.command import Refused
from floor.batch.counting.correct_count import CorrectCount
from floor.batch.describe import describe
from floor.entry import Entry
from floor.screens.forms.fields import FieldSpec, Values, parse_number
from floor.screens.frame.screen import FloorScreen
from floor.text import format_count

TO_HOLD = "They come back on hold: a lead looks at them and decides (d). What was entered first stays on record."


def ask_right_count(screen: FloorScreen, batch_id: str, seq: int) -> None:
    """Ask which pieces that this entry scrapped were good after all, where somebody may bring them back."""
    batch = screen.session.batch(batch_id)
    try:
        there = CorrectCount(seq, ()).allowed(batch, screen.session.context(batch_id))
    except Refused as refused:
        screen.say_refused(refused)
        return
    load = batch.loads.get(batch.places[there[0]].load)
    names = {batch.format_slot(load, piece): piece for piece in there} if load is not None else {}
    in_places, alone = "" not in names and len(names) == len(there), len(there) == 1
    what, hint = ("places", " ".join(names)) if in_places else ("how many", f"1 to {len(there)}")
    only = (next(iter(names)) if in_places else "1") if alone else ""
    fields = [
        FieldSpec("which", f"Good after all: {what}", only, hint, number=not in_places, needed=True, known=alone),
        FieldSpec("why", "Reason", picks=("counted wrong", "found again"), needed=True),
    ]

    def make(given: Values) -> CorrectCount:
        return CorrectCount(seq, choose(given["which"]), given["why"])

    def choose(which: str) -> tuple[int, ...]:
        """The pieces meant; where none can be told from another, so many of them."""
        if in_places:
            return tuple(names.get(name, 0) for name in which.upper().replace(",", " ").split())
        many = parse_number(which)
        return there[: int(many)] if isinstance(many, int) and 0 < many <= len(there) else (0,)

    def say_made(made: list[Entry]) -> None:
        many = format_count(len(made[0].body["pieces"]), "piece")
        screen.say(f"{many} back on hold, to be decided on (d)")

    text = f"{describe(batch, batch.entries[seq - 1])}\n{TO_HOLD}"
    screen.ask_and_give(batch_id, f"Correct the count of entry {seq}", fields, make, say_made, text, "which")
