"""What the cautions and the last looks of the shipped checklists must say, each beside the rule that it follows."""

from __future__ import annotations

import re

import pytest

from floor.checklist.gates import (
    Confirmed,
    Counted,
    Cured,
    FirstPiece,
    Gate,
    LotRecorded,
    Measured,
    Signed,
    ToolLoaded,
    WorkHeld,
)
from floor.checklist.loading import list_shipped_checklists, load_checklist
from floor.checklist.model import Checklist
from floor.checklist.operation import Do, Operation
from floor.checklist.rules.warnings import is_cut
from floor.checklist.step_references import describe_missing_guard

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
    # 29 CFR 1910.242(b), below 30 psi with chip guarding and safety glasses on; OSHA: never toward a person
    (PLATE, "air", r"\bblow\b|Blow", ("below 30 psi", "chip guard", "safety glasses on", "never toward a person")),
    # Common practice, no source: fresh edges and cutters cut at rest; gloves only at a spindle that stands still
    (PLATE, "edge", r"tool \d|[Bb]reak the", ("rag or holder", "cut-resistant gloves only with the spindle off")),
    # Dust-safety case account: aluminum fines with water in a closed vessel give off hydrogen
    (PLATE, "fines", r"Vacuum", ("No sparks", "dry, aluminum-rated vacuum", "emptied daily", "Class D extinguisher")),
    # 29 CFR 1910.107(g)(3), from memory: solvent rags into a closed metal can, emptied daily
    (PLATE, "rags", r"Drop the rags", ("closed metal can", "emptied at the end of each day")),
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


# --- at the machines


def steps_of(operation: Operation) -> list[Do | Gate]:
    return [step for _, step in operation.numbered_steps]


def find(operation: Operation, words: str) -> int:
    """Where in the walk the one step stands whose title has these words."""
    [found] = [n for n, step in enumerate(steps_of(operation)) if re.search(words, step.title())]
    return found


def told(checklist: Checklist, operation: Operation) -> str:
    """How to avoid what its cautions warn of, on steps and on the lines that start, end and count."""
    names = {name for step in operation.steps for name in step.cautions}
    names.update(*operation.event_cautions.values())
    return " | ".join(checklist.cautions[name].avoid for name in sorted(names))


def programmed(checklist: Checklist) -> list[Operation]:
    found = [operation for operation in checklist.operations if operation.program]
    assert found
    return found


@each
def test_nothing_that_can_be_caught_is_worn_at_a_turning_spindle(checklist: Checklist) -> None:
    """Common practice, no source: gloves, rings, watch, sleeves and hair are caught and wound up."""
    for operation in checklist.operations:
        if is_cut(checklist, operation):
            said = told(checklist, operation)
            assert re.search("[Nn]o gloves, rings, watch, loose sleeves or hair", said), operation.op


EYES = re.compile(r"safety glasses|eye protection|goggles|Keep the cabinet shut|cover open")
"""Covered, or shut in behind a cover."""


@each
def test_eyes_are_covered_at_each_cut_blow_deburring_and_spraying(checklist: Checklist) -> None:
    """29 CFR 1910.133, from memory: safety glasses on wherever something flies."""
    flies = re.compile(
        r"^(Blow|Blast|Saw|Spray|File|Break|Run the brush|Open the void|Shut the shield|Abrade .* inside)"
    )
    steps = [step for operation in checklist.operations for step in operation.steps]
    steps += [step for rework in checklist.reworks for step in rework.steps]
    found = [step for step in steps if flies.search(step.title())]
    assert found
    for step in found:
        cautions = [checklist.cautions[name] for name in step.cautions]
        if step.title().startswith("Saw"):  # the water is run under the caution that names the goggles
            cautions = [checklist.cautions["sawing"]]
        assert any(EYES.search(one.avoid) and "eyes" in one.about for one in cautions), step.title()
    for operation in checklist.operations:
        if is_cut(checklist, operation):
            assert EYES.search(told(checklist, operation)), operation.op


@each
def test_chips_and_hot_work_are_taken_with_a_tool_at_rest(checklist: Checklist) -> None:
    """Common practice, no source: brush, hook or vacuum with the spindle at rest, never fingers; it is hot, too."""
    for operation in programmed(checklist):
        assert operation.end_cautions == ("chips",), operation.op
    chips = checklist.cautions["chips"]
    assert "hot and sharp right after the cut" in chips.hazard
    assert re.search("brush", chips.avoid)
    assert "spindle at rest, never fingers" in chips.avoid


