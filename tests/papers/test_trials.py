"""Trials in words: a table with intervals, what is told and what not, the choice; on screen, paper and command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from floor.batch.trials.commands import (
    BringTrialPiecesBack,
    ChooseSetting,
    EnterTrialResult,
    PlanTrial,
    TakeTrialPieces,
)
from floor.cli.main import Exit, main
from floor.papers.closeout import write_close_out
from floor.papers.trial_export import export_trials
from floor.papers.trials import list_all_trial_lines, list_trial_lines
from tests.batch.factory import Bench, open_bench
from tests.papers.test_figures_export import folder  # noqa: F401

INSERT = (("insert", ("A", "B", "C")),)
SPEED = (("speed", ("6000 rpm", "8000 rpm", "10000 rpm")),)


def told(bench: Bench, width: int = 78) -> list[str]:
    trial = list(bench.state.trials.values())[-1]
    lines = list_trial_lines(bench.state, trial, bench.clock().at, width)
    assert max(map(len, lines)) <= width
    return lines


def said(bench: Bench) -> str:
    return " ".join(" ".join(told(bench)).split())


@pytest.fixture
def bench() -> Bench:
    bench = open_bench(start=12, order=4)
    bench.say(PlanTrial("which insert leaves the least burr?", INSERT, "number", "burr", 2, "mm", op=20))
    return bench


def test_before_a_result_it_says_how_to_try(bench: Bench) -> None:
    assert "Op 20 Coat. Factor: insert. Result: burr in mm. 2 pieces per setting. Planned by AA" in said(bench)
    assert "No result yet. Try every setting once before any twice" in said(bench)
    assert "No pieces used yet; 6 planned." in said(bench)
    assert told(bench)[-1] == "No choice yet."


def test_settings_stand_side_by_side_with_their_intervals(bench: Bench) -> None:
    """The means and t intervals by hand: t of 2 degrees of freedom is 4.303, so A is 3.15 ± 4.303 · 0.05 / √3."""
    bench.say(EnterTrialResult(1, 1, (3.10, 3.20, 3.15)))
    bench.say(EnterTrialResult(1, 2, (3.50, 3.40, 3.45)))
    bench.say(EnterTrialResult(1, 3, (3.12,)))
    lines = told(bench)
    at = next(n for n, line in enumerate(lines) if line.startswith("setting"))
    assert lines[at].split() == ["setting", "n", "mean", "95", "%", "interval"]
    assert lines[at + 1].split()[:6] == ["A", "3", "3.15", "3.03", "to", "3.27"]
    assert lines[at + 3].split()[:5] == ["C", "1", "3.12", "one", "value"]
    assert lines[at + 4].split() == ["3.03", "3.57"], "the scale of the drawing"
    a, b, c = (lines[at + n] for n in (1, 2, 3))
    assert a.index("├") < a.index("●") < a.index("┤") < b.index("├") < b.index("●") < b.index("┤")
    assert c.rstrip().endswith("●")
    assert "B above A by 0.30 mm (0.19 to 0.41): unlikely by chance (p 0.0018 after 1 comparison)." in said(bench)
    assert "C and A: cannot tell from a single value" in said(bench) or "A and C: cannot tell" in said(bench)


def test_what_is_not_shown_has_the_number_of_pieces_that_would(bench: Bench) -> None:
    bench.say(EnterTrialResult(1, 1, (3.1, 3.3, 3.2)))
    bench.say(EnterTrialResult(1, 2, (3.2, 3.4, 3.3)))
    assert "B and A: cannot tell from 3 values each. Measured difference 0.10 mm, possible -0.13 to 0.33" in said(bench)
    assert "about 17 values each would show such a difference." in said(bench)
    assert "nothing shown does not mean that there is no difference" in said(bench)
    bench.say(EnterTrialResult(1, 2, (3.4,)))
    assert "cannot tell from 4 and 3 values." in said(bench)


def test_the_difference_that_matters_is_the_one_to_be_shown() -> None:
    bench = open_bench()
    bench.say(PlanTrial("which insert?", INSERT, "number", "burr", 2, "mm", worth=0.2))
    bench.say(EnterTrialResult(1, 1, (3.1, 3.3, 3.2)))
    bench.say(EnterTrialResult(1, 2, (3.2, 3.4, 3.3)))
    assert "about 6 values each would show a difference of 0.2 mm." in said(bench)


def test_constant_values_are_told_as_what_they_are(bench: Bench) -> None:
    bench.say(EnterTrialResult(1, 1, (3.0,) * 4))
    bench.say(EnterTrialResult(1, 2, (3.1,) * 4))
    bench.say(EnterTrialResult(1, 3, (3.0,) * 4))
    assert "all the same" in said(bench)
    assert "C and A: every value is the same; no difference, and no spread to judge by." in said(bench)
    assert "B above A by 0.1 mm, every time, but too few values to tell." in said(bench)
    bench.say(EnterTrialResult(1, 1, (3.0,) * 4))
    bench.say(EnterTrialResult(1, 2, (3.1,) * 4))
    assert "B above A by 0.1 mm, every time: unlikely by chance" in said(bench)


def test_a_trend_with_a_number_is_told() -> None:
    bench = open_bench()
    bench.say(PlanTrial("which speed runs smoothest?", SPEED, "number", "vibration", 0, "m/s2"))
    for setting, values in enumerate(((0.61, 0.64, 0.66), (0.54, 0.52, 0.55), (0.40, 0.42, 0.38)), 1):
        bench.say(EnterTrialResult(1, setting, values))
    assert "✓ Vibration falls with speed: unlikely by chance (p 0.0029 after 4 comparisons)." in said(bench)
    assert "It uses no pieces. Planned by AA" in said(bench)
    assert "of the batch used" not in said(bench)
    bench.say(PlanTrial("and again?", SPEED, "number", "vibration", 0, "m/s2"))
    for setting, values in enumerate(((0.61, 0.34), (0.54, 0.72), (0.40, 0.62)), 1):
        bench.say(EnterTrialResult(2, setting, values))
    assert "No trend of vibration with speed is shown." in said(bench)


def test_good_and_bad_side_by_side() -> None:
    """6 of 6 against 1 of 6: Fisher's p is 2 · 7 / 924 (R and scipy agree, 0.01515)."""
    bench = open_bench()
    bench.say(PlanTrial("which feed leaves no burr?", (("feed", ("60", "90")),), "good or bad", "burr", 6, worth=0.3))
    assert "A difference of 30 % matters." in said(bench)
    bench.say(EnterTrialResult(1, 1, good=3))
    assert "Cannot tell: only one setting has results." in said(bench)
    bench.say(EnterTrialResult(1, 2, good=1, bad=2))
    assert "60 and 90: cannot tell from 3 of 3 good against 1 of 3; about 44 pieces each would show" in said(bench)
    assert "would show a difference of 30 %" in said(bench)
    bench.say(EnterTrialResult(1, 1, good=3))
    bench.say(EnterTrialResult(1, 2, bad=3))
    assert "60 better than 90, 6 of 6 good against 1 of 6: unlikely by chance (p 0.015 after 1 comparison)" in said(
        bench
    )
    assert "6 (100 %)    54 to 100 %" in "\n".join(told(bench)), "six good ones do not prove 100 %"
    assert any(line.split()[-2:] == ["100", "%"] and line.split()[:2] == ["0", "%"] for line in told(bench))


