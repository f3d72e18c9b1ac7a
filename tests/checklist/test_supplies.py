"""Material required: amounts of every kind against hand calculations and a units library."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.checklist.blank_layout import describe_layout
from floor.checklist.frozen import freeze_checklist, read_frozen_checklist
from floor.checklist.loading import list_shipped_checklists, load_checklist, read_checklist
from floor.checklist.material_required import Supply, list_supplies
from floor.checklist.model import Checklist

units = pint.UnitRegistry()


def read(file: Path) -> Checklist:
    loaded = load_checklist(file)
    assert loaded.checklist is not None, loaded.problems
    return loaded.checklist


PART = read(Path(__file__).parent / "used_up.toml")
ALL = {"used_up": PART, **{file.stem: read(file) for file in list_shipped_checklists()}}


def of(pieces: int, what: str, checklist: Checklist = PART) -> Supply:
    return next(one for one in list_supplies(checklist, pieces) if one.what == what)


def test_paint_by_area_and_coats_against_the_units_library() -> None:
    """Area × coats × film ÷ volume solids is the wet volume; 55 % of it misses (pint does the units)."""
    film = 128 * 7.5 * units.inch**2 * 2 * 0.0009 * units.inch
    taken = (film / 0.38 / (1 - 0.55)).to("pint").magnitude

    enamel = of(128, "Enamel")

    assert (enamel.amount, enamel.unit) == (pytest.approx(taken), "pint")
    assert (enamel.needed, enamel.to_have) == ("0.35 pint", "1 x 1 pint")
    assert "2 coats" in enamel.how


def test_paint_by_its_spreading_rate_and_without_a_package() -> None:
    """Two operations of one coat on 7.5 in² (48.387 cm²) each: 128 pieces at 10 m²/L with 55 % lost (by hand)."""
    one = next(one for one in PART.consumables if one.what == "Enamel")
    rate = ALL["used_up"].consumables[2].each._replace(base=10.0, text="10 m**2/L")  # type: ignore[union-attr]
    loose = replace(PART, consumables=(replace(one, package=None, solids=None, film=None, spreading=rate),))

    (enamel,) = list_supplies(loose, 128)

    assert enamel.amount == pytest.approx(128 * 48.387e-4 * 2 / 10 / 0.45, rel=1e-4)
    assert (enamel.needed, enamel.packages) == ("0.276 L", None)


def test_whole_mixes_load_by_load() -> None:
    """140 g less 8 % at 6.2 g does 20 pieces, 40 min at 1.2 min 33: a mix for each pallet of 16, the last with 3."""
    assert (math.floor(140 * 0.92 / 6.2), math.floor(40 / 1.2), math.ceil(115 / 16)) == (20, 33, 8)

    resin = of(115, "Resin")

    assert resin.how == "8 mixes of 140 g, 20 pieces to a mix"
    assert (resin.needed, resin.to_have) == ("1.12 kg", "2 x 1 kg")
    assert of(7, "Resin").how.startswith("1 mix of 140 g")


def test_a_mix_that_is_over_before_it_is_used_up() -> None:
    """90 g less 15 % at 4.5 g would do 17, but 45 min at 3.5 min each do 12: jigs of 30 take three, 14 take two."""
    assert (math.floor(90 * 0.85 / 4.5), math.floor(45 / 3.5)) == (17, 12)

    assert of(44, "Paste").how == "5 mixes of 90 g, 12 pieces to a mix"


def test_bars_and_tape() -> None:
    """203 cuts of 64.5 mm, 46 to a bar of 3 m; two turns of tape a piece, a tenth spoiled: 134 for 60 (by hand)."""
    bar, tape = of(200, "Bar"), of(60, "Tape")

    assert (bar.how, bar.needed, bar.to_have) == ("203 cuts of 64.5 mm", "13.1 m", "5 x 3 m")
    assert (tape.how, tape.to_have) == ("134 cuts of 75 mm", "1 x 50 m")


def test_what_is_counted_and_what_is_used_by_the_load() -> None:
    """128 with 2 % lost are ⌈130.6⌉ seals; 200 pieces are 13 pallets at 120 ml; 2 × 60 / 0.99 = 121.2 (by hand)."""
    seals, alcohol, ends = of(128, "Seal"), of(200, "Alcohol"), of(60, "End")

    assert (seals.needed, seals.to_have) == ("131", "2 x 100")
    assert (alcohol.needed, alcohol.to_have) == ("1.56 L", "1 x 5 L")
    assert (ends.needed, ends.packages, ends.to_have) == ("122", None, "122")


@pytest.mark.parametrize("checklist", ALL.values(), ids=ALL)
def test_a_frozen_checklist_takes_as_much(checklist: Checklist) -> None:
    assert checklist.consumables
    assert list_supplies(read_frozen_checklist(freeze_checklist(checklist)), 100) == list_supplies(checklist, 100)


@settings(max_examples=40, deadline=None)
@given(pieces=st.integers(1, 5000), more=st.integers(0, 500))
def test_more_pieces_never_take_less(pieces: int, more: int) -> None:
    for checklist in ALL.values():
        for few, many in zip(list_supplies(checklist, pieces), list_supplies(checklist, pieces + more), strict=True):
            assert few.amount <= many.amount
            assert few.packages is None or many.packages is None or few.packages <= many.packages


@settings(max_examples=40, deadline=None)
@given(pieces=st.integers(1, 5000))
def test_what_is_shown_is_never_less_than_what_is_needed(pieces: int) -> None:
    for one in (one for checklist in ALL.values() for one in list_supplies(checklist, pieces)):
        shown = float(one.needed.split()[0])
        assert one.amount <= shown <= one.amount * 1.01 + 1e-9


def test_the_readmes_example_is_right() -> None:
    """Put into a right file in place of its blank, it is read without a problem and gives a layout and a shelf."""
    here = Path(__file__).parent
    readme = (here.parents[1] / "checklists" / "README.md").read_text(encoding="utf-8")
    example = next(block.partition("```")[0] for block in readme.split("```toml\n")[1:] if "[[consumables]]" in block)
    right = (here / "right.toml").read_text(encoding="utf-8")
    before, _, rest = right.partition("[blank]")

    after = rest[rest.index("[cautions.cutter]") :]
    loaded = read_checklist(f"{before}{example.replace('[30]', '[20]')}\n{after}", "x.toml")

    assert loaded.problems == ()
    assert loaded.checklist is not None
    assert loaded.checklist.blank is not None
    said = "102 pieces, staggered rows 14.39 mm apart, shifted 7 mm (staggered rows: 99)"
    assert describe_layout(loaded.checklist.blank) == said
    assert list_supplies(loaded.checklist, 20)[0].packages == 1
