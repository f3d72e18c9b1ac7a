"""Entries found in the record: as lines for people, as CSV or JSON for programs."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from typing import Any

from floor.batch.search.history_filter import find_run_of_entry
from floor.batch.state import Batch
from floor.entry import Entry, Moment
from floor.papers.history import format_entry
from floor.papers.record_export import COLUMNS, escape_formula, make_export_row
from floor.text import format_count, wrap_text

FOUND = ("batch", *COLUMNS[:7], "station", *COLUMNS[7:])
"""The columns of the table, and the fields of each entry in JSON."""

Found = Sequence[tuple[Batch, Sequence[Entry]]]


def write_results_text(found: Found, now: Moment) -> str:
    """The entries of each batch under its name; batches without hits are left out."""
    lines: list[str] = []
    for batch, entries in found:
        if entries:
            part = batch.checklist.part
            many = f"{len(entries)} of {format_count(len(batch.entries), 'entry')}"
            lines += ["", *wrap_text(f"{batch.id}  {part.number} {part.revision}: {many}")]
        for entry in entries:
            lines += format_entry(batch, entry, now)
    return "\n".join(lines[1:])


def write_results_csv(found: Found) -> str:
    """One row per entry, quoted as in RFC 4180."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(FOUND)
    for batch, entries in found:
        for entry in entries:
            row = _row(batch, entry)
            row["data"] = json.dumps(row["data"], ensure_ascii=False)
            writer.writerow(escape_formula("" if row[name] is None else row[name]) for name in FOUND)
    return out.getvalue()


def write_results_json(found: Found) -> str:
    """The batches searched, and the entries with the same fields as the table."""
    return json.dumps(
        {
            "format": 1,
            "batches": [batch.id for batch, _ in found],
            "found": sum(len(entries) for _, entries in found),
            "entries": [_row(batch, entry) for batch, entries in found for entry in entries],
        },
        indent=1,
        ensure_ascii=False,
    )


def _row(batch: Batch, entry: Entry) -> dict[str, Any]:
    run = find_run_of_entry(batch, entry)
    row = make_export_row(batch, entry) | {
        "batch": batch.id,
        "station": run.station if run else entry.body.get("station"),
    }
    return {name: row[name] for name in FOUND}
