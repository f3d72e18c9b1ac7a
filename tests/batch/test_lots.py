"""A new can in mid-batch: from then on, and for the loads it goes into; the others keep theirs."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from functools import partial

import pytest

from floor.batch.corrections.commands import ConfirmClock, Note, StrikeOut
from floor.batch.gates.commands import Prove, Waive
from floor.batch.gates.correct_lot import CorrectLot
from floor.batch.gates.open_lot import OpenLot, list_uncounted_runs
from floor.batch.quality.first_article import find_first_article
from floor.batch.search.trace import trace
from floor.checklist.model import Checklist
from tests.batch.factory import Bench, edited, open_bench

OLD, NEW = "20-01A", "L-77"


@pytest.fixture
def bench() -> Bench:
    return open_bench()


def lots(bench: Bench, load: int) -> list[str]:
    """The lacquer in the trace of a load's first piece."""
    piece = bench.state.loads[load].pieces[0]
    return [stay.lots["lacquer"] for stay in trace(bench.state, piece).stays if "lacquer" in stay.lots]


def opened(bench: Bench, *into: int) -> None:
    bench.say(OpenLot("lacquer", NEW, "2027-01-31", into))


def test_between_two_runs_the_loads_that_are_through_keep_the_old_lot(bench: Bench) -> None:
    first, second = bench.form(10), bench.form(10)
    bench.through(first, 10, 20)
    bench.through(second, 10)
    opened(bench)
    bench.through(second, 20)

    assert (lots(bench, first), lots(bench, second)) == ([OLD], [NEW])


@pytest.mark.parametrize(("stop", "into", "told"), [
    ("load step 1", True, NEW), ("step mix", True, NEW), ("count", True, f"{OLD}, then {NEW}"), ("count", False, OLD),
])  # fmt: skip
def test_a_load_under_way_has_the_new_one_both_or_the_old(bench: Bench, stop: str, into: bool, told: str) -> None:
    load = bench.form(10)
    bench.through(load, 10)
    if stop.startswith(("load", "step")):
        stop = "mix"
    bench.until(load, stop)
    opened(bench, *([load] if into else []))
    bench.through(load, 20)

    assert lots(bench, load) == [told]


def test_the_lot_in_use_is_no_new_one_but_for_a_load_that_has_another(bench: Bench) -> None:
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "count")
    old = bench.state.lots["lacquer"].lot
    assert bench.refused(OpenLot("lacquer", old, "2027-01-31")).wrong == f"lacquer {old} is the one in use"
    bench.say(OpenLot("lacquer", NEW, "2027-01-31"))

    bench.say(OpenLot("lacquer", NEW, "2027-01-31", (load,)))

    assert bench.run_of(load).taken["lacquer"][-1] == NEW


def test_what_is_no_lot_of_the_checklist_past_or_of_no_load_is_refused(bench: Bench) -> None:
    assert bench.refused(OpenLot("paint", NEW)).why == "unknown"
    assert bench.refused(OpenLot("lacquer", " ", "2027-01-31")).wrong == "lacquer: no lot number entered"
    assert bench.refused(OpenLot("lacquer", "none", "2027-01-31")).wrong == 'lacquer: "none" is no lot number'
    assert bench.refused(OpenLot("lacquer", NEW, "soon")).wrong.endswith("soon is not a date")
    assert bench.refused(OpenLot("lacquer", NEW, "2025-01-31")).why == "gate"
    assert bench.refused(OpenLot("lacquer", NEW, "2027-01-31", (1,))).wrong.startswith("load 1 is not using")


def test_a_load_that_is_counted_takes_no_new_lot(bench: Bench) -> None:
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "count")
    assert [run.load for run in list_uncounted_runs(bench.state, "lacquer")] == [load]
    bench.until(load, "release")
    assert list_uncounted_runs(bench.state, "lacquer") == []
    refused = bench.refused(OpenLot("lacquer", NEW, "2027-01-31", (load,)))
    assert refused.wrong == f"load {load} is not using lacquer now"


LACQUER = '{ gate = "lot recorded", what = "lacquer", at = "arrive", waive = "lead and second" }'


def per(scope: str) -> Callable[[], Checklist]:
    """The test part with lacquer that is asked for each load, or each set-up."""
    return partial(edited, (LACQUER, LACQUER.replace(" }", f', per = "{scope}" }}')))


