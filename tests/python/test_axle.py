"""The whole axle: both wheels in heave, roll and steer, against relations and methods from outside the engine."""

from __future__ import annotations

import time
from typing import Any

import constraint_solver
import numpy as np
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq, minimize
from scipy.spatial.transform import Rotation

import strutsweep as ss
from strutsweep.steering import tyre_clearance
from strutsweep.words import AXLE_READINGS, READINGS, STATUSES, attributes

# Poses are met to 1e-9 mm; an angle over 300 mm and up follows.
ANGLE_TOLERANCE_DEG = 1e-9
LENGTH_TOLERANCE_MM = 1e-8
# A roll of a twentieth of a degree: its square is what a first-order law leaves.
SMALL_ROLL_DEG = 0.05
SMALL_ROLL_ERROR_DEG = 1e-4
# Poses are met to 1e-11 mm in practice: over steps of 0.01 mm a difference of angles keeps seven digits.
RATIO_RELATIVE = 1e-6
# A search for the least distance, which is flat there, stops within this.
SEARCH_MM = 1e-4
# Printed to this many digits in the checks.
PRINTED_8 = 0.5e-8

CARS = [ss.demo(name) for name in ss.demos()]
every_car = pytest.mark.parametrize("car", CARS, ids=ss.demos())
STEER = STATUSES["steer"]["code"]
TYRE_POSES: list[dict[str, float]] = [
    {"rack": -50.0, "travel": 20.0},
    {"rack": 40.0, "travel": -10.0, "roll": 3.0},
]


def askew() -> ss.Axle:
    """A car whose two sides differ in everything that a file lets differ."""
    left = CARS[0].left
    right = left.mirror().replace(
        strut_top=[-31.0, -541.0, 842.0], camber=-1.1, toe=-0.2, tie_rod_inner=[-127.0, -333.0, 241.0]
    )
    return CARS[0].with_corners(left, right)


# --- The sweep of an axle is its corners' ---------------------------------------------------------------------------


def test_cells_of_an_axle_are_the_poses_of_its_corners() -> None:
    car = askew()
    settings_by_side = xr.DataArray([4.0, -3.0], dims="side", coords={"side": ["left", "right"]})
    ds = ss.sweep(car, travel=[-20.0, 15.0], rack=[-30.0, 0.0, 25.0], roll=[-1.5, 2.0], mount_in=settings_by_side)
    assert ds.camber.dims == ("side", "travel", "rack", "roll")
    for side, corner in (("left", car.left), ("right", car.right)):
        for i, travel in enumerate((-20.0, 15.0)):
            for j, rack in enumerate((-30.0, 0.0, 25.0)):
                for k, roll in enumerate((-1.5, 2.0)):
                    mount_in = float(settings_by_side.sel(side=side))
                    pose = corner.solve(travel=travel, rack=rack, roll=roll, mount_in=mount_in)
                    cell = ds.sel(side=side).isel(travel=i, rack=j, roll=k)
                    assert {name: float(cell[name]) for name in READINGS} == pose.readings


def test_every_array_says_what_it_is() -> None:
    ds = ss.sweep(CARS[0], roll=[0.0, 1.0], places="contact_centre")
    for name, words in AXLE_READINGS.items():
        assert ds[name].attrs == attributes(name)
        assert ("side" in ds[name].dims) == words["is_per_wheel"]
    assert ds.contact_centre.dims == ("side", "xyz", "roll")
    assert ds.attrs["travel_at"] == "ground" and ds.attrs["car"] == "Gravel hatch"


def test_readings_asked_for_are_those_that_come() -> None:
    ds = ss.sweep(CARS[0], rack=[0.0, 10.0], readings=["wheel_steer", "camber"])
    assert set(ds.data_vars) == {"wheel_steer", "camber", "status"}
    np.testing.assert_array_equal(ds.camber.values, ss.sweep(CARS[0], rack=[0.0, 10.0]).camber.values)


def test_points_that_move_are_mirrored_on_the_right() -> None:
    car = CARS[0]
    moved = xr.DataArray(car.left.point("ball_joint") + [[0.0, 0.0, 0.0], [1.0, 2.0, 3.0]], dims=("sample", "xyz"))
    ds = ss.sweep(car, points={"ball_joint": moved}, readings=["camber", "scrub_radius"])
    np.testing.assert_array_equal(ds.scrub_radius.sel(side="left").values, ds.scrub_radius.sel(side="right").values)
    assert float(ds.scrub_radius.isel(side=0, sample=1)) != float(ds.scrub_radius.isel(side=0, sample=0))


def built(car: ss.Axle, points: dict[str, Any]) -> ss.Axle:
    """The car with its left corner built of these points, and its right one their mirror image."""
    return car.with_corners(car.left.replace(**points))


STEERED: list[dict[str, Any]] = [
    {"rack": [-40.0, 0.0, 25.0]},
    {"turns": [-1.0, 0.5]},
    {"steer": [-8.0, 0.0, 5.0, 10.0]},
    {"inner_steer": [-20.0, 0.0, 15.0]},
]


