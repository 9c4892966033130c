"""An axle whose two corners differ in every point: its readings against six constraint equations a wheel.

SECOND METHOD throughout: each wheel's pose, and the velocity of its contact centre, come from `constraint_solver`; lines
and their crossings from numpy. Nothing of the engine is in it.
"""

from __future__ import annotations

from typing import Any

import constraint_solver
import numpy as np
import pytest

import strutsweep as ss

# Poses of both methods are met to some 1e-11 mm; a slope at 1 m of lever, and a crossing far off, lose digits.
ANGLE_TOLERANCE_DEG = 1e-9
LENGTH_RELATIVE = 1e-7
# Newton's method over strut lengths ends within 1e-9 mm and deg; the poses are met to 1e-9 mm.
HELD_TOLERANCE_MM = 1e-7

SIDES = ("left", "right")


def askew() -> ss.Axle:
    """Every hard point of the right corner is millimetres off the left one's mirror image, differently each."""
    car = ss.demo("hillclimb_saloon")
    shifts = {
        "arm_front": [3.0, 4.0, 5.0],
        "arm_rear": [-4.0, -2.0, 6.0],
        "ball_joint": [2.0, 5.0, -4.0],
        "strut_top": [-6.0, 7.0, 3.0],
        "strut_low": [1.0, 2.0, -2.0],
        "tie_rod_inner": [3.0, 2.0, 4.0],
        "tie_rod_outer": [-2.0, 3.0, -3.0],
        "wheel_centre": [1.0, -5.0, 2.0],
    }
    mirrored = car.left.mirror()
    points = {name: mirrored.point(name) + np.array(shift) for name, shift in shifts.items()}
    return car.with_corners(car.left, mirrored.replace(**points, camber=-1.2, toe=0.3))  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def car() -> ss.Axle:
    return askew()


CASES: list[dict[str, float]] = [
    {},
    {"travel": 20.0, "roll": 1.5},
    {"travel": -15.0, "rack": 30.0, "roll": -2.0, "mount_in": 6.0},
    {"rack": -45.0, "mount_back": 8.0, "tie_rod": 1.0},
]


def solved(car: ss.Axle, **inputs: Any) -> dict[str, constraint_solver.Solution]:
    corners = {"left": car.left, "right": car.right}
    return {side: constraint_solver.solve(corner.to_dict(), **inputs) for side, corner in corners.items()}


def crossing(starts: Any, ways: Any) -> np.ndarray:
    """Where two lines of a plane cross."""
    share = np.linalg.solve(np.column_stack([ways[0], -np.asarray(ways[1])]), np.subtract(starts[1], starts[0]))
    return np.asarray(starts[0] + share[0] * np.asarray(ways[0]))


def headings(wheels: dict[str, constraint_solver.Solution]) -> list[float]:
    """Steer angles of both wheels, deg, to the left positive."""
    angles = []
    for side, outboard in zip(SIDES, (1.0, -1.0), strict=True):
        spin = wheels[side].spin_axis
        angles.append(float(np.degrees(np.arctan2(-outboard * spin[0], outboard * spin[1]))))
    return angles


@pytest.mark.parametrize("case", CASES, ids=str)
def test_roll_centre_of_unlike_corners(car: ss.Axle, case: dict[str, float]) -> None:
    wheels = solved(car, **case)
    feet = [wheels[side].points["contact_centre"][1:] for side in SIDES]
    # From the contact centre to the height that its own velocity gives at Y = 0: the normal to its path.
    ways = [
        np.array([-foot[0], wheels[side].readings["roll_centre_height"]])
        for side, foot in zip(SIDES, feet, strict=True)
    ]
    at = crossing(feet, ways)
    ground = feet[0][1] + (feet[1][1] - feet[0][1]) * (at[0] - feet[0][0]) / (feet[1][0] - feet[0][0])
    found = ss.sweep(car, **case)
    assert float(found.axle_roll_centre_shift) == pytest.approx(at[0], rel=LENGTH_RELATIVE)
    assert float(found.axle_roll_centre_height) == pytest.approx(at[1] - ground, rel=LENGTH_RELATIVE)
    # Unlike corners have it beside the centre line.
    assert abs(at[0]) > 1.0
    for i, side in enumerate(SIDES):
        one = found.sel(side=side)
        assert float(one.camber) == pytest.approx(wheels[side].readings["camber"], abs=ANGLE_TOLERANCE_DEG)
        assert float(one.wheel_steer) == pytest.approx(headings(wheels)[i], abs=ANGLE_TOLERANCE_DEG)
    assert float(found.track) == pytest.approx(feet[0][0] - feet[1][0], abs=1e-8)


