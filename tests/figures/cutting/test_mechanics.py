"""Speeds, feeds, power and torque against worked examples in handbooks and a units library."""

import math

import pint
import pytest

from floor.figures.cutting.materials import SPECIFIC_ENERGY, SPEED_BANDS, SpecificEnergy, ToolMaterial, WorkMaterial
from floor.figures.cutting.mechanics import (
    DRIVE_EFFICIENCY,
    compute_cutting_power,
    compute_feed,
    compute_feed_per_tooth,
    compute_removal_rate,
    compute_specific_energy,
    compute_speed,
    compute_surface_speed,
    compute_torque,
)
from floor.figures.errors import Impossible

UNITS = pint.UnitRegistry()
INCH = 25.4
FOOT = 0.3048


def inch_removal(per_minute: float) -> float:
    """in³/min in mm³/min, by pint."""
    return float((per_minute * UNITS.inch**3 / UNITS.minute).to("mm**3 / minute").magnitude)


def horsepower(watts: float) -> float:
    return float((watts * UNITS.watt).to("horsepower").magnitude)


def test_speed_for_a_surface_speed() -> None:
    """300 ft/min with a 1/4 in cutter: 4,583.66 rpm by 12·V / (π·D) (SME, "Useful Formulas for Machining")."""
    assert compute_speed(0.25 * INCH, 300 * FOOT) == pytest.approx(4583.66, abs=0.01)


def test_a_worked_face_mill_in_millimeters() -> None:
    """30 mm, 8 teeth at 0.1 mm, 120 mm/min: 150 rpm and 14.137 m/min (Youssef & El-Hofy, "Fundamentals of Machining
    Processes", worked example, p. 189; 14.13 with π taken as 3.14)."""
    assert 120 / compute_feed(1, 8, 0.1) == pytest.approx(150)
    assert compute_feed_per_tooth(120, 150, 8) == pytest.approx(0.1)
    assert compute_surface_speed(30, 150) == pytest.approx(14.137, abs=1e-3)


def test_a_worked_slab_mill_in_inches() -> None:
    """Groover, "Fundamentals of Modern Manufacturing", milling: D 3.5 in, 10 teeth, 125 ft/min, 0.008 in a tooth,
    2.5 in wide, 0.300 in deep: 136.419 rpm, 10.9135 in/min, 8.1851 in³/min."""
    speed = compute_speed(3.5 * INCH, 125 * FOOT)
    feed = compute_feed(speed, 10, 0.008 * INCH)

    assert speed == pytest.approx(136.419, abs=1e-3)
    assert feed / INCH == pytest.approx(10.9135, abs=1e-4)
    assert compute_removal_rate(2.5 * 0.3 * INCH**2, feed) == pytest.approx(inch_removal(8.1851), rel=1e-5)


def test_a_worked_slab_mill_in_millimeters() -> None:
    """The same book in SI: D 70 mm, 5 teeth, 60 m/min, 0.25 mm a tooth, 50 mm wide, 6.5 mm deep: 272.837 rpm, 341.046
    mm/min, 110,840 mm³/min."""
    speed = compute_speed(70, 60)
    feed = compute_feed(speed, 5, 0.25)

    assert (speed, feed) == (pytest.approx(272.837, abs=1e-3), pytest.approx(341.046, abs=1e-3))
    assert compute_removal_rate(50 * 6.5, feed) == pytest.approx(110840, abs=0.5)


def test_a_worked_face_mill_in_inches() -> None:
    """The same book: D 3 in, 5 teeth, 250 ft/min, 0.006 in, 2 in wide, 0.150 in deep: 318.310 rpm, 9.5493 in/min,
    2.8648 in³/min."""
    speed = compute_speed(3 * INCH, 250 * FOOT)
    feed = compute_feed(speed, 5, 0.006 * INCH)

    assert (speed, feed / INCH) == (pytest.approx(318.310, abs=1e-3), pytest.approx(9.5493, abs=1e-4))
    assert compute_removal_rate(2 * 0.15 * INCH**2, feed) == pytest.approx(inch_removal(2.8648), rel=2e-5)


def test_a_pointed_tool_is_fast_at_the_surface_alone() -> None:
    """0.016547 in wide at 18,000 rpm: 77.98 ft/min (trigonometry, worked out outside the project)."""
    assert compute_surface_speed(0.016547 * INCH, 18000) / FOOT == pytest.approx(77.98, abs=0.01)


def test_feed_follows_the_capped_speed() -> None:
    """500 ft/min with 1/8 in would need 15,278.9 rpm; at 10,000 it is 327.25 ft/min and, with 2 flutes at 0.001 in, 20
    in/min (worked out outside the project)."""
    assert compute_speed(0.125 * INCH, 500 * FOOT) == pytest.approx(15278.9, abs=0.05)
    assert compute_surface_speed(0.125 * INCH, 10000) / FOOT == pytest.approx(327.25, abs=0.01)
    assert compute_feed(10000, 2, 0.001 * INCH) / INCH == pytest.approx(20.0)


