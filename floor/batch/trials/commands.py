"""Planning a trial, using pieces for it, entering what it gave, choosing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import get_args

from floor.batch import events
from floor.batch.command import (
    LARGEST_VALUE,
    Context,
    Refused,
    format_pieces,
    leave_some_in_the_cycle,
    refuse_closed_batch,
    refuse_counted_loads,
    require_load,
    require_reason,
    require_whole_number,
)
from floor.batch.events import TrialFile, make_drafts
from floor.batch.gates.out_of_limits import find_pieces_in_question
from floor.batch.load import Load
from floor.batch.run import CountMark
from floor.batch.state import Batch
from floor.batch.trial import Response, Trial
from floor.batch.trials.pieces import find_op_to_take_from, list_pieces_in_trial
from floor.dataclass import dataclass
from floor.entry import Draft
from floor.text import format_count, sanitize

MOST_SETTINGS = 12
"""Of a trial, all factors together (shop decision)."""
MOST_FACTORS = 2
MOST_VALUES = 500
"""Of one result."""
LONGEST_NAME = 40


@dataclass(frozen=True, slots=True)
class PlanTrial:
    """Ask a question of a few pieces: what is varied, and what is measured or looked at."""

    question: str
    factors: tuple[tuple[str, tuple[str, ...]], ...]
    response: Response
    characteristic: str
    each: int
    unit: str = ""
    op: int = 0
    worth: float | None = None

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        if self.op and self.op not in batch.checklist.ops:
            raise Refused("unknown", f"there is no op {self.op}", "choose one of the route, or none", field="op")
        if self.response not in get_args(Response):
            raise Refused("input", "a result is a number, good or bad, or words", "choose one", field="response")
        unit = sanitize(self.unit, LONGEST_NAME)
        if self.response == "number" and not unit:
            raise Refused(
                "input", "a number needs its unit", "enter it too, like: height in mm", field="characteristic"
            )
        return make_drafts(
            events.TrialPlanned(
                trial=max(batch.trials, default=0) + 1,
                question=require_reason(self.question, "a trial", "question"),
                factors=tuple(
                    events.TrialFactor(name=name, settings=kept) for name, kept in _require_factors(self.factors)
                ),
                response=self.response,
                characteristic=_require_name(self.characteristic, "what is measured or looked at", "characteristic"),
                each=require_whole_number(self.each, "pieces for each setting", field="each"),
                unit=unit if self.response == "number" else "",
                op=self.op,
                worth=_require_worth(self.worth, self.response),
            )
        )


def _require_factors(
    factors: Sequence[tuple[str, tuple[str, ...]]],
) -> list[tuple[str, tuple[str, ...]]]:
    if not 1 <= len(factors) <= MOST_FACTORS:
        raise Refused("input", f"{len(factors)} things varied", "vary one or two", field="settings")
    found = []
    for field, (name, settings) in zip(("", "2"), factors, strict=False):
        kept = tuple(sanitize(one, LONGEST_NAME) for one in settings)
        if len(kept) < 2 or not all(kept):
            wrong = f"{len([one for one in kept if one])} settings to compare"
            raise Refused("input", wrong, "name two or more, like: coolant: 5 %; 8 %; 10 %", field=f"settings{field}")
        if len({one.casefold() for one in kept}) < len(kept):
            raise Refused("input", "a setting is named twice", "name each once", field=f"settings{field}")
        found.append((_require_name(name, "what is varied", f"settings{field}"), kept))
    many = math.prod(len(settings) for _, settings in found)
    if many > MOST_SETTINGS:
        remedy = f"try {MOST_SETTINGS} or fewer at a time"
        raise Refused("input", f"{many} settings to compare", remedy, field="settings")
    return found


def _require_name(text: str, what: str, field: str) -> str:
    name = sanitize(text, LONGEST_NAME)
    if not name:
        raise Refused("input", f"{what} is missing", "enter a word or two", field=field)
    return name


def _require_worth(worth: float | None, response: Response) -> float | None:
    if worth is None or response == "words":
        return None
    most = 1.0 if response == "good or bad" else LARGEST_VALUE
    if not 0 < worth <= most:
        right = "enter a share above 0 %, at most 100 %" if most == 1 else "enter it above 0"
        raise Refused("input", "that is no difference", right, field="worth")
    return worth


def require_trial(batch: Batch, number: int, setting: int = 0) -> Trial:
    """A trial of the batch; refused if it, or the setting, is not there."""
    refuse_closed_batch(batch)
    trial = batch.trials.get(number)
    if trial is None:
        raise Refused("unknown", f"there is no trial {number} in batch {batch.id}", "choose one from the list")
    if not 0 <= setting <= len(trial.settings):
        raise Refused("unknown", f"trial {number} has no setting {setting}", "choose one from the list")
    return trial


@dataclass(frozen=True, slots=True)
class TakeTrialPieces:
    """Use pieces for a setting: they leave work, and count neither as good nor as scrap."""

    trial: int
    setting: int
    count: int
    load: int | None = None
    op: int | None = None
    """Where they wait, if they are on no load; by default the trial's own, else the first."""
    rework: str = ""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        trial = require_trial(batch, self.trial, self.setting)
        if not self.setting:
            raise Refused("input", "pieces are used for one of the settings", "choose one", field="setting")
        op = self.op or find_op_to_take_from(batch, trial)
        load = require_load(batch, self.load) if self.load is not None else None
        if load is not None:
            there, where = list(batch.present(load)), f"are on load {load.number}"
        else:
            there, where = batch.waiting(op, self.rework), f"wait for op {op}"
        there = [piece for piece in there if batch.find_next_op(piece) is not None]
        count = require_whole_number(self.count, "the pieces", 1, field="count")
        if count > len(there):
            right = "enter fewer, take them from elsewhere, or start more first"
            raise Refused("count", f"{count} pieces to use, {len(there)} {where}", right, field="count")
        pieces = _choose_pieces(batch, load, there, count)
        refuse_counted_loads(batch, pieces)
        leave_some_in_the_cycle(batch, pieces)
        return make_drafts(
            events.TrialPiecesTaken(
                trial=self.trial,
                setting=self.setting,
                pieces=pieces,
                load=self.load,
                op=op if self.load is None else None,
            )
        )


