"""Asking for the lot of a new bottle, can, coil or bar, and which loads under way it goes into."""

from __future__ import annotations

from floor.batch.command import Refused
from floor.batch.gates.open_lot import OpenLot, list_lot_gates, list_uncounted_runs, read_use_by, uses_lot
from floor.batch.run import Run
from floor.screens.forms.dialogs import Choice, ChoiceDialog, FormDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values
from floor.screens.frame.screen import FloorScreen
from floor.text import capitalize_first

NEW_LOT_TITLE = "A new bottle, can, coil, bar or gauge: of what?"


def ask_new_lot(screen: FloorScreen, batch_id: str, run: Run | None = None) -> None:
    """Which material or gauge is new; then its lot, its date and the loads it goes into.

    Args:
        run: on its walk, what its operation uses comes first; then what is in use elsewhere.
    """
    batch = screen.session.batch(batch_id)
    gates = sorted(
        list_lot_gates(batch.checklist),
        key=lambda what: (run is None or not uses_lot(batch, run, what), not list_uncounted_runs(batch, what)),
    )
    if not gates:
        screen.say("The checklist records no lot", wrong=True)
        return
    choices = [Choice(what, f"{what}: {batch.lots[what].lot if what in batch.lots else 'none yet'}") for what in gates]
    screen.ask(ChoiceDialog(NEW_LOT_TITLE, choices), lambda what: _ask(screen, batch_id, what) if what else None)


def _ask(screen: FloorScreen, batch_id: str, what: str) -> None:
    batch = screen.session.batch(batch_id)
    gate, loads = list_lot_gates(batch.checklist)[what], [run.load for run in list_uncounted_runs(batch, what)]

    def find_date_fault(typed: str) -> str:
        if gate.serial and not typed.strip():
            return ""  # the register may know it
        try:
            read_use_by(gate, typed, screen.session.now().at.date())
        except Refused as refused:
            return str(refused)
        return ""

    fields = [FieldSpec("lot", "Serial number" if gate.serial else "Lot number", needed=True)]
    if gate.asks_date:
        fields.append(FieldSpec("use_by", capitalize_first(gate.until), hint="YYYY-MM-DD", check=find_date_fault))
    if loads:
        here = " ".join(map(str, loads))
        fields.append(FieldSpec("into", "Goes into loads", here, hint="under way; the others keep theirs"))

    def attempt(values: Values) -> Errors:
        into = values.get("into", "").replace(",", " ").split()
        if not all(one.isdecimal() for one in into):
            return {"into": "enter the load numbers"}
        screen.session.do(batch_id, OpenLot(what, values["lot"], values.get("use_by", ""), tuple(map(int, into))))
        return {}

    old = batch.lots.get(what)
    text = f"Until now: {old.lot}. Loads that are past it keep it." if old else ""

    def answered(taken: bool | None) -> None:
        screen.update_all()
        if taken:
            screen.say(f"{what}: from now on {screen.session.batch(batch_id).lots[what].lot}")

    screen.ask(FormDialog(f"New: {what}", fields, attempt, text, "lot"), answered)
