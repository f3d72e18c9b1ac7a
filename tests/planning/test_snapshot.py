"""What a plan is made from, copied at one moment."""

from __future__ import annotations

from floor.entry import Moment
from floor.planning.problem import build_planning_request
from floor.planning.snapshot import Snapshot
from tests.batch.factory import open_bench
from tests.planning.planned import MORNING, ONE_SHIFT


def test_its_size_is_that_of_the_way_that_fills_carriers_up() -> None:
    """A pallet holds four pieces, and five operations lie before them."""
    few, many = (build_planning_request([open_bench(start=n).state], Moment(MORNING), ONE_SHIFT) for n in (4, 8))
    assert [Snapshot(ways, {}, {}).runs for ways in ((few, many, many), (many, few, few))] == [5, 10]