@each
def test_tools_are_changed_with_the_spindle_held_or_under_lockout(checklist: Checklist) -> None:
    """29 CFR 1910.147(a)(2)(ii), note, from memory: without lockout only if routine and protected otherwise."""
    for operation in programmed(checklist):
        tried = steps_of(operation)[find(operation, "cycle start with the door open: nothing turns")]
        assert isinstance(tried, Confirmed)
        assert (tried.per, tried.waive) == ("shift", "never")
        assert "lock the machine out for each tool change" in tried.detail
        first = next(n for n, step in enumerate(steps_of(operation)) if isinstance(step, ToolLoaded))
        assert find(operation, "nothing turns") < first, operation.op


@each
def test_hands_are_out_before_anything_moves_and_nothing_lies_loose(checklist: Checklist) -> None:
    """Common practice, no source: 12 in from the cutter, nothing adjusted in motion, the table bare."""
    moving = checklist.cautions["moving"]
    assert moving.word == "WARNING"
    assert "jogged" in moving.hazard
    assert re.search("hands (12 in|300 mm) away; adjust nothing while it moves or turns", moving.avoid)
    for operation in programmed(checklist):
        if operation.op != 40:  # probed there again only if the plate was lifted since
            assert any("moving" in step.cautions for step in operation.steps), operation.op
        if checklist.carrier(operation.carrier).holds_fast:
            look = steps_of(operation)[find(operation, "^Look over the table: .*nothing loose on it")]
            assert look.waive == "never" if isinstance(look, Confirmed) else not look.skip  # type: ignore[union-attr]
            assert find(operation, "nothing loose on it") < find(operation, "Shut the door")


@each
def test_work_in_a_vise_is_wiped_seated_tight_firm_and_the_handle_off(checklist: Checklist) -> None:
    """Common practice, no source: in this order, and none of it is got round."""
    held = [one for one in programmed(checklist) if checklist.carrier(one.carrier).kind == "vise"]
    assert held
    for operation in held:
        order = ["^Wipe the (jaws|vees)", "^Seat ", "^Tighten the", "^Push each .* rocks", "wrench off the"]
        places = [find(operation, words) for words in order]
        assert places == sorted(places), operation.op
        for place in places:
            step = steps_of(operation)[place]
            assert not step.skip if isinstance(step, Do) else step.waive == "never", step.title()
        assert isinstance(steps_of(operation)[places[2]], WorkHeld)


def test_before_the_second_side_burrs_are_off_the_face_is_right_and_stock_is_left() -> None:
    """The job: what lies on a burr or wrong way up is cut into; what is too thin is not cleaned up."""
    for op, burrs, face in ((30, "^Feel the first side: burrs off", "Turn the plate over: notch at the rear left pin"),
                            (60, "^Feel the edges: burrs", "Seat four pieces .*: groove side up")):  # fmt: skip
        cut = CHECKLISTS[PLATE].ops[op]
        for words in (burrs, face):
            gate = steps_of(cut)[find(cut, words)]
            assert isinstance(gate, Confirmed)
            assert gate.waive == "never"
        [thickness] = [one for one in cut.steps if isinstance(one, Measured) and one.at == "arrive"]
        assert "stock is left" in thickness.do
        assert thickness.low is not None
        assert thickness.low.number > 0.362, "more than the thickest finished piece"


def test_tabs_hold_the_pieces_and_everybody_stands_clear_till_it_stops() -> None:
    """Common practice, no source: pieces come free in the last pass of a profile."""
    profile = CHECKLISTS[PLATE].ops[40]
    tabs = steps_of(profile)[find(profile, "tabs on the control: three per piece")]
    assert isinstance(tabs, Confirmed)
    assert tabs.waive == "never"
    [first] = [step for step in profile.steps if isinstance(step, FirstPiece)]
    assert [one.accept for one in first.characteristics if one.what == "tabs"] == [
        "three, whole, the piece does not move"
    ]
    door = steps_of(profile)[find(profile, "Shut the door")]
    assert "free" in door.cautions
    assert (
        CHECKLISTS[PLATE].cautions["free"].avoid.startswith("Stand clear; keep the door shut until the spindle stops")
    )
    opened = steps_of(profile)[find(profile, "^Wait until the spindle stops before opening the door")]
    assert not opened.skip  # type: ignore[union-attr]


@each
def test_who_works_with_coolant_is_told_of_skin_and_lungs(checklist: Checklist) -> None:
    """HSE, metalworking fluids, from memory: extraction, no food, report a rash or cough."""
    wet = [operation for operation in checklist.operations if operation.coolant in ("mist", "flood")]
    assert len(wet) == (3 if checklist is CHECKLISTS[PIN] else 0)
    for operation in wet:
        said = told(checklist, operation)
        for words in ("extraction", "no food", "report a rash or cough"):
            assert words in said, operation.op
    assert all(operation.coolant for operation in programmed(checklist)), "wet or dry is stated"


