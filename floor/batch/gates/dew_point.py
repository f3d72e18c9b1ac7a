"""How far the work is above the dew point, from what was measured of the air."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from floor.checklist.gates import AirMeasured
from floor.checklist.units import find_temperature_scale


class DewPoint(NamedTuple):
    is_near: bool
    said: str


def measure_dew(gate: AirMeasured, values: Mapping[str, Any]) -> DewPoint | None:
    """The work beside the dew point of the air, in the unit of the limits; None if one of the three is missing."""
    from floor.figures.drying import LEAST_AIR, LEAST_MARGIN, MOST_AIR, compute_dew_margin, compute_dew_point

    if not all(isinstance(values.get(name), int | float) for name in ("air", "humidity", "surface")):
        return None
    unit, scale = gate.low.unit, find_temperature_scale(gate.low.unit)
    air, work = scale.to_celsius(float(values["air"])), scale.to_celsius(float(values["surface"]))
    humidity = float(values["humidity"])
    if not LEAST_AIR <= air <= MOST_AIR or not 0 < humidity <= 100:
        return DewPoint(True, "no dew point: check air temperature and humidity")
    margin = compute_dew_margin(air, humidity, work)
    dew = scale.from_celsius(compute_dew_point(air, humidity))
    apart, least = (scale.from_celsius_difference(one) for one in (abs(margin), LEAST_MARGIN))
    short = "" if margin >= LEAST_MARGIN else f" (limit: {least:.3g} {unit} above)"
    side = "above" if margin >= 0 else "below"
    said = f"part surface {apart:.1f} {unit} {side} dew point {dew:.1f} {unit}{short}"
    return DewPoint(margin < LEAST_MARGIN, said)
