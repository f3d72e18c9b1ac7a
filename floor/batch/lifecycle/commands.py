"""Opening a batch, starting pieces, forming loads, closing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import field, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Literal, NamedTuple

from floor.batch import events
from floor.batch.command import (
    Context,
    Refused,
    format_pieces,
    leave_some_in_the_cycle,
    refuse_closed_batch,
    refuse_counted_loads,
    require_load,
    require_reason,
    require_whole_number,
)
from floor.batch.corrections.put_off import list_put_off
from floor.batch.corrections.unproved_work import find_open_unproved_work
from floor.batch.counting.blind_count import HIDDEN_FIGURE, find_blind_subjects, format_total
from floor.batch.earlier import EarlierLots, EarlierTold
from floor.batch.events import make_drafts
from floor.batch.fold import fold
from floor.batch.gates.check_values import format_values_outside
from floor.batch.gates.suspect_gauges import describe_suspect_gauge
from floor.batch.lifecycle.enter_half_done import EnterLate
from floor.batch.load import Load, PiecePlace
from floor.batch.moving.choose import require_pieces, seat_pieces
from floor.batch.state import RULES, Batch
from floor.batch.stations.conditions import draft_known_conditions
from floor.batch.stations.out_of_service import draft_known_outages
from floor.checklist.equipment import MOST_PIECES, Carrier
from floor.checklist.frozen import freeze_checklist
from floor.checklist.model import Checklist
from floor.dataclass import dataclass
from floor.entry import Draft, Entry, format_time
from floor.text import format_count, sanitize

if TYPE_CHECKING:  # only opening a batch compares checklists
    from floor.checklist.weakening import Weakening


def order_faults(
    order: int | str, start: int | str, due: date | None, today: date, tests: Mapping[int, int] | None = None
) -> dict[str, Refused]:
    """What is wrong with an order's figures, by field: ``order``, ``start``, ``due``, ``tests``; text is not a figure.

    Args:
        tests: operation → good pieces to be used up there, which cannot fill the order.
    """
    faults: dict[str, Refused] = {}
    for name, value, what in (("order", order, "the order"), ("start", start, "the pieces to start")):
        try:
            require_whole_number(value, what, 1)
        except Refused as refused:
            faults[name] = refused
    if isinstance(order, int) and isinstance(start, int) and not faults and start < order:
        faults["start"] = Refused(
            "count", f"{start} pieces cannot fill an order of {order}", "start at least as many as ordered"
        )
    used = sum((tests or {}).values())
    if not faults and isinstance(order, int) and isinstance(start, int) and start < order + used:
        wrong = f"{order} ordered and {used} used in tests or trials make {order + used}, and only {start} are started"
        faults["tests"] = Refused("count", wrong, f"start {order + used}, or enter fewer", field="tests")
    if due is not None and due < today:
        faults["due"] = Refused("input", f"the due date {due} is past", "enter a later one, or none")
    return faults


class Before(NamedTuple):
    """An earlier batch of the same part, and what its checklist has that the new one has not."""

    batch: str
    lost: tuple[Weakening, ...]
    strongest: str = ""
    """An earlier one still, and what its checklist has besides."""
    earlier: tuple[Weakening, ...] = ()


@dataclass(frozen=True, slots=True)
class OpenBatch:
    """Open an order on a checklist, frozen as it is now. The only command that needs no batch."""

    id: str
    checklist: Checklist
    digest: str
    file: str
    order: int
    start: int
    due: date | None = None
    reference: str = ""
    late: EnterLate | None = None
    """Where everything is, for a batch that is already half done: entered together with the opening, or not at all."""
    before: Before | None = None
    """The batch of the part before this one, if its checklist protects more."""
    weaker_why: str = ""
    earlier: EarlierTold | None = None
    """What earlier batches of the part tell, to plan by."""
    tests: Mapping[int, int] = field(default_factory=dict)
    """Operation → its good pieces that tests and trials are to use up."""
    lots_before: tuple[EarlierLots, ...] = ()
    """Where the series of lots of earlier batches stood, by sampling plan."""
    approved_by: str = ""
    """The lead who approved this content of the checklist for the part."""
    unapproved: Opener = "anybody"
    """Who may open it as it is: anybody where a lead approved it."""

    def decide_new(self, context: Context) -> list[Draft]:
        for op, count in self.tests.items():
            require_whole_number(count, "the pieces used in tests, trials", field="tests")
            if op not in self.checklist.route:
                wrong = f"test pieces at op {op}, which is not in the route"
                raise Refused("unknown", wrong, "name one that is", field="tests")
        for fault in order_faults(self.order, self.start, self.due, context.now.at.date(), self.tests).values():
            raise fault
        self._refuse_unapproved(context)
        weakened = self._decide_weakened(context)
        opened = make_drafts(
            events.BatchOpened(
                id=self.id,
                checklist=freeze_checklist(self.checklist),
                digest=self.digest,
                file=sanitize(self.file),
                order=self.order,
                due=self.due.isoformat() if self.due else "",
                reference=sanitize(self.reference, 80),
                rules=RULES,
                earlier=self.earlier,
                tests=tuple((op, count) for op, count in sorted(self.tests.items()) if count),
                lots_before=self.lots_before,
                approved_by=self.approved_by,
                unapproved=self.unapproved != "anybody",
            )
        )
        started = make_drafts(events.PiecesStarted(first=1, count=self.start))
        drafts = [
            *opened,
            *weakened,
            *started,
            *draft_known_outages(self.checklist, context),
            *draft_known_conditions(self.checklist, context),
        ]
        return drafts if self.late is None else [*drafts, *self.late.decide(_folded(drafts, context), context)]

    def _refuse_unapproved(self, context: Context) -> None:
        """Only the approved content of a checklist is worked by, unless a lead opens another, on record (CBP-12)."""
        if self.unapproved == "anybody":
            return
        part = self.checklist.part
        if self.unapproved == "nobody":
            wrong = f"the checklist of {part.number} {part.revision} is not approved"
            raise Refused("not now", wrong, "a lead approves it first: d on the list of checklists")
        context.need_lead(f"opening the unapproved checklist of {part.number} {part.revision}")

    def _decide_weakened(self, context: Context) -> list[Draft]:
        """A checklist that protects less takes a lead and a reason (SAF-15)."""
        if self.before is None:
            return []
        context.need_lead(f"opening a checklist weaker than that of {self.before.batch}")
        points, earlier = (
            tuple(events.WeakenedPoint(**one._asdict()) for one in lost)
            for lost in (self.before.lost, self.before.earlier)
        )
        why = require_reason(self.weaker_why, "opening it anyway")
        return make_drafts(
            events.ChecklistWeakened(
                before=self.before.batch, points=points, why=why, strongest=self.before.strongest, earlier=earlier
            )
        )

    def opened(self, context: Context) -> Batch:
        """The batch as it would be opened, before its half-done state is entered."""
        return _folded(replace(self, late=None).decide_new(context), context)


def _refuse_as_all_loaded(kind: Carrier, context: Context) -> Refused:
    """That no carrier of a kind is free, and which other batches have one."""
    having = {by for (carrier, _), by in context.elsewhere.carriers.items() if carrier == kind.id}
    others = " and ".join(sorted(having - {""}))
    if kind.count == 1:
        loaded = f"holds a load of {others}" if others else "is loaded"
        return Refused("busy", f"the only {kind.name} {loaded}", "finish that load first")
    some = f", some for {others}" if others else ""
    wrong = f"all {format_count(kind.count, kind.name)} are loaded{some}"
    return Refused("busy", wrong, "finish one of them first")


def _folded(drafts: list[Draft], context: Context) -> Batch:
    now, by = context.now, context.by.initials
    zone = int((now.at.utcoffset() or timedelta()).total_seconds() // 60)
    return fold(
        Entry(seq, format_time(now.at), zone, now.boot, now.up, by, one.kind, one.body, "", "")
        for seq, one in enumerate(drafts, 1)
    )


@dataclass(frozen=True, slots=True)
class StartPieces:
    """Start more pieces while the batch runs."""

    count: int

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        count = require_whole_number(self.count, "the pieces to start", 1)
        if batch.started + count > MOST_PIECES:
            raise Refused(
                "input",
                f"a batch holds at most {MOST_PIECES} pieces, {batch.started} are started",
                "open another batch",
            )
        return make_drafts(events.PiecesStarted(first=batch.started + 1, count=count))


def list_free_carriers(batch: Batch, carrier: str, context: Context) -> list[int]:
    """Numbers of the carriers of a kind that hold no load, here or in another batch."""
    kind = batch.checklist.carrier(carrier)
    taken = {load.carrier_number for load in batch.list_live_loads() if load.carrier == carrier}
    taken |= {number for other, number in context.elsewhere.carriers if other == carrier}
    return [number for number in range(1, kind.count + 1) if number not in taken]


@dataclass(frozen=True, slots=True)
class FormLoad:
    """Put waiting pieces on a free carrier: by default as many as it holds, the longest waiting first."""

    op: int
    rework: str = ""
    carrier_number: int | None = None
    count: int | None = None
    pieces: tuple[int, ...] = ()
    """Which pieces; by default the longest waiting."""
    places: tuple[str, ...] = ()
    """The place of each, in their order; by default the first places."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        operation = batch.checklist.ops.get(self.op)
        if operation is None:
            raise Refused("unknown", f"there is no op {self.op} in the route", "choose one from the list")
        waiting = batch.waiting(self.op, self.rework)
        if not waiting:
            raise Refused(
                "count", f"no pieces wait for op {self.op} {operation.title}", "release a load before it, or start more"
            )
        kind = batch.checklist.carrier(operation.carrier)
        free = list_free_carriers(batch, kind.id, context)
        number = self.carrier_number if self.carrier_number is not None else (free[0] if free else None)
        if number is None:
            raise _refuse_as_all_loaded(kind, context)
        if number not in free:
            remedy = "choose another" if free else "wait for one"
            other = context.elsewhere.carriers.get((kind.id, number), "")
            wrong = f"{kind.label(number)} is not free" + (f": {other} has it" if other else "")
            raise Refused("busy", wrong, remedy, field="carrier")
        pieces = self._choose_pieces(waiting, kind, number)
        origins = {run.load for run in batch.runs.values() if run.count and set(run.pieces) & set(pieces)}
        return make_drafts(
            events.LoadFormed(
                load=max(batch.loads, default=0) + 1,
                carrier=kind.id,
                number=number,
                op=self.op,
                rework=self.rework,
                slots=seat_pieces(kind, pieces, self.places),
                came_from=tuple(sorted(origins)),
                placed=bool(self.pieces and self.places),
            )
        )

    def _choose_pieces(self, waiting: list[int], kind: Carrier, number: int) -> tuple[int, ...]:
        most = min(len(waiting), kind.capacity)
        count = self.count if self.count is not None else len(self.pieces) or min(len(self.places) or most, most)
        if not 1 <= require_whole_number(count, "the pieces", field="count") <= most:
            raise Refused(
                "count",
                f"{count} pieces: {len(waiting)} wait for op {self.op}, {kind.label(number)} holds {kind.capacity}",
                f"load 1 to {most}",
                field="count",
            )
        if not self.pieces:
            return tuple(waiting[:count])
        require_pieces(self.pieces, waiting, f"wait for op {self.op}", "which")
        if count != len(self.pieces):
            wrong = f"{format_count(len(self.pieces), 'piece')} chosen, {count} to be loaded"
            raise Refused("count", wrong, "leave this empty, or choose that many", field="count")
        return self.pieces


