"""The state of one batch as of its last entry.

Only `floor.batch.fold` builds and changes it; everybody else reads. A piece is a number, 1 … n in the order of
starting. Times are aware. Nothing here is stored: it is the fold of the entries, always.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import field
from datetime import date, datetime
from operator import attrgetter

from floor.batch.earlier import EarlierLots, EarlierTold, expect
from floor.batch.lifecycle.half_done import LateEntry
from floor.batch.load import LOST, Detour, Load, PiecePlace, Where
from floor.batch.open_items import (
    ClockJump,
    Conditions,
    CountDifference,
    HandoverQuestion,
    OpenHandover,
    Outage,
    OutOfLimits,
    SurplusPermission,
    SuspectGauge,
    Waiver,
)
from floor.batch.proof import (
    AirReading,
    CorrectedLot,
    LineMark,
    Lot,
    OffsetPlace,
    ProbedValues,
    ProgramCheck,
    Proof,
    ProofKey,
    Setup,
    ToolState,
    VoidedProof,
)
from floor.batch.run import PieceResult, Run
from floor.batch.trial import Trial
from floor.checklist.equipment import Carrier
from floor.checklist.model import Checklist
from floor.checklist.operation import Do, Operation, Rework
from floor.dataclass import dataclass
from floor.entry import Entry, Moment

RULES = 5
"""The edition of the rules for new batches. 2: readings, signatures and safety checks lapse too.

