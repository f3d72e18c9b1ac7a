"""What readings of a soak prove and what they lack, as a record has it, and in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any, NamedTuple

from floor.checklist.gates import Soaked
from floor.checklist.units import find_temperature_scale
from floor.dataclass import dataclass
from floor.entry import Moment
from floor.figures.temperature import LONGEST_GAP
from floor.text import format_clock, format_count, format_span, sanitize

LATEST = 4e10
"""Seconds since 1970 of the latest time that a record may name: beyond any logger's, within every calendar."""
IN_FUTURE = "in the future"
"""Kind of lack: readings later than now, left out."""
END_UNREAD = "end unread"
"""Kind of lack: no readings of the last part of the cycle. The amount is its length in seconds."""


class Over(NamedTuple):
    """How long a sensor was above the limit in all; of several sensors, the longest."""

    sensor: str
    """Empty for several."""
    start: float
    """When first, in seconds since 1970."""
    length: float
    """Seconds."""
    peak: float
    """°C."""

    def with_more(self, other: Over) -> Over:
        return Over(
            self.sensor, min(self.start, other.start), round(self.length + other.length, 1), max(self.peak, other.peak)
        )


class Lack(NamedTuple):
    """What the readings lack: a kind of `floor.figures.soak` or `floor.evidence.logger_file`, or in the future."""

    kind: str
    sensor: str
    """Empty for several, or the whole file."""
    at: float | None
    """When first, in seconds since 1970."""
    amount: float
    """As the kind says; of several, their sum."""
    times: int = 1

    def with_more(self, other: Lack) -> Lack:
        return self._replace(amount=self.amount + other.amount, times=self.times + other.times)


@dataclass(frozen=True, slots=True)
class SoakOutcome:
    """What a record says of a soak."""

    total: float
    """Seconds at temperature."""
    start: float | None
    readings: int
    sensors: tuple[str, ...]
    """The first few by name."""
    many: int
    """How many there are."""
    shortest: tuple[str, float] | None
    """The sensor that was at temperature for the shortest time, and its seconds; None if one alone counts."""
    last: tuple[str, float] | None
    """The sensor whose readings end first, and when, in seconds since 1970; None in old records."""
    over: tuple[Over, ...]
    lacks: tuple[Lack, ...]


def read_outcome(values: Mapping[str, Any]) -> SoakOutcome | None:
    """What the values of a proof say; None if they say nothing, or what no readings can give: it may be forged."""
    soak = values.get("soak")
    if not (isinstance(soak, dict) and _is_soak(soak)):
        return None
    return SoakOutcome(
        total=soak["total"],
        start=soak["start"],
        readings=soak["readings"],
        sensors=tuple(soak["sensors"]),
        many=soak.get("many", len(soak["sensors"])),
        shortest=tuple(soak["shortest"]) if soak.get("shortest") else None,
        last=tuple(soak["last"]) if soak.get("last") else None,
        over=tuple(Over(*one) for one in soak["over"]),
        lacks=tuple(Lack(*one) for one in soak["lacks"]),
    )


def _is_soak(soak: Mapping[str, Any]) -> bool:
    start, many, shortest = soak.get("start"), soak.get("many", 0), soak.get("shortest")
    if not (_is_time(soak.get("total")) and (start is None or _is_time(start))):
        return False
    if any(one is not None and not _is_sensor_time(one) for one in (shortest, soak.get("last"))):
        return False
    lists = _is_list(soak.get("sensors"), str) and _is_list(soak.get("over"), list)
    if not (lists and _is_list(soak.get("lacks"), list) and _is_count(soak.get("readings")) and _is_count(many)):
        return False
    return all(map(_is_over, soak["over"])) and all(map(_is_lack, soak["lacks"]))


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and -LATEST <= value <= LATEST


def _is_time(value: Any) -> bool:
    """Seconds since 1970, or of a span."""
    return _is_number(value) and 0 <= value <= LATEST


