"""A sampling plan goes on from the lots of earlier batches: MIL-STD-105E 4.7 switches by successive lots (from memory).

What a batch would have been inspected by, had all loads been of one, is the oracle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.batch.describe import describe
from floor.batch.earlier import EarlierLots
from floor.batch.fold import fold
from floor.batch.gates.samples import describe_sample, find_next_severity, follow_lots, iter_sampled_gates
from floor.batch.quality.batch_facts import BatchFacts, JudgedLot, PlanFacts, find_what_is_sampled, gather_facts
from floor.batch.run import SampleResult
from floor.checklist.model import Checklist
from floor.figures.calendar import Calendar
from floor.figures.quality.sampling_plans import Severity
from floor.papers.sampling import list_plan_lines, list_plans
from floor.planning.earlier_lots import DELAY, find_lots_before
from tests.batch.factory import MORNING, Bench, open_bench
from tests.batch.test_samples import DEPTH, at_depth, decide, depth, enter, with_sample

PLAN = "{ aql = 2.5, reduced = true }"
NOW = MORNING + timedelta(days=200)
ALWAYS = Calendar.always("Etc/GMT-1")


def by_plan() -> Checklist:
    return with_sample(PLAN)


def judged(*outs: int, size: int = 80) -> list[SampleResult]:
    """Lots accepted on 0 out, one for each number out; ten good samples of eighty let inspection be reduced."""
    return [SampleResult(n, 200, size, 0, 1, "normal", out) for n, out in enumerate(outs, 1)]


def facts(
    name: str, lots: Sequence[SampleResult], ended: datetime, before: EarlierLots | None = None, **more: object
) -> BatchFacts:
    """A batch of the part with these lots, an hour apart, the last one then."""
    checklist = by_plan()
    bare = gather_facts(open_bench(lambda: checklist).state, ALWAYS)
    ((op, _, gate, sample),) = iter_sampled_gates(checklist)
    at = [ended - timedelta(hours=len(lots) - n) for n in range(1, len(lots) + 1)]
    plan = PlanFacts(op, find_what_is_sampled(gate, sample), tuple(map(JudgedLot, at, lots)), before)
    opened = (at[0] if at else ended) - timedelta(hours=1)
    return replace(bare, id=name, opened=opened, plans=(replace(plan, **more),))  # type: ignore[arg-type]


def stand(*batches: BatchFacts, now: datetime = NOW) -> EarlierLots | None:
    found = find_lots_before(by_plan(), batches, now)
    assert len(found) < 2
    return found[0] if found else None


def opened_after(*batches: BatchFacts, now: datetime = NOW, start: int = 60) -> Bench:
    return open_bench(by_plan, start=start, lots_before=find_lots_before(by_plan(), batches, now))


def in_force(bench: Bench) -> tuple[str, bool]:
    ((op, line, _, sample),) = iter_sampled_gates(bench.state.checklist)
    state = find_next_severity(bench.state, op, line, sample)
    return state.severity.value, state.discontinued


def test_a_batch_after_two_rejected_loads_starts_under_tightened_inspection_and_says_so() -> None:
    """Worked through: 8 of 20 and not 5 (Tables II-A and II-B, from memory); five loads accepted end it."""
    first = open_bench(by_plan, start=60)
    for _ in range(2):
        load = at_depth(first)
        enter(first, load, bad=1)
        decide(first, load, bad=1)
        enter(first, load)
        first.through(load)
    told = find_lots_before(by_plan(), [gather_facts(first.state, ALWAYS)], first.clock().at)
    second = open_bench(by_plan, start=120, lots_before=told)

    assert in_force(open_bench(by_plan)) == ("normal", False), "what it was before"
    assert in_force(second) == ("tightened", False)
    load = at_depth(second)
    said = describe_sample(second.state, second.run_of(load), DEPTH, depth(second, load))
    assert said == "Measure 8 of 20, tightened inspection: accept on 0 out, reject on 1"
    assert describe(second.state, second.state.entries[0]).endswith(
        "; op 10 Measure groove depth: tightened inspection, as B0001 left it"
    )
    (plan,) = list_plans(second.state)
    told_there = " ".join(line.strip() for line in list_plan_lines(second.state, plan, 80))
    assert "At the opening: op 10 Measure groove depth: tightened inspection, as B0001 left it" in told_there
    enter(second, load)
    second.through(load)
    for _ in range(4):
        load = at_depth(second)
        enter(second, load)
        second.through(load)
    assert in_force(second) == ("normal", False)
    assert fold(second.state.entries) == second.state, "the record has it"


def test_a_batch_without_earlier_lots_writes_nothing_of_them() -> None:
    assert stand() is None
    assert stand(facts("B0001", [], NOW)) is None
    bench = opened_after()
    assert "lots_before" not in bench.state.entries[0].body
    assert bench.state.lots_before == {}


@given(st.lists(st.lists(st.sampled_from([0, 0, 0, 1]), max_size=12), min_size=1, max_size=4))
def test_loads_in_several_batches_switch_as_those_of_one(outs: list[list[int]]) -> None:
    """As long as production is steady and the plan is not given up."""
    sample = next(iter_sampled_gates(by_plan()))[3]
    series = [lot for some in outs for lot in judged(*some)]
    whole, _ = follow_lots(series, sample, Severity.NORMAL)
    if any(follow_lots(series[:n], sample, Severity.NORMAL)[0].discontinued for n in range(len(series) + 1)):
        return
    batches = [facts(f"B{n}", judged(*some), NOW - timedelta(days=9 - n)) for n, some in enumerate(outs)]
    assert in_force(opened_after(*batches)) == (whole.severity.value, False)
    following = [0, 1, 0, 0, 0, 0, 0]  # and so do those after them
    before = stand(*batches)
    if before is not None:
        carried = [SampleResult(0, one.lot, one.size, one.accept, one.reject, one.severity, one.out)
                   for one in before.lots]  # fmt: skip
        for n in range(len(following) + 1):
            more = judged(*following[:n])
            assert (
                follow_lots([*carried, *more], sample, Severity(before.severity))[0]
                == follow_lots([*series, *more], sample, Severity.NORMAL)[0]
            )


@pytest.mark.parametrize(
    ("outs", "late", "severity", "lots"),
    [
        ([0] * 10, False, "reduced", 0),
        ([0] * 10, True, "normal", 0),  # 4.7.4: production was delayed
        ([0] * 8, False, "normal", 8),
        ([0] * 8, True, "normal", 0),  # and no load from before it counts toward reducing
        ([0, 1, 0, 0], True, "normal", 2),  # one rejected still counts toward tightening
        ([1, 0, 0, 0, 0], True, "normal", 0),
        ([1, 1, 0, 0], True, "tightened", 2),
    ],
)
def test_after_a_delay_nothing_is_easier_than_before_it(outs: list[int], late: bool, severity: str, lots: int) -> None:
    ended = NOW - (DELAY + timedelta(minutes=1) if late else DELAY)
    found = stand(facts("B0001", judged(*outs), ended))
    assert found is not None
    assert (found.severity, len(found.lots), found.discontinued) == (severity, lots, False)
    between = stand(facts("B0001", judged(*outs), ended), facts("B0002", judged(0), NOW))
    assert between is not None
    if late and severity == "normal":
        assert len(between.lots) == lots + 1, "a delay between two batches counts as well"


def test_a_plan_that_was_given_up_starts_again_under_tightened_inspection_and_says_why() -> None:
    """4.8: not before the cause is gone; then tightened."""
    given_up = facts("B0001", judged(1, 1, *[0, 0, 1] * 4), NOW)
    found = stand(given_up)
    assert found is not None
    assert (found.severity, found.lots, found.discontinued) == ("tightened", (), True)
    bench = opened_after(given_up)
    assert in_force(bench) == ("tightened", False)
    assert describe(bench.state, bench.state.entries[0]).endswith(
        "tightened inspection, as sampling was discontinued in B0001: make sure the cause is gone"
    )
    after = stand(given_up, facts("B0002", judged(0, 0, 0, 0, 0), NOW))
    assert after is not None
    assert (after.severity, after.discontinued, after.batches) == ("normal", False, ("B0002", "B0001"))
    idle = stand(facts("B0002", [], NOW, found))
    assert idle == found, "opened, and nothing judged: the cause is still to be seen to"


def test_lots_of_another_plan_characteristic_or_work_are_no_part_of_the_series() -> None:
    rejected = judged(1, 1)
    same = facts("B0001", rejected, NOW)
    (plan,) = same.plans
    others = [
        facts("B0001", rejected, NOW, op=20),
        facts("B0001", rejected, NOW, what=plan.what._replace(what="groove width")),
        facts("B0001", rejected, NOW, what=plan.what._replace(sample=replace(plan.what.sample, aql=4.0))),
        facts("B0001", rejected, NOW, what=plan.what._replace(limits=(("groove depth", 2.8, 3.1, "mm"),))),
        replace(same, ops={**same.ops, 10: replace(same.ops[10], title="Drill")}),
    ]
    assert [stand(one) for one in others] == [None] * len(others)
    assert stand(same) is not None


def test_what_was_before_the_oldest_batch_that_is_read_is_in_its_first_entry() -> None:
    """Only the newest batches are read; the series is older."""
    before = stand(facts("B0001", judged(1, 1, 0), NOW - timedelta(days=9)))
    assert before is not None
    found = stand(facts("B0002", judged(0, 0, 0, 0), NOW, before))
    assert found is not None
    assert (found.severity, found.batches) == ("normal", ("B0002",)), "the fifth accepted in a row"
    idle = stand(facts("B0002", [], NOW, before))
    assert idle is not None
    assert (idle.severity, idle.batches, len(idle.lots)) == ("tightened", ("B0001",), 1), "opened, and nothing judged"
