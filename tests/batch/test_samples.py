"""Every nth piece, sampling plans by load, several characteristics of a piece on one form."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.batch.events import Proved, read_if_kind
from floor.batch.fold import fold
from floor.batch.gates.decide_out_of_limits import DecideBefore
from floor.batch.gates.measured_pieces import choose_measured_pieces
from floor.batch.gates.out_of_limits import find_suspect_of, say_open
from floor.batch.gates.samples import _judge_lots, describe_sample, find_sample_size, find_severity, plan_sample
from floor.batch.quality.measured_values import list_measured_values
from floor.batch.run import SampleResult
from floor.checklist.gates import ByPlan, Measured
from floor.checklist.model import Checklist
from floor.figures.quality.sampling_plans import Severity, find_inspection_state
from tests.batch.factory import Bench, conserved, decide_out, edited, measure_again, open_bench

DEPTH = "measured 1"
WAS = 'high = "3.1 mm", sample = 2'
ROOMY = (
    "capacity = 4\nrows = 2\ncolumns = 2\ncount = 3",
    "capacity = 20\nrows = 4\ncolumns = 5\ncount = 20",
)
"""Pallets of twenty: code letter C at level II, and of level III letter D (MIL-STD-105E, Table I)."""
LASTING = ('life = "60 min"', 'life = "6000 min"')
"""A tool that lasts for more than one load of twenty."""


def with_sample(sample: str, *more: tuple[str, str]) -> Checklist:
    return edited(ROOMY, LASTING, (WAS, f'high = "3.1 mm", sample = {sample}'), *more)


def at_depth(bench: Bench, count: int | None = None) -> int:
    load = bench.form(10, count)
    bench.until(load, DEPTH)
    return load


def depth(bench: Bench, load: int) -> Measured:
    gate = bench.state.find_operation(bench.run_of(load)).step(DEPTH)
    assert isinstance(gate, Measured)
    return gate


def places(bench: Bench, load: int) -> list[str]:
    run, gate = bench.run_of(load), depth(bench, load)
    chosen = choose_measured_pieces(bench.state, run, DEPTH, gate)
    assert len(chosen) == find_sample_size(bench.state, run, DEPTH, gate)
    return [bench.state.format_slot(bench.state.loads[load], piece) for piece in chosen]


def enter(bench: Bench, load: int, bad: int = 0) -> None:
    """Measure the sample, or all that is asked for; the first so many are too deep."""
    many = len(places(bench, load))
    values = [3.3] * bad + [3.0] * (many - bad)
    bench.prove(load, DEPTH, value=values if many > 1 else values[0])


def decide(bench: Bench, load: int, bad: int) -> None:
    """Each of the last reading's bad ones is scrap."""
    seq = max(bench.state.out)
    one = bench.state.out[seq]
    there = [piece for piece in one.pieces[:bad] if piece not in one.named]
    named = tuple(bench.state.format_slot(bench.state.loads[load], piece) for piece in there)
    bench.say(decide_out(bench.state, seq, "deep", positions=named))


# --- every so many pieces ---------------------------------------------------------------------------------------


def test_one_in_so_many_is_counted_on_from_load_to_load() -> None:
    """By hand: loads of 20, 14, 20 and one in 16: pieces 16, 32, 48 of the operation."""
    bench = open_bench(lambda: with_sample("{ every = 16 }"), start=60)
    asked = []
    for count in (20, 14, 20):
        load = bench.form(10, count)
        run = bench.begin(load)
        asked.append(places(bench, load))
        assert find_sample_size(bench.state, run, DEPTH, depth(bench, load)) == len(asked[-1])
        bench.through(load)
    assert [len(some) for some in asked] == [1, 1, 1]
    assert asked[0] == ["D1"]  # the 16th of five to a row


