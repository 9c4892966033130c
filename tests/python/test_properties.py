"""What holds for any corner in any pose: lengths, symmetry, rates, and what was asked for.

Corners are the demonstration cars' with every point moved at random; all of them can be assembled over these settings
and motions, so a pose that is not reached is a failure too. IDENTITY throughout: each property follows from what the
parts of a strut corner are; none of the expected values comes from the engine's own formulas.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from random_corners import MOTION_RANGES, SETTING_RANGES
from scipy.spatial.transform import Rotation

import strutsweep as ss
from strutsweep.words import HARD_POINTS, PLACES, READINGS, TRAVEL_AT

# House rule: at least 100 examples a property. No deadline: the machine may be busy.
enough = settings(max_examples=200, deadline=None)

# How far each coordinate of the demonstration cars may move: a tape measure held by a clumsy hand, four times over.
POINT_RANGE_MM = 12.0
# Lengths of a metre in sums of some dozens of products: 1e-16 x 1e3 mm x a hundred, and two decades for the roots.
LENGTH_TOLERANCE_MM = 1e-9
ANGLE_TOLERANCE_DEG = 1e-9
# Newton's last step squares an error that is below 1e-6 mm already.
TRAVEL_TOLERANCE_MM = 1e-9
# Central differences: third derivatives are below 1e-5 of the unit per mm^3 well off over-centre, times h^2 / 6;
# round-off of 1e-12 over 2 h. Heights of roll centres carry a factor of the half track.
DIFFERENCE_STEP_MM = 0.02
DIFFERENCE_TOLERANCE = 1e-7
DIFFERENCE_TOLERANCE_MM = 1e-4


def within(span: tuple[float, float]) -> st.SearchStrategy[float]:
    """A number in a range, as Hypothesis likes them: ends and round numbers first."""
    return st.floats(*span, allow_subnormal=False)


@st.composite
def corners(draw: Any) -> ss.Corner:
    """A demonstration car's corner of either side with all its points moved, camber and toe of its own."""
    corner = getattr(ss.demo(draw(st.sampled_from(ss.demos()))), draw(st.sampled_from(["left", "right"])))
    shift = within((-POINT_RANGE_MM, POINT_RANGE_MM))
    movable = [name for name in HARD_POINTS if name != "strut_clamp"]
    changes = {name: corner.point(name) + [draw(shift), draw(shift), draw(shift)] for name in movable}
    if draw(st.booleans()):
        changes["strut_clamp"] = corner.point("strut_low") + [draw(shift), draw(shift), draw(shift) - 40.0]
    changes |= {"camber": draw(within((-4.0, 2.0))), "toe": draw(within((-1.0, 1.0)))}
    return corner.replace(**changes)


setting_values = st.fixed_dictionaries({name: within(span) for name, span in SETTING_RANGES.items()})
motion_values = st.fixed_dictionaries({name: within(span) for name, span in MOTION_RANGES.items()})
travel_ats = st.sampled_from(list(TRAVEL_AT))


def in_the_body(corner: ss.Corner, at: np.ndarray, motion: dict[str, float]) -> np.ndarray:
    """Where the body carries a point as it leans: about the line along X, Y = 0, under the wheel at design."""
    ground = corner.solve().point("contact_centre") * [0.0, 0.0, 1.0]
    lean = Rotation.from_euler("x", motion["roll"], degrees=True)
    leant: np.ndarray = ground + lean.apply(at - ground)
    return leant


def distance(a: np.ndarray, b: np.ndarray) -> float:
    """Between two points."""
    return float(np.linalg.norm(a - b))


def off_line(at: np.ndarray, start: np.ndarray, end: np.ndarray) -> tuple[float, float]:
    """How far a point lies from a line, and how far along it from `start`."""
    along = (end - start) / np.linalg.norm(end - start)
    return float(np.linalg.norm(np.cross(at - start, along))), float(np.dot(at - start, along))


def in_the_knuckle(pose: ss.Pose) -> np.ndarray:
    """Distances that a knuckle with its strut tube keeps: between its joints, and from the strut axis."""
    low, top = pose.point("strut_low"), pose.point("strut_top")
    joints = [pose.point(name) for name in ("ball_joint", "tie_rod_outer", "wheel_centre")]
    between = [distance(a, b) for i, a in enumerate([*joints, low]) for b in [*joints, low][:i]]
    return np.array([*between, *(number for joint in joints for number in off_line(joint, low, top))])


@enough
@given(corners(), setting_values, motion_values, motion_values, travel_ats)
def test_links_and_knuckle_keep_their_lengths(
    corner: ss.Corner, setting: dict[str, float], one: dict[str, float], other: dict[str, float], travel_at: Any
) -> None:
    here, there = (corner.solve(**setting, **motion, travel_at=travel_at) for motion in (one, other))
    arms = []
    for pose, motion in ((here, one), (there, other)):
        front, rear = (in_the_body(corner, corner.point(name), motion) for name in ("arm_front", "arm_rear"))
        arms.append(off_line(pose.point("ball_joint"), front, rear))
    np.testing.assert_allclose(arms[0], arms[1], rtol=0.0, atol=LENGTH_TOLERANCE_MM)
    rods = [distance(pose.point("tie_rod_inner"), pose.point("tie_rod_outer")) for pose in (here, there)]
    assert abs(rods[0] - rods[1]) < LENGTH_TOLERANCE_MM
    np.testing.assert_allclose(in_the_knuckle(here), in_the_knuckle(there), rtol=0.0, atol=LENGTH_TOLERANCE_MM)


