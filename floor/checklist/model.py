"""The checklist: the route of one part at one revision, as its file states it.

Everything is frozen and strict. A reference from one part of the file to another (a station, a carrier, a
caution, a clock …) is a name; `floor.checklist.rules` checks that each one leads somewhere.
"""

from collections.abc import Iterable
from dataclasses import field
from datetime import date
from functools import cached_property
from typing import Annotated, Literal, get_args

from floor.checklist.base import GivenId, Id, Limits, Strict, Tagged, Text, WholeNumber, read_defaults
from floor.checklist.consumables import AnyConsumable
from floor.checklist.gates import GATE_KINDS, Gate, Phase, Probed, ToolLoaded
from floor.checklist.units import (
    AnyMeasure,
    Feed,
    Length,
    Life,
    PositiveLength,
    Power,
    Speed,
    SurfaceSpeed,
    Temperature,
    Time,
)

BEFORE_CYCLE: tuple[Phase, ...] = ("arrive", "setup", "load")
PHASES: tuple[Phase, ...] = (*BEFORE_CYCLE, "cycle", "after")
MOST_PIECES = 5000
"""What a batch, and so a carrier, holds at most."""
SignalWord = Literal["DANGER", "WARNING", "CAUTION", "NOTICE"]
SIGNAL_WORDS: tuple[SignalWord, ...] = get_args(SignalWord)
"""The gravest first."""


class PartInfo(Strict):
    """What is made, and from which drawing."""

    number: GivenId
    name: Text
    revision: GivenId
    revised: date
    drawing: Text = ""
    material: Text = ""
    purpose: Text = ""
    units: Literal["inch", "metric"] = "inch"
    notice: Annotated[Text, Limits(min_length=20)]
    """The line that local codes, the maker's data sheet and licensed practice govern."""


class Caution(Strict):
    """A hazard, its consequence and how to avoid it, under a signal word as ANSI Z535.4 defines it."""

    word: SignalWord
    hazard: Annotated[Text, Limits(max_length=76)]
    consequence: Annotated[Text, Limits(max_length=76)] = ""
    avoid: Annotated[Text, Limits(max_length=76)]
    source: Annotated[Text, Limits(min_length=3)]


class Station(Strict):
    """A machine, a bench or a shop outside, with the limits it has."""

    id: GivenId
    name: Text
    kind: Literal["machine", "bench", "oven", "tank", "booth", "outside"] = "machine"
    runs_at_once: Annotated[int, Limits(ge=1, le=1000)] = 1
    """Loads that may be there together; its places, where some carriers take several."""
    carrier_places: dict[Id, Annotated[int, Limits(ge=1, le=1000)]] = field(default_factory=dict)
    """Carrier kind → how many of the places one carrier of it takes: `{ pallet = 3 }`; one where it is not named."""
    cycles_at_once: Annotated[int, Limits(ge=1, le=1000)] | None = None
    """Cycles that may run there together: where it is not said one at a machine, and elsewhere as many as loads."""
    speed_limit: Speed | None = None
    power_limit: Power | None = None
    temperature_limit: Temperature | None = None
    offsets: tuple[Text, ...] = ()
    carrier_offsets: dict[Id, tuple[Text, ...]] = field(default_factory=dict)
    """Carrier kind → the work offset of each carrier of it, by number: `{ pallet = ["G54", "G55"] }`."""
    source: Text = ""
    """Where the limits come from."""

    @property
    def most_cycles(self) -> int:
        return self.cycles_at_once or (1 if self.kind == "machine" else self.runs_at_once)

    def places_of(self, carrier: str) -> int:
        """How many of its places a carrier of this kind takes."""
        return self.carrier_places.get(carrier, 1)

    def offset_of(self, carrier: str, number: int) -> str:
        """The work offset that belongs to a carrier here; empty where none has its own."""
        offsets = self.carrier_offsets.get(carrier, ())
        return offsets[number - 1] if 0 < number <= len(offsets) else ""


