"""A station's places are taken by carriers, each by as many as its kind needs."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from floor.batch.commands.base import Elsewhere
from floor.batch.commands.opening import StartPieces
from floor.batch.commands.working import BeginRun
from floor.batch.nextup import next_up
from floor.checklist.frozen import freeze, frozen_checklist
from floor.checklist.model import Checklist
from tests.batch.factory import Bench, edited, open_bench

OVEN = 'kind = "oven"\nruns_at_once = 2\n'


@cache
def big_trays() -> Checklist:
    """The oven holds four places; a tray takes three of them."""
    return edited((OVEN, 'kind = "oven"\nruns_at_once = 4\ncarrier_places = { tray = 3 }\n'))


@pytest.fixture
def bench() -> Bench:
    """Two trays of pieces that are through the cut, each ready for the oven."""
    bench = open_bench(big_trays, start=12, order=12)
    for _ in range(3):
        load = bench.form(10)
        bench.through(load, 10, 20, 30)
    bench.form(40)
    bench.form(40)
    bench.clock.forward(48 * 3600)
    return bench


def trays(bench: Bench) -> list[int]:
    return [load.number for load in bench.state.live_loads() if load.carrier == "tray"]


def test_a_load_that_does_not_fit_beside_another_is_refused_with_the_figures(bench: Bench) -> None:
    first, second = trays(bench)
    bench.begin(first)
    refused = bench.refused(BeginRun(second, anyway=True))
    assert refused.why == "busy"
    assert refused.wrong == f"Tray 2 takes 3 places, and Oven has 1 of 4 free beside Tray 1 (load {first}) at op 40"
    due = next(due for due in next_up([bench.state], bench.clock()) if due.load == second)
    assert (due.urgency, due.what) == ("blocked", refused.wrong.removesuffix(" at op 40"))


def test_places_that_another_batch_takes_count(bench: Bench) -> None:
    first = trays(bench)[0]
    bench.elsewhere = Elsewhere({"oven": ("Rack 1 (load 2) of B0002",)}, places={"oven": 2})
    assert "Oven has 2 of 4 free beside Rack 1 (load 2) of B0002" in bench.refused(BeginRun(first, anyway=True)).wrong
    bench.elsewhere = replace(bench.elsewhere, places={"oven": 1})
    bench.begin(first)


def test_a_carrier_that_is_not_named_takes_one_place() -> None:
    bench = open_bench(lambda: edited((OVEN, 'kind = "oven"\nruns_at_once = 2\ncarrier_places = { pallet = 2 }\n')))
    bench.say(StartPieces(4))
    for _ in range(3):
        bench.through(bench.form(10), 10, 20, 30)
    bench.form(40)
    bench.form(40)
    for load in trays(bench):
        bench.begin(load)


def test_places_are_frozen_with_the_checklist_and_older_ones_have_none() -> None:
    assert frozen_checklist(freeze(big_trays())) == big_trays()
    old = freeze(big_trays())
    for station in old["stations"]:
        station.pop("carrier_places", None)
    assert frozen_checklist(old).station("oven").places_of("tray") == 1
