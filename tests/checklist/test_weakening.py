"""A newer checklist that protects less than the one before, point by point."""

from __future__ import annotations

from dataclasses import replace

import pytest

from floor.checklist.gates import Gate, Measured, Probed
from floor.checklist.model import Checklist
from floor.checklist.operation import Do
from floor.checklist.units import read_measure
from floor.checklist.weakening import Weakening, describe_weakening, list_weakenings
from floor.checklist.weaker_fields import falls, rises
from tests.batch.factory import TWO_MILLS, edited, part, thermal_break, two_up
from tests.batch.test_out_of_list import line_of_ops

HUMIDITY = '  { gate = "measured", what = "humidity", at = "load", high = "85 pct", waive = "never" },\n'
DOOR = '{ do = "Shut the door", at = "load", cautions = ["cutter"] }'
COAT = '{ do = "Brush the coat on", id = "coat", at = "load", skip = false }'
SAME = COAT.replace(', id = "coat"', "")
WIDTH = '{ what = "width", low = "5.9 mm", high = "6.1 mm" }'
DEPTH = '{ gate = "measured", what = "groove depth", low = "2.9 mm", high = "3.1 mm", sample = 2 }'


def sampled(sample: str) -> str:
    return DEPTH.replace("sample = 2", f"sample = {sample}")


FIRST = '{ gate = "first piece accepted", independent = true }'
VALUES = (
    '{ gate = "first piece accepted", independent = true, characteristics = [{ what = "bore", low = "8 mm", high = '
    '"8.1 mm", gauge = "Pin", serial = true }, { what = "face", accept = "no chatter" }] }'
)
SECOND = 'at = "setup", per = "setup", self_after = "30 min" }'
NOTHING_ROCKS = 'do = "Press each corner: nothing rocks", at = "load"'
TORQUE = 'what = "torque", low = "10 N*m"'
CURE = '{ id = "cure", starts = "step coat", windows = [{ earliest = "12 h" }], source = "Label: 12 h" }'
RECOAT = 'windows = [{ latest = "1 h" }, { earliest = "48 h" }]'
POT = '{ gate = "cured", do = "Mix within its pot life", clock = "pot life", at = "load" }'
UNTIL_COAT = POT.replace(" }", ', until = "coat" }')
CLEAN = '{ do = "Clean the brush", id = "clean", at = "load" }'
WAY = "back_to = 10\npasses = 1"
FREE = 'title = "Cut free"\n'
OUT = '{ do = "Take the tray out", at = "after", cautions = ["hot"] }'
SOAK = '{ gate = "soaked", low = "145 degC", high = "155 degC", time = "1 h", longest_gap = "5 min" }'
AIR = '{ gate = "air measured", low = "15 degC", high = "30 degC", humidity_high = "70 %" }'
MILL = 'id = "mill"\nname = "Mill"\n'
OVEN = 'name = "Oven"\nkind = "oven"\n'
PROGRAM = 'program = "KB7-10 A"\n'
LIMITS = (
    f'{PROGRAM}program_file = "O710.nc"\n'
    'program_limits = { z_low = "-3 mm", z_top = "2 mm", x_low = "-5 mm", y_high = "90 mm", rapid_z_low = "1 mm" }\n'
)
PLATE = (
    f'{OVEN}oven_class = "B"\ntemperature_limit = "200 degC"\nsolvent_limit = "40 g"\nexhaust = "20 m**3/h"\n'
    'source = "Plate"\n'
)
SOAKED = "Prove the soak: 1 h at 145 to 155 degC"
BAR = '{ gate = "lot recorded", what = "bar stock"'
TWO_MORE = f'{{ do = "Wipe the bars", at = "arrive" }},\n  {{ do = "Lay them out", at = "arrive" }},\n  {BAR}'

LACQUER = '{ gate = "lot recorded", what = "lacquer"'

