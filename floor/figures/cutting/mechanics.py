"""Speed, feed, metal removal, power and torque: the formulas of every machining handbook.

Groover, "Fundamentals of Modern Manufacturing": v = π·D·N, fr = N·nt·f, MRR = w·d·fr, P = U·MRR. Kienzle (1952): the
energy of cutting grows as chips get thinner, by a power of their thickness.
"""

from __future__ import annotations

import math

from floor.figures.cutting.geometry import require_amount
from floor.figures.units import MM_PER_M

DRIVE_EFFICIENCY = 0.8
"""Share of motor power that reaches the cutter (Kalpakjian, "Manufacturing Engineering and Technology", uses 80 % for
its table of specific energies; from memory)."""
REFERENCE_CHIP = 0.25
"""Chip thickness in mm for which specific energies are stated (Groover's table of unit power)."""


def compute_surface_speed(diameter: float, speed: float) -> float:
    """How fast the edge passes the work, in m/min: π · diameter in mm · speed in rpm / 1000."""
    return math.pi * require_amount("a diameter", diameter) * require_amount("a speed", speed) / MM_PER_M


def compute_speed(diameter: float, surface_speed: float) -> float:
    """The speed in rpm for a surface speed in m/min at a diameter in mm."""
    return (
        MM_PER_M * require_amount("a surface speed", surface_speed) / (math.pi * require_amount("a diameter", diameter))
    )


def compute_feed_per_tooth(feed: float, speed: float, teeth: int) -> float:
    """How far the work moves in mm from one tooth to the next; with one tooth, per turn."""
    return require_amount("a feed", feed) / (require_amount("a speed", speed) * require_amount("teeth", teeth))


def compute_feed(speed: float, teeth: int, feed_per_tooth: float) -> float:
    """The feed in mm/min: speed · teeth · feed per tooth. For a tap: its pitch, with one tooth."""
    return (
        require_amount("a speed", speed)
        * require_amount("teeth", teeth)
        * require_amount("a feed per tooth", feed_per_tooth)
    )


def compute_removal_rate(section: float, feed: float) -> float:
    """Metal removed in mm³/min: area of cut in mm² · feed in mm/min."""
    return require_amount("a section", section) * require_amount("a feed", feed)


def compute_specific_energy(energy: float, exponent: float, chip: float, *, at: float = REFERENCE_CHIP) -> float:
    """Energy in J to cut one mm³ at a chip thickness: energy · (chip / at) ^ -exponent.

    Args:
        energy: J/mm³ at the chip thickness ``at``.
        exponent: How fast it falls as chips get thicker: Kienzle's 1 - z, the mc of VDI 3323.
        chip: Mean thickness of the chip in mm.
        at: Thickness in mm that ``energy`` is stated for.
    """
    return energy * math.pow(require_amount("a chip", chip) / at, -exponent)


def compute_cutting_power(removal_rate: float, specific_energy: float) -> float:
    """Power at the cutter in W: mm³/min · J/mm³ / 60."""
    return removal_rate * specific_energy / 60


def compute_torque(power: float, speed: float) -> float:
    """Torque at the spindle in N·m: power / (2π · turns per second)."""
    return power * 60 / (2 * math.pi * require_amount("a speed", speed))