def test_words_stand_side_by_side_and_nothing_is_made_of_them() -> None:
    bench = open_bench()
    bench.say(PlanTrial("which oven?", (("oven", ("60", "80")),), "words", "surface", 1))
    bench.say(EnterTrialResult(1, 2, seen="two chips at the edge"))
    assert "60 nothing entered yet 80 two chips at the edge" in said(bench)
    assert "not tested" in said(bench)


def test_pieces_and_choice_are_told(bench: Bench) -> None:
    bench.say(TakeTrialPieces(1, 1, 3))
    bench.say(BringTrialPiecesBack(1, 2, "as new"), by="LL")
    bench.say(EnterTrialResult(1, 1, (0.2,)))
    bench.say(ChooseSetting(1, 1, "it was there", "op 20: insert A"))
    assert "3 pieces of the batch used, 2 of them back in process; 6 planned." in said(bench)
    assert "Chosen by AA, " in said(bench)
    assert "A. Reason: it was there" in said(bench)
    assert told(bench)[-1] == "Offered to the checklist: op 20: insert A"
    bench.say(ChooseSetting(1, 0, "none is better"))
    assert "none of them. Reason: none is better" in said(bench)


def test_of_very_many_comparisons_the_clearest_are_spelled_out() -> None:
    bench = open_bench()
    bench.say(PlanTrial("which lot?", (("lot", tuple("ABCDEFGH")),), "number", "burr", 0, "mm"))
    for setting in range(1, 9):
        bench.say(EnterTrialResult(1, setting, (setting + 0.1, setting + 0.2)))
    assert "18 more comparisons; " in said(bench)


