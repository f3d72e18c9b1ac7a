"""A newer checklist that protects less than the one before, point by point."""

from __future__ import annotations

from dataclasses import replace

import pytest

from floor.checklist.weakening import Weakening, describe_weakening, list_weakenings
from tests.batch.factory import edited, part

HUMIDITY = '  { gate = "measured", what = "humidity", at = "load", high = "85 pct", waive = "never" },\n'
DOOR = '{ do = "Shut the door", at = "load", cautions = ["cutter"] }'
COAT = '{ do = "Brush the coat on", id = "coat", at = "load", skip = false }'


@pytest.mark.parametrize(
    ("edit", "lost"),
    [
        (('word = "WARNING"', 'word = "CAUTION"'), ("lower signal word", "Turning cutter", 0)),
        (('avoid = "Door shut', 'avoid = "Door may be shut'), ("caution reworded", "Turning cutter", 0)),
        ((DOOR, DOOR.replace(', cautions = ["cutter"]', "")), ("caution off an operation", "Turning cutter", 30)),
        ((COAT, COAT.replace(", skip = false", "")), ("step may be skipped", "Brush the coat on", 20)),
        ((COAT, COAT.replace("Brush the coat on", "Paint it")), ("step gone", "Brush the coat on", 20)),
        ((HUMIDITY, HUMIDITY.replace(', waive = "never"', "")), ("check may be waived", "Measure humidity", 20)),
        ((HUMIDITY, ""), ("check gone", "Measure humidity", 20)),
    ],
)
def test_each_way_to_protect_less_is_found(edit: tuple[str, str], lost: tuple[str, str, int]) -> None:
    """SAF-15."""
    found = list_weakenings(part(), edited(edit))
    assert Weakening(*lost) in found  # type: ignore[arg-type]
    assert list_weakenings(edited(edit), edited(edit)) == ()


def test_a_caution_that_is_gone_is_named_once() -> None:
    before = part()
    now = replace(
        before,
        cautions={},
        operations=tuple(
            replace(
                one,
                start_cautions=(),
                end_cautions=(),
                count_cautions=(),
                steps=tuple(replace(step, cautions=()) for step in one.steps),
            )
            for one in before.operations
        ),
    )
    found = [one for one in list_weakenings(before, now) if "caution" in one.kind]
    assert [one.kind for one in found] == ["caution gone"] * len(before.cautions)
    assert describe_weakening(*found[0]) == f"caution removed: {found[0].subject}"


def test_what_protects_more_or_as_much_is_nothing_to_answer_for() -> None:
    assert list_weakenings(edited(('word = "WARNING"', 'word = "CAUTION"')), part()) == ()
    assert list_weakenings(part(), part()) == ()
    gone = replace(part(), operations=part().operations[:-1])
    assert not [one for one in list_weakenings(part(), gone) if one.op], "its hazards go with an operation"
