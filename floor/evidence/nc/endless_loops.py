"""Tells a loop that is never left: at once where it comes back with nothing changed, else by its passes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import NamedTuple

from floor.evidence.nc.flow import Call, Flow, Loop


class _Moment(NamedTuple):
    """All that decides which blocks run from a line on: conditions can ask for no position and no mode, as the
    variables that hold them have no known value."""

    to: int
    begun: tuple[bool, bool]
    calls: list[Call]
    loops: list[Loop]
    variables: dict[str, float]


class LoopWatch:
    """Is told of each jump back."""

    def __init__(self, flow: Flow) -> None:
        self.flow = flow
        self._late: Counter[int] = Counter()
        """Lines jumped back to when most steps were gone, with how often."""
        self._jumps = 0
        self._met: _Moment | None = None
        """At the jump back whose number was the last power of two: a loop of any length meets it again (Brent)."""
        self._heads: set[int] = set()
        """Lines jumped back to since then."""

    def note(self, to: int, at: int, late: bool) -> None:
        """A jump back. No more are followed once one finds all as an earlier one did: it goes on like that forever."""
        flow, r = self.flow, self.flow.r
        if late:
            self._late[to] += 1
        now = _Moment(to, (r.started, r.opened), flow.calls, flow.loops, flow.s.variables)
        self._heads.add(to)
        if now == self._met:
            self._forget_passes(self._heads)
            r.log.add("never left", min(self._heads) + 1, "", at + 1)
            flow.lose("never left", at)
            return
        self._jumps += 1
        if not self._jumps & (self._jumps - 1):
            self._met = now._replace(calls=[*flow.calls], loops=[*flow.loops], variables={**flow.s.variables})
            self._heads.clear()

    def tell(self, at: int, steps: int) -> None:
        """After too many steps, the loop that was not left: the first line jumped back to again and again late."""
        heads = [to for to, count in self._late.items() if count > 1]
        self._forget_passes(heads)
        if heads:
            self.flow.r.log.add("endless loop", min(heads) + 1, "", steps)
        else:
            self.flow.r.log.add("too long to follow", at + 1)

    def _forget_passes(self, heads: Iterable[int]) -> None:
        """Nobody is told how often a loop without end was gone through before it was left."""
        for to in heads:
            self.flow.r.loops.pop(to + 1, None)
