"""Dwells: several windows, both ends of each, daylight saving, and a clock that somebody sets."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.batch.command import Refused
from floor.batch.corrections.commands import ConfirmClock, Note, StrikeOut
from floor.batch.counting.commands import CountRun, MarkedPieces
from floor.batch.gates.proof_readers import read_proof
from floor.batch.handover.commands import AcceptHandover, CountSubjectPieces, OfferHandover, ReadHandoverPage
from floor.batch.handover.page import (
    build_handover_page,
    list_count_subjects,
    list_safety_lines,
)
from floor.batch.handover.risks import (
    find_risks,
)
from floor.batch.open_items import ClockJump
from floor.batch.walk.clock_jumps import is_clock_change_untold
from floor.batch.walk.clocks import Ripeness, judge_windows
from floor.batch.walk.commands import DoStep, Release
from floor.batch.walk.load_clocks import list_load_clocks
from floor.batch.walk.station_walk import build_walk
from floor.batch.worklist.tasks import list_due_tasks
from floor.checklist.gates import Cured
from floor.checklist.model import Checklist
from floor.checklist.operation import Do, Window
from floor.checklist.units import Measure
from tests.batch.factory import Bench, edited, open_bench, part

H = 3600.0
T0 = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


def hours(number: float) -> Measure:
    return Measure(number, "h", number * H, f"{number:g} h")


LABEL = (Window(latest=hours(1)), Window(earliest=hours(48)))
"""The label found on many solvent-borne finishes: "recoat within 1 h or after 48 h" (common practice, no source)."""


def after(seconds: float, windows: tuple[Window, ...] = LABEL) -> Ripeness:
    return judge_windows(windows, [(T0, 1)], [], T0 + timedelta(seconds=seconds))


@pytest.mark.parametrize(
    ("seconds", "status"),
    [
        (0, "open"),
        (3599, "open"),
        (3600, "open"),
        (3601, "wait"),
        (48 * H - 1, "wait"),
        (48 * H, "open"),
        (9e6, "open"),
    ],
)
def test_both_ends_of_a_window_belong_to_it(seconds: float, status: str) -> None:
    assert after(seconds).status == status


def test_the_clock_says_when_the_window_closes_and_when_the_next_opens() -> None:
    assert after(600).closes == T0 + timedelta(hours=1)
    assert after(2 * H).opens == T0 + timedelta(hours=48)
    assert after(49 * H).closes is None


def test_after_the_last_window_it_is_late_and_never_opens_again() -> None:
    windows = (Window(earliest=hours(1), latest=hours(2)),)

    assert [after(s * H, windows).status for s in (0.5, 1, 2, 2.001, 500)] == ["wait", "open", "open", "late", "late"]
    assert after(3 * H, windows).opens is None


def test_windows_may_stand_in_any_order() -> None:
    assert [after(s, LABEL[::-1]).status for s in (60, 2 * H, 50 * H)] == ["open", "wait", "open"]


def test_a_group_is_as_cured_as_its_youngest_and_as_old_as_its_oldest() -> None:
    starts = [(T0, 1), (T0 + timedelta(minutes=50), 2)]
    cure = (Window(earliest=hours(2), latest=hours(3)),)

    def status(minutes: int) -> str:
        return judge_windows(cure, starts, [], T0 + timedelta(minutes=minutes)).status

    assert [status(m) for m in (125, 169, 170, 180, 181)] == ["wait", "wait", "open", "open", "late"]


@given(
    started=st.lists(st.floats(0, 1e5), min_size=1, max_size=4),
    later=st.floats(0, 1e6),
    earliest=st.floats(0, 1e5),
    length=st.floats(0, 1e5),
)
def test_one_window_against_its_definition(started: list[float], later: float, earliest: float, length: float) -> None:
    """Open when every piece's dwell lies within the window; written out, to the microsecond a datetime keeps. If the
    oldest is too old before the youngest is old enough, it misses the window."""
    starts = [(T0 + timedelta(seconds=s), n) for n, s in enumerate(started, 1)]
    now = T0 + timedelta(seconds=max(started) + later)
    dwells = [(now - at).total_seconds() for at, _ in starts]
    latest = earliest + length
    window = Window(earliest=Measure(earliest, "s", earliest, ""), latest=Measure(latest, "s", latest, ""))

    status = judge_windows((window,), starts, [], now).status

    opens = max(at for at, _ in starts) + timedelta(seconds=earliest)
    closes = min(at for at, _ in starts) + timedelta(seconds=latest)
    if max(dwells) > latest:
        assert status == "late"
    elif min(dwells) >= earliest:
        assert status == "open"
    else:
        assert status == ("wait" if opens <= closes else "misses")


def test_a_cure_over_the_change_to_summer_time_lasts_as_long_as_any_other() -> None:
    """15 U.S.C. 260a: on the second Sunday of March, 02:00 becomes 03:00. 12 h from 20:00 end at 09:00, not 08:00."""
    chicago = ZoneInfo("America/Chicago")
    bench = open_bench(at=datetime(2027, 3, 13, 12, 0, tzinfo=chicago))
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "coat")
    mix_and_coat = timedelta(seconds=2 * bench.hand().per_line)
    bench.clock.until(datetime(2027, 3, 13, 20, 0, tzinfo=chicago) - mix_and_coat)
    bench.through(load)
    bench.begin(load)

    line = bench.current(load)

    assert line.verdict is not None
    assert line.verdict.when is not None
    assert line.verdict.when.astimezone(chicago) == datetime(2027, 3, 14, 9, 0, tzinfo=chicago)
    bench.clock.until(datetime(2027, 3, 14, 8, 59, 59, tzinfo=chicago))
    assert bench.current(load).state == "waits"
    bench.clock.forward(1)
    assert bench.line(load, "cured 1").state == "done"


def coated(bench: Bench) -> int:
    """A load whose coat was brushed on a moment ago, waiting at the cure gate of op 30."""
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.begin(load)
    assert bench.current(load).state == "waits"
    return load


def ripe(bench: Bench, load: int) -> bool:
    return bench.line(load, "cured 1").state == "done"


def ripens(bench: Bench, load: int) -> datetime:
    verdict = bench.line(load, "cured 1").verdict
    assert verdict is not None
    assert verdict.when is not None
    return verdict.when


@pytest.mark.parametrize("step", [-H, H, 10 * 365 * 86400.0, -10 * 365 * 86400.0])
@pytest.mark.parametrize("noticed", [True, False], ids=["an entry after it", "no entry after it"])
def test_setting_the_clock_neither_speeds_up_nor_delays_a_cure(step: float, noticed: bool) -> None:
    """Law 8 of the design: with the machine running, the dwell is known exactly whatever the clock says."""
    bench = open_bench()
    load = coated(bench)
    due = ripens(bench, load)
    bench.clock.forward(6 * H)
    bench.clock.step(step)
    if noticed:
        bench.say(Note("the clock looks wrong"))

    assert not ripe(bench, load)
    assert ripens(bench, load) == due + timedelta(seconds=step), "said on the clock as it shows now"
    bench.clock.forward((due - bench.clock().at).total_seconds() + step - 1)
    assert not ripe(bench, load)
    bench.clock.forward(1)
    assert ripe(bench, load)


def test_a_clock_set_wrong_and_right_again_leaves_no_trace_in_the_dwell() -> None:
    bench = open_bench()
    load = coated(bench)
    due = ripens(bench, load)
    for step in (-H, 40 * H, -39 * H):
        bench.clock.step(step)
        bench.say(Note("set"))
    bench.clock.forward(H)

    assert ripens(bench, load) == due


@pytest.mark.parametrize("step", [-H, -10 * 365 * 86400.0, 10 * 365 * 86400.0])
def test_after_a_restart_a_doubtful_clock_counts_only_the_time_since(step: float) -> None:
    bench = open_bench()
    load = coated(bench)
    bench.clock.forward(6 * H)
    bench.say(Note("going home"))
    before = bench.state.last.at
    bench.clock.step(step)
    bench.clock.restart()
    assert not ripe(bench, load)
    since_restart = bench.clock().up
    left = (ripens(bench, load) - bench.clock().at).total_seconds()

    started = bench.state.piece_clocks["cure"][1][0]

    assert left == 12 * H - (before - started).total_seconds() - since_restart
    bench.clock.forward(left)
    assert ripe(bench, load)


def test_a_night_with_the_machine_switched_off_counts() -> None:
    bench = open_bench()
    load = coated(bench)
    bench.clock.restart(off=14 * H)

    assert ripe(bench, load)
    assert bench.state.jumps == []


def test_a_window_does_not_stay_open_through_a_step_back_in_doubt() -> None:
    """Unknown time counts toward the latest end by its least value."""
    bench = open_bench()
    load = coated(bench)
    bench.through(load)
    bench.until(tray := bench.form(40), "cured 1")
    assert bench.current(tray).state == "waits", "between the two recoat windows"
    bench.clock.step(-bench.clock().at.timestamp() + 1e9)
    bench.clock.restart()

    assert bench.current(tray).state == "waits"


def test_a_lead_confirms_the_clock_and_doubt_ends() -> None:
    """The clock battery was dead: the machine came up years in the past, and was set right at noon."""
    bench = open_bench()
    load = coated(bench)
    bench.clock.forward(H)
    bench.say(Note("going home"))
    home = bench.clock().at
    bench.clock.restart(off=-10 * 365 * 86400)
    bench.say(Note("the clock shows another year"))
    bench.clock.step((home - bench.clock().at).total_seconds() + 13 * H)
    bench.say(Note("set right"))

    assert not ripe(bench, load)
    refused = bench.refused(ConfirmClock("set by the radio"), by="AA")
    assert refused.why == "authority"
    bench.say(ConfirmClock("set by the radio"), by="LL")
    assert ripe(bench, load)


def test_confirming_the_clock_takes_out_no_step_that_is_known() -> None:
    """The clock was ten years behind when the coat went on, and set right with the machine running: still 12 h."""
    bench = open_bench()
    load = coated(bench)
    bench.clock.step(10 * 365 * 86400)
    bench.say(Note("set right"))
    bench.say(ConfirmClock("set by the radio"), by="LL")

    assert not ripe(bench, load)


def test_a_piece_coated_after_a_step_back_cures_later_than_one_coated_before_it() -> None:
    """The wall reads earlier at the later start; the dwell does not."""
    jump = [ClockJump(2, T0, -H, -H, True)]
    starts = [(T0, 1), (T0 - timedelta(minutes=30), 3)]  # the second half an hour after the first
    cure = (Window(earliest=hours(2)),)

    found = judge_windows(cure, starts, jump, T0)

    assert found.status == "wait"
    assert found.opens == T0 - timedelta(minutes=30) + timedelta(hours=2)


def test_small_steps_of_the_clock_do_not_add_up_to_a_cure() -> None:
    """A step too small to report is taken out of a dwell like any other; many of them are reported."""
    bench = open_bench()
    load = coated(bench)
    due = ripens(bench, load)
    bench.clock.step(89)
    bench.say(Note("set"))
    assert not is_clock_change_untold(bench.state)
    for _ in range(500):
        bench.clock.step(89)
        bench.say(Note("set again"))

    assert not ripe(bench, load)
    assert ripens(bench, load) == due + timedelta(seconds=501 * 89)
    assert is_clock_change_untold(bench.state)


def test_clock_and_uptime_may_be_read_a_moment_apart() -> None:
    bench = open_bench()
    for step in (0.4, -0.5, 0.6) * 9:
        bench.clock.step(step)
        bench.say(Note("seen"))

    assert all(abs(jump.delta) > 1 for jump in bench.state.jumps)
    assert len(bench.state.jumps) < 9


def _take_over(bench: Bench) -> None:
    bench.say(OfferHandover("as it stands"))
    for subject in list_count_subjects(bench.state):
        bench.say(CountSubjectPieces(subject.key, subject.expected), by="BB")
    bench.say(ReadHandoverPage(), by="BB")
    bench.say(AcceptHandover(talked="face to face"), by="BB")


def test_a_clock_that_was_set_wrong_and_right_again_is_news_too() -> None:
    bench = open_bench()
    for step in (300, -300):
        bench.clock.step(step)
        bench.say(Note("set"))

    assert is_clock_change_untold(bench.state)


def test_a_doubt_about_the_clock_stays_when_somebody_takes_over() -> None:
    bench = open_bench()
    bench.clock.restart(off=-H)
    bench.say(Note("it shows an hour less"))
    _take_over(bench)

    assert is_clock_change_untold(bench.state)
    bench.say(ConfirmClock("compared with the phone"), by="LL")
    assert not is_clock_change_untold(bench.state)


def test_who_takes_over_is_told_once_that_the_clock_was_set() -> None:
    """With the machine running the step is known and taken out: it is news, not doubt."""
    bench = open_bench()
    bench.clock.step(300)
    bench.say(Note("set by five minutes"))
    assert "clock" in find_risks(bench.state)
    _take_over(bench)

    assert find_risks(bench.state) == ()
    bench.say(OfferHandover(), by="BB")


def test_a_lead_who_confirms_the_clock_knows_that_it_was_set() -> None:
    bench = open_bench()
    load = coated(bench)
    bench.clock.step(300)
    bench.say(Note("set by five minutes"))
    due = ripens(bench, load)
    bench.say(ConfirmClock("compared with the phone"), by="LL")

    assert find_risks(bench.state) == ()
    assert not any(
        line.key == "clock" for section in build_handover_page(bench.state, bench.clock()) for line in section.lines
    )
    assert ripens(bench, load) == due, "the step stays out of the dwell"


def test_confirming_the_clock_cures_nothing_started_while_it_was_wrong() -> None:
    """The coat went on while the machine's clock showed another year; the night before it is not its own."""
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10)
    home = bench.clock().at
    bench.clock.restart(off=-10 * 365 * 86400)
    bench.until(load, "lot recorded 1")
    bench.prove(load, "lot recorded 1", lot="F-1", use_by=(home + timedelta(days=90)).date().isoformat())
    bench.through(load, 20)
    bench.clock.step((home - bench.clock().at).total_seconds() + 13 * H)
    bench.say(Note("set right"))
    bench.say(ConfirmClock("set by the radio"), by="LL")
    bench.clock.restart()
    bench.begin(load)

    assert not ripe(bench, load)
    assert (ripens(bench, load) - bench.clock().at).total_seconds() > 11 * H


