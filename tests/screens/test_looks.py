"""What is seen: cautions with their steps, contrast, quiet while all is well, nothing shown by color alone."""

from __future__ import annotations

from pathlib import Path
from unicodedata import east_asian_width

import pytest
from rich.color import Color as TerminalColor
from textual.color import Color
from textual.geometry import Region
from textual.pilot import Pilot
from textual.theme import Theme

import floor
from floor.app import FloorApp
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.walk.station_walk import build_walk
from floor.checklist.loading import list_shipped_checklists, load_checklist
from floor.checklist.model import Checklist
from floor.screens.forms.dialogs import FormDialog
from floor.screens.forms.field_rows import FormInput
from floor.screens.forms.fields import FieldSpec
from floor.screens.frame.theme import DAY, HOLD_POINT, MARKS, NIGHT, SAID, SIGNAL_PANELS
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import part
from tests.screens.conftest import Open
from tests.screens.painted import VISIONS, Patch, Rgb, contrast, flat, painted, patches, see_as
from tests.shop.qualified import qualify

CHECKLISTS = list_shipped_checklists()
SIZE = (80, 24)
DEFAULT = TerminalColor.default()


def read(file: Path) -> Checklist:
    checklist = load_checklist(file).checklist
    assert checklist is not None
    return checklist


# --- cautions ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("file", CHECKLISTS, ids=lambda file: file.stem)
async def test_every_step_is_on_one_screen_with_all_its_cautions(file: Path, shop: Shop, clock: ManualClock) -> None:
    """A caution stands before and with its step, without scrolling, at 80 x 24 (DOE-STD-1029-92 on warnings and
    cautions; NUREG-0700 section 8.1; both from memory)."""
    checklist = read(file)
    qualify(shop, checklist, "AA", "BB")
    batch = shop.open_batch(OpenBatch(shop.find_next_id(), checklist, "-", file.name, 2, 2), by="LL").id
    hand = SimulatedOperator(shop, batch, "AA", clock, second="BB")
    app = FloorApp(shop, who="AA", ticking=False)
    hand.per_line = 5.0
    seen: set[str] = set()
    needless: set[str] = set()
    async with app.run_test(size=SIZE) as pilot:
        while shop.batch(batch).total("finished") < 2:
            for op, _, _ in shop.batch(batch).list_waiting_pools():
                hand.form(op)
            load = shop.batch(batch).list_live_loads()[0]
            hand.work(load.number, stop=lambda line: True)
            walked = build_walk(shop.batch(batch), hand.run(load.number), clock(), "AA")
            needless |= {name for line in walked.lines if line.is_satisfied for name, _ in line.cautions}
            await _walk_and_look(pilot, app, hand, load.number, seen)
    told = {
        name for operation in checklist.operations for _, step in operation.numbered_steps for name in step.cautions
    } | {name for operation in checklist.operations for names in operation.event_cautions.values() for name in names}
    assert seen | needless >= told, "the others warn of a window that stood open on arrival"
    assert len(needless - seen) <= 1


async def _walk_and_look(pilot: Pilot[None], app: FloorApp, hand: SimulatedOperator, load: int, seen: set[str]) -> None:
    """Work a run line by line; each line is looked at before it is passed."""
    run = hand.run(load).number
    app.go_walk(hand.id, run)
    await pilot.pause()
    screen = app.screen
    assert isinstance(screen, WalkScreen)
    while (line := hand.current(load) if hand.batch.runs[run].released is None else None) is not None:
        if line.cautions:
            screen.update_all()
            text = await painted(pilot)
            for name, caution in line.cautions:
                for part_of_it in (caution.word, caution.hazard, caution.consequence, caution.avoid, caution.wanted):
                    assert flat(part_of_it) in text, f"op {screen.current_run.op} {line.title}: {part_of_it}\n{text}"
                seen.add(name)
            assert flat(line.step.title() if line.step is not None else line.title) in text
            for field in screen.asks.inputs:
                assert field.region.height == 1
                assert screen.asks.region.contains_region(field.region), f"{line.title}: a field is out of sight"
        passed = line.key
        hand.work(load, stop=lambda line, passed=passed: line.key != passed)  # type: ignore[misc]
    app.leave(screen)
    await pilot.pause()


