"""The state of the open batches as text and as JSON, for the command line."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any, get_args

from floor.batch.counting.blind_count import find_blind_subjects, format_total, hides_total
from floor.batch.counting.surplus import find_undecided_surplus, format_order_filled, is_order_filled
from floor.batch.gates.suspect_gauges import describe_suspect_gauge
from floor.batch.load import PiecePlace, Where
from floor.batch.state import Batch
from floor.batch.worklist.due_task import DueTask, say_when
from floor.entry import Moment, format_time
from floor.text import count_cells, wrap_text

FORMAT = 1
"""Raised if a field of the JSON changes meaning or goes away; new fields do not raise it."""
WORDS: dict[Where, str] = {
    "waiting": "waiting",
    "load": "on loads",
    "hold": "on hold",
    "spare": "spare",
    "stopped": "stopped",
    "trial": "in trials",
    "scrap": "scrap",
    "regraded": "regraded",
    "returned": "returned",
    "finished": "finished",
}


def write_status_text(batches: Sequence[Batch], due: Sequence[DueTask], now: Moment) -> str:
    """Counts of each batch, then what needs a person, most pressing first."""
    if not batches:
        return "No open batch."
    lines = []
    for batch in batches:
        part = batch.checklist.part
        name = f"{part.number} {part.revision} {part.name}"
        hidden = find_blind_subjects(batch)
        said = format_order_filled(batch, hidden)
        lines += [f"{batch.id}  {said}"] if said else []
        lines.append(f"{batch.id}  {name}  order {batch.order}, started {batch.started}")
        some = [where for where in get_args(Where) if batch.total(where)]
        counts = [f"{format_total(batch, where, hidden)} {WORDS[where]}" for where in some]
        due_date = f"; due {batch.due}" if batch.due else ""
        lines.append(f"    {', '.join(counts)}; {batch.responsible} is responsible{due_date}")
        lines += [f"    ! transferred to {batch.gone}; read-only here"] if batch.gone else []
        lines += [
            f"    ! {waiver.title} waived by {waiver.by}: {waiver.reason}" for waiver in batch.list_open_waivers()
        ]
        lines += [f"    ! {describe_suspect_gauge(batch, one)}" for one in batch.list_open_suspect_gauges()]
        lines += [
            f"    ! {batch.checklist.station(station).name} is {outage.said(now.at)} ({outage.by})"
            for station, outage in batch.outages.items()
        ]
        lines += [
            f"    ! {batch.checklist.station(station).name}: {stands.said(now.at)}"
            for (station, *_), stands in batch.conditions.items()
        ]
    lines.append("")
    return "\n".join([*lines, *_list_due(batches, due, now)])


def _list_due(batches: Sequence[Batch], due: Sequence[DueTask], now: Moment) -> list[str]:
    """What is due, in columns; a sentence too long for its column continues on the next line."""
    known = {batch.id: batch for batch in batches}
    heads = []
    for one in due:
        load = known[one.batch].format_carrier(known[one.batch].loads[one.load]) if one.load else ""
        heads.append((say_when(one, now.at, long=False), one.batch, load))
    widths = [max(map(count_cells, column)) for column in zip(*heads, strict=True)]
    lines = []
    for one, head in zip(due, heads, strict=True):
        first = "  ".join(f"{text:<{width}}" for text, width in zip(head, widths, strict=True)) + "  "
        lines += wrap_text(f"{one.sentence} · {one.where}", first)
    return lines


def write_status_json(
    batches: Sequence[Batch], due: Sequence[DueTask], now: Moment, unreadable: Mapping[str, str] | None = None
) -> str:
    """The status with stable field names; times are UTC.

    Args:
        unreadable: batches that cannot be read, with the reason.
    """
    return json.dumps(
        {
            "format": FORMAT,
            "at": format_time(now.at),
            "batches": [_batch(batch) for batch in batches],
            "unreadable": dict(unreadable or {}),
            "next": [
                {
                    "urgency": one.urgency,
                    "when": format_time(one.when) if one.when else None,
                    "closes": format_time(one.closes) if one.closes else None,
                    "batch": one.batch,
                    "load": one.load,
                    "op": one.op,
                    "what": one.what,
                    "title": one.title or None,
                    "where": one.where,
                }
                for one in due
            ],
        },
        indent=2,
        ensure_ascii=False,
    )


def _batch(batch: Batch) -> dict[str, Any]:
    hidden = find_blind_subjects(batch)

    def seen(figure: int, heap: str) -> int | None:
        """A figure, or None if it is still to be counted at a handover."""
        return None if heap in hidden else figure

    return {
        "id": batch.id,
        "part": batch.checklist.part.number,
        "revision": batch.checklist.part.revision,
        "order": batch.order,
        "gone_over_to": batch.gone or None,
        "damage": batch.damage or None,
        "started": batch.started,
        "filled": is_order_filled(batch),
        "not_needed": None if hidden else len(find_undecided_surplus(batch)),
        "counts": {
            where: None if hides_total(batch, where, hidden) else batch.total(where) for where in get_args(Where)
        },
        "out_of_service": [
            {
                "station": station,
                "why": outage.why,
                "by": outage.by,
                "since": format_time(outage.since),
                "back": format_time(outage.back) if outage.back else None,
            }
            for station, outage in batch.outages.items()
        ],
        "suspect_gauges": [
            {
                "serial": one.serial,
                "gauge": one.gauge,
                "why": one.reason,
                "by": one.by,
                "checks": sum(seq not in batch.struck for seq in one.checks),
            }
            for one in batch.list_open_suspect_gauges()
        ],
        "conditions": [
            {
                "station": station,
                "what": what,
                "note": stands.note,
                "by": stands.by,
                "since": format_time(stands.since),
            }
            for (station, what, _), stands in batch.conditions.items()
        ],
        "waiting": [
            {
                "op": op,
                "rework": rework or None,
                "pieces": seen(count, PiecePlace("waiting", op=op, rework=rework).heap),
            }
            for op, rework, count in batch.list_waiting_pools()
        ],
        "loads": [
            {
                "load": load.number,
                "carrier": batch.format_carrier(load),
                "op": load.at,
                "under_way": load.run is not None,
                "pieces": seen(len(batch.present(load)), f"load {load.number}"),
                "scrap_on_carrier": seen(len(batch.sitting(load, "scrap")), f"load {load.number}"),
                "held_on_carrier": seen(len(batch.sitting(load, "hold")), f"load {load.number}"),
            }
            for load in batch.list_live_loads()
        ],
        "open_waivers": len(batch.list_open_waivers()),
        "responsible": batch.responsible,
        "handover_open": batch.handover is not None,
        "due": batch.due.isoformat() if batch.due else None,
    }
