"""What a good machinist looks for in the shipped lists: the order of the work, safety, and figures that agree.

A check without a source beside it is common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest

from floor.checklist.gates import (
    Confirmed,
    Cured,
    FirstPiece,
    Gate,
    LotRecorded,
    Measured,
    Probed,
    Signed,
    Soaked,
    ToolLoaded,
)
from floor.checklist.loading import list_shipped_checklists, load_checklist
from floor.checklist.model import Checklist
from floor.checklist.operation import Do, Operation
from floor.checklist.rules.warnings import is_cut
from floor.checklist.usual_lapses import LAPSES, find_usual_lapses

LOADED = {file.stem: load_checklist(file).checklist for file in list_shipped_checklists()}
CHECKLISTS = {name: checklist for name, checklist in LOADED.items() if checklist is not None}
each = pytest.mark.parametrize("checklist", CHECKLISTS.values(), ids=CHECKLISTS)
PLATE, PIN, STRUT = (CHECKLISTS[name] for name in ("thermal-break-plate", "metering-pin", "bonded-strut"))


def walked(operation: Operation) -> list[Do | Gate]:
    return [step for _, step in operation.numbered_steps]


def place(operation: Operation, words: str) -> int:
    """Where in the walk the one step stands whose title has these words."""
    [found] = [n for n, step in enumerate(walked(operation)) if re.search(words, step.title())]
    return found


def cutting(checklist: Checklist) -> Iterator[Operation]:
    found = [operation for operation in checklist.operations if is_cut(checklist, operation)]
    assert found
    yield from found


def measured(operation: Operation, what: str, at: str = "after") -> Measured:
    [found] = [step for step in operation.steps if isinstance(step, Measured) and what in step.what and step.at == at]
    return found


def number(measure: Any) -> float:
    assert measure is not None
    return float(measure.number)


# --- every machine


@each
def test_the_first_piece_is_accepted_before_the_second_is_cut(checklist: Checklist) -> None:
    """First-article practice: one stops after piece 1 of a set-up, at rest, and goes on once it is accepted."""
    for operation in cutting(checklist):
        [first] = [n for n, step in enumerate(walked(operation)) if isinstance(step, FirstPiece)]
        stop = walked(operation)[first - 1]
        assert isinstance(stop, Confirmed), operation.op
        assert stop.per == "setup", "asked once, as the first piece is"
        assert re.search("first|A1", stop.do), stop.do
        assert re.search(": the (spindle|blade|work) is at rest", stop.do), stop.do
        assert walked(operation)[first].at == stop.at == ("cycle" if operation.cycle else "load")
        assert walked(operation)[first].detail.endswith(("go on", "tabs")), "and then"


@each
def test_a_first_piece_is_accepted_by_values_that_the_load_is_measured_by(checklist: Checklist) -> None:
    """Each value of the drawing that a load is measured by after the cut is one of the first piece's too."""
    for operation in cutting(checklist):
        [first] = [step for step in operation.steps if isinstance(step, FirstPiece)]
        assert first.characteristics, operation.op
        known = {one.number: (one.low, one.high) for one in first.characteristics if one.number is not None}
        for gate in [step for step in operation.steps if isinstance(step, Measured) and step.number in known]:
            limits = known[gate.number or 0]
            assert gate.accept or (gate.low, gate.high) == limits, gate.what


@each
def test_whoever_is_alone_at_night_can_accept_the_first_piece(checklist: Checklist) -> None:
    """With one person on shift, a delayed self-check, recorded as such (self-check practice)."""
    for operation in cutting(checklist):
        [first] = [step for step in operation.steps if isinstance(step, FirstPiece)]
        assert not first.independent or first.self_after is not None, operation.op


@each
def test_nothing_is_touched_before_it_stands_still(checklist: Checklist) -> None:
    for operation in cutting(checklist):
        after = [step for step in walked(operation) if step.at == "after"]
        assert re.match("Wait until .*(spindle|blade|work) stops?", after[0].title()), operation.op