def test_a_signal_word_has_the_colors_of_its_panel() -> None:
    """DANGER white on safety red, WARNING black on safety orange, CAUTION black on safety yellow, NOTICE white on
    safety blue (ANSI Z535.4, as quoted by others; letter colors from memory)."""
    white, black = (255, 255, 255), (0, 0, 0)
    letters = {word: Color.parse(pair[0]).rgb for word, pair in SIGNAL_PANELS.items()}
    assert letters == {"DANGER": white, "WARNING": black, "CAUTION": black, "NOTICE": white}
    hue = {word: Color.parse(pair[1]).hsl.h * 360 for word, pair in SIGNAL_PANELS.items()}
    assert hue["DANGER"] > 340 or hue["DANGER"] < 10
    assert 20 <= hue["WARNING"] <= 40
    assert 45 <= hue["CAUTION"] <= 60
    assert 200 <= hue["NOTICE"] <= 225


@pytest.mark.parametrize(("word", "ratio"), [("DANGER", 7.3), ("WARNING", 8.4), ("CAUTION", 14.4), ("NOTICE", 7.2)])
def test_the_panels_have_the_contrast_worked_out_by_hand(word: str, ratio: float) -> None:
    """The formula of WCAG 2.2 over the four panels, worked out apart from this program."""
    letters, panel = SIGNAL_PANELS[word]
    assert contrast(Color.parse(letters).rgb, Color.parse(panel).rgb) == pytest.approx(ratio, abs=0.05)


# --- contrast ------------------------------------------------------------------------------------------------------


async def _scenes(app: FloorApp, pilot: Pilot[None], hand: SimulatedOperator, which: str) -> None:
    """Bring a screen up that shows much of what there is to see."""
    load = 1
    run = hand.run(load).number
    if which == "next":
        await pilot.pause()
    elif which == "batch":
        app.go_batch(hand.id)
    elif which == "count":
        hand.work(load, stop=lambda line: line.kind == "count")
        app.go_walk(hand.id, run)
        await pilot.press("enter", "1", "right")
    elif which == "refused":
        hand.work(load, stop=lambda line: line.title == "Probe G54 X Z")
        app.go_walk(hand.id, run)
        await pilot.pause()
        await pilot.press("x", "enter")
    elif which == "dialog":
        app.go_walk(hand.id, run)
        await pilot.press("p", "down")
    elif which == "form":
        fields = [
            FieldSpec("good", "Good counted", "4", number=True),
            FieldSpec("why", "Reason", hint="in a few words"),
        ]
        app.push_screen(FormDialog("Two fields", fields, lambda values: {}))
    else:
        hand.work(load, stop=lambda line: line.title == "Shut the door")
        app.go_walk(hand.id, run)
    await pilot.pause()


@pytest.fixture
def under_way(shop: Shop, batch: str, clock: ManualClock) -> SimulatedOperator:
    """One load at work up to its door, others waiting."""
    hand = SimulatedOperator(shop, batch, "AA", clock, second="BB")
    hand.form(10)
    hand.work(1, stop=lambda line: line.title == "Clamp the pallet")
    return hand


def _at(app: FloorApp, column: int, row: int) -> Patch:
    """What is painted in one cell."""
    strip = app.screen._compositor.render_strips()[row].crop(column, column + 1)
    segment = next(iter(strip))
    assert segment.style is not None
    assert segment.style.bgcolor is not None
    ground = tuple(segment.style.bgcolor.get_truecolor())
    letters = tuple(segment.style.color.get_truecolor()) if segment.style.color is not None else ground
    return Patch(row, column, segment.text, letters, ground, bool(segment.style.bold))


@pytest.mark.parametrize("vision", VISIONS)
def test_what_a_vision_sees_of_black_white_and_gray_is_that(vision: str) -> None:
    for gray in ((0, 0, 0), (255, 255, 255), (119, 119, 119)):
        assert see_as(vision, gray) == pytest.approx(gray, abs=1)


def test_the_visions_confuse_what_they_are_known_to_confuse() -> None:
    """Red and green by the first two, blue and green by the third: closer than to the eye that has all cones."""

    def apart(vision: str, one: Rgb, other: Rgb) -> float:
        return sum(abs(a - b) for a, b in zip(see_as(vision, one), see_as(vision, other), strict=True))

    red, green, teal, blue = (200, 80, 60), (110, 140, 60), (40, 150, 120), (60, 140, 170)
    for vision in ("protanopia", "deuteranopia"):
        assert apart(vision, red, green) < 0.75 * sum(abs(a - b) for a, b in zip(red, green, strict=True))
    assert apart("tritanopia", teal, blue) < 0.75 * sum(abs(a - b) for a, b in zip(teal, blue, strict=True))


