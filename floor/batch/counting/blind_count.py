"""What is counted at a handover, and which figures nobody is shown until it is: the one place that decides."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from floor.batch.load import PiecePlace, Where
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.lines import Line, Walk
from floor.checklist.gates import Counted

HIDDEN_FIGURE = "?"
"""Stands where a figure is not shown."""


@dataclass(frozen=True, slots=True)
class CountSubject:
    """Something the incoming person counts: a load, or pieces waiting loose."""

    key: str
    title: str
    expected: int


def list_count_subjects(batch: Batch) -> list[CountSubject]:
    """All that is to be counted, in the order of the loads and then of the route."""
    found = [
        CountSubject(
            PiecePlace("load", load=load.number).heap,
            f"{batch.format_carrier(load)} (load {load.number})" + (" with what is set aside" if sitting else ""),
            len(batch.present(load)) + len(sitting),
        )
        for load in batch.list_live_loads()
        for sitting in [batch.sitting(load)]
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
    """Keys of the subjects whose recorded figure this person must not see yet, because they are still to count them.

    The figures belong to whoever holds the batch; everybody else counts first, also the one who left it alone
    overnight and comes back to it.
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
    """Keys of the subjects whose recorded figure nobody is shown while a handover is open.

    Those not counted yet, and those that were counted once and disagree: they are counted again as blindly.
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
    """Whether some of the pieces that are there are still to be counted, so that their total is shown to nobody."""
    return bool(hidden) and any(place.heap in hidden for place in batch.places.values() if place.where == where)


def format_total(batch: Batch, where: Where, hidden: Collection[str]) -> str:
    """How many pieces are there, or that it is not shown."""
    return HIDDEN_FIGURE if hides_total(batch, where, hidden) else str(batch.total(where))


def subject_title(batch: Batch, key: str) -> str:
    """What is counted under this key, as a person calls it; the key itself where it is no longer there."""
    return next((subject.title for subject in list_count_subjects(batch) if subject.key == key), key)


def hide_piece_count(walked: Walk, hidden: Collection[str]) -> Walk:
    """A walk without the number of its pieces where their load is still to be counted."""
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