def test_a_further_coat_restarts_the_cure() -> None:
    bench = open_bench(start=4)
    load = bench.form(10)
    bench.through(load, 10)
    run = bench.until(load, "count") and bench.run_of(load)
    bench.say(CountRun(run.number, 3, (MarkedPieces("thin", ("A2",)),)))
    bench.say(Release(run.number))
    first = bench.state.piece_clocks["cure"][1]
    bench.clock.forward(11 * H)

    bench.through(load, 20)

    assert bench.state.piece_clocks["cure"][1] == first
    assert bench.state.piece_clocks["cure"][2][0] > first[0] + timedelta(hours=11)
    bench.begin(load)
    assert ripens(bench, load) == bench.state.piece_clocks["cure"][2][0] + timedelta(hours=12)


def test_striking_the_coat_out_takes_its_cure_with_it() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "count")
    coat = next(entry for entry in reversed(bench.state.entries) if entry.body.get("line") == "coat")
    assert 1 in bench.state.piece_clocks["cure"]

    bench.say(StrikeOut(coat.seq, "not coated at all"))

    assert "cure" not in bench.state.piece_clocks
    assert bench.current(load).state == "reopened"


def test_a_mix_serves_later_loads_while_it_lasts_and_is_asked_for_when_it_is_past() -> None:
    bench = open_bench()
    one, two = bench.form(10), bench.form(10)
    bench.through(one, 10)
    bench.through(two, 10)
    bench.through(one, 20)
    bench.until(two, "coat")
    line = bench.line(two, "mix")
    assert line.state == "not needed"
    assert "pot life" in line.evidence

    bench.clock.forward(41 * 60)

    assert bench.current(two).key == "mix"