def _choose_pieces(batch: Batch, load: Load | None, there: Sequence[int], count: int) -> tuple[int, ...]:
    """The last of them that nothing is decided or asked about: from a trial, pieces come back as sound ones."""
    decided = {piece: mark.to for run in batch.list_open_runs() for piece, mark in run.decided.items()}
    asked = find_pieces_in_question(batch) - decided.keys()
    free = [piece for piece in there if piece not in decided and piece not in asked]
    if count <= len(free):
        return tuple(free[-count:])
    groups = {f"decided as {to}": [piece for piece in there if decided.get(piece) == to] for to in decided.values()}
    groups["may be out of limits, still to be decided"] = [piece for piece in there if piece in asked]
    said = [f"{format_pieces(batch, load, some)}: {why}" for why, some in groups.items() if some]
    wrong = f"{format_count(count, 'piece')} to use, {len(free)} of these {len(there)} are free: {'; '.join(said)}"
    remedy = "decide on the reading first" if asked.intersection(there) else "leave those to the count"
    raise Refused("not now", wrong, f"{remedy}; or enter fewer, or take them from elsewhere", field="count")


@dataclass(frozen=True, slots=True)
class BringTrialPiecesBack:
    """Take pieces of a trial back into work where they left it. They pass every operation that is still to come."""

    trial: int
    count: int
    why: str
    setting: int = 0
    """Of one setting only; 0: of any."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        trial = require_trial(batch, self.trial, self.setting)
        context.need_lead("taking pieces of a trial back into process")
        there = list_pieces_in_trial(batch, trial, self.setting)
        count = require_whole_number(self.count, "the pieces", 1, field="count")
        if count > len(there):
            wrong = f"{count} pieces to take back, {len(there)} are in trial {self.trial}"
            raise Refused("count", wrong, "enter at most as many", field="count")
        why = require_reason(self.why, "taking pieces back into process")
        pieces = there[:count]
        decided = _find_decided(batch, pieces)
        sound = tuple(piece for piece in pieces if piece not in decided)
        back = make_drafts(events.TrialPiecesBack(trial=self.trial, pieces=sound, reason=why)) if sound else []
        return [*back, *(_hold(batch, piece, mark) for piece, mark in decided.items())]


def _find_decided(batch: Batch, pieces: Sequence[int]) -> dict[int, CountMark]:
    """Those on which it was decided otherwise at a count that never came to them: records of earlier versions took such
    pieces into a trial, and out of it they are no sound ones.
    """
    return {
        piece: mark
        for run in batch.runs.values()
        for piece, mark in run.decided.items()
        if piece in pieces and piece not in run.pieces
    }


def _hold(batch: Batch, piece: int, mark: CountMark) -> Draft:
    why = f"{mark.reason} {mark.note}".strip()
    (draft,) = make_drafts(
        events.SetAside(
            pieces=(piece,),
            to="hold",
            reason=sanitize(f"decided as {mark.to} before the trial: {why}"),
            op=batch.places[piece].op,
            where=format_count(1, "piece"),
        )
    )
    return draft


@dataclass(frozen=True, slots=True)
class EnterTrialResult:
    """What a setting gave: values, good and bad pieces, or words."""

    trial: int
    setting: int
    values: tuple[float, ...] = ()
    good: int = 0
    bad: int = 0
    seen: str = ""
    source: TrialFile | None = None

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        trial = require_trial(batch, self.trial, self.setting)
        if not self.setting:
            raise Refused("input", "a result belongs to one of the settings", "choose one", field="setting")
        result = events.TrialResult(trial=self.trial, setting=self.setting, seen=sanitize(self.seen))
        if trial.response == "number":
            self._require_values()
            return make_drafts(replace(result, values=self.values, source=self.source))
        if trial.response == "good or bad":
            good = require_whole_number(self.good, "the good pieces", field="good")
            bad = require_whole_number(self.bad, "the bad pieces", field="bad")
            if not good + bad:
                raise Refused("count", "no piece", "enter how many are good, and how many bad", field="good")
            return make_drafts(replace(result, good=good, bad=bad))
        return make_drafts(replace(result, seen=require_reason(self.seen, "what was seen", "seen")))

    def _require_values(self) -> None:
        if not 1 <= len(self.values) <= MOST_VALUES:
            wrong = f"{len(self.values)} values at once"
            raise Refused("input", wrong, f"enter 1 to {MOST_VALUES}", field="values")
        if not all(abs(value) <= LARGEST_VALUE for value in self.values):
            raise Refused("input", "a value is too large", f"enter at most {LARGEST_VALUE:g}", field="values")


@dataclass(frozen=True, slots=True)
class ChooseSetting:
    """Choose a setting, or none of them, with the reason; and what is offered to the checklist."""

    trial: int
    setting: int
    why: str
    offer: str = ""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        trial = require_trial(batch, self.trial, self.setting)
        if not trial.readings:
            raise Refused("not now", f"trial {self.trial} has no result yet", "enter one first", field="setting")
        return make_drafts(
            events.TrialSettingChosen(
                trial=self.trial,
                setting=self.setting,
                reason=require_reason(self.why, "a choice"),
                offer=sanitize(self.offer),
            )
        )
