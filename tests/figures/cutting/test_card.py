"""A whole card at a cut: its figures against hand calculations and a units library, and everything that does not
fit."""

import math

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.checklist.units import read_measure
from floor.figures.cutting.card import Cut, Tool, ToolKind, compute_cutting_figures
from floor.figures.cutting.materials import ToolMaterial, WorkMaterial
from floor.figures.cutting.misfits import (
    DIMENSIONS,
    Machine,
    Misfit,
    MisfitKind,
    find_greatest_depth,
    find_least_chip,
    find_least_depth,
    find_misfits,
)
from floor.figures.errors import Impossible

UNITS = pint.UnitRegistry()
INCH = 25.4
FOOT = 0.3048
HSS, CARBIDE = ToolMaterial
FLY_CUTTER = Tool(ToolKind.FLY_CUTTER, 60, 1, CARBIDE, chip_load=0.003 * INCH)
ENGRAVER = Tool(ToolKind.V_TOOL, 0.125 * INCH, 1, CARBIDE, angle=60, tip=0.005 * INCH)
END_MILL = Tool(ToolKind.END_MILL, 0.125 * INCH, 4, CARBIDE, flute_length=0.5 * INCH, chip_load=0.001 * INCH)
DRILL = Tool(ToolKind.DRILL, 5, 2, HSS, angle=118, flute_length=50)
TAP = Tool(ToolKind.TAP, 4, 3, HSS, pitch=0.7)


def kinds(tool: Tool, cut: Cut, machine: Machine | None = None) -> list[MisfitKind]:
    return [one.kind for one in find_misfits(tool, cut, machine or Machine())]


def test_an_end_mill_in_inches_by_the_checklists_own_units() -> None:
    """1/8 in, four flutes, 10,000 rpm, 40 in/min: 0.001 in a tooth (common practice, no source); 1/4 in³/min for a slot
    0.050 in deep, by pint; the surface speed of 327.25 ft/min was worked out outside the project."""
    tool = Tool(ToolKind.END_MILL, read_measure("0.125 in", "length").base, 4)
    feed, depth = read_measure("40 in/min", "feed").base, read_measure("0.05 in", "length").base
    found = compute_cutting_figures(tool, Cut(10000, feed, depth))

    assert found.feed_per_tooth == pytest.approx(read_measure("0.001 in", "length").base)
    assert found.feed_per_turn == pytest.approx(0.004 * INCH)
    assert found.surface_speed == pytest.approx(read_measure("327.25 ft/min", "surface speed").base, rel=1e-4)
    assert found.removal_rate == pytest.approx((0.25 * UNITS.inch**3).to("mm**3").magnitude)
    assert found.chip == found.feed_per_tooth, "a slot has its thickest chip in the middle"


def test_a_narrow_cut_thins_the_chip() -> None:
    """A tenth of the diameter: the chip is 1/1.666667 of the feed (geometry of a chord, worked out outside)."""
    found = compute_cutting_figures(END_MILL, Cut(10000, 40 * INCH, 1, 0.0125 * INCH))

    assert found.chip == pytest.approx(0.001 * INCH / 1.666667, rel=1e-6)


def test_an_engraver() -> None:
    """0.010 in deep: 0.016547 in wide, 77.98 ft/min at 18,000 rpm (trigonometry, worked out outside). The stroke is a
    trapezoid; its edge slants by 30 degrees, so the chip is cos 30 of the feed."""
    found = compute_cutting_figures(ENGRAVER, Cut(18000, 300, 0.010 * INCH))

    assert found.stroke_width == pytest.approx(0.016547 * INCH, rel=1e-4)
    assert found.surface_speed == pytest.approx(77.98 * FOOT, rel=1e-4)
    assert found.removal_rate == pytest.approx((0.016547 + 0.005) / 2 * 0.010 * INCH**2 * 300, rel=1e-4)
    assert found.chip == pytest.approx(300 / 18000 * math.sqrt(3) / 2)


