"""No safety check can be bypassed with two keys: `floor check` warns if a checklist allows it."""

from __future__ import annotations

import re

import pytest

from floor.checklist.loading import list_shipped_checklists, load_checklist, read_checklist
from floor.checklist.operation import Do
from floor.checklist.rules.safety import check_oven_plates
from tests.batch.factory import HERE

DOOR = '{ do = "Shut the door", at = "load", cautions = ["cutter"] },\n  { do = "Watch'
KEPT = (
    "spindle stops",
    "blade stops",
    "work stop",
    "Shut the",
    "Tighten the vise",
    "HOT tag",
    "exhaust",
    "respirator",
    "rags",
)
"""Words of steps between a person and a machine, heat, fumes or fire, in the shipped checklists."""


def warnings(text: str) -> list[str]:
    loaded = read_checklist(text, "part.toml")
    assert loaded.problems == ()
    return [f"{one.line} {one.wrong}" for one in loaded.warnings if "skipped" in one.wrong]


def test_a_step_under_a_grave_word_that_may_be_skipped_is_warned_of() -> None:
    text = (HERE / "part.toml").read_text()
    line = 1 + text[: text.index(DOOR)].count("\n")
    assert f"{line} a step under a WARNING may be skipped with a reason" in warnings(text)

    kept = text.replace(DOOR, DOOR.replace("cautions", "skip = false, cautions"))
    assert len(warnings(kept)) == len(warnings(text)) - 1


@pytest.mark.parametrize(("word", "warned"), [("DANGER", True), ("WARNING", True), ("CAUTION", False)])
def test_by_the_word(word: str, warned: bool) -> None:
    text = (HERE / "part.toml").read_text().replace('word = "WARNING"', f'word = "{word}"')
    assert any(f"a step under a {word} may" in one for one in warnings(text)) == warned


def test_a_booth_without_a_clearance_time_is_refused() -> None:
    """Without a clearance figure nobody goes in without air (HSE, COSHH essentials MR2, from memory)."""
    [file] = [one for one in list_shipped_checklists() if one.stem == "thermal-break-plate"]
    text = file.read_text()
    waits = re.compile(r'  \{ gate = "cured", do = "Keep the respirator on.*\n')
    assert len(waits.findall(text)) == 2
    for count, wrong in ((1, 1), (2, 2)):
        loaded = read_checklist(waits.sub("", text, count=count), "x.toml")
        assert sum("until the booth is clear" in one.wrong for one in loaded.problems) == wrong
        assert loaded.checklist is None


def test_spraying_without_a_word_of_eyes_breath_and_fire_is_warned_of() -> None:
    """29 CFR 1910.107 and 1910.134, from memory: spray burns, and is breathed."""
    [file] = [one for one in list_shipped_checklists() if one.stem == "thermal-break-plate"]
    text = file.read_text()
    for about, missing in (('about = ["breathing", "eyes"]\n', "eyes or breathing"), ('about = ["fire"]\n', "fire")):
        said = [one.wrong for one in read_checklist(text.replace(about, ""), "x.toml").warnings if one.place == "op 70"]
        assert said == [f"no caution here is about {missing}"]


@pytest.mark.parametrize(
    ("told", "warned"),
    [
        ('solids = "38 %"\nfilm = "25 um"', True),
        ('spreading = "8 m**2/L"', False),
    ],
)
def test_a_coat_of_which_a_share_is_solid_holds_solvent_for_the_oven(told: str, warned: bool) -> None:
    """NFPA 86, from memory: an oven that dries off solvent is of class A. How far a coat spreads says nothing of it."""
    lacquer = (
        f'[[consumables]]\nwhat = "Lacquer"\nops = [20]\nby = "area"\neach = "12 in**2"\n{told}\nsource = "Sheet"\n'
    )
    loaded = read_checklist((HERE / "part.toml").read_text() + lacquer, "part.toml")
    assert loaded.problems == ()
    assert loaded.checklist is not None
    assert [one.path for one in check_oven_plates(loaded.checklist)] == [("operations", 3, "station")] * warned


@pytest.mark.parametrize("file", list_shipped_checklists(), ids=lambda file: file.stem)
def test_no_safety_step_of_a_shipped_checklist_may_be_skipped(file: object) -> None:
    checklist = load_checklist(str(file)).checklist
    assert checklist is not None
    steps = [step for operation in checklist.operations for step in operation.steps if isinstance(step, Do)]
    loose = [step.do for step in steps if step.skip and any(word in step.do for word in KEPT)]
    assert loose == []


SHUT = DOOR.replace("cautions", "skip = false, cautions")
ROCK = 'do = "Press each corner: nothing rocks", at = "load", waive = "never"'


@pytest.mark.parametrize(
    ("was", "now", "warned"),
    [
        (DOOR, SHUT, False),
        (DOOR, SHUT.replace("skip", "lapses_on = [], skip"), True),
        (DOOR, SHUT.replace("skip", 'lapses_on = ["lifted"], skip'), False),
        (DOOR, SHUT.replace('at = "load"', 'at = "setup"'), True),
        (DOOR, DOOR.replace("cautions", "lapses_on = [], cautions"), False),
        (ROCK, f'{ROCK}, cautions = ["cutter"], lapses_on = []', True),
        (ROCK, f'{ROCK}, cautions = ["cutter"]', False),
    ],
)
def test_a_safety_step_that_nothing_voids_is_warned_of(was: str, now: str, warned: bool) -> None:
    """What was done before the start may be undone before it: a door is opened, a clamp is loosened."""
    text = (HERE / "part.toml").read_text()
    loaded = read_checklist(text.replace(was, now), "part.toml")
    assert loaded.problems == ()
    line = 1 + text[: text.index(was)].count("\n")
    found = [one.line for one in loaded.warnings if "nothing voids it" in one.wrong]
    assert found == ([line] if warned else [])


def test_a_booth_where_every_step_about_breathing_may_be_skipped_is_warned_of() -> None:
    """29 CFR 1910.134, from memory; a CAUTION, of which no grave word warns."""
    [file] = [one for one in list_shipped_checklists() if one.stem == "thermal-break-plate"]
    text = file.read_text()
    breathe = text.index("[cautions.breathe]")
    text = text[:breathe] + text[breathe:].replace('"WARNING"', '"CAUTION"', 1)
    spray = re.compile(r'(do = "Spray the first coat.*)skip = false, (cautions = .*"breathe")')
    for edited, warned in ((text, []), (spray.sub(r"\1\2", text), ["no step that must be done is about breathing"])):
        said = [one.wrong for one in read_checklist(edited, "x.toml").warnings if one.place == "op 70"]
        assert said == warned