def test_facts_of_the_trade() -> None:
    """Common practice, no source: 14 mm at 10,000 rpm is about 1,442 ft/min; 1/16 in at 24,000 rpm still under 400; two
    flutes at 0.002 in and 10,000 rpm are 40 in/min; four flutes at 40 in/min and 10,000 rpm take 0.001 in a tooth."""
    assert compute_surface_speed(14, 10000) / FOOT == pytest.approx(1442, abs=2)
    assert 390 < compute_surface_speed(INCH / 16, 24000) / FOOT < 400
    assert compute_feed(10000, 2, 0.002 * INCH) / INCH == pytest.approx(40)
    assert compute_feed_per_tooth(40 * INCH, 10000, 4) / INCH == pytest.approx(0.001)


@pytest.mark.parametrize(("unit_power", "hp"), [(0.6, 4.911), (0.25, 2.046)])
def test_power_of_the_slab_mill(unit_power: float, hp: float) -> None:
    """8.1851 in³/min at 0.6 and 0.25 hp/(in³/min): 4.911 and 2.046 hp at the cutter, 6.139 and 2.558 hp at the motor
    with 80 % (Groover's unit powers; worked out outside the project, converted by pint)."""
    energy = (unit_power * UNITS.horsepower / (UNITS.inch**3 / UNITS.minute)).to("joule / mm**3").magnitude
    power = compute_cutting_power(inch_removal(8.1851), energy)

    assert horsepower(power) == pytest.approx(hp, abs=1e-3)
    assert horsepower(power / DRIVE_EFFICIENCY) == pytest.approx({0.6: 6.139, 0.25: 2.558}[unit_power], abs=1e-3)


def test_energy_rises_for_thin_chips() -> None:
    """U = 1.4·t^-0.4 J/mm³ with t = 0.043 mm at 100 mm/min × 5 mm × 20 mm: 821.5 W (Ghosh & Mallik, "Manufacturing
    Science", problem 4.16; the book's 817 W is rounded on the way)."""
    energy = compute_specific_energy(1.4, 0.4, 0.043, at=1.0)

    assert compute_cutting_power(100 * 5 * 20, energy) == pytest.approx(821.5, abs=0.1)


def test_torque_is_what_turns_give_as_power() -> None:
    """By pint: torque times radians a second is power again."""
    torque = compute_torque(750, 1400) * UNITS.newton * UNITS.meter
    assert (torque * (1400 * UNITS.rpm).to("radian / second")).to("watt").magnitude == pytest.approx(750)


GROOVER = {
    WorkMaterial.ALUMINUM: (0.25, 0.3), WorkMaterial.BRASS: (0.8,), WorkMaterial.BRONZE: (0.8,),
    WorkMaterial.MILD_STEEL: (0.6,),
}  # fmt: skip
"""hp/(in³/min) with chips of 0.25 mm: aluminum and its alloys, brass, bronze, carbon steel of 150 to 200 HB (Groover,
table of unit power, as reproduced in a published problem)."""
CARVILL = {
    WorkMaterial.ALUMINUM: 0.9, WorkMaterial.BRASS: 1.6, WorkMaterial.CAST_IRON: 1.9, WorkMaterial.MILD_STEEL: 2.7,
    WorkMaterial.TOOL_STEEL: 7.0,
}  # fmt: skip
"""Carvill, "Mechanical Engineer's Data Handbook", p. 192, constants for milling; J/mm³ from memory."""
VDI_3323 = {
    WorkMaterial.ALUMINUM: ((700, 0.25), (800, 0.25)),
    WorkMaterial.BRASS: ((700, 0.27),),
    WorkMaterial.BRONZE: ((700, 0.27),),
    WorkMaterial.COPPER: ((700, 0.27),),
    WorkMaterial.MILD_STEEL: ((1350, 0.21),),
    WorkMaterial.ALLOY_STEEL: ((1675, 0.24), (1800, 0.24)),
    WorkMaterial.TOOL_STEEL: ((2450, 0.23), (2500, 0.23)),
    WorkMaterial.STAINLESS_STEEL: ((1875, 0.21), (2150, 0.20)),
    WorkMaterial.CAST_IRON: ((1225, 0.25), (1350, 0.28)),
    WorkMaterial.TITANIUM: ((1700, 0.23), (2110, 0.22)),
}
"""kc1 in N/mm² and mc of the groups 21 and 22, 27, 26, 28, 1, 7 to 9, 10 and 11, 12 and 14, 17 and 18, 36 and 37, as a
maker of carbide tools prints them in its catalog of 2017."""


