"""The shop's settings: defaults without a file, what a file may say, and the reply to a wrong one."""

from __future__ import annotations

import os
from datetime import UTC, date, datetime, time, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from floor.batch.quality.costs import CostRates
from floor.entry import Moment
from floor.figures.earlier_yields import HALF_LIFE_DAYS
from floor.shop import Shop
from floor.shop.load_settings import describe_wrong_settings, load_keys, load_scrap_place, load_settings, load_zone
from floor.shop.settings import SettingsError
from floor.wall import convert_to_zone

NOW = datetime(2026, 3, 2, 7, 0, tzinfo=timezone(timedelta(hours=1)))


def test_without_a_file_it_is_one_operator_in_one_shift(tmp_path: Path) -> None:
    settings = load_settings(tmp_path, NOW)

    assert settings.hands == 1
    assert settings.print == settings.print_tags == ()
    assert {shift.weekday for shift in settings.calendar.shifts} == set(range(5))
    monday = datetime(2026, 3, 2, 0, 0, tzinfo=settings.calendar.tz)
    assert settings.calendar.worked(monday, monday + timedelta(days=7)) == 5 * 8 * 60


def test_a_file_says_who_works_when(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text(
        """
        hands = 2
        zone = "Europe/Vienna"
        days_off = [2026-12-25]
        fill_level = 0.8
        sign_out_minutes = 0
        long_shift_hours = 10
        handover_questions = ["Chip bin?", "Air off?"]
        half_life_days = 90
        registered_gauges_only = true
        pin_for_everyone = true
        scrap_place = "red bin"
        print = "lp -d office -o 'page-left=36' \\"two words\\" $HOME;"
        [[shifts]]
        days = ["Mon", "Sat"]
        start = "22:00"
        end = 06:00:00
        breaks = [["01:00", "01:30"]]
        people = 1
        """
    )

    settings = load_settings(tmp_path, NOW)

    assert (settings.hands, settings.fill_level, settings.calendar.zone) == (2, 0.8, "Europe/Vienna")
    assert settings.handover_questions == ("Chip bin?", "Air off?")
    assert (settings.sign_out_minutes, settings.long_shift_hours, settings.half_life_days) == (0, 10, 90)
    assert settings.registered_gauges_only
    assert settings.pin_for_everyone
    assert settings.scrap_place == load_scrap_place(tmp_path) == "red bin"
    assert settings.print == ("lp", "-d", "office", "-o", "page-left=36", "two words", "$HOME;")
    assert settings.print_tags == settings.print
    assert settings.calendar.days_off == {date(2026, 12, 25)}
    assert [(one.weekday, one.start, one.end, one.people) for one in settings.calendar.shifts] == [
        (0, time(22), time(6), 1), (5, time(22), time(6), 1)
    ]  # fmt: skip


def test_a_shift_on_single_days_is_worked_beside_the_weekly_ones(tmp_path: Path) -> None:
    """40 h in the week from Monday 30 November 2026, and 5 h on its Saturday."""
    (tmp_path / "shop.toml").write_text('[[shifts]]\ndates = [2026-12-05]\nstart = "07:00"\nend = "12:00"')

    calendar = load_settings(tmp_path, NOW).calendar

    monday = datetime(2026, 11, 30, tzinfo=calendar.tz)
    assert calendar.worked(monday, monday + timedelta(days=7)) == 45 * 60
    assert calendar.worked(monday, monday + timedelta(days=14)) == 85 * 60


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("hands = 0", "line 1, hands: 0 is out of range; 1 or more"),
        ("hands = 'two'", "line 1, hands: 'two' is not right here; write a whole number, without quotes"),
        ("hands = true", "line 1, hands: True is not right here; write a whole number"),
        ("hands = 2\n\nfill_level = 1.0", "line 3, fill_level: 1.0 is out of range; less than 1"),
        ("hand = 1", 'line 1, hand: is not a field here; did you mean "hands"?'),
        ('days_off = ["soon"]', "line 1, days_off 1: 'soon' is not right here; write a date without quotes"),
        ("days_off = 2026-12-25", "line 1, days_off: "),
        ('[[shifts]]\nstart = "07:00"\nend = "12:00"', "line 1, shifts 1: is on no day; write days = "),
        (
            '[[shifts]]\ndays = []\nstart = "7:00"\nend = "15:00"',
            "line 1, shifts 1: is on no day; write days = ",
        ),
        ('[[shifts]]\ndays = ["Mon"]\nend = "15:00"', "line 1, shifts 1 start: is missing"),
        (
            '[[shifts]]\ndays = ["Mon"]\nstart = "06:00"\nend = "14:00"\nbreaks = [["16:00", "16:30"]]',
            "line 1, shifts 1: the break 16:00 to 16:30 is not inside the shift 06:00 to 14:00",
        ),
        (
            '[[shifts]]\ndays = ["Mon"]\nstart = "22:00"\nend = "06:00"\nbreaks = [["02:30", "02:00"]]',
            "the break 02:30 to 02:00 is not inside the shift 22:00 to 06:00",
        ),
        (
            '[[shifts]]\ndays = ["Mon"]\nstart = "6:00"\nend = "14:00"\nbreaks = [["9:00"]]',
            "line 5, shifts 1 breaks 1: has 1 entry; write 2.",
        ),
        ('zone = "Mars/Base"', 'zone: "Mars/Base" is not a time zone; write its IANA name'),
        (
            '[[shifts]]\ndays = ["Mo"]\nstart = "7:00"\nend = "15:00"',
            'line 2, shifts 1 days 1: "Mo" is not a day; write Mon,',
        ),
        ('[[shifts]]\ndays = ["Mon"]\nstart = "seven"\nend = "15:00"', 'shifts 1 start: "seven" is not a time of day'),
        ('[[shifts]]\ndays = ["Mon"]\nstart = "7:00"\nend = "25:00"', "shifts 1 end: "),
        ("hands = ", "cannot be read"),
        ('print = "lp \'office"', "line 1, print: is no command: a program with its arguments, quotes in pairs"),
        ("print = \"''\"", "line 1, print: is no command"),
        ('print_tags = "lp\\u0000"', "line 1, print_tags: is no command"),
        ("hands = 2\n\n[costs]\nlabor_hour = 38", "line 3, costs currency: is missing"),
        ("costs = 3", "line 1, costs: 3 is not right here; write a table of fields"),
        ("[costs]\nlabor_hour = 38", "line 1, costs currency: is missing"),
        ('[costs]\ncurrency = ""', "line 2, costs currency: is empty; write text in quotes"),
        ('[costs]\ncurrency = "Austrian shilling"', "line 2, costs currency: has 17 characters; write 8 or fewer"),
        ('[costs]\ncurrency = "EUR"\nlabor_hour = -1', "line 3, costs labor_hour: -1 is out of range; 0 or more"),
        ('[costs]\ncurrency = "EUR"\nstatons = {}', 'costs statons: is not a field here; did you mean "stations"?'),
        (
            '[costs]\ncurrency = "EUR"\nstations = { mill = true }',
            "line 3, costs stations mill: True is not right here; write a number, without quotes",
        ),
        ('print = ["lp"]', "line 1, print: ['lp'] is not right here; write text in quotes"),
    ],
)
def test_a_wrong_file_is_named_with_the_place(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "shop.toml").write_text(text)

    with pytest.raises(SettingsError) as error:
        load_settings(tmp_path, NOW)

    assert str(error.value).startswith(str(tmp_path / "shop.toml"))
    assert said in str(error.value)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("hands = {}", {0: "1 or more", 1: None, 1000: None, 1001: "1000 or less"}),
        (
            "fill_level = {}",
            {"0.0": "more than 0.0", "0.001": None, "0.999": None, "1.0": "less than 1.0"},
        ),
        ("half_life_days = {}", {"0.9": "1 or more", "1.0": None, "36500.0": None, "36501.0": "36500 or less"}),
        (
            '[[shifts]]\ndays = ["Mon"]\nstart = "7:00"\nend = "9:00"\npeople = {}',
            {-1: "0 or more", 0: None, 1000: None, 1001: "1000 or less"},
        ),
    ],
)
def test_a_number_is_taken_up_to_its_bounds(tmp_path: Path, text: str, said: dict[object, str | None]) -> None:
    for value, wrong in said.items():
        (tmp_path / "shop.toml").write_text(text.format(value))
        if wrong is None:
            load_settings(tmp_path, NOW)
        else:
            with pytest.raises(SettingsError, match=rf": {value} is out of range; {wrong}\. Set it right"):
                load_settings(tmp_path, NOW)


