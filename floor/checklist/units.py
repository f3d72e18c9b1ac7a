"""Values with units: written as text in a checklist, kept as a number in the unit written and in the base unit.

The units library is imported for uncommon units only: opening a frozen or ordinary checklist never pays for it.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, Annotated, Any, NamedTuple

from floor.figures.temperature import SCALES, TemperatureScale
from floor.figures.units import M_PER_FOOT, MM_PER_INCH, MM_PER_M

if TYPE_CHECKING:
    import pint


class Measure(NamedTuple):
    """A value as written in the checklist, and in the base unit of its dimension."""

    number: float
    """In ``unit``."""
    unit: str
    base: float
    """In the base unit of its dimension: see `BASE_UNITS`."""
    text: str
    """As written: ``0.0625 in``."""

    def __str__(self) -> str:
        return self.text

    @property
    def in_pieces(self) -> bool:
        """Whether it is a life counted in pieces instead of time."""
        return self.unit in PIECES


BASE_UNITS = {
    "time": "second",
    "length": "millimeter",
    "angle": "degree",
    "temperature": "degC",
    "speed": "revolution / minute",
    "feed": "millimeter / minute",
    "surface speed": "meter / minute",
    "power": "watt",
    "pressure": "kilopascal",
    "torque": "newton * meter",
    "mass": "gram",
    "area": "millimeter ** 2",
    "volume": "milliliter",
    "amount": "gram or milliliter",
    "spreading rate": "meter ** 2 / liter",
    "share": "percent",
    "life": "second or piece",
}
"""The unit of `Measure.base` for each dimension; "any" keeps the unit as written."""

LARGEST_NUMBER = {
    "time": (366 * 86400.0, "a year"),
    "length": (1e6, "a kilometer"),
    "temperature": (3000.0, "3000 degC"),
    "speed": (1e6, "1000000 rpm"),
    "feed": (1e6, "1000000 mm/min"),
    "surface speed": (1e5, "100000 m/min"),
    "power": (1e7, "10000 kW"),
    "mass": (1e8, "100 t"),
    "volume": (1e9, "1000 m**3"),
}
"""Largest plausible value of a dimension, in its base unit and in words (shop decision): more is a typing error."""

PIECES = ("piece", "pieces", "pcs")
"""Units of a life counted in pieces instead of time."""

EXAMPLES = {
    "time": "24 h",
    "length": "0.0625 in",
    "angle": "60 deg",
    "temperature": "175 degF",
    "speed": "8000 rpm",
    "feed": "40 in/min",
    "surface speed": "300 ft/min",
    "power": "2.2 kW",
    "pressure": "30 psi",
    "torque": "25 N*m",
    "mass": "40 g",
    "area": "12 in**2",
    "volume": "1 L",
    "amount": "40 g",
    "spreading rate": "12 m**2/L",
    "share": "15 %",
    "life": "180 min",
    "any": "0.0625 in",
}

METRIC_EXAMPLES = {
    "length": "1.6 mm",
    "temperature": "80 degC",
    "feed": "1000 mm/min",
    "surface speed": "90 m/min",
    "pressure": "2 bar",
    "area": "80 cm**2",
    "any": "1.6 mm",
}
"""Where they differ in a metric part."""

_COMMON = {
    "s": ("time", 1.0),
    "min": ("time", 60.0),
    "h": ("time", 3600.0),
    "d": ("time", 86400.0),
    "mm": ("length", 1.0),
    "in": ("length", MM_PER_INCH),
    "um": ("length", 0.001),
    "m": ("length", MM_PER_M),
    "deg": ("angle", 1.0),
    "rpm": ("speed", 1.0),
    "mm/min": ("feed", 1.0),
    "in/min": ("feed", MM_PER_INCH),
    "m/min": ("surface speed", 1.0),
    "ft/min": ("surface speed", M_PER_FOOT),
    "kW": ("power", 1000.0),
    "g": ("mass", 1.0),
    "kg": ("mass", 1000.0),
    "mL": ("volume", 1.0),
    "ml": ("volume", 1.0),
    "L": ("volume", 1000.0),
    "%": ("share", 1.0),
    "pct": ("share", 1.0),
    "piece": ("life", 1.0),
    "pieces": ("life", 1.0),
}
"""Unit → its dimension, and its size in base units. Here because the units library takes most of a second to load."""

_ALSO = {"life": ("life", "time"), "amount": ("mass", "volume")}
"""Dimensions that may also be stated as another."""

_WORDS = {"amount": "a mass or a volume", "area": "an area", "angle": "an angle"}
"""How to name a dimension in a sentence, if not by "a" and its name."""

_NAME = r"(?:%|HR15N|°?[^\W\d]+(?:(?:\*\*|\^)[1-4])?)"
_DURATION = re.compile(r"(?:\d+(?:\.\d+)? ?(?:d|h|min|s)\b ?){2,}")
"""``1 h 30 min``."""
_COMMA = re.compile(r"[-+]?\d+,\d+")
THOUSAND = 3
"""Digits after a sign between thousands."""
_UNIT = re.compile(rf"{_NAME}(?: ?[*/·] ?{_NAME}| {_NAME})*")


class NoMeasure(ValueError):
    """A text that is no value of the dimension asked for: what is wrong, and what to write."""

    def __init__(self, wrong: str, dimension: str, right: str = "") -> None:
        """Without ``right``, an example is shown."""
        super().__init__(f"{wrong}; {right or show_example(dimension)}")
        self.wrong, self.dimension, self.right = wrong, dimension, right


def show_example(dimension: str, units: object = "inch") -> str:
    """``write it like "0.0625 in"``.

    Args:
        units: of the part.
    """
    example = (METRIC_EXAMPLES if units == "metric" else EXAMPLES).get(dimension, EXAMPLES[dimension])
    pieces = ', or in pieces, like "1 piece" or "300 pieces"' if dimension == "life" else ""
    return f'write it like "{example}"{pieces}'


@cache
def _registry() -> pint.UnitRegistry[float]:
    import pint

    registry: pint.UnitRegistry[float] = pint.UnitRegistry(autoconvert_offset_to_baseunit=False)
    registry.define("piece = count = pieces = pcs")
    registry.define("HRC = [hardness_rockwell_c]")
    registry.define("HR15N = [hardness_rockwell_15n]")
    registry.define("@alias percent = pct")
    return registry


def read_measure(text: str, dimension: str) -> Measure:
    """Read ``"0.0625 in"`` as a `Measure` of the dimension.

    Raises:
        ValueError: with a sentence that says what is wrong and shows a correct value.
    """
    text = text.strip()
    number_text, _, unit = text.partition(" ")
    try:
        number = float(number_text)
    except ValueError:
        if _COMMA.fullmatch(number_text):
            raise NoMeasure(f'"{text}" has a comma', dimension, _write_without_comma(number_text, unit)) from None
        raise NoMeasure(f'"{text}" is not a number, a space and a unit', dimension) from None
    if not -1e12 < number < 1e12:  # also refuses nan and infinity
        raise NoMeasure(f'"{text}" is not a sensible number', dimension)
    unit = unit.strip()
    if dimension in ("time", "life") and _DURATION.fullmatch(text):
        raise NoMeasure(f'"{text}" has more than one unit', dimension, f'write it like "{_join_duration(text)}"')
    if not unit:
        raise NoMeasure(f'"{text}" has no unit', dimension)
    if not _UNIT.fullmatch(unit):  # keeps sums such as "9**9**9" away from the library, which would compute them
        raise NoMeasure(f'"{unit}" is not a unit', dimension)
    scale = SCALES.get(unit) if dimension in ("temperature", "any") else None
    if scale is not None:
        return Measure(number, unit, number if dimension == "any" else round(scale.to_celsius(number), 9), text)
    kind, factor = _COMMON.get(unit, ("", 1.0))
    if kind in _ALSO.get(dimension, (dimension,)):
        return Measure(number, unit, round(number * factor, 9), text)
    if kind and dimension == "any":
        return Measure(number, unit, number, text)
    return _by_library(number, unit, dimension, text)


def _write_without_comma(number: str, unit: str) -> str:
    """What to write for ``5,02 mm``, or for ``1,200 mm``: a decimal comma, or a sign between thousands."""
    both = [number.replace(",", "")] if len(number.partition(",")[2]) == THOUSAND else []
    said = " or ".join(f'"{f"{one} {unit}".strip()}"' for one in (*both, number.replace(",", ".")))
    return f"write a decimal point, and nothing between thousands: {said}"


def _join_duration(text: str) -> str:
    """``90 min`` of ``1 h 30 min``: all of it in its last unit."""
    parts = re.findall(r"([\d.]+) ?(d|h|min|s)", text)
    last = parts[-1][1]
    return f"{sum(float(number) * _COMMON[unit][1] for number, unit in parts) / _COMMON[last][1]:g} {last}"


def find_temperature_scale(unit: str) -> TemperatureScale:
    """The scale of a unit that a temperature in a checklist has."""
    if unit in SCALES:
        return SCALES[unit]
    zero = read_measure(f"0 {unit}", "temperature").base
    degree = read_measure(f"1 {unit}", "temperature").base - zero
    return TemperatureScale(1 / degree, -zero / degree)


def _by_library(number: float, unit: str, dimension: str, text: str) -> Measure:
    """Like `read_measure`, for any other unit."""
    import pint

    if dimension == "speed" and "hz" in unit.lower():  # the library counts it in radians, the shop in turns
        raise NoMeasure(f'"{text}" is not a speed', dimension)
    registry = _registry()
    try:
        quantity = registry.Quantity(number, unit)
        if dimension == "any":
            return Measure(number, unit, number, text)
        target = BASE_UNITS[dimension]
        if dimension == "life":
            target = "piece" if unit in PIECES else "second"
        elif dimension == "amount":
            target = "milliliter" if quantity.check("[volume]") else "gram"
        base = float(quantity.to(target).magnitude)
    except pint.UndefinedUnitError:
        raise NoMeasure(f'"{unit}" is not a unit', dimension) from None
    except (pint.DimensionalityError, pint.OffsetUnitCalculusError):
        raise NoMeasure(f'"{text}" is not {_WORDS.get(dimension, f"a {dimension}")}', dimension) from None
    except Exception:  # the library's parser raises many kinds of errors on nonsense such as "in//min"
        raise NoMeasure(f'"{unit}" is not a unit', dimension) from None
    return Measure(number, unit, round(base, 9), text)


def to_base(measure: Measure) -> tuple[str, float]:
    """(dimension, value in its base unit) of a measure of any kind; of an uncommon unit, the unit itself."""
    if measure.unit in SCALES:
        return "temperature", round(SCALES[measure.unit].to_celsius(measure.number), 9)
    kind, factor = _COMMON.get(measure.unit, (measure.unit, 1.0))
    return kind, round(measure.number * factor, 9)


def can_convert(unit: str, other: str) -> bool:
    """Whether `convert_unit` can."""
    same = unit in _COMMON and other in _COMMON and _COMMON[unit][0] == _COMMON[other][0]
    return same or (unit in SCALES and other in SCALES)


def list_units_like(unit: str) -> list[str]:
    """Other common units in which a value can be shown too."""
    return [one for one in (*_COMMON, *SCALES) if one != unit and can_convert(unit, one)]


def convert_unit(number: float, unit: str, other: str) -> float:
    """A value in another common unit of the same dimension.

    Raises:
        ValueError: they are of different dimensions, or one is not common.
    """
    if not can_convert(unit, other):
        raise ValueError(f'"{unit}" cannot be shown in "{other}"; use a unit of the same kind')
    if unit in SCALES:
        return SCALES[other].from_celsius(SCALES[unit].to_celsius(number))
    return number * _COMMON[unit][1] / _COMMON[other][1]


class Unit:
    """A value in a file: text that `read_measure` reads, at least `least` in the base unit."""

    def __init__(self, dimension: str, least: float | None = 0.0, above: bool = False) -> None:
        """With ``above``, `least` itself is not enough."""
        self.dimension, self.least, self.above = dimension, least, above

    def read(self, given: Any) -> Measure:
        if not isinstance(given, str):
            raise NoMeasure("the value has no quotes and no unit", self.dimension)
        measure = read_measure(given, self.dimension)
        if self.least is not None and measure.base < self.least:
            raise NoMeasure(f'"{given}" may not be less than {self.least:g}', self.dimension)
        most, said = LARGEST_NUMBER.get(self.dimension, (None, ""))
        if most is not None and measure.base > most:
            raise NoMeasure(f'"{given}" is more than {said}', self.dimension)
        if self.above and measure.base == self.least:
            raise NoMeasure(f'"{given}" must be more than {self.least:g}', self.dimension)
        return measure

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> dict[str, Any]:
        return {"type": "function-plain", "function": {"type": "no-info", "function": self.read}}

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        described = f"A {self.dimension} with its unit"
        examples = [table[self.dimension] for table in (EXAMPLES, METRIC_EXAMPLES) if self.dimension in table]
        return {"type": "string", "description": described, "examples": examples}


Time = Annotated[Measure, Unit("time")]
Length = Annotated[Measure, Unit("length")]
Angle = Annotated[Measure, Unit("angle", above=True)]
Coordinate = Annotated[Measure, Unit("length", None)]
Temperature = Annotated[Measure, Unit("temperature", None)]
Speed = Annotated[Measure, Unit("speed", above=True)]
Feed = Annotated[Measure, Unit("feed", above=True)]
SurfaceSpeed = Annotated[Measure, Unit("surface speed", above=True)]
Power = Annotated[Measure, Unit("power")]
Life = Annotated[Measure, Unit("life", above=True)]
PositiveLength = Annotated[Measure, Unit("length", above=True)]
"""The length of a real thing, so not 0."""
Area = Annotated[Measure, Unit("area", above=True)]
Volume = Annotated[Measure, Unit("volume", above=True)]
Amount = Annotated[Measure, Unit("amount", above=True)]
"""A mass or a volume."""
Spreading = Annotated[Measure, Unit("spreading rate", above=True)]
Share = Annotated[Measure, Unit("share")]
AnyMeasure = Annotated[Measure, Unit("any", None)]
