"""A long plan reports progress and can be stopped; if not stopped, its answer is the same."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from floor.entry import Moment
from floor.planning.calculation_progress import ProgressReporter
from floor.planning.plan import make_plan
from floor.planning.problem import build_planning_request
from floor.planning.snapshot import take_snapshot
from floor.planning.whatif import WhatIfRow, WhatIfTrial, plan_changed_row, rank_savings
from tests.batch.factory import open_bench
from tests.planning.planned import MORNING, ONE_SHIFT, planned, potted

NOW = Moment(MORNING)
WAYS = [
    build_planning_request([open_bench(potted, start=39).state], NOW, ONE_SHIFT, mixed=mixed) for mixed in (True, False)
]


def test_the_share_rises_from_way_to_way_to_the_whole_and_says_the_best_finish_so_far() -> None:
    heard: list[tuple[float, str]] = []

    made = make_plan(WAYS, effort=300, progress=lambda share, words: heard.append((share, words)))

    shares = [share for share, _ in heard]
    assert shares == sorted(shares)
    assert (shares[0] > 0, shares[-1]) == (True, 1.0)
    assert any(share < 0.5 for share in shares)
    assert any(0.5 < share < 1 for share in shares)
    assert {f"best so far {made.plan.end:%a %d %b %H:%M}"} <= {words for _, words in heard}
    assert made == make_plan(WAYS, effort=300), "telling changes nothing"


def test_a_plan_that_is_stopped_tries_no_further_and_leaves_the_other_way_out() -> None:
    heard: list[float] = []

    made = make_plan(
        WAYS, effort=30_000, progress=lambda share, _: heard.append(share), should_stop=lambda: len(heard) >= 5
    )

    assert len(heard) == 6, "five tries, and the end"
    assert made.mixed
    assert not made.obstacles


def test_a_better_plan_is_sought_in_the_way_of_the_first_alone() -> None:
    taken = take_snapshot([open_bench(potted, start=39).state], NOW, ONE_SHIFT)
    assert len(taken.ways) > 1
    for way in taken.ways:
        made = make_plan([way], effort=300)
        assert taken.like(made) == (way,)


def test_what_ifs_can_be_stopped_and_savings_tell_what_they_look_at() -> None:
    present = planned(open_bench(potted, start=39).state, effort=300)
    heard: list[tuple[float, str]] = []
    asked = 0

    def stop() -> bool:
        nonlocal asked
        asked += 1
        return asked >= 3

    found = rank_savings(present, effort=300, progress=lambda share, words: heard.append((share, words)))
    few = rank_savings(present, effort=300, should_stop=lambda: True)
    changed = plan_changed_row(WhatIfRow("Today", present), WhatIfTrial("anew", WAYS), should_stop=stop)

    assert {words.removeprefix("one more ") for _, words in heard} == {saving.name for saving in found}
    assert heard[0][0] == 0
    assert few == ()
    assert changed.whole
    assert asked < 10, "of some hundreds of tries"


@given(st.lists(st.floats(-1, 2), max_size=9))
def test_a_share_never_falls_and_stays_between_its_ends(shares: list[float]) -> None:
    heard: list[float] = []
    told = ProgressReporter(lambda share, _: heard.append(share))

    for share in shares:
        told.part(0.2, 0.6)(share, "")

    assert heard == sorted(heard)
    assert all(0 <= share <= 0.6 + 1e-12 for share in heard)