@pytest.mark.parametrize(("waive", "way"), [
    ("lead and second", "enter it, or have a lead waive it and name the lot if it has none"),
    ("never", "enter it, or open a batch from a checklist with `use_by = false` if it has none"),
])  # fmt: skip
def test_who_has_no_date_to_enter_is_told_a_way_that_is_true(waive: str, way: str) -> None:
    bench = open_bench(partial(edited, (LACQUER, LACQUER.replace("lead and second", waive))))
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "lot recorded 1")

    refused = bench.refused(Prove(bench.run_of(load).number, "lot recorded 1", {"lot": "F-1"}))
    assert (refused.field, refused.remedy) == ("use_by", way)
    assert "note its number if it has none" in bench.refused(OpenLot("lacquer", "F-1")).remedy
    assert "waived" not in bench.line(load, "lot recorded 1").state


def test_a_lot_recorded_without_a_date_is_asked_again_where_one_is_needed() -> None:
    """The bar is recorded at op 10, which asks for no date; op 20 asks for one."""
    bench = open_bench(partial(edited, (LACQUER, LACQUER.replace("lacquer", "bar stock"))))
    load = bench.form(10)
    bench.through(load, 10)
    lot = bench.state.lots["bar stock"].lot
    verdict = bench.until(load, "lot recorded 1").verdict
    assert verdict is not None
    said = f"bar stock {lot} has no use by date on record"
    assert (verdict.status, verdict.why, verdict.clear) == ("ask", said, "enter lot and date")

    bench.prove(load, "lot recorded 1", lot=lot, use_by="2027-01-31")
    assert bench.line(load, "lot recorded 1").evidence == f"{lot}, use by 2027-01-31"


def prove(bench: Bench, load: int, lot: str, use_by: str = "2027-01-31") -> None:
    bench.until(load, "lot recorded 1")
    bench.prove(load, "lot recorded 1", lot=lot, use_by=use_by)


def test_a_certificate_of_one_load_is_not_taken_for_the_next() -> None:
    """REC-09: the second box went through on the first one's furnace certificate, unasked."""
    bench = open_bench(per("load"))
    first, second = bench.form(10), bench.form(10)
    for load, lot in ((first, "F-1"), (second, "F-2")):
        bench.through(load, 10)
        prove(bench, load, lot)
        bench.through(load, 20)

    assert (lots(bench, first), lots(bench, second)) == (["F-1"], ["F-2"])


def test_recording_the_lot_of_a_load_renames_nothing_of_another_under_way() -> None:
    bench = open_bench(per("load"))
    first, second = bench.form(10), bench.form(10)
    bench.through(first, 10)
    bench.through(second, 10)
    prove(bench, first, "F-1")
    bench.until(first, "count")
    prove(bench, second, "F-2")
    bench.through(first, 20)
    bench.through(second, 20)

    assert (lots(bench, first), lots(bench, second)) == (["F-1"], ["F-2"])


def test_a_second_one_in_the_middle_of_a_load_stands_beside_the_first() -> None:
    bench = open_bench(per("load"))
    load = bench.form(10)
    bench.through(load, 10)
    prove(bench, load, "F-1")
    bench.until(load, "count")
    bench.say(Prove(bench.run_of(load).number, "lot recorded 1", {"lot": "F-2", "use_by": "2027-01-31"}))
    bench.through(load, 20)

    assert lots(bench, load) == ["F-1, then F-2"]


def test_a_lot_that_turns_up_after_its_gate_was_waived_is_recorded(bench: Bench) -> None:
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "lot recorded 1")
    run = bench.run_of(load).number
    bench.say(Waive(run, "lot recorded 1", "label torn off", "BB"), by="LL")

    bench.prove(load, "lot recorded 1", lot="F-1", use_by="2027-01-31")
    assert bench.line(load, "lot recorded 1").state == "waived", "a lead decided: it stays in sight"
    assert bench.state.lots["lacquer"].lot == "F-1"


def test_one_entered_wrong_before_anything_was_done_is_replaced() -> None:
    bench = open_bench(per("load"))
    load = bench.form(10)
    bench.through(load, 10)
    prove(bench, load, "F-7")
    bench.say(Prove(bench.run_of(load).number, "lot recorded 1", {"lot": "F-1", "use_by": "2027-01-31"}))
    bench.through(load, 20)

    assert lots(bench, load) == ["F-1"]


def test_an_expired_one_of_a_load_opens_the_gate_again() -> None:
    bench = open_bench(per("load"))
    load = bench.form(10)
    bench.through(load, 10)
    today = bench.clock().at.date().isoformat()
    prove(bench, load, "F-1", today)
    assert bench.line(load, "lot recorded 1").state == "done"
    bench.clock.forward(24 * 3600)

    verdict = bench.line(load, "lot recorded 1").verdict
    assert verdict is not None
    assert verdict.why == f"lacquer F-1 expired {today}"


