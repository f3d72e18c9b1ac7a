"""The twelve commonest tasks by their keys, held to what they may cost and to the table that is published."""

from __future__ import annotations

import pytest

from floor.app import FloorApp
from floor.screens.walk.count_form import CountScreen
from tests.bench.tasks import TASKS, Job, Task, do_task, pour_pallet, write_table
from tests.language import ROOT
from tests.screens.painted import rows

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


async def test_at_60_columns_all_places_and_all_reasons_of_a_pallet_of_sixteen_are_in_sight() -> None:
    """A digit whose reason stands below the edge is a digit pressed by guess."""
    job = Job().walk_at("count")
    app = FloorApp(job.shop, who="AA", ticking=False)
    async with app.run_test(size=(60, 20)) as pilot:
        app.go_walk(job.id, job.run)
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, CountScreen)
        painted = "\n".join(rows(app))
        assert [one.text for one in screen.codes if one.text not in painted] == []
        assert painted.count("good") >= 16
    job.shop.close()


def test_the_published_table_is_that_of_the_tasks() -> None:
    assert write_table() in (ROOT / "tests/bench/FIGURES.md").read_text(encoding="utf-8")
    assert len(TASKS) == 12