Edit = tuple[str, str]
LOST: list[tuple[Edit | None, Edit, tuple[str | int, ...]]] = [
    # an edit of the part for both, what the newer one changes in it, what is found
    (None, ('word = "WARNING"', 'word = "CAUTION"'), ("lower signal word", "Turning cutter")),
    (None, ('avoid = "Door shut', 'avoid = "Door may be shut'), ("caution reworded", "Turning cutter")),
    (None, (DOOR, DOOR.replace(', cautions = ["cutter"]', "")), ("caution off an operation", "Turning cutter", 30)),
    (None, (DOOR, DOOR.replace(', cautions = ["cutter"]', "")), ("caution moved", "Turning cutter: Shut the door", 10)),
    ((PROGRAM, f'{PROGRAM}start_cautions = ["hot"]\n'), ("start_cautions", "end_cautions"),
     ("caution moved", "Pieces at 150 degC look like cold ones: start", 10)),
    (None, (COAT, COAT.replace(", skip = false", "")), ("step may be skipped", "Brush the coat on", 20)),
    (None, (COAT, COAT.replace("Brush the coat on", "Paint it")), ("step gone", "Brush the coat on", 20)),
    (None, (COAT, COAT.replace('at = "load"', 'at = "after"')),
     ("asked later", "Brush the coat on", 20, "load", "after")),
    ((COAT, f"{COAT},\n  {SAME}"), (f",\n  {SAME}", ""),
     ("step gone", "Brush the coat on", 20)),
    (None, (HUMIDITY, HUMIDITY.replace(', waive = "never"', "")),
     ("check may be waived", "Measure humidity", 20, "never", "lead")),
    (None, (HUMIDITY, ""), ("check gone", "Measure humidity", 20)),
    (None, (HUMIDITY, HUMIDITY.replace("85", "90")),
     ("upper limit raised", "Measure humidity", 20, "85 pct", "90 pct")),
    (None, (DEPTH, DEPTH.replace(', high = "3.1 mm"', "")),
     ("upper limit raised", "Measure groove depth", 10, "3.1 mm", "nothing")),
    (None, (DEPTH, DEPTH.replace("2.9 mm", "0.1 in").replace("3.1 mm", "0.122 in")),
     ("lower limit lowered", "Measure groove depth", 10, "2.9 mm", "0.1 in")),
    (None, (DEPTH, DEPTH.replace("sample = 2", "sample = 1")),
     ("sample smaller", "Measure groove depth", 10, "2", "1")),
    ((DEPTH, DEPTH.replace("= 2 }", '= "all", gauge = "Micrometer", serial = true }')), ('"all"', "3"),
     ("sample smaller", "Measure groove depth", 10, "all", "3")),
    ((DEPTH, DEPTH.replace("= 2 }", "= 3 }")), ("sample = 3", 'sample = "first and last"'),
     ("sample smaller", "Measure groove depth", 10, "3", "first and last")),
    ((DEPTH, sampled("{ every = 5 }")), ("every = 5", "every = 6"),
     ("sample smaller", "Measure groove depth", 10, "one in every 5 pieces", "one in every 6 pieces")),
    ((DEPTH, sampled("{ aql = 1.0 }")), ("aql = 1.0", "aql = 1.5"),
     ("sample smaller", "Measure groove depth", 10, "by plan, AQL 1 %, level II", "by plan, AQL 1.5 %, level II")),
    ((DEPTH, sampled('{ aql = 1.0, level = "I" }')), ('"I"', '"S-4"'),
     ("sample smaller", "Measure groove depth", 10, "by plan, AQL 1 %, level I", "by plan, AQL 1 %, level S-4")),
    ((DEPTH, sampled("{ aql = 1.0 }")), ("{ aql = 1.0 }", "3"),
     ("sampled otherwise", "Measure groove depth", 10, "by plan, AQL 1 %, level II", "3")),
    ((DEPTH, f'{{ gate = "measured", what = "groove depth", characteristics = [{WIDTH}] }}'),
     ('"6.1 mm"', '"6.2 mm"'), ("upper limit raised", "width", 10, "6.1 mm", "6.2 mm")),
    ((DEPTH, DEPTH.replace("= 2 }", '= 2, gauge = "Micrometer", serial = true }')), ("serial = true", "serial = false"),
     ("serial number not asked", "Measure groove depth", 10)),
    (None, (FIRST, FIRST.replace("true", "false")), ("second person not asked", "Accept the first piece", 10)),
    (None, (FIRST, FIRST.replace("true", 'true, self_after = "1 h"')),
     ("self-check sooner", "Accept the first piece", 10, "nothing", "1 h")),
    (None, (FIRST, FIRST.replace("true", 'true, lapses_on = ["rezeroed"]')),
     ("lapses on less", "Accept the first piece", 10, "power lost, refixtured, rezeroed, tool changed", "rezeroed")),
    ((FIRST, FIRST.replace("true", 'true, again_for = ["bar stock"]')), (', again_for = ["bar stock"]', ""),
     ("new lot not asked", "Accept the first piece", 10, "bar stock", "nothing")),
    ((FIRST, VALUES), ('"8.1 mm"', '"8.2 mm"'), ("upper limit raised", "bore", 10, "8.1 mm", "8.2 mm")),
    ((FIRST, VALUES), (', { what = "face", accept = "no chatter" }', ""), ("characteristic gone", "face", 10)),
    ((FIRST, VALUES), (", serial = true", ""), ("serial number not asked", "bore", 10)),
    (None, (SECOND, SECOND.replace("30 min", "5 min")),
     ("self-check sooner", "Second look at tools and program", 10, "30 min", "5 min")),
    (None, (NOTHING_ROCKS, f'{NOTHING_ROCKS}, per = "shift"'),
     ("asked less often", "Press each corner: nothing rocks", 10, "load", "shift")),
    (None, (NOTHING_ROCKS, NOTHING_ROCKS.replace('"load"', '"cycle"')),
     ("asked later", "Press each corner: nothing rocks", 10, "load", "cycle")),
    (None, (TORQUE, TORQUE.replace("10", "8")),
     ("lower limit lowered", "Check the clamps with the torque wrench", 30, "10 N*m", "8 N*m")),
    (None, (', high = "14 N*m"', ""),
     ("upper limit raised", "Check the clamps with the torque wrench", 30, "14 N*m", "nothing")),
    (None, ('by = "clamps"', 'by = "vacuum"'),
     ("held by less", "Check the clamps with the torque wrench", 30, "clamps", "vacuum")),
    (('by = "clamps"', 'by = "vacuum"'), ('by = "vacuum"', 'by = "tape", coolant = true'),
     ("held by less", "Check the clamps with the torque wrench", 30, "vacuum", "tape")),
    (('program = "KB7-10 A"\n', 'program = "KB7-10 A"\ncoolant = "dry"\n'), ('"dry"', '"flood"'),
     ("coolant on a dry cut", "Mill the groove", 10, "dry", "flood")),
    (None, ('{ name = "X", low = "-1 mm", high = "1 mm" }, ', ""), ("axis gone", "G54 X", 10)),
    (None, ('low = "-1 mm", high = "1 mm"', 'low = "-2 mm", high = "1 mm"'),
     ("lower limit lowered", "G54 X", 10, "-1 mm", "-2 mm")),
    (None, (CURE, CURE.replace('earliest = "12 h"', 'earliest = "8 h"')),
     ("window wider", "cure", 20, "from 12 h", "from 8 h")),
    (None, (RECOAT, RECOAT.replace('"48 h"', '"47 h"')),
     ("window wider", "recoat", 20, "from 48 h, to 1 h", "from 47 h, to 1 h")),
    (None, (CURE, CURE.replace("step coat", "step mix")),
     ("clock starts otherwise", "cure", 20, "step coat", "step mix")),
    ((CURE, CURE.replace(" }], source", ' }], temperature = "20 degC", source')), ('temperature = "20 degC", ', ""),
     ("cold air not counted", "cure", 20, "20 degC", "nothing")),
    (None, (POT, POT.replace('at = "load"', 'at = "load", once = true')),
     ("not again in rework", "Mix within its pot life", 20)),
    ((OUT, f"{SOAK},\n  {OUT}"), ('time = "1 h"', 'time = "50 min"'), ("soak shorter", SOAKED, 40, "1 h", "50 min")),
    ((OUT, f"{SOAK},\n  {OUT}"), (', longest_gap = "5 min"', ""), ("gap longer", SOAKED, 40, "5 min", "15 min")),
    ((COAT, f"{AIR},\n  {COAT}"), (', humidity_high = "70 %"', ""),
     ("damper air allowed", "Measure the air and the part", 20, "70 %", "85 %")),
    ((MILL, f'{MILL}speed_limit = "9000 rpm"\nsource = "Plate"\n'), ("9000 rpm", "12000 rpm"),
     ("speed limit raised", "Mill", 0, "9000 rpm", "12000 rpm")),
    ((OVEN, PLATE), ("200 degC", "220 degC"), ("temperature limit raised", "Oven", 0, "200 degC", "220 degC")),
    ((OVEN, PLATE), ('oven_class = "B"', 'oven_class = "A"'), ("oven class changed", "Oven", 0, "B", "A")),
    ((OVEN, PLATE), ('solvent_limit = "40 g"\n', ""), ("solvent limit raised", "Oven", 0, "40 g", "nothing")),
    ((OVEN, PLATE), ("20 m**3/h", "15 m**3/h"), ("exhaust lowered", "Oven", 0, "20 m**3/h", "15 m**3/h")),
    ((PROGRAM, LIMITS), ('z_low = "-3 mm"', 'z_low = "-4 mm"'), ("Z low lowered", "program", 10, "-3 mm", "-4 mm")),
    ((PROGRAM, LIMITS), ('x_low = "-5 mm", ', ""), ("X low lowered", "program", 10, "-5 mm", "nothing")),
    ((PROGRAM, LIMITS), ('y_high = "90 mm"', 'y_high = "4 in"'), ("Y high raised", "program", 10, "90 mm", "4 in")),
    ((PROGRAM, LIMITS), ('rapid_z_low = "1 mm"', 'rapid_z_low = "0 mm"'),
     ("rapids lower", "program", 10, "1 mm", "0 mm")),
    ((PROGRAM, LIMITS), (LIMITS, PROGRAM), ("Z low lowered", "program", 10, "-3 mm", "nothing")),
    ((PROGRAM, f'{PROGRAM}recheck_after = "15 min"\n'), ('"15 min"', '"31 min"'),
     ("checked again later", "Mill the groove", 10, "15 min", "31 min")),
    ((f"{LACQUER},", f"{LACQUER}, use_by = true,"), ("use_by = true", "use_by = false"),
     ("date not asked", "Record the lot of lacquer", 20)),
    (None, (f"{LACQUER},", f"{LACQUER}, use_by = false,"), ("date not asked", "Record the lot of lacquer", 20)),
    ((BAR, TWO_MORE), (PROGRAM, f'{PROGRAM}do_confirm = ["arrive"]\n'),
     ("confirmed afterwards", "Mill the groove", 10, "nothing", "arrive")),
    ((COAT, COAT.replace("skip = false", "skip = false, people = 2")), (", people = 2", ""),
     ("fewer people", "Brush the coat on", 20, "2", "1")),
    ((COAT, COAT.replace("skip = false", 'skip = false, same_time_as = "mix"')), (', same_time_as = "mix"', ""),
     ("not at the same time", "Brush the coat on", 20, "mix", "nothing")),
    ((COAT, COAT.replace("skip = false", "skip = false, repeat = { times = 5 }")), ("times = 5", "times = 4"),
     ("repeated less", "Brush the coat on", 20, "5 times", "4 times")),
    ((MILL, f'{MILL}qualified = ["training"]\n'), ('qualified = ["training"]\n', ""),
     ("people less qualified", "Mill", 0, "training", "nothing")),
    (None, (FREE, f"{FREE}may_outlast_shift = true\n"),
     ("may run unattended", "Cut free", 30)),
    (None, ("passes = 2", "passes = 3"), ("more passes", "Scrape and coat again", 0, "2", "3")),
    (None, (WAY, f"{WAY}\nops = [10, 30]"), ("left out of a rework", "Cut the groove again", 20)),
    ((WAY, f"{WAY}\nops = [10, 30]"), (FREE, f"{FREE}rework_only = true\n"), ("passed in rework only", "Cut free", 30)),
    (None, (POT, UNTIL_COAT),
     ("window ends otherwise", "Mix within its pot life", 20, "nothing", "coat")),
    ((POT, f"{UNTIL_COAT},\n  {CLEAN}"), ('until = "coat"', 'until = "clean"'),
     ("window ends otherwise", "Mix within its pot life", 20, "coat", "clean")),
    ((OVEN, PLATE.replace('oven_class = "B"\n', "")), (OVEN, f'{OVEN}oven_class = "A"\n'),
     ("oven class changed", "Oven", 0, "nothing", "A")),
]  # fmt: skip
BOTH_WAYS = (
    "caution reworded", "caution moved", "step gone", "clock starts otherwise", "sampled otherwise",
    "oven class changed", "window ends otherwise",
)  # fmt: skip
"""Different, and nobody can say which is more."""


