"""What follows from a checklist: places, legs, the order of the walk, planned times, and what a form asks."""

from pathlib import Path

import pytest

from floor.checklist.frozen import freeze_checklist, thaw_checklist
from floor.checklist.gates import Measured
from floor.checklist.loading import read_checklist
from floor.checklist.model import Carrier, Checklist
from floor.checklist.units import Measure, read_measure

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


def test_the_walk_goes_by_phases_and_every_step_has_one_name() -> None:
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
