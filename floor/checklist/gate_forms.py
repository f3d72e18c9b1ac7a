"""What a gate asks to be entered: its form fields."""

import math
from collections.abc import Callable, Sequence
from typing import Literal, NamedTuple

from floor.checklist.units import Measure, can_convert, convert_unit
from floor.figures.temperature import ABSOLUTE_ZERO, SCALES


class FormField(NamedTuple):
    """One value a form asks for."""

    name: str
    label: str
    kind: Literal["number", "whole", "text", "finding", "date", "person", "readings", "look", "gauge"] = "text"
    """A finding is a text that says a value, or what was looked at and how it is; "good" says neither. Readings are
    times and temperatures, or the name of a logger's file. A look is answered yes or no. A gauge is a serial number."""
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
    least: float | None = None
    most: float | None = None
    """What the value can be at all: any other is no reading out of limits, but refused."""
    or_else: str = ""
    """What else can be done where there is nothing to enter, behind "enter it"."""
    identity: bool = False
    """Whether it says what the other values are of: tool, offset, lot, gauge. If it is wrong, so are they."""

    def count(self, pieces: int) -> int:
        """How many values of it are entered for so many pieces: one gauge measures them all."""
        return 1 if self.kind == "gauge" else pieces

    @property
    def band(self) -> str:
        """The limits in words; empty if there are none."""
        return self.only or self._say_range(self.low, self.high)

    @property
    def answer(self) -> str:
        """What is to be entered, for beside the field: its limits, or else its unit; yes or no for a look."""
        return "yes or no" if self.kind == "look" else self.band or self.unit

    @property
    def possible(self) -> str:
        """What the value can be at all, in words."""
        return self._say_range(self.least, self.most)

    def _say_range(self, low: float | None, high: float | None) -> str:
        unit = f" {self.unit}" if self.unit else ""
        if low is not None and low == high:
            return f"{self.said(low)}{unit}"
        if low is not None and high is not None:
            return f"{self.said(low)} to {self.said(high)}{unit}"
        if low is not None:
            return f"at least {self.said(low)}{unit}"
        return f"at most {self.said(high)}{unit}" if high is not None else ""

    def is_possible(self, value: float) -> bool:
        return not ((self.least is not None and value < self.least) or (self.most is not None and value > self.most))

    def said(self, limit: float) -> str:
        """A limit with the decimal places of the file."""
        return f"{limit:.{self.places}f}" if self.places else f"{limit:.12g}"


READINGS = "readings"
"""The field of a soak for its readings."""


CALIBRATION = "calibration"
"""In a proof's values: serial number of a gauge → its calibration date then; empty if it was not in the register."""


SHOWN = "shown"
"""In a proof's values: name of a field → its number as the gauge showed it, 0.4740 and not 0.474; of several a list,
empty where the number says it itself. Older records have none."""


PLACE = "place"
"""The field of a first piece for its place on the carrier; the entry keeps the piece."""


STAGE = "stage"
"""The field of a cure for the stage of drying that a test showed."""


NEARLY = 1e-9
FINEST = 50
NO_STAGE = "none"
"""What is entered there if the test showed none."""


def make_number_field(
    name: str, label: str, low: Measure | None, high: Measure | None, short: str = "", unit: str = ""
) -> FormField:
    """A number to enter, with unit, limits and decimal places from the file; a temperature is above absolute zero.

    Args:
        unit: what the gauge shows, if not the unit of the limits, which are then converted, and rounded so that they
            are no wider.
    """
    limits = [one for one in (low, high) if one is not None]
    stated = limits[0].unit if limits else ""
    places = max((_places(one.text.split()[0]) for one in limits), default=0)
    least, most = low.number if low else None, high.number if high else None
    unit = unit if can_convert(stated, unit) else ""  # a record from elsewhere may name any
    if unit and unit != stated:
        places = _count_places(limits, places, stated, unit)
        least = None if low is None else _round_inward(convert_unit(low.number, stated, unit), places, math.ceil)
        most = None if high is None else _round_inward(convert_unit(high.number, stated, unit), places, math.floor)
    scale = SCALES.get(unit or stated)
    return FormField(
        name=name,
        label=label,
        kind="number",
        unit=unit or stated,
        low=least,
        high=most,
        short=short,
        least=round(scale.from_celsius(ABSOLUTE_ZERO), 2) if scale else None,
        places=places,
    )


def _count_places(limits: Sequence[Measure], places: int, stated: str, unit: str) -> int:
    """Decimal places of limits in another unit: as few as take no more than a fiftieth of the band at each end, which
    no gauge shows better; of one limit, a tenth of its last place.
    """
    width = abs(limits[-1].number - limits[0].number)
    step = width / FINEST if width else 10.0**-places / 10
    there = abs(convert_unit(step, stated, unit) - convert_unit(0.0, stated, unit))
    return max(0, math.ceil(-math.log10(there) - NEARLY))


def _round_inward(value: float, places: int, way: Callable[[float], int]) -> float:
    near = round(value, places)
    return near if math.isclose(value, near, rel_tol=1e-12, abs_tol=1e-12) else way(value * 10**places) / 10**places


def make_gauge_field(name: str, gauge: str, label: str = "Serial number") -> FormField:
    """The serial number of a gauge."""
    return FormField(name=name, label=label, kind="gauge", short=gauge, longest=40, identity=True)


def make_humidity_field(short: str = "") -> FormField:
    """The relative humidity of air, 1 to 100 %."""
    return FormField(
        "humidity", "Relative humidity", "number", "%", low=1.0, high=100.0, short=short, least=1.0, most=100.0
    )


def _places(number: str) -> int:
    return len(number.partition(".")[2]) if "e" not in number.lower() else 0