@pytest.mark.parametrize("steered", STEERED, ids=[next(iter(by)) for by in STEERED])
@pytest.mark.parametrize(
    "moved",
    [
        {"tie_rod_outer": [8.0, 0.0, 10.0]},
        {"wheel_centre": [40.0, 0.0, 0.0]},
        {"ball_joint": [0.0, -20.0, 0.0]},
        {"strut_clamp": [1.0, 2.0, 3.0], "strut_top": [-4.0, 3.0, 2.0]},
    ],
    ids=" ".join,
)
def test_an_axle_whose_points_move_is_the_car_built_so(moved: dict[str, list[float]], steered: dict[str, Any]) -> None:
    car = CARS[0]
    place = {name: car.left.point("strut_low" if name == "strut_clamp" else name) for name in moved}
    points = {
        name: xr.DataArray(place[name] + np.outer([0.0, 0.5, 1.0], by), dims=("sample", "xyz"))
        for name, by in moved.items()
    }
    figures = xr.DataArray([-0.5, -1.2], dims="figure")
    travel = xr.DataArray([0.0, 20.0], dims="n")
    ds = ss.sweep(car, points={**points, "camber": figures}, travel=travel, places="contact_centre", **steered)
    for i in range(3):
        for j, camber in enumerate((-0.5, -1.2)):
            one = {name: array.values[i] for name, array in points.items()}
            whole = ss.sweep(built(car, {**one, "camber": camber}), travel=travel, places="contact_centre", **steered)
            found = ds.isel(sample=i, figure=j)
            for name, array in whole.data_vars.items():
                np.testing.assert_array_equal(found[name].transpose(*array.dims).values, array.values, err_msg=name)
            np.testing.assert_array_equal(found["rack"].values, whole["rack"].values)


def test_points_that_move_sweep_in_chunks() -> None:
    car = CARS[0]
    moved = xr.DataArray(
        car.left.point("tie_rod_outer") + np.outer([0.0, 0.5, 1.0], [8.0, 0.0, 10.0]), dims=("sample", "xyz")
    )
    whole = ss.sweep(car, points={"tie_rod_outer": moved}, rack=[-30.0, 20.0])
    chunked = moved.chunk(sample=2)
    lazy = ss.sweep(car, points={"tie_rod_outer": chunked}, rack=[-30.0, 20.0])
    for name, array in whole.data_vars.items():
        assert lazy[name].chunks is not None, name
        np.testing.assert_array_equal(lazy[name].compute().transpose(*array.dims).values, array.values, err_msg=name)
    for steered in ({"turns": 1.0}, {"steer": 5.0}):
        with pytest.raises(ss.InputError, match="not in Dask chunks"):
            ss.sweep(car, points={"tie_rod_outer": chunked}, **steered)


def test_turns_go_the_way_of_the_rack_wherever_the_points_are() -> None:
    car = CARS[0]
    ahead = {name: car.left.point(name) * [-1.0, 1.0, 1.0] for name in ("tie_rod_inner", "tie_rod_outer")}
    found = ss.sweep(car, turns=1.0, points=ahead, readings="mean_steer")
    assert float(found.mean_steer) > 0.0
    # Points that make no corner have no rack either: told by status, not by an error.
    on_the_axis = 0.5 * (car.left.point("arm_front") + car.left.point("arm_rear"))
    nowhere = xr.DataArray([car.left.point("ball_joint"), on_the_axis], dims=("k", "xyz"))
    for steered in ({"turns": 1.0}, {"steer": 5.0}):
        found = ss.sweep(car, points={"ball_joint": nowhere}, readings="mean_steer", **steered)
        status = found.status.transpose("k", "side").values
        assert (status[0] == 0).all() and (status[1] == STATUSES["hard_points"]["code"]).all()
        assert np.isnan(found.mean_steer.values[1])


def test_sides_of_points_that_move_apart_are_told() -> None:
    radii = xr.DataArray([300.0, 308.0], dims="side", coords={"side": ["left", "right"]})
    assert "8.0 mm apart" in ss.sweep(CARS[0], points={"wheel_radius": radii}).attrs["ground"]
    assert "ground" not in ss.sweep(CARS[0], points={"wheel_radius": 308.0}).attrs


def test_an_inner_angle_below_static_toe_out_is_refused() -> None:
    # Each wheel stands 0.3 deg outward: the left one is turned to the left so far only where the mean is above nothing.
    car = built(CARS[0], {"toe": -0.3})
    for turn in (1.0, -1.0):
        ds = ss.sweep(car, inner_steer=turn * np.array([0.05, 0.2, 0.5]))
        assert ds.status.values.tolist() == [[STEER, STEER, 0]] * 2
        assert float(ds.inner_wheel_steer[2]) == pytest.approx(turn * 0.5, abs=ANGLE_TOLERANCE_DEG)
        assert turn * float(ds.mean_steer[2]) > 0.0


SIDES_AND_N = xr.DataArray([[1.0, 2.0, 3.0], [3.0, 2.0, 1.0]], dims=("side", "n"), coords={"side": ["left", "right"]})


@pytest.mark.parametrize(
    ("inputs", "message"),
    [
        ({"travel": xr.DataArray([1.0, 2.0], dims="total_toe")}, "'total_toe', which is the name of a result"),
        ({"travel": SIDES_AND_N[0].assign_coords(track=("n", list("abc")))}, "'track', which is the name of a result"),
        ({"steer": [1.0, 2.0], "travel": xr.DataArray([1.0, 2.0, 3.0], dims="steer")}, "values along steer"),
        ({"steer": 1.0, "threads": 4000}, "threads = 4000 is more than 1024"),
        ({"steer": 1.0, "threads": -1}, "threads = -1 is not a whole number"),
        ({"points": [1.0]}, "no mapping of names"),
        (
            {"steer": np.linspace(-9, 9, 10_000), "roll": np.linspace(-1, 1, 10_000), "mount_in": np.arange(10_000.0)},
            "2,000,000,000,000 poses would take",
        ),
    ],
    ids=range(7),
)
def test_what_an_axle_cannot_be_swept_over_is_refused_at_once(inputs: dict[str, Any], message: str) -> None:
    with pytest.raises(ss.InputError, match=message):
        ss.sweep(CARS[0], **inputs)


def test_an_input_of_one_side_holds_on_both() -> None:
    one = ss.sweep(CARS[0], travel=SIDES_AND_N.sel(side="left"))
    np.testing.assert_array_equal(one.camber.values, ss.sweep(CARS[0], travel=SIDES_AND_N.values[0]).camber.values)


