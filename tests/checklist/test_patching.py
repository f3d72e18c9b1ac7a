"""Values changed in the text of a checklist: every other line stays byte for byte, and the file loads."""

from __future__ import annotations

import difflib
import re
import tomllib
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.checklist.loading import list_shipped_checklists, read_checklist
from floor.checklist.patching import Change, ChecklistText, Field, LineChange, Unpatchable
from tests.shop.taught import PART

FILES = {path.name: path.read_text(encoding="utf-8") for path in [*list_shipped_checklists(), PART]}
TIMES = ("setup", "before", "before_piece", "cycle", "cycle_piece", "after", "after_piece")


def possible(text: str) -> list[tuple[Change, ...]]:
    """What a lesson may change in a file, by tomllib: times by a half, a yield with its weight, lives halved."""
    data = tomllib.loads(text)
    found: list[tuple[Change, ...]] = []
    for one in data["operations"]:
        for key in TIMES:
            if key in one.get("time", {}):
                number, unit = one["time"][key].split(" ")
                field = Field("operations", one["op"], ("time", key))
                found.append((Change(field, one["time"][key], f"{1.5 * float(number):g} {unit}"),))
        if not one.get("rework_only"):
            stated, weight = one.get("expected_yield", 1.0), one.get("yield_weight", 30.0)
            found.append(
                (
                    Change(Field("operations", one["op"], ("expected_yield",)), stated, 0.807),
                    Change(Field("operations", one["op"], ("yield_weight",)), weight, 134.0),
                )
            )
    for one in data.get("tools", ()):
        if "life" in one:
            number, unit = one["life"].split(" ")
            field = Field("tools", one["number"], ("life",))
            found.append((Change(field, one["life"], f"{float(number) / 2:g} {unit}"),))
    return found


def comments(text: str) -> list[str]:
    """Each with the blanks before it."""
    return re.findall(r"[ \t]*#[^\n]*", text)


@settings(deadline=None, max_examples=60)
@given(data=st.data(), name=st.sampled_from(sorted(FILES)), ending=st.sampled_from(["\n", "\r\n"]))
def test_any_lessons_leave_all_other_lines_as_they_are(data: st.DataObject, name: str, ending: str) -> None:
    text = FILES[name].replace("\n", ending)
    all_ = possible(FILES[name])
    taken = data.draw(st.lists(st.sampled_from(all_), unique=True))
    changes = [change for one in taken for change in one]
    after = ChecklistText(text).patch(changes)

    wanted: dict[str, Any] = tomllib.loads(FILES[name])
    for field, _, value in changes:
        key = "op" if field.table == "operations" else "number"
        [table] = [one for one in wanted[field.table] if one[key] == field.number]
        (table["time"] if len(field.keys) == 2 else table)[field.keys[-1]] = value
    assert tomllib.loads(after) == wanted, "these values and no other"

    assert comments(after) == comments(text)
    touched = {change.field.keys[0] for change in changes}
    for line in difflib.ndiff(text.split("\n"), after.split("\n")):
        if line[0] in "-+":
            assert line[2:].split(" = ")[0].strip() in touched
            assert line[2:].endswith("\r") == (ending == "\r\n")
    assert read_checklist(after.replace("\r\n", "\n"), name).checklist is not None


def test_lines_are_told_with_their_number_and_are_those_that_change() -> None:
    """By difflib, for every lesson of every file alone."""
    for text in FILES.values():
        patcher = ChecklistText(text)
        for changes in possible(text):
            after = patcher.patch(changes)
            old, new = text.split("\n"), after.split("\n")
            codes = difflib.SequenceMatcher(None, old, new, autojunk=False).get_opcodes()
            wanted = [
                LineChange(one + (tag == "replace"), tuple(old[one:two]), tuple(new[three:four]))
                for tag, one, two, three, four in codes
                if tag != "equal"
            ]
            found = patcher.list_line_changes(changes)
            assert [line for one in found for line in one.after] == [line for one in wanted for line in one.after]
            assert [(one.line, one.before) for one in found if one.before] == [
                (one.line + n, (row,)) for one in wanted for n, row in enumerate(one.before)
            ]


SMALL = '''operations = [ { op = 10, carrier = "p", expected_yield = 0.9 } ]  # on one line
[[tools]] # first
number = 7
station = "mill"
  life   =   "60 min"   # as the maker says

[[tools]]
station = "mill"
number = 8
'''  # fmt: skip
APART = """[[operations]]
op = 20
carrier = "p"
time . before = '5 min'   # dotted
[[operations]]
op = 30
carrier = "p"
[operations.time]   # a table of its own
before = "6 min"
after   = "7 min"
"""


def test_a_value_keeps_its_blanks_and_its_remark() -> None:
    after = ChecklistText(SMALL).patch([Change(Field("tools", 7, ("life",)), "60 min", "45 min")])

    assert after == SMALL.replace('"60 min"', '"45 min"')


def test_blanks_within_the_quotes_do_not_matter() -> None:
    """The checklist reads them away, so a lesson does not know of them."""
    text = SMALL.replace('"60 min"', '" 60 min "')
    after = ChecklistText(text).patch([Change(Field("tools", 7, ("life",)), "60 min", "45 min")])

    assert after == SMALL.replace('"60 min"', '"45 min"')


def test_dotted_keys_and_tables_of_their_own_are_changed_where_they_stand() -> None:
    changes = [
        Change(Field("operations", 30, ("time", "after")), "7 min", "9 min"),
        Change(Field("operations", 20, ("time", "before")), "5 min", "8 min"),
    ]

    assert ChecklistText(APART).patch(changes) == APART.replace("'5 min'", '"8 min"').replace("7 min", "9 min")


