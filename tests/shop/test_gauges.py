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
from floor.batch.gauge import Gauge, describe_gauge_state, sort_gauges
from floor.shop import Shop
from floor.shop.events import GaugeAdded, GaugeChanged
from floor.shop.gauge_register import fold_gauge
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
    assert gauge.checked is None, "nobody said when it was calibrated"
    again.close()


def test_only_a_lead_adds_changes_and_brings_back_but_anybody_withdraws(shop: Shop) -> None:
    with pytest.raises(Refused, match="Adding a gauge needs a lead"):
        shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "AA")
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    with pytest.raises(Refused, match="Changing a gauge needs a lead"):
        shop.change_gauge("DM-04", "Depth micrometer", "2027-09-01", "AA", "n")
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
    ("serial", "name", "due", "calibrated", "field", "said"),
    [
        ("dm-04", "Another", "2026-09-01", "n", "serial", "DM-04 is in the register"),
        ("DM 04", "Another", "2026-09-01", "n", "serial", "DM-04 is in the register"),
        (" ", "Another", "2026-09-01", "n", "serial", "Serial number: nothing entered"),
        ("-", "Another", "2026-09-01", "n", "serial", "Serial number: nothing entered"),
        ("X1", " ", "2026-09-01", "n", "name", "Gauge: nothing entered"),
        ("X1", "Another", "1 Sep", "n", "due", "not a date"),
        ("X1", "Another", "2026-03-01", "n", "due", "is past"),
        ("X1", "Another", "2036-09-01", "n", "due", "ten years"),
        ("X1", "Another", "2026-09-01", "", "calibrated", "Calibrated: nothing entered. Enter the day, or n"),
        ("X1", "Another", "2026-09-01", "yes", "calibrated", "yes is not a date"),
        ("X1", "Another", "2026-09-01", "2026-03-03", "calibrated", "still to come"),
        ("X1", "Another", "2026-09-01", "2006-03-03", "calibrated", "ten years"),
    ],
)
def test_what_cannot_be_entered_names_its_field(
    shop: Shop, serial: str, name: str, due: str, calibrated: str, field: str, said: str
) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    with pytest.raises(Refused, match=said) as refused:
        shop.add_gauge(serial, name, due, "LL", calibrated)
    assert refused.value.field == field
    assert list(shop.people.gauges) == ["DM-04"]


MIDNIGHT = MORNING.replace(hour=0)


def test_only_a_calibration_moves_the_last_good_check(shop: Shop, clock: ManualClock) -> None:
    """From the first moment of its day on: what was measured that morning is looked at too."""
    shop.add_gauge("DM-04", "Depth mike", "2026-09-01", "LL", "2026-01-15")
    good = datetime(2026, 1, 15, tzinfo=MORNING.tzinfo)
    assert shop.people.gauges["DM-04"].checked == good
    clock.forward(3600)
    shop.change_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    shop.change_gauge("DM-04", "Depth micrometer", "2026-10-01", "LL", "n")
    assert shop.people.gauges["DM-04"].checked == good, "renamed, and a wrong due date corrected"
    shop.change_gauge("DM-04", "Depth micrometer", "2027-09-01", "LL", "2026-03-02")
    assert shop.people.gauges["DM-04"].checked == MIDNIGHT
    shop.change_gauge("DM-04", "Depth micrometer", "2027-09-01", "LL", "2026-02-27")
    assert shop.people.gauges["DM-04"].checked == MIDNIGHT - timedelta(days=3), "the day was a slip"


def test_a_new_due_date_asks_whether_it_was_calibrated(shop: Shop) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    with pytest.raises(Refused, match="Calibrated: nothing entered") as refused:
        shop.change_gauge("DM-04", "Depth micrometer", "2027-09-01", "LL")
    assert refused.value.field == "calibrated"
    assert shop.people.gauges["DM-04"].due.isoformat() == "2026-09-01"


def test_in_older_records_a_new_due_date_counts_as_a_calibration() -> None:
    """They do not say, and their state is kept."""
    gauges: dict[str, Gauge] = {}
    fold_gauge(gauges, GaugeAdded(serial="DM-04", name="Depth mike", due="2026-09-01"), MORNING)
    later = MORNING + timedelta(days=1)
    fold_gauge(gauges, GaugeChanged(serial="DM-04", name="Depth micrometer", due="2026-09-01"), later)
    assert gauges["DM-04"].checked == MORNING
    fold_gauge(gauges, GaugeChanged(serial="DM-04", name="Depth micrometer", due="2027-09-01"), later)
    assert gauges["DM-04"].checked == later


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


