"""Every form of the program: at a refusal what was typed stands, and the cursor is in the field that is refused."""

from __future__ import annotations

import ast
from collections.abc import Awaitable, Callable, Iterator
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widget import Widget
from textual.widgets import Static

import floor.screens
from floor.app import FloorApp
from floor.batch.command import Refused
from floor.batch.corrections.commands import Note, StrikeOut
from floor.batch.corrections.strike_effects import find_dependent_runs
from floor.batch.corrections.unproved_work import find_unproved_work
from floor.batch.gates.commands import Prove, Waive
from floor.batch.gates.open_lot import list_lot_gates
from floor.batch.gates.suspect_gauges import ReportSuspectGauge
from floor.batch.handover.commands import AskQuestion, CountSubjectPieces, OfferHandover, ReadHandoverPage
from floor.batch.lifecycle.commands import OpenBatch, SetPiecesAside
from floor.batch.moving.commands import MovePieces
from floor.batch.stations.conditions import ReportCondition
from floor.batch.stations.out_of_service import TakeOutOfService
from floor.batch.trial import Response
from floor.batch.trials.commands import EnterTrialResult, PlanTrial, TakeTrialPieces
from floor.checklist.loading import read_checklist
from floor.evidence.table_file import Table
from floor.screens.batch import (
    closing,
    correct_count,
    correct_lot,
    enter_half_done,
    half_done,
    surplus,
    suspect_gauge,
    trace,
    trial_forms,
    unproved,
)
from floor.screens.batch.decide import close_waiver, confirm_clock
from floor.screens.batch.history import HistoryScreen
from floor.screens.batch.hold import HoldScreen
from floor.screens.batch.process import LossScreen
from floor.screens.batch.screen import BatchScreen
from floor.screens.batch.set_aside import choose_set_aside
from floor.screens.batch.trials import TrialScreen
from floor.screens.forms.dialogs import ChoiceDialog, FormDialog
from floor.screens.forms.fields import Errors, Values
from floor.screens.forms.form import Form
from floor.screens.frame.screen import BatchFrame
from floor.screens.frame.sign_in import SignInDialog
from floor.screens.handover import forms as handover
from floor.screens.handover.screen import HandoverScreen
from floor.screens.shop.gauges import GaugesScreen
from floor.screens.shop.open_batch import ask_start_more
from floor.screens.shop.order_entry import Order
from floor.screens.shop.order_form import OpenBatchScreen
from floor.screens.shop.people import PeopleScreen
from floor.screens.walk import begin_run, confirm, disturbances, new_lot, out_of_limits, step_actions
from floor.screens.walk.count_form import CountScreen
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from floor.shop.checklists import ChecklistFile
from floor.shop.trial_files import TrialTable
from floor.shop.weaker_checklist import find_weaker
from floor.text import wrap_text
from tests.batch.factory import edited, edited_text
from tests.batch.test_gauges import DEPTH
from tests.screens.conftest import Open
from tests.screens.keys import fill
from tests.screens.operator import Place
from tests.screens.test_underway import under_way

pytestmark = pytest.mark.usefixtures("drawn")

SCREENS = Path(floor.screens.__file__).parent

Opens = Callable[[FloorApp, "Pilot[str]", Place], Awaitable[None]]


class Walk:
    """A form that is opened from the walk, at the line of this title."""

    def __init__(self, ask: Callable[[WalkScreen, Place], object], at: str = "start") -> None:
        self.ask, self.at = ask, at

    async def __call__(self, app: FloorApp, pilot: Pilot[str], place: Place) -> None:
        run = place.at(place.load(), self.at, wait=False)
        app.go_walk(place.id, run)
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, WalkScreen)
        self.ask(screen, place)


