"""The forms of a trial: planning it, its pieces, its results, the choice."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import NamedTuple

from floor.batch.command import Refused
from floor.batch.counting.blind_count import find_blind_subjects
from floor.batch.events import SetAside
from floor.batch.load import PiecePlace
from floor.batch.state import Batch
from floor.batch.trial import Response, Trial
from floor.batch.trials.commands import (
    MOST_VALUES,
    BringTrialPiecesBack,
    ChooseSetting,
    EnterTrialResult,
    PlanTrial,
    TakeTrialPieces,
)
from floor.batch.trials.pieces import find_op_to_take_from, list_pieces_in_trial
from floor.batch.trials.typed_numbers import read_numbers, split_unit
from floor.entry import Entry
from floor.papers.trials import describe_source
from floor.screens.forms.dialogs import Choice, ChoiceDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values, parse_number
from floor.screens.frame.file_reading import read_file
from floor.screens.frame.screen import FloorScreen
from floor.shop.logger_readings import names_file
from floor.shop.trial_files import (
    TableReading,
    TrialTable,
    list_left_out,
    prepare_trial_file,
    propose_columns,
    reduce_file,
)
from floor.text import capitalize_first, format_count

MOST_NAMED = 12
"""Columns of a file that its form lists."""
LONGEST_VALUES = 6000
"""Characters of pasted values."""
RESPONSES: dict[Response, str] = {
    "number": "a number: a size, a time, a vibration",
    "good or bad": "good or bad, piece by piece",
    "words": "words: how it looks",
}


def plan_trial(screen: FloorScreen, batch_id: str, planned: Callable[[], None]) -> None:
    """Ask what a piece of the trial gives, then all else."""

    def chosen(key: str | None) -> None:
        response = next((one for one in RESPONSES if one == key), None)
        if response is not None:
            _plan(screen, batch_id, response, planned)

    choices = [Choice(key, words) for key, words in RESPONSES.items()]
    screen.ask(ChoiceDialog("Plan a trial", choices, "What does a piece of it give?"), chosen)


def _plan(screen: FloorScreen, batch_id: str, response: Response, planned: Callable[[], None]) -> None:
    measured = response == "number"
    fields = [
        FieldSpec("question", "Question", needed=True),
        FieldSpec("settings", "Factor", hint="such as coolant: 5 %; 8 %; 10 %", needed=True),
        FieldSpec(
            "characteristic",
            "Measured" if measured else "Looked at",
            hint="roughness in um" if measured else "burr",
            needed=True,
        ),
        FieldSpec("each", "Pieces for each", "3", hint="0: uses none", number=True, needed=True),
    ]
    if response != "words":
        fields.append(
            FieldSpec("worth", "Difference that matters", hint="0.1, optional" if measured else "20 %, optional")
        )
    fields += [
        FieldSpec("op", "Operation", hint="optional: 20", number=True),
        FieldSpec("settings2", "Second factor", hint="optional, such as oven: 60 C; 80 C"),
    ]

    def command(values: Values) -> PlanTrial:
        factors = [_split(values[name], name) for name in ("settings", "settings2") if values[name].strip()]
        what, unit = split_unit(values["characteristic"]) if measured else (values["characteristic"], "")
        op = parse_number(values["op"]) if values["op"].strip() else 0
        if isinstance(op, str):
            raise Refused("unknown", f"there is no op {op}", "choose one of the route, or none", field="op")
        return PlanTrial(
            question=values["question"],
            factors=tuple(factors),
            response=response,
            characteristic=what,
            each=parse_number(values["each"]),  # type: ignore[arg-type]
            unit=unit,
            op=op,
            worth=_read_worth(values.get("worth", "")),
        )

    def done(_: object) -> None:
        planned()
        screen.say("Planned. Enter uses pieces, then takes the results")

    screen.ask_and_give(batch_id, "Plan a trial", fields, command, done, blamed="settings")


def _split(text: str, field: str) -> tuple[str, tuple[str, ...]]:
    """What is varied, and its settings: with semicolons between, or commas where there is none."""
    name, colon, settings = text.partition(":")
    if not colon:
        raise Refused(
            "input", "what is varied, or its settings are missing", "like: coolant: 5 %; 8 %; 10 %", field=field
        )
    return name, tuple(one.strip() for one in settings.split(";" if ";" in settings else ",") if one.strip())


def _read_worth(text: str) -> float | None:
    """A number, or a share with a percent sign; None for nothing."""
    if not text.strip():
        return None
    if text.strip().endswith("%"):
        return read_numbers(text.strip().removesuffix("%"), "", 1, "worth")[0] / 100
    return read_numbers(text.replace(",", "."), "", 1, "worth")[0]


def ask_act(screen: FloorScreen, batch_id: str, number: int) -> None:
    """What can be done with a trial."""
    batch = screen.session.batch(batch_id)
    trial = batch.trials[number]
    out = len(list_pieces_in_trial(batch, trial))

    def for_setting(ask: Callable[[FloorScreen, str, Trial, int], None]) -> Callable[[], None]:
        return lambda: _ask_setting(screen, trial, lambda setting: ask(screen, batch_id, trial, setting))

    def back() -> None:
        screen.run_as_lead("taking pieces of a trial back", lambda: ask_back(screen, batch_id, trial, out))

    acts: dict[str, tuple[str, Callable[[], None]]] = {
        "result": ("enter a result", for_setting(ask_result)),
        "use": ("use pieces for a setting", for_setting(ask_pieces)),
    }
    if trial.readings:
        acts["choose"] = "choose a setting", lambda: ask_choice(screen, batch_id, trial)
    if out:
        acts["back"] = f"take back some of {format_count(out, 'piece')} (a lead)", back

    def chosen(key: str | None) -> None:
        if key is not None:
            acts[key][1]()

    choices = [Choice(key, words) for key, (words, _) in acts.items()]
    screen.ask(ChoiceDialog(f"Trial {number}", choices, trial.question), chosen)


def _ask_setting(screen: FloorScreen, trial: Trial, then: Callable[[int], None], more: Sequence[Choice] = ()) -> None:
    names = [Choice(str(n), name) for n, name in enumerate(trial.settings, 1)]

    def chosen(key: str | None) -> None:
        if key is not None:
            then(int(key))

    factors = " and ".join(name for name, _ in trial.factors)
    screen.ask(ChoiceDialog(f"Trial {trial.number}: for which setting ({factors})?", [*names, *more]), chosen)


class Source(NamedTuple):
    """Where pieces may be taken from."""

    words: str
    heap: str
    """As it is counted at a handover."""
    pieces: int
    load: int | None = None
    op: int | None = None
    rework: str = ""


def ask_pieces(screen: FloorScreen, batch_id: str, trial: Trial, setting: int) -> None:
    """From where, then how many."""
    batch = screen.session.batch(batch_id)
    sources = _list_sources(batch, trial)
    hidden = find_blind_subjects(batch)

    def chosen(key: str | None) -> None:
        if key is not None:
            _ask_count(screen, batch_id, trial, setting, sources[int(key)])

    if not sources:
        screen.say("No piece is in process: start more first (a on the batch)", wrong=True)
    else:
        choices = [
            Choice(str(n), one.words if one.heap in hidden else f"{one.words}: {format_count(one.pieces, 'piece')}")
            for n, one in enumerate(sources)
        ]
        screen.ask(ChoiceDialog(f"Pieces for {trial.name_setting(setting)}: from where?", choices), chosen)


def _list_sources(batch: Batch, trial: Trial) -> list[Source]:
    """Loose pieces first, and of those the ones that come to the operation of the trial next."""
    first = find_op_to_take_from(batch, trial)
    pools = sorted(batch.list_waiting_pools(), key=lambda pool: (pool[0] != first, pool))
    found = [
        Source(
            f"loose, waiting for op {op}" + (" (rework)" if rework else ""),
            PiecePlace("waiting", op=op, rework=rework).heap,
            count,
            op=op,
            rework=rework,
        )
        for op, rework, count in pools
    ]
    loads = [(load, len(batch.present(load))) for load in batch.list_live_loads()]
    return found + [
        Source(batch.format_load(load.number), f"load {load.number}", count, load=load.number)
        for load, count in loads
        if count
    ]


def _ask_count(screen: FloorScreen, batch_id: str, trial: Trial, setting: int, source: Source) -> None:
    used = sum(1 for at, _ in trial.used.values() if at == setting)
    fields = [FieldSpec("count", "How many", str(max(trial.each - used, 1)), number=True, needed=True)]

    def command(values: Values) -> TakeTrialPieces:
        count = parse_number(values["count"])
        return TakeTrialPieces(trial.number, setting, count, source.load, source.op, source.rework)  # type: ignore[arg-type]

    name = trial.name_setting(setting)
    text = f"From: {source.words}. They leave the batch's work, and count neither as good nor as scrap."
    screen.ask_and_give(batch_id, f"Pieces for {name}", fields, command, lambda _: screen.say(f"Used for {name}"), text)


def ask_back(screen: FloorScreen, batch_id: str, trial: Trial, out: int) -> None:
    fields = [
        FieldSpec("count", "How many", str(out), number=True, needed=True),
        FieldSpec("why", "Reason", picks=("still good, nothing was done to them",), needed=True),
    ]
    text = "They go on where they left, and pass every operation that is still to come."

    def command(values: Values) -> BringTrialPiecesBack:
        return BringTrialPiecesBack(trial.number, parse_number(values["count"]), values["why"])  # type: ignore[arg-type]

    screen.ask_and_give(
        batch_id,
        "Take pieces back",
        fields,
        command,
        lambda made: screen.say(say_back(made)),
        text,
        blamed="why",
    )


def say_back(made: Sequence[Entry]) -> str:
    """Where the pieces are now: one decided on before the trial is no sound one."""
    held = sum(entry.kind == SetAside.KIND for entry in made)
    if not held:
        return "Back in process"
    rest = ", the others back in process" if held < len(made) else ""
    return f"{format_count(held, 'piece')} on hold, decided on before the trial{rest}"


def ask_choice(screen: FloorScreen, batch_id: str, trial: Trial) -> None:
    """Which setting, why, and what of it is offered to the checklist."""
    none = Choice("0", "none of them: leave it as it is")

    def chosen(setting: int) -> None:
        factors = ", ".join(name for name, _ in trial.factors)
        offer = f"{capitalize_first(factors)}: {trial.name_setting(setting)}" if setting else ""
        fields = [
            FieldSpec("why", "Reason", needed=True),
            FieldSpec("offer", "Step for checklist", offer, hint="blank: nothing"),
        ]
        how = "a lead takes the step under lessons (v, 4)" if trial.op else "of no operation: only the papers show it"
        text = f"This batch goes on by its own checklist; {how}."

        def command(values: Values) -> ChooseSetting:
            return ChooseSetting(trial.number, setting, values["why"], values["offer"])

        title = f"Choose {trial.name_setting(setting)}"
        screen.ask_and_give(batch_id, title, fields, command, lambda _: screen.say("Chosen"), text, blamed="why")

    _ask_setting(screen, trial, chosen, [none])


def ask_result(screen: FloorScreen, batch_id: str, trial: Trial, setting: int) -> None:
    """What a setting gave; a file that is named is read, and asked about."""
    if trial.response == "number":
        _ask_values(screen, batch_id, trial, setting)
        return
    if trial.response == "good or bad":
        fields = [
            FieldSpec("good", "Good", number=True, needed=True),
            FieldSpec("bad", "Bad", number=True, needed=True),
            FieldSpec("seen", "Remark", hint="optional"),
        ]
    else:
        fields = [FieldSpec("seen", trial.characteristic, needed=True)]

    def command(values: Values) -> EnterTrialResult:
        good, bad = (parse_number(values.get(name, "0")) for name in ("good", "bad"))
        return EnterTrialResult(trial.number, setting, good=good, bad=bad, seen=values["seen"])  # type: ignore[arg-type]

    title = f"Result of {trial.name_setting(setting)}"
    screen.ask_and_give(batch_id, title, fields, command, lambda _: screen.say("Entered"), blamed="seen")


def _ask_values(screen: FloorScreen, batch_id: str, trial: Trial, setting: int) -> None:
    fields = [
        FieldSpec(
            "values",
            f"{trial.characteristic} in {trial.unit}",
            hint="1.2 1.3 1.1, or run1.csv",
            needed=True,
            longest=LONGEST_VALUES,
        ),
        FieldSpec("seen", "Remark", hint="optional"),
    ]
    named: list[TableReading] = []

    def attempt(values: Values) -> Errors:
        named.clear()
        if names_file(values["values"]):
            named.append(prepare_trial_file(screen.session.shop.folder, values["values"]))
            return {}
        numbers = read_numbers(values["values"], trial.unit, MOST_VALUES, "values")
        screen.session.do(batch_id, EnterTrialResult(trial.number, setting, numbers, seen=values["seen"]))
        return {}

    def then() -> None:
        if named:
            reading = named[0]
            read_file(screen, reading.path.name, reading.size, reading.read, read)
        else:
            screen.say("Entered")

    def read(found: TrialTable) -> None:
        _ask_reduction(screen, batch_id, trial, setting, found)

    title = f"Result of {trial.name_setting(setting)}"
    text = "Type or paste one value for each piece. A file of a phone or logger lies in the shop's folder trials."
    screen.ask_form(title, fields, attempt, then, text, "values")


WAYS = {
    "mean": "the mean",
    "RMS": "RMS: the root of the mean square",
    "vibration": "vibration: RMS about the mean, without gravity",
    "largest": "the largest",
    "each row": "each row a value of its own, one for each piece",
}
"""How the rows of a file become a result."""


def _ask_reduction(screen: FloorScreen, batch_id: str, trial: Trial, setting: int, found: TrialTable) -> None:
    """How the rows of the file become a number, then which columns."""

    def chosen(how: str | None) -> None:
        if how is not None:
            _ask_columns(screen, batch_id, EnterTrialResult(trial.number, setting), found, how)

    passed = f", {found.table.passed_over} lines passed over" if found.table.passed_over else ""
    text = f"{found.table.rows:,} rows{passed}. What of them is the result in {trial.unit}?"
    screen.ask(ChoiceDialog(found.name, [Choice(way, words) for way, words in WAYS.items()], text), chosen)


def _ask_columns(screen: FloorScreen, batch_id: str, result: EnterTrialResult, found: TrialTable, how: str) -> None:
    names = [f"{n}  {name}" for n, name in enumerate(found.table.columns, 1)]
    fields = [FieldSpec("columns", "Columns", propose_columns(found.table), hint="numbers: 2 3 4", needed=True)]
    notes = ["", "Several columns count as one, like the axes of a vector."]
    text = "\n".join([*names[:MOST_NAMED], *notes, *list_left_out(found.table)[:MOST_NAMED]])

    def command(values: Values) -> EnterTrialResult:
        numbers, source = reduce_file(found, values["columns"], how)
        return replace(result, values=numbers, source=source)

    def done(_: object) -> None:
        trial = screen.session.batch(batch_id).trials[result.trial]
        last = trial.readings[-1]
        values = last.values
        said = f"{values[0]:.4g} {trial.unit}" if len(values) == 1 else format_count(len(values), "value")
        screen.say(f"Entered: {said} from {describe_source(last)}")

    screen.ask_and_give(batch_id, f"{found.name}: {WAYS[how]}", fields, command, done, text, blamed="columns")
