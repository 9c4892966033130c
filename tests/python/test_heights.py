"""Heights of a top against a second method, and what the trade does about a taller one."""

from __future__ import annotations

import constraint_solver
import pytest
from scipy.optimize import brentq

import strutsweep as ss

# Two solvers that each close their equations to 1e-9 mm or better.
SECOND_METHOD_MM = 1e-6
# The trade's rule is laid along an upright strut: a lean of some ten degrees bends it by its cosine.
RULE_MM = 1.0


def test_ride_height_and_travels_by_constraint_equations(each_corner: ss.Corner) -> None:
    """SECOND METHOD: six constraint equations with the strut's length prescribed, solved by scipy."""
    car = ss.demo("gravel_hatch" if each_corner.name == "Gravel hatch" else "hillclimb_saloon")
    tables = each_corner.to_dict()
    bearing, seat, shoulder, body, collar = 6.0, -3.0, 2.0, -4.0, 7.0
    found = ss.heights(
        car, each_corner.side, bearing=bearing, seat=seat, shoulder=shoulder, body=body, collar=collar, mount_in=5.0
    )

    def rise(compression: float, **setting: float) -> float:
        moved = constraint_solver.solve(tables, travel=compression, travel_at="strut", **setting)
        design = constraint_solver.solve(tables, travel_at="strut")
        return float(moved.points["contact_centre"][2] - design.points["contact_centre"][2])

    raised = {"mount_in": 5.0, "mount_up": bearing}
    # What the collar and the body lift and what the seat takes from the spring shortens or lengthens the strut.
    here = rise((seat - bearing) - collar - body, **raised)
    assert found.ride_height == pytest.approx(-here, abs=SECOND_METHOD_MM)
    there = constraint_solver.solve(tables, travel=(seat - bearing) - collar - body, travel_at="strut", **raised)
    design = constraint_solver.solve(tables, travel_at="strut")
    for reading in ("camber", "caster", "kingpin_inclination", "toe", "scrub_radius"):
        change = there.readings[reading] - design.readings[reading]
        assert found.at_the_wheel[reading] == pytest.approx(change, abs=SECOND_METHOD_MM), reading
    for sign, at, left in ((1.0, car.limits["bump"], found.bump_left), (-1.0, car.limits["droop"], found.droop_left)):
        assert at is not None
        stop = brentq(lambda length, at=at, sign=sign: rise(length) - sign * at, -150.0, 150.0, xtol=1e-10)
        moved = rise(stop + (shoulder - bearing) - body, **raised)
        assert left == pytest.approx(sign * (moved - here), abs=SECOND_METHOD_MM)


def test_a_top_20_mm_taller_is_answered_by_a_body_20_mm_shorter(car: ss.Axle) -> None:
    """Common practice, no source: the model agrees, and says what it leaves at the wheel."""
    taller = {"bearing": -20.0, "seat": -20.0, "shoulder": -20.0}
    before, unanswered, answered = ss.heights(car), ss.heights(car, **taller), ss.heights(car, body=-20.0, **taller)
    assert unanswered.ride_height == pytest.approx(20.0, abs=RULE_MM)
    assert answered.ride_height == pytest.approx(0.0, abs=RULE_MM)
    assert answered.bump_left == pytest.approx(before.bump_left, abs=RULE_MM)
    assert answered.droop_left == pytest.approx(before.droop_left, abs=RULE_MM)
    assert answered.preload_length == pytest.approx(before.preload_length, abs=1e-9)
    # By the collar instead, ride height comes back and bump travel does not.
    collar = ss.heights(car, collar=unanswered.collar_for_ride_height, **taller)
    assert collar.ride_height == pytest.approx(0.0, abs=1e-8)
    assert collar.bump_left == pytest.approx(before.bump_left - 20.0, abs=2.0 * RULE_MM)
    assert before.captive
    assert collar.captive is False
    # At the wheel: the pivot has come down by 20 mm, and the wheel leans in.
    assert answered.at_the_wheel["camber"] == pytest.approx(-0.28, abs=0.02)
    pose = car.left.solve(mount_up=-20.0, travel=-answered.ride_height)
    assert answered.at_the_wheel["toe"] == pytest.approx(pose.toe - car.left.toe, abs=1e-8)
    # The car file's body has a thread of 2 mm and can be made 25 mm shorter.
    assert (answered.body_turns, answered.body_within_reach) == (-10.0, True)
    assert ss.heights(car, body=-26.0).body_within_reach is False
    assert ss.heights(ss.Axle.from_corners(car.left), body=-26.0).body_turns is None


def test_preload_is_free_length_less_the_distance_of_the_seats(car: ss.Axle) -> None:
    spring = car.spring
    found = ss.heights(car, collar=5.0)
    upper, lower = spring["upper_seat"], spring["lower_seat"]
    assert upper is not None
    assert lower is not None
    # IDENTITY: seats lie on the strut's axis but for their tenth of a mm; at full droop they part by the strut's
    # growth.
    apart = sum((a - b) ** 2 for a, b in zip(upper, lower, strict=True)) ** 0.5
    droop = car.left.solve(travel=-90.0).strut_compression
    assert found.preload_length == pytest.approx(347.0 - (apart - droop - 5.0), abs=0.01)
    assert found.preload_force == pytest.approx(30.0 * found.preload_length)
    loose = ss.heights(ss.demo("hillclimb_saloon"))
    assert (loose.captive, loose.preload_force) == (False, 0.0)
    assert "LOOSE" in str(loose)


def test_collar_in_turns_and_within_its_thread(car: ss.Axle) -> None:
    found = ss.heights(car, ride_height=-15.0)
    assert found.collar_turns == pytest.approx(found.collar_for_ride_height / 2.0)
    assert found.collar_within_reach is True
    assert ss.heights(car, ride_height=-60.0).collar_within_reach is False
    bare = ss.heights(ss.Axle.from_corners(car.left), collar=5.0)
    assert (bare.bump_left, bare.collar_turns, bare.collar_within_reach, bare.captive) == (None, None, None, None)


def test_a_car_beyond_its_stops_is_said_to_be(car: ss.Axle) -> None:
    low, high = ss.heights(car, collar=-95.0), ss.heights(car, collar=95.0)
    assert low.bump_left is not None and low.bump_left < 0.0
    assert f"BEYOND the bump stop by {-low.bump_left:.1f} mm" in str(low)
    assert "BEYOND the droop stop" in str(high) and "of bump travel left" in str(high)


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"bearing": float("nan")}, "bearing"),
        ({"seat": 600.0}, "500 mm"),
        ({"mount_ni": 5.0}, "mount_in"),
        ({"side": "middle"}, "side"),
        ({"mount_in": float("inf")}, "mount_in"),
    ],
)
def test_what_makes_no_sense_is_refused(car: ss.Axle, given: dict[str, float], told: str) -> None:
    with pytest.raises(ss.InputError, match=told):
        ss.heights(car, **given)  # type: ignore[arg-type]


def test_a_strut_that_cannot_go_there_is_out_of_reach(car: ss.Axle) -> None:
    with pytest.raises(ss.ReachError):
        ss.heights(car, collar=-450.0)