def test_a_mix_of_before_that_is_past_says_nothing_of_a_load_that_mixes_its_own() -> None:
    bench = open_bench()
    one, two = bench.form(10), bench.form(10)
    for load in (one, two):
        bench.through(load, 10)
    bench.through(one, 20)
    bench.clock.forward(3600)
    bench.begin(two)
    names = [clock.name for clock in list_load_clocks(bench.state, bench.state.loads[two], bench.clock())]
    assert "pot life" not in names
    bench.until(two, "coat")
    bench.clock.forward(3600)
    late = [
        clock
        for clock in list_load_clocks(bench.state, bench.state.loads[two], bench.clock())
        if clock.status == "late"
    ]
    assert [clock.name for clock in late] == ["pot life"], "its own that went off before it was used"


def test_a_mix_that_goes_off_before_it_is_used_is_mixed_again_in_the_same_run() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "coat")
    bench.clock.forward(41 * 60)
    assert bench.current(load).key == "mix"

    bench.through(load)

    mixes = [e for e in bench.state.entries if e.body.get("line") == "mix"]
    assert len(mixes) == 2
    assert build_walk(bench.state, bench.state.runs[2], bench.clock(), "AA").line("mix").evidence  # type: ignore[union-attr]


def test_a_cure_is_not_proved_by_hand() -> None:
    bench = open_bench()
    load = coated(bench)
    with pytest.raises(Refused, match=r"cure needs 11 h \d\d more"):
        bench.prove(load, "cured 1")


