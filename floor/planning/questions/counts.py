"""Questions about more or fewer carriers, people, machines, places, pieces."""

from __future__ import annotations

import re
from dataclasses import replace

from floor.batch.state import Batch
from floor.checklist.equipment import MOST_PIECES
from floor.figures.overtime import change_crew_size
from floor.planning.planned_loads import BatchChange
from floor.planning.problem import Crew
from floor.planning.questions.base import QuestionContext, WhatIfQuestion, find_batch, find_only_batch, format_of_batch
from floor.planning.questions.days import NotUnderstood
from floor.planning.questions.parse_words import PIECES, build_unknown_name_error, read_name, read_number
from floor.planning.questions.stations import find_station
from floor.planning.scenario import Scenario
from floor.text import format_count

PEOPLE = ("person", "persons", "people", "hand", "hands", "operator", "operators", "pair hands", "man", "men")


def read_how_many(asking: QuestionContext, text: str) -> WhatIfQuestion | None:
    """``2 more pallets``, ``1 person less``, ``second router``, ``1 more place at oven``, ``12 more pieces``."""
    place = re.fullmatch(r"(.*?\bplaces?\b.*?) (?:at|in|on) (?:the )?(.+)", text)
    of = re.fullmatch(r"(.+\bpieces?) of (\S+)", text)
    number = read_number(place[1] if place else of[1] if of else text)
    if number is None:
        return None
    more, what = number.more, number.what
    if place:
        return _places(asking, find_station(asking, place[2]), more, more)
    if what in PEOPLE:
        return _people(asking, more)
    if what in PIECES:
        return _pieces(
            asking, more, find_batch(asking, of[2]) if of else find_only_batch(asking, "12 more pieces of {}")
        )
    carrier = read_name(what, asking.names.carrier)
    if carrier is not None:
        return _carriers(asking, carrier, more)
    station = read_name(what, asking.names.station)
    if station is not None:
        name = asking.names.station[station]
        each = max(
            one.runs_at_once for batch in asking.case.batches for one in batch.checklist.stations if one.id == station
        )
        return _places(asking, name, more, more * each, whole=True)
    raise build_unknown_name_error(
        what or text, ["person", *asking.names.carrier.values(), *asking.names.station.values()]
    )


def _carriers(asking: QuestionContext, kind: str, more: int) -> WhatIfQuestion:
    name = asking.names.carrier[kind]
    if more > 0:
        return WhatIfQuestion(_many(more, name), lambda case: case.more_carriers(kind, more), 1)
    loaded = sum(load.carrier == kind for batch in asking.case.batches for load in batch.list_live_loads())
    there, least = _count(asking.case, kind), max(loaded, 1)

    def fewer(case: Scenario) -> Scenario:
        if _count(case, kind) + more >= least:
            return case.more_carriers(kind, more)
        most = f"at most {there - least} fewer" if there > least else "none fewer"
        carry = f", {loaded} under a load now" if loaded else ""
        why = ", until one is empty" if loaded else "" if there > least else ", as the work needs one"
        raise NotUnderstood(f"there {'is' if there == 1 else 'are'} {format_count(there, name)}{carry}: {most}{why}")

    return WhatIfQuestion(_many(more, name), fewer, -1, rank=1)


def _count(case: Scenario, kind: str) -> int:
    """The plan's count if checklists differ."""
    return min(one.count for batch in case.batches for one in batch.checklist.carriers if one.id == kind)


def _people(asking: QuestionContext, more: int) -> WhatIfQuestion:
    hands = asking.case.crew.hands
    if hands + more < 0:
        raise NotUnderstood(f"there {'is 1 person' if hands == 1 else f'are {hands} people'} on a shift")
    text = f"{abs(more)} {'person' if abs(more) == 1 else 'people'} {'more' if more > 0 else 'fewer'}"
    return WhatIfQuestion(
        text,
        lambda case: replace(
            case, crew=Crew(change_crew_size(case.crew.calendar, more), max(0, case.crew.hands + more))
        ),
        1 if more > 0 else -1,
        rank=4,
    )


def _places(asking: QuestionContext, station: str, more: int, places: int, whole: bool = False) -> WhatIfQuestion:
    if more < 0:
        raise NotUnderstood(f'fewer of {station} cannot be asked. Write "{station} down until" and the day')
    text = _many(more, station) if whole else f"{format_count(more, 'more place')} at {station}"
    return WhatIfQuestion(
        text, lambda case: replace(case, places={**case.places, station: case.places.get(station, 0) + places}), 1
    )


def _pieces(asking: QuestionContext, more: int, batch: Batch) -> WhatIfQuestion:
    if more < 0:
        raise NotUnderstood(f"pieces already started cannot be taken back. Write {format_count(-more, 'more piece')}")
    room = MOST_PIECES - batch.started
    if more > room:
        raise NotUnderstood(f"a batch holds {MOST_PIECES} pieces: at most {room} more")
    return WhatIfQuestion(
        f"{format_count(more, 'more piece')}{format_of_batch(asking, batch)}",
        lambda case: case.changed(batch.id, BatchChange(more=more)),
        -1,
    )


def _many(more: int, name: str) -> str:
    many = format_count(abs(more), name).split(" ", 1)
    return f"{many[0]} {'more' if more > 0 else 'fewer'} {many[1]}"
