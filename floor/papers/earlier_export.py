"""What ``floor figures --earlier`` writes: earlier batches of a part beside one, as JSON and CSV."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from typing import Any

from floor.batch.quality.batch_facts import BatchFacts
from floor.checklist.expected_yields import assess_start
from floor.entry import format_time
from floor.figures.errors import Impossible
from floor.figures.quality.missing import Missing
from floor.figures.quality.share_by_load import compute_share_by_load
from floor.papers.earlier_batches import EarlierReport, find_interval, find_median, list_plans
from floor.planning.earlier_batches import EarlierOp, TimeRow, YieldRow, find_age
from floor.planning.pace import Part

FORMAT = 1
COLUMNS = (
    "part", "batch", "age_days", "op", "operation", "what", "good", "pieces", "share", "share_low", "share_high",
    "runs", "median", "lower", "upper", "per_piece", "times_planned", "times_left_out", "weight",
    "not_used",
)  # fmt: skip
OTHER_PART = "other part"


def write_earlier_json(report: EarlierReport) -> str:
    """Stable field names; times of day are UTC, lengths of time seconds."""
    batch, study = report.batch, report.study
    data = {
        "format": FORMAT,
        "batch": batch.id,
        "part": batch.checklist.part.number,
        "as_of": format_time(report.now),
        "order": batch.order,
        "started": batch.started,
        "confidence": report.level,
        "half_life_days": study.half_life,
        "start_quantity": [_export_plan(report, by) for by in list_plans(report)],
        "batches": [_export_batch(report, one) for one in study.batches],
        "rows": list(_list_rows(report)),
        "next": [_export_next(one) for one in study.ops if one.found is not None],
        "next_paces": [
            {"op": one.op, "part": part.value, "ratio": pace.ratio, "runs": pace.weight}
            for one in study.ops
            for part, pace in one.paces.items()
        ],
        "left_out": dict(report.read.left_out),
        "not_in_checklist": {name: list(ops) for name, ops in study.gone.items()},
        "not_read": report.read.not_read,
    }
    return json.dumps(data, indent=2, ensure_ascii=False)


def write_earlier_csv(report: EarlierReport) -> str:
    """A row for each yield and each time of each batch."""
    out = io.StringIO()
    rows = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    rows.writeheader()
    rows.writerows(_list_rows(report))
    return out.getvalue()


def _list_rows(report: EarlierReport) -> Iterator[dict[str, Any]]:
    for one in report.study.ops:
        for row in one.yields:
            yield _export_yield(one, row)
        for time in one.times:
            yield _export_time(one, time)
    stations = {one.id for one in report.batch.checklist.stations}
    for batch in report.read.others:
        for facts in batch.ops.values():
            about = _make_row(batch, find_age(batch, report.now), facts.op, facts.title, OTHER_PART)
            share = compute_share_by_load(facts.loads)
            if facts.station in stations and not isinstance(share, Missing):
                yield about | {"what": "yield", "good": share.good, "pieces": share.pieces, "share": share.share}
            for part in Part:
                found = find_median(facts, part) if facts.station in stations else None
                if found is not None:
                    field = "median" if part is Part.CYCLE else "per_piece"
                    yield about | {"what": part.value, field: found}


def _make_row(batch: BatchFacts, days: float, op: int, title: str, not_used: str | None) -> dict[str, Any]:
    about = {"part": batch.part, "batch": batch.id, "age_days": round(days, 3), "op": op, "operation": title}
    return dict.fromkeys(COLUMNS) | about | {"weight": 0.0, "not_used": not_used}


def _export_yield(one: EarlierOp, row: YieldRow) -> dict[str, Any]:
    interval = find_interval(row.share, len(row.batch.ops[one.op].loads))
    low, high = (None, None) if isinstance(interval, Missing) else (interval.low, interval.high)
    return _make_row(row.batch, row.days, one.op, one.title, row.not_used) | {
        "what": "yield",
        "good": row.share.good,
        "pieces": row.share.pieces,
        "share": row.share.share,
        "share_low": low,
        "share_high": high,
        "weight": row.weight,
    }


def _export_time(one: EarlierOp, row: TimeRow) -> dict[str, Any]:
    return _make_row(row.batch, row.days, one.op, one.title, row.not_used) | {
        "what": row.part.value,
        "runs": row.runs,
        "median": row.per_run.median,
        "lower": row.per_run.lower,
        "upper": row.per_run.upper,
        "per_piece": row.per_piece.median,
        "times_planned": row.ratio,
        "times_left_out": row.odd,
        "weight": row.weight,
    }


def _export_plan(report: EarlierReport, by: str) -> dict[str, Any]:
    batch = report.batch
    try:
        found = assess_start(list_plans(report)[by], batch.order, batch.started, report.level)
    except Impossible as error:
        return {"by": by, "probability": None, "pieces": None, "least": None, "most": None, "why_not": str(error)}
    return {
        "by": by,
        "probability": found.chance,
        "pieces": found.pieces or None,
        "least": found.least,
        "most": found.most,
        "why_not": None,
    }


def _export_batch(report: EarlierReport, one: BatchFacts) -> dict[str, Any]:
    return {
        "batch": one.id,
        "revision": one.revision,
        "opened": format_time(one.opened),
        "age_days": round(find_age(one, report.now), 3),
        "closed": one.closed,
        "entered_half_done": one.late,
        "order": one.ordered,
        "started": one.started,
        "finished": one.finished,
    }


def _export_next(one: EarlierOp) -> dict[str, Any]:
    assert one.found is not None
    return {
        "op": one.op,
        "stated": one.stated,
        "stated_weight": one.weight,
        "good": one.found.good,
        "weight": one.found.weight,
        "reworked": one.found.reworked,
        "batch_correlation": one.found.differ,
    }
