"""Setting pieces aside between counts: which, as what, and why."""

from __future__ import annotations

from floor.batch.commands.opening import SetAside
from floor.batch.said import plural
from floor.screens.base import FloorScreen
from floor.screens.dialogs import Field, Form

PICKS = ("not found", "dropped", "damaged in handling", "doubtful")


def set_aside(screen: FloorScreen, batch_id: str, load: int | None, op: int | None = None) -> None:
    """Ask which pieces of a load, or of those waiting for an operation, leave the work."""
    batch = screen.desk.batch(batch_id)
    on = batch.loads[load] if load is not None else None
    places = bool(on and batch.checklist.carrier(on.carrier).positions)
    there = len(batch.present(on)) if on else len(batch.waiting(op or 0))
    which = Field("which", "Places, like A1 B3" if places else "How many")
    fields = [which, Field("to", "scrap or hold", "hold"), Field("why", "Reason", picks=PICKS)]

    def answered(given: dict[str, str] | None) -> None:
        if given is None:
            return
        positions = tuple(given["which"].upper().replace(",", " ").split()) if places else ()
        count = None if places else int(given["which"]) if given["which"].strip().isdecimal() else 0
        to = "scrap" if given["to"].strip().casefold().startswith("s") else "hold"
        command = SetAside(to, given["why"], load=load, op=op, positions=positions, count=count)
        screen.give(batch_id, command, lambda _: screen.say(f"Set aside as {to}"))

    where = batch.carrier_name(on) if on else f"waiting for op {op}"
    screen.ask(Form("Set pieces aside", fields, f"{plural(there, 'piece')} · {where}"), answered)