def test_sides_of_their_own_sweep_in_chunks() -> None:
    readings = ["camber", "mean_steer"]
    lazy = ss.sweep(CARS[0], travel=SIDES_AND_N.chunk(n=2), readings=readings)
    assert lazy.camber.chunks is not None
    whole = ss.sweep(CARS[0], travel=SIDES_AND_N, readings=readings)
    for name in readings:
        np.testing.assert_array_equal(lazy[name].compute().values, whole[name].values)


def test_an_axle_sweeps_in_chunks() -> None:
    rolls = xr.DataArray(np.linspace(-2.0, 2.0, 8), dims="roll")
    whole = ss.sweep(CARS[0], roll=rolls, rack=[-20.0, 20.0], readings=["camber", "axle_roll_centre_height"])
    lazy = ss.sweep(
        CARS[0], roll=rolls.chunk(roll=3), rack=[-20.0, 20.0], readings=["camber", "axle_roll_centre_height"]
    )
    assert lazy.camber.chunks is not None
    for name in ("camber", "axle_roll_centre_height", "roll_centre_status", "status"):
        np.testing.assert_array_equal(lazy[name].compute().values, whole[name].values)


def test_a_large_grid_takes_seconds() -> None:
    # 101 rolls by 101 racks by 41 heaves, both wheels, every reading: 836,482 wheels. The bound is generous for a busy
    # machine; an idle one takes about a second.
    start = time.perf_counter()
    ds = ss.sweep(
        CARS[0], roll=np.linspace(-4, 4, 101), rack=np.linspace(-60, 60, 101), travel=np.linspace(-40, 40, 41)
    )
    assert time.perf_counter() - start < 30.0
    assert ds.sizes == {"side": 2, "travel": 41, "rack": 101, "roll": 101}
    assert set(READINGS) | set(AXLE_READINGS) <= set(ds.data_vars)
    assert int((ds.status != 0).sum()) == 0


# --- Roll -----------------------------------------------------------------------------------------------------------


@every_car
def test_a_symmetric_axle_in_roll_is_its_mirror_image(car: ss.Axle) -> None:
    # IDENTITY: the mirror image of a body that leans right, wheels steered left, leans left, wheels steered right.
    ds = ss.sweep(car, roll=[-2.0, 2.0], rack=[-25.0, 25.0], travel=[-10.0, 20.0])
    here, there = ds.isel(roll=0, rack=0), ds.isel(roll=1, rack=1)
    for name in READINGS:
        np.testing.assert_array_equal(here[name].sel(side="left").values, there[name].sel(side="right").values)
        np.testing.assert_array_equal(here[name].sel(side="right").values, there[name].sel(side="left").values)
    assert np.allclose(here.mean_steer, -there.mean_steer, rtol=0.0, atol=1e-12)
    assert np.allclose(here.axle_roll_centre_height, there.axle_roll_centre_height, rtol=1e-9, atol=0.0)
    assert np.allclose(here.axle_roll_centre_shift, -there.axle_roll_centre_shift, rtol=1e-9, atol=0.0)


def test_roll_there_and_back_returns() -> None:
    path = xr.DataArray([0.0, 1.0, 2.0, 3.0, 2.0, 1.0, 0.0, -2.0, 0.0], dims="step")
    ds = ss.sweep(CARS[1], roll=path)
    for name in READINGS:
        values = ds[name].values
        np.testing.assert_array_equal(values[:, 0], values[:, 6])
        np.testing.assert_array_equal(values[:, 0], values[:, 8])
        np.testing.assert_array_equal(values[:, 1], values[:, 5])


@every_car
@pytest.mark.parametrize("roll", [SMALL_ROLL_DEG, -SMALL_ROLL_DEG])
def test_camber_to_the_ground_is_camber_to_the_body_and_roll(car: ss.Axle, roll: float) -> None:
    # Outer wheel plus, inner wheel minus. A lean to the right has the right wheel outside.
    ds = ss.sweep(car, roll=roll, rack=[-20.0, 0.0, 20.0])
    # A steered wheel's plane meets the lean by the cosine of its steer angle only.
    apart = (ds.camber - ds.camber_to_body) / np.cos(np.radians(ds.wheel_steer))
    np.testing.assert_allclose(apart.sel(side="right"), roll, rtol=0.0, atol=SMALL_ROLL_ERROR_DEG)
    np.testing.assert_allclose(apart.sel(side="left"), -roll, rtol=0.0, atol=SMALL_ROLL_ERROR_DEG)


@every_car
def test_camber_to_the_body_is_that_of_a_corner_whose_body_stands_level(car: ss.Axle) -> None:
    # SECOND METHOD: with the strut held a leaning body carries its wheel along, so that camber to the body stays.
    level = ss.sweep(car, rack=[-30.0, 10.0], travel_at="strut")
    leant = ss.sweep(car, rack=[-30.0, 10.0], roll=[-15.0, 4.0], travel_at="strut")
    np.testing.assert_allclose(
        leant.camber_to_body.transpose(..., "roll"),
        np.broadcast_to(level.camber.values[..., None], (2, 2, 2)),
        atol=1e-9,
    )


@pytest.mark.parametrize("side", ["left", "right"])
def test_rolled_corner_is_the_constraint_equations(side: Any) -> None:
    # SECOND METHOD: six constraint equations, the body's points turned by scipy.
    car = askew()
    corner = car.left if side == "left" else car.right
    case = {"roll": 3.5, "rack": -18.0, "travel": 12.0, "mount_back": 6.0}
    expected = constraint_solver.solve(corner.to_dict(), **case).readings
    found = ss.sweep(car, **case).sel(side=side)
    for name in ("camber", "toe", "caster", "kingpin_inclination"):
        assert float(found[name]) == pytest.approx(expected[name], abs=ANGLE_TOLERANCE_DEG)
    assert float(found.side_view_swing_arm) == pytest.approx(expected["side_view_swing_arm"], rel=1e-7)