@pytest.mark.parametrize("theme", [NIGHT, DAY], ids=lambda theme: theme.name)
def test_the_grounds_that_mean_something_stay_apart_for_every_eye(theme: Theme) -> None:
    """The spot, what is wrong, a field and the plain ground: each told from the next by light alone (3 to 1, WCAG 2.2,
    success criterion 1.4.11), or else by its words and edges, which `test_states_differ_by_their_signs` holds."""
    plain = Color.parse(theme.background).rgb  # type: ignore[arg-type]
    for name in ("hung", "chalk"):
        for vision in VISIONS:
            other = see_as(vision, Color.parse(theme.variables[name]).rgb)
            if name == "chalk" and theme is DAY:
                continue  # white on paper: its edges show it
            assert contrast(other, see_as(vision, plain)) >= 3.0, (name, vision)


@pytest.mark.parametrize("theme", [NIGHT, DAY], ids=lambda theme: theme.name)
async def test_a_key_that_does_nothing_now_is_dim_and_still_read(
    under_way: SimulatedOperator, theme: Theme, monkeypatch: pytest.MonkeyPatch
) -> None:
    """4.5 to 1 (WCAG 2.2, success criterion 1.4.3, which asks nothing of what is inactive)."""
    app = FloorApp(under_way.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        app.theme = theme.name
        app.go_walk(under_way.id, 1)
        await pilot.pause()
        monkeypatch.setattr(app.screen, "check_action", lambda action, parameters: None if action == "report" else True)
        app.screen.refresh_bindings()
        await pilot.pause()
        await pilot.pause()
        drawn = {patch.text.strip(): patch for patch in patches(app) if patch.row == SIZE[1] - 1}
        for dim, other in (("x", "n"), ("Report", "Note")):
            ratios = [contrast(drawn[key].letters, drawn[key].ground) for key in (dim, other)]
            assert 4.5 <= ratios[0] < ratios[1], ratios


@pytest.mark.parametrize("theme", [NIGHT, DAY], ids=lambda theme: theme.name)
@pytest.mark.parametrize("which", ["refused", "form"])
async def test_a_field_stands_out_from_its_ground(under_way: SimulatedOperator, theme: Theme, which: str) -> None:
    """3 to 1 for the field itself or for both of its edges (WCAG 2.2, success criterion 1.4.11), with the cursor in it
    or not."""
    app = FloorApp(under_way.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        app.theme = theme.name
        await _scenes(app, pilot, under_way, which)
        fields = list(app.screen.query(FormInput))
        assert sum(field.has_focus for field in fields) == 1
        assert len(fields) > 1 or which != "form", "one without the cursor too"
        for field in fields:
            left, right, row = field.region.x, field.region.right - 1, field.region.y
            beside = _at(app, left - 1, row).ground
            own = contrast(_at(app, left + 1, row).ground, beside)
            edges = min(contrast(_at(app, column, row).letters, beside) for column in (left, right))
            assert max(own, edges) >= 3.0, (field.id, own, edges)


@pytest.mark.parametrize("theme", [NIGHT, DAY], ids=lambda theme: theme.name)
@pytest.mark.parametrize("which", ["next", "batch", "dialog"])
async def test_the_cursor_is_plain_to_see(under_way: SimulatedOperator, theme: Theme, which: str) -> None:
    """At least 3 to 1 for marks of focus (WCAG 2.2, success criteria 1.4.11 and 2.4.7)."""
    app = FloorApp(under_way.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        app.theme = theme.name
        await _scenes(app, pilot, under_way, which)
        ground = Color.parse(theme.surface if which == "dialog" else theme.background).rgb  # type: ignore[arg-type]
        cursor = Color.parse(theme.variables["block-cursor-background"]).rgb
        assert contrast(cursor, ground) >= 3.0
        assert any(patch.ground == cursor and patch.text.strip() for patch in patches(app)), "no cursor is painted"


async def test_nothing_that_is_drawn_blinks(under_way: SimulatedOperator) -> None:
    """WCAG 2.2, success criterion 2.3.1: nothing flashes; only the cursor of a field does, once a second."""
    app = FloorApp(under_way.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        await _scenes(app, pilot, under_way, "refused")
        styles = [segment.style for strip in app.screen._compositor.render_strips() for segment in strip]
        assert not [style for style in styles if style is not None and (style.blink or style.blink2)]
    package = Path(floor.__file__).parent
    sources = [path for path in package.rglob("*") if path.suffix in (".py", ".tcss")]
    assert len(sources) > 100
    assert [path.name for path in sources if "blink" in path.read_text(encoding="utf-8")] == []


# --- quiet, and never by color alone ------------------------------------------------------------------------------


def _strong(patch: Patch) -> bool:
    """A saturated color: its parts lie far apart."""
    return any(max(color) - min(color) > 55 for color in (patch.letters, patch.ground))


def _blued(theme: Theme) -> Rgb:
    return Color.parse(theme.variables["blued"]).rgb


@pytest.mark.parametrize("theme", [NIGHT, DAY], ids=lambda theme: theme.name)
@pytest.mark.parametrize("which", ["next", "batch"])
async def test_while_all_is_well_no_signal_color_is_seen(
    under_way: SimulatedOperator, theme: Theme, which: str
) -> None:
    """Strong color only for what needs a person (practice after ISA-101.01-2015, as quoted by others), and on the one
    spot to be worked next, brushed with layout blue (common practice at the bench, no source)."""
    app = FloorApp(under_way.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        app.theme = theme.name
        await _scenes(app, pilot, under_way, which)
        strong = [patch for patch in patches(app) if _strong(patch)]
        spot = app.screen.query_one("#spot").region if which == "next" else Region()
        assert {patch.ground for patch in strong} <= {_blued(theme)}
        assert len({patch.row for patch in strong if not spot.contains(patch.column, patch.row)}) <= 1, (
            "the cursor's row"
        )
        assert which != "next" or any(spot.contains(patch.column, patch.row) for patch in strong)


async def test_a_walk_is_quiet_until_a_caution_and_then_has_its_panel_only(under_way: SimulatedOperator) -> None:
    app = FloorApp(under_way.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(under_way.id, 1)
        await pilot.pause()
        assert {patch.ground for patch in patches(app) if _strong(patch)} == {_blued(NIGHT)}, "the step alone"
        under_way.work(1, stop=lambda line: line.kind == "caution")
        app.update_screens()
        await pilot.pause()
        strong = [patch for patch in patches(app) if _strong(patch) and patch.ground != _blued(NIGHT)]
        assert {patch.text.strip() for patch in strong} == {"⚠ WARNING"}


async def test_in_monochrome_every_state_is_told_by_sign_and_word(
    under_way: SimulatedOperator, monkeypatch: pytest.MonkeyPatch
) -> None:
    """WCAG 2.2, success criterion 1.4.1: color is not the only means. With NO_COLOR nothing else may be lost."""
    monkeypatch.setenv("NO_COLOR", "1")
    app = FloorApp(under_way.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        await _scenes(app, pilot, under_way, "walk")
        styles = [
            segment.style for strip in app.screen._compositor.render_strips() for segment in strip if segment.style
        ]
        assert all((one.color or DEFAULT).is_default and (one.bgcolor or DEFAULT).is_default for one in styles)
        assert not [style for style in styles if style.dim], "the terminal's own letters on its own ground"
        text = await painted(pilot)
        assert "⚠ WARNING Turning cutter" in text
        assert "▶ Shut the door" in text
        assert "✓ Clamp the pallet" in text
        assert "· Start the cycle" in text
        assert "◊ Measure groove depth" in text


@pytest.mark.parametrize("size", [(160, 50), (80, 24), (60, 20), (40, 24)])
async def test_a_hold_point_is_told_from_a_step_before_it_is_reached(
    under_way: SimulatedOperator, open_app: Open, size: tuple[int, int]
) -> None:
    """Marked ahead, as in an inspection plan (common practice, no source): every check, and no step."""
    app = open_app("AA")
    async with app.run_test(size=size) as pilot:
        app.go_walk(under_way.id, 1)
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, WalkScreen)
        drawn = str(screen.lines.content).splitlines()
        ahead = [line for line in screen.get_walk().lines if line.state == "ahead" and line.is_step]
        signs = {line.kind: set[str]() for line in ahead}
        for row in drawn:
            signs_of = [signs[line.kind] for line in ahead if row[3:].startswith(line.title[:12])]
            for one in signs_of:
                one.add(row[1])
        assert signs["gate"] == {HOLD_POINT}
        assert signs["do"] == {MARKS["ahead"]}
        if size[0] >= 80:
            assert any(row[1] == HOLD_POINT and row.endswith(" hold point") for row in drawn), "the word beside it"


def test_states_differ_by_their_signs() -> None:
    assert len({*MARKS.values(), HOLD_POINT}) == len(MARKS) + 1
    assert east_asian_width(HOLD_POINT) == "N", "one cell in every font (Unicode Standard Annex 11)"
    for state in ("skipped", "waived", "now", "waits", "blocked", "reopened"):
        assert SAID[state], "what is not simply done or ahead has a word too"  # type: ignore[index]


def test_the_notice_has_no_alert_symbol_and_the_others_do() -> None:
    """The symbol goes with hazards to people, never with NOTICE (ANSI Z535.4-2007, 4.14.4, as quoted by others)."""
    from floor.screens.frame.theme import draw_signal_panel

    checklist = part()
    for caution in (*checklist.cautions.values(), *read(CHECKLISTS[0]).cautions.values()):
        assert ("⚠" in draw_signal_panel(caution, 76).plain) == (caution.word != "NOTICE")
