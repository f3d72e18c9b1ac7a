"""How pieces lie on a blank, in words clear enough to lay them out."""

from __future__ import annotations

import pytest

from floor.checklist.blank_layout import describe_layout
from floor.checklist.equipment import Blank
from floor.checklist.units import read_measure


def blank(length: str, width: str, diameter: str, clamp: str) -> Blank:
    said = {"length": length, "width": width, "piece_diameter": diameter, "clamp": clamp, "gap": "0.1 in",
            "margin": "0.2 in"}  # fmt: skip
    return Blank(**{name: read_measure(text, "length") for name, text in said.items()}, clamp_at="one end")


@pytest.mark.parametrize(
    ("bed", "words"),
    [
        (blank("9 in", "9 in", "1.5 in", "0.75 in"), "27 pieces, staggered rows (square rows: 25)"),
        (  # 354.92 × 239.84 free, pitch 42.54: 8 in a row leave 17.14; √(42.54² − 17.14²) = 38.93, 6 rows (by hand)
            blank("380 mm", "250 mm", "40 mm", "20 mm"),
            "48 pieces, staggered rows 38.93 mm apart, shifted 17.14 mm (staggered rows: 45)",
        ),
    ],
)
def test_what_lies_closest_needs_no_measure_and_what_is_spread_gives_it(bed: Blank, words: str) -> None:
    assert describe_layout(bed).startswith(words)


def bed(length: str, width: str, **more: str) -> Blank:
    at = more.pop("clamp_at", "both ends")
    said = {"length": length, "width": width, "gap": "0 mm", "margin": "1 mm"} | more
    return Blank(**{name: read_measure(text, "length") for name, text in said.items()}, clamp_at=at)  # type: ignore[arg-type]


ROUND = {"piece_diameter": "40 mm", "clamp": "20 mm", "gap": "0.1 in", "margin": "0.2 in"}
PLATE = {"piece_length": "30 mm", "piece_width": "20 mm"}


@pytest.mark.parametrize(
    ("lies", "words"),
    [
        # The first of above, turned by a quarter with its clamp.
        (
            bed("250 mm", "380 mm", **ROUND, clamp_at="one side"),
            "48 pieces, staggered rows 38.93 mm apart, shifted 17.14 mm (staggered rows: 45)",
        ),
        (bed("100 mm", "60 mm", **PLATE, margin="0 mm"), "10 pieces, turned (lengthwise: 9)"),  # 5 by 2, or 3 by 3
        (bed("60 mm", "100 mm", **PLATE, margin="0 mm"), "10 pieces, lengthwise (turned: 9)"),
        (bed("95 mm", "65 mm", **PLATE, gap="1 mm"), "9 pieces, lengthwise (turned: 8)"),  # 93 by 63 mm free
        (bed("62 mm", "62 mm", piece_length="20 mm", piece_width="20 mm"), "9 pieces, square rows"),
        (bed("22 mm", "22 mm", piece_length="20 mm", piece_width="20 mm"), "1 piece, square rows"),
        (bed("62 mm", "42 mm", piece_length="20 mm"), "6 pieces, square rows"),
    ],
)
def test_how_pieces_lie_is_said_whole(lies: Blank, words: str) -> None:
    assert describe_layout(lies) == words