ANGLE_AND_SPEED = (("angle", ("30", "45")), ("speed", ("low", "high")))


def two_factors(values: tuple[tuple[float, ...], ...]) -> Bench:
    """Settings in the order 30 low, 30 high, 45 low, 45 high."""
    bench = open_bench()
    bench.say(PlanTrial("which angle, which speed?", ANGLE_AND_SPEED, "number", "burr", 0, "mm"))
    for setting, some in enumerate(values, 1):
        if some:
            bench.say(EnterTrialResult(1, setting, some))
    return bench


def test_two_factors_are_told_each_by_itself() -> None:
    """Angle by 1, speed by 0.1, give or take 0.1 (numpy's least squares: 1.0 and 0.1, spread 0.1)."""
    bench = two_factors(((1.0, 1.1, 0.9), (1.1, 1.2, 1.0), (2.0, 2.1, 1.9), (2.1, 2.2, 2.0)))
    text = said(bench)
    assert "Factors: angle and speed." in text
    assert "✓ angle 45 above angle 30 by 1.00 mm (" in text
    assert "after 3 comparisons)." in text
    assert "speed high and speed low: cannot tell from 6 values each. Measured difference 0.10 mm" in text
    assert (
        "Each is compared over all settings of the other. Not shown: that the effect of angle depends on speed (p 1)."
        in text
    )
    assert "30, low and 30, high" not in text, "settings are not compared where the factors tell it"


def test_where_one_depends_on_the_other_settings_are_compared() -> None:
    bench = two_factors(((1.0, 1.1, 0.9), (2.0, 2.1, 1.9), (2.0, 2.1, 1.9), (1.0, 1.1, 0.9)))
    text = said(bench)
    assert "✓ The effect of angle depends on speed: unlikely by chance (p below 0.001 after 3 comparisons). So" in text
    assert "45, low above 30, low by 1.00 mm" in text or "30, high above 30, low by 1.00 mm" in text
    assert "angle 45" not in text


def test_factors_changed_together_are_told_as_such_and_missing_settings_named() -> None:
    text = said(two_factors(((1.0, 1.1), (), (), (2.0, 2.1))))
    assert (
        "angle and speed were only changed together, so their effects cannot be told apart. Try the missing settings"
        in text
    )
    assert "that needs results at every setting" in said(two_factors(((1.0, 1.1), (1.5, 1.6), (2.0, 2.1), ())))
    assert "that needs a setting with two values" in said(two_factors(((1.0,), (1.5,), (2.0,), (2.2,))))


def test_two_factors_of_good_and_bad_pieces() -> None:
    bench = open_bench()
    bench.say(PlanTrial("which angle, which speed?", ANGLE_AND_SPEED, "good or bad", "burr", 0))
    for setting, good in enumerate((8, 8, 1, 1), 1):
        bench.say(EnterTrialResult(1, setting, good=good, bad=8 - good))
    text = said(bench)
    assert "angle 30 better than angle 45, 16 of 16 good against 2 of 16: unlikely by chance (p below 0.001" in text
    assert "speed high and speed low: cannot tell from 9 of 16 good against 9 of 16." in text
    [trial] = export_trials(bench.state)
    assert [(one["factor"], one["first"], one["second"], one["shown"]) for one in trial["effects"]] == [
        ("angle", "30", "45", True), ("speed", "low", "high", False),
    ]  # fmt: skip
    assert trial["interaction"] is None
    assert "speed; that needs a number as the result." in text


def test_the_data_of_two_factors_have_both_and_the_interaction() -> None:
    [trial] = export_trials(two_factors(((1.0, 1.1), (1.2, 1.3), (2.0, 2.1), (2.3, 2.2))).state)
    assert trial["effects"][0]["difference"] == pytest.approx(1.0)
    assert trial["effects"][0]["low"] < 1.0 < trial["effects"][0]["high"]
    assert trial["interaction"]["shown"] is False


