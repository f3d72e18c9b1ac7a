"""Wrong values in a checklist file, each reported in words: place, what is wrong, what would be right."""

import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.checklist.loading import read_checklist

RIGHT = (Path(__file__).parent / "right.toml").read_text()

CASES = [
    ('title = "Mill pocket"\n', "", "op 10: `title` is missing; add `title`: text in quotes"),
    ("columns = 3", "columms = 3", 'carrier pallet, columms: is not a field here; did you mean "columns"? known: id,'),
    ("format = 1", "format = 2", "format: 2 is not known here; write 1"),
    ("format = 1", "format = true", "format: true is the wrong kind of value; write 1"),
    ('kind = "tote"', 'kind = "bin"', 'carrier tote, kind: "bin" is not known here; write one of "pallet", "tray"'),
    (
        'gate = "cured", clock = "cure"',
        'gate = "curd", clock = "cure"',
        'op 30, step 1 (curd), gate: "curd" is not a kind of gate; did you mean "cured"?',
    ),
    ("[part]", "[[part]]", "part: [[part]] in double brackets is a list; write [part], once"),
    ('"0.5 in"', '"12,5 mm"', '"12,5 mm" has a comma; write a decimal point, and nothing between thousands: "12.5 mm"'),
    ('"60 min"', '"1,625 min"', 'between thousands: "1625 min" or "1.625 min"'),
    ('"0.5 in"', '"0,5"', 'nothing between thousands: "0.5"'),
    (
        'time = { setup = "10 min"',
        'time = { setup = "10"',
        'op 10, time, setup: "10" has no unit; write it like "24 h"',
    ),
    (
        'time = { setup = "10 min"',
        "time = { setup = 10",
        'op 10, time, setup: the value has no quotes and no unit; write it like "24 h"',
    ),
    (
        'time = { setup = "10 min"',
        'time = { setup = "10 in"',
        'op 10, time, setup: "10 in" is not a time; write it like "24 h"',
    ),
    (
        'time = { setup = "10 min"',
        'time = { setup = "10 mni"',
        'op 10, time, setup: "mni" is not a unit; write it like "24 h"',
    ),
    (
        'time = { setup = "10 min"',
        'time = { setup = "ten min"',
        '"ten min" is not a number, a space and a unit; write it like "24 h"',
    ),
    ('time = { setup = "10 min"', 'time = { setup = "-1 min"', '"-1 min" may not be less than 0; write it like "24 h"'),
    (
        'time = { setup = "10 min"',
        'time = { setup = "nan min"',
        '"nan min" is not a sensible number; write it like "24 h"',
    ),
    (
        'time = { setup = "10 min"',
        'time = { setup = [10.0, "min", 5.0, "x"]',
        "op 10, time, setup: the value has no quotes and no unit",
    ),
    (
        "capacity = 6",
        'capacity = "6"',
        'carrier pallet, capacity: "6" is the wrong kind of value; write a whole number without quotes',
    ),
    (
        "capacity = 6",
        "capacity = 6.5",
        "carrier pallet, capacity: 6.5 is the wrong kind of value; write a whole number",
    ),
    ("capacity = 6", "capacity = 0", "carrier pallet, capacity: 0 is out of range; 1 or more"),
    (
        "capacity = 6",
        "capacity = 999999999999999999999999",
        "carrier pallet, capacity: 999999999999999999999999 is out of range; 5000 or less",
    ),
    ("cycle = false", "cycle = 0", "op 20, cycle: 0 is the wrong kind of value; write true or false"),
    (
        "cycle = false",
        "cycle = false\nexpected_yield = 0.0",
        "op 20, expected_yield: 0.0 is out of range; more than 0",
    ),
    (
        "cycle = false",
        "cycle = false\nexpected_yield = true",
        "op 20, expected_yield: true is the wrong kind of value; write a number without quotes",
    ),
    (
        "revised = 2026-01-05",
        'revised = "spring"',
        'part, revised: "spring" is the wrong kind of value; write a date without quotes',
    ),
    ('name = "Spacer"', 'name = ["Spacer"]', "part, name: a list is the wrong kind of value; write text in quotes"),
    (
        'name = "Spacer"',
        'name = "Spa\\u001b[2Jcer"',
        "part, name: holds a control character or a hidden one; write plain text on one line",
    ),
    ('name = "Spacer"', 'name = "Spa\\u202ecer"', "part, name: holds a control character or a hidden one"),
    ('title = "Mill pocket"', f'title = "{"M" * 41}"', "op 10, title: 41 characters are too many; use at most 40"),
    (
        'notice = "Local codes and licensed practice govern."',
        'notice = "Mind"',
        "part, notice: 4 characters are too few; use at least 20",
    ),
    ('number = "X-1"', 'number = ""', "part, number: `number` is empty; write text in quotes"),
    ('id = "tote"', 'id = "to/te"', "carrier to/te, id: 'to/te' cannot be a name; use letters, digits, spaces, dashes"),
    ("[cautions.soft]", '[cautions."so$ft"]', "caution so$ft: 'so$ft' cannot be a name"),
    (
        'axes = [{ name = "Z", low = "-5.1 in", high = "-4.9 in" }]',
        "axes = []",
        "op 10, step 3 (probed), axes: `axes` is empty; write a list",
    ),
    (
        '  { do = "Look at each pocket: no void", at = "load" },',
        '  "Look",',
        'op 30, step 2: "Look" is the wrong kind of value; write a table',
    ),
    (
        'reasons = [{ code = "spill", text = "Spilled" }]',
        "reasons = { }",
        "op 20, reasons: a table is the wrong kind of value; write a list in square brackets",
    ),
]


