"""What all pictures say of all screens, each look in each theme: read by every eye, and with every font."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from rich.style import Style
from textual.color import Color

from floor.screens.frame.terminal_looks import name_plainly, to_plain
from floor.screens.frame.theme import DAY, NIGHT
from tests.screens import picture
from tests.screens.painted import VISIONS, Rgb, contrast, see_as
from tests.screens.picture import BENEATH, FOLDER, Legend, Row, check_picture, keep_picture, read_pages

TESTS = Path(__file__).parent
FILES = sorted(FOLDER.rglob("*.txt"))
DIM = {theme.variables["footer-off-foreground"] for theme in (NIGHT, DAY)}
"""Ink of a key that does nothing now."""


@cache
def list_written() -> dict[str, str]:
    """Each letter of the legend → the signs and letters that stand in its look in the pictures."""
    found: dict[str, set[str]] = {}
    for page in (page for file in FILES for page in read_pages(file)):
        width, height = page.size
        assert (len(page.lines), len(page.letters)) == (height, height)
        for line, letters in zip(page.lines, page.letters, strict=True):
            assert len(letters) == width
            for sign, letter in zip(line, letters, strict=False):  # beside a wide sign it shifts by a cell
                found.setdefault(letter, set()).add(sign)
            for letter in letters:
                found.setdefault(letter, set())
    return {letter: "".join(sorted(signs)) for letter, signs in found.items()}


def list_inks() -> Iterator[tuple[str, str, Rgb, Rgb]]:
    """Every look that words are written in, by night and by day: its theme, letter, ink and ground."""
    for theme in picture.THEMES:
        for letter, look in Legend().by_theme[theme].items():
            ink, _, on = look.partition(" on ")
            if on and any(sign.isalnum() for sign in list_written()[letter]):
                yield theme, letter, Color.parse(ink).rgb, Color.parse(on.split()[0]).rgb


def test_each_picture_belongs_to_a_test() -> None:
    for folder in {file.parent for file in FILES}:
        module = ast.parse((TESTS / f"{folder.name}.py").read_text(encoding="utf-8"))
        tests = {node.name for node in ast.walk(module) if isinstance(node, ast.FunctionDef)}
        assert {file.stem.partition("[")[0] for file in folder.iterdir()} <= tests
    assert len(FILES) > 50


def test_each_letter_of_the_legend_is_in_a_picture() -> None:
    for theme, looks in Legend().by_theme.items():
        assert {BENEATH, *looks} == {BENEATH, *list_written()}, f"{theme}: delete those that no picture has"


def test_each_color_is_one_of_our_own() -> None:
    """Those of the terminal's palette are what somebody set them to."""
    for theme in picture.THEMES:
        for look in Legend().by_theme[theme].values():
            assert re.match(r"(#[0-9A-F]{6} )?on #[0-9A-F]{6}\b", look), f"{theme}: {look}"


def test_every_text_stands_out_from_its_ground_in_each_theme() -> None:
    """7 to 1 for every text (WCAG 2.2, success criterion 1.4.6); of a key that does nothing now 4.5 (1.4.3)."""
    inks = list(list_inks())
    assert len(inks) > 20
    for theme, letter, ink, ground in inks:
        least = 4.5 if Color(*ink).hex in DIM else 7.0
        assert contrast(ink, ground) >= least, f"{letter} in {theme}"


@pytest.mark.parametrize("vision", VISIONS)
def test_every_text_is_read_by_every_eye(vision: str) -> None:
    """4.5 to 1 (WCAG 2.2, success criterion 1.4.3)."""
    for theme, letter, ink, ground in list_inks():
        assert contrast(see_as(vision, ink), see_as(vision, ground)) >= 4.5, f"{letter} in {theme}"


def test_every_sign_in_a_picture_has_a_twin_in_ascii() -> None:
    signs = set("".join(list_written().values())) - {"?", "⏎"}  # the key is named, as its twin would be another
    assert name_plainly("⏎", {"FLOOR_SIGNS": "ascii"}, headless=True) == "Enter"
    assert len(signs) > 100
    assert [sign for sign in sorted(signs) if to_plain(sign) in ("", "?")] == []


# --- the pictures themselves ---------------------------------------------------------------------------------------

PLAIN, BOLD, SPOT, WRONG = (
    Style(color=ink, bgcolor=ground, bold=bold)
    for ink, ground, bold in (
        ("#dddddd", "#111111", False), ("#dddddd", "#111111", True), ("#eeeeee", "#222266", False),
        (NIGHT.error, "#111111", True),
    )
)  # fmt: skip


@pytest.fixture
def own_legend(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a legend of its own."""
    monkeypatch.setattr(picture, "LEGEND", tmp_path / "legend.toml")
    return tmp_path


def row(*parts: tuple[str, Style]) -> Row:
    return [(sign, style) for text, style in parts for sign in text]


def test_a_picture_holds_its_lines_and_below_them_how_they_look(own_legend: Path) -> None:
    """A blank is as its neighbor on the same ground: nobody sees its ink."""
    rows = [
        row(("  ", PLAIN), ("ab ", BOLD), ("c ", PLAIN), (" d ", SPOT)),
        row((" " * 10, PLAIN)),
        row((" " * 10, BOLD)),
    ]
    keep_picture(own_legend / "one.txt", {(10, 3): [rows, rows]})
    assert (own_legend / "one.txt").read_text().splitlines() == [
        "== 10 x 3", "  ab c  d", "", "", "--", "1      a5 b2 c3", "2-3    d10"
    ]  # fmt: skip
    (page,) = read_pages(own_legend / "one.txt")
    assert page.letters == ["aaaaabbccc", "d" * 10, "d" * 10]
    check_picture(own_legend / "one.txt", {(10, 3): [rows, rows]})


def test_what_looks_or_says_something_else_is_found_and_told(own_legend: Path) -> None:
    kept = own_legend / "one.txt"
    night = [row(("ab", PLAIN))]
    keep_picture(kept, {(2, 1): [night, night]})
    with pytest.raises(AssertionError, match="-ab\n\\+ax\n"):
        check_picture(kept, {(2, 1): [[row(("ax", PLAIN))]] * 2})
    with pytest.raises(AssertionError, match="no letter is #DDDDDD on #111111 by night and .* by day .a in one of"):
        check_picture(kept, {(2, 1): [night, [row(("ab", BOLD))]]})
    with pytest.raises(AssertionError, match="By day at 2 x 1 it is:"):
        check_picture(kept, {(2, 1): [night, [row(("ax", PLAIN))]]})


def test_a_look_that_changes_with_sixteen_colors_or_with_none_is_found(
    own_legend: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept, rows = own_legend / "one.txt", [row(("ab", WRONG))]
    keep_picture(kept, {(2, 1): [rows, rows]})
    assert Legend().by_theme["16 colors"] == {"a": "color(13) on default bold"}
    assert Legend().by_theme["no color"] == {"a": "default on default bold"}
    monkeypatch.setattr(picture, "draw_fewer", lambda style, depth: style)
    with pytest.raises(AssertionError, match="a with 16 colors is #E0A6E8 on #111111 bold"):
        check_picture(kept, {(2, 1): [rows, rows]})
