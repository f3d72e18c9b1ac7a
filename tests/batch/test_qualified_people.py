"""SAF-65: who sprays is trained and under health surveillance (HSE, COSHH essentials MR2, from memory)."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from functools import partial

import pytest

from floor.batch.command import Command, OtherBatches
from floor.batch.corrections.from_paper import TranscribeAct
from floor.batch.counting.commands import CountRun
from floor.batch.gates.commands import Prove, Waive
from floor.batch.qualification import Qualification, Qualified, fold_qualification, list_states
from floor.batch.walk.commands import BeginRun, DoStep, EndCycle, Release, SkipStep, StartCycle
from tests.batch.factory import MORNING, Bench, edited, open_bench

ASKS = ('name = "Mill"\noffsets', 'name = "Mill"\nqualified = ["Spray painting", "health surveillance"]\noffsets')
TODAY = MORNING.date()
PAINTING, HEALTH = "spray  painting", "Health surveillance"


def known(until: date, *who: str, withdrawn: str = "") -> Qualified:
    taken = MORNING if withdrawn else None
    return {
        one: {
            fold_qualification(PAINTING): (Qualification(PAINTING, TODAY, TODAY + timedelta(300), "LL"),),
            fold_qualification(HEALTH): (Qualification(HEALTH, TODAY, until, "LL", withdrawn, taken),),
        }
        for one in who
    }


@pytest.fixture
def bench() -> Bench:
    bench = open_bench(partial(edited, ASKS))
    bench.elsewhere = OtherBatches(qualified=known(TODAY, "AA"))
    return bench


def lapse(bench: Bench) -> None:
    bench.elsewhere = OtherBatches(qualified=known(TODAY - timedelta(1), "AA"))


def test_nobody_starts_there_without_all_that_the_station_asks_for(bench: Bench) -> None:
    load = bench.form(10)
    refused = bench.refused(BeginRun(load), "BB")
    assert (refused.why, refused.wrong) == (
        "authority",
        "Mill: BB is not in the register as qualified for Spray painting; "
        "BB is not in the register as qualified for health surveillance",
    )
    assert refused.remedy == "AA may do it; or a lead enters the renewal (c on What next, people)"
    lapse(bench)
    refused = bench.refused(BeginRun(load))
    assert refused.wrong == "Mill: health surveillance of AA lapsed on 2026-03-01"
    assert refused.remedy.startswith("nobody in the register may do it")
    bench.elsewhere = OtherBatches(qualified=known(TODAY, "AA"))
    assert bench.say(BeginRun(load, anyway=True)), "the last day counts"


ACTS: dict[str, list[Callable[[int], Command]]] = {
    "load step 1": [
        lambda run: DoStep(run, "load step 1"),
        lambda run: SkipStep(run, "load step 1", "done already"),
    ],
    "confirmed 1": [lambda run: Prove(run, "confirmed 1")],
    "start": [StartCycle],
}


@pytest.mark.parametrize("line", ACTS)
def test_what_lapsed_holds_each_act_there_and_a_lead_renews_it(bench: Bench, line: str) -> None:
    load = bench.form(10)
    bench.until(load, line)
    run = bench.run_of(load).number
    lapse(bench)
    for act in ACTS[line]:
        assert bench.refused(act(run)).wrong == "Mill: health surveillance of AA lapsed on 2026-03-01"
    bench.elsewhere = OtherBatches(qualified=known(TODAY, "AA"))
    assert bench.say(ACTS[line][0](run))


def test_what_only_ends_and_counts_is_done_by_anybody_and_a_lead_still_decides(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "program loaded 1")
    assert bench.say(Waive(bench.run_of(load).number, "program loaded 1", "loaded by hand"), "LL")
    bench.until(load, "end")
    lapse(bench)
    run = bench.run_of(load).number
    assert bench.say(EndCycle(run), "CC")
    bench.elsewhere = OtherBatches(qualified=known(TODAY, "AA"))
    bench.until(load, "count")
    lapse(bench)
    assert bench.say(CountRun(run, 4), "BB")
    assert bench.say(Release(run), "BB")


def test_an_act_from_paper_is_judged_by_its_own_day(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "load step 1")
    run, done = bench.run_of(load).number, bench.clock().at
    bench.clock.forward(24 * 3600)
    assert bench.refused(DoStep(run, "load step 1")).why == "authority"
    assert bench.say(TranscribeAct(DoStep(run, "load step 1"), done))


def test_one_that_was_withdrawn_or_holds_from_later_on_is_none(bench: Bench) -> None:
    load = bench.form(10)
    bench.elsewhere = OtherBatches(qualified=known(TODAY, "AA", withdrawn="lung test"))
    assert bench.refused(BeginRun(load)).wrong == "Mill: health surveillance of AA was withdrawn: lung test"
    later = known(TODAY + timedelta(60), "AA")
    [one] = later["AA"][fold_qualification(HEALTH)]
    first = Qualification(one.what, TODAY + timedelta(1), one.until, "LL")
    bench.elsewhere = OtherBatches(qualified={"AA": {**later["AA"], fold_qualification(HEALTH): (first,)}})
    assert bench.refused(BeginRun(load)).wrong == "Mill: health surveillance of AA holds from 2026-03-03 only"


def test_a_station_that_asks_for_nothing_takes_anybody() -> None:
    bench = open_bench()
    assert bench.say(BeginRun(bench.form(10), anyway=True))


def test_what_needs_somebody_first_stands_first() -> None:
    def one(what: str, days: int, withdrawn: str = "") -> Qualification:
        return Qualification(what, TODAY, TODAY + timedelta(days), "LL", withdrawn, MORNING if withdrawn else None)

    entries = {what: (one(what, days),) for what, days in (("a", 90), ("b", 12), ("c", -1), ("d", 31), ("e", 30))}
    entries |= {"g": (Qualification("g", TODAY, None, "LL"),)}
    entries |= {"f": (one("f", 1, "moved away"),), "a": (one("a", -5), one("a", 90))}
    assert [(found.what, said) for found, said in list_states(entries, TODAY)] == [
        ("c", "lapsed 2026-03-01"),
        ("b", "until 2026-03-14, 12 days left"),
        ("e", "until 2026-04-01, 30 days left"),
        ("d", "until 2026-04-02"),
        ("a", "until 2026-05-31"),
        ("g", "no end date"),
        ("f", "withdrawn: moved away"),
    ]
