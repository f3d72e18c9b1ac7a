"""Soaks: limits that can be told apart, within the oven's plate, and a control sensor where one is to govern."""

from __future__ import annotations

from collections.abc import Iterator

from floor.checklist.findings import Finding
from floor.checklist.gates import Soaked
from floor.checklist.model import Checklist
from floor.checklist.rules.names import iterate_steps


def check_soaks(checklist: Checklist) -> Iterator[Finding]:
    stations = {station.id: station for station in checklist.stations}
    for path, operation, step in iterate_steps(checklist):
        if not isinstance(step, Soaked):
            continue
        if step.low.unit != step.high.unit:
            wrong = f'low is stated in "{step.low.unit}", high in "{step.high.unit}"'
            yield Finding(path, wrong, "write both limits in one unit")
        elif step.low.number >= step.high.number:
            yield Finding(path, f"low ({step.low}) is not below high ({step.high})", "put the smaller value first")
        if step.at not in ("cycle", "after") or not operation.cycle:
            yield Finding(path, "nothing has been soaked before a cycle", 'use `at = "cycle"` or `at = "after"`')
        if (step.by == "control sensor") != bool(step.control):
            yield Finding(
                path, "a control sensor goes with its name", 'both `by = "control sensor"` and `control = "…"`'
            )
        for name in operation.stations:
            limit = stations[name].temperature_limit if name in stations else None
            if limit is not None and step.high.base > limit.base:
                wrong = f"{step.high} is above the {limit} of {stations[name].name}"
                yield Finding((*path, "high"), wrong, f"at most {limit}")


RULES = (check_soaks,)
