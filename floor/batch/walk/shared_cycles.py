"""Which loads one cycle takes together: those at one station for one operation, if the checklist allows it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from floor.batch.load import Load
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.operation import Do


def find_runs_in_cycle(batch: Batch, run: Run) -> list[Run]:
    """The runs that share a cycle with this one, itself included, in the order they started.

    Before the cycle starts: all loads at the station for it; then those it started with.
    """
    if not run.cycle:
        return [run]
    others = [
        one
        for one in batch.runs.values()
        if one.cycle == run.cycle
        and one.number != run.number
        and one.started_seq == run.started_seq
        and not one.put_back
        and (run.started is not None or one.released is None)
    ]
    return sorted([run, *others], key=lambda one: one.number)


def group_by_cycle(runs: Iterable[Run]) -> list[list[Run]]:
    """Runs that shared a cycle together, the others alone, in the order of the first of each."""
    found: dict[tuple[int, int], list[Run]] = {}
    for run in runs:
        key = (run.cycle, run.started_seq) if run.cycle and run.started is not None else (0, -run.number)
        found.setdefault(key, []).append(run)
    return list(found.values())


def list_other_runs_in_cycle(batch: Batch, run: Run) -> list[Run]:
    """The other loads' runs, without one whose last piece was taken out during a stop."""
    return [
        one
        for one in find_runs_in_cycle(batch, run)
        if one.number != run.number and (one.released is None or one.ended)
    ]


def find_open_runs_in_cycle(batch: Batch, run: Run) -> list[Run]:
    """Those still under way."""
    return [one for one in list_other_runs_in_cycle(batch, run) if one.released is None]


def find_cycle_to_join(batch: Batch, load: Load, number: int, station: str) -> int:
    """The cycle that a load's next run there would join (this number if new); 0 if each load has its own."""
    assert load.at is not None, "a load past its leg starts nothing"
    operation = batch.operation(load.at)
    if operation.loads_per_cycle == 1:
        return 0
    waiting = Counter(
        run.cycle
        for run in batch.list_open_runs()
        if run.cycle and run.started is None and (run.station, run.op) == (station, operation.op)
    )
    return next((cycle for cycle, many in waiting.items() if many < operation.loads_per_cycle), number)


def count_pieces_in_cycle(batch: Batch, run: Run) -> int:
    """How many pieces go through the run's cycle, including other loads."""
    return sum(len(one.pieces) for one in find_runs_in_cycle(batch, run))


def compute_cycle_seconds(batch: Batch, run: Run) -> float:
    """Planned length of the cycle that takes a run."""
    return batch.find_operation(run).time.seconds("cycle", count_pieces_in_cycle(batch, run))


def compute_turn_seconds(batch: Batch, run: Run) -> float:
    """Planned seconds of attended work at each stop of the program."""
    return batch.find_operation(run).time.seconds("turn", count_pieces_in_cycle(batch, run))


def compute_cycle_seconds_with_turns(batch: Batch, run: Run) -> float:
    """Planned seconds from start to end of the cycle, including attended work at its program stops."""
    return compute_cycle_seconds(batch, run) + batch.find_operation(run).turns * compute_turn_seconds(batch, run)


def compute_run_seconds(batch: Batch, run: Run) -> float:
    """Planned seconds of a future run, from set-up to count, with the other loads of its cycle."""
    time = batch.find_operation(run).time
    by_hand = [
        time.seconds(part, len(one.pieces)) for one in find_runs_in_cycle(batch, run) for part in ("before", "after")
    ]
    return time.seconds("setup", 0) + sum(by_hand) + compute_cycle_seconds_with_turns(batch, run)


def cut_until(cycle: float, turns: int, left: int) -> float:
    """Cutting time at the next program stop, or the end: the stops divide the cycle into equal parts.

    Args:
        cycle: cutting time in all, in any unit.
        turns: how often the program stops.
        left: how many stops are still to come.
    """
    return cycle * (turns - left + 1) / (turns + 1)


def count_turns_left(batch: Batch, run: Run) -> int:
    """How many program stops are still to come in the cycle."""
    steps = batch.find_operation(run).numbered_steps
    return sum(isinstance(step, Do) and step.cycle == "stands" and key not in run.marks for key, step in steps)


def format_carriers(batch: Batch, runs: list[Run]) -> str:
    """``Pallet 2 and Pallet 3``."""
    return " and ".join(batch.format_carrier(batch.loads[run.load]) for run in runs)


def find_emptied_runs(batch: Batch, pieces: Iterable[int]) -> list[Run]:
    """Runs under way that would be empty without these pieces."""
    gone = set(pieces)
    return [run for run in batch.list_open_runs() if gone >= set(run.pieces)]
