"""What a checklist may ask to be proved: one small model for each kind of gate.

A gate is a step that is proved from the record instead of being ticked. The model here says what the file may
state and which values the operator is asked for (`asks`); the rule that judges it is the function of the same
name in `floor.batch.gates.judge`. The two together are all that a new kind needs.
"""

from typing import Annotated, Literal, NamedTuple, get_args

from floor.checklist.base import GivenId, Id, Limits, Strict, Text
from floor.checklist.units import AnyMeasure, Coordinate, Measure, Time
from floor.text import capitalize_first

Phase = Literal["arrive", "setup", "load", "cycle", "after"]
"""When in the run: on arrival, once for each set-up, for each load before the start, while the cycle runs, after it."""


class FormField(NamedTuple):
    """One value a form asks for."""

    name: str
    label: str
    kind: Literal["number", "whole", "text", "date", "person", "yes"] = "text"
    unit: str = ""
    low: float | None = None
    high: float | None = None
    default: str = ""
    required: bool = True
    short: str = ""
    """The word that stands before the value, once it is proved, where it does not speak for itself."""
    places: int = 0
    """Decimal places that the file gives the limits: 7.990 mm is not 7.99 mm."""
    only: str = ""
    """The one text that is right; capitals do not matter."""

    @property
    def band(self) -> str:
        """The limits in words, empty where there are none."""
        if self.only:
            return self.only
        unit = f" {self.unit}" if self.unit else ""
        if self.low is not None and self.low == self.high:
            return f"{self.said(self.low)}{unit}"
        if self.low is not None and self.high is not None:
            return f"{self.said(self.low)} to {self.said(self.high)}{unit}"
        if self.low is not None:
            return f"at least {self.said(self.low)}{unit}"
        if self.high is not None:
            return f"at most {self.said(self.high)}{unit}"
        return ""

    def said(self, limit: float) -> str:
        """A limit with the decimal places of the file."""
        return f"{limit:.{self.places}f}" if self.places else f"{limit:.12g}"


def _number(name: str, label: str, low: Measure | None, high: Measure | None, short: str = "") -> FormField:
    """A number asked for with the unit, the limits and the decimal places that the file gives it."""
    limits = [one for one in (low, high) if one is not None]
    return FormField(
        name=name,
        label=label,
        kind="number",
        unit=limits[0].unit if limits else "",
        low=low.number if low else None,
        high=high.number if high else None,
        short=short,
        places=max((_places(one.text.split()[0]) for one in limits), default=0),
    )


def _places(number: str) -> int:
    return len(number.partition(".")[2]) if "e" not in number.lower() else 0


Disturbance = Literal["lifted", "tool changed", "rezeroed", "refixtured", "power lost"]
"""What can happen at a station that voids what was proved there: the carrier was lifted or re-seated, a tool was
changed, the zero was set again, the workholding was changed, the power went.
"""


class _Gate(Strict):
    id: Id = ""
    """Stable name within the operation; made from the kind and the place where the file gives none."""
    at: Phase = "load"
    cautions: tuple[Id, ...] = ()
    detail: Text = ""
    source: Text = ""
    waive: Literal["lead", "lead and second", "never"] = "lead"
    """Who may pass it unproved."""

    def asks(self) -> tuple[FormField, ...]:
        return ()

    def title(self) -> str:
        """What the walk shows as the line of this gate."""
        return self.detail


class Axis(Strict):
    """One value of a work offset with the range it must fall in."""

    name: GivenId
    low: Coordinate | None = None
    high: Coordinate | None = None
    offset: Text = ""
    """Only for the carrier with this offset: each sits elsewhere on the machine. Left out: for every carrier."""


class Probed(_Gate):
    """The work offset was probed for this load as it sits on the station now."""

    gate: Literal["probed"]
    offset: Text = ""
    """Left out where each carrier has its own: the `carrier_offsets` of the station."""
    axes: Annotated[tuple[Axis, ...], Limits(min_length=1)]

    def of_carrier(self, offset: str) -> "CarrierProbed":
        """The gate for the carrier that has this offset."""
        fields = vars(self) | {"offset": offset, "axes": tuple(one for one in self.axes if one.offset in ("", offset))}
        return CarrierProbed(**fields)

    def asks(self) -> tuple[FormField, ...]:
        return tuple(
            _number(axis.name, f"{self.offset} {axis.name}", axis.low, axis.high, axis.name) for axis in self.axes
        )

    def title(self) -> str:
        return f"Probe {self.offset} " + " ".join(axis.name for axis in self.axes)


