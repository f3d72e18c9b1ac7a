"""Every entry kind is a class: read from the record and written back unchanged, or refused in words."""

from __future__ import annotations

import ast
import zipfile
from dataclasses import MISSING, FrozenInstanceError, fields, replace
from pathlib import Path
from typing import Any

import pytest

from floor.batch import events
from floor.batch.corrections.unproved_work import find_unproved_work
from floor.batch.describe import describe
from floor.batch.events import (
    KINDS,
    BatchOpened,
    Counted,
    Disposed,
    Event,
    NewerEvent,
    Noted,
    Proved,
    RunBegun,
    StruckOut,
    make_drafts,
    read_event,
    read_run_numbers,
)
from floor.batch.fold import Inapplicable, fold
from floor.batch.lifecycle.events import LateSetup
from floor.batch.proof import LotKey, OffsetKey, ProofKey, RunKey, SetupKey, ShiftKey, StationShiftKey, ToolKey
from floor.batch.walk.events import OfRun
from floor.checklist.frozen import freeze_checklist
from floor.entry import Draft, Entry
from floor.shop import Shop
from tests.batch.test_kinds import everything_once
from tests.records.make import HERE, SHOPS

PAPER = {"acted", "seen_by"}
"""What stands beside an event that was entered from paper."""


def everything(folder: Path) -> list[Entry]:
    """The entries of the whole corpus, the shops' own too, and of a life made now."""
    found: list[Entry] = list(everything_once().state.entries)
    for name in SHOPS:
        with zipfile.ZipFile(HERE / f"{name}.zip") as packed:
            packed.extractall(folder / name)
        for record in (folder / name).glob("*/record"):
            shop = Shop(record.parent)
            found += shop.journals.open("shop").entries
            for id in [*(batch.id for batch in shop.batches), *shop.closed()]:
                found += shop.batch(id).entries
            shop.close()
    return found


def test_what_stands_in_a_record_is_read_and_written_as_it_was(tmp_path: Path) -> None:
    entries = everything(tmp_path)
    assert len(entries) > 3000
    for entry in entries:
        event = read_event(entry)
        own = {field.name for field in fields(event)}  # type: ignore[arg-type]
        as_it_was = {name: value for name, value in entry.body.items() if name not in PAPER - own}
        assert freeze_checklist(event) == as_it_was, entry.kind
        assert make_drafts(event) == [Draft(entry.kind, as_it_was)]
        assert read_run_numbers(entry.body) == event.runs, "read or not, the runs of an entry are the same"


def test_what_a_newer_floor_added_to_a_kind_is_passed_over_and_a_new_kind_reads_as_one() -> None:
    assert read_event(Draft("noted", {"text": "warm", "color": "red"})) == Noted(text="warm")
    assert read_event(Draft("weighed", {"run": "one"})) == NewerEvent("weighed")


@pytest.mark.parametrize(("kind", "body", "where"), [
    ("noted", {"text": 7}, "/text"),
    ("noted", {}, "/text': is missing"),
    ("counted", {"run": 1, "op": 10, "load": 1, "in": 2, "good": 1, "marks": [{"to": "bin"}]}, "/marks/0/to"),
    ("tool_worn", {"station": "mill", "tools": [[1]], "from": "B2"}, "/tools/0"),
    ("noted", "text", "table"),
])  # fmt: skip
def test_damaged_data_are_refused_with_their_place(kind: str, body: Any, where: str) -> None:
    with pytest.raises(ValueError, match=where):
        read_event(Draft(kind, body))


def test_a_field_is_left_out_where_it_is_as_by_default() -> None:
    begun = RunBegun(run=1, load=1, op=10, station="mill", setup=1, new_setup=True, pieces=(1, 2))
    assert make_drafts(begun)[0].body == {
        "run": 1, "load": 1, "op": 10, "station": "mill", "setup": 1, "new_setup": True, "pieces": [1, 2],
    }  # fmt: skip
    assert make_drafts(Counted(run=1, op=10, load=1, went_in=2, good=2, marks=()))[0].body["in"] == 2


