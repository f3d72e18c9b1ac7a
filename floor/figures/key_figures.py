"""Key figures of a batch, named and computed as in ISO 22400-2.

The formulas were read in the published ontology of the standard (hsu-aut, version 2.0.0); rolled throughput yield is
not in it. Each is a product of ratios, so that its text, its inputs and its value come from the same few words. A value
above 1 is not clipped: the standard remarks that effectiveness may pass 100 %.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from enum import StrEnum
from typing import NamedTuple

from floor.dataclass import dataclass
from floor.figures.errors import ImpossibleFigure


class Input(StrEnum):
    """A quantity, in pieces, or a time, in seconds, by its symbol."""

    PQ = "PQ"
    PQ_FIRST = "PQ of the first operation"
    PQ_ENDED = "PQ finished or lost"
    GQ = "GQ"
    SQ = "SQ"
    RQ = "RQ"
    PSQ = "PSQ"
    GP = "GP"
    IP = "IP"
    PRU = "PRU x PQ"
    """The planned run time of all that was produced, summed where operations differ."""
    PBT = "PBT"
    AUBT = "AUBT"
    AUPT = "AUPT"
    APT = "APT"
    ASUT = "ASUT"
    ADET = "ADET"
    AOET = "AOET"
    APWT = "APWT"
    APAT = "APAT"

    @property
    def is_time(self) -> bool:
        return self in TIMES


TIMES = frozenset(
    {
        Input.PRU,
        Input.PBT,
        Input.AUBT,
        Input.AUPT,
        Input.APT,
        Input.ASUT,
        Input.ADET,
        Input.AOET,
        Input.APWT,
        Input.APAT,
    }
)
_PARTS = {
    (Input.GQ, Input.PQ),
    (Input.SQ, Input.PQ),
    (Input.RQ, Input.PQ),
    (Input.GP, Input.IP),
}
"""Quantities of which one is part of the other, each piece counted once."""


class Absence(StrEnum):
    """Why there is no figure."""

    NOTHING = "nothing counted"
    """0/0, or something over 0."""
    NO_RUN = "no run with its times"
    NO_PLAN = "no planned time"
    NOT_SPLIT = "planned scrap and rework are one"
    ATTENDANCE = "attendance not recorded"
    SETUP_IN_WORK = "set-up within the work"
    WHOLE_ORDER = "of the whole order only"


Amount = float | Absence


class Unknown(NamedTuple):
    """No figure: why, and which input is to blame."""

    why: Absence
    of: Input


class Ratio(NamedTuple):
    """One input over another, or over the sum of several."""

    over: Input
    under: tuple[Input, ...]

    @property
    def text(self) -> str:
        below = " + ".join(self.under)
        return f"{_bracket(self.over)} / {f'({below})' if len(self.under) > 1 else _bracket(below)}"


def _bracket(text: str) -> str:
    return f"({text})" if " x " in text else text


@dataclass(frozen=True, slots=True)
class KeyFigure:
    """A figure of the standard as its definition: a product of ratios."""

    name: str
    ratios: tuple[Ratio, ...]
    more_is_better: bool = True
    per_time: bool = False
    """Whether it is pieces per second; otherwise a share."""

    @property
    def formula(self) -> str:
        return " x ".join(one.text for one in self.ratios)

    @property
    def inputs(self) -> tuple[Input, ...]:
        """Each once, in the order of the formula."""
        return tuple(dict.fromkeys(one for ratio in self.ratios for one in (ratio.over, *ratio.under)))


def _define(name: str, *ratios: tuple[Input, Input], less: bool = False) -> KeyFigure:
    return KeyFigure(name, tuple(Ratio(over, (under,)) for over, under in ratios), more_is_better=not less)


_AVAILABLE, _EFFECTIVE, _GOOD = (Input.APT, Input.PBT), (Input.PRU, Input.APT), (Input.GQ, Input.PQ)
QUALITY = _define("quality ratio", _GOOD)
SCRAP = _define("scrap ratio", (Input.SQ, Input.PQ), less=True)
REWORK = _define("rework ratio", (Input.RQ, Input.PQ), less=True)
SCRAP_TO_PLAN = _define("actual to planned scrap", (Input.SQ, Input.PSQ), less=True)
FIRST_PASS = _define("first pass yield", (Input.GP, Input.IP))
FALL_OFF = _define("fall off ratio", (Input.SQ, Input.PQ_FIRST), less=True)
THROUGHPUT = KeyFigure("throughput rate", (Ratio(Input.PQ_ENDED, (Input.AOET,)),), per_time=True)
AVAILABILITY = _define("availability", _AVAILABLE)
EFFECTIVENESS = _define("effectiveness", _EFFECTIVE)
OEE = _define("OEE index", _AVAILABLE, _EFFECTIVE, _GOOD)
NEE = _define("NEE index", (Input.AUPT, Input.PBT), _EFFECTIVE, _GOOD)
ALLOCATION_EFFICIENCY = _define("allocation efficiency", (Input.AUBT, Input.PBT))
ALLOCATION = _define("allocation ratio", (Input.AUBT, Input.AOET))
UTILIZATION = _define("utilization efficiency", (Input.APT, Input.AUBT))
SETUP = _define("setup ratio", (Input.ASUT, Input.AUPT), less=True)
TECHNICAL = KeyFigure("technical efficiency", (Ratio(Input.APT, (Input.APT, Input.ADET)),))
PROCESS = _define("production process ratio", (Input.APT, Input.AOET))
WORKER = _define("worker efficiency", (Input.APWT, Input.APAT))
"""Shown by no screen: it tempts people to hide scrap, and nobody's attendance is recorded."""