class CarrierProbed(Probed):
    """The probing of a carrier that has an offset of its own: asked is also which was probed. Not in files."""

    def asks(self) -> tuple[FormField, ...]:
        return (FormField(name="offset", label="Work offset that was probed", only=self.offset), *super().asks())


class Cured(_Gate):
    """A clock of the route is inside one of its windows for every piece of the load."""

    gate: Literal["cured"]
    clock: Id
    do: Text = ""
    """What the line says where "Wait for …" would not fit, as for a pot life."""
    once: bool = False
    """Whether pieces that come back in rework need not meet it again, if they were through here since the clock
    started.
    """

    def title(self) -> str:
        return self.do or f"Wait for {self.clock}"


class ToolLoaded(_Gate):
    """The tool is in the station, measured, with life left for this load."""

    gate: Literal["tool loaded"]
    at: Phase = "setup"
    tool: Annotated[int, Limits(ge=1, le=999)]
    length: bool = True
    """Whether the length offset is asked for."""
    low: Coordinate | None = None
    high: Coordinate | None = None
    """What the length offset may be, as this shop's setter or control states it."""

    def asks(self) -> tuple[FormField, ...]:
        number = FormField(
            name="tool", label="Tool number on the holder", kind="whole", low=self.tool, high=self.tool, short="tool"
        )
        length = _number("length", "Length offset as measured", self.low, self.high, "length")
        return (number, length) if self.length else (number,)

    def title(self) -> str:
        return f"Load and measure tool {self.tool}"


class ProgramLoaded(_Gate):
    """The program named on the control is the one of the route."""

    gate: Literal["program loaded"]
    at: Phase = "setup"

    def asks(self) -> tuple[FormField, ...]:
        return (FormField(name="program", label="Program and revision as the control shows it"),)

    def title(self) -> str:
        return "Read back the program"


class Measured(_Gate):
    """A characteristic, or a reading of the station, lies within its limits."""

    gate: Literal["measured"]
    at: Phase = "after"
    what: Text
    number: int | None = None
    """The number in the balloon on the drawing."""
    low: AnyMeasure | None = None
    high: AnyMeasure | None = None
    sample: int | Literal["all"] = 1
    """How many pieces of the load are measured."""
    per: Literal["load", "setup"] = "load"
    gauge: Text = ""
    accept: Text = ""
    """For a look instead of a measurement: what a good piece shows. Asked is how many do not."""
    do: Text = ""
    """What the line says where "Measure …" would not fit, as for a figure that is read off."""
    of: Literal["piece", "station"] | None = None
    """What is out where the value is: a piece of the load, or the station and all that is in it. Left out, it is a
    piece where the value has a number on the drawing, is a look, is of several, or is measured after the cycle."""
    lapses_on: tuple[Disturbance, ...] | None = None
    """What happens at the station that voids the proof; left out, what is usual for this kind."""

    @property
    def of_piece(self) -> bool:
        if self.of is not None:
            return self.of == "piece"
        return bool(self.accept or self.number is not None or self.sample != 1 or self.at == "after")

    def asks(self) -> tuple[FormField, ...]:
        if self.accept:
            return (
                FormField(name="faulty", label="How many fail this look", kind="whole", low=0, high=0, short="failed"),
            )
        return (_number("value", self.what, self.low, self.high),)

    def title(self) -> str:
        if self.do:
            return self.do
        return f"Look at {self.what}: {self.accept}" if self.accept else f"Measure {self.what}"


class Counted(_Gate):
    """The pieces in hand are as many as the record says."""

    gate: Literal["counted"]
    at: Phase = "arrive"
    what: Text = "pieces in hand"

    def asks(self) -> tuple[FormField, ...]:
        return (FormField(name="pieces", label=f"Count the {self.what}", kind="whole", low=0),)

    def title(self) -> str:
        return f"Count the {self.what}"


class FirstPiece(_Gate):
    """The first piece of this set-up was checked and accepted by a named person."""

    gate: Literal["first piece accepted"]
    at: Phase = "after"
    what: Text = "first piece"
    independent: bool = False
    """Whether the person who accepts must be another than the one at the machine."""
    self_after: Time | None = None
    """With one person on shift: how much later the same person may look again, recorded as a self-check."""
    lapses_on: tuple[Disturbance, ...] | None = None
    """What happens at the station that voids the proof; left out, what is usual for this kind."""

    def asks(self) -> tuple[FormField, ...]:
        return (
            FormField(name="person", label="Accepted by (initials)", kind="person"),
            FormField(name="found", label="What was measured or seen"),
        )

    def title(self) -> str:
        return f"Accept the {self.what}"


