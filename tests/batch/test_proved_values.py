"""Proofs are shown with units and in shop words; a length has limits; who accepts alone at night."""

from __future__ import annotations

from typing import Any

import pytest

from floor.batch.describe import describe
from floor.batch.gates.commands import Prove
from floor.batch.gates.judge_readings import say_out
from floor.batch.quality.measured_values import list_measured_values
from floor.checklist.frozen import freeze_checklist, read_frozen_checklist
from floor.checklist.gate_forms import SHOWN
from floor.checklist.model import Checklist
from tests.batch.factory import Bench, decide_out, measure_again, open_bench, part

SAID = [
    (10, "lot recorded 1", {"lot": "H-4471"}, "H-4471"),
    (10, "tool loaded 1", {"tool": 1, "length": 101.2}, "tool 1, length 101.2 mm"),
    (10, "probed 1", {"X": 0.2, "Z": -0.05}, "X 0.2 mm, Z -0.05 mm"),
    (20, "lot recorded 1", {"lot": "L1", "use_by": "2027-03-01"}, "L1, use by 2027-03-01"),
    (50, "measured 1", {"faulty": 0}, "failed 0"),
]


def stated() -> Checklist:
    """The test part, whose tool 1 is 100 to 103 mm long, and whose first piece one person may accept after 10 min."""
    data: dict[str, Any] = freeze_checklist(part())
    for step in data["operations"][0]["steps"]:
        if step.get("tool") == 1:
            step |= {"low": [100.0, "mm", 100.0, "100 mm"], "high": [103.0, "mm", 103.0, "103 mm"]}
        if step.get("gate") == "first piece accepted":
            step |= {"self_after": [10.0, "min", 600.0, "10 min"]}
    return read_frozen_checklist(data)


def at(bench: Bench, op: int, key: str) -> int:
    load = bench.form(10)
    for each in (10, 20, 30):
        if each < op:
            bench.through(load, each)
    if op == 50:
        load = bench.form(40)
        bench.through(load, 40)
        load = bench.form(50)
    bench.until(load, key)
    return load


@pytest.mark.parametrize(("op", "key", "values", "said"), SAID, ids=[f"{op} {key}" for op, key, *_ in SAID])
def test_a_proved_value_is_shown_with_its_unit(op: int, key: str, values: dict[str, Any], said: str) -> None:
    bench = open_bench(stated)
    load = at(bench, op, key)

    entry = bench.prove(load, key, **values)

    assert bench.line(load, key).evidence.startswith(said)
    assert describe(bench.state, entry).endswith(f": {said}"), "the history says the same"


DIGITS = [
    (["3.00", "3,050"], "3.00, 3.050 mm"),
    (["3", "3.05"], "3, 3.05 mm"),
    (["3.0 mm", "3.05"], "3.0, 3.05 mm"),
    (["30e-1", "3."], "3, 3 mm"),
]
"""Typed → shown: each digit of the gauge, and none that it did not show."""


@pytest.mark.parametrize(("typed", "said"), DIGITS)
def test_a_reading_keeps_the_digits_that_the_gauge_showed(typed: list[str], said: str) -> None:
    bench = open_bench(stated)
    load = at(bench, 10, "measured 1")

    entry = bench.prove(load, "measured 1", value=typed)

    assert bench.line(load, "measured 1").evidence.startswith(f"{said} · AA")
    values = next(some for shape, some in list_measured_values(bench.state).items() if shape.what == "groove depth")
    assert said == f"{', '.join(one.text for one in values)} mm"
    first, second = said.split(", ")
    assert describe(bench.state, entry).endswith(f": A1 {first}, B2 {second}"), "with the place of each"
    if said == "3, 3.05 mm":
        assert SHOWN not in entry.body["values"], "the numbers say it themselves, as in every older record"


def test_a_reading_out_of_limits_and_the_one_after_it_keep_their_digits() -> None:
    bench = open_bench()
    load = at(bench, 10, "measured 1")
    seq = bench.prove(load, "measured 1", value=["3.20", "3.00"]).seq
    assert say_out(bench.state, bench.state.out[seq]).startswith("out: groove depth 3.20, must be 2.9 to 3.1 mm")
    assert "3.20, must be" in bench.say(decide_out(bench.state, seq, "", ("A1",)))[0].body["note"]

    again = open_bench()
    load = at(again, 10, "measured 1")
    seq = again.prove(load, "measured 1", value=["3.20", "3.00"]).seq
    (entry,) = again.say(measure_again(again.state, seq, "3.10", "dirty gauge"))
    assert entry.body["shown"] == "3.10"
    assert again.line(load, "measured 1").evidence.startswith("3.10, 3.00 mm")
    assert "3.10" in describe(again.state, entry)


@pytest.mark.parametrize("length", [-5, 99.9, 103.1])
def test_a_length_that_the_tool_cannot_have_does_not_count(length: float) -> None:
    bench = open_bench(stated)
    load = at(bench, 10, "tool loaded 1")

    bench.prove(load, "tool loaded 1", tool=1, length=length)

    verdict = bench.current(load).verdict
    assert verdict is not None
    assert verdict.status == "ask"
    assert verdict.why == f"Length offset as measured {length:g}, must be 100 to 103 mm"


def test_alone_at_night_the_first_piece_is_looked_at_again_after_a_pause() -> None:
    """A delayed self-check, recorded as one; if the checklist does not allow it, nobody accepts their own piece."""
    bench = open_bench(stated)
    load = at(bench, 10, "first piece accepted 1")
    given = {"person": "AA", "found": "2.98"}
    refused = bench.refused(Prove(bench.run_of(load).number, "first piece accepted 1", given))
    assert "10 min more" in refused.wrong
    bench.clock.forward(600)

    entry = bench.prove(load, "first piece accepted 1", **given)

    assert entry.body["values"] == {**given, "self": True}
    assert "(self-check)" in bench.line(load, "first piece accepted 1").evidence
    assert describe(bench.state, entry).endswith("AA, 2.98 (self-check)")

    strict = open_bench()
    load = at(strict, 10, "first piece accepted 1")
    strict.clock.forward(3600)
    refused = strict.refused(Prove(strict.run_of(load).number, "first piece accepted 1", given))
    assert "cannot verify it" in refused.wrong


def test_a_gauge_has_a_serial_number_and_a_calibration_date() -> None:
    def with_gauge() -> Checklist:
        data: dict[str, Any] = freeze_checklist(part())
        gauge = {"gate": "lot recorded", "what": "bore gauge", "at": "arrive", "serial": True}
        data["operations"][0]["steps"].insert(0, gauge)
        return read_frozen_checklist(data)

    bench = open_bench(with_gauge)
    load = at(bench, 10, "lot recorded 1")
    line = bench.current(load)
    assert line.title == "Record the serial number of the bore gauge"
    assert line.verdict is not None
    assert line.verdict.clear == "enter the serial number of bore gauge"
    late = {"lot": "G-17", "use_by": "2026-03-01"}
    refused = bench.refused(Prove(bench.run_of(load).number, "lot recorded 1", late))
    assert refused.wrong == "bore gauge: calibration due 2026-03-01, which is past"

    entry = bench.prove(load, "lot recorded 1", lot="G-17", use_by="2026-03-03")

    assert bench.line(load, "lot recorded 1").evidence == "G-17, calibration due 2026-03-03"
    assert describe(bench.state, entry).endswith(": G-17, calibration due 2026-03-03")
    bench.clock.forward(3 * 24 * 3600)
    verdict = bench.current(load).verdict
    assert verdict is not None
    assert verdict.why == "bore gauge G-17 calibration was due 2026-03-03"