@pytest.mark.parametrize("less", ["{ aql = 1.0 }", "{ every = 5 }", "3"])
def test_all_is_more_than_any_sample_and_no_other_kind_of_one(less: str) -> None:
    every, some = edited((DEPTH, sampled('"all"'))), edited((DEPTH, sampled(less)))
    assert [one.kind for one in list_weakenings(every, some)] == ["sample smaller"]
    assert not list(list_weakenings(some, every))


@pytest.mark.parametrize(("both", "edit", "lost"), LOST, ids=[f"{one[2][0]} {n}" for n, one in enumerate(LOST)])
def test_each_way_to_ask_less_is_found(both: Edit | None, edit: Edit, lost: tuple[str | int, ...]) -> None:
    """SAF-15. The other way round it asks more, which is nothing to answer for."""
    edits = [(MILL, f'{MILL}program_folder = "nc"\n'), *([both] if both is not None else [])]
    before, now = edited(*edits), edited(*edits, edit)
    assert Weakening(*lost) in list_weakenings(before, now)  # type: ignore[arg-type]
    assert list_weakenings(now, now) == ()
    back = [one.kind for one in list_weakenings(now, before)]
    assert lost[0] not in back or lost[0] in BOTH_WAYS


def test_an_order_that_no_longer_binds_is_found() -> None:
    before, now = line_of_ops(), line_of_ops(12, 14)

    lost = [Weakening("may be done in another order", f"Cut {op}", op) for op in (12, 14)]
    assert list(list_weakenings(before, now)) == lost
    assert list_weakenings(now, before) == ()


