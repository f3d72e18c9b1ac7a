"""Soaks and air: limits in order and in one unit, within the oven's plate, and a control sensor where one governs."""

from __future__ import annotations

from collections.abc import Iterator

from floor.checklist.findings import Finding
from floor.checklist.gates import AirMeasured, Soaked
from floor.checklist.model import Checklist
from floor.checklist.rules.limits import check_band
from floor.checklist.rules.names import iterate_steps


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
            wrong = "a soak check before the cycle has nothing to prove"
            yield Finding(path, wrong, 'use `at = "cycle"` or `at = "after"`')
        if (step.by == "control sensor") != bool(step.control):
            wrong = "a control sensor needs its name"
            yield Finding(path, wrong, 'both `by = "control sensor"` and `control = "…"`')
        if step.longest_gap is not None and step.longest_gap.base <= 0:
            yield Finding((*path, "longest_gap"), "no two readings are that close", 'leave it out, or "15 min"')
        for name in operation.stations:
            limit = stations[name].temperature_limit if name in stations else None
            if limit is not None and step.high.base > limit.base:
                wrong = f"{step.high} is above the {limit} of {stations[name].name}"
                yield Finding((*path, "high"), wrong, f"at most {limit}")


RELIED_ON = (check_temperature_bands, check_soaks)

RULES = RELIED_ON
