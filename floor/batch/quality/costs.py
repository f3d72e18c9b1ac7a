"""What a batch cost by the shop's rates, and what of it went into scrap."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import field
from typing import NamedTuple

from floor.batch.quality.time_elements import BatchElements, RunWeight
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.material_required import list_supplies
from floor.dataclass import dataclass
from floor.figures.key_figures import Absence, Input

HOUR = 3600.0


@dataclass(frozen=True, slots=True)
class CostRates:
    """What a shop pays, in one currency."""

    currency: str
    labor_hour: float | None = None
    stations: Mapping[str, float] = field(default_factory=dict)
    """Id of a station → price of an hour."""
    tools: Mapping[str, float] = field(default_factory=dict)
    """``mill 7``, station and number → price of the tool."""
    materials: Mapping[str, float] = field(default_factory=dict)
    """What a consumable is called → price of one of the unit in which it is listed; of one piece where counted."""


class ScrapCost(NamedTuple):
    """What the pieces scrapped for one reason had cost until then."""

    op: int
    reason: str
    """Its code, or what somebody wrote."""
    pieces: int
    cost: float


@dataclass(frozen=True, slots=True)
class BatchCosts:
    """In the shop's currency."""

    stations: float
    labor: float
    tools: float
    material: float
    """As the checklist needs it for the pieces started: what was used is not recorded."""
    good: int
    scrap: Sequence[ScrapCost]
    """The dearest first."""
    unpriced: Sequence[str]
    """Stations, tools and materials in use for which there is no rate, and labor."""

    @property
    def total(self) -> float:
        return self.stations + self.labor + self.tools + self.material

    @property
    def per_good_piece(self) -> float | Absence:
        return self.total / self.good if self.good else Absence.NOTHING


def compute_costs(batch: Batch, elements: BatchElements, rates: CostRates | None) -> BatchCosts | Absence:
    """The cost of a batch so far; what has no rate is named and not counted."""
    if rates is None:
        return Absence.NO_RATES
    weights = elements.weigh_runs()
    unpriced: list[str] = []
    by_run: dict[int, float] = defaultdict(float)
    runs = [run for run in batch.runs.values() if run.number in weights]
    parts = {
        "stations": _spend_on_stations(batch, elements, weights, rates, runs, by_run, unpriced),
        "labor": _spend_on_labor(elements, weights, rates, runs, by_run, unpriced),
        "tools": _spend_on_tools(batch, rates, runs, by_run, unpriced),
        "material": _spend_on_material(batch, rates, unpriced),
    }
    each = parts["material"] / batch.started if batch.started else 0.0
    scrap = _list_scrap(batch, runs, by_run, each)
    return BatchCosts(**parts, good=batch.total("finished"), scrap=scrap, unpriced=tuple(unpriced))


def _spend_on_stations(
    batch: Batch,
    elements: BatchElements,
    weights: Mapping[int, RunWeight],
    rates: CostRates,
    runs: Sequence[Run],
    by_run: dict[int, float],
    unpriced: list[str],
) -> float:
    """Their busy hours; loads that were there together share them."""
    total = 0.0
    for station, found in elements.stations.items():
        rate, busy = rates.stations.get(station), found.amounts[Input.AUBT]
        if rate is None:
            unpriced.append(batch.checklist.station(station).name)
        elif not isinstance(busy, Absence):
            spent = rate * busy / HOUR
            total += spent
            _share_out(spent, {run.number: weights[run.number].busy for run in runs if run.station == station}, by_run)
    return total


def _spend_on_labor(
    elements: BatchElements,
    weights: Mapping[int, RunWeight],
    rates: CostRates,
    runs: Sequence[Run],
    by_run: dict[int, float],
    unpriced: list[str],
) -> float:
    worked = elements.whole.amounts[Input.APWT]
    if rates.labor_hour is None:
        unpriced.append("labor")
    if rates.labor_hour is None or isinstance(worked, Absence):
        return 0.0
    spent = rates.labor_hour * worked / HOUR
    _share_out(spent, {run.number: weights[run.number].attended for run in runs}, by_run)
    return spent


def _spend_on_tools(
    batch: Batch, rates: CostRates, runs: Sequence[Run], by_run: dict[int, float], unpriced: list[str]
) -> float:
    """By the share of each tool's life that the pieces took."""
    total, missing = 0.0, {}
    for run in runs:
        for use in batch.operation(run.op).tools:
            card, name = batch.checklist.tool(use.tool), f"{run.station} {use.tool}"
            price = rates.tools.get(name)
            if price is None or card is None or card.life is None:
                missing[f"tool {name}"] = True
                continue
            spent = price * use.per_piece.base * len(run.pieces) / card.life.base
            by_run[run.number] += spent
            total += spent
    unpriced += missing
    return total


def _spend_on_material(batch: Batch, rates: CostRates, unpriced: list[str]) -> float:
    total = 0.0
    for supply in list_supplies(batch.checklist, batch.started):
        price = rates.materials.get(supply.what)
        if price is None:
            unpriced.append(supply.what)
        else:
            total += price * supply.amount
    return total


def _share_out(spent: float, weights: Mapping[int, float], by_run: dict[int, float]) -> None:
    whole = sum(weights.values())
    for run, weight in weights.items():
        by_run[run] += spent * weight / whole if whole else 0.0


def _list_scrap(batch: Batch, runs: Sequence[Run], by_run: Mapping[int, float], each: float) -> list[ScrapCost]:
    """Each scrapped piece with its material and its share of every run it went through."""
    scrapped = {piece: place for piece, place in batch.places.items() if place.where == "scrap"}
    cost = dict.fromkeys(scrapped, each)
    for run in runs:
        for piece in scrapped.keys() & set(run.pieces):
            cost[piece] += by_run.get(run.number, 0.0) / len(run.pieces)
    grouped: dict[tuple[int, str], list[float]] = defaultdict(list)
    for piece, place in scrapped.items():
        grouped[place.op, place.reason].append(cost[piece])
    found = [ScrapCost(op, reason, len(spent), sum(spent)) for (op, reason), spent in grouped.items()]
    return sorted(found, key=lambda one: (-one.cost, one.op, one.reason))