@enough
@given(corners(), setting_values, motion_values)
def test_settings_change_the_lengths_that_they_are_about(
    corner: ss.Corner, setting: dict[str, float], motion: dict[str, float]
) -> None:
    design, pose = corner.solve(), corner.solve(**setting, **motion)
    # The body's own points: the top mount moves as it is told, the inner joint with the rack, on either side alike.
    outboard = 1.0 if corner.side == "left" else -1.0
    shift = [-setting["mount_back"], -outboard * setting["mount_in"], setting["mount_up"]]
    np.testing.assert_allclose(
        pose.point("strut_top"),
        in_the_body(corner, corner.point("strut_top") + shift, motion),
        rtol=0.0,
        atol=LENGTH_TOLERANCE_MM,
    )
    np.testing.assert_allclose(
        pose.point("tie_rod_inner"),
        in_the_body(corner, corner.point("tie_rod_inner") + [0.0, motion["rack"], 0.0], motion),
        rtol=0.0,
        atol=LENGTH_TOLERANCE_MM,
    )
    rods = [distance(p.point("tie_rod_inner"), p.point("tie_rod_outer")) for p in (design, pose)]
    assert abs(rods[1] - rods[0] - setting["tie_rod"]) < LENGTH_TOLERANCE_MM
    front, rear = corner.point("arm_front"), corner.point("arm_rear")
    radius, along = off_line(design.point("ball_joint"), front, rear)
    front, rear = (in_the_body(corner, point, motion) for point in (front, rear))
    longer, same = off_line(pose.point("ball_joint"), front, rear)
    assert abs(longer - radius - setting["arm"]) < LENGTH_TOLERANCE_MM
    assert abs(along - same) < LENGTH_TOLERANCE_MM


@enough
@given(corners(), setting_values, motion_values, travel_ats)
def test_the_wheel_stands_on_the_ground_as_camber_and_toe_say(
    corner: ss.Corner, setting: dict[str, float], motion: dict[str, float], travel_at: Any
) -> None:
    pose = corner.solve(**setting, **motion, travel_at=travel_at)
    outboard = 1.0 if corner.side == "left" else -1.0
    camber, toe = math.radians(pose.camber), math.radians(pose.toe)
    spin_axis = np.array([
        math.cos(camber) * math.sin(toe), outboard * math.cos(camber) * math.cos(toe), -math.sin(camber)
    ])  # fmt: skip
    spoke = pose.point("wheel_centre") - pose.point("contact_centre")
    assert abs(np.linalg.norm(spoke) - corner.wheel_radius) < LENGTH_TOLERANCE_MM
    assert abs(np.dot(spoke, spin_axis)) < LENGTH_TOLERANCE_MM
    # The lowest point of the rim: no way along the wheel plane leads farther down.
    heading = np.cross(spin_axis, spoke)
    assert abs(heading[2]) < LENGTH_TOLERANCE_MM * corner.wheel_radius
    assert spoke[2] > 0.0
    assert pose.half_track == outboard * pose.point("contact_centre")[1]
    assert abs(pose.included_angle - pose.camber - pose.kingpin_inclination) < ANGLE_TOLERANCE_DEG


@enough
@given(corners(), setting_values, motion_values, travel_ats)
def test_the_travel_found_is_the_travel_asked_for(
    corner: ss.Corner, setting: dict[str, float], motion: dict[str, float], travel_at: Any
) -> None:
    design, pose = corner.solve(), corner.solve(**setting, **motion, travel_at=travel_at)
    found = {
        "ground": pose.point("contact_centre")[2] - design.point("contact_centre")[2],
        "hub": pose.point("wheel_centre")[2] - design.point("wheel_centre")[2],
        "strut": pose.strut_compression,
    }
    assert abs(found[travel_at] - motion["travel"]) < TRAVEL_TOLERANCE_MM
    shortened = [distance(p.point("strut_low"), p.point("strut_top")) for p in (design, pose)]
    assert abs(shortened[0] - shortened[1] - pose.strut_compression) < LENGTH_TOLERANCE_MM
    assert abs(pose.wheelbase_shift - (pose.point("contact_centre") - design.point("contact_centre"))[0]) < 1e-9


@enough
@given(corners(), setting_values, motion_values, travel_ats)
def test_a_mirrored_corner_reads_alike(
    corner: ss.Corner, setting: dict[str, float], motion: dict[str, float], travel_at: Any
) -> None:
    here = corner.solve(**setting, **motion, travel_at=travel_at)
    reversed = {"travel": motion["travel"], "rack": -motion["rack"], "roll": -motion["roll"]}
    there = corner.mirror().solve(**setting, **reversed, travel_at=travel_at)
    assert here.readings == there.readings
    for name in PLACES:
        assert np.array_equal(here.point(name), there.point(name) * [1.0, -1.0, 1.0])