def renumbered(checklist: Checklist, more: int) -> Checklist:
    return replace(checklist, operations=tuple(replace(one, op=one.op + more) for one in checklist.operations))


def test_new_numbers_alone_neither_hide_nor_invent_anything() -> None:
    """By ten, each operation has the number that the next one had."""
    for more in (1, 10):
        assert list_weakenings(part(), renumbered(part(), more)) == ()
        looser = renumbered(edited((HUMIDITY, HUMIDITY.replace("85", "90"))), more)
        assert [one.op for one in list_weakenings(part(), looser)] == [20]
    retitled = renumbered(edited((HUMIDITY, ""), ('title = "Coat"', 'title = "Lacquer"')), 3)
    assert Weakening("check gone", "Measure humidity", 20) in list_weakenings(part(), retitled)


def test_steps_of_one_name_stand_for_one_another_once() -> None:
    """Whichever comes first: the strict one is matched with the strict one."""
    loose = HUMIDITY.replace("85", "95")
    assert list_weakenings(edited((HUMIDITY, HUMIDITY + loose)), edited((HUMIDITY, loose + HUMIDITY))) == ()
    (found,) = list_weakenings(edited((HUMIDITY, HUMIDITY + loose)), edited((HUMIDITY, loose)))
    assert found.kind == "check gone"


