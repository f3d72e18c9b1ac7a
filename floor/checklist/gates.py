"""What a checklist can require to be proved: one small model for each kind of gate.

A gate is a step proved from the record instead of ticked. The model here defines what the file may state and which
values the operator enters (`asks`); the function of the same name in `floor.batch.gates.judge` judges it. A new kind
needs no more than these two.
"""

from typing import Annotated, Literal, NamedTuple, get_args

from floor.checklist.field_types import GivenId, Id, Limits, Strict, Text
from floor.checklist.units import AnyMeasure, Coordinate, Measure, PositiveLength, Share, Temperature, Time
from floor.text import capitalize_first

Phase = Literal["arrive", "setup", "load", "cycle", "after"]
"""When in the run: on arrival, once per set-up, per load before the start, during the cycle, after it."""


class FormField(NamedTuple):
    """One value a form asks for."""

    name: str
    label: str
    kind: Literal["number", "whole", "text", "finding", "date", "person", "readings"] = "text"
    """A finding is a text that says a value or what was seen; a letter or "ok" says neither. Readings are times and
    temperatures, or the name of a logger's file."""
    unit: str = ""
    low: float | None = None
    high: float | None = None
    default: str = ""
    required: bool = True
    short: str = ""
    """The word before the value once proved, if the value needs one."""
    places: int = 0
    """Decimal places of the limits in the file: 7.990 mm is not 7.99 mm."""
    only: str = ""
    """The only right text; capitals do not matter."""
    longest: int = 60
    """Most characters; more are refused."""

    @property
    def band(self) -> str:
        """The limits in words; empty if there are none."""
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
    """A number to enter, with the unit, limits and decimal places from the file."""
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


DryingStage = Literal[
    "set-to-touch",
    "dust-free",
    "tack-free",
    "dry-to-touch",
    "dry-hard",
    "dry-through",
    "dry-to-recoat",
    "print-free",
]
"""Stages of drying; those of `floor.figures.drying`, which opening a record does not load."""

Disturbance = Literal["lifted", "tool changed", "rezeroed", "refixtured", "power lost"]
"""What can void a proof at a station: carrier lifted or re-seated, tool changed, re-zeroed, workholding changed, power
lost.
"""


class _Gate(Strict):
    id: Id = ""
    """Stable name within the operation; by default made from its kind and place."""
    at: Phase = "load"
    cautions: tuple[Id, ...] = ()
    detail: Text = ""
    source: Text = ""
    waive: Literal["lead", "lead and second", "never"] = "lead"
    """Who may waive it."""

    @property
    def is_for_work(self) -> bool:
        """Whether it must hold while the work behind it is done, and no longer."""
        return False

    def asks(self) -> tuple[FormField, ...]:
        return ()

    def hint(self) -> str:
        """How its values are entered, if the form does not show it."""
        return ""

    def title(self) -> str:
        """The line the walk shows for this gate."""
        return self.detail


class Axis(Strict):
    """One value of a work offset and the range it must be in."""

    name: GivenId
    low: Coordinate | None = None
    high: Coordinate | None = None
    offset: Text = ""
    """Only for the carrier with this offset, as each sits elsewhere on the machine. Left out: every carrier."""
    x: Coordinate | None = None
    """With `y`: where on the carrier a height is probed, for the tilt."""
    y: Coordinate | None = None


class Probed(_Gate):
    """The work offset was probed for this load as it sits at the station now."""

    gate: Literal["probed"]
    offset: Text = ""
    """Left out if each carrier has its own: the station's `carrier_offsets`."""
    axes: Annotated[tuple[Axis, ...], Limits(min_length=1)]
    flat: PositiveLength | None = None
    """How much the heights that have a place may fall across it: the carrier's tilt."""

    def of_carrier(self, offset: str) -> "CarrierProbed":
        """The gate for the carrier with this offset."""
        fields = vars(self) | {"offset": offset, "axes": tuple(one for one in self.axes if one.offset in ("", offset))}
        return CarrierProbed(**fields)

    def asks(self) -> tuple[FormField, ...]:
        return tuple(
            _number(axis.name, f"{self.offset} {axis.name}", axis.low, axis.high, axis.name) for axis in self.axes
        )

    def title(self) -> str:
        return f"Probe {self.offset} " + " ".join(axis.name for axis in self.axes)


class CarrierProbed(Probed):
    """Probing of a carrier with an offset of its own: also asks which one was probed. Not in files."""

    def asks(self) -> tuple[FormField, ...]:
        return (FormField(name="offset", label="Work offset that was probed", only=self.offset), *super().asks())


