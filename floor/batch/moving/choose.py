"""Choosing pieces by their numbers or places, and the place on a carrier that each goes to."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from contextlib import suppress

from floor.batch.command import Refused
from floor.batch.load import Load
from floor.batch.state import Batch
from floor.checklist.equipment import Carrier
from floor.text import format_count, format_numbers, sanitize

ALL = "all"
"""What is typed for each of them, where a blank would be too easily left."""
_NUMBERS = re.compile(r"(\d{1,4})(?:-(\d{1,4}))?")
"""A piece by its number, or several in a row: 12 or 12-15."""


_PLACES = re.compile(r"(\d+/)?([A-Z])(\d{1,2})-\2?(\d{1,2})")
"""Places of one row, one beside the other: A1-A5 or A1-5; with its load, 3/A1-A5."""


def list_places_typed(text: str) -> tuple[str, ...]:
    """The names of places in a text: ``a1, B2`` is A1 and B2, ``A1-A3`` is A1, A2 and A3."""
    return tuple(place for word in text.upper().replace(",", " ").split() for place in _spread_row(word))


def _spread_row(word: str) -> Sequence[str]:
    """The places of a row that a word names; the word itself where it names no row."""
    match = _PLACES.fullmatch(word)
    if match is None or int(match[4]) < int(match[3]):
        return (word,)
    return [f"{match[1] or ''}{match[2]}{n}" for n in range(int(match[3]), int(match[4]) + 1)]


def list_sources(batch: Batch, pieces: Sequence[int]) -> dict[int, list[int]]:
    """The load that each of these pieces was put on last, 0 for none → those pieces."""
    last = {piece: number for number in sorted(batch.loads) for piece in batch.loads[number].pieces}
    found: dict[int, list[int]] = {}
    for piece in pieces:
        found.setdefault(last.get(piece, 0), []).append(piece)
    return dict(sorted(found.items()))


def choose_pieces(batch: Batch, typed: str, among: Sequence[int], field: str = "") -> tuple[int, ...]:
    """The pieces that were typed, by number (``12``, ``12-15``) or by the place they are or were in last; none if
    nothing was.

    Args:
        among: the pieces that there are to choose from.
        field: the form field it comes from.
    """
    if typed.strip().lower() == ALL:
        return tuple(among)
    places: dict[str, list[int]] = {}
    for load, pieces in list_sources(batch, among).items():
        for piece in pieces if load else ():
            name = batch.format_slot(batch.loads[load], piece)
            for one in (name, f"{load}/{name}") if name else ():
                places.setdefault(one, []).append(piece)
    chosen: list[int] = []
    for word in list_places_typed(typed):
        match, there = _NUMBERS.fullmatch(word), places.get(word, [])
        if match is not None:
            first, last = int(match[1]), int(match[2] or match[1])
            if last < first:
                raise Refused("input", f"{word} counts down", f"enter {last}-{first}", field=field)
            chosen += range(first, last + 1)
        elif len(there) == 1:
            chosen += there
        else:
            raise _refuse_word(word, there, places, among, field)
    require_pieces(chosen, among, "are there", field)
    return tuple(chosen)


def choose_so_far(batch: Batch, typed: str, among: Sequence[int]) -> tuple[int, ...]:
    """The pieces that a text names which is still being typed; a word that names none is passed over."""
    chosen: list[int] = []
    for word in typed.replace(",", " ").split():
        with suppress(Refused):
            chosen += choose_pieces(batch, word, among)
    return tuple(chosen)


def find_pieces_in(batch: Batch, load: Load, places: Sequence[str]) -> tuple[int, ...]:
    """The pieces that lie in these places of a load's carrier, held and scrapped ones too."""
    there = {batch.format_slot(load, piece): piece for piece in (*batch.present(load), *batch.sitting(load))}
    return tuple(there[place] for place in places if place in there)


