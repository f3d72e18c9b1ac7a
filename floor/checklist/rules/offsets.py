"""Work offsets: those of a station, and which belongs to which carrier."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from math import dist, inf

from floor.checklist.equipment import Carrier, Station
from floor.checklist.findings import Finding, suggest_known_name
from floor.checklist.gates import Probed
from floor.checklist.line_numbers import Path
from floor.checklist.model import Checklist
from floor.checklist.rules.names import iterate_steps
from floor.figures.offset_statistics import compute_tilt
from floor.text import with_article

STEEPEST = 0.01
"""Fall of a carrier as a share of the distance that nobody would call flat (shop decision)."""
Probe = tuple[Path, Station, Carrier, Probed]


def _probes(checklist: Checklist) -> Iterator[Probe]:
    """Every probing with the station and the carrier kind it is done on, where the file has both."""
    stations = {station.id: station for station in checklist.stations}
    carriers = {carrier.id: carrier for carrier in checklist.carriers}
    for path, operation, step in iterate_steps(checklist):
        for station in operation.stations:
            if isinstance(step, Probed) and station in stations and operation.carrier in carriers:
                yield path, stations[station], carriers[operation.carrier], step


def check_station_offset(checklist: Checklist) -> Iterator[Finding]:
    known = {station.id: station.offsets for station in checklist.stations}
    for path, operation, step in iterate_steps(checklist):
        if not isinstance(step, Probed) or not step.offset:
            continue
        for station in operation.stations:
            offsets = known.get(station, (step.offset,))
            if step.offset not in offsets:
                wrong = f'offset "{step.offset}" is not one of {station}'
                yield Finding((*path, "offset"), wrong, suggest_known_name(step.offset, offsets))


def check_carrier_offsets(checklist: Checklist) -> Iterator[Finding]:
    counts = {carrier.id: carrier.count for carrier in checklist.carriers}
    for i, station in enumerate(checklist.stations):
        for kind, offsets in station.carrier_offsets.items():
            at: Path = ("stations", i, "carrier_offsets", kind)
            if kind not in counts:
                yield Finding(at, f'carrier "{kind}" is not in the file', suggest_known_name(kind, list(counts)))
            elif len(offsets) != counts[kind]:
                wrong = f"{len(offsets)} given for {counts[kind]} of them"
                yield Finding(at, wrong, "one offset for each carrier, in the order of their numbers")
            for n, offset in enumerate(offsets):
                if offset not in station.offsets:
                    wrong = f'offset "{offset}" is not one of {station.id}'
                    yield Finding((*at, n), wrong, suggest_known_name(offset, station.offsets))


def check_probe_offset(checklist: Checklist) -> Iterator[Finding]:
    for path, station, carrier, step in _probes(checklist):
        own = station.carrier_offsets.get(carrier.id, ())
        if not step.offset and not own:
            wrong = f"names no offset, and {station.id} has none for {with_article(carrier.id)}"
            yield Finding(path, wrong, f'add `offset = "…"`, or `carrier_offsets = {{ {carrier.id} = [ … ] }}` there')
        elif step.offset in own:
            wrong = f"{step.offset} for every {carrier.id}, but at {station.id} it belongs to one of them"
            yield Finding((*path, "offset"), wrong, "leave `offset` out: each carrier then uses its own")


def check_axis_offsets(checklist: Checklist) -> Iterator[Finding]:
    for path, station, carrier, step in _probes(checklist):
        known = (step.offset,) if step.offset else tuple(dict.fromkeys(station.carrier_offsets.get(carrier.id, ())))
        for k, axis in enumerate(step.axes):
            if axis.offset and axis.offset not in known:
                wrong = f'offset "{axis.offset}" is not probed here'
                yield Finding((*path, "axes", k, "offset"), wrong, suggest_known_name(axis.offset, known))
        for offset in known:
            names = [axis.name for axis in step.axes if axis.offset in ("", offset)]
            twice = sorted({name for name in names if names.count(name) > 1})
            if not names:
                yield Finding((*path, "axes"), f"no axis for {offset}", "add one, or one for every offset")
            if twice:
                wrong = f"axis {', '.join(twice)} twice for {offset}"
                yield Finding((*path, "axes"), wrong, "name each axis once, or give the `offset` each is for")


def check_tilt_places(checklist: Checklist) -> Iterator[Finding]:
    """The heights for a tilt lie at three places or more that are not in one line."""
    for path, _, step in iterate_steps(checklist):
        if not isinstance(step, Probed):
            continue
        for k, axis in enumerate(step.axes):
            if (axis.x is None) != (axis.y is None):
                yield Finding((*path, "axes", k), "has x or y, but not both", "state where the height is probed")
        places = [(axis.x.base, axis.y.base, 0.0) for axis in step.axes if axis.x is not None and axis.y is not None]
        if step.flat is None and places:
            yield Finding((*path, "axes"), "has `x` and `y`, but no `flat` to hold the heights to", "add `flat`")
        if step.flat is not None and compute_tilt(places) is None:
            wrong = "a tilt needs three points that are not in a line"
            yield Finding((*path, "flat"), wrong, "add `x` and `y` to three heights or more")


RULES = (
    check_tilt_places,
    check_station_offset,
    check_carrier_offsets,
    check_probe_offset,
    check_axis_offsets,
)


def check_shared_offsets(checklist: Checklist) -> Iterator[Finding]:
    """Carriers that can be on one machine together have different offsets: else the second probe undoes the first."""
    for i, station in enumerate(checklist.stations):
        if station.runs_at_once < 2:
            continue
        users: dict[str, list[str]] = {}
        for _, at, carrier, step in _probes(checklist):
            if at is not station:
                continue
            for number in range(1, carrier.count + 1):
                offset = step.offset or station.offset_of(carrier.id, number)
                named = users.setdefault(offset, [])
                if offset and carrier.label(number) not in named:
                    named.append(carrier.label(number))
        for offset, named in users.items():
            if len(named) > 1:
                some = ", ".join(named[:3]) + (" …" if len(named) > 3 else "")
                wrong = f"{some} share {offset}, and more than one may be on {station.id} at once"
                right = "give each its own in `carrier_offsets`; otherwise probing one voids the other"
                yield Finding(("stations", i), wrong, right)


def check_flatness(checklist: Checklist) -> Iterator[Finding]:
    for path, _, step in iterate_steps(checklist):
        if not isinstance(step, Probed) or step.flat is None:
            continue
        places = [(axis.x.base, axis.y.base) for axis in step.axes if axis.x is not None and axis.y is not None]
        across = max((dist(one, other) for one, other in combinations(places, 2)), default=0.0)
        if 0 < STEEPEST * across < step.flat.base:
            size = step.flat.number / step.flat.base
            wrong = f"{step.flat} across {across * size:.4g} {step.flat.unit} lets any carrier pass"
            yield Finding((*path, "flat"), wrong, f"less than {across * size * STEEPEST:.2g} {step.flat.unit}")


def check_repeats(checklist: Checklist) -> Iterator[Finding]:
    """Two values within the limits never differ by more than their band."""
    for path, _, step in iterate_steps(checklist):
        if not isinstance(step, Probed) or step.repeats is None:
            continue
        limits = [(axis.low, axis.high) for axis in step.axes]
        bands = [inf if low is None or high is None else high.base - low.base for low, high in limits]
        if step.repeats.base >= max(bands):
            wrong = f"{step.repeats} is as wide as the limits or wider, so it checks nothing"
            yield Finding((*path, "repeats"), wrong, "state how far off the carrier may be when seated again")


ADVISED = (check_shared_offsets, check_flatness, check_repeats)