@each
def test_a_door_or_guard_is_shut_again_after_anything_at_the_machine(checklist: Checklist) -> None:
    """29 CFR 1910.212(a)(1), from memory: the guard is in place while it runs, not only when the list was begun."""
    shut = re.compile("Shut the (door|work guard)")
    found = 0
    for operation in cutting(checklist):
        for step in operation.steps:
            if isinstance(step, Do) and shut.match(step.do):
                assert operation.cycle, operation.op
                assert step.lapses_on is None, operation.op
                assert find_usual_lapses(step) == LAPSES, operation.op
                found += 1
    assert found


@each
def test_a_program_is_proved_slowly_before_its_first_start(checklist: Checklist) -> None:
    """Single block and a quarter of the feed, at each set-up; nobody waives it, and nothing turns before it."""
    for operation in checklist.operations:
        if operation.program:
            proof = walked(operation)[place(operation, "single block")]
            assert isinstance(proof, Confirmed)
            assert (proof.at, proof.per, proof.waive) == ("load", "setup", "never")
            [percent] = [int(found) for found in re.findall(r"feed at (\d+) % or less", proof.do)]
            assert percent <= 25
            last = [step for step in walked(operation) if step.at == "load"][-2:]
            assert last[0].title() == "Shut the door"
            assert last[1] is proof, "then the cycle starts"
            assert "has cut this revision before" in proof.detail


@each
def test_the_emergency_stop_is_found_and_the_list_says_who_may_leave(checklist: Checklist) -> None:
    for operation in cutting(checklist):
        said = [step for step in operation.steps if "mergency stop" in step.title() + step.detail]
        assert len(said) == 1, operation.op
        assert re.search("alone|Stay", said[0].detail), said[0].detail


@each
def test_hands_go_in_only_with_the_machine_locked_out(checklist: Checklist) -> None:
    """29 CFR 1910.147(a)(2)(ii): setting up with a guard off or a body part in the danger zone needs lockout."""
    dangerous = re.compile("vise bolt|vee block bolt|collet is changed|wheel guard is open|blade guard is open")
    found = [
        (operation, step)
        for operation in cutting(checklist)
        for step in operation.steps
        if dangerous.search(step.title()) and step.title().startswith("Lock")
    ]
    assert {checklist.station(operation.station).name for operation, _ in found} == {
        checklist.station(operation.station).name
        for operation in cutting(checklist)
        if checklist.carrier(operation.carrier).kind != "pallet"  # a plate is clamped from outside
    }
    for operation, step in found:
        assert (step.at, step.gate, step.waive) == ("setup", "confirmed", "never")  # type: ignore[union-attr]
        assert "1910.147" in step.source  # type: ignore[union-attr]
        setup = [one for one in walked(operation) if one.at == "setup"]
        assert setup[0] is step, "before anything else of the set-up"


@each
def test_a_lock_is_tried_and_taken_off_where_it_was_put_on(checklist: Checklist) -> None:
    """29 CFR 1910.147(d)(6) and (e): nothing moves under the lock; it goes off once hands and wrenches are out."""
    for operation in checklist.operations:
        setup = [step for step in walked(operation) if step.at == "setup"]
        if not any(step.title().startswith("Lock ") for step in setup):
            continue
        on = place(operation, "^Lock ")
        off = place(operation, "(?i)take the lock off")
        tried = walked(operation)[on]
        assert isinstance(tried, Confirmed)
        assert tried.detail == "Then try the start button: nothing moves", operation.op
        assert off > on
        stop = next((n for n, step in enumerate(walked(operation)) if "mergency stop" in step.title()), off + 1)
        assert off < stop or checklist.station(operation.station).id == "saw", "power is on for what follows"


