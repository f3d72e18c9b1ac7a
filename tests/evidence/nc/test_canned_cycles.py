"""Canned cycles: levels, depth, what fires, where the tool returns to, repeats and time.

Levels and returns after NIST IR 6556, section 3.5.16 (m), and public control manuals as read for this project.
"""

from __future__ import annotations

import pytest

from tests.evidence.nc.programs import NEXT, cut, find, kinds, read_after_start, travel, went


@pytest.mark.parametrize("code", ["G73", "G81", "G82", "G83", "G84", "G74", "G85", "G86", "G89"])
def test_holes_go_from_the_clearance_to_the_bottom(code: str) -> None:
    turns = "M4" if code == "G74" else "M3"
    told = read_after_start(f"{turns}\n{code} X5. Y5. Z-3. R1. Q1. P0 F100.\nX10.\nX15. Z-4.\nG80")

    assert (cut(told, "Z"), went(told, "Z"), went(told, "X")) == (("known", -4, 1), ("known", -4, 10), ("known", 5, 15))
    assert [(one.bottom, one.holes) for one in told.cycles] == [(-3, 2), (-4, 1)]
    assert kinds(told) == set()


@pytest.mark.parametrize(
    ("text", "after"),
    [
        ("G98 G81 X5. Z-3. R1. F100.\nG80", 10),  # back to where Z was
        ("G99 G81 X5. Z-3. R1. F100.\nG80", 1),  # to the clearance level
        ("G81 X5. Z-3. R12. F100.\nG80", 12),  # the clearance above where Z was: not below it
    ],
)
def test_where_the_tool_returns_to(text: str, after: float) -> None:
    told = read_after_start(f"{text}\nG91 G1 Z-0.5 F100.\nG80")
    assert went(told, "Z")[2] == max(10, after)
    assert travel(told, "Z").sure == "known"


def test_g99_leaves_the_tool_at_the_clearance() -> None:
    told = read_after_start("G99 G81 X5. Z-3. R1. F100.\nG80\nG91 G1 Z-8. F100.")
    assert cut(told, "Z") == ("known", -7, 1)


def test_incremental_levels_count_from_where_z_is() -> None:
    """R from the present Z, the bottom from R: as in the forty lines, `G91 G81 Z-5 R-8` at Z10 drills from 2 to -3."""
    told = read_after_start("G91 G81 X1. Y2. Z-5. R-8. L3 F80.\nG80", repeats="L")

    assert (cut(told, "Z"), went(told, "X"), went(told, "Y")) == (("known", -3, 2), ("known", 1, 3), ("known", 2, 6))
    assert kinds(told) == set()


def test_a_repeat_is_l_or_k() -> None:
    for word, setting, count in (("L3", "L", 3), ("K3", "K", 3), ("L3", None, 3), ("K3", "L", 1)):
        told = read_after_start(f"G91 G81 X1. Z-5. R-8. {word} F80.\nG80", repeats=setting)
        assert (told.cycles[0].holes, bool(find(told, "two readings"))) == (count, setting is None)
        assert [one.subject for one in find(told, "word without use")] == (
            ["K3"] if (word, setting) == ("K3", "L") else []
        )


def test_no_hole_is_drilled_with_a_count_of_nothing() -> None:
    told = read_after_start("G81 X5. Z-3. R1. L0 F100.\nG80", repeats="L")
    assert told.cycles == ()


def test_a_level_that_is_not_given_is_not_known() -> None:
    told = read_after_start("G81 X5. Z-3. F100.\nG80")
    assert (travel(told, "Z").sure, travel(told, "X").sure) == ("unknown", "known")


def test_cycles_that_differ_are_told() -> None:
    told = read_after_start("G76 X5. Z-3. R1. Q0.2 F100.\nG87 X9. Z3. R-9. F100.\nG80")
    assert [one.subject for one in find(told, "cycle varies")] == ["G76", "G87"]
    assert travel(told, "Z").sure == "unknown"


def test_tapping_shows_its_pitch() -> None:
    """Feed over speed: M6 × 1 at S500 is F500. Common practice, no source."""
    told = read_after_start("S500\nG84 X5. Z-9. R2. F500.\nG80")
    assert told.cycles[0].pitch == pytest.approx(1.0)


def test_time_of_drilling_by_hand() -> None:
    """Two holes 10 apart from X0 Z10, R1, to Z-3, F120, rapids 6000 mm/min on each axis.

    Feed 2 × 4 mm at 2 mm/s = 4 s. Rapids at 100 mm/s: 0 to 5 and 5 to 15 across, 9 down and 13 up at each hole.
    """
    told = read_after_start("G98 G81 X5. Z-3. R1. F120.\nX15.\nG80", rapid=(6000, 6000, 6000))
    before = read_after_start("", rapid=(6000, 6000, 6000))

    assert told.cycle_time.feed_seconds == pytest.approx(4.0)
    assert (told.cycle_time.rapid_seconds or 0) - (before.cycle_time.rapid_seconds or 0) == pytest.approx(0.59)


def test_pecks_go_back_to_the_clearance_each_time() -> None:
    """Depth 4 in pecks of 1: up and down again 1, 2 and 3 mm, 12 mm in all beside the plain hole."""
    plain = read_after_start("G81 X5. Z-3. R1. F120.\nG80")
    pecked = read_after_start("G83 X5. Z-3. R1. Q1. F120.\nG80")
    assert pecked.cycle_time.rapid_mm - plain.cycle_time.rapid_mm == pytest.approx(12)


def test_a_cycle_in_another_plane_drills_along_its_axis() -> None:
    told = read_after_start("G0 Y0. Z0.\nG18 G81 X5. Z2. Y-3. R1. F100.\nG80")
    assert (cut(told, "Y"), went(told, "Z")) == (("known", -3, 1), ("known", 0, 10))


