"""What somebody typed to look for: read as meant, or refused with what would do."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.batch.command import Refused
from floor.batch.describe import DESCRIBED
from floor.batch.search.history_filter import GROUPS, Filter
from floor.batch.search.typed_criteria import BATCH_KINDS, TypedCriteria, _need, need_known, read_kinds
from floor.cli.help import FIND
from floor.wall import convert_to_zone
from tests.batch.factory import open_bench
from tests.papers.half_done import half_done

NOW = convert_to_zone(datetime.fromisoformat("2026-11-25T10:00+01:00"), ZoneInfo("Europe/Vienna"))


@pytest.mark.parametrize(("given", "meant"), [
    (["counted"], ("counted",)),
    (["Set aside", "noted"], ("set_aside", "noted")),
    (["set-aside,noted , counted"], ("set_aside", "noted", "counted")),
    (["notes and corrections"], GROUPS["notes and corrections"]),
    (["gates", "waived"], GROUPS["gates"]),
    ([], ()),
])  # fmt: skip
def test_kinds_are_named_alone_by_their_group_or_several(given: list[str], meant: tuple[str, ...]) -> None:
    assert read_kinds(given) == meant


@pytest.mark.parametrize(("typed", "said"), [
    ("wavied", 'There is no kind "wavied". Did you mean waived?'),
    ("xyzzy", 'There is no kind "xyzzy". See every kind in floor find --help.'),
    ("counted,", 'There is no kind "".'),
])  # fmt: skip
def test_an_unknown_kind_is_reported_with_the_one_probably_meant(typed: str, said: str) -> None:
    with pytest.raises(Refused) as refused:
        read_kinds([typed])

    assert refused.value.why == "input"
    assert str(refused.value).startswith(said)


def test_the_help_lists_every_kind_under_its_group() -> None:
    assert sorted(BATCH_KINDS) == sorted(event.KIND for event in DESCRIBED)
    listed = FIND[FIND.index("KIND is") : FIND.index("Exit status")].replace("\n", " ")
    rest = listed
    for group, kinds in GROUPS.items():
        _, _, rest = rest.partition(f"{group}:")
        words = rest.split(":")[0].replace(",", " ").split()
        assert sorted(words[: len(kinds)]) == sorted(kinds)


@pytest.mark.parametrize(("typed", "since", "until"), [
    ("14:30", "2026-11-24T14:30+01:00", "2026-11-24T14:31+01:00"),
    ("9:15", "2026-11-25T09:15+01:00", "2026-11-25T09:16+01:00"),
    ("2026-11-20 06:00", "2026-11-20T06:00+01:00", "2026-11-20T06:01+01:00"),
    ("2026-10-25", "2026-10-25T00:00+02:00", "2026-10-26T00:00+01:00"),
    ("today", "2026-11-25T00:00+01:00", "2026-11-26T00:00+01:00"),
    (" Yesterday", "2026-11-24T00:00+01:00", "2026-11-25T00:00+01:00"),
])  # fmt: skip
def test_a_time_is_the_shops_and_until_takes_in_the_whole_minute_or_day(typed: str, since: str, until: str) -> None:
    """Offsets: IANA time zone database, Europe/Vienna."""
    wanted = TypedCriteria(since=typed, until=typed).read(NOW)

    assert (wanted.since, wanted.until) == (datetime.fromisoformat(since), datetime.fromisoformat(until))


@given(st.text(max_size=12) | st.sampled_from(["9999-12-31", "0001-01-01", "2026-02-30", "25:00", "9999-12-31 23:59"]))
def test_whatever_is_typed_as_a_time_is_taken_or_refused(typed: str) -> None:
    refused = None
    try:
        TypedCriteria(since=typed, until=typed).read(NOW)
    except Refused as error:
        refused = error
    assert refused is None or (refused.why == "input" and "14:30" in str(refused))


def test_everything_that_is_typed_comes_to_be_looked_for() -> None:
    words = TypedCriteria(["noted"], " rk ", 3, 20, " Mill ", "today", "", " coolant ", True)

    wanted = words.read(NOW)

    assert wanted == Filter(3, 20, "RK", kinds=("noted",), station="Mill", since=datetime.fromisoformat(
        "2026-11-25T00:00+01:00"), words="coolant", struck=True)  # fmt: skip
    assert TypedCriteria().read(NOW) == Filter()


@pytest.mark.parametrize(("wanted", "said"), [
    (Filter(by="ZZ"), "ZZ entered nothing in B0001. Choose from AA, LL."),
    (Filter(load=9), "There is no load 9 in B0001. Choose from 1, 2, 3."),
    (Filter(op=25), "There is no op 25 in B0001. Choose from 10, 20, 30, 40, 50."),
    (Filter(station="mil"), 'There is no station "mil" in B0001. Did you mean mill? Choose from '),
])  # fmt: skip
def test_what_no_batch_has_is_a_slip_and_said(wanted: Filter, said: str) -> None:
    with pytest.raises(Refused) as refused:
        need_known(wanted, [half_done().state])

    assert refused.value.why == "unknown"
    assert str(refused.value).startswith(said)


@pytest.mark.parametrize(("many", "where"), [(3, "B0001 or B0001 or B0001"), (4, "the 4 batches")])
def test_up_to_three_batches_are_named(many: int, where: str) -> None:
    with pytest.raises(Refused, match=f"^There is no op 25 in {where}. Choose"):
        need_known(Filter(op=25), [open_bench().state] * many)


def test_what_one_of_the_batches_has_is_looked_for_in_all() -> None:
    batch = half_done().state

    need_known(Filter(3, 20, "AA", station="MILL"), [batch])
    need_known(Filter(), [])
    with pytest.raises(Refused, match="There are none"):
        need_known(Filter(by="AA"), [])


@pytest.mark.parametrize(
    ("known", "said"),
    [
        (set(range(1, 21)), "Choose from " + ", ".join(map(str, range(1, 21)))),
        (set(range(1, 22)), "Choose from 1 to 21"),
        (set(), "There are none"),
    ],
)
def test_up_to_20_names_are_listed(known: set[int], said: str) -> None:
    with pytest.raises(Refused) as refused:
        _need(99, known, "there is no load 99")
    assert (refused.value.why, refused.value.remedy) == ("unknown", said)
    _need(5, {5}, "")
