"""What a shop works with, as stated in a checklist: stations, carriers and the blanks on them, tools."""

from dataclasses import field
from functools import cached_property
from typing import Annotated, Literal

from floor.checklist.field_types import GivenId, Id, Limits, Strict, Text
from floor.checklist.units import (
    Amount,
    Angle,
    AnyMeasure,
    Feed,
    Length,
    Life,
    PositiveLength,
    Power,
    Speed,
    SurfaceSpeed,
    Temperature,
)

ToolKind = Literal[
    "face mill", "fly cutter", "end mill", "ball end mill", "V-tool", "chamfer mill", "drill", "reamer", "tap"
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
MOST_PIECES = 5000
"""Most pieces in a batch, and so on a carrier."""


class Station(Strict):
    """A machine, a bench or an outside shop, with its limits."""

    id: GivenId
    name: Text
    kind: Literal["machine", "bench", "oven", "tank", "booth", "outside"] = "machine"
    runs_at_once: Annotated[int, Limits(ge=1, le=1000)] = 1
    """Loads it holds at once; or its places, if some carriers take several."""
    carrier_places: dict[Id, Annotated[int, Limits(ge=1, le=1000)]] = field(default_factory=dict)
    """Id of a carrier → places one of them takes: `{ pallet = 3 }`; one if not named."""
    cycles_at_once: Annotated[int, Limits(ge=1, le=1000)] | None = None
    """Cycles that can run at once. Default: one at a machine, elsewhere as many as loads."""
    speed_limit: Speed | None = None
    power_limit: Power | None = None
    temperature_limit: Temperature | None = None
    oven_class: Literal["", "A", "B"] = ""
    """By NFPA 86: A takes what gives off flammable vapor, B does not."""
    solvent_limit: Amount | None = None
    """Most solvent in an oven's load, by its plate."""
    exhaust: AnyMeasure | None = None
    """Flow of the exhaust that its plate asks for."""
    offsets: tuple[Text, ...] = ()
    carrier_offsets: dict[Id, tuple[Text, ...]] = field(default_factory=dict)
    """Id of a carrier → work offset of each of them, by number: `{ pallet = ["G54", "G55"] }`."""
    qualified: tuple[Annotated[Text, Limits(min_length=3, max_length=40)], ...] = ()
    """What whoever works here must be qualified for, by the shop's register: training, health surveillance."""
    source: Text = ""
    """Source of the limits."""
    program_folder: Text = ""
    """Where the programs for its control lie: a folder of this computer, or one in the shop's folder."""
    readings_folder: Text = "readings"
    """Where the files of its temperature logger lie, likewise."""
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
    part_used: bool = False
    """Whether pieces are cut from it one by one, as by a saw: only those that are wanted. Left out, a blank is cut up
    whole, as by a laser or on a pallet."""


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
    min_chip: PositiveLength | None = None
    """Thinnest chip it cuts instead of rubbing; else by the radius of its edge."""
    min_depth: PositiveLength | None = None
    """A shallower pass rubs."""
    surface_speed: SurfaceSpeed | None = None
    life: Life | None = None
    stick_out: Length | None = None
    """From the holder's face to the tip."""
    source: Text = ""


class ToolUse(Strict):
    """How much of a tool's life one piece takes."""

    tool: int
    per_piece: Life
