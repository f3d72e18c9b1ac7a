"""What a newer checklist may ask less of: each field of a checklist that is compared, and which direction is weaker.

Not compared: the order of steps and operations, wording of details, accept texts of the same check (a new text is
another check), drawings and sources, tool cards, times for the plan, consumables, reasons, carriers, whether an
operation has a cycle, what a station is, what a rework rides on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from math import inf
from typing import Any, NamedTuple, get_args

from floor.checklist.check_gates import ByPlan, EveryNth, InspectionLevel
from floor.checklist.model import SIGNAL_WORDS
from floor.checklist.operation import PHASES, Repeat, Window
from floor.checklist.process_gates import DryingStage
from floor.checklist.step_references import describe_repeat
from floor.checklist.units import Measure, read_measure, to_base
from floor.checklist.usual_lapses import find_lapses_if_never_skipped, find_usual_causes

Weaker = Callable[[Any, Any], bool]
"""Whether the second of two values asks less than the first."""


class Row(NamedTuple):
    """One thing that is compared."""

    kind: str
    """What is less, in words."""
    field: str
    weaker: Weaker
    usual: Callable[[Any], Any] = lambda part: None
    """What holds where the field is left out."""


_SAMPLES = {"all": inf, "first and last": 2}
"""How many pieces a sample in words takes."""


def takes_fewer(was: Any, now: Any) -> bool:
    """A sample takes fewer pieces than one of the same kind, or than all."""
    if isinstance(was, EveryNth) and isinstance(now, EveryNth):
        return now.every > was.every
    if isinstance(was, ByPlan) and isinstance(now, ByPlan):
        levels = get_args(InspectionLevel)
        order = [*levels[3:], *levels[:3]]  # the special levels take the fewest
        lower = order.index(now.level) < order.index(was.level)
        return now.aql > was.aql or lower or (now.reduced and not was.reduced)
    if isinstance(now, EveryNth | ByPlan):
        return bool(was == "all")
    return not isinstance(was, EveryNth | ByPlan) and bool(_SAMPLES.get(now, now) < _SAMPLES.get(was, was))


def is_sampled_otherwise(was: Any, now: Any) -> bool:
    """A sample of another kind, which cannot be compared; nothing takes more than all."""
    depends = [sample if isinstance(sample, EveryNth | ByPlan) else None for sample in (was, now)]
    return type(depends[0]) is not type(depends[1]) and "all" not in (was, now)


def _amount(value: Any) -> tuple[str, float]:
    """What it is of, and how much."""
    return to_base(value) if isinstance(value, Measure) else ("", value)


def falls(was: Any, now: Any) -> bool:
    """A least value is lower, or gone; one in another kind of unit cannot be compared."""
    if was is None or now is None:
        return was is not None
    (kind, before), (other, after) = _amount(was), _amount(now)
    return kind != other or after < before


def rises(was: Any, now: Any) -> bool:
    """A most value is higher, or gone."""
    if was is None or now is None:
        return was is not None
    (kind, before), (other, after) = _amount(was), _amount(now)
    return kind != other or after > before


def is_repeated_less(was: Any, now: Any) -> bool:
    """Fewer times, or ended by something else, which nobody can compare."""
    return was is not None and (now is None or now.times < was.times or now.until != was.until)


def is_allowed(was: Any, now: Any) -> bool:
    """What was not allowed is, or sooner."""
    return now is not None and (was is None or falls(was, now))


def is_off(was: Any, now: Any) -> bool:
    return bool(was) and not now


def is_on(was: Any, now: Any) -> bool:
    return bool(now) and not was


def is_changed(was: Any, now: Any) -> bool:
    return bool(was != now)


def is_another(was: Any, now: Any) -> bool:
    """What is named now was not."""
    return bool(now) and was != now


_GRIP = {
    **dict.fromkeys(("clamps", "vise", "fixture", "collet", "chuck"), 0),
    **dict.fromkeys(("vacuum", "magnet"), 1),
    **dict.fromkeys(("tape", "adhesive"), 2),
}
"""Workholding → how easily it lets go: what is bolted, what needs power or a clean face, what is stuck on (common
practice, no source)."""


def holds_less(was: Any, now: Any) -> bool:
    return was in _GRIP and now in _GRIP and _GRIP[now] > _GRIP[was]


def is_wetter(was: Any, now: Any) -> bool:
    """Coolant on a cut that was stated to have none."""
    return was in ("dry", "air") and now in ("mist", "flood")


def lacks_some(was: Iterable[Any], now: Iterable[Any]) -> bool:
    return not set(was) <= set(now)


def _later_in(order: Sequence[Any]) -> Weaker:
    return lambda was, now: was in order and now in order and order.index(now) > order.index(was)


def _earlier_in(order: Sequence[Any]) -> Weaker:
    return lambda was, now: was in order and (now not in order or order.index(now) < order.index(was))


def _admits_more(was: Sequence[Window], now: Sequence[Window]) -> bool:
    """Whether a clock lets go on at a time at which it did not."""
    return not all(any(_is_within(one, window) for window in was) for one in now)


def _is_within(one: Window, window: Window) -> bool:
    earliest = one.earliest.base if one.earliest is not None else 0.0
    latest = one.latest.base if one.latest is not None else inf
    least = window.earliest.base if window.earliest is not None else 0.0
    most = window.latest.base if window.latest is not None else inf
    return least <= earliest and latest <= most


def _none(part: Any) -> Measure:
    return read_measure("0 mm", "length")


def _find_most_humid(gate: Any) -> Measure:
    from floor.figures.drying import MOST_HUMID  # opening a shop needs no coatings

    return read_measure(f"{MOST_HUMID:g} %", "share")


BAND = (Row("lower limit lowered", "low", falls), Row("upper limit raised", "high", rises))
GAUGE = (Row("gauge not named", "gauge", is_off), Row("serial number not asked", "serial", is_off))
CHECKS = (
    *BAND,
    *GAUGE,
    Row("check may be waived", "waive", _later_in(("never", "lead and second", "lead"))),
    Row("asked later", "at", _later_in(PHASES)),
    Row("asked less often", "per", _later_in(("load", "setup", "shift", "batch"))),
    Row("lapses on less", "lapses_on", lacks_some, find_usual_causes),
    Row("new lot not asked", "again_for", lacks_some),
    Row("sample smaller", "sample", takes_fewer),
    Row("sampled otherwise", "sample", is_sampled_otherwise),
    Row("no piece to decide on", "of_piece", is_off),
    Row("second person not asked", "independent", is_off),
    Row("second person not asked", "second", is_off),
    Row("self-check sooner", "self_after", is_allowed),
    Row("date not asked", "use_by", is_off, lambda gate: True),
    Row("length not asked", "length", is_off),
    Row("tilt wider", "flat", rises),
    Row("probings may differ by more", "repeats", rises),
    Row("held by less", "by", holds_less),
    Row("holds wet, it says", "holds_wet", is_on),
    Row("cut through allowed", "through", is_on),
    Row("more pieces held", "pieces", rises),
    Row("soak shorter", "time", falls),
    Row("gap longer", "longest_gap", rises, lambda gate: read_measure("15 min", "time")),
    Row("sensor rule looser", "by", _later_in(("all sensors", "last sensor", "control sensor"))),
    Row("set point not asked", "set_point", is_off),
    Row("stage earlier", "stage", _earlier_in(get_args(DryingStage))),
    Row("not again in rework", "once", is_on),
    Row("window ends otherwise", "until", is_another),
    Row("damper air allowed", "humidity_high", rises, _find_most_humid),
    Row("reading good for longer", "good_for", rises),
)
"""Of a gate: the fields that it has."""
STEPS = (
    Row("step may be skipped", "skip", is_on),
    Row("asked later", "at", _later_in(PHASES)),
    Row("lapses on less", "lapses_on", lacks_some, find_lapses_if_never_skipped),
    Row("not needed at times", "while_running", is_on),
    Row("program goes on there", "cycle", is_off),
    Row("fewer people", "people", falls),
    Row("repeated less", "repeat", is_repeated_less),
    Row("not at the same time", "same_time_as", is_off),
)
"""Of a step that might not be skipped."""
CHARACTERISTICS = (*BAND, *GAUGE)
CLOCKS = (
    Row("window wider", "windows", _admits_more),
    Row("clock starts otherwise", "starts", is_changed),
    Row("one clock for all", "per", _later_in(("piece", "batch"))),
    Row("cold air not counted", "temperature", falls),
    Row("damp air not counted", "humidity", rises),
)
OPERATIONS = (
    Row("passed in rework only", "rework_only", is_on),
    Row("may run unattended", "may_outlast_shift", is_on),
    Row("may be interrupted", "in_one_go", is_off),
    Row("checked again later", "recheck_after", rises),
    Row("confirmed afterwards", "do_confirm", lambda was, now: not set(now) <= set(was)),
    Row("may be done in another order", "any_order", is_on),
    Row("program not read", "program_file", is_off),
    Row("coolant not stated", "coolant", is_off),
    Row("coolant on a dry cut", "coolant", is_wetter),
    Row("cut through not stated", "through", is_off),
)
PROGRAM_LIMITS = (
    Row("Z low lowered", "z_low", falls),
    Row("top of the work lowered", "z_top", falls, _none),
    Row("rapids lower", "rapid_z_low", falls, lambda limits: limits.z_top or _none(limits)),
    Row("X low lowered", "x_low", falls),
    Row("X high raised", "x_high", rises),
    Row("Y low lowered", "y_low", falls),
    Row("Y high raised", "y_high", rises),
    Row("any length offset", "any_length_offset", is_on),
)
STATIONS = (
    Row("speed limit raised", "speed_limit", rises),
    Row("power limit raised", "power_limit", rises),
    Row("temperature limit raised", "temperature_limit", rises),
    Row("oven class changed", "oven_class", is_changed),
    Row("solvent limit raised", "solvent_limit", rises),
    Row("exhaust lowered", "exhaust", falls),
    Row("people less qualified", "qualified", lacks_some),
)
"""Of the station of an operation, whichever it is now."""
REWORKS = (Row("more passes", "passes", rises),)
CAUTIONS = (Row("lower signal word", "word", _later_in(SIGNAL_WORDS)),)


def find_weaker_fields(rows: Iterable[Row], was: Any, now: Any) -> Iterator[tuple[str, str, str]]:
    """What asks less now, as (kind, before, now), the values in words; rows of fields that both do not have are
    passed over.
    """
    for row in rows:
        if hasattr(was, row.field) and hasattr(now, row.field):
            before, after = (_read(row, part) for part in (was, now))
            if row.weaker(before, after):
                yield row.kind, _say(before), _say(after)


def _read(row: Row, part: Any) -> Any:
    given = getattr(part, row.field)
    return row.usual(part) if given is None else given


def _say(value: Any) -> str:
    """A value in words; a switch has none."""
    if isinstance(value, bool):
        return ""
    if isinstance(value, Repeat):
        return describe_repeat(value)
    if isinstance(value, Window):
        ends = (("from", value.earliest), ("to", value.latest))
        return " ".join(f"{word} {end}" for word, end in ends if end is not None)
    if isinstance(value, Iterable) and not isinstance(value, str | Measure):
        return ", ".join(sorted(map(_say, value))) or "nothing"
    return str(value) if value not in (None, "") else "nothing"