def test_results_without_pieces_are_told(bench: Bench) -> None:
    bench.say(TakeTrialPieces(1, 1, 2))
    bench.say(EnterTrialResult(1, 1, (0.2,)))
    assert "no piece recorded as used" not in said(bench)
    bench.say(EnterTrialResult(1, 3, (0.2, 0.3)))
    assert "Results, but no piece recorded as used: C." in said(bench)


def test_where_no_number_is_told_the_note_about_numbers_is_left_out(bench: Bench) -> None:
    bench.say(EnterTrialResult(1, 1, (3.0,) * 4))
    bench.say(EnterTrialResult(1, 2, (3.0,) * 4))
    assert "So many pieces show it" not in said(bench)


def test_the_close_out_report_has_them(bench: Bench) -> None:
    without = write_close_out(open_bench().state, bench.clock(), "0" * 64)
    assert "Trials" not in without
    bench.say(EnterTrialResult(1, 1, (0.2,)))
    bench.say(TakeTrialPieces(1, 1, 3))
    bench.say(ChooseSetting(1, 1, "it was there", "op 20: insert A"))
    paper = write_close_out(bench.state, bench.clock(), "0" * 64)
    assert "12 started = 9 waiting + 3 in trials" in paper
    assert "Offered to the checklist: op 20: insert A" in paper


def test_plain_data_say_the_same(bench: Bench) -> None:
    bench.say(EnterTrialResult(1, 1, (3.1, 3.2)))
    bench.say(EnterTrialResult(1, 2, (3.4,)))
    [trial] = json.loads(json.dumps(export_trials(bench.state)))
    assert [one["mean"] for one in trial["settings"]] == [pytest.approx(3.15), 3.4, None]
    assert trial["differences"] == [
        {
            "first": "A", "second": "B", "difference": pytest.approx(0.25), "low": None, "high": None, "p": None,
            "adjusted_p": None, "shown": False,
        }
    ]  # fmt: skip
    assert trial["choice"] is None


def test_what_was_planned_used_and_chosen_is_in_the_data_and_null_where_it_was_not(bench: Bench) -> None:
    bench.say(TakeTrialPieces(1, 1, 3))
    bench.say(EnterTrialResult(1, 1, (0.2,)))
    bench.say(ChooseSetting(1, 1, "it was there", "op 20: insert A"))
    bench.say(PlanTrial("which cloth?", INSERT, "good or bad", "haze", 0))
    bench.say(EnterTrialResult(2, 1, good=1))
    bench.say(ChooseSetting(2, 1, "it was there"))
    given, bare = export_trials(bench.state)
    assert (given["op"], given["unit"], given["choice"]["offered"]) == (20, "mm", "op 20: insert A")
    assert [one["pieces_used"] for one in given["settings"]] == [3, 0, 0]
    assert (bare["op"], bare["unit"], bare["choice"]["offered"]) == (None, None, None)
    [together] = export_trials(two_factors(((1.0, 1.1), (), (), (2.0, 2.1))).state)
    assert (together["effects"], together["interaction"]) == ([], None)


def test_floor_trial_prints_them_all_or_one(
    capsys: pytest.CaptureFixture[str],
    folder: Path,  # noqa: F811
) -> None:
    def run(*args: str) -> tuple[int, str, str]:
        status = main(["trial", *args, "--shop", str(folder)])
        return status, *capsys.readouterr()

    status, text, _ = run("B0001")
    assert status == Exit.FINE
    assert "Trial 1: which lacquer?" in text
    assert "Trial 2: which cloth?" in text
    assert run("B0001", "2")[1].startswith("Trial 2: which cloth?")
    found = json.loads(run("B0001", "2", "--json")[1])
    assert (found["format"], found["batch"], [one["trial"] for one in found["trials"]]) == (1, "B0001", [2])
    status, _, wrong = run("B0001", "5")
    assert (status, wrong.strip()) == (Exit.WRONG, "floor: there is no trial 5 in B0001; there are: 1, 2, 3, 4")
    assert run("B0009")[0] == Exit.WRONG


def test_a_batch_without_trials_says_so(bench: Bench) -> None:
    assert list_all_trial_lines(open_bench().state, bench.clock().at, 80) == []
