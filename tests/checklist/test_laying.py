"""How pieces lie on a blank, in words clear enough to lay them out."""

from __future__ import annotations

import pytest

from floor.checklist.blank_layout import describe_layout
from floor.checklist.model import Blank
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
