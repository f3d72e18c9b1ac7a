"""One operation of a route, as stated in a checklist: its steps, clocks, times, reasons, and its program's limits."""

from dataclasses import field
from functools import cached_property
from typing import Annotated, Literal

from floor.checklist.equipment import ToolUse
from floor.checklist.field_types import GivenId, Id, Limits, Strict, Tagged, Text, read_defaults
from floor.checklist.gate_base import Lapse, Phase
from floor.checklist.gates import GATE_KINDS, Gate, Probed, ToolLoaded
from floor.checklist.units import Coordinate, Share, Temperature, Time

BEFORE_CYCLE: tuple[Phase, ...] = ("arrive", "setup", "load")
PHASES: tuple[Phase, ...] = (*BEFORE_CYCLE, "cycle", "after")


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
    temperature: Temperature | None = None
    """Of the air that the times hold for, by the data sheet: colder air lengthens `earliest`, nothing shortens it."""
    humidity: Share | None = None
    """Relative humidity of that air: damper air lengthens `earliest`. With neither, no air changes anything."""


class Times(Strict):
    """Times of the operation, for the plan: attended unless stated otherwise."""

    setup: Time | None = None
    """Setting up the station for this operation, once for all loads that follow each other there."""
    before: Time | None = None
    """Handwork of each load before its cycle: clean, load, clamp, probe; without a cycle, the work itself."""
    before_piece: Time | None = None
    """The same for each piece in it; both are added."""
    cycle: Time | None = None
    """The machine's cycle, each time it runs; nobody need be there unless `cycle_attended`."""
    cycle_piece: Time | None = None
    """The same for each piece in it; both are added."""
    cycle_attended: bool = False
    """Whether somebody stays at the machine all through its cycle."""
    turn: Time | None = None
    """Manual work each time the program stops for it, such as turning the pieces over; not part of `cycle`."""
    turn_piece: Time | None = None
    """The same for each piece."""
    after: Time | None = None
    """Handwork of each load after its cycle: take off, measure, count."""
    after_piece: Time | None = None
    """The same for each piece; both are added."""

    def seconds(self, name: Literal["setup", "before", "cycle", "turn", "after"], pieces: int) -> float:
        """Planned duration of one part of a run of so many pieces."""
        load = getattr(self, name)
        piece = getattr(self, f"{name}_piece", None)
        return (load.base if load else 0.0) + (piece.base if piece else 0.0) * pieces


class Repeat(Strict):
    """That a step is done over, how often, and what ends it."""

    times: Annotated[int, Limits(ge=2, le=99)]
    """How many times; at most, where `until` ends it before."""
    until: Text = ""
    """What ends it, as one sees it: ``a wipe stays white``; left out, the number does."""


class Do(Strict):
    """A step to do."""

    do: Annotated[Text, Limits(min_length=3)]
    id: Id = ""
    """Its name, for a clock that starts at it or a `while_running`."""
    at: Phase = "load"
    """When in the run: arrive, setup, load, cycle, after."""
    cautions: tuple[Id, ...] = ()
    """Cautions read at this step."""
    detail: Text = ""
    """A further line of text, shown at the step."""
    more: Annotated[tuple[Text, ...], Limits(max_length=9)] = ()
    """How and why it is done, in paragraphs: for who asks on the walk, and at the end of the traveler."""
    people: Annotated[int, Limits(ge=1, le=9)] = 1
    """How many people it takes."""
    repeat: Repeat | None = None
    """How often it is done, and what ends it."""
    same_time_as: Id = ""
    """Name of another step of the same phase that goes on, or is done, at the same time."""
    skip: bool = True
    """Whether it may be skipped, with a reason."""
    lapses_on: tuple[Lapse, ...] | None = None
    """What makes it be done again before the cycle starts or goes on; left out, all of it where it may not be skipped
    and a cycle follows."""
    cycle: Literal["", "stands", "goes on"] = ""
    """In the cycle: at this step the program stops for manual work, such as turning the pieces over; or goes on."""
    while_running: Id = ""
    """Name of a batch-wide clock: the step is not needed while that is inside its window (a mix still good)."""

    def title(self) -> str:
        return self.do


def is_beside(one: Do, other: Do) -> bool:
    """Whether two steps are done at the same time, whichever of them says so."""
    return (bool(one.id) and one.id == other.same_time_as) or (bool(other.id) and other.id == one.same_time_as)


Step = Annotated[Do | Gate, Tagged("gate", {"no gate": Do, **GATE_KINDS}, untagged="no gate")]


class Reason(Strict):
    """A reason code for scrap, rework or hold."""

    code: Annotated[Id, Limits(min_length=1, max_length=24)]
    text: Text
    to: Literal["scrap", "rework", "hold"] = "scrap"
    """What becomes of the pieces: lost, sent to the rework route that `rework` names, or held until a lead decides."""
    rework: Id = ""
    """For ``to = "rework"``: the rework route."""
    share: Annotated[float, Limits(gt=0, le=1)] | None = None
    """For ``to = "rework"``: expected share of the pieces first counted here."""
    caused_at: int | None = None
    """The operation that causes it, if known."""
    needs_note: bool = False
    """Whether the count asks for a few words with it, as for "other"."""


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

    z_low: Coordinate | None = None
    """The through-cut allowance: no move goes below it."""
    z_top: Coordinate | None = None
    """Top of the work; left out, 0."""
    rapid_z_low: Coordinate | None = None
    """No rapid goes below it; left out, the top of the work. Lower where there is air beside the work or in it."""
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
    any_order: bool = False
    """Whether it and its neighbors in the route that say so too may be done in any order."""
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
    """Whether attended work without a cycle may wait over a weekend."""
    do_confirm: tuple[Phase, ...] = ()
    """Phases whose plain steps are done first and then confirmed one by one; all others are read, then done."""
    recheck_after: Time | None = None
    """After an interruption of manual work longer than this, the steps done last are checked again."""
    in_one_go: bool = False
    """Whether its manual work must not be interrupted by a break or the end of a shift."""
    time: Times = field(default_factory=Times)
    expected_yield: Annotated[float, Limits(gt=0, le=1)] = 1.0
    """Share of the pieces expected to be good here, for the quantity to start; counts move it."""
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

    @cached_property
    def tool_numbers(self) -> tuple[int, ...]:
        """The tools that it cuts with or asks for, each once."""
        asked = [step.tool for _, step in self.numbered_steps if isinstance(step, ToolLoaded)]
        return tuple(dict.fromkeys([use.tool for use in self.tools] + asked))

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
