"""One block while its words are applied: each code takes its words; leftovers are listed."""

from __future__ import annotations

from math import isnan, nan
from typing import NamedTuple

from floor.evidence.nc.program_facts import Record
from floor.evidence.nc.state import State
from floor.figures.units import MM_PER_INCH

LARGEST = 1e8
"""Larger numbers are no position, feed or code of any machine."""


class Num(NamedTuple):
    """A word's number: its value, its text, and whether it has neither decimal point nor expression."""

    value: float
    text: str
    bare: bool


class Step:
    """A block in progress: state, record, line, words not yet taken, and its G- and M-codes."""

    __slots__ = ("g_codes", "line", "m_codes", "optional", "record", "state", "words")

    def __init__(self, state: State, record: Record, line: int, optional: bool) -> None:
        self.state, self.record, self.line, self.optional = state, record, line, optional
        self.words: dict[str, Num] = {}
        self.g_codes: list[int] = []
        self.m_codes: list[int] = []

    def has_any(self, letters: str) -> bool:
        return any(letter in self.words for letter in letters)

    def take(self, letter: str) -> Num | None:
        return self.words.pop(letter, None)

    def take_value(self, letter: str, default: float = nan) -> float:
        word = self.words.pop(letter, None)
        return default if word is None else word.value

    def take_whole(self, letter: str) -> int | None:
        """A number that counts or names something; None if not given, unknown or not a whole one."""
        word = self.words.pop(letter, None)
        if word is None or isnan(word.value):
            return None
        if abs(word.value - round(word.value)) > 1e-6:
            self.record.log.add("bad word", self.line, letter + word.text[:80])
            return None
        return round(word.value)

    def take_length(self, letter: str) -> float | None:
        """A length in mm; NaN if it cannot be known, None if the word is not given."""
        word = self.words.pop(letter, None)
        if word is None:
            return None
        if not word.bare or word.value == 0 or isnan(word.value):
            return word.value * self.state.scale
        step = 0.0001 * MM_PER_INCH if self.state.units == "inch" else 0.001
        setting = self.record.dialect.bare_number
        whole, small = word.value * self.state.scale, word.value * step
        if setting:
            return whole if setting == "whole" else small
        if not isnan(whole):
            self.record.log.add("two readings", self.line, "bare_number", letter + word.text, whole, small)
        for axis in range(3):
            self.state.why[axis] = "two readings", self.line
        return nan

    def take_place(self) -> tuple[float | None, float | None, float | None]:
        return self.take_length("X"), self.take_length("Y"), self.take_length("Z")
