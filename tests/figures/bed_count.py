"""How many round pieces a bed holds in rows, by trying: a check on the layout for tests and benchmark.

Rows along or across, of any pitch and shift from a grid or just filling the bed, shifted back and forth or always
onward, placed at any clamp or part of a pitch away. It knows nothing about how the layout is found: every piece of
every pattern is checked against edges and clamps. A pattern found is counted again in exact fractions.
"""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from floor.figures.layout import ClampZone, LayoutBlank, Position, RoundPiece

Box = tuple[Fraction, Fraction, Fraction, Fraction]
_SLACK = 1e-9


@dataclass(frozen=True, slots=True)
class Bed:
    """A bed in fractions; clamps as left, bottom, right, top."""

    length: Fraction
    width: Fraction
    margin: Fraction
    diameter: Fraction
    gap: Fraction
    clamps: tuple[Box, ...]

    @property
    def blank(self) -> LayoutBlank:
        zones = tuple(ClampZone(left, low, right - left, high - low) for left, low, right, high in self.clamps)
        return LayoutBlank(self.length, self.width, self.margin, zones)

    @property
    def piece(self) -> RoundPiece:
        return RoundPiece(self.diameter)

    def turned(self) -> Bed:
        clamps = tuple((low, left, high, right) for left, low, right, high in self.clamps)
        return Bed(self.width, self.length, self.margin, self.diameter, self.gap, clamps)


def beds(number: int, seed: int, corners: bool = False) -> Iterator[Bed]:
    """Beds as in a checklist, with clamp strips at the edges; or with blocks anywhere."""
    draw = random.Random(seed)

    def size(low: float, high: float, step: int) -> Fraction:
        return Fraction(draw.randint(math.ceil(low * step), int(high * step)), step)

    while number:
        diameter, step = size(0.75, 3, 4), draw.choice([1, 4, 10])
        length, width = size(4, 14, step), size(3, 12, step)
        gap, margin = draw.choice([Fraction(0), size(0, 0.5, 20)]), size(0, 1, 20)
        clamp = size(0.25, 1.5, 8)
        far, high = length - clamp, width - clamp
        ends, sides = ((Fraction(0), Fraction(0), clamp, width), (far, Fraction(0), length, width)), (
            (Fraction(0), Fraction(0), length, clamp), (Fraction(0), high, length, width),
        )  # fmt: skip
        clamps = draw.choice([(), ends, ends[:1], sides, sides[:1], ends + sides])
        if corners:
            clamps = ()
            for _ in range(draw.randint(1, 3)):
                x, y = size(0, float(length), 4), size(0, float(width), 4)
                clamps += ((x, y, x + size(0.5, 3, 4), y + size(0.5, 3, 4)),)
        bed = Bed(length, width, margin, diameter, gap, clamps)
        if min(length, width) < diameter + 2 * margin:
            continue
        number -= 1
        yield bed


