"""Work that differs from the list: a load of chosen pieces, loads split and joined, pieces moved."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress

from floor.batch.command import Refused
from floor.batch.counting.blind_count import find_blind_subjects
from floor.batch.describe import describe
from floor.batch.events import LoadFormed, read_event
from floor.batch.lifecycle.commands import FormLoad, list_free_carriers
from floor.batch.load import Load, PiecePlace
from floor.batch.moving.choose import ALL, choose_pieces, choose_so_far, list_places_typed, list_sources
from floor.batch.moving.commands import MovePieces
from floor.batch.state import Batch
from floor.batch.stations.capacity import list_other_stations
from floor.batch.walk.any_order import is_any_order, list_later_ops
from floor.batch.walk.commands import BeginRun
from floor.batch.walk.words_left import list_words_left
from floor.checklist.equipment import Carrier
from floor.entry import Entry
from floor.screens.batch.load_pieces import say_loaded
from floor.screens.batch.load_rows import NOT_IN_WORK
from floor.screens.batch.lying import lay_out_load, lay_out_seats, list_drawn
from floor.screens.forms.dialogs import Choice, ChoiceDialog, Drawing
from floor.screens.forms.fields import FieldSpec, Values, parse_number
from floor.screens.frame.screen import FloorScreen
from floor.screens.widgets.place_map import Places
from floor.text import capitalize_first, format_numbers, with_article

FIRST_PLACES = "blank: the first that are free"
AHEAD = "What is passed over follows later. It is kept as a waiver."
ELSEWHERE = "Its set-up, tools, zero and checks are asked for there. It is kept as a waiver."
LAPSES = "What was probed of this carrier must be probed again."


def choose_move(screen: FloorScreen, batch_id: str, kind: str, key: int, rework: str) -> None:
    """What is to be done otherwise with the load or the loose pieces under the cursor.

    Args:
        kind: ``load`` or ``pool``.
        key: the number of the load, or the operation that the pieces wait for.
    """
    if kind in NOT_IN_WORK:
        screen.say(NOT_IN_WORK[kind], wrong=True)
        return
    batch = screen.session.batch(batch_id)
    load = batch.loads[key] if kind == "load" else None
    heap = PiecePlace("load", load=key).heap if load is not None else PiecePlace("waiting", op=key, rework=rework).heap
    if heap in find_blind_subjects(batch):
        screen.say("These are still to be counted: take over first (o), then move them", wrong=True)
        return
    acts: dict[str, tuple[Choice, Callable[[], None]]] = {}

    def offer(key: str, text: str, go: Callable[[], None]) -> None:
        acts[key] = Choice(key, text, key), go  # a digit means the same whatever else is offered

    if load is None:
        carrier = batch.checklist.carrier(batch.operation(key).carrier).name
        offer("1", "form a load: choose pieces and carrier", lambda: form_load(screen, batch_id, key, rework))
        onto = f"put pieces onto a {carrier} that is loaded for op {key}"
        offer("2", onto, lambda: join(screen, batch_id, None, key, rework))
        title = f"Move: loose, waiting for op {key}"
    else:
        carrier = batch.find_carrier(key).name
        offer("1", f"split: pieces onto a free {carrier}", lambda: split(screen, batch_id, key))
        offer("2", f"join: pieces onto a {carrier} that is loaded", lambda: join(screen, batch_id, key))
        if batch.find_carrier(key).positions:
            offer("3", f"change places on this {carrier}", lambda: change_places(screen, batch_id, key))
        offer("4", "take pieces off, to wait loose", lambda: take_off(screen, batch_id, key))
        if list_later_ops(batch, load):
            offer("5", "do another operation first", lambda: go_ahead(screen, batch_id, key))
        if load.run is None and load.at is not None and list_other_stations(batch, load.at):
            offer("6", "at another station than the list's (a lead)", lambda: go_elsewhere(screen, batch_id, key))
        title = f"Move: {batch.format_load(key)}"

    def chosen(key: str | None) -> None:
        if key is not None:
            acts[key][1]()

    screen.ask(ChoiceDialog(title, [choice for choice, _ in acts.values()], acts=True), chosen)


def form_load(screen: FloorScreen, batch_id: str, op: int, rework: str) -> None:
    """Form a load: which pieces, on which carrier, each in which place."""
    batch = screen.session.batch(batch_id)
    carrier, waiting = batch.checklist.carrier(batch.operation(op).carrier), batch.waiting(op, rework)
    free = list_free_carriers(batch, carrier.id, screen.session.context(batch_id))
    most = min(len(waiting), carrier.capacity)

    def command(given: Values) -> FormLoad:
        now = screen.session.batch(batch_id)
        return FormLoad(
            op,
            rework,
            parse_number(given["carrier"]) if given["carrier"].strip() else None,  # type: ignore[arg-type]
            parse_number(given["count"]) if given["count"].strip() else None,  # type: ignore[arg-type]
            choose_pieces(now, given["which"], now.waiting(op, rework), "which"),
            list_places_typed(given.get("places", "")),
        )

    fields = [
        FieldSpec("which", "Which pieces", hint="e.g. 12-15 18, A1-A5; blank: waiting longest"),
        FieldSpec("count", "How many", hint=f"1 to {most}; blank: all of these", number=True),
        FieldSpec(
            "carrier", f"Onto {carrier.name} number", str(free[0]) if free else "", hint=_say_free(free), number=True
        ),
    ]
    if carrier.positions:
        fields.append(FieldSpec("places", "To places", hint=FIRST_PLACES))

    def draw(given: Values) -> list[Places]:
        """Where each piece goes, as far as what is typed can be loaded."""
        now = screen.session.batch(batch_id)
        with suppress(Refused):
            (draft,) = command(given).decide(now, screen.session.context(batch_id))
            formed = read_event(draft)
            assert isinstance(formed, LoadFormed)
            return list_drawn(lay_out_seats(carrier, formed.slots, carrier.label(formed.number)))
        return list_drawn(lay_out_seats(carrier, (), carrier.name))

    screen.ask_and_give(
        batch_id,
        f"Load {with_article(carrier.name)} for op {op} {batch.operation(op).title}",
        fields,
        command,
        lambda made: say_loaded(screen, batch_id, made),
        say_sources(batch, waiting),
        "which",
        Drawing(draw) if carrier.positions else None,
    )


def split(screen: FloorScreen, batch_id: str, load: int) -> None:
    """Part of a load, or all of it, goes onto a free carrier of the kind."""
    batch = screen.session.batch(batch_id)
    carrier = batch.find_carrier(load)
    free = list_free_carriers(batch, carrier.id, screen.session.context(batch_id))
    onto = FieldSpec("carrier", f"Onto {carrier.name} number", str(free[0]) if free else "", _say_free(free))
    _ask_move(screen, batch_id, f"Split {batch.format_load(load)}", load, [onto])


def join(screen: FloorScreen, batch_id: str, load: int | None, op: int = 0, rework: str = "") -> None:
    """Pieces of a load, or loose ones, join a load that waits for the same operation."""
    batch = screen.session.batch(batch_id)
    of = batch.loads[load] if load is not None else None
    kind = batch.checklist.carrier(of.carrier if of is not None else batch.operation(op).carrier)
    at = (of.next_op, of.rework) if of is not None else (op, rework)
    others = [
        one
        for one in batch.list_live_loads()
        if one is not of and one.carrier == kind.id and (one.next_op, one.rework) == at and one.run is None
    ]
    if not others:
        screen.say(f"No other {kind.name} waits with a load for op {at[0]}", wrong=True)
        return
    room = [f"{one.carrier_number}: {_count_room(batch, one)} free" for one in others]
    first = str(others[0].carrier_number)
    onto = FieldSpec("carrier", f"Onto {kind.name} number", first if len(others) == 1 else "", ", ".join(room))
    _ask_move(screen, batch_id, f"Join pieces to a load for op {at[0]}", load, [onto], op=op, rework=rework)


def change_places(screen: FloorScreen, batch_id: str, load: int) -> None:
    """Pieces of a load go to other places on its carrier."""
    batch = screen.session.batch(batch_id)
    _ask_move(
        screen, batch_id, f"Change places on {batch.format_load(load)}", load, [], batch.loads[load].carrier_number
    )


def take_off(screen: FloorScreen, batch_id: str, load: int) -> None:
    """Pieces of a load come off its carrier and wait loose."""
    title = f"Take pieces off {screen.session.batch(batch_id).format_load(load)}"
    _ask_move(screen, batch_id, title, load, [], placed=False)


def go_ahead(screen: FloorScreen, batch_id: str, load: int) -> None:
    """Start an operation before its turn; where the list does not allow any order, a lead does, with a reason."""
    batch = screen.session.batch(batch_id)
    of = batch.loads[load]
    read, said = _find_words(screen, batch, of)

    def walk(made: list[Entry]) -> None:
        screen.floor.go_walk(batch_id, int(made[0].body["run"]))

    def chosen(op: str | None) -> None:
        if op is None:
            return
        if is_any_order(batch, of, int(op)):
            screen.give(batch_id, BeginRun(load, anyway=True, ahead=int(op), read=read), walk)
        else:
            screen.run_as_lead("another order than the list's", lambda: ask_why(int(op)))

    def ask_why(op: int) -> None:
        screen.ask_and_give(
            batch_id,
            f"Op {op} before op {of.next_op}",
            [FieldSpec("why", "Reason", needed=True)],
            lambda given: BeginRun(load, anyway=True, ahead=op, ahead_why=given["why"], read=read),
            walk,
            AHEAD,
        )

    ops = [
        Choice(str(op), f"op {op} {batch.operation(op).title}" + ("" if is_any_order(batch, of, op) else " (a lead)"))
        for op in list_later_ops(batch, of)
    ]
    screen.ask(ChoiceDialog(f"Which operation before op {of.next_op}?", ops, said, acts=True), chosen)


def go_elsewhere(screen: FloorScreen, batch_id: str, load: int) -> None:
    """A lead starts a load's next operation at a station that the checklist does not name for it."""
    batch = screen.session.batch(batch_id)
    op = batch.loads[load].at or 0
    read, words = _find_words(screen, batch, batch.loads[load])

    def chosen(station: str | None) -> None:
        if station is not None:
            screen.ask_and_give(
                batch_id,
                f"Op {op} at {batch.checklist.station(station).name}",
                [FieldSpec("why", "Reason", needed=True, picks=("the usual one is down", "the usual one is busy"))],
                lambda given: BeginRun(load, anyway=True, station=station, instead=given["why"], read=read),
                lambda made: screen.floor.go_walk(batch_id, int(made[0].body["run"])),
                ELSEWHERE,
            )

    def ask() -> None:
        names = [Choice(one, batch.checklist.station(one).name) for one in list_other_stations(batch, op)]
        title = f"Op {op} {batch.operation(op).title}: at which station?"
        kind = batch.checklist.station(batch.operation(op).station).kind
        said = f"{words}Stations of the list's kind ({kind}), and shops outside."
        screen.floor.push_screen(ChoiceDialog(title, names, said, acts=True), chosen)

    screen.run_as_lead("another station than the list's", ask)