class Blank(Strict):
    """A stock blank or the bed of a carrier, and how the pieces lie on it, for the layout."""

    length: PositiveLength
    width: PositiveLength
    piece_length: PositiveLength | None = None
    piece_width: PositiveLength | None = None
    piece_diameter: PositiveLength | None = None
    gap: Length
    """Between two pieces: cutter and web."""
    margin: Length
    """Kept free along every edge."""
    clamp: PositiveLength | None = None
    """Width of the strips that clamps take, cutter path included; counted from the edge, not from the margin."""
    clamp_at: Literal["both ends", "one end", "both sides", "one side", "all round"] = "both ends"
    """Where the clamps sit: ends are the short edges of a lengthwise blank (across `length`), sides run along it."""


class Carrier(Strict):
    """A kind of carrier: what pieces ride on, how many places it has and how many of it there are."""

    id: GivenId
    name: Text
    kind: Literal["pallet", "tray", "vise", "rack", "tote"]
    capacity: Annotated[int, Limits(ge=1, le=MOST_PIECES)]
    rows: Annotated[int, Limits(ge=1, le=26)] | None = None
    columns: Annotated[int, Limits(ge=1, le=99)] | None = None
    count: Annotated[int, Limits(ge=1, le=1000)]
    bed: Blank | None = None
    """Room for the pieces, to see whether so many fit; left out where they hang, stand on pegs or lie in a heap."""
    fast: bool | None = None
    """Pieces are bonded or clamped: what is held or scrapped stays in its place until the carrier is emptied. Left out:
    so on a pallet and in a vise."""

    @property
    def holds_fast(self) -> bool:
        return self.kind in ("pallet", "vise") if self.fast is None else self.fast

    @cached_property
    def positions(self) -> tuple[str, ...]:
        """Names of the places, row by row: A1, A2 … B1 …; empty where pieces ride loose."""
        if self.rows is None or self.columns is None:
            return ()
        places = [f"{chr(65 + row)}{column + 1}" for row in range(self.rows) for column in range(self.columns)]
        return tuple(places[: self.capacity])

    def label(self, number: int) -> str:
        return f"{self.name} {number}"


class Tool(Strict):
    """The card of a tool: what it is, how it is run and how long it lasts."""

    number: Annotated[int, Limits(ge=1, le=999)]
    name: Text
    station: Id
    diameter: Length | None = None
    flutes: Annotated[int, Limits(ge=1, le=100)] | None = None
    angle: AnyMeasure | None = None
    tip: Length | None = None
    speed: Speed | None = None
    feed: Feed | None = None
    chip_load: Length | None = None
    """Feed per tooth; with one tooth, per turn."""
    surface_speed: SurfaceSpeed | None = None
    life: Life | None = None
    stick_out: Length | None = None
    """From the holder's face to the tip."""
    source: Text = ""


class ToolUse(Strict):
    """How much of a tool's life one piece takes."""

    tool: int
    per_piece: Life


class Window(Strict):
    """A span of a clock in which the work may go on; both ends belong to it."""

    earliest: Time | None = None
    latest: Time | None = None


class Clock(Strict):
    """A dwell that goes on whether or not anyone watches: cure, recoat window, pot life, soak."""

    id: GivenId
    starts: Text
    """``start``, ``end``, ``release`` of the run, or ``step NAME``: the event in this operation that starts it."""
    per: Literal["piece", "batch"] = "piece"
    """``batch``: one clock for all, such as the pot life of a mix."""
    windows: Annotated[tuple[Window, ...], Limits(min_length=1)]
    source: Annotated[Text, Limits(min_length=3)]