def test_a_load_of_which_none_is_due_passes_and_says_when_the_next_is() -> None:
    bench = open_bench(lambda: with_sample("{ every = 30 }"), start=60)
    load = bench.form(10, 20)
    bench.until(load, "first piece accepted 1")
    assert places(bench, load) == []
    line = bench.line(load, DEPTH)
    assert line.verdict is not None
    assert line.verdict.status == "met"
    assert line.verdict.evidence == "none of these pieces is due: one in every 30 pieces, next piece 30"
    bench.through(load)
    other = at_depth(bench, 20)
    assert len(places(bench, other)) == 1


@settings(max_examples=10, deadline=None)
@given(every=st.integers(2, 45), sizes=st.lists(st.integers(1, 20), min_size=1, max_size=6))
def test_after_any_loads_as_many_are_asked_for_as_the_count_says(every: int, sizes: list[int]) -> None:
    """The number follows from counting alone: after n pieces, n // every of them."""
    bench, gone, asked = open_bench(lambda: with_sample(f"{{ every = {every} }}"), start=sum(sizes)), 0, 0
    for size in sizes:
        load = bench.form(10, size)
        bench.begin(load)
        gone, asked = gone + size, asked + len(places(bench, load))
        assert asked == gone // every
        bench.through(load)


# --- by a plan --------------------------------------------------------------------------------------------------


def test_a_plan_takes_as_many_as_its_table_says_and_accepts_a_good_sample() -> None:
    """MIL-STD-105E, Tables I and II-A: a lot of 20 is letter C at level II; at AQL 2.5 the arrow leads to 5, 0/1."""
    bench = open_bench(lambda: with_sample("{ aql = 2.5 }"), start=40)
    load = at_depth(bench)
    assert len(places(bench, load)) == 5
    run, gate = bench.run_of(load), depth(bench, load)
    said = describe_sample(bench.state, run, DEPTH, gate)
    assert said == "Measure 5 of 20: accept on 0 out, reject on 1"
    enter(bench, load)
    line = bench.line(load, DEPTH)
    assert line.is_satisfied
    assert line.verdict is not None
    assert line.verdict.evidence.endswith(" · 5 of 20 sampled, 0 out, accepted")
    proved = read_if_kind(bench.state.entries[-1], Proved)
    assert proved is not None
    assert proved.sampled is not None
    assert (proved.sampled.lot, proved.sampled.size, proved.sampled.accept, proved.sampled.reject) == (20, 5, 0, 1)


def test_a_load_that_is_not_accepted_is_measured_to_its_last_piece() -> None:
    bench = open_bench(lambda: with_sample("{ aql = 2.5 }"), start=20)
    load = at_depth(bench)
    sample = places(bench, load)
    enter(bench, load, bad=1)
    assert bench.line(load, DEPTH).verdict.decide  # type: ignore[union-attr]
    decide(bench, load, 1)
    line = bench.line(load, DEPTH)
    assert not line.is_satisfied
    assert line.verdict is not None
    assert line.verdict.why == "1 of 5 out of limits, 0 allowed: the load is rejected"
    assert len(places(bench, load)) == 19
    assert places(bench, load)[:4] == sample[1:], "what was measured stands first, with its value"
    enter(bench, load, bad=0)
    line = bench.line(load, DEPTH)
    assert line.is_satisfied
    assert "rejected: every piece measured" in line.verdict.evidence  # type: ignore[union-attr]
    (values,) = [some for shape, some in list_measured_values(bench.state).items() if shape.what == "groove depth"]
    assert len(values) == 20, "each piece once: what stood in the form is no second reading"
    assert len({one.place for one in values}) == 20
    conserved(bench.state)
    assert fold(bench.state.entries, checklist=bench.state.checklist) == bench.state


def test_an_accepted_sample_with_a_bad_piece_asks_only_what_becomes_of_it() -> None:
    """Lot of 20 at AQL 10, level II, letter C: 5 pieces, 1 accepted, 2 not (Table II-A, from memory)."""
    bench = open_bench(lambda: with_sample("{ aql = 10.0 }"), start=20)
    load = at_depth(bench)
    assert len(places(bench, load)) == 5
    enter(bench, load, bad=1)
    decide(bench, load, 1)
    assert bench.line(load, DEPTH).is_satisfied
    assert not bench.state.list_open_out_of_limits(), "those not sampled were accepted with it"