@every_car
def test_roll_centre_is_where_the_normals_cross(car: ss.Axle) -> None:
    # SECOND METHOD: contact paths by differences, normals and their crossing by numpy.
    step = 0.01
    for roll in (0.0, 1.0, -2.5):
        around = ss.sweep(car, roll=roll, travel=[-step, 0.0, step], places="contact_centre", readings=[])
        at = around.contact_centre.sel(xyz=["y", "z"])
        normals, feet = [], []
        for side in ("left", "right"):
            path = at.sel(side=side)
            tangent = (path.isel(travel=2) - path.isel(travel=0)).values
            normals.append(np.array([tangent[1], -tangent[0]]) / np.linalg.norm(tangent))
            feet.append(path.isel(travel=1).values)
        share = np.linalg.solve(np.column_stack([normals[0], -normals[1]]), feet[1] - feet[0])
        crossing = feet[0] + share[0] * normals[0]
        found = ss.sweep(car, roll=roll)
        assert float(found.axle_roll_centre_shift) == pytest.approx(crossing[0], rel=1e-5, abs=1e-3)
        assert float(found.axle_roll_centre_height) == pytest.approx(crossing[1] - feet[0][1], rel=1e-5, abs=1e-3)


@every_car
def test_roll_centre_of_a_level_axle_is_the_corners_own(car: ss.Axle) -> None:
    # CHECKS section 1's roll centre is of a symmetric axle: 89.35842954 mm is asserted of the corner elsewhere.
    ds = ss.sweep(car, travel=[-30.0, 0.0, 30.0])
    np.testing.assert_allclose(ds.axle_roll_centre_height, ds.roll_centre_height.sel(side="left"), rtol=1e-9)
    np.testing.assert_allclose(ds.axle_roll_centre_shift, 0.0, rtol=0.0, atol=1e-9)


@every_car
def test_parallel_normals_have_no_roll_centre_and_a_flag(car: ss.Axle) -> None:
    # Lowered until the contact centres go straight up: both normals are level then, and nowhere do they cross.
    level = brentq(lambda travel: car.left.solve(travel=travel).roll_centre_height, 0.0, 75.0, xtol=1e-12)
    ds = ss.sweep(car, travel=[0.0, level, level + 2.0])
    assert ds.roll_centre_status.values.tolist() == [0, 1, 0]
    assert ds.roll_centre_status.attrs["flag_meanings"] == "found parallel"
    for name in ("axle_roll_centre_height", "axle_roll_centre_shift"):
        assert np.isnan(ds[name].values).tolist() == [False, True, False]
    # Out of reach is no such finding.
    assert int(ss.sweep(car, travel=900.0).roll_centre_status) == 0


@every_car
def test_anti_dive_share_is_the_textbooks(car: ss.Axle) -> None:
    # CHECKS relation 10: share of the brakes x tan(angle) x wheelbase / height of the centre of gravity.
    ds = ss.sweep(car, travel=[-20.0, 0.0, 20.0])
    known = car.dimensions
    factor = known["front_brake_share"] * known["wheelbase"] / known["centre_of_gravity_height"]
    np.testing.assert_allclose(ds.anti_dive_share, 100.0 * factor * np.tan(np.radians(ds.anti_dive_angle)), rtol=1e-12)
    # 25 %, 60 %, 2550 mm, 600 mm give 5.5993393 deg.
    assert np.degrees(np.arctan(0.25 * 600.0 / (0.6 * 2550.0))) == pytest.approx(5.5993393, abs=PRINTED_8 * 10)


def test_side_view_swing_arm_has_its_instant_centre_at_rest() -> None:
    # SECOND METHOD: a point of the knuckle that stands at the instant centre does not move in side view.
    corner = CARS[1].left
    low, pose, high = (corner.solve(travel=t) for t in (-0.01, 0.0, 0.01))

    def frame(p: ss.Pose) -> tuple[np.ndarray, np.ndarray]:
        origin = p.point("ball_joint")
        x = p.point("wheel_centre") - origin
        z = np.cross(x, p.point("tie_rod_outer") - origin)
        axes = np.column_stack([x / np.linalg.norm(x), np.cross(z, x), z / np.linalg.norm(z)])
        axes[:, 1] /= np.linalg.norm(axes[:, 1])
        return origin, axes

    length, slope = pose.side_view_swing_arm, np.tan(np.radians(pose.anti_dive_angle))
    centre = pose.point("contact_centre") + np.array([-length, 0.0, length * slope])
    origin, axes = frame(pose)
    carried = [o + a @ (axes.T @ (centre - origin)) for o, a in (frame(low), frame(high))]
    velocity = (carried[1] - carried[0]) / 0.02
    # Against the contact centre's own speed of 1 mm a mm, over an arm of metres.
    assert np.abs(velocity[[0, 2]]).max() < 1e-3


# --- Steer ----------------------------------------------------------------------------------------------------------


@every_car
@pytest.mark.parametrize("name", ["steer", "inner_steer"])
def test_wanted_steer_angles_are_met(car: ss.Axle, name: str) -> None:
    wanted = [-25.0, -3.0, 0.0, 0.5, 20.0, 30.0]
    ds = ss.sweep(car, **{name: wanted}, roll=[0.0, 1.5], travel=[-10.0, 10.0])
    met = ds.mean_steer if name == "steer" else ds.inner_wheel_steer
    for i, angle in enumerate(wanted):
        if name == "inner_steer" and angle == 0.0:
            continue
        np.testing.assert_allclose(met.isel({name: i}), angle, rtol=0.0, atol=1e-9)
    # The rack found is one that a sweep by rack would give the same for.
    again = ss.sweep(car, travel=10.0, roll=1.5, rack=float(ds.rack.sel({name: 20.0, "roll": 1.5, "travel": 10.0})))
    np.testing.assert_array_equal(again.toe.values, ds.toe.sel({name: 20.0, "roll": 1.5, "travel": 10.0}).values)