def _is_count(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= LATEST


def _is_list(value: object, of: type) -> bool:
    return isinstance(value, list) and all(isinstance(one, of) for one in value)


def _is_sensor_time(row: object) -> bool:
    return isinstance(row, list) and len(row) == 2 and isinstance(row[0], str) and _is_time(row[1])


def _is_over(row: Sequence[Any]) -> bool:
    if len(row) != 4 or not isinstance(row[0], str) or not _is_time(row[1]):
        return False
    return _is_time(row[2]) and _is_number(row[3])


def _is_lack(row: Sequence[Any]) -> bool:
    if not 4 <= len(row) <= 5 or not (isinstance(row[0], str) and isinstance(row[1], str)):
        return False
    timed = row[2] is None or _is_time(row[2])
    return timed and _is_time(row[3]) and all(map(_is_count, row[4:]))


def find_longest_gap(gate: Soaked) -> float:
    """Most seconds between two readings that still prove the time between."""
    return gate.longest_gap.base if gate.longest_gap is not None else LONGEST_GAP


def add_unread_end(gate: Soaked, outcome: SoakOutcome, ended: datetime | None) -> SoakOutcome:
    """The outcome once the cycle has ended: after the last reading the pieces may have been too hot unseen."""
    if outcome.last is None or ended is None:
        return outcome
    sensor, at = outcome.last
    unread = ended.timestamp() - at
    if unread <= find_longest_gap(gate):
        return outcome
    return replace(outcome, lacks=(*outcome.lacks, Lack(END_UNREAD, sensor, at, round(unread, 1))))


def describe_unread_end(gate: Soaked, outcome: SoakOutcome, ended: datetime | None, now: Moment) -> str:
    """How long the cycle went on after the last reading; empty where the readings reach its end."""
    lacks = add_unread_end(gate, outcome, ended).lacks[len(outcome.lacks) :]
    return "; ".join(_describe_lack(outcome, one, now) for one in lacks)


def format_temperature(gate: Soaked, celsius: float) -> str:
    """A temperature in °C, in the unit of the limits."""
    return f"{find_temperature_scale(gate.low.unit).from_celsius(celsius):.4g} {gate.low.unit}"


def describe_soak(gate: Soaked, values: Mapping[str, Any], outcome: SoakOutcome, now: Moment) -> str:
    """What was measured, and what the readings lack."""
    return "; ".join([describe_measured(gate, values, outcome, now), *list_lacks(outcome, now)])


def describe_measured(gate: Soaked, values: Mapping[str, Any], outcome: SoakOutcome, now: Moment) -> str:
    """``3 h 05 of 3 h 00 at temperature from 10:05 (all sensors, bake.csv 1a2b3c4d)``; if it was too short, also which
    sensor was at temperature for the shortest time."""
    said = f"{format_span(outcome.total)} of {format_span(gate.time.base)} at temperature"
    said += _say_source(gate, values, outcome, now)
    if outcome.shortest is None or outcome.total >= gate.time.base:
        return said
    return f"{said}; {outcome.shortest[0]} shortest ({format_span(outcome.shortest[1])})"


def format_soak_evidence(gate: Soaked, values: Mapping[str, Any], outcome: SoakOutcome, now: Moment) -> str:
    """The same with the time last: a walk cuts evidence at its beginning."""
    source = _say_source(gate, values, outcome, now).strip()
    return "; ".join([*list_lacks(outcome, now), source, f"{format_span(outcome.total)} at temperature"])


def _say_source(gate: Soaked, values: Mapping[str, Any], outcome: SoakOutcome, now: Moment) -> str:
    """`` from 10:05 (all sensors, bake.csv 1a2b3c4d)``."""
    since = f" from {_clock(outcome.start, now)}" if outcome.start is not None else ""
    how = [gate.by if outcome.many > 1 else format_count(outcome.readings, "reading"), _name_file(values)]
    return f"{since} ({', '.join(filter(None, how))})"


def _name_file(values: Mapping[str, Any]) -> str:
    file, sha256 = values.get("file"), values.get("sha256")
    return f"{file} {sha256[:8]}" if isinstance(file, str) and isinstance(sha256, str) else ""


def is_from_file(values: Mapping[str, Any]) -> bool:
    """Whether a logger's file gave these values, and nobody typed them."""
    return bool(_name_file(values))


def describe_over_temperature(gate: Soaked, outcome: SoakOutcome, now: Moment) -> str:
    """How long and how far it was above the limit, in a sentence; empty where it was not."""
    if not outcome.over:
        return ""
    longest = max(outcome.over, key=lambda one: one.length)
    first, peak = min(one.start for one in outcome.over), max(one.peak for one in outcome.over)
    where = f"{longest.sensor} " if outcome.many > 1 and longest.sensor else ""
    length = f" for {format_span(longest.length)}" if longest.length else ""
    others = len({one.sensor for one in outcome.over}) - 1
    more = f" (and {format_count(others, 'other sensor')})" if others else ""
    said = f"{where}above {gate.high}{length}{more}, first at {_clock(first, now)}"
    return f"{said}, highest {format_temperature(gate, peak)}"


LACKS = {
    "no readings": "{sensor}no readings",
    "no number": "{sensor}readings that are not numbers left out: {amount:.0f}",
    "no temperature": "{sensor}readings without a temperature: {amount:.0f}, from {at} (not counted)",
    "gap": "{sensor}no readings for {span} {where}: not counted",
    "hour skipped": "{sensor}no readings for {span} {where}: not counted (clock change?)",
    "out of order": "{sensor}read out of order at {at}{more}",
    "hour repeated": "{sensor}clocks went back at {at}{more}",
    "sparse": "{sensor}few readings at temperature: {amount:.0f}",
    END_UNREAD: "{sensor}no readings after {at}: the last {span} of the cycle unread",
    IN_FUTURE: "readings in the future left out: {amount:.0f} (check the logger's clock)",
}
"""What readings lack, in words."""
FILE_LACKS = {
    "line unread": "file lines not read: {amount:.0f}",
    "cells off": "{amount:.0f} file lines skipped: wrong column count",
    "header again": "column headings repeated in mid-file: {amount:.0f} (logger restarted?)",
    "no value": "{sensor}empty cells: {amount:.0f}",
    "no number": "{sensor}cells that are not numbers left out: {amount:.0f}",
    "out of range": "{sensor}readings out of range left out: {amount:.0f}",
    "column passed over": "{sensor}not a temperature, left out",
    "unit unknown": "{sensor}unit not known, left out",
    "unit conflict": "{sensor}readings in another unit left out: {amount:.0f}",
    "date order assumed": "order of day and month not clear: month read first",
    "encoding guessed": "text encoding guessed",
    "out of order": "file lines out of order: {amount:.0f}",
    "hour repeated": "file lines after the logger's clock went back: {amount:.0f}",
    "hour ambiguous": "readings in the repeated hour (clock set back): {amount:.0f}",
    "hour skipped": "file lines in the skipped hour (clock set forward): {amount:.0f}",
}
"""The same for a logger's file; the amount is how many lines or cells. A file without readings is refused before."""


def list_lacks(outcome: SoakOutcome, now: Moment) -> list[str]:
    """What the readings lack, each thing in words."""
    return list(dict.fromkeys(_describe_lack(outcome, one, now) for one in outcome.lacks))


def _describe_lack(outcome: SoakOutcome, one: Lack, now: Moment) -> str:
    words = FILE_LACKS if one.at is None and one.kind in FILE_LACKS else LACKS
    if one.kind not in words:  # from a newer program, or damaged
        return sanitize(" ".join(filter(None, (one.sensor, one.kind))), 80)
    when = _clock(one.at, now) if one.at is not None else ""
    named = one.sensor if outcome.many > 1 or one.sensor not in outcome.sensors else ""
    return words[one.kind].format(
        sensor=f"{named or 'several'}: " if named or not one.sensor else "",
        at=when,
        more=f" and {one.times - 1} more" if one.times > 1 else "",
        where=f"before {when}" if one.times == 1 else f"in {one.times} gaps, the first before {when}",
        amount=one.amount,
        span=format_span(one.amount),
    )


def _clock(at: float, now: Moment) -> str:
    return format_clock(datetime.fromtimestamp(at, now.at.tzinfo), now.at)
