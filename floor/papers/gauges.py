"""The register of gauges as text and as JSON, for the command line."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import date

from floor.batch.gauge import Gauge, describe_closed_uses, describe_gauge_state, sort_gauges
from floor.entry import format_time
from floor.papers.page import Column, format_table
from floor.text import wrap_text

FORMAT = 1
"""Raised if a field of the JSON changes meaning or goes away; new fields do not raise it."""


def write_gauges_text(gauges: Iterable[Gauge], today: date) -> str:
    """A line for each gauge, what is due soonest first."""
    listed = sort_gauges(gauges)
    if not listed:
        return "No gauges in the register."
    rows = [(one.serial, one.name, one.due.isoformat(), describe_gauge_state(one, today)) for one in listed]
    lines = format_table([Column("serial", 12), Column("gauge"), Column("due", 10), Column("", 24)], rows)
    for one in listed:
        if one.closed:
            said = f"{one.serial} is suspect, and closed batches used it: {describe_closed_uses(one.closed)}"
            lines += wrap_text(f"{said}. A lead decides on their parts.", "! ")
    return "\n".join(lines)


def write_gauges_json(gauges: Iterable[Gauge], today: date) -> str:
    """The register with stable field names; times are UTC."""
    listed = [
        {
            "serial": one.serial,
            "name": one.name,
            "due": one.due.isoformat(),
            "overdue": one.is_overdue(today),
            "withdrawn": one.withdrawn or None,
            "suspect": one.suspect,
            "checked": format_time(one.checked) if one.checked is not None else None,
            "closed_batches": [
                {"id": name, "first": first or None, "checks": checks} for name, first, checks in one.closed
            ],
        }
        for one in sort_gauges(gauges)
    ]
    return json.dumps({"format": FORMAT, "gauges": listed}, indent=2, ensure_ascii=False)
