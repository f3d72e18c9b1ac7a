"""Asking what becomes of a piece that was measured out of limits, and of those made since the last good check."""

from __future__ import annotations

from floor.batch.corrections.commands import StrikeOut
from floor.batch.gates.check_values import format_values_outside
from floor.batch.gates.decide_out_of_limits import (
    DecideBefore,
    DecideOut,
    MeasureAgain,
    SettleOut,
    find_doubtful_pieces,
)
from floor.batch.gates.measured_pieces import find_outside_by_piece, find_value_to_read_again
from floor.batch.gates.out_of_limits import describe_outside, find_next_outside, say_open
from floor.batch.state import Batch
from floor.checklist.gates import FirstPiece, Measured
from floor.checklist.reason_keys import assign_reason_keys
from floor.screens.forms.dialogs import Choice, ChoiceDialog, FormDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values, parse_number
from floor.screens.frame.screen import FloorScreen
from floor.text import format_count

AGAIN = ("dirty gauge or piece", "burr under the gauge", "gauge was not at zero")
AGAIN_CHOICE = Choice("again", "measure the same piece again, with a reason")
WRONG = ("typed wrong", "value of another piece")
WHY_NOT = ("made before the cause came up", "made with another tool")


def decide_out_of_limits(screen: FloorScreen, batch_id: str, seq: int) -> None:
    """What was read is decided: which piece it was and what becomes of it, then those made before it."""
    batch = screen.session.batch(batch_id)
    one = batch.out[seq]
    run = batch.runs[one.run]
    load = batch.loads[run.load]
    places = bool(batch.checklist.carrier(load.carrier).positions)
    known, decided_before = find_next_outside(one), len(one.decided)
    outside = find_outside_by_piece(one.gate, one.values, one.pieces)
    measured_good = [batch.format_slot(load, piece) for piece, wrong in outside.items() if not wrong]
    asked_about: list[str] = []

    def chosen(how: str | None) -> None:
        if how is None:
            return
        if how in ("again", "strike"):
            _ask(screen, batch_id, how, seq, text)
            return
        title = next(choice.text for choice in choices if choice.key == how)
        hint = "e.g. A1" if places else f"1 to {one.left}"
        label = f"Which place{'s' if one.left > 1 else ''}" if places else "How many"
        if not places and one.left == 1:
            decide(how.removeprefix("code "), {"which": "1"})
            return
        there = batch.format_slot(load, known) if places and known is not None else ""
        field = FieldSpec("which", label, there, hint=hint, needed=True)

        def attempt(values: Values) -> Errors:
            return decide(how.removeprefix("code "), values)

        screen.ask(FormDialog(title, [field], attempt, text), lambda _: after())

    def decide(code: str, values: Values) -> Errors:
        which = values["which"].upper().replace(",", " ").split()
        if not which:
            return {"which": "enter its place" if places else "enter how many"}
        good = [place for place in which if place in measured_good and place not in asked_about]
        if good:  # once: it may be the piece whose value was entered in another's field
            asked_about.extend(good)
            return {"which": f"{', '.join(good)} was measured good. Enter again if its value was mixed up"}
        count = 0 if places else parse_number(values["which"])
        command = DecideOut(seq, "" if code == "hold" else code, tuple(which) if places else (), count)  # type: ignore[arg-type]
        if not places and one.left == 1:
            screen.give(batch_id, command, lambda _: after())
        else:
            screen.session.do(batch_id, command)
        return {}

    def after() -> None:
        screen.update_all()
        now = screen.session.batch(batch_id).out.get(seq)
        decided = now is not None and len(now.decided) > decided_before
        if decided:
            screen.say("Decided, on record")
        if now is not None and not now.left and now.asks_before:
            decide_pieces_before(screen, batch_id, seq)
        elif now is not None and decided and now.left:  # one piece after the other
            decide_out_of_limits(screen, batch_id, seq)

    if not one.gate.of_piece:
        _settle(screen, batch_id, seq)
        return
    if not one.left:
        decide_pieces_before(screen, batch_id, seq)
        return
    text = say_open(batch, one)
    keys = assign_reason_keys(batch.checklist)
    again = [] if isinstance(one.gate, FirstPiece) else [AGAIN_CHOICE]
    choices = [
        *again,
        Choice("strike", "a value was typed or read wrong: strike it out"),
        Choice("hold", "hold: a lead decides"),
        *(
            Choice(f"code {code.code}", f"{code.to}: {code.text}", keys.get(code.code, ""))
            for code in batch.operation(one.op).reasons
        ),
    ]
    which = batch.format_slot(load, known) if places and known is not None else "the piece"
    text = f"{describe_outside(batch, one, [known])} ({one.by})" if which != "the piece" and known else text
    screen.ask(ChoiceDialog(f"Out of limits: what becomes of {which}", choices, text, acts=True), chosen)


