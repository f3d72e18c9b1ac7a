"""Logger files in all the ways loggers write them, and files that are something else."""

import math
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pint
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from floor.evidence import logger_layout
from floor.evidence.logger_cells import SEPARATORS, Quantity, find_quantity, split_cells
from floor.evidence.logger_file import (
    MOST_BYTES,
    LoggerFile,
    read_logger_file,
    to_soak_readings,
)
from floor.evidence.logger_findings import LINES_NAMED, LoggerFindingKind
from floor.evidence.logger_layout import SAMPLE_SIZE
from floor.evidence.logger_times import DateOrder
from floor.figures.soak import TemperatureBand, compute_soak

ZONE = ZoneInfo("America/Chicago")
KIND = LoggerFindingKind


def read(text: str, **options: object) -> LoggerFile:
    return read_logger_file(text.encode(), ZONE, **options)  # type: ignore[arg-type]


def said(found: LoggerFile) -> dict[LoggerFindingKind, tuple[int, ...]]:
    return {one.kind: one.lines for one in found.findings}


def values(found: LoggerFile, channel: int = 0) -> list[float]:
    return [round(one.value, 6) for one in found.channels[channel].readings]


def test_a_plain_file() -> None:
    found = read("Date/Time,Oven (°C),Air (°C)\n2026-11-30 08:00:00,80.5,79\n2026-11-30 08:01:00,81,79.5\n")

    assert [one.name for one in found.channels] == ["Oven (°C)", "Air (°C)"]
    assert (values(found), values(found, 1)) == ([80.5, 81], [79, 79.5])
    first, second = found.channels[0].readings
    assert (first.line, first.at.isoformat()) == (2, "2026-11-30T08:00:00-06:00")
    assert second.at - first.at == timedelta(minutes=1)
    assert found.findings == ()
    assert found.readable


def test_lines_above_the_columns_fahrenheit_and_a_counter() -> None:
    """175 °F are 79.444 °C (pint)."""
    found = read(
        "Logger 7 export\r\nSerial,123\r\n\r\n#,Date,Time,Temp °F,Battery (V)\r\n"
        "1,11/30/2026,8:00:00 AM,175.0,3.6\r\n2,11/30/2026,8:01:00 AM,176.0,3.6\r\n"
    )
    units = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    right = [units.Quantity(each, "degF").to("degC").magnitude for each in (175, 176)]

    assert values(found) == pytest.approx(right, abs=1e-6)
    assert [one.line for one in found.channels[0].readings] == [5, 6]
    assert found.channels[0].quantity is Quantity.FAHRENHEIT
    passed = [one.channel for one in found.findings if one.kind is KIND.COLUMN_PASSED_OVER]
    assert passed == ["#", "Battery (V)"]


def test_semicolons_and_decimal_commas_of_central_europe() -> None:
    found = read_logger_file(
        "Datum;Ofen [°C];Feuchte [%rF]\n30.11.2026 08:00;21,5;45,2\n30.11.2026 08:05;21,6;45,0\n".encode("cp1252"),
        ZONE,
    )
    assert (values(found), values(found, 1)) == ([21.5, 21.6], [45.2, 45.0])
    assert [one.quantity for one in found.channels] == [Quantity.CELSIUS, Quantity.HUMIDITY]
    assert found.channels[0].readings[0].at.day == 30
    assert said(found) == {KIND.ENCODING_GUESSED: ()}, "about the whole file"


def test_decimal_commas_between_commas_stand_in_quotes_or_are_not_read() -> None:
    assert values(read('Time,T (°C)\n2026-11-30 08:00,"80,5"\n2026-11-30 08:01,"80,6"\n')) == [80.5, 80.6]

    bare = read("Time,T (°C)\n2026-11-30 08:00,80,5\n2026-11-30 08:01,80,6\n")
    assert said(bare) == {KIND.CELLS_OFF: (2, 3), KIND.NO_READINGS: (2,)}
    assert not bare.readable


def test_units_in_a_line_of_their_own_in_the_cells_or_above() -> None:
    below = read("Time;Oven;Air\n;°F;°F\n2026-11-30 08:00;212;32\n2026-11-30 08:01;212;32\n")
    assert (below.channels[0].name, values(below), values(below, 1)) == ("Oven °F", [100, 100], [0, 0])
    assert values(read("Time,Oven\n2026-11-30 08:00,212 F\n2026-11-30 08:01,212 F\n")) == [100, 100]
    assert values(read("Units: F\nTime,Oven\n2026-11-30 08:00,212\n2026-11-30 08:01,212\n")) == [100, 100]
    assert values(read("Time,Oven (K)\n2026-11-30 08:00,373.15\n")) == [100]


