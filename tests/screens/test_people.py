"""Signing in and the people of the shop, driven by the documented keys and read back from the record."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from textual.widgets import Input, Static

from floor.app import FloorApp
from floor.batch.command import Refused
from floor.screens.forms.dialogs import ChoiceDialog, ConfirmDialog, FormDialog
from floor.screens.frame.sign_in import SignInDialog
from floor.screens.shop.people import PeopleScreen
from floor.screens.shop.what_next import NextScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.screens.conftest import Picture
from tests.screens.keys import PIN, fill, words
from tests.screens.painted import rows

Open = Callable[..., FloorApp]
PEOPLE = ("c", "1")
SET_PIN, NAME, ROLE, LEFT, QUALIFIED = "1", "2", "3", "4", "5"
"""What Enter offers at a person."""


def kinds(shop: Shop) -> list[str]:
    """What the shop's own record holds."""
    return [entry.kind for entry in shop.journals.open("shop").entries]


# --- the first person ----------------------------------------------------------------------------------------------


async def test_a_shop_without_people_enters_the_first_one_as_a_lead(bare_shop: Shop) -> None:
    app = FloorApp(bare_shop, ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("l")
        assert "The first person is a lead" in words(app)
        await fill(pilot, "ll", "Lena", "2468", "2486")
        assert "The two PINs do not match" in words(app)
        assert app.session.who == ""
        await pilot.press("escape", "l")
        await fill(pilot, "ll", "Lena", "2468", "2468")

        assert app.session.who == "LL"
        assert isinstance(app.screen, NextScreen)
    assert bare_shop.people.known["LL"].lead
    assert kinds(bare_shop) == ["person_added", "pin_set"]


async def test_wrong_initials_and_a_missing_name_are_reported_at_their_fields(bare_shop: Shop) -> None:
    app = FloorApp(bare_shop, ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("l", "x", *["enter"] * 4)
        assert "2 to 4" in str(app.screen.query_one("#error-initials", Static).content)
        assert app.focused is app.screen.query_one("#field-initials")

        await fill(pilot, "xy", "")
        await pilot.press("enter", "enter")
        assert "Enter it" in str(app.screen.query_one("#error-name", Static).content)
        assert "4 to 32 characters" in str(app.screen.query_one("#error-pin", Static).content)

        await pilot.press("escape")
        assert isinstance(app.screen, NextScreen)
        assert app.session.who == ""
    assert kinds(bare_shop) == []


# --- signing in ----------------------------------------------------------------------------------------------------


async def test_picking_a_person(open_app: Open) -> None:
    app = open_app("")
    picks = [
        (["down", "enter"], "AA"),
        (["down", "down", "enter"], "BB"),
        (["up", "enter", *PIN, "enter", *PIN, "enter"], "LL"),  # a lead chooses a PIN
        ([*"bb", "enter"], "BB"),
        (["l", "enter", *PIN, "enter"], "LL"),  # one letter is enough where it is the only one
        ([*"arne", "enter"], "AA"),
    ]
    async with app.run_test(size=(80, 24)) as pilot:
        for keys, who in picks:
            await pilot.press("l", *keys)
            assert app.session.who == who, keys
            assert isinstance(app.screen, NextScreen)
            await pilot.press("l", "n", "escape")
            assert app.session.who == who, "a slip signs nobody out"
            await pilot.press("l", "enter")
            assert app.session.who == ""


async def test_where_everyone_needs_a_pin_who_has_none_chooses_it_when_signing_in(open_app: Open) -> None:
    """REC-33: by initials and by badge alike; from then on the PIN is asked for."""
    app = open_app("")
    shop = app.session.shop
    shop.pin_for_everyone = True
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("l", *"aa", "enter")
        assert app.session.who == ""
        assert "Everybody here needs a PIN" in words(app)
        await pilot.press(*PIN, "enter", *PIN, "enter")
        assert app.session.who == "AA"

        await pilot.press("l", "enter", "l", *"aa", "enter", *"9999", "enter")
        assert app.session.who == ""
        assert "not the PIN of AA" in words(app)
        await pilot.press("escape", "escape")

        app.ask_who(lambda: None, "BB")  # as a badge does
        await pilot.pause()
        assert "Everybody here needs a PIN" in words(app)
        await pilot.press("escape", "escape")
        assert app.session.who == ""
    assert not shop.people.known["BB"].has_pin


async def test_the_key_says_whether_it_signs_in_or_out_and_nobody_is_signed_out_while_typing(open_app: Open) -> None:
    app = open_app("LL")

    def word() -> str:
        active = app.screen.active_bindings["l"]
        return active.binding.description

    async with app.run_test(size=(80, 24)) as pilot:
        assert word() == "Sign out"
        await pilot.press(*PEOPLE, "enter", "2", "ctrl+l")
        assert not isinstance(app.screen, SignInDialog), "not over a form"
        await pilot.press("y")
        assert app.session.who == "LL"
        await pilot.press("escape", "escape", "l", "enter")
        assert word() == "Sign in"


async def test_initials_of_nobody_sign_nobody_out(open_app: Open) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("l", *"zz", "enter")
        assert app.session.who == "LL"
        assert "Nobody here has these initials" in words(app)
        await pilot.press("escape", "l", "enter")
        assert app.session.who == ""


async def test_a_pin_typed_where_initials_are_asked_for_is_not_repeated(open_app: Open) -> None:
    app = open_app("")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("l", *"4711", "enter")
        field = app.screen.query_one("#who", Input)
        assert "Nobody here has these initials" in words(app)
        assert "4711" not in words(app)
        assert field.password
        await pilot.press(*"bb")
        assert (field.value, field.password) == ("bb", False)
        await pilot.press("enter")
        assert app.session.who == "BB"


async def test_picking_with_the_mouse(open_app: Open) -> None:
    app = open_app("")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("l")
        await pilot.click("#people", offset=(3, 1))
        assert app.session.who == "BB"


async def test_a_lead_without_a_pin_chooses_one_before_deciding_anything(shop: Shop, open_app: Open) -> None:
    """CBP-37: who may waive a check is told by more than two letters that anybody can type."""
    app = open_app("")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("l", *"ll", "enter")
        assert "No lead has a PIN yet. LL, choose yours: 4 to 32 characters." in words(app)
        assert "Esc: I am not LL" in words(app)
        await pilot.press(*"2468", "enter")
        assert "Enter the same PIN again" in words(app)
        await pilot.press(*"2486", "enter")
        assert "The two PINs do not match" in words(app)
        await pilot.press(*"12", "enter")  # refused at once, not after it is typed again
        assert "A PIN has 4 to 32 characters. Choose another." in words(app)
        assert "Enter the same PIN again" not in words(app)
        assert app.session.who == ""
        await pilot.press("escape", *"ll", "enter", *"2468", "enter", *"2468", "enter")
        assert app.session.who == "LL"
    assert shop.people.known["LL"].has_pin


async def test_unknown_initials_are_reported_and_escape_signs_nobody_in(open_app: Open) -> None:
    app = open_app("")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("l")
        await fill(pilot, "zz")
        said = (
            "Nobody here has these initials; the PIN comes after them. A lead adds new people: Esc, then c on What next"
        )
        assert said in words(app)
        await pilot.press("escape")
        assert isinstance(app.screen, NextScreen)
        assert app.session.who == ""


async def test_one_who_has_left_is_not_offered(shop: Shop, open_app: Open) -> None:
    shop.change_person("AA", "LL", name="Arne Aas", lead=False, left=True)
    app = open_app("")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("l", "down", "enter")
        assert app.session.who == "BB"


async def test_the_pin_is_asked_for_hidden_and_checked(shop: Shop, open_app: Open) -> None:
    shop.set_pin("AA", "4711", "AA")
    app = open_app("")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("l")
        await fill(pilot, "aa")
        assert app.session.who == ""
        assert app.screen.query_one("#pin", Input).password

        await fill(pilot, "4712")
        assert app.session.who == ""
        assert "not the PIN of AA" in words(app)
        assert app.screen.query_one("#pin", Input).value == ""

        await fill(pilot, "4711")
        assert app.session.who == "AA"
    assert kinds(shop)[-2:] == ["pin_refused", "signed_in"]


async def test_wrong_tries_are_slowed_and_the_waiting_time_is_reported(
    shop: Shop, open_app: Open, clock: ManualClock
) -> None:
    shop.set_pin("AA", "4711", "AA")
    app = open_app("")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("l")
        await fill(pilot, "aa", "1", "2", "3")
        assert "Wait 2 s before the next try" in words(app)

        await fill(pilot, "4711")  # right, but too soon
        assert app.session.who == ""
        assert "Try again in 3 s" in words(app)

        clock.forward(3)
        await fill(pilot, "4711")
        assert app.session.who == "AA"


async def test_escape_at_the_pin_goes_back_to_the_list(shop: Shop, open_app: Open) -> None:
    shop.set_pin("AA", "4711", "AA")
    app = open_app("")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("l")
        await fill(pilot, "aa")
        await pilot.press("escape")
        assert isinstance(app.screen, SignInDialog)
        await pilot.press("down", "enter")
        assert app.session.who == "BB"


async def test_a_second_enter_in_the_same_turn_does_not_close_what_lies_below(open_app: Open) -> None:
    app = open_app("")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*PEOPLE, "ctrl+l")
        await pilot.pause()
        dialog = app.screen
        assert isinstance(dialog, SignInDialog)
        who = dialog.query_one("#who", Input)
        await pilot.press(*"aa")
        for _ in range(2):
            dialog.post_message(Input.Submitted(who, "aa"))
            who.post_message(Input.Submitted(who, "aa"))
        await pilot.pause()
        assert isinstance(app.screen, PeopleScreen)


# --- the people of the shop ----------------------------------------------------------------------------------------


async def test_a_lead_adds_a_person(shop: Shop, open_app: Open) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*PEOPLE, "a")
        await fill(pilot, "cc", "Cato", "y", "", "")
        assert isinstance(app.screen, PeopleScreen)
    assert (shop.people.known["CC"].name, shop.people.known["CC"].lead) == ("Cato", True)