HEAD = '[[shifts]]\ndays = ["Mon"]\nstart = "6:00"\nend = "14:00"\n'


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (HEAD + 'breaks = [["9:00"]]', "line 5, shifts 1 breaks 1: has 1 entry; write 2."),
        (HEAD + 'breaks = [["9:00", "9:10", "9:20"]]', "line 5, shifts 1 breaks 1: has 3 entries; write 2."),
        (HEAD + "breaks = [[]]", "line 5, shifts 1 breaks 1: has 0 entries; write 2."),
        (HEAD + 'people = "two"', "line 5, shifts 1 people: 'two' is not right here; write a whole number, without"),
        ('half_life_days = "a year"', "half_life_days: 'a year' is not right here; write a number, without quotes."),
        ('fill_level = "much"', "fill_level: 'much' is not right here; write a number, without quotes."),
        ("zone = 3", "zone: 3 is not right here; write text in quotes."),
        ("days_off = 3", "days_off: 3 is not right here; write a list in square brackets."),
        ("shifts = [3]", "shifts 1: 3 is not right here; write a table of fields."),
        ("keys = 3", "keys: 3 is not right here; write a table of fields."),
        ("hands = 2\n[[shifts]]\nday = 1", "line 3, shifts 1 day: is not a field here; did you mean \"days\"?"),
        ("hands = 0\nfill_level = 2.0", "hands: 0 is out of range; 1 or more; line 2, fill_level: 2.0 is out of range"),
    ],
)  # fmt: skip
def test_what_is_right_is_reported(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "shop.toml").write_text(text)
    with pytest.raises(SettingsError) as error:
        load_settings(tmp_path, NOW)
    assert said in str(error.value)
    assert str(error.value).endswith(". Set it right or leave the line out.")


