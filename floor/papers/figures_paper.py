"""The figures of a batch on paper: losses, key figures, times, cost, and the charts of what was measured."""

from __future__ import annotations

from datetime import datetime

from floor.batch.quality.costs import CostRates
from floor.figures.calendar import Calendar
from floor.papers.catalog import PaperOffer, PaperSource
from floor.papers.figures_export import gather_process_figures, write_figures_text
from floor.papers.measured_values import list_value_lines
from floor.papers.nothing_since import say_nothing_since
from floor.papers.page import begin_paper
from floor.text import WIDTH
from floor.wall import WHEN, format_local

CHART_ROWS = 16


def make_figures_offer(
    source: PaperSource, calendar: Calendar, since: datetime | None, rates: CostRates | None
) -> PaperOffer:
    """
    Args:
        since: only of runs started and values measured then or later.
    """
    batch, now = source.batch, source.now

    def write() -> str:
        found = gather_process_figures(batch, calendar, now.at, since, rates=rates)
        paper = begin_paper("FIGURES", batch, now, source.head)
        paper.add(["", *write_figures_text(found).split("\n")])
        if say_nothing_since(batch, since):
            return paper.text()
        paper.title(f"Measured values: {len(found.values)}")
        for one in found.values:
            paper.add(["", *list_value_lines(batch, one, WIDTH, CHART_ROWS)])
        return paper.text()

    span = f" since {format_local(since, WHEN)}" if since is not None else ""
    return PaperOffer(f"Figures{span}, with charts", f"{batch.id}-figures", write)