@every_car
def test_positive_turns_steer_left_on_either_side_of_the_axle(car: ss.Axle) -> None:
    ds = ss.sweep(car, turns=[-1.0, 0.0, 1.0])
    assert float(ds.mean_steer[2]) > 10.0 and float(ds.mean_steer[0]) < -10.0
    np.testing.assert_allclose(abs(ds.rack.values), [car.rack["mm_per_turn"], 0.0, car.rack["mm_per_turn"]])


@every_car
def test_steer_near_over_centre_is_refused_in_place(car: ss.Axle) -> None:
    ds = ss.sweep(car, steer=[10.0, 89.0])
    assert ds.status.values.tolist() == [[0, STEER], [0, STEER]]
    assert np.isnan(ds.camber.values[:, 1]).all() and np.isnan(float(ds.rack[1]))
    assert np.isfinite(ds.camber.values[:, 0]).all()
    # The last that is given stands clear of over-centre.
    fine = ss.sweep(car, steer=np.linspace(0.0, 85.0, 341))
    reached = fine.status.values[0] == 0
    assert reached.any() and not reached.all()
    assert fine.tie_rod_margin.values[:, reached].min() >= 0.1
    # Angles grow up to there and none comes after.
    assert np.flatnonzero(~reached).min() == np.count_nonzero(reached)


def test_a_sweep_of_rack_beyond_over_centre_never_jumps() -> None:
    # Rack -150 to 150 mm; this car goes over-centre inside it on either wheel.
    ds = ss.sweep(CARS[1], rack=np.linspace(-150.0, 150.0, 1201))
    for side in ("left", "right"):
        one = ds.sel(side=side)
        reached = one.status.values == 0
        assert set(one.status.values[~reached]) == {STATUSES["tie_rod"]["code"]}
        inside = np.flatnonzero(reached)
        # One stretch about the centre, no pose beyond either end.
        assert inside.size == inside[-1] - inside[0] + 1 and inside[0] > 0 and inside[-1] < 1200
        steer = one.wheel_steer.values[inside]
        steps = np.diff(steer) * np.sign(steer[-1] - steer[0])
        assert (steps > 0.0).all()
        # Steer runs as a root towards its end: the last steps of 0.25 mm are large, but no leap to another branch.
        assert steps.max() < 12.0
        assert np.abs(steps[100:-100]).max() < 0.6


@pytest.mark.parametrize("car", [CARS[1], askew()], ids=["saloon", "askew"])
def test_ackermann_against_its_definition(car: ss.Axle) -> None:
    # CHECKS relation 4: cot(outer) - cot(inner) = kingpin track / wheelbase is 100 %.
    at_design = [corner.solve().point("steering_axis_at_ground")[1] for corner in (car.left, car.right)]
    kingpin_track, wheelbase = at_design[0] - at_design[1], car.dimensions["wheelbase"]
    ds = ss.sweep(car, rack=[-50.0, -20.0, 20.0, 50.0])
    for i in range(4):
        cell = ds.isel(rack=i)
        inner, outer = abs(float(cell.inner_wheel_steer)), abs(float(cell.outer_wheel_steer))
        true_outer = np.degrees(np.arctan(1.0 / (1.0 / np.tan(np.radians(inner)) + kingpin_track / wheelbase)))
        assert float(cell.toe_out_on_turns) == pytest.approx(inner - outer, abs=1e-12)
        assert float(cell.ackermann_by_angle) == pytest.approx(100.0 * (inner - outer) / (inner - true_outer), rel=1e-9)
        apart = 1.0 / np.tan(np.radians(outer)) - 1.0 / np.tan(np.radians(inner))
        assert float(cell.ackermann_by_cotangent) == pytest.approx(100.0 * apart * wheelbase / kingpin_track, rel=1e-9)


def test_true_outer_angle_is_the_printed_one() -> None:
    # CHECKS relation 4: wheelbase 2.5, track 1.5, inner 20 deg: outer 16.63259027.
    from strutsweep._core import true_outer

    assert true_outer(20.0, 1500.0, 2500.0) == pytest.approx(16.63259027, abs=PRINTED_8)
    assert true_outer(0.0, 1500.0, 2500.0) == 0.0


@every_car
def test_turning_circle_is_drawn(car: ss.Axle) -> None:
    # SECOND METHOD: the outer wheel's axle line, cut by the rear axle's, in top view.
    pose = car.right.solve(rack=-50.0 if car.name == "Gravel hatch" else 50.0)
    ds = ss.sweep(car, rack=-50.0 if car.name == "Gravel hatch" else 50.0)
    assert float(ds.mean_steer) > 0.0
    contact, toe = pose.point("contact_centre"), np.radians(pose.toe)
    axle_line = np.array([np.sin(toe), -np.cos(toe)])
    rear = car.left.solve().point("contact_centre")[0] - car.dimensions["wheelbase"]
    along = (rear - contact[0]) / axle_line[0]
    centre = contact[:2] + along * axle_line
    assert float(ds.turning_circle) == pytest.approx(2.0 * np.hypot(*(contact[:2] - centre)), rel=1e-12)


