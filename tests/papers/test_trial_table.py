"""The settings of a trial side by side, drawn on one scale: shares, very large and very wide values, little room."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest

from floor.batch.trial import Trial, TrialReading
from floor.batch.trials.compare import TrialStudy, study_trial
from floor.papers.trial_table import list_table
from tests.batch.factory import MORNING

INSERT = (("insert", ("A", "B", "C")),)


def study_numbers(*samples: Sequence[float], **plan: Any) -> TrialStudy:
    """A sample for each setting, in their order."""
    return study_readings([{"values": tuple(some)} for some in samples if some], "number", **plan)


def study_shares(*counts: tuple[int, int], **plan: Any) -> TrialStudy:
    """(good, bad) of each setting, in their order."""
    return study_readings([{"good": good, "bad": bad} for good, bad in counts], "good or bad", **plan)


def study_readings(found: Sequence[dict[str, Any]], response: str, **plan: Any) -> TrialStudy:
    asked = {"factors": INSERT, "unit": "mm", "each": 0, "worth": None} | plan
    readings = [TrialReading(n, n, MORNING, "AA", **one) for n, one in enumerate(found, 1)]
    return study_trial(
        Trial(1, "which?", 0, response=response, characteristic="burr", by="AA", at=MORNING, readings=readings, **asked)
    )


def test_shares_are_drawn_from_none_to_all() -> None:
    """6 of 6 have a 95 % interval of 54 to 100 % (Clopper and Pearson: 0.025 to the power of 1/6 is 0.541)."""
    head, *rows, scale = list_table(study_shares((6, 0), (6, 0), factors=(("feed", ("60", "90")),)), 78)
    assert head.split() == ["setting", "n", "good", "95", "%", "interval"]
    start, end = scale.index("0 %"), len(scale)
    assert end == 78
    assert [round((row.index("├") - start) / (end - 1 - start), 1) for row in rows] == [0.5, 0.5]


def test_the_scale_ends_below_the_last_column_and_is_left_out_where_it_has_no_room() -> None:
    study = study_numbers((3.1, 3.2), (3.4, 3.5))
    wide = list_table(study, 78)
    assert (len(wide), len(wide[-1])) == (5, 78)
    end = wide[-1].split()[-1]
    least = len(wide[-1]) - len(wide[-1].lstrip()) + 1 + sum(map(len, wide[-1].split()))
    assert list_table(study, least)[-1].split()[-1] == end
    assert [line.split()[0] for line in list_table(study, least - 1)] == ["setting", "A", "B", "C"]


@pytest.mark.parametrize("samples", [(), ((3.0, 3.0), (3.0,))])
def test_values_that_do_not_differ_have_no_scale(samples: Sequence[Sequence[float]]) -> None:
    assert [line.split()[0] for line in list_table(study_numbers(*samples), 78)] == ["setting", "A", "B", "C"]


@pytest.mark.parametrize(
    ("sample", "mean"),
    [
        ((1000.0, 1500.0, 2000.0), "1500"),
        ((3.1, 3.2), "3.15"),
        ((2e9, 2e9 + 1.0), "2e+09"),
        ((999999998.0, 999999998.5), "999999998.2"),
    ],
    ids=["no decimals", "two figures of the interval", "too long to write out", "still written out"],
)
def test_a_value_has_as_many_decimals_as_its_interval_is_worth(sample: Sequence[float], mean: str) -> None:
    assert list_table(study_numbers(sample), 78)[1].split()[2] == mean
