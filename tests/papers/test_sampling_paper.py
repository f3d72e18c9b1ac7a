"""A sampling plan, drawn, with the loads it has judged."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scipy import stats

from floor.papers.sampling import list_plan_lines, list_plans
from tests.batch.factory import decide_out, open_bench, part
from tests.batch.test_samples import at_depth, enter, places, with_sample


def test_the_chance_of_acceptance_is_that_of_drawing_without_putting_back() -> None:
    """Against scipy's hypergeometric distribution; the plan is MIL-STD-105E's for a lot of 20 at AQL 2.5: 5, 0/1."""
    bench = open_bench(lambda: with_sample("{ aql = 2.5 }"), start=20)
    (plan,) = list_plans(bench.state)
    lines = list_plan_lines(bench.state, plan, 80)
    assert "Normal inspection: of a full load of 20, 5 pieces; accept on 0 out, reject on 1" in " ".join(
        line.strip() for line in lines
    )
    told = {line.split(" of 20 bad")[0].strip(): line.split()[-2] for line in lines if " of 20 bad" in line}
    assert told == {str(bad): f"{100 * stats.hypergeom.cdf(0, 20, bad, 5):.0f}" for bad in (0, 1, 2, 3, 4, 6, 10)}
    assert all(len(line) <= 80 for line in lines)


def test_each_load_that_was_judged_is_told() -> None:
    """Not what was measured again after rework, nor another operation."""
    bench = open_bench(lambda: with_sample("{ aql = 2.5 }"), start=40)
    good = at_depth(bench)
    enter(bench, good)
    bench.through(good)
    bad = at_depth(bench)
    seq = (enter(bench, bad, bad=1), max(bench.state.out))[1]
    bench.say(decide_out(bench.state, seq, "deep", positions=(places(bench, bad)[0],)))
    other = replace(bench.state.runs[1], op=20)
    unmeasured = replace(bench.state.runs[1], samples={})
    again = replace(bench.state.runs[1], rework="touch up")
    bench.state.runs |= {97: again, 98: other, 99: unmeasured}
    (plan,) = list_plans(bench.state)
    assert list_plan_lines(bench.state, plan, 80)[-3:] == [
        "Loads judged: 2",
        "  load 1: normal, 5 of 20 measured, 0 out, accepted",
        "  load 2: normal, 5 of 20 measured, 1 out, rejected",
    ]


@pytest.mark.parametrize(("sample", "plans"), [("2", 0), ("{ every = 5 }", 0), ("{ aql = 1.0 }", 1)])
def test_only_plans_have_a_page(sample: str, plans: int) -> None:
    bench = open_bench(lambda: with_sample(sample) if plans or sample != "2" else part(), start=4)
    assert len(list_plans(bench.state)) == plans


def test_a_load_that_is_measured_whole_has_no_curve() -> None:
    bench = open_bench(lambda: with_sample('{ aql = 0.65, level = "III" }'), start=4)
    (plan,) = list_plans(bench.state)
    lines = list_plan_lines(bench.state, plan, 80)
    assert any("A full load of 20 is measured to its last piece" in line for line in lines)
    assert not any("Chance" in line for line in lines)


def test_the_page_shows_the_plan_that_is_in_force() -> None:
    """After two loads not accepted, tightened: 8 of 20, 0/1 (MIL-STD-105E, Table II-B, from memory)."""
    bench = open_bench(lambda: with_sample("{ aql = 2.5 }"), start=60)
    for _ in range(2):
        load = at_depth(bench)
        enter(bench, load, bad=1)
        bench.say(decide_out(bench.state, max(bench.state.out), "deep", positions=(places(bench, load)[0],)))
        enter(bench, load)
        bench.through(load)
    (plan,) = list_plans(bench.state)
    told = " ".join(line.strip() for line in list_plan_lines(bench.state, plan, 80))
    assert "Tightened inspection: of a full load of 20, 8 pieces" in told
    assert f"{100 * stats.hypergeom.cdf(0, 20, 1, 8):.0f} %" in told
