"""A probed offset beside the earlier ones of its carrier and of its siblings, and the tilt of a carrier."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from floor.batch.command import OtherBatches
from floor.batch.corrections.commands import StrikeOut
from floor.batch.fold import fold
from floor.batch.gates.offset_history import list_last_probed
from floor.batch.proof import OffsetPlace, ProbedLast, ProbedPlace, ProbedValues
from floor.batch.stations.commands import Disturb
from floor.checklist.model import Checklist
from tests.batch.factory import TWO_UP, Bench, edited, open_bench

PROBE = "probed 1"
Z = '{ name = "Z", low = "-0.1 mm", high = "0.1 mm" }'
WIDE = (Z, '{ name = "Z", low = "-1 mm", high = "1 mm" }')
FLAT = (
    Z + "] }",
    '{ name = "Z1", low = "-1 mm", high = "1 mm", x = "0 mm", y = "0 mm" }, '
    '{ name = "Z2", low = "-1 mm", high = "1 mm", x = "100 mm", y = "0 mm" }, '
    '{ name = "Z3", low = "-1 mm", high = "1 mm", x = "0 mm", y = "80 mm" }], flat = "0.05 mm" }',
)
MANY = ("count = 3", "count = 9")


REPEATS = (WIDE[1] + "]", WIDE[1] + '], repeats = "0.05 mm"')


def wide() -> Checklist:
    return edited(WIDE, MANY)


def probe(bench: Bench, load: int, z: float, x: float = 0.2) -> None:
    bench.prove(load, PROBE, X=x, Z=z)


def at_probe(bench: Bench) -> int:
    load = bench.form(10)
    bench.until(load, PROBE)
    return load


def probed(heights: list[float]) -> Bench:
    """One pallet after the other on the mill, each probed with one of these heights and cut."""
    bench = open_bench(wide, order=200, start=200)
    for z in heights:
        load = at_probe(bench)
        probe(bench, load, z)
        assert bench.line(load, PROBE).state == "done"
        bench.through(load)
    return bench


USUAL = [0.02, 0.03, 0.02, 0.04, 0.03, 0.03]


def test_a_height_out_of_the_band_of_the_siblings_is_probed_again_before_it_is_cut() -> None:
    """By hand: median 0.03, MAD 0.005, so 1.7634 x (0.005 + 0.0005) x 10.99 about it, as mm are read to 0.001."""
    bench = probed(USUAL)
    load = at_probe(bench)
    probe(bench, load, 0.9)
    half = 1.7634 * (0.005 + 0.0005) * 10.99
    line = bench.current(load)
    assert line.key == PROBE
    assert line.verdict is not None
    assert line.verdict.why == (
        f"G54 Z 0.9 mm, usual on others of its kind: {0.03 - half:.6g} to {0.03 + half:.6g} (6 readings)"
    )

    probe(bench, load, 0.05)
    assert bench.line(load, PROBE).state == "done"
    assert "unusual" not in bench.line(load, PROBE).evidence


def test_the_same_again_counts_and_is_marked() -> None:
    bench = probed(USUAL)
    load = at_probe(bench)
    probe(bench, load, 0.9)
    probe(bench, load, 0.88)
    line = bench.line(load, PROBE)
    assert line.state == "done"
    assert line.evidence.endswith(" · unusual, probed twice")


def test_something_else_the_second_time_is_not_the_same_again() -> None:
    bench = probed(USUAL)
    load = at_probe(bench)
    probe(bench, load, 0.9)
    probe(bench, load, 0.5)
    assert bench.current(load).key == PROBE


def test_three_say_nothing() -> None:
    bench = probed(USUAL[:3])
    load = at_probe(bench)
    probe(bench, load, 0.9)
    assert bench.line(load, PROBE).state == "done"


def test_what_another_operation_probed_says_nothing() -> None:
    """Work turned over sits at another height."""
    bench = probed(USUAL)
    bench.state.probed = {place._replace(op=20): said for place, said in bench.state.probed.items()}
    load = at_probe(bench)
    probe(bench, load, 0.9)
    assert bench.line(load, PROBE).state == "done"
    assert {place.op for place in bench.state.probed} == {10, 20}


def test_the_own_earlier_ones_count_before_those_of_the_siblings() -> None:
    """Pallet 1 sits half a millimeter higher than all others, and always has."""
    bench = open_bench(wide)
    load = at_probe(bench)
    here = OffsetPlace("mill", 10, "pallet", 1, "G54")
    bench.state.probed[here] = [ProbedValues(1, 90 + n, {"Z": 0.5 + 0.01 * (n % 2)}) for n in range(8)]
    for number in range(2, 10):
        bench.state.probed[here._replace(number=number)] = [ProbedValues(1, 99, {"Z": 0.01 * (number % 2)})]

    probe(bench, load, 0.0)
    line = bench.current(load)
    assert line.verdict is not None
    assert "usual on Pallet 1: " in line.verdict.why
    assert "(8 readings)" in line.verdict.why
    probe(bench, load, 0.51)
    assert bench.line(load, PROBE).state == "done"


def test_who_was_probed_before_the_seat_was_lost_does_not_speak_for_the_new_seat() -> None:
    bench = probed(USUAL)
    load = at_probe(bench)
    probe(bench, load, 0.03)
    bench.say(Disturb("mill", "lifted", load=load))
    bench.until(load, PROBE)
    probe(bench, load, 0.9)
    assert bench.current(load).key == PROBE


def test_a_batch_of_the_earlier_rules_is_not_compared() -> None:
    bench = probed(USUAL)
    bench.state.rules = 2
    load = at_probe(bench)
    probe(bench, load, 0.9)
    assert bench.line(load, PROBE).state == "done"


def two_up_wide() -> Checklist:
    return edited(*TWO_UP, WIDE)


def repeating() -> Checklist:
    """A file that says how near the same place a carrier sits again."""
    return edited(WIDE, REPEATS)


def seat_again(bench: Bench, load: int) -> None:
    bench.say(Disturb("mill", "lifted", load=load))
    bench.until(load, PROBE)


@pytest.mark.parametrize(
    ("again", "said"),
    [
        (-0.6, "Z is 0.7 mm off the earlier 0.1 mm on Pallet 1"),
        (0.0, ""),
        (0.2, ""),
        (0.21, "Z is 0.11 mm off the earlier 0.1 mm"),
    ],
)
def test_from_the_second_reading_on_a_carrier_that_is_off_is_told_of_and_goes_on(again: float, said: str) -> None:
    """0.1 mm for a carrier seated again: common practice, no source."""
    bench = open_bench(wide)
    load = at_probe(bench)
    probe(bench, load, 0.1)
    assert bench.line(load, PROBE).evidence.endswith("Z 0.1 mm · AA 07:02"), "nothing to compare it with"
    seat_again(bench, load)
    probe(bench, load, again)
    line = bench.line(load, PROBE)
    assert line.state == "done"
    assert line.verdict is not None
    assert line.verdict.notes.startswith(said)
    assert bool(line.verdict.notes) == bool(said)
    assert said in line.evidence


def test_what_was_out_of_limits_says_nothing_of_the_next() -> None:
    bench = open_bench(wide)
    load = at_probe(bench)
    probe(bench, load, 20.1)
    probe(bench, load, 0.1)
    line = bench.line(load, PROBE)
    assert line.state == "done"
    assert line.verdict is not None
    assert line.verdict.notes == ""


def test_of_carriers_with_their_own_offsets_only_heights_that_the_file_has_alike_are_compared() -> None:
    """Pallet 1 lies in G54 and Pallet 2 in G55, 200 mm away: their X says nothing of each other, their height does."""
    bench = open_bench(two_up_wide, start=8)
    first, second = bench.form(10), bench.form(10)
    bench.until(first, PROBE)
    bench.prove(first, PROBE, offset="G54", X=0.0, Z=0.1)
    bench.until(second, PROBE)
    bench.prove(second, PROBE, offset="G55", X=200.0, Z=-0.8)
    line = bench.line(second, PROBE)
    assert line.state == "done"
    assert line.verdict is not None
    assert line.verdict.notes == "Z is 0.9 mm off the earlier 0.1 mm on others of its kind"

    seat_again(bench, second)
    bench.prove(second, PROBE, offset="G55", X=200.0, Z=-0.75)
    line = bench.line(second, PROBE)
    assert line.verdict is not None
    assert line.verdict.notes == "", "it sits as it always did"


def test_what_was_probed_by_the_wrong_offset_says_nothing_of_the_right_one() -> None:
    bench = open_bench(two_up_wide, start=8)
    bench.form(10)
    load = bench.form(10)
    bench.until(load, PROBE)
    bench.prove(load, PROBE, offset="G54", X=200.0, Z=-0.8)
    bench.prove(load, PROBE, offset="G55", X=200.0, Z=0.1)
    line = bench.line(load, PROBE)
    assert line.state == "done"
    assert line.verdict is not None
    assert line.verdict.notes == ""


def test_heights_with_limits_of_their_own_are_not_compared() -> None:
    own = '{ name = "Z", low = "-1 mm", high = "1 mm"'
    each = ", ".join(f'{own}, offset = "G{n}" }}' for n in (54, 55, 56))
    bench = open_bench(lambda: edited(*TWO_UP, WIDE, (own + " }", each)), start=8)
    for load, offset, x, z in ((bench.form(10), "G54", 0.0, 0.1), (bench.form(10), "G55", 200.0, -0.8)):
        bench.until(load, PROBE)
        bench.prove(load, PROBE, offset=offset, X=x, Z=z)
        line = bench.line(load, PROBE)
        assert line.verdict is not None
        assert line.verdict.notes == ""


def test_a_file_that_states_how_a_carrier_repeats_has_it_probed_again_from_the_second_reading_on() -> None:
    bench = open_bench(repeating)
    load = at_probe(bench)
    probe(bench, load, 0.1)
    seat_again(bench, load)
    probe(bench, load, 0.15)
    assert bench.line(load, PROBE).state == "done"
    seat_again(bench, load)
    probe(bench, load, 0.9)
    line = bench.current(load)
    assert line.verdict is not None
    assert line.verdict.why == "G54 Z 0.9 mm, 0.75 mm off the earlier 0.15 mm on Pallet 1 (limit: 0.05 mm)"
    probe(bench, load, 0.12)
    assert bench.line(load, PROBE).state == "done", "it sat on a chip"


def test_what_repeats_where_it_was_put_stands_for_the_next() -> None:
    bench = open_bench(repeating)
    load = at_probe(bench)
    probe(bench, load, 0.1)
    seat_again(bench, load)
    probe(bench, load, 0.9)
    probe(bench, load, 0.88)
    assert bench.line(load, PROBE).evidence.endswith(" · unusual, probed twice")
    seat_again(bench, load)
    probe(bench, load, 0.86)
    line = bench.line(load, PROBE)
    assert line.state == "done"
    assert "unusual" not in line.evidence
    seat_again(bench, load)
    probe(bench, load, 0.1)
    assert bench.current(load).key == PROBE, "where it was first is not where it stands now"


def test_a_reading_of_another_load_does_not_repeat_one_that_was_off() -> None:
    bench = open_bench(repeating)
    load = at_probe(bench)
    here = OffsetPlace("mill", 10, "pallet", 1, "G54")
    before = [ProbedValues(1, 90, {"Z": 0.1}), ProbedValues(2, 91, {"Z": 0.9}), ProbedValues(3, 92, {"Z": 0.9})]
    for known in (before[:2], before):
        bench.state.probed[here] = known
        probe(bench, load, 0.9)
        assert bench.current(load).key == PROBE


HERE = ProbedPlace("KB-7", OffsetPlace("mill", 10, "pallet", 1, "G54"))


def after_another_batch(checklist: Callable[[], Checklist] = repeating, place: ProbedPlace = HERE) -> tuple[Bench, int]:
    """A carrier at its first probing, which was probed for another batch before."""
    bench = open_bench(checklist)
    bench.elsewhere = OtherBatches(find_probed={place: ProbedLast(0.0, {"Z": 0.1, "W": 7.0})}.get)
    return bench, at_probe(bench)


def test_what_was_probed_for_another_batch_of_the_part_counts_where_the_file_says_how_a_carrier_repeats() -> None:
    bench, load = after_another_batch()
    probe(bench, load, 0.9)
    line = bench.current(load)
    assert line.verdict is not None
    assert line.verdict.why == "G54 Z 0.9 mm, 0.8 mm off the earlier 0.1 mm on Pallet 1 (limit: 0.05 mm)"
    assert bench.state.entries[-1].body["last"] == {"Z": 0.1}
    probe(bench, load, 0.88)
    line = bench.line(load, PROBE)
    assert (line.state, line.evidence.endswith(" · unusual, probed twice")) == ("done", True)
    assert "last" not in bench.state.entries[-1].body, "it has one of its own now"
    assert fold(bench.state.entries) == bench.state


def test_what_another_batch_probed_is_kept_once_however_often_the_first_probing_is_struck_out() -> None:
    bench, load = after_another_batch()
    probe(bench, load, 0.14)
    [strike] = bench.say(StrikeOut(bench.state.seq, "wrong pallet"))
    bench.until(load, PROBE)
    probe(bench, load, 0.13)
    assert bench.state.entries[-1].body["last"] == {"Z": 0.1}
    bench.say(StrikeOut(strike.seq, "it was the right one"), "LL")
    assert [one.values["Z"] for one in bench.state.probed[HERE.place]] == [0.1, 0.14, 0.13]


def test_a_carrier_that_sits_as_it_did_for_the_batch_before_goes_on() -> None:
    bench, load = after_another_batch()
    probe(bench, load, 0.14)
    assert bench.line(load, PROBE).state == "done"


@pytest.mark.parametrize(
    ("checklist", "place"),
    [
        (wide, HERE),
        (repeating, HERE._replace(part="KB-8")),
        (repeating, HERE._replace(place=HERE.place._replace(number=2))),
        (repeating, HERE._replace(place=HERE.place._replace(op=20))),
    ],
)
def test_what_another_batch_probed_elsewhere_or_of_a_carrier_that_may_be_moved_says_nothing(
    checklist: Callable[[], Checklist], place: ProbedPlace
) -> None:
    bench, load = after_another_batch(checklist, place)
    probe(bench, load, 0.9)
    assert bench.line(load, PROBE).state == "done"
    assert "last" not in bench.state.entries[-1].body


def test_what_a_batch_leaves_is_its_own_last_reading_of_each_carrier_that_repeats() -> None:
    bench, load = after_another_batch()
    probe(bench, load, 0.14)
    left = list_last_probed(bench.state)
    assert left == {HERE: ProbedLast(bench.state.entries[-1].time.timestamp(), {"X": 0.2, "Z": 0.14})}
    other = open_bench(wide)
    probe(other, at_probe(other), 0.1)
    assert list_last_probed(other.state) == {}


def test_a_reading_by_the_wrong_offset_is_not_what_a_batch_leaves_of_a_carrier() -> None:
    bench = open_bench(lambda: edited(*TWO_UP, WIDE, REPEATS))
    load = at_probe(bench)
    bench.prove(load, PROBE, offset="G55", X=0.2, Z=0.5)
    assert bench.current(load).key == PROBE, "it is asked again"
    assert list_last_probed(bench.state) == {}
    bench.prove(load, PROBE, offset="G54", X=0.2, Z=0.1)
    assert [last.values["Z"] for last in list_last_probed(bench.state).values()] == [0.1]


@pytest.mark.parametrize(
    ("heights", "fall"), [((0.0, 0.04, 0.0), ""), ((0.0, 0.06, 0.0), "0.06"), ((0.1, 0.2, 0.0), "0.2")]
)
def test_a_tilted_carrier_is_seated_again(heights: tuple[float, float, float], fall: str) -> None:
    """The fall of a plane through three places: from the highest to the lowest of them."""
    bench = open_bench(lambda: edited(FLAT))
    load = at_probe(bench)
    bench.prove(load, PROBE, X=0.0, Z1=heights[0], Z2=heights[1], Z3=heights[2])
    line = bench.line(load, PROBE)
    if not fall:
        assert line.state == "done"
        return
    assert line.verdict is not None
    assert line.verdict.why == f"tilted: {fall} mm across the probed points (limit: 0.05 mm)"
    assert "reseat it" in line.verdict.clear


def test_what_was_struck_out_is_no_probing() -> None:
    bench = probed(USUAL)
    load = at_probe(bench)
    probe(bench, load, 0.9)
    (place,) = [place for place in bench.state.probed if place.number == bench.state.loads[load].carrier_number]
    before = len(bench.state.probed[place])
    bench.say(StrikeOut(bench.state.seq, "read off the wrong line"))
    assert len(bench.state.probed.get(place, ())) == before - 1