3: a probed offset is compared with earlier ones. 4: steps lapse too. 5: so do the waits that they start, and steps at
a program stop."""

_USABLE: tuple[Where, ...] = ("finished", "load", "waiting", "hold")
"""Where a piece may be that fills the order, or still can."""


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
    rules: int = 1
    """The edition of the rules it is worked by: the one current when it was opened."""
    earlier: EarlierTold | None = None
    """What earlier batches of the part told when it was opened, which its plan stands on."""
    tests: Mapping[int, int] = field(default_factory=dict)
    """Operation → its good pieces that tests and trials were to use up when it was opened."""
    lots_before: Mapping[tuple[int, str], EarlierLots] = field(default_factory=dict)
    """(operation, line) → where the series of lots of its sampling plan stood when it was opened."""
    seq: int = 0
    places: dict[int, PiecePlace] = field(default_factory=dict)
    on: dict[int, set[int]] = field(default_factory=dict)
    """The pieces now riding on each load."""
    tally: Counter[tuple[str, int, str]] = field(default_factory=Counter)
    """How many pieces are in each (where, operation, rework route)."""
    passes: Counter[tuple[int, str]] = field(default_factory=Counter)
    found: dict[int, int] = field(default_factory=dict)
    """Piece → the operation that last sent it to rework."""
    turn: dict[int, int] = field(default_factory=dict)
    """Piece → the operation whose turn it was when it went to a later one first, until it has passed that."""
    early: dict[int, set[int]] = field(default_factory=dict)
    """Operation → the pieces that passed it before its turn and need not pass it again."""
    loads: dict[int, Load] = field(default_factory=dict)
    runs: dict[int, Run] = field(default_factory=dict)
    setups: dict[int, Setup] = field(default_factory=dict)
    proofs: dict[ProofKey, Proof] = field(default_factory=dict)
    voids: dict[ProofKey, VoidedProof] = field(default_factory=dict)
    probed: dict[OffsetPlace, list[ProbedValues]] = field(default_factory=dict)
    """What was probed of each carrier, oldest first."""
    air: list[AirReading] = field(default_factory=list)
    """Of the room, in the order of the entries."""
    programs: dict[int, ProgramCheck] = field(default_factory=dict)
    """Set-up → what its program's file holds."""
    read: dict[tuple[str, int, str], tuple[datetime, int]] = field(default_factory=dict)
    """(person, operation, caution) → when it was read and in which shift."""
    left_otherwise: dict[str, int] = field(default_factory=dict)
    """Station → the last entry by which it may be otherwise than it was left."""
    tools: dict[tuple[str, int], ToolState] = field(default_factory=dict)
    outages: dict[str, Outage] = field(default_factory=dict)
    """Station → why it is out of service now."""
    conditions: Conditions = field(default_factory=dict)
    """A guard off, a lock on and the like, until it is cleared."""
    suspect_gauges: dict[int, SuspectGauge] = field(default_factory=dict)
    """Report → a gauge that is suspect since."""
    lots: dict[str, Lot] = field(default_factory=dict)
    corrected_lots: dict[int, CorrectedLot] = field(default_factory=dict)
    """Entry → the lot that it was corrected to."""
    corrected_counts: dict[int, frozenset[int]] = field(default_factory=dict)
    """Entry that counted pieces as scrap, or set them aside → those that were good after all."""
    lot_entries: dict[str, list[int]] = field(default_factory=dict)
    """Material → the entries that recorded a lot of it, in their order."""
    piece_clocks: dict[str, dict[int, tuple[datetime, int]]] = field(default_factory=dict)
    """Clock → piece → when and by which entry it was last started."""
    batch_clocks: dict[str, tuple[datetime, int]] = field(default_factory=dict)
    on_paper: dict[int, tuple[datetime, datetime]] = field(default_factory=dict)
    """Entries from paper on one person's word → (time of the act, time of entry)."""
    resumed: dict[int, tuple[datetime, int]] = field(default_factory=dict)
    """Entries that restart a timer after its cycle stopped → its first start and starting entry."""
    late: LateEntry | None = None
    """What was stated if it was entered half done."""
    waivers: dict[int, Waiver] = field(default_factory=dict)
    settled: dict[int, str] = field(default_factory=dict)
    """Strike → a lead's decision on pieces that had gone on by the struck proof."""
    held_back: dict[int, int] = field(default_factory=dict)
    """Run → the entry that last put all its pieces on hold."""
    out: dict[int, OutOfLimits] = field(default_factory=dict)
    """By the entry that read it."""
    differences: dict[int, CountDifference] = field(default_factory=dict)
    questions: dict[int, HandoverQuestion] = field(default_factory=dict)
    trials: dict[int, Trial] = field(default_factory=dict)
    goes_on: SurplusPermission | None = None
    """The last decision on surplus pieces of a filled order."""
    handover: OpenHandover | None = None
    shift: int = 0
    """How many handovers were accepted."""
    shift_began: datetime | None = None
    shift_seq: int = 0
    handed_over_by: str = ""
    """Who handed the batch to the person responsible now; empty before the first handover."""
    jumps: list[ClockJump] = field(default_factory=list)
    boots: dict[str, tuple[Moment, int]] = field(default_factory=dict)
    """Start of a machine → the first reading of its clock since entries last came from it, and its entry."""
    left: dict[str, int] = field(default_factory=dict)
    """Machine → the last entry that came from it before entries came from another start."""
    clock_told: int = 0
    """The entry by which somebody took note of a moved clock."""
    struck: dict[int, int] = field(default_factory=dict)
    """Entries struck out → the entry that struck them."""
    closed: datetime | None = None
    gone: str = ""
    """Where the batch was transferred to, if it is no longer active here."""
    started_at: dict[int, datetime] = field(default_factory=dict)
    entries: list[Entry] = field(default_factory=list)
    """Every entry so far, struck ones too."""
    by_kind: dict[str, list[Entry]] = field(default_factory=dict, compare=False, repr=False)
    """Kind → its entries, in their order: most questions are about a few of many thousands."""
    afterwards: tuple[str, ...] = field(default=(), compare=False)
    """What the shop learned of it since it was closed or transferred, in words, set by the shop."""
    damage: str = field(default="", compare=False)
    """What in its record cannot be read and what to do, set by the shop; empty if all can be read."""

    def keep_entry(self, entry: Entry) -> None:
        self.entries.append(entry)
        self.by_kind.setdefault(entry.kind, []).append(entry)

    def list_entries(self, *kinds: str) -> list[Entry]:
        """Those of some kinds, in their order, struck ones too."""
        return sorted((entry for kind in kinds for entry in self.by_kind.get(kind, ())), key=attrgetter("seq"))

    def format_citation(self, seq: int) -> str:
        """An entry of this batch as others cite it, whatever the batch is named there."""
        return f"{self.entries[0].hash[:16]} {seq}"

    @property
    def expected(self) -> Checklist:
        """The checklist with the yields that it is planned by."""
        return expect(self.checklist, self.earlier)

    def operation(self, op: int) -> Operation:
        return self.checklist.ops[op]

    def find_operation(self, run: Run) -> Operation:
        """The operation of a run, with the work offset of its carrier."""
        load = self.loads[run.load]
        return self.checklist.operation_for(run.op, load.carrier, load.carrier_number, run.station)

    def find_mark(self, run: Run, key: str, step: Do) -> LineMark | None:
        """What says that a step is done: of the set-up once for all its runs, else by each run."""
        return (self.setups[run.setup].marks if step.at == "setup" else run.marks).get(key)

    def list_stations_for(self, op: int) -> tuple[str, ...]:
        """Stations that can do an operation: those set up for it first, then in checklist order."""
        stations = self.checklist.ops[op].stations
        if len(stations) == 1:
            return stations
        ready = {one for one in stations if (setup := self.find_setup(one)) is not None and setup.op == op}
        return tuple(sorted(stations, key=lambda one: one not in ready))

    def present(self, load: Load) -> tuple[int, ...]:
        """The pieces now on the load, in the order of its places."""
        on = self.on.get(load.number, set())
        return tuple(piece for piece in load.pieces if piece in on)

    def may_stay_in_place(self, load: int | None, to: str) -> bool:
        """Whether pieces with this outcome stay in their place until the carrier is emptied."""
        return load in self.loads and to in ("scrap", "hold") and self.find_carrier(load or 0).holds_fast

    def sitting(self, load: Load, where: Where | None = None) -> tuple[int, ...]:
        """Held and scrapped pieces (or one kind of them) still in place on the load's carrier."""
        places = ((piece, self.places[piece]) for piece in load.pieces)
        return tuple(
            piece
            for piece, place in places
            if place.sits and place.load == load.number and where in (None, place.where)
        )

    def format_sitting_pieces(self, load: Load, *, waiting: bool = True) -> str:
        """``13 waiting, 1 scrap (B2), 1 on hold (A1) still on the carrier``; empty where none is.

        Waiting are those whose load is in one place while some of it go back by themselves; left out without `waiting`.
        """
        others = len(self.present(load)) - len(self.find_next_pieces(load)) if waiting else 0
        said = [f"{others} waiting"] if others else []
        for where, word in (("scrap", "scrap"), ("hold", "on hold")):
            pieces = self.sitting(load, where)  # type: ignore[arg-type]
            names = " ".join(filter(None, (self.format_slot(load, piece) for piece in pieces)))
            said += [f"{len(pieces)} {word}" + (f" ({names})" if names else "")] if pieces else []
        return f"{', '.join(said)} still on the carrier" if said else ""

    def find_next_pieces(self, load: Load) -> tuple[int, ...]:
        """The pieces that the load's next run is about: all on it, or those of the detour."""
        present = self.present(load)
        done = self.early.get(load.at, ()) if load.at is not None else ()
        if not load.detours and not done:
            return present
        among = load.detours[-1].pieces if load.detours else present
        return tuple(piece for piece in present if piece in among and piece not in done)

    def find_turn(self, piece: int, op: int | None) -> int | None:
        """The operation that a piece really goes to, where it would go to this one by the route: an earlier one that it
        was let past, or a later one if it has passed this before its turn.
        """
        turn = self.turn.get(piece)
        if turn is not None and (op is None or op > turn):
            return turn
        while op is not None and piece in self.early.get(op, ()):
            op = self.checklist.after(op)
        return op

    def waiting(self, op: int, rework: str = "") -> list[int]:
        """Pieces waiting loose for an operation, longest first."""
        found = [
            (place.seq, piece)
            for piece, place in self.places.items()
            if place.where == "waiting" and place.op == op and place.rework == rework
        ]
        return [piece for _, piece in sorted(found)]

    def list_finished(self) -> list[int]:
        """Pieces that have passed all operations, first to last."""
        found = ((place.seq, piece) for piece, place in self.places.items() if place.where == "finished")
        return [piece for _, piece in sorted(found)]

    def list_waiting_pools(self) -> list[tuple[int, str, int]]:
        """(operation, rework route, how many) of all pieces waiting loose, in the order of the route."""
        return sorted(
            (op, rework, count) for (where, op, rework), count in self.tally.items() if where == "waiting" and count
        )

    def total(self, where: Where) -> int:
        return sum(count for (place, _, _), count in self.tally.items() if place == where)

    def count_lost(self) -> int:
        """Nonconforming pieces that will not fill the order: scrapped, regraded or returned."""
        return sum(map(self.total, LOST))

    def count_usable(self) -> int:
        """Pieces that may still fill the order, or do."""
        return sum(map(self.total, _USABLE))

    @property
    def started(self) -> int:
        return len(self.places)

    def list_live_loads(self) -> list[Load]:
        return [load for load in self.loads.values() if load.dissolved is None]

    def list_open_runs(self) -> list[Run]:
        return [self.runs[load.run] for load in self.list_live_loads() if load.run is not None]

    def find_setup(self, station: str) -> Setup | None:
        """The set-up that stands on the station, if any."""
        for setup in reversed(self.setups.values()):
            if setup.station == station and not setup.never_made:
                return setup if setup.stands else None
        return None

    def list_open_waivers(self, load: Load | None = None) -> list[Waiver]:
        """Waivers not closed; of one load, those that came along with any of its pieces."""
        found = [waiver for waiver in self.waivers.values() if not waiver.closed]
        if load is None:
            return found
        pieces = set(load.pieces)
        return [waiver for waiver in found if waiver.pieces & pieces or self.runs[waiver.run].load == load.number]

    def list_open_differences(self) -> list[CountDifference]:
        return [difference for difference in self.differences.values() if not difference.resolved]

    def list_open_suspect_gauges(self) -> list[SuspectGauge]:
        """Those that a lead has not decided on."""
        return [one for one in self.suspect_gauges.values() if not one.settled]

    def list_open_out_of_limits(self, key: ProofKey | None = None) -> list[OutOfLimits]:
        """Undecided readings out of limits, the oldest first; with a key, those at that gate."""
        return [one for one in self.out.values() if one.open and key in (None, one.key)]

    def find_last_result(self, piece: int) -> PieceResult | None:
        """How a piece came out of the operation where it was last counted, or stated to be."""
        counted = [(run.count.seq, run) for run in self.runs.values() if run.count is not None and piece in run.pieces]
        if counted:
            run = max(counted, key=lambda one: one[0])[1]
            assert run.count is not None
            marks = [mark.to for mark in run.count.marks if piece in mark.pieces]
            return PieceResult(run.op, run.load, marks[0] if marks else "good")
        told = self.late.last(piece) if self.late is not None else None
        return PieceResult(told[0], 0, told[1]) if told is not None else None

    def counts(self) -> Iterator[tuple[int, str, Mapping[int, str]]]:
        """(operation, rework route, piece → outcome) of all counts, the stated ones first."""
        for op, said in (self.late.counted if self.late is not None else {}).items():
            yield op, "", said
        for run in self.runs.values():
            if run.count is not None:
                marked = {piece: mark.to for mark in run.count.marks for piece in mark.pieces}
                yield run.op, run.rework, {piece: marked.get(piece, "good") for piece in run.pieces}

    def find_rework_under_way(self, piece: int) -> tuple[str, int]:
        """The rework that keeps a piece apart, and its next operation there; empty if none."""
        place = self.places[piece]
        if place.where != "load":
            return (place.rework, place.op) if place.rework else ("", 0)
        load = self.loads[place.load]
        on = [(one.rework, one.at) for one in reversed(load.detours) if piece in one.pieces] + [(load.rework, load.at)]
        return next(((id, at or 0) for id, at in on if self.checklist.is_apart(id, at)), ("", 0))

    def owes(self, piece: int) -> str:
        """The rework due: the route a piece was sent to and has not started; empty if none."""
        id, op = self.find_rework_under_way(piece)
        route = self.checklist.rework(id) if id else None
        return id if route is not None and (self.places[piece].where == "hold" or op == route.back_to) else ""

    def find_op_reached(self, piece: int) -> int:
        """The operation a held piece has come to: where it was found, or where it was in mid-rework."""
        place = self.places[piece]
        return self.found.get(piece, place.op) if place.on else place.op

    def list_leg_ops(self, load: Load) -> tuple[int, ...]:
        """The operations for which a load stays on its carrier, without rework detours."""
        return self.checklist.leg_of(load.first_op, load.rework).ops

    def is_rework_in_place(self, load: Load, route: Rework, found: int) -> bool:
        """Whether pieces rejected at an operation can be reworked on their load's carrier."""
        return self.checklist.may_ride(route, found, load.first_op, load.rework)

    def is_at_work(self, load: Load) -> bool:
        """Whether a run of the whole load is under way, not of a detour."""
        return load.run is not None and self.runs[load.run].op == load.next_op and not load.detours

    def list_detour_ops(self, load: Load, detour: Detour) -> tuple[int, ...]:
        """The operations of a detour, from its first to the one that found the pieces."""
        ops = self.checklist.list_way(detour.rework) if detour.rework else self.list_leg_ops(load)
        ahead = load.next_op if load.early else None  # what the load was let past, all pass together
        return tuple(op for op in ops if op <= detour.found and (ahead is None or op < ahead or op in load.early))

    def held(self) -> dict[int, PiecePlace]:
        return {piece: place for piece, place in self.places.items() if place.where == "hold"}

    def find_next_op(self, piece: int) -> int | None:
        """The operation a piece in work is in or goes to next; None if it only waits for its load."""
        place = self.places[piece]
        if place.where != "load":
            return place.op
        load = self.loads[place.load]
        detours = [*load.behind, *reversed(load.detours)]
        own = next((one.at for one in detours if piece in one.pieces and one.at is not None), None)
        return own or load.next_op or self.checklist.after(self.list_leg_ops(load)[-1], load.rework)

    def find_carrier(self, load: int) -> Carrier:
        return self.checklist.carrier(self.loads[load].carrier)

    def find_rework(self, load: Load) -> Rework | None:
        """The rework route of the pieces of a load that are at work now; None on the ordinary route."""
        id = load.detours[-1].rework if load.detours else load.rework
        route = self.checklist.rework(id) if id else None
        over = route is not None and route.ops and load.at is not None and load.at > route.ops[-1]
        return None if over else route

    def format_op_title(self, load: Load, op: int, *, returns: bool = False) -> str:
        """The title of an operation for a load, marked if it is rework.

        Args:
            returns: whether rework says where its pieces return to: the operation that found them (CBP-52).
        """
        title = self.checklist.ops[op].title
        if self.find_rework(load) is None:
            return title
        sent = {load.detours[-1].found} if load.detours else {self.found.get(piece, 0) for piece in self.present(load)}
        ahead = sorted(found for found in sent if found > op) if returns else []
        back = f", back to op {' and '.join(map(str, ahead))}" if ahead else ""
        return f"rework{back}: {title}"

    def format_carrier(self, load: Load) -> str:
        return self.checklist.carrier(load.carrier).label(load.carrier_number)

    def format_carrier_of_all(self, load: Load) -> str:
        """``Pallet 3 of 6``: which of the carriers there are."""
        return f"{self.format_carrier(load)} of {self.checklist.carrier(load.carrier).count}"

    def format_load(self, number: int) -> str:
        """A load's name for people: ``Pallet 1 (load 3)``."""
        return f"{self.format_carrier(self.loads[number])} (load {number})"

    def format_slot(self, load: Load, piece: int) -> str:
        """The name of the piece's place on the carrier; empty on one without places."""
        positions = self.checklist.carrier(load.carrier).positions
        return positions[load.slots.index(piece)] if positions else ""
