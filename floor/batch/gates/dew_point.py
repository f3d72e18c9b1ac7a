"""How far the work is above the dew point, from what was measured of the air."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from floor.checklist.gates import AirMeasured
from floor.checklist.units import read_measure


class DewPoint(NamedTuple):
    is_near: bool
    said: str


def measure_dew(gate: AirMeasured, values: Mapping[str, Any]) -> DewPoint:
    """The work beside the dew point of the air, in the unit of the limits."""
    from floor.figures.drying import LEAST_AIR, LEAST_MARGIN, MOST_AIR, compute_dew_margin, compute_dew_point

    unit = gate.low.unit
    degree = _celsius(1.0, unit) - _celsius(0.0, unit)
    air, work = _celsius(float(values["air"]), unit), _celsius(float(values["surface"]), unit)
    humidity = float(values["humidity"])
    if not LEAST_AIR <= air <= MOST_AIR or not 0 < humidity <= 100:
        return DewPoint(True, "no dew point: check air temperature and humidity")
    margin = compute_dew_margin(air, humidity, work)
    dew = (compute_dew_point(air, humidity) - _celsius(0.0, unit)) / degree
    least = "" if margin >= LEAST_MARGIN else f", at least {LEAST_MARGIN / degree:.3g} {unit}"
    side = "above" if margin >= 0 else "below"
    said = f"part surface {abs(margin) / degree:.1f} {unit} {side} dew point {dew:.1f} {unit}{least}"
    return DewPoint(margin < LEAST_MARGIN, said)


def _celsius(value: float, unit: str) -> float:
    return read_measure(f"{value} {unit}", "temperature").base
