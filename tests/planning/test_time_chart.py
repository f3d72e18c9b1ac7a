"""The time chart: work has the room, closed hours one narrow cell, and nothing that is planned is lost."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.figures.calendar import Calendar
from floor.figures.schedule import Bottleneck, PhaseKind
from floor.planning.chart import (
    CLOSED,
    HELD,
    LATE,
    LIMITS,
    SIGNS,
    WORDS,
    ChartRow,
    draw_chart,
    find_span,
    is_late,
    list_legend,
)
from floor.planning.plan import ShopPlan
from floor.planning.plan_text import format_bottleneck_line, format_run_line
from floor.planning.problem import Crew
from floor.planning.time_scale import (
    DUE,
    NOW,
    ZOOMS,
    TimeScale,
    build_plan_scale,
    build_scale,
    draw_axis,
    find_fitting_zoom,
    list_open_spans,
)
from floor.planning.whatif import rank_savings
from floor.screens.plan.view import LABEL, Cursor, color_row, format_chart
from tests.batch.factory import open_bench
from tests.planning.planned import MORNING, ONE_SHIFT, ZONE, planned, potted

FRIDAY_NIGHT = MORNING + timedelta(days=4, hours=15, minutes=24)
EPOCH = datetime(2026, 3, 2, tzinfo=UTC)
IDLE = {" ", HELD, CLOSED, SIGNS[PhaseKind.WAIT]}


@cache
def lids(at: datetime = MORNING, start: int = 26, crew: Crew = ONE_SHIFT, due: date | None = None) -> ShopPlan:
    state = open_bench(potted, start=start, at=at).state
    state.due = due
    return planned(state, now=at, crew=crew, effort=200)


def rows(plan: ShopPlan, minutes: int, width: int, side: str = "stations") -> dict[str, ChartRow]:
    scale = build_plan_scale(plan, minutes, width).cut(0, width)
    return {row.label: row for row in draw_chart(plan, scale, width, side).rows}  # type: ignore[arg-type]


# --- the scale -------------------------------------------------------------------------------------------------

spans = st.lists(st.tuples(st.integers(1, 3000), st.integers(1, 2000)), max_size=12)
"""Minutes closed, then open, one after the other."""


def lay_out(parts: list[tuple[int, int]]) -> list[tuple[float, float]]:
    at, found = EPOCH.timestamp(), []
    for closed, opens in parts:
        found.append((at + 60 * closed, at + 60 * (closed + opens)))
        at += 60 * (closed + opens)
    return found


@given(spans, st.sampled_from(ZOOMS), st.integers(0, 1439), st.integers(1, 20_000))
def test_each_minute_has_one_cell_in_order_and_closed_hours_have_one_however_long(
    parts: list[tuple[int, int]], minutes: int, past: int, length: int
) -> None:
    start = EPOCH + timedelta(minutes=past)
    until = start.timestamp() + 60 * length
    opens = [(begin, end) for begin, end in lay_out(parts) if end > start.timestamp()]

    scale = build_scale(start, minutes, opens, until)

    assert scale.edges[0] <= start.timestamp()
    assert scale.edges[-1] >= until
    assert len(scale.edges) == len(scale.closed) + 1
    assert all(one < two for one, two in pairwise(scale.edges))
    assert not any(one and two for one, two in pairwise(scale.closed)), "never wider than one cell"
    for n, closed in enumerate(scale.closed):
        left, right = scale.edges[n], scale.edges[n + 1]
        assert closed or right - left == 60 * minutes
        assert not closed or not any(begin < right and end > left for begin, end in opens), "nobody is in"
    at = start.timestamp()
    while at < until:
        cell = scale.find_cell(at)
        assert scale.edges[cell] <= at < scale.edges[cell + 1]
        assert scale.cover(at, at + 1) == range(cell, cell + 1)
        at += 60 * max(minutes // 3, 1)


@given(spans, st.sampled_from(ZOOMS), st.integers(0, 50), st.integers(1, 90))
def test_a_window_has_the_same_cells(parts: list[tuple[int, int]], minutes: int, first: int, width: int) -> None:
    scale = build_scale(EPOCH, minutes, lay_out(parts), EPOCH.timestamp() + 86400)
    cut = scale.cut(first, width)
    assert len(cut.closed) <= width
    for n, closed in enumerate(cut.closed):
        assert cut.edges[n : n + 2] == scale.edges[first + n : first + n + 2]
        assert closed == scale.closed[first + n]


def test_a_shop_that_nobody_is_ever_in_is_one_closed_cell_and_one_that_never_closes_has_none() -> None:
    nobody = lids(crew=Crew(Calendar.weekly(ZONE, [0], time(7), time(15), people=0)), start=13)
    assert build_plan_scale(nobody, 60, 40).closed == (True,)
    always = lids(crew=Crew(Calendar.always(ZONE)), start=13)
    assert not any(build_plan_scale(always, 60, 40).closed)


def test_breaks_are_open_hours_and_attended_work_out_of_hours_is_too() -> None:
    plan = lids()
    [first, *_] = list_open_spans(plan, plan.plan.end)
    assert (first[1] - first[0]) / 3600 == 8.5, "07:00 to 15:30, the break from 11:30 to 12:00 with it"


def always_open(minutes: int, width: int) -> TimeScale:
    """From midnight on, without a closed hour."""
    day = MORNING - timedelta(hours=7)
    end = day.timestamp() + 60 * minutes * width
    return build_scale(day, minutes, [(day.timestamp(), end)], end)


@pytest.mark.parametrize("minutes", [30, 60, 240])
def test_now_and_due_stand_in_the_cell_of_their_time(minutes: int) -> None:
    scale = always_open(minutes, 48)
    at = scale.read_wall(5)
    _, hours = draw_axis(scale, 48, at, [scale.read_wall(6), at + timedelta(minutes=99 * minutes)])
    assert (hours[5], hours[6]) == (NOW, DUE)
    assert hours.count(NOW) == hours.count(DUE) == 1, "what is due beyond the edge is not drawn"


def test_no_hour_is_half_hidden_by_a_mark() -> None:
    scale = always_open(30, 48)
    for cell in range(48):
        _, hours = draw_axis(scale, 48, scale.read_wall(cell))
        named = hours.replace(NOW, " ").split()
        assert all(len(name) == 2 for name in named)


def test_the_axis_names_days_and_hours_from_the_opening_and_none_over_closed_hours() -> None:
    scale = build_plan_scale(lids(FRIDAY_NIGHT), 30, 60).cut(0, 60)

    days, hours = draw_axis(scale, 60, FRIDAY_NIGHT, [FRIDAY_NIGHT + timedelta(days=3)])

    assert days.startswith(" Mon 09 Mar        Tue 10 Mar        Wed 11 Mar")
    assert hours.startswith(f"{NOW}07  09  11  13   {DUE}07  09  11  13    07"), "a weekend is as narrow as a night"
    assert scale.closed[0]
    assert scale.closed[18]
    assert (len(days), len(hours)) == (60, 60)


@pytest.mark.parametrize(("width", "minutes"), [(20, 60), (63, 30), (143, 10)])
def test_the_first_zoom_shows_the_plan_or_three_shifts(width: int, minutes: int) -> None:
    plan = lids(FRIDAY_NIGHT, start=52)
    assert find_fitting_zoom(plan, width) >= minutes
    shown = build_plan_scale(plan, find_fitting_zoom(plan, width), width).cut(0, width)
    opens = [*list_open_spans(plan, plan.plan.end)][:3]
    assert shown.edges[-1] >= min(plan.plan.end.timestamp(), opens[-1][1])


# --- the rows --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("side", ["stations", "carriers"])
@pytest.mark.parametrize("minutes", [5, 15, 30, 60, 240, 1440])
@pytest.mark.parametrize("at", [MORNING, FRIDAY_NIGHT], ids=["morning", "weekend"])
def test_every_minute_of_work_is_drawn_and_every_row_is_as_wide_as_asked(at: datetime, minutes: int, side: str) -> None:
    plan = lids(at, start=39)
    width = len(build_plan_scale(plan, minutes, 20).closed) + 3
    scale = build_plan_scale(plan, minutes, 20)

    chart = draw_chart(plan, scale, width, side)  # type: ignore[arg-type]

    assert {len(text) for text in (chart.days, chart.hours, *(row.cells for row in chart.rows))} == {width}
    for row in chart.rows:
        for span in row.spans:
            cells = scale.cover(span.start.timestamp(), span.end.timestamp())
            assert len(cells) > 0 or span.start == span.end
            begin = span.start
            for part in span.run.stretches if row.kind != "hands" else ():
                if part.kind is PhaseKind.WAIT or (row.kind == "station" and part.start >= span.run.held_until):
                    continue
                for n in scale.cover(part.start.timestamp(), part.end.timestamp()):
                    assert row.cells[n] not in IDLE, f"{row.label} at {n}: {part.kind} at {part.start}"
            assert begin <= span.end
    held = {span.run.run for row in chart.rows if row.kind != "hands" for span in row.spans}
    assert held == {run.run for run in plan.runs if (run.station if side == "stations" else run.carrier)}


def test_what_cures_through_a_weekend_crosses_its_one_cell_and_closed_hours_are_a_bar_elsewhere() -> None:
    at = MORNING + timedelta(days=4)  # a Friday: a day of cure lies over the weekend
    plan = lids(at)
    drawn = rows(plan, 60, 40, "carriers")
    scale = build_plan_scale(plan, 60, 40)
    weekend = scale.closed.index(True)
    cure = SIGNS[PhaseKind.CURE]

    curing = [row.cells[weekend] for row in drawn.values() if row.kind == "carrier"]

    assert cure in curing
    assert drawn["People"].cells[weekend] == CLOSED
    assert rows(plan, 60, 40)["Router"].cells[weekend] == CLOSED


def test_an_end_in_closed_hours_is_written_and_one_in_open_hours_shows_by_its_place() -> None:
    """A day of cure begun on Friday at noon is over on Saturday: the bar cannot show when."""
    plan = lids(MORNING + timedelta(days=4), start=13)
    cures = [part for run in plan.runs for part in run.stretches if part.kind is PhaseKind.CURE]
    text = " ".join(row.cells for row in rows(plan, 30, 50, "carriers").values() if row.kind == "carrier")
    scale = build_plan_scale(plan, 30, 50)
    ended = [part for part in cures if scale.closed[scale.cover(part.start.timestamp(), part.end.timestamp())[-1]]]

    assert [f" {part.end:%a %H:%M}" in text for part in ended] == [True]

    always = lids(crew=Crew(Calendar.always(ZONE)), start=13)
    assert not any(":" in row.cells for row in rows(always, 30, 80, "carriers").values())


def test_late_work_and_its_end_are_marked_and_only_that() -> None:
    plan = lids(start=26, due=MORNING.date())
    late = [run for run in plan.runs if is_late(plan, run)]
    assert 0 < len(late) < len(plan.runs)

    drawn = rows(plan, 5, 2000)

    scale = build_plan_scale(plan, 5, 2000)
    for row in drawn.values():
        marks = {n for n, sign in enumerate(row.cells) if sign == LATE}
        ends = {scale.find_cell(span.run.held_until.timestamp() - 1) for span in row.spans if is_late(plan, span.run)}
        assert marks == (ends if row.kind == "station" else set())


def test_the_legend_explains_the_signs_on_view_and_no_others() -> None:
    plan = lids()
    chart = draw_chart(plan, build_plan_scale(plan, 60, 60).cut(0, 60), 60)
    known = set(WORDS) - {LIMITS}
    on_view = {sign for row in chart.rows for sign in row.cells} | set(chart.hours)

    said = list_legend(chart, limits=False)

    assert {text[0] for text in said} == on_view & known
    assert f"{LIMITS} bottleneck" in list_legend(chart, limits=True)


@pytest.mark.parametrize(
    ("kind", "name", "marked"),
    [
        ("station", "Router", {"Router"}),
        ("carrier", "Pallet", {"Pallet 1", "Pallet 2"}),
        ("hands", "hands", {"People"}),
        ("calendar", "shifts", {"People"}),
        ("route", "", set()),
    ],
)
def test_the_row_of_the_bottleneck_is_found(kind: str, name: str, marked: set[str]) -> None:
    found = Bottleneck(kind, name, "")
    drawn = {**rows(lids(), 60, 60), **rows(lids(), 60, 60, "carriers")}
    assert {label for label, row in drawn.items() if row.is_limit(found)} == marked
    assert not any(row.is_limit(None) for row in drawn.values())


def test_a_station_with_two_places_has_a_row_for_each_that_is_used() -> None:
    for start, labels in ((4, ["Oven 1"]), (8, ["Oven 1", "Oven 2"])):
        used = [*rows(planned(open_bench(start=start).state), 60, 66)]
        assert [label for label in used if label.startswith("Oven")] == labels
        assert "Mill" in used, "of one with a single place no number is said"


# --- the cursor ------------------------------------------------------------------------------------------------


def test_the_cursor_finds_each_run_of_a_row_and_between_two_the_next() -> None:
    row = rows(lids(start=39), 60, 60)["Router"]
    assert len(row.spans) > 2
    assert [span.start for span in row.spans] == sorted(span.start for span in row.spans)

    for span in row.spans:
        assert find_span(row, span.start, span.run.run) is span
        assert find_span(row, span.start) is span
    assert find_span(row, row.spans[0].start - timedelta(days=1)) is row.spans[0]
    assert find_span(row, row.spans[0].end) is row.spans[1]
    assert find_span(row, row.spans[-1].end + timedelta(days=9)) is row.spans[-1]


def test_of_two_runs_that_start_at_once_the_cursor_keeps_to_its_own() -> None:
    row = rows(lids(start=39), 60, 60)["Router"]
    first, second = row.spans[0], row.spans[1]
    same = ChartRow("hands", "hands", "People", "", (first, type(second)(first.start, second.end, second.run)))
    assert find_span(same, first.start, second.run.run) is same.spans[1]
    assert find_span(same, first.start, first.run.run) is same.spans[0]


def test_a_cure_is_under_the_cursor_on_its_carrier_and_not_at_the_station_it_has_left() -> None:
    bench, pallet = rows(lids(), 60, 60)["Bench"], rows(lids(), 60, 60, "carriers")["Pallet 1"]
    [cured, *_] = [span for span in pallet.spans if any(part.kind is PhaseKind.CURE for part in span.run.stretches)]
    at_bench = next(span for span in bench.spans if span.run is cured.run)
    assert at_bench.end == cured.run.held_until < cured.end == cured.run.end


def test_a_row_without_work_has_nothing_under_the_cursor() -> None:
    assert find_span(ChartRow("station", "Saw", "Saw", " " * 9, ()), MORNING) is None


@pytest.mark.parametrize("width", [40, 60, 78, 158])
def test_a_run_is_told_in_one_line_with_carrier_operation_times_and_who_is_needed(width: int) -> None:
    plan = lids(start=39)
    for run in plan.runs:
        said = format_run_line(plan, run, plan.carrier(run), width)
        assert len(said) <= width
        assert said.startswith(plan.carrier(run) or "op ")
        assert f"op {plan.work(run).op}" in said
        if width >= 78:
            assert f"{run.start:%a %H:%M}–" in said
            assert ("operator" in said) == bool(run.attended)
            assert ("nobody needed" in said) != bool(run.attended)
        if width == 158:
            assert run.operation in said
            for part in run.attended:
                assert f"{part.start:%H:%M}" in said


def test_late_stands_first_under_the_cursor() -> None:
    plan = lids(start=26, due=MORNING.date())
    last = max(plan.runs, key=lambda run: run.end)
    assert format_run_line(plan, last, "Tray 1", 78).startswith("! LATE: due Mon 02 Mar · Tray 1 · op ")


@pytest.mark.parametrize("room", [6, 9, 17, 40])
@pytest.mark.parametrize("width", [60, 78, 158])
def test_the_chart_fits_its_room_and_always_shows_the_row_of_the_cursor(width: int, room: int) -> None:
    plan = lids(start=39)
    scale = build_plan_scale(plan, 30, width - LABEL).cut(0, width - LABEL)
    for side in ("stations", "carriers"):
        chart = draw_chart(plan, scale, width - LABEL, side)  # type: ignore[arg-type]
        for n, row in enumerate(chart.rows):
            text, _ = format_chart(plan, chart, scale, Cursor(n), 0, None, "", width, room)
            lines = text.plain.split("\n")
            assert len(lines) <= room
            assert max(map(len, lines)) <= width
            assert any(line[1:].startswith(row.label[: LABEL - 2]) for line in lines)
            assert any(line.startswith(" People") for line in lines)


def test_the_run_under_the_cursor_and_the_bottleneck_are_told_by_more_than_color() -> None:
    plan = lids()
    scale = build_plan_scale(plan, 30, 60).cut(0, 60)
    row = draw_chart(plan, scale, 60).rows[0]
    span = row.spans[0]

    painted = color_row(row, scale, span, is_on=True, is_limit=True)

    assert painted.plain.startswith(f"{LIMITS}{row.label} ")
    marked = {n for part in painted.spans if "reverse" in str(part.style) for n in range(part.start, part.end)}
    cells = scale.cover(span.start.timestamp(), span.end.timestamp())
    assert {LABEL + n for n in cells} <= marked
    assert max(marked) == LABEL + cells[-1]


def test_the_bottleneck_takes_one_line_and_names_what_one_more_saves() -> None:
    plan = lids(start=52)
    assert format_bottleneck_line(plan, None) == "Bottleneck: being worked out …"
    assert format_bottleneck_line(plan, None, "Floor failed") == "Bottleneck: Floor failed"
    saved = rank_savings(plan, effort=50)
    said = format_bottleneck_line(plan, saved)
    assert len(said) <= 78
    assert "one more" in said
    assert "working hours" in said


def test_a_scale_ends_where_it_ends() -> None:
    scale = TimeScale((0.0, 60.0, 120.0), (False, True), 1, UTC)
    assert (scale.find_cell(-1), scale.find_cell(0), scale.find_cell(119), scale.find_cell(120)) == (-1, 0, 1, 2)
    assert scale.cover(-50, 0) == range(0)
    assert not scale.cover(120, 180)
    assert scale.find_window(None, 1) == 0
    assert scale.find_window(datetime.fromtimestamp(90, UTC), 1) == 1
    assert scale.find_window(datetime.fromtimestamp(90, UTC), 2) == 0, "no room is left empty at the end"


def test_rows_of_a_long_name_are_told_apart_by_their_numbers() -> None:
    plan = lids()
    scale = build_plan_scale(plan, 30, 60).cut(0, 60)
    row = draw_chart(plan, scale, 60).rows[0]
    label = "Fixture plate of steel"
    painted = [color_row(replace(row, label=f"{label} {n}"), scale, None, False, False).plain[:LABEL] for n in (1, 12)]
    assert painted == [" Fixture pl… 1 ", " Fixture p… 12 "]
