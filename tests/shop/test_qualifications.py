"""The register of what people are qualified for: a lead enters, renews and withdraws; the record keeps it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from pathlib import Path

import pytest

from floor.batch.command import Refused
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.qualification import describe_lack, is_qualified
from floor.batch.walk.commands import BeginRun
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import MORNING, edited
from tests.batch.test_qualified_people import ASKS


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    shop = Shop(tmp_path / "shop", ManualClock(MORNING))
    for initials in ("LL", "AA", "BB"):
        shop.add_person(initials, f"Person {initials}", initials == "LL", by="LL")
    yield shop
    shop.close()


def test_what_the_register_has_lets_a_person_work_and_what_is_withdrawn_does_not(shop: Shop) -> None:
    clock = ManualClock(MORNING)
    id = shop.open_batch(OpenBatch("B0001", edited(ASKS), "digest", "part.toml", 4, 4), "AA").id
    load = SimulatedOperator(shop, id, "AA", clock, second="BB").form(10)
    with pytest.raises(Refused, match="AA is not in the register as qualified for Spray painting"):
        shop.do(id, BeginRun(load), "AA")
    shop.enter_qualification("aa", "spray painting", "2026-01-05", "2026-12-31", "LL")
    shop.enter_qualification("AA", "Health surveillance", "2026-01-05", "2026-12-31", "LL")
    assert shop.context(id, "AA").elsewhere.qualified["AA"].keys() == {"spray painting", "health surveillance"}
    shop.withdraw_qualification("AA", "HEALTH SURVEILLANCE", "lung test", "LL")
    with pytest.raises(Refused, match="Health surveillance of AA was withdrawn: lung test|health surveillance of AA"):
        shop.do(id, BeginRun(load), "AA")
    again = Shop(shop.folder, shop.clock)
    assert again.people.qualified == shop.people.qualified
    again.close()
    shop.enter_qualification("AA", "health surveillance", "2026-01-05", "2027-01-05", "LL")
    assert shop.do(id, BeginRun(load, anyway=True), "AA")


def test_one_without_an_end_date_holds_until_it_is_withdrawn(shop: Shop) -> None:
    shop.enter_qualification("AA", "crane", "2026-01-05", " ", "LL")
    (one,) = shop.people.qualified["AA"]["crane"]
    assert one.until is None
    assert one.holds(MORNING + timedelta(days=9000))
    assert not one.holds(MORNING - timedelta(days=300))
    again = Shop(shop.folder, shop.clock)
    assert again.people.qualified == shop.people.qualified
    again.close()
    shop.withdraw_qualification("AA", "crane", "moved", "LL")
    assert not shop.people.qualified["AA"]["crane"][0].holds(MORNING + timedelta(days=1))


def test_the_newest_entry_whose_first_day_has_come_rules(shop: Shop) -> None:
    """So a lead may end one early by entering it anew, and renew one before it lapses."""

    def holds(day: str) -> bool:
        at = datetime.combine(date.fromisoformat(day), time(12), MORNING.tzinfo)
        return is_qualified(shop.people.qualified, "AA", "Crane", at)

    shop.enter_qualification("AA", "crane", "2026-01-05", "", "LL")
    shop.enter_qualification("AA", "crane", "2026-01-05", "2026-03-10", "LL")
    assert [holds(day) for day in ("2026-01-04", "2026-03-10", "2026-03-11")] == [False, True, False]
    at = MORNING + timedelta(days=30)
    assert describe_lack(shop.people.qualified, "AA", "crane", at) == "crane of AA lapsed on 2026-03-10"

    shop.enter_qualification("AA", "crane", "2026-03-20", "2027-03-20", "LL")
    assert [holds(day) for day in ("2026-03-10", "2026-03-15", "2026-03-20")] == [True, False, True]
    assert describe_lack(shop.people.qualified, "BB", "crane", at) == "BB is not in the register as qualified for crane"


@pytest.mark.parametrize(
    ("what", "since", "until", "by", "field", "wrong"),
    [
        ("painting", "2026-01-05", "2026-12-31", "AA", "", "entering a qualification needs a lead"),
        (" ", "2026-01-05", "2026-12-31", "LL", "what", "qualification: nothing entered"),
        ("painting", "tomorrow", "2026-12-31", "LL", "since", ""),
        ("painting", "2026-05-01", "2026-04-30", "LL", "until", "valid until 2026-04-30 is before 2026-05-01"),
        ("painting", "2026-01-05", "2026-03-01", "LL", "until", "valid until 2026-03-01 is past"),
        ("painting", "2026-01-05", "2046-03-01", "LL", "until", "2046-03-01 is more than ten years away"),
    ],
)
def test_a_wrong_entry_is_refused_at_its_field(
    shop: Shop, what: str, since: str, until: str, by: str, field: str, wrong: str
) -> None:
    with pytest.raises(Refused) as refusal:
        shop.enter_qualification("AA", what, since, until, by)
    assert refusal.value.field == field
    assert wrong in refusal.value.wrong
    assert shop.people.qualified == {}


def test_only_what_stands_is_withdrawn_by_a_lead_with_a_reason(shop: Shop) -> None:
    with pytest.raises(Refused, match="AA has no such qualification"):
        shop.withdraw_qualification("AA", "painting", "moved", "LL")
    shop.enter_qualification("AA", "painting", "2026-01-05", "2026-12-31", "LL")
    with pytest.raises(Refused, match="needs a lead"):
        shop.withdraw_qualification("AA", "painting", "moved", "AA")
    with pytest.raises(Refused, match="needs a reason"):
        shop.withdraw_qualification("AA", "painting", "", "LL")
    shop.withdraw_qualification("AA", "painting", "moved", "LL")
    with pytest.raises(Refused, match="AA has no such qualification"):
        shop.withdraw_qualification("AA", "painting", "moved", "LL")
    with pytest.raises(Refused, match="nobody here has the initials ZZ|Nobody here"):
        shop.enter_qualification("ZZ", "painting", "2026-01-05", "2026-12-31", "LL")
