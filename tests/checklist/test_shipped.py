"""What the shipped checklists must be: real routes, few and sourced cautions, short lists, tool cards that add up."""

import math
import re
from collections import Counter
from pathlib import Path

import pytest

from floor.checklist.gates import GATE_KINDS, Cured
from floor.checklist.loading import list_shipped_checklists, load_checklist
from floor.checklist.model import Checklist
from floor.checklist.operation import Do


def read(file: Path) -> Checklist:
    loaded = load_checklist(file)
    assert loaded.problems == loaded.warnings == ()
    assert loaded.checklist is not None
    return loaded.checklist


CHECKLISTS = {file.stem: read(file) for file in list_shipped_checklists()}
VERBS = re.compile(
    "Abrade|Aim|Bag|Blast|Blow|Bond|Break|Brush|Cast|Clamp|Close|Compare|Confirm|Count|Cover|Degrease|Draw|Dress|Drop|Dry|Feel|File|Find"
    "|Hang|Indicate|Keep|Lay|Leave|Level|Lock|Look|Lower|Mark|Measure|Mix|Mount|Open|Pack|Peel|Plug|Pour|Press|Prick|Pull|Push|Raise"
    "|Reach|Read|Rinse|Rub|Run|Saw|Scrape|Scribe|Seat|Set|Shut|Sleeve|Spray|Spread|Stand|Start|Stop|Tag|Take|Tap|Tighten|Titrate|Try"
    "|Turn|Vacuum|Vent|Wait|Wash|Watch|Wet|Wet-sand|Wipe"
)
each = pytest.mark.parametrize("checklist", CHECKLISTS.values(), ids=CHECKLISTS)
PLATE, PIN, STRUT = (CHECKLISTS[name] for name in ("thermal-break-plate", "metering-pin", "bonded-strut"))


@each
def test_pause_lists_hold_fewer_than_ten_items(checklist: Checklist) -> None:
    """ "A Checklist for Checklists" (2010): fewer than 10 items for each pause."""
    for operation in checklist.operations:
        assert max(Counter(step.at for step in operation.steps).values()) < 10, operation.op


@each
def test_steps_are_short_and_start_with_a_verb(checklist: Checklist) -> None:
    """DOE-STD-1029-92, action steps (from memory): a verb first, one action, the object and the value accepted."""
    steps = [step for operation in checklist.operations for step in operation.steps]
    steps += [step for rework in checklist.reworks for step in rework.steps]
    for step in steps:
        assert len(step.title()) <= 70, step.title()
        assert len(step.detail) <= 76, step.detail
        if isinstance(step, Do) or step.gate in ("confirmed", "signed"):
            assert VERBS.fullmatch(step.title().split()[0]), step.title()


@each
def test_a_step_holds_one_action(checklist: Checklist) -> None:
    """DOE-STD-1029-92, action steps (from memory): a second verb is a second step; what must be true is no verb."""
    steps = [step for operation in checklist.operations for step in operation.steps]
    steps += [step for rework in checklist.reworks for step in rework.steps]
    for step in steps:
        action = getattr(step, "do", "").split(":")[0]  # what the list itself says
        for word in re.findall(r"(?:,|;| and| then) (\w+)", action):
            assert not VERBS.fullmatch(word.capitalize()), step.title()


@each
def test_cautions_are_few_and_sourced(checklist: Checklist) -> None:
    """ANSI Z535.4: DANGER for the extreme only; each says hazard, consequence and how to avoid it, in short lines."""
    words = Counter(caution.word for caution in checklist.cautions.values())
    assert words["DANGER"] <= len(checklist.cautions) // 10
    for name, caution in checklist.cautions.items():
        assert re.search(r"CFR|NFPA|ANSI|ISO|HSE|ASTM|data sheet|Label|[Cc]ommon practice", caution.source), name
        assert max(map(len, (caution.hazard, caution.consequence, caution.avoid))) <= 76
        assert (caution.word == "NOTICE") or re.search(r"[Cc]an ", caution.consequence), name
    for operation in checklist.operations:
        warned = [step for step in operation.steps if step.cautions]
        assert max(len(step.cautions) for step in operation.steps) <= 3
        assert len(warned) <= len(operation.steps) * 2 / 3, operation.op


@each
def test_notice_words_name_no_injury(checklist: Checklist) -> None:
    """ANSI Z535.4 section 4.14.4: NOTICE is not about injury; the other three are."""
    for caution in checklist.cautions.values():
        hurts = re.search(
            r"\b(burn|blind|cut|kill|harm|strike|rash|hurt|throw|allergy|stun|explode|fire)", caution.consequence
        )
        assert bool(hurts) == (caution.word != "NOTICE"), caution.hazard


