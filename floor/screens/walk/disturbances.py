"""Asking what happened at a station: what voids what was proved there, and whether it is in service."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import cast

from floor.batch.events import Condition
from floor.batch.gates.lapse_causes import DISTURBANCES
from floor.batch.gates.offset_users import list_offset_owners
from floor.batch.gates.room_air import ReadAir, has_cure_by_air, list_air_fields
from floor.batch.open_items import StationCondition, make_condition_key
from floor.batch.run import Run
from floor.batch.stations.commands import Disturb
from floor.batch.stations.conditions import CONDITIONS, ClearCondition, ReportCondition, list_conditions_at
from floor.batch.stations.out_of_service import ReturnToService, TakeOutOfService
from floor.batch.walk.commands import StartCycle
from floor.batch.walk.stop_cycle import STOPS, StopCycle
from floor.checklist.equipment import Tool
from floor.checklist.gate_base import Disturbance
from floor.checklist.model import Checklist
from floor.screens.forms.dialogs import Choice, ChoiceDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values
from floor.screens.frame.screen import FloorScreen, RunFrame
from floor.screens.frame.session import Transcription
from floor.screens.walk.start_cycle import start_cycle
from floor.wall import (
    WHEN,
    convert_to_zone,
    describe_wrong_time,
    format_local,
    get_zone,
    parse_typed_time,
    resolve_local,
)

SERVICE = "service"
PAPER = "paper"
AIR = "air"
CONDITION = "condition"
CONDITION_SAYS = "guard off, lock on or temporary fix: report or clear it"
FROM_PAPER = "enter work done on paper during an outage"
WHY = ("broken down, maintenance called", "planned maintenance", "waiting for parts")


def choose_station(screen: FloorScreen, batch_id: str) -> None:
    """Ask which station of the route goes out of service, or is back."""
    batch = screen.session.batch(batch_id)
    now = screen.session.now().at
    choices = [
        Choice(one.id, f"{one.name}: {batch.outages[one.id].said(now)}" if one.id in batch.outages else one.name)
        for one in batch.checklist.stations
    ]

    choices += [Choice(PAPER, FROM_PAPER), Choice(CONDITION, CONDITION_SAYS)]

    def picked(station: str | None) -> None:
        if station == PAPER:
            ask_paper_time(screen)
        elif station == CONDITION:
            where = [Choice(one.id, one.name) for one in batch.checklist.stations]
            screen.floor.push_screen(ChoiceDialog("At which station?", where), condition_at)
        elif station is not None:
            change_station_service(screen, batch_id, station)

    def condition_at(station: str | None) -> None:
        if station is not None:
            ask_condition(screen, batch_id, station)

    screen.floor.push_screen(ChoiceDialog("Which station is out of service, or back?", choices), picked)


def ask_condition(screen: FloorScreen, batch_id: str, station: str) -> None:
    """Ask what stands at a station, or which of what stands there is cleared."""
    batch, now = screen.session.batch(batch_id), screen.session.now().at
    standing = {str(n): stands for n, stands in enumerate(list_conditions_at(batch, station))}
    taken = {stands.what for stands in standing.values() if stands.what != "lock on" or stands.by == screen.session.who}

    def picked(key: str | None) -> None:
        if key in standing:
            _clear_condition(screen, batch_id, station, standing[key])
        elif key is not None:
            _report_condition(screen, batch_id, station, cast("Condition", key))

    choices = [Choice(key, f"clear: {stands.said(now)}") for key, stands in standing.items()]
    choices += [Choice(what, text) for what, text in CONDITIONS.items() if what not in taken]
    text = "Shown on every screen and handover until it is cleared."
    title = f"{batch.checklist.station(station).name}: report or clear what?"
    screen.floor.push_screen(ChoiceDialog(title, choices, text), picked)


def _report_condition(screen: FloorScreen, batch_id: str, station: str, what: Condition) -> None:
    name = screen.session.batch(batch_id).checklist.station(station).name
    screen.ask_and_give(
        batch_id,
        f"{name}: {what}",
        [FieldSpec("note", "What, why, until when", needed=True)],
        lambda given: ReportCondition(station, what, given["note"]),
        lambda _: screen.say(f"{name}: {what} reported. x: clear it"),
    )


def _clear_condition(screen: FloorScreen, batch_id: str, station: str, stands: StationCondition) -> None:
    name = screen.session.batch(batch_id).checklist.station(station).name
    whose = make_condition_key(station, stands.what, stands.by).whose
    screen.ask_and_give(
        batch_id,
        f"{name}: {stands.what} cleared?",
        [FieldSpec("note", "What was done", needed=True)],
        lambda given: ClearCondition(station, stands.what, given["note"], whose),
        lambda _: screen.say(f"{name}: {stands.what} cleared"),
        stands.said(screen.session.now().at),
    )


def change_station_service(screen: FloorScreen, batch_id: str, station: str) -> None:
    """Say that a station is out of service, why and until when; or that it is back."""
    batch, now = screen.session.batch(batch_id), screen.session.now().at
    name, outage = batch.checklist.station(station).name, batch.outages.get(station)

    def out(given: Values) -> Errors:
        back = parse_typed_time(given["back"], now)
        if given["back"].strip() and back is None:
            return {"back": describe_wrong_time(given["back"], now)}
        screen.session.do(batch_id, TakeOutOfService(station, given["why"], back))
        return {}

    def is_out() -> None:
        screen.say(f"{name} is out of service; x: back in service")
        screen.update_all()

    if outage is None:
        hint = f"e.g. 14:30 or {format_local(now + timedelta(days=1), WHEN)}; blank: nobody knows"
        fields = [FieldSpec("why", "Why", picks=WHY, needed=True), FieldSpec("back", "Back at", hint=hint)]
        screen.ask_form(f"Take {name} out of service (all batches)", fields, out, is_out)
    else:
        screen.ask_and_give(
            batch_id,
            f"Return {name} to service?",
            [FieldSpec("note", "What was done")],
            lambda given: ReturnToService(station, given["note"]),
            lambda _: screen.say(f"{name} is in service"),
            outage.said(now),
        )


def ask_room_air(screen: FloorScreen, batch_id: str) -> None:
    """Ask for the air of the room; the cures that state theirs follow it from now on."""
    fields = [
        FieldSpec(ask.name, ask.label, needed=True, number=True, unit=ask.unit, hint=ask.unit, longest=ask.longest)
        for ask in list_air_fields(screen.session.batch(batch_id).checklist)
    ]
    screen.ask_and_give(
        batch_id,
        "Room air where the coat cures",
        fields,
        lambda given: ReadAir(given["air"], given["humidity"]),
        lambda _: screen.update_all(),
    )


def ask_paper_time(screen: FloorScreen) -> None:
    """Ask when the act was done that is entered next, from what was written while the power was out."""
    session = screen.session

    def attempt(given: Values) -> Errors:
        now, second = session.now().at, given["second"].strip().upper()
        if not given["at"].strip():
            session.paper = None
            return {}
        done = parse_typed_time(given["at"], now, past=True)
        if done is None:
            return {"at": describe_wrong_time(given["at"], now)}
        checked = session.shop.check_second(second, given["pin"]) if second else None
        session.paper = Transcription(done, second, checked)
        return {}

    def taken() -> None:
        screen.say(describe_ambiguous_time(session.paper.at) if session.paper is not None else "Back to live entry")
        screen.update_all()

    fields = [
        FieldSpec("at", "Done at", hint="14:30; blank: live entry"),
        FieldSpec("second", "Witness (initials)", hint="blank: none; cures then count from now"),
        FieldSpec("pin", "Their PIN", secret=True),
    ]
    screen.ask_form("Enter from paper", fields, attempt, taken, "Enter each action with its own time, in order.")


def describe_ambiguous_time(at: datetime) -> str:
    """Which of two moments is taken, where the clock shows the time of this one twice; else empty."""
    twice = resolve_local(convert_to_zone(at, get_zone(at)).replace(tzinfo=None), get_zone(at))
    if len(twice) < 2:
        return ""
    which = "first" if at == twice[0] else "second"
    return f"The clock shows {format_local(at, '%H:%M')} twice that night; the {which} is taken"


def ask_cycle_stop(screen: FloorScreen, batch_id: str, run: Run, why: str) -> None:
    """Ask when the cycle stopped, and which tool was cutting where that matters."""
    checklist, now = screen.session.batch(batch_id).checklist, screen.session.now().at
    tools = list_tools_in(checklist, run)

    def attempt(given: Values) -> Errors:
        at = parse_typed_time(given["at"], now, past=True) if given["at"].strip() else now
        tool = given.get("tool", "").strip()
        if at is None:
            return {"at": "Enter the time as 14:30"}
        if tool and not tool.isdecimal():
            return {"tool": "Enter the tool by its number"}
        screen.session.do(batch_id, StopCycle(run.number, why, at, int(tool) if tool else None, given["note"]))
        return {}

    def stopped() -> None:
        screen.say("Cycle stopped. Repeat the affected checks, then restart")
        screen.update_all()

    fields = [FieldSpec("at", "Stopped at", hint="e.g. 14:30; blank: now")]
    if why in ("tool broke", "crash") and tools:
        named = ", ".join(f"{tool.number} {tool.name}" for tool in tools)
        fields.append(FieldSpec("tool", "Tool", hint=named, needed=why == "tool broke"))
    fields.append(FieldSpec("note", "What happened"))
    screen.ask_form(f"Cycle stopped: {STOPS[why]}", fields, attempt, stopped)


def ask_tool_changed(screen: FloorScreen, batch_id: str, run: Run, title: str, tools: Sequence[Tool]) -> None:
    """Ask which of these tools was changed at the station of a run; where none has a card, only that one was."""

    def changed(number: str | None) -> None:
        if number is not None:
            screen.give(batch_id, Disturb(run.station, "tool changed", tool=int(number)))

    if not tools:
        screen.give(batch_id, Disturb(run.station, "tool changed"))
        return
    station = screen.session.batch(batch_id).checklist.station(run.station).name
    text = f"Goes on the record of {station}: the tool was changed and starts a new life."
    choices = [Choice(str(tool.number), f"T{tool.number} {tool.name} was changed") for tool in tools]
    screen.ask(ChoiceDialog(title, choices, text, acts=True), changed)


def ask_worn_tool_changed(screen: FloorScreen, batch_id: str, run: Run, tool: int) -> None:
    """Ask whether the worn tool that holds up a run was changed."""
    card = screen.session.batch(batch_id).checklist.tool(tool)
    assert card is not None, "only a tool with a card has a life"
    ask_tool_changed(screen, batch_id, run, "Was the worn tool changed?", [card])


def list_tools_in(checklist: Checklist, run: Run) -> tuple[Tool, ...]:
    """The tools that a run's station may hold, those of its operation too if a lead sent it there."""
    own = (checklist.tool(number) for number in checklist.ops[run.op].tool_numbers)
    known = checklist.tools_at(run.station)
    return (*known, *(tool for tool in own if tool is not None and tool not in known))


