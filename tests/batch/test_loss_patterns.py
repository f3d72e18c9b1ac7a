"""Where the losses come from: a planted cause is named, and without one nothing is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import time, timedelta, timezone

import pytest

from floor.batch.counting.commands import CountRun, MarkedPieces
from floor.batch.quality.loss_causes import LossPath
from floor.batch.quality.loss_patterns import FactorKind, LossStudy, study_losses
from floor.batch.state import Batch
from floor.batch.walk.commands import Release
from floor.figures.calendar import Calendar, Shift
from floor.figures.quality.missing import Missing
from floor.figures.quality.suspects import SuspectKind
from floor.papers.losses import list_cause_lines, list_path_lines, list_reason_lines, list_verdict_lines
from tests.batch.factory import edited, open_bench

MILLED = LossPath(10, 10)
MANY_PALLETS = (
    (
        'kind = "pallet"\ncapacity = 4\nrows = 2\ncolumns = 2\ncount = 3',
        'kind = "pallet"\ncapacity = 4\nrows = 2\ncolumns = 2\ncount = 30',
    ),
)


def milled(loads: int, bad: Callable[[int], tuple[str, ...]]) -> Batch:
    """So many pallets through the mill, each with these places lost."""
    bench = open_bench(lambda: edited(*MANY_PALLETS), start=4 * loads)
    for n in range(loads):
        load = bench.form(10)
        bench.until(load, "count")
        places = bad(n)
        marks = (MarkedPieces("deep", places),) if places else ()
        bench.say(CountRun(bench.run_of(load).number, 4 - len(places), marks))
        bench.say(Release(bench.run_of(load).number))
    return bench.state


def two_shifts(people: Callable[[int], str], bad: Callable[[int], int]) -> Batch:
    """Twenty pallets through the mill, in the morning and in the evening by turns."""
    bench = open_bench(lambda: edited(*MANY_PALLETS), start=80)
    for n in range(20):
        who, lost = people(n), bad(n)
        bench.clock.step(((9, 19)[n % 2] - bench.clock().at.hour) % 24 * 3600)
        load = bench.form(10)
        bench.hand(who, "CC").work(load, stop=lambda line: line.key == "count")
        marks = (MarkedPieces("deep", ("A1", "B2", "A2")[:lost]),) if lost else ()
        bench.say(CountRun(bench.run_of(load).number, 4 - lost, marks), who)
        bench.say(Release(bench.run_of(load).number), who)
    return bench.state


EARLY_AND_LATE = Calendar(
    timezone(timedelta(hours=1)),
    tuple(Shift(day, time(start), time(end)) for day in range(7) for start, end in ((6, 14), (14, 22))),
)


def test_the_shop_s_own_shift_that_loses_is_named() -> None:
    """Both people work both shifts."""
    batch = two_shifts(lambda n: ("AA", "BB")[n // 2 % 2], lambda n: 3 * (n % 2))
    study = study_losses(batch, EARLY_AND_LATE)
    said = list_verdict_lines(batch, study, 200)
    assert said[0].startswith("✕ Shift 14:00 to 22:00, op 10 Mill the groove: 27 of 36 lost, 13.5 expected; unlikely ")
    assert len(said) == 1
    one_shift = Calendar.weekly(timezone(timedelta(hours=1)), range(7), time(6), time(22))
    for calendar in (None, one_shift):
        assert FactorKind.SHIFT not in {one.kind for one in study_losses(batch, calendar).factors.values()}


def test_that_people_differ_is_told_without_a_name_or_a_count() -> None:
    """BB works every other morning and evening and loses three of four."""
    batch = two_shifts(lambda n: ("AA", "BB")[n // 2 % 2], lambda n: 3 * (n // 2 % 2))
    study = study_losses(batch, EARLY_AND_LATE)
    assert named(study) == [(SuspectKind.PEOPLE, ())]
    (said,) = list_verdict_lines(batch, study, 200)
    assert said.startswith("✕ Losses differ by person (unnamed), op 10 Mill the groove: unlikely by ")
    lines = [*list_verdict_lines(batch, study, 200), *list_path_lines(batch, study, MILLED, 200, 20)]
    assert any(line.startswith("✕ Losses differ by person (unnamed): p ") for line in lines)
    assert not any(who in line for line in lines for who in ("AA", "BB"))


def named(study: LossStudy) -> list[tuple[SuspectKind, tuple[object, ...]]]:
    return [(one.suspect.kind, one.suspect.where) for one in study.named]


def test_a_place_that_always_loses_is_named() -> None:
    batch = milled(12, lambda n: ("A2",))
    study = study_losses(batch)
    assert named(study) == [(SuspectKind.PLACE, ("A2",))]
    first = list_verdict_lines(batch, study, 200)[0]
    assert first.startswith("✕ Place A2, op 10 Mill the groove: ")
    assert "unlikely by chance (p below 0.001 after " in first


def test_the_order_of_loose_pieces_is_no_suspect() -> None:
    """They were numbered without anybody knowing which is which; those lost get the last numbers of each load."""
    loose = (
        'kind = "pallet"\ncapacity = 4\nrows = 2\ncolumns = 2\ncount = 3',
        'kind = "tote"\ncapacity = 4\ncount = 30',
    )
    bench = open_bench(lambda: edited(loose), start=48)
    for _ in range(12):
        load = bench.form(10)
        bench.until(load, "count")
        bench.say(CountRun(bench.run_of(load).number, 3, (MarkedPieces("deep", count=1),)))
        bench.say(Release(bench.run_of(load).number))
    study = study_losses(bench.state)
    assert study.look is not None
    assert not {one.suspect.kind for one in study.patterns} & {SuspectKind.EARLY, SuspectKind.LATE}
    placed = study_losses(milled(12, lambda n: ("B2",)))
    assert SuspectKind.LATE in {one.suspect.kind for one in placed.patterns}


def test_losses_all_over_the_pallet_name_nothing() -> None:
    places = ("A1", "A2", "B1", "B2")
    batch = milled(12, lambda n: (places[n % 4],))
    study = study_losses(batch)
    assert study.look is not None
    assert named(study) == []
    said = f"No pattern at the last look, with {study.look.count} losses (scrap, rework, held); "
    assert list_verdict_lines(batch, study, 200)[0].startswith(said)


def test_the_loads_from_which_on_losses_began_are_named() -> None:
    batch = milled(16, lambda n: ("A1", "B2", "A2")[: 2 + n % 2] if n >= 8 else ())
    study = study_losses(batch)
    assert {study.factors[one.suspect.factor].kind for one in study.named} == {FactorKind.ORDER}
    assert any("Loads from the 9th run on" in line for line in list_verdict_lines(batch, study, 200))


@pytest.mark.parametrize(("more", "said"), [
    (37, "about 37 more pieces would show a place that loses twice as many as the others"),
    (7563, "about 7600 more pieces, 158 times what was started, would show a place that loses twice as many as the"),
    (Missing.EMPTY, "no place can be told from others, as these pieces lie in none"),
    (Missing.TOO_FEW, "no load with a loss has come through its count yet"),
    (Missing.TOO_LARGE, "it would take millions of pieces to show a place that loses twice as many as the others"),
])  # fmt: skip
def test_how_many_more_pieces_it_takes_or_why_nobody_can_say(more: int | Missing, said: str) -> None:
    places = ("A1", "A2", "B1", "B2")
    batch = milled(12, lambda n: (places[n % 4],))
    study = replace(study_losses(batch), to_detect=more)
    assert f"; {said}" in list_verdict_lines(batch, study, 300)[0]


def test_before_six_losses_nothing_is_tried() -> None:
    batch = milled(5, lambda n: ("A2",))
    study = study_losses(batch)
    assert (study.look, study.patterns) == (None, ())
    assert not isinstance(study.to_detect, Missing)
    assert "No test yet: the first is made at 6 losses" in list_path_lines(batch, study, MILLED, 78, 20)


def test_no_loss_gives_an_upper_bound_and_not_zero() -> None:
    """Clopper and Pearson's one-sided bound for none of 12: 1 - 0.05^(1/12) = 22.1 %."""
    batch = milled(3, lambda n: ())
    study = study_losses(batch)
    said = " ".join(list_verdict_lines(batch, study, 200))
    assert "No piece lost of 12 pieces counted" in said
    assert "at most 22.1 % are lost at" in said
    assert list_reason_lines(batch, 78) == list_cause_lines(batch, 78) == []


