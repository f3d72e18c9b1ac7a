"""Gauges at gates: asked by serial number, held when overdue or withdrawn, on record with the calibration of the day.

ISO 9001:2015, 7.1.5.2 (calibration status, unfit equipment; from memory).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from floor.batch.command import OtherBatches, Refused
from floor.batch.corrections.commands import Note
from floor.batch.corrections.from_paper import TranscribeAct
from floor.batch.describe import describe
from floor.batch.gates.commands import Prove
from floor.batch.gates.entered_values import read_date, read_value
from floor.batch.gates.gauges import find_only_serials, list_gauge_uses, list_gauges_of_runs
from floor.batch.gates.open_lot import OpenLot, read_use_by
from floor.batch.gauge import Gauge, find_gauge, is_named
from floor.batch.search.history_filter import Filter
from floor.batch.search.matching import find_matching_entries
from floor.batch.stations.commands import TakeDown
from floor.checklist.gate_forms import FormField
from floor.checklist.gates import FirstPiece, LotRecorded, Measured
from floor.checklist.loading import list_shipped_checklists, load_checklist, read_checklist
from floor.papers.closeout import write_close_out
from floor.papers.trace import format_trace
from floor.papers.traveler import write_traveler
from floor.shop.gauge_register import draft_gauge
from tests.batch.factory import MORNING, Bench, edited, edited_text, open_bench

DEPTH = ('high = "3.1 mm", sample = 2 }', 'high = "3.1 mm", sample = 2, gauge = "Depth micrometer", serial = true }')
FIRST = (
    '{ gate = "first piece accepted", independent = true }',
    '{ gate = "first piece accepted", characteristics = ['
    '{ what = "depth", low = "2.9 mm", high = "3.1 mm", gauge = "Depth micrometer", serial = true }, '
    '{ what = "width", low = "2.9 mm", high = "3.1 mm", gauge = "Depth micrometer", serial = true }, '
    '{ what = "bore", low = "2.9 mm", high = "3.1 mm", gauge = "Bore gauge", serial = true }] }',
)
LOT = ('what = "bar stock", at = "arrive", use_by = false }', 'what = "bar gauge", at = "arrive", serial = true }')
TODAY = MORNING.date()


def gauge(serial: str, days: int = 100, withdrawn: str = "", name: str = "Depth micrometer") -> Gauge:
    return Gauge(serial, name, TODAY + timedelta(days), MORNING, MORNING, withdrawn)


def register(*gauges: Gauge, only: bool = False) -> OtherBatches:
    return OtherBatches(gauges={one.serial: one for one in gauges}, registered_gauges_only=only)


@pytest.fixture
def bench() -> Bench:
    return open_bench(partial(edited, DEPTH))


def at_depth(bench: Bench) -> int:
    load = bench.form(10)
    bench.until(load, "measured 1")
    return load


def measure(bench: Bench, load: int, serial: str) -> None:
    bench.prove(load, "measured 1", value=[3.0, 3.01], gauge=serial)


def test_one_gauge_is_asked_for_all_samples_and_kept_with_its_date(bench: Bench) -> None:
    bench.elsewhere = register(gauge("DM-04"))
    load = at_depth(bench)
    measure(bench, load, " dm-04")

    line, due = bench.line(load, "measured 1"), TODAY + timedelta(100)
    assert line.is_satisfied
    assert line.evidence == f"3, 3.01 mm, Depth micrometer DM-04 (due {due}) · AA 07:24"
    assert bench.state.entries[-1].body["values"]["calibration"] == {"DM-04": due.isoformat()}


def test_without_a_serial_number_it_is_refused(bench: Bench) -> None:
    load = at_depth(bench)
    refused = bench.refused(Prove(bench.run_of(load).number, "measured 1", {"value": [3.0, 3.0]}))
    assert (refused.field, refused.attempt) == ("gauge", None)


def test_a_clock_that_was_set_back_makes_no_calibration_good_again(bench: Bench) -> None:
    bench.elsewhere = register(gauge("DM-04", 1))
    load = at_depth(bench)
    bench.clock.forward(2 * 24 * 3600)
    bench.say(Note("the depth micrometer is due"))
    bench.clock.step(-2 * 24 * 3600.0)
    assert bench.clock().at.date() <= TODAY + timedelta(1), "by its clock alone it would be good"

    depth = Prove(bench.run_of(load).number, "measured 1", {"value": [3.0, 3.01], "gauge": "DM-04"})
    refused = bench.refused(depth)
    assert refused.attempt is not None
    assert refused.attempt.what == "past its date"


@pytest.mark.parametrize(
    ("known", "only", "fault", "said", "remedy"),
    [
        (
            gauge("DM-04", -1),
            False,
            "past its date",
            "calibration of DM-04 was due 2026-03-01",
            "a lead enters its new",
        ),
        (gauge("DM-04", 9, "dropped"), False, "withdrawn", "DM-04 is withdrawn: dropped", "use another gauge"),
        (gauge("X"), True, "not in the register", "dm-04 is not in the register of gauges", "a lead adds it"),
        (
            gauge("DM-04", name="Thread gauge"),
            False,
            "another gauge",
            "DM-04 is in the register as: Thread gauge",
            "measure with a Depth micrometer, or a lead",
        ),
    ],
)
def test_a_gauge_that_may_not_be_used_holds_the_check_and_the_attempt_is_evidence(
    bench: Bench, known: Gauge, only: bool, fault: str, said: str, remedy: str
) -> None:
    bench.elsewhere = register(known, only=only)
    load = at_depth(bench)
    refused = bench.refused(Prove(bench.run_of(load).number, "measured 1", {"value": [3.0, 3.0], "gauge": "dm-04"}))

    assert (refused.why, refused.field, refused.wrong) == ("gate", "gauge", said)
    assert remedy in refused.remedy
    attempt: Any = refused.attempt
    assert (attempt.what, attempt.values["gauge"], attempt.line) == (fault, "dm-04", "measured 1")


def test_it_is_in_calibration_through_the_day_that_it_is_due(bench: Bench) -> None:
    bench.elsewhere = register(gauge("DM-04", 0))
    load = at_depth(bench)
    measure(bench, load, "DM-04")
    assert bench.line(load, "measured 1").is_satisfied


def test_one_that_is_not_in_the_register_is_taken_and_marked(bench: Bench) -> None:
    load = at_depth(bench)
    measure(bench, load, "own 7")
    assert "Depth micrometer own 7 (not in the register)" in bench.line(load, "measured 1").evidence
    assert "(not in the register)" in describe(bench.state, bench.state.entries[-1])


@pytest.mark.parametrize("file", list_shipped_checklists(), ids=lambda file: file.stem)
def test_every_shipped_measurement_that_names_a_gauge_asks_for_its_serial_number(file: Path) -> None:
    """All but the scale that weighs only waste."""
    checklist = load_checklist(file).checklist
    assert checklist is not None
    steps = [step for operation in checklist.operations for step in operation.steps]
    named = [step for step in steps if isinstance(step, Measured) and step.gauge and "left over" not in step.what]
    looked = [one for step in steps if isinstance(step, FirstPiece) for one in step.characteristics if one.gauge]
    assert len(named) + len(looked) >= 8
    assert all(one.serial for one in (*named, *looked))


def from_paper(bench: Bench, load: int, serial: str, at: datetime) -> TranscribeAct:
    return TranscribeAct(Prove(bench.run_of(load).number, "measured 1", {"value": [3.0, 3.0], "gauge": serial}), at)


def test_a_check_from_paper_is_judged_by_what_held_at_its_time(bench: Bench) -> None:
    """Calibration overdue then, or out of use then, whatever holds now; good then, if its readings still are."""
    load = at_depth(bench)
    measured = bench.clock().at
    bench.clock.forward(86_400)
    now = bench.clock().at

    def changed(was: Gauge, **since: Any) -> Gauge:
        return replace(was, **since, as_of=now, former=was)

    calibrated = changed(gauge("DM-1", -1), due=TODAY + timedelta(400))
    back = changed(gauge("DM-2", withdrawn="dropped"), withdrawn="")
    lost = changed(gauge("DM-3", 0), withdrawn="lost")
    wrong = changed(gauge("DM-4"), withdrawn="out of its limits", suspect=True, suspect_since=measured)
    bench.elsewhere = register(calibrated, back, lost, wrong)

    for serial, said in (
        ("DM-1", "calibration of DM-1 was due 2026-03-01"),
        ("DM-2", "DM-2 is withdrawn: dropped"),
        ("DM-4", "DM-4 is withdrawn: out of its limits"),
    ):
        assert bench.refused(from_paper(bench, load, serial, measured)).wrong == said
    assert bench.refused(Prove(bench.run_of(load).number, "measured 1", {"value": [3, 3], "gauge": "DM-3"})).wrong == (
        "DM-3 is withdrawn: lost"
    )
    bench.say(from_paper(bench, load, "DM-3", measured))
    assert bench.state.entries[-1].body["values"]["calibration"] == {"DM-3": TODAY.isoformat()}


def test_a_gate_without_serial_asks_for_none_as_before() -> None:
    bench = open_bench()
    load = at_depth(bench)
    bench.prove(load, "measured 1", value=[3.0, 3.01])
    assert bench.line(load, "measured 1").evidence == "3, 3.01 mm · AA 07:24"
    assert bench.state.entries[-1].body["values"] == {"value": [3.0, 3.01]}
    assert list_gauge_uses(bench.state) == []


def test_a_first_piece_asks_once_for_each_gauge() -> None:
    bench = open_bench(partial(edited, FIRST))
    bench.elsewhere = register(gauge("DM-04"), gauge("DM-05", -3))
    load = bench.form(10)
    bench.until(load, "first piece accepted 1")
    gate = bench.current(load).gate
    assert gate is not None
    assert [ask.label for ask in gate.asks()][3:] == [
        "Serial: Depth micrometer", "Serial: Bore gauge", "Accepted by (initials)",
    ]  # fmt: skip

    values = {"value 1": 3, "value 2": 3, "value 3": 3, "gauge 1": "dm-04", "person": "BB"}
    refused = bench.refused(Prove(bench.run_of(load).number, "first piece accepted 1", values | {"gauge 2": "dm-05"}))
    assert refused.field == "gauge 2"
    bench.prove(load, "first piece accepted 1", **values, **{"gauge 2": "bg-1"})
    evidence = bench.line(load, "first piece accepted 1").evidence
    assert f"Depth micrometer DM-04 (due {TODAY + timedelta(100)}), Bore gauge bg-1 (not in the register)" in evidence


def test_the_date_of_a_registered_gauge_is_the_registers() -> None:
    bench = open_bench(partial(edited, LOT))
    bar = partial(gauge, name="Bar gauge")
    bench.elsewhere = register(bar("BG-1", 50))
    load = bench.form(10)
    bench.until(load, "lot recorded 1")
    run = bench.run_of(load).number

    other = bench.refused(Prove(run, "lot recorded 1", {"lot": "bg-1", "use_by": "2027-01-31"}))
    assert (other.field, "in the register" in other.wrong) == ("use_by", True)
    unknown = bench.refused(Prove(run, "lot recorded 1", {"lot": "bg-2"}))
    assert (unknown.field, unknown.wrong) == ("use_by", "bar gauge: calibration due: nothing entered")

    bench.prove(load, "lot recorded 1", lot="bg-1")
    assert bench.line(load, "lot recorded 1").evidence == f"BG-1, calibration due {TODAY + timedelta(50)}"

    bench.elsewhere = register(bar("BG-1", 50), bar("BG-3", -1), bar("BG-4", 60))
    late = bench.refused(OpenLot("bar gauge", "bg-3", "", (load,)))
    attempt: Any = late.attempt
    assert (attempt.what, attempt.subject) == ("past its date", "bar gauge")
    bench.say(OpenLot("bar gauge", "bg-4", "", (load,)))
    assert bench.state.lots["bar gauge"].use_by == TODAY + timedelta(60)


def test_a_gauge_that_needs_no_date_is_recorded_without() -> None:
    bench = open_bench(partial(edited, (LOT[0], LOT[1].replace("serial = true", "serial = true, use_by = false"))))
    bench.elsewhere = register(gauge("BG-1", name="Bar gauge"))
    load = bench.form(10)
    bench.until(load, "lot recorded 1")
    for typed, kept in (("bg1", "BG-1"), ("BG-2", "BG-2")):
        bench.prove(load, "lot recorded 1", lot=typed)
        assert bench.state.entries[-1].body["values"] == {"lot": kept}


def test_a_lot_of_material_is_no_gauge() -> None:
    bench = open_bench()
    load = at_depth(bench)
    assert "bar stock" in bench.state.lots
    bench.say(OpenLot("bar stock", "H-78", "", (load,)))
    assert list_gauge_uses(bench.state) == []


def test_a_date_is_refused_in_the_same_words_wherever_it_is_typed() -> None:
    ask = FormField("use_by", "Use by", "date")
    said = set()
    for read in (
        lambda: read_value(ask, "31 Jan"),
        lambda: read_date("31 Jan", "Use by", "use_by"),
        lambda: read_use_by(LotRecorded(gate="lot recorded", what="lacquer"), "31 Jan", TODAY),
        lambda: draft_gauge({}, ["LL"], "X1", "Gauge", "31 Jan", "n", "LL", MORNING),
    ):
        with pytest.raises(Refused) as refused:
            read()
        said.add((refused.value.wrong.split(": ")[-1], refused.value.remedy))
    assert said == {("31 Jan is not a date", "write it as YYYY-MM-DD, e.g. 2027-01-31")}


def test_only_the_one_gauge_that_it_can_be_is_offered(bench: Bench) -> None:
    """Of two nobody but who measured knows which one it was; one that may not be used was perhaps the one in hand."""
    gate = bench.current(at_depth(bench)).gate
    assert gate is not None

    def offered(*gauges: Gauge) -> dict[str, str]:
        return find_only_serials(gate, {one.serial: one for one in gauges}, TODAY)

    good = gauge("DM-04", name="depth  Micrometer 0 to 25 mm")
    assert offered() == {}
    assert offered(good, gauge("M2", name="Micrometer")) == {"gauge": "DM-04"}
    assert offered(good, gauge("DM-05", 1, "dropped")) == {"gauge": "DM-04"}
    assert offered(good, gauge("DM-05")) == {}
    assert offered(good, gauge("DM-05", -1)) == {}
    assert offered(gauge("DM-04", -1)) == {}, "none that would be refused"
    assert offered(gauge("DM-04", 1, "dropped")) == {}


@pytest.mark.parametrize("typed", ["m2", "M-2", "m 2", "M – 2"])
def test_a_serial_number_is_found_however_it_is_written(bench: Bench, typed: str) -> None:
    bench.elsewhere = register(gauge("M2", -1), gauge("M-22"))
    load = at_depth(bench)
    refused = bench.refused(Prove(bench.run_of(load).number, "measured 1", {"value": [3.0, 3.0], "gauge": typed}))
    assert refused.wrong == "calibration of M2 was due 2026-03-01"


def test_of_two_that_differ_only_in_how_they_are_written_the_one_typed_is_meant() -> None:
    both = {one.serial: one for one in (gauge("M2"), gauge("M-2", 5))}
    assert [find_gauge(both, typed) for typed in ("m2", "m-2", "")] == [both["M2"], both["M-2"], None]


@pytest.mark.parametrize(
    ("name", "asked", "same"),
    [
        ("Depth micrometer", "depth  MICROMETER", True),
        ("Caliper 0 to 150 mm", "caliper", True),
        ("Thread gauge", "caliper", False),
        ("Micrometer", "depth micrometer", False),
        ("Calipers", "caliper", False),
    ],
)
def test_a_gauge_is_what_its_name_begins_with(name: str, asked: str, same: bool) -> None:
    assert is_named(gauge("X1", name=name), asked) is same


def test_pieces_and_papers_know_their_gauges(bench: Bench) -> None:
    bench.elsewhere = register(gauge("DM-04"))
    load = at_depth(bench)
    paper = write_traveler(bench.state, load, bench.clock(), "0" * 64)
    assert "Serial number: ____" in paper
    measure(bench, load, "DM-04")
    run, said = bench.run_of(load), f"Depth micrometer DM-04 (due {TODAY + timedelta(100)})"

    assert list(map(str, list_gauges_of_runs(bench.state, [run])[run.number])) == [said]
    assert any(f"gauges   {said}" in line for line in format_trace(bench.state, run.pieces[0], bench.clock()))
    assert f"- {said}: 1 check" in write_close_out(bench.state, bench.clock(), "0" * 64)
    assert "DM-04" in write_traveler(bench.state, load, bench.clock(), "0" * 64)
    found = find_matching_entries(bench.state, Filter(words="dm-04"))
    assert [entry.kind for entry in found] == ["proved"]


def test_a_gauge_of_the_set_up_measured_the_later_loads_too() -> None:
    bench = open_bench(partial(edited, FIRST))
    first, second = bench.form(10), bench.form(10)
    bench.through(first, 10)
    bench.until(second, "measured 1")
    run = bench.run_of(second)
    assert list(map(str, list_gauges_of_runs(bench.state, [run])[run.number])) == [
        "Depth micrometer DM-1 (not in the register)", "Bore gauge BG-1 (not in the register)",
    ]  # fmt: skip


def test_a_gauge_of_one_set_up_measured_no_load_of_another() -> None:
    bench = open_bench(partial(edited, FIRST))
    first, second = bench.form(10), bench.form(10)
    bench.through(first, 10)
    bench.say(TakeDown("mill", "B0002"))
    bench.until(second, "first piece accepted 1")
    runs = [bench.state.runs[1], bench.run_of(second)]
    assert runs[0].setup != runs[1].setup
    found = list_gauges_of_runs(bench.state, runs)
    assert (len(found[1]), found[runs[1].number]) == (2, [])


@pytest.mark.parametrize(
    "edit",
    [("sample = 2 }", "sample = 2, serial = true }"), (FIRST[0], FIRST[1].replace('gauge = "Bore gauge", ', ""))],
)
def test_a_serial_number_of_no_gauge_is_reported(edit: tuple[str, str]) -> None:
    problems = read_checklist(edited_text(edit), "part.toml").problems
    assert ["names no gauge" in str(one) for one in problems] == [True]
