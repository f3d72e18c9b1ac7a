"""Readings of a soak, typed or of a logger's file, and the time at temperature that follows from them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, time
from math import isnan
from typing import TYPE_CHECKING, Any, NamedTuple

from floor.batch.command import Refused
from floor.batch.gates.entered_values import read_values
from floor.batch.gates.soak_outcome import IN_FUTURE, Lack, Over, find_longest_gap
from floor.batch.run import Run
from floor.checklist.gate_forms import READINGS
from floor.checklist.gates import Soaked
from floor.checklist.units import find_temperature_scale
from floor.dataclass import dataclass
from floor.entry import Moment
from floor.figures.temperature import ABSOLUTE_ZERO
from floor.text import format_clock
from floor.wall import parse_typed_time

if TYPE_CHECKING:  # opening a shop needs no soaks
    from floor.figures.soak import Soak

MOST_NAMED = 8
"""Most sensors that an entry names one by one; the others are summed up."""
MINUTE = 60.0
"""How far ahead a logger's clock may be before its readings count as in the future."""
LARGEST_TYPED = 9999
"""Degrees of the hottest and the coldest reading that anybody may type (shop decision)."""
HOW = "write it like 14:05 172, 14:20 175"
_BETWEEN = re.compile(r"[;,] ?(?=\d{1,2}[:.]\d\d\b)|[;\n]|,(?!\d)|(?<=\d) +(?=\d{1,2}:\d\d\b)", re.ASCII)
"""What stands between two typed readings; a comma before a digit may be a decimal one."""
_TYPED = re.compile(r"(\d{1,2})[:.](\d{2})(?:[:.](\d{2}))? +([-+]?\d+(?:[.,]\d+)?)", re.ASCII)

Sensors = Mapping[str, Sequence[tuple[float, float]]]
"""Name → readings: seconds since 1970 and °C."""


class WorkSpan(NamedTuple):
    """When the work was done that a proof is about."""

    start: datetime
    end: datetime
    now: datetime
    """When it is proved, not before the end."""


def find_work_span(run: Run, now: Moment) -> WorkSpan:
    """From the start of a run's cycle to its end, or to now."""
    start = run.started if run.started is not None else run.begun
    end = min(run.ended or now.at, now.at)
    return WorkSpan(min(start, end), end, now.at)


class WorkedOut(NamedTuple):
    """What follows from readings for a gate and a span."""

    gate: Soaked
    span: WorkSpan
    soak: dict[str, Any]

    def is_for(self, gate: Soaked, span: WorkSpan) -> bool:
        """Whether it is right for a gate and a span too: the file was read a moment before it is recorded."""
        later = (span.end - self.span.end).total_seconds()
        return (gate, span.start) == (self.gate, self.span.start) and 0 <= later <= MINUTE


@dataclass(frozen=True, slots=True)
class LoggerReadings:
    """What a logger's file holds."""

    file: str
    """Its name."""
    sha256: str
    sensors: Sensors
    lacks: tuple[Lack, ...] = ()
    worked_out: WorkedOut | None = None
    """What follows from them, if that was worked out where they were read: it takes seconds for days of readings."""

    def __str__(self) -> str:
        return self.file


def read_soak(gate: Soaked, given: Mapping[str, Any], span: WorkSpan | None) -> dict[str, Any]:
    """What is recorded of a soak: plain data.

    Args:
        given: its readings as typed text or as `LoggerReadings`, and the set point.

    Raises:
        Refused: no readings, none of this cycle, or some that are not of it.
    """
    entered = given.get(READINGS)
    file = entered if isinstance(entered, LoggerReadings) else None
    values = read_values(gate, 1, {**given, READINGS: file.file if file is not None else entered})
    text = values.pop(READINGS)
    if span is None:
        raise _refuse("the start of the cycle is not known", "leave it out, then have a lead waive it on the walk")
    if file is None:
        typed = read_typed(gate, text, span)
        return values | {"soak": _prove(gate, {gate.control or "typed": typed}, []), "typed": text}
    known = file.worked_out
    soak = known.soak if known is not None and known.is_for(gate, span) else _prove_file(gate, file, span)
    return values | {"soak": soak, "file": file.file, "sha256": file.sha256}


