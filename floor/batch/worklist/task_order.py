"""In which order tasks are listed: by the plan, but nobody's work sinks, and nothing moves that somebody aims at."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from floor.batch.state import Batch
from floor.batch.worklist.due_task import Destination, DueTask, Urgency

WAITS: tuple[Urgency, ...] = ("later", "blocked")
WORK: tuple[Destination, ...] = ("run", "begin", "form")
"""What is done at a station; all else is decided, counted or signed."""


def rank_tasks(due: Sequence[DueTask], own: DueTask | None, lead: bool) -> list[DueTask]:
    """A cycle that is over comes before what is merely next; what this person may not do, after what they may.

    Args:
        own: the run that they are at; it comes before other work that is next, and does not sink while they are away.
        lead: whether they may decide what needs a lead.
    """

    def rank(one: DueTask) -> tuple[bool, bool, bool]:
        return one.urgency in WAITS, one.needs_lead and not lead, not one.is_pressing

    ranked = sorted(due, key=rank)
    if own is not None and rank(own) == (False, False, True):
        ranked.remove(own)
        work = (
            n for n, one in enumerate(ranked) if rank(one) > rank(own) or (rank(one) == rank(own) and one.go in WORK)
        )
        ranked.insert(next(work, len(ranked)), own)
    return ranked


def find_own_task(due: Sequence[DueTask], find_batch: Callable[[str], Batch], who: str) -> DueTask | None:
    """The run under way that this person was at last."""
    own = []
    for one in due:
        run = find_batch(one.batch).runs.get(one.run) if one.run is not None else None
        if run is not None and who and run.touched_by == who and run.touched is not None:
            own.append((run.touched, one.key, one))
    return max(own, key=lambda found: found[:2])[2] if own else None


def keep_order(due: Sequence[DueTask], stood: Mapping[str, int]) -> list[DueTask]:
    """In the order on screen, what is new at the end: the plan that comes a second later pulls nothing away.

    What waits now stands below what is due all the same, so that nobody reads past it.

    Args:
        stood: by key, the row where it stands.
    """
    return sorted(due, key=lambda one: (one.urgency in WAITS, stood.get(one.key, len(stood))))
