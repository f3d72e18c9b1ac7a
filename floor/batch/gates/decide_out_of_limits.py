"""Decisions on pieces measured out of limits, and on all pieces in a station that was."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from floor.batch import events
from floor.batch.command import (
    Context,
    Refused,
    format_pieces,
    leave_some_in_the_cycle,
    refuse_closed_batch,
    refuse_counted_loads,
    require_reason,
    require_whole_number,
)
from floor.batch.counting.commands import mark_of
from floor.batch.events import make_drafts
from floor.batch.gates.check_values import find_values_outside, format_values_outside, list_texts
from floor.batch.gates.entered_values import find_digits_shown, read_value
from floor.batch.gates.measured_pieces import ValueRead, find_value_to_read_again, find_values_meant
from floor.batch.gates.out_of_limits import (
    OUT_OF_QUESTION,
    describe_each_outside,
    describe_outside,
    find_suspect_of,
    stays_on_carrier,
)
from floor.batch.load import LOST
from floor.batch.open_items import OutOfLimits
from floor.batch.proof import Proof
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.gate_forms import FormField
from floor.checklist.gates import FirstPiece, Measured
from floor.dataclass import dataclass
from floor.entry import Draft
from floor.text import format_count, sanitize

HELD = "out of limits"
"""The reason of a piece held for being out of limits if the operation has no code for that."""
DOUBTED = "may be out of limits"


@dataclass(frozen=True, slots=True)
class DecideOut:
    """Name the pieces that were out of limits and disposition them: by a reason of the operation, or on hold."""

    out: int
    """The entry that read it."""
    of: ValueRead | None
    """The value that was next as whoever gives this saw it; None where the record names none."""
    reason: str = ""
    """Code of a reason of the operation; empty for on hold."""
    positions: tuple[str, ...] = ()
    count: int = 0
    """If pieces ride loose: how many."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        one, run = _the_out(batch, self.out)
        if not one.left:
            raise Refused("not now", "every piece that was out is already decided", "to change it, strike that out")
        _refuse_if_overtaken(self.of, batch, one)  # a piece corrected meanwhile would take the fault of the next one
        pieces = self._named(batch, run, one)
        said = f"{describe_outside(batch, one, find_values_meant(one, pieces))} ({one.by})"
        stay = [piece for piece in pieces if piece in run.pieces] if stays_on_carrier(batch, run, one) else []
        mark = self._mark(batch, run, stay, said)
        where = format_pieces(batch, batch.loads[run.load], pieces)
        told = events.OutDecided(
            out=one.seq,
            run=run.number,
            op=run.op,
            to=mark.to,
            where=where,
            pieces=tuple(pieces),
            reason=mark.reason,
            note=said,
        )
        # Out of a trial, or of stopped ones, a piece may come back: it goes where it was decided to go.
        away = [piece for piece in pieces if batch.places[piece].where not in ("hold", *LOST) and piece not in stay]
        if not (stay or away):  # set aside before they were named
            return make_drafts(replace(told, to=batch.places[pieces[0]].where, reason=said, note=""))
        if not away:
            return make_drafts(replace(told, mark=mark))
        if mark.to == "rework":
            remedy = "put it on hold; a lead sends it to rework"
            raise Refused("not now", "a piece goes to rework only at a count", remedy)
        aside = _set_aside(batch, away, mark.to, f"{mark.reason}: {said}")
        return [*make_drafts(replace(told, mark=mark) if stay else told), *aside]

    def _mark(self, batch: Batch, run: Run, pieces: list[int], said: str) -> events.Mark:
        """What the count will say of the pieces that stay on the carrier until then."""
        if not self.reason:
            return events.Mark(to="hold", reason=HELD, pieces=tuple(pieces), note=said)
        code = batch.find_operation(run).reason(self.reason)
        if code is None:
            known = ", ".join(known.code for known in batch.find_operation(run).reasons)
            wrong = f'"{sanitize(self.reason, 24)}" is not a reason at op {run.op}'
            raise Refused("unknown", wrong, f"one of: {known}")
        return mark_of(batch, run, code, pieces, said)

    def _named(self, batch: Batch, run: Run, one: OutOfLimits) -> list[int]:
        """The pieces at these places or, if they ride loose, the last ones not named yet."""
        load = batch.loads[run.load]
        free = [piece for piece in load.pieces if piece in one.among - one.named - run.decided.keys()]
        if self.positions:
            if len(set(self.positions)) < len(self.positions):
                raise Refused("input", "a place is named twice", "name each place once")
            by_place = {batch.format_slot(load, piece): piece for piece in free}
            missing = [position for position in self.positions if position not in by_place]
            if missing:
                wrong = f"it cannot be the piece in {', '.join(missing)}"
                raise Refused("unknown", wrong, "name a place on this load that is not decided yet")
            pieces = [by_place[position] for position in self.positions]
        else:
            if batch.checklist.carrier(load.carrier).positions:
                raise Refused("input", "no place named", "enter its place, e.g. A1")
            pieces = free[-require_whole_number(self.count, "the pieces", 1) :]
        if not pieces or len(pieces) > one.left:
            raise Refused(
                "count", f"{format_count(one.left, 'piece')} out of limits, {len(pieces)} named", "name that many"
            )
        return pieces


