"""Sampling by attributes: code letters, single sampling plans and switching rules of MIL-STD-105E (public domain).

The master tables repeat along their diagonals, so each is a row of numbers and the place of its first one. Checked
cell by cell against two texts: code letters of levels I to III for lots of 26 to 1,200, normal plans of letters D to J
at AQL 0.65 to 4.0; against one text: tightened and reduced plans of letter F at AQL 0.65 to 4.0. All other cells, and
the special levels, are from memory and hold together by the laws of the tables. The limit numbers of Table VIII for
reduced inspection are not here.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable
from enum import StrEnum

from floor.dataclass import dataclass
from floor.figures.distributions import binomial_upper_tail, hypergeometric_pmf
from floor.figures.errors import ImpossibleFigure

LETTERS = "ABCDEFGHJKLMNPQR"
AQLS = (0.010, 0.015, 0.025, 0.040, 0.065, 0.10, 0.15, 0.25, 0.40, 0.65, 1.0, 1.5, 2.5, 4.0, 6.5, 10.0)
"""Acceptable quality levels in percent nonconforming; above 10 the standard counts nonconformities."""


class InspectionLevel(StrEnum):
    """How much is inspected for the size of the lot; general levels, II the usual one, and special ones."""

    I = "I"  # noqa: E741 - the standard's name
    II = "II"
    III = "III"
    S1 = "S-1"
    S2 = "S-2"
    S3 = "S-3"
    S4 = "S-4"


class Severity(StrEnum):
    """Which table holds, by the lots before."""

    NORMAL = "normal"
    TIGHTENED = "tightened"
    REDUCED = "reduced"


_LOT_SIZES = (8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000)
"""Largest lot of each line of Table I; the last line has none."""
_CODE_LETTERS = {
    InspectionLevel.S1: "AAAABBBBCCCCDDD",
    InspectionLevel.S2: "AAABBBCCCDDDEEE",
    InspectionLevel.S3: "AABBCCDDEEFFGGH",
    InspectionLevel.S4: "AABCCDEEFGGHJJK",
    InspectionLevel.I: "AABCCDEFGHJKLMN",
    InspectionLevel.II: "ABCDEFGHJKLMNPQ",
    InspectionLevel.III: "BCDEFGHJKLMNPQR",
}

_SIZES = (2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000, 3150)
_REDUCED_SIZES = (2, 2, 2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800)

_UP, _DOWN = -1, 1
_Cell = tuple[int, int] | int
"""Acceptance and rejection number, or an arrow: to the next letter up or down."""


@dataclass(frozen=True, slots=True)
class _Table:
    """A master table: letter i at AQL j has ``cells[i + j - start]``; before them arrows down, behind them up."""

    sizes: tuple[int, ...]
    start: int
    cells: tuple[_Cell, ...]

    def get_cell(self, letter: int, aql: int) -> _Cell:
        at = letter + aql - self.start
        if at < 0:
            return _DOWN
        return self.cells[at] if at < len(self.cells) else _UP


_TABLES = {
    Severity.NORMAL: _Table(
        _SIZES[:-1],
        14,
        ((0, 1), _UP, _DOWN, (1, 2), (2, 3), (3, 4), (5, 6), (7, 8), (10, 11), (14, 15), (21, 22)),
    ),
    Severity.TIGHTENED: _Table(
        _SIZES,
        15,
        ((0, 1), _DOWN, _DOWN, (1, 2), (2, 3), (3, 4), (5, 6), (8, 9), (12, 13), (18, 19)),
    ),
    Severity.REDUCED: _Table(
        _REDUCED_SIZES,
        14,
        ((0, 1), _UP, _DOWN, (0, 2), (1, 3), (1, 4), (2, 5), (3, 6), (5, 8), (7, 10), (10, 13)),
    ),
}


@dataclass(frozen=True, slots=True)
class SamplingPlan:
    """How many pieces to inspect, and what their number of bad ones decides.

    Up to ``accept`` bad the lot is accepted, from ``reject`` on it is rejected. Between the two, which is so in
    reduced inspection only, it is accepted and inspection goes back to normal.
    """

    letter: str
    """Code letter of the lot's size; that of the plan may differ, where an arrow leads to another."""
    size: int
    accept: int
    reject: int
    every_piece: bool
    """The sample would be the lot or more: inspect all ``size`` pieces of the lot."""


def find_code_letter(lot_size: int, level: InspectionLevel = InspectionLevel.II) -> str:
    """Code letter of a lot of so many pieces (Table I); a single piece counts as the smallest lot.

    Raises:
        ImpossibleFigure: a lot of no pieces.
    """
    if lot_size < 1:
        raise ImpossibleFigure(f"a lot of {lot_size} pieces", "give it 1 or more")
    return _CODE_LETTERS[level][bisect_left(_LOT_SIZES, lot_size)]


