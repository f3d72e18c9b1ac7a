"""Time at temperature from readings: summed inside the band only, straight lines between readings.

What nobody measured does not count: across too long a gap, and on both sides of a reading that shows no temperature, it
is unknown, so that adds nothing even if both ends are in the band. Nor does a gap add to over-temperature: that ends
with the last reading before the gap and is another after it, and the gap itself is a finding.

Readings that a clock change put out of order are sorted by time and reported. Only time between two readings taken in
succession counts, so sorting joins nothing new. An hour the clock shows twice counts once at most, as the readings of
both passes share it; an hour the clock skips is a gap.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterable, Iterator, Mapping, Sequence
from enum import StrEnum
from itertools import pairwise

from floor.dataclass import dataclass
from floor.figures.errors import ImpossibleFigure
from floor.figures.temperature import LONGEST_GAP

FEWEST_READINGS = 6
"""Fewest readings per sensor in the time that counts; fewer are sparse (the same; from memory)."""
_HOUR = 3600.0


class SoakRule(StrEnum):
    """Whose temperature counts, and so when the soak starts."""

    ALL_SENSORS = "all sensors"
    """While every sensor is in the band."""
    LAST_SENSOR = "last sensor"
    """From when the last sensor reaches the band, while that one is in it: the slowest place governs."""
    CONTROL_SENSOR = "control sensor"
    """While the named control sensor is in the band."""


class SoakFindingKind(StrEnum):
    """What the readings lack."""

    NO_READINGS = "no readings"
    """A sensor that counts has no readings."""
    NO_NUMBER = "no number"
    """A reading without a valid time, left out. The amount is how many."""
    NO_TEMPERATURE = "no temperature"
    """A reading without a valid temperature, as of a sensor over its range or broken: the time from the reading before
    it to the one after adds nothing. The amount is how many."""
    GAP = "gap"
    """Too long without a reading; adds nothing. The amount is its length in seconds."""
    HOUR_SKIPPED = "hour skipped"
    """A gap an hour longer than usual, as when clocks go forward. The amount is its length in seconds."""
    OUT_OF_ORDER = "out of order"
    """A reading earlier than the one before. The amount is by how many seconds."""
    HOUR_REPEATED = "hour repeated"
    """The same, by an hour less the usual interval, as when clocks go back."""
    SPARSE = "sparse"
    """Too few readings in the time that counts. The amount is how many."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What a sensor showed."""

    at: float
    """Elapsed seconds from any moment."""
    temperature: float
    """°C."""


@dataclass(frozen=True, slots=True)
class TemperatureBand:
    """Temperatures in °C between which time counts, both ends included.

    Raises:
        ImpossibleFigure: not numbers, or low above high.
    """

    low: float
    high: float = math.inf

    def __post_init__(self) -> None:
        if not -math.inf < self.low <= self.high:
            raise ImpossibleFigure(f"a band from {self.low:g} to {self.high:g}", "give the lower limit first")


@dataclass(frozen=True, slots=True)
class Stretch:
    """A span without a break, in the seconds of the readings."""

    start: float
    end: float

    @property
    def length(self) -> float:
        """Seconds."""
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class OverTemperature:
    """A span in which a sensor showed more than the band allows."""

    sensor: str
    stretch: Stretch
    peak: float
    """Highest reading, °C."""


@dataclass(frozen=True, slots=True)
class SoakFinding:
    """One thing the readings lack."""

    kind: SoakFindingKind
    sensor: str
    at: float
    """Seconds of the reading that shows it; NaN if there is none."""
    amount: float


@dataclass(frozen=True, slots=True)
class Soak:
    """What the readings prove."""

    rule: SoakRule
    stretches: tuple[Stretch, ...]
    """The time that counts, in order."""
    over: tuple[OverTemperature, ...]
    """For every sensor, whichever counts."""
    findings: tuple[SoakFinding, ...]
    inside: Mapping[str, float]
    """Seconds in the band of each sensor that counts."""

    @property
    def total(self) -> float:
        """Total seconds that count."""
        return math.fsum(stretch.length for stretch in self.stretches)

    @property
    def longest(self) -> float:
        """Seconds of the longest stretch without a break."""
        return max((stretch.length for stretch in self.stretches), default=0.0)

    @property
    def start(self) -> float | None:
        """When the soak starts; None if it never does."""
        return self.stretches[0].start if self.stretches else None


