"""The state of one batch: what the record says as of its last entry.

Built and changed by `floor.batch.fold` alone; everybody else reads. A piece is a number, 1 … n in the order of
starting. Times are aware. Nothing here is stored: it is the fold of the entries, always.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Literal

from floor.batch.late import Late
from floor.batch.unsettled import (
    Difference,
    GoesOn,
    Handover,
    Jump,
    Outage,
    OutOfLimits,
    Question,
    Waiver,
)
from floor.checklist.model import Carrier, Checklist, Operation, Rework
from floor.entry import Entry, Moment

MOST_PIECES = 5000
"""What a batch holds at most."""

Where = Literal["waiting", "load", "hold", "spare", "stopped", "scrap", "finished"]


@dataclass(frozen=True, slots=True)
class Place:
    """Where a piece is: in exactly one place, always."""

    where: Where
    op: int = 0
    """waiting: the operation it waits for. hold, scrap: the operation where it was found.
    spare, stopped: the operation that it would go through next."""
    load: int = 0
    """load: the load it rides on. hold, spare, stopped: the load it was taken from, 0 for none."""
    reason: str = ""
    rework: str = ""
    """waiting: the rework route it is on. hold, spare, stopped: the one that it was sent to and has not been through.
    """
    seq: int = 0
    """The entry that put it there."""
    sits: bool = False
    """hold, scrap: it is still in its place on the carrier of its load, which holds it fast."""

    @property
    def heap(self) -> str:
        """Key of what it is counted with at a handover; empty where it is not counted any more."""
        if self.sits:
            return f"load {self.load}"
        heaps = {"load": f"load {self.load}", "waiting": f"waiting {self.op} {self.rework}".strip()}
        return heaps.get(self.where, self.where if self.where in ("hold", "spare") else "")


@dataclass(frozen=True, slots=True)
class Mark:
    """What the record says of one line of a walk."""

    how: Literal["done", "skipped"]
    seq: int
    at: datetime
    by: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Proof:
    """What proves a gate, until something voids it. Earlier attempts stay in the record."""

    seq: int
    at: datetime
    by: str
    values: dict[str, Any]
    run: int
    """The run in which it was recorded; it may serve others. 0 where it was told of a batch entered late."""
    station: str
    load: int


@dataclass(frozen=True, slots=True)
class Void:
    """Why a proof no longer stands."""

    why: str
    at: datetime
    seq: int


@dataclass(slots=True)
class Detour:
    """Some pieces of a load go back by themselves while it stays on its carrier."""

    rework: str
    """The rework route; empty where they make up for operations that the load passed while they were held."""
    pieces: frozenset[int]
    found: int
    """The operation that found them: after it, the load is together again."""
    at: int | None
    """The operation they go to next; None when they are through."""


@dataclass(slots=True)
class Load:
    """Pieces riding together on one carrier, from where it is loaded to where it is emptied."""

    number: int
    carrier: str
    carrier_number: int
    slots: tuple[int | None, ...]
    """The piece in each place of the carrier; for a carrier without places just the pieces."""
    first_op: int
    next_op: int | None
    """The operation the load as a whole goes to next, or is in; None when it is through its leg."""
    formed: datetime
    seq: int
    rework: str = ""
    run: int | None = None
    """The run under way."""
    detours: list[Detour] = field(default_factory=list)
    behind: list[Detour] = field(default_factory=list)
    """Detours that begin when the run under way is released."""
    dissolved: datetime | None = None

    @property
    def at(self) -> int | None:
        """The operation it is in or goes to next, a detour included."""
        return self.detours[-1].at if self.detours else self.next_op

    @property
    def pieces(self) -> tuple[int, ...]:
        """Every piece that was put on it."""
        return tuple(piece for piece in self.slots if piece is not None)


@dataclass(frozen=True, slots=True)
class CountMark:
    """Pieces of a run that are not simply good."""

    to: Literal["scrap", "rework", "hold"]
    reason: str
    pieces: tuple[int, ...]
    note: str = ""


@dataclass(slots=True)
class Count:
    """What came out of a run; adds up to what went in."""

    seq: int
    at: datetime
    by: str
    went_in: int
    good: int
    marks: tuple[CountMark, ...]

    def total(self, to: str) -> int:
        return sum(len(mark.pieces) for mark in self.marks if mark.to == to)


@dataclass(frozen=True, slots=True)
class Counted:
    """How a piece came out of an operation."""

    op: int
    load: int
    """0 where it was told and not counted here."""
    how: str
    """good, scrap, rework or hold."""


@dataclass(frozen=True, slots=True)
class Stop:
    """Why and since when a cycle stands before its end."""

    why: str
    at: datetime
    seq: int


@dataclass(slots=True)
class Run:
    """One load's pass through one operation."""

    number: int
    load: int
    op: int
    station: str
    setup: int
    pieces: tuple[int, ...]
    begun: datetime
    by: str
    seq: int
    rework: str = ""
    """The rework route whose own steps are passed in this run."""
    cycle: int = 0
    """What the cycle is called that may take several loads: the same for all it takes. 0: it takes this load alone."""
    exception: str = ""
    """Why it was begun while a handover was open."""
    late: str = ""
    """Who entered it when its cycle had begun already: what was done before is known as far as that was told."""
    marks: dict[str, Mark] = field(default_factory=dict)
    halted: dict[str, tuple[datetime, int]] = field(default_factory=dict)
    """Clock → when and by which entry it began, where the cycle stopped while it ran."""
    reopened: set[str] = field(default_factory=set)
    unmet: set[tuple[str, int]] = field(default_factory=set)
    """Line, and the entry with which the run went past it with nothing on record now that proves it."""
    proved_since: dict[str, int] = field(default_factory=dict)
    """Of these lines, those proved when it was released → the entry that proves it."""
    started: datetime | None = None
    started_seq: int = 0
    started_by: str = ""
    stopped: Stop | None = None
    """Why the cycle stands now, before its end."""
    stands: Stop | None = None
    """For which step of the cycle the program stands, and since when: it goes on by another step."""
    resumed_at: datetime | None = None
    """When the cycle went on after it had stopped last."""
    stood: float = 0.0
    """Seconds for which it stood since it was started."""
    ended: datetime | None = None
    ended_by: str = ""
    count: Count | None = None
    released: datetime | None = None
    released_by: str = ""
    put_back: bool = False
    """Whether it was taken back before its work began; it is over then, and no piece went through it."""
    paused: str = ""
    touched: datetime | None = None
    """When somebody last did something in this run."""
    resumed: datetime | None = None
    """When somebody came back to it after the last long break."""
    touched_by: str = ""
    lots: dict[str, str] = field(default_factory=dict)
    taken: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """Material → its lots so far, where another was opened while the run was under way."""
    tools: dict[int, float | None] = field(default_factory=dict)
    """Tools in the station at the start, with the length recorded for each."""
    program: str = ""
    decided: dict[int, CountMark] = field(default_factory=dict)
    """Piece → what its count will say of it: it was measured out of limits, and stays on its carrier until then."""

    @property
    def undecided(self) -> tuple[int, ...]:
        """The pieces that nothing is decided about before they are counted."""
        return tuple(piece for piece in self.pieces if piece not in self.decided)

    @property
    def began_by(self) -> str:
        """``by TN``, or who entered it late."""
        return f"entered late by {self.late}" if self.late else f"by {self.by}"

    @property
    def running(self) -> bool:
        """Its cycle is under way; the program may stand in it for work by hand."""
        return self.started is not None and self.ended is None and self.stopped is None

    def ran(self, now: datetime) -> float:
        """Seconds for which its cycle has run by now, or ran in all."""
        if self.started is None:
            return 0.0
        stands = self.stands or self.stopped
        until = self.ended or (stands.at if stands else now)
        return (until - self.started).total_seconds() - self.stood