def test_the_clearance_of_a_booth_is_compared() -> None:
    before = thermal_break()

    def longer(step: Do | Gate) -> Do | Gate:
        is_it = isinstance(step, Measured) and step.what.startswith("clearance time")
        return replace(step, high=read_measure("9 min", "any")) if is_it else step

    operations = tuple(replace(one, steps=tuple(map(longer, one.steps))) for one in before.operations)
    found = list_weakenings(before, replace(before, operations=operations))
    assert {(one.kind, one.was, one.now) for one in found} == {("upper limit raised", "5 min", "9 min")}


def test_an_operation_that_is_gone_takes_its_checks_with_it() -> None:
    """Its hazards go too, which is nothing to answer for."""
    gone = replace(part(), operations=part().operations[:-1])
    assert list_weakenings(part(), gone) == (Weakening("operation gone", "Inspect and pack", 50),)


def test_an_operation_of_steps_alone_has_no_check_to_take_with_it() -> None:
    last = part().operations[-1]
    plain = replace(last, steps=(Do(do="Pack them", at="load"),), clocks=())
    before = replace(part(), operations=(*part().operations[:-1], plain))
    assert list_weakenings(before, replace(before, operations=before.operations[:-1])) == ()


def test_values_are_said_as_they_were_and_are() -> None:
    assert describe_weakening("sample smaller", "Measure groove depth", 10, "2", "1") == (
        "op 10, sample smaller: Measure groove depth (2, now 1)"
    )