def test_a_unit_that_nobody_states_is_asked_for() -> None:
    text = "Time,Channel C\n2026-11-30 08:00,175\n2026-11-30 08:01,176\n"

    found = read(text)
    assert not found.readable
    assert [(one.kind, one.channel) for one in found.findings] == [
        (KIND.UNIT_UNKNOWN, "Channel C"), (KIND.NO_READINGS, ""),
    ]  # fmt: skip
    assert values(read(text, unit=Quantity.FAHRENHEIT)) == [round((175 - 32) / 1.8, 6), 80]
    two = read("Units: F\nUnits: C\n" + text)
    assert KIND.UNIT_UNKNOWN in said(two), "two units above are none"


@pytest.mark.parametrize(("header", "quantity"), [
    ("Temp (°C)", Quantity.CELSIUS), ("Temperature, °F", Quantity.FAHRENHEIT), ("T1 [C]", Quantity.CELSIUS),
    ("Â°C", Quantity.CELSIUS), ("Oven degF", Quantity.FAHRENHEIT), ("temp_c", Quantity.CELSIUS),
    ("Kelvin", Quantity.KELVIN), ("RH %", Quantity.HUMIDITY), ("Humidity", Quantity.HUMIDITY),
    ("Battery %", Quantity.OTHER), ("Pressure (hPa)", Quantity.OTHER), ("No.", Quantity.OTHER),
    ("Record number", Quantity.OTHER), ("Channel C", None), ("Probe F", None), ("No 1 oven", None), ("", None),
])  # fmt: skip
def test_what_a_header_says(header: str, quantity: Quantity | None) -> None:
    assert find_quantity(header) is quantity


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_encodings_marks_and_ends_of_lines(encoding: str, end: str) -> None:
    text = "Time,Oven °C\n2026-11-30 08:00,80\n2026-11-30 08:01,81\n".replace("\n", end)
    found = read_logger_file(text.encode(encoding), ZONE)

    assert values(found) == [80, 81]
    assert (KIND.ENCODING_GUESSED in said(found)) == (encoding in ("utf-16-le", "utf-16-be", "cp1252"))


def test_cells_that_hold_no_reading_are_reported_with_their_lines() -> None:
    found = read(
        "Time,Oven (°C)\n2026-11-30 08:00,80\n2026-11-30 08:01,\n2026-11-30 08:02,OPEN\n2026-11-30 08:03,9999\n"
        "2026-11-30 08:04,176 F\n2026-11-30 08:05,---\nOven started\n2026-11-30 08:06\n2026-11-31 08:07,80\n"
        "2026-11-30 08:08,81\nTime,Oven (°C)\n2026-11-30 08:09,82\n"
    )
    assert values(found) == [80, 81, 82]
    assert said(found) == {
        KIND.NO_VALUE: (3,), KIND.NO_NUMBER: (4, 7), KIND.OUT_OF_RANGE: (5,), KIND.UNIT_CONFLICT: (6,),
        KIND.LINE_UNREAD: (8, 10), KIND.CELLS_OFF: (9,), KIND.HEADER_AGAIN: (12,),
    }  # fmt: skip
    assert {one.text for one in found.findings if one.kind is KIND.NO_NUMBER} == {"OPEN"}
    assert [one.line for one in found.channels[0].unread] == [4, 5, 6, 7]


@pytest.mark.parametrize(("cell", "minutes"), [
    ("", 60), ("n/a", 60), ("OVL", 58), ("OL", 58), ("----", 58), ("-", 58), ("NaN", 58), ("9999", 58), ("176 F", 58),
])  # fmt: skip
def test_a_sensor_that_was_read_and_shows_nothing_breaks_the_soak(cell: str, minutes: int) -> None:
    """An hour with a reading a minute: an empty cell was not read, any other was (common practice, no source)."""
    lines = [f"2026-11-30 {8 + i // 60:02}:{i % 60:02},{cell if i == 30 else 80}" for i in range(61)]
    (channel,) = read("\n".join(["Time,Oven (°C)", *lines])).channels
    soak = compute_soak({channel.name: to_soak_readings(channel)}, TemperatureBand(75, 85))
    assert soak.total / 60 == pytest.approx(minutes)