def test_rates_are_read_as_written(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text(
        '[costs]\ncurrency = "EUR"\nlabor_hour = 38\nstations = { mill = 45.5 }\ntools = { "mill 1" = 32 }\n'
        'materials = { "Acetone" = 9.5 }\n'
    )

    assert load_settings(tmp_path, NOW).costs == CostRates(
        "EUR", 38.0, {"mill": 45.5}, {"mill 1": 32.0}, {"Acetone": 9.5}
    )


def test_without_fields_a_file_says_what_none_says(tmp_path: Path) -> None:
    usual = load_settings(tmp_path, NOW)
    assert [(one.weekday, one.start, one.end, one.breaks, one.people) for one in usual.calendar.shifts] == [
        (day, time(7), time(15, 30), ((time(11, 30), time(12)),), None) for day in range(5)
    ]
    assert usual.sign_out_minutes == 30
    assert not usual.registered_gauges_only
    assert not usual.pin_for_everyone
    assert (usual.hands, usual.fill_level, usual.keys, usual.calendar.days_off) == (1, 0.9, {}, frozenset())
    assert usual.half_life_days == HALF_LIFE_DAYS
    (tmp_path / "shop.toml").write_text("")
    assert load_settings(tmp_path, NOW) == usual


def test_a_day_named_twice_is_worked_once(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text(
        '[[shifts]]\ndates = [2026-12-05, 2026-12-05]\ndays = ["Sun"]\nstart = "07:00"\nend = "12:00"'
    )
    calendar = load_settings(tmp_path, NOW).calendar
    monday = datetime(2026, 11, 30, tzinfo=calendar.tz)
    assert calendar.worked(monday, monday + timedelta(days=7)) == 2 * 5 * 60


def test_a_file_of_100_kb_is_read_and_no_larger_one(tmp_path: Path) -> None:
    file = tmp_path / "shop.toml"
    file.write_bytes(b"hands = 2\n#" + b" " * (100_000 - 11))
    assert load_settings(tmp_path, NOW).hands == 2
    file.write_bytes(b"hands = 2\n#" + b" " * (100_001 - 11))
    with pytest.raises(SettingsError, match="larger than 100 kB"):
        load_settings(tmp_path, NOW)


@pytest.mark.parametrize("text", ["", "zone = 3", 'zone = ""', "zone = [1]", "zone = ", "hands = 2"])
def test_a_file_that_names_no_zone_leaves_the_clocks_own(tmp_path: Path, text: str) -> None:
    assert load_zone(tmp_path) is None
    (tmp_path / "shop.toml").write_text(text)
    assert load_zone(tmp_path) is None


def test_the_zone_of_the_file_is_found(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text('zone = "Europe/Vienna"\nhands = "wrong, and no matter here"')
    assert load_zone(tmp_path) == ZoneInfo("Europe/Vienna")
    (tmp_path / "shop.toml").write_text(f'zone = "{"x" * 41}"')
    with pytest.raises(SettingsError, match=f'zone: "{"x" * 40}" is not a time zone'):
        load_zone(tmp_path)


def test_breaks_of_a_night_shift_are_taken_to_its_first_and_last_minute_and_over_midnight(tmp_path: Path) -> None:
    head = '[[shifts]]\ndays = ["Mon"]\nstart = "22:05"\nend = "06:15"\n'
    taken = '["22:05", "22:20"], ["23:59", "00:01"], ["06:05", "06:15"]'
    (tmp_path / "shop.toml").write_text(f"{head}breaks = [{taken}]")
    calendar = load_settings(tmp_path, NOW).calendar
    monday = datetime(2026, 3, 2, 22, 5, tzinfo=calendar.tz)
    assert calendar.worked(monday, monday + timedelta(days=1)) == 8 * 60 + 10 - 15 - 2 - 10

    for wrong in ('["22:04", "22:20"]', '["06:05", "06:16"]', '["02:00", "02:00"]'):
        (tmp_path / "shop.toml").write_text(f"{head}breaks = [{wrong}]")
        with pytest.raises(SettingsError, match="is not inside the shift 22:05 to 06:15"):
            load_settings(tmp_path, NOW)


def test_a_folder_in_the_files_place_is_reported(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").mkdir()
    with pytest.raises(SettingsError, match="cannot be read"):
        load_settings(tmp_path, NOW)


def test_without_a_zone_in_the_file_the_shifts_go_by_the_clocks_own(tmp_path: Path) -> None:
    """The rules of the zone, not the offset it happens to have: the shift begins at 07:00 before and after a change."""
    now = convert_to_zone(datetime(2026, 3, 27, 12, 0, tzinfo=UTC), ZoneInfo("Europe/Vienna"))

    calendar = load_settings(tmp_path, now).calendar

    begins = calendar.span(datetime(2026, 3, 28, tzinfo=UTC), 1)[0]
    assert begins.isoformat() == "2026-03-30T07:00:00+02:00"


def test_an_unknown_zone_is_reported_and_the_clocks_own_is_used(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text('zone = "Europe/Vinena"\n')

    shop = Shop(tmp_path, lambda: Moment(NOW))

    assert shop.now().at.utcoffset() == timedelta(hours=1)
    [said] = shop.settings_troubles
    assert said.startswith(f'{tmp_path / "shop.toml"}: zone: "Europe/Vinena" is not a time zone')


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("long_shift_hours = 10", 10.0),
        ("long_shift_hours = 11.5", 11.5),
        ("hands = 2", 0.0),
        ('long_shift_hours = "ten"', 0.0),
        ("long_shift_hours = true", 0.0),
        ("long_shift_hours = -3", 0.0),
        ("long_shift_hours = ", 0.0),
    ],
)
def test_a_shift_is_a_long_one_after_the_hours_that_the_shop_names(tmp_path: Path, text: str, hours: float) -> None:
    (tmp_path / "shop.toml").write_text(text)
    shop = Shop(tmp_path, lambda: Moment(NOW))
    assert shop.context("", "AA").elsewhere.long_shift_hours == hours


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('registered_gauges_only = "false"', "registered_gauges_only is neither true nor false"),
        ('registered_gauges_only = "true"', "registered_gauges_only is neither true nor false"),
        ("registered_gauges_only = 0", "registered_gauges_only is neither true nor false"),
        ("registered_gauges_only = maybe", "cannot be read"),
        ("hands = \nregistered_gauges_only = false", "cannot be read"),
        ("registered_guages_only = true", '"registered_guages_only" is not a field; write registered_gauges_only'),
        ("Registered-Gauges-Only = true", '"Registered-Gauges-Only" is not a field'),
        ("only_registered_gauges = true", '"only_registered_gauges" is not a field'),
        ('[keys]\nskip = "f9"\nregistered_gauges_only = true', '"registered_gauges_only" stands in a table'),
        ("[[shifts]]\nregistered_gauges_only = true", '"registered_gauges_only" stands in a table'),
    ],
)
def test_where_nobody_can_tell_only_registered_gauges_are_taken_and_that_is_said(
    tmp_path: Path, text: str, said: str
) -> None:
    (tmp_path / "shop.toml").write_text(text)

    shop = Shop(tmp_path, lambda: Moment(NOW))

    assert shop.registered_gauges_only
    [trouble] = shop.settings_troubles
    assert said in trouble
    assert "Until then only gauges of the register are taken" in trouble


@pytest.mark.parametrize(
    ("text", "only"),
    [
        ("hands = 2\nsign_out_minutes = 30", False),
        ("registered_gauges_only = false", False),
        ("registered_gauges_only = true", True),
        ("registered_gauges_only = false\nregistered_guages_only = true", False),
        ('[keys]\npaper_print = "f9"\n[[shifts]]\nstart = "07:00"', False),
    ],
)
def test_a_file_that_can_be_read_says_which_gauges_are_taken(tmp_path: Path, text: str, only: bool) -> None:
    (tmp_path / "shop.toml").write_text(text)
    shop = Shop(tmp_path, lambda: Moment(NOW))
    assert (shop.registered_gauges_only, shop.settings_troubles) == (only, [])


def test_the_shops_times_are_those_of_the_zone_in_its_file(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text('zone = "America/New_York"\n')

    now = Shop(tmp_path, lambda: Moment(NOW)).now().at

    assert now == NOW
    assert f"{now:%H:%M}" == "01:00"


def test_keys_are_asked_for_by_name_and_a_file_without_them_asks_for_none(tmp_path: Path) -> None:
    file = tmp_path / "shop.toml"
    assert load_keys(tmp_path, NOW) == {}
    file.write_text("hands = [")
    with pytest.raises(SettingsError, match="Fix it"):
        load_keys(tmp_path, NOW)
    file.write_text("hands = 0")
    assert load_keys(tmp_path, NOW) == {}, "the plan says what is wrong with the rest"
    file.write_text('hands = 2\n[keys]\nskip = "f9"\n')
    assert load_keys(tmp_path, NOW) == {"skip": "f9"}
    file.write_text("[keys]\nskip = 9\n")
    with pytest.raises(SettingsError, match="keys skip"):
        load_keys(tmp_path, NOW)


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"hands = " + b"9" * 5000, "cannot be read: a number has too many digits. Fix it or move it away."),
        (b"a = " + b"[" * 20000, "cannot be read: brackets are nested too deep. Fix it or move it away."),
        (b"hands = 2\x00", "line 1, column 10"),
        (b"zone = '\xff'", "cannot be read: 'utf-8' codec"),
    ],
    ids=["number", "brackets", "nul", "not text"],
)
def test_a_file_that_no_reader_takes_is_one_sentence_to_the_plan_and_to_the_keys(
    tmp_path: Path, raw: bytes, said: str
) -> None:
    (tmp_path / "shop.toml").write_bytes(raw)
    for load in (load_settings, load_keys):
        with pytest.raises(SettingsError) as wrong:
            load(tmp_path, NOW)
        assert said in str(wrong.value)
        assert str(wrong.value).endswith("Fix it or move it away.")


