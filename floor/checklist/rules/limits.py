"""Numbers that must agree: limits, speeds, places, times, and the length of a list."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from floor.checklist.consumables import ByArea
from floor.checklist.equipment import Station
from floor.checklist.findings import Finding
from floor.checklist.gate_base import Phase
from floor.checklist.gates import Characteristic, FirstPiece, Measured, Probed, ToolLoaded, WorkHeld
from floor.checklist.line_numbers import Path
from floor.checklist.model import Checklist
from floor.checklist.rules.names import iterate_steps, iterate_values
from floor.checklist.units import Measure, can_convert, list_units_like, read_measure, show_example

MOST_CAUTIONS = 3
"""Most cautions on one step; too many are not read (DOE-STD-1029-92, warnings and cautions)."""
PAUSE_ITEMS = 10
"""Most steps to walk in one pause ("A Checklist for Checklists", 2010)."""


def check_limit_order(checklist: Checklist) -> Iterator[Finding]:
    for path, _, step in iterate_steps(checklist):
        if isinstance(step, Measured | FirstPiece):
            for at, one in iterate_values(path, step):
                yield from _check_measured(at, one)
            yield from _check_told_apart(path, step)
        if isinstance(step, Measured) and step.characteristics:
            yield from _check_not_stated_twice(path, step)
        if isinstance(step, Probed):
            for k, axis in enumerate(step.axes):
                yield from check_band((*path, "axes", k), axis.low, axis.high)
        elif isinstance(step, WorkHeld | ToolLoaded):
            yield from check_band(path, step.low, step.high)
            if isinstance(step, ToolLoaded) and (step.low or step.high) and not step.length:
                wrong = "limits of a length that is not asked for"
                yield Finding(path, wrong, "leave out the limits, or `length = false`")


def _check_measured(path: Path, step: Measured | Characteristic) -> Iterator[Finding]:
    yield from check_band(path, step.low, step.high)
    if step.serial and not step.gauge:
        yield Finding((*path, "serial"), "asks for a serial number, but names no gauge", "add `gauge`")
    yield from _check_gauge_unit(path, step)
    if step.accept and (step.low or step.high):
        yield Finding(path, "has limits and `accept` too", "a look needs `accept`, a measurement needs limits")
    elif not (step.accept or step.low or step.high):
        right = "add `low`, `high` or both; for a look, `accept`"
        yield Finding(path, "has no limit, so nothing could be refused", right)


def _check_gauge_unit(path: Path, step: Measured | Characteristic) -> Iterator[Finding]:
    stated = next((one.unit for one in (step.low, step.high) if one is not None), "")
    if step.gauge_unit and stated and not can_convert(stated, step.gauge_unit):
        others = ", ".join(list_units_like(stated))
        right = f"use {others}" if others else "leave it out"
        yield Finding((*path, "gauge_unit"), f'"{stated}" cannot be shown in "{step.gauge_unit}"', right)
    elif step.gauge_unit and not stated:
        yield Finding((*path, "gauge_unit"), "a unit, but no limit", "leave it out")


def _check_told_apart(path: Path, step: Measured | FirstPiece) -> Iterator[Finding]:
    """A report and a chart name a characteristic by its words, a drawing by its number."""
    seen: set[object] = set()
    for k, one in enumerate(step.characteristics):
        for field in ("what", "number"):
            value = getattr(one, field)
            if value is not None and (field, value) in seen:
                at = (*path, "characteristics", k, field)
                yield Finding(at, f"{value} is there twice", "name each value differently, by its own number")
            seen.add((field, value))


def _check_not_stated_twice(path: Path, step: Measured) -> Iterator[Finding]:
    for field in ("number", "low", "high", "accept", "gauge", "gauge_unit", "serial"):
        if getattr(step, field):
            wrong = f"`{field}` stands beside `characteristics`"
            yield Finding((*path, field), wrong, "state it at the characteristic it is of")
    if step.of == "station":
        yield Finding((*path, "of"), "a station has no characteristics", "use one check for each reading")


def check_band(path: Path, low: Measure | None, high: Measure | None) -> Iterator[Finding]:
    if low is None or high is None:
        return
    if low.unit != high.unit:
        yield Finding(path, f'low is stated in "{low.unit}", high in "{high.unit}"', "write both limits in one unit")
    elif low.number > high.number:
        yield Finding(path, f"low ({low}) is above high ({high})", "put the smaller value first")


QUANTITIES = {
    "torque": "torque", "pressure": "pressure", "temperature": "temperature", "angle": "angle",
    "diameter": "length", "depth": "length", "height": "length", "width": "length", "thickness": "length",
}  # fmt: skip
"""Last word of what is read → its dimension."""
MOST_FILM = 1.0
"""Thickest film of a coat in mm (shop decision): more is a figure in micrometers or thou with another unit."""


def check_quantity_units(checklist: Checklist) -> Iterator[Finding]:
    """A torque is stated in units of torque, and a film in micrometers or mils."""
    for path, what, low, high in _list_named(checklist):
        words = what.casefold().split()
        dimension = QUANTITIES.get(words[-1], "") if words else ""
        for field, stated in (("low", low), ("high", high)) if dimension else ():
            base = _base(stated, dimension)
            if stated is not None and base is None:
                wrong = f'"{stated}" is not {_A.get(dimension, f"a {dimension}")}'
                yield Finding(
                    (*path, field), wrong, f"{show_example(dimension, checklist.part.units)}, or rename `what`"
                )
            elif base is not None and "film" in words and dimension == "length" and base > MOST_FILM:
                yield _thick((*path, field), stated)
    for i, one in enumerate(checklist.consumables):
        if isinstance(one, ByArea) and one.film is not None and one.film.base > MOST_FILM:
            yield _thick(("consumables", i, "film"), one.film)


_A = {"angle": "an angle"}


def _thick(path: Path, stated: Measure | None) -> Finding:
    return Finding(path, f"{stated} is too thick for a coat", 'write it in "um" or "thou"')


def _list_named(checklist: Checklist) -> Iterator[tuple[Path, str, Measure | None, Measure | None]]:
    """Each value that a gate names, with its limits."""
    for path, _, step in iterate_steps(checklist):
        if isinstance(step, WorkHeld):
            yield path, step.what, step.low, step.high
        for at, one in iterate_values(path, step):
            yield at, one.what, one.low, one.high


def check_tool_within_station(checklist: Checklist) -> Iterator[Finding]:
    for station in checklist.stations:
        here, limit = checklist.tools_at(station.id), station.speed_limit
        for i, tool in enumerate(checklist.tools):
            if tool in here and tool.speed and limit and tool.speed.base > limit.base:
                wrong = f"{tool.speed} is above the {limit} that {station.id} can turn"
                yield Finding(("tools", i, "speed"), wrong, f"at most {limit}; lower the feed with it")


def check_temperature_within_station(checklist: Checklist) -> Iterator[Finding]:
    """No reading is asked for that the station cannot, or must not, reach."""
    for path, step, station in _measured_at(checklist):
        yield from _beyond(path, step, station, "temperature", station.temperature_limit)


def check_power_within_station(checklist: Checklist) -> Iterator[Finding]:
    """No spindle load or heater power is asked for beyond what the station has."""
    for path, step, station in _measured_at(checklist):
        yield from _beyond(path, step, station, "power", station.power_limit)


def _measured_at(checklist: Checklist) -> Iterator[tuple[Path, Measured, Station]]:
    stations = {station.id: station for station in checklist.stations}
    for path, operation, step in iterate_steps(checklist):
        if isinstance(step, Measured):
            for station in filter(None, map(stations.get, operation.stations)):
                yield path, step, station


def _beyond(path: Path, step: Measured, station: Station, dimension: str, limit: Measure | None) -> Iterator[Finding]:
    for field, stated in (("low", step.low), ("high", step.high)) if limit is not None else ():
        base = _base(stated, dimension)
        if limit is not None and base is not None and base > limit.base:
            why = f"; {station.source}" if station.source else ""
            wrong = f"{stated} is above the {limit} of {station.name}"
            yield Finding((*path, field), wrong, f"at most {limit}{why}")


def _base(stated: Measure | None, dimension: str) -> float | None:
    """In the base unit of the dimension; None for a value of any other."""
    try:
        return read_measure(stated.text, dimension).base if stated else None
    except ValueError:
        return None


def check_tool_life_kind(checklist: Checklist) -> Iterator[Finding]:
    for i, operation in enumerate(checklist.operations):
        for j, use in enumerate(operation.tools):
            tool = checklist.tool(use.tool)
            path = ("operations", i, "tools", j, "per_piece")
            if tool and tool.life is None:
                yield Finding(path, f"tool {use.tool} has no life to take it from", "add `life` to the tool's card")
            elif tool and tool.life and tool.life.in_pieces != use.per_piece.in_pieces:
                wrong = f"{use.per_piece} cannot be taken from a life of {tool.life}"
                yield Finding(path, wrong, "state both in time, or both in pieces")


def check_carrier_places(checklist: Checklist) -> Iterator[Finding]:
    for i, carrier in enumerate(checklist.carriers):
        if (carrier.rows is None) != (carrier.columns is None):
            yield Finding(
                ("carriers", i), "has rows or columns, but not both", "state both, or neither for loose pieces"
            )
        elif carrier.rows and carrier.columns and not _fills(carrier.capacity, carrier.rows, carrier.columns):
            wrong = f"{carrier.rows} rows of {carrier.columns} do not make {carrier.capacity} places"
            right = f"capacity {carrier.rows * carrier.columns}; fewer only where the last row is short"
            yield Finding(("carriers", i), wrong, right)


def _fills(capacity: int, rows: int, columns: int) -> bool:
    return (rows - 1) * columns < capacity <= rows * columns


def check_steps_without_cycle(checklist: Checklist) -> Iterator[Finding]:
    for path, operation, step in iterate_steps(checklist):
        if not operation.cycle and step.at == "cycle":
            wrong = f"stands in the cycle, but op {operation.op} has none"
            yield Finding((*path, "at"), wrong, 'use `at = "load"` or `at = "after"`')
    for i, operation in enumerate(checklist.operations):
        at: Path = ("operations", i, "time")
        for name in set(operation.event_cautions) - {"count_cautions"} if not operation.cycle else ():
            yield Finding(("operations", i, name), "the operation has no cycle", "put the caution on a step")
        if not operation.cycle and (operation.time.cycle or operation.time.cycle_piece):
            yield Finding(at, "has a cycle time, but the operation no cycle", "state it as `before` or `after`")
        if operation.may_outlast_shift and operation.time.cycle_attended:
            yield Finding(at, "a cycle that is attended cannot outlast the shift", "leave out one of the two")


def check_pause_lists(checklist: Checklist) -> Iterator[Finding]:
    for i, operation in enumerate(checklist.operations):
        walked: Counter[Phase] = Counter(step.at for step in operation.steps)
        for phase, count in walked.items():
            if count >= PAUSE_ITEMS:
                wrong = f"{count} items in the list at `{phase}`"
                right = f"fewer than {PAUSE_ITEMS}: drop what is caught elsewhere, or split the operation"
                yield Finding(("operations", i, "steps"), wrong, right)


def check_caution_number(checklist: Checklist) -> Iterator[Finding]:
    named: list[tuple[Path, tuple[str, ...]]] = [
        ((*path, "cautions"), step.cautions) for path, _, step in iterate_steps(checklist)
    ]
    for i, operation in enumerate(checklist.operations):
        named += [(("operations", i, name), cautions) for name, cautions in operation.event_cautions.items()]
    for path, cautions in named:
        if len(cautions) > MOST_CAUTIONS:
            yield Finding(path, f"{len(cautions)} cautions on one step", f"at most {MOST_CAUTIONS}: keep the worst")
        if len(set(cautions)) < len(cautions):
            yield Finding(path, "names a caution twice", "name each once")
    for i, operation in enumerate(checklist.operations):
        if len(operation.steps) > 2 and all(step.cautions for step in operation.steps):
            wrong = "every step has a caution, so none stands out"
            yield Finding(("operations", i, "steps"), wrong, "keep cautions for the steps they concern")


def check_caution_parts(checklist: Checklist) -> Iterator[Finding]:
    for name, caution in checklist.cautions.items():
        if caution.word != "NOTICE" and not caution.consequence:
            wrong = f"{caution.word} does not state what happens"
            yield Finding(("cautions", name), wrong, "add `consequence`: hazard, consequence, how to avoid it")


RULES = (
    check_limit_order,
    check_quantity_units,
    check_tool_within_station,
    check_temperature_within_station,
    check_power_within_station,
    check_tool_life_kind,
    check_carrier_places,
    check_steps_without_cycle,
    check_pause_lists,
    check_caution_number,
    check_caution_parts,
)
