"""The shop's own record: who may enter what, and the PINs that prove it; its gauges.

A PIN is stored as a scrypt hash. Wrong tries are entries too, so all terminals slow down together.
"""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Iterable
from dataclasses import field
from datetime import datetime

from floor.batch.command import Refused
from floor.batch.events import (
    BackInService,
    ConditionCleared,
    ConditionReported,
    Event,
    OutOfService,
    make_drafts,
    read_event,
)
from floor.batch.gauge import Gauge
from floor.batch.open_items import Conditions, Outage, fold_condition
from floor.batch.proof import OffsetPlace, ProbedLast, ProbedPlace
from floor.dataclass import dataclass
from floor.entry import Draft, Entry, Moment
from floor.shop.closed_gauge_uses import SuspectAfterwards
from floor.shop.events import (
    BatchGivenUp,
    CarrierLeft,
    GaugeFoundSuspect,
    GaugeWithdrawn,
    LessonTaken,
    PartOpened,
    PersonAdded,
    PersonChanged,
    PinRefused,
    PinSet,
    SignedIn,
    ToolChanged,
    ToolsLeft,
)
from floor.shop.gauge_register import fold_gauge
from floor.shop.qualifications import Register, fold_qualifications
from floor.text import format_span, sanitize

SCRYPT: dict[str, int] = {"n": 2**14, "r": 8, "p": 1, "maxmem": 64 * 2**20}
"""Cost of a PIN's hash: RFC 7914 parameters for interactive use (from memory)."""
FREE_TRIES = 3
"""Wrong tries before a wait starts; it doubles from 2 s with each one more, up to 5 min (shop decision)."""


@dataclass(slots=True)
class ShopPerson:
    """One person of the shop."""

    initials: str
    name: str
    lead: bool
    left: bool = False
    salt: str = ""
    hash: str = ""
    wrong: int = 0
    last_wrong: Moment | None = None
    set_by: str = ""
    """Who else set the PIN; empty once its owner chose it."""
    set_at: datetime | None = None

    @property
    def has_pin(self) -> bool:
        return bool(self.hash)


@dataclass(frozen=True, slots=True)
class TakenLesson:
    """A value of a checklist's file that a batch taught."""

    file: str
    before: str
    after: str
    by: str
    at: datetime


@dataclass(slots=True)
class ShopRecord:
    """State of the shop's own record."""

    known: dict[str, ShopPerson] = field(default_factory=dict)
    worn: dict[tuple[str, int], float] = field(default_factory=dict)
    """(station, tool) → its wear when the batch that had it loaded left."""
    probed: dict[ProbedPlace, ProbedLast] = field(default_factory=dict)
    """What was probed last of each carrier that repeats, for batches that left."""
    newest: dict[str, str] = field(default_factory=dict)
    """Number of a part, as written → its batch opened last; the last one opened comes last."""
    stronger: dict[str, str] = field(default_factory=dict)
    """The same → an earlier batch whose checklist asked for more, if there is one."""
    opened: set[str] = field(default_factory=set)
    """The batches opened here."""
    given_up: set[str] = field(default_factory=set)
    """Those of which nothing could be brought back."""
    outages: dict[str, Outage] = field(default_factory=dict)
    """Station → why it is out of service."""
    conditions: Conditions = field(default_factory=dict)
    """A guard off, a lock on and the like, until it is cleared."""
    gauges: dict[str, Gauge] = field(default_factory=dict)
    """Serial number → the gauge."""
    qualified: Register = field(default_factory=dict)
    """What people are qualified for."""
    suspect_afterwards: dict[str, list[SuspectAfterwards]] = field(default_factory=dict)
    """Hash of the first entry of a closed or transferred batch → the gauges that proved suspect since."""
    lessons: dict[str, dict[str, TakenLesson]] = field(default_factory=dict)
    """Hash of a batch's first entry → field of the checklist's file → what was last taken into it."""

    def find_newest_and_strongest(self, part: str) -> tuple[str, str]:
        """The batches with which the next one of a part is compared; empty if the part is new."""
        same = [one for one in self.newest if fold_part_number(one) == fold_part_number(part)]
        return (self.newest[same[-1]], self.stronger.get(same[-1], self.newest[same[-1]])) if same else ("", "")

    @property
    def active(self) -> list[ShopPerson]:
        return [person for person in self.known.values() if not person.left]

    @property
    def leads(self) -> frozenset[str]:
        return frozenset(person.initials for person in self.active if person.lead)

    @property
    def has_pins(self) -> bool:
        """Whether anybody has a PIN; from then on no lead decides and nobody signs second without one."""
        return any(person.has_pin for person in self.active)


def fold_part_number(number: str) -> str:
    """``kb7`` for KB 7, KB7 and kb 7: one part, however it is written."""
    return "".join(number.split()).casefold()


