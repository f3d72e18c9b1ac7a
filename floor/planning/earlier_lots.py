"""Where the series of lots of a sampling plan stands after earlier batches of a part, for the next one to go on.

A series is that of one part, operation and plan, with the same characteristic and limits (MIL-STD-105E 4.7 switches by
successive lots). The lots of a batch stay together, batches in the order opened. Production that was delayed goes back
from reduced to normal inspection, and no lot from before the delay counts toward reducing (4.7.4, irregular or
delayed); how long is delayed the standard leaves open. A plan that was given up starts again under tightened inspection
(4.8). All from memory.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from floor.batch.earlier import EarlierLot, EarlierLots
from floor.batch.gates.samples import follow_lots, iter_sampled_gates, read_earlier_lots
from floor.batch.quality.batch_facts import BatchFacts, PlanFacts, find_what_is_sampled
from floor.batch.run import SampleResult
from floor.checklist.model import Checklist
from floor.checklist.same_work import find_same_work
from floor.figures.quality.sampling_plans import Severity

DELAY = timedelta(days=30)
"""Without a lot for so long, production counts as delayed (shop decision)."""
FEW, MOST = 4, 10
"""Lots that the rules look back on beside the next one: to tighten, and to reduce."""


class _Stand(NamedTuple):
    """How a series stands."""

    severity: Severity = Severity.NORMAL
    lots: tuple[SampleResult, ...] = ()
    """Since the last switch."""
    last: datetime | None = None
    discontinued: bool = False


def find_lots_before(checklist: Checklist, batches: Sequence[BatchFacts], now: datetime) -> tuple[EarlierLots, ...]:
    """Where each sampling plan of a checklist goes on; none where no earlier batch judged a lot by it.

    Args:
        batches: of the part, the oldest first.
    """
    found = []
    for op, line, gate, sample in iter_sampled_gates(checklist):
        wanted = find_what_is_sampled(gate, sample)
        stand, names, older = _Stand(), list[str](), tuple[str, ...]()
        for batch, plan in _list_plans(checklist, op, batches):
            if plan.what != wanted:
                continue
            if not names and plan.before is not None:  # of batches that are too old to be read
                stand, older = _read(plan.before, batch.opened), plan.before.batches
            if plan.lots:
                stand = _follow(_go_on(stand, plan.lots[0].at), plan)
                names.append(batch.id)
        if names or older:
            stand = _go_on(stand, now)
            lots = tuple(_keep(one) for one in stand.lots[-MOST:])
            found.append(
                EarlierLots(
                    op=op,
                    line=line,
                    severity=stand.severity.value,
                    batches=tuple(reversed(names)) or older,
                    lots=lots,
                    discontinued=stand.discontinued,
                )
            )
    return tuple(found)


def _list_plans(checklist: Checklist, op: int, batches: Sequence[BatchFacts]) -> Iterator[tuple[BatchFacts, PlanFacts]]:
    """The plans of an operation in batches where it was the same work."""
    for batch in batches:
        facts = batch.ops.get(op)
        if facts is not None and find_same_work(facts, checklist) is not None:
            yield from ((batch, plan) for plan in batch.plans if plan.op == op)


def _read(before: EarlierLots, at: datetime) -> _Stand:
    return _Stand(Severity(before.severity), tuple(read_earlier_lots(before)), at, before.discontinued)


def _follow(stand: _Stand, plan: PlanFacts) -> _Stand:
    lots = [*stand.lots, *(one.taken for one in plan.lots)]
    state, since = follow_lots(lots, plan.what.sample, stand.severity)
    return _Stand(state.severity, tuple(since), plan.lots[-1].at, state.discontinued)


def _go_on(stand: _Stand, at: datetime) -> _Stand:
    """How the next batch takes it up."""
    if stand.discontinued:
        return stand._replace(lots=())
    if stand.last is None or at - stand.last <= DELAY or stand.severity is Severity.TIGHTENED:
        return stand
    if stand.severity is Severity.REDUCED:
        return _Stand(last=stand.last)
    lots = stand.lots[-FEW:]
    while lots and not lots[-1].is_rejected:
        lots = lots[:-1]
    return stand._replace(lots=lots)


def _keep(one: SampleResult) -> EarlierLot:
    return EarlierLot(
        lot=one.lot, size=one.size, accept=one.accept, reject=one.reject, severity=one.severity, out=one.out
    )