async def test_a_further_lead_gets_a_first_pin_at_once_and_hears_at_the_sign_in_who_set_it(
    shop: Shop, open_app: Open
) -> None:
    shop.set_pin("LL", "9753", "LL")
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*PEOPLE, "a")
        await fill(pilot, "cc", "Cato", "y", "", "")
        assert "A lead decides by a PIN" in str(app.screen.query_one("#error-pin", Static).content)
        assert "CC" not in shop.people.known, "nothing was entered"
        await fill(pilot, "2468", "2468")
        assert isinstance(app.screen, PeopleScreen)
        assert shop.people.known["CC"].has_pin

        await pilot.press("enter", ROLE)  # AA has no PIN
        await pilot.press("y")
        assert "AA has no PIN. They or a lead set one first" in words(app)
        await pilot.press("escape", "ctrl+l", *"cc", "enter", *"2468", "enter")
        assert app.session.who == "CC"
        assert "LL set your PIN 07:00. Choose your own: c on What next, people, Enter" in words(app)
        assert list(app.news.meant_for.values()) == ["CC"], "nobody else is told to choose one"
        await pilot.press(*PEOPLE, "down", "down", "enter", SET_PIN)
        await fill(pilot, "2468", "8642", "8642")
        assert isinstance(app.screen, PeopleScreen)
    assert shop.people.known["CC"].set_by == "", "and is not told again"


