"""What is counted at a handover, and which figures stay hidden until then: the only place that decides."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from floor.batch.load import PiecePlace, Where, format_heap
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.lines import Line, Walk
from floor.checklist.gates import Counted
from floor.dataclass import dataclass
from floor.text import format_count

HIDDEN_FIGURE = "?"
"""Shown in place of a hidden figure."""


@dataclass(frozen=True, slots=True)
class CountSubject:
    """What the incoming person counts: a load, or pieces waiting loose."""

    key: str
    title: str
    expected: int
    by_tag: bool = False
    """Whether the pieces are shut in a running machine: nobody opens it to count, the tag outside says how many."""
    holds: int = 0
    """As many as its carrier holds, which the checklist says; 0 without a carrier."""


def list_count_subjects(batch: Batch) -> list[CountSubject]:
    """All subjects to count: loads in order, then waiting pieces in the order of the route."""
    found = [
        CountSubject(
            PiecePlace("load", load=load.number).heap,
            f"{batch.format_carrier(load)} (load {load.number}{', by its tag' if shut_in else ''})"
            + (" with what is set aside" if sitting else ""),
            len(batch.present(load)) + len(sitting),
            shut_in,
            batch.checklist.carrier(load.carrier).capacity,
        )
        for load in batch.list_live_loads()
        for sitting in [batch.sitting(load)]
        for shut_in in [load.run is not None and batch.runs[load.run].running]
    ]
    for op, rework, count in batch.list_waiting_pools():
        kind = " in rework" if rework else ""
        found.append(
            CountSubject(PiecePlace("waiting", op=op, rework=rework).heap, f"pieces waiting for op {op}{kind}", count)
        )
    apart = sum(not place.sits for place in batch.held().values())
    if apart:
        found.append(CountSubject("hold", "pieces on hold, off their carriers", apart))
    if batch.total("spare"):
        found.append(CountSubject("spare", "pieces kept as spares", batch.total("spare")))
    return found


def find_subjects_to_count(batch: Batch, who: str) -> frozenset[str]:
    """Keys of subjects that this person still has to count and whose recorded figure they must not see yet.

    Only the person responsible sees the figures; everybody else counts first, including one who left the batch
    unattended and comes back.
    """
    handover = batch.handover
    if handover is None:
        return (
            frozenset()
            if who == batch.responsible
            else frozenset(subject.key for subject in list_count_subjects(batch))
        )
    if who == handover.by and not handover.unattended:
        return frozenset()
    return find_blind_subjects(batch)


def find_blind_subjects(batch: Batch) -> frozenset[str]:
    """Keys of subjects whose recorded figure is hidden from everybody while a handover is open: those not counted yet,
    and those whose first count disagreed, which are counted blind again.
    """
    handover = batch.handover
    if handover is None:
        return frozenset()
    return frozenset(
        subject.key
        for subject in list_count_subjects(batch)
        if subject.key not in handover.counted
        or (handover.counted[subject.key] != subject.expected and handover.tries[subject.key] < 2)
    )


def hides_total(batch: Batch, where: Where, hidden: Collection[str]) -> bool:
    """Whether some of the pieces present are still to be counted, so that the total stays hidden."""
    return bool(hidden) and any(place.heap in hidden for place in batch.places.values() if place.where == where)


def format_total(batch: Batch, where: Where, hidden: Collection[str]) -> str:
    """The number of pieces present, or the mark for a hidden figure."""
    return HIDDEN_FIGURE if hides_total(batch, where, hidden) else str(batch.total(where))


def format_unless_blind(batch: Batch, heap: str, count: int) -> str:
    """``4 pieces``; ``? pieces`` while those of the heap are counted blind."""
    return f"{HIDDEN_FIGURE} pieces" if heap in find_blind_subjects(batch) else format_count(count, "piece")


def format_count_subject(batch: Batch, key: str) -> str:
    """The name of what is counted under this key; the heap in plain words if it no longer exists."""
    return next((subject.title for subject in list_count_subjects(batch) if subject.key == key), format_heap(key))


def hide_piece_count(walked: Walk, hidden: Collection[str]) -> Walk:
    """The walk, without its number of pieces if its load is still to be counted."""
    if f"load {walked.run.load}" not in hidden:
        return walked
    return replace(walked, lines=tuple(_blinded(line, walked.run) for line in walked.lines))


def _blinded(line: Line, run: Run) -> Line:
    if line.kind == "count":
        said = f"counted ({run.count.by})" if run.count is not None else ""
        return replace(line, title="Count pieces", evidence=said)
    if not isinstance(line.step, Counted) or line.verdict is None:
        return line
    proof = line.verdict.proof
    said = f"counted ({proof.by})" if proof is not None else "not counted"
    if line.verdict.status == "met":
        return replace(line, evidence=said, verdict=replace(line.verdict, evidence=said))
    said = "counts do not match" if proof is not None else said
    return replace(line, evidence="", verdict=replace(line.verdict, why=said))