def test_two_of_five_loads_not_accepted_tighten_the_plan_and_five_good_ones_loosen_it() -> None:
    """MIL-STD-105E 4.7; tightened, letter C at AQL 2.5 leads to 8 pieces, 0/1 (Table II-B, from memory)."""
    bench = open_bench(lambda: with_sample("{ aql = 2.5 }"), start=240)
    sizes, severities = [], []
    for n in range(9):
        load = at_depth(bench)
        run, gate = bench.run_of(load), depth(bench, load)
        assert isinstance(gate.sample, ByPlan)
        severities.append(find_severity(bench.state, run, DEPTH, gate.sample).severity.value)
        sizes.append(len(places(bench, load)))
        bad = int(n in (0, 2))
        enter(bench, load, bad)
        if bad:
            decide(bench, load, 1)
            enter(bench, load)
        bench.through(load)
    assert severities == ["normal"] * 3 + ["tightened"] * 5 + ["normal"]
    assert sizes == [5, 5, 5, 8, 8, 8, 8, 8, 5]


def test_a_small_load_is_measured_whole_and_needs_no_sorting() -> None:
    bench = open_bench(lambda: with_sample("{ aql = 1.0 }"), start=8)
    load = at_depth(bench, 8)
    assert len(places(bench, load)) == 8
    assert describe_sample(bench.state, bench.run_of(load), DEPTH, depth(bench, load)) == "Measure 8 of 8"
    enter(bench, load, bad=1)
    decide(bench, load, 1)
    assert bench.line(load, DEPTH).is_satisfied


def test_a_bad_piece_measured_again_and_good_takes_the_load_back_to_accepted() -> None:
    bench = open_bench(lambda: with_sample("{ aql = 2.5 }"), start=20)
    load = at_depth(bench)
    enter(bench, load, bad=1)
    bench.say(measure_again(bench.state, max(bench.state.out), "3.02", "dirty gauge"))
    line = bench.line(load, DEPTH)
    assert line.is_satisfied
    assert "0 out, accepted" in line.verdict.evidence  # type: ignore[union-attr]


def test_struck_out_a_rejected_load_is_sampled_anew() -> None:
    from floor.batch.corrections.commands import StrikeOut

    bench = open_bench(lambda: with_sample("{ aql = 2.5 }"), start=20)
    load = at_depth(bench)
    enter(bench, load, bad=1)
    bench.say(StrikeOut(bench.state.entries[-1].seq, "typed wrong"))
    assert len(places(bench, load)) == 5
    assert not bench.run_of(load).samples


def judged(outs: list[int], size: int = 100, accept: int = 0, reject: int = 1) -> list[SampleResult]:
    return [SampleResult(n, 1000, size, accept, reject, "normal", out) for n, out in enumerate(outs)]


@pytest.mark.parametrize(
    ("outs", "size", "asked_for", "severity"),
    [
        ([0] * 10, 100, True, Severity.REDUCED),
        ([0] * 10, 100, False, Severity.NORMAL),
        ([0] * 10, 10, True, Severity.NORMAL),
        ([0] * 9, 100, True, Severity.NORMAL),
        ([0] * 9 + [1] + [0] * 9, 100, True, Severity.NORMAL),
    ],
)
def test_ten_good_loads_reduce_only_where_the_checklist_says_so_and_they_were_enough(
    outs: list[int], size: int, asked_for: bool, severity: Severity
) -> None:
    """MIL-STD-105E 4.7.3: wanted, ten in a row accepted, few enough bad; 2 % bad would show in ten samples of 100."""
    sample = ByPlan(aql=1.0, reduced=asked_for)
    assert find_inspection_state(_judge_lots(judged(outs, size), sample)).severity is severity


