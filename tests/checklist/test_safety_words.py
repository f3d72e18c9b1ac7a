"""What the cautions and the last looks of the shipped checklists must say, each beside the rule that it follows."""

from __future__ import annotations

import re

import pytest

from floor.checklist.gates import Confirmed, Counted, Cured, Signed
from floor.checklist.loading import list_shipped_checklists, load_checklist
from floor.checklist.model import Checklist

LOADED = {file.stem: load_checklist(file).checklist for file in list_shipped_checklists()}
CHECKLISTS = {name: checklist for name, checklist in LOADED.items() if checklist is not None}
each = pytest.mark.parametrize("checklist", CHECKLISTS.values(), ids=CHECKLISTS)
PLATE, PIN, STRUT = "thermal-break-plate", "metering-pin", "bonded-strut"


def test_every_shipped_checklist_is_read() -> None:
    assert {PLATE, PIN, STRUT} == set(CHECKLISTS)


@each
def test_what_can_kill_or_maim_is_no_mere_caution(checklist: Checklist) -> None:
    """ANSI Z535.4 section 4.14.2, as quoted by others: WARNING and above where death or serious injury is possible."""
    grave = re.compile(r"\b(kill|blind|explode|off a finger|the face|fire|down the shop)\b")
    for caution in checklist.cautions.values():
        if grave.search(caution.consequence):
            assert caution.word in ("WARNING", "DANGER"), caution.hazard


SAID = [
    # 29 CFR 1910.242(b), below 30 psi with chip guarding and eyes covered; OSHA: never toward a person
    (PLATE, "air", r"\bblow\b|Blow", ("below 30 psi", "chip guard", "eyes covered", "never toward a person")),
    # Common practice, no source: fresh edges and cutters cut at rest; gloves only at a spindle that stands still
    (PLATE, "edge", r"tool \d|[Bb]reak the", ("rag or holder", "cut-resistant gloves only with the spindle off")),
    # Dust-safety case account: aluminum fines with water in a closed vessel give off hydrogen
    (PLATE, "fines", r"Vacuum", ("dry, aluminum-rated vacuum", "emptied daily", "Class D extinguisher")),
    # 29 CFR 1910.107(g)(3), from memory: solvent rags into a closed metal can, emptied daily
    (PLATE, "rags", r"Drop the rags", ("closed metal can", "empty it")),
    # 29 CFR 1910.106: a solvent near no spark, its wipes shut away
    (STRUT, "rags", r"acetone", ("no sparks", "wipes in closed can")),
]  # fmt: skip


@pytest.mark.parametrize(("name", "caution", "steps", "words"), SAID, ids=[f"{row[0]} {row[1]}" for row in SAID])
def test_a_caution_says_how_to_avoid_it_on_the_steps_it_is_about(
    name: str, caution: str, steps: str, words: tuple[str, ...]
) -> None:
    checklist = CHECKLISTS[name]
    said = checklist.cautions[caution]
    for wanted in words:
        assert wanted in said.avoid, said.avoid
    lines = [step for operation in checklist.operations for step in operation.steps]
    lines += [step for rework in checklist.reworks for step in rework.steps]
    warned = [step.title() for step in lines if caution in step.cautions]
    assert [title for title in warned if re.search(steps, title)], f"{caution}: on none of its steps, but on {warned}"


@pytest.mark.parametrize(("name", "op"), [(PLATE, 50), (STRUT, 40)])
def test_nothing_goes_into_an_oven_with_wipes_or_plastic(name: str, op: int) -> None:
    """NFPA 86, as quoted by others: vapor comes also from wipes, packaging and plastic; looked at before each heat."""
    looks = [step for step in CHECKLISTS[name].ops[op].steps if isinstance(step, Confirmed) and "wipes" in step.title()]
    assert len(looks) == 1
    assert (looks[0].at, looks[0].per, looks[0].waive) == ("load", "load", "never")
    assert "plastic" in looks[0].title()
    assert "oven" in looks[0].cautions


def test_the_coat_is_dry_before_it_is_touched_and_paper_lies_between() -> None:
    """Shop decision: cured before touch, stack or wrap."""
    plate = CHECKLISTS[PLATE]
    inspecting = plate.ops[90]
    waits = [step for step in inspecting.steps if isinstance(step, Cured) and step.clock == "enamel dry"]
    assert [step.at for step in waits] == ["arrive"]
    assert any("paper between" in step.title() for step in plate.ops[100].steps)


@each
def test_what_is_packed_is_counted_and_its_labels_are_signed_for(checklist: Checklist) -> None:
    """21 CFR 820.184(b) and (c): quantity released; here the counts of boxes and labels must agree."""
    packing = checklist.operations[-1]
    counted = {step.at for step in packing.steps if isinstance(step, Counted)}
    assert "after" in counted
    [labels] = [step for step in packing.steps if isinstance(step, Signed) and "label" in step.title()]
    assert "count" in labels.title()
