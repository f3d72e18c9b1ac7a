"""The pieces of a trial: where they come from, and which are out of work for it.

Known faults: a piece named for a test of the last operation has finished once it is good there, and finished pieces
cannot be set aside: only a lead who holds its run and scraps it there uses it up. Until then the order may count as
filled by pieces still to be tested. Scrap of good pieces counts as used in tests, whatever the reason.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

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


def format_test_pieces(tests: Mapping[int, int]) -> str:
    """What was ordered to be used up, in words: ``9 good ones of op 20, 2 of op 30 for tests, trials``."""
    (first, count), *more = tests.items()
    said = [f"{count} good of op {first}", *(f"{count} of op {op}" for op, count in more)]
    return f"{', '.join(said)} for tests, trials"


def count_pieces_to_use(batch: Batch) -> Counter[int]:
    """Operation → its good pieces that are still to be used up: for trials, or by what the order said at the opening.

    The order's pieces become used in a trial, or by being scrapped after they were counted good there: whoever tests
    one to destruction has no other way to say so.
    """
    found = count_pieces_to_try(batch)
    if not batch.tests:
        return found
    used = Counter(
        find_op_tried_at(batch, trial) for trial in batch.trials.values() for _ in list_pieces_in_trial(batch, trial)
    )
    last = (batch.find_last_result(piece) for piece, place in batch.places.items() if place.where == "scrap")
    used.update(one.op for one in last if one is not None and one.how == "good")
    return found | Counter({op: count - used[op] for op, count in batch.tests.items()})


def say_used_as_tests(batch: Batch, pieces: Iterable[int]) -> str:
    """What scrapping good pieces does to those still wanted for tests: nothing tells a test from an accident."""
    if not batch.tests:
        return ""
    left = count_pieces_to_use(batch)
    last = (batch.find_last_result(piece) for piece in pieces)
    ops = sorted({one.op for one in last if one is not None and one.how == "good" and one.op in batch.tests})
    said = ", ".join(f"{left[op]} still wanted of op {op}" for op in ops if left[op] > 0)
    return f"Scrapped good pieces count as used in tests, even by accident ({said})." if said else ""


def find_op_tried_at(batch: Batch, trial: Trial) -> int:
    """The operation of the route whose good pieces a trial uses up."""
    route = batch.checklist.route
    return next((op for op in route if op >= trial.op), route[-1])


def count_pieces_to_try(batch: Batch) -> Counter[int]:
    """Operation → pieces that trials without a choice are still to use up of those that pass it.

    They are taken before it, so this asks for a few more than it takes.
    """
    found: Counter[int] = Counter()
    for trial in batch.trials.values():
        if trial.choice is None:
            found[find_op_tried_at(batch, trial)] += max(0, trial.each * len(trial.settings) - len(trial.used))
    return found