LOUD = [(PLATE, 10), (PLATE, 30), (PLATE, 40), (PIN, 45), (STRUT, 10)]


@pytest.mark.parametrize(("name", "op"), LOUD)
def test_ears_are_covered_where_it_is_loud(name: str, op: int) -> None:
    """29 CFR 1910.95, from memory: at 85 dBA over 8 h; a router with its vacuum, blasting and sawing reach it."""
    checklist = CHECKLISTS[name]
    operation = checklist.ops[op]
    noise = checklist.cautions["noise"]
    assert "85 dBA" in noise.hazard
    assert noise.avoid.startswith("Wear hearing protection")
    assert "noise" in {*operation.start_cautions, *(name for step in operation.steps for name in step.cautions)}


# --- aluminum, bench, solvents


def test_aluminum_is_cut_into_chips_not_dust_and_taken_away_each_day() -> None:
    """NFPA 484, from memory: coarse chips, no sparks, cleaned daily."""
    for op in (10, 30):
        router = CHECKLISTS[PLATE].ops[op]
        empty = steps_of(router)[find(router, "vacuum: emptied since yesterday")]
        assert isinstance(empty, Confirmed)
        assert (empty.per, empty.waive) == ("shift", "never")
    grooves = CHECKLISTS[PLATE].ops[10]
    watch = steps_of(grooves)[find(grooves, "chips fall coarse and bright, no dust")]
    assert isinstance(watch, Do)
    assert not watch.skip


@pytest.mark.parametrize(("name", "op"), [(PLATE, 40), (PLATE, 60), (STRUT, 20)])
def test_no_steel_is_ground_on_the_bench_for_aluminum(name: str, op: int) -> None:
    """NFPA 484, from memory; OSHA letter of 23 May 2016: a bench for one metal, cleaned each shift."""
    operation = CHECKLISTS[name].ops[op]
    look = steps_of(operation)[find(operation, "^Look over the bench: .*no steel ground here")]
    assert isinstance(look, Confirmed)
    assert (look.per, look.waive) == ("shift", "never")
    first = next(n for n, step in enumerate(steps_of(operation)) if re.search("^(Break|File|Abrade)", step.title()))
    assert find(operation, "no steel ground") < first


def test_what_is_deburred_sits_in_a_holder_and_the_file_has_a_handle() -> None:
    """Common practice, no source."""
    said = CHECKLISTS[PLATE].cautions["deburr"]
    assert "handle on the file; piece in the holder, not in fingers" in said.avoid
    for op, words in ((40, "^File each"), (60, "^Break the edges")):
        step = steps_of(CHECKLISTS[PLATE].ops[op])[find(CHECKLISTS[PLATE].ops[op], words)]
        assert step.cautions == ("deburr",)
    for name in (PIN, STRUT):
        assert "in the holder, safety glasses on" in CHECKLISTS[name].cautions["burr"].avoid


@pytest.mark.parametrize("name", [PLATE, STRUT])
def test_solvent_has_no_spark_near_and_is_gone_before_the_next_work(name: str) -> None:
    """29 CFR 1910.106 and NFPA 86, from memory: vapor gone before it is closed in, cut or heated."""
    checklist = CHECKLISTS[name]
    wipes = re.compile("isopropyl|acetone")
    for step in [step for operation in checklist.operations for step in operation.steps if wipes.search(step.title())]:
        assert any("o sparks" in checklist.cautions[one].avoid for one in step.cautions), step.title()
        assert isinstance(step, Do)
        assert not step.skip
    oven = next(one for one in checklist.operations if checklist.station(one.station).kind == "oven")
    look = steps_of(oven)[find(oven, "^Look for wipes, .*: none")]
    assert isinstance(look, Confirmed)
    assert look.waive == "never"


def test_alcohol_is_gone_before_the_groove_is_closed() -> None:
    """NFPA 86, from memory: vapor comes also from what was wiped and shut in."""
    pour = CHECKLISTS[PLATE].ops[20]
    gone = steps_of(pour)[find(pour, "no smell of alcohol")]
    assert isinstance(gone, Confirmed)
    assert gone.waive == "never"
    assert find(pour, "isopropyl") < find(pour, "no smell of alcohol") < find(pour, "^Pour every groove")
    cured = next(step for step in steps_of(CHECKLISTS[PLATE].ops[30]) if isinstance(step, Cured))
    assert cured.clock == "epoxy cure", "a day before it is cut"