def _ask_move(
    screen: FloorScreen,
    batch_id: str,
    title: str,
    load: int | None,
    carrier: list[FieldSpec],
    onto: int | None = None,
    op: int = 0,
    rework: str = "",
    placed: bool = True,
) -> None:
    """Ask which pieces go where, and move them.

    Args:
        carrier: the field that asks for the carrier; none if it is known, or there is none.
        onto: the carrier, if it is known.
        placed: whether they go to places.
    """
    batch = screen.session.batch(batch_id)
    there = _list_there(batch, load, op, rework)
    kind = batch.checklist.carrier(batch.loads[load].carrier if load is not None else batch.operation(op).carrier)

    def command(given: Values) -> MovePieces:
        now = screen.session.batch(batch_id)
        typed = parse_number(given["carrier"]) if carrier else onto
        return MovePieces(
            load,
            choose_pieces(now, given["which"], _list_there(now, load, op, rework), "which"),
            typed,  # type: ignore[arg-type]
            list_places_typed(given.get("places", "")),
            op or None,
            rework,
        )

    fields = _list_move_fields(kind, carrier, placed)
    blank_is_all = not fields[0].needed

    def draw(given: Values) -> list[Places]:
        return _lay_out_move(screen.session.batch(batch_id), load or 0, given, blank_is_all=blank_is_all)

    lapses = LAPSES if load is not None else ""
    listed = say_there(batch, load, there)
    drawing = Drawing(draw, listed) if load is not None and kind.positions else None
    screen.ask_and_give(
        batch_id,
        title,
        fields,
        command,
        lambda made: screen.say(capitalize_first(describe(screen.session.batch(batch_id), made[0]))),
        lapses if drawing is not None else f"{listed}\n{lapses}".strip(),
        "which",
        drawing,
    )