def compute_soak(
    sensors: Mapping[str, Sequence[Reading]],
    band: TemperatureBand,
    *,
    rule: SoakRule = SoakRule.ALL_SENSORS,
    control: str = "",
    longest_gap: float = LONGEST_GAP,
    fewest: int = FEWEST_READINGS,
) -> Soak:
    """Compute time at temperature, over-temperature, and what the readings lack.

    Args:
        sensors: Name → readings, in the order taken.
        band: What counts.
        rule: Whose temperature counts.
        control: The sensor that counts under `SoakRule.CONTROL_SENSOR`.
        longest_gap: Most seconds between readings that still prove the time between, above 0.
        fewest: Fewest readings, in the time that counts, of each sensor that counts.

    Raises:
        ImpossibleFigure: a gap not above 0, or a control sensor that is not one of the sensors.
    """
    if not 0 < longest_gap < math.inf:
        raise ImpossibleFigure(f"a longest gap of {longest_gap:g} s", "give seconds above 0")
    findings: list[SoakFinding] = []
    series = {name: _put_in_order(name, readings, longest_gap, findings) for name, readings in sensors.items()}
    inside = {
        name: _intersect([
            _merge(_find_inside(readings, band, longest_gap)), _merge(_find_watched(sensors[name], longest_gap)),
        ])
        for name, readings in series.items()
    }  # fmt: skip
    counted = _choose_sensors(inside, rule, control)
    stretches = _intersect([inside[name] for name in counted])
    for name in counted:
        findings += _find_too_few(name, series[name], stretches, fewest)
    over = [one for name, readings in series.items() for one in _find_over(name, readings, band.high, longest_gap)]
    each = {name: math.fsum(stretch.length for stretch in inside[name]) for name in counted}
    return Soak(rule, tuple(stretches), tuple(over), tuple(findings), each)


def _put_in_order(
    name: str, readings: Sequence[Reading], longest_gap: float, findings: list[SoakFinding]
) -> list[Reading]:
    """The valid readings in order of time; faults in their times are added to the findings."""
    findings += _find_invalid(name, readings)
    known = [one for one in readings if math.isfinite(one.at) and math.isfinite(one.temperature)]
    steps = [later.at - earlier.at for earlier, later in pairwise(known)]
    usual = statistics.median(map(abs, steps)) if steps else 0.0
    for step, reading in zip(steps, known[1:], strict=True):
        if step < 0:
            repeated = _is_about_an_hour(-step + usual, usual)
            kind = SoakFindingKind.HOUR_REPEATED if repeated else SoakFindingKind.OUT_OF_ORDER
            findings.append(SoakFinding(kind, name, reading.at, -step))
    ordered = sorted(known, key=lambda one: (one.at, one.temperature))
    for earlier, later in pairwise(ordered):
        gap = later.at - earlier.at
        if gap > longest_gap:
            kind = SoakFindingKind.HOUR_SKIPPED if _is_about_an_hour(gap - usual, usual) else SoakFindingKind.GAP
            findings.append(SoakFinding(kind, name, later.at, gap))
    return ordered


def _find_invalid(name: str, readings: Sequence[Reading]) -> Iterator[SoakFinding]:
    untimed = sum(not math.isfinite(one.at) for one in readings)
    if untimed:
        yield SoakFinding(SoakFindingKind.NO_NUMBER, name, math.nan, untimed)
    blind = [one.at for one in readings if math.isfinite(one.at) and not math.isfinite(one.temperature)]
    if blind:
        yield SoakFinding(SoakFindingKind.NO_TEMPERATURE, name, blind[0], len(blind))


def _is_about_an_hour(seconds: float, usual: float) -> bool:
    """Whether a jump looks like a clock set by an hour, readings being usually closer than that."""
    return usual < _HOUR / 2 and abs(seconds - _HOUR) <= usual / 2


def _find_watched(readings: Sequence[Reading], longest_gap: float) -> list[Stretch]:
    """Stretches between readings taken in succession, in order; one without a temperature is between two others."""
    timed = [one for one in readings if math.isfinite(one.at)]
    watched = [
        Stretch(one.at, other.at)
        for one, other in pairwise(timed)
        if 0 < other.at - one.at <= longest_gap and math.isfinite(one.temperature + other.temperature)
    ]
    return sorted(watched, key=lambda one: one.start)


