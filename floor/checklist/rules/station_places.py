"""Room at the stations: how many places a carrier takes, and whether everything meant to be there at once fits."""

from __future__ import annotations

from collections.abc import Iterator

from floor.checklist.findings import Finding, suggest_known_name
from floor.checklist.line_numbers import Path
from floor.checklist.model import Checklist
from floor.text import with_article


def check_carriers_fit_stations(checklist: Checklist) -> Iterator[Finding]:
    known = [carrier.id for carrier in checklist.carriers]
    for i, station in enumerate(checklist.stations):
        for kind, places in station.carrier_places.items():
            at: Path = ("stations", i, "carrier_places", kind)
            if kind not in known:
                yield Finding(at, f'carrier "{kind}" is not in the file', suggest_known_name(kind, known))
            elif places > station.runs_at_once:
                wrong = f"{with_article(kind)} takes {places} places, but {station.id} has {station.runs_at_once}"
                yield Finding(at, wrong, f"`runs_at_once` is the number of places: at least {places}")


def check_loads_per_cycle(checklist: Checklist) -> Iterator[Finding]:
    """The loads of one cycle fit at the station together."""
    stations = {station.id: station for station in checklist.stations}
    carriers = {carrier.id: carrier for carrier in checklist.carriers}
    for i, operation in enumerate(checklist.operations):
        carrier = carriers.get(operation.carrier)
        loads, at = operation.loads_per_cycle, ("operations", i, "loads_per_cycle")
        if loads == 1 or carrier is None:
            continue
        if not operation.cycle:
            yield Finding(at, f"{loads} loads in one cycle, but there is no cycle", "take it out, or `cycle = true`")
        elif loads > carrier.count:
            wrong = f"{loads} loads, but only {carrier.count} of {carrier.id}"
            yield Finding(at, wrong, "fewer loads or more carriers")
        for station in filter(None, map(stations.get, operation.stations)) if operation.cycle else ():
            needed = loads * station.places_of(carrier.id)
            if needed > station.runs_at_once:
                wrong = f"{loads} of {carrier.id} take {needed} places, but {station.id} has {station.runs_at_once}"
                yield Finding(at, wrong, f"`runs_at_once = {needed}` at {station.id}, or fewer loads to a cycle")


RULES = (check_carriers_fit_stations, check_loads_per_cycle)
