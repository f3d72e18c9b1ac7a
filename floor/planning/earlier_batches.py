"""Earlier batches of a part beside a checklist: what each says of its operations, and what the next plan takes of it.

Yields are weighed by `floor.figures.earlier_yields`. A yield that a batch taught the checklist's file holds its pieces
already, so of that operation the batch only tells how much batches differ. Times are the ratio to what the checklist
states now, blended as a running batch learns its pace. An operation that has other work now is left out.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from enum import StrEnum
from statistics import median
from typing import NamedTuple

from floor.batch.earlier import EarlierLots, EarlierTold, ExpectedPace, ExpectedYield
from floor.batch.quality.batch_facts import BatchFacts
from floor.checklist.expected_yields import list_operation_yields
from floor.checklist.model import Checklist
from floor.checklist.same_work import find_same_work
from floor.dataclass import dataclass
from floor.figures.earlier_yields import HALF_LIFE_DAYS, BatchYield, EarlierYield, combine_yields, weigh_times
from floor.figures.quality.missing import Missing
from floor.figures.quality.share_by_load import ShareByLoad, compute_share_by_load
from floor.figures.quality.spread import Spread, compute_spread
from floor.figures.yields import PLAN_RUNS
from floor.planning.earlier_lots import find_lots_before
from floor.planning.pace import Part, RunTime, set_against_plan

DAY = 86400.0


class NotUsed(StrEnum):
    """Why the plan takes nothing of an operation of an earlier batch."""

    OTHER_WORK = "other work"
    IN_FILE = "in the checklist's file already"
    REWORK = "rework"


@dataclass(frozen=True, slots=True)
class YieldRow:
    """What one batch counted at one operation."""

    batch: BatchFacts
    days: float
    share: ShareByLoad
    weight: float
    """Pieces that it is worth for the next batch."""
    not_used: NotUsed | None


@dataclass(frozen=True, slots=True)
class TimeRow:
    """What one part of one operation took in one batch."""

    batch: BatchFacts
    days: float
    part: Part
    runs: int
    per_run: Spread
    per_piece: Spread
    """Seconds."""
    ratio: float | None
    """Median over what the checklist states; None where it states nothing, or no time can be that of the work."""
    odd: int
    """Times too far off to be those of the work, which the ratio leaves out."""
    weight: float
    """Runs that it is worth for the next batch."""
    not_used: NotUsed | None


@dataclass(frozen=True, slots=True)
class EarlierOp:
    """One operation of the checklist beside earlier batches; the newest first."""

    op: int
    title: str
    stated: float
    weight: float
    yields: tuple[YieldRow, ...]
    found: EarlierYield | None
    """What the plan takes; None of one of rework, or where nothing was counted."""
    times: tuple[TimeRow, ...]
    paces: Mapping[Part, ExpectedPace]


@dataclass(frozen=True, slots=True)
class EarlierStudy:
    """All of a part."""

    batches: tuple[BatchFacts, ...]
    """The newest first."""
    ops: tuple[EarlierOp, ...]
    gone: Mapping[str, tuple[str, ...]]
    """Batch → operations of it, with what was counted or timed, that the checklist has not."""
    told: EarlierTold | None
    """What the plan takes; None where no batch tells anything."""
    half_life: float
    """Days after which a batch counts half."""
    lots_before: tuple[EarlierLots, ...] = ()
    """Where the sampling plans go on."""


def study_earlier(
    checklist: Checklist,
    batches: Sequence[BatchFacts],
    now: datetime,
    in_file: Mapping[str, frozenset[int]] | None = None,
    half_life: float = HALF_LIFE_DAYS,
) -> EarlierStudy:
    """Earlier batches beside a checklist.

    Args:
        now: from when on their age is counted back.
        in_file: hash of a batch's first entry → operations whose yield in the checklist holds its pieces.
        half_life: days after which a batch counts half.
    """
    lots = find_lots_before(checklist, sorted(batches, key=lambda one: (one.opened, one.id)), now)
    ordered = tuple(sorted(batches, key=lambda one: (one.opened, one.id), reverse=True))
    reworked = {op: one.rework for op, one in zip(checklist.route, list_operation_yields(checklist), strict=True)}
    ops = tuple(
        _study_op(checklist, op, reworked.get(op), ordered, now, in_file or {}, half_life) for op in checklist.ops
    )
    gone = {
        one.id: tuple(f"op {facts.op} {facts.title}" for op, facts in one.ops.items() if op not in checklist.ops
                      and (facts.loads or facts.times))
        for one in ordered
    }  # fmt: skip
    return EarlierStudy(ordered, ops, {id: names for id, names in gone.items() if names}, _tell(ops), half_life, lots)


def find_age(batch: BatchFacts, now: datetime) -> float:
    """Days since its last entry; 0 where a clock was ahead."""
    return max((now - batch.last).total_seconds() / DAY, 0.0)


class _Counted(NamedTuple):
    """What one batch counted at an operation."""

    batch: BatchFacts
    days: float
    share: ShareByLoad
    reworked: float
    not_used: NotUsed | None


def _study_op(
    checklist: Checklist,
    op: int,
    reworked: float | None,
    batches: Sequence[BatchFacts],
    now: datetime,
    in_file: Mapping[str, frozenset[int]],
    half_life: float,
) -> EarlierOp:
    """One operation; ``reworked`` is the share that the checklist states, None of an operation of rework."""
    operation = checklist.ops[op]
    counted = list(_list_counted(checklist, op, reworked is None, batches, now, in_file))
    used = [one for one in counted if one.not_used in (None, NotUsed.IN_FILE)]
    found = None
    if used:
        said = [
            BatchYield(one.share.share, one.share.worth, one.days, one.not_used is None, one.reworked) for one in used
        ]
        found = combine_yields(operation.expected_yield, operation.yield_weight, reworked or 0.0, said, half_life)
    weights = {one.batch.first: weight for one, weight in zip(used, found.weights if found else (), strict=True)}
    times = [row for batch in batches for row in _study_times(checklist, op, batch, now, half_life)]
    return EarlierOp(
        op,
        operation.title,
        operation.expected_yield,
        operation.yield_weight,
        tuple(
            YieldRow(one.batch, one.days, one.share, weights.get(one.batch.first, 0.0), one.not_used) for one in counted
        ),
        found,
        tuple(times),
        {part: pace for part in Part if (pace := _blend(op, part, times)) is not None},
    )


def _list_counted(
    checklist: Checklist,
    op: int,
    of_rework: bool,
    batches: Sequence[BatchFacts],
    now: datetime,
    in_file: Mapping[str, frozenset[int]],
) -> Iterator[_Counted]:
    for batch in batches:
        facts = batch.ops.get(op)
        if facts is None:
            continue
        share = compute_share_by_load(facts.loads)
        if isinstance(share, Missing):
            continue
        why = None
        if find_same_work(facts, checklist) is None:
            why = NotUsed.OTHER_WORK
        elif of_rework:
            why = NotUsed.REWORK
        elif op in in_file.get(batch.first, ()):
            why = NotUsed.IN_FILE
        yield _Counted(batch, find_age(batch, now), share, facts.reworked / facts.pieces, why)


def _study_times(checklist: Checklist, op: int, batch: BatchFacts, now: datetime, half_life: float) -> list[TimeRow]:
    facts = batch.ops.get(op)
    if facts is None:
        return []
    same = find_same_work(facts, checklist) is not None
    taken = set_against_plan(((op, *one) for one in facts.times), checklist.ops)
    parts: dict[Part, list[RunTime]] = defaultdict(list)
    for one in taken:
        parts[one.part].append(one)
    days = find_age(batch, now)
    return [_make_time_row(batch, days, part, parts[part], same, half_life) for part in Part if part in parts]


def _make_time_row(
    batch: BatchFacts, days: float, part: Part, times: Sequence[RunTime], same: bool, half_life: float
) -> TimeRow:
    planned = [one for one in times if one.planned] if same else []
    sound = [one for one in planned if one.is_plausible]
    kept = sound or times
    ratio = median(one.took / one.planned for one in sound) if sound else None
    return TimeRow(
        batch,
        days,
        part,
        len(kept),
        _spread([one.took for one in kept]),
        _spread([one.took / max(one.pieces, 1) for one in kept]),
        ratio,
        len(planned) - len(sound),
        weigh_times(len(sound), days, half_life),
        None if same else NotUsed.OTHER_WORK,
    )


def _spread(values: Sequence[float]) -> Spread:
    found = compute_spread(values)
    assert not isinstance(found, Missing), "there is one time at least"
    return found


def _blend(op: int, part: Part, times: Sequence[TimeRow]) -> ExpectedPace | None:
    """The plan's own ratio of 1 and those of earlier batches, each by its weight; None where there are none."""
    rows = [(row.ratio, row.weight) for row in times if row.part is part and row.ratio is not None]
    if not rows:
        return None
    weight = PLAN_RUNS + math.fsum(pieces for _, pieces in rows)
    ratio = (PLAN_RUNS + math.fsum(ratio * pieces for ratio, pieces in rows)) / weight
    return ExpectedPace(op=op, part=part.value, ratio=ratio, weight=weight)


