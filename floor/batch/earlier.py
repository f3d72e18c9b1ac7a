"""What earlier batches told of a part when a batch was opened: its plan and its sampling stand on that, to its end.

It is in the first entry. Were it looked up anew, an earlier batch that is counted on, struck out or brought back would
move the promises of this one without anybody's act.
"""

from dataclasses import replace
from typing import Literal

from floor.batch.event_base import register_part
from floor.checklist.model import Checklist
from floor.checklist.operation import Operation


@register_part
class ExpectedYield:
    """The yield of an operation: good at first, sent to rework, and how many pieces that is worth."""

    op: int
    good: float
    reworked: float
    weight: float


@register_part
class ExpectedPace:
    """Real over stated time of a part of an operation, and how many runs that is worth."""

    op: int
    part: Literal["cycle", "by hand"]
    ratio: float
    weight: float


@register_part
class EarlierTold:
    """What the plan takes from earlier batches in place of the checklist's figures."""

    batches: tuple[str, ...]
    """Their names, the newest first."""
    yields: tuple[ExpectedYield, ...]
    paces: tuple[ExpectedPace, ...]


@register_part
class EarlierLot:
    """A load of an earlier batch, judged by its first sample."""

    lot: int
    size: int
    accept: int
    reject: int
    severity: str
    out: int


@register_part
class EarlierLots:
    """Where the series of lots of a sampling plan stood: it goes on from there."""

    op: int
    line: str
    severity: Literal["normal", "tightened", "reduced"]
    batches: tuple[str, ...]
    """Their names, the newest first."""
    lots: tuple[EarlierLot, ...] = ()
    """Since the last switch, as far as the rules still look at them; the oldest first."""
    discontinued: bool = False
    """Whether the plan was given up there after ten lots in a row under tightened inspection."""


def expect(checklist: Checklist, told: EarlierTold | None) -> Checklist:
    """The checklist with the yields to plan by; the same where no earlier batch told anything.

    Shares of rework that the checklist states are scaled alike; where it states none, rejects count as lost.
    """
    if told is None or not told.yields:
        return checklist
    from floor.checklist.expected_yields import list_operation_yields  # loads the forecast, which opening never needs

    yields = {one.op: one for one in told.yields}
    stated = {op: one.rework for op, one in zip(checklist.route, list_operation_yields(checklist), strict=True)}

    def change(operation: Operation) -> Operation:
        known = yields.get(operation.op)
        if known is None:
            return operation
        share = stated.get(operation.op, 0.0)
        reasons = operation.reasons
        if share:
            scale = known.reworked / share
            reasons = tuple(
                one if one.share is None else replace(one, share=min(one.share * scale, 1.0)) for one in reasons
            )
        return replace(operation, expected_yield=known.good, yield_weight=known.weight, reasons=reasons)

    return replace(checklist, operations=tuple(map(change, checklist.operations)))