def test_g80_ends_it() -> None:
    told = read_after_start("G81 X5. Z-3. R1. F100.\nG80\nG0 X50.\nX60.")
    assert (told.cycles[0].holes, went(told, "X")) == (1, ("known", 5, 60))


def test_after_g80_controls_differ_whether_a_word_moves() -> None:
    """G80 ends the motion (NIST IR 6556), or the cycle only, so that the G0 before it is in force again."""
    told = read_after_start("G0 X1. Z9.\nG81 X5. Z-3. R1. F9.\nG80\nX50.\nG43 H1 Z20.\nG0 X2. Z8.\nX3.")

    assert [(one.subject, one.line) for one in find(told, "no motion")] == [("X50.", NEXT + 3), ("Z20.", NEXT + 4)]
    assert (went(told, "X"), went(told, "Z")) == (("unknown", 1, 50), ("unknown", -3, 20))
    assert "word without use" not in kinds(told)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("G81 X5. Z-3. F9.\nX6.", [("G81", ("R",), 2)]),
        ("G81 X5. R1. F9.", [("G81", ("Z",), 1)]),
        ("G83 X5. Z-3. R1. F9.", [("G83", ("Q",), 1)]),
        ("G73 X5. Z-3. R1. F9.", [("G73", ("Q",), 1)]),
        ("G81 Z-3. R#9 F9. L0\nX5.", []),  # given, though not known
        ("G81 X5. Z-3. R1. F9.\nG83 X6. Z-3. Q1.", []),
        ("G81 X5. Z-3. R1. F9.\nG80\nG81 X6. Z-3.", [("G81", ("R",), 1)]),
        ("/G81 X4. Z-3. R1. F9.\nG81 X5. Z-3.", [("G81", ("R",), 1)]),
        ("G18 G81 X5. Z-3. R1. F9.", [("G81", ("Y",), 1)]),
        ("G81 Z-3. F9. L0", []),  # no hole
    ],
)
def test_a_hole_needs_its_levels(text: str, found: list[tuple[str, tuple[str], int]]) -> None:
    told = read_after_start(f"{text}\nG80", repeats="L", cycle_fires="X Y")
    assert [(one.subject, one.values, one.count) for one in find(told, "cycle word left out")] == found


@pytest.mark.parametrize(
    ("text", "found"), [("M3\nG84", []), ("M4\nG74", []), ("M4\nG84", ["G84"]), ("M3\nG74", ["G74"]), ("M4\nG81", [])]
)
def test_the_spindle_turns_as_the_thread(text: str, found: list[str]) -> None:
    """G84 taps right-hand threads, in by M3; G74 left-hand ones, in by M4. Common practice, no source."""
    told = read_after_start(f"{text} X5. Z-3. R1. F9.\nG80")
    assert [one.subject for one in find(told, "tap direction")] == found


def test_holes_beyond_the_list_are_counted() -> None:
    told = read_after_start("G81 R1. F9.\n" + "\n".join(f"X{n}. Z-{n % 1100 + 1}." for n in range(1300)) + "\nG80")
    assert (len(told.cycles), sum(one.holes for one in told.cycles), told.holes_left_out) == (1000, 1200, 100)


@pytest.mark.parametrize(
    ("text", "told_twice", "z"),
    [
        ("G81 X1. Z-3. R1. F9.\nG91 X2.", True, ("unknown", -3, 8)),  # G90 levels, then G91 places
        ("G98 G91 G81 X1. Z-5. R-8. F9.\nX2.", False, ("known", -3, 2)),
        ("G99 G91 G81 X1. Z-5. R-8. F9.\nX2.", True, ("unknown", -11, 2)),  # R from R again on some
        ("G81 X1. Z-3. R1. F9.\nG91 X2. Z-5. R-9.", False, ("known", -4, 1)),
        ("G81 X1. Z-3. R1. F9.\nG55 X2.", False, ("known", -3, 1)),
    ],
)
def test_levels_that_go_on_in_g91_are_read_both_ways(text: str, told_twice: bool, z: tuple[str, float, float]) -> None:
    """NIST IR 6556 counts R and Z again from where the tool is (m); other controls keep the levels of the cycle."""
    told = read_after_start(f"{text}\nG90 G80")
    assert ("cycle levels" in [one.subject for one in find(told, "two readings")], cut(told, "Z")) == (told_twice, z)


def test_levels_that_go_on_in_g91_from_a_place_not_known_are_not_known() -> None:
    told = read_after_start("G81 X1. Z-3. R1. F9.\nG91 G28 Z0.\nX5.\nG90 G80")
    assert (cut(told, "Z"), "home" in [one.text for one in travel(told, "Z").why]) == (("unknown", -3, 1), True)


def test_r_below_the_bottom_is_told() -> None:
    """NIST IR 6556, section 3.5.16: it is an error if R is less than Z (m)."""
    told = read_after_start("G81 X5. Z-3. R-5. F100.\nG80")
    assert [(one.subject, one.line) for one in find(told, "R below Z")] == [("G81", NEXT)]
    assert "R below Z" not in kinds(read_after_start("G87 X5. Z-3. R-5. Q.1 F100.\nG80"))


@pytest.mark.parametrize(("dwell", "seconds", "asked"), [("P1.", 2, False), ("P0.5", 1, False), ("P500", 0, True)])
def test_a_dwell_at_the_bottom_with_a_dot_is_in_seconds(dwell: str, seconds: float, asked: bool) -> None:
    told = read_after_start(f"G82 X5. Z-3. R1. {dwell} F100.\nX6.\nG80")
    assert (told.cycle_time.dwell_seconds, bool(find(told, "two readings"))) == (seconds, asked)
