"""Temperature scales beside °C: values and differences."""

from __future__ import annotations

from typing import NamedTuple


class TemperatureScale(NamedTuple):
    """A scale that runs straight with °C."""

    per_celsius: float
    """Its degrees in one °C of difference."""
    at_zero: float
    """What it shows at 0 °C."""

    def to_celsius(self, value: float) -> float:
        return (value - self.at_zero) / self.per_celsius

    def from_celsius(self, celsius: float) -> float:
        return celsius * self.per_celsius + self.at_zero

    def from_celsius_difference(self, celsius: float) -> float:
        """A difference: 3 °C are 5.4 °F."""
        return celsius * self.per_celsius


ABSOLUTE_ZERO = -273.15
"""°C (The International System of Units, 9th edition, 2.3.1)."""
LONGEST_GAP = 15 * 60.0
"""Most seconds between two readings that still prove the time between (AMS 2750, interval of process recorders; from
memory)."""
SCALES = {
    "degC": TemperatureScale(1.0, 0.0),
    "degF": TemperatureScale(1.8, 32.0),
    "kelvin": TemperatureScale(1.0, 273.15),
    "K": TemperatureScale(1.0, 273.15),
}
"""Scales by their unit (The International System of Units, 9th edition, 2.3.1; NIST SP 811, B.8)."""
