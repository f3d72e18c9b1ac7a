"""Pieces fit their blanks and carrier beds, as many as the file says."""

from __future__ import annotations

from collections.abc import Iterator

from floor.checklist.blank_layout import compute_layout, format_blank_size
from floor.checklist.equipment import Blank, Carrier
from floor.checklist.findings import Finding
from floor.checklist.line_numbers import Path
from floor.checklist.model import Checklist
from floor.figures.errors import ImpossibleFit

_SHAPE = "`piece_length` and `piece_width`, or `piece_diameter`"


def _beds(checklist: Checklist) -> Iterator[tuple[Path, Blank, Carrier | None]]:
    """Every blank and bed, with its carrier."""
    if checklist.blank is not None:
        yield ("blank",), checklist.blank, None
    for i, carrier in enumerate(checklist.carriers):
        if carrier.bed is not None:
            yield ("carriers", i, "bed"), carrier.bed, carrier


def check_piece_shape(checklist: Checklist) -> Iterator[Finding]:
    for path, blank, _ in _beds(checklist):
        if not _one_shape(blank):
            yield Finding(path, "the piece needs one shape", _SHAPE)


def _one_shape(blank: Blank) -> bool:
    sides = (blank.piece_length, blank.piece_width)
    return all(sides) if blank.piece_diameter is None else not any(sides)


def check_part_used(checklist: Checklist) -> Iterator[Finding]:
    for path, bed, carrier in _beds(checklist):
        if bed.part_used and carrier is not None:
            wrong = "says that pieces are cut from it one by one, and a bed is no blank"
            yield Finding((*path, "part_used"), wrong, "take it out, or put it at `[blank]`")


def check_clamp_width(checklist: Checklist) -> Iterator[Finding]:
    for path, blank, _ in _beds(checklist):
        if blank.clamp_at != "both ends" and blank.clamp is None:
            wrong = "says where the clamps sit, but not how wide they are"
            yield Finding((*path, "clamp_at"), wrong, "add `clamp`, or take `clamp_at` out")


def check_pieces_fit(checklist: Checklist) -> Iterator[Finding]:
    """At least one piece fits, and as many as the carrier is said to hold."""
    for path, blank, carrier in _beds(checklist):
        if not _one_shape(blank):
            continue
        try:
            layout = compute_layout(blank)
        except ImpossibleFit as refused:
            yield Finding(path, f"{_where(checklist, carrier)}{_no_piece(blank)}", refused.remedy)
            continue
        if carrier is not None and carrier.capacity > layout.pieces:
            wrong = f"{_where(checklist, carrier)}{carrier.capacity} pieces are more than the {layout.pieces} that fit"
            right = f"capacity {layout.pieces}; or a larger bed, a smaller gap or margin, or fewer clamps"
            yield Finding((*path[:-1], "capacity"), f"{wrong} its bed of {format_blank_size(blank)}", right)


def _where(checklist: Checklist, carrier: Carrier | None) -> str:
    """``op 10: ``, the operation that cannot be loaded."""
    ops = [one.op for one in checklist.operations if carrier is None or one.carrier == carrier.id]
    return f"op {ops[0]}: " if ops else ""


def _no_piece(blank: Blank) -> str:
    given = blank.piece_diameter
    piece = f"{given} round" if given else f"{blank.piece_length} x {blank.piece_width}"
    clamps = f" and clamps of {blank.clamp} at {blank.clamp_at}" if blank.clamp else ""
    return f"not one piece of {piece} fits {format_blank_size(blank)} with a margin of {blank.margin}{clamps}"


RULES = (check_piece_shape, check_part_used, check_clamp_width, check_pieces_fit)
