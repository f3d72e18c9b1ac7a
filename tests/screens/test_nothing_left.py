"""An empty plan: no piece left, none in process, nobody ever in. It says so in words, everywhere."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import date

import pytest

from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.state import Batch
from floor.cli.main import Exit, main
from floor.entry import Moment
from floor.figures.calendar import Calendar
from floor.papers.plan import write_plan_csv, write_plan_json, write_plan_text
from floor.papers.whatif import make_whatif_data, write_whatif_text
from floor.planning.chart import draw_chart
from floor.planning.problem import Crew
from floor.planning.questions import read_questions
from floor.planning.questions.likely_questions import suggest_questions
from floor.planning.scenario import build_scenario
from floor.planning.snapshot import compute_outlooks, take_snapshot
from floor.planning.time_scale import build_plan_scale
from floor.planning.whatif import (
    add_savings,
    add_spread,
    build_trials,
    plan_changed_row,
    plan_present_row,
    rank_savings,
)
from floor.screens.plan.background_plan import Planner
from floor.screens.plan.view import Cursor, format_attendance_days, format_chart, format_limits, format_plan_head
from tests.batch.factory import Bench, open_bench
from tests.planning.planned import ONE_SHIFT, ZONE, planned, potted

NEVER = Crew(Calendar(ZONE, ()))


def through() -> Bench:
    """An order of 12, all 13 started pieces finished."""
    bench = open_bench(potted, start=13, order=12)
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.clock.forward(24 * 3600)
    bench.through(load, 30)
    bench.through(bench.form(40), 40)
    return bench


def scrapped() -> Bench:
    """An order of 12, none of the 13 started pieces left."""
    bench = open_bench(potted, start=13, order=12)
    bench.say(SetPiecesAside("scrap", "dropped", op=10, count=13))
    return bench


def held() -> Bench:
    """All 13 on hold: nobody has decided on them."""
    bench = open_bench(potted, start=13, order=12)
    bench.say(SetPiecesAside("hold", "doubtful", op=10, count=13))
    return bench


def all_of_it(batch: Batch, now: Moment, crew: Crew) -> list[str]:
    """Every text and figure made from a plan."""
    batch.due = date(2026, 3, 3)
    made = planned(batch, now=now, crew=crew, effort=100)
    taken = take_snapshot([batch], now, crew)
    looked = {id: (found, taken.first_op[id]) for id, found in compute_outlooks(taken, 0.9).items()}
    chances = {id: found for id, (found, _) in looked.items()}
    planner = Planner(shop_plan=made, outlooks=chances, first_op=taken.first_op)
    saved = rank_savings(made, effort=50)
    ids = [batch.id]
    case = build_scenario([batch], crew)
    [first, *others] = build_trials(case, read_questions("saturday 7-12, 1 more pallet", case, now), now)
    stood = add_spread(plan_present_row(made, first, effort=50), samples=5)
    rows = [stood, *(add_savings(plan_changed_row(stood, one, effort=50), effort=50) for one in others)]
    scale = build_plan_scale(made, 60, 63).cut(0, 63)
    return [
        write_plan_text(made, now, ids, savings=saved, outlooks=looked),
        write_plan_json(made, now, ids, savings=saved, outlooks=looked),
        write_plan_csv(made, ids),
        write_whatif_text(rows, now, ids),
        json.dumps(make_whatif_data(rows, ids), ensure_ascii=False),
        "\n".join(format_plan_head(planner, made, saved, "", 78)),
        "\n".join(format_attendance_days(made, 78)),
        "\n".join(format_limits(made, saved, "", 78)),
        format_chart(made, draw_chart(made, scale, 63), scale, Cursor(), 0, saved, "", 78, 12)[0].plain,
        *(offer.one for offer in suggest_questions(made, case, now)),
    ]


@pytest.mark.parametrize("crew", [ONE_SHIFT, NEVER], ids=["one shift", "nobody ever in"])
@pytest.mark.parametrize("bench", [through, scrapped, held])
def test_zero_over_zero_is_shown_in_words(bench: Callable[[], Bench], crew: Crew) -> None:
    made = bench()
    texts = all_of_it(made.state, made.clock(), crew)

    for text in texts:
        assert not re.search(r"\bnan\b|\binf\b|\bNone\b|\b0/0\b|\b0 of 0\b|Infinity|NaN|being worked out", text), text
    text, _, _, table, _, head, people, limits, *_ = texts
    assert "No run is planned." in text
    assert "  Nobody." in text
    assert "Nothing is left to do." in head
    assert people == "Nobody is needed: no attended work is planned."
    assert limits == "Nothing is left to do."
    assert "nothing left" in table
    assert "work, cure" not in table


def test_an_order_of_none_is_refused_with_what_to_order(capsys: pytest.CaptureFixture[str]) -> None:
    from tests.papers.test_plan_paper import HERE

    for order in ("0", "-1"):
        assert main(["plan", str(HERE), f"--order={order}"]) == Exit.WRONG
        assert "order at least one" in capsys.readouterr().err
    assert main(["plan", str(HERE), "--order", "5", "--start", "0"]) == Exit.WRONG
    assert "0 pieces cannot fill an order of 5: start 5 at the least" in capsys.readouterr().err
