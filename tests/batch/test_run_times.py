"""What the record tells of the time that a cycle took, worked out by hand from the clock."""

from __future__ import annotations

from datetime import timedelta

import pytest

from floor.batch.quality.run_times import RunPart, list_part_times
from floor.batch.walk.commands import StartCycle
from floor.batch.walk.stop_cycle import StopCycle
from tests.batch.factory import MORNING, edited, open_bench
from tests.planning.planned import ONE_SHIFT

HOUR = 3600.0


@pytest.mark.parametrize("attended", [True, False])
def test_a_cycle_that_somebody_watches_takes_the_time_they_were_in(attended: bool) -> None:
    """From some time after 7:00 to 9:00 the day after, of a shift that ends at 15:30 with half an hour's break; it
    stood for ten minutes. One that runs by itself may have been over since the evening, so it tells nothing.
    """
    stated = f'cycle = "20 min", cycle_attended = {str(attended).lower()}'
    bench = open_bench(lambda: edited(('cycle = "20 min"', stated)), start=4)
    load = bench.form(10)
    bench.until(load, "start")
    run, began = bench.run_of(load).number, bench.clock().at
    bench.say(StartCycle(run))
    bench.clock.forward(300)
    stood = bench.clock().at
    bench.say(StopCycle(run, "stopped", at=stood))
    bench.clock.until(stood + timedelta(minutes=10))
    bench.say(StartCycle(run))
    bench.clock.until(MORNING + timedelta(hours=26))
    bench.through(load)

    found = [one.took for one in list_part_times(bench.state, ONE_SHIFT.calendar) if one.part is RunPart.CYCLE]

    shift = (MORNING + timedelta(hours=8.5) - began).total_seconds() - HOUR / 2
    assert found == ([pytest.approx(shift + 2 * HOUR - 600, abs=60)] if attended else [])