async def test_a_first_pin_chosen_at_two_terminals_is_the_one_set_first(shop: Shop, open_app: Open) -> None:
    app = open_app("")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("l", *"ll", "enter", *PIN, "enter")
        other = Shop(shop.folder, shop.clock)
        other.set_pin("LL", "9753", "LL", first=True)
        other.close()
        await pilot.press(*PIN, "enter")
        assert app.session.who == ""
        assert "LL has a PIN already, set a moment ago. Use that one" in words(app)
        await pilot.press(*"9753", "enter")
        assert app.session.who == "LL"


async def test_a_lead_without_a_pin_is_told_which_lead_sets_it(shop: Shop, open_app: Open) -> None:
    shop.add_person("MM", "Mia", True, "LL")
    shop.set_pin("LL", "9753", "LL")
    app = open_app("")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("l", *"mm", "enter")
        assert "MM has no PIN. LL sets a first one (c on What next)" in words(app)
        assert app.session.who == ""


async def test_adding_says_every_error_at_its_field_and_keeps_what_was_typed(shop: Shop, open_app: Open) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*PEOPLE, "a")
        await fill(pilot, "aa", "Cato", "", "", "")
        assert "AA is taken by Arne Aas" in str(app.screen.query_one("#error-initials", Static).content)
        assert app.screen.query_one("#field-name", Input).value == "Cato"

        await fill(pilot, "cc")
        await pilot.press("backspace", "enter")
        await fill(pilot, "perhaps", "", "")
        assert "Enter y or n" in str(app.screen.query_one("#error-lead", Static).content)
        assert "Enter it" in str(app.screen.query_one("#error-name", Static).content)

        await pilot.press("escape")
        assert isinstance(app.screen, PeopleScreen)
    assert set(shop.people.known) == {"AA", "BB", "LL"}


