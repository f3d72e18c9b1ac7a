"""Who may enter what, and the PINs that prove it."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from floor.batch.command import Refused
from floor.batch.events import BackInService, OutOfService, make_drafts
from floor.batch.proof import ProbedLast
from floor.entry import Draft, Entry, Moment, format_time
from floor.shop.shop_record import (
    FREE_TRIES,
    SCRYPT,
    ShopPerson,
    ShopRecord,
    compute_lockout,
    draft_person,
    draft_person_change,
    draft_pin,
    draft_sign_in,
    fold_shop_record,
)
from tests.batch.factory import entries_of

NOW = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)
SALT = bytes(range(16))
SINCE = format_time(NOW)


class Register:
    """The people as the shop keeps them: every draft becomes an entry and is folded."""

    def __init__(self) -> None:
        self.people = ShopRecord()
        self.entries: list[Entry] = []
        self.now = NOW

    def write(self, drafts: list[Draft], by: str = "AA") -> None:
        new = entries_of(drafts, Moment(self.now), by, self.entries)
        self.entries += new
        fold_shop_record(new, self.people)

    def try_pin(self, pin: str, initials: str = "AA") -> Refused | None:
        try:
            _, drafts, refused = draft_sign_in(self.people, initials, pin, Moment(self.now))
        except Refused as locked:
            return locked
        self.write(drafts)
        return refused


@pytest.fixture
def register() -> Register:
    register = Register()
    register.write(draft_person(register.people, "aa", "Ann Lea", False, "-"), by="-")
    register.write(draft_person(register.people, "BB", "Bo", False, "AA"))
    return register


def test_the_first_person_is_a_lead_and_enters_the_others(register: Register) -> None:
    assert {p.initials: p.lead for p in register.people.active} == {"AA": True, "BB": False}
    with pytest.raises(Refused, match="People are entered by a lead"):
        draft_person(register.people, "CC", "Cy", False, "BB")
    with pytest.raises(Refused, match="Ask AA"):
        draft_person_change(register.people, "BB", "BB", name="Bo", lead=True, left=False)


@pytest.mark.parametrize("initials", ["", "A", "ABCDE", "A-", "A B", "\x1b[", "ÄÖ!", "aa", "2026", "12", "٣٤"])
def test_initials_are_two_to_four_letters_or_digits_and_not_taken(register: Register, initials: str) -> None:
    with pytest.raises(Refused):
        draft_person(register.people, initials, "Name", False, "AA")


@pytest.mark.parametrize(
    ("given", "kept"), [("cy", "CY"), (" Cyd ", "CYD"), ("CYDE", "CYDE"), ("C1", "C1"), ("1c", "1C"), ("ÄÖ", "ÄÖ")]
)
def test_initials_are_kept_in_capitals(register: Register, given: str, kept: str) -> None:
    [draft] = draft_person(register.people, given, "Cy", False, "AA")
    assert draft.body == {"initials": kept, "name": "Cy", "lead": False}


def test_a_name_is_cut_at_60_characters(register: Register) -> None:
    [added] = draft_person(register.people, "CC", "n" * 61, True, "AA")
    [changed] = draft_person_change(register.people, "BB", "AA", name="n" * 61, lead=True, left=False)
    assert (len(added.body["name"]), len(changed.body["name"])) == (60, 60)
    assert added.body["lead"] is changed.body["lead"] is True


@pytest.mark.parametrize("name", ["", " ", "\x00\x1b"])
def test_a_person_has_a_name(register: Register, name: str) -> None:
    with pytest.raises(Refused):
        draft_person(register.people, "CC", name, False, "AA")
    with pytest.raises(Refused):
        draft_person_change(register.people, "BB", "AA", name=name, lead=False, left=False)


def test_the_only_lead_neither_leaves_nor_steps_down(register: Register) -> None:
    for lead, left in ((False, False), (True, True)):
        with pytest.raises(Refused, match="is the only lead"):
            draft_person_change(register.people, "AA", "AA", name="Ann Lea", lead=lead, left=left)
    register.write(draft_person_change(register.people, "BB", "AA", name="Bo", lead=True, left=False))
    register.write(draft_person_change(register.people, "AA", "BB", name="Ann Lea", lead=True, left=True), by="BB")

    assert register.people.leads == {"BB"}
    assert register.try_pin("") is not None, "who has left does not sign in"
    with pytest.raises(Refused):
        draft_person(register.people, "CC", "Cy", False, "AA")


@pytest.mark.parametrize("by", ["BB", "ZZ", ""])
def test_only_a_lead_enters_or_changes_people(register: Register, by: str) -> None:
    for initials in ("AA", "BB"):
        with pytest.raises(Refused) as refused:
            draft_person_change(register.people, initials, by, name="New", lead=True, left=False)
        assert (refused.value.why, refused.value.remedy) == ("authority", "ask AA")
    with pytest.raises(Refused) as refused:
        draft_person(register.people, "CC", "Cy", False, by)
    assert (refused.value.why, refused.value.remedy) == ("authority", "ask AA")


@pytest.mark.parametrize(("lead", "left"), [(True, False), (False, False), (False, True), (True, True)])
def test_of_two_leads_one_may_leave_or_step_down_and_an_operator_always(
    register: Register, lead: bool, left: bool
) -> None:
    register.write(draft_person_change(register.people, "BB", "AA", name="Bob", lead=lead, left=left))
    person = register.people.known["BB"]
    assert (person.name, person.lead, person.left) == ("Bob", lead, left)
    assert register.people.leads == ({"AA", "BB"} if lead and not left else {"AA"})
    if "BB" in register.people.leads:
        register.write(draft_person_change(register.people, "AA", "BB", name="Ann", lead=lead, left=left), "BB")


def test_who_left_comes_back_by_a_lead(register: Register) -> None:
    register.write(draft_person_change(register.people, "BB", "AA", name="Bo", lead=False, left=True))
    assert [p.initials for p in register.people.active] == ["AA"]
    register.write(draft_person_change(register.people, "bb", "AA", name="Bo", lead=False, left=False))

    assert [p.initials for p in register.people.active] == ["AA", "BB"]


def test_without_a_pin_the_initials_are_enough(register: Register) -> None:
    assert register.try_pin("", "bb") is None
    assert register.try_pin("whatever", "BB") is None


def test_a_pin_is_kept_as_scrypt_and_never_plain(register: Register) -> None:
    """RFC 7914; the hash is what the standard library gives for the same salt and cost."""
    register.write(draft_pin(register.people, "AA", "4711-öl", SALT, "AA"))

    body = register.entries[-1].body
    assert body["hash"] == hashlib.scrypt("4711-öl".encode(), salt=SALT, dklen=32, **SCRYPT).hex()  # type: ignore[arg-type]
    assert "4711" not in json.dumps([entry.body for entry in register.entries])
    assert body["hash"] == hashlib.scrypt("4711-öl".encode(), salt=SALT, dklen=32, n=2**14, r=8, p=1).hex()
    assert register.try_pin("4711-öl") is None


def test_rfc_7914_test_vector() -> None:
    """Section 12 of RFC 7914, second vector (from memory): the library's scrypt is the standard's."""
    found = hashlib.scrypt(b"password", salt=b"NaCl", n=1024, r=8, p=16, dklen=64)

    assert found.hex().startswith("fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b373162")


@pytest.mark.parametrize("pin", ["", "123", "x" * 33, "12\n45", "12\x1b[45"])
def test_a_pin_that_is_none_is_refused(register: Register, pin: str) -> None:
    with pytest.raises(Refused, match="4 to 32 characters"):
        draft_pin(register.people, "AA", pin, SALT, "AA")


@pytest.mark.parametrize("pin", ["1234", "x" * 32, "ö 4!"])
def test_a_pin_has_4_to_32_characters_of_any_kind(register: Register, pin: str) -> None:
    register.write(draft_pin(register.people, "bb", pin, SALT, "BB"))
    assert register.try_pin(pin, "BB") is None
    assert register.try_pin(pin[:-1], "BB") is not None


def test_a_pin_is_set_by_its_owner_or_a_lead(register: Register) -> None:
    draft_pin(register.people, "BB", "1234", SALT, "AA")
    draft_pin(register.people, "BB", "1234", SALT, "BB")
    with pytest.raises(Refused, match="by its owner or a lead"):
        draft_pin(register.people, "AA", "1234", SALT, "BB")


def test_a_first_pin_leaves_the_one_that_is_there(register: Register) -> None:
    register.write(draft_pin(register.people, "BB", "1234", SALT, "BB", first=True), "BB")
    with pytest.raises(Refused, match="BB has a PIN already") as refused:
        draft_pin(register.people, "BB", "9999", SALT, "BB", first=True)
    assert refused.value.field == "pin"


def test_a_lead_is_added_or_made_with_a_pin_once_the_shop_has_pins(register: Register) -> None:
    register.write(draft_pin(register.people, "AA", "4711", SALT, "AA"))
    with pytest.raises(Refused, match="A lead decides by a PIN. Enter their first one") as refused:
        draft_person(register.people, "CC", "Cy", True, "AA")
    assert refused.value.field == "pin"
    with pytest.raises(Refused, match="BB has no PIN. They or a lead set one first"):
        draft_person_change(register.people, "BB", "AA", name="Bo", lead=True, left=False)
    with pytest.raises(Refused, match="4 to 32"):
        draft_person(register.people, "CC", "Cy", True, "AA", "12", SALT)

    register.write(draft_person(register.people, "CC", "Cy", True, "AA", "1234", SALT))
    assert register.people.known["CC"].has_pin
    assert register.people.known["CC"].set_by == "AA"
    draft_person(register.people, "DD", "Di", False, "AA")


def test_a_lead_without_a_pin_signs_in_nowhere_once_the_shop_has_pins(register: Register) -> None:
    """Also on the command line, which asks for no PIN where none is set."""
    assert register.try_pin("") is None
    register.write(draft_pin(register.people, "BB", "1234", SALT, "BB"), "BB")
    assert str(register.try_pin("")) == "AA has no PIN. They or a lead set one first: c on What next."
    assert draft_pin(register.people, "AA", "4711", SALT, "AA"), "no other lead can"


def test_a_lead_without_a_pin_gets_the_first_one_from_a_lead_who_has_one(register: Register) -> None:
    """Who types LL at the sign-in could be anybody."""
    register.write(draft_person(register.people, "LL", "Lee", True, "AA"))
    register.write(draft_pin(register.people, "AA", "4711", SALT, "AA"))
    with pytest.raises(Refused, match="LL has no PIN. AA sets a first one"):
        draft_pin(register.people, "LL", "1234", SALT, "LL")
    register.write(draft_pin(register.people, "LL", "1234", SALT, "AA"))
    draft_pin(register.people, "LL", "5678", SALT, "LL")


def test_wrong_tries_are_on_record_and_slow_down(register: Register) -> None:
    register.write(draft_pin(register.people, "AA", "4711", SALT, "AA"))
    for _ in range(FREE_TRIES):
        refused = register.try_pin("0000")
        assert refused is not None
        assert "is not the PIN" in refused.wrong
    assert [entry.kind for entry in register.entries[-FREE_TRIES:]] == ["pin_refused"] * FREE_TRIES

    assert "Too many wrong tries" in str(register.try_pin("4711")), "the right one waits too"
    waits = []
    for _ in range(12):
        waits.append(compute_lockout(register.people.known["AA"], Moment(register.now)))
        register.now += timedelta(seconds=waits[-1])
        register.try_pin("0000")
    assert waits == [2, 4, 8, 16, 32, 64, 128, 256, 300, 300, 300, 300]
    register.now += timedelta(seconds=300)
    assert register.try_pin("4711") is None
    assert register.entries[-1].kind == "signed_in"
    assert compute_lockout(register.people.known["AA"], Moment(register.now)) == 0


@pytest.mark.parametrize(
    ("wrong", "wait"),
    [(0, 0), (2, 0), (3, 2), (4, 4), (5, 8), (6, 16), (7, 32), (8, 64), (9, 128), (10, 256), (11, 300), (50, 300)],
)
def test_the_wait_doubles_from_2_s_at_the_third_wrong_try_up_to_5_min(wrong: int, wait: float) -> None:
    person = ShopPerson("AA", "Ann", True, wrong=wrong, last_wrong=Moment(NOW, "m-1", 50.0))
    assert compute_lockout(person, Moment(NOW, "m-1", 50.0)) == wait
    assert compute_lockout(person, Moment(NOW, "m-1", 50.0 + wait)) == 0
    assert compute_lockout(person, Moment(NOW, "m-1", 51.0)) == max(wait - 1, 0)
    assert compute_lockout(person, Moment(NOW + timedelta(seconds=1), "m-1", 49.0)) == max(wait - 1, 0), "by the clock"
    assert compute_lockout(person, Moment(NOW + timedelta(seconds=1), "", 60.0)) == max(wait - 1, 0), "by the clock"
    assert compute_lockout(ShopPerson("AA", "Ann", True, wrong=wrong), Moment(NOW)) == 0


def test_a_clock_set_back_locks_nobody_out_for_longer_than_the_wait() -> None:
    person = ShopPerson("AA", "Ann", True, wrong=9, last_wrong=Moment(NOW))

    assert compute_lockout(person, Moment(NOW - timedelta(days=3650))) == 128


def test_a_clock_put_forward_shortens_no_wait() -> None:
    person = ShopPerson("AA", "Ann", True, wrong=9, last_wrong=Moment(NOW, "m-1", 1000.0))
    ahead = NOW + timedelta(days=1)

    assert compute_lockout(person, Moment(ahead, "m-1", 1005.0)) == 123
    assert compute_lockout(person, Moment(ahead, "m-1", 1128.0)) == 0
    assert compute_lockout(person, Moment(NOW + timedelta(seconds=8), "m-2", 3.0)) == 120, "elsewhere by the clock"


def test_another_terminal_slows_down_too(register: Register) -> None:
    register.write(draft_pin(register.people, "AA", "4711", SALT, "AA"))
    for _ in range(FREE_TRIES):
        register.try_pin("0000")

    elsewhere = fold_shop_record(register.entries)

    assert elsewhere.known["AA"].wrong == FREE_TRIES
    assert compute_lockout(elsewhere.known["AA"], Moment(register.now)) == 2


@pytest.mark.parametrize("pin", ["\ud83d", "\x00", "x" * 100_000, "é" * 40])
def test_odd_input_is_a_wrong_pin_and_nothing_worse(register: Register, pin: str) -> None:
    register.write(draft_pin(register.people, "AA", "4711", SALT, "AA"))

    refused = register.try_pin(pin)

    assert refused is not None
    assert "is not the PIN" in refused.wrong


@pytest.mark.parametrize("initials", ["", "ZZ", "\x1b[2J", "\ud83d", "x" * 10_000, None])
def test_who_is_not_known_does_not_sign_in(register: Register, initials: Any) -> None:
    if initials is None:
        register.people.known["BB"].left = True
        initials = "BB"
    refused = register.try_pin("", initials)

    assert refused is not None
    assert refused.why == "unknown"
    assert str(refused).isprintable()


@pytest.mark.parametrize(("given", "named"), [("", "(none)"), ("zz", "ZZ"), ("q" * 9, "QQQQQQQQ")])
def test_initials_that_nobody_has_are_named_as_far_as_they_are_short(
    register: Register, given: str, named: str
) -> None:
    refused = register.try_pin("", given)
    assert refused is not None
    assert refused.wrong == f"nobody here has the initials {named}"
    assert refused.remedy == "a lead adds new people"


def test_the_fold_passes_over_what_is_not_about_people(register: Register) -> None:
    entry = entries_of([Draft("calendar_set", {"days": 5})], Moment(NOW), "AA", [])

    assert fold_shop_record(entry).known == {}


def test_a_right_pin_is_on_record_only_after_wrong_ones(register: Register) -> None:
    register.write(draft_pin(register.people, "AA", "4711", SALT, "AA"))
    person, drafts, refused = draft_sign_in(register.people, "aa", "4711", Moment(NOW))
    assert (person.initials, drafts, refused) == ("AA", [], None)
    register.try_pin("1111")
    _, drafts, refused = draft_sign_in(register.people, "aa", "4711", Moment(NOW))
    assert ([one.kind for one in drafts], refused) == (["signed_in"], None)
    register.try_pin("1111")
    register.write(draft_pin(register.people, "AA", "4712", SALT, "AA"))
    assert register.people.known["AA"].wrong == 0, "a new PIN starts over"


def test_the_wait_is_reported_rounded_up(register: Register) -> None:
    register.write(draft_pin(register.people, "AA", "4711", SALT, "AA"))
    for _ in range(FREE_TRIES):
        register.try_pin("0000")
    refused = register.try_pin("4711")
    assert refused is not None
    assert (refused.why, refused.remedy) == ("authority", "try again in 3 s")


def test_the_shops_record_keeps_stations_out_of_service_and_the_furthest_wear_of_each_tool() -> None:
    record = fold_shop_record(
        entries_of(
            [
                Draft("tools_left", {"batch": "B0001", "tools": [["mill", 1, 5.0], ["mill", 2, 3.0]]}),
                Draft("tools_left", {"batch": "B0002", "tools": [["mill", 1, 4.0], ["mill", 2, 6.0]]}),
                *make_drafts(OutOfService(station="oven", why="jams", said_by="AA", since=SINCE)),
                *make_drafts(OutOfService(station="mill", why="belt", said_by="AA", since=SINCE)),
                *make_drafts(BackInService(station="oven", note="")),
                *make_drafts(BackInService(station="saw", note="")),
            ],
            Moment(NOW),
            "AA",
            [],
        )
    )
    assert record.worn == {("mill", 1): 5.0, ("mill", 2): 6.0}
    assert {station: one.why for station, one in record.outages.items()} == {"mill": "belt"}
    change = entries_of([Draft("tool_changed", {"station": "mill", "tool": 1})], Moment(NOW), "AA", [])
    assert fold_shop_record(change, record).worn == {("mill", 2): 6.0}
    assert fold_shop_record(change).worn == {}


def test_of_what_two_batches_left_of_a_carrier_the_later_reading_counts() -> None:
    def left(batch: str, at: float, z: float, number: int = 1) -> Draft:
        place = {"station": "mill", "op": 10, "carrier": "pallet", "number": number, "offset": "G54"}
        return Draft("carrier_left", {"batch": batch, "part": "KB-7", **place, "at": at, "values": {"Z": z}})

    drafts = [left("B0002", 20.0, 0.2), left("B0001", 10.0, 0.1), left("B0001", 10.0, 0.3, 2)]
    record = fold_shop_record(entries_of(drafts, Moment(NOW), "AA", []))

    assert {(one.part, one.place.number): last for one, last in record.probed.items()} == {
        ("KB-7", 1): ProbedLast(20.0, {"Z": 0.2}),
        ("KB-7", 2): ProbedLast(10.0, {"Z": 0.3}),
    }


def test_a_right_pin_after_wrong_ones_starts_over(register: Register) -> None:
    register.write(draft_pin(register.people, "AA", "4711", SALT, "AA"))
    register.try_pin("0000")
    assert register.people.known["AA"].wrong == 1
    register.try_pin("4711")
    assert register.people.known["AA"].wrong == 0
