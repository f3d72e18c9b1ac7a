"""Air and coatings: dew point and margin, how far a coat has cured in the room it is in, stages of drying.

Cold or damp air lengthens a cure. Nothing shortens it below the time on the data sheet.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from enum import StrEnum
from itertools import pairwise
from typing import NamedTuple

from floor.dataclass import dataclass
from floor.figures.errors import ImpossibleFigure

MAGNUS_FACTOR = 17.62
MAGNUS_OFFSET = 243.12
"""°C. Constants over water, -45 to 60 °C (Sonntag 1990; WMO Guide to Instruments, annex 4.B)."""
MAGNUS_BASE = 611.2
"""Pressure in Pa of saturated vapor at 0 °C (the same)."""
LEAST_AIR, MOST_AIR = -45.0, 60.0
"""Range in °C over which the constants hold."""
SLIGHT = 0.01
"""Seconds that the sum of a cure may be off."""
LEAST_MARGIN = 3.0
"""Least margin in °C of a surface above the dew point (ISO 8502-4, as quoted in coating guides)."""
MOST_HUMID = 85.0
"""Most relative humidity in percent while a coat goes on and dries: none goes on above it (IMO resolution
MSC.215(82), table 1, environmental conditions, from memory: not "above 85 %")."""


def compute_vapor_pressure(temperature: float) -> float:
    """Pressure in Pa of saturated water vapor over water at a temperature in °C, by Magnus' formula.

    Raises:
        ImpossibleFigure: outside -45 to 60 °C.
    """
    if not LEAST_AIR <= temperature <= MOST_AIR:
        raise ImpossibleFigure(f"air of {temperature:g} °C", f"give {LEAST_AIR:g} to {MOST_AIR:g} °C")
    return MAGNUS_BASE * math.exp(MAGNUS_FACTOR * temperature / (MAGNUS_OFFSET + temperature))


def compute_dew_point(air: float, humidity: float) -> float:
    """Temperature in °C below which water condenses out of air, by Magnus' formula.

    Args:
        air: °C.
        humidity: Relative, in percent, above 0 to 100.

    Raises:
        ImpossibleFigure: a figure out of range.
    """
    if not 0 < humidity <= 100:
        raise ImpossibleFigure(f"a relative humidity of {humidity:g} %", "give one above 0 and at most 100 %")
    load = math.log(humidity / 100 * compute_vapor_pressure(air) / MAGNUS_BASE)
    return MAGNUS_OFFSET * load / (MAGNUS_FACTOR - load)


def compute_dew_margin(air: float, humidity: float, surface: float) -> float:
    """How many °C a surface is above the dew point; below 0 it is wet."""
    return surface - compute_dew_point(air, humidity)


@dataclass(frozen=True, slots=True)
class CureRule:
    """How much slower a coat cures in cold or damp air than under its data sheet's conditions.

    Raises:
        ImpossibleFigure: limits in the wrong order.
    """

    standard_temperature: float = 25.0
    """The stated time holds from this °C up (77 °F: paint makers' data sheets)."""
    halved_by: float = 10.0
    """Each drop by this many °C doubles the time (rule of thumb of coating guides)."""
    stops_at: float = 10.0
    """No time counts below this °C (data sheets name a least temperature, mostly 10 °C or 50 °F)."""
    standard_humidity: float = 50.0
    """The stated time holds up to this percent (50 %: paint makers' data sheets)."""
    stops_humid: float = MOST_HUMID
    """No time counts from this percent up; in between, the rate falls in a straight line (our choice: the guides only
    say that damp air slows a cure)."""

    def __post_init__(self) -> None:
        if not (self.stops_at <= self.standard_temperature and 0 < self.halved_by < math.inf):
            raise ImpossibleFigure(f"a cure that stops at {self.stops_at:g} °C", "give less than the standard")
        if not 0 <= self.standard_humidity < self.stops_humid:
            raise ImpossibleFigure(f"a cure that stops at {self.stops_humid:g} %", "give more than the standard")

    def find_rate(self, temperature: float, humidity: float) -> float:
        """What one second counts for of the stated time, 0 to 1."""
        if not (temperature >= self.stops_at and 0 <= humidity < self.stops_humid):
            return 0.0
        cold = math.exp2(min(temperature - self.standard_temperature, 0.0) / self.halved_by)
        over = max(humidity - self.standard_humidity, 0.0) / (self.stops_humid - self.standard_humidity)
        return cold * (1 - over)


@dataclass(frozen=True, slots=True)
class RoomReading:
    """The air of a room."""

    at: float
    """Elapsed seconds from any moment."""
    temperature: float
    """°C."""
    humidity: float
    """Relative, percent."""


class CureSpan(NamedTuple):
    """A span of a cure, in the seconds of the readings."""

    start: float
    end: float
    rate: float
    """What one second is worth, 0 to 1."""

    @property
    def worth(self) -> float:
        """Seconds of the stated time."""
        return (self.end - self.start) * self.rate


@dataclass(frozen=True, slots=True)
class CureProgress:
    """How far a coat has cured."""

    spans: tuple[CureSpan, ...]
    """From when the coat went on to now, in order; at least one."""

    @property
    def counted(self) -> float:
        """Seconds of the stated time that these were worth; never more than went by."""
        return min(math.fsum(span.worth for span in self.spans), self.spans[-1].end - self.spans[0].start)

    @property
    def rate(self) -> float:
        """What a second is worth now, 0 to 1."""
        return self.spans[-1].rate

    def estimate_end(self, stated: float) -> float:
        """When a stated time in seconds is over, in the seconds of the readings: as it was, or as it will be if the
        room stays as it is; infinite if curing has stopped."""
        left = stated
        for span in self.spans:
            if left <= span.worth + SLIGHT:
                return span.start + (min(left, span.worth) / span.rate if span.rate else 0.0)
            left -= span.worth
        return self.spans[-1].end + left / self.rate if self.rate else math.inf


def compute_cure_progress(
    readings: Sequence[RoomReading],
    start: float,
    now: float,
    rule: CureRule = CureRule(),  # noqa: B008 (frozen)
) -> CureProgress:
    """What the time since a coat went on is worth, by the readings of the room.

    Between two readings the slower rate counts throughout; before the first and after the last, theirs. Without
    readings all time counts in full.

    Args:
        readings: In any order.
        start: Seconds at which the last coat went on.
        now: Seconds, not before ``start``.
        rule: How the room slows the cure.

    Raises:
        ImpossibleFigure: now before the start.
    """
    if not start <= now < math.inf:
        raise ImpossibleFigure("a cure that starts after now", "check the time of the coat")
    ordered = sorted((one for one in readings if math.isfinite(one.at)), key=lambda one: one.at)
    return CureProgress(tuple(_find_spans(ordered, start, now, rule)))


def _find_spans(ordered: Sequence[RoomReading], start: float, now: float, rule: CureRule) -> Iterator[CureSpan]:
    """Each span between readings from start to now, the last one ending now."""
    if not ordered:
        yield CureSpan(start, now, 1.0)
        return
    rates = [rule.find_rate(one.temperature, one.humidity) for one in ordered]
    known = [(-math.inf, rates[0]), *((one.at, rate) for one, rate in zip(ordered, rates, strict=True))]
    known.append((math.inf, rates[-1]))
    for (earlier, before), (later, after) in pairwise(known):
        first, last = max(earlier, start), min(later, now)
        if first < last or (first == last == now and later > now):
            yield CureSpan(first, last, min(before, after))


class DryingStage(StrEnum):
    """Stages of drying as named in ASTM D1640; the first six come in order, the other two are separate.

    Test them where it does not show. A stage not reached holds a coat back; none replaces the cure time.
    """

    SET_TO_TOUCH = "set-to-touch"
    DUST_FREE = "dust-free"
    TACK_FREE = "tack-free"
    DRY_TO_TOUCH = "dry-to-touch"
    DRY_HARD = "dry-hard"
    DRY_THROUGH = "dry-through"
    DRY_TO_RECOAT = "dry-to-recoat"
    PRINT_FREE = "print-free"


_IN_ORDER = tuple(DryingStage)[:6]


def is_stage_reached(wanted: str, shown: str) -> bool:
    """Whether a coat that a test showed at a stage has reached the wanted one, both by name.

    A stage reached means the ones before it in the order are.
    """
    if wanted == shown:
        return shown in set(DryingStage)
    if wanted not in _IN_ORDER or shown not in _IN_ORDER:
        return False
    return _IN_ORDER.index(DryingStage(shown)) > _IN_ORDER.index(DryingStage(wanted))
