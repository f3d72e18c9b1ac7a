"""The card beside a line: what the checklist says of the tool and the set-up, and the life that the record knows."""

from __future__ import annotations

import pytest

from floor.batch.gates.setup_sheet import Card, build_setup_card
from tests.batch.factory import Bench, edited, open_bench, thermal_break


def card_at(bench: Bench, load: int, key: str) -> Card:
    bench.until(load, key)
    found = build_setup_card(bench.state, bench.run_of(load), bench.line(load, key))
    assert found is not None
    return found


@pytest.fixture
def bench() -> Bench:
    return open_bench(thermal_break, 108, 96)


def test_a_tool_says_what_its_card_holds(bench: Bench) -> None:
    """Each figure as the checklist's author wrote it, with its unit; none is left out."""
    load = bench.form(10)
    shown = dict(card_at(bench, load, "tool loaded 1").facts)
    tool = bench.state.checklist.tool(1)
    assert tool is not None
    for name, value in {
        "name": tool.name, "diameter": tool.diameter, "teeth": tool.flutes, "speed": tool.speed, "feed": tool.feed,
        "per tooth": tool.chip_load, "at the edge": tool.surface_speed, "stick-out": tool.stick_out,
        "source": tool.source,
    }.items():  # fmt: skip
        assert shown[name] == str(value), name
    gate = bench.line(load, "tool loaded 1").step
    assert shown["length"] == gate.asks()[1].band  # type: ignore[union-attr]


def test_the_brief_card_puts_what_it_is_and_how_it_runs_first(bench: Bench) -> None:
    tool = bench.state.checklist.tool(1)
    assert tool is not None
    brief = card_at(bench, bench.form(10), "tool loaded 1").brief
    assert [tool.name, f"Ø {tool.diameter}"] == list(brief[:2])
    assert brief.index(str(tool.speed)) < brief.index(str(tool.feed)) < len(brief) - 1


def test_the_life_counts_down_by_what_the_cycles_took() -> None:
    """Worked by hand: 60 min when new, 5 min a piece, 4 pieces a pallet, so 20 min a load."""
    bench = open_bench()
    first = bench.form(10)
    assert dict(card_at(bench, first, "tool loaded 1").facts)["life"] == "60 min when new, this load takes 20 min"
    bench.through(first, 10)
    second = bench.form(10)
    assert dict(card_at(bench, second, "start").facts)["T1"].endswith("40 min left, this load takes 20 min")


def test_a_cycle_is_started_and_ended_by_its_set_up(bench: Bench) -> None:
    """Question 6: program, work offset, and how each tool of the operation runs."""
    load = bench.form(10)
    operation = bench.state.operation(10)
    for key in ("start", "end"):
        shown = dict(card_at(bench, load, key).facts)
        assert shown["program"] == operation.program
        assert shown["work offset"] == "G54"
        for use in operation.tools:
            tool = bench.state.checklist.tool(use.tool)
            assert tool is not None
            assert f"{tool.speed}, {tool.feed}" in shown[f"T{use.tool}"]


def test_where_nothing_is_set_up_the_limits_of_the_station_make_no_card() -> None:
    plate = ('name = "Oven"\n', 'name = "Oven"\ntemperature_limit = "200 degC"\nsource = "Plate"\n')
    bench = open_bench(lambda: edited(plate), start=4)
    bench.through(bench.form(10), 10, 20, 30)
    tray = bench.form(40)
    bench.until(tray, "start")
    assert build_setup_card(bench.state, bench.run_of(tray), bench.line(tray, "start")) is None


def test_other_lines_have_no_card(bench: Bench) -> None:
    load = bench.form(10)
    bench.begin(load)
    walked = bench.walk(load)
    bare = [line for line in walked.lines if line.kind in ("do", "count", "release", "caution")]
    assert bare
    assert all(build_setup_card(bench.state, walked.run, line) is None for line in bare)


def test_what_a_tool_does_at_its_card_and_what_does_not_fit_is_beside_its_line() -> None:
    """A fly cutter at 2,000 rpm and 2 in/min takes 0.001 in a turn and rubs (common practice, no source)."""
    fly = (
        'name = "6 mm end mill"\n',
        'name = "Fly cutter"\nkind = "fly cutter"\ndiameter = "2 in"\nflutes = 1\nspeed = "2000 rpm"\n'
        'feed = "2 in/min"\ndepth = "0.010 in"\nwidth = "1 in"\n',
    )
    bench = open_bench(lambda: edited(fly, ("revised = ", 'work_material = "brass"\nrevised = ')))
    shown = card_at(bench, bench.form(10), "tool loaded 1")
    facts = dict(shown.facts)
    assert facts["check"].startswith("rubs: its thickest chip is 0.001 in; the edge needs 0.002362 in")
    assert shown.brief[1] == f"! {facts['check']}"
    assert facts["cut"] == "0.010 in deep, 1 in wide"
    assert facts["power"].endswith(" kW")