def test_a_cure_that_asks_for_no_stage_takes_no_values() -> None:
    gate = edited().ops[30].gate("cured 1")
    assert gate is not None
    with pytest.raises(Refused, match="time alone proves it"):
        read_proof(gate, 1, {}, None)


# --- windows that were hit -----------------------------------------------------------------------------------------


def _coated(bench: Bench) -> int:
    """A load whose coat was brushed on inside the pot life; the number of its run."""
    load = bench.form(10)
    assert bench.hand().work(load)
    reached = not bench.hand().work(load, stop=lambda line: line.kind == "count")
    assert reached
    return load


def test_a_window_that_was_hit_does_not_close_behind_the_work() -> None:
    """The pot life bounds the use of the mix, not the time until the pieces are counted (common practice, no
    source)."""
    bench = open_bench()
    load = _coated(bench)
    bench.clock.forward(3 * 3600)

    gate = next(line for line in bench.walk(load).lines if line.title == "Mix within its pot life")
    assert gate.state == "done"
    current = bench.walk(load).current
    assert current is not None
    assert current.kind == "count"
    assert bench.hand().work(load)


def test_a_window_is_over_with_the_step_that_it_names() -> None:
    """Into the first rinse in time; how long the rinse takes is another matter (common practice, no source)."""

    coat = 'do = "Brush the coat on", id = "coat", at = "load", skip = false },'

    def rinsed() -> Checklist:
        return edited(
            ('clock = "pot life", at = "load" }', 'clock = "pot life", until = "coat", at = "load" }'),
            (coat, coat + '\n  { do = "Let it level", at = "load" },'),
        )

    bench = open_bench(rinsed)
    load = bench.form(10)
    assert bench.hand().work(load)
    bench.hand().work(load, stop=lambda line: line.title == "Let it level")
    bench.clock.forward(3 * 3600)
    assert bench.current(load).title == "Let it level"