def _ask(screen: FloorScreen, batch_id: str, how: str, seq: int, text: str) -> None:
    """Measured again, or struck out: both take a reason, and what was read first stays on record."""
    again = how == "again"
    fields = [FieldSpec("value", _name_value(screen.session.batch(batch_id), seq))] if again else []
    fields += [FieldSpec("why", "Reason", picks=AGAIN if again else WRONG)]

    def attempt(values: Values) -> Errors:
        if again and not values["value"].strip():
            return {"value": "enter what you read"}
        if not values["why"].strip():
            return {"why": "reason required"}
        screen.session.do(
            batch_id, MeasureAgain(seq, values["value"], values["why"]) if again else StrikeOut(seq, values["why"])
        )
        return {}

    title = "Measure the same piece again" if again else "Strike the value out"
    dialog = FormDialog(title, fields, attempt, f"{text}\nWhat was read first stays on record.", fields[0].name)

    def answered(taken: bool | None) -> None:
        if taken and again:
            newest = screen.session.batch(batch_id).out.get(seq)
            if newest is not None:
                screen.say(f"On record: {newest.again[-1]}", wrong=bool(newest.left))
        elif taken:
            screen.say("Struck out, on record")
        screen.update_all()

    screen.ask(dialog, answered)


def _name_value(batch: Batch, seq: int) -> str:
    """``Read now: width``; which value it is, where a piece has several."""
    one = batch.out.get(seq)
    proof = batch.proofs.get(one.key) if one is not None else None
    if one is None or not isinstance(one.gate, Measured) or not one.gate.characteristics or proof is None:
        return "Read now"
    outside = find_value_to_read_again(one, one.gate, proof.values)
    return f"Read now: {outside.ask.short}" if outside is not None else "Read now"


def decide_pieces_before(screen: FloorScreen, batch_id: str, seq: int) -> None:
    """How many of those made since the last good check may be out too: they go on hold; else a lead says why not."""
    batch = screen.session.batch(batch_id)
    one = batch.out[seq]
    doubted = find_doubtful_pieces(batch, batch.runs[one.run], one)
    many = len(doubted)
    fields = [
        FieldSpec("hold", "How many may be out too", str(many), hint=f"of {many}; they go on hold", number=True),
        FieldSpec("why", "Why not the others", hint="if fewer: a lead says why", picks=WHY_NOT),
    ]

    def attempt(values: Values) -> Errors:
        held = parse_number(values["hold"])
        screen.session.do(batch_id, DecideBefore(seq, held, values["why"]))  # type: ignore[arg-type]
        return {}

    read = format_values_outside(one)
    places = [place for piece in doubted if (place := _name_place(batch, piece))]
    order = f"\nHeld in this order: {' '.join(places)}" if len(places) == many else ""
    text = f"{read} ({one.by})\n{format_count(many, 'piece')} made since the last good check, not measured.{order}"
    screen.ask(FormDialog("Suspect pieces", fields, attempt, text, "hold"), lambda _: screen.update_all())


def _name_place(batch: Batch, piece: int) -> str:
    """Its place on its carrier, with the load where it is on none of its own; empty where it has none."""
    load = batch.loads.get(batch.places[piece].load)
    return batch.format_slot(load, piece) if load is not None else ""


def _settle(screen: FloorScreen, batch_id: str, seq: int) -> None:
    """A reading of the station is a lead's matter: all that was in it is held, or used as it is."""
    text = say_open(screen.session.batch(batch_id), screen.session.batch(batch_id).out[seq])
    choices = [Choice("hold", "hold all that was in it"), Choice("use as is", "use the pieces as is")]

    def chosen(how: str | None) -> None:
        if how is None:
            return

        def attempt(values: Values) -> Errors:
            screen.session.do(batch_id, SettleOut(seq, how, values["why"]))  # type: ignore[arg-type]
            return {}

        title = next(choice.text for choice in choices if choice.key == how)
        screen.ask(FormDialog(title, [FieldSpec("why", "Reason")], attempt, text), lambda _: screen.update_all())

    screen.ask(ChoiceDialog("Decide (lead)", choices, text, acts=True), chosen)
