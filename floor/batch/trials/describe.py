"""Trials in words."""

from __future__ import annotations

from floor.batch.describe_registry import describes
from floor.batch.events import (
    TrialPiecesBack,
    TrialPiecesTaken,
    TrialPlanned,
    TrialResult,
    TrialSettingChosen,
)
from floor.batch.state import Batch
from floor.text import format_count

MOST_VALUES = 8
"""Values of a result that the history spells out."""


@describes(TrialPlanned)
def _planned(batch: Batch, event: TrialPlanned) -> str:
    factors = "; ".join(f"{one.name}: {', '.join(one.settings)}" for one in event.factors)
    return f"trial {event.trial} planned: {event.question} {factors}; {format_count(event.each, 'piece')} each"


@describes(TrialPiecesTaken)
def _pieces_taken(batch: Batch, event: TrialPiecesTaken) -> str:
    where = f" of load {event.load}" if event.load else f" waiting for op {event.op}" if event.op else ""
    setting = _name(batch, event.trial, event.setting)
    return f"trial {event.trial}: {format_count(len(event.pieces), 'piece')}{where} used for {setting}"


@describes(TrialPiecesBack)
def _pieces_back(batch: Batch, event: TrialPiecesBack) -> str:
    return f"trial {event.trial}: {format_count(len(event.pieces), 'piece')} back in process: {event.reason}"


@describes(TrialResult)
def _result(batch: Batch, event: TrialResult) -> str:
    trial = batch.trials.get(event.trial)
    unit = f" {trial.unit}" if trial is not None and trial.unit else ""
    parts = [", ".join(f"{value:.6g}" for value in event.values[:MOST_VALUES]) + unit] if event.values else []
    parts += [f"{len(event.values) - MOST_VALUES} more"] if len(event.values) > MOST_VALUES else []
    parts += [f"{event.good} good, {event.bad} bad"] if event.good or event.bad else []
    parts += [event.seen] if event.seen else []
    source = event.source
    parts += [f"from {source.file} ({', '.join(source.columns)}: {source.how})"] if source is not None else []
    return f"trial {event.trial}, {_name(batch, event.trial, event.setting)}: {'; '.join(parts)}"


@describes(TrialSettingChosen)
def _chosen(batch: Batch, event: TrialSettingChosen) -> str:
    offer = f"; offered to the checklist: {event.offer}" if event.offer else ""
    return f"trial {event.trial}: {_name(batch, event.trial, event.setting)} chosen: {event.reason}{offer}"


def _name(batch: Batch, number: int, setting: int) -> str:
    """The setting's name; its number where the trial was struck out."""
    trial = batch.trials.get(number)
    return trial.name_setting(setting) if trial is not None else f"setting {setting}"
