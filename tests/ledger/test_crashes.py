"""Killed processes, torn sectors, cut files, flipped bits, ten terminals: the quick form of `soak`, which counts.

The trials fork, so they run in a process of their own, without pytest's threads.
"""

from __future__ import annotations

import json
import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.entry import Draft
from floor.ledger.file_format import CLOSING, TailKind, encode_commit, encode_header, make_padding, read_groups
from floor.ledger.hash_chain import ZERO, chain_drafts
from tests.ledger.crashes import MOMENT
from tests.ledger.ends import commits


@pytest.mark.parametrize(("part", "least"), [
    ("writers", {"sigkills": 60, "acknowledged": 60}),
    ("upkeep", {"sigkills": 40, "journals": 40}),
    ("at_once", {"writers": 10, "entries": 2000, "looks": 10}),
    ("torn", {"torn_commits": 20_000}),
    ("cut", {"truncations": 900}),
    ("flips", {"bit_flips": 10_000, "opened_flips": 300}),
])  # fmt: skip
def test_nothing_acknowledged_is_lost(part: str, least: dict[str, int]) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.ledger.soak", "--quick", part], capture_output=True, text=True, check=False
    )

    assert done.returncode == 0, done.stdout + done.stderr
    told = json.loads(done.stdout)[part]
    assert all(told[name] >= count for name, count in least.items()), told


texts = st.text(st.characters(codec="utf-8"), max_size=40)
bodies = st.dictionaries(
    texts,
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | texts,
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(texts, inner, max_size=3),
        max_leaves=6,
    ),
    max_size=4,
)
groups = st.lists(st.lists(st.builds(Draft, texts, bodies), min_size=1, max_size=3), max_size=4)


@given(groups)
@settings(max_examples=60, deadline=None)
def test_whatever_is_written_is_read_back(drafts: list[list[Draft]]) -> None:
    raw, told = commits(drafts)

    reading = read_groups(raw + make_padding(100), start=len(encode_header("B0007")))

    assert reading.end is TailKind.WHOLE
    assert reading.entries == [entry for entries in told for entry in entries]
    assert [(entry.kind, entry.body) for entry in reading.entries] == [
        (draft.kind, draft.body) for group in drafts for draft in group
    ]


@given(groups.filter(len), st.data())
@settings(max_examples=60, deadline=None)
def test_a_reader_that_comes_between_sees_whole_groups_only(drafts: list[list[Draft]], data: st.DataObject) -> None:
    """The writer is half way through the last group: the bytes up to some place are there, the others not yet."""
    raw, told = commits(drafts)
    before, _ = commits(drafts[:-1])
    place = data.draw(st.integers(len(before) - len(CLOSING), len(raw)))
    half = raw[:place] + before.ljust(len(raw))[place:]

    seen = read_groups(half, start=len(encode_header("B0007"))).entries

    acknowledged = [entry for entries in told[:-1] for entry in entries]
    assert seen in (acknowledged, acknowledged + told[-1])


def test_a_group_joined_to_the_one_before_is_not_read() -> None:
    """The indent counts the entries of a group, so that the groups are as they were committed."""
    raw, _ = commits([[Draft("a", {})], [Draft("b", {})]])
    joined = raw.replace(b",\n", b",")
    assert read_groups(joined, start=len(encode_header("B0007"))).end is TailKind.DAMAGED


def test_catching_up_reads_from_where_one_was() -> None:
    raw, told = commits([[Draft("a", {})], [Draft("b", {}), Draft("c", {})]])
    first = read_groups(raw[: raw.index(b",\n")] + CLOSING, start=len(encode_header("B0007")))

    rest = read_groups(raw[first.stop :], base=first.stop, seq=1, head=first.entries[0].hash)

    assert rest.entries == told[1]
    assert rest.stop == len(raw) - len(CLOSING)


def test_commit_is_one_line() -> None:
    data, entries = chain_drafts([Draft("a", {"x": "\n"}), Draft("b", {})], MOMENT, "AB", 0, ZERO)
    assert encode_commit(data, len(entries), 0).count(b"\n") == 3  # its own, and two of the closing braces