def list_places_meant(batch: Batch, load: Load, typed: str) -> tuple[str, ...]:
    """The places that were typed, by name or by the number of the piece there; what names none stays as it is."""
    there = {piece: batch.format_slot(load, piece) for piece in (*batch.present(load), *batch.sitting(load))}
    names: list[str] = []
    for word in list_places_typed(typed):
        match = _NUMBERS.fullmatch(word)
        numbers = range(int(match[1]), int(match[2] or match[1]) + 1) if match is not None else range(0)
        named = [there[number] for number in numbers if number in there]
        names += named if named and len(named) == len(numbers) else [word]
    return tuple(names)


def _refuse_word(
    word: str, there: Sequence[int], places: Collection[str], among: Collection[int], field: str
) -> Refused:
    """The refusal of a word that names no piece, or several from different loads."""
    if there:
        names = " or ".join(one for one in places if one.endswith(f"/{word}"))
        return Refused("unknown", f"{word} was a place of several loads", f"enter {names}", field=field)
    named = [one for one in places if "/" not in one]
    remedy = f"choose from {' '.join(named)}" if named else f"choose from piece {format_numbers(among)}"
    return Refused("unknown", f"no piece here is {sanitize(word, 20)}", remedy, field=field)


def require_pieces(chosen: Sequence[int], among: Collection[int], where: str, field: str = "") -> None:
    """Refuse pieces named twice, and pieces that are not among those there.

    Args:
        where: what those there do: ``wait for op 30``.
    """
    there = set(among)
    missing = [str(piece) for piece in chosen if piece not in there]
    if missing:
        wrong = f"not among the pieces that {where}: {', '.join(missing[:5])}{' …' if len(missing) > 5 else ''}"
        remedy = f"choose from {format_numbers(among)}" if among else "choose others"
        raise Refused("unknown", wrong, remedy, field=field)
    if len(set(chosen)) < len(chosen):
        raise Refused("input", "a piece is named twice", "name each piece once", field=field)


def seat_pieces(
    kind: Carrier, pieces: Sequence[int], places: Sequence[str] = (), taken: Mapping[int, int] | None = None
) -> tuple[int | None, ...]:
    """Each place of a carrier with its piece, as `Load.slots` has it.

    Args:
        places: the place of each piece, in their order; by default the first that are free.
        taken: index of a place → the piece that is in it and stays.
    """
    seated = dict(taken or {})
    if len(seated) + len(pieces) > kind.capacity:
        many = format_count(kind.capacity - len(seated), "more piece" if seated else "piece")
        wrong = f"{kind.name}: room for {many}, not {len(pieces)}"
        raise Refused("count", wrong, "choose fewer pieces, or another carrier", field="which")
    if not kind.positions:
        if places:
            raise Refused("input", f"a {kind.name} has no places", "leave this empty", field="places")
        return (*seated.values(), *pieces)
    free = [n for n in range(len(kind.positions)) if n not in seated]
    for place, piece in zip(_find_places(kind, pieces, places, free), pieces, strict=True):
        seated[place] = piece
    return tuple(seated.get(n) for n in range(len(kind.positions)))


def _find_places(kind: Carrier, pieces: Sequence[int], places: Sequence[str], free: Sequence[int]) -> Sequence[int]:
    """The index of the place for each piece."""
    if not places:
        return free[: len(pieces)]
    if len(places) != len(pieces):
        wrong = f"{format_count(len(places), 'place')} for {format_count(len(pieces), 'piece')}"
        raise Refused("input", wrong, "name one for each, or none", field="places")
    if len(set(places)) < len(places):
        raise Refused("input", "a place is named twice", "name each place once", field="places")
    names = {kind.positions[n]: n for n in free}
    wrong_ones = [sanitize(place, 20) for place in places if place not in names]
    if wrong_ones:
        wrong = f"not free on this {kind.name}: {', '.join(wrong_ones[:5])}"
        raise Refused("unknown", wrong, f"choose from {' '.join(names)}", field="places")
    return [names[place] for place in places]
