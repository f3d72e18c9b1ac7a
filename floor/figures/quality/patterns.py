"""Where the scrap comes from: places, order in the load, and whatever loads have in common, each tested exactly.

All suspects of all operations are tried at once at each look (`looks`), and what is named is adjusted for all of them:
at most 5 % of batches without any cause have one named, however often somebody looks. Loads may differ as they like;
it is only assumed that without a cause the pieces of a load, and the loads of an operation, might have changed places.
A cause that lasted for some time accuses whatever label was in use at that time.
"""

from __future__ import annotations

from collections.abc import Sequence

from floor.dataclass import dataclass
from floor.figures.quality.looks import FALSE_ALARMS, Look, adjust_for_tries_and_looks
from floor.figures.quality.suspect_tests import judge_again, judge_suspects, take_out
from floor.figures.quality.suspects import LOAD_KINDS, OperationResult, Suspect


@dataclass(frozen=True, slots=True)
class Pattern:
    """A suspect with the evidence for it."""

    suspect: Suspect
    bad: int
    pieces: int
    """Bad pieces and all pieces of the suspect, over all loads; for order, of that half of the loads."""
    expected: float
    """Bad pieces that it would have by its share alone."""
    p: float
    """Chance of as much by luck, looking at this suspect only and once."""
    adjusted: float
    """The same, for any suspect of the batch at any look."""
    explained: bool
    """Nothing is left of it without the pieces of stronger ones that are named: a row, for a place in it; a tool, for
    the lot that it made. What sits inside loads does not explain what loads have in common, nor the other way."""

    @property
    def named(self) -> bool:
        """Established: unlikely by luck even after all tries and looks."""
        return self.adjusted <= FALSE_ALARMS


def find_patterns(operations: Sequence[OperationResult], look: Look) -> list[Pattern]:
    """Every suspect of every operation with its evidence at a look, the strongest first.

    Left out are labels of so few loads that not even the worst of them could be named. Without a bad piece, or where
    all are bad, there is nothing to suspect.

    Args:
        operations: With the loads up to this look, no newer ones.
        look: By the bad pieces of all of them (`find_look`).
    """
    tests = [test for operation in operations for test in judge_suspects(operation, look.alpha)]
    adjusted = adjust_for_tries_and_looks([p for _, _, p in tests], look)
    order = sorted(range(len(tests)), key=lambda n: tests[n][2])
    left = {(one.operation, whole): one for one in operations for whole in (False, True)}
    patterns = []
    for n in order:
        suspect, counted, p = tests[n]
        explained = False
        if adjusted[n] <= FALSE_ALARMS:
            level = suspect.operation, suspect.kind in LOAD_KINDS
            explained = judge_again(left[level], suspect) > look.alpha
            if not explained:
                left[level] = take_out(left[level], suspect)
        patterns.append(Pattern(suspect, *counted, p, adjusted[n], explained))
    return patterns