@each
def test_steps_that_keep_a_person_whole_may_not_be_skipped(checklist: Checklist) -> None:
    safe = re.compile("[Ss]hut the|stands? still|respirator|exhaust|HOT tag|rags|shield|Vent the air")
    steps = [step for operation in checklist.operations for step in walked(operation)]
    found = [step for step in steps if isinstance(step, Do) and (safe.search(step.title()) or step.cautions)]
    assert found
    warned = {name for name, caution in checklist.cautions.items() if caution.word == "WARNING"}
    for step in found:
        if safe.search(step.title()) or warned & set(step.cautions):
            assert not step.skip, step.title()


@each
def test_a_hurt_eye_is_a_warning_and_hot_is_read_before_it_is_out(checklist: Checklist) -> None:
    """ANSI Z535.4: the word goes by the worst that can happen; a lost eye is a serious injury."""
    for caution in checklist.cautions.values():
        if re.search("blind|lodge in the eye", caution.consequence):
            assert caution.word == "WARNING", caution.hazard
    for operation in checklist.operations:
        if checklist.station(operation.station).kind == "oven":
            assert operation.end_cautions == ("hot",)


@each
def test_a_tool_has_a_card_worth_showing_and_a_length_with_limits(checklist: Checklist) -> None:
    for tool in checklist.tools:
        assert all((tool.name, tool.diameter, tool.flutes, tool.speed, tool.feed, tool.chip_load, tool.life)), tool.name
    for operation in checklist.operations:
        gates = [step for step in operation.steps if isinstance(step, ToolLoaded)]
        assert {gate.tool for gate in gates} == {use.tool for use in operation.tools}
        for gate in gates:
            [_, length] = gate.asks()
            assert length.unit == ("in" if checklist.part.units == "inch" else "mm")
            assert length.low is not None
            assert length.high is not None
            assert 0 < length.low < length.high


@each
def test_a_reamer_follows_a_drill_that_leaves_it_a_little(checklist: Checklist) -> None:
    """Stock for a reamer of 5 to 6.4 mm: 0.1 to 0.4 mm on the diameter (machining handbooks; from memory)."""
    reamed = 0
    for operation in checklist.operations:
        cards = [checklist.tool(use.tool) for use in operation.tools]
        for n, card in enumerate(cards):
            if card is not None and "eamer" in card.name:
                [drill] = [
                    other for other in cards[:n] if other is not None and re.match(r"Drill|\S+ in drill", other.name)
                ]
                assert card.diameter is not None
                assert drill.diameter is not None
                assert 0.1 <= card.diameter.base - drill.diameter.base <= 0.4, operation.op
                reamed += 1
    assert reamed or checklist is PIN


@each
def test_texts_say_what_is_asked(checklist: Checklist) -> None:
    """Nothing is shown raw or left open: units in every value, a criterion in every look, no answer to a read-back."""
    for operation in checklist.operations:
        for step in walked(operation):
            assert step.title()[0].isupper()
            assert step.title()[-1] not in ".:,"
            if isinstance(step, Do):
                continue
            for ask in step.asks():
                assert "_" not in ask.label
                assert ask.kind != "number" or ask.unit, f"{operation.op} {step.title()}: {ask.label}"
            if isinstance(step, Measured) and step.accept:
                assert step.accept in step.title()
            if isinstance(step, Cured):
                assert step.do or step.clock == "epoxy cure", f"says what is waited for: {step.title()}"
            if step.gate == "program loaded":
                assert operation.program not in step.detail, "the answer does not stand beside the question"
            if isinstance(step, LotRecorded) and re.search("gauge|tester|cell|micrometer|pins", step.what):
                assert step.serial, step.what


@each
def test_warnings_go_with_a_few_steps_and_lists_stay_short(checklist: Checklist) -> None:
    """ "A Checklist for Checklists" (2010): fewer than 10 items for each pause; one caution or two with its step."""
    for operation in checklist.operations:
        cautions = [name for step in operation.steps for name in step.cautions]
        assert len(cautions) <= 6, operation.op