class Times(Strict):
    """What the operation takes, for the plan: attended unless it says otherwise."""

    setup: Time | None = None
    before: Time | None = None
    before_piece: Time | None = None
    cycle: Time | None = None
    cycle_piece: Time | None = None
    cycle_attended: bool = False
    turn: Time | None = None
    """Work by hand each time that the program stops for it, as to turn the pieces over; `cycle` is without it."""
    turn_piece: Time | None = None
    after: Time | None = None
    after_piece: Time | None = None

    def seconds(self, name: Literal["setup", "before", "cycle", "turn", "after"], pieces: int) -> float:
        """Planned length of one part of a run of so many pieces."""
        load = getattr(self, name)
        piece = getattr(self, f"{name}_piece", None)
        return (load.base if load else 0.0) + (piece.base if piece else 0.0) * pieces


class Do(Strict):
    """Something to do, kept place of."""

    do: Annotated[Text, Limits(min_length=3)]
    id: Id = ""
    at: Phase = "load"
    cautions: tuple[Id, ...] = ()
    detail: Text = ""
    skip: bool = True
    """Whether it may be skipped with a reason."""
    cycle: Literal["", "stands", "goes on"] = ""
    """In the cycle: with this step the program has stopped for work by hand, as to turn the pieces over; or goes on."""
    while_running: Id = ""
    """Name of a batch-wide clock: while that is inside its window the step is not needed (a mix still good)."""

    def title(self) -> str:
        return self.do


Step = Annotated[Do | Gate, Tagged("gate", {"no gate": Do, **GATE_KINDS}, untagged="no gate")]


class Reason(Strict):
    """A coded cause of scrap, rework or hold."""

    code: Annotated[Id, Limits(min_length=1, max_length=24)]
    text: Text
    to: Literal["scrap", "rework", "hold"] = "scrap"
    rework: Id = ""
    """For ``to = "rework"``: the rework route."""
    share: Annotated[float, Limits(gt=0, le=1)] | None = None
    """For ``to = "rework"``: of all pieces counted here for the first time, those that are expected to need it."""
    caused_at: int | None = None
    """The operation that causes it, where that is known."""
    needs_note: bool = False


class Rework(Strict):
    """Where pieces go back to, with the steps only they pass, and how often."""

    id: GivenId
    name: Text
    back_to: int
    ops: tuple[int, ...] = ()
    """The operations it passes, the one it goes back to first; without, every operation from there on."""
    rides: Literal["in place", "own load"] = "in place"
    """In place: on the carrier they are on, with all that is on it, as far as it has been there; the others wait. On
    their own load, on any free carrier, the others go on without them."""
    passes: Annotated[int, Limits(ge=1, le=9)] = 1
    steps: tuple[Do, ...] = ()
    expected_yield: Annotated[float, Limits(gt=0, le=1)] = 0.9


