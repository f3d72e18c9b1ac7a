"""Spans of time against sets of whole seconds."""

from hypothesis import given, settings
from hypothesis import strategies as st

from floor.figures.spans import CumulatedSpans, Span, intersect_spans, measure_spans, merge_spans, subtract_spans

SPANS = st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)).map(lambda pair: (pair[0], pair[0] + pair[1])))


def seconds(spans: list[Span]) -> set[int]:
    return {second for start, end in spans for second in range(int(start), int(end))}


@settings(deadline=None)
@given(SPANS, SPANS)
def test_spans_are_the_seconds_in_them(one: list[Span], other: list[Span]) -> None:
    first, second = merge_spans(one), merge_spans(other)

    assert seconds(first) == seconds(one)
    assert seconds(intersect_spans(first, second)) == seconds(one) & seconds(other)
    assert seconds(subtract_spans(first, second)) == seconds(one) - seconds(other)
    assert measure_spans(first) == len(seconds(one))
    for spans in (first, intersect_spans(first, second), subtract_spans(first, second)):
        assert spans == sorted(spans)
        assert measure_spans(spans) == len(seconds(spans)), "none overlaps another"


@settings(deadline=None)
@given(SPANS, st.integers(0, 90), st.integers(0, 90))
def test_a_part_of_spans_is_measured_as_if_they_were_cut(spans: list[Span], start: int, length: int) -> None:
    merged = merge_spans(spans)
    found = CumulatedSpans(merged).measure(start, start + length)
    assert found == len(seconds(merged) & set(range(start, start + length)))
