"""Trials on screen: planned, pieces used, results typed or from a file, compared, chosen, all by keys."""

from __future__ import annotations

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from floor.app import FloorApp
from floor.batch.handover.commands import OfferHandover
from floor.batch.trials.commands import ChooseSetting, EnterTrialResult, PlanTrial, TakeTrialPieces
from floor.screens.batch.trials import TrialScreen
from floor.screens.forms.dialogs import ChoiceDialog, FormDialog
from floor.shop import Shop
from tests.screens.conftest import Open, Picture
from tests.screens.keys import fill, words
from tests.screens.operator import Place, said

SPEED = (("speed", ("6000 rpm", "8000 rpm", "10000 rpm")),)


async def opened(app: FloorApp, pilot: Pilot[None], place: Place) -> None:
    app.go(TrialScreen(app.session, place.id))
    await pilot.pause()


def spun(place: Place) -> None:
    """A trial of three spindle speeds with results, and one of two feeds after it."""
    do = place.shop.do
    do(place.id, PlanTrial("which speed runs smoothest?", SPEED, "number", "vibration", 1, "m/s2", 10, 0.05), "AA")
    for setting, values in enumerate(((0.61, 0.64, 0.66), (0.54, 0.52, 0.55), (0.40, 0.52, 0.38)), 1):
        do(place.id, EnterTrialResult(1, setting, values), "AA")
    do(place.id, TakeTrialPieces(1, 3, 2), "AA")
    do(place.id, ChooseSetting(1, 3, "quiet, and no worse than 8000 rpm", "op 10: speed 10000 rpm"), "AA")


async def test_a_trial_from_question_to_choice_by_keys(open_app: Open, place: Place) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "v", "5")
        assert isinstance(app.screen, TrialScreen)
        assert "No trial yet: a plans one" in words(app)
        await pilot.press("a", "1")
        await fill(pilot, "which insert leaves the least burr?", "insert: A; B", "burr in mm", "2", "0,1", "20", "")
        trial = place.batch.trials[1]
        assert (trial.settings, trial.characteristic, trial.unit, trial.each, trial.op) == (
            ("A", "B"), "burr", "mm", 2, 20,
        )  # fmt: skip
        assert trial.worth == 0.1
        assert "Planned. Enter uses pieces" in said(app)
        await pilot.press("enter", "2", "1", "1")
        await fill(pilot, "2")
        assert place.batch.total("trial") == 2
        await pilot.press("enter", "1", "1")
        await fill(pilot, "0,31 0,35 0,33", "two chips")
        await pilot.press("enter", "1", "2")
        await fill(pilot, "0.11; 0.12; 0.10", "")
        assert trial.number in place.batch.trials
        assert "A above B by 0.220 mm" in words(app)
        await pilot.press("enter", "3", "2")
        await fill(pilot, "least burr", "")
        choice = place.batch.trials[1].choice
        assert choice is not None
        assert (choice.setting, choice.reason, choice.offer) == (2, "least burr", "Insert: B")
        assert "Offered to the checklist: Insert: B" in words(app)
        place.clock.forward(20)
        await pilot.press("enter", "4")
        await fill(pilot, "2", "nothing was done to them")
        assert place.batch.total("trial") == 0
        await pilot.press("u")
        assert place.batch.total("trial") == 2, "taken back at once"


async def test_good_and_bad_and_words_have_forms_of_their_own(open_app: Open, place: Place) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, place)
        await pilot.press("a", "2")
        await fill(pilot, "which feed leaves no burr?", "feed: 60, 90", "burr", "0", "20 %", "", "cloth: soft, coarse")
        assert place.batch.trials[1].settings == ("60, soft", "60, coarse", "90, soft", "90, coarse")
        assert place.batch.trials[1].worth == pytest.approx(0.2)
        await pilot.press("enter", "1", "4")
        await fill(pilot, "2", "1", "")
        assert place.batch.trials[1].count_good(4) == (2, 3)
        await pilot.press("a", "3")
        await fill(pilot, "which looks best?", "oven: 60; 80", "surface", "1", "", "")
        await pilot.press("enter", "1", "1")
        await fill(pilot, "even")
        assert place.batch.trials[2].list_seen(1) == ["even"]
        assert "page 1 of 2" in words(app)
        await pilot.press("right")
        assert "which feed leaves no burr?" in words(app)