async def test_an_operator_is_told_at_once_that_it_takes_a_lead(shop: Shop, open_app: Open) -> None:
    app = open_app("BB")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*PEOPLE)
        for keys in (["a"], ["enter", ROLE], ["enter", NAME], ["enter", LEFT]):
            await pilot.press(*keys)
            screen = app.screen
            assert isinstance(screen, PeopleScreen), keys
            assert "needs a lead. Ask LL. Ctrl+L: the lead signs in" in words(app), keys
            screen.say("")


async def test_changing_the_role_asks_and_no_means_no(shop: Shop, open_app: Open) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*PEOPLE)
        for no in ("n", "enter", "space"):
            await pilot.press("enter", ROLE)
            assert isinstance(app.screen, ConfirmDialog)
            await pilot.press(no)
            assert isinstance(app.screen, ConfirmDialog), "it waits for an answer"
            await pilot.press("escape")
            assert isinstance(app.screen, PeopleScreen)
            assert not shop.people.known["AA"].lead

        await pilot.press("enter", ROLE, "y")
        assert shop.people.known["AA"].lead


async def test_the_only_lead_stays_one(shop: Shop, open_app: Open) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*PEOPLE, "end", "enter", ROLE, "y")
        assert "only lead" in words(app)
    assert shop.people.known["LL"].lead


async def test_one_who_left_is_shown_as_left_and_can_be_taken_back(shop: Shop, open_app: Open) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*PEOPLE, "enter", LEFT, "y")
        assert shop.people.known["AA"].left
        screen = app.screen
        assert isinstance(screen, PeopleScreen)
        assert screen.table.filled[-1] == ("AA", "Arne Aas", "operator", "not set", "inactive")
        with pytest.raises(Refused):
            shop.sign_in("AA")

        await pilot.press("end", "enter", LEFT, "y")
        assert not shop.people.known["AA"].left
        assert shop.sign_in("AA").initials == "AA"


async def test_who_deactivates_themselves_is_signed_out(shop: Shop, open_app: Open) -> None:
    """Else the terminal would go on in the name of one who no longer works here."""
    shop.set_pin("LL", "1357", "LL", first=True)
    shop.sign_in("LL", "1357")
    shop.add_person("MM", "Mia Moen", True, "LL", "2468")
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*PEOPLE, "down", "down", "enter", LEFT)
        assert "Deactivate LL Lena Lindqvist?" in words(app)
        await pilot.press("y")
        assert shop.people.known["LL"].left
        assert app.session.who == ""