def test_unlike_ground_is_told_with_what_it_makes_of_camber(car: ss.Axle) -> None:
    # SECOND METHOD: camber against the normal of the line through both contact centres, from the wheels' own axles.
    wheels = solved(car)
    feet = [wheels[side].points["contact_centre"][1:] for side in SIDES]
    along = (feet[0] - feet[1]) / np.linalg.norm(feet[0] - feet[1])
    normal = np.array([0.0, -along[1], along[0]])
    apart = feet[0][1] - feet[1][1]
    said = ss.sweep(car).attrs["ground"]
    higher, lower = SIDES if apart > 0.0 else SIDES[::-1]
    assert f"{abs(apart):.1f} mm apart in height at design, the {higher} one higher" in said
    leans = np.degrees(np.arctan2(*along[::-1]))
    assert f"leans {abs(leans):.2f} deg" in said
    for side, way in ((higher, 1.0), (lower, -1.0)):
        to_line = np.degrees(np.arcsin(-np.dot(wheels[side].spin_axis, normal)))
        level = wheels[side].readings["camber"]
        # The wheel's toe, 0.3 deg, takes a part in 1e5 of the lean.
        assert to_line - level == pytest.approx(way * abs(leans), rel=1e-4)
    assert f"the {higher} wheel's camber is greater by as much, and the {lower} one's less" in said
    assert "ground" not in ss.sweep(ss.demo("hillclimb_saloon")).attrs


@pytest.mark.parametrize("rack", [-40.0, -12.0, 12.0, 40.0])
def test_steering_of_unlike_corners(car: ss.Axle, rack: float) -> None:
    # CHECKS relation 4 (ISO 8855:2011, 7.1.9 in words), from the other method's angles and ground points.
    wheels, design = solved(car, rack=rack), solved(car)
    steer = dict(zip(SIDES, headings(wheels), strict=True))
    left_turn = steer["left"] + steer["right"] > 0.0
    inner, outer = ("left", "right") if left_turn else ("right", "left")
    found = ss.sweep(car, rack=rack)
    assert float(found.inner_wheel_steer) == pytest.approx(steer[inner], abs=ANGLE_TOLERANCE_DEG)
    assert float(found.outer_wheel_steer) == pytest.approx(steer[outer], abs=ANGLE_TOLERANCE_DEG)
    kingpins = []
    for side in SIDES:
        points = design[side].points
        axis = points["strut_top"] - points["ball_joint"]
        share = (points["contact_centre"][2] - points["ball_joint"][2]) / axis[2]
        kingpins.append(float((points["ball_joint"] + share * axis)[1]))
    track, wheelbase = kingpins[0] - kingpins[1], car.dimensions["wheelbase"]
    turned = {side: np.radians(abs(steer[side])) for side in SIDES}
    apart = 1.0 / np.tan(turned[outer]) - 1.0 / np.tan(turned[inner])
    assert float(found.ackermann_by_cotangent) == pytest.approx(100.0 * apart * wheelbase / track, rel=LENGTH_RELATIVE)
    # The outer wheel's axle line, cut by the rear axle's.
    front = np.mean([design[side].points["contact_centre"][0] for side in SIDES])
    contact = wheels[outer].points["contact_centre"][:2]
    along = wheels[outer].spin_axis[:2]
    centre = crossing([contact, np.array([front - wheelbase, 0.0])], [along, [0.0, 1.0]])
    circle = 2.0 * float(np.linalg.norm(contact - centre))
    assert float(found.turning_circle) == pytest.approx(circle, rel=LENGTH_RELATIVE)


