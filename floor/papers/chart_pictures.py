"""The charts of a batch as pictures for paper: what the process pages show, to scale and with numbers on both axes."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterator
from functools import partial

from floor.batch.quality.drifts import list_wear
from floor.batch.quality.loss_causes import count_pieces
from floor.batch.quality.loss_patterns import study_losses
from floor.batch.quality.measured_values import list_measured_values
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.papers.control_chart_pictures import draw_p_chart_picture, draw_values_picture
from floor.papers.curve_pictures import draw_acceptance_picture, draw_wear_picture
from floor.papers.loss_pictures import draw_pareto_picture, draw_places_picture, has_map
from floor.papers.losses import rank_losses
from floor.papers.measured_values import study_values
from floor.papers.sampling import list_chances, list_plans


@dataclass(frozen=True, slots=True)
class ChartPicture:
    """One chart, drawn when it is asked for."""

    stem: str
    """Of its file, numbered in the order of the pages on screen."""
    title: str
    draw: Callable[[], str]


def list_chart_pictures(batch: Batch) -> list[ChartPicture]:
    """Every chart that the record has something for."""
    return [
        ChartPicture(f"chart-{n:02d}-{_make_slug(title)}", title, draw)
        for n, (title, draw) in enumerate(_iter_charts(batch), 1)
    ]


_Chart = tuple[str, Callable[[], str]]


def _iter_charts(batch: Batch) -> Iterator[_Chart]:
    rows = rank_losses(batch)
    if rows:
        yield "reasons", partial(draw_pareto_picture, batch, rows)
    losses = study_losses(batch)
    for path, runs in losses.outcomes.items():
        if count_pieces(runs)[1]:
            name = f"op {path.caused}" + (f" found at op {path.found}" if path.found != path.caused else "")
            yield f"lost by load {name}", partial(draw_p_chart_picture, batch, losses, path)
            if has_map(batch, path):
                yield f"places {name}", partial(draw_places_picture, batch, path, runs)
    for shape, values in list_measured_values(batch).items():
        yield f"values op {shape.op} {shape.what}", partial(draw_values_picture, batch, study_values(shape, values))
    for wear in list_wear(batch):
        yield f"wear op {wear.shape.op} {wear.shape.what}", partial(draw_wear_picture, batch, wear)
    for plan in list_plans(batch):
        chances = list_chances(batch, plan)
        if chances:
            yield f"sampling op {plan.op} {plan.gate.title()}", partial(draw_acceptance_picture, batch, plan, chances)


def _make_slug(text: str) -> str:
    """What a file may be called on any system."""
    plain = unicodedata.normalize("NFKD", text.lower()).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:48].strip("-")