def test_a_ball_cuts_on_a_smaller_circle() -> None:
    """6 mm ball 0.5 mm deep: 2·√(0.5 · 5.5) = 3.3166 mm (by hand); its edge slants by that share of its radius."""
    found = compute_cutting_figures(Tool(ToolKind.BALL_MILL, 6, 2), Cut(10000, 400, 0.5))

    assert found.diameter == pytest.approx(3.3166, abs=1e-4)
    assert found.surface_speed == pytest.approx(math.pi * 33.166, rel=1e-4)
    assert found.thinning == pytest.approx(3.3166 / 6, rel=1e-4)


def test_a_drill() -> None:
    """5 mm, 2 lips, 2,000 rpm, 200 mm/min: 0.1 mm a turn, 0.05 a lip, chip sin 59° of it; π/4·25·200 mm³/min."""
    found = compute_cutting_figures(DRILL, Cut(2000, 200, 10, work=WorkMaterial.BRASS))

    assert (found.feed_per_turn, found.feed_per_tooth) == (pytest.approx(0.1), pytest.approx(0.05))
    assert found.chip == pytest.approx(0.05 * math.sin(math.radians(59)))
    assert found.removal_rate == pytest.approx(math.pi / 4 * 25 * 200)


def test_power_and_torque_of_a_slab_of_steel() -> None:
    """70 mm, 5 teeth, 272.837 rpm, 341.046 mm/min, 50 × 6.5 mm (Groover, milling in SI): 110,840 mm³/min. Sharp edges
    in mild steel take 1.6 to 2.7 J/mm³ at 0.25 mm, times (mean chip / 0.25)^-0.21, over 80 % (by hand and pint)."""
    tool, cut = Tool(ToolKind.FACE_MILL, 70, 5, CARBIDE), Cut(272.837, 341.046, 6.5, 50, WorkMaterial.MILD_STEEL)
    found = compute_cutting_figures(tool, cut)
    engaged = math.acos(1 - 2 * 50 / 70)
    chip = 0.25 * (2 * 50 / 70) / engaged
    at_cutter = 110_840 * UNITS.mm**3 / UNITS.minute * 2.7 * UNITS.joule / UNITS.mm**3 * (chip / 0.25) ** -0.21

    assert found.power == pytest.approx((at_cutter / 0.8).to("watt").magnitude, rel=1e-4)
    assert found.least_power == pytest.approx(found.power * 1.6 / 2.7)
    assert found.torque == pytest.approx(
        (at_cutter / (272.837 * UNITS.rpm)).to("newton * meter / radian").magnitude, rel=1e-4
    )


def test_a_card_that_does_not_tell_gives_no_figure() -> None:
    found = compute_cutting_figures(END_MILL, Cut())
    assert (found.surface_speed, found.feed_per_tooth, found.chip, found.removal_rate) == (None,) * 4
    assert (found.power, found.least_power, found.torque, found.stroke_width) == (None,) * 4
    assert find_misfits(END_MILL, Cut()) == ()
    assert compute_cutting_figures(TAP, Cut(500, 350)).chip is None
    assert compute_cutting_figures(Tool(ToolKind.REAMER, 5, 4), Cut(1600, 192, 10)).removal_rate is None
    assert compute_cutting_figures(Tool(ToolKind.V_TOOL, 3, 1), Cut(1600, 192, 1)).removal_rate is None
    assert compute_cutting_figures(END_MILL, Cut(10000, 1000, 1, 1, WorkMaterial.PLASTIC)).power is None


GOOD = Cut(10000, 40 * INCH, 1.0, work=WorkMaterial.BRASS)
SPINDLE = Machine(10000, 1000)


def test_a_good_card_is_left_alone() -> None:
    assert find_misfits(END_MILL, GOOD, SPINDLE) == ()
    assert find_misfits(FLY_CUTTER, Cut(2000, 6 * INCH, 0.010 * INCH, 40, WorkMaterial.BRASS), SPINDLE) == ()
    assert find_misfits(TAP, Cut(500, 350), SPINDLE) == ()
    assert find_misfits(Tool(ToolKind.TAP, 4.8, 3, HSS, pitch=INCH / 32), Cut(500, 15.6 * INCH)) == (), "as rounded"