@each
def test_who_must_not_skip_what_kills(checklist: Checklist) -> None:
    for operation in checklist.operations:
        for step in operation.steps:
            if isinstance(step, Confirmed) and re.search("Lock |exhaust|chuck key|wheel|rock|wipes", step.title()):
                assert step.waive == "never" or step.at == "cycle", step.title()


# --- mixes and ovens


@pytest.mark.parametrize(("checklist", "op"), [(PLATE, 20), (STRUT, 30)], ids=["plate", "strut"])
def test_a_mix_lasts_at_the_warm_end_of_the_bench_and_is_near_what_a_load_takes(checklist: Checklist, op: int) -> None:
    """Pot life falls as it gets warmer, and a cure takes longer as it gets colder: both are stated for the range."""
    operation = checklist.ops[op]
    bench = measured(operation, "bench temperature", "load")
    pot_life, cure = operation.clocks
    warm = [float(found) for found in re.findall(r"at (\d+) deg", pot_life.source)]
    cold = [
        float(found)
        for found in re.findall(r"(?:at|to) (\d+) deg|at (\d+) to", cure.source)
        for found in found
        if found
    ]
    assert max(warm) == number(bench.high)
    assert min(cold) == number(bench.low)
    [mix] = [one for one in checklist.consumables if getattr(one, "mix", None) is not None]
    [step] = [step for step in operation.steps if isinstance(step, Do) and step.id == "mix"]
    weighed = [float(found) for found in re.findall(r"([\d.]+) g", step.do)]
    assert sum(weighed) == number(mix.mix)  # type: ignore[union-attr]
    needed = number(mix.each) * checklist.carrier(operation.carrier).capacity / (1 - number(mix.waste) / 100)
    assert needed <= sum(weighed) <= 1.2 * needed


OVENS = pytest.mark.parametrize(("checklist", "op"), [(PLATE, 50), (STRUT, 40)], ids=["plate", "strut"])


@OVENS
def test_the_exhaust_is_proved_and_the_oven_purged_before_the_heat(checklist: Checklist, op: int) -> None:
    """NFPA 86 (from memory): the exhaust is proved, and four volumes of the oven are blown out before the heat."""
    oven = checklist.ops[op]
    before = [step for step in walked(oven) if step.at in ("setup", "load")]
    start, read, wait = before[-3:]
    assert isinstance(start, Do)
    assert (start.id, start.skip) == ("exhaust on", False)
    assert "heat off" in start.do
    assert isinstance(read, Measured)
    assert (read.what, read.waive) == ("exhaust at the stack", "never")
    assert isinstance(wait, Cured)
    assert wait.waive == "never"
    [purge] = [clock for clock in oven.clocks if clock.id == wait.clock]
    assert purge.starts == "step exhaust on"
    assert purge.windows[0].earliest is not None
    volume, flow = (float(found) for found in re.findall(r"([\d.]+) (?:ft\*\*3|m\*\*3|cfm|m\*\*3/min)\b", purge.source))
    assert purge.windows[0].earliest.base / 60 * flow >= 4 * volume
    assert flow <= number(read.low)
    assert not any("bore" in step.title() for step in walked(oven)), "it is reamed later"