def test_a_caution_that_is_gone_is_named_once() -> None:
    before = part()
    now = replace(
        before,
        cautions={},
        operations=tuple(
            replace(
                one,
                start_cautions=(),
                end_cautions=(),
                count_cautions=(),
                steps=tuple(replace(step, cautions=()) for step in one.steps),
            )
            for one in before.operations
        ),
    )
    found = [one for one in list_weakenings(before, now) if "caution" in one.kind]
    assert [one.kind for one in found] == ["caution gone"] * len(before.cautions)
    assert describe_weakening(*found[0]) == f"caution removed: {found[0].subject}"


def test_what_protects_more_or_as_much_is_nothing_to_answer_for() -> None:
    assert list_weakenings(edited(('word = "WARNING"', 'word = "CAUTION"')), part()) == ()
    assert list_weakenings(part(), part()) == ()
    dated = edited((f"{LACQUER},", f"{LACQUER}, use_by = true,"))
    assert list_weakenings(dated, part()) == list_weakenings(part(), dated) == (), "left out, the date is asked for too"


def test_a_limit_in_another_kind_of_unit_cannot_be_compared_and_counts_as_weaker() -> None:
    """By their numbers these would ask more."""
    least, most, now = (read_measure(text, "any") for text in ("2.9 mm", "3.1 mm", "3 degC"))
    assert falls(least, now)
    assert rises(most, now)


def test_a_step_that_might_be_skipped_is_nothing_to_answer_for() -> None:
    watch = '  { do = "Watch the first cut", at = "cycle" },\n'
    assert list_weakenings(part(), edited((watch, ""))) == ()
    assert list_weakenings(part(), edited((watch, watch.replace("cycle", "after")))) == ()


def test_an_axis_of_another_offset_is_another_axis() -> None:
    before = two_up()
    mill = before.ops[10]

    def moved(step: Do | Gate) -> Do | Gate:
        if not isinstance(step, Probed):
            return step
        return replace(step, axes=tuple(replace(one, offset=one.offset.replace("G55", "G57")) for one in step.axes))

    now = replace(before, operations=(replace(mill, steps=tuple(map(moved, mill.steps))), *before.operations[1:]))
    assert list_weakenings(before, now) == (Weakening("axis gone", "G55 X", 10),)


def test_an_operation_of_that_number_without_a_common_step_is_another_one() -> None:
    other = replace(part().ops[20], title="Polish", steps=(Do(do="Polish it", at="load"),), clocks=())
    now = replace(part(), operations=tuple(other if one.op == 20 else one for one in part().operations))
    found = [one for one in list_weakenings(part(), now) if one.op == 20]
    assert found == [Weakening("operation gone", "Coat", 20)]


def test_each_station_is_compared_with_itself() -> None:
    limits = [(f'name = "{name}"\n', f'name = "{name}"\nspeed_limit = "{most} rpm"\nsource = "Plate"\n')
              for name, most in (("Mill", 9000), ("Mill 2", 12000))]  # fmt: skip
    before = edited(*TWO_MILLS, *limits)
    now = edited(*TWO_MILLS, *limits, ("12000 rpm", "15000 rpm"))
    assert list_weakenings(before, before) == ()
    assert list_weakenings(before, now) == (Weakening("speed limit raised", "Mill 2", 0, "12000 rpm", "15000 rpm"),)
