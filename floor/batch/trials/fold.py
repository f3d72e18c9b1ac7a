"""What the entries of a trial change: where its pieces are, and what is known of it."""

from __future__ import annotations

from datetime import datetime

from floor.batch.counting.fold_surplus import bring_back_to_work, take_out_of_work
from floor.batch.events import (
    TrialPiecesBack,
    TrialPiecesTaken,
    TrialPlanned,
    TrialResult,
    TrialSettingChosen,
)
from floor.batch.fold_registry import Inapplicable, handles, require
from floor.batch.state import Batch
from floor.batch.trial import Trial, TrialChoice, TrialReading
from floor.batch.trials.pieces import is_in_trial
from floor.entry import Entry


@handles(TrialPlanned)
def _planned(batch: Batch, entry: Entry, event: TrialPlanned, at: datetime) -> None:
    require(entry, event.trial not in batch.trials, f"there is a trial {event.trial} already")
    require(entry, not event.op or event.op in batch.checklist.ops, f"there is no op {event.op}")
    batch.trials[event.trial] = Trial(
        number=event.trial,
        question=event.question,
        op=event.op,
        factors=tuple((one.name, one.settings) for one in event.factors),
        response=event.response,
        characteristic=event.characteristic,
        unit=event.unit,
        each=event.each,
        worth=event.worth,
        by=entry.by,
        at=at,
    )


def _find_trial(batch: Batch, entry: Entry, number: int, setting: int = 0) -> Trial:
    trial = batch.trials.get(number)
    if trial is None:
        raise Inapplicable(entry, f"there is no trial {number}")
    require(entry, 0 <= setting <= len(trial.settings), f"trial {number} has no setting {setting}")
    return trial


@handles(TrialPiecesTaken)
def _pieces_taken(batch: Batch, entry: Entry, event: TrialPiecesTaken, at: datetime) -> None:
    trial = _find_trial(batch, entry, event.trial, event.setting)
    take_out_of_work(batch, entry, event.pieces, "trial", f"trial {event.trial}", at)
    trial.used |= dict.fromkeys(event.pieces, (event.setting, entry.seq))


@handles(TrialPiecesBack)
def _pieces_back(batch: Batch, entry: Entry, event: TrialPiecesBack, at: datetime) -> None:
    trial = _find_trial(batch, entry, event.trial)
    for piece in event.pieces:
        require(entry, is_in_trial(batch, trial, piece), f"piece {piece} is not in trial {event.trial}")
        bring_back_to_work(batch, entry, piece)


@handles(TrialResult)
def _result(batch: Batch, entry: Entry, event: TrialResult, at: datetime) -> None:
    trial = _find_trial(batch, entry, event.trial, event.setting)
    file = event.source
    source, left_out = (f"{file.file}, {file.how}", file.left_out) if file is not None else ("", 0)
    given = event.values, event.good, event.bad, event.seen
    trial.readings.append(TrialReading(entry.seq, event.setting, at, entry.by, *given, source, left_out))


@handles(TrialSettingChosen)
def _chosen(batch: Batch, entry: Entry, event: TrialSettingChosen, at: datetime) -> None:
    trial = _find_trial(batch, entry, event.trial, event.setting)
    trial.choice = TrialChoice(event.setting, event.reason, event.offer, entry.by, at)
