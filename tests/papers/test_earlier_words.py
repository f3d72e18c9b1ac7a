"""Earlier batches in words: a time that no figure stands on is told, and why."""

from __future__ import annotations

from collections.abc import Sequence

from floor.batch.quality.batch_facts import EarlierBatches
from floor.papers.earlier_batches import EarlierReport, list_time_lines
from floor.planning.earlier_batches import study_earlier
from tests.batch.factory import open_bench, part
from tests.planning.test_earlier_batches import NOW, batch_facts, op_facts


def write_times(took: Sequence[float], width: int = 80) -> list[str]:
    """Those of two batches, B2 this one; B1 took 12 min."""
    earlier, own = batch_facts("B1", 30, op_facts(30, (), [720.0])), batch_facts("B2", 10, op_facts(30, (), took))
    study = study_earlier(part(), [own, earlier], NOW)
    read = EarlierBatches((earlier,), (), {}, 0)
    return list_time_lines(EarlierReport(open_bench().state, own, NOW, read, study, 0.9), width)


def test_times_too_far_off_are_told_and_no_others() -> None:
    """4 pieces state 8 min of cycle at op 30."""
    assert not any("not counted" in line for line in write_times([600.0]))
    lines = write_times([600.0, 6000.0])
    (said,) = [n for n, line in enumerate(lines) if "not counted" in line]
    assert " ".join(" ".join(lines[said : said + 2]).split()) == (
        "· this one: 1 time not counted, outside 0.25 to 4 x stated: entered later, it seems"
    )
    assert all(len(line) <= 80 for line in lines)
    only = " ".join(" ".join(write_times([6000.0, 7000.0])).split())
    assert "this one: 2 times not counted" in only
    assert " n/a -" in only, "it has no ratio, and counts for nothing"