def test_readings_of_a_withdrawn_gauge_are_called_suspect_later(shop: Shop) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL", "2026-01-15")
    with pytest.raises(Refused, match="DM-04 is in use. Withdraw it first"):
        shop.call_gauge_suspect("DM-04", "out of its limits", "2026-01-15", "AA")
    shop.withdraw_gauge("DM-04", "at the laboratory", False, "AA")
    for since, said in (("", "nothing entered"), ("2026-03-03", "still to come"), ("soon", "not a date")):
        with pytest.raises(Refused, match=said) as refused:
            shop.call_gauge_suspect("DM-04", "out of its limits", since, "AA")
        assert refused.value.field == "since"
    with pytest.raises(Refused, match="needs a reason"):
        shop.call_gauge_suspect("DM-04", "", "n", "AA")
    assert describe_gauge_state(shop.people.gauges["DM-04"], TODAY) == "withdrawn: at the laboratory"
    shop.call_gauge_suspect("dm04", "out of its limits", "2026-01-15", "AA")
    assert describe_gauge_state(shop.people.gauges["DM-04"], TODAY) == "withdrawn, suspect: out of its limits"
    shop.return_gauge("DM-04", "2027-03-02", "adjusted and calibrated", "LL")
    assert describe_gauge_state(shop.people.gauges["DM-04"], TODAY) == ""


def test_withdrawn_as_suspect_it_is_so_since_its_last_good_check_until_it_is_back(shop: Shop) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL", "2026-03-02")
    shop.withdraw_gauge("DM-04", "dropped", True, "AA")
    gauge = shop.people.gauges["DM-04"]
    assert (gauge.suspect, gauge.suspect_since) == (True, MIDNIGHT)
    shop.return_gauge("DM-04", "2026-10-01", "checked on blocks", "LL")
    gauge = shop.people.gauges["DM-04"]
    assert (gauge.suspect, gauge.suspect_since) == (False, None)


HOUR = timedelta(hours=1)


def test_the_register_knows_how_a_gauge_stood_at_a_past_time(shop: Shop, clock: ManualClock) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-03-02", "LL", "2026-01-15")  # 07:00
    clock.forward(3600)
    shop.withdraw_gauge("DM-04", "at the laboratory", False, "AA")  # 08:00
    clock.forward(3600)
    shop.return_gauge("DM-04", "2027-03-02", "calibrated", "LL")  # 09:00
    gauge = shop.people.gauges["DM-04"]

    def stood(hours: float) -> tuple[str, str]:
        then = gauge.look_back(MORNING + hours * HOUR)
        return then.due.isoformat(), then.withdrawn

    assert stood(-24) == ("2026-03-02", ""), "as it was added: what was before nobody said"
    assert stood(0.9) == ("2026-03-02", "")
    assert stood(1) == stood(1.9) == ("2026-03-02", "at the laboratory")
    assert stood(2) == stood(5) == ("2027-03-02", "")


@pytest.mark.parametrize("since", ["2026-03-02", "n"])
def test_what_proved_suspect_since_was_so_then(shop: Shop, clock: ManualClock, since: str) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL", "2026-01-15")
    clock.forward(3600)
    shop.withdraw_gauge("DM-04", "at the laboratory", False, "AA")
    clock.forward(3600)
    before = shop.people.gauges["DM-04"]
    assert before.look_back(MORNING).withdrawn == ""
    shop.call_gauge_suspect("DM-04", "out of its limits", since, "AA")
    assert shop.people.gauges["DM-04"].look_back(MORNING).withdrawn == "out of its limits"
    earlier = MIDNIGHT - HOUR
    assert bool(shop.people.gauges["DM-04"].look_back(earlier).withdrawn) is (since == "n")
    clock.forward(3600)
    shop.return_gauge("DM-04", "2027-03-02", "adjusted", "LL")
    assert shop.people.gauges["DM-04"].look_back(MORNING).withdrawn == "out of its limits"
    assert shop.people.gauges["DM-04"].look_back(clock().at).withdrawn == ""
