"""What is free when: step functions that find room for work and book it."""

from bisect import bisect_left, bisect_right

from floor.figures.calendar import WorkingTime

CLOSED = 86_400
"""If nobody is in for this many seconds, the shop was closed for days, not for a night."""

Piece = tuple[int, int]
"""(start, end) in epoch seconds."""


class CapacityProfile:
    """Free places of a resource over time, from `start` on, without end."""

    __slots__ = ("free", "times")

    def __init__(self, start: int, places: int) -> None:
        self.times = [start]
        self.free = [places]

    def clash(self, start: int, end: int, need: int) -> int:
        """Where to try again if `need` places are not free from start to end; -1 if they are."""
        times, free = self.times, self.free
        count = len(times)
        i = bisect_right(times, start) - 1
        while i < count and (times[i] < end or times[i] <= start):
            if free[i] < need:
                i += 1
                while i < count and free[i] < need:
                    i += 1
                return times[i]
            i += 1
        return -1

    def take(self, start: int, end: int, places: int) -> None:
        """Take places from start to end; a negative number gives them back."""
        if end <= start:
            return
        first, last = self._split(start), self._split(end)
        free = self.free
        for i in range(first, last):
            free[i] -= places
        self._join(last)
        self._join(first)

    def _split(self, at: int) -> int:
        i = bisect_left(self.times, at)
        if i == len(self.times) or self.times[i] != at:
            self.times.insert(i, at)
            self.free.insert(i, self.free[i - 1])
        return i

    def _join(self, i: int) -> None:
        """Drop a step that changes nothing: fewer steps to search."""
        if i > 0 and self.free[i] == self.free[i - 1]:
            del self.times[i], self.free[i]


class FreeHands(CapacityProfile):
    """Free operators over the shifts: those at work less those busy."""

    __slots__ = ("_hours", "_seen", "present")

    def __init__(self, hours: WorkingTime) -> None:
        self._hours = hours
        self.times = [*hours.times, hours.known_until]
        self.free = [*hours.levels, 0]
        self.present = [*hours.levels, 0]
        self._seen = len(hours.times)

    def _extend(self) -> bool:
        """Add the next days of the calendar; the last step is always where the known days end."""
        hours = self._hours
        if hours.known_until <= self.times[-1] and not hours.extend():
            return False
        ahead, levels = hours.times[self._seen :], hours.levels[self._seen :]
        last = hours.levels[self._seen - 1]
        for steps in (self.free, self.present):
            steps[-1:] = [last, *levels, 0]
        self.times += [*ahead, hours.known_until]
        self._seen = len(hours.times)
        return True

    def _know(self, at: int) -> bool:
        """Add days until they include an instant; False if the calendar ends first."""
        while self.times[-1] <= at:
            if not self._extend():
                return False
        return True

    def fit(self, start: int, length: int, need: int) -> Piece | None:
        """First stretch of `length` seconds at or after `start` with `need` operators free; None if there never is
        one."""
        if not self._know(start):
            return None
        times, free = self.times, self.free
        i, last = bisect_right(times, start) - 1, len(times) - 1
        begin = start
        while True:
            if i >= last:
                if not self._extend():
                    return None
                last = len(times) - 1
                continue
            if free[i] < need:
                i += 1
                begin = times[i]
            elif times[i + 1] - begin >= length:
                return begin, begin + length
            else:
                i += 1

    def fit_paused(self, start: int, length: int, need: int, *, stands: bool = True) -> list[Piece] | None:
        """Like `fit`, for work that pauses while too few people are in, but never for other work.

        Args:
            stands: the work may be left half done over closed days.
        """
        if not self._know(start):
            return None
        times, free, present = self.times, self.free, self.present
        i, last = bisect_right(times, start) - 1, len(times) - 1
        begin = ended = start
        left, first, since = length, -1, start
        while True:
            if i >= last:
                if not self._extend():
                    return None
                last = len(times) - 1
                continue
            if free[i] >= need:
                if first < 0 or (not stands and begin - ended >= CLOSED):
                    left, first, since = length, i, begin
                ended = times[i + 1]
                if ended - begin >= left:
                    return self._pieces(first, since, begin + left, need)
                left -= ended - begin
            elif present[i] >= need:
                first = -1
            i += 1
            begin = times[i]

    def _pieces(self, i: int, since: int, end: int, need: int) -> list[Piece]:
        """The stretches with enough operators free, from `since` (in step `i`) to `end`."""
        found: list[Piece] = []
        begin = since
        while begin < end or not found:
            until = min(self.times[i + 1], end)
            if self.free[i] >= need:
                if found and found[-1][1] == begin:
                    found[-1] = (found[-1][0], until)
                else:
                    found.append((begin, until))
            i += 1
            begin = self.times[i]
        return found

    def _split(self, at: int) -> int:
        i = bisect_left(self.times, at)
        if self.times[i] != at:
            self.times.insert(i, at)
            self.free.insert(i, self.free[i - 1])
            self.present.insert(i, self.present[i - 1])
        return i

    def _join(self, i: int) -> None:
        known = 0 < i < len(self.times) - 1  # the last step is where the known days end
        if known and self.free[i] == self.free[i - 1] and self.present[i] == self.present[i - 1]:
            del self.times[i], self.free[i], self.present[i]
