"""What the results of a trial tell, case by case: nothing known, nothing practical, at the ends of a share, of many."""

from __future__ import annotations

import pytest

from floor.batch.trials.compare import TrialStudy
from floor.figures.quality.comparison import estimate_pieces_each_of_shares
from floor.papers.trial_verdicts import list_verdicts
from tests.papers.test_trial_table import study_numbers, study_shares

FEED = (("feed", ("60", "90")),)
LOTS = (("lot", tuple("ABCDEFGH")),)
TWO = (("angle", ("30", "45")), ("speed", ("low", "high")))


def say(study: TrialStudy) -> list[str]:
    return [said for _, said in list_verdicts(study)]


def test_equal_means_that_spread_are_no_equal_values() -> None:
    """No difference was measured, so none can be counted for."""
    [said] = say(study_numbers((3.0, 3.2), (3.0, 3.2)))
    assert "cannot tell from 2 values each" in said
    assert said.endswith("how many would show one is not known.")


def test_a_difference_that_takes_too_many_pieces_is_told_as_such() -> None:
    """0.0001 beside a spread of 0.1: millions of values, by NIST's formula (7.2.2.2)."""
    [said] = say(study_numbers((3.0, 3.2), (3.0001, 3.2001)))
    assert said.endswith("no practical number of values would show such a difference.")


@pytest.mark.parametrize(
    ("counts", "shares"),
    [(((3, 0), (2, 1)), (1.0, 0.4)), (((1, 2), (0, 3)), (0.6, 0.0))],
    ids=["near all", "near none"],
)
def test_a_difference_of_shares_that_matters_stays_from_none_to_all(
    counts: tuple[tuple[int, int], ...], shares: tuple[float, float]
) -> None:
    """Around 83 %, 60 points would end at 113 %: so it is counted for 40 and 100 %; and around 17 %, for 0 and 60 %."""
    [said, _] = say(study_shares(*counts, factors=FEED, worth=0.6))
    assert f"about {estimate_pieces_each_of_shares(*shares)} pieces each would show a difference of 60 %" in said


def test_settings_of_which_no_other_has_both_are_not_compared() -> None:
    speeds = (("angle", ("30", "45")), ("speed", ("a", "b", "c")))
    found = say(study_shares((3, 0), (2, 1), (0, 0), (0, 0), (1, 2), (3, 0), factors=speeds))
    both = [said for said in found if said.endswith("cannot tell, as no setting of the other factor has both.")]
    assert [set(said.partition(":")[0].split(" and ")) for said in both] == [{"speed a", "speed c"}]


@pytest.mark.parametrize(("apart", "many"), [(1.0, "18"), (0.0, "none")])
def test_of_comparisons_that_are_not_spelled_out_those_shown_are_counted(apart: float, many: str) -> None:
    """Eight lots, 28 comparisons, ten spelled out."""
    samples = [(lot * apart, lot * apart + 0.001 * lot, lot * apart + 0.002) for lot in range(8)]
    assert f"18 more comparisons; {many} of them shown." in say(study_numbers(*samples, factors=LOTS))


def test_settings_are_compared_only_where_the_factors_do_not_tell_it() -> None:
    told = say(study_numbers((1.0, 1.1, 0.9), (1.1, 1.2, 1.0), (2.0, 2.1, 1.9), (2.1, 2.2, 2.0), factors=TWO))
    assert not any("30, " in said or "45, " in said for said in told)
    together = study_shares((4, 0), (0, 0), (0, 0), (0, 4), factors=TWO)
    assert any(said.startswith("30, low ") and "45, high" in said for said in say(together))
