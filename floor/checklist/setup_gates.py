"""Gates of the set-up: zero, tool, program, workholding."""

from typing import Annotated, Literal

from floor.checklist.field_types import GivenId, Limits, Strict, Text
from floor.checklist.gate_base import Disturbance, GateBase, Phase
from floor.checklist.gate_forms import FormField, make_number_field
from floor.checklist.units import AnyMeasure, Coordinate, PositiveLength, Time


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


class Probed(GateBase):
    """The work offset was probed for this load as it sits at the station now."""

    gate: Literal["probed"]
    offset: Text = ""
    """Left out if each carrier has its own: the station's `carrier_offsets`."""
    axes: Annotated[tuple[Axis, ...], Limits(min_length=1)]
    flat: PositiveLength | None = None
    """How much the heights that have a place may fall across it: the carrier's tilt."""
    repeats: PositiveLength | None = None
    """How far two probings of one carrier may differ before it is probed once more."""

    def of_carrier(self, offset: str) -> "CarrierProbed":
        """The gate for the carrier with this offset."""
        fields = vars(self) | {"offset": offset, "axes": tuple(one for one in self.axes if one.offset in ("", offset))}
        return CarrierProbed(**fields)

    def asks(self) -> tuple[FormField, ...]:
        return tuple(
            make_number_field(axis.name, f"{self.offset} {axis.name}", axis.low, axis.high, axis.name)
            for axis in self.axes
        )

    def title(self) -> str:
        return f"Probe {self.offset} " + " ".join(axis.name for axis in self.axes)


class CarrierProbed(Probed):
    """Probing of a carrier with an offset of its own: also asks which one was probed. Not in files."""

    def asks(self) -> tuple[FormField, ...]:
        return (_ask_offset(self.offset), *super().asks())


def _ask_offset(offset: str) -> FormField:
    return FormField(name="offset", label="Work offset that was probed", only=offset, identity=True)


class ToolLoaded(GateBase):
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
            name="tool",
            label="Tool number on the holder",
            kind="whole",
            low=self.tool,
            high=self.tool,
            short="tool",
            identity=True,
        )
        length = make_number_field("length", "Length offset as measured", self.low, self.high, "length")
        return (number, length) if self.length else (number,)

    def title(self) -> str:
        return f"Load and measure tool {self.tool}"


class ProgramLoaded(GateBase):
    """The program on the control is the one in the route."""

    gate: Literal["program loaded"]
    at: Phase = "setup"

    def asks(self) -> tuple[FormField, ...]:
        return (FormField(name="program", label="Program and revision as the control shows it"),)

    def title(self) -> str:
        return "Read back the program"


UNNAMED = "value"
"""What a reading is called that the file does not name."""


class WorkHeld(GateBase):
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
        value = (make_number_field("value", self.what, self.low, self.high, self.what),) if measured else ()
        person = (FormField(name="person", label="Second person (initials)", kind="person"),) if self.second else ()
        return (*value, *person)

    def title(self) -> str:
        return self.do
