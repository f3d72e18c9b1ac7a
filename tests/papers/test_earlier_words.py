"""Earlier batches in words: a time that no figure stands on is told, and why."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import replace

import pytest

from floor.batch.earlier import EarlierTold
from floor.batch.quality.batch_facts import EarlierBatches, TimedPart
from floor.batch.quality.run_times import RunPart
from floor.figures.quality.intervals import compute_exact_interval
from floor.figures.quality.missing import Missing
from floor.figures.quality.share_by_load import LoadCount, compute_share_by_load
from floor.papers.earlier_batches import (
    WHY_LONG,
    WHY_NOT_AS_LESSONS,
    EarlierReport,
    find_interval,
    find_median,
    format_short,
    list_before_and_after,
    list_more_lines,
    list_other_lines,
    list_sure_lines,
    list_time_lines,
    list_yield_lines,
)
from floor.papers.earlier_export import write_earlier_csv, write_earlier_json
from floor.planning.earlier_batches import NotUsed, study_earlier
from floor.planning.pace import Part
from tests.batch.factory import BY_HAND, edited, open_bench, part
from tests.planning.test_earlier_batches import NOW, batch_facts, op_facts


def report_times(took: Sequence[float]) -> EarlierReport:
    """Of two batches, B2 this one; B1 took 12 min."""
    earlier, own = batch_facts("B1", 30, op_facts(30, (), [720.0])), batch_facts("B2", 10, op_facts(30, (), took))
    study = study_earlier(part(), [own, earlier], NOW)
    return EarlierReport(open_bench().state, own, NOW, EarlierBatches((earlier,), (), {}, 0), study, 0.9)


def test_the_half_life_is_told_where_it_counts_with_the_name_of_its_setting() -> None:
    """A batch of 730 days counts a quarter at 365 days, and half where the shop says 730."""
    loads = (LoadCount(14, 16),)
    batches = [batch_facts("B2", 0, op_facts(30, loads)), batch_facts("B1", 730, op_facts(30, loads))]
    weights = {}
    for half_life in (365.0, 730.0):
        study = study_earlier(part(), batches, NOW, half_life=half_life)
        report = EarlierReport(open_bench().state, batches[0], NOW, EarlierBatches(), study, 0.9)
        said = " ".join(" ".join(list_yield_lines(report, 80)).split())
        assert f"a batch counts half after {half_life:.0f} days (half_life_days in shop.toml)" in said
        new, old = next(one for one in study.ops if one.op == 30).yields
        weights[half_life] = old.weight / new.weight
    assert weights == {365.0: pytest.approx(0.25), 730.0: pytest.approx(0.5)}
    assert "(half_life_days in shop.toml)" in " ".join(" ".join(write_times([600.0])).split())


def write_times(took: Sequence[float], width: int = 80) -> list[str]:
    return list_time_lines(report_times(took), width)


def test_the_start_of_the_next_order_says_why_the_lessons_start_another_only_where_there_is_one() -> None:
    assert WHY_NOT_AS_LESSONS in " ".join(" ".join(list_sure_lines(report_times([600.0]), 80)).split())
    report = report_times([600.0])
    nothing = replace(report, study=replace(report.study, told=None))
    assert "Lessons" not in " ".join(list_sure_lines(nothing, 80))


def test_times_too_far_off_are_told_and_no_others() -> None:
    """4 pieces state 8 min of cycle at op 30."""
    assert not any("not counted" in line for line in write_times([600.0]))
    lines = write_times([600.0, 6000.0])
    (said,) = [n for n, line in enumerate(lines) if "not counted" in line]
    assert " ".join(" ".join(lines[said : said + 2]).split()) == (
        "· this one: 1 time not counted, outside 0.25 to 4 x stated: entered later, it seems"
    )
    assert all(len(line) <= 80 for line in lines)
    only = " ".join(" ".join(write_times([6000.0, 7000.0])).split())
    assert "this one: 2 times not counted" in only
    assert " n/a -" in only, "it has no ratio, and counts for nothing"


def test_times_too_far_off_are_counted_in_the_data() -> None:
    report = report_times([600.0, 6000.0, 7000.0])
    rows = json.loads(write_earlier_json(report))["rows"]
    assert [(one["batch"], one["runs"], one["times_left_out"]) for one in rows if one["what"] == "cycle"] == [
        ("B2", 1, 2), ("B1", 1, 0),
    ]  # fmt: skip
    table = csv.DictReader(io.StringIO(write_earlier_csv(report)))
    assert [one["times_left_out"] for one in table] == [str(one["times_left_out"]) for one in rows]


def test_a_part_that_loses_nothing_stands_on_no_pieces() -> None:
    lines = list_before_and_after(part(), EarlierTold(batches=("B1",), yields=(), paces=()), 8, 8, 0.9, 80)
    assert [line.split()[-2:] for line in lines[1:]] == [["no", "loss"]] * 2


@pytest.mark.parametrize(("width", "names"), [(40, 12), (60, 21), (158, 44)])
def test_the_plans_are_named_in_what_is_left_beside_their_figures(width: int, names: int) -> None:
    told = EarlierTold(batches=("B1",), yields=(), paces=())
    head, *_ = list_before_and_after(part(), told, 8, 8, 0.9, width)
    assert head.index("chance") == names + len(" " + "  ")


def test_of_rework_there_is_no_yield_of_the_next_order() -> None:
    own = batch_facts("B2", 10, replace(op_facts(20, ((3, 4),)), op=14, title="Etch", cycle=False))
    study = study_earlier(edited(*BY_HAND), [own], NOW)
    report = EarlierReport(open_bench().state, own, NOW, EarlierBatches((), (), {}, 0), study, 0.9)
    head, *below = list_yield_lines(report, 80)
    assert head.startswith("op 14 Etch: checklist ")
    assert "next order" not in head
    assert " ".join(" ".join(below).split()).endswith(WHY_LONG[NotUsed.REWORK]), "and no other reason"
    assert WHY_LONG[NotUsed.OTHER_WORK][:20] not in " ".join(below)


def test_a_part_of_the_work_that_nobody_timed_is_not_named() -> None:
    heads = [line for line in write_times([600.0]) if line.startswith("op ")]
    assert [", cycle" in head for head in heads] == [True]


def test_times_of_nothing_at_all_are_no_row() -> None:
    """Start and end entered in one minute."""
    rows = [line.split()[0] for line in write_times([0.0]) if line.startswith("  ") and line.split()[0] != "batch"]
    assert rows[0] == "B1"
    assert not any("this one" in line for line in write_times([0.0]))


def test_without_earlier_batches_nothing_is_said_where_more_pieces_are_started() -> None:
    bench = open_bench()
    assert list_more_lines(bench.state, bench.clock(), 0.9, 80) == []


def test_where_nothing_is_counted_or_timed_that_is_said() -> None:
    own = batch_facts("B2", 10)
    study = study_earlier(part(), [own], NOW)
    report = EarlierReport(open_bench().state, own, NOW, EarlierBatches((), (), {}, 0), study, 0.9)
    assert list_yield_lines(report, 80) == ["Nothing has been counted yet, in this batch or an earlier one"]
    assert list_time_lines(report, 80)[0].startswith("No run ")
    assert len(list_other_lines(report, 80)) == 1, "and no other part to compare with"


def test_a_piece_that_takes_minutes_is_told_without_seconds() -> None:
    assert [format_short(seconds) for seconds in (118.0, 599.0, 600.0)] == ["1:58", "9:59", "10 min"]


def test_few_loads_cannot_tell_how_much_loads_differ() -> None:
    """Two loads, one all good and one half: the interval is that of single pieces."""
    share = compute_share_by_load([LoadCount(20, 20), LoadCount(10, 20)])
    assert not isinstance(share, Missing)
    assert find_interval(share, 2) == compute_exact_interval(30, 40) != share.interval
    assert find_interval(share, 20) == share.interval


def test_hand_work_that_no_piece_came_out_of_is_told_as_of_one() -> None:
    facts = op_facts(30, times=(TimedPart(1, RunPart.AFTER, 0, 90.0),))
    assert find_median(facts, Part.HANDS) == 90.0
    assert find_median(facts, Part.CYCLE) is None
