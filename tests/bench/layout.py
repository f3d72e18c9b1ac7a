"""Whether a bed holds what the layout says, and no more: 500 random beds, every pattern tried (`tests/figures`).

``layout_short`` counts the beds on which a pattern was found that holds more than stated, ``layout_overlapping`` those
with a layout in which a piece is over an edge or a clamp, or too near another. The last two figures are of beds with
blocks anywhere, such as no checklist can state.
"""

from __future__ import annotations

import math
import time

from floor.figures.layout import LayoutBlank, RoundPiece, compute_clamp_zones, list_layouts
from tests.figures.bed_count import beds, most_found, wrong


def measure(number: int = 500, among: int = 60) -> tuple[dict[str, float], dict[str, float]]:
    """(ratios, figures): no ratios."""
    short, overlapping, held = _tried(number, False)
    blocked, over, _ = _tried(among, True)
    blank = LayoutBlank(100, 100, 0.3, compute_clamp_zones(100, 100, 0.75, "one end"))
    started = time.process_time()
    list_layouts(RoundPiece(1), blank, 0.1)
    return {}, {
        "layout_beds": number,
        "layout_pieces": held,
        "layout_short": short,
        "layout_overlapping": overlapping,
        "layout_9000_pieces_ms": math.ceil(1000 * (time.process_time() - started)),
        "layout_short_among_blocks_share": blocked / among,
        "layout_overlapping_among_blocks": over,
    }


def _tried(number: int, blocks: bool) -> tuple[int, int, int]:
    short = overlapping = held = 0
    for bed in beds(number, 7, blocks):
        ways = list_layouts(bed.piece, bed.blank, bed.gap)
        overlapping += any(wrong(bed, way.positions) for way in ways)
        short += most_found(bed, ways[0].pieces) > ways[0].pieces
        held += ways[0].pieces
    return short, overlapping, held
