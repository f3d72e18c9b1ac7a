"""Data on work and tool materials: cutting energy, surface speeds, edge radius, thinnest chip.

Published figures differ by a factor of two and more, so each entry is the range over these sources:

- Groover, "Fundamentals of Modern Manufacturing", table of unit power and specific energy, chips of 0.25 mm.
- VDI 3323 material groups with kc1 and mc, as a maker of carbide tools prints them in its catalog.
- Carvill, "Mechanical Engineer's Data Handbook", p. 192, power of milling.
- A university workshop's guide to speeds and feeds: surface speeds of high-speed steel in milling, carbide twice.
- Makers of carbide end mills, their general guidelines.
"""

from __future__ import annotations

from enum import StrEnum

from floor.dataclass import dataclass
from floor.figures.units import M_PER_FOOT


class WorkMaterial(StrEnum):
    """What is cut."""

    ALUMINUM = "aluminum"
    BRASS = "brass"
    BRONZE = "bronze"
    COPPER = "copper"
    MILD_STEEL = "mild steel"
    ALLOY_STEEL = "alloy steel"
    TOOL_STEEL = "tool steel"
    STAINLESS_STEEL = "stainless steel"
    CAST_IRON = "cast iron"
    TITANIUM = "titanium"
    PLASTIC = "plastic"


class ToolMaterial(StrEnum):
    """What the edge is made of."""

    HIGH_SPEED_STEEL = "high-speed steel"
    CARBIDE = "carbide"


@dataclass(frozen=True, slots=True)
class SpecificEnergy:
    """Energy in J to cut one mm³ with sharp tools and 0.25 mm chips: the published range."""

    low: float
    high: float
    exponent: float
    """Exponent by which it rises for thinner chips: mc of VDI 3323."""


SPECIFIC_ENERGY = {
    WorkMaterial.ALUMINUM: SpecificEnergy(0.7, 1.13, 0.25),
    WorkMaterial.BRASS: SpecificEnergy(1.02, 2.2, 0.27),
    WorkMaterial.BRONZE: SpecificEnergy(1.02, 2.2, 0.27),
    WorkMaterial.COPPER: SpecificEnergy(1.02, 1.02, 0.27),
    WorkMaterial.MILD_STEEL: SpecificEnergy(1.6, 2.7, 0.21),
    WorkMaterial.ALLOY_STEEL: SpecificEnergy(2.34, 2.51, 0.24),
    WorkMaterial.TOOL_STEEL: SpecificEnergy(3.37, 7.0, 0.23),
    WorkMaterial.STAINLESS_STEEL: SpecificEnergy(2.51, 2.84, 0.21),
    WorkMaterial.CAST_IRON: SpecificEnergy(1.73, 1.99, 0.28),
    WorkMaterial.TITANIUM: SpecificEnergy(2.34, 2.86, 0.23),
}
"""Nothing in this form was found published for plastics, so they get no power figure."""


@dataclass(frozen=True, slots=True)
class SpeedBand:
    """Usual surface speeds in m/min, both ends included."""

    low: float
    high: float


def _sfm(low: float, high: float) -> SpeedBand:
    """From surface feet per minute."""
    return SpeedBand(low * M_PER_FOOT, high * M_PER_FOOT)


SPEED_BANDS = {
    (WorkMaterial.ALUMINUM, ToolMaterial.HIGH_SPEED_STEEL): _sfm(250, 500),
    (WorkMaterial.BRASS, ToolMaterial.HIGH_SPEED_STEEL): _sfm(150, 450),
    (WorkMaterial.BRONZE, ToolMaterial.HIGH_SPEED_STEEL): _sfm(150, 450),
    (WorkMaterial.COPPER, ToolMaterial.HIGH_SPEED_STEEL): _sfm(100, 200),
    (WorkMaterial.MILD_STEEL, ToolMaterial.HIGH_SPEED_STEEL): _sfm(70, 120),
    (WorkMaterial.ALLOY_STEEL, ToolMaterial.HIGH_SPEED_STEEL): _sfm(30, 60),
    (WorkMaterial.TOOL_STEEL, ToolMaterial.HIGH_SPEED_STEEL): _sfm(40, 70),
    (WorkMaterial.STAINLESS_STEEL, ToolMaterial.HIGH_SPEED_STEEL): _sfm(30, 60),
    (WorkMaterial.CAST_IRON, ToolMaterial.HIGH_SPEED_STEEL): _sfm(50, 120),
    (WorkMaterial.TITANIUM, ToolMaterial.HIGH_SPEED_STEEL): _sfm(40, 60),
    (WorkMaterial.PLASTIC, ToolMaterial.HIGH_SPEED_STEEL): SpeedBand(20, 800 * M_PER_FOOT),
    (WorkMaterial.ALUMINUM, ToolMaterial.CARBIDE): SpeedBand(500 * M_PER_FOOT, 700),
    (WorkMaterial.BRASS, ToolMaterial.CARBIDE): _sfm(300, 1500),
    (WorkMaterial.BRONZE, ToolMaterial.CARBIDE): _sfm(300, 1000),
    (WorkMaterial.COPPER, ToolMaterial.CARBIDE): _sfm(200, 1000),
    (WorkMaterial.MILD_STEEL, ToolMaterial.CARBIDE): SpeedBand(140 * M_PER_FOOT, 180),
    (WorkMaterial.ALLOY_STEEL, ToolMaterial.CARBIDE): SpeedBand(60 * M_PER_FOOT, 140),
    (WorkMaterial.TOOL_STEEL, ToolMaterial.CARBIDE): SpeedBand(80 * M_PER_FOOT, 120),
    (WorkMaterial.STAINLESS_STEEL, ToolMaterial.CARBIDE): SpeedBand(60 * M_PER_FOOT, 100),
    (WorkMaterial.CAST_IRON, ToolMaterial.CARBIDE): SpeedBand(100 * M_PER_FOOT, 200),
    (WorkMaterial.TITANIUM, ToolMaterial.CARBIDE): SpeedBand(80 * M_PER_FOOT, 80),
    (WorkMaterial.PLASTIC, ToolMaterial.CARBIDE): SpeedBand(40, 1600 * M_PER_FOOT),
}
"""Milling. Carbide: low end twice that of high-speed steel, high end as end mill makers state."""

LEAST_CHIP_SHARE = 0.3
"""Thinnest chip as a share of the edge's radius: below it the edge plows and rubs. Experiments in many metals lie
between 0.14 and 0.43 (Cheng et al., Int. J. Adv. Manuf. Technol. 97 (2018) 3119, who quote them)."""

EDGE_RADIUS = {ToolMaterial.HIGH_SPEED_STEEL: 0.010, ToolMaterial.CARBIDE: 0.005}
"""Default radius in mm of a sharp ground edge (common practice, no source)."""
INSERT_EDGE_RADIUS = 0.030
"""The same for an insert with a honed edge (common practice, no source)."""
