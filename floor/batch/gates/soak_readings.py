"""Readings of a soak, typed or of a logger's file, and the time at temperature that follows from them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from math import isnan
from typing import TYPE_CHECKING, Any

from floor.batch.command import Refused
from floor.batch.run import Run
from floor.checklist.gates import READINGS, Soaked
from floor.entry import Moment
from floor.text import format_clock

if TYPE_CHECKING:
    from floor.figures.soak import Soak

MOST_KEPT = 2000
"""Characters of typed readings that are kept with the proof."""
MINUTE = 60.0
"""A reading typed to the minute may be later by its seconds than the end of the cycle."""
_TYPED = re.compile(r"(\d{1,2})[:.](\d{2})(?:[:.](\d{2}))? +([-+]?\d+(?:[.,]\d+)?)", re.ASCII)

Sensors = Mapping[str, Sequence[tuple[float, float]]]
"""Name → readings: seconds since 1970 and °C."""


def prove_soak(gate: Soaked, run: Run, given: str | Mapping[str, Any], now: Moment) -> dict[str, Any]:
    """What is recorded of readings: plain data.

    Args:
        given: as typed, or of a file: its ``file``, ``sha256``, ``sensors`` and ``lacks``.

    Raises:
        Refused: no readings, or none since the cycle started.
    """
    from floor.figures.soak import LONGEST_GAP, Reading, SoakRule, TemperatureBand, compute_soak

    typed = given if isinstance(given, str) else ""
    sensors: Sensors = {"typed": read_typed(gate, typed, now)} if isinstance(given, str) else given["sensors"]
    start, end = start_at(run).timestamp(), min(run.ended or now.at, now.at).timestamp() + MINUTE
    inside = {
        name: [Reading(at, value) for at, value in readings if start <= at <= end] for name, readings in sensors.items()
    }
    if not any(inside.values()):
        raise _refuse(
            "no reading since the cycle started", f"enter those from {format_clock(start_at(run), now.at)} on"
        )
    if gate.by == "control sensor" and gate.control not in inside:
        raise _refuse(f"{gate.control} is not in it", f"its sensors are {', '.join(inside)}")
    soak = compute_soak(
        inside,
        TemperatureBand(gate.low.base, gate.high.base),
        rule=SoakRule(gate.by),
        control=gate.control,
        longest_gap=gate.longest_gap.base if gate.longest_gap is not None else LONGEST_GAP,
    )
    proved = _list_facts(soak) | {"readings": sum(map(len, inside.values())), "sensors": list(inside)}
    if typed:
        return {"soak": proved, "typed": typed[:MOST_KEPT]}
    assert not isinstance(given, str)
    proved["lacks"] += given["lacks"]
    return {"soak": proved, "file": given["file"], "sha256": given["sha256"]}


def _list_facts(soak: Soak) -> dict[str, Any]:
    """What was found, as plain data."""
    return {
        "total": round(soak.total, 1),
        "start": soak.start,
        "over": [[one.sensor, one.stretch.start, round(one.stretch.length, 1), one.peak] for one in soak.over],
        "lacks": [[str(one.kind), one.sensor, None if isnan(one.at) else one.at, one.amount] for one in soak.findings],
    }


def start_at(run: Run) -> datetime:
    return run.started if run.started is not None else run.begun


def read_typed(gate: Soaked, text: str, now: Moment) -> list[tuple[float, float]]:
    """Readings as typed: ``14:05 172, 14:20 175``, in the unit of the limits; the last is the latest gone by.

    Raises:
        Refused: something that is not a time and a temperature, or times out of order.
    """
    found: list[tuple[timedelta, float]] = []
    for part in filter(None, map(str.strip, re.split(r"[;,](?!\d)|\n", text))):
        read = _TYPED.fullmatch(part.removesuffix(gate.low.unit).strip())
        if read is None:
            raise _refuse(f'"{part[:20]}" is not a time and a temperature', "write it 14:05 172, 14:20 175")
        hours, minutes, seconds = (int(one or 0) for one in read.groups()[:3])
        if hours > 23 or minutes > 59 or seconds > 59:
            raise _refuse(f'"{part[:20]}" is not a time of day', "write it 14:05 172, 14:20 175")
        found.append((timedelta(hours=hours, minutes=minutes, seconds=seconds), float(read[4].replace(",", "."))))
    moments: list[tuple[float, float]] = []
    latest = now.at
    for time, value in reversed(found):
        at = latest.replace(hour=0, minute=0, second=0, microsecond=0) + time
        at = at if at <= latest else at - timedelta(days=1)
        moments.append((at.timestamp(), _to_celsius(gate, value)))
        latest = at
    return moments[::-1]


def _refuse(wrong: str, remedy: str) -> Refused:
    return Refused("input", f"Readings: {wrong}", remedy, field=READINGS)


def _to_celsius(gate: Soaked, value: float) -> float:
    """A temperature in the unit of the limits, in °C."""
    slope = (gate.high.base - gate.low.base) / (gate.high.number - gate.low.number)
    return gate.low.base + (value - gate.low.number) * slope