@pytest.mark.parametrize(("texts", "wrong"), [
    (("why is that?", "A; B", "burr in mm", "1", "", "", ""), "What is varied, or its settings are missing."),
    (("why is that?", "insert: A", "burr in mm", "1", "", "", ""), "1 settings to compare."),
    (("why is that?", "insert: A; B", "burr", "1", "", "", ""), "A number needs its unit. Enter it too"),
    (("why is that?", "insert: A; B", "burr in mm", "1", "", "25", ""), "There is no op 25."),
    (("why is that?", "insert: A; B", "burr in mm", "1", "much", "", ""), "Much is not a number."),
])  # fmt: skip
async def test_what_is_wrong_with_a_plan_is_said_in_its_form(
    open_app: Open, place: Place, texts: tuple[str, ...], wrong: str
) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, place)
        await pilot.press("a", "1")
        await fill(pilot, *texts, *[""] * 3)
        assert isinstance(app.screen, FormDialog)
        assert wrong in words(app)
        assert place.batch.trials == {}


def recorded(place: Place, name: str, text: str) -> None:
    (place.shop.folder / "trials").mkdir(exist_ok=True)
    (place.shop.folder / "trials" / name).write_text(text, encoding="utf-8")


async def test_a_phone_s_recording_becomes_one_number(open_app: Open, place: Place) -> None:
    place.shop.do(place.id, PlanTrial("which speed?", SPEED, "number", "vibration", 0, "m/s2"), "AA")
    rows = "\n".join(
        f"{n / 10:.1f};{(-1) ** n * 0.1:.1f};{9.8 + (-1) ** n * 0.2:.1f}".replace(".", ",") for n in range(8)
    )
    rows = "\n".join(f"{row};ok" for row in rows.split("\n"))
    recorded(place, "run1.csv", f"Time;x;z;seen\ns;;;\n{rows}\n")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, place)
        await pilot.press("enter", "1", "2")
        await fill(pilot, "run1.csv", "")
        assert isinstance(app.screen, ChoiceDialog)
        assert "8 rows. What of them is the result in m/s2?" in words(app)
        await pilot.press("3")
        assert "1  Time s" in words(app)
        assert "seen: left out, ok is not a number" in words(app)
        await fill(pilot, "")
        reading = place.batch.trials[1].readings[0]
        assert reading.values == pytest.approx((0.05**0.5,)), "0.1 and 0.2 about their means, by hand"
        assert "Entered: 0.2236 m/s2 from run1.csv" in said(app)
        source = place.batch.entries[-1].body["source"]
        assert (source["columns"], source["how"], source["rows"]) == (["x", "z"], "vibration", 8)
        assert "8000 rpm: 0.2236 m/s2 from run1.csv, vibration" in words(app)


@pytest.mark.parametrize(("name", "wrong"), [
    ("gone.csv", "gone.csv is not there"),
    ("../shop.csv", "only files in"),
    ("empty.csv", "empty.csv: it is empty"),
    ("words.csv", "words.csv: it has no numbers"),
])  # fmt: skip
async def test_a_file_that_gives_no_numbers_is_refused(open_app: Open, place: Place, name: str, wrong: str) -> None:
    place.shop.do(place.id, PlanTrial("which speed?", SPEED, "number", "vibration", 0, "m/s2"), "AA")
    recorded(place, "empty.csv", "")
    recorded(place, "words.csv", "nothing\nto read\n")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, place)
        await pilot.press("enter", "1", "1")
        await fill(pilot, name, "")
        assert wrong.casefold() in f"{words(app)} {said(app)}".casefold()
        assert place.batch.trials[1].readings == []