@dataclass(slots=True)
class Setup:
    """A station made ready for one operation; stands until something else is set up there."""

    number: int
    station: str
    op: int
    at: datetime
    marks: dict[str, Mark] = field(default_factory=dict)
    stands: bool = True
    why_not: str = ""
    instead_of: int = 0
    """The set-up that stood there until this one was begun; 0 for none."""
    never_made: bool = False
    """Whether the run that began it was put back before anything was done for it: it took nothing down."""


@dataclass(slots=True)
class ToolState:
    """A tool in a station since it was last changed."""

    length: float | None
    since: datetime
    used: float = 0.0
    """Seconds of cutting, or pieces, as its card counts; what other batches cut with it is in it."""


@dataclass(frozen=True, slots=True)
class Lot:
    lot: str
    use_by: date | None
    seq: int
    at: datetime


@dataclass(slots=True)
class Batch:
    """An order on a frozen checklist, with every piece, load, run and proof."""

    id: str
    checklist: Checklist
    digest: str
    file: str
    order: int
    due: date | None
    reference: str
    opened: datetime
    opened_by: str
    responsible: str
    last: Moment
    seq: int = 0
    places: dict[int, Place] = field(default_factory=dict)
    on: dict[int, set[int]] = field(default_factory=dict)
    """The pieces now riding on each load."""
    tally: Counter[tuple[str, int, str]] = field(default_factory=Counter)
    """How many pieces are in each (where, operation, rework route)."""
    passes: Counter[tuple[int, str]] = field(default_factory=Counter)
    loads: dict[int, Load] = field(default_factory=dict)
    runs: dict[int, Run] = field(default_factory=dict)
    setups: dict[int, Setup] = field(default_factory=dict)
    proofs: dict[tuple[Any, ...], Proof] = field(default_factory=dict)
    voids: dict[tuple[Any, ...], Void] = field(default_factory=dict)
    read: dict[tuple[str, int, str], tuple[datetime, int]] = field(default_factory=dict)
    """(person, operation, caution) → when it was read and in which shift."""
    tools: dict[tuple[str, int], ToolState] = field(default_factory=dict)
    outages: dict[str, Outage] = field(default_factory=dict)
    """Station → why it is out of service now."""
    lots: dict[str, Lot] = field(default_factory=dict)
    lot_entries: dict[str, list[int]] = field(default_factory=dict)
    """Material → the entries that recorded a lot of it, in their order."""
    piece_clocks: dict[str, dict[int, tuple[datetime, int]]] = field(default_factory=dict)
    """Clock → piece → when and by which entry it was last started."""
    batch_clocks: dict[str, tuple[datetime, int]] = field(default_factory=dict)
    on_paper: dict[int, tuple[datetime, datetime]] = field(default_factory=dict)
    """Entries made from paper on one person's word → when it was done, when it was entered."""
    resumed: dict[int, tuple[datetime, int]] = field(default_factory=dict)
    """Entries that start a clock again after its cycle had stopped → when and by which entry it first began."""
    late: Late | None = None
    """What was told of it where it was entered half done."""
    waivers: dict[int, Waiver] = field(default_factory=dict)
    settled: dict[int, str] = field(default_factory=dict)
    """Strike → what a lead decided on the pieces that had gone on by what it took away."""
    held_back: dict[int, int] = field(default_factory=dict)
    """Run → the entry with which all that went through it was last held back."""
    out: dict[int, OutOfLimits] = field(default_factory=dict)
    """By the entry that read it."""
    differences: dict[int, Difference] = field(default_factory=dict)
    questions: dict[int, Question] = field(default_factory=dict)
    goes_on: GoesOn | None = None
    """What was decided last about pieces in work that the filled order does not need."""
    handover: Handover | None = None
    shift: int = 0
    """How many handovers were accepted."""
    shift_began: datetime | None = None
    shift_seq: int = 0
    handed_over_by: str = ""
    """Who gave the batch to whoever is responsible now; empty before the first handover."""
    jumps: list[Jump] = field(default_factory=list)
    boots: dict[str, tuple[Moment, int]] = field(default_factory=dict)
    """Start of a machine → the first reading of its clock since entries last came from it, and its entry."""
    left: dict[str, int] = field(default_factory=dict)
    """Machine → the last entry that came from it before entries came from another start."""
    clock_told: int = 0
    """The entry with which somebody took note of what the clock was moved by."""
    struck: dict[int, int] = field(default_factory=dict)
    """Entries struck out → the entry that struck them."""
    closed: datetime | None = None
    gone: str = ""
    """Where the batch went over to, when it is no longer alive here."""
    started_at: dict[int, datetime] = field(default_factory=dict)
    entries: list[Entry] = field(default_factory=list)
    """Every entry so far, struck ones too."""
    damage: str = field(default="", compare=False)
    """What of its record cannot be read and what to do about it; empty where all of it can. Said by the shop."""

    def cite(self, seq: int) -> str:
        """An entry of this batch as another one cites it, whatever this one is called there."""
        return f"{self.entries[0].hash[:16]} {seq}"

    def operation(self, op: int) -> Operation:
        return self.checklist.ops[op]

    def operation_of(self, run: Run) -> Operation:
        """The operation of a run, with the work offset of the carrier that it is on."""
        load = self.loads[run.load]
        return self.checklist.operation_for(run.op, load.carrier, load.carrier_number, run.station)

    def stations_for(self, op: int) -> tuple[str, ...]:
        """The stations that can do an operation: those set up for it first, then in the order of the checklist."""
        stations = self.checklist.ops[op].stations
        if len(stations) == 1:
            return stations
        ready = {one for one in stations if (setup := self.standing_setup(one)) is not None and setup.op == op}
        return tuple(sorted(stations, key=lambda one: one not in ready))

    def present(self, load: Load) -> tuple[int, ...]:
        """The pieces now on the load, in the order of its places."""
        on = self.on.get(load.number, set())
        return tuple(piece for piece in load.pieces if piece in on)

    def sitting(self, load: Load, where: Where | None = None) -> tuple[int, ...]:
        """Held and scrapped pieces that are still in their places on the load's carrier, or those of one kind."""
        places = ((piece, self.places[piece]) for piece in load.pieces)
        return tuple(
            piece for piece, place in places
            if place.sits and place.load == load.number and where in (None, place.where)
        )  # fmt: skip

    def say_sitting(self, load: Load) -> str:
        """``1 scrap (B2), 1 on hold (A1) still on the carrier``; empty where none is."""
        said = []
        for where, word in (("scrap", "scrap"), ("hold", "on hold")):
            pieces = self.sitting(load, where)  # type: ignore[arg-type]
            names = " ".join(filter(None, (self.slot_name(load, piece) for piece in pieces)))
            said += [f"{len(pieces)} {word}" + (f" ({names})" if names else "")] if pieces else []
        return f"{', '.join(said)} still on the carrier" if said else ""

    def next_pieces(self, load: Load) -> tuple[int, ...]:
        """The pieces that the load's next run is about: all on it, or those of the detour."""
        present = self.present(load)
        if not load.detours:
            return present
        return tuple(piece for piece in present if piece in load.detours[-1].pieces)

    def waiting(self, op: int, rework: str = "") -> list[int]:
        """Pieces waiting loose for an operation, longest first."""
        found = [
            (place.seq, piece)
            for piece, place in self.places.items()
            if place.where == "waiting" and place.op == op and place.rework == rework
        ]
        return [piece for _, piece in sorted(found)]

    def pools(self) -> list[tuple[int, str, int]]:
        """(operation, rework route, how many) of all pieces waiting loose, in the order of the route."""
        return sorted(
            (op, rework, count) for (where, op, rework), count in self.tally.items() if where == "waiting" and count
        )

    def total(self, where: Where) -> int:
        return sum(count for (place, _, _), count in self.tally.items() if place == where)

    @property
    def started(self) -> int:
        return len(self.places)

    def live_loads(self) -> list[Load]:
        return [load for load in self.loads.values() if load.dissolved is None]

    def open_runs(self) -> list[Run]:
        return [self.runs[load.run] for load in self.live_loads() if load.run is not None]

    def standing_setup(self, station: str) -> Setup | None:
        """The set-up that stands on the station, if any."""
        for setup in reversed(self.setups.values()):
            if setup.station == station and not setup.never_made:
                return setup if setup.stands else None
        return None

    def open_waivers(self, load: Load | None = None) -> list[Waiver]:
        """Waivers not closed; of one load, those that came along with any of its pieces."""
        found = [waiver for waiver in self.waivers.values() if not waiver.closed]
        if load is None:
            return found
        pieces = set(load.pieces)
        return [waiver for waiver in found if waiver.pieces & pieces or self.runs[waiver.run].load == load.number]

    def open_differences(self) -> list[Difference]:
        return [difference for difference in self.differences.values() if not difference.resolved]

    def open_out(self, key: tuple[Any, ...] | None = None) -> list[OutOfLimits]:
        """What was read out of limits and nobody has decided about, the oldest first; with a key, at that gate."""
        return [one for one in self.out.values() if one.open and key in (None, one.key)]

    def last_counted(self, piece: int) -> Counted | None:
        """How a piece came out of the operation where it was counted last, or told to have been."""
        counted = [(run.count.seq, run) for run in self.runs.values() if run.count is not None and piece in run.pieces]
        if counted:
            run = max(counted, key=lambda one: one[0])[1]
            assert run.count is not None
            marks = [mark.to for mark in run.count.marks if piece in mark.pieces]
            return Counted(run.op, run.load, marks[0] if marks else "good")
        told = self.late.last(piece) if self.late is not None else None
        return Counted(told[0], 0, told[1]) if told is not None else None

    def counts(self) -> Iterator[tuple[int, str, Mapping[int, str]]]:
        """(operation, rework route, piece → good, scrap, rework or hold) of all counts, the told ones first."""
        for op, said in (self.late.counted if self.late is not None else {}).items():
            yield op, "", said
        for run in self.runs.values():
            if run.count is not None:
                marked = {piece: mark.to for mark in run.count.marks for piece in mark.pieces}
                yield run.op, run.rework, {piece: marked.get(piece, "good") for piece in run.pieces}

    def owes(self, piece: int) -> str:
        """The rework route that a piece was sent to and has not been through yet; empty where there is none."""
        place = self.places[piece]
        if place.where != "load":
            return place.rework
        load = self.loads[place.load]
        on = [(one.rework, one.at) for one in reversed(load.detours) if piece in one.pieces] + [(load.rework, load.at)]
        for id, at in on:
            route = self.checklist.rework(id) if id else None
            if route is not None and at == route.back_to:
                return id
        return ""

    def held(self) -> dict[int, Place]:
        return {piece: place for piece, place in self.places.items() if place.where == "hold"}

    def next_op_of(self, piece: int) -> int | None:
        """The operation that a piece in work goes through next, or is in; None where it only waits for its load."""
        place = self.places[piece]
        if place.where != "load":
            return place.op
        load = self.loads[place.load]
        detours = [*load.behind, *reversed(load.detours)]
        own = next((one.at for one in detours if piece in one.pieces and one.at is not None), None)
        return own or load.next_op or self.checklist.after(self.checklist.leg_of(load.first_op).ops[-1])

    def carrier_of(self, load: int) -> Carrier:
        return self.checklist.carrier(self.loads[load].carrier)

    def rework_of(self, load: Load) -> Rework | None:
        """The rework route that those of a load that are at work now are on; None where it is the ordinary way."""
        id = load.detours[-1].rework if load.detours else load.rework
        return self.checklist.rework(id) if id else None

    def title_of(self, load: Load, op: int) -> str:
        """What a load does at an operation, told apart from the ordinary work where it is rework."""
        return self.checklist.ops[op].title + (" (rework)" if self.rework_of(load) else "")

    def carrier_name(self, load: Load) -> str:
        return self.checklist.carrier(load.carrier).label(load.carrier_number)

    def load_name(self, number: int) -> str:
        """A load as people see it: ``Pallet 1 (load 3)``."""
        return f"{self.carrier_name(self.loads[number])} (load {number})"

    def slot_name(self, load: Load, piece: int) -> str:
        """The name of the piece's place on the carrier; empty on one without places."""
        positions = self.checklist.carrier(load.carrier).positions
        return positions[load.slots.index(piece)] if positions else ""
