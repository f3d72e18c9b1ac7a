"""Gates of what takes its time: cures, soaks, and the air before a coat."""

from typing import Literal, get_args

from floor.checklist.field_types import Id, Text
from floor.checklist.gate_base import GateBase, Phase
from floor.checklist.gate_forms import READINGS, STAGE, FormField, make_humidity_field, make_number_field
from floor.checklist.units import Share, Temperature, Time

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


class Cured(GateBase):
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
        return f"Must be {self.stage}; stages: {', '.join(get_args(DryingStage))}, or none" if self.stage else ""

    def title(self) -> str:
        return self.do or f"Wait for {self.clock}"


class Soaked(GateBase):
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
    """The control sensor, as the heading of its column in the logger's file names it, without the unit."""
    longest_gap: Time | None = None
    """Most time between two readings that still proves the time between; left out, 15 min."""
    set_point: bool = True
    """Whether to ask for the set point that the controller shows."""

    def asks(self) -> tuple[FormField, ...]:
        shown = make_number_field("set_point", "Set point shown", self.low, self.high, "set point")
        readings = FormField(name=READINGS, label="Readings, or a file", kind="readings", longest=2000)
        return (shown, readings) if self.set_point else (readings,)

    def hint(self) -> str:
        return "Readings as 14:05 172, 14:20 175 …, or the name of the logger file"

    def title(self) -> str:
        return f"Prove the soak: {self.time} at {self.low.number:g} to {self.high}"


class AirMeasured(GateBase):
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

        high = self.humidity_high.base if self.humidity_high is not None else MOST_HUMID
        return (
            make_number_field("air", "Air", self.low, self.high, "air"),
            make_humidity_field("humidity")._replace(high=high),
            make_number_field("surface", "Part surface", self.low, self.high, "part"),
        )

    def title(self) -> str:
        return "Measure the air and the part"
