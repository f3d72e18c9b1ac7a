"""The pieces of a trial: where they come from, and which are out of work for it."""

from __future__ import annotations

from collections import Counter

from floor.batch.state import Batch
from floor.batch.trial import Trial


def find_op_to_take_from(batch: Batch, trial: Trial) -> int:
    """The operation whose waiting pieces a trial uses: its own, or the first where none waits for that."""
    return trial.op if trial.op and batch.waiting(trial.op) else batch.checklist.route[0]


def is_in_trial(batch: Batch, trial: Trial, piece: int) -> bool:
    """Whether a piece is out of work for this trial now, and not for another since."""
    place = batch.places[piece]
    return place.where == "trial" and trial.used.get(piece, (0, 0))[1] == place.seq


def list_pieces_in_trial(batch: Batch, trial: Trial, setting: int = 0) -> list[int]:
    """Its pieces that are out of work now, of one setting or of all."""
    return [
        piece
        for piece, (used_for, _) in trial.used.items()
        if setting in (0, used_for) and is_in_trial(batch, trial, piece)
    ]


def count_pieces_to_try(batch: Batch) -> Counter[int]:
    """Operation → pieces that trials without a choice are still to use up of those that pass it.

    They are taken before it, so this asks for a few more than it takes.
    """
    found: Counter[int] = Counter()
    route = batch.checklist.route
    for trial in batch.trials.values():
        if trial.choice is None:
            at = next((op for op in route if op >= trial.op), route[-1])
            found[at] += max(0, trial.each * len(trial.settings) - len(trial.used))
    return found
