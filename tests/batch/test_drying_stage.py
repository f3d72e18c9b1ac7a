"""A stage of drying that a cure asks for besides its time: a test shows it, and it never replaces the time."""

from __future__ import annotations

from datetime import timedelta
from typing import get_args

import pytest

from floor.batch.describe import describe
from floor.batch.gates.commands import Prove, Waive
from floor.checklist.model import Checklist
from floor.checklist.process_gates import DryingStage
from floor.figures import drying
from tests.batch.factory import Bench, edited, open_bench

WAIT = '{ gate = "cured", clock = "cure", at = "arrive" },'
LINE = "cured 1"


def asks_for_stage() -> Checklist:
    return edited((WAIT, WAIT.replace(" }", ', stage = "dry-hard" }')))


@pytest.fixture
def cured() -> tuple[Bench, int]:
    """A pallet whose twelve hours are over."""
    bench = open_bench(asks_for_stage, start=4)
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.begin(load)
    bench.clock.until(bench.clock().at + timedelta(hours=12))
    return bench, load


def test_the_file_and_the_figures_name_the_same_stages() -> None:
    assert get_args(DryingStage) == tuple(str(one) for one in drying.DryingStage)


def test_no_test_replaces_the_time() -> None:
    bench = open_bench(asks_for_stage, start=4)
    load = bench.form(10)
    bench.through(load, 10, 20)
    run = bench.begin(load)
    refused = bench.refused(Prove(run.number, LINE, {"stage": "dry-through"}))
    assert refused.why == "gate"
    assert refused.wrong.startswith("Wait for cure: cure needs 11 h 59 more")


def test_once_the_time_is_over_the_stage_is_asked_for(cured: tuple[Bench, int]) -> None:
    bench, load = cured
    line = bench.current(load)
    assert line.verdict is not None
    assert (line.key, line.verdict.clear) == (LINE, "test for dry-hard where it will not show")
    entry = bench.prove(load, LINE, stage="Dry to touch")
    assert describe(bench.state, entry).endswith("Wait for cure: stage dry-to-touch ✕ not accepted")
    line = bench.current(load)
    assert line.verdict is not None
    assert (line.key, line.verdict.why) == (LINE, "the test shows dry-to-touch; it must be dry-hard")
    assert line.verdict.clear == "let it dry, then test again, or have a lead waive it"
    bench.prove(load, LINE, stage="dry-through")
    line = bench.line(load, LINE)
    assert line.state == "done"
    assert " · stage dry-through · AA " in line.evidence


def test_what_is_no_stage_is_refused_with_those_there_are(cured: tuple[Bench, int]) -> None:
    bench, load = cured
    refused = bench.refused(Prove(bench.run_of(load).number, LINE, {"stage": "ok"}))
    assert (refused.wrong, refused.field) == ("ok is not a drying stage", "stage")
    assert "dry-to-recoat" in refused.remedy
    bench.prove(load, LINE, stage="none")
    assert bench.current(load).key == LINE
    bench.say(Waive(bench.run_of(load).number, LINE, "the sheet allows it"), by="LL")
    assert bench.line(load, LINE).state == "waived"


def test_the_simulated_operator_tests_the_coat() -> None:
    bench = open_bench(asks_for_stage, start=4)
    load = bench.form(10)
    bench.through(load, 10, 20, 30)