def test_the_step_that_ends_one_window_ends_no_later_one() -> None:
    """A second mix of the same clock is bound by its own window."""
    once = '{ gate = "cured", do = "Mix within its pot life", clock = "pot life", at = "load" },'
    coat = '{ do = "Brush the coat on", id = "coat", at = "load", skip = false },'
    mix = '{ do = "Mix lacquer and hardener", id = "mix", at = "load", while_running = "pot life", skip = false },'
    second = mix.replace('"Mix lacquer', '"Mix again').replace(', id = "mix"', "")
    twice = edited(
        (once, once.replace('", at', '", until = "coat", at')),
        (
            coat,
            f"{coat}\n  {second}\n  {once.replace('Mix within', 'Second mix within')}\n"
            '  { do = "Brush the rest on", at = "load", skip = false },',
        ),
    )
    bench = open_bench(lambda: twice)
    load = bench.form(10)
    assert bench.hand().work(load)
    bench.hand().work(load, stop=lambda line: line.title == "Brush the rest on")
    bench.clock.forward(3 * 3600)
    assert bench.current(load).title == "Mix again and hardener"


def test_a_window_that_closes_before_its_work_is_done_blocks() -> None:
    bench = open_bench()
    load = bench.form(10)
    assert bench.hand().work(load)
    bench.hand().work(load, stop=lambda line: line.title == "Brush the coat on")
    bench.clock.forward(41 * 60)

    current = bench.current(load)
    assert (current.title, current.state) == ("Mix lacquer and hardener", "now")