def work_out_soak(gate: Soaked, file: LoggerReadings, span: WorkSpan) -> LoggerReadings:
    """The readings with what follows from them.

    Raises:
        Refused: none of them is of the cycle, or the control sensor is missing.
    """
    return replace(file, worked_out=WorkedOut(gate, span, _prove_file(gate, file, span)))


def _prove_file(gate: Soaked, file: LoggerReadings, span: WorkSpan) -> dict[str, Any]:
    start, end, late = span.start.timestamp(), span.end.timestamp(), span.now.timestamp() + MINUTE
    inside = {name: [one for one in readings if start <= one[0] <= end] for name, readings in file.sensors.items()}
    times = [at for readings in file.sensors.values() for at, _ in readings]
    future = sum(at > late for at in times)
    if not any(inside.values()):
        first, last = (_say(datetime.fromtimestamp(at, span.now.tzinfo), span) for at in (min(times), max(times)))
        wrong = f"{file.file} has {first} to {last}, the cycle ran {_say(span.start, span)} to {_say(span.end, span)}"
        raise _refuse(wrong, "check the logger's clock, or name this cycle's file")
    if gate.by == "control sensor" and gate.control not in inside:
        raise _refuse(f"{gate.control} is not in {file.file}", f"its sensors: {_name_some(list(inside))}")
    lacks = [*file.lacks, *([Lack(IN_FUTURE, "", None, future)] if future else [])]
    return _prove(gate, inside, lacks)


def _name_some(names: Sequence[str]) -> str:
    more = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


def _prove(gate: Soaked, sensors: Sensors, lacks: Sequence[Lack]) -> dict[str, Any]:
    """What was found, as plain data that stays small whatever was read."""
    from floor.figures.soak import Reading, SoakRule, TemperatureBand, compute_soak

    soak = compute_soak(
        {name: [Reading(at, value) for at, value in readings] for name, readings in sensors.items()},
        TemperatureBand(gate.low.base, gate.high.base),
        rule=SoakRule(gate.by),
        control=gate.control,
        longest_gap=find_longest_gap(gate),
    )
    found = [Lack(str(one.kind), one.sensor, None if isnan(one.at) else one.at, one.amount) for one in soak.findings]
    return {
        "total": round(soak.total, 1),
        "start": soak.start,
        "readings": sum(not isnan(value) for readings in sensors.values() for _, value in readings),
        "sensors": list(sensors)[:MOST_NAMED],
        "many": len(sensors),
        "last": _find_first_end(sensors),
        "shortest": _find_shortest(soak) if len(sensors) > 1 and gate.by != "control sensor" else None,
        "over": [list(one) for one in sum_up_over(_list_over(soak))],
        "lacks": [list(one) for one in sum_up_lacks([*found, *lacks])],
    }


def _find_shortest(soak: Soak) -> list[Any]:
    """The sensor that was at temperature for the shortest time, and its seconds."""
    name, seconds = min(soak.inside.items(), key=lambda one: one[1])
    return [name, round(seconds, 1)]


def _find_first_end(sensors: Sensors) -> list[Any] | None:
    """The sensor whose readings end first, and when."""
    ends = [(name, at) for name, readings in sensors.items() for at, value in readings[-1:] if not isnan(value)]
    if not ends:
        return None
    name, at = min(ends, key=lambda one: one[1])
    return [name, at]


def _list_over(soak: Soak) -> Iterator[Over]:
    for one in soak.over:
        yield Over(one.sensor, one.stretch.start, round(one.stretch.length, 1), one.peak)


