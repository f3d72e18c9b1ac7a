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


def test_columns_of_one_name_are_told_apart() -> None:
    assert list(told("x,x,\n1,2,3\n4,5,6\n")) == ["x", "x (2)", "column 3"]


@pytest.mark.parametrize(("data", "wrong"), [
    (b"", "empty"),
    (b" \n\n", "empty"),
    (b"just words\nand more\n", "no numbers"),
    (bytes(range(256)) * 20, "not text"),
    (b"1," * 6000, "more than 10,000 characters"),
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
