"""What of one batch concerns the others and the shop's own record, on batches in memory."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from floor.batch import events
from floor.batch.command import Command, Context, Person
from floor.batch.corrections.commands import Note, StrikeOut, StrikeTold
from floor.batch.corrections.from_paper import TranscribeAct
from floor.batch.counting.commands import CountRun
from floor.batch.events import make_drafts
from floor.batch.gates.commands import Prove
from floor.batch.gates.offset_history import list_last_probed
from floor.batch.gates.open_lot import OpenLot
from floor.batch.lifecycle.commands import CloseBatch, FormLoad, OpenBatch, SetPiecesAside
from floor.batch.lifecycle.transfer import TakeInBatch, TransferBatch
from floor.batch.proof import ProbedLast, ToolState
from floor.batch.stations.commands import Disturb, TakeDown, WearTools
from floor.batch.stations.out_of_service import ReturnToService, TakeOutOfService
from floor.batch.walk.commands import BeginRun, DoStep, EndCycle, StartCycle
from floor.batch.walk.stop_cycle import StopCycle
from floor.shop.effects_on_other_batches import (
    draft_effects,
    draft_shop_entries,
    draft_tool_changes,
    find_effects,
    has_effect_on,
    is_shop_wide,
    merge_tool_wear,
)
from floor.shop.other_batches import gather_other_batches
from floor.shop.shop_record import ShopRecord
from tests.batch.factory import MORNING, ONE_CYCLE, Bench, edited, open_bench, part

FIRST, OTHER = ("mill", 1), ("mill", 2)


def cut(bench: Bench, pieces: int = 2) -> int:
    """Mill so many pieces at op 10: tool 1 takes 5 min for each."""
    load = bench.form(10, pieces)
    bench.through(load, 10)
    return load


@pytest.mark.parametrize(
    ("command", "wide"),
    [
        (OpenBatch("B0002", part(), "digest", "part.toml", 1, 1), True),
        (BeginRun(1), True),
        (FormLoad(10), True),
        (StrikeOut(3, "slip"), True),
        (StopCycle(1, "alarm"), True),
        (EndCycle(1), True),
        (CloseBatch("done"), True),
        (TransferBatch("there"), True),
        (TakeInBatch("from there"), True),
        (SetPiecesAside("scrap", "bent"), True),
        (Disturb("mill", "power lost"), True),
        (StartCycle(1), False),
        (StartCycle(1, anew=True), True),
        (Prove(1, "tool loaded 1", {"tool": 1}), True),
        (Prove(1, "probed 1", {"offset": "G54"}), True),
        (Prove(1, "measured 1", {"value": 3.0}), False),
        (Prove(1, "measured 1", {"value": 3.0, "gauge": "DM-04"}), True),
        (Prove(1, "first piece accepted 1", {"value 1": 3.0, "gauge 1": "DM-04"}), True),
        (Prove(1, "lot recorded 1", {"lot": "BG-1"}), True),
        (OpenLot("bar gauge", "BG-1"), True),
        (Note("swept"), False),
        (DoStep(1, "do 1"), False),
        (CountRun(1, 4), False),
        (TranscribeAct(BeginRun(1), MORNING), True),
        (TranscribeAct(Note("swept"), MORNING), False),
    ],
)
def test_what_takes_or_tells_something_takes_its_turn_at_the_shop(command: Any, wide: bool) -> None:
    assert is_shop_wide(command) is wide


def test_a_probing_takes_its_turn_at_the_shop_whatever_its_values_are_called() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "probed 1")
    run = bench.run_of(load).number
    assert is_shop_wide(Prove(run, "probed 1", {"X": 0.0, "Z": 0.0}), bench.state)
    assert is_shop_wide(TranscribeAct(Prove(run, "probed 1", {"X": 0.0}), MORNING), bench.state)
    assert is_shop_wide(Prove(run + 1, "probed 1", {"X": 0.0}), bench.state), "begun at another terminal just now"
    assert not is_shop_wide(Prove(run, "measured 1", {"value": 3.0}), bench.state)


NEWS: list[tuple[Command, bool, bool]] = [
    (TakeDown("mill", "B0002"), False, True),
    (TakeDown("oven", "B0002"), False, False),
    (Disturb("mill", "power lost"), False, True),
    (Disturb("oven", "power lost"), False, False),
    (Disturb("mill", "tool changed", tool=1), False, True),
    (Disturb("mill", "tool changed", tool=9), False, False),
    (Disturb("mill", "tool changed"), False, False),
    (Disturb("mill", "rezeroed", offset="G54"), False, True),
    (Disturb("mill", "rezeroed", offset="g54 "), False, True),
    (Disturb("mill", "rezeroed", offset="G55"), False, False),
    (Disturb("oven", "rezeroed", offset="G54"), False, False),
    (TakeOutOfService("table", "leg broken"), True, True),
    (TakeOutOfService("lathe", "belt"), False, False),
    (ReturnToService("oven"), True, True),
    (ReturnToService("mill"), False, False),
    (WearTools("mill", ((1, 601.0),), "B0002"), False, True),
    (WearTools("mill", ((1, 600.0),), "B0002"), False, False),
    (WearTools("mill", ((1, 1.0), (3, 900.0)), "B0002"), False, False),
    (Note("swept"), True, True),
    (StrikeTold("B0002 entry 3", "slip", "B0002", "B0002 entry 4"), False, False),
]
"""A command told to a batch; whether it means anything to a batch that did nothing, and to one that has cut."""


@pytest.mark.parametrize(("news", "idle", "worked"), NEWS)
def test_news_reach_whom_they_concern(news: Command, idle: bool, worked: bool) -> None:
    one, other = open_bench(), open_bench()
    cut(other)
    for bench in (one, other):
        bench.say(TakeOutOfService("oven", "door jams"))
    assert other.state.tools[FIRST].used == 600

    assert has_effect_on(one.state, news) is idle
    assert has_effect_on(other.state, news) is worked
    other.say(TransferBatch("the other shop"), "LL")
    assert not has_effect_on(other.state, news), "away: it is told nothing"
    one.say(SetPiecesAside("scrap", "spoilt", op=10, count=8))
    one.say(CloseBatch("enough"), "LL")
    assert not has_effect_on(one.state, news), "closed"


def test_a_change_of_a_tool_without_a_card_concerns_who_worked_there_and_has_no_card_either() -> None:
    worked = open_bench()
    load = worked.form(10)
    worked.through(load, 10)

    assert not has_effect_on(worked.state, Disturb("mill", "tool changed")), "which of those with a card?"
    assert not has_effect_on(worked.state, Disturb("bench", "tool changed")), "nothing was done there"
    worked.through(load, 20)
    assert has_effect_on(worked.state, Disturb("bench", "tool changed"))


def test_a_set_up_is_taken_down_once_until_the_batch_works_there_again() -> None:
    bench = open_bench()
    cut(bench)
    news = [TakeDown("mill", "B0002"), TakeDown("oven", "B0002")]
    context = bench.context("", "AA")
    drafts = draft_effects(bench.state, news, context)
    assert [(one.kind, one.body["station"], one.body["for"]) for one in drafts] == [
        ("setup_taken_down", "mill", "B0002")
    ]
    bench.say(TakeDown("mill", "B0002"))
    assert draft_effects(bench.state, news, context) == []
    load = bench.form(10, 1)
    bench.begin(load)
    assert len(draft_effects(bench.state, news, context)) == 1
    bench.say(TakeDown("oven", "B0002"))
    assert has_effect_on(bench.state, news[0]), "another station's was taken down since"


def test_what_is_told_of_a_station_cites_the_entry() -> None:
    bench = open_bench()
    cut(bench)
    context = bench.context("", "AA")

    def told(command: Command) -> list[Command]:
        return find_effects(bench.state, command, command.decide(bench.state, context), {})

    cite = bench.state.format_citation(bench.state.seq + 1)
    assert told(Disturb("mill", "power lost", note="main fuse")) == [
        Disturb("mill", "power lost", note="entered on B0001", told=cite)
    ]
    assert told(Disturb("mill", "lifted", load=1)) == []
    assert told(TakeOutOfService("mill", "belt")) == [TakeOutOfService("mill", "belt")]
    assert told(Note("swept")) == []
    load = bench.form(10, 2)
    assert told(BeginRun(load)) == [], "the set-up stands"
    bench.until(load, "end", wait=False)
    assert told(EndCycle(bench.run_of(load).number)) == [WearTools("mill", ((1, 600.0 + 600.0),), "B0001")]


def test_a_cycle_tells_the_total_of_each_tool_and_what_was_cut_for_nothing() -> None:
    bench = open_bench()
    cut(bench)
    load = bench.form(10, 3)
    bench.until(load, "start")
    run = bench.run_of(load).number
    context = bench.context("", "AA")
    started = StartCycle(run)
    assert find_effects(bench.state, started, started.decide(bench.state, context), {}) == []
    bench.say(started)
    bench.say(StopCycle(run, "alarm"))
    anew = StartCycle(run, anew=True)
    assert find_effects(bench.state, anew, anew.decide(bench.state, context), {}) == [
        WearTools("mill", ((1, 600.0 + 900.0),), "B0001")
    ]
    aside = SetPiecesAside("scrap", "torn", load=load, count=2)
    assert find_effects(bench.state, aside, aside.decide(bench.state, context), {}) == [], "one piece is left"
    aside = SetPiecesAside("scrap", "torn", load=load, count=3)
    assert find_effects(bench.state, aside, aside.decide(bench.state, context), {}) == [
        WearTools("mill", ((1, 1500.0),), "B0001")
    ]


@pytest.mark.parametrize(("later", "z"), [(-1.0, 0.0), (1.0, 0.09)])
def test_of_open_and_closed_batches_the_later_probing_of_a_carrier_counts(later: float, z: float) -> None:
    last = '{ name = "Z", low = "-0.1 mm", high = "0.1 mm" }]'
    bench = open_bench(lambda: edited((last, f'{last}, repeats = "0.02 mm"')))
    bench.through(bench.form(10), 10)
    [(place, own)] = list_last_probed(bench.state).items()
    closed = ShopRecord(probed={place: ProbedLast(own.at + later, {"Z": 0.09})})

    seen = gather_other_batches([bench.state], closed, False, 0.0, (), None)

    last = seen.find_probed(place)
    assert last is not None
    assert last.values["Z"] == (z or own.values["Z"])


def test_where_two_differ_the_tool_is_as_worn_as_the_further_says() -> None:
    one, two = open_bench().state, open_bench().state
    one.tools = {FIRST: ToolState(None, MORNING, 100.0), OTHER: ToolState(None, MORNING, 7.0)}
    two.tools = {FIRST: ToolState(None, MORNING, 250.0)}
    record = ShopRecord(worn={FIRST: 180.0, OTHER: 9.0, ("router", 3): 4.0})

    assert merge_tool_wear([one, two], record) == {FIRST: 250.0, OTHER: 9.0, ("router", 3): 4.0}
    assert merge_tool_wear([], ShopRecord()) == {}
    assert record.worn[FIRST] == 180.0, "the record itself is left alone"


@pytest.mark.parametrize(
    ("known", "left"),
    [
        ({}, ((*FIRST, 100.0), (*OTHER, 7.0))),
        ({FIRST: 99.9}, ((*FIRST, 100.0), (*OTHER, 7.0))),
        ({FIRST: 100.0}, ((*OTHER, 7.0),)),
        ({FIRST: 300.0, OTHER: 8.0}, ()),
    ],
)
def test_a_batch_that_leaves_tells_the_shop_only_what_it_does_not_know(known: Any, left: Any) -> None:
    batch = open_bench().state
    batch.tools = {OTHER: ToolState(None, MORNING, 7.0), FIRST: ToolState(None, MORNING, 100.0)}
    record = ShopRecord(worn=known)
    for command in (CloseBatch("done"), TransferBatch("there")):
        drafts = draft_shop_entries(batch, command, [], record, {})
        assert [one.body["tools"] for one in drafts] == ([[list(one) for one in left]] if left else [])
    assert draft_shop_entries(batch, Note("swept"), [], record, {}) == []
    out = TakeOutOfService("mill", "belt").decide(batch, Context(open_bench().clock(), Person("AA")))
    assert draft_shop_entries(batch, TakeOutOfService("mill", "belt"), out, record, {}) == out


@pytest.mark.parametrize(
    ("worn", "left"),
    [
        ({}, [["mill", 1, 600.0]]),
        ({FIRST: 599.0}, [["mill", 1, 600.0]]),
        ({FIRST: 600.0}, None),
        ({FIRST: 700.0}, None),
    ],
)
def test_a_loading_struck_out_leaves_the_shop_the_wear_it_did_not_know(worn: Any, left: Any) -> None:
    bench = open_bench()
    cut(bench)
    loaded, *_ = [one for one in bench.state.entries if one.body.get("gate") == "tool loaded"]
    record = ShopRecord(worn=worn)

    drafts = draft_shop_entries(bench.state, StrikeOut(loaded.seq, "slip"), [], record, {})

    assert [one.body["tools"] for one in drafts] == ([left] if left else [])
    assert draft_shop_entries(bench.state, StrikeOut(1, "slip"), [], record, {}) == []


def test_a_change_struck_out_gives_back_what_was_worn_and_what_was_cut_since() -> None:
    bench = open_bench()
    bench.elsewhere = replace(bench.elsewhere, worn={FIRST: 900.0})
    changed = bench.say(Disturb("mill", "tool changed", tool=1))[0]
    bench.elsewhere = replace(bench.elsewhere, worn={})
    cut(bench, 1)
    strike = StrikeOut(changed.seq, "was not changed")
    for elsewhere, total in (({}, 1200.0), ({FIRST: 299.0}, 1200.0), ({FIRST: 400.0}, 1300.0)):
        drafts = draft_shop_entries(bench.state, strike, [], ShopRecord(), elsewhere)
        assert [one.body["tools"] for one in drafts] == [[["mill", 1, total]]]


def test_after_a_change_the_shop_forgets_the_wear_of_the_old_tool_alone() -> None:
    def changed(*tools: int | None, what: str = "tool changed") -> list[dict[str, Any]]:
        record = ShopRecord(worn={FIRST: 5.0, OTHER: 6.0})
        drafts = [
            draft
            for tool in tools
            for draft in make_drafts(
                events.Disturbed(station="mill", what=what, load=None, tool=tool, offset="", note="", worn=0.0, told="")  # type: ignore[arg-type]
            )
        ]
        return [dict(one.body) for one in draft_tool_changes(drafts, record)]

    assert changed(1) == [{"station": "mill", "tool": 1}]
    assert changed(2, 1) == [{"station": "mill", "tool": 2}, {"station": "mill", "tool": 1}]
    assert changed(7) == changed(None) == changed(1, what="power lost") == changed() == []


def test_a_zero_set_elsewhere_reaches_a_batch_whose_probing_was_struck_out() -> None:
    bench = open_bench()
    load = bench.form(10, 1)
    bench.until(load, "probed 1")
    news = Disturb("mill", "rezeroed", offset="G54", note="probed for B0002")
    assert not has_effect_on(bench.state, news), "set up there, not probed yet"
    assert not bench.hand().work(load, stop=lambda line: bench.state.entries[-1].body.get("gate") == "probed")
    probed = next(one for one in bench.state.entries if one.body.get("gate") == "probed")
    bench.say(StrikeOut(probed.seq, "wrong pallet"))
    assert not any(key[0] == "probed" for key in bench.state.proofs)
    assert has_effect_on(bench.state, news)
    assert not has_effect_on(bench.state, replace(news, station="bench"))
    assert not has_effect_on(bench.state, replace(news, offset="G55"))


def test_a_strike_told_concerns_who_was_told_what_is_struck() -> None:
    bench = open_bench()
    cut(bench)
    bench.say(Disturb("mill", "power lost", note="entered on B0002", told="B0002 entry 3"))
    news = StrikeTold("B0002 entry 3", "slip", "B0002", "B0002 entry 4")
    assert has_effect_on(bench.state, news)
    [strike] = draft_effects(bench.state, [news], bench.context("", "AA"))
    assert (strike.kind, strike.body["seq"], strike.body["reason"]) == ("struck_out", bench.state.seq, "slip")


def test_cautions_read_with_the_end_change_nothing_of_what_the_cycle_wore() -> None:
    """They are the first entry, and of one run; the wear is that of all loads in the cycle: 2 x 4 pieces of 5 min."""
    hot = ('program = "KB7-10 A"\n', 'program = "KB7-10 A"\nend_cautions = ["hot"]\n')
    bench = open_bench(lambda: edited(*ONE_CYCLE, hot), 16, 16)
    first, second = bench.form(10), bench.form(10)
    for load in (first, second):
        bench.until(load, "start")
    bench.until(first, "end", wait=False)
    command = EndCycle(bench.run_of(first).number, cautions_read=True)
    drafts = command.decide(bench.state, bench.context("", "AA"))

    assert [one.kind for one in drafts] == ["cautions_read", "cycle_ended"]
    assert find_effects(bench.state, command, drafts, {}) == [WearTools("mill", ((1, 8 * 300.0),), "B0001")]