@pytest.mark.parametrize("field", ["hands = {}", "zone = {}", "days_off = {}", "zone = [{}]"])
def test_a_number_too_long_to_be_shown_is_a_sentence_too(tmp_path: Path, field: str) -> None:
    (tmp_path / "shop.toml").write_text(field.format("0x" + "f" * 5000))
    with pytest.raises(SettingsError, match=r"line 1, \w+: '?a number of that length"):
        load_settings(tmp_path, NOW)


def test_pipes_devices_and_brackets_without_end_are_a_sentence_too(tmp_path: Path) -> None:
    file = tmp_path / "shop.toml"
    os.mkfifo(file)
    with pytest.raises(SettingsError, match="it is not a file"):
        load_keys(tmp_path, NOW)
    file.unlink()
    file.symlink_to("/dev/zero")
    with pytest.raises(SettingsError, match="it is not a file"):
        load_settings(tmp_path, NOW)
    file.unlink()
    file.write_text("x" * 200_000)
    with pytest.raises(SettingsError, match="larger than 100 kB"):
        load_settings(tmp_path, NOW)
    file.write_text(f"days_off = {'[' * 300}{']' * 300}")
    with pytest.raises(SettingsError, match="nested too deep"):
        load_settings(tmp_path, NOW)


def test_tags_have_a_printer_of_their_own_where_the_file_names_one(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text('print = "lp"\nprint_tags = "lp -d label"\n')
    settings = load_settings(tmp_path, NOW)
    assert (settings.print, settings.print_tags) == (("lp",), ("lp", "-d", "label"))


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ('handover_questions = ["Chip bin?", "Air off?"]', ("Chip bin?", "Air off?")),
        ("hands = 2", ()),
        ('handover_questions = "Chip bin?"', ()),
        ('handover_questions = ["Chip bin?", 3, " ", "Chip bin?"]', ("Chip bin?",)),
        (f'handover_questions = ["{"a" * 49}"]', ("a" * 47 + "…",)),
        ("handover_questions = [", ()),
    ],
)
def test_a_shop_asks_questions_of_its_own_at_each_handover(tmp_path: Path, text: str, asked: tuple[str, ...]) -> None:
    """HND-15. What cannot be used is left out here and reported by who reads the whole file."""
    (tmp_path / "shop.toml").write_text(text)
    shop = Shop(tmp_path, lambda: Moment(NOW))
    assert shop.context("", "AA").elsewhere.handover_questions == asked


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('["a", "b", "c", "d", "e", "f"]', "handover_questions: has 6 questions; write 5 or fewer"),
        ('["a", " "]', "handover_questions: has a question that is empty, longer than one line or there twice"),
        ('["a", "a"]', "handover_questions: has a question that is empty, longer than one line or there twice"),
        (f'["{"a" * 49}"]', "handover_questions 1: has 49 characters; write 48 or fewer"),
        ('"a"', "handover_questions: 'a' is not right here; write a list in square brackets"),
    ],
)
def test_too_many_or_unusable_questions_are_reported(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "shop.toml").write_text(f"handover_questions = {text}")
    with pytest.raises(SettingsError) as error:
        load_settings(tmp_path, NOW)
    assert said in str(error.value)


