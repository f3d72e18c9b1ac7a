"""Tables of numbers from phones and loggers: layouts, gaps, what is no table, and what is made of the columns."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.evidence import table_file
from floor.evidence.logger_cells import SEPARATORS, split_cells
from floor.evidence.logger_layout import SAMPLE_SIZE
from floor.evidence.table_file import EACH, MOST_BYTES, Table, UnreadableTable, read_table, reduce_table
from floor.shop.trial_files import list_left_out

PHONE = """"Time (s)","Acceleration x (m/s^2)","Acceleration y (m/s^2)","Acceleration z (m/s^2)"
0.00,0.10,-0.20,9.91
0.01,-0.10,0.20,9.71
0.02,0.10,-0.20,9.91
0.03,-0.10,0.20,9.71
"""
"""An accelerometer lying flat, shaking by 0.1, 0.2 and 0.1 about the pull of gravity."""


def told(text: str, encoding: str = "utf-8") -> dict[str, tuple[float | None, ...]]:
    return dict(read_table(text.encode(encoding)).columns)


def test_the_columns_of_a_phone_are_read_by_their_names() -> None:
    found = read_table(PHONE.encode())
    assert list(found.columns) == [
        "Time (s)", "Acceleration x (m/s^2)", "Acceleration y (m/s^2)", "Acceleration z (m/s^2)",
    ]  # fmt: skip
    assert (found.rows, found.passed_over) == (4, 0)
    assert found.columns["Acceleration z (m/s^2)"] == (9.91, 9.71, 9.91, 9.71)


@pytest.mark.parametrize("text", [
    "t;x\n0,00;0,5\n0,01;0,6\n0,02;0,7\n",
    "t\tx\n0.00\t0.5\n0.01\t0.6\n0.02\t0.7\n",
    "t|x\n0.00|0.5\n0.01|0.6\n0.02|0.7\n",
    't,x\n"0,00","0,5"\n"0,01","0,6"\n"0,02","0,7"\n',
    "Meter 7\nserial 12\n\nt,x\r\n0.00,0.5\r\n0.01,0.6\r\n0.02,0.7\r\n",
    "t,x,\n0.00,0.5,\n0.01,0.6,\n0.02,0.7,\n",
])  # fmt: skip
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_separators_decimal_marks_and_encodings_are_found(text: str, encoding: str) -> None:
    found = told(text, encoding)
    assert found["t"] == (0.0, 0.01, 0.02)
    assert found["x"] == (0.5, 0.6, 0.7)


def test_one_column_needs_no_separator() -> None:
    assert told("depth\n3.1\n3.2\n3.4\n") == {"depth": (3.1, 3.2, 3.4)}
    assert told("depth\n3,1\n3,2\n3,4\n") == {"depth": (3.1, 3.2, 3.4)}, "under a heading of one cell"
    assert told("1\n2\n") == {"column 1": (1.0, 2.0)}


def test_gaps_are_kept_and_text_is_no_column() -> None:
    found = read_table(b"when,x,note\n07:00,1,ok\n07:01,,ok\n07:02,OL,bad\n07:03,4,ok\nend of file\n07:04,5\n")
    assert dict(found.columns) == {"x": (1.0, 4.0)}, "rows without any number are no rows of the table"
    assert (found.rows, found.passed_over) == (2, 4)
    found = read_table(b"t,x\n0,1\n1,\n2,OL\n3,4\n")
    assert dict(found.columns) == {"t": (0.0, 1.0, 2.0, 3.0), "x": (1.0, None, None, 4.0)}


@pytest.mark.parametrize("text", [
    "w;n\n1.234,5;1\n987,25;2\n-12.345.678,0;3\n",
    "w;n\n1'234.5;1\n987.25;2\n-12'345'678.0;3\n",
    "w;n\n1\u2019234.5;1\n987.25;2\n-12\u2019345\u2019678;3\n",
    "w;n\n1\u202f234,5;1\n987,25;2\n-12\u202f345\u202f678;3\n",
    "w;n\n1\u00a0234.5;1\n987.25;2\n-12\u00a0345\u00a0678;3\n",
    'w,n\n"1,234.5",1\n"987.25",2\n"-12,345,678",3\n',
    "w\n1,234.5\n987.25\n-12,345,678\n",
    "w;n\n1.234,5;0.1\n987,25;0.2\n-12.345.678;0.3\n",
    "w;n\n1,234.5;0,1\n987.25;0,2\n-12,345,678;0,3\n",
])  # fmt: skip
def test_thousands_marks_are_read_each_column_by_its_own_decimal_mark(text: str) -> None:
    found = read_table(text.encode())
    assert found.columns["w"] == (1234.5, 987.25, -12345678.0)
    assert (found.left_out, found.in_doubt, found.passed_over) == ((), (), 0)


@given(st.lists(st.tuples(st.integers(-(10**12), 10**12), st.integers(0, 99)), min_size=1, max_size=9), st.booleans())
def test_numbers_written_by_python_s_own_formatting_are_read_back(numbers: list[tuple[int, int]], comma: bool) -> None:
    """Two decimals, so that nothing is in doubt; ``format(…, ",")`` is the reference."""
    written = [f"{whole:,}.{part:02}" for whole, part in numbers]
    if comma:
        written = [cell.translate(str.maketrans(",.", ".,")) for cell in written]
    found = read_table(("w\n" + "\n".join(written) + "\n").encode())
    assert found.columns["w"] == tuple(float(f"{whole}.{part:02}") for whole, part in numbers)
    assert not found.in_doubt


@pytest.mark.parametrize(("cells", "value", "told"), [
    (("1,234", "10,500"), 1.234, "w: 1,234 is read as 1.234"),
    (("1,234", "10,500", "7.5"), 1234.0, ""),
    (("1,234", "0,500"), 1.234, ""),
    (("1,234", "1,2345"), 1.234, ""),
    (("1.234", "10.500"), 1.234, ""),
    (("1.234", "10.500", "7,5"), 1234.0, ""),
])  # fmt: skip
def test_one_mark_before_three_digits_is_read_by_what_else_the_column_shows(
    cells: tuple[str, ...], value: float, told: str
) -> None:
    """A decimal point is no doubt: it is how most gauges write a value with three decimals."""
    found = read_table("\n".join(["n;w", *(f"{n};{cell}" for n, cell in enumerate(cells))]).encode())
    assert found.columns["w"][0] == value
    assert list_left_out(found) == [told] * bool(told)


def test_one_mark_before_three_digits_is_else_read_by_the_rest_of_the_file_and_told() -> None:
    found = read_table(b"w;b;n\n1,234;2,345;0.5\n2,234;3,345;0.6\n")
    assert (found.columns["w"], found.columns["b"]) == ((1234.0, 2234.0), (2345.0, 3345.0))
    assert list_left_out(found) == ["w: 1,234 is read as 1234", "b: 2,345 is read as 2345"]


@pytest.mark.parametrize(("text", "told"), [
    ("n;w\n1;1,234.5\n2;2.345,5\n3;1,2\n",
     "w: left out, 1,234.5 and 2.345,5 have different decimal marks; export it with one"),
    ("n;w\n1;1 234,5\n2;2 234,5\n", "w: left out, 1 234,5 is not a number"),
    ("n;w\n1;1,23,456.7\n2;OL\n", "w: left out, 1,23,456.7 is not a number"),
    ("n;w\n1;\n2;bad\n3;ok\n", "w: left out, bad is not a number"),
    ("n;w\n1;\n2;\n3;4\n", "w: left out, most rows are empty"),
    (f"n;w\n1;{'a' * 30}\n2;b\n", f"w: left out, {'a' * 19}… is not a number"),
])  # fmt: skip
def test_no_column_vanishes_without_a_word(text: str, told: str) -> None:
    found = read_table(text.encode())
    assert list(found.columns) == ["n"]
    assert list_left_out(found) == [told]


def test_a_column_without_anything_is_none() -> None:
    assert read_table(b"n;\n1;\n2;\n").left_out == ()


@pytest.mark.parametrize(("heading", "names"), [
    ("time;mass\ns;g", ["time s", "mass g"]),
    ("run\ntime;mass\n(min);[kg/m^3]", ["time (min)", "mass [kg/m^3]"]),
    ("time;speed\n;1/min", ["time", "speed 1/min"]),
    ("time;wear\nms;\u00b5m", ["time ms", "wear \u00b5m"]),
    ("trial;7a\ntime;mass", ["time", "mass"]),
    ("only words\ns;g", ["s", "g"]),
    ("s;g", ["s", "g"]),
])  # fmt: skip
def test_a_row_of_units_goes_with_the_names_above_it(heading: str, names: list[str]) -> None:
    assert list(told(f"{heading}\n0,1;1\n0,2;3\n")) == names


def test_columns_of_one_name_are_told_apart() -> None:
    assert list(told("x,x,\n1,2,3\n4,5,6\n")) == ["x", "x (2)", "column 3"]


@pytest.mark.parametrize(("data", "wrong"), [
    (b"", "empty"),
    (b" \n\n", "empty"),
    (b"just words\nand more\n", "no numbers"),
    (bytes(range(256)) * 20, "not text"),
    (b"1," * 6000, "more than 10,000 characters"),
    (b"a,b,c\n1,,x\n,2,x\nx,,3\n", "no column of it holds numbers in most rows"),
    (b"x" * (MOST_BYTES + 1), "larger than 8 MB"),
])  # fmt: skip
def test_what_is_no_table_is_refused_with_what_would_help(data: bytes, wrong: str) -> None:
    with pytest.raises(UnreadableTable) as refused:
        read_table(data)
    assert wrong in refused.value.wrong
    assert "export" in refused.value.right


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    try:
        found = read_table(data)
    except UnreadableTable:
        return
    assert all(len(values) == found.rows for values in found.columns.values())
    for name in found.columns:
        for how in ("mean", "RMS", "vibration", "largest", EACH):
            made = reduce_table(found, [name], how)
            assert all(map(math.isfinite, made.values))
            assert made.rows + made.left_out == found.rows


def test_gravity_is_no_vibration() -> None:
    """By hand: each axis swings by 0.1, 0.2 and 0.1 about its mean, so the RMS is the root of 0.01 + 0.04 + 0.01."""
    table = read_table(PHONE.encode())
    axes = list(table.columns)[1:]
    assert reduce_table(table, axes, "vibration").values == pytest.approx((math.sqrt(0.06),))
    assert reduce_table(table, axes[2:], "RMS").values == pytest.approx((math.sqrt((9.91**2 + 9.71**2) / 2),))
    assert reduce_table(table, axes[:1], "largest").values == (0.1,)
    assert reduce_table(table, axes, "largest").values == pytest.approx((math.hypot(0.1, 0.2, 9.91),))
    assert reduce_table(table, axes[2:], "mean").values == pytest.approx((9.81,))
    assert reduce_table(table, axes[:1], EACH).values == (0.1, -0.1, 0.1, -0.1)


def test_a_sine_vibrates_by_its_height_over_the_root_of_two() -> None:
    """The RMS of a sine (ISO 2041 defines the RMS value of a vibration so): 3 / √2, whatever the offset."""
    rows = [(n / 200, 9.81 + 3 * math.sin(2 * math.pi * 10 * n / 200)) for n in range(400)]
    text = "t,a\n" + "\n".join(f"{t},{a:.9f}" for t, a in rows)
    assert reduce_table(read_table(text.encode()), ["a"], "vibration").values == pytest.approx((3 / math.sqrt(2),))


def test_a_row_with_a_gap_in_one_axis_is_left_out_whole() -> None:
    table = read_table(b"x,y\n1,1\n,1\n1,2\n")
    made = reduce_table(table, ["x", "y"], "mean")
    assert (made.rows, made.left_out) == (2, 1)
    with pytest.raises(UnreadableTable, match="no row has a number"):
        reduce_table(Table({"x": (None, 1.0), "y": (1.0, None)}, 2, 0), ["x", "y"], "mean")


def test_a_long_recording_says_how_far_it_is() -> None:
    chance = random.Random(1)
    text = "t,x\n" + "\n".join(f"{n},{chance.random():.4f}" for n in range(5000))
    told: list[float] = []
    assert read_table(text.encode(), told.append).rows == 5000
    assert told == sorted(told)
    assert len(told) >= 3


def test_the_layout_is_found_in_a_sample_of_bounded_size(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each way to read a line of the sample splits it once; then every line is split once more."""
    looked_at: list[int] = []

    def count(line: str, separator: str) -> list[str]:
        looked_at.append(len(line))
        return split_cells(line, separator)

    monkeypatch.setattr(table_file, "split_cells", count)
    text = ("1," * 4_999 + "1\n") * 300
    assert read_table(text.encode()).rows == 300
    assert sum(looked_at) <= 2 * len(SEPARATORS) * SAMPLE_SIZE + len(text)