def test_readings_that_go_back_are_reported() -> None:
    found = read("Time,Oven (°C)\n2026-11-30 08:00,80\n2026-11-30 08:05,80\n2026-11-30 08:02,80\n2026-11-30 08:06,80\n")
    assert said(found) == {KIND.OUT_OF_ORDER: (4,)}
    assert [one.line for one in found.channels[0].readings] == [2, 3, 4, 5], "in the order of the file"


def falling_back(*clocks: str) -> LoggerFile:
    """Of 1 November 2026, when clocks in Chicago go back at 02:00 (15 U.S.C. 260a)."""
    return read("Time,Oven (°C)\n" + "".join(f"2026-11-01 {clock},80\n" for clock in clocks))


def test_an_hour_that_the_clock_shows_twice() -> None:
    """00:40 to 02:00 by the wall are 140 minutes of that night."""
    found = falling_back("00:40", "01:00", "01:20", "01:40", "01:00", "01:20", "01:40", "02:00")
    ats = [one.at for one in found.channels[0].readings]

    assert [b - a for a, b in pairwise(ats)] == [timedelta(minutes=20)] * 7
    assert said(found) == {KIND.HOUR_REPEATED: (6,)}


def test_an_hour_that_might_be_either_is_reported() -> None:
    found = falling_back("01:00", "01:20", "01:40", "02:00")
    assert said(found) == {KIND.HOUR_AMBIGUOUS: (2, 3, 4)}


def test_lines_out_of_order_in_that_hour_are_no_second_pass() -> None:
    assert KIND.HOUR_REPEATED not in said(falling_back("01:00", "01:10", "01:05", "01:15"))


def test_a_clock_that_was_not_set_forward() -> None:
    """8 March 2026: after 02:00 comes 03:00 (15 U.S.C. 260a). A reading at 02:30 comes from a clock that was not
    changed."""
    found = read("Time,Oven (°C)\n2026-03-08 01:30,80\n2026-03-08 02:30,80\n2026-03-08 03:30,80\n")

    assert said(found) == {KIND.HOUR_SKIPPED: (3,)}
    at = [one.at.astimezone(UTC) for one in found.channels[0].readings]
    assert at[1] - at[0] == timedelta(hours=1)


def test_a_clock_that_went_forward_leaves_no_hour_out() -> None:
    found = read("Time,Oven (°C)\n2026-03-08 01:50,80\n2026-03-08 01:59,80\n2026-03-08 03:08,80\n")
    assert [b.at - a.at for a, b in pairwise(found.channels[0].readings)] == [timedelta(minutes=9)] * 2
    assert found.findings == ()


def test_a_zone_in_the_file_is_taken() -> None:
    found = read("Time,Oven (°C)\n2026-11-30T08:00:00Z,80\n2026-11-30T09:01:00+01:00,81\n2026-11-30 02:02:00-0600,82\n")
    assert [one.at.astimezone(UTC).isoformat()[11:16] for one in found.channels[0].readings] == [
        "08:00",
        "08:01",
        "08:02",
    ]


@pytest.mark.parametrize(("heading", "hour"), [
    ("Time", "14:00"), ("Time (UTC)", "08:00"), ("Time Z", "08:00"), ("time [utc]", "08:00"), ("UTC", "08:00"),
    ("Time (GMT-05:00)", "13:00"), ("Time (UTC+1)", "07:00"), ("Date/Time +05:30", "02:30"),
    ("Time, GMT +0200", "06:00"), ("Zeit", "14:00"), ("Time zone 2", "14:00"), ("Time (utcoffset)", "14:00"),
])  # fmt: skip
def test_a_zone_in_the_heading_of_the_times_is_taken(heading: str, hour: str) -> None:
    """Worked out by hand; the shop is six hours behind UTC."""
    lines = "2026-11-30 08:00:00;80\n2026-11-30T08:00:00+01:00;80\n"
    first, own = read(f"{heading};Oven (°C)\n{lines}").channels[0].readings
    assert first.at.astimezone(UTC).isoformat()[11:16] == hour
    assert own.at.astimezone(UTC).isoformat()[11:16] == "07:00", "a line's own zone is taken before"


def test_a_zone_in_the_heading_of_a_clock_of_its_own_is_taken() -> None:
    (reading,) = read("Date,Time (UTC),Oven (°C)\n11/30/2026,08:00:00,80\n").channels[0].readings
    assert reading.at.astimezone(UTC).isoformat()[11:16] == "08:00"