@pytest.mark.parametrize(
    ("held", "travel_at"),
    [
        ({}, "ground"),
        ({"travel": 30.0}, "ground"),
        ({"travel": 30.0, "roll": 2.0}, "ground"),
        ({"travel": -10.0, "roll": -1.0}, "hub"),
        ({"travel": 8.0}, "strut"),
    ],
    ids=str,
)
def test_jacking_holds_each_strut_of_that_travel_and_roll(
    car: ss.Axle, held: dict[str, float], travel_at: ss.TravelAt
) -> None:
    racks = [-45.0, 30.0]
    curves = ss.steering_curves(car, rack=racks, travel_at=travel_at, **held)
    straight = solved(car, travel_at=travel_at, **held)
    lengths = [straight[side].readings["strut_compression"] for side in SIDES]
    for i, rack in enumerate(racks):
        rise, lean = float(curves.body_rise[i]), float(curves.body_lean[i])
        if travel_at == "ground":
            place = {"travel": held.get("travel", 0.0), "roll": held.get("roll", 0.0)}
        else:
            # Where the body stands straight ahead, both wheels on one ground: the engine's ground travel of that pose.
            place = _on_flat_ground(car, lengths)
        there = solved(car, rack=rack, travel=place["travel"] - rise, roll=place["roll"] + lean)
        now = [there[side].readings["strut_compression"] for side in SIDES]
        np.testing.assert_allclose(now, lengths, rtol=0.0, atol=HELD_TOLERANCE_MM)
    assert float(curves.body_rise.sel(rack=-45.0)) > 0.5


def _on_flat_ground(car: ss.Axle, lengths: list[float]) -> dict[str, float]:
    """Travel and roll at which both struts have these lengths, by SciPy over the other method."""
    from scipy.optimize import fsolve

    def missed(unknown: Any) -> list[float]:
        there = solved(car, travel=float(unknown[0]), roll=float(unknown[1]))
        return [there[side].readings["strut_compression"] - length for side, length in zip(SIDES, lengths, strict=True)]

    travel, roll = fsolve(missed, [0.0, 0.0], xtol=1e-12)
    return {"travel": float(travel), "roll": float(roll)}


def test_jacking_straight_ahead_is_none(car: ss.Axle) -> None:
    curves = ss.steering_curves(car, rack=[0.0], travel=25.0, roll=1.0, travel_at="hub")
    assert float(curves.body_rise[0]) == pytest.approx(0.0, abs=1e-9)
    assert float(curves.body_lean[0]) == pytest.approx(0.0, abs=1e-9)


def test_jacking_out_of_reach_is_no_number_in_place(car: ss.Axle) -> None:
    curves = ss.steering_curves(car, rack=[-400.0, 0.0, 20.0])
    assert np.isnan(curves.body_rise.values).tolist() == [True, False, False]
    nowhere = ss.steering_curves(car, rack=[0.0, 20.0], travel=900.0)
    assert np.isnan(nowhere.body_rise.values).all() and (nowhere.status != 0).all()


def test_steering_ratio_of_unlike_corners(car: ss.Axle) -> None:
    step = 0.5
    curves = ss.steering_curves(car, rack=[25.0], travel=10.0)
    angles = [np.mean(headings(solved(car, rack=25.0 + way * step, travel=10.0))) for way in (-2.0, -1.0, 1.0, 2.0)]
    slope = (8.0 * (angles[2] - angles[1]) - (angles[3] - angles[0])) / (12.0 * step)
    expected = 360.0 / (car.rack["mm_per_turn"] * slope)
    # The rack of this car stands ahead of the axle: to the left steers to the left.
    assert float(curves.steering_ratio[0]) == pytest.approx(expected, rel=1e-7)