def fold_shop_record(entries: Iterable[Entry], people: ShopRecord | None = None) -> ShopRecord:
    """Fold more entries into the shop's own record; other kinds are skipped."""
    people = people or ShopRecord()
    for entry in entries:
        said = read_event(entry)
        _fold_people(people, said, entry)
        _fold_stations(people, said, entry)
        fold_gauge(people.gauges, said, entry.time)
        fold_qualifications(people.qualified, said, entry)
        if isinstance(said, GaugeWithdrawn | GaugeFoundSuspect):
            _fold_suspect(people, said, entry)
        if isinstance(said, LessonTaken):
            for name, before, after in said.changes:
                taken = TakenLesson(said.file, before, after, entry.by, entry.time)
                people.lessons.setdefault(said.first, {})[name] = taken
        if isinstance(said, BatchGivenUp):
            people.given_up.add(said.batch)
        if isinstance(said, PartOpened):
            for known in (people.newest, people.stronger):
                known.pop(said.part, None)
            people.newest[said.part] = said.batch
            people.opened.add(said.batch)
            if said.strongest:
                people.stronger[said.part] = said.strongest
    return people


def _fold_suspect(people: ShopRecord, said: GaugeWithdrawn | GaugeFoundSuspect, entry: Entry) -> None:
    gauge = people.gauges[said.serial]
    for _, first, checks in said.closed:
        one = SuspectAfterwards(gauge.serial, gauge.name, said.reason, entry.by, entry.time, checks)
        people.suspect_afterwards.setdefault(first, []).append(one)


def _fold_people(people: ShopRecord, said: Event, entry: Entry) -> None:
    match said:
        case PersonAdded() as added:
            people.known[added.initials] = ShopPerson(added.initials, added.name, added.lead)
        case PersonChanged() as changed:
            person = people.known[changed.initials]
            person.name, person.lead, person.left = changed.name, changed.lead, changed.left
        case PinSet() as pin:
            person = people.known[pin.initials]
            person.salt, person.hash, person.wrong = pin.salt, pin.hash, 0
            person.set_by, person.set_at = ("" if entry.by == person.initials else entry.by), entry.time
        case PinRefused(initials=initials):
            person = people.known[initials]
            person.wrong, person.last_wrong = person.wrong + 1, Moment(entry.time, entry.boot, entry.up)
        case SignedIn(initials=initials):
            people.known[initials].wrong = 0


def _fold_stations(people: ShopRecord, said: Event, entry: Entry) -> None:
    """Their tools, and what stands there."""
    match said:
        case ToolsLeft(tools=tools):
            for station, tool, used in tools:
                people.worn[(station, tool)] = max(used, people.worn.get((station, tool), 0.0))
        case CarrierLeft() as left:
            place = OffsetPlace(left.station, left.op, left.carrier, left.number, left.offset)
            last = ProbedLast(left.at, left.values)
            known = people.probed.get(key := ProbedPlace(left.part, place))
            if known is None or known.at <= last.at:
                people.probed[key] = last
        case OutOfService() as out:
            people.outages[out.station] = Outage.read(out, entry.time)
        case BackInService(station=station):
            people.outages.pop(station, None)
        case ConditionReported() | ConditionCleared() as changed:
            fold_condition(people.conditions, changed, entry.time)
        case ToolChanged(station=station, tool=tool):
            people.worn.pop((station, tool), None)


def draft_person(
    people: ShopRecord, initials: str, name: str, lead: bool, by: str, pin: str = "", salt: bytes = b""
) -> list[Draft]:
    """Add a person, with a first PIN if one is given. The first one in a shop is a lead; a lead adds the others.

    A further lead needs a PIN at once, unless the shop has none at all.
    """
    initials = require_free_initials(people, initials)
    name = sanitize(name, 60)
    if not name:
        raise Refused("input", "a person has a name", "enter it")
    if people.known and by not in people.leads:
        raise Refused("authority", "people are entered by a lead", f"ask {', '.join(sorted(people.leads))}")
    if lead and people.has_pins and not pin:
        raise Refused("input", "a lead decides by a PIN", "enter their first one", field="pin")
    added = make_drafts(PersonAdded(initials=initials, name=name, lead=lead or not people.known))
    return [*added, *make_drafts(_set_pin(initials, pin, salt))] if pin else added


def require_free_initials(people: ShopRecord, text: str) -> str:
    """Initials as stored, if nobody has them."""
    initials = sanitize(text, 8).upper()
    if not (2 <= len(initials) <= 4 and initials.isalnum()) or initials.isnumeric():
        raise Refused("input", "initials are 2 to 4 letters or digits, at least one a letter", "enter them again")
    if initials in people.known:
        raise Refused("input", f"{initials} is taken by {people.known[initials].name}", "choose other initials")
    return initials