def _list_move_fields(kind: Carrier, carrier: list[FieldSpec], placed: bool) -> list[FieldSpec]:
    """Which pieces, onto which carrier, to which places; where the carrier is known or none, blank means nothing."""
    places = bool(kind.positions) and placed
    here = not carrier and places
    off = not carrier and not placed
    fields = [
        FieldSpec("which", "Which pieces", hint=_say_which(kind, ALL if off else "blank: all"), needed=here or off),
        *carrier,
    ]
    if places:
        fields.append(FieldSpec("places", "To places", hint="one each" if here else FIRST_PLACES, needed=here))
    return fields


def _find_words(screen: FloorScreen, batch: Batch, load: Load) -> tuple[tuple[int, ...], str]:
    """What was left with a load: the notes, which are read with the choice, and their text."""
    words, now = list_words_left(batch, load), screen.session.now().at
    return tuple(one.seq for one in words), "".join(f"! {one.describe(now)}\n" for one in words)


def _lay_out_move(batch: Batch, load: int, given: Values, *, blank_is_all: bool) -> list[Places]:
    """The carrier of a load with the pieces that are meant, and the one that they would join."""
    source = batch.loads.get(load)
    if source is None:  # struck out at another terminal
        return []
    among, typed = batch.present(source), given["which"]
    meant = among if blank_is_all and not typed.strip() else choose_so_far(batch, typed, among)
    onto = (source.carrier, given.get("carrier", "").strip())
    others = [
        one for one in batch.list_live_loads() if (one.carrier, str(one.carrier_number)) == onto and one is not source
    ]
    title = batch.format_carrier(source) if others else ""
    here = lay_out_load(batch, source, meant, title=title, marks="chosen")
    return list_drawn(here, *(lay_out_load(batch, one, title=f"onto {batch.format_carrier(one)}") for one in others))