@pytest.mark.parametrize(("cell", "unread"), [("OL", 61), ("", 0), ("----", 61)])
def test_a_sensor_that_never_shows_anything_is_one_and_proves_no_soak(cell: str, unread: int) -> None:
    lines = [f"2026-11-30 {8 + i // 60:02}:{i % 60:02},80,{cell},ok" for i in range(61)]
    top, bottom = read("\n".join(["Time,Top (°C),Bottom (°C),State", *lines])).channels
    assert (bottom.name, bottom.readings, len(bottom.unread)) == ("Bottom (°C)", (), unread)
    sensors = {one.name: to_soak_readings(one) for one in (top, bottom)}
    assert compute_soak(sensors, TemperatureBand(75, 85)).total == 0


@pytest.mark.parametrize(
    "heading", ["Set point (°C)", "SP (°C)", "Oven setpoint °C", "SV °C", "Sollwert (°C)", "Target °C"]
)
def test_what_the_oven_is_set_to_is_no_reading_of_it(heading: str) -> None:
    alone = read(f"Time,{heading}\n2026-11-30 08:00,80\n2026-11-30 08:01,80\n")
    assert not alone.readable
    assert KIND.COLUMN_PASSED_OVER in said(alone)
    assert read("Time,Target plate (°C)\n2026-11-30 08:00,80\n2026-11-30 08:01,80\n").readable, "a place, not a setting"
    beside = read(f"Time,{heading},Oven (°C)\n2026-11-30 08:00,80,20\n2026-11-30 08:01,80,21\n")
    assert [one.name for one in beside.channels] == ["Oven (°C)"]


@pytest.mark.parametrize(("written", "moment"), [
    ("2026-11-30T08:00:00+05:30", "02:30:00"), ("2026-11-30 08:00:00 -0330", "11:30:00"),
    ("2026-11-30T08:00+01", "07:00:00"), ("2026-11-30 08:00 UTC", "08:00:00"),
    ("2026-11-30T08:00:00.123456Z", "08:00:00.123456"),
])  # fmt: skip
def test_offsets_and_parts_of_seconds(written: str, moment: str) -> None:
    """ISO 8601, worked out by hand."""
    (reading,) = read(f"Time;Oven (°C)\n{written};80\n").channels[0].readings
    assert reading.at.astimezone(UTC).time().isoformat() == moment


def test_a_month_that_is_named_or_a_year_in_front_leaves_no_doubt() -> None:
    for written in (
        "4-Mar-2026 08:00",
        "Mar 4, 2026 08:00",
        "2026/03/04 08:00",
        "2026-03-04 08:00:00",
        "04.03.2026 08:00",
    ):
        for order in (None, *DateOrder):
            found = read(f"Time;Oven (°C)\n{written};80\n", date_order=order)
            assert [(one.at.month, one.at.day) for one in found.channels[0].readings] == [(3, 4)]
            assert found.findings == ()
    assert not read("Time;Oven (°C)\n1026-11-30 08:00:00;80\n").readable


@pytest.mark.parametrize("written", [
    "30-Nov-2026 20:15:30", "30 November 2026 20:15:30", "Nov 30, 2026 8:15:30 PM", "2026/11/30 20:15:30.000",
    "11/30/2026 8:15:30 PM", "30/11/26 20:15:30", "30.11.2026, 20:15:30", "2026-11-30T20:15:30,0",
])  # fmt: skip
def test_times_as_they_are_written(written: str) -> None:
    found = read(f"Time;Oven (°C)\n{written};80\n")
    assert [one.at.replace(tzinfo=None) for one in found.channels[0].readings] == [
        datetime.fromisoformat("2026-11-30 20:15:30")
    ]


def test_day_and_month_are_told_apart_by_the_file_where_it_can() -> None:
    """Over midnight from the 3rd to the 4th of December: with the month first it would be two months."""
    over = read("Time,T (°C)\n03/12/2026 23:59,80\n04/12/2026 00:01,80\n")
    assert [one.at.month for one in over.channels[0].readings] == [12, 12]
    assert over.findings == ()

    within = "Time,T (°C)\n03/12/2026 08:00,80\n03/12/2026 08:01,80\n"
    assert said(read(within)) == {KIND.DATE_ORDER_ASSUMED: (2,)}
    assert read(within).channels[0].readings[0].at.month == 3
    assert read(within, date_order=DateOrder.DAY_FIRST).channels[0].readings[0].at.month == 12
    assert read(within, date_order=DateOrder.DAY_FIRST).findings == ()
    assert read("Time,T (°C)\n03/12/2026 08:00,80\n13/12/2026 08:00,80\n").channels[0].readings[0].at.month == 12