@OVENS
def test_the_ovens_plate_is_read_and_stated(checklist: Checklist, op: int) -> None:
    """NFPA 86 and its nameplate (from memory): class A, and within its solvent load, temperature and exhaust."""
    oven, station = checklist.ops[op], checklist.station(checklist.ops[op].station)
    asked = [step for step in walked(oven) if step.at == "setup"]
    assert {(step.per, step.waive) for step in asked if isinstance(step, Confirmed | Measured)} == {("setup", "never")}
    [kind] = [step for step in asked if "class A" in step.title()]
    assert isinstance(kind, Confirmed)
    assert station.oven_class == "A"
    solvent, heat, exhaust = (
        measured(oven, f"{what} on", "setup") for what in ("solvent load", "temperature", "exhaust")
    )
    assert all(gate.of == "station" for gate in (solvent, heat, exhaust))
    [wiped] = [one for one in checklist.consumables if one.what in ("Isopropyl alcohol", "Acetone")]
    load = 1 if wiped.per == "load" else checklist.carrier(oven.carrier).capacity  # type: ignore[union-attr]
    assert number(solvent.low) >= load * wiped.each.base  # type: ignore[union-attr]
    assert station.solvent_limit is not None
    assert station.solvent_limit.base >= number(solvent.low)
    assert number(heat.low) >= number(measured(oven, "cut-out", "load").high)
    assert station.temperature_limit is not None
    assert station.temperature_limit.number >= number(heat.low)
    assert exhaust.high == station.exhaust == measured(oven, "at the stack", "load").low, (
        "what is asked is what is read"
    )


@OVENS
def test_the_cut_out_is_apart_from_the_controller_and_reset_by_hand(checklist: Checklist, op: int) -> None:
    """NFPA 86 (from memory): an over-temperature limit of its own, reset by hand; above the bake, read each time."""
    oven = checklist.ops[op]
    found = walked(oven)[place(oven, "cut-out: separate from the controller, manual reset")]
    assert isinstance(found, Confirmed)
    assert found.waive == "never"
    setting = measured(oven, "cut-out setting", "load")
    [soak] = [step for step in oven.steps if isinstance(step, Soaked)]
    assert number(soak.high) < number(setting.low)
    assert setting.waive == "never"


@OVENS
def test_hot_work_is_tagged_gloved_and_cooled_before_hands(checklist: Checklist, op: int) -> None:
    """ISO 13732-1, burn thresholds: metal of 65 degC burns in a second; here nobody has to guess that it is hot."""
    oven = checklist.ops[op]
    caution = checklist.cautions["hot"]
    assert oven.end_cautions == ("hot",)
    assert "heat gloves" in caution.avoid
    tag = next(step for step in walked(oven) if step.at == "after")
    assert isinstance(tag, Do)
    assert re.search("Hang the HOT tag .* with the time out", tag.do)
    assert not tag.skip
    following = next(operation for operation in checklist.operations if operation.op > op)
    first = walked(following)[0]
    assert isinstance(first, Cured)
    assert first.cautions == ("hot",)
    [cool] = [clock for clock in oven.clocks if clock.id == first.clock]
    assert cool.starts == "end"
    assert cool.windows[0].earliest is not None
    assert cool.windows[0].earliest.base >= 45 * 60
    assert f"{cool.windows[0].earliest}" in caution.avoid


@pytest.mark.parametrize("op", [70, 80])
def test_the_booth_is_cleared_before_the_mask_comes_off_and_the_exhaust_runs_on(op: int) -> None:
    """HSE, COSHH essentials MR2: clearance time, 1 to 5 min in a booth, measured, shown at the door and waited out;
    exhaust as long as anybody is inside."""
    coat = PLATE.ops[op]
    assert place(coat, "exhaust running") > place(coat, "Keep the respirator on") > place(coat, "^Spray")
    [spray] = [step for step in walked(coat) if isinstance(step, Do) and step.do.startswith("Spray")]
    [clear] = [clock for clock in coat.clocks if "clear" in clock.id]
    assert clear.starts == f"step {spray.id}"
    assert clear.windows[0].earliest is not None
    assert 60 <= clear.windows[0].earliest.base <= 1800
    assert "smoke trial" in clear.source
    [gate] = [step for step in coat.steps if isinstance(step, Cured) and step.clock == clear.id]
    assert (gate.at, gate.waive) == ("after", "never")
    shown = measured(coat, "clearance time on the booth's door", "setup")
    assert str(shown.high) == str(clear.windows[0].earliest), "what the door says is what is waited"
    assert shown.waive == "never"
    sign = walked(coat)[place(coat, "door sign")]
    assert isinstance(sign, Do)
    assert not sign.skip
    assert f"{clear.windows[0].earliest}" in sign.do
    assert place(coat, "door sign") < place(coat, "Keep the respirator on")


