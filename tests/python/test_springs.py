"""Springs and the strut's free body: virtual work, and statics written anew in numpy."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import strutsweep as ss
from strutsweep._core import strut_load
from strutsweep.springs import GRAVITY

CARS = [ss.demo(name) for name in ss.demos()]
every_car = pytest.mark.parametrize("car", CARS, ids=ss.demos())
both_sides = pytest.mark.parametrize("side", ["left", "right"])

# Forces of 3000 N over lengths of 300 mm and up, conditioned by the angle between tie rod and arm.
FORCE_TOLERANCE_N = 1e-6
RATIO_TOLERANCE = 1e-9
# A central difference over 0.05 mm leaves 1e-7 of the third derivative, and round-off of 1e-9.
RATE_RELATIVE_TOLERANCE = 1e-5

POSES: list[dict[str, float]] = [
    {},
    {"travel": 35.0, "rack": -20.0},
    {"travel": -40.0, "roll": 2.0, "mount_in": 8.0, "clamp": 1.0},
    {"rack": 40.0, "roll": -3.0, "arm": 5.0, "mount_back": -6.0, "tie_rod": 2.0, "hub_spacer": 7.0},
]
every_pose = pytest.mark.parametrize("pose", POSES, ids=range(len(POSES)))


def corner_of(car: ss.Axle, side: str) -> ss.Corner:
    return car.left if side == "left" else car.right


def unit(vector: np.ndarray) -> np.ndarray:
    return np.asarray(vector / np.linalg.norm(vector))


@every_car
@both_sides
@every_pose
def test_spring_force_is_the_load_by_virtual_work(car: ss.Axle, side: str, pose: dict[str, float]) -> None:
    # Exact: whatever holds the wheel, a vertical load lifts it by dz while the strut shortens by ratio x dz. The spring
    # stands on the strut axis.
    corner = corner_of(car, side)
    held = strut_load(corner, pose, "ground", [0.0, 0.0, 3000.0])
    assert held["motion_ratio"] == pytest.approx(corner.solve(**pose).motion_ratio, abs=RATIO_TOLERANCE)
    assert held["spring"] * held["motion_ratio"] == pytest.approx(3000.0, abs=FORCE_TOLERANCE_N)


@every_car
@both_sides
@every_pose
@pytest.mark.parametrize("load", [[0.0, 0.0, 2800.0], [-400.0, 900.0, 3500.0]], ids=["standing", "in a corner"])
def test_free_body_in_space_is_in_balance(car: ss.Axle, side: str, pose: dict[str, float], load: list[float]) -> None:
    # SECOND METHOD: six unknowns, six equations, written anew from the pose's points. Seats off the strut axis.
    corner = corner_of(car, side)
    outward = 1.0 if side == "left" else -1.0
    if "clamp" in pose:
        # The knuckle's points do not tell how a turned tube stands; on its axis that does not matter.
        upper, lower = car.left.point("strut_top"), car.left.point("strut_low")
    else:
        upper = np.array(car.spring["upper_seat"]) + [4.0, 9.0, 0.0]
        lower = np.array(car.spring["lower_seat"]) + [-6.0, 15.0, 0.0]
    held = strut_load(corner, pose, "ground", load, upper, lower)
    now, design = corner.solve(**pose), corner.solve()

    # Where the body's own points have gone: about the ground's centre line.
    ground, roll = design.point("contact_centre")[2], np.radians(pose.get("roll", 0.0))
    turn = np.array([[1, 0, 0], [0, np.cos(roll), -np.sin(roll)], [0, np.sin(roll), np.cos(roll)]])

    def in_body(at: np.ndarray) -> np.ndarray:
        return np.asarray(turn @ (at - [0.0, 0.0, ground]) + [0.0, 0.0, ground])

    front, rear = in_body(corner.point("arm_front")), in_body(corner.point("arm_rear"))
    ball, outer, inner, top = (now.point(n) for n in ("ball_joint", "tie_rod_outer", "tie_rod_inner", "strut_top"))
    up = unit(top - now.point("strut_low"))

    def tube(of: ss.Pose) -> np.ndarray:
        """Axes of tube and knuckle, one body but for a turned clamp, from three of its points."""
        along = unit(of.point("strut_top") - of.point("strut_low"))
        across = unit(np.cross(along, of.point("tie_rod_outer") - of.point("ball_joint")))
        return np.column_stack([along, across, np.cross(along, across)])

    mirror = np.array([1.0, outward, 1.0])
    upper_now = top + turn @ (mirror * upper - corner.point("strut_top"))
    offset = mirror * lower - corner.point("strut_low")
    design_frame, now_frame = tube(design), tube(now)
    lower_now = now.point("strut_low") + now_frame @ (design_frame.T @ offset)
    line = unit(upper_now - lower_now)
    arm_axis = unit(front - rear)
    radial = unit((ball - rear) - np.dot(ball - rear, arm_axis) * arm_axis)
    across = unit(np.cross(up, [1.0, 0.0, 0.0]))
    ways = [radial, arm_axis, unit(inner - outer), across, np.cross(up, across), -line]
    at = [ball, ball, outer, top, top, lower_now]
    matrix = np.array([np.concatenate([w, np.cross(a, w) / 300.0]) for w, a in zip(ways, at, strict=True)]).T
    contact = now.point("contact_centre")
    right_hand = -np.concatenate([load, np.cross(contact, load) / 300.0])
    f, g, rod, s1, s2, spring = np.linalg.solve(matrix, right_hand)
    assert held["tie_rod"] == pytest.approx(rod, abs=FORCE_TOLERANCE_N)
    assert held["spring"] == pytest.approx(spring * np.dot(line, up), abs=FORCE_TOLERANCE_N)
    np.testing.assert_allclose(held["side_force"], s1 * across + s2 * np.cross(up, across), atol=FORCE_TOLERANCE_N)
    np.testing.assert_allclose(held["ball_joint"], f * radial + g * arm_axis, atol=FORCE_TOLERANCE_N)
    assert abs(np.dot(held["side_force"], up)) < FORCE_TOLERANCE_N


@every_car
@both_sides
def test_spring_moved_as_the_cure_says_leaves_no_side_force(car: ss.Axle, side: Any) -> None:
    found = ss.side_force(car, side=side, load=2800.0)
    assert found.force > 100.0
    tables = car.to_dict()
    lower = np.array(tables["spring"]["lower_seat"]) + [-found.cure_back, -found.cure_in, 0.0]
    # The cure is square to the strut: what it has in height is told by that.
    axis = car.left.point("strut_top") - car.left.point("strut_low")
    lower[2] += (found.cure_back * axis[0] + found.cure_in * axis[1]) / axis[2]
    tables["spring"]["lower_seat"] = lower.tolist()
    cured = ss.side_force(ss.Axle.from_dict(tables), side=side, load=2800.0)
    assert cured.force < 1e-6 and abs(cured.cure_in) < 1e-6
    assert "side force" in str(found)


def test_side_force_of_a_plane_strut_is_the_plane_figure() -> None:
    # Textbook statics (Reimpell, Stoll, Betzler, recalled): load's line, arm's line and the top's meet in a point.
    # Exact where everything lies in the plane X = 0 of the front view and the tie rod, a copy of the arm, carries
    # nothing in X.
    corner = ss.Corner.from_dict(
        {
            "lower_arm": {
                "front": [150.0, 120.0, 290.0],
                "rear": [-150.0, 120.0, 290.0],
                "ball_joint": [0.0, 570.0, 270.0],
            },
            "strut": {"top": [0.0, 410.0, 830.0], "low": [0.0, 500.0, 500.0]},
            "tie_rod": {"inner": [-120.0, 120.0, 290.0], "outer": [-120.0, 570.0, 270.0]},
            "wheel": {"centre": [0.0, 690.0, 317.0], "radius": 300.0, "camber": 0.0, "toe": 0.0},
        }
    )
    found = ss.side_force(ss.Axle.from_corners(corner), load=3000.0)
    assert found.in_front_view == pytest.approx(found.across, abs=1e-6)
    assert found.along == pytest.approx(0.0, abs=1e-6) and found.tie_rod == pytest.approx(0.0, abs=1e-6)
    # By hand: the arm's line through the ball joint falls outboard by 20 in 450; it meets x = 690 at z = 264.67.
    meet, top = np.array([690.0, 270.0 - 20.0 / 450.0 * 120.0]), np.array([410.0, 830.0])
    way, arm = (meet - top) / np.linalg.norm(meet - top), np.array([450.0, -20.0]) / np.hypot(450.0, 20.0)
    at_top = np.linalg.solve(np.column_stack([way, arm]), [0.0, -3000.0])[0] * way
    strut = np.array([410.0 - 500.0, 830.0 - 500.0])
    strut /= np.linalg.norm(strut)
    assert found.across == pytest.approx(-(at_top - np.dot(at_top, strut) * strut)[0], abs=1e-6)


@every_car
def test_wheel_rate_is_the_slope_of_the_wheel_load(car: ss.Axle) -> None:
    step = 0.05
    for travel in (-40.0, 0.0, 45.0):
        curves = ss.spring_curves(car, travel=[travel - step, travel, travel + step], rack=15.0, preload=3.0)
        slope = (curves.wheel_load[:, 2] - curves.wheel_load[:, 0]) / (2.0 * step)
        np.testing.assert_allclose(curves.wheel_rate[:, 1], slope, rtol=RATE_RELATIVE_TOLERANCE)
        np.testing.assert_allclose(curves.wheel_rate, curves.rate_by_spring + curves.rate_by_geometry, rtol=1e-12)


@every_car
def test_spring_work_is_the_work_of_the_wheel(car: ss.Axle) -> None:
    # IDENTITY: what the ground does on the wheel from droop to bump is what the spring takes up.
    curves = ss.spring_curves(car, travel=np.linspace(-50.0, 50.0, 2001)).sel(side="left")
    done = np.trapezoid(curves.wheel_load.values, curves.travel.values)
    force = curves.spring_force.values
    taken = (force[-1] ** 2 - force[0] ** 2) / (2.0 * car.spring["rate"])
    assert done == pytest.approx(taken, rel=1e-6)


@every_car
def test_ride_height_and_frequency(car: ss.Axle) -> None:
    load, mass = car.dimensions["wheel_load"], car.dimensions["unsprung_mass"]
    # The demonstration cars stand at their design height, to what their files' digits tell.
    assert abs(ss.ride_height(car, load)) < 0.1
    lower = ss.ride_height(car, load + 300.0, side="right")
    curves = ss.spring_curves(car, travel=[0.0, lower])
    assert float(curves.wheel_load.sel(side="right")[1]) + mass * GRAVITY == pytest.approx(load + 300.0, abs=1e-5)
    body = load / GRAVITY - mass
    expected = np.sqrt(1000.0 * float(curves.wheel_rate[0, 0]) / body) / (2.0 * np.pi)
    assert float(curves.ride_frequency[0, 0]) == pytest.approx(expected, rel=1e-12)
    # A collar screwed up lifts the car.
    assert ss.ride_height(car, load, preload=10.0) < -9.0


def test_what_is_missing_is_named() -> None:
    car = CARS[0]
    for field, ask in (
        ("spring.rate", lambda c: ss.spring_curves(c)),
        ("spring.lower_seat", lambda c: ss.spring_curves(c)),
        ("axle.unsprung_mass", lambda c: ss.ride_height(c, 3000.0)),
        ("axle.wheel_load", lambda c: ss.side_force(c)),
    ):
        tables = car.to_dict()
        table, key = field.split(".")
        del tables[table][key]
        with pytest.raises(ss.InputError, match=field):
            ask(ss.Axle.from_dict(tables))


@pytest.mark.parametrize("load", [0.0, 1e7, float("nan")])
def test_load_that_no_travel_carries_is_refused(load: float) -> None:
    with pytest.raises(ss.InputError) as caught:
        ss.ride_height(CARS[0], load)
    assert caught.value.name == "load"


def test_a_wheel_that_weighs_more_than_its_load_is_refused() -> None:
    tables = CARS[0].to_dict()
    tables["axle"]["unsprung_mass"] = 400.0
    car = ss.Axle.from_dict(tables)
    for ask in (ss.spring_curves, ss.side_force):
        with pytest.raises(ss.InputError, match=r"axle.wheel_load = 3126 N is not above .* 3923 N") as caught:
            ask(car)
        assert caught.value.name == "axle.wheel_load" and caught.value.limit == pytest.approx(400.0 * GRAVITY)


def test_a_strut_without_droop_has_no_curve_in_droop() -> None:
    tables = CARS[0].to_dict()
    tables["limits"]["droop"] = 0.0
    assert float(ss.spring_curves(ss.Axle.from_dict(tables)).travel.min()) == 0.0


def test_a_spring_longer_than_free_carries_nothing() -> None:
    curves = ss.spring_curves(CARS[1], travel=[-75.0], preload=-30.0)
    assert (curves.spring_force.values == 0.0).all() and (curves.wheel_rate.values == 0.0).all()


@pytest.mark.parametrize(
    ("given", "name"), [({"rate": 3.0}, "rate"), ({"preload": np.nan}, "preload"), ({"mount_inn": 2.0}, "mount_inn")]
)
def test_what_springs_do_not_know_is_refused(given: dict[str, Any], name: str) -> None:
    with pytest.raises(ss.InputError, match=name) as caught:
        ss.spring_curves(ss.demo("gravel_hatch"), **given)
    assert caught.value.name == name
    with pytest.raises(ss.InputError, match="load"):
        ss.side_force(ss.demo("gravel_hatch"), load=float("nan"))


def test_the_cure_in_words_has_both_of_its_parts() -> None:
    found = ss.side_force(ss.demo("hillclimb_saloon"), load=2800.0)
    words = str(found)
    assert f"{abs(found.cure_in):.1f} mm farther outboard" in words
    assert f"{abs(found.cure_back):.1f} mm farther {'rearward' if found.cure_back > 0.0 else 'forward'}" in words