@pytest.mark.parametrize(("data", "kind"), [
    (b"", KIND.EMPTY), (b" \r\n\t\n", KIND.EMPTY), (b"\xef\xbb\xbf", KIND.EMPTY),
    (bytes(range(256)) * 4, KIND.NOT_TEXT), (b"PK\x03\x04\x14\x00\x00\x00\x08\x00" * 9, KIND.NOT_TEXT),
    (b"what,ever\n1,2\n", KIND.NO_READINGS), (b"08:00,80\n08:01,81\n", KIND.NO_READINGS),
    (b"2026-11-30 08:00,\n", KIND.NO_READINGS), (b"2026-13-30 08:00,80\n", KIND.NO_READINGS),
    (b"0026-11-30 08:00,80\n", KIND.NO_READINGS), (b"2026-11-30 25:00,80\n", KIND.NO_READINGS),
    (b"2026-11-30 13:00 PM,80\n", KIND.NO_READINGS), (b"30-Foo-2026 08:00,80\n", KIND.NO_READINGS),
    (b"x" * (MOST_BYTES + 1), KIND.TOO_LARGE),
])  # fmt: skip
def test_what_cannot_be_read_is_reported(data: bytes, kind: LoggerFindingKind) -> None:
    found = read_logger_file(data, ZONE)
    assert not found.readable
    assert kind in said(found)


def test_the_unreadable_line_is_named() -> None:
    (found,) = read("\n\nwhat,ever\n1,2\n").findings
    assert (found.kind, found.lines, found.text) == (KIND.NO_READINGS, (3,), "what,ever")


def test_a_line_too_long_to_be_one_is_named() -> None:
    """Four million characters, which took minutes to look at as cells; a long line of sensors is read."""
    start = "Time,T (°C)\n2026-11-30 08:00,80\n"
    for long in ("x" * 4_000_000, "1," * 2_000_000):
        (found,) = read(start + long).findings
        assert (found.kind, found.lines, len(found.text)) == (KIND.LINE_TOO_LONG, (3,), 60)
    wide = ",".join(["Time", *(f"T{n} (°C)" for n in range(500))])
    assert len(read(f"{wide}\n2026-11-30 08:00{',180.25' * 500}\n").channels) == 500


def test_the_layout_is_found_in_a_sample_of_bounded_size(monkeypatch: pytest.MonkeyPatch) -> None:
    looked_at: list[int] = []

    def count(line: str, separator: str) -> list[str]:
        looked_at.append(len(line))
        return split_cells(line, separator)

    monkeypatch.setattr(logger_layout, "split_cells", count)
    read(("," * 9_999 + "\n") * 300)
    assert 0 < sum(looked_at) <= len(SEPARATORS) * SAMPLE_SIZE


def test_many_lines_of_a_kind_are_one_finding() -> None:
    found = read("Time,T (°C)\n" + "2026-11-30 08:00,x\n2026-11-30 08:00,80\n" * 100)
    (one,) = found.findings
    assert (one.kind, one.count, len(one.lines), one.lines[:2]) == (KIND.NO_NUMBER, 100, LINES_NAMED, (2, 4))


def test_quotes_that_are_not_closed_end_with_their_line() -> None:
    found = read('Time,T (°C),Note\n2026-11-30 08:00,80,"open\n2026-11-30 08:01,81,"a, b"\n2026-11-30 08:02,82,\n')
    assert values(found) == [80, 81, 82]


def test_columns_of_one_name_and_of_none() -> None:
    found = read("2026-11-30 08:00,80,81\n2026-11-30 08:01,80,81\n", unit=Quantity.CELSIUS)
    assert [one.name for one in found.channels] == ["column 2", "column 3"]
    twice = read("Time,°C,°C\n2026-11-30 08:00,80,81\n")
    assert [one.name for one in twice.channels] == ["°C", "°C (2)"]


def test_from_the_file_to_the_soak() -> None:
    """Every minute for three hours at 80 °C, with half an hour missing (by hand: 180 - 30)."""
    lines = [f"2026-11-30 {8 + i // 60:02}:{i % 60:02},80" for i in range(181) if not 60 < i < 90]
    found = read("\n".join(["Time,Oven (°C)", *lines]))
    (channel,) = found.channels
    soak = compute_soak({channel.name: to_soak_readings(channel)}, TemperatureBand(75, 85))

    assert soak.total / 60 == pytest.approx(150)
    assert [one.amount / 60 for one in soak.findings] == [30]


