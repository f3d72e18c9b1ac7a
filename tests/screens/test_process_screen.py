"""The pages about the process of a batch: opened from the batch, turned by arrows, read of closed batches too."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from textual.color import Color
from textual.theme import Theme

from floor.app import FloorApp
from floor.batch.quality.loss_patterns import study_losses
from floor.batch.quality.measured_values import list_measured_values, narrow_values
from floor.batch.state import Batch
from floor.papers.losses import rank_losses
from floor.screens.batch.process import KeyFiguresScreen, LossScreen, MeasuredScreen
from floor.screens.batch.process_pages import Page, ProcessScreen
from floor.screens.forms.dialogs import ChoiceDialog, FormDialog
from floor.screens.frame.paper_screen import PaperScreen
from floor.screens.frame.theme import DAY, NIGHT
from floor.shop import Shop
from floor.text_charts import DRAWING_LIMIT, Level, draw_values
from floor.wall import WHEN, format_local
from tests.screens.conftest import Open, Picture
from tests.screens.keys import fill, words
from tests.screens.painted import contrast, patches
from tests.screens.seen import seen

COSTS = """[costs]
currency = "EUR"
labor_hour = 38
stations = { mill = 45, bench = 4.5 }
tools = { "mill 1" = 32 }
"""


async def test_losses_and_measured_values_are_two_keys_from_the_batch(open_app: Open, half: str) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "v")
        assert isinstance(app.screen, ChoiceDialog)
        await pilot.press("1")
        assert isinstance(app.screen, LossScreen)
        assert "page 1 of " in words(app)
        assert "by reason, with the running share" in words(app)
        await pilot.press("escape", "v", "2")
        assert isinstance(app.screen, MeasuredScreen)
        assert "groove depth: " in words(app)


async def test_the_arrows_turn_the_pages_and_nothing_is_recorded(open_app: Open, half: str, shop: Shop) -> None:
    before = shop.batch(half).seq
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "v", "1", "right")
        assert "page 2 of " in words(app)
        assert " lost (" in words(app)
        await pilot.press("left", "left")
        last = words(app).split("page ")[1].split("\n")[0]
        number, _, count = last.partition(" of ")
        assert number == count, "before the first page comes the last one"
        await pilot.press(*["right", "enter", "space", "y"] * 3, "escape")
    assert shop.batch(half).seq == before


async def test_where_nothing_is_counted_or_measured_that_is_said(open_app: Open, batch: str) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "v", "1")
        assert "Nothing has been counted yet" in words(app)
        await pilot.press("right", "escape", "v", "2")
        assert "Nothing measured yet" in words(app)
        await pilot.press("right")
        assert "page 1 of 1" in words(app)


async def test_key_figures_of_batch_and_stations_each_with_formulas_and_inputs(open_app: Open, half: str) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "v", "3")
        assert isinstance(app.screen, KeyFiguresScreen)
        assert "The whole batch (2 of 10 pieces finished or scrapped)" in words(app)
        assert "OEE index" in words(app)
        assert "worker efficiency" not in words(app), "off: nobody is ranked"
        await pilot.press("right")
        assert "APT / (APT + ADET)" in words(app)
        await pilot.press("right")
        assert "x plan" in words(app)
        await pilot.press("right")
        assert "Cost n/a, because shop.toml names no rates" in words(app)
        await pilot.press("right")
        assert "Mill, " in words(app)
        assert "because AOET is of the whole batch only" in " ".join(words(app).split())


async def test_where_the_hours_cannot_be_read_that_is_said(open_app: Open, half: str, shop: Shop) -> None:
    (shop.folder / "shop.toml").write_text("hands = 0\n", encoding="utf-8")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "v", "3")
        assert "line 1, hands: 0 is out of range" in words(app)


@pytest.fixture
def late(shop: Shop, half: str) -> datetime:
    """When the third load was begun: of op 10 it alone is counted since then."""
    return next(run.begun for run in shop.batch(half).runs.values() if run.load == 3)


async def test_losses_are_shown_of_what_was_counted_since_a_time_and_tested_as_a_whole(
    open_app: Open, half: str, shop: Shop, late: datetime
) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.press("b", "v", "1")
        whole = words(app)
        before, since = (sum(row.count for row in rank_losses(shop.batch(half), at)) for at in (None, late))
        assert 0 < since < before
        assert f"Scrap and rework: {before}, by reason" in whole
        await pilot.press("slash")
        await fill(pilot, format_local(late, WHEN))
        paths = study_losses(shop.batch(half)).narrow(late).outcomes
        assert f"page 1 of {1 + len(paths)}   Only since {format_local(late, WHEN)}   /: all again" in words(app)
        assert f"Scrap and rework: {since}, by reason" in words(app)
        assert "Statistical tests cover the whole batch" in words(app)
        await pilot.press("right")
        assert "op 10 Mill the groove: 0 of 2 lost" in words(app)
        assert "; 1 load\n" in words(app)
        await pilot.press("slash", *["backspace"] * 20, "enter")
        assert words(app) == whole, "blank: all of it again"


async def test_a_time_that_cannot_be_read_stays_in_its_field(open_app: Open, half: str) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "v", "2", "slash")
        await fill(pilot, "soon")
        assert isinstance(app.screen, FormDialog)
        assert '"soon" is not a time the clock shows' in words(app)
        await pilot.press("escape")
        assert "Only since" not in words(app)


async def test_values_of_before_are_left_out_and_what_is_of_the_whole_batch_says_so(
    open_app: Open, half: str, shop: Shop, late: datetime
) -> None:
    app = open_app("AA")
    every = list_measured_values(shop.batch(half))
    later = narrow_values(every, late)
    assert sum(map(len, later.values())) < sum(map(len, every.values()))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "v", "2", "slash")
        await fill(pilot, format_local(late, WHEN))
        assert "Only since" in words(app)
        assert "groove depth: 2 values on 1 load" in words(app)
        await pilot.press("slash", *["backspace"] * 20)
        await fill(pilot, format_local(shop.batch(half).entries[-1].time, WHEN))
        assert "Nothing measured since then" in words(app)
        await pilot.press("escape", "v", "3", "slash")
        await fill(pilot, format_local(late, WHEN))
        said = words(app)
        assert "All stations, " in said
        assert "The whole batch (" not in said
        await pilot.press("right", "right", "right")
        assert "Of the whole batch\n\nCost n/a" in words(app)


@pytest.mark.parametrize("page", ["1", "2", "3"], ids=["losses", "measured", "figures"])
async def test_since_a_time_after_the_last_entry_the_page_says_so(
    open_app: Open, half: str, shop: Shop, page: str
) -> None:
    app = open_app("AA")
    later = shop.batch(half).entries[-1].time + timedelta(days=40)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "v", page, "slash")
        await fill(pilot, format_local(later, WHEN))
        said = " ".join(words(app).split())
        assert f"Nothing since {format_local(later, WHEN)}: the last entry of {half} is " in said
        assert "page 1 of 1" in said


async def test_the_span_goes_on_paper_with_the_charts(
    open_app: Open, half: str, shop: Shop, late: datetime, drawn: None
) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "v", "3", "slash")
        await fill(pilot, format_local(late, WHEN))
        await pilot.press("e")
        assert f"Figures since {format_local(late, WHEN)}, with charts" in seen(app)
        await pilot.press("enter")
        assert isinstance(app.screen, PaperScreen)
    (paper,) = (shop.folder / "papers").glob(f"{half}-figures*.txt")
    text = paper.read_text(encoding="utf-8")
    assert f"FIGURES  {half}" in text
    said = f"Of runs started since {format_local(late, WHEN)}; statistical tests and cost cover the whole batch"
    assert said in " ".join(text.split()), "with its day, as paper is read on another"
    found = narrow_values(list_measured_values(shop.batch(half)), late)
    assert f"Measured values: {len(found)}" in text
    assert max(map(len, text.split("\n"))) <= 80


@pytest.mark.parametrize("theme", [NIGHT, DAY], ids=lambda theme: theme.name)
async def test_a_chart_has_its_limits_and_what_is_out_in_colors_beside_their_signs(
    open_app: Open, half: str, theme: Theme, drawn: None
) -> None:
    """Limits blue, what is out purple, values as text is: told apart from one another and from the ground, 4.5 to 1
    (WCAG 2.2, success criterion 1.4.3)."""

    class Charted(ProcessScreen):
        def make_pages(self, batch: Batch) -> list[Page]:
            levels = [Level("high", 3.0, DRAWING_LIMIT), Level("UCL", 2.0)]
            return [lambda width, height: draw_values([1.0, 4.0], levels, [1], [], [], width, 10)]

    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.theme = theme.name
        app.go(Charted(app.session, half))
        await pilot.pause()
        painted = {patch.text.strip()[-1:]: patch for patch in patches(app) if 3 <= patch.row < 20}
        blue, purple = Color.parse(theme.variables["ruled"]).rgb, Color.parse(str(theme.error)).rgb
        assert {sign: painted[sign].letters for sign in "=-✕"} == {"=": blue, "-": blue, "✕": purple}
        assert painted["o"].letters == Color.parse(str(theme.foreground)).rgb
        assert min(contrast(painted[sign].letters, painted[sign].ground) for sign in "=-✕o") >= 4.5


@pytest.mark.parametrize(
    "keys",
    [("1",), ("1", "right"), ("2",), ("3",), ("3", "right"), ("3", "right", "right"), ("3", "right", "right", "right")],
    ids=["losses", "place", "measured", "figures", "formulas", "times", "cost"],
)
def test_picture_of_the_process(picture: Picture, open_app: Open, half: str, shop: Shop, keys: tuple[str, ...]) -> None:
    (shop.folder / "shop.toml").write_text(COSTS, encoding="utf-8")
    app: FloorApp = open_app("AA")
    picture(app, press=["b", "v", *keys])
