"""What the checklist says beside a step is on the paper: gauge, balloon, drawing, sources, the station's limits."""

from __future__ import annotations

from dataclasses import replace

from floor.checklist.gates import Measured
from floor.checklist.step_references import describe_gauge, find_limits, find_source, list_caution_sources
from floor.papers.start_quantity import write_start_text
from floor.papers.traveler import write_traveler
from floor.planning.start_plan import plan_start
from tests.batch.factory import edited, open_bench, part, thermal_break

DRAWING = ('revision = "A"\n', 'revision = "A"\ndrawing = "KB-7 sheet 2, revision B"\n')
GROOVE = 'what = "groove depth"'


def copy_of(*edits: tuple[str, str]) -> str:
    bench = open_bench(lambda: edited(*edits)) if edits else open_bench()
    load = bench.form(10)
    return " ".join(write_traveler(bench.state, load, bench.clock(), "h" * 64).split())


def test_the_gauge_the_balloon_and_the_drawing_stand_with_the_value() -> None:
    said = copy_of(DRAWING, (GROOVE, f'{GROOVE}, gauge = "Depth micrometer", number = 4'))
    line = said.index("Measure groove depth")
    beside = said.index("With: Depth micrometer; balloon 4 on KB-7 sheet 2, revision B", line)
    assert line < beside < said.index("groove depth (2.9 to 3.1 mm): ____", line)
    assert "drawing: KB-7 sheet 2, revision B" in said
    assert "With:" not in copy_of()


def test_a_first_piece_is_held_against_the_drawing() -> None:
    said = copy_of(DRAWING)
    assert said.index("Accept the first piece") < said.index("Drawing: KB-7 sheet 2, revision B")


def test_the_source_of_a_gate_and_of_a_caution_is_on_the_copy() -> None:
    said = copy_of((GROOVE, f'{GROOVE}, source = "Trial of 40 pieces"'))
    assert said.index("Measure groove depth") < said.index("Source: Trial of 40 pieces")
    door = said.index("*** WARNING: Turning cutter")
    assert said.index("Source: 29 CFR 1910.212(a)(1)", door) < said.index("Shut the door", door)


def test_what_is_common_practice_has_no_source() -> None:
    said = copy_of((GROOVE, f'{GROOVE}, source = "common practice"'), ("29 CFR 1910.212(a)(1)", "common practice"))
    assert said.count("Common practice, no source") > 1, "at the gate and at its cautions"
    assert "Source: common" not in said
    cutter = part().cautions["cutter"]
    both = [cutter, replace(cutter, source="common practice")]
    assert list_caution_sources(both) == "Source: 29 CFR 1910.212(a)(1) · common practice"


def test_what_a_station_can_do_is_on_the_copy() -> None:
    limits = 'name = "Mill"\nspeed_limit = "9000 rpm"\npower_limit = "2.2 kW"\nsource = "Spindle plate"\n'
    assert "Mill: at most 9000 rpm, 2.2 kW (Spindle plate)" in copy_of(('name = "Mill"\n', limits))
    assert "at most" not in copy_of().split("On arrival")[0]
    assert not find_limits(part().station("bench"))


def test_a_clock_gives_its_source_to_the_gate_that_waits_for_it() -> None:
    checklist = part()
    waits = next(step for _, step in checklist.ops[30].numbered_steps if getattr(step, "clock", "") == "cure")
    assert find_source(checklist, waits) == "Source: Label: 12 h"


def test_a_source_that_is_the_drawing_beside_it_is_reported_once() -> None:
    checklist = thermal_break()
    by_name = {step.what: step for one in checklist.operations for step in one.steps if isinstance(step, Measured)}
    bore, seat = by_name["bore diameter"], by_name["seat depth"]
    assert describe_gauge(checklist, bore) == "With: Bore gauge; balloon 8 on TB-2140 sheet 1, revision C"
    assert (bore.source, find_source(checklist, bore)) == ("TB-2140 sheet 1", "")
    assert find_source(checklist, seat).startswith("Source: TB-2140 sheet 1; AS568")


def test_two_cautions_of_one_source_name_it_once() -> None:
    cutter = part().cautions["cutter"]
    assert list_caution_sources([cutter, cutter]) == "Source: 29 CFR 1910.212(a)(1)"
    assert list_caution_sources([]) == ""


def test_material_for_the_order_names_the_source_of_each_amount() -> None:
    checklist = thermal_break()
    text = " ".join(write_start_text(checklist, plan_start(checklist, 20, 0.9)).split())
    assert checklist.consumables
    for one in checklist.consumables:
        assert f"{one.what}: {one.source}" in text
