"""A tool's card in a checklist: what does not fit it, in the shop's words and units."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.checklist import equipment
from floor.checklist.equipment import Tool
from floor.checklist.model import Checklist
from floor.checklist.tool_card import CardFault, describe_card_figures, find_card_faults
from floor.checklist.units import read_measure
from floor.figures.cutting.card import ToolKind
from floor.figures.cutting.materials import ToolMaterial, WorkMaterial
from tests.batch.factory import part

DIMENSIONS = {
    "diameter": "length",
    "flute_length": "length",
    "angle": "angle",
    "tip": "length",
    "edge_radius": "length",
    "speed": "speed",
    "feed": "feed",
    "depth": "length",
    "width": "length",
    "stroke": "length",
    "pitch": "length",
    "chip_load": "length",
    "min_chip": "length",
    "min_depth": "length",
    "surface_speed": "surface speed",
    "stick_out": "length",
}


def card(**given: Any) -> Tool:
    """A card; lengths, speeds and feeds as they are written in a file."""
    read = {name: read_measure(said, DIMENSIONS[name]) if name in DIMENSIONS else said for name, said in given.items()}
    return Tool(**{"number": 1, "name": "Cutter", "station": "mill", "flutes": 1, **read})


def shop(tool: Tool, work: str | None = None, inch: bool = True, kw: str = "", rpm: str = "") -> Checklist:
    """The test part with only this tool, and such a mill."""
    plain = part()
    stations = tuple(
        replace(
            one,
            power_limit=read_measure(kw, "power") if kw else None,
            speed_limit=read_measure(rpm, "speed") if rpm else None,
        )
        if one.id == "mill"
        else one
        for one in plain.stations
    )
    about = replace(plain.part, units="inch" if inch else "metric", work_material=work)
    return replace(plain, part=about, stations=stations, tools=(tool,))


def faults(tool: Tool, **about: Any) -> list[CardFault]:
    return list(find_card_faults(shop(tool, **about), tool))


FLY = {"kind": "fly cutter", "diameter": "2 in", "speed": "2000 rpm"}
FOUR = {"kind": "end mill", "material": "carbide", "diameter": "0.125 in", "flutes": 4, "chip_load": "0.001 in"}
POINTED = {"kind": "V-tool", "material": "carbide", "diameter": "0.125 in"}


def test_kinds_and_materials_are_those_of_the_figures() -> None:
    assert get_args(equipment.ToolKind) == tuple(ToolKind)
    assert get_args(equipment.ToolMaterial) == tuple(ToolMaterial)
    assert get_args(equipment.WorkMaterial) == tuple(WorkMaterial)


@pytest.mark.parametrize(
    ("tool", "about"),
    [
        pytest.param(card(**FLY, feed="6 in/min", depth="0.010 in"), {"work": "brass"}, id="fly cutter, 0.003 in"),
        pytest.param(card(**FOUR, speed="10000 rpm", feed="40 in/min"), {}, id="1/8 in, four flutes, 0.001 in a tooth"),
        pytest.param(
            card(**POINTED, angle="60 deg", stroke="0.020 in", depth="0.017 in"), {}, id="60 degrees: 0.017 in deep"
        ),
        pytest.param(
            card(**POINTED, angle="40 deg", stroke="0.020 in", depth="0.027 in"), {}, id="40 degrees: 0.027 in deep"
        ),
        pytest.param(
            card(kind="face mill", material="carbide", diameter="14 mm", speed="10000 rpm"),
            {"work": "brass"},
            id="14 mm face mill at 10,000 rpm: 1,442 sfm",
        ),
        pytest.param(
            card(kind="end mill", material="carbide", diameter="0.0625 in", speed="24000 rpm"),
            {"work": "aluminum", "rpm": "24000 rpm"},
            id="1/16 in at 24,000 rpm is under 400 sfm, and the spindle has no more",
        ),
    ],
)
def test_what_is_common_practice_is_not_complained_of(tool: Tool, about: dict[str, Any]) -> None:
    """Common practice, no source."""
    assert faults(tool, **about) == []


FAULTS = [
    pytest.param(
        card(**FLY, feed="2 in/min"),
        {},
        CardFault(
            "feed",
            "rubs: its thickest chip is 0.001 in; the edge needs 0.002362 in",
            "more feed or less speed",
            certain=False,
        ),
        id="rubbing",
    ),
    pytest.param(
        card(**FLY, depth="0.002 in"),
        {},
        CardFault(
            "depth",
            "0.002 in deep is too light: it rubs",
            "0.007874 in deep or more",
            certain=False,
        ),
        id="light skim",
    ),
    pytest.param(
        card(**FOUR, speed="10000 rpm", feed="80 in/min"),
        {},
        CardFault(
            "feed",
            "80 in/min does not match 10000 rpm, 4 teeth and 0.001 in per tooth",
            "40 in/min (rpm x teeth x chip load)",
            certain=True,
        ),
        id="feed off the chip load",
    ),
    pytest.param(
        card(kind="tap", diameter="4 mm", flutes=3, pitch="0.7 mm", speed="500 rpm", feed="360 mm/min"),
        {"inch": False},
        CardFault(
            "feed",
            "360 mm/min does not match 500 rpm and a pitch of 0.7 mm",
            "350 mm/min (rpm x pitch)",
            certain=True,
        ),
        id="tap off its pitch",
    ),
    pytest.param(
        card(**FOUR, flute_length="0.25 in", depth="0.3 in"),
        {},
        CardFault("depth", "0.3 in is deeper than its cutting length", "at most 0.25 in, in more passes", certain=True),
        id="deeper than the flutes",
    ),
    pytest.param(
        card(**POINTED, angle="90 deg", depth="0.1 in"),
        {},
        CardFault(
            "depth", "0.1 in is deeper than its cutting length", "at most 0.0625 in, in more passes", certain=True
        ),
        id="deeper than the cone: half of 1/8 in at 90 degrees (trigonometry)",
    ),
    pytest.param(
        card(**FOUR, width="0.15 in"),
        {},
        CardFault("width", "0.15 in is wider than the tool: it leaves stock", "at most 0.125 in", certain=True),
        id="wider than the tool",
    ),
    pytest.param(
        card(**POINTED, angle="60 deg", stroke="0.020 in", depth="0.027 in"),
        {},
        CardFault(
            "depth", "0.027 in deep does not leave a stroke of 0.020 in with 60 deg", "0.01732 in deep", certain=True
        ),
        id="stroke: 0.020 in / (2 tan 30 degrees) (trigonometry)",
    ),
    pytest.param(
        card(**POINTED, angle="60 deg", tip="0.005 in", stroke="0.020 in", depth="0.01732 in"),
        {},
        CardFault(
            "depth", "0.01732 in deep does not leave a stroke of 0.020 in with 60 deg", "0.01299 in deep", certain=True
        ),
        id="stroke with a flat tip: 0.015 in / (2 tan 30 degrees) (trigonometry)",
    ),
    pytest.param(
        card(kind="end mill", material="high-speed steel", diameter="14 mm", speed="10000 rpm"),
        {"work": "brass"},
        CardFault(
            "speed", "1443 ft/min at the edge is fast for high-speed steel in brass", "450 ft/min or less",
            certain=False,
        ),
        id="too fast: 14 mm at 10,000 rpm is about 1,442 sfm (common practice, no source)",
    ),
    pytest.param(
        card(kind="end mill", material="carbide", diameter="0.0625 in", speed="12000 rpm"),
        {"work": "aluminum", "rpm": "24000 rpm"},
        CardFault(
            "speed", "196.3 ft/min at the edge is slow for carbide in aluminum", "373.1 ft/min or more",
            certain=False,
        ),
        id="slow, and the spindle could do more, if not as much as is usual",
    ),
    pytest.param(
        card(kind="end mill", diameter="0.5 in", stick_out="0.9 in", depth="1.1 in"),
        {},
        CardFault("depth", "1.1 in is longer than the stick-out of 0.9 in", "more stick-out", certain=True),
        id="deeper than it sticks out",
    ),
    pytest.param(
        card(kind="end mill", flutes=None, flute_length="1 in", stick_out="0.9 in"),
        {},
        CardFault("flute_length", "1 in is longer than the stick-out of 0.9 in", "more stick-out", certain=True),
        id="flutes in the holder",
    ),
    pytest.param(
        card(kind="tap", flutes=None, diameter="6 mm", pitch="1 mm", speed="500 rpm", feed="600 mm/min"),
        {"inch": False},
        CardFault(
            "feed", "600 mm/min does not match 500 rpm and a pitch of 1 mm", "500 mm/min (rpm x pitch)", certain=True
        ),
        id="a tap feeds by its pitch, however many flutes it has",
    ),
    pytest.param(
        card(kind="V-tool", flutes=None, diameter="6 mm", angle="90 deg", tip="0.2 mm", stroke="2 mm", depth="0.4 mm"),
        {"inch": False},
        CardFault(
            "depth", "0.4 mm deep does not leave a stroke of 2 mm with 90 deg", "0.9 mm deep", certain=True
        ),
        id="a stroke of (2 - 0.2) / 2 = 0.9 mm deep, by a card without flutes",
    ),
    pytest.param(
        card(
            kind="end mill", material="carbide", diameter="12 mm", flutes=4, speed="2000 rpm", feed="800 mm/min",
            depth="12 mm", width="12 mm",
        ),
        {"work": "mild steel", "inch": False, "kw": "5 kW"},
        CardFault(
            "depth", "needs up to 8.636 kW; the spindle has 5 kW", "less depth, width or feed", certain=False
        ),
        id="power: 115.2 cm3/min x 2.7 J/mm3 x (0.0637 / 0.25)^-0.21 (Kienzle) / 80 %, by hand",
    ),
    pytest.param(
        card(**POINTED, angle="60 deg", tip="0.2 in"),
        {},
        CardFault("", "a tip of 5.08 mm on 3.175 mm", "give a tip below the diameter", certain=True),
        id="no such tool",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("tool", "about", "fault"), FAULTS)
def test_what_does_not_fit_is_said_with_what_would(tool: Tool, about: dict[str, Any], fault: CardFault) -> None:
    assert faults(tool, **about) == [fault]


def test_of_a_tool_of_no_stated_kind_only_what_holds_for_any_is_said() -> None:
    """A turning insert: its feed follows from its chip load; how a mill's edge would rub says nothing."""
    insert = card(diameter="12 mm", speed="3200 rpm", feed="38 mm/min", chip_load="0.012 mm", depth="0.001 mm")
    assert faults(insert, work="stainless steel", kw="0.1 kW", inch=False) == []
    assert [one.field for one in faults(replace(insert, feed=read_measure("80 mm/min", "feed")))] == ["feed"]


