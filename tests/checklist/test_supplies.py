"""What to have on the shelf: the shipped checklists' amounts beside sums by hand and a units library."""

from __future__ import annotations

import math
from dataclasses import replace

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.checklist.frozen import freeze, frozen_checklist
from floor.checklist.loading import load_checklist, shipped
from floor.checklist.model import Checklist
from floor.checklist.supplies import Supply, supplies

units = pint.UnitRegistry()


def read(name: str) -> Checklist:
    found = next(load_checklist(file).checklist for file in shipped() if file.stem == name)
    assert found is not None
    return found


PLATE, PIN, STRUT = read("thermal-break-plate"), read("metering-pin"), read("bonded-strut")


def of(checklist: Checklist, pieces: int, what: str) -> Supply:
    return next(one for one in supplies(checklist, pieces) if one.what.startswith(what))


def test_enamel_by_area_and_coats_against_the_units_library() -> None:
    """Area × coats × film ÷ volume solids is the wet volume; 55 % of it misses (pint does the units)."""
    film = 128 * 7.5 * units.inch**2 * 2 * 0.0009 * units.inch
    taken = (film / 0.38 / (1 - 0.55)).to("pint").magnitude

    enamel = of(PLATE, 128, "Enamel")

    assert (enamel.amount, enamel.unit) == (pytest.approx(taken), "pint")
    assert (enamel.needed, enamel.to_have) == ("0.35 pint", "1 x 1 pint")
    assert "2 coats" in enamel.how


def test_potting_by_whole_mixes_load_by_load() -> None:
    """140 g less 8 % at 6.2 g does 20 plates, 40 min at 1.2 min 33; so a mix for each pallet of 16, the last with 3."""
    assert math.floor(140 * 0.92 / 6.2) == 20

    epoxy = of(PLATE, 115, "Potting")

    assert epoxy.how == "8 mixes of 140 g, 20 pieces to a mix"
    assert (epoxy.needed, epoxy.to_have) == ("1.12 kg", "2 x 1 kg")


def test_paste_that_is_over_before_it_is_used_up() -> None:
    """90 g less 15 % at 4.5 g would do 17 struts, but 45 min at 3.5 min each do 12; jigs of 8 take one mix each."""
    assert (math.floor(90 * 0.85 / 4.5), math.floor(45 / 3.5)) == (17, 12)

    assert of(STRUT, 44, "Epoxy").how == "6 mixes of 90 g, 12 pieces to a mix"


def test_bars_and_tape() -> None:
    """203 cuts of 64.5 mm, 46 to a bar of 3 m; two turns of tape a tube, a tenth spoiled: 134 for 60 (by hand)."""
    bar, tape = of(PIN, 200, "17-4"), of(STRUT, 60, "Paper tape")

    assert (bar.how, bar.needed, bar.to_have) == ("203 cuts of 64.5 mm", "13.1 m", "5 x 3 m")
    assert (tape.how, tape.to_have) == ("134 cuts of 75 mm", "1 x 50 m")


def test_what_is_counted_and_what_is_used_by_the_load() -> None:
    """128 with 2 % lost are ⌈130.6⌉ seals; 200 pins are 8 baskets of 25 at 120 ml (by hand)."""
    seals, acid, ends = of(PLATE, 128, "O-ring"), of(PIN, 200, "Citric"), of(STRUT, 60, "Aluminium")

    assert (seals.needed, seals.to_have) == ("131", "2 x 100")
    assert (acid.needed, acid.to_have) == ("0.96 L", "1 x 5 L")
    assert (ends.needed, ends.packages, ends.to_have) == ("122", None, "122")


def test_without_a_package_paint_is_told_in_litres() -> None:
    one = PLATE.consumables[2]
    loose = replace(PLATE, consumables=(replace(one, package=None),))

    (enamel,) = supplies(loose, 128)

    assert (enamel.needed, enamel.packages) == ("0.166 L", None)


@pytest.mark.parametrize("checklist", [PLATE, PIN, STRUT], ids=["plate", "pin", "strut"])
def test_a_frozen_checklist_takes_as_much(checklist: Checklist) -> None:
    assert supplies(frozen_checklist(freeze(checklist)), 100) == supplies(checklist, 100)


@settings(max_examples=40, deadline=None)
@given(pieces=st.integers(1, 5000), more=st.integers(0, 500))
def test_more_pieces_never_take_less(pieces: int, more: int) -> None:
    for checklist in (PLATE, PIN, STRUT):
        for few, many in zip(supplies(checklist, pieces), supplies(checklist, pieces + more), strict=True):
            assert few.amount <= many.amount
            assert few.packages is None or many.packages is None or few.packages <= many.packages


@settings(max_examples=40, deadline=None)
@given(pieces=st.integers(1, 5000))
def test_what_is_shown_is_never_less_than_what_is_needed(pieces: int) -> None:
    for one in (one for checklist in (PLATE, PIN, STRUT) for one in supplies(checklist, pieces)):
        shown = float(one.needed.split()[0])
        assert one.amount <= shown <= one.amount * 1.01 + 1e-9
