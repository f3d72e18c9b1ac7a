"""What follows from a checklist: places, legs, the order of the walk, planned times, and what a form asks."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from floor.checklist import gates
from floor.checklist.equipment import Carrier, Station
from floor.checklist.frozen import freeze_checklist, thaw_checklist
from floor.checklist.gates import Measured
from floor.checklist.loading import read_checklist
from floor.checklist.model import Checklist
from floor.checklist.step_references import describe_gauge
from floor.checklist.units import Measure, read_measure
from tests.batch.factory import BY_HAND, by_hand, edited, part, two_up

RIGHT = (Path(__file__).parent / "right.toml").read_text()


def checklist(*edits: tuple[str, str]) -> Checklist:
    text = RIGHT
    for old, new in edits:
        assert old in text
        text = text.replace(old, new, 1)
    loaded = read_checklist(text, "x.toml")
    assert loaded.checklist is not None, loaded.problems
    return loaded.checklist


def test_places_are_named_row_by_row() -> None:
    assert checklist().carrier("pallet").positions == ("A1", "A2", "A3", "B1", "B2", "B3")
    assert checklist().carrier("tote").positions == ()


def test_a_short_last_row_leaves_out_its_end() -> None:
    tray = Carrier(id="t", name="Tray", kind="tray", capacity=5, rows=2, columns=3, count=1)

    assert tray.positions == ("A1", "A2", "A3", "B1", "B2")


def test_a_leg_ends_where_the_carrier_changes_or_pieces_regroup() -> None:
    assert [leg.ops for leg in checklist().legs] == [(10, 20), (30,)]
    regrouped = checklist(("cycle = false", "cycle = false\nregroup = true"))
    assert [leg.ops for leg in regrouped.legs] == [(10,), (20,), (30,)]
    assert regrouped.leg_of(20).carrier == "pallet"


def test_the_walk_follows_phases_and_every_step_has_one_name() -> None:
    walk = checklist(('{ gate = "program loaded" },', '{ do = "Sign on", at = "after" }, { gate = "program loaded" },'))

    assert [key for key, _ in walk.ops[10].numbered_steps] == [
        "program loaded 1",
        "tool loaded 1",
        "probed 1",
        "after step 1",
        "measured 1",
    ]
    assert [key for key, _ in walk.ops[20].numbered_steps] == ["mix", "cured 1", "fill"]


def test_operations_follow_one_another() -> None:
    assert [checklist().after(op) for op in (10, 20, 30)] == [20, 30, None]


def test_planned_times_add_what_a_load_and_what_each_piece_takes() -> None:
    time = checklist(('{ before_piece = "1 min" }', '{ before = "5 min", before_piece = "1.5 min" }')).ops[20].time

    assert time.seconds("before", 6) == pytest.approx(300 + 6 * 90)
    assert time.seconds("cycle", 6) == 0


def test_a_clock_is_found_with_the_operation_that_starts_it() -> None:
    found = checklist().clock("cure")

    assert found is not None
    assert (found[0].op, found[1].starts) == (20, "step fill")
    assert checklist().clock("none") is None


def test_forms_ask_within_the_limits_of_the_file() -> None:
    steps = dict(checklist().ops[10].numbered_steps)

    (probed,) = steps["probed 1"].asks()  # type: ignore[union-attr]
    (measured,) = steps["measured 1"].asks()  # type: ignore[union-attr]

    assert (probed.label, probed.band) == ("G54 Z", "-5.1 to -4.9 in")
    assert (measured.low, measured.high, measured.unit) == (0.19, 0.21, "in")


@pytest.mark.parametrize(("low", "high", "band"), [
    ("0.100 mm", None, "at least 0.100 mm"),
    (None, "0.100 mm", "at most 0.100 mm"),
    ("0.100 mm", "0.250 mm", "0.100 to 0.250 mm"),
    ("8 mm", "8.000 mm", "8.000 mm"),
    ("1234567 pcs", None, "at least 1234567 pcs"),
])  # fmt: skip
def test_limits_keep_the_decimal_places_of_the_file(low: str | None, high: str | None, band: str) -> None:
    """Also once frozen: the text of a limit is frozen with it."""

    def read(text: str | None) -> Measure | None:
        return read_measure(text, "any") if text else None

    gate = Measured(gate="measured", what="gap", low=read(low), high=read(high))

    assert gate.asks()[0].band == band
    assert thaw_checklist(Measured, freeze_checklist(gate)).asks()[0].band == band


WAYS = {
    # rework: its way, its legs, where its pieces go apart from the others, and what it can mend when found there
    "touch up": ((20, 30, 40, 50), ((10, 20, 30), (40,), (50,)), {10, 20}, {20, 30, 40, 42, 44, 50}),
    "strip": (
        (12, 14, 20, 30, 40, 50),
        ((12, 14, 20, 30), (40,), (50,)),
        {10, 12, 14},
        {12, 14, 20, 30, 40, 42, 44, 50},
    ),
    "by hand": ((42, 44, 50), ((42, 44), (50,)), {10, 12, 14, 20, 30, 40, 42, 44}, {42, 44, 50}),
    "anew": ((10, 20, 50), ((10, 20), (50,)), {10, 12, 14, 20, 30, 40}, {42, 44, 50}),
    "regroove": ((10, 30, 40, 50), ((10, 30), (40,), (50,)), {10, 12, 14, 20}, {30, 40, 42, 44, 50}),
}
"""Of the test part with work by hand: its route is 10, 20, 30, 40, 50, and 12, 14, 42 and 44 are for rework only."""


@pytest.mark.parametrize("name", WAYS)
def test_a_rework_goes_its_own_way_until_it_joins_the_others(name: str) -> None:
    way, legs, apart, mends = WAYS[name]
    part, rework = by_hand(), by_hand().rework(name)
    assert rework is not None
    assert part.list_way(name) == way
    assert list(dict.fromkeys(part.leg_of(op, name).ops for op in way)) == list(legs)
    assert part.own_way(name) is (name != "touch up")
    assert {op for op in part.ops if part.is_apart(name, op)} == apart
    assert {op for op in part.ops if part.may_mend(rework, op)} == mends
    assert [part.after(op, name) for op in way] == [*way[1:], None]


STRIPPED = 'title = "Strip the coat"\nstation = "bench"\ncarrier = "pallet"\n'


@pytest.mark.parametrize(
    ("was", "now", "rides"),
    [
        ("", "", True),
        (STRIPPED, f"{STRIPPED}regroup = true\n", False),
        (STRIPPED, STRIPPED.replace("pallet", "tray"), False),
        ("ops = [12, 14, 20]", 'ops = [12, 14, 20]\nrides = "own load"', False),
    ],
)
def test_a_rework_rides_where_nothing_on_its_way_takes_pieces_off_their_carrier(
    was: str, now: str, rides: bool
) -> None:
    """Coated pieces are stripped, etched and coated again on the pallet they came on."""
    part = edited(*BY_HAND, (was, now))
    strip = part.rework("strip")
    assert strip is not None
    assert part.may_ride(strip, 20, first=10) is rides


@pytest.mark.parametrize(
    ("name", "found", "first", "on", "rides"),
    [
        ("touch up", 30, 10, "", True),
        ("touch up", 30, 20, "", True),
        ("touch up", 30, 30, "", False),
        ("touch up", 50, 50, "", False),
        ("touch up", 30, 10, "regroove", False),
        ("strip", 14, 10, "", False),
    ],
)
def test_a_load_goes_back_only_to_what_it_passes_itself(
    name: str, found: int, first: int, on: str, rides: bool
) -> None:
    """Touching up goes back to op 20, which a load formed later or to cut the groove again does not pass.

    What is found on the way of a rework itself, as at op 14, goes on without the others.
    """
    rework = by_hand().rework(name)
    assert rework is not None
    assert by_hand().may_ride(rework, found, first, on) is rides


def test_without_a_rework_pieces_go_the_route_and_with_all_others() -> None:
    part = by_hand()
    assert part.list_way() == part.list_way("nowhere") == part.route == (10, 20, 30, 40, 50)
    assert [part.after(op) for op in part.ops] == [20, 20, 20, 30, 40, 50, 50, 50, None]
    assert not part.own_way("")
    assert not any(part.is_apart("", op) for op in part.ops)
    assert not part.is_apart("strip", None)
    assert [leg.ops for leg in part.legs] == [(10, 20, 30), (40,), (50,)]


@pytest.mark.parametrize(
    ("kind", "fast", "holds"),
    [
        ("pallet", None, True),
        ("vise", None, True),
        ("tray", None, False),
        ("rack", None, False),
        ("tote", None, False),
        ("tote", True, True),
        ("pallet", False, False),
    ],
)
def test_a_pallet_and_a_vise_hold_fast_unless_the_file_says_otherwise(
    kind: Any, fast: bool | None, holds: bool
) -> None:
    assert Carrier(id="c", name="C", kind=kind, capacity=1, count=1, fast=fast).holds_fast is holds


def test_a_carrier_without_rows_or_columns_has_no_places() -> None:
    for rows, columns in ((None, None), (2, None), (None, 2)):
        assert (
            Carrier(id="c", name="Rack", kind="rack", capacity=4, rows=rows, columns=columns, count=1).positions == ()
        )
    assert Carrier(id="c", name="Rack", kind="rack", capacity=1, rows=1, columns=1, count=1).positions == ("A1",)
    assert Carrier(id="c", name="Rack", kind="rack", capacity=1, count=1).label(3) == "Rack 3"


def test_a_machine_runs_one_cycle_and_an_oven_as_many_as_loads() -> None:
    def station(**more: Any) -> Station:
        return Station(id="s", name="S", **more)

    assert station(runs_at_once=3).most_cycles == 1
    assert station(kind="oven", runs_at_once=3).most_cycles == 3
    assert station(runs_at_once=3, cycles_at_once=2).most_cycles == 2
    own = station(carrier_places={"pallet": 3}, carrier_offsets={"pallet": ("G54", "G55")})
    assert (own.places_of("pallet"), own.places_of("tray")) == (3, 1)
    assert [own.offset_of("pallet", number) for number in (0, 1, 2, 3)] == ["", "G54", "G55", ""]
    assert own.offset_of("tray", 1) == ""


MM = read_measure("7.990 mm", "length")
LOW = read_measure("0.5 mm", "length")
GATES: list[tuple[Any, str, list[tuple[str, str, str, str]]]] = [
    (
        gates.Probed(gate="probed", offset="G54", axes=(gates.Axis(name="X", low=LOW), gates.Axis(name="Z", high=MM))),
        "Probe G54 X Z",
        [("X", "G54 X", "number", "at least 0.5 mm"), ("Z", "G54 Z", "number", "at most 7.990 mm")],
    ),
    (gates.Cured(gate="cured", clock="cure"), "Wait for cure", []),
    (gates.Cured(gate="cured", clock="pot life", do="Mix in time"), "Mix in time", []),
    (
        gates.ToolLoaded(gate="tool loaded", tool=3),
        "Load and measure tool 3",
        [("tool", "Tool number on the holder", "whole", "3"), ("length", "Length offset as measured", "number", "")],
    ),
    (
        gates.ToolLoaded(gate="tool loaded", tool=3, length=False),
        "Load and measure tool 3",
        [("tool", "Tool number on the holder", "whole", "3")],
    ),
    (
        gates.ProgramLoaded(gate="program loaded"),
        "Read back the program",
        [("program", "Program and revision as the control shows it", "text", "")],
    ),
    (
        gates.Measured(gate="measured", what="depth", low=LOW, high=MM),
        "Measure depth",
        [("value", "depth", "number", "0.500 to 7.990 mm")],
    ),
    (
        gates.Measured(gate="measured", what="depth", low=MM, high=MM, do="Read the dial"),
        "Read the dial",
        [("value", "depth", "number", "7.990 mm")],
    ),
    (
        gates.Measured(gate="measured", what="the edge", accept="no burr"),
        "Check the edge: no burr",
        [("faulty", "How many fail this check", "whole", "0")],
    ),
    (
        gates.Counted(gate="counted"),
        "Count the pieces in hand",
        [("pieces", "Count the pieces in hand", "whole", "at least 0")],
    ),
    (
        gates.FirstPiece(gate="first piece accepted"),
        "Accept the first piece",
        [("person", "Accepted by (initials)", "person", ""), ("found", "What was measured or seen", "finding", "")],
    ),
    (
        gates.Signed(gate="signed", do="Second look"),
        "Second look",
        [("person", "Second person (initials)", "person", "")],
    ),
    (
        gates.LotRecorded(gate="lot recorded", what="paint"),
        "Record the lot of paint",
        [("lot", "paint: lot number", "text", ""), ("use_by", "Use by (YYYY-MM-DD)", "date", "")],
    ),
    (
        gates.LotRecorded(gate="lot recorded", what="caliper", serial=True),
        "Record the serial number of the caliper",
        [("lot", "caliper: serial number", "gauge", ""), ("use_by", "Calibration due (YYYY-MM-DD)", "date", "")],
    ),
    (
        gates.LotRecorded(gate="lot recorded", what="bar", use_by=False),
        "Record the lot of bar",
        [("lot", "bar: lot number", "text", "")],
    ),
    (gates.WorkHeld(gate="work held", by="vise", do="Check the vise"), "Check the vise", []),
    (
        gates.WorkHeld(gate="work held", by="vise", do="Check the vise", what="torque", low=LOW, second=True),
        "Check the vise",
        [("value", "torque", "number", "at least 0.5 mm"), ("person", "Second person (initials)", "person", "")],
    ),
    (
        gates.WorkHeld(gate="work held", by="vise", do="Check the vise", high=MM),
        "Check the vise",
        [("value", "value", "number", "at most 7.990 mm")],
    ),
    (gates.Confirmed(gate="confirmed", do="Nothing rocks"), "Nothing rocks", []),
]


@pytest.mark.parametrize(("gate", "title", "asked"), GATES, ids=lambda one: one if isinstance(one, str) else "")
def test_a_gate_shows_its_line_and_asks_for_what_proves_it(
    gate: Any, title: str, asked: list[tuple[str, str, str, str]]
) -> None:
    assert gate.title() == title
    assert [(one.name, one.label, one.kind, one.band) for one in gate.asks()] == asked


def test_of_a_carrier_with_its_own_offset_that_is_asked_too() -> None:
    own = gates.Axis(name="X", offset="G55"), gates.Axis(name="X", offset="G54"), gates.Axis(name="Z")
    gate = gates.Probed(gate="probed", axes=own).of_carrier("G55")
    assert gate.title() == "Probe G55 X Z"
    assert [(one.name, one.label, one.band) for one in gate.asks()] == [
        ("offset", "Work offset that was probed", "G55"),
        ("X", "G55 X", ""),
        ("Z", "G55 Z", ""),
    ]


@pytest.mark.parametrize(
    ("more", "piece"),
    [
        ({}, True),
        ({"at": "cycle"}, False),
        ({"at": "load"}, False),
        ({"at": "cycle", "number": 4}, True),
        ({"at": "cycle", "sample": 2}, True),
        ({"at": "cycle", "sample": "all"}, True),
        ({"at": "cycle", "accept": "bright"}, True),
        ({"at": "cycle", "characteristics": (gates.Characteristic(number=1, what="width"),)}, True),
        ({"at": "cycle", "of": "piece"}, True),
        ({"of": "station"}, False),
    ],
)
def test_a_value_is_of_a_piece_or_of_the_station(more: dict[str, Any], piece: bool) -> None:
    assert gates.Measured(gate="measured", what="depth", **more).of_piece is piece


@pytest.mark.parametrize(
    ("by", "coolant", "wet"),
    [
        ("vise", None, True),
        ("tape", None, False),
        ("adhesive", None, False),
        ("tape", True, True),
        ("vise", False, False),
    ],
)
def test_tape_and_adhesive_do_not_hold_under_coolant_unless_the_file_says_so(by: Any, coolant: Any, wet: bool) -> None:
    assert gates.WorkHeld(gate="work held", by=by, do="Pull", coolant=coolant).holds_wet is wet


def test_an_operation_has_the_work_offset_of_its_carrier() -> None:
    checklist = two_up()
    for number, offset in ((1, "G54"), (2, "G55"), (1, "G54")):
        steps = checklist.operation_for(10, "pallet", number).steps
        assert {step.offset for step in steps if isinstance(step, gates.Probed)} == {offset}


def test_a_value_names_its_gauge_and_where_it_stands_on_the_drawing() -> None:
    checklist = replace(part(), part=replace(part().part, drawing="KB-7 sheet 1"))
    depth = gates.Measured(gate="measured", what="depth", gauge="micrometer", number=4)
    assert describe_gauge(checklist, depth) == "With: micrometer; balloon 4 on KB-7 sheet 1"
    assert describe_gauge(part(), depth) == "With: micrometer; balloon 4"
    assert describe_gauge(checklist, replace(depth, number=None)) == "With: micrometer"