def test_between_accept_and_reject_a_reduced_sample_accepts_and_ends_reduced_inspection() -> None:
    """MIL-STD-105E 4.7.4; plan 8, 0/2 of Table II-C."""
    lots = [*judged([0] * 10), *judged([1], 8, 0, 2)]
    assert not lots[-1].is_rejected
    sample = ByPlan(aql=2.5, reduced=True)
    assert find_inspection_state(_judge_lots(lots[:-1], sample)).severity is Severity.REDUCED
    assert find_inspection_state(_judge_lots(lots, sample)).severity is Severity.NORMAL


def test_after_ten_loads_on_tightened_inspection_every_piece_is_measured() -> None:
    """MIL-STD-105E 4.7.5 as in edition D: two rejected, then ten that never were five good ones in a row."""
    bench = open_bench(lambda: with_sample("{ aql = 2.5 }"), start=20)
    load = at_depth(bench)
    run, sample = bench.run_of(load), depth(bench, load).sample
    assert isinstance(sample, ByPlan)
    for n, taken in enumerate(judged([1, 1] + [0, 1] * 5)):
        bench.state.runs[n - 12] = replace(run, number=n - 12, samples={DEPTH: taken})
    assert find_severity(bench.state, run, DEPTH, sample).discontinued
    assert plan_sample(bench.state, run, DEPTH, sample).size == 20
    del bench.state.runs[-1]
    assert plan_sample(bench.state, run, DEPTH, sample).size == 8, "tightened still"


def test_a_load_in_rework_counts_in_no_series() -> None:
    """MIL-STD-105E 4.7: lots inspected again do not count."""
    bench = open_bench(lambda: with_sample("{ aql = 2.5 }"), start=20)
    load = at_depth(bench)
    run, sample = bench.run_of(load), depth(bench, load).sample
    assert isinstance(sample, ByPlan)
    for rework, severity in (("", Severity.TIGHTENED), ("touch up", Severity.NORMAL)):
        for n, taken in enumerate(judged([1, 1])):
            bench.state.runs[n - 2] = replace(run, number=n - 2, rework=rework, samples={DEPTH: taken})
        assert find_severity(bench.state, run, DEPTH, sample).severity is severity


# --- several characteristics ------------------------------------------------------------------------------------

SEVERAL = (
    'gate = "measured", what = "groove depth", low = "2.9 mm", high = "3.1 mm", sample = 2',
    'gate = "measured", what = "the groove", sample = 2, characteristics = ['
    '{ what = "depth", number = 4, low = "2.9 mm", high = "3.1 mm", gauge = "Depth gauge", serial = true }, '
    '{ what = "width", number = 5, low = "5.9 mm", high = "6.1 mm", gauge = "Caliper" }, '
    '{ what = "no-go pin", accept = "does not go in" }]',
)


def enter_groove(bench: Bench, load: int, **change: Any) -> int:
    values: dict[str, Any] = {
        "value 1": ["3.0", "3.05"], "value 2": ["6", "6.02"], "value 3": ["yes", "y"], "gauge 1": "DG-1"
    } | change  # fmt: skip
    return bench.prove(load, DEPTH, **values).seq


@pytest.fixture
def several() -> Bench:
    return open_bench(lambda: edited(SEVERAL))


def test_each_value_of_each_piece_is_kept_with_its_piece(several: Bench) -> None:
    load = at_depth(several)
    there = places(several, load)
    enter_groove(several, load)
    found = {shape.what: [(one.place, one.value) for one in some]
             for shape, some in list_measured_values(several.state).items()}  # fmt: skip
    assert found["depth"] == list(zip(there, [3.0, 3.05], strict=True))
    assert found["width"] == list(zip(there, [6.0, 6.02], strict=True))
    assert several.line(load, DEPTH).is_satisfied