def a_day_past() -> tuple[Bench, int]:
    """A load whose lacquer F-1 was good until yesterday."""
    bench = open_bench(per("load"))
    load = bench.form(10)
    bench.through(load, 10)
    prove(bench, load, "F-1", bench.clock().at.date().isoformat())
    bench.clock.forward(24 * 3600)
    return bench, load


@pytest.mark.parametrize("lot", ["F-1", "f-1 "])
def test_a_lot_that_is_past_by_its_date_on_record_gets_no_later_one(lot: str) -> None:
    bench, load = a_day_past()
    yesterday = (bench.clock().at - timedelta(days=1)).date()
    again = Prove(bench.run_of(load).number, "lot recorded 1", {"lot": lot, "use_by": "2027-01-31"})

    refused = bench.refused(again)
    assert refused.why == "gate"
    assert refused.wrong == f"lacquer {lot.strip()}: on record with use by {yesterday}, which is past"
    assert refused.attempt is not None
    assert bench.line(load, "lot recorded 1").state != "done"
    assert bench.refused(OpenLot("lacquer", lot, "2027-01-31")).wrong == refused.wrong

    bench.prove(load, "lot recorded 1", lot="F-2", use_by="2027-01-31")
    assert bench.line(load, "lot recorded 1").state == "done"


def test_a_date_typed_wrong_is_corrected_and_one_struck_out_says_nothing() -> None:
    bench, load = a_day_past()
    entry = next(one for one in bench.state.entries if one.body.get("values", {}).get("lot") == "F-1")
    bench.say(CorrectLot(entry.seq, "F-1", "2027-01-31", "misread the label"))
    assert bench.line(load, "lot recorded 1").state == "done"

    bench, load = a_day_past()
    entry = next(one for one in bench.state.entries if one.body.get("values", {}).get("lot") == "F-1")
    bench.say(StrikeOut(entry.seq, "another can"))
    bench.until(load, "lot recorded 1")
    bench.prove(load, "lot recorded 1", lot="F-1", use_by="2027-01-31")
    assert bench.line(load, "lot recorded 1").state == "done"


@pytest.mark.parametrize("restarted", [False, True], ids=["while it runs", "while it is off"])
def test_a_clock_that_was_set_back_makes_no_lot_good_again(restarted: bool) -> None:
    bench, load = a_day_past()
    bench.say(Note("the can is past its date"))
    good_until, back = (bench.clock().at - timedelta(days=1)).date(), -3 * 24 * 3600.0
    if restarted:
        bench.clock.restart(off=back)
    else:
        bench.clock.step(back)
    today = bench.clock().at.date()
    assert today < good_until, "by its clock alone it would be good"

    verdict = bench.line(load, "lot recorded 1").verdict
    assert verdict is not None
    assert "expired" in verdict.why
    again = Prove(
        bench.run_of(load).number, "lot recorded 1", {"lot": "F-3", "use_by": bench.clock().at.date().isoformat()}
    )
    assert bench.refused(again).why == "gate"
    assert bench.refused(OpenLot("lacquer", "F-3", bench.clock().at.date().isoformat())).why == "gate"

    bench.say(ConfirmClock("checked against the radio"), by="LL")
    assert bench.line(load, "lot recorded 1").state == "done"


def test_a_clock_set_right_after_it_ran_behind_judges_a_lot_by_its_own_day() -> None:
    bench, load = a_day_past()
    bench.clock.step(-3 * 24 * 3600.0)
    bench.say(Note("the clock is wrong"))
    bench.clock.step(3 * 24 * 3600.0)
    bench.say(Note("set right"))

    bench.prove(load, "lot recorded 1", lot="F-3", use_by=bench.clock().at.date().isoformat())
    assert bench.line(load, "lot recorded 1").state == "done"


def test_the_same_number_on_another_material_is_another_lot() -> None:
    bar = 'what = "bar stock", at = "arrive", use_by = false'
    bench = open_bench(partial(edited, (bar, bar.replace("use_by = false", "use_by = true"))))
    load = bench.form(10)
    prove(bench, load, "F-1", bench.clock().at.date().isoformat())
    bench.through(load, 10)
    bench.clock.forward(24 * 3600)
    prove(bench, load, "F-1")
    assert bench.line(load, "lot recorded 1").state == "done"