@pytest.mark.parametrize(("columns", "wrong"), [
    ("4", "There is no column 4. Enter numbers from 1 to 2"),
    ("x", "There is no column x."),
])  # fmt: skip
async def test_a_column_that_is_not_there_is_refused(open_app: Open, place: Place, columns: str, wrong: str) -> None:
    place.shop.do(place.id, PlanTrial("which speed?", SPEED, "number", "vibration", 0, "m/s2"), "AA")
    recorded(place, "run1.csv", "t,x\n" + "\n".join(f"{n},{n % 3}" for n in range(900)))
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, place)
        await pilot.press("enter", "1", "1")
        await fill(pilot, "run1.csv", "")
        await pilot.press("5", "end", "backspace")
        await fill(pilot, columns)
        assert wrong in words(app)
        await pilot.press("escape", "enter", "1", "1")
        await fill(pilot, "run1.csv", "")
        await pilot.press("5")
        await fill(pilot, "")
        assert "900 rows; a result holds at most 500 values." in words(app)


async def test_where_pieces_come_from_is_chosen_and_hidden_counts_stay_hidden(open_app: Open, place: Place) -> None:
    load = place.load()
    place.shop.do(place.id, PlanTrial("which speed?", SPEED, "number", "vibration", 1, "m/s2"), "AA")
    app = open_app("BB")
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, place)
        await pilot.press("enter", "2", "1")
        assert "loose, waiting for op 10: 6 pieces" in str(app.screen.query("OptionList").first()._options[0].prompt)  # type: ignore[attr-defined]
        await pilot.press("2")
        await fill(pilot, "")
        assert len(place.batch.present(place.batch.loads[load])) == 3
        place.shop.do(place.id, OfferHandover("soon"), "LL")
        await pilot.press("enter", "2", "1")
        options = [str(one.prompt) for one in app.screen.query("OptionList").first()._options]  # type: ignore[attr-defined]
        assert [one for one in options if "piece" in one] == []


async def test_looking_at_trials_of_a_batch_records_nothing(open_app: Open, place: Place, shop: Shop) -> None:
    spun(place)
    before = place.batch.seq
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, place)
        await pilot.press("enter", "escape", "enter", "1", "escape", "a", "escape", "right", "left", "down", "pagedown")
    assert place.batch.seq == before


def test_picture_of_a_trial(picture: Picture, open_app: Open, place: Place) -> None:
    """What is shown is marked; below, what is not, with the number of pieces that would show it; then the choice."""
    spun(place)

    async def look(pilot: Pilot[None]) -> None:
        assert isinstance(pilot.app, FloorApp)
        await opened(pilot.app, pilot, place)

    picture(open_app("AA"), run_before=look)


@pytest.mark.parametrize("size", [(60, 20), (80, 24)], ids=str)
async def test_what_is_typed_as_a_factor_can_be_seen(open_app: Open, place: Place, size: tuple[int, int]) -> None:
    app = open_app("AA")
    async with app.run_test(size=size) as pilot:
        await opened(app, pilot, place)
        await pilot.press("a", "1")
        await pilot.pause()
        for name in ("settings", "settings2"):
            assert app.screen.query_one(f"#field-{name}", Input).content_size.width >= 19
        assert app.screen.query_one("#field-op", Input).content_size.width >= 8


def test_picture_of_a_plan(picture: Picture, open_app: Open, place: Place) -> None:
    async def look(pilot: Pilot[None]) -> None:
        assert isinstance(pilot.app, FloorApp)
        await opened(pilot.app, pilot, place)
        await pilot.press("a", "1")
        await fill(pilot, "which insert leaves the least burr?", "insert: A; B; C")

    picture(open_app("AA"), run_before=look)