@pytest.mark.parametrize(
    "change", [{"value 2": ["6", "6.3"]}, {"value 3": ["yes", "no"]}, {"value 1": ["3", "3.3"], "value 2": ["6", "9"]}]
)
def test_a_piece_is_out_by_any_of_them_and_counts_once(several: Bench, change: dict[str, list[str]]) -> None:
    load = at_depth(several)
    second = places(several, load)[1]
    one = several.state.out[enter_groove(several, load, **change)]
    assert one.many == 1
    several.say(decide_out(several.state, one.seq, "deep", positions=(second,)))
    assert several.state.out[one.seq].left == 0


def test_a_value_measured_again_leaves_the_piece_out_for_its_other_one(several: Bench) -> None:
    load = at_depth(several)
    seq = enter_groove(several, load, **{"value 1": ["3.3", "3"], "value 2": ["7", "6"]})
    several.say(measure_again(several.state, seq, "3.01", "dirty gauge"))
    assert several.state.out[seq].many == 1
    several.say(measure_again(several.state, seq, "6.01", "dirty gauge"), by="LL")
    assert several.state.out[seq].many == 0
    assert several.line(load, DEPTH).is_satisfied


def test_a_value_read_again_is_never_that_of_a_piece_decided_on(several: Bench) -> None:
    load = at_depth(several)
    first, _ = places(several, load)
    seq = enter_groove(several, load, **{"value 1": ["3.3", "3.4"]})
    several.say(decide_out(several.state, seq, "deep", positions=(first,)))
    several.say(measure_again(several.state, seq, "3.01", "burr"))
    proof = several.state.proofs[several.state.out[seq].key]
    assert proof.values["value 1"] == [3.3, 3.01]
    assert several.state.out[seq].left == 0


# --- what is said of each piece ---------------------------------------------------------------------------------


def test_each_piece_is_told_by_its_own_fault_alone(several: Bench) -> None:
    load = at_depth(several)
    first, second = places(several, load)
    seq = enter_groove(several, load, **{"value 1": ["3.3", "3"], "value 3": ["yes", "no"]})
    one = several.state.out[seq]
    told = say_open(several.state, one)
    assert f"{first}: depth 3.3, must be 2.9 to 3.1 mm; {second}: no-go pin no, must be yes" in told
    several.say(decide_out(several.state, seq, "deep", positions=(first,)))
    assert f"{second}: no-go pin no" in say_open(several.state, one)
    assert "depth 3.3" not in say_open(several.state, one)
    several.say(decide_out(several.state, seq, positions=(second,)))
    notes = {mark.pieces: mark.note for mark in several.run_of(load).decided.values()}
    assert sorted(notes.values()) == ["depth 3.3, must be 2.9 to 3.1 mm (AA)", "no-go pin no, must be yes (AA)"]


def test_two_pieces_mixed_up_change_their_values(several: Bench) -> None:
    load = at_depth(several)
    first, second = places(several, load)
    seq = enter_groove(several, load, **{"value 1": ["3.3", "3"]})
    several.say(decide_out(several.state, seq, "deep", positions=(second,)))
    one = several.state.out[seq]
    assert [several.state.format_slot(several.state.loads[load], piece) for piece in one.pieces] == [second, first]
    (mark,) = several.run_of(load).decided.values()
    assert mark.note == "depth 3.3, must be 2.9 to 3.1 mm (AA)"


def test_a_piece_that_was_not_asked_for_has_the_fault_entered_in_its_stead(several: Bench) -> None:
    load = at_depth(several)
    asked = places(several, load)
    other = next(place for place in ("A1", "A2", "B1", "B2") if place not in asked)
    seq = enter_groove(several, load, **{"value 1": ["3.3", "3"], "value 3": ["yes", "no"]})
    several.say(decide_out(several.state, seq, "deep", positions=(other,)))
    (mark,) = set(several.run_of(load).decided.values())
    assert mark.note == "depth 3.3, must be 2.9 to 3.1 mm (AA)"
    assert several.state.out[seq].left == 1