FORMS = {
    "%Y-%m-%d %H:%M:%S": False, "%Y/%m/%d %H:%M:%S": False, "%d.%m.%Y %H:%M:%S": False, "%d-%b-%Y %H:%M:%S": False,
    "%m/%d/%Y %I:%M:%S %p": True, "%d/%m/%Y %H:%M:%S": True,
}  # fmt: skip
"""How a time is written, and whether day and month may be taken for each other."""


@settings(deadline=None, max_examples=200)
@given(
    start=st.datetimes(*map(datetime.fromisoformat, ("2020-01-01", "2030-12-01"))), step=st.integers(1, 3600),
    temperatures=st.lists(st.tuples(st.floats(-50, 500), st.floats(-50, 500)), min_size=1, max_size=20),
    separator=st.sampled_from(";\t,|"), mark=st.sampled_from(".,"), form=st.sampled_from(list(FORMS)),
    unit=st.sampled_from([Quantity.CELSIUS, Quantity.FAHRENHEIT, Quantity.KELVIN]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "latin-1"]), end=st.sampled_from(["\n", "\r\n", "\r"]),
    above=st.sampled_from([[], ["Export of logger 3"], ["Made by hand", "", "Serial: 12"]]), headed=st.booleans(),
)  # fmt: skip
def test_what_was_written_is_read(
    start: datetime, step: int, temperatures: list[tuple[float, float]], separator: str, mark: str, form: str,
    unit: Quantity, encoding: str, end: str, above: list[str], headed: bool,
) -> None:  # fmt: skip
    """Written by Python's own formats in a random dialect, read back to the second and the millionth of a degree."""
    start = start.replace(microsecond=0)
    sign = {Quantity.CELSIUS: "°C", Quantity.FAHRENHEIT: "°F", Quantity.KELVIN: "(K)"}[unit]
    factor, zero = {Quantity.CELSIUS: (1, 0), Quantity.FAHRENHEIT: (1.8, 32), Quantity.KELVIN: (1, 273.15)}[unit]

    def cell(number: float) -> str:
        text = f"{number * factor + zero:.7f}".replace(".", mark)
        return f'"{text}"' if mark == separator else text

    moments = [start + timedelta(seconds=step * i) for i in range(len(temperatures))]
    lines = [
        separator.join([at.strftime(form), *map(cell, both)]) for at, both in zip(moments, temperatures, strict=True)
    ]
    head = [separator.join(["Time", f"Oven {sign}", f"Air {sign}"])] if headed else []
    data = end.join([*above, *head, *lines]).encode(encoding)
    order = DateOrder.DAY_FIRST if form.startswith("%d/") else DateOrder.MONTH_FIRST
    found = read_logger_file(data, UTC, unit=None if headed else unit, date_order=order)

    assert [one.at for one in found.channels[0].readings] == [at.replace(tzinfo=UTC) for at in moments]
    for i, channel in enumerate(found.channels):
        assert [one.value for one in channel.readings] == pytest.approx([both[i] for both in temperatures], abs=1e-6)
    assert len(found.channels) == 2
    assert {one.kind for one in found.findings} <= {KIND.ENCODING_GUESSED}


GRAINS = st.sampled_from([
    b"Time", b"\xb0C", "°F".encode(), b"2026-11-30 08:00", b"30.11.2026", b"11/30/26", b"8:00 PM", b"80,5", b"80.5",
    b",", b";", b"\t", b'"', b"\r", b"\n", b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"-", b"1e999", b"99:99:99", b"NaN",
    b" ", "٣٠".encode(), b"+14:00", b"2026-03-08 02:30", b"2026-11-01 01:30",
])  # fmt: skip


@settings(deadline=None, max_examples=400)
@given(st.binary(max_size=300) | st.lists(GRAINS, max_size=60).map(b"".join))
@example(b'2026-11-30 08:00,"' + b"8" * 200_000)
@example(b'2026-11-30 08:00,\x00"8"\n')
@example(b"Time,T \xb0C\n2026-11-30 08:00+99:99,80\n")
def test_any_bytes_are_answered(data: bytes) -> None:
    for zone in (ZONE, UTC):
        found = read_logger_file(data, zone, unit=Quantity.FAHRENHEIT)
        assert found.readable or found.findings
        lines = data.count(b"\n") + data.count(b"\r") + 1
        for channel in found.channels:
            assert all(
                math.isfinite(one.value) and one.at.tzinfo and 1 <= one.line <= lines for one in channel.readings
            )
            compute_soak({"a": to_soak_readings(channel)}, TemperatureBand(70, 90))
