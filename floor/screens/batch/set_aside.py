"""Setting pieces aside between counts: which, as what, and why."""

from __future__ import annotations

from collections.abc import Sequence

from floor.batch.counting.blind_count import find_blind_subjects, format_unless_blind
from floor.batch.counting.commands import TakeOff
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.load import Load, PiecePlace
from floor.batch.moving.choose import find_pieces_in, list_places_meant
from floor.batch.state import Batch
from floor.batch.trials.pieces import say_used_as_tests
from floor.entry import Entry
from floor.screens.batch.lying import lay_out_load, list_drawn
from floor.screens.batch.scrap import ask_scrap
from floor.screens.forms.dialogs import Drawing, FormDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values, parse_number
from floor.screens.frame.screen import FloorScreen
from floor.screens.widgets.place_map import Places

PICKS = ("not found", "dropped", "damaged in handling", "suspect")
AS = ("hold", "scrap")


def choose_set_aside(
    screen: FloorScreen, batch_id: str, load: int | None, op: int | None = None, rework: str = ""
) -> None:
    """Ask which pieces of a load, of those waiting for an operation, or of the finished ones leave the work.

    Args:
        rework: the way that those waiting are on.
    """
    batch = screen.session.batch(batch_id)
    on = batch.loads[load] if load is not None else None
    places = bool(on and batch.checklist.carrier(on.carrier).positions)
    loose = batch.waiting(op, rework) if op is not None else batch.list_finished()
    there = batch.present(on) if on else loose
    heap = (PiecePlace("waiting", op=op or 0, rework=rework) if load is None else PiecePlace("load", load=load)).heap
    blind = heap in find_blind_subjects(batch)
    fields = [
        FieldSpec("which", "Places", hint="e.g. A1 B3, or 12-15")
        if places
        else FieldSpec("which", "How many", hint="" if blind else f"1 to {len(there)}", number=True),
        FieldSpec("to", "hold or scrap", "hold", hint="held: a lead decides"),
        FieldSpec("why", "Reason", picks=PICKS),
    ]
    fast = batch.may_stay_in_place(load, "hold")
    if fast:
        fields.append(FieldSpec("off", "Off the carrier?", "no", hint="yes: taken off or fallen"))
    sitting = {batch.format_slot(on, piece): piece for piece in batch.sitting(on)} if on else {}
    done = {"said": ""}
    made: list[Entry] = []

    def attempt(values: Values) -> Errors:
        positions = list_places_meant(screen.session.batch(batch_id), on, values["which"]) if on and places else ()
        off = values.get("off", "no").strip().casefold()
        if not off or not ("yes".startswith(off) or "no".startswith(off)):
            return {"off": "enter yes or no"}
        if positions and all(position in sitting for position in positions):
            return take_off(positions, off)
        to = [one for one in AS if values["to"].strip() and one.startswith(values["to"].strip().casefold())]
        wrong = {"to": "enter hold or scrap"} if not to else {}
        if not values["which"].strip():
            wrong["which"] = "enter which places" if places else "enter how many"
        if not values["why"].strip():
            wrong["why"] = "reason required"
        if wrong:
            return wrong
        count = None if places else parse_number(values["which"])
        gone = "yes".startswith(off)
        command = SetPiecesAside(to[0], values["why"], load, op, positions, count, rework, off=gone)  # type: ignore[arg-type]
        made.extend(screen.session.do(batch_id, command))
        done["said"] = f"Set aside as {to[0]}" + (", still on the carrier" if fast and off[0] == "n" else "")
        return {}

    def take_off(positions: tuple[str, ...], off: str) -> Errors:
        """These were set aside before, and sat on the carrier until now."""
        if not "yes".startswith(off):
            return {"off": "already set aside: yes if they were taken off the carrier"}
        screen.session.do(batch_id, TakeOff(tuple(sitting[position] for position in positions)))
        done["said"] = f"Taken off the carrier: {' '.join(positions)}"
        return {}

    def answered(taken: bool | None) -> None:
        screen.update_all()
        if taken:
            screen.say(done["said"])
            ask_scrap(screen, batch_id, made)

    def draw(given: Values) -> list[Places]:
        now = screen.session.batch(batch_id)
        here = now.loads.get(load or 0)
        meant = find_pieces_in(now, here, list_places_meant(now, here, given["which"])) if here is not None else ()
        return list_drawn(lay_out_load(now, here, meant, marks="chosen"))

    lies = f"waiting for op {op}" + (", rework" if rework else "") if op is not None else "finished"
    text = _describe_there(batch, on, there, heap, lies)
    drawing = Drawing(draw) if places else None
    screen.ask(FormDialog("Set pieces aside", fields, attempt, text, "which", drawing), answered)


def _describe_there(batch: Batch, on: Load | None, pieces: Sequence[int], heap: str, lies: str) -> str:
    """How many pieces there are to choose from, and where; of what is to be counted blind no figure.

    Args:
        lies: where they are on no carrier.
    """
    where = batch.format_carrier(on) if on else lies
    sitting = batch.format_sitting_pieces(on) if on and heap not in find_blind_subjects(batch) else ""
    first = " · ".join(filter(None, (format_unless_blind(batch, heap, len(pieces)), where, sitting)))
    return "\n".join(filter(None, (first, say_used_as_tests(batch, pieces))))
