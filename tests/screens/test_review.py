"""The review of the screens by ISO 9241-110 says something of each principle, about screens that are there."""

from __future__ import annotations

import tomllib

from floor.screens.frame.screen import FloorScreen
from tests.language import ROOT
from tests.screens.test_one_meaning import all_bindings, kinds

PRINCIPLES = ("suits", "explains", "expected", "learned", "controlled", "robust", "engages")
"""Suitability for the task, self-descriptiveness, conformity with expectations, learnability, controllability,
robustness against use errors, user engagement (ISO 9241-110:2020, from memory)."""


def test_each_reviewed_screen_is_there_and_is_judged_by_all_seven_principles() -> None:
    screens = tomllib.loads((ROOT / "tests/screens/review.toml").read_text(encoding="utf-8"))["screens"]
    all_bindings()  # imports every screen
    there = {kind.__name__ for kind in kinds(FloorScreen)}
    assert len(screens) == len({one["name"] for one in screens}) >= 6
    for one in screens:
        assert one["name"] in there
        assert set(one) == {"name", "changed", *PRINCIPLES}
        assert all(one.values()), one["name"]
