"""The record for other programs: a table of the entries, and the raw entries."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import asdict
from typing import Any

from floor.batch.describe import describe
from floor.batch.search.history_filter import find_load_and_op
from floor.batch.state import Batch
from floor.entry import Entry
from floor.wall import format_local

COLUMNS = ("entry", "utc", "local", "by", "kind", "load", "op", "what", "struck_by", "data", "hash")


def escape_formula(value: Any) -> str:
    """A cell no spreadsheet takes for a formula (OWASP, "CSV Injection"); tabs and line ends become spaces."""
    text = str(value).translate({9: " ", 10: " ", 13: " "})
    return f"'{text}" if text.lstrip()[:1] in ("=", "+", "-", "@", "＝", "＋", "－", "＠") else text


def write_entries_csv(batch: Batch) -> str:
    """One row per entry, quoted as in RFC 4180; ``data`` is the entry's own JSON."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for entry in batch.entries:
        row = make_export_row(batch, entry)
        row["data"] = json.dumps(row["data"], ensure_ascii=False)
        writer.writerow(escape_formula("" if value is None else value) for value in row.values())
    return out.getvalue()


def write_entries_json(batch: Batch) -> str:
    """The entries with all fields, and the hash that pins them: enough to verify the chain elsewhere."""
    return json.dumps(
        {
            "batch": batch.id,
            "part": batch.checklist.part.number,
            "revision": batch.checklist.part.revision,
            "head": batch.entries[-1].hash,
            "struck": {str(seq): by for seq, by in batch.struck.items()},
            "entries": [asdict(entry) for entry in batch.entries],
        },
        indent=1,
        ensure_ascii=False,
    )


def make_export_row(batch: Batch, entry: Entry) -> dict[str, Any]:
    """An entry as a row of the table, by column; ``data`` as in the record."""
    load, op = find_load_and_op(batch, entry)
    local = format_local(entry.time, "%Y-%m-%d %H:%M:%S%z")
    values = (
        entry.seq,
        entry.at,
        local,
        entry.by,
        entry.kind,
        load,
        op,
        describe(batch, entry),
        batch.struck.get(entry.seq),
        entry.body,
        entry.hash,
    )
    return dict(zip(COLUMNS, values, strict=True))
