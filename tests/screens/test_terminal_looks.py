"""Any glass in the shop: a console without signs, sixteen colors, no colors at all; nothing told by them alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len
from rich.color import Color, ColorType
from rich.segment import Segment
from rich.style import Style
from textual.filter import LineFilter
from textual.theme import Theme

from floor.app import FloorApp
from floor.screens.frame.key_line import KeyLine
from floor.screens.frame.terminal_looks import (
    FewColors,
    PlainSigns,
    choose_theme,
    find_depth,
    keep_colors,
    needs_plain_signs,
    read_kept_colors,
    to_plain,
)
from floor.screens.frame.theme import DAY, HOLD_POINT, MARKS, NIGHT, SIGNAL_PANELS, draw_signal_panel
from floor.shop.simulation import SimulatedOperator
from tests.screens.conftest import Open
from tests.screens.test_looks import _scenes, under_way

__all__ = ["under_way"]

SIZE = (80, 24)


@pytest.mark.parametrize(
    ("environ", "plain"),
    [
        ({"TERM": "linux", "LANG": "en_US.UTF-8"}, True),
        ({"TERM": "vt220", "LANG": "en_US.UTF-8"}, True),
        ({"TERM": "xterm-256color", "LANG": "en_US.UTF-8"}, False),
        ({"TERM": "xterm-256color", "LANG": "en_US.ISO-8859-1"}, True),
        ({"TERM": "xterm", "LANG": "de_DE.UTF-8@euro"}, False),
        ({"TERM": "xterm", "LANG": "C"}, False),
        ({"TERM": "xterm", "LC_ALL": "C.ANSI_X3.4-1968"}, True),
        ({"TERM": "xterm", "FLOOR_SIGNS": "ascii"}, True),
        ({"TERM": "linux", "FLOOR_SIGNS": "all"}, False),
        ({}, False),
    ],
)
def test_signs_are_plain_where_the_terminal_has_no_others(environ: dict[str, str], plain: bool) -> None:
    assert needs_plain_signs(environ) is plain


@pytest.mark.parametrize(("signs", "shown"), [("ascii", " Enter Open "), ("all", " ⏎ Open ")])
async def test_enter_has_its_name_where_its_sign_would_be_another_key(
    open_app: Open, batch: str, monkeypatch: pytest.MonkeyPatch, signs: str, shown: str
) -> None:
    monkeypatch.setenv("FLOOR_SIGNS", signs)
    app = open_app()
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        assert shown in str(app.screen.query_one(KeyLine).content)
        assert "<" not in to_plain(str(app.screen.query_one(KeyLine).content))


def test_each_state_of_a_line_has_a_plain_sign_of_its_own() -> None:
    plain = [to_plain(mark) for mark in (*MARKS.values(), HOLD_POINT)]
    assert all(sign.isascii() and len(sign) == 1 for sign in plain)
    assert len(set(plain)) == len(plain)


async def test_an_alert_symbol_is_an_exclamation_mark_where_the_terminal_has_none(
    under_way: SimulatedOperator, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The symbol is an exclamation mark in a triangle (ANSI Z535.4, from memory); the mark alone is plain text."""
    caution = under_way.batch.checklist.cautions["cutter"]
    for word in SIGNAL_PANELS:
        panel = to_plain(draw_signal_panel(replace(caution, word=word), 76).plain)
        assert panel.startswith(f" {word} " if word == "NOTICE" else f" ! {word} ")

    monkeypatch.setenv("FLOOR_SIGNS", "ascii")
    app = FloorApp(under_way.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        await _scenes(app, pilot, under_way, "walk")
        sent = "".join(segment.text for segment in list_sent(app))
        assert " ! WARNING  Turning cutter" in sent


@given(st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=30))
def test_a_plain_text_takes_the_cells_it_took(text: str) -> None:
    plain = to_plain(text)
    assert plain.isascii()
    if all(cell_len(character) for character in text):
        assert cell_len(plain) == cell_len(text)