@enough
@given(corners(), setting_values, motion_values, travel_ats, within((-500.0, 500.0)), within((-200.0, 200.0)))
def test_a_car_drawn_from_another_origin_reads_alike(
    corner: ss.Corner, setting: dict[str, float], motion: dict[str, float], travel_at: Any, forward: float, up: float
) -> None:
    moved = corner.replace(
        **{name: corner.point(name) + [forward, 0.0, up] for name in HARD_POINTS if name != "strut_clamp"},
        strut_clamp=corner.point("strut_clamp") + [forward, 0.0, up],
    )
    here, there = (c.solve(**setting, **motion, travel_at=travel_at).readings for c in (corner, moved))
    # A swing arm of a kilometre is known no better than its inverse; the others are of the size of the car.
    here["swing_arm_length"], there["swing_arm_length"] = (1.0 / r["swing_arm_length"] for r in (here, there))
    np.testing.assert_allclose(list(there.values()), list(here.values()), rtol=1e-9, atol=1e-8)


@enough
@given(corners(), setting_values, motion_values, travel_ats)
def test_rates_are_the_slopes_of_their_readings(
    corner: ss.Corner, setting: dict[str, float], motion: dict[str, float], travel_at: Any
) -> None:
    pose = corner.solve(**setting, **motion, travel_at=travel_at)
    low, high = (
        corner.solve(**{**setting, **motion, "travel": motion["travel"] + step}, travel_at=travel_at)
        for step in (-DIFFERENCE_STEP_MM, DIFFERENCE_STEP_MM)
    )
    # Rates are per mm of the wheel: of its centre where travel is measured there, of the contact centre otherwise.
    place = "wheel_centre" if travel_at == "hub" else "contact_centre"
    rise = high.point(place)[2] - low.point(place)[2]
    for rate, reading in (
        ("camber_gain", "camber"),
        ("bump_steer", "toe"),
        ("caster_gain", "caster"),
        ("motion_ratio", "strut_compression"),
    ):
        slope = (high.readings[reading] - low.readings[reading]) / rise
        assert abs(pose.readings[rate] - slope) < DIFFERENCE_TOLERANCE, rate
    contact_rise = high.point("contact_centre")[2] - low.point("contact_centre")[2]
    outward = (high.half_track - low.half_track) / contact_rise
    assert abs(pose.roll_centre_height - pose.half_track * outward) < DIFFERENCE_TOLERANCE_MM
    swing = math.radians(high.camber - low.camber) / contact_rise
    assert abs(-1.0 / pose.swing_arm_length - swing) < math.radians(DIFFERENCE_TOLERANCE)


@enough
@given(
    corners(),
    setting_values,
    travel_ats,
    st.lists(within(MOTION_RANGES["travel"]), min_size=1, max_size=4),
    st.lists(within((-120.0, 120.0)), min_size=1, max_size=3),
    st.lists(within((-400.0, 400.0)), min_size=1, max_size=2),
)
def test_a_sweep_is_its_single_poses_even_out_of_reach(
    corner: ss.Corner,
    setting: dict[str, float],
    travel_at: Any,
    travel: list[float],
    rack: list[float],
    up: list[float],
) -> None:
    setting = {**setting, "mount_up": xr.DataArray(up, dims="plate")}
    dataset = ss.sweep(corner, travel=travel, rack=rack, **setting, travel_at=travel_at, places=list(PLACES))
    for (i, j, k), status in np.ndenumerate(dataset.status.transpose("travel", "rack", "plate").values):
        cell = dataset.isel(travel=i, rack=j, plate=k)
        inputs = {**setting, "mount_up": up[k], "travel": travel[i], "rack": rack[j]}
        if status == 0:
            pose = corner.solve(**inputs, travel_at=travel_at)
            assert {name: float(cell[name]) for name in READINGS} == pose.readings
            assert all(np.array_equal(cell[name].values, pose.point(name)) for name in PLACES)
            continue
        assert all(np.isnan(cell[name]).all() for name in (*READINGS, *PLACES))
        try:
            corner.solve(**inputs, travel_at=travel_at)
        except ss.ReachError as error:
            assert error.status == status
        else:
            raise AssertionError("a single pose is reached where the sweep's is not")


@enough
@given(corners(), corners())
def test_cars_come_back_from_text_and_tables(one: ss.Corner, other: ss.Corner) -> None:
    left = one if one.side == "left" else one.mirror()
    right = other.replace(name=left.name) if other.side == "right" else other.mirror().replace(name=left.name)
    car = ss.Axle.from_corners(left, right)
    for back in (ss.Axle.from_toml(car.to_toml()), ss.Axle.from_dict(car.to_dict())):
        assert back.left == left
        for name in HARD_POINTS:
            assert np.array_equal(back.right.point(name), right.point(name)), name
        assert (back.right.camber, back.right.toe) == (right.camber, right.toe)
