"""Trials as lines for screen and paper: the plan, settings side by side, what can be told, pieces, the choice."""

from __future__ import annotations

from datetime import datetime

from floor.batch.state import Batch
from floor.batch.trial import Trial, TrialReading
from floor.batch.trials.compare import study_trial
from floor.batch.trials.pieces import list_pieces_in_trial
from floor.papers.trial_table import list_table
from floor.papers.trial_verdicts import OPEN, list_verdicts
from floor.text import format_clock, format_count, wrap_text

NO_TRIAL = "No trial yet: a plans one"


def list_trial_lines(batch: Batch, trial: Trial, now: datetime, width: int) -> list[str]:
    """The question, a table with intervals, what the results tell and what not, pieces, the choice."""
    study = study_trial(trial)
    lines = wrap_text(f"Trial {trial.number}: {trial.question}", "", "  ", width)
    lines += wrap_text(_say_plan(batch, trial, now), "", "  ", width)
    lines += ["", *list_table(study, width), ""]
    for sign, said in list_verdicts(study):
        lines += wrap_text(said, sign, None, width)
    if trial.used or trial.each:
        lines += wrap_text(_say_pieces(batch, trial), OPEN, None, width)
    if trial.each and (without := _say_results_without_pieces(trial)):
        lines += wrap_text(without, OPEN, None, width)
    lines += [line for said in _list_sources(trial) for line in wrap_text(said, OPEN, None, width)]
    return [*lines, "", *_list_choice(trial, now, width)]


def _say_plan(batch: Batch, trial: Trial, now: datetime) -> str:
    where = f"Op {trial.op} {batch.operation(trial.op).title}. " if trial.op else ""
    unit = f" in {trial.unit}" if trial.unit else f", {trial.response}" if trial.response != "number" else ""
    worth = ""
    if trial.worth is not None:
        least = f"{trial.worth:.4g} {trial.unit}" if trial.response == "number" else f"{100 * trial.worth:.0f} %"
        worth = f" A difference of {least} matters."
    each = f"{format_count(trial.each, 'piece')} per setting." if trial.each else "It uses no pieces."
    factors = f"Factor{'s' * (len(trial.factors) > 1)}: {' and '.join(name for name, _ in trial.factors)}"
    planned = f"{each} Planned by {trial.by}, {format_clock(trial.at, now)}."
    return f"{where}{factors}. Result: {trial.characteristic}{unit}.{worth} {planned}"


def _say_pieces(batch: Batch, trial: Trial) -> str:
    used, out = len(trial.used), len(list_pieces_in_trial(batch, trial))
    planned = trial.each * len(trial.settings)
    if not used:
        return f"No pieces used yet; {planned} planned."
    back = f", {used - out} of them back in process" if used > out else ""
    count = f"{format_count(used, 'piece')} of the batch used{back}; {planned} planned."
    return f"{count} Those out of process count neither as good nor as scrap."


def _say_results_without_pieces(trial: Trial) -> str:
    """Settings that have results, but no piece on record."""
    used = {setting for setting, _ in trial.used.values()}
    bare = [trial.name_setting(n) for n in sorted({one.setting for one in trial.readings} - used)]
    return f"Results, but no piece recorded as used: {'; '.join(bare)}." if bare else ""


def _list_sources(trial: Trial) -> list[str]:
    """Where results came from that nobody typed."""
    return [
        f"{trial.name_setting(one.setting)}: {_format_reading(trial, one)} from {describe_source(one)}"
        for one in trial.readings
        if one.source
    ]


def describe_source(one: TrialReading) -> str:
    """``run1.csv, each row, 2 rows without a number``."""
    empty = f", {format_count(one.left_out, 'row')} without a number" if one.left_out else ""
    return one.source + empty


def _format_reading(trial: Trial, one: TrialReading) -> str:
    if len(one.values) > 1:
        return format_count(len(one.values), "value")
    return f"{one.values[0]:.4g} {trial.unit}".strip()


def _list_choice(trial: Trial, now: datetime, width: int) -> list[str]:
    if trial.choice is None:
        return ["No choice yet."]
    choice = trial.choice
    name = trial.name_setting(choice.setting)
    said = f"Chosen by {choice.by}, {format_clock(choice.at, now)}: {name}. Reason: {choice.reason}"
    lines = wrap_text(said, "", "  ", width)
    return lines + (wrap_text(f"Offered to the checklist: {choice.offer}", "", "  ", width) if choice.offer else [])


def list_all_trial_lines(batch: Batch, now: datetime, width: int) -> list[str]:
    """All trials of a batch, one below the other."""
    lines: list[str] = []
    for trial in batch.trials.values():
        lines += [""] * bool(lines) + list_trial_lines(batch, trial, now, width)
    return lines