class Of:
    """A form that is opened from a screen of the batch."""

    def __init__(
        self,
        screen: Callable[..., BatchFrame],
        ask: Callable[..., object],
        *keys: str,
        before: Callable[[Place], object] = lambda place: None,
    ) -> None:
        self.screen, self.ask, self.keys, self.before = screen, ask, keys, before

    async def __call__(self, app: FloorApp, pilot: Pilot[str], place: Place) -> None:
        self.before(place)
        screen = self.screen(app.session, place.id)
        app.go(screen)
        await pilot.pause()
        self.ask(screen)
        await pilot.pause()
        await pilot.press(*self.keys)


def through_and_offered(place: Place) -> None:
    place.through(place.load(), 10)
    place.shop.do(place.id, OfferHandover("Pallet 3 first", False, ""), "LL")


def relieved(place: Place) -> None:
    place.through(place.load(), 10)
    place.shop.do(place.id, OfferHandover(relief="illness", unusual="cut", done="bandaged", first="the end"), "LL")


def asked(place: Place) -> None:
    through_and_offered(place)
    place.shop.do(place.id, ReadHandoverPage(), "BB")
    place.shop.do(place.id, AskQuestion("is the chuck key back?"), "BB")


def put_off(place: Place) -> None:
    place.shop.do(place.id, Note("swap the coolant", owner="BB"), "LL")


def disagreed(place: Place) -> None:
    asked(place)
    place.shop.do(place.id, CountSubjectPieces("load 1", 99), "BB")


def struck(place: Place) -> None:
    place.through(place.load(), 10)
    probed = next(entry for entry in place.batch.entries if entry.body.get("line") == "probed 1")
    place.shop.do(place.id, StrikeOut(probed.seq, "typed wrong"), "LL")


def relied_on(place: Place) -> None:
    """A second load went on by what was proved for the first, which is struck out then."""
    place.through(place.load(), 10)
    place.through(place.load(), 10)
    proofs = [entry.seq for entry in place.batch.entries if entry.kind == "proved"]
    seq = next(seq for seq in proofs if find_dependent_runs(place.batch, seq))
    place.shop.do(place.id, StrikeOut(seq, "typed wrong"), "LL")


def read_out(place: Place) -> None:
    load = place.load()
    run = place.at(load, "Measure groove depth")
    line = place.hand.current(load)
    assert line is not None
    place.shop.do(place.id, Prove(run, line.key, {"value": [3.0, 3.3]}), "AA")


def waived(place: Place) -> None:
    run = place.at(place.load(), "Measure groove depth")
    line = place.hand.current(place.batch.runs[run].load)
    assert line is not None
    place.shop.do(place.id, Waive(run, line.key, "gauge is away"), "LL")


def two_loads(place: Place) -> None:
    for load in (place.load(), place.load()):
        place.through(load, 10)
        place.shop.do(place.id, MovePieces(load, (4 * load,)), "AA")


def held(place: Place) -> None:
    place.shop.do(place.id, SetPiecesAside("hold", "dropped on the floor", op=10, count=2), "LL")


def tried(place: Place, response: Response = "number") -> None:
    """A trial with a result and a piece that is out for it."""
    unit = "mm" if response == "number" else ""
    factors = (("insert", ("A", "B")),)
    place.shop.do(place.id, PlanTrial("which insert?", factors, response, "depth", 1, unit), "LL")
    place.shop.do(place.id, TakeTrialPieces(1, 1, 1), "LL")
    place.shop.do(place.id, EnterTrialResult(1, 1, (0.2,), good=1), "LL")


RESULT = EnterTrialResult(1, 1)
TABLE = TrialTable("run.csv", "", Table({"t": (1.0, 2.0), "x": (0.5, 0.4)}, 2, 0))


def all_scrap(place: Place) -> None:
    place.shop.do(place.id, SetPiecesAside("scrap", "order is off", op=10, count=10), "LL")


