"""What was lost, on paper: by reason, and by place on the carrier."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from floor.batch.quality.loss_causes import LossPath, RunOutcome
from floor.batch.state import Batch
from floor.figures.axis import Scale, list_ticks
from floor.figures.quality.pareto import ParetoRow
from floor.papers.chart_frame import EDGE, MOST_TICKS, WIDTH, begin_drawing
from floor.papers.losses import say_path
from floor.papers.svg import SMALL, SOLID, TEXT, THIN, Sign, count_letters
from floor.text import cut, format_count

NAMES = 66.0
"""Room for the reasons."""
ROW = 6.0
MOST_REASONS = 15


def draw_pareto_picture(batch: Batch, ranked: Sequence[ParetoRow]) -> str:
    """Bars of pieces, and the running share as a line on the same scale: its end is all of them."""
    rows, total = ranked[:MOST_REASONS], sum(row.count for row in ranked)
    more = len(ranked) - len(rows)
    texts = [f"and {format_count(more, 'more reason')}"] if more else []
    texts.append("bars: pieces; line: share of this reason and all above it")
    head = f"scrap and rework by reason, {format_count(total, 'piece')}"
    drawing, top = begin_drawing(batch, head, texts, len(rows) * ROW + 18)
    top += 6
    x = Scale(0, total, EDGE + NAMES, WIDTH - EDGE - 14)
    bottom = top + len(rows) * ROW
    shares = [0, 20, 40, 60, 80, 100]
    for share in shares:
        at = x.place(total * share / 100)
        drawing.draw_line([(at, top), (at, bottom)], THIN, "grid")
        drawing.write_text(at, top - 1.2, f"{share} %", SMALL, "middle")
    for value in list_ticks(0, total, MOST_TICKS, least=1):
        drawing.draw_line([(x.place(value), bottom), (x.place(value), bottom + 1)], SOLID)
        drawing.write_text(x.place(value), bottom + 4, f"{value:.0f}", SMALL, "middle")
    drawing.write_text((x.start + x.end) / 2, bottom + 8.5, "pieces", TEXT, "middle")
    running = []
    for n, row in enumerate(rows):
        y = top + n * ROW
        drawing.write_text(x.start - 1.5, y + 4, cut(row.reason, count_letters(NAMES - 2)), TEXT, "end")
        drawing.draw_box(x.start, y + 1, x.place(row.count) - x.start, ROW - 2, "#bbb", SOLID, "bar")
        running.append((x.place(row.running_share * total), y + ROW / 2))
        drawing.write_text(x.end + 1.5, y + 4, f"{row.count}, {100 * row.running_share:.0f} %", SMALL)
    drawing.draw_line(running, SOLID, "running")
    for at, y in running:
        drawing.draw_point(at, y, Sign.DOT, "share")
    drawing.draw_box(x.start, top, x.end - x.start, bottom - top, "none", SOLID)
    return drawing.write()


def has_map(batch: Batch, path: LossPath) -> bool:
    carrier = batch.checklist.carrier(batch.operation(path.caused).carrier)
    return bool(carrier.positions and carrier.columns)


def draw_places_picture(batch: Batch, path: LossPath, runs: Sequence[RunOutcome]) -> str:
    """The carrier as it lies, each place with how many of its pieces were lost."""
    carrier = batch.checklist.carrier(batch.operation(path.caused).carrier)
    assert carrier.columns, "a map is drawn of what has rows and columns"
    made = Counter(one.place for run in runs for one in run.pieces)
    lost = Counter(one.place for run in runs for one in run.pieces if one.spoiled is not None)
    columns, rows = carrier.columns, -(-len(carrier.positions) // carrier.columns)
    side, high = min((WIDTH - 2 * EDGE) / columns, 34.0), 14.0
    head = f"lost by place on the {carrier.name.lower()}, {say_path(batch, path)}"
    drawing, top = begin_drawing(
        batch, head, ["lost of all made there; the darker, the greater the share"], rows * high + 6
    )
    most = max((lost[place] / made[place] for place in carrier.positions if made[place]), default=0.0)
    for n, place in enumerate(carrier.positions):
        x, y = EDGE + n % columns * side, top + n // columns * high
        share = lost[place] / made[place] / most if most and made[place] else 0.0
        drawing.draw_box(x, y, side, high, _shade(share), SOLID, "place")
        drawing.write_text(x + 1.2, y + 3.6, place, SMALL)
        said = f"{lost[place]} of {made[place]}" if made[place] else "none made"
        drawing.write_text(x + side / 2, y + 9.8, said, TEXT, "middle", bold=bool(lost[place]))
    return drawing.write()


def _shade(share: float) -> str:
    """White to a gray on which black can still be read."""
    level = 255 - round(105 * share)
    return f"#{level:02x}{level:02x}{level:02x}"