class Signed(_Gate):
    """A second person verified the step and signs for it."""

    gate: Literal["signed"]
    do: Text
    per: Literal["load", "setup"] = "load"
    self_after: Time | None = None
    """With one person on shift: how much later the same person may check again, recorded as a self-check."""
    lapses_on: tuple[Disturbance, ...] | None = None
    """What happens at the station that voids the proof; left out, what is usual for this kind."""

    def asks(self) -> tuple[FormField, ...]:
        return (FormField(name="person", label="Second person (initials)", kind="person"),)

    def title(self) -> str:
        return self.do


class LotRecorded(_Gate):
    """The lot of a material is on record and within its use-by date; a gauge, by serial number, within calibration."""

    gate: Literal["lot recorded"]
    what: Text
    use_by: bool = True
    """Whether a use-by (for a gauge: calibration due) date is asked for."""
    serial: bool = False
    """A gauge or an instrument, which has a serial number and not a lot."""
    per: Literal["batch", "setup", "load"] = "batch"
    """How far an answer reaches: a can serves the batch, a bar the set-up, a furnace certificate its load."""

    @property
    def until(self) -> str:
        return "calibration due" if self.serial else "use by"

    def asks(self) -> tuple[FormField, ...]:
        lot = FormField(name="lot", label=f"{self.what}: {'serial number' if self.serial else 'lot number'}")
        label = f"{capitalize_first(self.until)} (YYYY-MM-DD)"
        date = FormField(name="use_by", label=label, kind="date", short=self.until)
        return (lot, date) if self.use_by else (lot,)

    def title(self) -> str:
        return f"Record the {'serial number of the' if self.serial else 'lot of'} {self.what}"


class WorkHeld(_Gate):
    """The work is held as it has to be for the cut: by what, and what shows it."""

    gate: Literal["work held"]
    by: Literal["clamps", "vise", "fixture", "collet", "chuck", "vacuum", "magnet", "tape", "adhesive"]
    do: Text
    what: Text = "value"
    """What is read where there are limits: torque, pressure, pull, how far an indicator moves."""
    low: AnyMeasure | None = None
    high: AnyMeasure | None = None
    second: bool = False
    """Whether another person looks and signs."""
    self_after: Time | None = None
    """With one person on shift: how much later the same person may look again, recorded as a self-check."""
    coolant: bool | None = None
    """Whether it holds under coolant; left out, tape and adhesive do not (common practice, no source)."""
    through: bool = True
    """Whether the tool may cut through the work into what holds it."""
    pieces: Annotated[int, Limits(ge=1)] | None = None
    """How many pieces it holds at once."""
    release: Text = ""
    """How the work is taken off again."""
    lapses_on: tuple[Disturbance, ...] | None = None
    """What happens at the station that voids the proof; left out, what is usual for this kind."""

    @property
    def holds_wet(self) -> bool:
        return self.by not in ("tape", "adhesive") if self.coolant is None else self.coolant

    def asks(self) -> tuple[FormField, ...]:
        measured = self.low is not None or self.high is not None
        value = (_number("value", self.what, self.low, self.high, self.what),) if measured else ()
        person = (FormField(name="person", label="Second person (initials)", kind="person"),) if self.second else ()
        return (*value, *person)

    def title(self) -> str:
        return self.do


class Confirmed(_Gate):
    """A person's word, for what no record can show. Asked again for each load, set-up or shift."""

    gate: Literal["confirmed"]
    do: Text
    per: Literal["load", "setup", "shift"] = "load"
    lapses_on: tuple[Disturbance, ...] | None = None
    """What happens at the station that voids the proof; left out, what is usual for this kind."""

    def title(self) -> str:
        return self.do


Gate = (
    Probed
    | Cured
    | ToolLoaded
    | ProgramLoaded
    | WorkHeld
    | Measured
    | Counted
    | FirstPiece
    | Signed
    | LotRecorded
    | Confirmed
)

GATE_KINDS: dict[str, type[Gate]] = {get_args(kind.__annotations__["gate"])[0]: kind for kind in get_args(Gate)}
"""The gates by the value of ``gate``."""
