"""What the key for a line gives: its command, asked about where it comes long before its time; its proof."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from floor.batch.command import Command, Refused
from floor.batch.gates.commands import Prove
from floor.batch.gates.soak_readings import LoggerReadings, find_work_span
from floor.batch.gates.value_slips import describe_lot_slip, describe_slip, find_lot_slip, find_value_slip
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.clocks import compute_planned_end, compute_turn_due, convert_to_present_clock
from floor.batch.walk.commands import EndCycle, StartCycle, confirm_line
from floor.batch.walk.lines import Line
from floor.batch.walk.station_walk import list_unread_cautions
from floor.checklist.gates import ProgramLoaded, Soaked
from floor.checklist.model import Caution
from floor.checklist.operation import Do
from floor.screens.forms.dialogs import ConfirmDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values
from floor.screens.forms.form import Form
from floor.screens.frame.file_reading import read_file
from floor.screens.frame.screen import RunFrame
from floor.screens.walk.start_cycle import start_cycle
from floor.shop.logger_readings import find_named_file
from floor.shop.second_signature import PinToken
from floor.text import format_clock, format_span, join_sentences

EARLY = 0.1
"""The part of a cycle's planned length before its end at which ending it is asked about first (shop decision)."""


def confirm(screen: RunFrame, line: Line) -> bool:
    """Do what the current line asks for; False where its form does."""
    verdict, batch, run = line.verdict, screen.batch_id, screen.current_run
    command = confirm_line(run, line)
    if line.kind == "count":
        from floor.screens.walk.count_form import CountScreen

        screen.run_signed_in(lambda: screen.floor.go(CountScreen(screen.session, batch, run.number)))
    elif not screen.session.who:
        screen.run_signed_in(screen.update_all)
    elif verdict is not None and verdict.decide:
        from floor.screens.walk.out_of_limits import decide_out_of_limits

        decide_out_of_limits(screen, batch, verdict.decide)
    elif verdict is not None and verdict.reads:
        from floor.screens.walk.read_program import read_program

        read_program(screen, line.key)
    elif command is not None:
        _give_once_sure(screen, line, command)
    elif verdict is not None and verdict.change:
        from floor.screens.walk.disturbances import ask_worn_tool_changed

        ask_worn_tool_changed(screen, batch, run, verdict.change)
    elif verdict is not None and line.state in ("waits", "blocked"):
        screen.say(join_sentences(f"{line.title}: {verdict.why}", verdict.clear), wrong=True)
        screen.floor.bell()
    else:
        return False
    return True


def _give_once_sure(screen: RunFrame, line: Line, command: Command) -> None:
    """What ends or stops a cycle long before its time is asked about: one key must not open a hot oven."""
    if isinstance(command, StartCycle):
        start_cycle(screen, command)
        return
    question = _ask_whether_early(screen, line)
    unread: tuple[Caution, ...] = ()
    if isinstance(command, EndCycle):
        unread = _list_unread(screen, line)
        command = replace(command, cautions_read=bool(unread))

    def give() -> None:
        screen.give(screen.batch_id, command)

    if question or unread:
        question = question or "Have you read the cautions, and is the cycle complete?"
        screen.floor.push_screen(ConfirmDialog(question, unread), lambda yes: give() if yes else None)
    else:
        give()


def _list_unread(screen: RunFrame, line: Line) -> tuple[Caution, ...]:
    """The cautions of the cycle's end that nobody was asked to read yet, as it is ended before its time."""
    batch = screen.current_batch
    names = list_unread_cautions(batch, screen.current_run, line, screen.session.who, screen.session.now())
    return tuple(batch.checklist.cautions[name] for name in names)


def _ask_whether_early(screen: RunFrame, line: Line) -> str:
    """The question about an end or a stop that comes long before its time; empty where it does not."""
    batch, run, now = screen.current_batch, screen.current_run, screen.session.now()
    if line.kind == "end" and _is_soak_proved(batch, run):
        return ""
    turn = compute_turn_due(batch, run, line.key, now)
    ends = turn or compute_planned_end(batch, run, now)
    if (line.kind != "end" and turn is None) or ends is None or run.started is None:
        return ""
    started = convert_to_present_clock(batch, run.started, run.started_seq, now)
    if started is None or ends - now.at <= EARLY * (ends - started):
        return ""
    left = format_span((ends - now.at).total_seconds())
    really = "Is it really complete?" if turn is None else "Has the program stopped for it?"
    return f"{line.title}: planned for {format_clock(ends, now.at)}, {left} from now. {really}"


