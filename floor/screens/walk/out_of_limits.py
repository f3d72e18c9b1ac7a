"""Asking what becomes of a piece that was measured out of limits, and of those made since the last good check."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import ClassVar, NamedTuple

from textual.content import Content
from textual.widgets import Static

from floor.batch.command import Command, Refused
from floor.batch.corrections.commands import StrikeOut
from floor.batch.gates.check_values import OF_A_PIECE, list_texts
from floor.batch.gates.decide_out_of_limits import (
    DecideBefore,
    DecideOut,
    MeasureAgain,
    SettleOut,
)
from floor.batch.gates.measured_pieces import ValueRead, find_value_to_read_again
from floor.batch.gates.out_of_limits import (
    SuspectPieces,
    describe_each_outside,
    describe_outside,
    find_next_outside,
    find_suspect_of,
    list_second_readings,
    say_open,
)
from floor.batch.gates.second_readings import find_outside_by_piece
from floor.batch.moving.choose import find_pieces_in, list_places_meant
from floor.batch.open_items import OutOfLimits
from floor.batch.quality.tool_age import list_tool_changes
from floor.batch.state import Batch
from floor.checklist.gate_forms import FormField
from floor.checklist.gates import FirstPiece, Measured
from floor.checklist.reason_keys import assign_reason_keys
from floor.screens.batch.lying import lay_out_load, list_drawn
from floor.screens.forms.dialogs import Choice, ChoiceDialog, Drawing, FormDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values, describe_refusal, parse_number
from floor.screens.frame.key_line import TAKE_BACK
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.take_back import NOTHING, list_last_act, take_back
from floor.screens.walk.gate_form import find_fault
from floor.screens.walk.overtaken import describe_decided_since
from floor.screens.widgets.place_map import Places
from floor.text import format_count

AGAIN = ("dirty gauge or piece", "burr under the gauge", "gauge was not at zero")
WRONG = ("typed wrong", "read wrong")
STRUCK = ("typed wrong", "values of another load")
EARLIER, LATER = "made before the cause came up", "made after the cause was gone"
OTHER_TOOL = "made with another tool"


class OutDialog(ChoiceDialog):
    """What becomes of what was read; the key that takes an entry back does so here too, most likely the reading."""

    BINDINGS: ClassVar = [TAKE_BACK]
    HINT = "digit, or ↑ ↓ and Enter    u: take back    Esc: cancel"
    TAKEN_BACK = "take back"

    def __init__(
        self, screen: FloorScreen, batch_id: str, title: str, choices: Sequence[Choice], text: str = ""
    ) -> None:
        super().__init__(title, choices, text, acts=True)
        self.behind, self.batch_id = screen, batch_id

    def action_take_back(self) -> None:
        session = self.behind.session
        try:
            wrong = "" if list_last_act(session.batch(self.batch_id), session.who, session.now()) else NOTHING
        except Refused as refused:  # closed at another terminal meanwhile
            wrong = describe_refusal(refused)
        if wrong:
            self.query_one(".dialog-hint", Static).update(Content(wrong))
        elif self.is_active:
            self.dismiss(self.TAKEN_BACK)

    def put(self, chosen: Callable[[str | None], None]) -> None:
        """Ask, and take back what was entered last if that is the answer."""

        def answered(how: str | None) -> None:
            if how == self.TAKEN_BACK:
                take_back(self.behind, self.batch_id)
            else:
                chosen(how)

        self.behind.ask(self, answered)


def decide_out_of_limits(screen: FloorScreen, batch_id: str, seq: int) -> None:
    """What was read is decided: which piece it was and what becomes of it, then those made before it."""
    batch = screen.session.batch(batch_id)
    one = batch.out[seq]
    run = batch.runs[one.run]
    load = batch.loads[run.load]
    places = bool(batch.checklist.carrier(load.carrier).positions)
    known, decided_before = find_next_outside(one), len(one.decided)
    outside = find_outside_by_piece(one)
    measured_good = [batch.format_slot(load, piece) for piece, wrong in outside.items() if not wrong]
    asked_about: list[str] = []

    def chosen(how: str | None) -> None:
        if how is None:
            return
        if how == "strike":
            _strike_out(screen, batch_id, seq, text)
            return
        if how in ("again", "correct"):
            assert asked is not None, "else it was not offered"
            _read_value(screen, shown, text, asked, corrects=how == "correct")
            return
        title = next(choice.text for choice in choices if choice.key == how)
        hint = "e.g. A1" if places else f"1 to {one.left}"
        label = f"Which place{'s' if one.left > 1 and known is None else ''}" if places else "How many"
        if not places and one.left == 1:
            decide(how.removeprefix("code "), {"which": "1"})
            return
        there = batch.format_slot(load, known) if places and known is not None else ""
        field = FieldSpec("which", label, there, hint=hint, needed=True)

        def attempt(values: Values) -> Errors:
            return decide(how.removeprefix("code "), values)

        drawing = Drawing(draw) if places else None
        screen.ask(FormDialog(title, [field], attempt, text, drawing=drawing), lambda _: after())

    def draw(values: Values) -> list[Places]:
        now = screen.session.batch(batch_id)
        on = now.loads.get(load.number)
        meant = find_pieces_in(now, on, list_places_meant(now, on, values["which"])) if on is not None else ()
        return list_drawn(lay_out_load(now, on, meant, marks="meant"))

    def decide(code: str, values: Values) -> Errors:
        which = list_places_meant(screen.session.batch(batch_id), load, values["which"])
        if not which:
            return {"which": "enter its place" if places else "enter how many"}
        good = [place for place in which if place in measured_good and place not in asked_about]
        if good:  # once: it may be the piece whose value was entered in another's field
            asked_about.extend(good)
            return {"which": f"{', '.join(good)} was measured good. Enter again if its value was mixed up"}
        count = 0 if places else parse_number(values["which"])
        positions = which if places else ()
        command = DecideOut(seq, shown.read, "" if code == "hold" else code, positions, count)  # type: ignore[arg-type]
        if not places and one.left == 1:
            screen.give(batch_id, command, lambda _: after())
            return {}
        return shown.carry_out(screen, command, values["which"])

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
    text, asked = say_open(batch, one), _find_asked(batch, one)
    shown = _Shown(batch_id, seq, batch.seq, asked.read if asked is not None else None)
    which = batch.format_slot(load, known) if places and known is not None else "the piece"
    if known is not None and places:
        text = f"{describe_outside(batch, one, [known])}\nMeasured by {one.by}"
    accepted = _find_accepter(batch, one)
    if asked is not None and accepted not in ("", screen.session.who):
        text += f"\n{accepted} accepted it and corrects a value of it (Ctrl+L: {accepted} signs in)"
        asked = None
    keys = assign_reason_keys(batch.checklist)
    choices = [
        *_list_second_choices(one, asked),
        Choice("hold", "hold: a lead decides"),
        *(
            Choice(f"code {code.code}", f"{code.to}: {code.text}", keys.get(code.code, ""))
            for code in batch.operation(one.op).reasons
        ),
        _offer_strike(one),
    ]
    OutDialog(screen, batch_id, f"Out of limits: what becomes of {which}", choices, text).put(chosen)


def _find_accepter(batch: Batch, one: OutOfLimits) -> str:
    """Who accepted a first piece by this reading, and alone corrects a value of it; empty where anybody may."""
    proof = batch.proofs.get(one.key)
    return str(proof.values["person"]) if isinstance(one.gate, FirstPiece) and proof is not None else ""


def _list_second_choices(one: OutOfLimits, asked: _AskedAgain | None) -> list[Choice]:
    """Measured again or corrected, where it is a single value; a first piece is accepted by all of them together."""
    if asked is None:
        return []
    again = Choice("again", f"measure {asked.whose} again: {asked.name}")
    if asked.ask.kind == "whole":  # how many fail: which of them is a slip nobody can say
        return [again]
    correct = Choice("correct", f"{asked.name} {asked.was} was typed or read wrong: correct it")
    return [again, correct] if isinstance(one.gate, Measured) else [correct]


def _offer_strike(one: OutOfLimits) -> Choice:
    """Said beforehand: all of the reading goes."""
    entered = sum(len(list_texts(one.values, ask.name)) for ask in one.gate.asks() if ask.kind in OF_A_PIECE)
    values = {1: "the value", 2: "both values"}.get(entered, f"all {entered} values")
    return Choice("strike", f"strike out {values} of this reading and enter again")


class _AskedAgain(NamedTuple):
    """The value that a second reading is of."""

    read: ValueRead
    whose: str
    ask: FormField
    was: str
    """What stands on record of it."""

    @property
    def name(self) -> str:
        return self.ask.short or self.ask.label


def _find_asked(batch: Batch, one: OutOfLimits) -> _AskedAgain | None:
    """The value out of limits of the piece to be decided on next; None where no single one is replaced."""
    read = find_value_to_read_again(batch, one)
    if read is None:
        return None
    ask = next(ask for ask in one.gate.asks() if ask.name == read.name)
    load = batch.loads[batch.runs[one.run].load]
    place = batch.format_slot(load, one.pieces[read.nth]) if read.nth < len(one.pieces) else ""
    was = list_texts(batch.proofs[one.key].values, ask.name)[read.nth]
    return _AskedAgain(read, place or "the same piece", ask, was)


class _Shown(NamedTuple):
    """A reading out of limits as it was shown to whoever chose what to do about it."""

    batch_id: str
    seq: int
    opened: int
    """The last entry of its batch then."""
    read: ValueRead | None
    """The value that was next; None where its proof was void."""

    def carry_out(self, screen: FloorScreen, command: Command, typed: str) -> Errors:
        """Carry out what was chosen; where another terminal settled that value meanwhile, what it recorded."""
        try:
            screen.session.do(self.batch_id, command)
        except Refused:
            batch = screen.session.batch(self.batch_id)
            one = batch.out.get(self.seq)
            if one is not None and find_value_to_read_again(batch, one) == self.read:
                raise
            return {"": describe_decided_since(batch, self.opened, self.seq, typed)}
        return {}


def _read_value(screen: FloorScreen, shown: _Shown, text: str, asked: _AskedAgain, *, corrects: bool) -> None:
    """One value measured again, or corrected; the others stay, and what was read first stays on record."""
    batch_id, seq = shown.batch_id, shown.seq
    value = FieldSpec(
        "value",
        f"{asked.name}{', right value' if corrects else ', read now'}",
        hint=asked.ask.answer,
        number=asked.ask.kind in ("number", "whole"),
        unit=asked.ask.unit,
        check=partial(find_fault, asked.ask),
    )
    fields = [value, FieldSpec("why", "Reason", picks=WRONG if corrects else AGAIN)]

    def attempt(values: Values) -> Errors:
        if not values["why"].strip():
            return {"why": "reason required"}
        command = MeasureAgain(seq, asked.read, values["value"], values["why"], corrects=corrects)
        return shown.carry_out(screen, command, values["value"])

    kept = f"Only this value is replaced; all others stay, and {asked.was} stays on record."
    said = f"{text}\n{kept if corrects else 'What was read first stays on record.'}"
    title = f"Correct a value of {asked.whose}" if corrects else f"Measure {asked.whose} again"

    def answered(taken: bool | None) -> None:
        screen.update_all()
        now = screen.session.batch(batch_id)
        newest = now.out.get(seq)
        if not taken or newest is None:
            return
        screen.say(f"On record: {list_second_readings(now, newest)[-1]}", wrong=not newest.again[-1].good)
        if newest.left:
            decide_out_of_limits(screen, batch_id, seq)
        elif newest.asks_before:
            decide_pieces_before(screen, batch_id, seq)

    screen.ask(FormDialog(title, fields, attempt, said, "value"), answered)


def _strike_out(screen: FloorScreen, batch_id: str, seq: int, text: str) -> None:
    """All of the reading, with a reason."""

    def attempt(values: Values) -> Errors:
        if not values["why"].strip():
            return {"why": "reason required"}
        screen.session.do(batch_id, StrikeOut(seq, values["why"]))
        return {}

    def answered(taken: bool | None) -> None:
        if taken:
            screen.say("Struck out, on record")
        screen.update_all()

    said = f"{text}\nAll its values are struck out but stay on record; then enter it again."
    fields = [FieldSpec("why", "Reason", picks=STRUCK)]
    screen.ask(FormDialog("Strike out the reading", fields, attempt, said, "why"), answered)


def decide_pieces_before(screen: FloorScreen, batch_id: str, seq: int) -> None:
    """How many of those made since the last good check may be out too: they go on hold; else a lead says why not."""
    batch = screen.session.batch(batch_id)
    one = batch.out[seq]
    suspect = find_suspect_of(batch, one)
    many = len(suspect.all)
    fields = [
        FieldSpec("hold", "How many may be out too", str(many), hint=f"of {many}; they go on hold", number=True),
        FieldSpec("why", "Why not the others", hint="if fewer: a lead says why", picks=_offer_reasons(batch, one)),
    ]

    def attempt(values: Values) -> Errors:
        held = parse_number(values["hold"])
        screen.session.do(batch_id, DecideBefore(seq, held, values["why"]))  # type: ignore[arg-type]
        return {}

    def draw(values: Values) -> list[Places]:
        """Those that would be held, on the carriers that they are on."""
        held = parse_number(values["hold"])
        meant = suspect.all[: held if isinstance(held, int) and held > 0 else 0]
        now = screen.session.batch(batch_id)
        numbers = sorted({now.places[piece].load for piece in suspect.all if piece in now.places})
        loads = [load for number in numbers if (load := now.loads.get(number)) is not None]
        return list_drawn(*(lay_out_load(now, on, meant, title=now.format_carrier(on), marks="hold") for on in loads))

    text = f"{describe_each_outside(batch, one, all=True)} ({one.by})\n{_say_suspect(batch, suspect)}"
    form = FormDialog("Suspect pieces", fields, attempt, text, "hold", Drawing(draw))
    screen.ask(form, lambda _: screen.update_all())


def _say_suspect(batch: Batch, suspect: SuspectPieces) -> str:
    """How many they are, and their places in the order in which they are held."""
    said = f"{format_count(len(suspect.all), 'piece')} made since the last good check, not measured."
    before, after = ([_name_place(batch, piece) for piece in some] for some in (suspect.before, suspect.after))
    earlier = [_name_elsewhere(batch, piece) for piece in suspect.earlier]
    if not all(before + after):
        return said
    rows = (("Made before what was out", before), ("Made after it, before it was measured", after),
            ("Of earlier loads", earlier))  # fmt: skip
    return "\n".join([said, *(f"{name}: {', '.join(places)}" for name, places in rows if places)])


def _offer_reasons(batch: Batch, one: OutOfLimits) -> tuple[str, ...]:
    """Why pieces are not suspect, as far as it can be so."""
    suspect, run = find_suspect_of(batch, one), batch.runs[one.run]
    theirs = [
        each for each in batch.runs.values() if each.op == run.op and not set(each.pieces).isdisjoint(suspect.all)
    ]
    since = min((each.started_seq for each in theirs), default=one.seq)
    changed = any(each.station == run.station and since < each.seq < one.seq for each in list_tool_changes(batch))
    offered = ((EARLIER, bool(suspect.before or suspect.earlier)), (LATER, bool(suspect.after)), (OTHER_TOOL, changed))
    return tuple(reason for reason, may_be in offered if may_be)


def _name_place(batch: Batch, piece: int) -> str:
    """Its place on its carrier; empty where it has none."""
    load = batch.loads.get(batch.places[piece].load)
    return batch.format_slot(load, piece) if load is not None else ""


def _name_elsewhere(batch: Batch, piece: int) -> str:
    """``load 2 A1``: on a load before this one, or waiting after it."""
    load = batch.loads.get(batch.places[piece].load)
    return f"load {load.number} {batch.format_slot(load, piece)}".rstrip() if load is not None else "1 loose"


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

    OutDialog(screen, batch_id, "Decide (lead)", choices, text).put(chosen)