QUANTITY_FIGURES = (QUALITY, SCRAP, REWORK, SCRAP_TO_PLAN, FIRST_PASS, FALL_OFF)
TIME_FIGURES = (
    AVAILABILITY,
    EFFECTIVENESS,
    OEE,
    NEE,
    ALLOCATION_EFFICIENCY,
    ALLOCATION,
    UTILIZATION,
    SETUP,
    TECHNICAL,
    PROCESS,
)
KEY_FIGURES = (*QUANTITY_FIGURES, THROUGHPUT, *TIME_FIGURES)


def compute_key_figure(figure: KeyFigure, amounts: Mapping[Input, Amount]) -> float | Unknown:
    """The value of a figure: a share, or pieces per second; or the first reason why there is none.

    Raises:
        ImpossibleFigure: a part above its whole, or an amount below 0 or not finite.
    """
    value = 1.0
    for ratio in figure.ratios:
        found = _divide(ratio, amounts)
        if isinstance(found, Unknown):
            return found
        value *= found
    return value


def compute_scrap_bound(amounts: Mapping[Input, Amount]) -> float | None:
    """What the scrap ratio is at most, at 95 %, where there was no scrap: none yet is no proof of none."""
    from floor.figures.quality.intervals import compute_upper_bound  # here, because the first screen asks for none
    from floor.figures.quality.missing import Missing

    scrap, made = amounts.get(Input.SQ, Absence.NOTHING), amounts.get(Input.PQ, Absence.NOTHING)
    if isinstance(scrap, Absence) or isinstance(made, Absence) or scrap:
        return None
    bound = compute_upper_bound(scrap, made)
    return None if isinstance(bound, Missing) else bound


def _divide(ratio: Ratio, amounts: Mapping[Input, Amount]) -> float | Unknown:
    known = []
    for one in (ratio.over, *ratio.under):
        amount = amounts.get(one, Absence.NOTHING)
        if isinstance(amount, Absence):
            return Unknown(amount, one)
        if not 0 <= amount < math.inf:
            raise ImpossibleFigure(f"{one} of {amount}", "give a finite figure of 0 or more")
        known.append(amount)
    part, whole = known[0], sum(known[1:])
    if (ratio.over, ratio.under[0]) in _PARTS and part > whole:
        raise ImpossibleFigure(f"{ratio.over} {part:g} above {ratio.under[0]} {whole:g}", "count each piece once")
    return part / whole if whole else Unknown(Absence.NOTHING, ratio.under[0])


def compute_rolled_throughput_yield(steps: Sequence[tuple[int, int]]) -> float | None:
    """Product over the operations of (good at the first pass / entered), from the counts themselves, unrounded.

    Our addition: ISO 22400-2 has no such figure. None if there is no operation, or one that has seen nothing.

    Args:
        steps: (good at the first pass, entered) for each operation, in pieces.

    Raises:
        ImpossibleFigure: more good than entered, or a count below 0.
    """
    yields = [compute_key_figure(FIRST_PASS, {Input.GP: good, Input.IP: entered}) for good, entered in steps]
    known = [value for value in yields if not isinstance(value, Unknown)]
    return math.prod(known) if known and len(known) == len(yields) else None