def sum_up_over(found: Iterator[Over]) -> list[Over]:
    """One row for each sensor, the longest first; those beyond the eighth share one."""
    by_sensor: dict[str, Over] = {}
    for one in found:
        known = by_sensor.get(one.sensor)
        by_sensor[one.sensor] = one if known is None else known.with_more(one)
    rows = sorted(by_sensor.values(), key=lambda one: (-one.length, one.start))
    others = rows[MOST_NAMED:]
    if not others:
        return rows
    shared = Over("", min(one.start for one in others), others[0].length, max(one.peak for one in others))
    return [*rows[:MOST_NAMED], shared]


def sum_up_lacks(found: Sequence[Lack]) -> list[Lack]:
    """One row for each kind and sensor; where too many sensors lack the same, one for all of them."""
    summed: dict[tuple[str, str], Lack] = {}
    named: dict[str, set[str]] = {}
    for one in found:
        named.setdefault(one.kind, set()).add(one.sensor)
    for one in found:
        sensor = one.sensor if len(named[one.kind]) <= MOST_NAMED else ""
        known = summed.get((one.kind, sensor))
        summed[one.kind, sensor] = one._replace(sensor=sensor) if known is None else known.with_more(one)
    return list(summed.values())


def read_typed(gate: Soaked, text: str, span: WorkSpan) -> list[tuple[float, float]]:
    """Readings as typed: ``14:05 172, 14:20 175``, in the unit of the limits, in order, all while the cycle ran.

    A time typed to the minute means all of that minute, so the minute of the start counts.

    Raises:
        Refused: something that is not a time and a temperature, or is not of the cycle.
    """
    found = [_read_one(gate, part) for part in map(str.strip, _BETWEEN.split(text)) if part]
    scale = find_temperature_scale(gate.low.unit)
    moments: list[tuple[float, float]] = []
    first, latest = span.start.replace(second=0, microsecond=0), span.end
    for clock, value, typed in reversed(found):
        at = parse_typed_time(clock.isoformat(), latest, past=True)
        if at is None or at < first:
            raise _refuse_stray(clock, typed, moments, first, span)
        moments.append((at.timestamp(), scale.to_celsius(value)))
        latest = at
    return moments[::-1]


def _refuse_stray(
    clock: time, typed: str, later: Sequence[tuple[float, float]], first: datetime, span: WorkSpan
) -> Refused:
    """A time that is not of the cycle, or of it and entered before an earlier one."""
    at = parse_typed_time(clock.isoformat(), span.end, past=True)
    if at is not None and at >= first:
        after = _say(datetime.fromtimestamp(later[-1][0], span.now.tzinfo), span)
        return _refuse(f"{typed} comes before {after}", "enter them in order of time")
    wrong = f"{typed} is outside the cycle, {_say(span.start, span)} to {_say(span.end, span)}"
    return _refuse(wrong, "leave out times of another cycle or still to come")


def _read_one(gate: Soaked, part: str) -> tuple[time, float, str]:
    """Time of day, temperature in the unit of the limits, and the time as typed."""
    read = _TYPED.fullmatch(part.removesuffix(gate.low.unit).strip())
    if read is None:
        raise _refuse(f'"{part[:20]}" is not a time and a temperature', HOW)
    value = float(read[4].replace(",", "."))
    if abs(value) > LARGEST_TYPED or find_temperature_scale(gate.low.unit).to_celsius(value) < ABSOLUTE_ZERO:
        raise _refuse(f'"{part[:20]}" is not a temperature', HOW)
    hour, minute, second = (int(one or 0) for one in read.groups()[:3])
    try:
        return time(hour, minute, second), value, part.split()[0]
    except ValueError:
        raise _refuse(f'"{part[:20]}" is not a time of day', HOW) from None


def _say(at: datetime, span: WorkSpan) -> str:
    return format_clock(at, span.now)


def _refuse(wrong: str, remedy: str) -> Refused:
    return Refused("input", f"Readings: {wrong}", remedy, field=READINGS)