@pytest.mark.parametrize("which", ["next", "batch", "walk", "count", "refused", "dialog"])
async def test_all_that_is_drawn_has_its_twin(
    under_way: SimulatedOperator, which: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FLOOR_SIGNS", "ascii")
    app = FloorApp(under_way.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        await _scenes(app, pilot, under_way, which)
        sent = list_sent(app)
        assert all(segment.text.isascii() for segment in sent)
        assert not [segment.text for segment in sent if "?" in segment.text.replace("? Keys", "").replace("?", "", 2)]


@pytest.mark.parametrize("which", ["next", "batch", "walk", "count", "refused", "dialog"])
async def test_without_color_no_color_and_no_gray_is_sent(
    under_way: SimulatedOperator, which: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """no-color.org: "should prevent the addition of ANSI color"; a gray is a color."""
    monkeypatch.setenv("NO_COLOR", "1")
    app = FloorApp(under_way.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        await _scenes(app, pilot, under_way, which)
        sent = list_sent(app)
        colors = {color for one in sent if one.style for color in (one.style.color, one.style.bgcolor)}
        assert {color.type for color in colors if color is not None} <= {ColorType.DEFAULT}
        if which in ("next", "batch", "dialog"):
            assert any(one.style and one.style.reverse and one.text.strip() for one in sent), "the cursor is seen"


@pytest.mark.parametrize("theme", [NIGHT, DAY], ids=lambda theme: theme.name)
def test_in_sixteen_colors_a_signal_panel_keeps_its_hue(theme: object) -> None:
    """Rounded by the terminal's library WARNING would be bright red, NOTICE cyan."""
    few = FewColors("sixteen")
    grounds = {}
    for word, (letters, panel) in SIGNAL_PANELS.items():
        (made,) = few.apply([Segment(word, Style(color=letters, bgcolor=panel))], None)  # type: ignore[arg-type]
        assert made.style is not None
        grounds[word] = made.style.bgcolor
        assert made.style.bold
    assert grounds == {
        "DANGER": Color.from_ansi(1), "WARNING": Color.from_ansi(3), "CAUTION": Color.from_ansi(11),
        "NOTICE": Color.from_ansi(4),
    }  # fmt: skip


@pytest.mark.parametrize("theme", [NIGHT, DAY], ids=lambda theme: theme.name)
def test_in_sixteen_colors_a_chart_keeps_its_colors(theme: Theme) -> None:
    """Limits and work of people bright blue, what is out or late bright magenta; the rest as the terminal writes."""
    few = FewColors("sixteen")

    def fewer(color: str) -> Color | None:
        (made,) = few.apply([Segment("=", Style(color=color, bgcolor=theme.background))], None)  # type: ignore[arg-type]
        return made.style.color if made.style is not None else None

    assert fewer(theme.variables["ruled"]) == Color.from_ansi(12)
    assert fewer(str(theme.error)) == Color.from_ansi(13)
    assert fewer(str(theme.foreground)) == Color.default()


@pytest.mark.parametrize("which", ["next", "walk", "refused"])
async def test_in_sixteen_colors_only_named_ones_are_sent(
    under_way: SimulatedOperator, which: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("floor.screens.frame.terminal_looks.find_depth", lambda environ, system: "sixteen")
    app = FloorApp(under_way.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        await _scenes(app, pilot, under_way, which)
        colors = {color for one in list_sent(app) if one.style for color in (one.style.color, one.style.bgcolor)}
        assert {color.type for color in colors if color is not None} <= {ColorType.DEFAULT, ColorType.STANDARD}


@pytest.mark.parametrize(
    ("environ", "system", "depth"),
    [({}, "truecolor", "all"), ({}, "256", "all"), ({}, "standard", "sixteen"), ({"NO_COLOR": "1"}, "256", "none")],
)
def test_as_many_colors_as_the_terminal_has(environ: dict[str, str], system: str, depth: str) -> None:
    assert find_depth(environ, system) == depth


async def test_the_colors_chosen_last_are_kept(under_way: SimulatedOperator, tmp_path: Path) -> None:
    kept = tmp_path / "user" / "colors"
    app = FloorApp(under_way.shop, who="AA", ticking=False, colors_file=kept)
    async with app.run_test(size=SIZE) as pilot:
        assert app.theme == NIGHT.name
        await pilot.press("ctrl+t")
    again = FloorApp(under_way.shop, who="AA", ticking=False, colors_file=kept)
    assert again.theme == DAY.name
    assert read_kept_colors(kept) == DAY.name
    keep_colors(Path("/proc/none/colors"), DAY.name)  # nowhere to write: nothing is said


@pytest.mark.parametrize(
    ("ground", "kept", "theme"),
    [("0;15", "", DAY), ("15;0", "", NIGHT), ("", "", NIGHT), ("0;15", NIGHT.name, NIGHT), ("", "torn", NIGHT)],
)
def test_a_light_terminal_gets_the_light_colors(ground: str, kept: str, theme: object) -> None:
    assert choose_theme({"COLORFGBG": ground}, kept) == theme.name  # type: ignore[attr-defined]


def list_sent(app: FloorApp) -> list[Segment]:
    """The segments of the top screen as they go out to the terminal."""
    filters: list[LineFilter] = [one for one in app._filters if one.enabled]
    assert any(isinstance(one, PlainSigns | FewColors) for one in filters)
    found = []
    for strip in app.screen._compositor.render_strips():
        segments = list(strip)
        for one in filters:
            segments = one.apply(segments, app.screen.background_colors[1])
        found += segments
    return found
