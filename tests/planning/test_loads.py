"""The loads of a batch as the plan lays them out: what follows a run on its carrier."""

from __future__ import annotations

from floor.batch.counting.commands import MarkedPieces
from floor.figures.schedule import PhaseKind
from tests.batch.factory import BY_HAND, edited, open_bench
from tests.planning.planned import ALWAYS, minutes, planned

STRIPPED = (
    (
        '{ do = "Strip to bare metal", at = "load" }]',
        '{ do = "Strip to bare metal", at = "load", id = "strip", skip = false }]\n'
        'clocks = [{ id = "dry", starts = "step strip", windows = [{ earliest = "3 h" }], source = "Label: 3 h" }]',
    ),
    ('{ do = "Etch', '{ gate = "cured", clock = "dry", at = "arrive" }, { do = "Etch'),
)


def test_what_dries_in_the_rework_sits_on_its_carrier_before_the_next_operation_of_that_rework() -> None:
    """After op 12 the route would go on at op 20; stripped pieces are etched at op 14, once they are dry."""
    bench = open_bench(lambda: edited(*BY_HAND, *STRIPPED), start=4, order=4)
    load = bench.form(10)
    bench.through(load, 10)
    bench.through(load, 20, marks=(MarkedPieces("flaky", positions=("A2",)),))
    plan = planned(bench.state, now=bench.clock(), crew=ALWAYS)
    stripped, etched = plan.plan.runs[:2]
    assert [plan.work(run).op for run in (stripped, etched)] == [12, 14]
    assert stripped.stretches[-1].kind is PhaseKind.CURE
    assert minutes(stripped.stretches[0].end, stripped.end) == 3 * 60
    assert etched.start >= stripped.end
