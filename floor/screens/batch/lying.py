"""The carrier of a load as it lies, with the pieces that are meant: which of these do I take in my hand?"""

from __future__ import annotations

from collections.abc import Collection

from floor.batch.counting.blind_count import find_blind_subjects
from floor.batch.counting.lying import list_what_lies
from floor.batch.load import Load, PiecePlace
from floor.batch.state import Batch
from floor.checklist.equipment import Carrier
from floor.screens.widgets.place_map import Cell, Places

LOUD = ("hold", "scrap", "rework")


def lay_out_load(
    batch: Batch,
    load: Load | None,
    marked: Collection[int] = (),
    here: int = 0,
    title: str = "",
    marks: str = "",
    numbers: bool = True,
) -> Places | None:
    """What lies in each place of a load's carrier; None where it has no places, or what is on it is still to be counted
    blind.

    Args:
        marked: the pieces that are meant.
        here: the piece that the cursor is at.
        marks: what a mark says; empty where no piece is ever marked.
        numbers: whether each piece stands there with its number.
    """
    lying = list_what_lies(batch, load) if load is not None else {}
    if load is None or not lying or PiecePlace("load", load=load.number).heap in find_blind_subjects(batch):
        return None
    cells = {
        name: Cell(
            one.lies or "-",
            str(one.piece) if numbers and one.piece is not None and one.lies != "away" else "",
            "loud" if one.lies in LOUD else "" if one.lies == "good" else "quiet",
            one.piece in marked,
        )
        for name, one in lying.items()
    }
    at = next((name for name, one in lying.items() if one.piece == here and one.lies != "away"), "")
    return _place(batch.checklist.carrier(load.carrier), cells, at, title, marks)


def lay_out_seats(carrier: Carrier, slots: tuple[int | None, ...], title: str = "") -> Places | None:
    """Where each piece of a load that is to be formed goes; None on a carrier without places."""
    cells = {
        name: Cell("piece", str(piece), "") for name, piece in zip(carrier.positions, slots, strict=False) if piece
    }
    return _place(carrier, cells, "", title) if carrier.positions else None


def list_drawn(*places: Places | None) -> list[Places]:
    """Those that can be drawn."""
    return [one for one in places if one is not None]


def _place(carrier: Carrier, cells: dict[str, Cell], here: str, title: str, marks: str = "") -> Places:
    longest = max((len(cell.beside) for cell in cells.values()), default=0)
    return Places(carrier.rows or 0, carrier.columns or 0, cells, here, longest, marks, title)
