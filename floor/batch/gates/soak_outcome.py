"""What readings of a soak prove and what they lack, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from floor.checklist.gates import Soaked
from floor.entry import Moment
from floor.text import format_clock, format_count, format_span


def format_temperature(gate: Soaked, celsius: float) -> str:
    """A temperature in °C, in the unit of the limits."""
    slope = (gate.high.number - gate.low.number) / (gate.high.base - gate.low.base)
    return f"{gate.low.number + (celsius - gate.low.base) * slope:.4g} {gate.low.unit}"


def describe_soak(gate: Soaked, values: Mapping[str, Any], now: Moment) -> str:
    """``3 h 05 of 3 h 00 at temperature from 10:05 (all sensors)``, and what the readings lack."""
    soak = values["soak"]
    since = f" from {_clock(soak['start'], now)}" if soak["start"] is not None else ""
    how = gate.by if len(soak["sensors"]) > 1 else format_count(soak["readings"], "reading")
    said = f"{format_span(soak['total'])} of {format_span(gate.time.base)} at temperature{since} ({how})"
    return "; ".join([said, *_list_lacks(soak["lacks"], now)])


def describe_over_temperature(gate: Soaked, values: Mapping[str, Any], now: Moment) -> str:
    """How long and how far it was above the limit, in a sentence; empty where it was not."""
    over = values["soak"]["over"]
    if not over:
        return ""
    seconds, peak = sum(one[2] for one in over), max(one[3] for one in over)
    first = _clock(min(one[1] for one in over), now)
    length = f" for {format_span(seconds)}" if seconds else ""
    return f"above {gate.high}{length}, first at {first}, highest {format_temperature(gate, peak)}"


_LACKS = {
    "no readings": "{sensor}: no readings",
    "no number": "readings without a number left out: {amount:.0f}",
    "gap": "no readings for {span} before {at}: not counted",
    "hour skipped": "no readings for {span} before {at}: not counted (clock change?)",
    "out of order": "read out of order at {at}",
    "hour repeated": "clocks went back at {at}",
    "sparse": "sparse: readings at temperature: {amount:.0f}",
    "line unread": "file lines not read: {amount:.0f}",
    "cells off": "{amount:.0f} file lines skipped: wrong column count",
    "out of range": "{sensor}: readings out of range left out: {amount:.0f}",
    "unit unknown": "{sensor}: unit not known, left out",
    "unit conflict": "{sensor}: readings in another unit left out: {amount:.0f}",
    "date order assumed": "day and month order not clear: month read first",
    "encoding guessed": "text encoding guessed",
    "hour ambiguous": "readings in the repeated hour (clock set back): {amount:.0f}",
}


def _list_lacks(lacks: Sequence[Sequence[Any]], now: Moment) -> list[str]:
    found = []
    for kind, sensor, at, amount in lacks:
        said = _LACKS.get(kind, kind)
        when = _clock(at, now) if at is not None else ""
        found.append(said.format(sensor=sensor, at=when or "the change", amount=amount, span=format_span(amount)))
    return list(dict.fromkeys(found))


def _clock(at: float, now: Moment) -> str:
    return format_clock(datetime.fromtimestamp(at, now.at.tzinfo), now.at)