class Cured(_Gate):
    """A clock of the route is inside one of its windows for every piece in the load."""

    gate: Literal["cured"]
    clock: Id
    do: Text = ""
    """Text of the line if "Wait for …" does not fit, as for a pot life."""
    once: bool = False
    """Whether reworked pieces may skip it if they passed here since the clock started.
    """
    until: Id = ""
    """Step by which the work of its window is done; left out, every step that follows in the same phase."""
    stage: DryingStage | None = None
    """Stage of drying by ASTM D1640 that a test must show besides, once the window is open; none replaces the time."""

    @property
    def is_for_work(self) -> bool:
        return True

    def asks(self) -> tuple[FormField, ...]:
        return (FormField(name=STAGE, label="Stage reached, by test", short="stage"),) if self.stage is not None else ()

    def hint(self) -> str:
        return f"Wanted: {self.stage}; stages: {', '.join(get_args(DryingStage))}, or none" if self.stage else ""

    def title(self) -> str:
        return self.do or f"Wait for {self.clock}"


class ToolLoaded(_Gate):
    """The tool is in the station, measured, with enough life left for this load."""

    gate: Literal["tool loaded"]
    at: Phase = "setup"
    tool: Annotated[int, Limits(ge=1, le=999)]
    length: bool = True
    """Whether to ask for the length offset."""
    low: Coordinate | None = None
    high: Coordinate | None = None
    """Limits of the length offset, as this shop's presetter or control states it."""

    def asks(self) -> tuple[FormField, ...]:
        number = FormField(
            name="tool", label="Tool number on the holder", kind="whole", low=self.tool, high=self.tool, short="tool"
        )
        length = _number("length", "Length offset as measured", self.low, self.high, "length")
        return (number, length) if self.length else (number,)

    def title(self) -> str:
        return f"Load and measure tool {self.tool}"


class ProgramLoaded(_Gate):
    """The program on the control is the one in the route."""

    gate: Literal["program loaded"]
    at: Phase = "setup"

    def asks(self) -> tuple[FormField, ...]:
        return (FormField(name="program", label="Program and revision as the control shows it"),)

    def title(self) -> str:
        return "Read back the program"


class Measured(_Gate):
    """A characteristic, or a reading at the station, is within its limits."""

    gate: Literal["measured"]
    at: Phase = "after"
    what: Text
    number: int | None = None
    """The balloon number on the drawing."""
    low: AnyMeasure | None = None
    high: AnyMeasure | None = None
    sample: int | Literal["all"] = 1
    """How many pieces of the load to measure."""
    per: Literal["load", "setup"] = "load"
    gauge: Text = ""
    accept: Text = ""
    """For a visual check: what a good piece looks like. The form asks how many do not."""
    do: Text = ""
    """Text of the line if "Measure …" does not fit, as for a value read off a display."""
    of: Literal["piece", "station"] | None = None
    """What is bad if the value is out of limits: a piece of the load, or the station and all that is in it. Left out:
    a piece if the value has a balloon number, is a visual check, covers several pieces, or is measured after the
    cycle; else the station."""
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
    """The pieces in hand match the record."""

    gate: Literal["counted"]
    at: Phase = "arrive"
    what: Text = "pieces in hand"

    def asks(self) -> tuple[FormField, ...]:
        return (FormField(name="pieces", label=f"Count the {self.what}", kind="whole", low=0),)

    def title(self) -> str:
        return f"Count the {self.what}"


class Characteristic(Strict):
    """One value or look that a first piece is accepted by."""

    what: Text
    number: int | None = None
    """The balloon number on the drawing."""
    low: AnyMeasure | None = None
    high: AnyMeasure | None = None
    gauge: Text = ""
    accept: Text = ""
    """For a look: what a good piece is like."""

    def ask(self, name: str) -> FormField:
        if self.accept:
            return FormField(name=name, label=f"{self.what}: {self.accept}? (yes, no)", short=self.what, only="yes")
        return _number(name, self.what, self.low, self.high, self.what)


class FirstPiece(_Gate):
    """A named person checked and accepted the first piece of this set-up."""

    gate: Literal["first piece accepted"]
    at: Phase = "after"
    what: Text = "first piece"
    characteristics: tuple[Characteristic, ...] = ()
    """What is measured or looked at, in the order of the drawing; left out, the form asks for it in words."""
    independent: bool = False
    """Whether somebody other than the operator must accept it."""
    self_after: Time | None = None
    """With one person on shift: how much later the same person may check again, recorded as a self-check."""
    lapses_on: tuple[Disturbance, ...] | None = None
    """What happens at the station that voids the proof; left out, what is usual for this kind."""

    def asks(self) -> tuple[FormField, ...]:
        person = FormField(name="person", label="Accepted by (initials)", kind="person")
        if not self.characteristics:
            return (person, FormField(name="found", label="What was measured or seen", kind="finding"))
        return (*(one.ask(f"value {n}") for n, one in enumerate(self.characteristics, 1)), person)

    def title(self) -> str:
        return f"Accept the {self.what}"


