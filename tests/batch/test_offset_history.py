"""A probed offset beside the earlier ones of its carrier and of its siblings, and the tilt of a carrier."""

from __future__ import annotations

import pytest

from floor.batch.corrections.commands import StrikeOut
from floor.batch.proof import OffsetPlace, ProbedValues
from floor.batch.stations.commands import Disturb
from floor.checklist.model import Checklist
from tests.batch.factory import Bench, edited, open_bench

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
