"""What a batch cost by the shop's rates, and what of it went into scrap."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import field
from typing import NamedTuple

from floor.batch.quality.time_elements import BatchElements
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

    currency: str
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


def compute_costs(batch: Batch, elements: BatchElements, rates: CostRates | None) -> BatchCosts | None:
    """The cost of a batch so far, None where the shop names no rates; what has no rate is named and not counted."""
    if rates is None:
        return None
    bill = _Bill(batch, elements, rates)
    stations, labor, tools, material = (
        bill.spend_on_stations(),
        bill.spend_on_labor(),
        bill.spend_on_tools(),
        bill.spend_on_material(),
    )
    scrap = bill.list_scrap(material / batch.started if batch.started else 0.0)
    good = batch.total("finished")
    return BatchCosts(rates.currency, stations, labor, tools, material, good, scrap, tuple(bill.unpriced))


class _Bill:
    """What was spent, in all and on each run."""

    def __init__(self, batch: Batch, elements: BatchElements, rates: CostRates) -> None:
        self.batch, self.elements, self.rates = batch, elements, rates
        self.weights = elements.weigh_runs()
        self.runs = [run for run in batch.runs.values() if run.number in self.weights]
        self.by_run: dict[int, float] = defaultdict(float)
        self.unpriced: dict[str, None] = {}
        """What has no rate, each once, in the order found."""

    def spend_on_stations(self) -> float:
        """Their busy hours; loads that were there together share them."""
        total = 0.0
        for station, found in self.elements.stations.items():
            rate, busy = self.rates.stations.get(station), found.amounts[Input.AUBT]
            if rate is None:
                self.unpriced[self.batch.checklist.station(station).name] = None
            elif not isinstance(busy, Absence):
                weights = {run.number: self.weights[run.number].busy for run in self.runs if run.station == station}
                total += self._share_out(rate * busy / HOUR, weights)
        return total

    def spend_on_labor(self) -> float:
        rate, worked = self.rates.labor_hour, self.elements.whole.amounts[Input.APWT]
        if rate is None:
            self.unpriced["labor"] = None
        if rate is None or isinstance(worked, Absence):
            return 0.0
        return self._share_out(rate * worked / HOUR, {run: one.attended for run, one in self.weights.items()})

    def spend_on_tools(self) -> float:
        """By the share of each tool's life that the pieces took."""
        total = 0.0
        for run in self.runs:
            for use in self.batch.operation(run.op).tools:
                card, name = self.batch.checklist.tool(use.tool), f"{run.station} {use.tool}"
                price = self.rates.tools.get(name)
                if price is None or card is None or card.life is None:
                    self.unpriced[f"tool {name}"] = None
                    continue
                spent = price * use.per_piece.base * len(run.pieces) / card.life.base
                self.by_run[run.number] += spent
                total += spent
        return total

    def spend_on_material(self) -> float:
        total = 0.0
        for supply in list_supplies(self.batch.checklist, self.batch.started):
            price = self.rates.materials.get(supply.what)
            if price is None:
                self.unpriced[supply.what] = None
            else:
                total += price * supply.amount
        return total

    def _share_out(self, spent: float, weights: Mapping[int, float]) -> float:
        """Charge the runs by their weights; returns what was shared out."""
        whole = sum(weights.values())
        for run, weight in weights.items():
            self.by_run[run] += spent * weight / whole if whole else 0.0
        return spent

    def list_scrap(self, material: float) -> list[ScrapCost]:
        """Each scrapped piece with its material and its share of every run it went through, once all is spent."""
        scrapped = {piece: place for piece, place in self.batch.places.items() if place.where == "scrap"}
        cost = dict.fromkeys(scrapped, material)
        for run in self.runs:
            for piece in scrapped.keys() & set(run.pieces):
                cost[piece] += self.by_run.get(run.number, 0.0) / len(run.pieces)
        grouped: dict[tuple[int, str], list[float]] = defaultdict(list)
        for piece, place in scrapped.items():
            grouped[place.op, place.reason].append(cost[piece])
        found = [ScrapCost(op, reason, len(spent), sum(spent)) for (op, reason), spent in grouped.items()]
        return sorted(found, key=lambda one: (-one.cost, one.op, one.reason))