@pytest.mark.parametrize(
    ("read", "before", "after"),
    [
        (["3", "3.3", "3"], [11, 10, 9, 8, 7], [13, 14, 15, 16, 17]),
        (["3.3", "3", "3"], [5, 4, 3, 2, 1], [7, 8, 9, 10, 11]),
        (["3", "3.3", "3.3"], [17, 16, 15, 14, 13, 11, 10, 9, 8, 7], [19, 20]),
        (["3.3", "3", "3.3"], [17, 16, 15, 14, 13, 5, 4, 3, 2, 1], [7, 8, 9, 10, 11, 19, 20]),
        (["3.3", "3.3", "3.3"], [*range(17, 12, -1), *range(11, 6, -1), *range(5, 0, -1)], [19, 20]),
    ],
)
def test_those_between_a_bad_one_and_the_good_ones_beside_it_are_suspect(
    read: list[str], before: list[int], after: list[int]
) -> None:
    """Twenty in order, one in six: pieces 6, 12, 18. Those made before a bad one come first, the last made first; then
    those that were made after it when it was measured.
    """
    bench = open_bench(lambda: with_sample("{ every = 6 }"), start=20)
    load = at_depth(bench)
    run, gate = bench.run_of(load), depth(bench, load)
    measured = choose_measured_pieces(bench.state, run, DEPTH, gate)
    seq = bench.prove(load, DEPTH, value=read).seq
    assert bench.state.out[seq].before == len(before) + len(after)
    bad = [piece for piece, value in zip(measured, read, strict=True) if value == "3.3"]
    for piece in bad:
        bench.say(
            decide_out(bench.state, seq, "deep", positions=(bench.state.format_slot(bench.state.loads[load], piece),))
        )
    suspect = find_suspect_of(bench.state, bench.state.out[seq])
    order = {piece: n for n, piece in enumerate(bench.state.loads[load].pieces, 1)}
    assert ([order[one] for one in suspect.before], [order[one] for one in suspect.after]) == (before, after)
    held = len(bad) + 3
    bench.say(DecideBefore(seq, 3, "made before the cause came up"), by="LL")
    assert len(bench.run_of(load).decided) == held
    assert {order[one] for one in bench.run_of(load).decided if one not in bad} == set(before[:3])


def test_the_form_says_which_pieces_are_measured_and_how_many_are_left() -> None:
    bench = open_bench(lambda: with_sample("{ every = 6 }"), start=20)
    load = at_depth(bench)
    said = describe_sample(bench.state, bench.run_of(load), DEPTH, depth(bench, load))
    assert said == "Measure 1 of every 6 pieces made here, counted on from load to load"

    bench = open_bench(lambda: with_sample("{ aql = 2.5 }"), start=20)
    load = at_depth(bench)
    seq = bench.prove(load, DEPTH, value=["3.3", *["3"] * 4]).seq
    place = bench.state.format_slot(bench.state.loads[load], bench.state.out[seq].pieces[0])
    bench.say(decide_out(bench.state, seq, "deep", (place,)))
    said = describe_sample(bench.state, bench.run_of(load), DEPTH, depth(bench, load))
    assert said == "Load rejected on its sample: measure the other 15", "20, one out and decided on, four good"


def test_a_bad_value_corrected_puts_no_piece_in_doubt() -> None:
    bench = open_bench(lambda: with_sample("{ every = 6 }"), start=20)
    load = at_depth(bench)
    seq = bench.prove(load, DEPTH, value=["3.3", "3", "33"]).seq
    bench.say(decide_out(bench.state, seq, "deep", positions=(bench.state.format_slot(bench.state.loads[load], 6),)))
    bench.say(measure_again(bench.state, seq, "3.03", "typed wrong", corrects=True))
    suspect = find_suspect_of(bench.state, bench.state.out[seq])
    assert suspect.before == (5, 4, 3, 2, 1)
    assert suspect.after == (7, 8, 9, 10, 11)
    assert "10 pieces made since the last good check" in bench.current(load).verdict.why  # type: ignore[union-attr]
