"""Which papers are offered where, and that each says what it is."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import pytest

from floor.batch.corrections.commands import Note, StrikeOut
from floor.batch.counting.blind_count import list_count_subjects
from floor.batch.handover.commands import (
    AcceptHandover,
    AnswerQuestion,
    AskQuestion,
    CountSubjectPieces,
    OfferHandover,
    ReadBackLine,
    ReadHandoverPage,
)
from floor.batch.handover.page import list_safety_lines
from floor.batch.lifecycle.commands import CloseBatch, SetPiecesAside
from floor.papers.catalog import (
    KINDS,
    MOST_ALONE,
    NEW_PAGE,
    PaperGroup,
    PaperOffer,
    PaperSource,
    group_tags,
    list_handover_offers,
    list_offers,
    make_offer,
    make_signed_offer,
)
from floor.papers.tags import list_person_labels
from floor.text import WIDTH, count_cells
from tests.batch.factory import Bench, open_bench
from tests.papers.half_done import half_done, report_alone


@pytest.fixture(scope="module")
def bench() -> Bench:
    return half_done()


def source(bench: Bench, reader: str = "AA") -> PaperSource:
    return PaperSource(bench.state, bench.clock(), bench.state.entries[-1].hash, {"AA": "Arne Aas"}, reader)


def with_earlier(bench: Bench) -> PaperSource:
    """Of a shop with other batches, none of which tells anything."""
    return replace(source(bench), earlier=lambda: report_alone(bench))


def test_every_kind_of_paper_is_written_and_pinned_to_the_record(bench: Bench) -> None:
    made = {kind: make_offer(with_earlier(bench), kind, piece=1) for kind in KINDS}

    assert len({(one.stem, one.ending) for one in made.values()}) == len(KINDS)
    for kind, one in made.items():
        text = one.write()
        assert one.stem.startswith(bench.state.id)
        assert bench.state.entries[-1].hash in text
        if one.ending == "txt":
            assert max(map(count_cells, text.splitlines())) <= WIDTH, kind
            assert text.splitlines()[1].startswith({"handover": "HANDOVER SHEET", "traveler": "TRAVELER"}.get(
                kind, kind.upper()))  # fmt: skip
    assert json.loads(made["json"].write())["batch"] == bench.state.id
    assert len(list(csv.reader(io.StringIO(made["csv"].write(), newline="")))) == bench.state.seq + 1


def test_earlier_batches_are_offered_where_there_are_other_batches(bench: Bench) -> None:
    title = "Earlier batches of the part beside this one"

    assert title in [one.title for one in list_offers(with_earlier(bench))]
    assert title not in [one.title for one in list_offers(source(bench))]
    with pytest.raises(ValueError, match="no batch beside"):
        make_offer(source(bench), "earlier")


def test_the_load_or_piece_at_hand_comes_first(bench: Bench) -> None:
    """IEEE 1786-2011, backup on demand: the walk one stands in is the copy one wants."""
    under_way = next(load for load in bench.state.list_live_loads() if load.at is not None)

    assert list_offers(source(bench), load=under_way.number)[0].title.startswith(
        f"Traveler: {bench.state.format_carrier(under_way)}, load {under_way.number}, op {under_way.at}"
    )
    assert list_offers(source(bench), piece=2)[0].title == "Trace of piece 2"
    assert "Travelers of all" in list_offers(source(bench))[0].title


def test_all_copies_are_one_paper_with_a_page_for_each_load(bench: Bench) -> None:
    pages = make_offer(source(bench), "traveler").write().split(NEW_PAGE)

    loads = [load for load in bench.state.list_live_loads() if load.at is not None]
    assert len(pages) == len(loads) > 1
    for page, load in zip(pages, loads, strict=True):
        assert f"{bench.state.format_carrier(load)}, load {load.number}" in page


def test_no_signed_sheet_shows_a_figure_while_a_handover_is_counted_blind() -> None:
    """HSE, cross-check on handover."""
    bench = half_done()
    bench.say(OfferHandover("as usual"), by=bench.state.responsible)

    with pytest.raises(ValueError, match="is open: count first, its figures are hidden until then"):
        make_signed_offer(source(bench), 1)


def test_a_signed_sheet_stays_as_it_was_and_none_is_offered_while_a_handover_is_counted_blind() -> None:
    bench = half_done()
    bench.say(OfferHandover("go on with load 3"), "LL")
    bench.say(AskQuestion("Which lacquer?"), "BB")
    bench.say(ReadHandoverPage(), "BB")
    for subject in list_count_subjects(bench.state):
        bench.say(CountSubjectPieces(subject.key, subject.expected), "BB")
    for line in list_safety_lines(bench.state, bench.clock()):
        bench.say(ReadBackLine(line.key), "BB")
    bench.say(AcceptHandover(talked="face to face"), "BB")
    assert list_handover_offers(source(bench), blind=False)[-1].title.startswith("Handover 1, LL to BB")
    signed = make_signed_offer(source(bench), 1).write()
    assert "? Which lacquer? (BB)\n    OPEN" in signed
    bench.say(AnswerQuestion(min(bench.state.questions), "the clear one"), "LL")
    assert make_signed_offer(source(bench), 1).write() == signed, "what was answered since was not on it"

    bench.say(OfferHandover("as usual"), "BB")
    titles = [one.title for one in list_handover_offers(source(bench), blind=False)]
    assert not any(title.startswith("Handover 1") for title in titles)


def test_who_is_still_to_count_gets_the_sheet_alone(bench: Bench) -> None:
    """HSE, cross-check on handover: the copies carry the recorded figures."""
    assert [one.title for one in list_handover_offers(source(bench), blind=True)] == ["Handover sheet"]
    assert len(list_handover_offers(source(bench), blind=False)) == 2


@pytest.mark.parametrize(
    ("kind", "given", "said"),
    [("traveler", {"load": 99}, "load 99 is not under way"), ("trace", {}, "name a piece"),
     ("trace", {"piece": 99}, "1 to 12")],
)  # fmt: skip
def test_a_missing_load_or_piece_is_reported(bench: Bench, kind: str, given: dict[str, int], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        make_offer(source(bench), kind, **given)  # type: ignore[arg-type]


def test_the_history_says_every_entry_and_what_was_struck_out() -> None:
    """21 CFR 11.10(e): what was changed stays readable."""
    bench = half_done()
    note = bench.say(Note("wrong pallet"), "AA")[0]
    strike = bench.say(StrikeOut(note.seq, "typed by mistake"), "AA")[0]

    lines = make_offer(source(bench), "history").write().splitlines()

    numbers = [int(line[:6]) for line in lines if line[:6].strip().isdecimal()]
    assert numbers == [entry.seq for entry in bench.state.entries]
    assert any(f"STRUCK OUT by entry {strike.seq}" in line and line.startswith(f"{note.seq:>6}") for line in lines)
    assert lines[-1] == "By AA Arne Aas, LL."


def test_tags_come_last_that_of_the_load_at_hand_first(bench: Bench) -> None:
    shop = "1f3a9" + "0" * 59
    load = next(load for load in bench.state.list_live_loads() if load.at is not None)
    tags = list_offers(replace(source(bench), shop=shop), load=load.number)[-1]
    assert isinstance(tags, PaperGroup)

    found = tags.make()
    assert found[0].title == f"Tag: {bench.state.id} load {load.number}, {bench.state.format_carrier(load)}"
    assert found[-1].title == "Tag of a box of finished pieces"
    assert all(not isinstance(one, PaperGroup) for one in list_offers(source(bench))), "not without a shop's record"


def test_a_closed_batch_has_boxes_alone() -> None:
    bench = open_bench(start=2)
    bench.say(SetPiecesAside("scrap", "stock was cracked", op=10, count=2), "LL")
    bench.say(CloseBatch("stock was cracked"), "LL")
    tags = list_offers(replace(source(bench), shop="1f3a9" + "0" * 59))[-1]
    assert isinstance(tags, PaperGroup)
    assert [one.title for one in tags.make()] == ["Tag of a box of finished pieces"]


def test_many_tags_are_one_paper_and_the_first_of_them_alone() -> None:
    people = {f"P{n:02}": f"Person {n}" for n in range(MOST_ALONE + 5)}
    group = group_tags("Badges", list_person_labels(people, "1f3a9"))
    assert isinstance(group, PaperGroup)
    every, *alone = group.make()
    assert isinstance(every, PaperOffer)
    assert group.title == f"Badges ({len(people)})"
    assert every.title == f"All {len(people)} (alone, those beyond {MOST_ALONE}: floor tag)"
    assert len(every.write().split(NEW_PAGE)) == len(every.labels) == len(people)
    assert len(alone) == MOST_ALONE
    assert group_tags("Badges", every.labels[:1]).title == "Tag: P00, Person 0"