def _list_there(batch: Batch, load: int | None, op: int, rework: str) -> list[int]:
    return list(batch.present(batch.loads[load])) if load is not None else batch.waiting(op, rework)


def _say_which(kind: Carrier, whole: str) -> str:
    return f"e.g. A1-A5 B2, or 12-15; {whole}" if kind.positions else f"e.g. 12-15 18; {whole}"


def say_there(batch: Batch, load: int | None, pieces: list[int]) -> str:
    """What there is to choose from: on a carrier with places each piece by its place."""
    if load is None:
        return say_sources(batch, pieces)
    on = batch.loads[load]
    named = [f"{batch.format_slot(on, piece)} {piece}".strip() for piece in pieces]
    return f"Here: {', '.join(named) if batch.find_carrier(load).positions else format_numbers(pieces)}"


def _count_room(batch: Batch, load: Load) -> int:
    return batch.find_carrier(load.number).capacity - len(batch.present(load)) - len(batch.sitting(load))


def say_sources(batch: Batch, pieces: list[int]) -> str:
    """The pieces by their numbers, those from one load on one line."""
    lines = []
    for load, there in list_sources(batch, pieces).items():
        of = f"from {batch.format_load(load)}" if load else "new"
        lines.append(f"{of}: {format_numbers(there)}")
    return "\n".join(lines)


def _say_free(free: list[int]) -> str:
    return f"free: {format_numbers(free)}" if free else "none is free"