def draft_person_change(
    people: ShopRecord, initials: str, by: str, *, name: str, lead: bool, left: bool
) -> list[Draft]:
    """Change name or role, or make a person inactive or active again."""
    person = people.known.get(sanitize(initials, 8).upper()) or require_person(people, initials)
    name = sanitize(name, 60)
    if not name:
        raise Refused("input", "a person has a name", "enter it")
    if by not in people.leads:
        raise Refused("authority", "people are changed by a lead", f"ask {', '.join(sorted(people.leads))}")
    if people.leads == {person.initials} and (left or not lead):
        raise Refused("authority", f"{person.initials} is the only lead", "make somebody else a lead first")
    if lead and not person.lead and people.has_pins and not person.has_pin:
        raise lack_pin(person)
    return make_drafts(PersonChanged(initials=person.initials, name=name, lead=lead, left=left))


def draft_pin(people: ShopRecord, initials: str, pin: str, salt: bytes, by: str, *, first: bool = False) -> list[Draft]:
    """Set a PIN: one's own, or by a lead for somebody.

    Args:
        salt: 16 random bytes.
        first: only if there is none yet; one set meanwhile at another terminal stays.
    """
    person = require_person(people, initials)
    if by != person.initials and by not in people.leads:
        raise Refused("authority", "a PIN is set by its owner or a lead", "sign in as one of them")
    if first and person.has_pin:
        wrong = f"{person.initials} has a PIN already, set a moment ago"
        raise Refused("not now", wrong, "use that one, or a lead sets a new one", field="pin")
    if by == person.initials:
        require_own_first_pin(people, person)
    return make_drafts(_set_pin(person.initials, pin, salt))


def require_own_first_pin(people: ShopRecord, person: ShopPerson) -> None:
    """Refuse that a lead without a PIN chooses a first one where another lead has one: it could be anybody."""
    others = sorted(one.initials for one in people.active if one.lead and one.has_pin)
    if person.lead and not person.has_pin and others:
        raise Refused(
            "authority", f"{person.initials} has no PIN", f"{', '.join(others)} sets a first one (c on What next)"
        )


def _set_pin(initials: str, pin: str, salt: bytes) -> PinSet:
    if not is_pin(pin):
        raise Refused("input", "a PIN has 4 to 32 characters", "choose another", field="pin")
    return PinSet(initials=initials, salt=salt.hex(), hash=_hash(pin, salt))


def lack_pin(person: ShopPerson) -> Refused:
    """The refusal of a person who would decide or sign without a PIN."""
    return Refused(
        "authority", f"{person.initials} has no PIN", "they or a lead set one first: c on What next", field="pin"
    )


def is_pin(text: str) -> bool:
    return 4 <= len(text) <= 32 and text.isprintable()


def draft_sign_in(
    people: ShopRecord, initials: str, pin: str, now: Moment, *, everyone: bool = False
) -> tuple[ShopPerson, list[Draft], Refused | None]:
    """Check a person and PIN: the person, the entries to write either way, and the refusal if there is one.

    Args:
        everyone: whether nobody signs in without a PIN; else a lead, once anybody in the shop has one.
    """
    person = require_person(people, initials)
    wait = compute_lockout(person, now)
    if wait > 0:
        raise Refused(
            "authority",
            f"too many wrong tries for {person.initials}",
            f"try again in {format_span(wait + 1)}",
            field="pin",
        )
    if not person.has_pin:
        return person, [], lack_pin(person) if everyone or (person.lead and people.has_pins) else None
    if hmac.compare_digest(_hash(pin, bytes.fromhex(person.salt)), person.hash):
        return person, make_drafts(SignedIn(initials=person.initials)) if person.wrong else [], None
    wrong = Refused(
        "authority",
        f"that is not the PIN of {person.initials}",
        "try again, or ask a lead to set a new one",
        field="pin",
    )
    return person, make_drafts(PinRefused(initials=person.initials)), wrong


def compute_lockout(person: ShopPerson, now: Moment) -> float:
    """Seconds until the next try is accepted: by the machine's uptime, which nobody can set, within one start of
    it."""
    over = person.wrong - FREE_TRIES
    last = person.last_wrong
    if over < 0 or last is None:
        return 0.0
    wait = min(2.0 ** (over + 1), 300.0)
    if now.boot and now.boot == last.boot and now.up >= last.up:
        gone = now.up - last.up
    else:
        gone = (now.at - last.at).total_seconds()
    # A clock set back must not lock anybody out for longer than the wait itself.
    return min(max(wait - gone, 0.0), wait)


def require_person(people: ShopRecord, initials: str) -> ShopPerson:
    asked = sanitize(initials, 8).upper()
    person = people.known.get(asked)
    if person is None or person.left:
        raise Refused("unknown", f"nobody here has the initials {asked or '(none)'}", "a lead adds new people")
    return person


def _hash(pin: str, salt: bytes) -> str:
    # A broken terminal sends half characters; they make a wrong PIN, not an error.
    return hashlib.scrypt(pin.encode(errors="surrogatepass"), salt=salt, dklen=32, **SCRYPT).hex()
