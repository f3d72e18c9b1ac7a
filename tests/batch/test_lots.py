"""A new can in the middle of a batch: from then on, for the loads it goes into; the others keep what they have."""

from __future__ import annotations

import pytest

from floor.batch.gates.open_lot import OpenLot
from floor.batch.search.trace import trace
from tests.batch.factory import Bench, open_bench

OLD, NEW = "20-01A", "L-77"


@pytest.fixture
def bench() -> Bench:
    return open_bench()


def lots(bench: Bench, load: int) -> list[str]:
    """The lacquer that the trace of a load's first piece tells."""
    piece = bench.state.loads[load].pieces[0]
    return [stay.lots["lacquer"] for stay in trace(bench.state, piece).stays if "lacquer" in stay.lots]


def opened(bench: Bench, *into: int) -> None:
    bench.say(OpenLot("lacquer", NEW, "2027-01-31", into))


def test_between_two_runs_the_loads_that_are_through_keep_the_old_lot(bench: Bench) -> None:
    first, second = bench.form(10), bench.form(10)
    bench.through(first, 10, 20)
    bench.through(second, 10)
    opened(bench)
    bench.through(second, 20)

    assert (lots(bench, first), lots(bench, second)) == ([OLD], [NEW])


@pytest.mark.parametrize(("stop", "into", "told"), [
    ("load step 1", True, NEW), ("step mix", True, NEW), ("count", True, f"{OLD}, then {NEW}"), ("count", False, OLD),
])  # fmt: skip
def test_a_load_under_way_has_the_new_one_both_or_the_old(bench: Bench, stop: str, into: bool, told: str) -> None:
    load = bench.form(10)
    bench.through(load, 10)
    if stop.startswith(("load", "step")):
        stop = "mix"
    bench.until(load, stop)
    opened(bench, *([load] if into else []))
    bench.through(load, 20)

    assert lots(bench, load) == [told]


def test_what_is_no_lot_of_the_checklist_past_or_of_no_load_is_refused(bench: Bench) -> None:
    assert bench.refused(OpenLot("paint", NEW)).why == "unknown"
    assert bench.refused(OpenLot("lacquer", " ", "2027-01-31")).wrong == "lacquer: no lot number entered"
    assert bench.refused(OpenLot("lacquer", NEW, "soon")).wrong.endswith("soon is not a date")
    assert bench.refused(OpenLot("lacquer", NEW, "2025-01-31")).why == "gate"
    assert bench.refused(OpenLot("lacquer", NEW, "2027-01-31", (1,))).wrong.startswith("load 1 is not using")