async def test_a_name_is_changed(shop: Shop, open_app: Open) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*PEOPLE, "enter", NAME)
        await fill(pilot, "Arne Berg")
    assert shop.people.known["AA"].name == "Arne Berg"


async def test_a_pin_is_typed_twice_the_same(shop: Shop, open_app: Open) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*PEOPLE, "enter", SET_PIN)
        await fill(pilot, "4711", "4712")
        assert "do not match" in str(app.screen.query_one("#error-pin", Static).content)
        assert not shop.people.known["AA"].has_pin
        assert app.screen.query_one("#field-again", Input).value == ""

        await fill(pilot, "4711", "4711")
        assert isinstance(app.screen, PeopleScreen)
    assert shop.sign_in("AA", "4711").initials == "AA"


async def test_a_pin_too_short_is_reported_at_its_field(shop: Shop, open_app: Open) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*PEOPLE, "enter", SET_PIN)
        await fill(pilot, "12", "12")
        assert "4 to 32" in str(app.screen.query_one("#error-pin", Static).content)
        await pilot.press("escape")
    assert not shop.people.known["AA"].has_pin


async def test_ones_own_pin_is_changed_only_with_the_present_one(shop: Shop, open_app: Open) -> None:
    shop.set_pin("AA", "4711", "AA")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*PEOPLE, "enter", SET_PIN)
        await fill(pilot, "0000", "1234", "1234")
        assert "not the PIN of AA" in str(app.screen.query_one("#error-present", Static).content)

        await fill(pilot, "4711", "1234", "1234")
        assert isinstance(app.screen, PeopleScreen)
    assert shop.sign_in("AA", "1234").initials == "AA"


async def test_somebody_elses_pin_takes_a_lead(shop: Shop, open_app: Open) -> None:
    app = open_app("BB")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*PEOPLE, "enter", SET_PIN)  # the cursor stands on AA
        assert isinstance(app.screen, PeopleScreen)
        assert "only its owner or a lead sets it" in words(app)

    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*PEOPLE, "enter", SET_PIN)
        assert isinstance(app.screen, FormDialog)
        await fill(pilot, "4711", "4711")
    assert shop.people.known["AA"].has_pin


async def test_no_pin_is_ever_shown_or_kept(shop: Shop, open_app: Open) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*PEOPLE, "enter", SET_PIN, *"837465", "enter", *"837465")
        assert "837465" not in app.export_screenshot()
        await pilot.press("enter")
    record = b"".join(path.read_bytes() for path in shop.folder.rglob("*") if path.is_file())
    assert b"837465" not in record


async def test_names_are_never_markup(shop: Shop, open_app: Open) -> None:
    shop.add_person("MM", "[bold]M[/] [/]", False, by="LL")
    app = open_app("")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*PEOPLE, "ctrl+l")
        assert isinstance(app.screen, SignInDialog)
        assert "[bold]M[/]" in str(app.screen.people.get_option("MM").prompt)
        await pilot.press(*"mm", "enter", "end", "enter", ROLE)


async def test_each_person_stands_in_one_line_of_a_narrow_terminal(shop: Shop, open_app: Open) -> None:
    app = open_app("")
    async with app.run_test(size=(60, 20)) as pilot:
        await pilot.press("ctrl+l")
        shown = [row for row in rows(app) if "Arne Aas" in row]
        assert [row.split()[-2:] for row in shown] == [["no", "PIN"]]


# --- pictures ------------------------------------------------------------------------------------------------------


def test_picture_of_signing_in(picture: Picture, shop: Shop, open_app: Open) -> None:
    """Three people in the list, the lead and the one with a pin told by words; the field has the cursor."""
    shop.set_pin("LL", "4711", "LL")
    picture(open_app(""), press=[*PEOPLE, "ctrl+l", "l"])