@pytest.mark.parametrize(
    ("text", "everyone", "said"),
    [
        ("", False, ""),
        ("pin_for_everyone = true", True, ""),
        ('pin_for_everyone = "true"', False, "pin_for_everyone is neither true nor false"),
        ("pins_for_everyone = true", False, '"pins_for_everyone" is not a field; write pin_for_everyone'),
    ],
)
def test_the_file_says_whether_everyone_signs_in_by_a_pin(tmp_path: Path, text: str, everyone: bool, said: str) -> None:
    """A slip in it asks nobody to choose a PIN, which would stay, and is reported."""
    (tmp_path / "shop.toml").write_text(text)
    shop = Shop(tmp_path, lambda: Moment(NOW))
    assert shop.pin_for_everyone is everyone
    assert len(shop.settings_troubles) == bool(said)
    assert all(
        said in one and one.endswith("Until then only those with a PIN are asked for it.")
        for one in shop.settings_troubles
    )


def test_all_mistakes_are_told_at_once_with_their_lines_and_what_applies_meanwhile(tmp_path: Path) -> None:
    file = tmp_path / "shop.toml"
    file.write_text('pin_for_everyone = "maybe"\nhalf_life_days = 0\n\nhandover_questions = ["' + "a" * 89 + '"]\n')
    shop = Shop(tmp_path, lambda: Moment(NOW))
    [meanwhile] = shop.until_right.values()

    assert describe_wrong_settings(tmp_path, NOW, meanwhile).splitlines() == [
        f"{file}: 3 mistakes",
        "line 1, pin_for_everyone: 'maybe' is not right here; write true or false, without quotes",
        "line 2, half_life_days: 0 is out of range; 1 or more",
        "line 4, handover_questions 1: has 89 characters; write 48 or fewer",
        "Until then there is no plan; only those with a PIN are asked for it.",
        "Set it right or leave the line out. Then start Floor again.",
    ]
    file.write_text("half_life_days = 1\n")
    assert describe_wrong_settings(tmp_path, NOW, ()) == ""
    file.unlink()
    assert describe_wrong_settings(tmp_path, NOW, ()) == ""


def test_a_file_that_cannot_be_read_leaves_each_rule_to_its_cautious_answer(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text("hands = [")
    [said] = Shop(tmp_path, lambda: Moment(NOW)).settings_troubles
    assert said.endswith(
        "Until then only gauges of the register are taken; only those with a PIN are asked for it; "
        "a lead may open an unapproved checklist."
    )
