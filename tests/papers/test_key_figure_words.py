"""Key figures in words: whoever computes the formula with the inputs shown gets the figure shown."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.batch.quality.time_elements import TimeElements
from floor.figures.calendar import Calendar
from floor.figures.key_figures import AVAILABILITY, EFFECTIVENESS, KEY_FIGURES, THROUGHPUT, Amount, Input, KeyFigure
from floor.papers.figures_export import gather_process_figures, write_figures_text
from floor.papers.key_figures import (
    format_inputs,
    format_key_figure,
    format_percent,
    list_figure_lines,
    list_formula_lines,
)
from tests.batch.factory import MORNING, open_bench

SECONDS = st.integers(1, 10**6).map(float)
PIECES = st.integers(1, 5000)


def compute(shown: str) -> float:
    """The value of ``5 min / (5 min + 2.5 min) x 3 / 4``, by what stands there."""
    bare = re.sub(r" (min|h)\b", "", shown).replace(" x ", " * ")
    assert re.fullmatch(r"[0-9.e+ */()-]+", bare)
    return float(eval(bare))


@given(st.sampled_from(KEY_FIGURES), st.tuples(*[SECONDS] * 12), st.tuples(*[PIECES] * 3))
def test_the_inputs_shown_give_the_figure_shown(
    figure: KeyFigure, times: tuple[float, ...], pieces: tuple[int, ...]
) -> None:
    least, middle, most = sorted(pieces)
    amounts: dict[Input, Amount] = dict(zip([one for one in Input if one.is_time], times, strict=False))
    amounts |= {one: least for one in Input if not one.is_time}
    amounts |= {Input.PQ: most, Input.PQ_FIRST: most, Input.IP: most, Input.PSQ: middle}
    shown = format_key_figure(figure, amounts)
    number = float(re.sub(r"[^0-9.]", "", shown))
    value = compute(format_inputs(figure, amounts)) * (1 if figure.per_time else 100)
    last = 10.0 ** -len(shown.partition(".")[2].rstrip(" %/h")) if "." in shown else 1.0
    assert value == pytest.approx(number, abs=0.5 * last + 1e-5 * number), "half of the last digit, and the inputs' own"


def test_a_rate_is_computed_in_hours_and_a_share_in_minutes() -> None:
    """30 pieces in 9 min 47 s: 184 an hour."""
    amounts: dict[Input, Amount] = {Input.PQ_ENDED: 30, Input.AOET: 587.0, Input.APT: 238.0, Input.PBT: 652.0}
    assert format_inputs(THROUGHPUT, amounts) == "30 / 0.163056 h"
    assert format_key_figure(THROUGHPUT, amounts) == "183.99/h"
    assert format_inputs(AVAILABILITY, amounts) == "3.96667 min / 10.8667 min"
    assert format_key_figure(AVAILABILITY, amounts) == "36.5 %"


def elements(**amounts: float) -> TimeElements:
    at = datetime.fromisoformat("2026-03-02T07:00:00+01:00")
    return TimeElements({Input[name]: amount for name, amount in amounts.items()}, at, at, 3, {}, True)


def test_what_is_over_a_hundred_percent_is_explained() -> None:
    found = elements(PRU=600.0, APT=60.0, PBT=120.0, PQ=3, GQ=3)
    for lines in (list_figure_lines(found, 80), list_formula_lines(found, 80)):
        text = " ".join(" ".join(lines).split())
        assert "Over 100 %: effectiveness, OEE index: runs took less than the checklist's times" in text
    assert format_key_figure(EFFECTIVENESS, found.amounts) == "1000 %"
    out_of_hours = elements(APT=240.0, PBT=120.0, AUBT=300.0)
    said = " ".join(" ".join(list_figure_lines(out_of_hours, 80)).split())
    assert "Over 100 %: availability, allocation efficiency: work was done outside shop hours" in said
    assert not any("Over 100 %" in line for line in list_figure_lines(elements(PRU=30.0, APT=60.0), 80))


def test_the_text_says_once_what_is_over_a_hundred_percent() -> None:
    """Values and formulas stand below each other there."""
    known = gather_process_figures(open_bench().state, Calendar.always("Etc/GMT-1"), MORNING)
    whole = elements(PRU=600.0, APT=60.0, PBT=120.0, PQ=3, GQ=3)
    text = write_figures_text(replace(known, elements=replace(known.elements, whole=whole)))
    assert text.count("Over 100 %") == 1


def test_a_ratio_that_nobody_knows_is_no_number() -> None:
    assert (format_percent(None), format_percent(0.813), format_percent(12.04)) == ("n/a", "81.3 %", "1204 %")


def test_no_scrap_is_said_with_its_bound_and_how_many_are_still_on_their_way() -> None:
    """None of 96: at most 1 - 0.05^(1/96) = 3.1 %, at 95 %."""
    said = " ".join(list_figure_lines(elements(SQ=0, PQ=96, PQ_ENDED=90), 120))
    assert "95 % sure that the scrap ratio is at most 3.1 %" in said
    assert "6 of 96 pieces counted are in process" in said
    assert "at most" not in " ".join(list_figure_lines(elements(SQ=1, PQ=96, PQ_ENDED=96), 120))
