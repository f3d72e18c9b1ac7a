"""The register of gauges: unique ids, calibration status, withdrawn ones kept from use.

ISO 9001:2015, 7.1.5.2: measuring equipment is calibrated at set intervals, its status is identified, and past results
are looked at where it was found unfit (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest

from floor.batch.command import Refused
from floor.batch.gauge import describe_gauge_state, sort_gauges
from floor.shop import Shop
from floor.shop.simulation import ManualClock

MORNING = datetime(2026, 3, 2, 7, 0, tzinfo=timezone(timedelta(hours=1)))
TODAY = MORNING.date()


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock(MORNING)


@pytest.fixture
def shop(tmp_path: Path, clock: ManualClock) -> Iterator[Shop]:
    shop = Shop(tmp_path / "shop", clock)
    shop.add_person("LL", "Lena", True, by="-")
    shop.add_person("AA", "Arne", False, by="LL")
    yield shop
    shop.close()


def test_a_lead_enters_a_gauge_and_it_is_there_after_opening_again(shop: Shop) -> None:
    shop.add_gauge(" dm-04 ", "Depth micrometer", "2026-09-01", "LL")
    again = Shop(shop.folder, shop.clock)
    gauge = again.people.gauges["DM-04"]
    assert (gauge.name, gauge.due.isoformat(), gauge.withdrawn) == ("Depth micrometer", "2026-09-01", "")
    assert gauge.checked == MORNING
    again.close()


def test_only_a_lead_adds_changes_and_brings_back_but_anybody_withdraws(shop: Shop) -> None:
    with pytest.raises(Refused, match="Adding a gauge needs a lead"):
        shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "AA")
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    with pytest.raises(Refused, match="Changing a gauge needs a lead"):
        shop.change_gauge("DM-04", "Depth micrometer", "2027-09-01", "AA")
    shop.withdraw_gauge("dm-04", "dropped", False, "AA")
    assert shop.people.gauges["DM-04"].withdrawn == "dropped"
    with pytest.raises(Refused, match="Bringing a gauge back needs a lead"):
        shop.return_gauge("DM-04", "2026-09-01", "checked on blocks", "AA")
    shop.return_gauge("DM-04", "2026-10-01", "checked on blocks", "LL")
    assert (shop.people.gauges["DM-04"].withdrawn, shop.people.gauges["DM-04"].due.month) == ("", 10)
    kinds = [entry.kind for entry in shop.journals.open("shop").entries]
    assert kinds[-3:] == ["gauge_added", "gauge_withdrawn", "gauge_returned"]


def test_who_left_withdraws_nothing(shop: Shop) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    shop.change_person("AA", "LL", name="Arne", lead=False, left=True)
    with pytest.raises(Refused, match="not a person of this shop"):
        shop.withdraw_gauge("DM-04", "dropped", False, "AA")


@pytest.mark.parametrize(
    ("serial", "name", "due", "field", "said"),
    [
        ("dm-04", "Another", "2026-09-01", "serial", "DM-04 is in the register"),
        (" ", "Another", "2026-09-01", "serial", "Serial number: nothing entered"),
        ("X1", " ", "2026-09-01", "name", "Gauge: nothing entered"),
        ("X1", "Another", "1 Sep", "due", "not a date"),
        ("X1", "Another", "2026-03-01", "due", "is past"),
        ("X1", "Another", "2036-09-01", "due", "ten years"),
    ],
)
def test_what_cannot_be_entered_names_its_field(
    shop: Shop, serial: str, name: str, due: str, field: str, said: str
) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    with pytest.raises(Refused, match=said) as refused:
        shop.add_gauge(serial, name, due, "LL")
    assert refused.value.field == field
    assert list(shop.people.gauges) == ["DM-04"]


def test_a_new_due_date_is_a_check_and_a_new_name_is_none(shop: Shop, clock: ManualClock) -> None:
    shop.add_gauge("DM-04", "Depth mike", "2026-09-01", "LL")
    clock.forward(3600)
    shop.change_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    assert shop.people.gauges["DM-04"].checked == MORNING
    shop.change_gauge("DM-04", "Depth micrometer", "2027-09-01", "LL")
    assert shop.people.gauges["DM-04"].checked == MORNING + timedelta(hours=1)


def test_an_overdue_gauge_may_be_renamed(shop: Shop, clock: ManualClock) -> None:
    shop.add_gauge("DM-04", "Depth mike", "2026-03-02", "LL")
    clock.forward(2 * 86_400)
    shop.change_gauge("DM-04", "Depth micrometer", "2026-03-02", "LL")
    assert shop.people.gauges["DM-04"].name == "Depth micrometer"


def test_a_gauge_is_withdrawn_and_brought_back_once(shop: Shop) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    with pytest.raises(Refused, match="is in use"):
        shop.return_gauge("DM-04", "2026-09-01", "checked", "LL")
    with pytest.raises(Refused, match="needs a reason"):
        shop.withdraw_gauge("DM-04", "", False, "AA")
    shop.withdraw_gauge("DM-04", "dropped", False, "AA")
    with pytest.raises(Refused, match="already withdrawn: dropped"):
        shop.withdraw_gauge("DM-04", "lost", False, "AA")
    with pytest.raises(Refused, match="not in the register"):
        shop.withdraw_gauge("DM-05", "lost", False, "AA")


def test_what_is_due_stands_first_and_what_is_withdrawn_last(shop: Shop) -> None:
    """In calibration through the whole day that it is due."""
    for serial, due in (("A", "2026-09-01"), ("B", "2026-03-31"), ("C", "2026-03-02"), ("D", "2026-04-02")):
        shop.add_gauge(serial, "Micrometer", due, "LL")
    shop.withdraw_gauge("C", "dropped", False, "AA")
    gauges = sort_gauges(shop.people.gauges.values())
    assert [(one.serial, describe_gauge_state(one, TODAY)) for one in gauges] == [
        ("B", "due in 29 days"),
        ("D", ""),
        ("A", ""),
        ("C", "withdrawn: dropped"),
    ]
    assert describe_gauge_state(gauges[0], gauges[0].due) == "due today"
    assert describe_gauge_state(gauges[0], gauges[0].due + timedelta(days=1)) == "overdue 1 day"
