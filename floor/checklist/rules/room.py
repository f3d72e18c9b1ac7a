"""Room at the stations: how many places a carrier takes, and whether what is to be there together fits."""

from __future__ import annotations

from collections.abc import Iterator

from floor.checklist.findings import Finding, nearest
from floor.checklist.lines import Path
from floor.checklist.model import Checklist


def carriers_fit_their_stations(checklist: Checklist) -> Iterator[Finding]:
    known = [carrier.id for carrier in checklist.carriers]
    for i, station in enumerate(checklist.stations):
        for kind, places in station.carrier_places.items():
            at: Path = ("stations", i, "carrier_places", kind)
            if kind not in known:
                yield Finding(at, f'carrier "{kind}" is not in the file', nearest(kind, known))
            elif places > station.runs_at_once:
                wrong = f"a {kind} takes {places} places, and {station.id} has {station.runs_at_once}"
                yield Finding(at, wrong, f"`runs_at_once` is the number of places: at least {places}")


RULES = (carriers_fit_their_stations,)