@dataclass(frozen=True, slots=True)
class DecideBefore:
    """Hold the pieces made since the last good check that may be out too; fewer than all needs a lead's reason."""

    out: int
    hold: int
    """How many, the last made first."""
    why_not: str = ""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        one, run = _the_out(batch, self.out)
        if one.left:
            raise Refused("not now", "the piece that was out is not named", "name it first")
        if not one.asks_before:
            raise Refused("not now", "those made before it are already decided", "look at the history")
        doubted = find_suspect_of(batch, one).all
        hold = require_whole_number(self.hold, "the pieces that may be out too", 0, len(doubted))
        why = ""
        if hold < len(doubted):
            pieces = format_count(len(doubted) - hold, "piece")
            context.need_lead(f"leaving in process {pieces} made since the last good check")
            why = require_reason(self.why_not, "leaving them in process")
        elif doubted and self.why_not.strip():  # one of the two is a slip
            wrong = f"all {len(doubted)} would be held, and a reason says why not"
            raise Refused("input", wrong, "enter how many to hold, 0 if none, or clear the reason", field="hold")
        made = f"made since the last good check before {describe_each_outside(batch, one, all=True)}"
        stay = [piece for piece in doubted[:hold] if piece in run.pieces and stays_on_carrier(batch, run, one)]
        mark = events.Mark(to="hold", reason=DOUBTED, pieces=tuple(stay), note=made) if stay else None
        away = [piece for piece in doubted[:hold] if piece not in stay]
        told = make_drafts(
            events.BeforeDecided(
                out=one.seq, run=run.number, op=run.op, hold=hold, of=len(doubted), reason=why, mark=mark
            )
        )
        return [*told, *(_set_aside(batch, away, "hold", f"{DOUBTED}: {made}") if away else [])]


