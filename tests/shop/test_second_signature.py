"""A checked PIN is good for two minutes at its terminal and for one signature."""

from __future__ import annotations

from dataclasses import replace

import pytest

from floor.batch.command import Refused
from floor.entry import Moment
from floor.shop.second_signature import GOOD_FOR, PinTokens
from tests.batch.factory import MORNING

NOW = Moment(MORNING, "boot-1", 1000.0)


@pytest.mark.parametrize(
    ("seconds", "boot", "good"),
    [(0, "boot-1", True), (GOOD_FOR, "boot-1", True), (GOOD_FOR + 0.1, "boot-1", False), (-1, "boot-1", False),
     (1, "boot-2", False)],
)  # fmt: skip
def test_a_checked_pin_is_good_for_so_long(seconds: float, boot: str, good: bool) -> None:
    tokens = PinTokens()
    token = tokens.give("BB", NOW)
    later = replace(NOW, boot=boot, up=NOW.up + seconds)
    if good:
        tokens.need("BB", [token], later)
    else:
        with pytest.raises(Refused, match="checked too long ago"):
            tokens.need("BB", [token], later)


def test_it_signs_once_and_for_its_person_alone() -> None:
    tokens = PinTokens()
    token = tokens.give("BB", NOW)
    with pytest.raises(Refused, match="AA has a PIN and it was not checked"):
        tokens.need("AA", [token], NOW)
    tokens.used([token])
    with pytest.raises(Refused, match="BB has a PIN and it was not checked"):
        tokens.need("BB", [token], NOW)