@pytest.mark.parametrize(("old", "new", "said"), CASES, ids=[case[2][:60] for case in CASES])
def test_one_wrong_value_is_reported_in_words(old: str, new: str, said: str) -> None:
    assert old in RIGHT

    loaded = read_checklist(RIGHT.replace(old, new, 1), "x.toml")

    assert any(said in str(problem) for problem in loaded.problems), [str(problem) for problem in loaded.problems]
    assert loaded.checklist is None


@pytest.mark.parametrize(("old", "new", "said"), CASES[1:], ids=[case[2][:60] for case in CASES[1:]])
def test_the_line_is_where_the_edit_was_made(old: str, new: str, said: str) -> None:
    edited = RIGHT.replace(old, new, 1)
    same = next(i for i, (before, after) in enumerate(zip(RIGHT, edited, strict=False)) if before != after)

    lines = [problem.line for problem in read_checklist(edited, "x.toml").problems]

    assert RIGHT.count("\n", 0, same) + 1 in lines


STATION = '[[stations]]\nid = "mill"'
SYNTAX = [
    (f"{STATION}", '[stations]\nid = "saw"\nname = "Saw"\n\n' + STATION, 4,
     "[stations] in single brackets is one table, and there are several; write [[stations]] above each"),
    (f"{STATION}", '[[stations]]\nid = "saw"\nname = "Saw"\n\n  [stations]  # a mill\nid = "mill"', 4,
     "[stations] in single brackets is one table, and there are several; write [[stations]] above each"),
    ('name = "Spacer"', "name = “Spacer”", 0, '“ is a typographic quote; write the straight one: "'),
    ('name = "Spacer"', "name = „Spacer“", 0, '„ is a typographic quote; write the straight one: "'),
    ('name = "Spacer"', 'name = "Spacer”', 0, '” is a typographic quote; write the straight one: "'),
    ('name = "Spacer"', 'name = “Spacer” # so "called"', 0, '“ is a typographic quote; write the straight one: "'),
    ('name = "Spacer"', 'name = "Shop’s spacer" 2 # a “spacer”', 0, "text stands in quotes"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "below", "said"), SYNTAX, ids=[case[1][:40] for case in SYNTAX])
def test_what_is_no_toml_is_said_as_the_slip_that_it_is(old: str, new: str, below: int, said: str) -> None:
    assert old in RIGHT
    (problem,) = read_checklist(RIGHT.replace(old, new, 1), "x.toml").problems
    assert said in str(problem)
    assert problem.line == RIGHT.count("\n", 0, RIGHT.index(old)) + 1 + below


METRIC = [
    ('"60 min"', "300",
     'no quotes and no unit; write it like "180 min", or in pieces, like "1 piece" or "300 pieces"'),
    ('"60 min"', '"300"', 'has no unit; write it like "180 min", or in pieces, like "1 piece"'),
    ('margin = "0.5 in"', 'margin = "12"', '"12" has no unit; write it like "1.6 mm"'),
    ('margin = "0.5 in"', "margin = 12", 'has no quotes and no unit; write it like "1.6 mm"'),
    ('length = "9 in"\n', "", 'add `length`: it with its unit, like "1.6 mm"'),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "said"), METRIC, ids=[case[1] for case in METRIC])
def test_examples_are_in_the_units_of_the_part(old: str, new: str, said: str) -> None:
    assert old in RIGHT
    text = RIGHT.replace('revision = "A"\n', 'revision = "A"\nunits = "metric"\n', 1).replace(old, new, 1)
    said_there = [str(one) for one in read_checklist(text, "x.toml").problems]
    assert any(said in one for one in said_there), said_there


def test_what_is_missing_is_reported_at_the_head_of_its_table() -> None:
    text = RIGHT.replace('title = "Mill pocket"\n', "")

    (problem,) = read_checklist(text, "x.toml").problems

    assert text.split("\n")[problem.line - 1 : problem.line + 1] == ["[[operations]]", "op = 10"]


ONLY = [case for case in CASES if not any(hidden in case[1] for hidden in ('"to/te"', "so$ft", "columms", "spill"))]