@dataclass(frozen=True, slots=True)
class SetPiecesAside:
    """Take pieces out of work between counts: dropped, missing, suspect; with neither load nor op, finished ones."""

    to: Literal["scrap", "hold"]
    why: str
    load: int | None = None
    op: int | None = None
    positions: tuple[str, ...] = ()
    count: int | None = None
    rework: str = ""
    """With ``op``: the rework route that the waiting pieces are on."""
    off: bool = False
    """Whether they left a carrier that holds them fast: taken off, lost, fallen."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        if self.to not in ("scrap", "hold"):
            raise Refused("input", "pieces are set aside as scrap or on hold", "choose one of the two")
        why = require_reason(self.why, "setting pieces aside")
        load = require_load(batch, self.load) if self.load is not None else None
        pieces = self._choose_pieces(batch, load)
        refuse_counted_loads(batch, pieces)
        leave_some_in_the_cycle(batch, pieces)
        fast = batch.may_stay_in_place(self.load, self.to)
        return make_drafts(
            events.SetAside(
                pieces=tuple(pieces),
                to=self.to,
                reason=why,
                load=self.load,
                op=self.op,
                where=format_pieces(batch, load, pieces),
                sits=fast and not self.off,
                off=fast and self.off,
            )
        )

    def _choose_pieces(self, batch: Batch, load: Load | None) -> list[int]:
        """The pieces in the places that are named, else so many of those that were put there last."""
        there = self._list_there(batch, load)
        if load is None or not self.positions:
            count = require_whole_number(self.count, "the pieces", 1)
            if count > len(there):
                loose = PiecePlace("waiting", op=self.op or 0, rework=self.rework)
                place = PiecePlace("load", load=load.number) if load else loose
                known = HIDDEN_FIGURE if place.heap in find_blind_subjects(batch) else len(there)
                wrong = f"{format_count(count, 'piece')} set aside, {known} are there"
                raise Refused("count", wrong, "enter at most as many")
            return there[-count:]
        if len(set(self.positions)) < len(self.positions):
            raise Refused("input", "a place is named twice", "name each place once")
        named = {batch.format_slot(load, piece): piece for piece in there}
        missing = [position for position in self.positions if position not in named]
        if missing:
            raise Refused("unknown", f"no piece sits in {', '.join(missing)}", "choose a place that holds a piece")
        return [named[position] for position in self.positions]

    def _list_there(self, batch: Batch, load: Load | None) -> list[int]:
        if load is not None:
            return list(batch.present(load))
        return batch.waiting(self.op, self.rework) if self.op is not None else batch.list_finished()


@dataclass(frozen=True, slots=True)
class CloseBatch:
    """End the batch: every piece finished, kept as a spare, stopped or scrapped, nothing open."""

    why: str = ""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        open_ = open_points(batch)
        if open_:
            raise Refused("not now", f"batch {batch.id} cannot be closed: {say_points(open_)}", "resolve these first")
        finished = batch.total("finished")
        why = sanitize(self.why)
        if finished < batch.order:
            context.need_lead(f"closing with {finished} of {batch.order} good pieces")
            why = require_reason(self.why, "closing short")
        return make_drafts(
            events.BatchClosed(
                reason=why, finished=finished, spare=batch.total("spare"), stopped=batch.total("stopped")
            )
        )


Opener = Literal["anybody", "a lead", "nobody"]
"""Who may open a batch on a checklist that is not approved: anybody as long as the shop approves none."""
PointKind = Literal[
    "loads", "waiting", "hold", "waiver", "unproved", "out", "gauge", "difference", "question", "put off", "handover",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class OpenPoint:
    """One thing that stands in the way of closing."""

    kind: PointKind
    subject: str = ""
    """Which one, or how many, as text."""

    def __str__(self) -> str:
        return _POINTS[self.kind].format(self.subject)


_POINTS: dict[PointKind, str] = {
    "loads": "loads under way: {}",
    "waiting": "pieces waiting: {}",
    "hold": "pieces on hold: {}",
    "waiver": "waiver open: {}",
    "unproved": "to be decided: {}, struck out after pieces went on",
    "out": "out of limits, to be decided: {}",
    "gauge": "to be decided: {}",
    "difference": "difference open: {}",
    "question": "question open: {}",
    "put off": "put off and not done: {}",
    "handover": "a handover is open",
}


def open_points(batch: Batch) -> list[OpenPoint]:
    """Everything that stands in the way of closing."""
    points = []
    hidden = find_blind_subjects(batch)
    if batch.list_live_loads():
        points.append(OpenPoint("loads", ", ".join(str(load.number) for load in batch.list_live_loads())))
    if batch.total("waiting"):
        points.append(OpenPoint("waiting", format_total(batch, "waiting", hidden)))
    if batch.total("hold"):
        points.append(OpenPoint("hold", format_total(batch, "hold", hidden)))
    points += [OpenPoint("waiver", waiver.title) for waiver in batch.list_open_waivers()]
    points += [OpenPoint("unproved", one.title) for one in find_open_unproved_work(batch)]
    out = batch.list_open_out_of_limits()
    points += [OpenPoint("out", f"{format_values_outside(one)} at op {one.op}") for one in out]
    points += [OpenPoint("gauge", describe_suspect_gauge(batch, one)) for one in batch.list_open_suspect_gauges()]
    points += [OpenPoint("difference", difference.subject) for difference in batch.list_open_differences()]
    points += [OpenPoint("question", question.text) for question in batch.questions.values() if not question.answer]
    points += [OpenPoint("put off", one.text) for one in list_put_off(batch)]
    if batch.handover:
        points.append(OpenPoint("handover"))
    return points


def say_points(points: Iterable[OpenPoint]) -> str:
    """The points in one line, as a refusal shows them."""
    return "; ".join(map(str, points))