def _find_inside(readings: Sequence[Reading], band: TemperatureBand, longest_gap: float) -> Iterator[Stretch]:
    """Where the straight line between two readings is in the band."""
    for earlier, later in pairwise(readings):
        if 0 < later.at - earlier.at <= longest_gap:
            first, last = _find_shares(earlier.temperature, later.temperature, band)
            if first < last:
                yield Stretch(_between(earlier.at, later.at, first), _between(earlier.at, later.at, last))


def _find_shares(before: float, after: float, band: TemperatureBand) -> tuple[float, float]:
    """From and to which share of its length a line is in the band; the second is smaller if it never is."""
    if before == after:
        return (0.0, 1.0) if band.low <= before <= band.high else (1.0, 0.0)
    at_low, at_high = ((limit - before) / (after - before) for limit in (band.low, band.high))
    return max(min(at_low, at_high), 0.0), min(max(at_low, at_high), 1.0)


def _between(start: float, end: float, share: float) -> float:
    return end if share == 1 else start + (end - start) * share


def _merge(stretches: Iterable[Stretch]) -> list[Stretch]:
    """Stretches in order of start, touching ones joined."""
    merged: list[Stretch] = []
    for one in stretches:
        if merged and one.start <= merged[-1].end:
            merged[-1] = Stretch(merged[-1].start, max(merged[-1].end, one.end))
        else:
            merged.append(one)
    return merged


def _choose_sensors(inside: Mapping[str, Sequence[Stretch]], rule: SoakRule, control: str) -> list[str]:
    """The sensors that must all be in the band."""
    if rule is SoakRule.ALL_SENSORS:
        return list(inside)
    if rule is SoakRule.LAST_SENSOR:
        return [max(inside, key=lambda name: inside[name][0].start if inside[name] else math.inf)] if inside else []
    if control not in inside:
        raise ImpossibleFigure(f"{control} as the control sensor", "name one of the sensors that were read")
    return [control]


def _intersect(all_stretches: Sequence[Sequence[Stretch]]) -> list[Stretch]:
    """Where all of them are in at once."""
    common = list(all_stretches[0]) if all_stretches else []
    for others in all_stretches[1:]:
        common = list(_intersect_two(common, others))
    return common


def _intersect_two(some: Sequence[Stretch], others: Sequence[Stretch]) -> Iterator[Stretch]:
    i = j = 0
    while i < len(some) and j < len(others):
        start, end = max(some[i].start, others[j].start), min(some[i].end, others[j].end)
        if start < end:
            yield Stretch(start, end)
        if some[i].end <= others[j].end:
            i += 1
        else:
            j += 1


def _find_too_few(
    name: str, readings: Sequence[Reading], stretches: Sequence[Stretch], fewest: int
) -> Iterator[SoakFinding]:
    if not readings:
        yield SoakFinding(SoakFindingKind.NO_READINGS, name, math.nan, 0)
    elif stretches:
        number = _count_inside(readings, stretches)
        if number < fewest:
            yield SoakFinding(SoakFindingKind.SPARSE, name, stretches[0].start, number)


def _count_inside(readings: Sequence[Reading], stretches: Sequence[Stretch]) -> int:
    """Readings within stretches, both in order."""
    number, i = 0, 0
    for reading in readings:
        while i < len(stretches) and stretches[i].end < reading.at:
            i += 1
        number += i < len(stretches) and stretches[i].start <= reading.at
    return number


def _find_over(name: str, readings: Sequence[Reading], high: float, longest_gap: float) -> Iterator[OverTemperature]:
    """Spans above the band, from crossing to crossing; they end with the readings, and at too long a gap."""
    start, peak = 0.0, -math.inf
    earlier: Reading | None = None
    for reading in readings:
        if earlier is not None and reading.at - earlier.at > longest_gap:
            if peak > -math.inf:
                yield OverTemperature(name, Stretch(start, earlier.at), peak)
            earlier, peak = None, -math.inf
        above = reading.temperature > high
        if above and peak == -math.inf:
            start = reading.at if earlier is None else _find_crossing(earlier, reading, high)
        if above:
            peak = max(peak, reading.temperature)
        elif earlier is not None and peak > -math.inf:
            yield OverTemperature(name, Stretch(start, _find_crossing(earlier, reading, high)), peak)
            peak = -math.inf
        earlier = reading
    if earlier is not None and peak > -math.inf:
        yield OverTemperature(name, Stretch(start, earlier.at), peak)


def _find_crossing(one: Reading, other: Reading, limit: float) -> float:
    """When the line between two readings on either side of a limit crosses it."""
    return one.at + (other.at - one.at) * (limit - one.temperature) / (other.temperature - one.temperature)