@pytest.mark.parametrize(("feed", "limit"), [(36, 40), (44, 40), (4, 40), (400, 40)])
def test_a_feed_that_is_not_speed_times_flutes_times_chip_load(feed: float, limit: float) -> None:
    (found,) = [one for one in find_misfits(END_MILL, Cut(10000, feed * INCH, 1)) if one.kind != MisfitKind.RUBBING]
    assert (found.kind, found.value / INCH) == (MisfitKind.FEED_OFF_CHIP_LOAD, pytest.approx(feed))
    assert found.limit / INCH == pytest.approx(limit)


def test_a_feed_may_make_up_for_the_thinned_chip_and_no_more() -> None:
    """A tenth of the diameter allows 1.667 times the feed (chord geometry, worked out outside)."""
    width = 0.0125 * INCH
    assert kinds(END_MILL, Cut(10000, 40 * 1.66 * INCH, 1, width)) == []
    assert kinds(END_MILL, Cut(10000, 40 * INCH, 1, width)) == []
    assert kinds(END_MILL, Cut(10000, 40 * 1.80 * INCH, 1, width)) == [MisfitKind.FEED_OFF_CHIP_LOAD]


def test_a_drill_follows_its_chip_load() -> None:
    """0.05 mm a lip, two lips, 2,000 rpm: 200 mm/min (by hand). Its slanted lips are no reason for more."""
    drill = Tool(ToolKind.DRILL, 5, 2, chip_load=0.05)
    assert kinds(drill, Cut(2000, 208)) == []
    assert find_misfits(drill, Cut(2000, 212)) == (Misfit(MisfitKind.FEED_OFF_CHIP_LOAD, 212, pytest.approx(200)),)


def test_a_tap_follows_its_pitch() -> None:
    """M4 × 0.7 at 500 rpm is 350 mm/min: feed is speed times pitch (common practice, no source)."""
    assert find_misfits(TAP, Cut(500, 360)) == (Misfit(MisfitKind.FEED_OFF_PITCH, 360, pytest.approx(350)),)
    assert kinds(TAP, Cut(500, 348)) == [MisfitKind.FEED_OFF_PITCH]


def test_a_fly_cutter_that_rubs_or_skims() -> None:
    """At 2,000 rpm in brass about 0.003 in a tooth, hardly less; near 0.010 in deep rather than a light skim (common
    practice, no source)."""
    plain = Tool(ToolKind.FLY_CUTTER, 60, 1)
    assert kinds(plain, Cut(2000, 0.003 * 2000 * INCH, 0.010 * INCH)) == []
    assert kinds(plain, Cut(2000, 0.001 * 2000 * INCH, 0.010 * INCH)) == [MisfitKind.RUBBING]
    assert kinds(plain, Cut(2000, 0.003 * 2000 * INCH, 0.002 * INCH)) == [MisfitKind.LIGHT_SKIM]


def test_a_fine_edge_rubs_below_its_radius_alone() -> None:
    """0.3 of the edge radius is the thinnest chip; experiments lie between 0.14 and 0.43 (Cheng et al. 2018)."""
    assert find_least_chip(END_MILL) == pytest.approx(0.0015)
    assert 0.14 < find_least_chip(END_MILL) / 0.005 < 0.43
    assert find_least_chip(Tool(ToolKind.END_MILL, 3, 2, HSS, edge_radius=0.02)) == pytest.approx(0.006)
    assert find_least_chip(Tool(ToolKind.FACE_MILL, 50, 4)) == pytest.approx(0.009)
    assert find_least_chip(Tool(ToolKind.END_MILL, 3, 2, least_chip=0.01)) == 0.01
    assert find_least_chip(Tool(ToolKind.END_MILL, 3, 2)) is None
    assert find_least_chip(TAP) is None
    assert kinds(Tool(ToolKind.END_MILL, 3, 2, CARBIDE), Cut(20000, 40, 1)) == [MisfitKind.RUBBING]


