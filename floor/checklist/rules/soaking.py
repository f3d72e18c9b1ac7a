"""Soaks and air: limits in order and in one unit, within the oven's plate, and a control sensor where one governs."""

from __future__ import annotations

from collections.abc import Iterator

from floor.checklist.findings import Finding
from floor.checklist.gates import AirMeasured, Soaked
from floor.checklist.model import Checklist
from floor.checklist.rules.limits import check_band
from floor.checklist.rules.names import iterate_steps
from floor.text import format_span

ALL_HUMID = 100.0
"""Percent of relative humidity: the air holds no more water."""


def check_temperature_bands(checklist: Checklist) -> Iterator[Finding]:
    """What is worked out from the limits needs two of them, in one unit."""
    for path, _, step in iterate_steps(checklist):
        if not isinstance(step, Soaked | AirMeasured):
            continue
        yield from check_band(path, step.low, step.high)
        if step.low == step.high:
            yield Finding(path, f"low and high are both {step.low}", "leave room between them")


def check_soaks(checklist: Checklist) -> Iterator[Finding]:
    stations = {station.id: station for station in checklist.stations}
    for path, operation, step in iterate_steps(checklist):
        if not isinstance(step, Soaked):
            continue
        if step.at not in ("cycle", "after") or not operation.cycle:
            wrong = "a soak check before the cycle proves nothing"
            yield Finding(path, wrong, 'use `at = "cycle"` or `at = "after"`')
        if (step.by == "control sensor") != bool(step.control):
            wrong = '`by = "control sensor"` and `control` go together'
            yield Finding(path, wrong, "state both, or neither")
        if step.longest_gap is not None and step.longest_gap.base <= 0:
            yield Finding((*path, "longest_gap"), "no two readings are that close", 'leave it out, or "15 min"')
        for name in operation.stations:
            limit = stations[name].temperature_limit if name in stations else None
            if limit is not None and step.high.base > limit.base:
                wrong = f"{step.high} is above the {limit} of {stations[name].name}"
                yield Finding((*path, "high"), wrong, f"at most {limit}")


def check_soak_times(checklist: Checklist) -> Iterator[Finding]:
    """A time that readings can prove: some, less than the cycle with its ramp, in gaps that cannot hide all of it."""
    carriers = {carrier.id: carrier for carrier in checklist.carriers}
    for path, operation, step in iterate_steps(checklist):
        if not isinstance(step, Soaked):
            continue
        carrier, time = carriers.get(operation.carrier), step.time.base
        load = carrier.capacity * operation.loads_per_cycle if carrier is not None else 0
        cycle = operation.time.seconds("cycle", load)
        if not time:
            yield Finding((*path, "time"), "no time at temperature proves nothing", "state how long")
        elif cycle and time >= cycle:
            wrong = f"{step.time} at temperature leaves no time to get there in a cycle of {format_span(cycle)}"
            yield Finding((*path, "time"), wrong, "lengthen `cycle`, or shorten the time")
        gap = step.longest_gap
        if gap is not None and 0 < time <= gap.base:
            wrong = f"gaps of {gap} cannot prove {step.time}"
            yield Finding((*path, "longest_gap"), wrong, "make it less than `time`")


def check_air(checklist: Checklist) -> Iterator[Finding]:
    for path, _, step in iterate_steps(checklist):
        if not isinstance(step, AirMeasured):
            continue
        humid = step.humidity_high
        if humid is not None and not 0 < humid.base <= ALL_HUMID:
            yield Finding((*path, "humidity_high"), f"{humid} is not a relative humidity", "above 0 %, at most 100 %")
        if step.good_for is not None and not step.good_for.base:
            right = "state how long, or leave it out for the whole run"
            yield Finding((*path, "good_for"), "a reading that is good for no time proves nothing", right)
        if step.at == "after":
            yield Finding((*path, "at"), "measures the air after the coat is on", 'use `at = "load"`')


RELIED_ON = (check_temperature_bands, check_soaks)

RULES = (*RELIED_ON, check_soak_times, check_air)
