"""How many pieces were good at their first count, and the checklist's yield blended with it.

Blended by weights as the forecast learns it, so the next plan starts where this batch ended. Rework and shares of
rework teach nothing here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from floor.batch.quality.lesson_kinds import Lesson, Offer, WhyNot, YieldLesson
from floor.checklist.model import Checklist
from floor.checklist.operation import Operation
from floor.checklist.patching import Change, Field
from floor.figures.quality.missing import Missing
from floor.figures.quality.share_by_load import LoadCount, ShareByLoad, compute_share_by_load

FEWEST_LOADS = 3
"""Loads that the lesson of a yield takes: two tell too little of how much loads differ (shop decision)."""
YIELD_DIGITS = 3


def study_yield(op: int, loads: Sequence[LoadCount], operation: Operation | None, taken: frozenset[str]) -> YieldLesson:
    share = compute_share_by_load(loads)
    assert not isinstance(share, Missing), "a load without pieces is left out"
    if operation is None:
        return YieldLesson(op, len(loads), share, 0.0, 0.0, WhyNot.OTHER_WORK)
    offer: Offer = WhyNot.TAKEN
    if str(Field("operations", op, ("expected_yield",))) not in taken:
        offer = _offer_yield(op, len(loads), operation, share)
    return YieldLesson(op, len(loads), share, operation.expected_yield, operation.yield_weight, offer)


def _offer_yield(op: int, loads: int, operation: Operation, share: ShareByLoad) -> Offer:
    """Stated and seen together, each by the pieces that it is worth, as the forecast learns; and their sum."""
    stated, weight, surely = operation.expected_yield, operation.yield_weight, share.interval
    if loads < FEWEST_LOADS or isinstance(surely, Missing):
        return WhyNot.FEW
    blended = (stated * weight + share.share * share.worth) / (weight + share.worth)
    after = max(round(blended, YIELD_DIGITS), 10.0**-YIELD_DIGITS)
    low, high = round(surely.low, YIELD_DIGITS), round(surely.high, YIELD_DIGITS)
    if low <= stated <= high or after == stated:  # one piece lost proves 100 % wrong, and teaches nothing
        return WhyNot.AS_STATED
    if after + _sum_shares(operation) > 1 + 1e-9:
        return WhyNot.SHARES
    return (
        Change(Field("operations", op, ("expected_yield",)), stated, after),
        Change(Field("operations", op, ("yield_weight",)), weight, float(round(weight + share.worth))),
    )


def _sum_shares(operation: Operation) -> float:
    return sum(reason.share or 0.0 for reason in operation.reasons)


def apply_yields(checklist: Checklist, lessons: Sequence[Lesson]) -> Checklist:
    """The checklist with the yields that are offered, to see how many pieces it would start."""
    values = {
        (one.op, change.field.keys[-1]): change.after
        for one in lessons
        if isinstance(one, YieldLesson)
        for change in one.changes
    }

    def change(operation: Operation) -> Operation:
        own = {key: float(value) for (op, key), value in values.items() if op == operation.op}
        return replace(operation, **own) if own else operation  # type: ignore[arg-type]

    return replace(checklist, operations=tuple(map(change, checklist.operations)))