@each
def test_compressed_air_and_solvent_are_never_used_uncautioned(checklist: Checklist) -> None:
    """29 CFR 1910.242(b) and 1910.106/.107: a step that blows or wipes with solvent carries its caution."""
    steps = [step for operation in checklist.operations for step in operation.steps]
    steps += [step for rework in checklist.reworks for step in rework.steps]
    for step in steps:
        if re.search(r"\b[Bb]low\b|acetone|isopropyl", step.title()) and not step.title().startswith("Look"):
            assert step.cautions, step.title()


@each
def test_the_notice_says_what_governs(checklist: Checklist) -> None:
    for words in ("ocal codes", "data sheet", "licensed practice"):
        assert words in checklist.part.notice


@each
def test_tool_cards_follow_from_the_formulas(checklist: Checklist) -> None:
    """N = 12V/(pi D) or 1000V/(pi D), F = f n N ("Useful Formulas for Machining", SME)."""
    for tool in checklist.tools:
        assert tool.diameter
        assert tool.speed
        assert tool.surface_speed
        assert tool.feed
        assert tool.flutes
        assert tool.chip_load
        assert math.pi * tool.diameter.base / 1000 * tool.speed.base == pytest.approx(tool.surface_speed.base, rel=2e-3)
        assert tool.chip_load.base * tool.flutes * tool.speed.base == pytest.approx(tool.feed.base, rel=1e-9), tool.name
        assert f"{tool.chip_load} per " in tool.source, "where the chip load comes from"


@each
def test_a_route_of_six_operations_or_more_with_sources(checklist: Checklist) -> None:
    assert len(checklist.operations) >= 6
    assert 0.8 < math.prod(operation.expected_yield for operation in checklist.operations) < 1
    assert all(clock.source for operation in checklist.operations for clock in operation.clocks)
    assert checklist.order


def test_the_plate_uses_every_kind_of_gate_and_carrier() -> None:
    gates = {step.gate for operation in PLATE.operations for step in operation.steps if not isinstance(step, Do)}
    assert gates == set(GATE_KINDS)
    assert [PLATE.carrier(leg.carrier).kind for leg in PLATE.legs] == ["pallet", "tray", "vise", "rack", "tote"]
    assert [bool(PLATE.carrier(leg.carrier).positions) for leg in PLATE.legs] == [True, True, True, True, False]
    pallet = PLATE.carrier("pallet")
    assert pallet.positions[:5] == ("A1", "A2", "A3", "A4", "B1")
    assert pallet.count * pallet.capacity == PLATE.order == 96


def test_the_plate_reworks_within_a_leg_and_back_to_an_earlier_one() -> None:
    reach = set()
    for operation in PLATE.operations:
        for reason in operation.reasons:
            rework = PLATE.rework(reason.rework)
            if rework:
                reach.add(PLATE.leg_of(rework.back_to) == PLATE.leg_of(operation.op))
    assert reach == {True, False}
    assert any(reason.to == "hold" for operation in PLATE.operations for reason in operation.reasons)


def test_the_plate_is_coated_again_within_an_hour_or_after_two_days() -> None:
    """Label wording of a common aerosol enamel, as quoted on public pages: within 1 h or after 48 h."""
    found = PLATE.clock("recoat")
    assert found
    first, second = found[1].windows
    assert first.latest
    assert second.earliest
    assert (first.earliest, first.latest.base, second.earliest.base, second.latest) == (None, 3600, 48 * 3600, None)


def test_tools_of_the_plate_run_low_within_the_order() -> None:
    worn = 0
    for operation in PLATE.operations:
        for use in operation.tools:
            life = PLATE.tool(use.tool).life  # type: ignore[union-attr]
            worn += life is not None and use.per_piece.base * 96 > life.base
    assert worn >= 2


def test_the_pin_is_immersed_between_two_times_and_leaves_by_count() -> None:
    """ASTM A967, citric 2 (from memory): 10 min or more at 120 to 140 degF."""
    found = PIN.clock("immersion")
    assert found
    (window,) = found[1].windows
    assert window.earliest
    assert window.latest
    assert 600 <= window.earliest.base < window.latest.base
    outside = next(operation for operation in PIN.operations if PIN.station(operation.station).kind == "outside")
    counted = [step.at for step in outside.steps if not isinstance(step, Do) and step.gate == "counted"]
    assert counted == ["load", "after"]


def test_the_strut_has_pot_life_clamp_time_and_post_cure() -> None:
    found = STRUT.clock("pot life")
    assert found
    operation, pot_life = found
    assert pot_life.per == "batch"
    assert pot_life.windows[0].latest
    assert [step.id for step in operation.steps if isinstance(step, Do) and step.while_running == "pot life"] == ["mix"]
    waits = [step.clock for op in STRUT.operations for step in op.steps if isinstance(step, Cured)]
    assert waits == ["fresh face", "pot life", "clamp time", "purge", "soak", "cool"]
    assert any(STRUT.station(operation.station).kind == "oven" for operation in STRUT.operations)