def find_sampling_plan(
    lot_size: int,
    aql: float,
    level: InspectionLevel = InspectionLevel.II,
    severity: Severity = Severity.NORMAL,
) -> SamplingPlan:
    """The single sampling plan for a lot, arrows followed (Tables II-A, II-B and II-C).

    Args:
        lot_size: In pieces, 1 or more.
        aql: One of `AQLS`, percent nonconforming.

    Raises:
        ImpossibleFigure: a lot of no pieces, or an AQL that the tables do not have.
    """
    if aql not in AQLS:
        near = min(AQLS, key=lambda each: abs(each - aql))
        raise ImpossibleFigure(f"an AQL of {aql:g} %", f"take one of the standard, such as {near:g} %")
    letter, table = find_code_letter(lot_size, level), _TABLES[severity]
    size, accept, reject = _follow_arrows(table, LETTERS.index(letter), AQLS.index(aql))
    return SamplingPlan(letter, min(size, lot_size), accept, reject, size >= lot_size)


def _follow_arrows(table: _Table, letter: int, aql: int) -> tuple[int, int, int]:
    """An arrow that leads out of the table is turned, and so are those that it meets on the way."""
    cell, at, way = table.get_cell(letter, aql), letter, 0
    while isinstance(cell, int):
        way = way or cell
        at += way
        if not 0 <= at < len(table.sizes):
            way = -way
            at = letter + way
        cell = table.get_cell(at, aql)
    return table.sizes[at], *cell


def compute_acceptance_chance(plan: SamplingPlan, share_bad: float) -> float:
    """Chance that a lot from a process with this share bad is accepted: one point of the operating characteristic.

    Binomial, as for a sample from a long series; NIST/SEMATECH e-Handbook 6.2.3.2.

    Raises:
        ImpossibleFigure: a share below 0 or above 1.
    """
    if not 0 <= share_bad <= 1:
        raise ImpossibleFigure(f"a share bad of {share_bad:g}", "give it from 0 to 1")
    return 1.0 - binomial_upper_tail(plan.reject, plan.size, share_bad)


def compute_lot_acceptance_chance(plan: SamplingPlan, lot_size: int, bad: int) -> float:
    """Chance that a lot with so many bad pieces is accepted: exact, as pieces are not put back (hypergeometric).

    Raises:
        ImpossibleFigure: more bad than pieces, or fewer pieces than the sample.
    """
    if not 0 <= bad <= lot_size or plan.size > lot_size:
        raise ImpossibleFigure(f"{plan.size} of a lot of {lot_size} with {bad} bad", "give the whole lot")
    least, row = hypergeometric_pmf(lot_size, bad, plan.size)
    return min(1.0, sum(row[: max(0, plan.reject - least)]))


@dataclass(frozen=True, slots=True)
class LotResult:
    """The outcome of a lot at its first inspection; lots inspected again after sorting do not count."""

    accepted: bool
    between: bool = False
    """Accepted in reduced inspection with more bad than the acceptance number."""
    may_reduce: bool = False
    """After this lot the other conditions of reduced inspection hold: the bad ones of the last ten samples are within
    the limit number of Table VIII, production is steady, and who is responsible wants it."""
    irregular: bool = False
    """Production has become irregular, or other conditions warrant normal inspection."""


@dataclass(frozen=True, slots=True)
class InspectionState:
    """Which table the next lot is inspected by."""

    severity: Severity
    discontinued: bool
    """Ten lots in a row stayed on tightened inspection: stop accepting until the cause is removed."""


_FEW, _REJECTED, _ACCEPTED, _STEADY, _MOST_TIGHTENED = 5, 2, 5, 10, 10


def find_inspection_state(lots: Iterable[LotResult], start: Severity = Severity.NORMAL) -> InspectionState:
    """Severity after these lots, the oldest first: see `follow_switching`."""
    return follow_switching(lots, start)[0]


def follow_switching(
    lots: Iterable[LotResult], start: Severity = Severity.NORMAL
) -> tuple[InspectionState, list[LotResult]]:
    """The state after these lots, the oldest first, and those of them since the last switch (MIL-STD-105E 4.7, from
    memory).

    Normal to tightened: 2 of 5 or fewer lots in a row rejected. Tightened to normal: 5 in a row accepted. Normal to
    reduced: 10 in a row accepted on normal inspection, and `LotResult.may_reduce`. Reduced to normal: a lot rejected,
    or accepted `LotResult.between`, or `LotResult.irregular`. Discontinued: 10 in a row on tightened inspection (as in
    edition D; whether E counts rejected lots instead is not known from memory).
    """
    severity, since = start, list[LotResult]()
    for lot in lots:
        since.append(lot)
        if severity is Severity.TIGHTENED and len(since) == _MOST_TIGHTENED and not _is_run_accepted(since, _ACCEPTED):
            return InspectionState(severity, True), since
        following = _switch(severity, since)
        if following is not severity:
            severity, since = following, []
    return InspectionState(severity, False), since


def _switch(severity: Severity, since: list[LotResult]) -> Severity:
    """The severity after the lots since the last switch, the newest last."""
    last = since[-1]
    if severity is Severity.TIGHTENED:
        return Severity.NORMAL if _is_run_accepted(since, _ACCEPTED) else severity
    if severity is Severity.REDUCED:
        stays = last.accepted and not last.between and not last.irregular
        return severity if stays else Severity.NORMAL
    if sum(not lot.accepted for lot in since[-_FEW:]) >= _REJECTED:
        return Severity.TIGHTENED
    return Severity.REDUCED if last.may_reduce and _is_run_accepted(since, _STEADY) else severity


def _is_run_accepted(since: list[LotResult], length: int) -> bool:
    return len(since) >= length and all(lot.accepted for lot in since[-length:])
