"""How worn tools were when they were changed, against the life on their cards."""

from __future__ import annotations

from collections.abc import Sequence

from floor.batch.quality.lesson_figures import LEAST_CHANGE, format_number, measure_spread, round_sensibly
from floor.batch.quality.lesson_kinds import LifeLesson, Offer, WhyNot
from floor.batch.quality.tool_age import ToolLife
from floor.checklist.equipment import Tool
from floor.checklist.model import Checklist
from floor.checklist.patching import Change, Field
from floor.checklist.units import Measure
from floor.figures.quality.missing import Missing
from floor.figures.quality.spread import Spread


def study_life(card: Tool, lives: Sequence[ToolLife], now: Checklist) -> LifeLesson:
    stated = _find_stated_life(card, now)
    ended = [stated is not None and one.used + one.need > stated.base for one in lives]
    used = measure_spread([stated.base if stated and end else one.used for one, end in zip(lives, ended, strict=True)])
    offer = WhyNot.OTHER_WORK if stated is None else _offer_life(card.number, stated, used, all(ended))
    return LifeLesson(card.number, used, sum(ended), stated, offer)


def _find_stated_life(card: Tool, now: Checklist) -> Measure | None:
    """As the file has it now, if it is the same tool and counts as the batch did."""
    there = now.tool(card.number)
    if there is None or (there.name, there.station) != (card.name, card.station):
        return None
    counts_alike = there.life is not None and card.life is not None and there.life.in_pieces == card.life.in_pieces
    return there.life if counts_alike else None


def _offer_life(tool: int, stated: Measure, used: Spread, all_ended: bool) -> Offer:
    """Only ever a shorter one: no tool is used for longer than its card says."""
    surely = used.interval
    if isinstance(surely, Missing):
        return WhyNot.FEW
    if all_ended:
        return WhyNot.USED_UP
    if surely.high >= stated.base or used.median > (1 - LEAST_CHANGE) * stated.base:
        return WhyNot.AS_STATED
    scale = stated.number / stated.base
    number = round_sensibly(used.median * scale, surely.low * scale, surely.high * scale)
    number = max(round(number), 1) if stated.in_pieces else number
    if number == stated.number:
        return WhyNot.AS_STATED
    # "pieces" of a life of one would be wrong in the file too; other units, and "pcs", stay as they are there
    unit = "piece" if number == 1 and stated.unit == "pieces" else stated.unit
    return (Change(Field("tools", tool, ("life",)), stated.text, f"{format_number(number)} {unit}"),)