def test_striking_the_work_out_opens_the_question_of_its_window_again() -> None:
    bench = open_bench()
    load = _coated(bench)
    coat = next(entry for entry in reversed(bench.state.entries) if entry.kind == "step_done")
    bench.clock.forward(3 * 3600)
    bench.say(StrikeOut(coat.seq, "the wrong pallet"))

    current = bench.walk(load).current
    assert current is not None
    assert current.title == "Mix lacquer and hardener"


def test_a_mix_that_goes_off_after_the_work_asks_for_nothing_more() -> None:
    """Neither where it was mixed nor where another load's mix was used up."""
    bench = open_bench()
    one, two = bench.form(10), bench.form(10)
    for load in (one, two):
        bench.through(load, 10)
    bench.until(one, "count")
    bench.until(two, "count")
    bench.clock.forward(3600)

    assert (bench.current(one).key, bench.current(two).key) == ("count", "count")
    assert bench.line(two, "mix").evidence == "pot life was open"
    bench.through(one)
    bench.through(two)


def test_what_lapses_after_the_count_does_not_hold_the_release() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "release")
    bench.clock.forward(400 * 86400)  # the lacquer is past its date by now

    assert bench.current(load).key == "release"


def coated_twice() -> Checklist:
    """The test part, whose second operation of coating is a third: within the recoat window of the one before."""
    plain = part()
    coat, cut = plain.ops[20], plain.ops[30]
    gate = Cured(gate="cured", do="Coat again in its window", clock="recoat", at="arrive")
    again = replace(
        coat, op=25, title="Coat again", clocks=(),
        steps=(gate, Do(do="Brush the second coat on", at="load"), Do(do="Hang it up to dry", at="after")),
    )  # fmt: skip
    bake = replace(plain.ops[40], steps=tuple(step for step in plain.ops[40].steps if not isinstance(step, Cured)))
    return replace(plain, operations=(plain.ops[10], coat, again, cut, bake, plain.ops[50]))


def test_a_window_is_over_once_the_coat_it_was_for_is_on() -> None:
    """It is no longer closing or missed: on the handover, what is next, beside the list, in the plan."""
    bench = open_bench(coated_twice, start=4)
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.until(load, "load step 1")

    def shown() -> list[str]:
        return [name for name, *_ in list_load_clocks(bench.state, bench.state.loads[load], bench.clock())]

    assert "recoat" in shown(), "until it is brushed on, the window closes"
    (due,) = (due for due in list_due_tasks([bench.state], bench.clock()) if due.load == load)
    assert due.closes is not None
    bench.say(DoStep(bench.run_of(load).number, "load step 1"))

    for later in (0, 2 * 3600):
        bench.clock.forward(later)
        assert "recoat" not in shown()
        assert not any("recoat" in line.text for line in list_safety_lines(bench.state, bench.clock()))
        (due,) = (due for due in list_due_tasks([bench.state], bench.clock()) if due.load == load)
        assert due.closes is None
        assert due.urgency == "now"
    assert "cure" in shown(), "what is still to come is shown"


def test_a_mix_that_others_opened_is_not_shown_at_a_load_that_has_not_come_to_it() -> None:
    bench = open_bench(start=8)
    first, second = bench.form(10), bench.form(10)
    bench.through(first, 10)
    bench.until(first, "coat")
    assert bench.state.loads[second].at == 10

    def shown(load: int) -> list[str]:
        return [one.name for one in list_load_clocks(bench.state, bench.state.loads[load], bench.clock())]

    assert "pot life" not in shown(second)
    bench.through(second, 10)
    assert "pot life" in shown(second)