class Operation(Strict):
    """One numbered step of the route, done at one station while the pieces ride one kind of carrier."""

    op: Annotated[int, Limits(ge=1, le=9999)]
    title: Annotated[Text, Limits(min_length=2, max_length=40)]
    station: Id
    also_at: tuple[Id, ...] = ()
    """Other stations that can do it, with the same program and tools: each with a set-up and offsets of its own."""
    carrier: Id
    rework_only: bool = False
    """Whether only pieces pass it whose rework names it: work of its own at a bench, with its own gates and times."""
    regroup: bool = False
    """Start a new leg here although the carrier is of the same kind: the pieces leave it and are loaded again."""
    program: Text = ""
    coolant: Literal["", "dry", "air", "mist", "flood"] = ""
    """What is on the cut; what holds the work has to stand it."""
    through: bool = False
    """Whether the tool goes through the work, as where pieces are cut free."""
    cycle: bool = True
    """Whether there is a cycle to start and to end; without one, the steps are the work."""
    loads_per_cycle: Annotated[int, Limits(ge=1, le=1000)] = 1
    """How many loads at the station one cycle may take together: two pallets on one bed, cut by one program."""
    start: Text = "Start the cycle"
    end: Text = "Confirm cycle complete"
    may_outlast_shift: bool = False
    in_one_go: bool = False
    """Whether its work by hand may not be interrupted, by a break or the end of a shift."""
    time: Times = field(default_factory=Times)
    expected_yield: Annotated[float, Limits(gt=0, le=1)] = 1.0
    yield_weight: Annotated[float, Limits(gt=0, le=1e6)] = 30.0
    """How many pieces of experience stand behind the expected yield."""
    steps: tuple[Step, ...] = ()
    clocks: tuple[Clock, ...] = ()
    tools: tuple[ToolUse, ...] = ()
    reasons: tuple[Reason, ...] = ()

    @cached_property
    def numbered_steps(self) -> tuple[tuple[str, Do | Gate], ...]:
        """The steps in the order they are walked, each with its stable key within the operation."""
        seen: dict[str, int] = {}
        numbered = []
        for phase in PHASES:
            for step in self.steps:
                if step.at != phase:
                    continue
                base = step.id or (step.gate if not isinstance(step, Do) else f"{phase} step")
                seen[base] = seen.get(base, 0) + 1
                numbered.append((base if step.id else f"{base} {seen[base]}", step))
        return tuple(numbered)

    @property
    def turns(self) -> int:
        """How often the program stops within the cycle for work by hand."""
        return sum(isinstance(step, Do) and step.cycle == "stands" for step in self.steps)

    @property
    def stations(self) -> tuple[str, ...]:
        """Every station that can do it, the usual one first."""
        return (self.station, *self.also_at)

    def for_offset(self, offset: str) -> "Operation":
        """The operation as it is for a carrier with this work offset: the probing is that of its own offset."""
        steps = tuple(
            step.of_carrier(offset) if isinstance(step, Probed) and not step.offset else step for step in self.steps
        )
        return Operation(**{name: getattr(self, name) for name in read_defaults(self)} | {"steps": steps})

    def gate(self, key: str) -> Gate | None:
        """The gate under this key; None where there is none, or a step that is only done."""
        step = self.step(key)
        return None if isinstance(step, Do) else step

    def step(self, key: str) -> Do | Gate | None:
        return next((step for name, step in self.numbered_steps if name == key), None)

    def reason(self, code: str) -> Reason | None:
        return next((reason for reason in self.reasons if reason.code == code), None)


class Leg(Strict):
    """Operations in a row on one kind of carrier."""

    carrier: Id
    ops: tuple[int, ...]