def test_picture_of_a_wrong_pin(picture: Picture, shop: Shop, open_app: Open) -> None:
    """What is wrong and how long to wait stands below the pin; the pin itself is gone."""
    shop.set_pin("LL", "4711", "LL")
    keys = [*PEOPLE, "ctrl+l", "l", "enter", *"1", "enter", *"2", "enter", *"3", "enter"]
    picture(open_app(""), press=keys)


def test_picture_of_the_people(picture: Picture, shop: Shop, open_app: Open) -> None:
    """Everybody with role and whether a pin is set; one who left stands last and says so."""
    shop.set_pin("LL", "4711", "LL")
    shop.change_person("AA", "LL", name="Arne Aas", lead=False, left=True)
    picture(open_app(), press=[*PEOPLE])


def test_picture_of_an_empty_shop(picture: Picture, bare_shop: Shop) -> None:
    """Entering the first person, with both fields wrong."""
    app = FloorApp(bare_shop, ticking=False)
    picture(app, press=[*PEOPLE, "a", "x", *["enter"] * 4])


# --- qualifications ------------------------------------------------------------------------------------------------


def due(app: FloorApp) -> str:
    """What the row of AA says."""
    assert isinstance(app.screen, PeopleScreen)
    return app.screen.say_due(app.screen.people[0])


def offered(app: FloorApp) -> list[str]:
    assert isinstance(app.screen, ChoiceDialog)
    return [choice.text for choice in app.screen.choices]


async def test_a_lead_enters_renews_and_withdraws_a_qualification(shop: Shop, open_app: Open) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*PEOPLE, "enter", QUALIFIED)  # AA, the first of the list
        await pilot.press("1")
        await fill(pilot, "spray painting", "2026-01-05", "2026-02-28")
        assert "Valid until 2026-02-28 is past. Enter the day of the renewal" in words(app)
        await pilot.press("ctrl+u", *"2026-03-20", "enter")
        assert due(app) == "due soon"
        [one] = shop.people.qualified["AA"]["spray painting"]
        assert (str(one.since), str(one.until), one.by) == ("2026-01-05", "2026-03-20", "LL")

        await pilot.press("enter", QUALIFIED)
        assert offered(app)[0] == "spray painting: until 2026-03-20, 18 days left"
        await pilot.press("1", "1")
        await fill(pilot, "", "2026-03-21", "2027-03-20")
        assert due(app) == ""
        shop.enter_qualification("AA", "first aid", "2026-01-05", "", "LL")
        assert due(app) == "", "one without an end never is"
        await pilot.press("enter", QUALIFIED, "1", "2")
        await fill(pilot, "lung test")
        await pilot.press("enter", QUALIFIED)
        assert offered(app)[:2] == ["first aid: no end date", "spray painting: withdrawn: lung test"]
    assert kinds(shop)[-4:] == [*["qualification_entered"] * 3, "qualification_withdrawn"]


async def test_who_is_no_lead_reads_qualifications_and_changes_none(shop: Shop, open_app: Open) -> None:
    shop.enter_qualification("AA", "spray painting", "2026-01-05", "2026-12-31", "LL")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*PEOPLE, "enter", QUALIFIED)
        assert offered(app)[0] == "spray painting: until 2026-12-31"
        await pilot.press("1", "1")
        assert "Entering a qualification needs a lead" in words(app)
        await pilot.press("enter", QUALIFIED, "1", "2")
        assert "Withdrawing a qualification needs a lead" in words(app)
    assert len(shop.people.qualified["AA"]["spray painting"]) == 1


async def test_each_key_of_signing_in_stays_in_one_row(shop: Shop, open_app: Open) -> None:
    """With somebody signed in there are three: none is broken in the middle."""
    shop.add_person("TNXX", "Tom Nash", False, by="LL")
    app = open_app("TNXX")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("ctrl+l")
        hint = app.screen.query_one("#hint", Static)
        lines = str(hint.content).split("\n")
        assert hint.size.height == len(lines), "no row wraps"
        assert [key for line in lines for key in line.split("    ")] == [
            "Initials or ↑ ↓, then Enter",
            "Enter alone: sign out TNXX",
            "Esc: cancel",
        ]
