"""What people type in a what-if: how it is read, and the reply to what cannot be read."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.checklist.loading import load_checklist
from floor.figures.calendar import Calendar
from floor.planning.curing import Cure
from floor.planning.problem import Crew
from floor.planning.questions import WORDS, NotUnderstood, read_questions
from floor.planning.questions.cures import _listed
from floor.planning.questions.days import read_day
from floor.planning.questions.likely_questions import (
    Suggestion,
    _compute_half_longer,
    insert_suggestion,
    suggest_questions,
)
from floor.planning.questions.parse_words import read_name
from floor.planning.scenario import Scenario, build_scenario
from tests.batch.factory import Bench, open_bench
from tests.planning.planned import ALWAYS, MORNING, ONE_SHIFT, ZONE, planned, potted


def begun() -> Bench:
    """Monday 2 March 2026: 39 plates for two pallets, the first of them cut."""
    bench = open_bench(potted, start=39)
    bench.through(bench.form(10), 10)
    return bench


BENCH = begun()
CASE = build_scenario([BENCH.state], ONE_SHIFT)
OTHER = replace(open_bench(potted, start=13).state, id="B0002", reference="PO 12")
TWO = build_scenario([BENCH.state, OTHER], ONE_SHIFT)


def read(text: str, case: Scenario = CASE) -> list[str]:
    return [wish.text for wish in read_questions(text, case, BENCH.clock())]


@pytest.mark.parametrize(("text", "meant"), [
    ("saturday", ["Sat 07 Mar 07:00–15:30"]),
    ("sat 14 mar", ["Sat 14 Mar 07:00–15:30"]),
    ("14 march 7-12", ["Sat 14 Mar 07:00–12:00"]),
    ("mar 14", ["Sat 14 Mar 07:00–15:30"]),
    ("2026-03-14 06:00 to 12:30", ["Sat 14 Mar 06:00–12:30"]),
    ("every saturday", ["Every Saturday 07:00–15:30"]),
    ("every saturday, saturdays", ["Every Saturday 07:00–15:30"]),
    ("saturday, sat 7-12, sat 7 mar", ["Sat 07 Mar 07:00–15:30", "Sat 07 Mar 07:00–12:00"]),
    ("second shift and a late shift", ["A second shift"]),
    ("load 1 lost, load 1 scrapped", ["Load 1 (Pallet 1) scrapped and made again"]),
    ("router down until wed; no router until wed", ["Router down until Wed 04 Mar 07:00"]),
    ("another pallet and another pallet", ["1 more Pallet", "1 more Pallet"]),
    ("Sundays 7 until 12", ["Every Sunday 07:00–12:00"]),
    ("end 1 h later", ["Shifts end 1 h later"]),
    ("shifts 90 min longer", ["Shifts end 1.5 h later"]),
    ("2 hours overtime", ["Shifts end 2 h later"]),
    ("start half an hour earlier", ["Shifts start 30 min earlier"]),
    ("end 1 h earlier", ["Shifts end 1 h earlier"]),
    ("second shift", ["A second shift"]),
    ("2 more pallets", ["2 more Pallets"]),
    ("two pallets more", ["2 more Pallets"]),
    ("+2 pallets; -1 tote", ["2 more Pallets", "1 fewer Tote"]),
    ("another pallet", ["1 more Pallet"]),
    ("borrowed pallet", ["1 more Pallet"]),
    ("eight more pallets", ["8 more Pallets"]),
    ("without one tote", ["1 fewer Tote"]),
    ("1 more person", ["1 person more"]),
    ("2 operators more", ["2 people more"]),
    ("a person less", ["1 person fewer"]),
    ("second router", ["1 more Router"]),
    ("1 more place at the bench", ["1 more place at Bench"]),
    ("router down until mon 15:00", ["Router down until Mon 02 Mar 15:00"]),
    ("router down until wed", ["Router down until Wed 04 Mar 07:00"]),
    ("no router until wed 10:00", ["Router down until Wed 04 Mar 10:00"]),
    ("the bench is out until 2026-03-09", ["Bench down until Mon 09 Mar 07:00"]),
    ("router down until saturday", ["Router down until Mon 09 Mar 07:00"]),
    ("cure 6 h shorter", ["Cure after 20 Pot with resin 6 h shorter"]),
    ("cure after 20 12 h longer", ["Cure after 20 Pot with resin 12 h longer"]),
    ("resin 30 min longer", ["Cure after 20 Pot with resin 30 min longer"]),
    ("the resin cure 1 h shorter", ["Cure after 20 Pot with resin 1 h shorter"]),
    ("op 20 1 h shorter", ["Cure after 20 Pot with resin 1 h shorter"]),
    ("pot with resin 90 min less", ["Cure after 20 Pot with resin 1.5 h shorter"]),
    ("end of every shift 1 h later", ["Shifts end 1 h later"]),
    ("load 1 scrapped", ["Load 1 (Pallet 1) scrapped and made again"]),
    ("12 more pieces", ["12 more pieces"]),
    ("What if we came in Saturday and borrowed two pallets?", ["Sat 07 Mar 07:00–15:30", "2 more Pallets"]),
])  # fmt: skip
def test_what_is_written_plainly_is_understood(text: str, meant: list[str]) -> None:
    assert read(text) == meant


@pytest.mark.parametrize(("text", "meant"), [
    ("b0002 first", ["B0002 first"]),
    ("PO 12 first", ["B0002 first"]),
    ("b0002 first, batch b0002 goes first", ["B0002 first"]),
    ("cure 6 h shorter", ["Cure after 20 Pot with resin 6 h shorter"]),
    ("cure after 20 of B0002 6 h shorter", ["Cure after 20 Pot with resin of B0002 6 h shorter"]),
    ("resin of B0002 1 h shorter", ["Cure after 20 Pot with resin of B0002 1 h shorter"]),
    ("load 1 of b0001 lost", ["Load 1 of B0001 (Pallet 1) scrapped and made again"]),
    ("12 more pieces of B0002", ["12 more pieces of B0002"]),
])  # fmt: skip
def test_where_there_are_several_batches_one_is_named(text: str, meant: list[str]) -> None:
    assert read(text, TWO) == meant


@pytest.mark.parametrize(("text", "said"), [
    ("", 'nothing is asked yet. Write for example "saturday, 2 more pallets"'),
    ("foo", '"foo": not understood. Write for example "saturday", '),
    ("saturday, 3 more palets", '"3 more palets": there is no "palets" here. Did you mean Pallet? There are: person, '),
    ("2 pallets", 'more or fewer? Write "2 more pallets" or "2 fewer pallets".'),
    ("0 more pallets", "0 is out of range. Write 1 to 99."),
    ("500 more pallets", "500 is out of range"),
    ("100 more pallets", "100 is out of range. Write 1 to 99."),
    ("99999999 more pallets", "99999999 is out of range. Write 1 to 99."),
    ("999999999 more pallets", 'there is no "999999999 pallets" here'),
    ("2 pallets fewer", '"2 pallets fewer": there are 2 Pallets, 1 under a load now: at most 1 fewer, until one is '
                        "empty."),
    ("5 totes fewer", '"5 totes fewer": there are 2 Totes: at most 1 fewer.'),
    ("2 totes fewer", '"2 totes fewer": there are 2 Totes: at most 1 fewer.'),
    ("1 tote fewer, 1 tote fewer", "all of it together: there are 2 Totes: at most 1 fewer."),
    ("-2 more totes", 'a minus and "more" contradict each other. Write "2 more totes" or "2 fewer totes".'),
    ("+2 fewer totes", 'a plus and "fewer" contradict each other. Write "2 more totes" or "2 fewer totes".'),
    ("-2 fewer totes", 'a minus and "fewer" contradict each other. Write "2 more totes" or "2 fewer totes".'),
    ("-12 more pieces", '"-12 more pieces": a minus and "more" contradict each other. Write "12 more pieces".'),
    ("12 pieces fewer", "pieces already started cannot be taken back. Write 12 more pieces."),
    ("2 persons less", "there is 1 person on a shift."),
    ("friday", "Fri 06 Mar is worked already, 07:00 to 15:30."),
    ("every friday", "every Friday is worked already"),
    ("sat 8 mar", "08 Mar 2026 is a Sunday."),
    ("31 feb", "there is no 31 Feb"),
    ("2026-02-30", "2026-02-30 is not in the calendar"),
    ("2026-03-01", "01 Mar 2026 is past"),
    ("2040-03-01", "01 Mar 2040 is too far away"),
    ("sat 25-12", "25:00 is not a time of day"),
    ("saturday 4 h", "which day, or which hours? Write it like saturday"),
    ("end later", "by how much? Write it like end 1 h later."),
    ("shift 2 h", "earlier or later?"),
    ("end 9 h earlier", "a shift of -0.5 h. The one from 07:00 to 15:30 can be 15 min to 24 h long."),
    ("end 5 h earlier, start 4 h later", "all of it together: a shift of -0.5 h."),
    ("end 99999 h later", "99999 h is out of range"),
    ("router down", "until when? Write it like router down until wed 10:00."),
    ("router down until soon", '"soon" is not a day.'),
    ("router down until 05:00", '"05:00" is not to come.'),
    ("lathe down until wed", 'there is no "lathe" here. There are: Router, Bench.'),
    ("1 router fewer", 'fewer of Router cannot be asked. Write "Router down until" and the day.'),
    ("cure longer", "by how much? Write it like cure 6 h shorter."),
    ("cure 6 h", "by how much, longer or shorter?"),
    ("cure after 30 6 h shorter", "which cure? There is resin after 20 Pot with resin. "
                                   "Write it like resin 1 h shorter."),
    ("xyz 1 h shorter", 'there is no "xyz" here that can be shorter. Ask about all shifts, like end 1 h later, or what '
                        "cures here: resin after 20 Pot with resin. Write it like resin 1 h shorter."),
    ("router 1 h longer", 'there is no "router" here that can be longer.'),
    ("saturday 1 h longer", 'there is no "saturday" here that can be longer.'),
    ("first shift 1 h later", 'there is no "first shift" here that can be later.'),
    ("resin 1 h later", "longer or shorter? Write it like resin 1 h shorter."),
    ("cure 30 h shorter", "resin after 20 Pot with resin lasts 24 h; take off no more than that."),
    ("cure 20 h shorter, resin 20 h shorter", "all of it together: resin after 20 Pot with resin lasts 24 h"),
    ("99999999999 dec", "there is no 99999999999 Dec."),
    ("router down 99999999999 h", ""),
    ("cure 99999999999 h longer", ""),
    ("end 99999999999 h later", ""),
    ("B0001 first", "there is only one order, so it is first already."),
    ("B0002 first", "there is only one order, so it is first already."),
    ("load 1 of B0002 scrapped", 'there is no "B0002" here, and only one order. Leave "of B0002" out.'),
    ("load 7 scrapped", "there is no load 7 under way. Under way: 1."),
    ("9 more places", 'there is no "places" here.'),
    (", ".join(["saturday"] * 9), "9 changes are too many for one table. Ask about 8 at most"),
])  # fmt: skip
def test_an_impossible_question_is_reported_with_what_to_write(text: str, said: str) -> None:
    with pytest.raises(NotUnderstood) as wrong:
        read(text)
    assert said in str(wrong.value)


def test_no_more_pieces_than_a_batch_holds(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("floor.planning.questions.counts.MOST_PIECES", BENCH.state.started + 5)

    assert read("5 more pieces") == ["5 more pieces"]
    with pytest.raises(NotUnderstood, match="pieces: at most 5 more"):
        read("6 more pieces")


def soaked(tmp_path: Path) -> Scenario:
    """The lid with a resin that closes, a second clock beside it, and a soak within a cycle."""
    text = Path(__file__).with_name("lid.toml").read_text()
    resin = '  { id = "resin", starts = "step pour", windows = [{ earliest = "24 h" }], source'
    assert resin in text
    text = text.replace(
        resin,
        """
  { id = "degas", starts = "step pour", windows = [{ earliest = "2 h" }], source = "Shop's own trial" },
  { id = "resin", starts = "step pour", windows = [{ earliest = "24 h", latest = "30 h" }], source""",
    )
    text = text.replace(
        '{ gate = "cured", clock = "resin", at = "arrive" },',
        """
  { gate = "cured", clock = "resin", at = "arrive" },
  { gate = "cured", clock = "degas", at = "arrive" },
  { gate = "cured", clock = "wet-soak", at = "cycle" },""",
    )
    text = text.replace(
        'time = { before = "4 min", cycle_piece = "50 s", after = "2 min" }',
        """
time = { before = "4 min", cycle = "90 min", after = "2 min" }
clocks = [{ id = "wet-soak", starts = "start", windows = [{ earliest = "1 h" }], source = "Shop's own trial" }]""",
    )
    (tmp_path / "part.toml").write_text(text)
    loaded = load_checklist(tmp_path / "part.toml")
    assert loaded.checklist is not None, loaded.problems
    checklist = loaded.checklist
    return build_scenario([open_bench(lambda: checklist, start=13).state], ONE_SHIFT)


def test_of_several_clocks_one_is_named_and_keeps_within_its_window(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    case = soaked(tmp_path)
    assert read("degas 30 min longer", case) == ["Degas after 20 Pot with resin 30 min longer"]
    assert read("wet soak 1 h longer", case) == ["Cure in 30 Face the resin flush 1 h longer"]
    (wish,) = read_questions("degas 30 min longer", case, BENCH.clock())
    (changed,) = wish.supposed(case).changes.values()
    assert changed.longer == {"degas": 30}

    for text, said in [
        ("cure after 20 1 h longer", "which cure? There is resin after 20 Pot with resin and degas after 20 Pot with "),
        ("op 20 1 h longer", "which of them? There is resin after 20"),
        ("resin 7 h longer", "opens after 24 h and closes after 30 h, so 6 h longer at most"),
        (
            "wet soak 30 min longer",
            "wet soak in 30 Face the resin flush lasts 1 h within a cycle that takes 1.5 h by "
            "itself, so this changes nothing",
        ),
    ]:
        with pytest.raises(NotUnderstood, match=re.escape(said)):
            read(text, case)

    plan = planned(*case.batches, now=BENCH.clock())
    monkeypatch.setattr("floor.planning.questions.likely_questions.MOST", 20)
    found = [offer.one for offer in suggest_questions(plan, case, BENCH.clock()) if "longer" in offer.one]
    assert found == ["resin 6 h longer", "degas 1 h longer", "cure after 30 1 h longer"]
    for one in found:
        assert read(one, case)


def test_what_is_written_like_can_be_shortened() -> None:
    """The soak of an hour is in a cycle of an hour: a shorter one would change nothing."""
    soak = Cure("wet-soak", 30, 60, None, 60, frozenset({30}))
    resin = Cure("resin", 20, 24 * 60, None, 0, frozenset({30}))
    known = [(BENCH.state, soak), (BENCH.state, resin)]
    assert _listed(known).endswith(". Write it like resin 1 h shorter")
    assert _listed(known[:1]).endswith(". Write it like wet soak 1 h shorter"), "there is no other"


def test_a_day_may_be_up_to_three_years_away() -> None:
    today = date(2026, 3, 2)
    assert read_day("2029-03-02", today) == date(2029, 3, 2)
    with pytest.raises(NotUnderstood, match="is too far away"):
        read_day("2029-03-20", today)


def test_more_and_fewer_of_a_carrier_in_any_order_are_one_number() -> None:
    """Two fewer of two totes leave none; with one more beside them they do, whatever is written first."""
    for text in ("1 more tote, 1 tote fewer, 1 tote fewer", "1 tote fewer, 1 tote fewer, 1 more tote"):
        assert len(read(text)) == 3


def test_where_every_carrier_is_under_a_load_none_can_be_fewer() -> None:
    bench = begun()
    bench.form(10)
    with pytest.raises(NotUnderstood, match="there are 2 Pallets, 2 under a load now: none fewer, until one is empty"):
        read("1 pallet fewer", build_scenario([bench.state], ONE_SHIFT))


def test_fewer_of_what_checklists_count_differently_starts_from_the_plans_least() -> None:
    few = tuple(replace(one, count=1) if one.id == "tote" else one for one in OTHER.checklist.carriers)
    two = build_scenario([BENCH.state, replace(OTHER, checklist=replace(OTHER.checklist, carriers=few))], ONE_SHIFT)
    with pytest.raises(NotUnderstood, match="there is 1 Tote: none fewer, as the work needs one"):
        read("1 tote fewer", two)


@pytest.mark.parametrize(("text", "said"), [
    ("B0003 first", 'there is no "B0003" here.'),
    ("load 1 scrapped", 'of which batch? Write "load 1 of B0001 scrapped".'),
    ("12 more pieces", 'of which batch? Write "12 more pieces of B0001".'),
])  # fmt: skip
def test_of_several_batches_it_is_asked_which(text: str, said: str) -> None:
    with pytest.raises(NotUnderstood) as wrong:
        read(text, TWO)
    assert said in str(wrong.value)


def test_on_a_saturday_it_is_today_until_its_hours_are_over() -> None:
    saturday = datetime(2026, 3, 7, 8, tzinfo=MORNING.tzinfo)
    for hour, day in ((8, "Sat 07 Mar"), (14, "Sat 07 Mar"), (16, "Sat 14 Mar")):
        now = replace(BENCH.clock(), at=saturday.replace(hour=hour))
        assert [wish.text for wish in read_questions("saturday", CASE, now)] == [f"{day} 07:00–15:30"]
    assert read_day("sat", date(2026, 3, 7)) == date(2026, 3, 7)


def test_shifts_that_fill_the_day_have_no_second_one() -> None:
    with pytest.raises(NotUnderstood, match="the shifts fill the day"):
        read("second shift", build_scenario([BENCH.state], ALWAYS))


def test_hours_nobody_knows_are_asked_for() -> None:
    nobody = build_scenario([BENCH.state], Crew(Calendar(ZONE, ())))
    with pytest.raises(NotUnderstood, match="Say them, like 07:00-12:00"):
        read("saturday", nobody)
    assert read("saturday 7-12", nobody) == ["Sat 07 Mar 07:00–12:00"]


def test_every_example_is_understood_where_its_things_are_there() -> None:
    """Those of the help and the screen name an oven and a load 3 that this shop has not."""
    for words, _ in WORDS:
        for one in words.replace("oven", "bench").replace("load 3", "load 1 of B0001").split(" · "):
            one += " of B0001" if one.endswith("pieces") else ""
            assert read(one, TWO), one


SAID = """saturday every sat 7-12 25-99 2026-12-05 end start 1 2 0 -3 +4 h min later earlier more fewer pallet pallets
router bench down until wed 10:00 cure after 20 of B0002 first load scrapped pieces person place at second shift no a
half an hour longer shorter 99999999999 5 dec 31 feb , and"""


@settings(max_examples=300)
@given(st.one_of(st.lists(st.sampled_from(SAID.split()), max_size=8).map(" ".join), st.text(max_size=40)))
def test_whatever_is_written_is_read_or_refused_in_a_sentence(text: str) -> None:
    said = ""
    try:
        wishes = read_questions(text, TWO, BENCH.clock())
    except NotUnderstood as wrong:
        said = str(wrong)
    assert len(said) > 20 if said else all(wish.text for wish in wishes)


def test_what_is_offered_is_understood_and_the_likely_comes_first() -> None:
    plan = planned(BENCH.state, OTHER, now=BENCH.clock())
    found = suggest_questions(plan, TWO, BENCH.clock())

    words = [offer.one for offer in found]
    assert words[:3] == ["saturday", "1 more Pallet", "end 1 h later"]
    assert len(words) == len(set(words)) <= 8
    for offer in found:
        assert read(offer.one, TWO)
        assert not offer.many or read(offer.many.format(3), TWO)


def test_an_offer_put_in_again_is_one_more_or_taken_out() -> None:
    pallet, saturday = Suggestion("1 more Pallet", "{} more Pallets"), Suggestion("saturday")

    text = insert_suggestion(insert_suggestion("", saturday), pallet)
    assert text == "saturday, 1 more Pallet"
    text = insert_suggestion(insert_suggestion(text, pallet), pallet)
    assert text == "saturday, 3 more Pallets"
    assert insert_suggestion(text, saturday) == "3 more Pallets"
    assert insert_suggestion("end 1 h later,", pallet) == "end 1 h later, 1 more Pallet"
    assert insert_suggestion("end 1 h later", saturday) == "end 1 h later, saturday"


@pytest.mark.parametrize(
    ("cure", "longer"),
    [
        (Cure("resin", 20, 120, None, 0, frozenset({30})), 60),
        (Cure("resin", 20, 120, 150, 0, frozenset({30})), 30),
        (Cure("soak", 20, 60, None, 90, frozenset({20})), 60),
        (Cure("soak", 20, 60, 90, 90, frozenset({20})), 0),
    ],
)
def test_half_as_long_again_is_offered_where_it_is_noticed(cure: Cure, longer: int) -> None:
    """A cure that its window closes before the cycle is over anyway cannot get longer than the cycle."""
    assert _compute_half_longer(cure) == longer


def test_a_day_that_is_worked_once_is_offered_every_week() -> None:
    once = replace(ONE_SHIFT.calendar, single=((date(2026, 3, 7), ONE_SHIFT.calendar.shifts[4]),))
    plan = planned(BENCH.state, now=BENCH.clock())
    found = suggest_questions(plan, build_scenario([BENCH.state], Crew(once)), BENCH.clock())
    assert found[0].one == "every saturday"


def test_a_word_that_two_names_share_is_asked_about() -> None:
    mills = {"mill-1": "North mill", "mill-2": "South mill"}
    assert read_name("south mills", mills) == read_name("south", mills) == "mill-2"
    with pytest.raises(NotUnderstood, match='"mill" can be North mill or South mill. Write its whole name'):
        read_name("mill", mills)


@pytest.mark.parametrize(("text", "sense"), [
    ("end 1 h later", 1), ("start 1 h earlier", 1), ("shifts 1 h longer", 1), ("end 1 h earlier", -1),
    ("start 1 h later", -1), ("shifts 1 h shorter", -1), ("saturday", 1), ("every saturday", 1), ("second shift", 1),
    ("1 more pallet", 1), ("1 tote fewer", -1), ("1 more person", 1), ("second router", 1), ("cure 6 h shorter", 1),
    ("cure 6 h longer", -1), ("router down until wed", -1), ("load 1 scrapped", -1), ("12 more pieces", -1),
])  # fmt: skip
def test_what_can_only_help_and_what_can_only_harm(text: str, sense: int) -> None:
    assert [wish.sense for wish in read_questions(text, CASE, BENCH.clock())] == [sense]
