"""Papers keep to 80 columns whatever people typed."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from floor.papers.page import Column, format_table
from floor.text import WIDTH, count_cells, cut, set_out, wrap_cut, wrap_text

TEXTS = st.text(st.sampled_from("ab é日本\u0301 \t\n\x1b[=,."), max_size=300)


@given(TEXTS, st.sampled_from(["", "  - ", "  [x] "]))
def test_no_line_is_wider_than_the_paper_and_no_word_is_lost(text: str, first: str) -> None:
    lines = wrap_text(text, first)

    assert all(count_cells(line) <= WIDTH for line in lines)
    assert not any(ord(letter) < 32 for line in lines for letter in line)
    kept = "".join("".join(lines).split())
    wanted = "".join("".join(" " if ord(letter) < 32 else letter for letter in first + text).split())
    assert kept == wanted


@given(TEXTS, st.integers(1, 4), st.sampled_from(["", "! 12  "]))
def test_what_has_no_room_in_its_lines_says_so(text: str, rows: int, first: str) -> None:
    lines = wrap_cut(text, rows, first, 30)

    assert len(lines) <= rows
    assert all(count_cells(line) <= 30 for line in lines)
    whole = wrap_text(text, first, width=30)
    assert lines == whole or (len(whole) > rows and lines[-1].endswith("…"))


@given(st.text("ab 日本語é", max_size=120), st.integers(1, 90))
def test_a_cut_text_fits_and_says_that_it_was_cut(text: str, width: int) -> None:
    short = cut(text, width)

    assert count_cells(short) <= width
    assert short == text or short.endswith("…")


@given(st.text("ab 日本語ﾊﾝé—…Ω", max_size=60))
def test_columns_agree_with_a_terminal_library(text: str) -> None:
    """Beside Rich's tables of cell widths, made from the Unicode data (UAX #11, East Asian Width)."""
    assert count_cells(text) == cell_len(text)


def test_a_table_lines_its_columns_up() -> None:
    lines = format_table([Column("what"), Column("n", 4, True)], [("日本 pallet", 7), ("x" * 200, 1234)])

    assert {count_cells(line) for line in lines} == {WIDTH}
    assert lines[1].endswith("   7")
    assert lines[2].endswith("…  1234")


@given(st.lists(st.text("ab é日本", min_size=1, max_size=30).map(str.strip).filter(bool), max_size=8))
def test_parts_set_out_are_broken_between_two_of_them_where_they_fit_a_line(parts: list[str]) -> None:
    lines = set_out(parts, 34)

    assert all(count_cells(line) <= 34 for line in lines)
    assert "".join("".join(lines).split()) == "".join("".join(parts).split())
    for part in parts:
        if count_cells(part) <= 34:
            assert any(" ".join(part.split()) in " ".join(line.split()) for line in lines)
