"""Cells of a line that each have a look."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby


def join_cells(cells: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    """Neighbors of one look as one part: a part for each cell would cost what the line is wide."""
    return [("".join(sign for sign, _ in some), look) for look, some in groupby(cells, key=lambda one: one[1])]