@every_car
def test_steering_ratio_is_the_slope(car: ss.Axle) -> None:
    curves = ss.steering_curves(car, rack=np.linspace(-40.0, 40.0, 801))
    wheel, road = 360.0 * curves.turns.values, curves.mean_steer.values
    by_difference = np.gradient(wheel, curves.rack.values) / np.gradient(road, curves.rack.values)
    np.testing.assert_allclose(curves.steering_ratio.values[1:-1], by_difference[1:-1], rtol=1e-4)
    assert (curves.steering_ratio.values > 0.0).all()


@every_car
@pytest.mark.parametrize("travel_at", ["ground", "strut"])
def test_steering_ratio_is_exact_up_to_the_linkage_s_end(car: ss.Axle, travel_at: Any) -> None:
    # SECOND METHOD: Richardson's extrapolation of differences. Near over-centre toe goes as a square root, where a
    # plain difference over a twentieth of a millimetre is wrong in the fourth digit.
    end = next(limit.rack for limit in ss.largest_lock(car, margin=0.0)[0].limits if limit.name == "linkage")
    held: dict[str, Any] = {"travel": 5.0, "roll": 1.0, "travel_at": travel_at}
    for rack in (0.0, 0.9 * end, end - np.sign(end) * 6.0):
        steps = [h * way for h in (0.02, 0.01) for way in (1.0, -1.0)]
        steer = ss.sweep(car, rack=[rack + step for step in steps], readings="mean_steer", **held).mean_steer.values
        coarse, fine = (steer[0] - steer[1]) / 0.04, (steer[2] - steer[3]) / 0.02
        slope = (4.0 * fine - coarse) / 3.0
        found = float(ss.steering_curves(car, rack=[rack], **held).steering_ratio[0])
        assert found == pytest.approx(360.0 / abs(car.rack["mm_per_turn"] * slope), rel=RATIO_RELATIVE)


@every_car
@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("pose", TYRE_POSES, ids=str)
def test_tyre_clearance_is_the_distance_to_a_cylinder(car: ss.Axle, side: str, pose: dict[str, float]) -> None:
    # SECOND METHOD: the nearest point of a cylinder by scipy's bounded search over its solid, in axes from the wheel's
    # own points; the body's point is rolled by scipy's rotation about the ground's centre line.
    corner, outboard = (car.left, 1.0) if side == "left" else (car.right, -1.0)
    radius, width = car.envelope["tyre_radius"], car.envelope["tyre_width"]
    assert radius is not None and width is not None
    now = corner.solve(**pose)
    # The lowest point of the wheel's plane and the wheel centre span it together with the level way forward.
    up = now.point("wheel_centre") - now.point("contact_centre")
    ahead = np.array([np.cos(np.radians(now.toe)), -outboard * np.sin(np.radians(now.toe)), 0.0])
    frame = Rotation.align_vectors([up / np.linalg.norm(up), ahead], [[0.0, 0.0, 1.0], [1.0, 0.0, 0.0]])[0]
    pivot = np.array([0.0, 0.0, corner.solve().point("contact_centre")[2]])
    for name in ("arch_front", "arch_rear", "rail", "arch_top"):
        point = np.array(car.envelope[name])  # type: ignore[literal-required]
        mirrored = point * [1.0, outboard, 1.0]
        rolled = Rotation.from_euler("x", pose.get("roll", 0.0), degrees=True).apply(mirrored - pivot) + pivot
        local = frame.inv().apply(rolled - now.point("wheel_centre"))

        def apart(at: np.ndarray, local: np.ndarray = local) -> float:
            turn, out, across = at
            return float(np.linalg.norm([out * np.cos(turn), across, out * np.sin(turn)] - local))

        start = [np.arctan2(local[2], local[0]), 0.9 * radius, 0.0]
        bounds = [(start[0] - 1.0, start[0] + 1.0), (0.0, radius), (-width / 2.0, width / 2.0)]
        nearest = minimize(apart, start, bounds=bounds, method="L-BFGS-B", options={"ftol": 1e-15, "gtol": 1e-12})
        assert tyre_clearance(corner, now, point, radius, width) == pytest.approx(nearest.fun, abs=SEARCH_MM)


def test_a_margin_of_zero_is_not_the_usual_one() -> None:
    tables = CARS[0].to_dict()
    tables["limits"]["tie_rod_margin"] = 0.0
    left, _ = ss.largest_lock(ss.Axle.from_dict(tables))
    assert "over-centre margin" not in [limit.name for limit in left.limits]
    tables["limits"]["tie_rod_margin"] = 0.2
    assert "over-centre margin" in [limit.name for limit in ss.largest_lock(ss.Axle.from_dict(tables))[0].limits]


@every_car
def test_jacking_lifts_the_body_by_the_springs_alone(car: ss.Axle) -> None:
    # SECOND METHOD: the body is put where the curves say, and both struts must then have their design length.
    curves = ss.steering_curves(car, rack=[-45.0, 30.0])
    for i, rack in enumerate((-45.0, 30.0)):
        rise, lean = float(curves.body_rise[i]), float(curves.body_lean[i])
        squeezed = [
            corner.solve(rack=rack, travel=-rise, roll=lean).strut_compression for corner in (car.left, car.right)
        ]
        # Both wheels share the rise of their mean and a small-angle lean: second order of tenths of a degree over 700
        # mm.
        np.testing.assert_allclose(squeezed, 0.0, rtol=0.0, atol=0.05)


@every_car
def test_largest_lock_ends_where_its_limit_does(car: ss.Axle) -> None:
    for lock in ss.largest_lock(car):
        ordered = [abs(limit.rack) for limit in lock.limits]
        assert ordered == sorted(ordered) and lock.limited_by == lock.limits[0] and abs(lock.rack) <= car.rack["stroke"]
        assert lock.inner_steer > lock.outer_steer > 0.0
        assert {"rack stroke", "over-centre margin", "linkage", "tyre clearance"} <= {
            limit.name for limit in lock.limits
        }
        margin = next(limit for limit in lock.limits if limit.name == "over-centre margin")
        wheel = car.left if margin.where.startswith("left") else car.right
        assert wheel.solve(rack=margin.rack).tie_rod_margin == pytest.approx(car.limits["tie_rod_margin"], abs=1e-6)
        end = next(limit for limit in lock.limits if limit.name == "linkage")
        wheel = car.left if end.where.startswith("left") else car.right
        with pytest.raises(ss.ReachError):
            wheel.solve(rack=end.rack * 1.000001)
        assert lock.turn in str(lock) and lock.limited_by.name in str(lock)