def test_acetone_is_gone_before_the_joint_is_closed() -> None:
    """Adhesive data sheets, from memory: solvent gone before the paste is spread."""
    wiped = CHECKLISTS[STRUT].ops[20]
    last = steps_of(wiped)[find(wiped, "white wipe")]
    assert isinstance(last, Do)
    [timer] = [one for one in wiped.clocks if one.starts == f"step {last.id}"]
    assert timer.windows[0].earliest is not None
    assert timer.windows[0].earliest.base >= 600
    first = steps_of(CHECKLISTS[STRUT].ops[30])[0]
    assert isinstance(first, Cured)
    assert first.clock == timer.id


SHEETS = [
    (PLATE, 20, "epoxy"),
    (PLATE, 20, "isopropyl"),
    (PLATE, 70, "enamel"),
    (PLATE, 80, "enamel"),
    (PIN, 60, "citric acid bath"),
    (PIN, 60, "copper sulfate"),
    (STRUT, 20, "acetone"),
    (STRUT, 30, "epoxy paste"),
]


@pytest.mark.parametrize(("name", "op", "what"), SHEETS)
def test_where_the_data_sheet_hangs_and_the_main_hazard_stand_at_the_step(name: str, op: int, what: str) -> None:
    """29 CFR 1910.1200, from memory: at hand in the work area during each shift."""
    named = [
        step
        for step in CHECKLISTS[name].ops[op].steps
        if what in step.title() and (isinstance(step, LotRecorded | Measured) or "Wipe" in step.title())
    ]
    assert named
    for step in named:
        assert re.fullmatch("Safety data sheet: (red|blue) binder [a-z ]+; main hazard: [a-z ]+", step.detail), (
            step.detail
        )


@pytest.mark.parametrize(("name", "op", "mix"), [(PLATE, 20, 36), (STRUT, 30, 24)], ids=[PLATE, STRUT])
def test_a_mix_past_its_pot_life_is_scrap_and_its_weight_is_on_record(name: str, op: int, mix: int) -> None:
    """Data sheets of two-part coatings and adhesives: past the pot life it is thrown away."""
    operation = CHECKLISTS[name].ops[op]
    [pot_life] = [one for one in operation.clocks if one.id == "pot life"]
    assert pot_life.windows[0].latest is not None
    warned = [step for step in operation.steps if "stale" in step.cautions]
    assert [step.at for step in warned] == ["load"]
    assert f"Past {pot_life.windows[0].latest.base / 60:g} min" in CHECKLISTS[name].cautions["stale"].avoid
    [weighed] = [step for step in operation.steps if isinstance(step, Measured) and "scrapped" in step.what]
    assert (weighed.at, weighed.of) == ("after", "station")
    assert weighed.high is not None
    assert weighed.high.number >= mix, "all of a mix can be scrap"
    assert weighed.high.unit == "g"


# --- the words of a caution

STANDS = re.compile(
    "Apply|Bar|Brush|Cut only|Drill only|Dry|Extraction|Exhaust|Eye|Joint|Keep|No|Past|Pin|Stand|Stay|Strut|Use|Wear"
)
"""How to avoid begins with what goes on all the while, or must not be; an act done once is a step."""


@each
def test_no_act_hides_in_a_caution(checklist: Checklist) -> None:
    """DOE-STD-1029-92, from memory: a caution holds no action; the action is a step of its own."""
    acts = {
        step.title().split()[0]
        for operation in checklist.operations
        for step in operation.steps
        if isinstance(step, Do)
    }
    goes_on = {"Keep", "Stand", "Dry", "Run", "Cut", "Watch"}  # or is a thing: a dry part, a watch on the wrist
    for name, caution in checklist.cautions.items():
        assert STANDS.match(caution.avoid), f"{name}: {caution.avoid}"
        for clause in re.split("[;,] ", caution.avoid):
            first = clause.split()[0]
            assert first.capitalize() not in acts - goes_on, f"{name}: {clause}"


STANDS_IN = [
    (PLATE, "noise"),
    (PLATE, "tabs"),
    (PIN, "whip"),
    (PIN, "noise"),
    (STRUT, "dust"),
    (STRUT, "sawing"),
    (STRUT, "noise"),
]


@pytest.mark.parametrize(("name", "caution"), STANDS_IN)
def test_a_caution_that_stands_in_for_a_missing_guard_says_what_is_wanted(name: str, caution: str) -> None:
    """ISO 45001:2018 8.1.2, from memory: what a person wears or minds comes after what encloses and draws off."""
    said = CHECKLISTS[name].cautions[caution]
    assert re.search("enclosure|shear|fence|hood|bench|cabinet", said.wanted)
    assert describe_missing_guard(said) == f"Not fitted here yet: {said.wanted}"


def test_a_caution_that_is_all_a_guard_could_do_names_none() -> None:
    assert describe_missing_guard(CHECKLISTS[PLATE].cautions["cutter"]) == ""