class Signed(_Gate):
    """A second person verified the step and signed for it."""

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
    """The lot of a material is on record and within its use-by date; or a gauge, by serial number, in calibration."""

    gate: Literal["lot recorded"]
    what: Text
    use_by: bool = True
    """Whether to ask for a use-by date (for a gauge: calibration due)."""
    serial: bool = False
    """A gauge or instrument, which has a serial number instead of a lot."""
    per: Literal["batch", "setup", "load"] = "batch"
    """What one answer covers: a can the batch, a bar the set-up, a furnace certificate its load."""

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


UNNAMED = "value"
"""What a reading is called that the file does not name."""


class WorkHeld(_Gate):
    """The work is held for the cut: by what, and how to tell."""

    gate: Literal["work held"]
    by: Literal["clamps", "vise", "fixture", "collet", "chuck", "vacuum", "magnet", "tape", "adhesive"]
    do: Text
    what: Text = UNNAMED
    """The reading, if there are limits: torque, pressure, pull, indicator movement."""
    low: AnyMeasure | None = None
    high: AnyMeasure | None = None
    second: bool = False
    """Whether a second person checks and signs."""
    self_after: Time | None = None
    """With one person on shift: how much later the same person may check again, recorded as a self-check."""
    coolant: bool | None = None
    """Whether it holds under coolant; left out, tape and adhesive do not (common practice, no source)."""
    through: bool = True
    """Whether the tool may cut through the work into the workholding."""
    pieces: Annotated[int, Limits(ge=1)] | None = None
    """How many pieces it holds at once."""
    release: Text = ""
    """How to release the work."""
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
    """A person's word, for what no record can show. Asked again every load, set-up or shift."""

    gate: Literal["confirmed"]
    do: Text
    per: Literal["load", "setup", "shift"] = "load"
    lapses_on: tuple[Disturbance, ...] | None = None
    """What happens at the station that voids the proof; left out, what is usual for this kind."""

    def title(self) -> str:
        return self.do


class Soaked(_Gate):
    """The pieces were long enough at temperature, by readings typed or a logger's file."""

    gate: Literal["soaked"]
    at: Phase = "cycle"
    what: Text = "temperature"
    low: Temperature
    high: Temperature
    """Above it a lead decides."""
    time: Time
    """Inside the limits; the time it takes to get there does not count."""
    by: Literal["all sensors", "last sensor", "control sensor"] = "all sensors"
    """Whose temperature counts: while all are inside; from when the last one is; or the one named `control`."""
    control: Text = ""
    longest_gap: Time | None = None
    """Most time between two readings that still proves the time between; left out, 15 min."""
    set_point: bool = True
    """Whether to ask for the set point that the controller shows."""

    def asks(self) -> tuple[FormField, ...]:
        shown = _number("set_point", "Set point shown", self.low, self.high, "set point")
        readings = FormField(name=READINGS, label="Readings, or a file", kind="readings", longest=2000)
        return (shown, readings) if self.set_point else (readings,)

    def hint(self) -> str:
        return "Readings as 14:05 172, 14:20 175 …, or the name of the logger's file"

    def title(self) -> str:
        return f"Prove the soak: {self.time} at {self.low.number:g} to {self.high}"


class AirMeasured(_Gate):
    """The air and the work are fit for a coat: not too cold, hot or damp, and the work clear of the dew point."""

    gate: Literal["air measured"]
    low: Temperature
    high: Temperature
    """Of air and work, by the data sheet."""
    humidity_high: Share | None = None
    """Relative humidity; left out, 85 %."""
    good_for: Time | None = None
    """How long before the coat a reading counts; left out, for the whole run."""

    @property
    def is_for_work(self) -> bool:
        return True

    def asks(self) -> tuple[FormField, ...]:
        from floor.figures.drying import MOST_HUMID  # opening a shop needs no coatings

        humidity = FormField(
            name="humidity", label="Relative humidity", kind="number", unit="%", low=0.0,
            high=self.humidity_high.base if self.humidity_high is not None else MOST_HUMID, short="humidity",
        )  # fmt: skip
        return (
            _number("air", "Air", self.low, self.high, "air"),
            humidity,
            _number("surface", "Part surface", self.low, self.high, "work"),
        )

    def title(self) -> str:
        return "Measure the air and the work"


READINGS = "readings"
"""The field of a soak for its readings."""
STAGE = "stage"
"""The field of a cure for the stage of drying that a test showed."""
NO_STAGE = "none"
"""What is entered there if the test showed none."""

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
    | Soaked
    | AirMeasured
)

GATE_KINDS: dict[str, type[Gate]] = {get_args(kind.__annotations__["gate"])[0]: kind for kind in get_args(Gate)}
"""The gates by the value of ``gate``."""