BOOTH_LOOKS = [
    # 29 CFR 1910.107(c), from memory: no smoking, by signs; no spark or flame within 20 ft; in the set area only
    ("NO SMOKING sign up, no spark within 20 ft", "Spray in the booth only"),
    # 29 CFR 1910.107(c)(9), from memory: metal parts of the booth, and what hangs in it, grounded
    ("ground straps: booth and rack are bonded", ""),
    # 29 CFR 1910.107(b)(5), from memory: filters looked at, and the air read
    ("filters: all in place, none clogged", ""),
    # 29 CFR 1910.107(e), from memory: at the booth no more than a shift's supply, closed
    ("liquids for one shift, every can closed", ""),
]


@pytest.mark.parametrize("op", [70, 80])
@pytest.mark.parametrize(("words", "detail"), BOOTH_LOOKS, ids=[words for words, _ in BOOTH_LOOKS])
def test_the_booth_is_looked_over_each_shift_before_anything_is_sprayed(op: int, words: str, detail: str) -> None:
    look = walked(PLATE.ops[op])[place(PLATE.ops[op], words)]
    assert isinstance(look, Confirmed)
    assert (look.at, look.per, look.waive) == ("setup", "shift", "never")
    assert detail in look.detail
    assert "1910.107" in look.source
    air = measured(PLATE.ops[op], "booth air speed", "setup")
    assert air.low is not None
    assert (air.low.text, air.waive) == ("100 ft/min", "never")


@pytest.mark.parametrize("op", [70, 80])
def test_a_wet_rack_dries_in_moving_air_where_no_spray_falls_on_it(op: int) -> None:
    """29 CFR 1910.107(j), from memory: the drying space is ventilated, and nothing is sprayed onto it."""
    hang = walked(PLATE.ops[op])[place(PLATE.ops[op], "vented drying bay, out of the spray")]
    assert isinstance(hang, Do)
    assert (hang.at, hang.skip) == ("after", False)


def test_overspray_is_scraped_off_with_brass() -> None:
    """29 CFR 1910.107(g), from memory: residue by tools that do not spark."""
    scrape = walked(PLATE.ops[80])[place(PLATE.ops[80], "overspray")]
    assert isinstance(scrape, Do)
    assert "brass scraper" in scrape.do
    assert not scrape.skip


# --- the plate


def test_the_o_ring_is_squeezed() -> None:
    """AS568 size -012 is 0.070 in thick; a static face seal of it is squeezed by 19 to 32 % (handbook, from memory)."""
    seat = measured(PLATE.ops[60], "seat depth")
    for depth in (number(seat.low), number(seat.high)):
        assert 0.19 <= (0.070 - depth) / 0.070 <= 0.32
    assert "-012" in next(one.what for one in PLATE.consumables if "O-ring" in one.what)


def test_the_bridge_left_by_the_grooves_adds_up() -> None:
    """0.375 in plate less a groove of at most 0.284 in leaves 0.091 in to cut away from the other side."""
    groove = measured(PLATE.ops[10], "groove depth")
    assert "0.375 in" in PLATE.part.material
    assert 0.375 - number(groove.high) == pytest.approx(0.091)
    [first] = [step for step in PLATE.ops[10].steps if isinstance(step, FirstPiece)]
    [depth] = [one for one in first.characteristics if one.what == groove.what]
    assert (depth.low, depth.high, depth.number) == (groove.low, groove.high, groove.number)


