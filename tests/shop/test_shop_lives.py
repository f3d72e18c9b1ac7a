"""Batches of one shop at work by turns, drawn at random with a seed and kept in words: what each learns of the others.

Nobody worked these out by hand; see ``tests/batch/test_lives.py``. Renew them with ``--snapshot-update``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from floor.batch.command import Command
from floor.batch.fold import fold
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.state import Batch
from floor.checklist.model import Checklist
from floor.entry import Entry
from floor.shop import Shop
from floor.shop.simulation import SimulatedOperator
from floor.shop.weaker_checklist import find_weaker
from tests.batch.factory import MORNING, StepClock, one_cycle, part, two_up
from tests.batch.test_lives import Life


class OfShop:
    """A batch of a shop, with what a life asks of a bench."""

    def __init__(self, shop: Shop, id: str, clock: StepClock) -> None:
        self.shop, self.id, self.clock = shop, id, clock

    @property
    def state(self) -> Batch:
        return self.shop.batch(self.id)

    def say(self, command: Command, by: str) -> list[Entry]:
        return self.shop.do(self.id, command, by)

    def hand(self, initials: str, second: str) -> SimulatedOperator:
        return SimulatedOperator(self.shop, self.id, initials, self.clock, second=second)


def seen(shop: Shop, id: str) -> Iterator[str]:
    """What a batch can see of the others, and what the shop's own record says."""
    others = shop.elsewhere(id)
    yield f"{id} sees {others.runs} {others.places} {sorted(others.carriers)}"
    yield f"  {sorted(others.worn.items())} {sorted(others.outages.items(), key=lambda one: one[0])}"
    yield f"  {sorted(shop.people.worn.items())}"


@pytest.mark.parametrize(
    ("checklists", "seed"),
    [((part, part), 1), ((part, part), 2), ((part, two_up), 3), ((one_cycle, two_up), 4), ((part, part, part), 5)],
    ids=lambda one: str(one) if isinstance(one, int) else "-".join(each.__name__ for each in one),
)
def test_what_one_batch_does_the_others_learn(
    tmp_path: Path, checklists: tuple[Callable[[], Checklist], ...], seed: int, snapshot: Any
) -> None:
    clock = StepClock(MORNING)
    shop, other = Shop(tmp_path, clock), Shop(tmp_path, clock)
    shop.add_person("LL", "Lee Lead", True, by="-")
    for initials in ("AA", "BB", "CC"):
        shop.add_person(initials, initials, False, by="LL")
    other.refresh()
    lives = []
    for place, checklist in enumerate(checklists):
        at = (shop, other)[place % 2]
        at.refresh()
        opening = OpenBatch(at.find_next_id(), checklist(), "digest", "part.toml", 9, 14)
        if find_weaker(at, opening.checklist) is not None:
            opening = replace(opening, weaker_why="held otherwise")
        id = at.open_batch(opening, "LL" if opening.weaker_why else "AA").id
        lives.append(Life(OfShop(at, id, clock), seed + 10 * place))
    said = []
    for number in range(1, 41):
        for life in lives:
            life.bench.shop.refresh()
            if life.bench.id in [batch.id for batch in life.bench.shop.batches]:
                said += [life.bench.id, *life.step(number)]
    shop.refresh()
    for batch in shop.batches:
        said += seen(shop, batch.id)
        assert batch == fold(shop.journals.open(batch.id).entries)
    assert "\n".join(said) == snapshot
    shop.close()
    other.close()