def test_least_depth() -> None:
    assert find_least_depth(FLY_CUTTER) == 0.2
    assert find_least_depth(Tool(ToolKind.FACE_MILL, 50, 4, least_depth=0.1)) == 0.1
    assert find_least_depth(END_MILL) == find_least_chip(END_MILL)
    assert find_least_depth(DRILL) is None
    assert kinds(Tool(ToolKind.FACE_MILL, 14, 4, least_depth=0.1), Cut(depth=0.05)) == [MisfitKind.LIGHT_SKIM]


def test_more_power_than_the_machine() -> None:
    tool = Tool(ToolKind.FACE_MILL, 70, 5, CARBIDE)
    cut = Cut(272.837, 341.046, 6.5, 50, WorkMaterial.MILD_STEEL)
    power = compute_cutting_figures(tool, cut).power
    assert power is not None

    assert find_misfits(tool, cut, Machine(power_limit=5000)) == (Misfit(MisfitKind.POWER_OVER_LIMIT, power, 5000),)
    assert kinds(tool, cut, Machine(power_limit=power)) == []
    assert kinds(tool, cut, Machine(power_limit=power, efficiency=0.7)) == [MisfitKind.POWER_OVER_LIMIT]


def test_deeper_than_the_flutes_or_the_cone() -> None:
    """3.175 mm at 60 degrees with 0.127 mm of flat: (3.175 - 0.127) / 2 / tan 30° = 2.6397 mm of cone (by hand)."""
    assert find_greatest_depth(ENGRAVER) == pytest.approx(2.6397, abs=1e-4)
    assert find_greatest_depth(Tool(ToolKind.V_TOOL, 6, 1, angle=60, flute_length=2)) == 2
    assert find_greatest_depth(Tool(ToolKind.V_TOOL, 6, 1)) is None
    assert kinds(END_MILL, Cut(depth=13)) == [MisfitKind.DEEPER_THAN_FLUTES]
    assert kinds(END_MILL, Cut(depth=12.7)) == []
    assert kinds(ENGRAVER, Cut(depth=3)) == [MisfitKind.DEEPER_THAN_FLUTES]
    assert kinds(DRILL, Cut(depth=51)) == [MisfitKind.DEEPER_THAN_FLUTES]


def test_wider_than_the_tool() -> None:
    assert find_misfits(END_MILL, Cut(width=3.5)) == (Misfit(MisfitKind.WIDER_THAN_TOOL, 3.5, 0.125 * INCH),)


def test_surface_speed_outside_its_band() -> None:
    """Aluminum with carbide: 500 ft/min to 700 m/min; high-speed steel in stainless: 30 to 60 ft/min (the bands)."""
    mill = Tool(ToolKind.END_MILL, 20, 2, CARBIDE)
    assert kinds(mill, Cut(12000, work=WorkMaterial.ALUMINUM)) == [MisfitKind.SURFACE_SPEED_HIGH]
    assert kinds(mill, Cut(10000, work=WorkMaterial.ALUMINUM)) == []
    assert kinds(mill, Cut(2000, work=WorkMaterial.ALUMINUM), Machine(12000)) == [MisfitKind.SURFACE_SPEED_LOW]
    (found,) = find_misfits(Tool(ToolKind.END_MILL, 12, 4, HSS), Cut(1000, work=WorkMaterial.STAINLESS_STEEL))
    assert found.limit == pytest.approx(60 * FOOT)


def test_a_small_tool_at_the_spindles_limit_is_not_called_slow() -> None:
    """1/16 in at 24,000 rpm is still under 400 ft/min (common practice, no source): nothing can be done about it."""
    tool, cut = Tool(ToolKind.END_MILL, INCH / 16, 2, CARBIDE), Cut(24000, work=WorkMaterial.ALUMINUM)
    assert kinds(tool, cut, Machine(24000)) == []
    assert kinds(tool, cut) == [], "nor where nobody knows the limit"
    assert kinds(tool, cut, Machine(60000)) == [MisfitKind.SURFACE_SPEED_LOW]
    (found,) = find_misfits(tool, cut, Machine(30000))
    assert found.limit == pytest.approx(3.141593 * INCH / 16 * 0.95 * 30000 / 1000), "as fast as it turns, no more"
    assert kinds(Tool(ToolKind.DRILL, 3, 2, HSS), Cut(1000, work=WorkMaterial.ALUMINUM), Machine(24000)) == []