def test_lock_by_tie_rod_end_and_without_what_is_not_known() -> None:
    tables = CARS[0].to_dict()
    tables["limits"]["tie_rod_end_angle"] = 8.0
    del tables["envelope"]
    left, right = ss.largest_lock(ss.Axle.from_dict(tables))
    assert left.limited_by.name == right.limited_by.name == "tie-rod end angle"
    assert left.not_known == ("envelope",)
    # The inner joint leans by what the rod turns in the body.
    wheel = CARS[0].left if left.limited_by.where.startswith("left") else CARS[0].right
    if "inner" in left.limited_by.where:
        rods = [
            p.point("tie_rod_outer") - p.point("tie_rod_inner") for p in (wheel.solve(), wheel.solve(rack=left.rack))
        ]
        turned = Rotation.align_vectors([rods[1]], [rods[0]])[0].magnitude()
        assert np.degrees(turned) == pytest.approx(8.0, abs=1e-6)


@pytest.mark.parametrize(
    ("given", "name"),
    [
        ({"clearance": np.nan}, "clearance"),
        ({"clearance": np.inf}, "clearance"),
        ({"clearance": -500.0}, "clearance"),
        ({"margin": np.nan}, "margin"),
        ({"margin": -1.0}, "margin"),
        ({"margin": 1.5}, "margin"),
    ],
)
def test_a_lock_without_its_checks_is_refused(given: dict[str, float], name: str) -> None:
    with pytest.raises(ss.InputError, match=name) as caught:
        ss.largest_lock(ss.demo("gravel_hatch"), **given)
    assert caught.value.name == name


def test_lock_already_passed_is_refused() -> None:
    tables = CARS[0].to_dict()
    tables["envelope"]["rail"] = tables["wheel"]["centre"]
    with pytest.raises(ss.InputError, match="tyre clearance"):
        ss.largest_lock(ss.Axle.from_dict(tables))


# --- Refusals -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("inputs", "name"),
    [
        ({"steer": 3.0, "rack": 5.0}, "steer"),
        ({"steer": 3.0, "turns": 0.5}, "turns"),
        ({"rack": xr.DataArray([1.0, 2.0], dims="side", coords={"side": ["left", "right"]})}, "rack"),
        ({"roll": xr.DataArray([1.0, 2.0], dims="side", coords={"side": ["left", "right"]})}, "roll"),
        ({"steer": xr.DataArray([1.0, 2.0], dims="side", coords={"side": ["left", "right"]})}, "steer"),
        ({"clamp": xr.DataArray([1.0, 2.0], dims="side")}, "clamp"),
        ({"clamp": xr.DataArray([1.0, 2.0], dims="side", coords={"side": ["left", "middle"]})}, "clamp"),
        ({"steer": np.nan}, "steer"),
        ({"readings": "ackerman_by_angle"}, "readings"),
    ],
)
def test_wrong_inputs_are_named(inputs: dict[str, Any], name: str) -> None:
    with pytest.raises(ss.InputError) as caught:
        ss.sweep(CARS[0], **inputs)
    assert caught.value.name == name


def test_turns_need_a_rack_that_is_known() -> None:
    tables = CARS[0].to_dict()
    del tables["rack"]["mm_per_turn"]
    with pytest.raises(ss.InputError, match="mm_per_turn"):
        ss.sweep(ss.Axle.from_dict(tables), turns=1.0)


@pytest.mark.parametrize("name", ["steer", "inner_steer", "turns"])
def test_one_corner_is_not_steered_by_an_axle_s_angle(name: str) -> None:
    with pytest.raises(ss.InputError) as caught:
        ss.sweep(CARS[0].left, **{name: 3.0})
    assert caught.value.name == name


def test_without_a_wheelbase_ackermann_is_not_known() -> None:
    tables = CARS[0].to_dict()
    del tables["axle"]
    ds = ss.sweep(ss.Axle.from_dict(tables), rack=40.0)
    for name in ("ackermann_by_angle", "ackermann_by_cotangent", "turning_circle"):
        assert np.isnan(float(ds[name]))
    assert np.isnan(ds.anti_dive_share.values).all() and np.isfinite(float(ds.toe_out_on_turns))


# --- The corner that matters ----------------------------------------------------------------------------------------


@settings(max_examples=100, deadline=None)
@given(
    st.floats(-4.0, 4.0),
    st.floats(-25.0, 25.0),
    st.floats(-25.0, 25.0),
    st.sampled_from(["outer", "inner", "left", "right"]),
)
def test_shares_of_camber_sum_exactly_and_hardly_leave_a_remainder(
    roll: float, steer: float, travel: float, wheel: Any
) -> None:
    car = CARS[1]
    shares = ss.camber_shares(car, roll=roll, steer=steer, travel=travel, wheel=wheel)
    assert shares.camber == sum(shares.parts.values())
    found = ss.sweep(car, roll=roll, steer=steer, travel=travel).sel(side=shares.side)
    assert shares.camber == pytest.approx(float(found.camber), abs=1e-9)
    # A fixed axis is a good likeness of a strut's: within a few tenths of a degree at 25 deg of steer.
    assert abs(shares.remainder) < 0.02 + 6e-4 * steer**2
    assert shares.static == -0.5