def test_a_piece_counted_at_two_operations_is_one_piece_of_the_bound() -> None:
    """None of 4, at op 10 and again at op 20: 1 - 0.05^(1/4) = 52.7 %, and not that of 8."""
    bench = open_bench(start=4, order=4)
    load = bench.form(10)
    bench.through(load, 10)
    bench.through(load, 20)

    said = " ".join(list_verdict_lines(bench.state, study_losses(bench.state), 200))

    assert "4 pieces counted, each once" in said
    assert "at most 52.7 %" in said


def test_a_page_shows_the_map_the_chart_and_the_suspects() -> None:
    batch = milled(14, lambda n: ("A2",) if n % 2 else ("A2", "B1"))
    study = study_losses(batch)
    lines = list_path_lines(batch, study, MILLED, 78, 24)
    assert lines[0] == "op 10 Mill the groove: 21 of 56 lost (21 scrap), 37.5 % (24.9 to 51.5 %); 14"
    assert lines[3:5] == ["A1 ·   A2 14", "B1 7   B2 ·"]
    assert any(line.startswith("mean % 37.5") for line in lines)
    assert any(line.startswith("✕ Place A2: ") for line in lines)
    assert max(map(len, lines)) <= 78


def test_the_chart_has_the_limits_of_each_load_and_names_the_rules_that_are_met() -> None:
    """NIST/SEMATECH e-Handbook 6.3.3.2: p ± 3 √(p (1 − p) / n); 20 loads of 4 and one of 2, 5 of 82 lost."""
    bench = open_bench(lambda: edited(*MANY_PALLETS), start=82)
    for n in range(21):
        load = bench.form(10, 2 if n == 0 else 4)
        bench.until(load, "count")
        places = ("A1", "A2", "B1", "B2") if n == 9 else ("A1",) if n == 1 else ()
        marks = (MarkedPieces("deep", places),) if places else ()
        pieces = len(bench.run_of(load).pieces)
        bench.say(CountRun(bench.run_of(load).number, pieces - len(places), marks))
        bench.say(Release(bench.run_of(load).number))
    study = study_losses(bench.state)
    lines = list_path_lines(bench.state, study, MILLED, 100, 40)
    share = 5 / 82
    first = 100 * (share + 3 * (share * (1 - share) / 2) ** 0.5)
    (head,) = [line for line in lines if line.startswith("UCL %")]
    assert head.split()[2] == f"{first:.1f}"
    (others,) = [line for line in lines if line.count("-") > 30]
    assert others != head, "all others have another one"
    assert head.count("-") <= 3
    assert any(line.startswith("percent lost by load; limits for each load's own size") for line in lines)
    assert "✕ 1 beyond 3 sigma: load 10" in lines


def test_reasons_are_ranked_with_the_running_share() -> None:
    batch = milled(8, lambda n: ("A2",))
    assert list_reason_lines(batch, 60)[1].split() == ["op", "10", "Groove", "too", "deep", "█" * 28, "8", "100", "%"]
    assert list_cause_lines(batch, 60)[1].startswith("op 10 Mill the groove ")
