"""The guards against losing a proof unseen, each of which can be removed alone.

`python -m tests.batch.strike_guards FIRST COUNT` removes one after the other and prints the first game that notices.
"""

from __future__ import annotations

import inspect
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from textwrap import dedent
from types import FunctionType
from typing import Any

from floor.batch.corrections import commands as correcting
from floor.batch.corrections import unproved_work as reliance
from floor.batch.gates import fold_lots as lots
from floor.batch.walk import fold_rejudging as passing
from floor.shop import effects_on_other_batches as telling


@dataclass(frozen=True)
class Guard:
    """A place in the rules, and what is there with the guard removed."""

    name: str
    function: Callable[..., Any]
    was: str
    now: str
    game: int
    """A game that notices, with a few after it in reserve."""

    @contextmanager
    def taken_out(self) -> Iterator[None]:
        function = self.function
        assert isinstance(function, FunctionType)
        source = dedent(inspect.getsource(function))
        assert self.was in source, f"{self.name}: the rules say it otherwise by now"
        space = dict(function.__globals__)
        exec(compile(source.replace(self.was, self.now), inspect.getfile(function), "exec"), space)  # noqa: S102
        kept, function.__code__ = function.__code__, space[function.__name__].__code__
        try:
            yield
        finally:
            function.__code__ = kept


GUARDS = [
    Guard(
        "a: what was tried and failed is no proof",
        passing.rejudge_before,
        "not line.is_satisfied",
        "(not line.is_satisfied and not _evidence(batch, run, line))",
        4,
    ),
    Guard(
        "a: a waiver struck out takes away what it let through",
        reliance._bears,
        "if isinstance(event, Waived) or mine:",
        "if isinstance(event, Waived):\n        return False\n    if mine:",
        4,
    ),
    Guard(
        "b: each point is judged, and not the release alone",
        passing.rejudge_before,
        "if not batch.struck:",
        'if not batch.struck or point != "release":',
        0,
    ),
    Guard(
        "b: what is proved anew counts against earlier strikes alone",
        reliance.find_lost_proofs,
        "if strike > run.proved_since.get(line, 0):",
        "if strike and line not in run.proved_since:",
        8,
    ),
    Guard(
        "b: the release is judged too",
        passing.rejudge_at_release,
        '    rejudge_before(batch, run, entry, "release")\n',
        "",
        0,
    ),
    Guard(
        "c: a strike that is struck out",
        reliance._takes,
        "if strike > passed",
        'if batch.entries[target - 1].kind != "struck_out" and strike > passed',
        6,
    ),
    Guard(
        "d: a set-up taken down is never struck out",
        correcting.StrikeOut.allowed,
        "if event.LOCKED:",
        'if event.LOCKED and entry.kind != "setup_taken_down":',
        10,
    ),
    Guard(
        "d: what was told is struck out where it was said",
        correcting.StrikeOut.allowed,
        "if isinstance(event, Disturbed | StruckOut) and event.told:",
        "if False:",
        1,
    ),
    Guard("d: a strike is told", telling.find_effects, "case StrikeOut() if", "case StrikeOut() if False and", 0),
    Guard(
        "d: the strike of a strike is told",
        telling.find_effects,
        "find_root_entry(batch, command.seq).kind",
        "batch.entries[command.seq - 1].kind",
        5,
    ),
    Guard(
        "e: any piece of a heap may be one of those",
        reliance.find_suspect_pieces,
        "and found & set(load.pieces)",
        "and False",
        2,
    ),
    Guard(
        "pieces come off hold by a lead alone",
        correcting._need_lead_for,
        'if any(where not in ("hold", *LOST) for where in there):',
        "if False:",
        10,
    ),
    Guard(
        "a release is not taken back to close a question",
        correcting._need_lead_for,
        "if run is None or run.released is None:",
        "if False:",
        3,
    ),
    Guard("the lot that a run had", lots.is_another_lot, "return _lots_of(", "return False and _lots_of(", 8),
    Guard("a lot that was opened", lots._records, "if isinstance(event, LotOpened):", "if False:", 8),
    Guard("a load under way keeps its lot", lots._lots_of, "run.seq < seq and last", "False", 16),
    Guard(
        "a lead held back before it was struck out",
        reliance.find_unproved_work,
        "if batch.held_back.get(run, 0) > strike",
        "if run in batch.held_back",
        4,
    ),
    Guard(
        "a lead decided on another strike",
        reliance.find_unproved_work,
        'batch.settled.get(strike, "")',
        'next(iter(batch.settled.values()), "")',
        0,
    ),
]


def found_by(guard: Guard, seeds: range) -> tuple[int, str] | None:
    """The first game that notices the guard missing, and what it reports."""
    from tests.batch.test_random_strikes import games

    with guard.taken_out():
        return next(games(seeds), None)


if __name__ == "__main__":
    first, count = int(sys.argv[1]), int(sys.argv[2])
    for guard in GUARDS:
        found = found_by(guard, range(first, first + count))
        said = f"game {found[0]}: {found[1]}" if found else f"not found in {count} games"
        print(f"{guard.name}: {said}", flush=True)  # noqa: T201 - a trial run by hand
