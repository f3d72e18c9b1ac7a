"""Which pieces of a load to take: spread over the carrier, moving on from load to load, never by habit.

Everything follows from the load's number, so each terminal shows the same places and anybody can check them later.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from typing import TypeVar

from floor.figures.errors import ImpossibleFigure

Place = TypeVar("Place")


def choose_first_and_last(places: Sequence[Place]) -> list[Place]:
    """The first and the last piece made, of a single piece that one; ``places`` in the order made."""
    return [*places[:1], *places[1:][-1:]]


def choose_spread(load: int, places: Sequence[Place], number: int, empty: Collection[Place] = ()) -> list[Place]:
    """So many pieces of a load, spread evenly along the carrier, all one place further at each load.

    After any number of loads in a row the places were taken equally often, give or take one: the distances between
    places of one load differ by at most one, and such a ring holds as many marks in any stretch of the same length,
    give or take one. No two places of a load are nearer along the carrier, counted round, than ``len(places) //
    number``, and no other choice has them farther apart. For an empty place the next full one is taken.

    Args:
        load: Number of the load, counted on by one.
        places: All places of the carrier, neighbors side by side (`list_grid_places`).
        number: Pieces to take, 0 or more; all where there are no more than that.
        empty: Places without a piece.

    Returns:
        The places in the order of ``places``.

    Raises:
        ImpossibleFigure: a number below 0.
    """
    if number < 0:
        raise ImpossibleFigure(f"{number} pieces per load", "give 0 or more")
    full = [place not in empty for place in places]
    if number >= sum(full):
        return [place for place, there in zip(places, full, strict=True) if there]
    taken = set[int]()
    for n in range(number):
        at = (n * len(places) // number + load) % len(places)
        while at in taken or not full[at]:
            at = (at + 1) % len(places)
        taken.add(at)
    return [places[at] for at in sorted(taken)]


def choose_on_grid(
    load: int, rows: int, columns: int, number: int, empty: Collection[tuple[int, int]] = ()
) -> list[tuple[int, int]]:
    """`choose_spread` on a carrier of rows and columns, along its rows and its columns in turn.

    It turns when all places have been taken equally often, so that rule holds here too, and no two places are always
    taken together.

    Returns:
        (row, column), both from 0.

    Raises:
        ImpossibleFigure: no rows or columns, or a number below 0.
    """
    ways = [list_grid_places(rows, columns, by_column=by_column) for by_column in (False, True)]
    size = rows * columns
    loads_to_equal = size // math.gcd(size, number)
    return sorted(choose_spread(load, ways[load // loads_to_equal % 2], number, empty))


def list_grid_places(rows: int, columns: int, *, by_column: bool = False) -> list[tuple[int, int]]:
    """(row, column) of all places, row by row or column by column, there and back: each next one is a neighbor.

    Raises:
        ImpossibleFigure: no rows or columns.
    """
    if rows < 1 or columns < 1:
        raise ImpossibleFigure(f"a carrier of {rows} by {columns} places", "give it 1 or more each way")
    if by_column:
        return [(row, column) for column, row in list_grid_places(columns, rows)]
    return [
        (row, column)
        for row in range(rows)
        for column in (range(columns) if row % 2 == 0 else reversed(range(columns)))
    ]


def choose_every_nth(load: int, places: Sequence[Place], step: int, before: int) -> list[Place]:
    """Every ``step``-th piece, counted on across loads: the first that is taken is piece ``step`` of the batch.

    A load size that shares a factor with the step would bring the same places at each load. So the count starts one
    place further whenever its places come round again; how many are taken of a load stays the same. Of full loads of
    one size each place is taken equally often, give or take one, after any number of loads from the first.

    Args:
        load: Number of the load, the first one 0, counted on by one.
        places: Those with a piece, in the order made.
        step: 1 or more.
        before: Pieces in all loads before this one.

    Returns:
        The places in the order of ``places``.

    Raises:
        ImpossibleFigure: a step below 1, or fewer than no pieces before.
    """
    if step < 1 or before < 0:
        raise ImpossibleFigure(f"every {step}th piece after {before}", "give a step of 1 or more, and 0 or more before")
    size = len(places)
    shared = math.gcd(step, size)
    shift = load // (step // shared) if shared > 1 else 0
    counted = range(-(before + 1) % step, size, step)
    return [places[at] for at in sorted((each + shift) % size for each in counted)]
