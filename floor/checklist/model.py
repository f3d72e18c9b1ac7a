"""The checklist: the route of one part at one revision, as stated in its file.

Everything is frozen and strict. Parts of the file refer to each other (station, carrier, caution, clock …) by name;
`floor.checklist.rules` checks that every name exists.
"""

from collections.abc import Iterable
from dataclasses import field
from datetime import date
from functools import cached_property
from typing import Annotated, Literal, get_args

from floor.checklist.consumables import AnyConsumable
from floor.checklist.field_types import GivenId, Id, Limits, Strict, Tagged, Text, WholeNumber, read_defaults
from floor.checklist.gates import GATE_KINDS, Gate, Phase, Probed, ToolLoaded
from floor.checklist.units import (
    Angle,
    Coordinate,
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

ToolKind = Literal[
    "face mill", "fly cutter", "end mill", "ball mill", "V-tool", "chamfer mill", "drill", "reamer", "tap"
]
"""How a tool removes metal; the kinds of `floor.figures.cutting`, which opening a record does not load."""
ToolMaterial = Literal["high-speed steel", "carbide"]
WorkMaterial = Literal[
    "aluminum",
    "brass",
    "bronze",
    "copper",
    "mild steel",
    "alloy steel",
    "tool steel",
    "stainless steel",
    "cast iron",
    "titanium",
    "plastic",
]
BEFORE_CYCLE: tuple[Phase, ...] = ("arrive", "setup", "load")
PHASES: tuple[Phase, ...] = (*BEFORE_CYCLE, "cycle", "after")
MOST_PIECES = 5000
"""Most pieces in a batch, and so on a carrier."""
SignalWord = Literal["DANGER", "WARNING", "CAUTION", "NOTICE"]
SIGNAL_WORDS: tuple[SignalWord, ...] = get_args(SignalWord)
"""Most serious first."""


class PartInfo(Strict):
    """The part and its drawing."""

    number: GivenId
    name: Text
    revision: GivenId
    revised: date
    drawing: Text = ""
    material: Text = ""
    work_material: WorkMaterial | None = None
    """What is cut, by its family: surface speeds and power of the tools are checked by it."""
    purpose: Text = ""
    units: Literal["inch", "metric"] = "inch"
    notice: Annotated[Text, Limits(min_length=20)]
    """The statement that local codes, the maker's data sheet and licensed practice govern."""


class Caution(Strict):
    """A hazard, its consequence and how to avoid it, under a signal word as ANSI Z535.4 defines it."""

    word: SignalWord
    hazard: Annotated[Text, Limits(max_length=76)]
    consequence: Annotated[Text, Limits(max_length=76)] = ""
    avoid: Annotated[Text, Limits(max_length=76)]
    source: Annotated[Text, Limits(min_length=3)]


class Station(Strict):
    """A machine, a bench or an outside shop, with its limits."""

    id: GivenId
    name: Text
    kind: Literal["machine", "bench", "oven", "tank", "booth", "outside"] = "machine"
    runs_at_once: Annotated[int, Limits(ge=1, le=1000)] = 1
    """Loads it holds at once; or its places, if some carriers take several."""
    carrier_places: dict[Id, Annotated[int, Limits(ge=1, le=1000)]] = field(default_factory=dict)
    """Carrier kind → places one carrier takes: `{ pallet = 3 }`; one if not named."""
    cycles_at_once: Annotated[int, Limits(ge=1, le=1000)] | None = None
    """Cycles that can run at once. Default: one at a machine, elsewhere as many as loads."""
    speed_limit: Speed | None = None
    power_limit: Power | None = None
    temperature_limit: Temperature | None = None
    offsets: tuple[Text, ...] = ()
    carrier_offsets: dict[Id, tuple[Text, ...]] = field(default_factory=dict)
    """Carrier kind → work offset of each carrier, by number: `{ pallet = ["G54", "G55"] }`."""
    source: Text = ""
    """Source of the limits."""
    program_folder: Text = ""
    """Where the programs for its control lie: a folder of this computer, or one in the shop's folder."""
    control: dict[Id, Text] = field(default_factory=dict)
    """How its control reads what controls read differently: names and values of `floor program --set`."""

    @property
    def most_cycles(self) -> int:
        return self.cycles_at_once or (1 if self.kind == "machine" else self.runs_at_once)

    def places_of(self, carrier: str) -> int:
        """How many places a carrier of this kind takes."""
        return self.carrier_places.get(carrier, 1)

    def offset_of(self, carrier: str, number: int) -> str:
        """The work offset of a carrier here; empty if carriers have none of their own."""
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
    """Between two pieces: cutter plus web."""
    margin: Length
    """Kept free along every edge."""
    clamp: PositiveLength | None = None
    """Width of the clamp strips, cutter path included; from the edge, not from the margin."""
    clamp_at: Literal["both ends", "one end", "both sides", "one side", "all round"] = "both ends"
    """Where the clamps are: ends run across `length`, sides along it."""


class Carrier(Strict):
    """A kind of carrier: what pieces ride on, how many places it has, and how many there are."""

    id: GivenId
    name: Text
    kind: Literal["pallet", "tray", "vise", "rack", "tote"]
    capacity: Annotated[int, Limits(ge=1, le=MOST_PIECES)]
    rows: Annotated[int, Limits(ge=1, le=26)] | None = None
    columns: Annotated[int, Limits(ge=1, le=99)] | None = None
    count: Annotated[int, Limits(ge=1, le=1000)]
    bed: Blank | None = None
    """Room for the pieces, to check that they fit; left out if they hang, stand on pegs or lie in a heap."""
    fast: bool | None = None
    """Pieces are bonded or clamped: held and scrapped ones stay in place until the carrier is emptied. Default: true
    for a pallet and a vise."""

    @property
    def holds_fast(self) -> bool:
        return self.kind in ("pallet", "vise") if self.fast is None else self.fast

    @cached_property
    def positions(self) -> tuple[str, ...]:
        """Names of the places, row by row: A1, A2 … B1 …; empty if it has none."""
        if self.rows is None or self.columns is None:
            return ()
        places = [f"{chr(65 + row)}{column + 1}" for row in range(self.rows) for column in range(self.columns)]
        return tuple(places[: self.capacity])

    def label(self, number: int) -> str:
        return f"{self.name} {number}"


class Tool(Strict):
    """A tool's card: what it is, how to run it and how long it lasts."""

    number: Annotated[int, Limits(ge=1, le=999)]
    name: Text
    station: Id
    kind: ToolKind | None = None
    material: ToolMaterial | None = None
    """Of the edge."""
    diameter: PositiveLength | None = None
    """Largest cutting diameter."""
    flutes: Annotated[int, Limits(ge=1, le=100)] | None = None
    flute_length: PositiveLength | None = None
    angle: Angle | None = None
    """Included angle, of a pointed tool or a drill point."""
    tip: Length | None = None
    """Width of the flat on a pointed tool."""
    edge_radius: PositiveLength | None = None
    """How sharp the edge is; else a usual one for its material."""
    speed: Speed | None = None
    left_hand: bool = False
    """Whether it cuts with the spindle turning the other way (M4)."""
    feed: Feed | None = None
    plunge: Feed | None = None
    """Its feed straight down, where the program has another."""
    depth: PositiveLength | None = None
    """Of one pass, stroke or peck, as programmed."""
    width: PositiveLength | None = None
    """Of one pass, as programmed; not stated, the tool's full width."""
    stroke: PositiveLength | None = None
    """Width that a pointed tool is to leave at the surface."""
    pitch: PositiveLength | None = None
    """Of a tap."""
    chip_load: PositiveLength | None = None
    """Feed per tooth; with one tooth, per turn."""
    least_chip: PositiveLength | None = None
    """Thinnest chip it cuts instead of rubbing; else by the radius of its edge."""
    least_depth: PositiveLength | None = None
    """A shallower pass skims."""
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
    """A span of a clock in which work may go on, both ends included."""

    earliest: Time | None = None
    latest: Time | None = None


class Clock(Strict):
    """A dwell that runs whether or not anyone watches: cure, recoat window, pot life, soak."""

    id: GivenId
    starts: Text
    """What starts it in this operation: ``start``, ``end`` or ``release`` of the run, or ``step NAME``."""
    per: Literal["piece", "batch"] = "piece"
    """``batch``: one clock for the whole batch, such as the pot life of a mix."""
    windows: Annotated[tuple[Window, ...], Limits(min_length=1)]
    source: Annotated[Text, Limits(min_length=3)]


class Times(Strict):
    """Times of the operation, for the plan: attended unless stated otherwise."""

    setup: Time | None = None
    before: Time | None = None
    before_piece: Time | None = None
    cycle: Time | None = None
    cycle_piece: Time | None = None
    cycle_attended: bool = False
    turn: Time | None = None
    """Manual work each time the program stops for it, such as turning the pieces over; not part of `cycle`."""
    turn_piece: Time | None = None
    after: Time | None = None
    after_piece: Time | None = None

    def seconds(self, name: Literal["setup", "before", "cycle", "turn", "after"], pieces: int) -> float:
        """Planned duration of one part of a run of so many pieces."""
        load = getattr(self, name)
        piece = getattr(self, f"{name}_piece", None)
        return (load.base if load else 0.0) + (piece.base if piece else 0.0) * pieces


class Do(Strict):
    """A step to do."""

    do: Annotated[Text, Limits(min_length=3)]
    id: Id = ""
    at: Phase = "load"
    cautions: tuple[Id, ...] = ()
    detail: Text = ""
    skip: bool = True
    """Whether it may be skipped, with a reason."""
    cycle: Literal["", "stands", "goes on"] = ""
    """In the cycle: at this step the program stops for manual work, such as turning the pieces over; or goes on."""
    while_running: Id = ""
    """Name of a batch-wide clock: the step is not needed while that is inside its window (a mix still good)."""

    def title(self) -> str:
        return self.do


Step = Annotated[Do | Gate, Tagged("gate", {"no gate": Do, **GATE_KINDS}, untagged="no gate")]


class Reason(Strict):
    """A reason code for scrap, rework or hold."""

    code: Annotated[Id, Limits(min_length=1, max_length=24)]
    text: Text
    to: Literal["scrap", "rework", "hold"] = "scrap"
    rework: Id = ""
    """For ``to = "rework"``: the rework route."""
    share: Annotated[float, Limits(gt=0, le=1)] | None = None
    """For ``to = "rework"``: expected share of the pieces first counted here."""
    caused_at: int | None = None
    """The operation that causes it, if known."""
    needs_note: bool = False


class Rework(Strict):
    """Where pieces go back to, how often, and which steps only they pass."""

    id: GivenId
    name: Text
    back_to: int
    ops: tuple[int, ...] = ()
    """The operations it passes, starting with the one it goes back to; left out: every one from there on."""
    rides: Literal["in place", "own load"] = "in place"
    """In place: on their carrier with everything on it, as far as it has come; the others wait. Own load: on any free
    carrier, while the others go on."""
    passes: Annotated[int, Limits(ge=1, le=9)] = 1
    steps: tuple[Do, ...] = ()
    expected_yield: Annotated[float, Limits(gt=0, le=1)] = 0.9


class ProgramLimits(Strict):
    """Where a program may go, in the work offset of its carrier."""

    lowest_z: Coordinate | None = None
    """The through-cut allowance: no move goes below it."""
    x_low: Coordinate | None = None
    x_high: Coordinate | None = None
    y_low: Coordinate | None = None
    y_high: Coordinate | None = None
    any_length_offset: bool = False
    """Whether a tool may be used with an H that is not its number."""


class Operation(Strict):
    """One numbered step of the route, at one station, on one kind of carrier."""

    op: Annotated[int, Limits(ge=1, le=9999)]
    title: Annotated[Text, Limits(min_length=2, max_length=40)]
    station: Id
    also_at: tuple[Id, ...] = ()
    """Other stations that can do it with the same program and tools, each with its own set-up and offsets."""
    carrier: Id
    rework_only: bool = False
    """Whether only rework that names it passes it: extra work with its own gates and times."""
    regroup: bool = False
    """Start a new leg here on the same kind of carrier: the pieces come off and are loaded again."""
    program: Text = ""
    program_file: Text = ""
    """Its file in the station's program folder: read and compared with the operation before it is proved."""
    program_limits: ProgramLimits | None = None
    coolant: Literal["", "dry", "air", "mist", "flood"] = ""
    """Coolant on the cut, which the workholding must stand."""
    through: bool = False
    """Whether the tool goes through the work, as when pieces are cut free."""
    cycle: bool = True
    """Whether there is a cycle to start and end; without one, the steps are the work."""
    loads_per_cycle: Annotated[int, Limits(ge=1, le=1000)] = 1
    """Most loads in one cycle: two pallets on one bed, cut by one program."""
    start: Text = "Start the cycle"
    end: Text = "Confirm cycle complete"
    start_cautions: tuple[Id, ...] = ()
    end_cautions: tuple[Id, ...] = ()
    """Read when the cycle is over and before that is confirmed: hot work comes out only then."""
    count_cautions: tuple[Id, ...] = ()
    may_outlast_shift: bool = False
    in_one_go: bool = False
    """Whether its manual work must not be interrupted by a break or the end of a shift."""
    time: Times = field(default_factory=Times)
    expected_yield: Annotated[float, Limits(gt=0, le=1)] = 1.0
    yield_weight: Annotated[float, Limits(gt=0, le=1e6)] = 30.0
    """How many pieces of experience are behind the expected yield."""
    steps: tuple[Step, ...] = ()
    clocks: tuple[Clock, ...] = ()
    tools: tuple[ToolUse, ...] = ()
    reasons: tuple[Reason, ...] = ()

    @cached_property
    def numbered_steps(self) -> tuple[tuple[str, Do | Gate], ...]:
        """The steps in walking order, each with its stable key within the operation."""
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
    def event_cautions(self) -> dict[str, tuple[Id, ...]]:
        """Field → the cautions on a line that is no step: the start, the end, the count."""
        found = {
            "start_cautions": self.start_cautions,
            "end_cautions": self.end_cautions,
            "count_cautions": self.count_cautions,
        }
        return {name: cautions for name, cautions in found.items() if cautions}

    @property
    def turns(self) -> int:
        """How often the program stops during the cycle for manual work."""
        return sum(isinstance(step, Do) and step.cycle == "stands" for step in self.steps)

    @property
    def stations(self) -> tuple[str, ...]:
        """Every station that can do it, the usual one first."""
        return (self.station, *self.also_at)

    def for_offset(self, offset: str) -> "Operation":
        """The operation for a carrier with this work offset: it probes that offset."""
        steps = tuple(
            step.of_carrier(offset) if isinstance(step, Probed) and not step.offset else step for step in self.steps
        )
        return Operation(**{name: getattr(self, name) for name in read_defaults(self)} | {"steps": steps})

    def gate(self, key: str) -> Gate | None:
        """The gate with this key; None if there is none or it is a plain step."""
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
    """Usual order quantity, offered when a batch is opened."""

    @cached_property
    def ops(self) -> dict[int, Operation]:
        return {operation.op: operation for operation in self.operations}

    @cached_property
    def _for_offset(self) -> dict[tuple[int, str], Operation]:
        return {}

    def operation_for(self, op: int, carrier: str, number: int, station: str = "") -> Operation:
        """An operation for one carrier: with that carrier's work offset at the station."""
        operation = self.ops[op]
        offset = self.station(station or operation.station).offset_of(carrier, number)
        if not offset:
            return operation
        if (op, offset) not in self._for_offset:
            self._for_offset[op, offset] = operation.for_offset(offset)
        return self._for_offset[op, offset]

    @cached_property
    def route(self) -> tuple[int, ...]:
        """The operations every piece passes."""
        return tuple(operation.op for operation in self.operations if not operation.rework_only)

    @cached_property
    def legs(self) -> tuple[Leg, ...]:
        """The legs of the route."""
        return self._legs(self.route)

    def _legs(self, ops: Iterable[int]) -> tuple[Leg, ...]:
        """The carrier changed or the operation says ``regroup``: new leg."""
        legs: list[tuple[str, list[int]]] = []
        for op in ops:
            if not legs or legs[-1][0] != self.ops[op].carrier or self.ops[op].regroup:
                legs.append((self.ops[op].carrier, []))
            legs[-1][1].append(op)
        return tuple(Leg(carrier=carrier, ops=tuple(those)) for carrier, those in legs)

    def list_way(self, rework: str = "") -> tuple[int, ...]:
        """The operations pieces pass to the end: the route, or the rework's own from its start plus the rest."""
        found = self.rework(rework) if rework else None
        if found is None:
            return self.route
        own = found.ops or (found.back_to,)
        return (*own, *(op for op in self.route if op > own[-1]))

    def after(self, op: int, rework: str = "") -> int | None:
        """The operation after this one, on the route or the path of a rework; None after the last."""
        return next((one for one in self.list_way(rework) if one > op), None)

    def own_way(self, rework: str) -> bool:
        """Whether a rework skips operations of the route or has some of its own."""
        way = self.list_way(rework)
        return way != tuple(op for op in self.route if op >= way[0])

    def is_apart(self, rework: str, op: int | None) -> bool:
        """Whether reworked pieces at this next operation are on a different path than all others.

        Until their paths join, they are not loaded with others. At its first operation a rework has steps of its own.
        """
        found = self.rework(rework) if rework else None
        if found is None or op is None:
            return False
        return op == found.back_to or [one for one in self.list_way(rework) if one >= op] != [
            one for one in self.route if one >= op
        ]

    def may_mend(self, rework: Rework, found: int) -> bool:
        """Whether pieces found at an operation can take a rework: it must pass every operation they have not
        finished."""
        return rework.back_to <= found and set(self.list_way(rework.id)) >= {op for op in self.route if op >= found}

    def leg_of(self, op: int, rework: str = "") -> Leg:
        """The leg of a load from an operation on; a rework with its own operations has its own legs."""
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
        """The tools a station may hold: those of its operations, and of operations it can also do."""
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
