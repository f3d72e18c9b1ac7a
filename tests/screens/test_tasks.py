"""The twelve commonest tasks by their keys, held to what they may cost and to the table that is published."""

from __future__ import annotations

import pytest

from tests.bench.tasks import TASKS, Task, do_task, pour_pallet, write_table
from tests.language import ROOT

MOST = {"change of person": 3, "take five loads over": 14}
"""Keys that the issue on screens allows, every digit included."""


@pytest.mark.parametrize("task", TASKS, ids=lambda task: task.name)
async def test_a_task_is_done_by_the_keys_that_are_counted_for_it(task: Task) -> None:
    await do_task(task)
    assert len(task.keys) <= MOST.get(task.name, 12)
    if task.paper is not None:
        assert task.seconds < task.cost.paper, "or paper is quicker (Card, Moran & Newell 1980; pen 0.6 s a character)"


async def test_a_pallet_of_sixteen_goes_through_an_operation_in_twenty_keys_beside_its_values() -> None:
    """From What next to its release; of values the digits alone are left out, the Enter behind each counts."""
    lines, keys, value = await pour_pallet()
    assert lines >= 12
    assert keys - value <= 20


def test_the_published_table_is_that_of_the_tasks() -> None:
    assert write_table() in (ROOT / "tests/bench/FIGURES.md").read_text(encoding="utf-8")
    assert len(TASKS) == 12
