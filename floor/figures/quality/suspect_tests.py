"""Each suspect of an operation with its counts and the exact chance of as much scrap by luck."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import chain
from typing import cast

from floor.figures.quality.exact_tests import Draw, compute_group_tail, compute_label_tails, compute_order_tail
from floor.figures.quality.suspects import (
    ORDER_KINDS,
    PLACE_KINDS,
    LoadResult,
    OperationResult,
    Place,
    PlaceGroup,
    Suspect,
    SuspectKind,
)

Counted = tuple[int, int, float]
"""Bad pieces of a suspect, all its pieces, and the bad ones expected."""
Test = tuple[Suspect, Counted, float]
"""A suspect, its counts, and the chance of as many by luck."""


def judge_suspects(result: OperationResult, alpha: float) -> Iterator[Test]:
    """All suspects of an operation but those that could not be named at alpha, whatever their loads were like."""
    yield from _judge_places(result)
    yield from _judge_order(replace(result, loads=[load for load in result.loads if load.in_order]))
    yield from _judge_labels(result, alpha)
    yield from _judge_values(result, alpha)
    yield from _judge_people(result, alpha)


def _judge_places(result: OperationResult) -> Iterator[Test]:
    """Loads with the same places taken and the same number bad are one kind, counted together."""
    kinds: _LoadKinds = Counter()
    bad_at: Counter[Place] = Counter()
    for load in result.loads:
        here = [place for n in load.bad if (place := load.places[n]) is not None]
        kinds[load.places, len(here)] += 1
        bad_at.update(here)
    taken = {places: Counter(place for place in places if place is not None) for places, _ in kinds}
    known = {place: n for n, place in enumerate(dict.fromkeys(chain.from_iterable(taken.values())))}
    if not bad_at or len(known) < 2:
        return
    shares: dict[tuple[int, ...], _Share] = {}
    for group in (*(PlaceGroup(SuspectKind.PLACE, frozenset([place])) for place in known), *result.groups):
        marked = tuple(sum(map(taken[places].__getitem__, group.places)) for places, _ in kinds)
        if marked not in shares:
            shares[marked] = _find_share(kinds, [taken[places].total() for places, _ in kinds], marked)
        pieces, expected, draws = shares[marked]
        found = sum(map(bad_at.__getitem__, group.places))
        where = tuple(sorted(group.places & known.keys(), key=known.__getitem__))
        suspect = Suspect(result.operation, group.kind, "", where)
        yield suspect, (found, pieces, expected), compute_group_tail(found, draws)


_LoadKinds = Counter[tuple[tuple[Place | None, ...], int]]
"""Places and number bad of a load → how many such loads."""
_Share = tuple[int, float, Counter[Draw]]
"""Pieces of a group, the bad ones expected, and how they are drawn."""


def _find_share(kinds: _LoadKinds, sizes: Sequence[int], marked: Sequence[int]) -> _Share:
    """Of a group that has so many of the pieces of each kind of load."""
    pieces, expected = 0, 0.0
    draws: Counter[Draw] = Counter()
    for ((_, bad), count), size, own in zip(kinds.items(), sizes, marked, strict=True):
        pieces += count * own
        if bad:
            expected += count * bad * own / size
            draws[Draw(size, own, bad)] += count
    return pieces, expected, draws


def _judge_order(result: OperationResult) -> Iterator[Test]:
    """By rank sums; of very many pieces by halves, as are the counts that are shown. A middle piece is in neither."""
    mixed = [load for load in result.loads if 0 < len(load.bad) < len(load.places)]
    if not mixed:
        return
    sizes = Counter((len(load.places), len(load.bad)) for load in mixed)
    halves = Counter({Draw(size, size // 2, bad): count for (size, bad), count in sizes.items()})
    rank_sums = {
        SuspectKind.EARLY: sum(len(load.places) - n for load in mixed for n in load.bad),
        SuspectKind.LATE: sum(n + 1 for load in mixed for n in load.bad),
    }
    pieces = sum(len(load.places) // 2 for load in result.loads)
    expected = math.fsum(_expect_in_half(load) for load in result.loads)
    for kind, rank_sum in rank_sums.items():
        p = compute_order_tail(rank_sum, sizes)
        if p is None:
            p = compute_group_tail(_count_in_halves(mixed, kind), halves)
        found = _count_in_halves(result.loads, kind)
        yield Suspect(result.operation, kind, "", ()), (found, pieces, expected), p


def _expect_in_half(load: LoadResult) -> float:
    return len(load.bad) * (len(load.places) // 2) / len(load.places) if load.bad else 0.0


def _count_in_halves(loads: Sequence[LoadResult], kind: SuspectKind) -> int:
    """Bad pieces in the earlier or the later half of each load."""
    if kind is SuspectKind.EARLY:
        return sum(n < len(load.places) // 2 for load in loads for n in load.bad)
    return sum(n >= len(load.places) - len(load.places) // 2 for load in loads for n in load.bad)


_LoadGroups = Mapping[tuple[SuspectKind, Hashable], Sequence[int]]
"""Kind and label or value → indices of its loads."""


def _judge_labels(result: OperationResult, alpha: float) -> Iterator[Test]:
    for factor in dict.fromkeys(factor for load in result.loads for factor in load.labels):
        loads = [load for load in result.loads if factor in load.labels]
        groups: dict[tuple[SuspectKind, Hashable], list[int]] = defaultdict(list)
        for n, load in enumerate(loads):
            groups[SuspectKind.LABEL, load.labels[factor]].append(n)
        yield from _judge_loads(result.operation, factor, loads, groups, alpha)


def _judge_values(result: OperationResult, alpha: float) -> Iterator[Test]:
    """A trend shows in halves and quarters; unlike a slope they have exact chances for any number of loads."""
    for factor in dict.fromkeys(factor for load in result.loads for factor in load.values):
        loads = [load for load in result.loads if math.isfinite(load.values.get(factor, math.nan))]
        values = [load.values[factor] for load in loads]
        ordered = sorted(values)
        groups: dict[tuple[SuspectKind, Hashable], list[int]] = {}
        for count in {-(-len(ordered) // 2), -(-len(ordered) // 4)} - {0}:
            low, high = ordered[count - 1], ordered[-count]
            groups[SuspectKind.UP_TO, low] = [n for n, value in enumerate(values) if value <= low]
            groups[SuspectKind.FROM, high] = [n for n, value in enumerate(values) if value >= high]
        yield from _judge_loads(result.operation, factor, loads, groups, alpha)


def _judge_people(result: OperationResult, alpha: float) -> Iterator[Test]:
    """Whether the loads of any person are worse than those of the others: one suspect, whose chance is that of the
    worst, times how many were tried (Bonferroni). What is told of it is the whole operation.
    """
    worst = _find_worst_person(result, alpha)
    if worst is not None:
        _, p = worst
        known = [load for load in result.loads if load.by is not None]
        bad = sum(len(load.bad) for load in known)
        suspect = Suspect(result.operation, SuspectKind.PEOPLE, "", ())
        yield suspect, (bad, sum(len(load.places) for load in known), float(bad)), p


def _find_worst_person(result: OperationResult, alpha: float) -> tuple[Hashable, float] | None:
    loads = [load for load in result.loads if load.by is not None]
    groups: dict[tuple[SuspectKind, Hashable], list[int]] = defaultdict(list)
    for n, load in enumerate(loads):
        groups[SuspectKind.LABEL, load.by].append(n)
    tests = [(suspect.where[0], p) for suspect, _, p in _judge_loads(result.operation, "", loads, groups, alpha)]
    if not tests:
        return None
    who, p = min(tests, key=lambda test: test[1])
    return who, min(1.0, len(tests) * p)


def _judge_loads(
    operation: Hashable, factor: str, loads: Sequence[LoadResult], groups: _LoadGroups, alpha: float
) -> Iterator[Test]:
    """Those groups of loads that could be named at all if the worst came to the worst."""
    counts = [(len(load.places), len(load.bad)) for load in loads]
    pieces, bad = sum(size for size, _ in counts), sum(bad for _, bad in counts)
    tried = {
        name: group
        for name, group in groups.items()
        if len(group) < len(loads) and alpha * math.comb(len(loads), len(group)) >= 1
    }
    if not 0 < bad < pieces:
        return
    for (kind, where), p in compute_label_tails(counts, tried).items():
        own = [counts[n] for n in tried[kind, where]]
        size, found = sum(size for size, _ in own), sum(bad for _, bad in own)
        yield Suspect(operation, kind, factor, (where,)), (found, size, bad * size / pieces), p


def judge_again(result: OperationResult, suspect: Suspect) -> float:
    """The chance of one suspect by another record, such as `take_out` leaves; 1 if nothing of it is there."""
    if suspect.kind in PLACE_KINDS:
        group = PlaceGroup(suspect.kind, frozenset(suspect.where))
        *_, last = (1.0, *(p for _, _, p in _judge_places(OperationResult(result.operation, result.loads, [group]))))
        return last
    if suspect.kind in ORDER_KINDS:
        return next((p for other, _, p in _judge_order(result) if other == suspect), 1.0)
    if suspect.kind is SuspectKind.PEOPLE:
        return next((p for _, _, p in _judge_people(result, 1.0)), 1.0)
    known = [
        load
        for load in result.loads
        if suspect.factor in (load.labels if suspect.kind is SuspectKind.LABEL else load.values)
    ]
    groups: _LoadGroups = {
        (suspect.kind, suspect.where[0]): [n for n, load in enumerate(known) if _is_of(load, suspect)]
    }
    return next((p for _, _, p in _judge_loads(result.operation, suspect.factor, known, groups, 1.0)), 1.0)


def take_out(result: OperationResult, suspect: Suspect) -> OperationResult:
    """The record without the pieces of a suspect; of people, without the loads of the worst."""
    if suspect.kind is SuspectKind.PEOPLE:
        worst = _find_worst_person(result, 1.0)
        kept = [load for load in result.loads if worst is None or load.by != worst[0]]
        return OperationResult(result.operation, kept, result.groups)
    loads = [_take_out(load, suspect) for load in result.loads if not _is_of(load, suspect)]
    return OperationResult(result.operation, loads, result.groups)


def _take_out(load: LoadResult, suspect: Suspect) -> LoadResult:
    half = len(load.places) // 2
    if suspect.kind in PLACE_KINDS:
        left = [n for n, place in enumerate(load.places) if place is None or place not in suspect.where]
    elif suspect.kind in ORDER_KINDS:
        left = list(range(len(load.places)))
        left = left[half:] if suspect.kind is SuspectKind.EARLY else left[: len(left) - half]
    else:
        return load
    bad = frozenset(new for new, old in enumerate(left) if old in load.bad)
    return replace(load, places=tuple(load.places[n] for n in left), bad=bad)


def _is_of(load: LoadResult, suspect: Suspect) -> bool:
    """Whether the load as a whole is suspected."""
    if suspect.kind is SuspectKind.LABEL:
        return suspect.factor in load.labels and load.labels[suspect.factor] == suspect.where[0]
    if suspect.kind not in (SuspectKind.FROM, SuspectKind.UP_TO):
        return False
    value, limit = load.values.get(suspect.factor, math.nan), cast(float, suspect.where[0])
    return value >= limit if suspect.kind is SuspectKind.FROM else value <= limit