def _is_soak_proved(batch: Batch, run: Run) -> bool:
    """Whether readings show that the pieces were at temperature long enough: the planned end is only a guess."""
    soaks = [key for key, step in batch.find_operation(run).numbered_steps if isinstance(step, Soaked)]
    waived = {waiver.line for waiver in batch.waivers.values() if waiver.run == run.number}
    return bool(soaks) and waived.isdisjoint(soaks)


def record_proof(screen: RunFrame, proof: Prove, recorded: Callable[[], None]) -> None:
    """Give a proof; a logger's file named in it is read first, and whoever else signs it does so with their own pin."""
    batch, run = screen.current_batch, screen.current_batch.runs[proof.run]
    step, station = batch.find_operation(run).step(proof.line), batch.checklist.station(run.station)
    gate = None if isinstance(step, Do) else step
    if isinstance(gate, ProgramLoaded) and screen.session.paper is None:
        from floor.screens.walk.read_program import do_unless_changed

        # what the control shows proves nothing about a file that nobody has read
        do_unless_changed(screen, lambda: _record_read(screen, proof, recorded))
        return
    span = find_work_span(run, screen.session.now())
    try:
        named = None if gate is None else find_named_file(screen.session.shop, station, gate, proof.values, span)
    except Refused as refused:
        screen.say_refused(refused)
        return
    if named is None:
        slip = find_value_slip(gate.asks(), proof.values) if gate is not None else None
        near = find_lot_slip(batch, run, proof.line, gate, proof.values) if gate is not None else ""
        question = describe_slip(slip) if slip is not None else ""
        question = describe_lot_slip(str(proof.values["lot"]), near) if near else question
        name, place = (slip.ask.name, slip.place) if slip is not None else ("lot", 0)
        if question:
            _ask_whether_read(screen, question, name, place, lambda: _record_read(screen, proof, recorded))
        else:
            _record_read(screen, proof, recorded)
        return

    def read(file: LoggerReadings) -> None:
        _record_read(screen, replace(proof, values=proof.values | {named.field: file}), recorded)

    read_file(screen, named.reading.path.name, named.reading.size, named.reading.read, read)


def _ask_whether_read(screen: RunFrame, question: str, name: str, place: int, record: Callable[[], None]) -> None:
    """Whether a value that looks like a slip was read so; if not, the cursor goes to it, to type it again."""

    def answered(yes: bool | None) -> None:
        if yes:
            record()
        else:
            screen.query_one("#asks", Form).type_again(name, place)

    screen.ask(ConfirmDialog(question, does="record it"), answered)


def _record_read(screen: RunFrame, proof: Prove, recorded: Callable[[], None]) -> None:
    def record(*seconds: PinToken) -> None:
        screen.give(screen.batch_id, proof, lambda entries: recorded(), *seconds)

    person = proof.values.get("person")
    known = screen.session.shop.people.known.get(str(person).strip().upper()) if person else None
    if known is not None and known.has_pin and not known.left and known.initials != screen.session.who:
        _ask_pin(screen, known.initials, record)
    else:
        record()


def _ask_pin(screen: RunFrame, initials: str, go: Callable[[PinToken], None]) -> None:
    """A second person signs with their own pin."""
    tokens: list[PinToken] = []

    def attempt(given: Values) -> Errors:
        tokens.append(screen.session.shop.check_second(initials, given["pin"]))
        return {}

    fields = [FieldSpec("pin", "PIN", secret=True)]
    screen.ask_form(f"{initials} signs", fields, attempt, lambda: go(tokens[0]))


def tell_outcome(screen: RunFrame, line: Line | None) -> None:
    """Say what a proof just recorded comes to; a piece out of limits is in hand now, so what becomes of it is asked."""
    verdict = line.verdict if line is not None else None
    if line is None or verdict is None:
        return
    if line.is_satisfied:
        if verdict.notes:
            RunFrame.say(screen, f"Recorded: {verdict.notes}")
        return
    RunFrame.say(screen, f"Recorded; not passed: {verdict.why}", wrong=True)  # not at the form, which asks anew
    if verdict.decide:
        from floor.screens.walk.out_of_limits import decide_out_of_limits

        decide_out_of_limits(screen, screen.batch_id, verdict.decide)