@pytest.mark.parametrize("work", list(SPECIFIC_ENERGY))
def test_energies_span_what_is_published(work: WorkMaterial) -> None:
    """At a chip of 0.25 mm, N/mm² being J/mm³ · 1000; groups of the same material differ in mc by little."""
    unit = UNITS.horsepower / (UNITS.inch**3 / UNITS.minute)
    published = [(each * unit).to("joule / mm**3").magnitude for each in GROOVER.get(work, ())]
    published += [CARVILL[work]] if work in CARVILL else []
    published += [kc1 / 1000 * math.pow(0.25, -mc) for kc1, mc in VDI_3323[work]]
    entry: SpecificEnergy = SPECIFIC_ENERGY[work]

    assert entry.low == pytest.approx(min(published), rel=0.03)
    assert entry.high == pytest.approx(max(published), rel=0.03)
    assert entry.exponent == pytest.approx(max(mc for _, mc in VDI_3323[work]), abs=0.005)


def test_energies_at_a_thick_chip_are_the_groups_own() -> None:
    """Kienzle's law through the range at 0.25 mm gives kc1 back at 1 mm, within what groups differ by."""
    for work, groups in VDI_3323.items():
        entry = SPECIFIC_ENERGY[work]
        low = compute_specific_energy(entry.low, entry.exponent, 1.0)
        high = compute_specific_energy(entry.high, entry.exponent, 1.0)
        assert all(low * 0.95 <= kc1 / 1000 <= high * 1.05 for kc1, _ in groups), work


HSS = {
    WorkMaterial.ALUMINUM: (250, 500), WorkMaterial.BRASS: (150, 450), WorkMaterial.COPPER: (100, 200),
    WorkMaterial.MILD_STEEL: (70, 120), WorkMaterial.ALLOY_STEEL: (30, 60), WorkMaterial.TOOL_STEEL: (40, 70),
    WorkMaterial.STAINLESS_STEEL: (30, 60), WorkMaterial.TITANIUM: (40, 60),
}  # fmt: skip
"""ft/min, milling with high-speed steel; "carbide can be twice those" (a university workshop's "Machine Tool Speeds and
Feeds")."""
END_MILLS = {
    WorkMaterial.MILD_STEEL: (80, 180), WorkMaterial.ALLOY_STEEL: (60, 140), WorkMaterial.TOOL_STEEL: (60, 120),
    WorkMaterial.STAINLESS_STEEL: (40, 100), WorkMaterial.CAST_IRON: (80, 200), WorkMaterial.ALUMINUM: (200, 700),
    WorkMaterial.TITANIUM: (40, 80),
}  # fmt: skip
"""m/min, a maker's table for carbide end mills: carbon, alloy, prehardened, stainless steel, gray iron, aluminum with
less than 13 % silicon, titanium alloys."""


def test_speed_bands_are_those_published() -> None:
    for work, (low, high) in HSS.items():
        steel = SPEED_BANDS[work, ToolMaterial.HIGH_SPEED_STEEL]
        assert (steel.low / FOOT, steel.high / FOOT) == (pytest.approx(low), pytest.approx(high))
        assert SPEED_BANDS[work, ToolMaterial.CARBIDE].low == pytest.approx(2 * steel.low)
    for work, (low, high) in END_MILLS.items():
        carbide = SPEED_BANDS[work, ToolMaterial.CARBIDE]
        assert carbide.low <= low
        assert carbide.high == high


def test_speeds_in_plastic_are_those_of_high_speed_steel_twice_over() -> None:
    """20 m/min to 800 ft/min (common practice, no source); "carbide can be twice those", as above."""
    steel, carbide = (SPEED_BANDS[WorkMaterial.PLASTIC, edge] for edge in ToolMaterial)
    assert (steel.low, steel.high / FOOT) == (20, pytest.approx(800))
    assert (carbide.low, carbide.high) == (2 * steel.low, pytest.approx(2 * steel.high))


def test_every_material_has_its_bands() -> None:
    assert set(SPEED_BANDS) == {(work, edge) for work in WorkMaterial for edge in ToolMaterial}
    assert set(WorkMaterial) - set(SPECIFIC_ENERGY) == {WorkMaterial.PLASTIC}
    assert all(0 < band.low < band.high for band in SPEED_BANDS.values())


@pytest.mark.parametrize("wrong", [0, -1, float("nan"), float("inf")])
def test_what_is_no_amount_is_refused(wrong: float) -> None:
    for refused in (
        lambda: compute_surface_speed(wrong, 100), lambda: compute_speed(10, wrong),
        lambda: compute_feed_per_tooth(wrong, 100, 2), lambda: compute_feed(100, 2, wrong),
        lambda: compute_torque(10, wrong), lambda: compute_specific_energy(1, 0.2, wrong),
        lambda: compute_removal_rate(wrong, 1),
    ):  # fmt: skip
        with pytest.raises(Impossible):
            refused()