def _tell(ops: Sequence[EarlierOp]) -> EarlierTold | None:
    yields = tuple(
        ExpectedYield(op=one.op, good=one.found.good, reworked=one.found.reworked, weight=one.found.weight)
        for one in ops
        if one.found is not None and _differs(one, one.found)
    )
    paces = tuple(pace for one in ops for pace in one.paces.values())
    return EarlierTold(batches=_name_used(ops), yields=yields, paces=paces) if yields or paces else None


def _differs(one: EarlierOp, found: EarlierYield) -> bool:
    """Whether earlier batches moved what the checklist states, by more than rounding."""
    pairs = ((found.good, one.stated), (found.weight, one.weight))
    return not all(math.isclose(told, stated) for told, stated in pairs)


def _name_used(ops: Sequence[EarlierOp]) -> tuple[str, ...]:
    """The batches that told something, the newest first; those in the file only where no other did."""
    rows: list[YieldRow | TimeRow] = []
    for one in ops:
        rows += [*one.yields]
        rows += [*one.times]
    used = [row.batch for row in rows if row.weight] or [row.batch for row in rows if row.not_used is NotUsed.IN_FILE]
    found = {batch.first: batch for batch in used}
    return tuple(batch.id for batch in sorted(found.values(), key=lambda one: (one.opened, one.id), reverse=True))
