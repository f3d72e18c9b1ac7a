"""Material required for so many pieces, from the checklist's consumables."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import ROUND_CEILING, Decimal
from math import inf

from floor.checklist.consumables import AnyConsumable, ByAmount, ByArea, ByCount, ByLength
from floor.checklist.expected_yields import count_pieces_at_op
from floor.checklist.model import Checklist
from floor.checklist.units import Measure
from floor.dataclass import dataclass
from floor.figures.material import (
    add_waste_allowance,
    compute_coating_volume,
    compute_pieces_per_mix,
    compute_spreading_rate,
    count_lots,
    count_mixes,
    count_packages,
    count_stock_lengths,
)


@dataclass(frozen=True, slots=True)
class Supply:
    """One material required."""

    what: str
    ops: tuple[int, ...]
    amount: float
    """Waste included."""
    unit: str
    """Unit as written in the checklist; empty if counted."""
    packages: int | None
    """Whole packages; None if the checklist names none."""
    package: str
    how: str
    """What it was computed from, in a few words."""

    @property
    def needed(self) -> str:
        """``0.74 kg``, rounded up to three significant digits."""
        return f"{_up(self.amount)} {self.unit}".rstrip()

    @property
    def to_have(self) -> str:
        """``1 x 1 kg``; the amount itself if there are no packages."""
        return self.needed if self.packages is None else f"{self.packages} x {self.package}"


def list_supplies(checklist: Checklist, pieces: int) -> tuple[Supply, ...]:
    """Material for so many started pieces, as if none were lost on the way; rework takes more.

    Short material stops a batch, leftovers do not.

    Raises:
        Impossible: an impossible amount, as `floor check` would report.
    """
    return tuple(_compute_supply(checklist, one, pieces) for one in checklist.consumables)


def _compute_supply(checklist: Checklist, one: AnyConsumable, pieces: int) -> Supply:
    match one:
        case ByLength():
            return _compute_cuts(checklist, one, pieces)
        case ByArea():
            return _compute_coating(checklist, one, pieces)
        case ByAmount(mix=None):
            return _compute_amount(checklist, one, pieces)
        case ByAmount(mix=mix):
            assert mix is not None
            return _compute_mixes(checklist, one, mix, pieces)
        case ByCount():
            return _compute_number(checklist, one, pieces)


def _compute_cuts(checklist: Checklist, one: ByLength, pieces: int) -> Supply:
    cuts = sum(_times(checklist, one, pieces)) * one.cuts
    found = count_stock_lengths(cuts, one.each.base, one.package.base if one.package else None, waste=_wasted(one))
    return _measured(one, found.length, one.package, one.each, found.rolls, f"{found.cuts} cuts of {one.each}")


def _compute_coating(checklist: Checklist, one: ByArea, pieces: int) -> Supply:
    transfer = 1 - _wasted(one)
    coated = sum(count_pieces_at_op(checklist, op, pieces) for op in one.ops)
    taken = compute_coating_volume(
        one.each.base * coated * 1e-6, one.coats, find_spreading_rate(one), transfer=transfer
    )
    how = f"{one.each} x {one.coats * len(one.ops)} coats, {find_spreading_rate(one) * transfer:.3g} m2 to the liter"
    if one.package is None:
        return Supply(one.what, one.ops, taken, "L", None, "", how)
    return _packed(one, taken * 1000, one.package, one.package, how)


def _compute_amount(checklist: Checklist, one: ByAmount, pieces: int) -> Supply:
    total = add_waste_allowance(sum(_times(checklist, one, pieces)) * one.each.base, _wasted(one))
    return _packed(one, total, one.package, one.each, f"{one.each} for each {one.per}")


def _compute_mixes(checklist: Checklist, one: ByAmount, mix: Measure, pieces: int) -> Supply:
    limits = {op: compute_mix_limit(checklist, one, op) for op in one.ops}
    count = sum(count_mixes(_loads(checklist, op, pieces), limit) for op, limit in limits.items())
    made = f"{count} mix{'es' if count != 1 else ''} of {mix}"
    how = f"{made}, {' or '.join(str(n) for n in sorted(set(limits.values())))} pieces to a mix"
    return _packed(one, count * mix.base, one.package, mix, how)


def _compute_number(checklist: Checklist, one: ByCount, pieces: int) -> Supply:
    total = add_waste_allowance(sum(_times(checklist, one, pieces)) * one.each, _wasted(one))
    whole = count_packages(total, 1)
    boxes = count_packages(whole, one.package) if one.package else None
    return Supply(one.what, one.ops, whole, "", boxes, str(one.package or ""), f"{one.each} for each {one.per}")


def _wasted(one: AnyConsumable) -> float:
    """The share wasted."""
    return one.waste.base / 100 if one.waste is not None else 0.0


def compute_mix_limit(checklist: Checklist, one: ByAmount, op: int) -> int:
    """Pieces one mix covers at an operation: by its size, and by the time per piece within the pot life."""
    assert one.mix is not None, "asked of what is mixed"
    found = checklist.clock(one.pot_life) if one.pot_life else None
    latest = found[1].windows[-1].latest if found is not None and found[1].windows else None
    each = checklist.ops[op].time.before_piece
    return compute_pieces_per_mix(
        one.mix.base, one.each.base, latest.base if latest else inf, each.base if each else 0.0, waste=_wasted(one)
    )


def find_spreading_rate(one: ByArea) -> float:
    """Area in square meters a liter covers with one coat, without losses.

    Raises:
        ImpossibleFit: solids or film out of range.
    """
    if one.spreading is not None:
        return one.spreading.base
    assert one.solids is not None, "one of the two is stated"
    assert one.film is not None, "both of them are stated"
    return compute_spreading_rate(one.solids.base, one.film.base * 1000)


def _loads(checklist: Checklist, op: int, pieces: int) -> Iterator[int]:
    """Pieces in each load at an operation, all full but the last."""
    full = checklist.carrier(checklist.ops[op].carrier).capacity
    lots = count_lots(count_pieces_at_op(checklist, op, pieces), full)
    yield from (full if n < lots.count - 1 else lots.last for n in range(lots.count))


def _times(checklist: Checklist, one: ByLength | ByAmount | ByCount, pieces: int) -> Iterator[int]:
    """How often it is used at each operation: once per piece, or once per load."""
    for op in one.ops:
        yield (
            count_pieces_at_op(checklist, op, pieces)
            if one.per == "piece"
            else sum(1 for _ in _loads(checklist, op, pieces))
        )


def _packed(one: AnyConsumable, total: float, package: Measure | None, shown: Measure, how: str) -> Supply:
    return _measured(one, total, package, shown, count_packages(total, package.base) if package else None, how)


def _measured(
    one: AnyConsumable, total: float, package: Measure | None, shown: Measure, count: int | None, how: str
) -> Supply:
    """An amount in base units converted to the unit of the package or, without one, of the amount itself."""
    unit = package or shown
    return Supply(
        one.what, one.ops, total * unit.number / unit.base, unit.unit, count, package.text if package else "", how
    )


def _up(amount: float) -> str:
    """Rounded up to three significant digits; whole numbers stay."""
    exact = Decimal(repr(amount))
    step = Decimal(1).scaleb(min(exact.adjusted() - 2, 0))
    text = f"{exact.quantize(step, ROUND_CEILING):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
