"""The file of a phone or a logger as the result of a trial: read from the shop's folder ``trials`` only."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from floor.batch.command import Refused
from floor.batch.events import TrialFile
from floor.batch.trials.commands import MOST_VALUES
from floor.dataclass import dataclass
from floor.shop.station_folders import FileField
from floor.text import cut

if TYPE_CHECKING:
    from floor.evidence.table_file import Table

FOLDER = "trials"
"""In the shop's folder."""
LONGEST_CELL = 20
"""Characters of a cell that are told."""
_FIELD = FileField("values", "the values")


class TrialTable(NamedTuple):
    """What was read of a file."""

    name: str
    sha256: str
    table: Table


@dataclass(frozen=True, slots=True)
class TableReading:
    """A file to be read, perhaps in a thread."""

    path: Path
    size: int

    def read(self, progress: Callable[[float], None] | None = None) -> TrialTable:
        """Read it.

        Raises:
            Refused: it cannot be read, or has no numbers.
        """
        from floor.evidence.table_file import MOST_BYTES, UnreadableTable, read_table

        data = _FIELD.read_file(self.path, MOST_BYTES)
        try:
            found = read_table(data, progress)
        except UnreadableTable as error:
            raise _FIELD.refuse(f"{self.path.name}: {error.wrong}", error.right) from error
        return TrialTable(self.path.name, hashlib.sha256(data).hexdigest(), found)


def prepare_trial_file(shop: Path, text: str) -> TableReading:
    """What is to be read. No path leads out of the folder.

    Raises:
        Refused: no such file, or not in the folder.
    """
    return TableReading(*_FIELD.find_file(shop / FOLDER, text))


def propose_columns(table: Table) -> str:
    """The numbers of all columns but those that rise all the way, as a time does."""
    rising = [
        all(a is not None and b is not None and a < b for a, b in pairwise(values)) for values in table.columns.values()
    ]
    return " ".join(str(n) for n, time in enumerate(rising, 1) if not time)


def list_left_out(table: Table) -> list[str]:
    """Each column that is not taken and why, and how marks were read that may be thousands marks or decimal ones."""
    read = [f"{name}: {cut(cell, LONGEST_CELL)} is read as {value:.15g}" for name, cell, value in table.in_doubt]
    return read + [f"{name}: left out, {_say_why(cut(cell, LONGEST_CELL), cut(other, LONGEST_CELL))}"
                   for name, cell, other in table.left_out]  # fmt: skip


def _say_why(cell: str, other: str) -> str:
    if other:
        return f"{cell} and {other} have different decimal marks; export it with one"
    return f"{cell} is not a number" if cell else "most rows are empty"


def reduce_file(found: TrialTable, columns: str, how: str) -> tuple[tuple[float, ...], TrialFile]:
    """The values of a result, and where they are from.

    Args:
        columns: their numbers from 1, with blanks between; several count together, as the axes of a vector.
        how: one of `REDUCTIONS`, or `EACH`.

    Raises:
        Refused: no such column, or nothing to reduce.
    """
    from floor.evidence.table_file import REDUCTIONS, UnreadableTable, reduce_table

    known = list(found.table.columns)
    typed = columns.replace(",", " ").replace(";", " ").split()
    wrong = next((one for one in typed if not one.isdecimal() or not 1 <= int(one) <= len(known)), None)
    if wrong is not None or not typed:
        said = f"there is no column {wrong[:20]}" if wrong else "no column"
        raise _refuse(said, f"enter numbers from 1 to {len(known)}, with blanks between")
    names = tuple(dict.fromkeys(known[int(one) - 1] for one in typed))
    try:
        made = reduce_table(found.table, names, how)
    except UnreadableTable as error:
        raise _refuse(error.wrong, error.right) from error
    if len(made.values) > MOST_VALUES:
        said = f"{len(made.values)} rows; a result holds at most {MOST_VALUES} values"
        raise _refuse(said, f"Esc, then make one number of them: {', '.join(REDUCTIONS)}")
    return made.values, TrialFile(
        file=found.name, sha256=found.sha256, columns=names, how=how, rows=made.rows, left_out=made.left_out
    )


def _refuse(wrong: str, right: str) -> Refused:
    return Refused("input", wrong, right, field="columns")
