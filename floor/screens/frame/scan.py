"""A scanned tag: the screen of what it is on, or what is wrong with it. Scanning records nothing; it may sign in."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeGuard

from textual.screen import ModalScreen, Screen

from floor.batch.gates.tool_life import format_life_left
from floor.batch.search.history_filter import Filter
from floor.batch.state import Batch
from floor.batch.tag import TagKind
from floor.batch.worklist.due_task import DueTask, say_when
from floor.screens.forms.dialogs import Choice, ChoiceDialog, ConfirmDialog, is_anything_typed
from floor.screens.frame.screen import FloorScreen
from floor.shop.find_tagged import (
    BatchPlace,
    GaugePlace,
    LotPlace,
    NoPlace,
    PersonPlace,
    Place,
    RunPlace,
    StationPlace,
    ToolPlace,
    WaitingPlace,
    find_tagged,
)
from floor.text import cut, format_clock

ROOM = 40
"""Columns for what a tag is on, in a sentence about it."""

LEAVE_TYPED = "A tag was scanned. Open what it is on? What you typed stays here, not yet recorded."


def open_tagged(screen: FloorScreen, text: str) -> None:
    """Go from a screen to what a scanned tag is on, or say there what is wrong; where something is typed, ask first.

    Args:
        text: as the scanner typed it (`floor.batch.tag`).
    """
    place = find_tagged(screen.session.shop, text)
    if isinstance(place, NoPlace) or not is_anything_typed(screen):
        open_place(screen, place)
    else:
        screen.floor.push_screen(ConfirmDialog(LEAVE_TYPED), lambda yes: open_place(screen, place) if yes else None)


def is_replaced_by_scan(screen: Screen[Any]) -> TypeGuard[ModalScreen[Any]]:
    """Whether a dialog only shows or looks for something, so that the next scan takes its place."""
    from floor.screens.frame.find import FindDialog

    return isinstance(screen, FindDialog | ScannedDialog)


class ScannedDialog(ChoiceDialog):
    """What a scanned tag leads to, where there are several."""


def open_place(screen: FloorScreen, place: Place | NoPlace) -> None:
    """Go from a screen to a place, or say there why it leads nowhere."""
    match place:
        case RunPlace():
            _open_run(screen, place.batch, place.run)
        case WaitingPlace():
            _open_waiting(screen, place)
        case BatchPlace():
            _open_batch(screen, place)
        case ToolPlace():
            _ask_about_tool(screen, place)
        case StationPlace():
            _open_station(screen, place)
        case PersonPlace():
            _sign_in(screen, place.initials)
        case LotPlace():
            _open_lot(screen, place)
        case GaugePlace():
            from floor.screens.shop.gauges import GaugesScreen

            _show(screen, GaugesScreen(screen.session, place.serial))
        case NoPlace():
            screen.say(describe_no_place(place), wrong=True)
            screen.floor.bell()


def describe_no_place(found: NoPlace) -> str:
    """What is wrong with a tag, and what to do."""
    what = cut(_name(found.kind, found.names), ROOM)
    match found.why:
        case "no tag":
            return "Not a Floor tag. To type it somewhere, open a field first"
        case "misread":
            return "Tag misread. Scan again, or set the scanner to this keyboard's layout"
        case "not ours":
            of = "batch of the same name" if found.kind in ("load", "box") else "shop"
            return f"{what}: a tag of another {of}. Take it off, and print one here"
        case "several":
            return f"{what}: several here read alike. Open it with the keys"
        case "empty":
            return f"{what} is empty. What next lists what can be loaded"
        case "emptied":
            return f"{what}: pieces gone on. Take the tag off; t on the batch traces them"
        case "closed":
            return f"{what}: batch closed. Take the tag off; c on What next reads it"
        case "transferred":
            return f"{what}: batch transferred. Scan it at the machine that has it"
        case "unread":
            return f"{what}: record unreadable. What next names the reason"
        case "left":
            return f"{what} no longer works here. A lead can reactivate them (People)"
        case "unknown":
            return f"{what}: {_UNKNOWN[found.kind or 'load']}"


_UNKNOWN: dict[TagKind, str] = {
    "carrier": "on no open batch. Check the tag, or print a new one",
    "load": "not on record, maybe struck out. History shows it",
    "box": "no such batch here. Check the tag",
    "tool": "no open batch uses it. Check the tag, or print a new one",
    "person": "unknown here. A lead adds new people (People)",
    "lot": "in no open batch. Closed: floor find BATCH --text LOT",
    "gauge": "not in the register. A lead adds it (Gauges)",
    "station": "no open batch uses it. Check the tag, or print a new one",
}


def _name(kind: TagKind | None, names: Sequence[str]) -> str:
    """What a tag is on, in words."""
    match kind:
        case "load":
            return f"Load {names[1]} of {names[0]}"
        case "box":
            return f"Box of {names[0]}"
        case "tool":
            return f"T{names[1]} at {names[0]}"
        case "lot":
            return f"{names[0]}, lot {names[1]}"
        case _:
            return " ".join(names)


def _show(screen: FloorScreen, new: FloorScreen) -> None:
    """Show what was scanned; what an earlier scan brought up makes room, so that back leads out at once."""
    new.scanned = True
    if screen.scanned and not screen.is_unrecorded and not is_anything_typed(screen):
        screen.floor.leave(screen)
    screen.floor.go(new)


def _open_run(screen: FloorScreen, batch: str, run: int) -> None:
    from floor.screens.walk.screen import WalkScreen

    if isinstance(screen, WalkScreen) and (screen.batch_id, screen.run_) == (batch, run):
        screen.say(f"{screen.current_batch.format_load(screen.current_run.load)} is on screen")
    else:
        _show(screen, WalkScreen(screen.session, batch, run))


def _open_waiting(screen: FloorScreen, place: WaitingPlace) -> None:
    """What the load waits for; the batch, where its next run is not what it waits for."""
    from floor.screens.batch.screen import BatchScreen
    from floor.screens.walk.begin_run import BeginScreen

    batch = screen.session.batch(place.batch)
    load = batch.loads[place.load]
    if load.at is None or batch.handover is not None or not batch.find_next_pieces(load):
        _show(screen, BatchScreen(screen.session, place.batch))
    else:
        _show(screen, BeginScreen(screen.session, place.batch, place.load))


def _open_batch(screen: FloorScreen, place: BatchPlace) -> None:
    from floor.screens.batch.history import HistoryScreen
    from floor.screens.batch.screen import BatchScreen

    kind = HistoryScreen if place.closed else BatchScreen
    _show(screen, kind(screen.session, place.batch))


def _ask_about_tool(screen: FloorScreen, place: ToolPlace) -> None:
    """What the record has of a tool, and the runs and batches to go on with."""
    from floor.screens.batch.screen import BatchScreen

    if _is_elsewhere(screen, place.station, f"T{place.tool} of the "):
        return
    batches = [screen.session.batch(id) for id in place.batches]
    choices: list[Choice] = []
    opens: list[Callable[[], None]] = []
    for batch in batches:
        for run in batch.list_open_runs():
            if run.station == place.station:
                choices.append(Choice(str(len(opens)), f"{batch.format_load(run.load)}, op {run.op}, {batch.id}"))
                opens.append(lambda id=batch.id, run=run.number: _open_run(screen, id, run))  # type: ignore[misc]
    for batch in batches:
        ops = [str(one.op) for one in batch.checklist.operations if place.tool in one.tool_numbers]
        choices.append(Choice(str(len(opens)), f"Batch {batch.id}: op {', '.join(ops)}"))
        opens.append(lambda id=batch.id: _show(screen, BatchScreen(screen.session, id)))  # type: ignore[misc]

    def chosen(key: str | None) -> None:
        if key is not None:
            opens[int(key)]()

    card = batches[0].checklist.tool(place.tool)
    station = batches[0].checklist.station(place.station).name
    title = f"T{place.tool} {card.name if card else ''}, {station}"
    screen.floor.push_screen(ScannedDialog(title, choices, _describe_tool(screen, place, batches)), chosen)


def _is_elsewhere(screen: FloorScreen, station: str, what: str = "") -> bool:
    """Whether a walk is on screen and what was scanned is at another station: that is said, and nothing opens."""
    from floor.screens.walk.screen import WalkScreen

    if not isinstance(screen, WalkScreen) or screen.current_run.station == station:
        return False
    batch, run = screen.current_batch, screen.current_run
    names = {one.id: one.name for each in screen.session.shop.batches for one in each.checklist.stations}
    load, here = batch.format_carrier(batch.loads[run.load]), batch.checklist.station(run.station).name
    screen.say(f"This is {what}{names[station]}; {load} is at {here}. Go there, or Esc and scan again", wrong=True)
    screen.floor.bell()
    return True


def _open_station(screen: FloorScreen, place: StationPlace) -> None:
    """What is next at a station: the one thing, or which of several, the most pressing first. On a walk, whether it is
    the station of its load."""
    from floor.screens.walk.screen import WalkScreen

    if _is_elsewhere(screen, place.station):
        return
    if isinstance(screen, WalkScreen):
        batch, run = screen.current_batch, screen.current_run
        load = batch.format_carrier(batch.loads[run.load])
        screen.say(f"{batch.checklist.station(run.station).name}: right for op {run.op} of {load}")
        return
    due = [one for one in screen.session.due() if place.station in _list_stations(screen, one)]
    name = screen.session.batch(place.batches[0]).checklist.station(place.station).name
    if not due:
        screen.say(f"{name}: nothing is due there")
        return
    now = screen.session.now().at
    choices = [Choice(str(n), f"{say_when(one, now, long=False)}  {one.sentence}") for n, one in enumerate(due)]

    def chosen(key: str | None) -> None:
        if key is not None:
            _open_task(screen, due[int(key)])

    if len(due) == 1:
        chosen("0")
    else:
        screen.floor.push_screen(ScannedDialog(f"{name}: what is next", choices), chosen)


def _list_stations(screen: FloorScreen, due: DueTask) -> Sequence[str]:
    """Where a task is done, or may be done; none for what is decided anywhere."""
    batch = screen.session.batch(due.batch)
    if due.run is not None:
        return (batch.runs[due.run].station,)
    return batch.list_stations_for(due.op) if due.op is not None and due.go in ("begin", "form") else ()


def _open_task(screen: FloorScreen, due: DueTask) -> None:
    """A task of What next, as the next scan finds it: a walk or a run to begin makes room for it."""
    from floor.screens.batch.load_pieces import say_loaded
    from floor.screens.shop.open_task import open_task

    if due.entry is None and due.go == "run" and due.run is not None:
        _open_run(screen, due.batch, due.run)
    elif due.entry is None and due.go == "begin" and due.load is not None:
        _open_waiting(screen, WaitingPlace(due.batch, due.load))
    else:
        open_task(screen, due, lambda batch, entries: say_loaded(screen, batch, entries))


def _describe_tool(screen: FloorScreen, place: ToolPlace, batches: Sequence[Batch]) -> str:
    """Since when it is loaded, and what is left of it by the batch that knows most."""
    loaded = [one for batch in batches if (one := batch.tools.get((place.station, place.tool))) is not None]
    if not loaded:
        return "Not on record as loaded."
    said = f"Loaded {format_clock(max(one.since for one in loaded), screen.session.now().at)}"
    card = batches[0].checklist.tool(place.tool)
    if card is None or card.life is None:
        return f"{said}."
    used = screen.session.shop.elsewhere("").worn.get((place.station, place.tool), 0.0)
    return f"{said}, {format_life_left(card, max(card.life.base - used, 0.0))}."


def _sign_in(screen: FloorScreen, initials: str) -> None:
    if screen.session.who == initials:
        screen.say(f"{initials} is signed in")
    else:
        screen.floor.ask_who(lambda: screen.say(f"{initials} signed in"), initials)


def _open_lot(screen: FloorScreen, place: LotPlace) -> None:
    """The entries that name the lot, in the batch that recorded it or in one of several."""

    def show(batch: str) -> None:
        from floor.screens.batch.history import HistoryScreen

        history = HistoryScreen(screen.session, batch)
        history.wanted = Filter(says=place.lot)
        _show(screen, history)

    if len(place.batches) == 1:
        show(place.batches[0])
    else:
        choices = [Choice(id, f"Batch {id}") for id in place.batches]
        title = f"{place.what}, lot {place.lot}"
        screen.floor.push_screen(ScannedDialog(title, choices), lambda id: show(id) if id is not None else None)