def test_outer_is_the_outside_of_the_turn_then_of_the_lean_then_none() -> None:
    def outer(**inputs: Any) -> tuple[str, bool | None]:
        found = ss.camber_shares(CARS[0], **inputs)
        assert str(found).startswith(f"{found.side} (outer) wheel" if found.is_outer else f"{found.side} wheel")
        return found.side, found.is_outer

    # A turn to the left has the right wheel outside, whichever way the body leans.
    assert outer(roll=-1.0, steer=5.0) == ("right", True) and outer(roll=1.0, steer=-5.0) == ("left", True)
    assert outer(roll=1.0) == ("right", True) and outer(roll=-1.0) == ("left", True)
    assert outer(roll=0.0) == ("left", None)


def test_a_setting_is_static_camber_and_no_bump() -> None:
    # IDENTITY: at rest, level and straight, all of the camber is static, whatever made it.
    car = ss.demo("gravel_hatch")
    shares = ss.camber_shares(car, roll=0.0, wheel="left", mount_in=10.0)
    assert shares.static == pytest.approx(car.left.solve(mount_in=10.0).camber, abs=1e-12)
    assert shares.camber == pytest.approx(shares.static, abs=1e-12)
    assert all(abs(shares.parts[name]) < 1e-9 for name in shares.parts if name != "static")


def test_shares_of_a_planar_steer_are_the_formula() -> None:
    # CHECKS relation 1: 5/12/0 deg turned by 20 deg has camber 2.36915965, by -20 deg -0.97332818.
    from strutsweep.shares import _steered_shares

    for d, expected in ((20.0, 2.36915965), (-20.0, -0.97332818)):
        axis = np.array([-np.tan(np.radians(5.0)), -np.tan(np.radians(12.0)), 1.0])
        spin = Rotation.from_rotvec(np.radians(d) * axis / np.linalg.norm(axis)).apply([0.0, 1.0, 0.0])
        outward = float(np.degrees(np.arctan2(-spin[0], spin[1])))
        assert sum(_steered_shares(5.0, 12.0, 0.0, outward)) == pytest.approx(expected, abs=PRINTED_8)


@pytest.mark.parametrize(
    ("inputs", "name"),
    [
        ({"steer": 80.0}, "steer"),
        ({"steer": 1.0, "rack": 1.0}, "steer"),
        ({"wheel": "front"}, "wheel"),
        # The notes speak of ride height held.
        ({"travel_at": "hub"}, "travel_at"),
        ({"readings": "camber"}, "readings"),
        ({"mount_in": [1.0, 2.0]}, "mount_in"),
    ],
)
def test_wrong_inputs_of_shares_are_named(inputs: dict[str, Any], name: str) -> None:
    with pytest.raises(ss.InputError) as caught:
        ss.camber_shares(CARS[0], roll=1.0, **inputs)
    assert caught.value.name == name


def test_readings_of_the_axle_stand_beside_the_angle_that_was_asked_for() -> None:
    # Descending and alone: the labels of one dimension, in their own order.
    ds = ss.sweep(CARS[0], inner_steer=[20.0, -20.0, 5.0])
    assert ds.inner_steer.attrs["units"] == "deg" and ds.inner_steer.values.tolist() == [20.0, -20.0, 5.0]
    np.testing.assert_allclose(ds.inner_wheel_steer, [20.0, -20.0, 5.0])
    np.testing.assert_allclose(ds.toe_out_on_turns.values[:2], [0.3794, 0.3794], atol=1e-4)
    np.testing.assert_allclose(ds.wheel_steer.sel(side="left").values[[0, 2]], [20.0, 5.0], atol=1e-9)
    assert ds.mean_steer.dims == ("inner_steer",) and list(ds.mean_steer.coords["inner_steer"].values) == [
        20.0,
        -20.0,
        5.0,
    ]


@every_car
def test_rates_per_roll_are_slopes_of_curves(car: ss.Axle) -> None:
    rates = ss.roll_rates(car, travel=[0.0, 15.0], rack=10.0)
    curve = ss.sweep(car, roll=np.linspace(-0.2, 0.2, 5), travel=[0.0, 15.0], rack=10.0)
    for name, reading in (
        ("camber_per_roll", "camber"),
        ("camber_to_body_per_roll", "camber_to_body"),
        ("roll_steer", "wheel_steer"),
        ("track_per_roll", "half_track"),
    ):
        # SECOND METHOD: the five-point rule over steps of a tenth of a degree.
        y = curve[reading].transpose("roll", "side", "travel").values
        slope = (8.0 * (y[3] - y[1]) - (y[4] - y[0])) / 1.2
        np.testing.assert_allclose(rates[name].transpose("side", "travel"), slope, rtol=1e-5, atol=1e-7)
    level = ss.roll_rates(car)
    np.testing.assert_allclose(
        level.camber_per_roll.sel(side="left"), -level.camber_per_roll.sel(side="right"), rtol=1e-9
    )
    # Camber to the ground = camber to the body plus roll outside, minus roll inside.
    apart = level.camber_per_roll - level.camber_to_body_per_roll
    np.testing.assert_allclose(apart.sel(side=["left", "right"]), [-1.0, 1.0], atol=1e-7)


def test_rates_are_taken_about_one_roll() -> None:
    with pytest.raises(ss.InputError) as caught:
        ss.roll_rates(CARS[0], roll=[0.0, 1.0])  # type: ignore[arg-type]
    assert caught.value.name == "roll"


def test_rates_take_inputs_that_are_known() -> None:
    with pytest.raises(ss.InputError) as caught:
        ss.roll_rates(CARS[0], readings="camber")
    assert caught.value.name == "readings"
    assert ss.roll_rates(CARS[0], roll=1.0)["roll"].attrs["units"] == "deg"
