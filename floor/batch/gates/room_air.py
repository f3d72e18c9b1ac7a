"""The air of the room as somebody reads it: cold or damp air slows the cures that state their air.

It is read for one batch, on a walk, as of now even if entered from paper, and slows all cures of that batch wherever
they are. The air of a batch entered half done is not known.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from floor.batch import events
from floor.batch.command import Context, refuse_closed_batch
from floor.batch.events import make_drafts
from floor.batch.gates.entered_values import read_value
from floor.batch.proof import AirReading
from floor.batch.state import Batch
from floor.checklist.gate_forms import FormField, make_humidity_field
from floor.checklist.gates import AirMeasured
from floor.checklist.model import Checklist
from floor.checklist.operation import Clock
from floor.checklist.units import find_temperature_scale
from floor.dataclass import dataclass
from floor.entry import Draft


def list_air_fields(checklist: Checklist) -> tuple[FormField, FormField]:
    """What is asked of the air, in the unit of the first timer that states its own, else as the part is measured."""
    from floor.figures.drying import LEAST_AIR, MOST_AIR

    stated = (one.temperature.unit for one in _list_clocks(checklist) if one.temperature is not None)
    unit = next(stated, "degF" if checklist.part.units == "inch" else "degC")
    low, high = (find_temperature_scale(unit).from_celsius(one) for one in (LEAST_AIR, MOST_AIR))
    return (
        FormField(name="air", label="Room air", kind="number", unit=unit, low=low, high=high, least=low, most=high),
        make_humidity_field(),
    )


def has_cure_by_air(checklist: Checklist) -> bool:
    """Whether a timer states the air that its times hold for."""
    return any(one.temperature is not None or one.humidity is not None for one in _list_clocks(checklist))


def _list_clocks(checklist: Checklist) -> list[Clock]:
    return [clock for operation in checklist.operations for clock in operation.clocks]


def record_air(batch: Batch, seq: int, at: datetime, gate: AirMeasured, values: Mapping[str, Any]) -> None:
    """Keep what a check of the air read."""
    air, humidity = values.get("air"), values.get("humidity")
    if isinstance(air, int | float) and isinstance(humidity, int | float):
        celsius = find_temperature_scale(gate.low.unit).to_celsius(air)
        batch.air.append(AirReading(seq, at, celsius, float(humidity)))


@dataclass(frozen=True, slots=True)
class ReadAir:
    """Record the air of the room: both as typed."""

    air: object
    humidity: object

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        asks = list_air_fields(batch.checklist)
        air, humidity = (_read(ask, typed) for ask, typed in zip(asks, (self.air, self.humidity), strict=True))
        celsius = find_temperature_scale(asks[0].unit).to_celsius(air)
        return make_drafts(events.AirRead(temperature=round(celsius, 2), humidity=humidity))


def _read(ask: FormField, typed: object) -> float:
    value = read_value(ask, typed)
    assert isinstance(value, int | float), "a number is asked for"
    return float(value)
