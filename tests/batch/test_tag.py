"""The text in a tag's code: comes back as it was, and nothing else is taken for it."""

from __future__ import annotations

import string
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.batch.tag import (
    LETTERS,
    LONGEST_NAME,
    NAMES,
    NotRead,
    Tag,
    format_tag,
    is_tag,
    make_tag,
    parse_tag,
    spell_plain,
)

HASH = "1f3a9" + "0" * 59
OTHER = "1f3aa" + "0" * 59
KINDS = st.sampled_from(sorted(NAMES))
NAME = st.text(min_size=1, max_size=60).filter(lambda name: spell_plain(name))


@given(KINDS, st.data(), st.booleans())
def test_what_was_printed_comes_back(kind: str, data: st.DataObject, caps: bool) -> None:
    names = data.draw(st.tuples(*[NAME] * NAMES[kind]))  # type: ignore[index]
    tag = make_tag(kind, names, HASH)  # type: ignore[arg-type]
    text = format_tag(tag)

    assert text.isascii()
    assert text.isprintable()
    assert parse_tag(f" {text.lower() if caps else text}\r\n") == tag


def test_a_tag_reads_as_what_it_is_on() -> None:
    """These stand on tags in use: a change here makes them unreadable."""
    assert format_tag(make_tag("load", ("B0007", 3), HASH)) == "%L%B0007%3%3WX92Q"
    assert format_tag(make_tag("carrier", ("vise_2", 12), HASH)).startswith("%C%VISE_2%12%3WX9")
    assert format_tag(make_tag("lot", ("Füllmasse  ß", "L-22/5 %"), HASH)).startswith("%M%FULLMASSE SS%L-22/5 *%3WX9")


def test_the_letters_of_the_kinds_stay() -> None:
    assert "".join(LETTERS) == "CLBTPMGS"
    assert set(LETTERS.values()) == set(NAMES)


@pytest.mark.parametrize("mark", ["", "3WX", "3WX9Z"])
def test_a_tag_has_an_owner_of_four_signs_even_where_the_check_is_right(mark: str) -> None:
    with pytest.raises(NotRead, match="misread"):
        parse_tag(format_tag(Tag("person", ("RK",), mark)))


def is_noticed(text: str) -> bool:
    try:
        parse_tag(text)
    except NotRead as wrong:
        return wrong.misread
    return False


@pytest.mark.parametrize("name", [("load", ("B0012", 37)), ("carrier", ("pallet", 12)), ("person", ("RK",))])
def test_a_wrong_lost_or_swapped_letter_is_noticed(name: tuple[Any, Any]) -> None:
    """Ten bits of a checksum let one in 1,024 errors pass; with the form of a tag fewer."""
    text = format_tag(make_tag(*name, HASH))
    places = range(1, len(text))
    spoiled = {text[:at] + sign + text[at + 1 :] for at in places for sign in string.ascii_uppercase + string.digits}
    spoiled |= {text[:at] + text[at + 1 :] for at in places}
    spoiled |= {text[:at] + text[at + 1] + text[at] + text[at + 2 :] for at in places[:-1]}
    spoiled.remove(text)

    missed = [one for one in spoiled if not is_noticed(one)]
    assert len(missed) <= len(spoiled) / 500, missed


@given(st.text(max_size=30))
def test_what_begins_otherwise_is_no_tag_and_what_begins_so_a_misread_one(text: str) -> None:
    with pytest.raises(NotRead) as wrong:
        parse_tag(text)
    assert wrong.value.misread == is_tag(text)


def test_a_tag_of_another_owner_has_another_mark() -> None:
    assert make_tag("gauge", ("DM-04",), HASH).mark != make_tag("gauge", ("DM-04",), OTHER).mark


def test_a_long_name_is_cut_alike_on_the_tag_and_in_the_shop() -> None:
    long = "x" * (LONGEST_NAME - 1) + " y"
    assert parse_tag(format_tag(make_tag("gauge", (long,), HASH))).names == (spell_plain(long),)
    assert spell_plain(long) == "X" * (LONGEST_NAME - 1)
