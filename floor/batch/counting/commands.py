"""Counting a run, holding its pieces, deciding on held pieces."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from typing import get_args

from floor.batch import events
from floor.batch.command import (
    Context,
    Refused,
    format_pieces,
    leave_some_in_the_cycle,
    refuse_closed_batch,
    refuse_counted_loads,
    require_current_line,
    require_reason,
    require_whole_number,
)
from floor.batch.corrections.unproved_work import find_suspect_pieces
from floor.batch.counting.conformance import list_standing_readings, read_again
from floor.batch.events import make_drafts
from floor.batch.gates.check_values import format_reading
from floor.batch.gates.entered_values import read_date
from floor.batch.run import CountMark, Run
from floor.batch.state import Batch
from floor.checklist.operation import Reason, Rework
from floor.dataclass import dataclass
from floor.entry import Draft
from floor.text import format_count, name_pieces, sanitize

WHERE_TO: dict[str, str] = {"regrade": "new grade", "return to supplier": "supplier"}
"""Decisions by which pieces leave the order whole, and what each must name."""
SHORTEST_NAME = 2
"""Letters of the shortest name: initials (shop decision)."""


@dataclass(frozen=True, slots=True)
class MarkedPieces:
    """Pieces that are not simply good, with the code of the reason: by their places, or by number."""

    reason: str
    positions: tuple[str, ...] = ()
    count: int = 0
    note: str = ""


@dataclass(frozen=True, slots=True)
class CountRun:
    """Count what came out of a run. ``good`` is counted by hand, so it can disagree with the rest."""

    run: int
    good: int
    marks: tuple[MarkedPieces, ...] = ()

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        run, _ = require_current_line(batch, self.run, "count", context)
        good = require_whole_number(self.good, "the good pieces")
        left = list(run.undecided)
        marks = [make_decided_mark(batch, run, mark) for mark in dict.fromkeys(run.decided.values())]
        for marked in self.marks:
            pieces = _pieces(batch, run, marked, left)
            for piece in pieces:
                left.remove(piece)
            marks += self._mark(batch, run, marked, pieces)
        total = good + sum(len(mark.pieces) for mark in marks)
        if total != len(run.pieces):
            off = total - len(run.pieces)
            raise Refused(
                "count",
                f"{good} good and {total - good} marked make {total}, {len(run.pieces)} went in: "
                f"{format_count(abs(off), 'piece')} too {'many' if off > 0 else 'few'}",
                "count again, or mark what is missing",
                attempt=events.AttemptRefused(
                    what="does not add up",
                    run=run.number,
                    op=run.op,
                    values={"good": good, "marked": total - good, "in": len(run.pieces)},
                ),
            )
        return make_drafts(
            events.Counted(
                run=run.number, op=run.op, load=run.load, went_in=len(run.pieces), good=good, marks=tuple(marks)
            )
        )

    def _mark(self, batch: Batch, run: Run, marked: MarkedPieces, pieces: list[int]) -> list[events.Mark]:
        """What the mark makes of the pieces: those that had this rework as often as they may go on hold (REC-21)."""
        code = batch.find_operation(run).reason(marked.reason)
        if code is None:
            known = ", ".join(one.code for one in batch.find_operation(run).reasons)
            raise Refused(
                "unknown", f'"{sanitize(marked.reason, 24)}" is not a reason at op {run.op}', f"one of: {known}"
            )
        worn = [piece for piece in pieces if had_last_pass(batch, code, piece)]
        fresh, hold = [piece for piece in pieces if piece not in worn], replace(code, to="hold")
        marks = ((code, fresh), (hold, worn))
        return [mark_of(batch, run, one, those, sanitize(marked.note)) for one, those in marks if those]


def had_last_pass(batch: Batch, code: Reason, piece: int) -> bool:
    """Whether a piece went through the rework of this reason as often as it may."""
    route = batch.checklist.rework(code.rework) if code.to == "rework" else None
    return route is not None and batch.passes[(piece, route.id)] >= route.passes


def mark_of(batch: Batch, run: Run, code: Reason, pieces: list[int], note: str) -> events.Mark:
    """The mark that a reason of the operation gives to pieces; refused if the reason does not allow it."""
    if code.needs_note and len(note) < 3:
        raise Refused("input", f"{code.text} needs a note", "enter what is wrong in a few words")
    if code.to == "rework":
        route = batch.checklist.rework(code.rework)
        assert route is not None
        worn = [piece for piece in pieces if had_last_pass(batch, code, piece)]
        if worn:
            raise Refused(
                "count",
                f"{format_count(len(worn), 'piece')} already went through {route.name} {_say_times(route.passes)}",
                "put it on hold for a lead, or scrap it",
            )
    return events.Mark(
        to=code.to,
        reason=code.code,
        pieces=tuple(pieces),
        places=tuple(_places(batch, run, pieces)),
        sits=batch.may_stay_in_place(run.load, code.to),
        caused_at=code.caused_at,
        note=note,
    )


def _say_times(many: int) -> str:
    return "once" if many == 1 else f"{many} times"


def make_decided_mark(batch: Batch, run: Run, decided: CountMark) -> events.Mark:
    """The mark of pieces that were decided on before the count and are still in the run."""
    pieces = [piece for piece in decided.pieces if piece in run.pieces]
    code = batch.find_operation(run).reason(decided.reason)
    return events.Mark(
        to=decided.to,
        reason=decided.reason,
        pieces=tuple(pieces),
        places=tuple(_places(batch, run, pieces)),
        sits=batch.may_stay_in_place(run.load, decided.to),
        caused_at=code.caused_at if code is not None else None,
        note=decided.note,
    )


def _places(batch: Batch, run: Run, pieces: list[int]) -> list[str]:
    load = batch.loads[run.load]
    return [name for piece in pieces if (name := batch.format_slot(load, piece))]


def _pieces(batch: Batch, run: Run, marked: MarkedPieces, left: list[int]) -> list[int]:
    if marked.positions:
        load = batch.loads[run.load]
        if len(set(marked.positions)) < len(marked.positions):
            raise Refused("input", "a place is named twice", "name each place once")
        named = {batch.format_slot(load, piece): piece for piece in left}
        missing = [position for position in marked.positions if position not in named]
        if missing:
            raise Refused(
                "unknown", f"no unmarked piece of this run sits in {', '.join(missing)}", "choose another place"
            )
        return [named[position] for position in marked.positions]
    count = require_whole_number(marked.count, "the marked pieces", 1)
    if count > len(left):
        raise Refused("count", f"{count} marked, only {len(left)} are left to mark", "count again")
    # Loose pieces cannot be told apart, so the numbers taken mean nothing; tracing accounts for that.
    return left[-count:]


@dataclass(frozen=True, slots=True)
class HoldBack:
    """A lead holds all pieces that went, or may have gone, through a run, wherever they are now, finished ones too."""

    run: int
    why: str

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        context.need_lead("holding the pieces of a run")
        why = require_reason(self.why, "holding pieces back")
        run = batch.runs.get(self.run)
        if run is None:
            raise Refused("unknown", f"there is no run {self.run} in batch {batch.id}", "choose one from the list")
        pieces = [piece for piece in find_suspect_pieces(batch, run) if batch.places[piece].where != "hold"]
        if not pieces:
            raise Refused("count", f"no piece of run {run.number} is left to hold", "they are on hold or scrapped")
        refuse_counted_loads(batch, pieces)
        leave_some_in_the_cycle(batch, pieces)
        many = format_count(len(pieces), "piece")
        return make_drafts(
            events.SetAside(pieces=tuple(pieces), to="hold", reason=why, of_run=run.number, where=many, sits=True)
        )


@dataclass(frozen=True, slots=True)
class TakeOff:
    """Report that held or scrapped pieces were taken off their carrier."""

    pieces: tuple[int, ...]

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        known = [piece for piece in self.pieces if piece in batch.places and batch.places[piece].sits]
        if not known or len(set(known)) < len(self.pieces):
            raise Refused(
                "unknown", "not all of these are held or scrapped pieces on a carrier", "choose only those, each once"
            )
        drafts: list[Draft] = []
        for load in sorted({batch.places[piece].load for piece in known}):
            pieces = [piece for piece in known if batch.places[piece].load == load]
            where = f"{format_pieces(batch, batch.loads[load], pieces)} of {batch.format_load(load)}"
            drafts += make_drafts(events.TakenOff(pieces=tuple(pieces), load=load, where=where))
        return drafts


@dataclass(frozen=True, slots=True)
class Dispose:
    """A lead decides what becomes of held pieces.

    Regraded and returned ones are lost to this order, as scrap is; repaired ones are counted by the operations of their
    route, as reworked ones are.
    """

    pieces: tuple[int, ...]
    decision: events.Decision
    why: str
    rework: str = ""
    """rework, repair: the route they take."""
    waive_rework: bool = False
    """use as is: also allowed for pieces whose rework has not been done."""
    concession: events.Concession | None = None
    """As it was typed; one without name and number is none. Repair needs it; use as is too, unless they conform."""
    measured: tuple[object, ...] = ()
    """use as is: what was read on the one piece again, in the order of `list_standing_values`."""
    to: str = ""
    """regrade: the grade they are now; return to supplier: who gets them, and the number of the return."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        context.need_lead("a disposition")
        why = require_reason(self.why, "a disposition")
        self._need_held(batch)
        rework = self._need_route(batch).id if self.decision in ("rework", "repair") else ""
        as_is = self.decision == "use as is"
        where = say_held(batch, self.pieces) if as_is or self.to else ""
        waives = as_is and self._waives_rework(batch)
        granted = self._read_concession(context.now.at.date())
        measured = read_again(batch, self.pieces, self.measured) if as_is else ()
        if as_is and granted is None:
            self._refuse_without_concession(batch, waives, measured)
        stays = [piece for piece in self.pieces if rework and _reworked_in_place(batch, piece, rework)]
        return make_drafts(
            events.Disposed(
                pieces=self.pieces,
                decision=self.decision,
                rework=rework,
                reason=why,
                waives_rework=waives,
                where=where,
                granted=granted,
                measured=measured,
                stays=tuple(stays),
                to=self._need_where_to(batch),
                own_way=as_is,
            )
        )

    def _need_held(self, batch: Batch) -> None:
        chosen = set(self.pieces)
        if not chosen or not chosen <= set(batch.held()) or len(chosen) < len(self.pieces):
            raise Refused("unknown", "not all of these are held pieces, each named once", "choose from the held pieces")
        known = get_args(events.Decision)
        if self.decision not in known:
            wrong = f'"{sanitize(str(self.decision), 20)}" is not a disposition'
            raise Refused("input", wrong, f"one of: {', '.join(known)}")

    def _read_concession(self, today: date) -> events.Concession | None:
        """A concession that can be found again: who gave it, when, and its number if it has one."""
        given = self.concession or events.Concession(by="", on="")
        by, number = sanitize(given.by, 40), sanitize(given.number, 40)
        if self.decision not in ("use as is", "repair") or (self.decision == "use as is" and not by and not number):
            return None
        if sum(map(str.isalpha, by)) < SHORTEST_NAME:
            wrong = "nobody is named who gave the concession"
            raise Refused("input", wrong, "enter the name of who gave it for the customer", field="granted_by")
        on = read_day(given.on, "day of the concession", "granted_on", today)
        return events.Concession(by=by, on=on, number=number)

    def _need_where_to(self, batch: Batch) -> str:
        """The new grade, or the supplier; empty where the decision asks for none."""
        what = WHERE_TO.get(self.decision)
        if what is None:
            return ""
        on = [piece for piece in self.pieces if batch.places[piece].sits]
        if on:  # a carrier would be counted with pieces that are sold or on a truck
            wrong = f"{format_count(len(on), 'piece')} still {'sits' if len(on) == 1 else 'sit'} on the carrier"
            raise Refused("not now", wrong, "take them off and report that first")
        to = sanitize(self.to, 60)
        if len(to) < SHORTEST_NAME:
            raise Refused("input", f"no {what} is named", f"enter the {what}", field="to")
        return to

    def _waives_rework(self, batch: Batch) -> bool:
        """Whether some were sent to be reworked and have not been, which is waived: expressly, or it is refused."""
        held = batch.held()
        owing = sorted({held[piece].rework for piece in self.pieces} - {""})
        if owing and not self.waive_rework:
            names = ", ".join(route.name for id in owing if (route := batch.checklist.rework(id)))
            raise Refused(
                "gate", f"still to be reworked: {names}", "send it to the rework, or waive the rework expressly"
            )
        return bool(owing)

    def _refuse_without_concession(self, batch: Batch, waives: bool, measured: Sequence[events.ReadAgain]) -> None:
        """What does not conform is used by the customer's word alone (ISO 9001:2015, 8.7.1 d)."""
        bad = [one for one in measured if not one.good]
        if waives:
            wrong = "the rework is not done"
        elif bad:
            wrong = f"still out of limits, {format_reading(bad[0])}"
        elif list_standing_readings(batch, self.pieces) and not measured:
            wrong = "measured out of limits"
        else:
            return
        remedy = "enter who gave the concession, when, and its number; else rework or scrap"
        raise Refused("authority", f"{wrong}: only the customer can accept it", remedy, field="granted_by")

    def _need_route(self, batch: Batch) -> Rework:
        """The rework route; refused where not all of these pieces can take it."""
        route = batch.checklist.rework(self.rework) if self.rework else None
        if route is None:
            known = ", ".join(route.id for route in batch.checklist.reworks) or "the checklist has none"
            raise Refused("unknown", "a rework needs a route", f"one of: {known}")
        found = {batch.find_op_reached(piece) for piece in self.pieces}
        if min(found) < route.back_to:
            wrong = f"{route.name} starts at op {route.back_to}, later than the piece has come"
            raise Refused("not now", wrong, "choose another")
        if not all(batch.checklist.may_mend(route, op) for op in found):
            wrong = f"{route.name} skips operations that the piece has not passed"
            raise Refused("not now", wrong, "choose another")
        return route


