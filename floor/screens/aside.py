"""Setting pieces aside between counts: which, as what, and why."""

from __future__ import annotations

from floor.batch.commands.opening import SetAside
from floor.batch.said import plural
from floor.screens.base import FloorScreen
from floor.screens.dialogs import Field
from floor.screens.fields import Entry, Errors, Values, whole_number

PICKS = ("not found", "dropped", "damaged in handling", "doubtful")
AS = ("hold", "scrap")


def set_aside(screen: FloorScreen, batch_id: str, load: int | None, op: int | None = None) -> None:
    """Ask which pieces of a load, or of those waiting for an operation, leave the work."""
    batch = screen.desk.batch(batch_id)
    on = batch.loads[load] if load is not None else None
    places = bool(on and batch.checklist.carrier(on.carrier).positions)
    there = len(batch.present(on)) if on else len(batch.waiting(op or 0))
    fields = [
        Field("which", "Places" if places else "How many", hint="like A1 B3" if places else f"1 to {there}"),
        Field("to", "hold or scrap", "hold", hint="on hold a lead decides"),
        Field("why", "Reason", picks=PICKS),
    ]
    done = {"as": ""}

    def attempt(values: Values) -> Errors:
        to = [one for one in AS if values["to"].strip() and one.startswith(values["to"].strip().casefold())]
        wrong = {"to": "write hold or scrap"} if not to else {}
        if not values["which"].strip():
            wrong["which"] = "say which places" if places else "say how many"
        if not values["why"].strip():
            wrong["why"] = "say why; it goes on record"
        if wrong:
            return wrong
        positions = tuple(values["which"].upper().replace(",", " ").split()) if places else ()
        count = None if places else whole_number(values["which"])
        screen.desk.do(batch_id, SetAside(to[0], values["why"], load=load, op=op, positions=positions, count=count))  # type: ignore[arg-type]
        done["as"] = to[0]
        return {}

    def answered(taken: bool | None) -> None:
        screen.update_all()
        if taken:
            screen.say(f"Set aside as {done['as']}")

    where = batch.carrier_name(on) if on else f"waiting for op {op}"
    screen.ask(Entry("Set pieces aside", fields, attempt, f"{plural(there, 'piece')} · {where}"), answered)