def test_the_figures_of_a_card_are_in_the_drawings_units() -> None:
    """The stroke by trigonometry: 0.005 + 2 x 0.010 tan 30 = 0.01655 in; the chip is cos 30 of the feed."""
    tool = card(**POINTED, angle="60 deg", tip="0.005 in", depth="0.010 in", speed="18000 rpm", feed="18 in/min")
    assert describe_card_figures(shop(tool), tool) == (
        ("stroke", "0.01655 in wide"),
        ("chip", "0.000866 in at its thickest"),
    )


def test_a_card_without_kind_or_size_has_no_figures() -> None:
    for tool in (
        card(diameter="12 mm", speed="100 rpm", feed="10 mm/min"),
        card(kind="drill"),
        card(**POINTED, tip="9 in"),
    ):
        assert describe_card_figures(shop(tool), tool) == ()


LENGTHS = st.one_of(st.just(None), st.floats(1e-7, 1e6).map(lambda value: f"{value} mm"))
NUMBERS = st.one_of(st.just(None), st.floats(0, 1e6).map(str))


@given(
    st.sampled_from([None, *ToolKind]),
    st.sampled_from([None, *WorkMaterial]),
    st.fixed_dictionaries({name: LENGTHS for name, kind in DIMENSIONS.items() if kind == "length"}),
    st.fixed_dictionaries({"speed": NUMBERS, "feed": NUMBERS}),
    st.one_of(st.just(None), st.floats(1e-3, 720)),
    st.integers(1, 100),
)
def test_whatever_a_file_may_say_is_answered_in_sentences(
    kind: str | None, work: str | None, sizes: dict[str, str | None], rates: dict[str, str | None],
    angle: float | None, flutes: int,
) -> None:  # fmt: skip
    units = {"speed": "rpm", "feed": "mm/min"}
    given = {name: said for name, said in sizes.items() if said}
    given |= {name: f"{said} {units[name]}" for name, said in rates.items() if said}
    given |= {"angle": f"{angle} deg"} if angle else {}
    tool = card(kind=kind and str(kind), material="carbide", flutes=flutes, **given)
    about = shop(tool, work=work and str(work), kw="2 kW", rpm="24000 rpm")

    for fault in find_card_faults(about, tool):
        assert "" not in (fault.wrong, fault.right)
        assert "None" not in fault.wrong + fault.right
    for name, said in describe_card_figures(about, tool):
        assert "" not in (name, said)