def read_day(text: str, what: str, field: str, today: date) -> str:
    """A day that has come, as ISO text.

    Raises:
        Refused: it is no date, or one to come.
    """
    day = read_date(text, what, field)
    if day > today:
        raise Refused("input", f"{what}: {day} is still to come", "enter the day on which it was", field=field)
    return day.isoformat()


def _reworked_in_place(batch: Batch, piece: int, rework: str) -> bool:
    """Whether a held piece can be reworked without leaving its carrier: it still sits there, and its load has come that
    far.
    """
    place, route, found = batch.places[piece], batch.checklist.rework(rework), batch.find_op_reached(piece)
    if not place.sits or route is None:
        return False
    load = batch.loads[place.load]
    passed = load.next_op is None or load.next_op > found or batch.is_at_work(load)
    return passed and batch.is_rework_in_place(load, route, found)


def say_held(batch: Batch, pieces: Iterable[int]) -> str:
    """``Pallet 1 A1 (piece 1), op 10: Groove too deep; pieces 2-12, 14-24 on Tray 1, op 40: may be out of limits``.

    A decision quotes this, so it can be understood later: every piece is named, those of one place and reason together.
    """
    held = batch.held()
    alike: dict[tuple[int, int, str], list[int]] = {}
    for piece in pieces:
        place = held[piece]
        alike.setdefault((place.load, place.op, place.reason), []).append(piece)
    said = []
    for (number, op, reason), mine in alike.items():
        load = batch.loads.get(number)
        carrier = batch.format_carrier(load) if load else "loose"
        where = f"{name_pieces(mine)} {'on ' if load else ''}{carrier}"
        if len(mine) == 1:
            slot = batch.format_slot(load, mine[0]) if load else ""
            where = f"{f'{carrier} {slot}'.strip()} ({name_pieces(mine)})"
        code = batch.operation(op).reason(reason)
        said.append(f"{where}, op {op}: {code.text if code else reason}")
    return "; ".join(said)