def test_each_kind_has_a_dimension_that_the_checklist_has() -> None:
    assert set(DIMENSIONS) == set(MisfitKind)
    assert set(DIMENSIONS.values()) <= {"speed", "feed", "length", "power", "surface speed"}


KNOWN = st.none() | st.floats(1e-6, 1e9)
TOOLS = st.builds(
    Tool, st.sampled_from(ToolKind), st.floats(1e-3, 1e9), st.integers(1, 200),
    st.none() | st.sampled_from(ToolMaterial), st.none() | st.floats(1, 179), st.floats(0, 9e-4), *[KNOWN] * 6,
)  # fmt: skip
CUTS = st.builds(Cut, KNOWN, KNOWN, KNOWN, KNOWN, st.none() | st.sampled_from(WorkMaterial))
MACHINES = st.builds(Machine, KNOWN, KNOWN, st.floats(0.01, 1))


@settings(deadline=None, max_examples=500)
@given(tool=TOOLS, cut=CUTS, machine=MACHINES)
def test_any_card_is_answered(tool: Tool, cut: Cut, machine: Machine) -> None:
    """Nonsense too: figures that are numbers, and findings in order whose value is on the wrong side of its limit."""
    figures = compute_cutting_figures(tool, cut, efficiency=machine.efficiency)
    found = find_misfits(tool, cut, machine)

    for name in figures.__slots__:
        value = getattr(figures, name)
        assert value is None or 0 <= value < math.inf, name
    order = list(MisfitKind)
    assert [order.index(one.kind) for one in found] == sorted(order.index(one.kind) for one in found)
    assert all(one.value != one.limit for one in found)


@settings(deadline=None)
@given(
    speed=st.floats(100, 20000), teeth=st.integers(1, 8), load=st.floats(0.002, 0.5), width=st.floats(0.1, 10),
    off=st.floats(0.01, 10),
)  # fmt: skip
def test_a_feed_is_found_exactly_where_it_leaves_the_chip_load(
    speed: float, teeth: int, load: float, width: float, off: float
) -> None:
    """Beside the rule in words: from the card's chip to the feed whose thickest chip is the card's, 5 % either way."""
    tool = Tool(ToolKind.END_MILL, 10, teeth, chip_load=load)
    thickest = load * off * (1.0 if width >= 5 else 2 * math.sqrt(width * (10 - width)) / 10)
    found = kinds(tool, Cut(speed, speed * teeth * load * off, width=width))

    if min(abs(off - 0.95), abs(thickest / load - 1.05)) > 1e-6:
        assert bool(found) == (off < 0.95 or thickest > 1.05 * load)


@pytest.mark.parametrize("wrong", [
    lambda: Tool(ToolKind.DRILL, 0, 2), lambda: Tool(ToolKind.DRILL, math.nan, 2), lambda: Tool(ToolKind.DRILL, 5, 0),
    lambda: Tool(ToolKind.V_TOOL, 5, 1, angle=180), lambda: Tool(ToolKind.V_TOOL, 5, 1, angle=60, tip=5),
    lambda: Tool(ToolKind.V_TOOL, 5, 1, angle=60, tip=-1), lambda: Tool(ToolKind.TAP, 5, 3, pitch=-1),
    lambda: Cut(-1), lambda: Cut(feed=math.inf), lambda: Cut(depth=math.nan), lambda: Cut(width=1e300),
    lambda: Machine(0), lambda: Machine(power_limit=-5), lambda: compute_cutting_figures(TAP, Cut(), efficiency=0),
    lambda: compute_cutting_figures(TAP, Cut(), efficiency=1.1),
])  # fmt: skip
def test_nonsense_is_refused(wrong: object) -> None:
    with pytest.raises(Impossible):
        wrong()  # type: ignore[operator]
