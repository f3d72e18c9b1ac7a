"""The air before a coat: limits of the data sheet, the dew point, and how long a reading counts."""

from __future__ import annotations

from datetime import timedelta

import psychrolib
import pytest

from floor.batch.describe import describe
from floor.batch.gates.commands import Prove
from floor.batch.gates.proof_remarks import describe_proof_remarks
from floor.checklist.gates import AirMeasured
from floor.checklist.model import Checklist
from tests.batch.factory import Bench, edited, open_bench

LINE = "air measured 1"


def coated(fields: str = 'low = "10 degC", high = "35 degC"') -> Checklist:
    gate = f'{{ gate = "air measured", {fields} }},'
    return edited((PLACE, f"{gate}\n  {PLACE}"))


PLACE = '{ gate = "measured", what = "humidity", at = "load", high = "85 pct", waive = "never" },'


def at_the_bench(fields: str = 'low = "10 degC", high = "35 degC"') -> tuple[Bench, int]:
    bench = open_bench(lambda: coated(fields))
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, LINE)
    return bench, load


CASES = [(22, 45, 21), (30, 80, 31), (12, 84, 13), (20, 60, 15.2), (20, 85, 21)]


@pytest.mark.parametrize(("air", "humidity", "surface"), CASES)
def test_work_clear_of_the_dew_point_is_coated(air: float, humidity: float, surface: float) -> None:
    """The dew point by psychrolib (ASHRAE), 3 degC at least above it (ISO 8502-4, as quoted in coating guides)."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    dew = psychrolib.GetTDewPointFromRelHum(air, humidity / 100)
    bench, load = at_the_bench()
    bench.prove(load, LINE, air=air, humidity=humidity, surface=surface)
    line = bench.line(load, LINE)
    clear = surface - dew >= 3
    assert (line.state == "done") == clear
    said = line.evidence if clear else line.verdict.why  # type: ignore[union-attr]
    assert f"dew point {dew:.1f} " in said


@pytest.mark.parametrize(
    ("values", "why"),
    [
        ({"air": 9, "humidity": 50, "surface": 12}, "Air 9, must be 10 to 35 degC"),
        ({"air": 20, "humidity": 85.1, "surface": 25}, "Relative humidity 85.1, must be 1 to 85 %"),
        ({"air": 20, "humidity": 86, "surface": 25}, "Relative humidity 86, must be 1 to 85 %"),
        ({"air": 20, "humidity": 50, "surface": 40}, "Part surface 40, must be 10 to 35 degC"),
        (
            {"air": 25, "humidity": 80, "surface": 21},
            "part surface 0.3 degC below dew point 21.3 degC",
        ),
    ],
)
def test_what_the_data_sheet_forbids_is_measured_again(values: dict[str, float], why: str) -> None:
    bench, load = at_the_bench()
    bench.prove(load, LINE, **values)
    line = bench.current(load)
    assert line.key == LINE
    assert line.verdict is not None
    assert line.verdict.why.removesuffix(" (limit: 3 degC above)") == why


@pytest.mark.parametrize(
    ("values", "wrong"),
    [
        ({"humidity": -5}, "Relative humidity: -5 is not 1 to 100 %"),
        ({"humidity": 0}, "Relative humidity: 0 is not 1 to 100 %"),
        ({"humidity": 101}, "Relative humidity: 101 is not 1 to 100 %"),
        ({"air": -300}, "Air: -300 is not at least -273.15 degC"),
        ({"surface": -300}, "Part surface: -300 is not at least -273.15 degC"),
    ],
)
def test_what_nothing_can_measure_is_refused_not_recorded(values: dict[str, float], wrong: str) -> None:
    bench, load = at_the_bench()
    before = len(bench.state.air)
    good: dict[str, object] = {"air": 22, "humidity": 45, "surface": 21}
    refused = bench.refused(Prove(bench.run_of(load).number, LINE, good | values))
    assert (refused.wrong, refused.remedy, refused.field) == (wrong, "check the reading", next(iter(values)))
    assert len(bench.state.air) == before


def test_in_fahrenheit_the_margin_is_in_its_degrees() -> None:
    """72 degF and 45 %: a dew point of 49.5 degF (psychrolib); 3 degC are 5.4 degF."""
    bench, load = at_the_bench('low = "50 degF", high = "95 degF"')
    bench.prove(load, LINE, air=72, humidity=45, surface=50)
    line = bench.current(load)
    assert line.verdict is not None
    assert line.verdict.why == "part surface 0.5 degF above dew point 49.5 degF (limit: 5.4 degF above)"


def test_a_reading_counts_as_long_as_the_file_says() -> None:
    bench, load = at_the_bench('low = "10 degC", high = "35 degC", humidity_high = "70 %", good_for = "30 min"')
    bench.prove(load, LINE, air=22, humidity=45, surface=21)
    assert bench.line(load, LINE).state == "done"
    bench.clock.until(bench.clock().at + timedelta(minutes=31))
    line = bench.current(load)
    assert (line.key, line.verdict.clear) == (LINE, "measure again")  # type: ignore[union-attr]
    bench.prove(load, LINE, air=22, humidity=71, surface=21)
    assert bench.current(load).key == LINE


def test_a_reading_that_ages_behind_the_coat_stays_good() -> None:
    """It counts while the coat goes on; nobody sprays again because the count takes its time."""
    bench, load = at_the_bench('low = "10 degC", high = "35 degC", good_for = "30 min"')
    bench.prove(load, LINE, air=22, humidity=45, surface=21)
    bench.until(load, "count")
    bench.clock.forward(3600)
    line = bench.line(load, LINE)
    assert (line.state, bench.current(load).key) == ("done", "count")
    assert line.evidence.startswith("air 22 degC, humidity 45 %, part 21 degC · AA ")


def test_history_says_how_far_the_dew_point_was_and_what_did_not_do() -> None:
    """72 degF and 45 %: 49.5 degF (psychrolib)."""
    bench, load = at_the_bench('low = "50 degF", high = "95 degF"')
    said = describe(bench.state, bench.prove(load, LINE, air=72, humidity=45, surface=50))
    assert said.endswith("; part surface 0.5 degF above dew point 49.5 degF (limit: 5.4 degF above) ✕ not accepted")
    said = describe(bench.state, bench.prove(load, LINE, air=72, humidity=45, surface=72))
    assert said.endswith("; part surface 22.5 degF above dew point 49.5 degF")


def test_a_reading_without_one_of_the_three_has_no_dew_point() -> None:
    bench, load = at_the_bench()
    gate = bench.current(load).step
    assert isinstance(gate, AirMeasured)
    assert describe_proof_remarks(bench.state, 20, gate, {"air": 22, "humidity": 45}) == ""
