"""The record for other programs."""

from __future__ import annotations

import csv
import hashlib
import io
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.batch.corrections.commands import Note, StrikeOut
from floor.entry import Entry
from floor.papers.record_export import COLUMNS, escape_formula, write_entries_csv, write_entries_json
from tests.papers.half_done import half_done


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t=", "\r@", " =", "＝"])
def test_no_cell_starts_like_a_formula(start: str) -> None:
    """OWASP, "CSV Injection": = + - @ tab and carriage return at the start of a cell, full-width forms too."""
    cell = escape_formula(f"{start}HYPERLINK(1)")

    assert cell[0] == "'"
    assert not set("\t\r\n") & set(cell)


@given(st.text(max_size=40))
def test_a_cell_keeps_what_it_says(text: str) -> None:
    cell = escape_formula(text)

    spoken = text.translate({9: " ", 10: " ", 13: " "})
    assert cell in (spoken, f"'{spoken}")
    assert cell.lstrip()[:1] not in set("=+-@")


def test_the_table_has_every_entry_and_reads_back_as_csv() -> None:
    """RFC 4180: quoted fields, doubled quotes, CRLF."""
    bench = half_done()
    note = bench.say(Note('=cmd|"/c calc"!A1, "quoted"'), "AA")[0]
    bench.say(StrikeOut(note.seq, "typed by mistake"), "AA")

    text = write_entries_csv(bench.state)
    rows = list(csv.DictReader(io.StringIO(text, newline="")))

    assert tuple(rows[0]) == COLUMNS
    assert [int(row["entry"]) for row in rows] == [entry.seq for entry in bench.state.entries]
    assert all(json.loads(row["data"]) == entry.body for row, entry in zip(rows, bench.state.entries, strict=True))
    struck = rows[note.seq - 1]
    assert struck["struck_by"] == str(note.seq + 1)
    assert 'note: =cmd|"/c calc"' in struck["what"]
    assert not any(value.startswith(tuple("=+-@\t\r")) for row in rows for value in row.values())


def test_the_json_proves_its_own_chain() -> None:
    """Each hash is recomputed from the exported fields alone."""
    bench = half_done()

    data = json.loads(write_entries_json(bench.state))
    entries = [Entry(**one) for one in data["entries"]]

    assert entries == bench.state.entries
    assert data["head"] == entries[-1].hash
    prev = "0" * 64
    for one in data["entries"]:
        assert one["prev"] == prev
        rest = {name: value for name, value in one.items() if name != "hash"}
        said = json.dumps(rest, sort_keys=True, separators=(",", ":"))
        assert hashlib.sha256(said.encode()).hexdigest() == one["hash"]
        prev = one["hash"]