@dataclass(frozen=True, slots=True)
class MeasureAgain:
    """Measure the same piece again because the measurement was at fault, or correct a value that was typed wrong.

    It is about one value of the piece that is to be decided on next, named as whoever gives it saw it: another terminal
    may have settled that one meanwhile. All others stay as they are, and the first reading stays in sight. Anybody may
    do so once for each value; a further time it takes a lead, so that nobody measures, or types, until it fits (shop
    decision). A value of a first piece is corrected by who accepted the piece by it.
    """

    out: int
    of: ValueRead
    """The value, as it stood before whoever gives this."""
    value: object
    why: str
    corrects: bool = False
    """Whether the value was typed wrong; else the piece was measured again."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        one, run = _the_out(batch, self.out)
        proof = self._require_as_shown(batch, one, run)
        gate = dict(batch.find_operation(run).numbered_steps)[one.line]
        assert isinstance(gate, Measured | FirstPiece)
        nth, name, _ = self.of
        ask = next(ask for ask in gate.asks() if ask.name == name)
        again = any((each.nth, each.name) == (nth, name) for each in one.again)
        if isinstance(gate, FirstPiece):
            self._refuse_for_a_first_piece(str(proof.values["person"]), again, context)
        doing = "correcting a value" if self.corrects else "measuring the same piece again"
        why = require_reason(self.why, doing)
        if self.corrects and isinstance(gate, Measured) and gate.accept:
            raise Refused("not now", "a count of pieces cannot be corrected on its own", "strike out the reading")
        if again:
            context.need_lead("correcting a value twice" if self.corrects else "measuring the same piece a third time")
        value = _value(ask, self.value)
        shown = find_digits_shown(self.value, value)
        return make_drafts(
            events.MeasuredAgain(
                out=one.seq,
                run=run.number,
                op=run.op,
                line=one.line,
                value=value,
                reason=why,
                good=not find_values_outside((ask,), {ask.name: value}),
                shown=shown,
                name=ask.name,
                nth=nth,
                was=list_texts(proof.values, ask.name)[nth],
                corrects=self.corrects,
            )
        )

    def _require_as_shown(self, batch: Batch, one: OutOfLimits, run: Run) -> Proof:
        """The proof that the value is of, if that is still the next and reads as it did."""
        if not one.gate.of_piece or not one.left:
            raise Refused("not now", "that reading is already decided", "look at the history")
        proof = batch.proofs.get(one.key)
        if proof is None or run.released is not None:
            raise Refused("not now", "the load has gone on or the proof is void", "decide what becomes of the piece")
        _refuse_if_overtaken(self.of, batch, one)
        return proof

    def _refuse_for_a_first_piece(self, accepted: str, again: bool, context: Context) -> None:
        """
        Args:
            accepted: who accepted it, and answers for each of its values.
            again: whether the value was corrected before.
        """
        anew = "strike out the reading, then enter it again"
        if not self.corrects:
            wrong = "a first piece is accepted by all its values together"
            raise Refused("not now", wrong, "strike out the reading, then enter them again")
        if accepted != context.by.initials:
            wrong = f"{accepted} accepted the first piece by this value"
            raise Refused("authority", wrong, f"{accepted} corrects it; or {anew}", signs=accepted)
        if again and not context.by.lead:  # nor may a lead, who did not accept it
            raise Refused("authority", "correcting a value twice needs a lead", anew, signs="")


def _refuse_if_overtaken(of: ValueRead | None, batch: Batch, one: OutOfLimits) -> None:
    """Refuse what was meant for a value that is not the next any more, or reads otherwise."""
    if of != find_value_to_read_again(batch, one):
        wrong = f"{of.reads if of is not None else 'that'} is no longer the value to decide on"
        raise Refused("not now", wrong, "look at what was recorded meanwhile, then decide on what stands")


def _value(ask: FormField, given: object) -> str | float | int:
    value = read_value(ask._replace(name="value"), given)  # as the form of this decision calls it
    assert value is not None, "each value of a piece is asked for"
    return value


@dataclass(frozen=True, slots=True)
class SettleOut:
    """A lead decides on pieces that were in a station read out of limits: held, or used as is."""

    out: int
    how: Literal["hold", "use as is"]
    why: str

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        one, run = _the_out(batch, self.out)
        if one.gate.of_piece or one.settled:
            raise Refused("unknown", "there is nothing to decide about that", "choose one from the list")
        context.need_lead("deciding on a station reading out of limits")
        if self.how not in ("hold", "use as is"):
            raise Refused("input", f'"{sanitize(str(self.how), 20)}" is not a decision', "one of: hold, use as is")
        why = require_reason(self.why, "this decision")
        told = make_drafts(events.OutSettled(out=one.seq, run=run.number, op=run.op, how=self.how, reason=why))
        there = [piece for piece in sorted(one.among) if batch.places[piece].where not in OUT_OF_QUESTION]
        if self.how == "use as is" or not there:
            return told
        return [*told, *_set_aside(batch, there, "hold", f"{format_values_outside(one)}: {why}")]


def _the_out(batch: Batch, seq: int) -> tuple[OutOfLimits, Run]:
    refuse_closed_batch(batch)
    one = batch.out.get(seq)
    if one is None:
        raise Refused("unknown", f"entry {seq} read nothing out of limits", "choose one from the list")
    return one, batch.runs[one.run]


def _set_aside(batch: Batch, pieces: list[int], to: Literal["scrap", "hold"], why: str) -> list[Draft]:
    """Take pieces out of work wherever they are; a counted load keeps its own until it is released."""
    refuse_counted_loads(batch, pieces)
    leave_some_in_the_cycle(batch, pieces)
    by_load: dict[int, list[int]] = {}
    for piece in pieces:
        place = batch.places[piece]
        by_load.setdefault(place.load if place.where == "load" else 0, []).append(piece)
    found: list[Draft] = []
    for number, mine in by_load.items():
        rode = batch.loads.get(number)
        found += make_drafts(
            events.SetAside(
                pieces=tuple(mine),
                to=to,
                reason=sanitize(why),
                load=number or None,
                op=None if number else batch.places[mine[0]].op,
                where=format_pieces(batch, rode, mine),
                sits=batch.may_stay_in_place(number, to),
            )
        )
    return found
