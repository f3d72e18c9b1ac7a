"""Spans of time as plain numbers: joined, cut, taken from one another, measured."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from itertools import accumulate

Span = tuple[float, float]
"""(from, to) in seconds."""


def merge_spans(spans: Iterable[Span]) -> list[Span]:
    """The same time without overlaps, in order; empty spans are dropped."""
    merged: list[Span] = []
    first = last = -math.inf
    for start, end in sorted(spans):
        if start > last:
            if last > first:
                merged.append((first, last))
            first, last = start, end
        elif end > last:
            last = end
    if last > first:
        merged.append((first, last))
    return merged


def intersect_spans(one: Sequence[Span], other: Sequence[Span]) -> list[Span]:
    """The time in both; each must be in order and without overlaps."""
    found: list[Span] = []
    at = 0
    for start, end in one:
        while at < len(other) and other[at][1] <= start:
            at += 1
        n = at
        while n < len(other) and other[n][0] < end:
            low, high = other[n]
            found.append((low if low > start else start, high if high < end else end))
            n += 1
    return found


def subtract_spans(whole: Sequence[Span], taken: Sequence[Span]) -> list[Span]:
    """The time in the first and not in the second; each must be in order and without overlaps."""
    found: list[Span] = []
    at = 0
    for begin, end in whole:
        start = begin
        while at < len(taken) and taken[at][1] <= start:
            at += 1
        n = at
        while n < len(taken) and taken[n][0] < end:
            if taken[n][0] > start:
                found.append((start, taken[n][0]))
            start = max(start, taken[n][1])
            n += 1
        if start < end:
            found.append((start, end))
    return found


def measure_spans(spans: Iterable[Span]) -> float:
    """Seconds in all; the spans must not overlap."""
    return sum(end - start for start, end in spans)


class CumulatedSpans:
    """Spans in order and without overlaps, to measure many parts of them: each without going through all."""

    def __init__(self, spans: Sequence[Span]) -> None:
        self._starts = [start for start, _ in spans]
        self._ends = [end for _, end in spans]
        self._before = [0.0, *accumulate(end - start for start, end in spans)]

    def measure(self, start: float, end: float) -> float:
        """Seconds of them between two moments, the first not after the second."""
        return self._measure_before(end) - self._measure_before(start)

    def _measure_before(self, at: float) -> float:
        begun = bisect_right(self._starts, at)
        over = begun > 0 and self._ends[begun - 1] > at
        return self._before[begun] - (self._ends[begun - 1] - at if over else 0.0)
