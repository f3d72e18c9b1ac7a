"""Consumables: amounts that can be computed, and packages large enough for one cut or one mix."""

from __future__ import annotations

from collections.abc import Iterator

from floor.checklist.consumables import ByAmount, ByArea, ByLength
from floor.checklist.findings import Finding, suggest_known_name
from floor.checklist.line_numbers import Path
from floor.checklist.material_required import compute_mix_limit, find_spreading_rate
from floor.checklist.model import Checklist
from floor.checklist.units import Measure, read_measure
from floor.figures.errors import ImpossibleFit


def check_consumable_names(checklist: Checklist) -> Iterator[Finding]:
    seen: set[str] = set()
    for i, one in enumerate(checklist.consumables):
        if one.what in seen:
            right = "name all its operations in one `ops`; where the amounts differ, put it in the name"
            yield Finding(("consumables", i, "what"), f'consumable "{one.what}" is in the file already', right)
        seen.add(one.what)


def check_consumable_references(checklist: Checklist) -> Iterator[Finding]:
    known = [str(op) for op in checklist.ops]
    for i, one in enumerate(checklist.consumables):
        for k, op in enumerate(one.ops):
            if op not in checklist.ops:
                yield Finding(
                    ("consumables", i, "ops", k), f'op "{op}" is not in the file', suggest_known_name(str(op), known)
                )
        if len(set(one.ops)) < len(one.ops):
            yield Finding(("consumables", i, "ops"), "names an operation twice", "name each once; raise the amount")


def check_consumable_amounts(checklist: Checklist) -> Iterator[Finding]:
    """Each amount alone: not all of it is waste, and the package is enough for one cut or one mix."""
    for i, one in enumerate(checklist.consumables):
        at: Path = ("consumables", i)
        if one.waste is not None and one.waste.base >= 100:
            yield Finding((*at, "waste"), f"{one.waste} of it wasted leaves nothing", "state less than 100 %")
        if isinstance(one, ByLength) and one.package is not None and one.each.base > one.package.base:
            wrong = f"a cut of {one.each} does not come out of {one.package}"
            yield Finding((*at, "each"), wrong, "take longer rolls or bars, or shorter cuts")
        elif isinstance(one, ByArea):
            yield from _covers(at, one)
        elif isinstance(one, ByAmount):
            yield from _alike(at, one)


def _covers(at: Path, one: ByArea) -> Iterator[Finding]:
    by_film = (one.solids, one.film)
    if (any(by_film) and one.spreading is not None) or (one.spreading is None and not all(by_film)):
        right = 'write `spreading = "12 m**2/L"`, or `solids` and `film` from the data sheet'
        yield Finding(at, "how far does it spread?", right)
        return
    try:
        find_spreading_rate(one)
    except ImpossibleFit as refused:
        yield Finding(at, refused.problem, refused.remedy)


def _alike(at: Path, one: ByAmount) -> Iterator[Finding]:
    for name, other in (("mix", one.mix), ("package", one.package)):
        if other is not None and _is_mass(other) != _is_mass(one.each):
            wrong = f"{one.each} of each cannot be taken from {other}"
            yield Finding((*at, name), wrong, "state all of them as masses, or all as volumes")


def _is_mass(amount: Measure) -> bool:
    try:
        return bool(read_measure(amount.text, "mass"))
    except ValueError:
        return False


def check_mix_lasts(checklist: Checklist) -> Iterator[Finding]:
    """A mix and its pot life are stated together, and a mix is enough for at least one piece."""
    for i, consumable in enumerate(checklist.consumables):
        if isinstance(consumable, ByAmount):
            yield from _check_mix(checklist, ("consumables", i), consumable)


def _check_mix(checklist: Checklist, at: Path, adhesive: ByAmount) -> Iterator[Finding]:
    if adhesive.mix is None:
        if adhesive.pot_life:
            yield Finding((*at, "pot_life"), "has a pot life, but no mix", 'add `mix = "100 g"`, or take it out')
        return
    if adhesive.per == "load":
        yield Finding((*at, "per"), "a mix is shared out by the piece", "leave `per` out; state what one piece takes")
        return
    unusable = list(_check_pot_life(checklist, (*at, "pot_life"), adhesive.pot_life)) if adhesive.pot_life else []
    yield from unusable or _check_mix_does_a_piece(checklist, at, adhesive)


def _check_pot_life(checklist: Checklist, at: Path, clock_id: str) -> Iterator[Finding]:
    found = checklist.clock(clock_id)
    if found is None:
        clocks = [clock.id for operation in checklist.operations for clock in operation.clocks]
        yield Finding(at, f'clock "{clock_id}" is not in the file', suggest_known_name(clock_id, clocks))
    elif found[1].windows and found[1].windows[-1].latest is None:
        yield Finding(at, f'clock "{clock_id}" never ends, so it is no pot life', "give its window a `latest`")


def _check_mix_does_a_piece(checklist: Checklist, at: Path, adhesive: ByAmount) -> Iterator[Finding]:
    for op in (op for op in adhesive.ops if op in checklist.ops):
        try:
            limit = compute_mix_limit(checklist, adhesive, op)
        except ImpossibleFit as refused:
            yield Finding(at, f"op {op}: {refused.problem}", refused.remedy)
            continue
        if limit < 1:
            wrong = f"op {op}: a mix of {adhesive.mix} is used up or over its pot life before one piece is done"
            yield Finding(at, wrong, "a larger mix, less on a piece, a slower adhesive, or less time a piece")


RULES = (check_consumable_names, check_consumable_references, check_consumable_amounts, check_mix_lasts)
