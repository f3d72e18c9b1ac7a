"""The walk on view: judged once for what is shown, and read by every key that is about it."""

from __future__ import annotations

from datetime import timedelta

from floor.batch.counting.blind_count import find_blind_subjects, hide_piece_count
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.lines import Walk
from floor.batch.walk.station_walk import build_walk
from floor.entry import Moment

STANDS = timedelta(seconds=2)
"""A key is about the walk that was judged within this time: the clocks on screen move once a second."""
JUST = timedelta(seconds=0.1)
"""What was judged within this time is drawn without judging it again: the same key asked for both."""


class WalkOnView:
    """The last walk judged, for as long as it is the one of this state, person and moment.

    Nothing is decided on it: a command is judged under the lock, on the newest state.
    """

    def __init__(self) -> None:
        self._walk: Walk | None = None
        self._batch: Batch | None = None
        self._about: tuple[int, str] = (0, "")
        self._now: Moment | None = None

    def judge(self, batch: Batch, run: Run, now: Moment, who: str) -> Walk:
        """The walk on view; judged anew after an entry, for another person, and once it is old."""
        about, walk = (batch.seq, who), self._walk
        known = walk is not None and walk.run is run and self._batch is batch and self._about == about
        if walk is None or not known or not self._is_younger(now, STANDS):
            walk = hide_piece_count(build_walk(batch, run, now, who), find_blind_subjects(batch))
            self._walk, self._batch, self._about, self._now = walk, batch, about, now
        return walk

    def let_age(self, now: Moment) -> None:
        """The screen is about to be drawn: what is shown is as of now."""
        if not self._is_younger(now, JUST):
            self._walk = None

    def _is_younger(self, now: Moment, age: timedelta) -> bool:
        then = self._now
        if then is None or then.boot != now.boot:
            return False
        return abs(now.at - then.at) < age and abs(timedelta(seconds=now.up - then.up)) < age
