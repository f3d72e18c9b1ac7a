"""Safety: a booth is clear before anybody breathes in it; warnings of checks that can be bypassed or are not repeated,
of steps and cautions that the kind of work needs and that are not there, and of an oven whose plate is not stated."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from floor.checklist.consumables import ByArea
from floor.checklist.equipment import Station
from floor.checklist.findings import Finding
from floor.checklist.gate_base import Lapse
from floor.checklist.gates import Confirmed, Cured, Gate, WorkHeld
from floor.checklist.line_numbers import Path
from floor.checklist.model import Checklist, Subject
from floor.checklist.operation import BEFORE_CYCLE, Do, Operation
from floor.checklist.rules.names import iterate_steps
from floor.checklist.rules.warnings import is_cut
from floor.checklist.usual_lapses import find_usual_causes, find_usual_lapses

GRAVE = ("DANGER", "WARNING")
"""Signal words for hazards that can kill or seriously injure (ANSI Z535.4)."""


def check_safety_steps(checklist: Checklist) -> Iterator[Finding]:
    for path, _, step in iterate_steps(checklist):
        if not isinstance(step, Do) or not step.skip:
            continue
        words = {checklist.cautions[name].word for name in step.cautions if name in checklist.cautions}
        for word in [word for word in GRAVE if word in words][:1]:
            right = "write `skip = false`, or move the caution to the step that it is about"
            yield Finding(path, f"a step under a {word} may be skipped with a reason", right)


def check_safety_lapses(checklist: Checklist) -> Iterator[Finding]:
    """What protects a person when the cycle starts was done before it; events since then may have undone it."""
    for path, operation, step in iterate_steps(checklist):
        if operation.cycle and step.at in BEFORE_CYCLE and _is_for_safety(checklist, step) and not _list_causes(step):
            at = "" if step.at == "load" or not isinstance(step, Do) else '`at = "load"` and '
            right = f'write {at}`lapses_on` with what undoes it, such as `["power lost", "refixtured"]`'
            yield Finding(path, "protects a person at the start, but nothing voids it", right)


def _is_for_safety(checklist: Checklist, step: Do | Gate) -> bool:
    """Whether nobody may pass it over and it is done under a caution, or it holds the work."""
    grave = any(one in checklist.cautions and checklist.cautions[one].word in GRAVE for one in step.cautions)
    return isinstance(step, WorkHeld) or (isinstance(step, Do | Confirmed) and _is_never_passed(step) and grave)


def _list_causes(step: Do | Gate) -> frozenset[Lapse]:
    stated = getattr(step, "lapses_on", None)
    if stated is not None:
        return frozenset(stated)
    return find_usual_lapses(step) if isinstance(step, Do) else frozenset(find_usual_causes(step))


def check_station_steps(checklist: Checklist) -> Iterator[Finding]:
    """Steps between a person and a machine or a booth are never passed over, whatever their cautions. What they say
    nobody reads here: their place tells.
    """
    booths = {station.id for station in checklist.stations if station.kind == "booth"}
    for i, operation in enumerate(checklist.operations):
        if operation.station in booths:
            yield from _find_no_respirator(checklist, operation, ("operations", i))
        if operation.cycle and is_cut(checklist, operation):
            yield from _find_open_guard(operation, ("operations", i))


def _find_no_respirator(checklist: Checklist, operation: Operation, path: Path) -> Iterator[Finding]:
    """Whoever breathes in a booth wears a respirator: 29 CFR 1910.134, from memory."""
    kept = {name for step in operation.steps if _is_never_passed(step) for name in step.cautions}
    about = {about for name, caution in checklist.cautions.items() if name in kept for about in caution.about}
    if "breathing" in _list_subjects(checklist, operation) - about:
        right = "write `skip = false` on the step with that caution"
        yield Finding(path, "no step that must be done is about breathing", right)


def _find_open_guard(operation: Operation, path: Path) -> Iterator[Finding]:
    """A guard is shut last before the start; hands go in once all stands still: 29 CFR 1910.212(a)(1), from memory."""
    numbered = list(enumerate(operation.steps))
    before = [(j, step) for j, step in numbered if step.at == "load" and isinstance(step, Do | Confirmed)]
    plain = [n for n, (_, step) in enumerate(before) if isinstance(step, Do)]
    last = before[plain[-1] if plain else 0 :]
    if not any(_is_never_passed(step) for _, step in last):
        right = "end the load's steps with one that shuts the door or guard, with `skip = false`"
        yield Finding(_place(path, last), "no step that must be done comes last before the start", right)
    after = [(j, step) for j, step in numbered if step.at == "after"][:1]
    if not any(isinstance(step, Do | Confirmed) and _is_never_passed(step) for _, step in after):
        right = "put one first that waits until the machine stands still, with `skip = false`"
        yield Finding(_place(path, after), "no step that must be done comes first after the cycle", right)


def _place(path: Path, steps: Sequence[tuple[int, Do | Gate]]) -> Path:
    return (*path, "steps", steps[0][0]) if steps else path


def _is_never_passed(step: Do | Gate) -> bool:
    return not step.skip if isinstance(step, Do) else step.waive == "never"


def check_booth_cleared(checklist: Checklist) -> Iterator[Finding]:
    """Nobody is in a booth without air before its clearance time is over (HSE, COSHH essentials MR2, from memory)."""
    booths = {station.id for station in checklist.stations if station.kind == "booth"}
    for i, operation in enumerate(checklist.operations):
        clocks = {one.id for one in operation.clocks if any(window.earliest is not None for window in one.windows)}
        waited = {step.clock for step in operation.steps if isinstance(step, Cured) and step.at in ("cycle", "after")}
        if not booths.isdisjoint(operation.stations) and clocks.isdisjoint(waited):
            wrong = "no gate waits until the booth is clear"
            right = 'add a clock with `earliest`, and `gate = "cured"` on it; 30 min until a smoke trial says less'
            yield Finding(("operations", i), wrong, right)


BY_STATION: dict[str, tuple[Subject, ...]] = {"booth": ("eyes", "breathing", "fire"), "oven": ("fire", "burns")}
"""Kind of station → what its work needs a caution about: 29 CFR 1910.107 and 1910.134 (spraying), NFPA 86 (ovens)."""
AT_A_CUT: tuple[Subject, ...] = ("eyes", "entanglement")
"""29 CFR 1910.133, eyes; common practice: no gloves, rings, sleeves or hair at a turning spindle."""
WITH_COOLANT = ("mist", "flood")


def check_hazards_cautioned(checklist: Checklist) -> Iterator[Finding]:
    kinds = {station.id: station.kind for station in checklist.stations}
    for i, operation in enumerate(checklist.operations):
        needed = [*BY_STATION.get(kinds.get(operation.station, ""), ())]
        needed += AT_A_CUT if is_cut(checklist, operation) else ()
        needed += ("coolant",) if operation.coolant in WITH_COOLANT else ()
        missing = [subject for subject in needed if subject not in _list_subjects(checklist, operation)]
        if missing:
            wrong = f"no caution here is about {' or '.join(missing)}"
            right = f"give a step a caution with `about = {list(missing)}`".replace("'", '"')
            yield Finding(("operations", i), wrong, right)


def _list_subjects(checklist: Checklist, operation: Operation) -> set[Subject]:
    names = {name for step in operation.steps for name in step.cautions}
    names.update(*operation.event_cautions.values())
    return {about for name, caution in checklist.cautions.items() if name in names for about in caution.about}


def check_oven_plates(checklist: Checklist) -> Iterator[Finding]:
    """What was sprayed, or coated with solvent, goes only into an oven whose plate allows it (NFPA 86)."""
    stations = {station.id: station for station in checklist.stations}
    coated = {op for one in checklist.consumables if isinstance(one, ByArea) and one.solids for op in one.ops}
    wet = False
    for i, operation in enumerate(checklist.operations):
        station = stations.get(operation.station)
        if station is None:
            continue
        lacks = _list_missing_figures(station) if wet and station.kind == "oven" else []
        if lacks:
            wrong = f"heats a coat that may hold solvent, but the plate of {station.name} is incomplete"
            right = f"add {', '.join(f'`{one}`' for one in lacks)} to the station, or use another oven"
            yield Finding(("operations", i, "station"), wrong, right)
        wet = wet or station.kind == "booth" or operation.op in coated


def _list_missing_figures(oven: Station) -> list[str]:
    figures = {
        'oven_class = "A"': oven.oven_class == "A",
        "solvent_limit": oven.solvent_limit,
        "exhaust": oven.exhaust,
        "temperature_limit": oven.temperature_limit,
    }
    return [name for name, stated in figures.items() if not stated]


RULES = (check_booth_cleared,)
ADVISED = (
    check_safety_steps,
    check_station_steps,
    check_safety_lapses,
    check_hazards_cautioned,
    check_oven_plates,
)