@pytest.mark.parametrize(("old", "new", "said"), ONLY, ids=[case[2][:60] for case in ONLY])
def test_and_nothing_else_is_reported(old: str, new: str, said: str) -> None:
    """No echo: a list is not called too short because an entry of it is wrong, nor a name unknown that was mistyped."""
    assert len(read_checklist(RIGHT.replace(old, new, 1), "x.toml").problems) == 1


def test_wrong_values_do_not_hide_wrong_references() -> None:
    text = RIGHT
    edits = [('id = "mill"', "id = 5"), ('"10 min"', '"10"'), ('carrier = "tote"', 'carrier = "toat"')]
    for old, new in [*edits, ('clock = "cure"', 'clock = "kure"'), ('gate = "measured"', 'gate = "mesured"')]:
        text = text.replace(old, new, 1)

    places = [problem.place for problem in read_checklist(text, "x.toml").problems]

    for place in ("station 5, id", "op 10, time, setup", "op 30, carrier", "op 30, step 1 (cured), clock"):
        assert place in places
    assert "op 10, step 4 (mesured), gate" in places


def test_a_file_of_nonsense_is_answered() -> None:
    loaded = read_checklist("operations = 3\npart = [1]\ncautions = 'x'\nstations = [[], 4]\n", "x.toml")

    assert {problem.place for problem in loaded.problems} >= {"operations", "part", "cautions", "station entry 1"}


def test_an_empty_file_is_told_what_it_lacks() -> None:
    wrong = [problem.wrong for problem in read_checklist("", "x.toml").problems]

    assert wrong == [f"`{name}` is missing" for name in ("carriers", "format", "operations", "part", "stations")]


def test_what_hangs_on_a_wrong_name_is_not_reported_too() -> None:
    """A station whose name cannot be read leaves its operations, tools and offsets in peace."""
    problems = read_checklist(RIGHT.replace('id = "mill"', "id = 5", 1), "x.toml").problems

    assert [problem.place for problem in problems] == ["station 5, id"]


def test_a_value_of_two_kinds_is_reported_once() -> None:
    text = RIGHT.replace('what = "depth"', 'what = "depth", sample = "al"')

    assert [problem.place for problem in read_checklist(text, "x.toml").problems] == [
        "op 10, step 4 (measured), sample"
    ]


VALUES = re.compile(r'= ("[^"\n]*"|\d+|true|false)')
ODD = [
    '""',
    "5",
    "-1",
    "true",
    "[]",
    "{}",
    '"x"',
    '[1, "a"]',
    "{ a = 1 }",
    "2026-01-01",
    "10:00:00",
    "inf",
    "[{}]",
    '"5 in"',
]


@settings(max_examples=120, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 120), st.sampled_from(ODD)), min_size=1, max_size=4))
def test_any_few_odd_values_are_read_or_reported(edits: list[tuple[int, str]]) -> None:
    """Whatever is in place of a value: never a traceback, never a problem about something not in the file."""
    text = RIGHT
    for number, value in edits:
        places = list(VALUES.finditer(text))
        place = places[number % len(places)]
        text = text[: place.start(1)] + value + text[place.end(1) :]

    loaded = read_checklist(text, "x.toml")

    assert (loaded.checklist is None) == bool(loaded.problems)
    assert not [problem for problem in loaded.problems if "stand-in" in str(problem)]
    assert all(1 <= problem.line <= text.count("\n") + 1 for problem in loaded.problems)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("", "consumable Tape: `by` is missing; add `by`: one of length, area, amount, count"),
        ('by = "lenth"', 'consumable Tape, by: "lenth" is not a way to measure it out; did you mean "length"?'),
        (
            'by = "length"\neach = "0 mm"',
            'consumable Tape, each: "0 mm" must be more than 0; write it like "0.0625 in"',
        ),
        (
            'by = "amount"\neach = "9 mm"',
            'consumable Tape, each: "9 mm" is not a mass or a volume; write it like "40 g"',
        ),
        ('by = "area"\neach = "9 mm"', 'consumable Tape, each: "9 mm" is not an area; write it like "12 in**2"'),
        ('by = "count"\neach = 0', "consumable Tape, each: 0 is out of range; 1 or more"),
        ('by = "count"\ncoats = 1', "consumable Tape, coats: is not a field here"),
    ],
)
def test_a_wrong_consumable_is_reported_at_its_line(line: str, said: str) -> None:
    """Which fields there are depends on how it is measured out; the place is still that in the file."""
    text = f'{RIGHT}\n[[consumables]]\nwhat = "Tape"\nops = [10]\nsource = "Trial"\n{line}\n'
    at = text[: text.index("[[consumables]]")].count("\n") + 1 if not line else text.count("\n")

    (problem,) = read_checklist(text, "x.toml").problems

    assert f"{problem.place}: {problem.wrong}; {problem.right}".startswith(said)
    assert problem.line == at