def test_a_groove_takes_what_is_mixed_for_it() -> None:
    """Width x depth x length, poured proud, times the density of the data sheet; 1 in3 is 16.387 ml."""
    [epoxy] = [one for one in PLATE.consumables if "epoxy" in one.what]
    width, depth, length, proud, density = map(float, re.findall(r"([\d.]+) (?:x|in|g/ml)(?=\W|$)", epoxy.source))
    groove = measured(PLATE.ops[10], "groove depth")
    assert number(groove.low) <= depth <= number(groove.high)
    each = width * (depth + proud) * length * 16.387 * density
    assert number(epoxy.each) == pytest.approx(each, abs=0.05)  # type: ignore[union-attr]


def test_the_wet_coat_dries_to_what_is_asked() -> None:
    """Dry film = wet film x volume solids (ISO 2808 and coating guides)."""
    [enamel] = [one for one in PLATE.consumables if one.what == "Enamel"]
    solids = number(enamel.solids) / 100  # type: ignore[union-attr]
    [spray] = [step for step in PLATE.ops[70].steps if step.title().startswith("Spray")]
    wet = [float(found) for found in re.findall(r"0\.\d+", spray.title())]
    coat = measured(PLATE.ops[90], "coat thickness", "load")
    dry = [number(coat.low) / 2, number(coat.high) / 2]
    assert [one * solids for one in wet] == pytest.approx(dry, abs=0.00003)


# --- the pin


def test_the_wheel_is_rung_marked_mounted_guarded_run_and_dressed_in_this_order() -> None:
    """29 CFR 1910.215(d)(1): ring test and marked speed before mounting; guard shut before it turns."""
    grinding = PIN.ops[50]
    order = [
        "Lock",
        "rings clear",
        "speed marked",
        "Mount",
        "Shut the wheel guard",
        "one minute",
        "Aim",
        "Dress",
        "Clamp",
    ]
    places = [place(grinding, words) for words in order]
    assert places == sorted(places)
    marked = measured(grinding, "speed marked", "setup")
    limit = PIN.station(grinding.station).speed_limit
    assert marked.low is not None
    assert limit is not None
    assert marked.low.number >= limit.base, "never below what the spindle turns"
    assert marked.waive == "never"


def test_the_bar_is_in_and_the_key_out_before_the_face_is_probed() -> None:
    turning = PIN.ops[10]
    [probe] = [n for n, step in enumerate(walked(turning)) if isinstance(step, Probed)]
    assert place(turning, "Push the bar") < place(turning, "chuck key") < probe < place(turning, "Shut the door")


def test_a_bar_gives_a_tray_of_pins_so_that_none_goes_in_while_the_feeder_runs_alone() -> None:
    [bar] = [one for one in PIN.consumables if "bar" in one.what]
    pins = PIN.carrier(PIN.ops[10].carrier).capacity
    assert pins * bar.each.base / (1 - number(bar.waste) / 100) <= bar.package.base  # type: ignore[union-attr]
    [lot] = [step for step in PIN.ops[10].steps if isinstance(step, LotRecorded)]
    assert lot.per == "load"


def test_hardness_tells_an_aged_pin_from_an_unaged_one_and_the_dent_is_ground_away() -> None:
    """ISO 6508-1: a dent is (100 - HR15N) x 0.001 mm deep; in HRC it would be (100 - HRC) x 0.002 mm (definitions)."""
    before, after = measured(PIN.ops[10], "hardness", "arrive"), measured(PIN.ops[40], "hardness")
    assert number(after.low) > number(before.high)
    stock = (number(measured(PIN.ops[10], "stem").low) - number(measured(PIN.ops[50], "stem").high)) / 2
    assert (100 - number(before.high) + 2) * 0.001 < stock
    assert stock < (100 - 37) * 0.002, "the C scale would leave a dent"
    assert all("Round-work correction" in gate.detail for gate in (before, after))


def test_tint_goes_before_the_acid_and_the_acid_is_verified() -> None:
    """ASTM A967 (from memory): clean, free of scale; then verified by one of its test practices."""
    tint = next(operation for operation in PIN.operations if "tint" in operation.title)
    assert 40 < tint.op < 60
    [test] = [step for step in PIN.ops[60].steps if isinstance(step, Measured) and step.accept]
    assert "A967" in test.source
    assert test.at == "after"
    assert test.waive == "lead and second"


