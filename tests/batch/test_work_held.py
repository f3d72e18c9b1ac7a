"""Work held: proved by a value or a second check, void after a change of carrier or workholding, fit for the cut.

Which ways of holding stand coolant, and what lets go without power, is common practice, no source.
"""

from __future__ import annotations

from functools import partial

import pytest

from floor.batch.gates.commands import Prove
from floor.batch.gates.lapse_causes import DISTURBANCES
from floor.batch.stations.commands import Disturb
from floor.batch.walk.commands import StartCycle
from floor.checklist.gates import WorkHeld
from floor.checklist.loading import read_checklist
from floor.checklist.step_references import describe_gauge
from tests.batch.factory import Bench, edited, edited_text, open_bench

HELD = (
    '{ gate = "work held", by = "clamps", do = "Check the clamps with the torque wrench", what = "torque", '
    'low = "10 N*m", high = "14 N*m" }'
)
KEY = "work held 1"


def to_the_cut(bench: Bench, key: str = KEY) -> int:
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.until(load, key)
    return load


def held(*says: str) -> tuple[str, str]:
    return HELD, HELD.replace(" }", "".join(f", {one}" for one in says) + " }")


def problems(text: str) -> list[str]:
    return [f"{one.wrong}; {one.right}" for one in read_checklist(text, "part.toml").problems]


@pytest.mark.parametrize(("torque", "met"), [(10, True), (14, True), (9.9, False), (14.1, False)])
def test_it_is_proved_by_the_value_that_is_read(torque: float, met: bool) -> None:
    bench = open_bench()
    load = to_the_cut(bench)
    assert bench.refused(StartCycle(bench.run_of(load).number)).why in ("gate", "not now")

    bench.prove(load, KEY, value=torque)

    assert (bench.line(load, KEY).state == "done") == met


@pytest.mark.parametrize(("by", "void"), [
    ("clamps", {"lifted", "refixtured"}), ("vacuum", {"lifted", "refixtured", "power lost"}),
    ("magnet", {"lifted", "refixtured", "power lost"}), ("tape", {"lifted", "refixtured"}),
])  # fmt: skip
def test_what_voids_it(by: str, void: set[str]) -> None:
    found = set()
    for what in DISTURBANCES:
        bench = open_bench(partial(edited, ('by = "clamps"', f'by = "{by}"')))
        load = to_the_cut(bench, "start")
        bench.say(Disturb("mill", what, load if what == "lifted" else None, 1 if what == "tool changed" else None))
        found |= {what} if bench.line(load, KEY).state != "done" else set()
    assert found == void


def test_a_second_look_is_anothers() -> None:
    bench = open_bench(partial(edited, (HELD, HELD.replace(', low = "10 N*m", high = "14 N*m"', ", second = true"))))
    load = to_the_cut(bench)
    bench.prove(load, KEY, person="BB")
    assert bench.line(load, KEY).evidence.startswith("BB")


def test_who_did_the_work_does_not_look_at_it_too() -> None:
    bench = open_bench(partial(edited, held("second = true")))
    load = to_the_cut(bench)

    refused = bench.refused(_prove(bench, load, "AA"))

    assert (refused.why, refused.field) == ("authority", "person")
    bench.say(_prove(bench, load, "BB"))
    assert bench.line(load, KEY).state == "done"


def _prove(bench: Bench, load: int, person: str) -> Prove:
    return Prove(bench.run_of(load).number, KEY, {"value": 12, "person": person})


def test_what_nothing_proves_is_refused_as_a_tick() -> None:
    text = edited_text((', low = "10 N*m", high = "14 N*m"', ""))
    right = "add `low` or `high` of a torque, pressure or pull that is read, or `second = true`"
    assert problems(text) == [f"nothing proves that it holds; {right}"]


CYCLE = 'title = "Cut free"\n'


@pytest.mark.parametrize(("by", "says", "coolant", "wrong"), [
    ("tape", "", "flood", "the cut runs with flood coolant, and tape holds dry only"),
    ("adhesive", "", "mist", "the cut runs with mist coolant, and adhesive holds dry only"),
    ("tape", "", "air", ""), ("tape", "", "dry", ""), ("clamps", "", "flood", ""),
    ("tape", ", coolant = true", "flood", ""), ("vise", ", coolant = false", "flood", "vise holds dry only"),
])  # fmt: skip
def test_what_holds_dry_only_is_not_cut_wet(by: str, says: str, coolant: str, wrong: str) -> None:
    new = HELD.replace('clamps", do', f'{by}", do').replace(" }", f"{says} }}")
    text = edited_text((HELD, new), (CYCLE, f'{CYCLE}coolant = "{coolant}"\n'))
    found = problems(text)
    assert (wrong in found[0] if found else False) == bool(wrong)


@pytest.mark.parametrize(("through", "says", "refused"), [
    ("true", "through = false", True), ("true", "through = true", False), ("false", "through = false", False),
])  # fmt: skip
def test_what_must_not_be_cut_is_not_cut_through(through: str, says: str, refused: bool) -> None:
    text = edited_text(held(says), (CYCLE, f"{CYCLE}through = {through}\n"))
    assert bool(problems(text)) == refused


@pytest.mark.parametrize(("pieces", "refused"), [(3, True), (4, False)])
def test_it_takes_a_whole_load(pieces: int, refused: bool) -> None:
    found = problems(edited_text(held(f"pieces = {pieces}")))
    assert (found == [f"a load has 4 pieces, and {pieces} are held at once; "
                      "give the operation a smaller carrier, or fix `pieces`"]) == refused  # fmt: skip


def test_its_limits_and_its_release_stand_beside_the_step() -> None:
    part = edited(held("pieces = 4", "through = false", 'release = "Warm it"'))
    gate = part.ops[30].gate(KEY)
    assert isinstance(gate, WorkHeld)
    assert describe_gauge(part, gate) == "No through cuts; holds 4 pieces. Release: Warm it"