def ask_disturbance(screen: RunFrame, batch_id: str, run: Run) -> None:
    """Ask what happened where the run is, and which tool where a tool was changed."""
    checklist = screen.session.batch(batch_id).checklist

    def happened(what: str | None) -> None:
        if what == "tool changed":
            tools = list_tools_in(checklist, run)
            ask_tool_changed(screen, batch_id, run, "Which tool was changed?", tools)
        elif what == "rezeroed" and len(offsets) > 1:
            which = ChoiceDialog("Which work zero was reset?", [*offsets, Choice("", "all of them")], acts=True)
            screen.floor.push_screen(which, rezeroed)
        elif what == PAPER:
            ask_paper_time(screen)
        elif what == AIR:
            ask_room_air(screen, batch_id)
        elif what == CONDITION:
            ask_condition(screen, batch_id, run.station)
        elif what == SERVICE:
            change_station_service(screen, batch_id, run.station)
        elif what == "anew":
            start_cycle(screen, StartCycle(run.number, anew=True))
        elif what is not None and what.startswith("stop "):
            ask_cycle_stop(screen, batch_id, run, what.removeprefix("stop "))
        elif what is not None:
            load = run.load if what == "lifted" else None
            screen.give(batch_id, Disturb(run.station, cast("Disturbance", what), load=load))

    def rezeroed(offset: str | None) -> None:
        if offset is not None:
            screen.give(batch_id, Disturb(run.station, "rezeroed", offset=offset))

    offsets = [
        Choice(one, ": ".join(filter(None, (one, ", ".join(list_offset_owners(checklist, run.station, one))))))
        for one in checklist.station(run.station).offsets
    ]
    title = f"Report event: {checklist.station(run.station).name}"
    choices = [Choice(what, text) for what, text in DISTURBANCES.items()]
    if run.running:
        choices += [Choice(f"stop {why}", f"cycle stopped: {text}") for why, text in STOPS.items()]
    if run.stopped is not None:
        choices.append(Choice("anew", "restart the stopped cycle from the start"))
    choices.append(
        Choice(
            SERVICE,
            "back in service"
            if run.station in screen.session.batch(batch_id).outages
            else "out of service: broken, or under maintenance",
        )
    )
    if has_cure_by_air(checklist):
        choices.append(Choice(AIR, "room air measured: cold or damp air slows a cure"))
    choices += [Choice(PAPER, FROM_PAPER), Choice(CONDITION, CONDITION_SAYS)]
    text = "Goes on the record. Checks it affects must be repeated."
    screen.floor.push_screen(ChoiceDialog(title, choices, text, acts=True), happened)