class Checklist(Strict):
    """The route of one part at one revision."""

    format: Annotated[Literal[1], WholeNumber()]
    part: PartInfo
    cautions: dict[Id, Caution] = field(default_factory=dict)
    stations: Annotated[tuple[Station, ...], Limits(min_length=1)]
    carriers: Annotated[tuple[Carrier, ...], Limits(min_length=1)]
    tools: tuple[Tool, ...] = ()
    reworks: tuple[Rework, ...] = ()
    operations: Annotated[tuple[Operation, ...], Limits(min_length=1, max_length=40)]
    blank: Blank | None = None
    consumables: tuple[AnyConsumable, ...] = ()
    order: Annotated[int, Limits(ge=1, le=MOST_PIECES)] | None = None
    """Quantity usually ordered, offered when a batch is opened."""

    @cached_property
    def ops(self) -> dict[int, Operation]:
        return {operation.op: operation for operation in self.operations}

    @cached_property
    def _for_offset(self) -> dict[tuple[int, str], Operation]:
        return {}

    def operation_for(self, op: int, carrier: str, number: int, station: str = "") -> Operation:
        """An operation as one carrier passes it: with the work offset that belongs to the carrier at the station."""
        operation = self.ops[op]
        offset = self.station(station or operation.station).offset_of(carrier, number)
        if not offset:
            return operation
        if (op, offset) not in self._for_offset:
            self._for_offset[op, offset] = operation.for_offset(offset)
        return self._for_offset[op, offset]

    @cached_property
    def route(self) -> tuple[int, ...]:
        """The operations that every piece passes."""
        return tuple(operation.op for operation in self.operations if not operation.rework_only)

    @cached_property
    def legs(self) -> tuple[Leg, ...]:
        """The chain of legs of the route."""
        return self._legs(self.route)

    def _legs(self, ops: Iterable[int]) -> tuple[Leg, ...]:
        """A new one where the carrier changes or the operation says ``regroup``."""
        legs: list[tuple[str, list[int]]] = []
        for op in ops:
            if not legs or legs[-1][0] != self.ops[op].carrier or self.ops[op].regroup:
                legs.append((self.ops[op].carrier, []))
            legs[-1][1].append(op)
        return tuple(Leg(carrier=carrier, ops=tuple(those)) for carrier, those in legs)

    def list_way(self, rework: str = "") -> tuple[int, ...]:
        """The operations that pieces pass to the end: the route, or from where a rework starts its own and the rest."""
        found = self.rework(rework) if rework else None
        if found is None:
            return self.route
        own = found.ops or (found.back_to,)
        return (*own, *(op for op in self.route if op > own[-1]))

    def after(self, op: int, rework: str = "") -> int | None:
        """The operation after this one, on the route or the way of a rework; None after the last."""
        return next((one for one in self.list_way(rework) if one > op), None)

    def own_way(self, rework: str) -> bool:
        """Whether a rework leaves operations of the route out, or has some of its own."""
        way = self.list_way(rework)
        return way != tuple(op for op in self.route if op >= way[0])

    def is_apart(self, rework: str, op: int | None) -> bool:
        """Whether pieces of a rework that go to an operation next do not go the way of all others from there on.

        They are not loaded together with others until they do. At its first operation a rework has steps of its own.
        """
        found = self.rework(rework) if rework else None
        if found is None or op is None:
            return False
        return op == found.back_to or [one for one in self.list_way(rework) if one >= op] != [
            one for one in self.route if one >= op
        ]

    def may_mend(self, rework: Rework, found: int) -> bool:
        """Whether pieces found at an operation can take a rework: it passes all they were not through yet."""
        return rework.back_to <= found and set(self.list_way(rework.id)) >= {op for op in self.route if op >= found}

    def leg_of(self, op: int, rework: str = "") -> Leg:
        """The leg that a load rides from an operation on; that of a rework with operations of its own is its own."""
        if (op, rework) not in self._leg_of:
            legs = self._legs(self.list_way(rework)) if self.own_way(rework) else self.legs
            self._leg_of[op, rework] = next(leg for leg in legs if op in leg.ops)
        return self._leg_of[op, rework]

    @cached_property
    def _leg_of(self) -> dict[tuple[int, str], Leg]:
        return {}

    def station(self, id: str) -> Station:
        return next(station for station in self.stations if station.id == id)

    def carrier(self, id: str) -> Carrier:
        return next(carrier for carrier in self.carriers if carrier.id == id)

    def tools_at(self, station: str) -> tuple[Tool, ...]:
        """The tools that may stand in a station: its own, and those of operations that it can do as well."""
        also = {use.tool for one in self.operations if station in one.also_at for use in one.tools}
        also |= {
            step.tool
            for one in self.operations
            if station in one.also_at
            for step in one.steps
            if isinstance(step, ToolLoaded)
        }
        return tuple(tool for tool in self.tools if tool.station == station or tool.number in also)

    def tool(self, number: int) -> Tool | None:
        return next((tool for tool in self.tools if tool.number == number), None)

    def rework(self, id: str) -> Rework | None:
        return next((rework for rework in self.reworks if rework.id == id), None)

    def clock(self, id: str) -> tuple[Operation, Clock] | None:
        for operation in self.operations:
            for clock in operation.clocks:
                if clock.id == id:
                    return operation, clock
        return None