# --- the strut


def test_tubes_and_ends_are_both_prepared_and_a_spoiled_face_goes_back_unglued() -> None:
    """ASTM D2093 and D2651 in kind: degrease, abrade, degrease, and a film of water that holds."""
    prepared = STRUT.ops[20]
    order = ["Wipe the bond faces", "inside each tube", "spigot of each end", "Wet one tube and one end", "white wipe"]
    places = [place(prepared, words) for words in order]
    assert places == sorted(places)
    assert [
        operation.op for operation in STRUT.operations for one in operation.reasons if one.rework == "abrade again"
    ] == [20]


def test_each_load_of_struts_has_its_own_tubes_ends_and_paste() -> None:
    """ISO 9001:2015 8.5.2: a lot asked once a batch would be taken for every load of it."""
    lots = {
        step.what: step.per
        for operation in STRUT.operations
        for step in operation.steps
        if isinstance(step, LotRecorded) and not step.serial
    }
    assert lots == {"carbon tube": "load", "aluminum ends": "load", "epoxy paste (resin and hardener set)": "load"}


@pytest.mark.parametrize(
    ("checklist", "material"),
    [(PLATE, "6061-T651 plate (heat number)"), (PIN, "17-4 PH bar (heat number)"), (STRUT, "carbon tube")],
)
def test_a_new_lot_of_stock_asks_for_another_first_piece(checklist: Checklist, material: str) -> None:
    """REC-25; common practice, no source: another heat or lay-up may cut and spring otherwise."""
    [first] = [step for step in checklist.operations[0].steps if isinstance(step, FirstPiece)]
    assert first.again_for == (material,)


def test_the_no_go_gauge_is_the_upper_limit_of_the_fit() -> None:
    """ISO 286-2: 5 H7 is 5.000 to 5.012 mm."""
    drilling = STRUT.ops[50]
    [first] = [step for step in drilling.steps if isinstance(step, FirstPiece)]
    assert first.characteristics[0].accept == "5.000 mm pin goes, 5.012 mm pin does not"
    names = [STRUT.tool(use.tool).name for use in drilling.tools]  # type: ignore[union-attr]
    assert [name.split(",")[0] for name in names] == ["Spotting drill", "Drill", "Reamer"], "a round end is spotted"
    assert place(drilling, "Break both edges") > place(drilling, "distance between")


@each
def test_no_shipped_rework_is_done_to_a_piece_twice_unless_a_lead_sends_it(checklist: Checklist) -> None:
    """REC-21; common practice, no source: what a rework did not mend at once is looked at before it is done again."""
    assert {route.id: route.passes for route in checklist.reworks} == dict.fromkeys(
        (route.id for route in checklist.reworks), 1
    )


def test_signatures_have_a_way_out_for_one_person() -> None:
    for checklist in CHECKLISTS.values():
        for operation in checklist.operations:
            for step in operation.steps:
                assert not isinstance(step, Signed) or step.self_after is not None, step.title()


def test_limits_keep_the_decimal_places_of_the_drawing() -> None:
    """A limit of 7.990 mm says how fine to measure; 7.99 mm does not (ASME Y14.5, as usual on drawings)."""
    stem, seat = measured(PIN.ops[50], "stem diameter"), measured(PLATE.ops[60], "seat depth")
    [bore] = [step for step in PLATE.ops[60].steps if isinstance(step, Measured) and "bore" in step.what]
    probe = next(step for step in PIN.ops[10].steps if isinstance(step, Probed))
    assert [gate.asks()[0].band for gate in (stem, seat, bore, probe)] == [
        "7.990 to 8.000 mm",
        "0.050 to 0.054 in",
        "0.2500 to 0.2506 in",
        "-182 to -178 mm",
    ]