def most_found(bed: Bed, more_than: int) -> int:
    """The most pieces of any pattern tried, if more than a given number; else that number."""
    best = more_than
    for at in (bed, bed.turned()):
        for step, shift, on in _patterns(at):
            rise = _rise(at, step, shift, on)
            inside = at.length - 2 * at.margin - at.diameter, at.width - 2 * at.margin - at.diameter
            if (inside[0] // step + 1) * (inside[1] // rise + 1) <= best:
                continue
            for left, low, number in _tried(at, step, shift, on, rise):
                if number <= best:
                    break
                found = _exactly(at, (step, shift, on, rise), left, low)
                best = max(best, found)
    return best


Pattern = tuple[Fraction, Fraction, bool]


def _patterns(bed: Bed) -> set[Pattern]:
    """Pitch along the rows, shift from row to row, and whether the shift goes on in one direction."""
    pitch = bed.diameter + bed.gap
    walls = sorted({bed.margin, bed.length - bed.margin, *(x for box in bed.clamps for x in (box[0], box[2]))})
    steps = {pitch * (1 + Fraction(n, 12)) for n in range(11)}
    spares = {b - a - bed.diameter for a, b in itertools.combinations(walls, 2)}
    for spare, n in itertools.product(spares, range(1, 20)):
        steps |= {spare / n, spare / (n - Fraction(1, 2))}
    steps = {step for step in steps if pitch <= step <= 2 * pitch}
    found: set[Pattern] = set()
    for step in steps:
        shifts = {step * Fraction(n, 12) for n in range(7)} | {spare % step for spare in spares if spare >= 0}
        found |= {(step, shift, on) for shift in shifts for on in (False, True)}
    return found


def _rise(bed: Bed, step: Fraction, shift: Fraction, on: bool) -> Fraction:
    """The least distance between rows at which no two pieces of any rows come closer than they may."""
    pitch, needed = bed.diameter + bed.gap, Fraction(0)
    for rows in range(1, 4):
        aside = (shift * rows if on else shift * (rows % 2)) % step
        aside = min(aside, step - aside)
        if aside < pitch:
            needed = max(needed, _root_up(pitch * pitch - aside * aside) / rows)
    return needed


def _root_up(square: Fraction) -> Fraction:
    fine = 10**15
    top, low = math.isqrt(square.numerator), math.isqrt(square.denominator)
    if top * top == square.numerator and low * low == square.denominator:
        return Fraction(top, low)
    return Fraction(math.isqrt(math.floor(square * fine * fine)) + 1, fine)


def _tried(bed: Bed, step: Fraction, shift: Fraction, on: bool, rise: Fraction) -> list[tuple[Fraction, Fraction, int]]:
    """Places for the pattern's first piece, those that seem to hold most first."""
    lefts = {*(step * Fraction(n, 5) for n in range(5)), *((box[2] - bed.margin) % step for box in bed.clamps)}
    lefts |= {(left + shift) % step for left in lefts}
    lows = {*(rise * Fraction(n, 5) for n in range(5))}
    for box, back in itertools.product(bed.clamps, (0, 1)):
        lows.add((box[3] - bed.margin) % rise + rise * back if box[3] > bed.margin else Fraction(0))
    places = list(itertools.product(sorted(lefts), sorted(lows)))
    start = np.array([[float(left), float(low)] for left, low in places]) + float(bed.margin + bed.diameter / 2)
    rows = np.arange(math.ceil(bed.width / rise) + 1)
    across = (float(shift) * (rows if on else rows % 2)) % float(step)
    count = np.arange(-1, math.ceil(bed.length / step) + 1)
    x = start[:, 0, None, None] + across[None, :, None] + float(step) * count[None, None, :]
    y = np.broadcast_to(start[:, 1, None, None] + (float(rise) * rows)[None, :, None], x.shape)
    edge = float(bed.margin + bed.diameter / 2) - _SLACK
    free = (x >= edge) & (x <= float(bed.length) - edge) & (y >= edge) & (y <= float(bed.width) - edge)
    for left, low, right, high in bed.clamps:
        dx = x - np.clip(x, float(left), float(right))
        dy = y - np.clip(y, float(low), float(high))
        free &= dx * dx + dy * dy >= float(bed.diameter) ** 2 / 4 - _SLACK
    held = free.sum(axis=(1, 2))
    order = np.argsort(-held, kind="stable")
    return [(*places[n], int(held[n])) for n in order]


def _exactly(bed: Bed, pattern: tuple[Fraction, Fraction, bool, Fraction], left: Fraction, low: Fraction) -> int:
    """Pieces of the pattern that have room, no fraction rounded."""
    step, shift, on, rise = pattern
    corner = bed.margin + bed.diameter / 2
    points = [
        (corner + left + (shift * (row if on else row % 2)) % step + n * step, corner + low + row * rise)
        for row in range(math.ceil(bed.width / rise) + 1)
        for n in range(-1, math.ceil(bed.length / step) + 1)
    ]
    return len(_clear(bed, points))


def _clear(bed: Bed, points: list[tuple[Fraction, Fraction]]) -> list[tuple[Fraction, Fraction]]:
    edge, radius = bed.margin + bed.diameter / 2, bed.diameter / 2
    return [
        (x, y)
        for x, y in points
        if edge <= x <= bed.length - edge
        and edge <= y <= bed.width - edge
        and all(
            (x - min(max(x, left), right)) ** 2 + (y - min(max(y, low), high)) ** 2 >= radius * radius
            for left, low, right, high in bed.clamps
        )
    ]


def wrong(bed: Bed, positions: tuple[Position, ...]) -> bool:
    """Whether a piece is over an edge or clamp, or too close to another."""
    points = [(at.x, at.y) for at in positions]
    apart = (bed.diameter + bed.gap) ** 2
    return len(_clear(bed, points)) < len(points) or any(
        (a - c) ** 2 + (b - d) ** 2 < apart for (a, b), (c, d) in itertools.combinations(points, 2)
    )