def test_what_does_not_stand_on_a_line_of_its_own_is_left_to_an_editor() -> None:
    """Whole operations on one line: no shipped checklist is written like that."""
    for change in (
        Change(Field("operations", 10, ("expected_yield",)), 0.9, 0.8),
        Change(Field("operations", 10, ("yield_weight",)), 30.0, 40.0),
    ):
        with pytest.raises(Unpatchable) as refused:
            ChecklistText(SMALL).patch([change])
        assert "editor" in refused.value.remedy


def test_a_yield_that_was_not_stated_stands_behind_the_carrier_with_its_indent() -> None:
    text = '[[operations]]\n  op = 10\n  carrier = "pallet"   # steel\n  steps = [\n  ]\n# next\n'
    changes = [
        Change(Field("operations", 10, ("expected_yield",)), 1.0, 0.9),
        Change(Field("operations", 10, ("yield_weight",)), 30.0, 64.0),
    ]

    assert ChecklistText(text).patch(changes).split("\n")[2:6] == [
        '  carrier = "pallet"   # steel',
        "  expected_yield = 0.9",
        "  yield_weight = 64.0",
        "  steps = [",
    ]


@pytest.mark.parametrize(
    ("change", "wrong"),
    [
        (Change(Field("tools", 7, ("life",)), "50 min", "45 min"), 'tool 7 life is "60 min" there now, not "50 min"'),
        (Change(Field("tools", 9, ("life",)), "50 min", "45 min"), "there is no tool 9 in it now"),
        (Change(Field("tools", 8, ("life",)), "50 min", "45 min"), 'tool 8 life is not stated there now, not "50 min"'),
        (Change(Field("operations", 30, ("expected_yield",)), 1.0, 0.9), "there is no op 30 in it now"),
        (Change(Field("operations", 10, ("yield_weight",)), 31.0, 40.0), "op 10 yield_weight is 30 there now"),
        (Change(Field("operations", 10, ("time", "before")), "5 min", "6 min"), "op 10 time.before is not stated"),
    ],
)
def test_what_the_file_does_not_say_is_not_changed(change: Change, wrong: str) -> None:
    with pytest.raises(Unpatchable) as refused:
        ChecklistText(SMALL).patch([change])
    assert refused.value.wrong.startswith(wrong)
    assert refused.value.remedy


def test_what_is_no_toml_is_refused() -> None:
    with pytest.raises(Unpatchable, match="not TOML"):
        ChecklistText("op = \n")


def test_a_layout_that_cannot_be_kept_is_refused_and_not_mangled() -> None:
    """The carrier's text goes over two lines, so a line put behind its first one would fall into it."""
    text = '[[operations]]\nop = 10\ncarrier = """pal\\\n  let"""\n'
    with pytest.raises(Unpatchable):
        ChecklistText(text).patch([Change(Field("operations", 10, ("expected_yield",)), 1.0, 0.9)])


LIST = """[[operations]]
op = 10
title = "Coat"
steps = [  # in this order
    { do = "Wipe" }, # twice
    { gate = "counted" },
]
"""


def step(text: str, op: int = 10) -> Change:
    return Change(Field("operations", op, ("steps", text)), None, text)


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_a_new_step_goes_before_the_others_and_nothing_else_changes(ending: str) -> None:
    text = ChecklistText(LIST.replace("\n", ending))
    change = step('Lacquer: "B", 2 % \\ thinner')
    after = text.patch([change])
    assert tomllib.loads(after)["operations"][0]["steps"] == [
        {"do": change.after}, {"do": "Wipe"}, {"gate": "counted"},
    ]  # fmt: skip
    assert [
        line for line in difflib.ndiff(LIST.split("\n"), after.replace(ending, "\n").split("\n")) if line[0] != " "
    ] == ['+     { do = "Lacquer: \\"B\\", 2 % \\\\ thinner" },']
    (place,) = text.list_line_changes([change])
    assert (place.line, place.before, len(place.after)) == (4, (), 1)
    assert str(change.field) == 'op 10 step "Lacquer: "B", 2 % \\ thinner"'


def test_a_step_that_is_there_is_not_put_in_again() -> None:
    with pytest.raises(Unpatchable, match='is "Wipe" there now, not not stated'):
        ChecklistText(LIST).patch([step("Wipe")])


@pytest.mark.parametrize(
    "steps",
    [
        "",
        'steps = [{ do = "Wipe" }]\n',
        'steps = [{ do = "Wipe" },\n]\n',
        '[[operations.steps]]\ndo = "Wipe"\n',
        "steps = []\n",
    ],
)
def test_steps_that_do_not_stand_on_lines_of_their_own_are_left_to_an_editor(steps: str) -> None:
    text = f'[[operations]]\nop = 10\ntitle = "Coat"\n{steps}'
    with pytest.raises(Unpatchable, match="do not stand on lines of their own; change it in an editor"):
        ChecklistText(text).patch([step("Lacquer B")])


def test_every_operation_of_every_file_takes_a_step() -> None:
    for name, text in FILES.items():
        for one in tomllib.loads(text)["operations"]:
            change = step("Lacquer: B", one["op"])
            try:
                after = ChecklistText(text).patch([change])
            except Unpatchable:
                assert len(one["steps"]) == 1, "a list on one line"
                continue
            loaded = read_checklist(after, name)
            if loaded.checklist is None:  # which is refused when it is taken
                assert [problem.wrong for problem in loaded.problems] == ["10 items in the list at `load`"], (
                    "one too many"
                )
                continue
            assert loaded.checklist.ops[one["op"]].steps[0].do == "Lacquer: B"  # type: ignore[union-attr]
