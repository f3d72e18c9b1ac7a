"""Asking for the right lot in the place of one that was recorded wrong."""

from __future__ import annotations

from floor.batch.command import Refused
from floor.batch.corrections.unproved_work import say_run
from floor.batch.describe import describe
from floor.batch.gates.correct_lot import CorrectLot
from floor.batch.gates.fold_lots import read_lot_of_entry
from floor.batch.gates.open_lot import list_runs_of_lot
from floor.entry import Entry
from floor.screens.forms.fields import FieldSpec, Values
from floor.screens.frame.screen import FloorScreen
from floor.text import capitalize_first, cut

SHOWN = 6
"""Runs named before the rest is only counted."""


def ask_right_lot(screen: FloorScreen, batch_id: str, seq: int) -> None:
    """Which lot it was, and its date where the gate asks for one; refused first where this person may not say."""
    batch = screen.session.batch(batch_id)
    try:
        entry, gate = CorrectLot(seq, "").allowed(batch, screen.session.context(batch_id))
    except Refused as refused:
        screen.say_refused(refused)
        return
    runs = list_runs_of_lot(batch, entry)
    text = f"{describe(batch, entry)}\nWhat was entered first stays on record."
    if runs:
        text += "\n\nThe right lot then applies to:\n" + "\n".join(cut(say_run(batch, run), 62) for run in runs[:SHOWN])
        text += f"\n(and {len(runs) - SHOWN} more)" if len(runs) > SHOWN else ""
    fields = [FieldSpec("lot", "Right lot number", needed=True)]
    if gate.asks_date:
        fields.append(FieldSpec("use_by", capitalize_first(gate.until), hint="YYYY-MM-DD", needed=True))
    fields.append(FieldSpec("why", "Reason", needed=True))

    def make(given: Values) -> CorrectLot:
        return CorrectLot(seq, given["lot"], given.get("use_by", ""), given["why"])

    def say_made(made: list[Entry]) -> None:
        now = read_lot_of_entry(entry, screen.session.batch(batch_id).corrected_lots.get(seq))
        assert now is not None, "its gate asked for one"
        screen.say(f"{capitalize_first(gate.what)}: lot {now[0]}, corrected in entry {made[-1].seq}")

    screen.ask_and_give(
        batch_id,
        f"Correct the lot of entry {seq}",
        fields,
        make,
        say_made,
        text,
        "lot",
    )
