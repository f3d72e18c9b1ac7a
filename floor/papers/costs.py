"""What a batch cost, per good piece and in scrap, as lines for screen and paper."""

from __future__ import annotations

from floor.batch.quality.costs import BatchCosts, ScrapCost
from floor.batch.state import Batch
from floor.figures.key_figures import Absence
from floor.text import format_count, wrap_text
from floor.text_charts import draw_bars

NO_RATES = "Cost n/a, because shop.toml names no rates: the README shows its [costs]"


def list_cost_lines(batch: Batch, costs: BatchCosts | None, width: int) -> list[str]:
    """Total, parts and cost of a good piece; what scrap cost by reason; and what has no rate."""
    if costs is None:
        return wrap_text(NO_RATES, "", "  ", width)
    currency = costs.currency
    parts = [
        ("machines and stations", costs.stations),
        ("labor", costs.labor),
        ("tool wear", costs.tools),
        ("material", costs.material),
    ]
    each = costs.per_good_piece
    per = f"{each:,.2f} {currency} for each of {costs.good} good" if not isinstance(each, Absence) else "none good yet"
    head = f"Cost so far {costs.total:,.2f} {currency}; {per}"
    lines = [
        *wrap_text(head, "", "  ", width),
        "",
        *draw_bars([(name, spent, f"{spent:>12,.2f}") for name, spent in parts], width),
    ]
    lines += ["", f"In scrap: {sum(one.cost for one in costs.scrap):,.2f} {currency}, material and work until then"]
    bars = [
        (
            f"op {one.op} {say_reason(batch, one)}",
            one.cost,
            f"{format_count(one.pieces, 'piece'):>10} {one.cost:>12,.2f}",
        )
        for one in costs.scrap
    ]
    lines += draw_bars(bars, width)
    if costs.unpriced:
        lines += ["", *wrap_text(f"No rate in shop.toml, so not counted: {', '.join(costs.unpriced)}", "", "  ", width)]
    note = (
        "Material is as the checklist needs it for all pieces started; tools by the share of their life that was used."
    )
    return [*lines, "", *wrap_text(note, "", "  ", width)]


def say_reason(batch: Batch, one: ScrapCost) -> str:
    """The reason's text in the checklist, or what somebody wrote."""
    operation = batch.checklist.ops.get(one.op)
    code = operation.reason(one.reason) if operation is not None else None
    return code.text if code is not None else one.reason
