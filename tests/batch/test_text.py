"""Text from outside: no terminal controls, nothing hidden, nothing endless."""

from __future__ import annotations

import unicodedata
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.batch.corrections.commands import Note
from floor.batch.describe import describe
from floor.text import (
    LONGEST_TEXT,
    capitalize_first,
    format_count,
    format_day,
    format_numbers,
    format_span,
    name_pieces,
    sanitize,
    with_article,
)
from tests.batch.factory import open_bench

NASTY = {
    "terminal escape": ("\x1b[2Jgone\x1b[0m", "[2Jgone [0m"),
    "eight-bit escape": ("a\x9b31mb", "a 31mb"),
    "bell and backspace": ("scrap\x07\x08\x08ok", "scrap ok"),
    "text turned round": ("12 \u202e21 doog\u202c", "12 21 doog"),
    "hidden between": ("A\u200b1\ufeff", "A 1"),
    "several lines": ("one\r\ntwo\u2028three\tfour", "one two three four"),
    "half a character": ("A\ud83dB", "A\ufffdB"),
    "private use": ("A\ue000B", "A B"),
}


@pytest.mark.parametrize(("given", "kept"), NASTY.values(), ids=NASTY)
def test_what_a_terminal_would_obey_is_taken_out(given: str, kept: str) -> None:
    assert sanitize(given) == kept


@given(st.text(st.characters(codec=None)))  # type: ignore[arg-type]
def test_what_is_kept_is_one_printable_line_and_stays_as_it_is(text: str) -> None:
    kept = sanitize(text)

    assert len(kept) <= LONGEST_TEXT
    assert kept == sanitize(kept)
    assert all(unicodedata.category(c)[0] != "C" and unicodedata.category(c) not in ("Zl", "Zp") for c in kept)
    kept.encode("utf-8")


def test_an_endless_note_is_cut_and_not_read_to_its_end() -> None:
    class Counted(str):
        """A text that counts how many of its characters are looked at."""

        looked = 0

        def __getitem__(self, index: object) -> str:
            part = str.__getitem__(self, index)  # type: ignore[index]
            Counted.looked += len(part)
            return part

    bench = open_bench()
    entry = bench.say(Note(Counted("x" * 10_000_000)))[0]

    assert len(entry.body["text"]) == LONGEST_TEXT
    assert Counted.looked <= 16 * LONGEST_TEXT


@pytest.mark.parametrize("text", [given for given, _ in NASTY.values()])
def test_a_note_is_safe_to_show(text: str) -> None:
    bench = open_bench()
    entry = bench.say(Note(text))[0]

    assert describe(bench.state, entry).isprintable()


@pytest.mark.parametrize("text", ["", "  ", "\x1b", "\u202e\u202c"])
def test_an_empty_note_is_none(text: str) -> None:
    assert open_bench().refused(Note(text)).why == "input"


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (-5, "0 s"),
        (59, "59 s"),
        (60, "1 min"),
        (3599, "59 min"),
        (3600, "1 h 00"),
        (11100, "3 h 05"),
        (187200, "2 d 4 h"),
    ],
)
def test_spans_as_they_are_read(seconds: float, said: str) -> None:
    assert format_span(seconds) == said


def test_plurals() -> None:
    assert [format_count(n, "piece") for n in (0, 1, 2)] == ["0 pieces", "1 piece", "2 pieces"]
    assert format_count(2, "batch") == "2 batches"
    assert [format_count(n, "entry") for n in (1, 2)] == ["1 entry", "2 entries"]
    assert format_count(2, "day") == "2 days"


def test_numbers_in_a_row_stand_together_and_none_is_left_out() -> None:
    assert format_numbers({9, 3, 4, 6, 5}) == "3-6, 9"
    assert [name_pieces(pieces) for pieces in ([5], range(2, 5))] == ["piece 5", "pieces 2-4"]
    assert name_pieces(range(1, 400, 2)).count(",") == 199


def test_a_day_of_another_year_says_which() -> None:
    today = date(2026, 11, 25)
    assert format_day(date(2026, 12, 31), today) == "Thu 31 Dec"
    assert format_day(date(9999, 12, 31), today) == "Fri 31 Dec 9999"


@pytest.mark.parametrize(("text", "shown"), [("UV cure", "UV cure"), ("resin QA", "Resin QA"), ("", ""), ("é", "É")])
def test_only_the_first_letter_is_changed(text: str, shown: str) -> None:
    assert capitalize_first(text) == shown


@pytest.mark.parametrize(("noun", "said"), [("Oven rack", "an Oven rack"), ("pallet", "a pallet"), ("", "a ")])
def test_a_noun_has_the_article_of_its_first_letter(noun: str, said: str) -> None:
    assert with_article(noun) == said