def test_a_lot_that_is_still_good_may_get_another_date() -> None:
    """The next can of it was opened later."""
    bench = open_bench(per("load"))
    for use_by in ("2027-01-31", "2027-03-31"):
        load = bench.form(10)
        bench.through(load, 10)
        prove(bench, load, "F-1", use_by)
        assert bench.line(load, "lot recorded 1").state == "done"
        bench.through(load, 20)


def test_a_bar_of_the_set_up_serves_the_loads_of_it() -> None:
    bench = open_bench(per("setup"))
    first, second = bench.form(10), bench.form(10)
    for load in (first, second):
        bench.through(load, 10)
    prove(bench, first, "F-1")
    bench.through(first, 20)
    bench.begin(second)
    assert bench.line(second, "lot recorded 1").state == "done"
    bench.through(second, 20)
    assert (lots(bench, first), lots(bench, second)) == (["F-1"], ["F-1"])


def test_a_new_bottle_for_one_load_under_way_leaves_the_other_loads() -> None:
    bench = open_bench(per("load"))
    first, second = bench.form(10), bench.form(10)
    bench.through(first, 10)
    bench.through(second, 10)
    prove(bench, first, "F-1")
    bench.until(first, "count")
    prove(bench, second, "F-2")
    opened(bench, first)
    bench.through(first, 20)
    bench.through(second, 20)

    assert (lots(bench, first), lots(bench, second)) == ([f"F-1, then {NEW}"], ["F-2"])


@pytest.mark.parametrize(("wish", "field"), [
    (OpenLot("lacquer", " ", "2027-01-31"), "lot"), (OpenLot("lacquer", NEW, "soon"), "use_by"),
    (OpenLot("lacquer", NEW, "2025-01-31"), "use_by"), (OpenLot("lacquer", NEW, "2027-01-31", (1,)), "into"),
])  # fmt: skip
def test_the_refusal_names_the_field(bench: Bench, wish: OpenLot, field: str) -> None:
    assert bench.refused(wish).field == field


BAR = (
    (
        'what = "bar stock", at = "arrive", use_by = false',
        'what = "bar stock", at = "arrive", use_by = false, per = "load"',
    ),
    ("independent = true }", 'independent = true, again_for = ["bar stock"] }'),
)
"""Edits of the test part: each load has its bar, and a new lot of bar asks for another first piece."""
FIRST, BAR_LINE = "first piece accepted 1", "lot recorded 1"


def begun_with(bench: Bench, lot: str) -> int:
    """A load at the bar whose lot is recorded."""
    load = bench.form(10)
    bench.until(load, BAR_LINE)
    bench.prove(load, BAR_LINE, lot=lot)
    return load


def test_a_new_lot_of_material_asks_for_another_first_piece_and_says_so() -> None:
    """REC-25: a partial first article after a change "of tooling or materials" (AS9102, from memory); that a new lot is
    one is common practice, no source."""
    bench = open_bench(partial(edited, *BAR), start=16)
    first = begun_with(bench, "H-1")
    bench.through(first, 10)

    same = begun_with(bench, "h-1")
    bench.through(same, 10)  # accepted on a piece of that lot: there is no other acceptance below

    other = begun_with(bench, "H-2")
    verdict = bench.until(other, FIRST).verdict
    assert verdict is not None
    assert verdict.why == "must be repeated, new lot: bar stock H-2"
    bench.prove(other, FIRST, person="BB", found="groove 3.0 mm")
    article = find_first_article(bench.state)
    assert [one.load for one in article.full] == [first]
    assert [(one.load, one.why) for one in article.partial] == [(other, "new lot: bar stock H-2")]
    bench.until(other, "count")


def test_a_lot_number_that_was_corrected_is_no_new_lot() -> None:
    bench = open_bench(partial(edited, *BAR))
    first = begun_with(bench, "H-11")
    bench.until(first, "count")
    typed = next(entry.seq for entry in bench.state.entries if entry.body.get("values", {}).get("lot") == "H-11")
    bench.say(StrikeOut(typed, "H-1 is on the bar"), "LL")
    bench.prove(first, BAR_LINE, lot="H-1")
    bench.through(first, 10)

    bench.until(begun_with(bench, "H-1"), "count")


def test_a_lot_opened_after_the_first_piece_is_another_one_for_the_next_load() -> None:
    """A bar that ends in mid-load: what was accepted was cut from the one before."""
    bench = open_bench(partial(edited, *BAR))
    first = begun_with(bench, "H-1")
    bench.until(first, "count")
    bench.say(OpenLot("bar stock", "H-2", into=(first,)))
    assert bench.current(first).key == FIRST
    bench.through(first, 10)

    again = begun_with(bench, "H-2")
    bench.until(again, "count")
