"""The times of a small day at the mill, worked out by hand from the clock, against those taken from the record.

The elements are those of ISO 22400-2 as its published ontology names them (hsu-aut, version 2.0.0). What of a record is
which element is decided here: the standard does not know records of this kind.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.batch.corrections.commands import StrikeOut
from floor.batch.counting.commands import Dispose, MarkedPieces
from floor.batch.counting.losses import count_losses
from floor.batch.counting.op_yields import count_produced_first, list_op_outcomes
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.quality.time_elements import LeftOut, TimeElements, compute_time_elements, list_planned_losses
from floor.batch.stations.commands import Disturb
from floor.batch.stations.out_of_service import ReturnToService, TakeOutOfService
from floor.batch.walk.commands import StartCycle
from floor.batch.walk.stop_cycle import StopCycle
from floor.checklist.model import Checklist
from floor.figures.calendar import Calendar, Shift, list_shift_spans
from floor.figures.key_figures import (
    AVAILABILITY,
    EFFECTIVENESS,
    FALL_OFF,
    FIRST_PASS,
    KEY_FIGURES,
    NEE,
    OEE,
    PROCESS,
    QUALITY,
    SCRAP,
    TECHNICAL,
    THROUGHPUT,
    WORKER,
    Absence,
    Input,
    Unknown,
    compute_key_figure,
)
from tests.batch.factory import MORNING, Bench, edited, one_cycle, open_bench
from tests.planning.planned import ALWAYS, ONE_SHIFT

MINUTE = 60.0


def quick(bench: Bench) -> None:
    """Nobody needs time to confirm a line, so that the clock moves only where the test moves it."""
    made = bench.hand

    def hand(initials: str = "AA", second: str = "BB") -> object:
        one = made(initials, second)
        one.per_line = 0.0
        return one

    bench.hand = hand  # type: ignore[method-assign, assignment]


def pass_time(bench: Bench, minutes: float) -> None:
    bench.clock.forward(minutes * MINUTE)


def elements(bench: Bench, calendar: Calendar = ONE_SHIFT.calendar, since: datetime | None = None) -> TimeElements:
    return compute_time_elements(bench.state, calendar, bench.clock().at, since).stations["mill"]


def minutes_of(found: TimeElements) -> dict[str, float]:
    times = (Input.PBT, Input.AUBT, Input.APT, Input.ASUT, Input.AUPT, Input.ADET, Input.PRU, Input.APWT)
    return {one.value: amount / MINUTE for one in times if not isinstance(amount := found.amounts[one], Absence)}


def day_at_the_mill() -> Bench:
    """07:00 begin, 07:30 start, 07:40 alarm, 07:55 on, 08:05 end, 08:06 released; out of service to 08:26;
    08:26 begin, 08:31 start, 08:51 end, 08:52 released.
    """
    bench = open_bench(start=8, order=8)
    quick(bench)
    first = bench.form(10)
    bench.until(first, "start")
    pass_time(bench, 30)
    bench.until(first, "end", wait=False)
    pass_time(bench, 10)
    run = bench.run_of(first)
    bench.say(StopCycle(run.number, "alarm"))
    pass_time(bench, 15)
    bench.say(StartCycle(run.number))
    bench.through(first, 10, marks=(MarkedPieces("deep", ("A1",)),))
    bench.say(TakeOutOfService("mill", "belt slips"))
    pass_time(bench, 20)
    bench.say(ReturnToService("mill"))
    second = bench.form(10)
    bench.until(second, "start")
    pass_time(bench, 5)
    bench.through(second, 10)
    return bench


def test_a_day_at_the_mill_by_hand() -> None:
    bench = day_at_the_mill()
    assert bench.clock().at - MORNING == timedelta(minutes=112)

    found = elements(bench)

    assert minutes_of(found) == pytest.approx(
        {
            "PBT": 112 - 20,  # 07:00 to 08:52, less 20 out of service while no load was there
            "AUBT": 66 + 26,
            "APT": 10 + 10 + 20,  # what ran, without the stop
            "ASUT": 30,  # begin of the first load to its start
            "AUPT": 70,
            "ADET": 15,  # the alarm
            "PRU x PQ": 2 * 20,  # two cycles at 20 min
            "APWT": 30 + 1 + 5 + 1,  # before the cycles, and from their ends to the releases
        }
    )
    assert (found.runs, dict(found.left_out)) == (2, {})
    assert [found.amounts[one] for one in (Input.PQ, Input.GQ, Input.SQ, Input.GP)] == [8, 7, 1, 7]
    assert compute_key_figure(AVAILABILITY, found.amounts) == pytest.approx(40 / 92)
    assert compute_key_figure(EFFECTIVENESS, found.amounts) == pytest.approx(1.0)
    assert compute_key_figure(OEE, found.amounts) == pytest.approx(40 / 92 * 7 / 8)
    assert compute_key_figure(NEE, found.amounts) == pytest.approx(70 / 92 * 7 / 8)
    assert compute_key_figure(TECHNICAL, found.amounts) == pytest.approx(40 / 55)


def test_what_a_station_or_the_record_cannot_tell_has_its_reason() -> None:
    bench = day_at_the_mill()
    study = compute_time_elements(bench.state, ONE_SHIFT.calendar, bench.clock().at)

    assert compute_key_figure(THROUGHPUT, study.stations["mill"].amounts) == Unknown(Absence.WHOLE_ORDER, Input.AOET)
    assert compute_key_figure(WORKER, study.whole.amounts) == Unknown(Absence.ATTENDANCE, Input.APAT)
    assert compute_key_figure(PROCESS, study.whole.amounts) == pytest.approx(40 / 112)
    assert set(study.stations) == {"mill"}, "nothing was begun elsewhere"


def test_an_outage_during_work_is_a_delay_and_stays_in_the_planned_time() -> None:
    bench = open_bench(start=4, order=4)
    quick(bench)
    load = bench.form(10)
    bench.until(load, "start")
    bench.say(TakeOutOfService("mill", "belt slips"))
    pass_time(bench, 25)
    bench.say(ReturnToService("mill"))
    bench.through(load, 10)

    found = minutes_of(elements(bench))

    assert (found["PBT"], found["ADET"], found["ASUT"], found["APT"]) == pytest.approx((46, 25, 0, 20))


def test_power_lost_stops_the_cycle_and_one_begun_anew_ran_twice() -> None:
    bench = open_bench(start=4, order=4)
    quick(bench)
    load = bench.form(10)
    bench.until(load, "end", wait=False)
    pass_time(bench, 8)
    bench.say(Disturb("mill", "power lost"))
    pass_time(bench, 12)
    bench.until(load, "start")
    bench.say(StartCycle(bench.run_of(load).number, anew=True))
    bench.through(load, 10)

    found = minutes_of(elements(bench))

    assert (found["APT"], found["ADET"], found["PRU x PQ"]) == pytest.approx((8 + 20, 12, 20))


def test_two_loads_in_one_cycle_are_one_time() -> None:
    bench = open_bench(one_cycle, start=8, order=8)
    quick(bench)
    first, second = bench.form(10), bench.form(10)
    bench.until(first, "start")
    bench.until(second, "start")
    bench.through(first, 10)
    bench.through(second, 10)

    found = elements(bench)

    assert found.runs == 2
    assert minutes_of(found)["APT"] == pytest.approx(20)
    assert minutes_of(found)["PRU x PQ"] == pytest.approx(20)


def test_the_night_is_in_the_order_time_and_in_no_planned_time() -> None:
    """A coat begun at 15:20 and released at 07:20: 10 minutes before the end of the shift and 20 after its start."""
    bench = open_bench(start=4, order=4)
    quick(bench)
    load = bench.form(10)
    bench.through(load, 10)
    bench.clock.until(MORNING.replace(hour=15, minute=20))
    bench.until(load, "count")
    bench.clock.until(MORNING.replace(hour=7, minute=20) + timedelta(days=1))
    bench.through(load, 20)

    study = compute_time_elements(bench.state, ONE_SHIFT.calendar, bench.clock().at)
    coat = study.stations["bench"]

    assert coat.amounts[Input.PBT] == coat.amounts[Input.APT] == coat.amounts[Input.AUBT] == 30 * MINUTE
    assert coat.amounts[Input.ASUT] == Absence.SETUP_IN_WORK, "hand work has no start apart from its begin"
    assert coat.amounts[Input.AUPT] == 30 * MINUTE
    assert study.whole.amounts[Input.AOET] == timedelta(days=1, minutes=20).total_seconds()


def test_a_cycle_in_the_night_is_busy_time_but_not_planned() -> None:
    """Values above 1 are possible and are not clipped."""
    bench = open_bench(start=4, order=4, at=MORNING.replace(hour=15, minute=20))
    quick(bench)
    load = bench.form(10)
    bench.through(load, 10)

    found = minutes_of(elements(bench))

    assert (found["PBT"], found["APT"], found["AUBT"]) == pytest.approx((10, 20, 20))
    assert compute_key_figure(AVAILABILITY, elements(bench).amounts) == pytest.approx(2.0)


def test_what_is_under_way_is_left_out_and_named() -> None:
    bench = day_at_the_mill()
    load = bench.state.list_live_loads()[0].number
    bench.through(load, 20)
    pass_time(bench, 12 * 60)
    bench.until(load, "end", wait=False)

    found = elements(bench)

    assert (found.runs, dict(found.left_out)) == (2, {LeftOut.UNDER_WAY: 1})
    assert minutes_of(found)["APT"] == pytest.approx(40)


def test_only_runs_begun_since_then_count() -> None:
    bench = day_at_the_mill()

    found = elements(bench, since=MORNING + timedelta(minutes=60))

    assert (found.runs, found.amounts[Input.PQ], found.amounts[Input.GQ]) == (1, 4, 4)
    assert minutes_of(found)["APT"] == pytest.approx(20)
    whole = compute_time_elements(
        bench.state, ONE_SHIFT.calendar, bench.clock().at, MORNING + timedelta(minutes=60)
    ).whole
    assert whole.amounts[Input.AOET] == 52 * MINUTE


def test_since_a_time_after_the_closing_there_is_no_time_and_no_figure() -> None:
    """The period of a closed batch ends with its closing; one asked for that begins later is empty."""
    bench = day_at_the_mill()
    closed = bench.clock().at
    bench.state.closed = closed

    whole = compute_time_elements(
        bench.state, ONE_SHIFT.calendar, closed + timedelta(days=2), closed + timedelta(days=1)
    ).whole

    assert (whole.amounts[Input.AOET], whole.start, whole.end) == (0, closed, closed)
    for figure in KEY_FIGURES:
        assert isinstance(compute_key_figure(figure, whole.amounts), Unknown), figure.name


def test_a_struck_stop_was_none() -> None:
    bench = open_bench(start=4, order=4)
    quick(bench)
    load = bench.form(10)
    bench.until(load, "end", wait=False)
    pass_time(bench, 5)
    stopped = bench.say(StopCycle(bench.run_of(load).number, "alarm"))[0]
    pass_time(bench, 5)
    bench.say(StrikeOut(stopped.seq, "wrong machine"), "LL")
    bench.through(load, 10)

    found = minutes_of(elements(bench))

    assert (found["APT"], found["ADET"]) == pytest.approx((20, 0))


def test_without_a_planned_time_there_is_no_effectiveness() -> None:
    bench = open_bench(lambda: edited(('time = { before = "5 min" }', 'time = { before = "0 min" }')), start=4)
    quick(bench)
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "count")
    pass_time(bench, 20)
    bench.through(load, 20)

    study = compute_time_elements(bench.state, ONE_SHIFT.calendar, bench.clock().at)

    for amounts in (study.stations["bench"].amounts, study.whole.amounts):
        assert compute_key_figure(EFFECTIVENESS, amounts) == Unknown(Absence.NO_PLAN, Input.PRU)
    assert study.stations["bench"].amounts[Input.APT] == pytest.approx(20 * MINUTE)


@cache
def with_shares() -> Checklist:
    """Of 100 coats 80 are good, 15 are touched up, 9 in 10 of those with success: 80 + 13.5, so 6.5 are lost."""
    return edited(
        ('rework = "touch up" },\n]\n\n[[operations]]\nop = 30',
         'rework = "touch up", share = 0.15 },\n]\nexpected_yield = 0.8\n\n[[operations]]\nop = 30'),
    )  # fmt: skip


def test_planned_scrap_is_what_the_checklist_expects_to_lose() -> None:
    known = list_planned_losses(with_shares())
    mixed = list_planned_losses(
        edited(('time = { cycle_piece = "2 min" }', 'time = { cycle_piece = "2 min" }\nexpected_yield = 0.9'))
    )

    assert known[20] == pytest.approx(0.065)
    assert known[10] == 0
    assert mixed[30] is Absence.NOT_SPLIT, "no share says how much of it is rework"


def test_planned_scrap_of_a_station_is_that_of_what_it_produced() -> None:
    """6.5 in a hundred of the four pieces coated at the bench, none of those milled."""
    bench = open_bench(with_shares, start=4)
    quick(bench)
    load = bench.form(10)
    bench.through(load, 10)
    bench.through(load, 20)

    stations = compute_time_elements(bench.state, ONE_SHIFT.calendar, bench.clock().at).stations

    assert stations["bench"].amounts[Input.PSQ] == pytest.approx(4 * 0.065)
    assert stations["mill"].amounts[Input.PSQ] == 0


def test_a_reworked_piece_is_produced_and_planned_once() -> None:
    bench = open_bench(order=4, start=4)
    quick(bench)
    load = bench.form(10)
    bench.through(load, 10)
    bench.through(load, 20)
    bench.through(load, 30, marks=(MarkedPieces("bare", ("A1",)),))
    before = elements(bench, ALWAYS.calendar).amounts
    bench.through(load, 20)
    bench.through(load, 30)

    found = elements(bench, ALWAYS.calendar).amounts

    assert (found[Input.PQ], found[Input.GQ], found[Input.RQ], found[Input.GP]) == (4, 4, 1, 3), "of op 10 and 30, once"
    assert found[Input.PRU] == before[Input.PRU]
    assert found[Input.APT] > before[Input.APT], "the rework took time, and nothing was produced by it"


def test_rework_is_planned_in_no_shift_and_since_no_time_wherever_the_first_pass_was() -> None:
    """The early shift works four pieces through to op 30 and finds one bare; the late one reworks that one alone."""
    bench = open_bench(order=4, start=4)
    quick(bench)
    load = bench.form(10)
    bench.through(load, 10)
    bench.through(load, 20)
    bench.through(load, 30, marks=(MarkedPieces("bare", ("A1",)),))
    nine = MORNING.replace(hour=9)
    bench.clock.until(nine)
    bench.through(load, 20)
    bench.through(load, 30)

    at = bench.clock().at
    found = compute_time_elements(bench.state, every_day((time(0), time(9)), (time(9), time(0))), at)
    early, late = (one.amounts for one in found.shifts.values())
    assert late[Input.PQ] == 1
    looked_at = bench.state.runs[3]  # begun by the early shift, its cycle after the coat was dry
    assert looked_at.started is not None
    assert looked_at.started.hour == 19
    assert late[Input.PRU] == 4 * 120, "2 min a piece at their first pass, and none for the one after its rework"
    assert early[Input.PRU] + late[Input.PRU] == found.whole.amounts[Input.PRU] > late[Input.PRU]
    later = compute_time_elements(bench.state, ALWAYS.calendar, at, nine)
    assert [one.amounts[Input.PRU] for one in (later.whole, *later.stations.values())] == [0] * (
        1 + len(later.stations)
    )


ACT = st.one_of(
    st.tuples(st.just("wait"), st.integers(1, 900)),
    st.tuples(st.sampled_from(["begin", "stop", "on", "out", "back", "end"]), st.just(0)),
)


@settings(deadline=None, max_examples=60)
@given(st.lists(ACT, max_size=25))
def test_the_elements_never_add_up_to_more_than_the_period(acts: list[tuple[str, int]]) -> None:
    bench = open_bench(start=12, order=12)
    quick(bench)
    loads = [bench.form(10) for _ in range(3)]
    for what, minutes in acts:
        act(bench, loads, what, minutes)

    study = compute_time_elements(bench.state, ONE_SHIFT.calendar, bench.clock().at)

    for found in study.stations.values():
        if not found.runs:
            assert found.amounts[Input.APT] == Absence.NO_RUN
            continue
        times = minutes_of(found)
        period = (found.end - found.start).total_seconds() / MINUTE
        assert times["APT"] + times["ASUT"] + times["ADET"] <= times["AUBT"] + 1e-6
        assert times["AUBT"] <= period + 1e-6
        assert times["PBT"] <= period + 1e-6
        assert times["AUPT"] == pytest.approx(times["APT"] + times["ASUT"])
        assert all(amount >= 0 for amount in times.values())
    outcomes = list_op_outcomes(bench.state)
    assert all(one.produced == one.good + one.scrap + one.hold for one in outcomes), "nothing is in rework"


def act(bench: Bench, loads: list[int], what: str, minutes: int) -> None:
    """One act at the mill, if it is possible now."""
    open_ = [run for run in bench.state.list_open_runs() if run.station == "mill"]
    run = open_[0] if open_ else None
    if what == "wait":
        pass_time(bench, minutes)
    elif what == "out" and "mill" not in bench.state.outages:
        bench.say(TakeOutOfService("mill", "belt slips"))
    elif what == "back" and "mill" in bench.state.outages:
        bench.say(ReturnToService("mill"))
    elif "mill" in bench.state.outages:
        return
    elif what == "begin" and run is None:
        left = [load for load in loads if bench.state.loads[load].at == 10]
        if left:
            bench.until(left[0], "end", wait=False)
    elif what == "stop" and run is not None and run.running:
        bench.say(StopCycle(run.number, "alarm"))
    elif what == "on" and run is not None and run.stopped is not None:
        bench.say(StartCycle(run.number))
    elif what == "end" and run is not None and run.running:
        bench.through(run.load, 10)


def test_while_a_batch_runs_its_ratios_are_of_the_pieces_counted() -> None:
    """12 of 36 milled, 3 scrapped, nothing finished: 3 of 12 and not 3 of 3, as scrap is the first to end."""
    bench = open_bench(start=36, order=30)
    quick(bench)
    for places in (("A1",), (), ("A1", "A2")):
        bench.through(bench.form(10), 10, marks=(MarkedPieces("deep", places),) if places else ())
    study = compute_time_elements(bench.state, ONE_SHIFT.calendar, bench.clock().at)

    whole, mill = study.whole.amounts, study.stations["mill"].amounts

    assert [whole[one] for one in (Input.PQ, Input.GQ, Input.SQ, Input.GP, Input.IP)] == [12, 9, 3, 9, 12]
    for figure in (QUALITY, SCRAP, FIRST_PASS, FALL_OFF, OEE):
        assert compute_key_figure(figure, whole) == pytest.approx(compute_key_figure(figure, mill)), figure.name
    assert compute_key_figure(SCRAP, whole) == 3 / 12
    hours = (bench.clock().at - MORNING).total_seconds()
    assert compute_key_figure(THROUGHPUT, whole) == pytest.approx(3 / hours), "nothing else has left the batch"


def test_what_is_on_hold_or_kept_aside_is_not_good_so_far() -> None:
    bench = open_bench(start=8, order=4)
    quick(bench)
    for _ in range(2):
        bench.through(bench.form(10), 10)
    bench.say(SetPiecesAside("hold", "scratched?", load=1, positions=("A1",)))
    before = compute_time_elements(bench.state, ONE_SHIFT.calendar, bench.clock().at).whole.amounts
    assert (before[Input.PQ], before[Input.GQ], before[Input.SQ], before[Input.GP]) == (8, 7, 0, 7)

    bench.say(Dispose((1,), "scrap", "scratched"), by="LL")

    after = compute_time_elements(bench.state, ONE_SHIFT.calendar, bench.clock().at).whole.amounts
    assert (after[Input.PQ], after[Input.GQ], after[Input.SQ]) == (8, 7, 1)
    assert after[Input.PQ_ENDED] == 1


def test_pieces_still_waiting_for_the_first_operation_are_none_of_those_it_produced() -> None:
    """ISO 22400-2: the fall off ratio is scrap per piece that the first operation produced, not per piece started."""
    bench = open_bench(start=12, order=8)
    load = bench.form(10)
    bench.through(load, 10, marks=(MarkedPieces("deep", ("A1",)),))
    bench.begin(bench.form(10))
    assert count_produced_first(bench.state) == 4, "none of the load under way"
    assert bench.state.started == 12


def every_day(*windows: tuple[time, time]) -> Calendar:
    return Calendar("Etc/GMT-1", tuple(Shift(day, *one) for day in range(7) for one in windows))


TILED = every_day((time(0), time(8)), (time(8), time(0)))
"""Two shifts that leave out no hour: the day at the mill is cut at 08:00, within its first run."""


def test_the_times_of_the_shifts_add_up_to_those_of_the_batch() -> None:
    bench = day_at_the_mill()
    found = compute_time_elements(bench.state, TILED, bench.clock().at)
    early, late = found.shifts["shift 00:00 to 08:00"], found.shifts["shift 08:00 to 00:00"]

    assert (early.runs, late.runs) == (1, 1), "a run counts where it began"
    assert early.runs + late.runs == found.whole.runs
    whole = minutes_of(found.whole)
    assert {name: minutes_of(early)[name] + minutes_of(late)[name] for name in whole} == pytest.approx(whole)
    # 07:30 to 07:40 and 07:55 to 08:00; then 08:00 to 08:05 and 08:31 to 08:51.
    assert (minutes_of(early)["APT"], minutes_of(late)["APT"]) == (15, 25)
    assert early.amounts[Input.PQ] == late.amounts[Input.PQ] == 4
    # Of the first run 15 of its 20 minutes, and so of its plan, are the early shift's; both runs are planned alike.
    plan = found.whole.amounts[Input.PRU]
    assert early.amounts[Input.PRU] == pytest.approx(plan / 2 * 15 / 20)
    assert late.amounts[Input.PRU] == pytest.approx(plan / 2 * (1 + 5 / 20))
    assert early.amounts[Input.AOET] is Absence.WHOLE_ORDER


def test_a_piece_counts_once_in_a_shift_and_where_its_last_count_there_left_it() -> None:
    """Eight milled by the early shift, one of them scrapped; by the late one three coated and looked at, one bare."""
    bench = open_bench(start=8, order=4)
    quick(bench)
    first, second = bench.form(10), bench.form(10)
    bench.through(first, 10, marks=(MarkedPieces("deep", ("A1",)),))
    bench.through(second, 10)
    bench.clock.until(MORNING.replace(hour=9))
    bench.through(first, 20)
    bench.through(first, 30, marks=(MarkedPieces("bare", ("A2",)),))

    shifts = every_day((time(0), time(8, 30)), (time(8, 30), time(0)))
    found = compute_time_elements(bench.state, shifts, bench.clock().at)
    early, late = (one.amounts for one in found.shifts.values())

    assert (early[Input.PQ], early[Input.SQ], early[Input.GQ]) == (8, 1, 7), "bare was found by the late shift"
    assert (late[Input.PQ], late[Input.SQ], late[Input.RQ], late[Input.GQ]) == (3, 0, 1, 2), "each once, of two counts"
    assert [one[Input.PQ_FIRST] for one in (early, late)] == [8, 3]
    for amounts in (early, late):
        assert compute_key_figure(FALL_OFF, amounts) == compute_key_figure(SCRAP, amounts), "of the same pieces"


def test_since_a_time_all_is_of_the_pieces_counted_in_runs_begun_since() -> None:
    bench = day_at_the_mill()
    bench.clock.until(MORNING.replace(hour=10))
    load = bench.state.list_live_loads()[0].number
    bench.through(load, 20)
    bench.through(load, 30, marks=(MarkedPieces("torn", ("A2",)),))

    study = compute_time_elements(bench.state, ONE_SHIFT.calendar, bench.clock().at, MORNING.replace(hour=10))

    for amounts in (study.whole.amounts, study.stations["bench"].amounts):
        assert amounts[Input.PQ_FIRST] == 3, "not the 8 that the mill made before"
    whole = study.whole.amounts
    assert (whole[Input.PQ], whole[Input.GQ], whole[Input.SQ], whole[Input.PQ_ENDED]) == (3, 2, 1, 1)


def test_since_a_time_a_piece_set_aside_in_mid_run_is_a_loss_of_the_figures_too() -> None:
    bench = day_at_the_mill()
    ten = MORNING.replace(hour=10)
    bench.clock.until(ten)
    load = bench.state.list_live_loads()[0].number
    bench.until(load, "count")
    bench.say(SetPiecesAside("scrap", "dropped", load=load, positions=("A2",)))

    found = compute_time_elements(bench.state, ONE_SHIFT.calendar, bench.clock().at, ten).whole.amounts
    assert sum(count_losses(bench.state, ten).values()) == 1
    assert (found[Input.PQ], found[Input.SQ], found[Input.GQ], found[Input.PQ_ENDED]) == (1, 1, 0, 1)


def test_no_operation_has_more_good_at_once_than_good() -> None:
    bench = open_bench(order=4, start=4)
    load = bench.form(10)
    bench.through(load, 10, marks=(MarkedPieces("deep", ("A1",)),))
    (before,) = list_op_outcomes(bench.state)
    assert (before.good, before.first_pass) == (3, 3)
    bench.say(SetPiecesAside("scrap", "dropped", load=load, positions=("A2",)))

    first = list_op_outcomes(bench.state)[0]
    assert (first.produced, first.good, first.first_pass) == (4, *[first.good] * 2)


def test_one_shift_a_day_is_no_scope_of_its_own_nor_is_one_without_work() -> None:
    bench = day_at_the_mill()
    at = bench.clock().at
    day_and_night = every_day((time(6), time(14)), (time(22), time(6)))

    assert compute_time_elements(bench.state, ONE_SHIFT.calendar, at).shifts == {}
    assert list(compute_time_elements(bench.state, day_and_night, at).shifts) == ["shift 06:00 to 14:00"]


def test_a_shift_over_midnight_and_a_single_one_are_found() -> None:
    """The night from Monday ends on Tuesday; of it the hour asked for."""
    night = Shift(0, time(22), time(6))
    calendar = Calendar("UTC", (night,), single=((date(2026, 3, 3), Shift(0, time(8), time(10))),))
    at = int(datetime(2026, 3, 3, 5, tzinfo=UTC).timestamp())

    assert list_shift_spans(calendar, at, at + 86400) == {
        (time(22), time(6)): [(at, at + 3600)],
        (time(8), time(10)): [(at + 3 * 3600, at + 5 * 3600)],
    }
    assert list_shift_spans(calendar, at + 7200, at + 4 * 3600) == {
        (time(8), time(10)): [(at + 3 * 3600, at + 4 * 3600)]
    }, "no longer than what is asked for"