async def decide_before(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
    read_out(place)
    out_of_limits.decide_pieces_before(app.screen, place.id, next(iter(place.batch.out)))  # type: ignore[arg-type]


async def measure_again(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
    read_out(place)
    out_of_limits.decide_out_of_limits(app.screen, place.id, next(iter(place.batch.out)))  # type: ignore[arg-type]
    await pilot.pause()
    assert isinstance(app.screen, ChoiceDialog)
    keys = [choice.key for choice in app.screen.choices]
    await pilot.press(app.screen.picks[keys.index("again")])


async def strike_reading_out(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
    read_out(place)
    out = next(iter(place.batch.out))
    out_of_limits._strike_out(app.screen, place.id, out, "3.3 mm, must be 2.9 to 3.1 mm")  # type: ignore[arg-type]


async def name_out(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
    read_out(place)
    out_of_limits.decide_out_of_limits(app.screen, place.id, next(iter(place.batch.out)))  # type: ignore[arg-type]
    await pilot.press("1")


async def settle_out(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
    read_out(place)
    out_of_limits._settle(app.screen, place.id, next(iter(place.batch.out)))  # type: ignore[arg-type]
    await pilot.press("1")


async def decide_unproved(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
    struck(place)
    unproved.decide_unproved(app.screen, place.id, next(iter(find_unproved_work(place.batch))))  # type: ignore[arg-type]
    await pilot.press("1")


async def right_lot(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
    place.through(place.load(), 10, 20)
    seq = place.batch.lot_entries["lacquer"][0]
    correct_lot.ask_right_lot(app.screen, place.id, seq)  # type: ignore[arg-type]


async def right_count(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
    [aside] = place.hand.do(SetPiecesAside("scrap", "not found", op=10, count=1))
    correct_count.ask_right_count(app.screen, place.id, aside.seq)  # type: ignore[arg-type]


async def note_at_count(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
    run = place.at(place.load(), "count")
    screen = CountScreen(app.session, place.id, run)
    app.go(screen)
    await pilot.pause()
    screen._ask_note(screen.codes[0], lambda: None)


async def own_count(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
    run = place.at(place.load(), "count")
    app.go(CountScreen(app.session, place.id, run))
    await pilot.pause()
    await pilot.press(".")


async def start_before_accepted(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
    through_and_offered(place)
    begin_run.start_run(app.screen, place.id, place.load(), anyway=True)  # type: ignore[arg-type]


async def back_in_service(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
    station = place.batch.checklist.stations[0].id
    place.shop.do(place.id, TakeOutOfService(station, "broken down"), "LL")
    disturbances.change_station_service(app.screen, place.id, station)  # type: ignore[arg-type]


async def weaker_file(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
    coat = '{ do = "Brush the coat on", id = "coat", at = "load", skip = false }'
    text = edited_text((coat, coat.replace(", skip = false", "")))
    one = ChecklistFile(Path("own.toml"), "own.toml", read_checklist(text, "own.toml"))
    assert one.loaded.checklist is not None
    screen = OpenBatchScreen(app.session, one, one.loaded.checklist)
    app.go(screen)
    await pilot.pause()
    before = find_weaker(place.shop, screen.checklist)
    assert before is not None
    command = screen.opening.make_command(Order(4, 4, None, ""))
    screen.opening._ask_why_weaker(before, command, "Open it?", lambda: None)


async def guard_put_on(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
    station = place.batch.checklist.stations[0].id
    place.shop.do(place.id, ReportCondition(station, "guard off", "hinge broke"), "LL")
    (stands,) = place.batch.conditions.values()
    disturbances._clear_condition(app.screen, place.id, station, stands)  # type: ignore[arg-type]


async def gauge_dropped(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
    opening = OpenBatch(place.shop.find_next_id(), edited(DEPTH), "digest", "part.toml", 8, 10)
    measured = Place(place.shop, place.shop.open_batch(opening, by="LL").id, place.clock)
    measured.through(measured.load(), 10)
    place.shop.do(measured.id, ReportSuspectGauge("DM-1", "Depth micrometer", "dropped", measured.batch.opened), "AA")
    suspect_gauge.decide_suspect_gauge(app.screen, measured.id, measured.batch.seq)  # type: ignore[arg-type]


def people(*keys: str) -> Opens:
    async def opens(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
        app.go(PeopleScreen(app.session))
        await pilot.pause()
        await pilot.press(*keys)

    return opens


async def qualified(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
    place.shop.enter_qualification("AA", "spray painting", "2026-01-05", "2027-01-04", "LL")
    await pilot.press("c", "1", "enter", "5", "1", "2")


def gauges(*keys: str, withdrawn: bool = False) -> Opens:
    async def opens(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
        place.shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
        if withdrawn:
            place.shop.withdraw_gauge("DM-04", "dropped", False, "LL")
        app.go(GaugesScreen(app.session))
        await pilot.pause()
        await pilot.press(*keys)

    return opens


def half_told(*keys: str) -> Opens:
    async def opens(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
        screen = await under_way(pilot, place.shop)
        assert isinstance(screen, half_done.HalfDoneScreen)
        await pilot.press(*keys)

    return opens


async def half_signed(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
    place.shop.set_pin("BB", "2468", "BB")
    screen = await under_way(pilot, place.shop)
    assert isinstance(screen, half_done.HalfDoneScreen)
    screen.second = "BB"
    await pilot.press("y")


async def half_proved(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
    screen = await under_way(pilot, place.shop)
    enter_half_done.ask_proof(screen, 10, None, lambda proof: None)
    await pilot.press("1")


async def trace_which(app: FloorApp, pilot: Pilot[str], place: Place) -> None:
    app.go(trace.TraceScreen(app.session, place.id))


FORMS: dict[str, Opens] = {
    "batch/closing close_batch": Of(
        BatchScreen, lambda screen: closing.close_batch(screen, screen.batch_id, lambda: None), before=all_scrap
    ),
    "batch/enter_half_done _fields": half_told("a", "1"),
    "batch/enter_half_done _heap_fields": half_told("a", "4"),
    "batch/enter_half_done _load_fields": half_told("a", "1"),
    "batch/enter_half_done _rework_field": half_told("a", "5"),
    "batch/enter_half_done _ask_values": half_proved,
    "batch/half_done _ask_time": half_told("a", "8"),
    "batch/half_done _ask_signatures": half_signed,
    "batch/history _number": Of(HistoryScreen, lambda screen: screen._find_op()),
    "batch/history _find_words": Of(HistoryScreen, lambda screen: screen._find_words()),
    "batch/history _ask_why": Of(
        HistoryScreen,
        lambda screen: screen._ask_why(screen.current_batch.entries[-1]),
        before=held,
    ),
    "batch/history picked": Of(
        HistoryScreen,
        lambda screen: screen._hold_back(next(iter(screen.current_batch.struck))),
        "1",
        before=relied_on,
    ),
    "batch/follow_up _ask": Of(HoldScreen, lambda screen: screen.action_follow_up(), "2", before=held),
    "batch/hold _list_fields": Of(
        HoldScreen, lambda screen: screen._ask_reason(screen.undecided, "repair"), before=held
    ),
    "batch/hold _ask_reason": Of(HoldScreen, lambda screen: screen._ask_reason(screen.undecided, "scrap"), before=held),
    "batch/moves form_load": Of(BatchScreen, lambda screen: screen.action_move(), "1"),
    "batch/moves split": Of(BatchScreen, lambda screen: screen.action_move(), "1", before=lambda place: place.load()),
    "batch/moves join": Of(BatchScreen, lambda screen: screen.action_move(), "2", before=two_loads),
    "batch/moves chosen": Of(
        BatchScreen,
        lambda screen: screen.action_move(),
        "5",
        "1",
        before=lambda place: place.through(place.load(), 10),
    ),
    "batch/moves ask_why": Of(
        BatchScreen,
        lambda screen: screen.action_move(),
        "5",
        "1",
        before=lambda place: place.load(),
    ),
    "batch/moves _list_move_fields": Of(
        BatchScreen, lambda screen: screen.action_move(), "3", before=lambda place: place.load()
    ),
    "batch/process_pages action_find": Of(LossScreen, lambda screen: screen.action_find()),
    "batch/decide chosen": Of(BatchScreen, lambda screen: close_waiver(screen, screen.batch_id), "1", before=waived),
    "batch/decide confirm_clock": Of(BatchScreen, lambda screen: confirm_clock(screen, screen.batch_id)),
    "batch/set_aside choose_set_aside": Walk(lambda screen, place: choose_set_aside(screen, place.id, 1)),
    "batch/surplus _ask_why": Walk(lambda screen, place: surplus._ask_why(screen, place.id, "until", None, None, "")),
    "batch/suspect_gauge decide_suspect_gauge": gauge_dropped,
    "batch/trace action_choose": trace_which,
    "batch/trial_forms _plan": Of(TrialScreen, lambda screen: screen.action_plan_trial(), "1"),
    "batch/trial_forms _ask_count": Of(TrialScreen, lambda screen: screen.action_act(), "2", "1", "1", before=tried),
    "batch/trial_forms ask_result": Of(
        TrialScreen, lambda screen: screen.action_act(), "1", "1", before=lambda place: tried(place, "good or bad")
    ),
    "batch/trial_forms _ask_values": Of(TrialScreen, lambda screen: screen.action_act(), "1", "1", before=tried),
    "batch/trial_forms _ask_columns": Of(
        TrialScreen,
        lambda screen: trial_forms._ask_columns(screen, screen.batch_id, RESULT, TABLE, "mean"),
        before=tried,
    ),
    "batch/trial_forms chosen": Of(TrialScreen, lambda screen: screen.action_act(), "3", "1", before=tried),
    "batch/trial_forms ask_back": Of(TrialScreen, lambda screen: screen.action_act(), "4", before=tried),
    "batch/unproved chosen": decide_unproved,
    "batch/correct_count ask_right_count": right_count,
    "batch/correct_lot ask_right_lot": right_lot,
    "handover/forms offer_handover": Of(
        HandoverScreen, lambda screen: handover.offer_handover(screen, {}, unattended=True)
    ),
    "handover/forms accept_handover": Of(
        HandoverScreen, lambda screen: handover.accept_handover(screen, lambda: None), before=relieved
    ),
    "handover/forms ask_question": Of(HandoverScreen, handover.ask_question, before=through_and_offered),
    "handover/forms picked": Of(HandoverScreen, handover.answer_question, before=asked),
    "handover/forms add_handover_note": Of(HandoverScreen, handover.add_handover_note),
    "shop/gauges action_add": gauges("a"),
    "shop/gauges _change_due": gauges("enter", "1"),
    "shop/gauges _withdraw": gauges("enter", "2"),
    "shop/gauges _call_suspect": gauges("enter", "2", withdrawn=True),
    "shop/gauges _bring_back": gauges("enter", "3", withdrawn=True),
    "shop/open_batch ask_start_more": Of(BatchScreen, lambda screen: ask_start_more(screen, screen.batch_id)),
    "shop/people action_add": people("a"),
    "shop/people _change_name": people("enter", "2"),
    "shop/people _ask_pin": people("enter", "1"),
    "shop/people _enter_qualification": people("enter", "5", "1"),
    "shop/people _withdraw_qualification": qualified,
    "walk/begin_run start_run": start_before_accepted,
    "walk/confirm _ask_pin": Walk(lambda screen, place: confirm._ask_pin(screen, "BB", lambda token: None)),
    "walk/count_form _ask_note": note_at_count,
    "walk/count_form action_type_good": own_count,
    "walk/disturbances change_station_service": Walk(
        lambda screen, place: disturbances.change_station_service(screen, place.id, screen.current_run.station)
    ),
    "shop/open_order _ask_why_weaker": weaker_file,
    "walk/disturbances _report_condition": Walk(
        lambda screen, place: disturbances._report_condition(screen, place.id, screen.current_run.station, "guard off")
    ),
    "walk/disturbances _clear_condition": guard_put_on,
    "walk/disturbances ask_room_air": Walk(lambda screen, place: disturbances.ask_room_air(screen, place.id)),
    "walk/disturbances ask_paper_time": Walk(lambda screen, place: disturbances.ask_paper_time(screen)),
    "walk/disturbances ask_cycle_stop": Walk(
        lambda screen, place: disturbances.ask_cycle_stop(screen, place.id, screen.current_run, "tool broke")
    ),
    "walk/new_lot _ask": Walk(
        lambda screen, place: new_lot._ask(screen, place.id, next(iter(list_lot_gates(place.batch.checklist))))
    ),
    "walk/out_of_limits chosen": name_out,
    "walk/out_of_limits _read_value": measure_again,
    "walk/out_of_limits _strike_out": strike_reading_out,
    "walk/out_of_limits decide_pieces_before": decide_before,
    "walk/step_actions skip_step": Walk(lambda screen, place: screen.action_skip(), "Clamp the pallet"),
    "walk/step_actions _ask_waiver": Walk(
        lambda screen, place: screen.action_waive(), "Second look at tools and program"
    ),
    "walk/step_actions add_note": Walk(lambda screen, place: step_actions.add_note(screen, place.id, screen.run_)),
}
"""Module and function that describes the fields → how its form is opened."""

MORE: dict[str, Opens] = {
    "a station that is back": back_in_service,
    "a reading of the station": settle_out,
    "work put off that is done": Of(HandoverScreen, handover.mark_note_done, before=put_off),
    "a return": Of(HoldScreen, lambda screen: screen._ask_reason(screen.undecided, "return to supplier"), before=held),
    "a count that disagreed": Of(HandoverScreen, handover.settle_difference, "1", before=disagreed),
}
"""Forms of a function that describes several."""

ON_SCREENS = {"frame/sign_in compose", "shop/order_form body", "walk/gate_form _make_field"}
"""Those that stand on a screen of their own, in tests of their own below."""


def list_described() -> Iterator[str]:
    """Module and innermost function of everything that describes a field."""

    def search(node: ast.AST, function: str) -> Iterator[str]:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.Call) and isinstance(child.func, ast.Name) and child.func.id == "FieldSpec":
                yield function
            yield from search(child, child.name if isinstance(child, ast.FunctionDef) else function)

    for path in SCREENS.rglob("*.py"):
        for function in search(ast.parse(path.read_text(encoding="utf-8")), ""):
            yield f"{path.relative_to(SCREENS).with_suffix('').as_posix()} {function}"


def test_no_form_is_left_out() -> None:
    assert set(list_described()) == FORMS.keys() | ON_SCREENS


def test_fields_are_made_in_the_form_and_nowhere_else() -> None:
    """Four screens have one line to type in that is no form: each is argued."""
    lines = {
        "frame/find.py",  # a search in a list
        "frame/sign_in.py",  # a search in a list, and a pin that never stands again
        "handover/task.py",  # the count of the place that the cursor is at, in a table of places
        "plan/whatif.py",  # a question in words: what is wrong is said below it, and it stays
    }
    found = set()
    for path in SCREENS.rglob("*.py"):
        calls = (node for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, ast.Call))
        if any(isinstance(one.func, ast.Name) and one.func.id.endswith("Input") for one in calls):
            found.add(path.relative_to(SCREENS).as_posix())
    assert found == lines | {"forms/form.py"}


async def refuse_each_field(app: FloorApp, pilot: Pilot[str], form: Form, refuse: Callable[[str], None]) -> None:
    """Enter everything once for each field, which is refused then; and look at what stands and where the cursor is."""
    assert form.fields
    of_order = {"due": "2026-12-01", "start": "29", "tests": "10=0"}
    typed = [
        of_order.get(one.name, f"{n + 7}") if one.check is not None else f"{n + 7}" for n, one in enumerate(form.fields)
    ]
    for at, field in enumerate(form.fields):
        for text, input in zip(typed, form.inputs, strict=True):
            input.value = text
            await pilot.pause()
        refuse(field.name)
        begin = max(at - 1, 0)
        app.screen.set_focus(form.inputs[begin])
        await pilot.pause()
        for _ in form.inputs[begin:]:  # over all that was refused before
            await pilot.press("enter")
        await pilot.pause()
        assert form.is_attached, f"{field.name}: the form is gone"
        assert "t will not do" in form.wrong, f"{field.name}: the reason is not said at the form"
        assert app.focused is form.inputs[at], f"{field.name}: the cursor is elsewhere"
        assert form.inputs[at].selected_text == form.inputs[at].value, "what is typed next takes its place"
        gone = {n for n, one in enumerate(form.fields) if one.secret and n >= at}
        for n, input in enumerate(form.inputs):
            assert input.value == ("" if n in gone else typed[n]), f"{field.name}: what was typed is lost"


@pytest.mark.parametrize("name", [*FORMS, *MORE])
async def test_a_refusal_loses_nothing_and_puts_the_cursor_at_the_field(
    open_app: Open, place: Place, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("floor.screens.batch.screen.is_clock_change_untold", lambda *of: True)
    app = open_app("LL")
    async with app.run_test(size=(80, 40)) as pilot:
        await pilot.pause()
        await (FORMS | MORE)[name](app, pilot, place)
        await pilot.pause()
        await pilot.pause()
        dialog = app.screen
        assert isinstance(dialog, FormDialog)
        for label in dialog.query(".field-label").results(Static):
            rows = wrap_text(str(label.content), width=label.size.width)
            assert isinstance(label.parent, Widget)
            assert label.parent.size.height >= len(rows), f"{rows}: cut, and nobody knows what is asked"
        before = place.batch.seq
        field = ""

        def refuse(values: Values) -> Errors:
            raise Refused("input", "it will not do", "try again", field=field)

        def set_refused(name: str) -> None:
            nonlocal field
            field = name

        dialog.attempt = refuse
        await refuse_each_field(app, pilot, dialog.query_one(Form), set_refused)
        await pilot.press("escape")
        assert app.screen is not dialog, "Escape leaves it"
        assert place.batch.seq == before, "nothing was entered"


async def test_the_reason_for_a_weaker_checklist_is_that_of_the_lead_who_gave_it(open_app: Open, place: Place) -> None:
    """Another lead who signs in meanwhile gives their own."""
    app = open_app("LL")
    async with app.run_test(size=(80, 40)) as pilot:
        await weaker_file(app, pilot, place)
        await pilot.pause()
        await fill(pilot, "held otherwise")
        screen = app.screen
        assert isinstance(screen, OpenBatchScreen)
        assert screen.opening.make_command(Order(4, 4, None, "")).weaker_why == "held otherwise"
        app.session.sign_in("MM")
        assert screen.opening.make_command(Order(4, 4, None, "")).weaker_why == ""


async def test_so_it_is_with_the_form_of_a_gate(open_app: Open, place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    run = place.at(place.load(), "Probe G54 X Z")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        walk = app.screen
        assert isinstance(walk, WalkScreen)

        def set_refused(name: str) -> None:
            def refused(*given: object) -> None:
                raise Refused("input", "it will not do", "try again", field=name)

            monkeypatch.setattr(place.shop, "do", refused)

        await refuse_each_field(app, pilot, walk.asks, set_refused)


async def test_so_it_is_with_the_order_form(open_app: Open, place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.pause()
        await under_way(pilot, place.shop)
        await pilot.press("escape")
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, OpenBatchScreen)

        def set_refused(name: str) -> None:
            monkeypatch.setattr(screen, "_try", lambda values, go: {name: "it will not do"})

        await refuse_each_field(app, pilot, screen.form, set_refused)


async def test_so_it_is_with_the_first_person(bare_shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    app = FloorApp(bare_shop, who="", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("ctrl+l")
        dialog = app.screen
        assert isinstance(dialog, SignInDialog)

        def set_refused(name: str) -> None:
            monkeypatch.setattr(dialog, "_enter_first", lambda values: {name: "it will not do"})

        await refuse_each_field(app, pilot, dialog.query_one(Form), set_refused)
