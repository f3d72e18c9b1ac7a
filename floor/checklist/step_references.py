"""What is shown beside a step: its gauge, its place on the drawing, its source."""

from __future__ import annotations

from collections.abc import Iterable

from floor.checklist.equipment import Station
from floor.checklist.gates import Cured, FirstPiece, Gate, Measured, WorkHeld
from floor.checklist.model import Caution, Checklist
from floor.checklist.operation import Do, Repeat
from floor.text import capitalize_first

COMMON_PRACTICE = "common practice"
"""What a file names as the source of what has none."""


def describe_gauge(checklist: Checklist, step: Do | Gate) -> str:
    """``With: Micrometer; balloon 4 on TB-2140 sheet 1``; for a first piece, the drawing."""
    drawing = checklist.part.drawing
    if isinstance(step, FirstPiece) or (isinstance(step, Measured) and step.characteristics):
        return ". ".join(filter(None, (_list_gauges(step), f"Drawing: {drawing}" if drawing else "")))
    if isinstance(step, WorkHeld):
        return _holding(step)
    if not isinstance(step, Measured):
        return "" if isinstance(step, Do) else step.hint()
    gauge = f"With: {step.gauge}" if step.gauge else ""
    balloon = f"balloon {step.number}" if step.number is not None else ""
    if balloon and drawing:
        balloon += f" on {drawing}"
    said = "; ".join(filter(None, (gauge, balloon)))
    return capitalize_first(said)


def _list_gauges(gate: FirstPiece | Measured) -> str:
    """``With: Depth micrometer (4 groove depth), Pin gauge (bore)``."""
    named = [
        f"{characteristic.gauge} ({' '.join(filter(None, (str(characteristic.number or ''), characteristic.what)))})"
        for characteristic in gate.characteristics
        if characteristic.gauge
    ]
    return f"With: {', '.join(named)}" if named else ""


def _holding(gate: WorkHeld) -> str:
    """``Dry only; no through cuts; holds 16 pieces. Release: warm the plate``."""
    limits = [
        "" if gate.holds_wet else "dry only",
        "" if gate.through else "no through cuts",
        f"holds {gate.pieces} pieces" if gate.pieces is not None else "",
    ]
    said = "; ".join(filter(None, limits))
    release = f"Release: {gate.release}" if gate.release else ""
    return ". ".join(filter(None, (capitalize_first(said), release)))


def describe_repeat(repeat: Repeat) -> str:
    """``up to 5 times, until a wipe stays white``."""
    return f"up to {repeat.times} times, until {repeat.until}" if repeat.until else f"{repeat.times} times"


def find_source(checklist: Checklist, step: Do | Gate) -> str:
    """The source of a gate; for a gate that waits for a clock, that clock's if the gate names none."""
    if isinstance(step, Do):
        return ""
    gate, source = step, step.source
    if isinstance(gate, Cured) and not source:
        found = checklist.clock(gate.clock)
        if found is not None:
            _, clock = found
            source = clock.source
    drawing = checklist.part.drawing
    there = drawing.startswith(source) and _shows_drawing(gate)
    return "" if there else _say_sources([source])


def _shows_drawing(gate: Gate) -> bool:
    """Whether `describe_gauge` names the part's drawing beside a gate, if the part has one."""
    if isinstance(gate, Measured):
        return gate.number is not None or bool(gate.characteristics)
    return isinstance(gate, FirstPiece)


def describe_missing_guard(caution: Caution) -> str:
    """What the caution stands in for; empty if nothing is missing."""
    return f"Not fitted here yet: {caution.wanted}" if caution.wanted else ""


def list_caution_sources(cautions: Iterable[Caution]) -> str:
    """The sources of cautions, each once."""
    return _say_sources(caution.source for caution in cautions)


def _say_sources(sources: Iterable[str]) -> str:
    named = list(dict.fromkeys(filter(None, sources)))
    if named == [COMMON_PRACTICE]:
        return "Common practice, no source"
    return f"Source: {' · '.join(named)}" if named else ""


def find_limits(station: Station) -> str:
    """The limits of a station and their source; empty if the checklist names none."""
    limits = (station.speed_limit, station.power_limit, station.temperature_limit)
    said = ", ".join(str(limit) for limit in limits if limit is not None)
    return f"at most {said}" + (f" ({station.source})" if station.source else "") if said else ""