def test_an_entry_of_an_unknown_kind_that_was_struck_out_is_passed_over() -> None:
    entries = everything_once().state.entries
    last = entries[-1]
    newer = replace(last, seq=last.seq + 1, kind="weighed", body={"run": 1, "grams": 5})
    strike = replace(
        newer,
        seq=newer.seq + 1,
        kind=StruckOut.KIND,
        body=make_drafts(StruckOut(seq=newer.seq, reason="wrong scales", what="weighed"))[0].body,
    )
    with pytest.raises(Inapplicable, match="a newer version of Floor wrote it. Update Floor on this machine"):
        fold([*entries, newer])
    batch = fold([*entries, newer, strike])
    assert batch.struck[newer.seq] == strike.seq
    assert newer.seq not in find_unproved_work(batch)
    assert all(describe(batch, entry) for entry in batch.entries)
    assert describe(batch, newer) == "weighed, which a newer version of Floor entered (struck out)"


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        (["probed", 1, "mill", "G54"], OffsetKey("probed", 1, "mill", "G54")),
        (["tool loaded", "mill", 3], ToolKey("tool loaded", "mill", 3)),
        (["lot recorded", "setup"], LotKey("lot recorded", "setup")),
        (["confirmed", "run", 2, "setup step 1"], RunKey("confirmed", "run", 2, "setup step 1")),
        (["confirmed", "setup", 2, "setup step 1"], SetupKey("confirmed", "setup", 2, "setup step 1")),
        (["measured", "shift", 1, 10, "end step 1"], ShiftKey("measured", "shift", 1, 10, "end step 1")),
        (
            ["measured", "shift", 1, 10, "end step 1", "mill 2"],
            StationShiftKey("measured", "shift", 1, 10, "end step 1", "mill 2"),
        ),
    ],
)
def test_what_a_proof_stands_for_is_a_class_read_from_its_list(written: list[Any], meant: ProofKey) -> None:
    body = {"run": 1, "op": 10, "line": "setup step 1", "gate": written[0], "key": written, "values": {}}

    proved = read_event(Draft(Proved.KIND, body))

    assert isinstance(proved, Proved)
    assert type(proved.key) is type(meant)
    assert proved.key == meant
    assert make_drafts(proved)[0].body["key"] == written


@pytest.mark.parametrize(
    "written",
    [
        "probed",
        [],
        ["probed", 1, "mill"],
        ["probed", "1", "mill", "G54"],
        ["confirmed", "week", 2, "setup step 1"],
        ["measured", "shift", 1, 10, "end step 1", "mill 2", "day"],
    ],
    ids=str,
)
def test_what_stands_for_nothing_is_refused(written: object) -> None:
    with pytest.raises(ValueError, match="/key"):
        read_event(
            Draft(Proved.KIND, {"run": 1, "op": 10, "line": "x", "gate": "probed", "key": written, "values": {}})
        )


def test_what_a_kind_means_stands_on_its_class() -> None:
    assert {kind for kind, event in KINDS.items() if event.LOCKED and event.GROUP != "shop"} == {
        "batch_opened", "handover_offered", "page_read", "carrier_counted", "read_back", "handover_accepted",
        "question_answered", "difference_resolved", "batch_closed", "gone_over", "taken_in", "tool_worn",
        "out_of_service", "back_in_service", "condition_reported", "condition_cleared", "checklist_weakened",
        "attempt_refused", "setup_taken_down", "gauge_suspected", "suspect_gauge_settled",
    }  # fmt: skip
    assert {kind for kind, event in KINDS.items() if event.ABNORMAL} == {
        "entered_late", "checklist_weakened", "disturbed", "cycle_stopped", "waived", "step_skipped", "set_aside",
        "surplus_taken_out", "surplus_brought_back", "surplus_goes_on", "struck_out", "out_decided", "followed_up",
        "count_corrected", "before_decided", "measured_again", "lot_corrected", "out_settled", "gauge_suspected",
        "suspect_gauge_settled",
    }  # fmt: skip
    assert not Disposed.ABNORMAL
    assert Proved.PROVES
    assert all(issubclass(event, Event) and kind == event.KIND for kind, event in KINDS.items())


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
def test_a_field_that_an_entry_does_not_have_says_nothing(kind: type[Event]) -> None:
    """Entries of earlier versions lack the fields that came since; the first edition of the rules had no number."""
    absent = {one.name: one.default for one in fields(kind) if one.default is not MISSING and one.default}
    absent |= {one.name: made for one in fields(kind) if one.default_factory is not MISSING
               and (made := one.default_factory())}  # fmt: skip
    assert absent == ({"rules": 1} if kind is BatchOpened else {})


@pytest.mark.parametrize("kind", [Noted, OfRun, LateSetup])
def test_an_event_and_its_parts_never_change_and_take_their_fields_by_name(kind: type[Any]) -> None:
    first = fields(kind)[0].name
    told = kind(**{one.name: 1 for one in fields(kind)})
    with pytest.raises(FrozenInstanceError):
        setattr(told, first, 2)
    with pytest.raises(TypeError):
        kind(1, *[1 for _ in fields(kind)[1:]])
    assert not hasattr(told, "__dict__"), "a record of 100,000 entries is held in memory"


ALSO_CALLED_SO = {"out_of_service"}
"""A field of what ``floor status --json`` prints. Kinds of one word are left out: many are other words too."""


def test_no_kind_is_spelt_outside_of_the_events() -> None:
    """A kind is known by its class; a kind spelled as text escapes type checking."""
    floor = Path(events.__file__).parents[1]
    spelt = []
    for file in floor.rglob("*.py"):
        if file.name in ("event.py", "events.py"):
            continue
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Compare | ast.Call | ast.Dict):
                inner = ast.walk(node)
                words = {one.value for one in inner if isinstance(one, ast.Constant) and isinstance(one.value, str)}
                for kind in words & {kind for kind in KINDS if "_" in kind} - ALSO_CALLED_SO:
                    spelt.append(f"{file.relative_to(floor)}:{node.lineno} {kind}")
    assert sorted(set(spelt)) == []
