"""The engine against a second method: `constraint_solver`, six constraint equations solved by scipy.

Two steps. First the second method, and the engine beside it, must reproduce values that neither produced: an assembly
published in a textbook, and sweeps computed in 30-digit arithmetic. Then both must agree on invented corners of every
kind, with every setting and the motion away from zero, in every reading and every point.
"""

import constraint_solver
import numpy as np
import pytest
import xarray as xr
from constraint_solver import TRAVEL_PLACES
from random_corners import MOTION_RANGES, SETTING_RANGES, SIDES, random_case, random_corner, random_far_case
from scipy.optimize import brentq

import strutsweep as ss

SEEDS = range(60)
SWEEP_SEEDS = range(60, 72)
SWEEP_CASES = 8
FAR_SEEDS = range(130, 220)

# Points and lengths, mm, and angles, deg. Both methods solve to some 1e-12 mm. The steering axis carries that to the
# ground at a third of its own length, and near over-centre it grows by the inverse of `tie_rod_margin`; that leaves two
# to three decades.
LENGTH_TOLERANCE_MM = 1e-9
ANGLE_TOLERANCE_DEG = 1e-9
# A sine: the angle's tolerance in radians, rounded up.
SINE_TOLERANCE = 2e-11
# Both methods take exact derivatives, so rates agree almost to round-off; the part without unit is for rates near zero.
RATE_RELATIVE_TOLERANCE = 1e-8
RATE_FLOOR_DEG_PER_MM = 1e-11
RATIO_FLOOR = 1e-11
# The swing arm is infinite where the wheel gains no camber: its inverse, radians of camber a mm, is what is compared.
INVERSE_SWING_ARM_FLOOR_PER_MM = 1e-12
# Central differences with one Richardson step of 0.5 mm: the h^4 term is near 1e-10 of a rate, round-off 1e-12 a mm.
DIFFERENCE_STEP_MM = 0.5
DIFFERENCE_RELATIVE_TOLERANCE = 1e-7
DIFFERENCE_FLOOR = 1e-10
# Least distance of a drawn ball joint from the strut axis, a million times the tolerance on points: it cannot hide.
OFF_STRUT_AXIS_MM = 1.0
# Values that must be zero by symmetry or by definition.
ZERO_TOLERANCE = 1e-9

LENGTHS = (
    "scrub_radius",
    "mechanical_trail",
    "hub_offset",
    "hub_trail",
    "half_track",
    "wheelbase_shift",
    "strut_compression",
    "roll_centre_height",
)
ANGLES = (
    "camber",
    "toe",
    "caster",
    "kingpin_inclination",
    "included_angle",
    "bearing_angle",
    "anti_dive_angle",
)
RATES = ("camber_gain", "bump_steer", "caster_gain")
OTHERS = ("motion_ratio", "swing_arm_length", "side_view_swing_arm", "tie_rod_margin")
READINGS = LENGTHS + ANGLES + RATES + OTHERS
POINTS = (
    "ball_joint",
    "strut_top",
    "strut_low",
    "tie_rod_inner",
    "tie_rod_outer",
    "wheel_centre",
    "contact_centre",
)


def by_constraints(corner, **case):
    """Readings and points of one pose by the second method."""
    solution = constraint_solver.solve(corner, **case)
    return solution.readings, solution.points


def by_engine(corner, **case):
    """Readings and points of one pose by the engine."""
    pose = ss.Corner.from_dict(corner).solve(**case)
    return {name: getattr(pose, name) for name in READINGS}, {name: pose.point(name) for name in POINTS}


METHODS = {"constraint_equations": by_constraints, "engine": by_engine}


@pytest.fixture(params=METHODS)
def solve(request):
    """One of the two methods: `solve(corner, **case)` gives readings and points."""
    return METHODS[request.param]


def assert_reading(name, value, expected):
    """`value` against `expected` with the tolerance of the reading's kind."""
    floor, relative = 0.0, 0.0
    if name in LENGTHS:
        floor = LENGTH_TOLERANCE_MM
    elif name in ANGLES:
        floor = ANGLE_TOLERANCE_DEG
    elif name == "tie_rod_margin":
        floor = SINE_TOLERANCE
    elif name in ("swing_arm_length", "side_view_swing_arm"):
        value, expected = 1.0 / value, 1.0 / expected
        floor, relative = INVERSE_SWING_ARM_FLOOR_PER_MM, RATE_RELATIVE_TOLERANCE
    else:
        floor = RATIO_FLOOR if name == "motion_ratio" else RATE_FLOOR_DEG_PER_MM
        relative = RATE_RELATIVE_TOLERANCE
    assert value == pytest.approx(expected, abs=floor, rel=relative), name


def assert_printed(value, printed):
    """`value` against a printed decimal number: half a unit of its last place; a bare 0 is exact."""
    decimals = len(printed.partition(".")[2])
    tolerance = 0.5 * 10.0**-decimals if decimals else ZERO_TOLERANCE
    assert value == pytest.approx(float(printed), abs=tolerance, rel=0.0)


# --- The planar corner of a textbook ------------------------------------------------------------------------------

# PUBLISHED: Nikravesh, Planar Multibody Dynamics, CRC Press, 2nd ed. 2018: arm pivot, top mount, arm length (m there),
# points of the knuckle in its own frame. Across the car and up, mm.
ARM_PIVOT = np.array([120.0, 290.0])
TOP_MOUNT = np.array([410.0, 830.0])
BALL_JOINT = np.array([570.0, 290.0])  # at arm angle 0, arm length 450
KNUCKLE_BALL_JOINT = np.array([0.0, -70.0])
KNUCKLE_STRUT = np.array([-170.0, 250.0])
KNUCKLE_WHEEL = np.array([110.0, -20.0])
STRUT_AXIS_FIRST_EDITION = np.array([0.17, -0.32])  # of the 1st edition's figure: through the ball joint
STRUT_AXIS_SECOND_EDITION = np.array([0.47, -0.88])
# Same source, assembled at arm angle 0, four digits, with the tolerance of the printed inputs.
KNUCKLE_ANGLE_RAD, KNUCKLE_ANGLE_TOLERANCE_RAD = 6.0819, 3e-4
KNUCKLE_ORIGIN_MM, STRUT_ROD_CENTRE_MM = np.array([584.0, 358.6]), np.array([452.8, 686.2])
PUBLISHED_POINT_TOLERANCE_MM = 0.05
STRUT_ANGLE_RAD, STRUT_ANGLE_TOLERANCE_RAD = 5.0019, 5e-5
STRUT_ROD_TO_TOP_MM = 150.0
# The textbook's corner has no wheel radius; this one belongs to the checks' roll centre and scrub radius.
WHEEL_RADIUS_MM = 300.0


def turned(angle_rad, vector):
    """`vector` turned by `angle_rad` in the plane, anticlockwise."""
    cosine, sine = np.cos(angle_rad), np.sin(angle_rad)
    return np.array([cosine * vector[0] - sine * vector[1], sine * vector[0] + cosine * vector[1]])


def planar_corner(knuckle_angle_rad, strut_axis):
    """The textbook's corner in three dimensions, drawn with the knuckle at a given angle and the arm level.

    IDENTITY: with all points in X = 0, the arm's axis along X and the tie rod a parallel copy of the arm, it moves in
    the plane and bump steer is exactly zero. The top lies on the strut's line at the height of the textbook's.
    """
    low = BALL_JOINT + turned(knuckle_angle_rad, KNUCKLE_STRUT - KNUCKLE_BALL_JOINT)
    wheel = BALL_JOINT + turned(knuckle_angle_rad, KNUCKLE_WHEEL - KNUCKLE_BALL_JOINT)
    up_the_strut = -turned(knuckle_angle_rad, strut_axis)
    top = low + up_the_strut * (TOP_MOUNT[1] - low[1]) / up_the_strut[1]

    def at(x, point):
        return [x, float(point[0]), float(point[1])]

    return {
        "lower_arm": {"front": at(150.0, ARM_PIVOT), "rear": at(-150.0, ARM_PIVOT), "ball_joint": at(0.0, BALL_JOINT)},
        "strut": {"top": at(0.0, top), "low": at(0.0, low)},
        "tie_rod": {"inner": at(-120.0, ARM_PIVOT), "outer": at(-120.0, BALL_JOINT)},
        "wheel": {
            "centre": at(0.0, wheel),
            "radius": WHEEL_RADIUS_MM,
            "camber": float(np.degrees(-knuckle_angle_rad)),
            "toe": 0.0,
        },
    }


def level_planar_corner():
    """The first edition's corner, its wheel drawn with no camber in the assembled position: the checks' sweep."""
    to_top, to_strut = TOP_MOUNT - BALL_JOINT, -STRUT_AXIS_FIRST_EDITION
    angle = np.arctan2(to_top[1], to_top[0]) - np.arctan2(to_strut[1], to_strut[0])
    corner = planar_corner(float(angle), STRUT_AXIS_FIRST_EDITION)
    corner["wheel"]["camber"] = 0.0
    return corner


def with_arm_held(solve, corner, **case):
    """Readings and points at the hub travel that leaves the ball joint at its design height."""
    design_height = corner["lower_arm"]["ball_joint"][2]

    def rise(travel):
        _, points = solve(corner, travel=travel, travel_at="hub", **case)
        return points["ball_joint"][2] - design_height

    return solve(corner, travel=brentq(rise, -20.0, 20.0, xtol=1e-12), travel_at="hub", **case)


def test_assembly_is_the_textbooks(solve):
    # PUBLISHED: Nikravesh, as above. The knuckle is drawn 0.2 rad round, a little off, and the top mount is then
    # moved to the textbook's: the solver must put it together.
    drawn_at_rad = -0.2
    corner = planar_corner(drawn_at_rad, STRUT_AXIS_SECOND_EDITION)
    mount_in = corner["strut"]["top"][1] - TOP_MOUNT[0]
    assert abs(mount_in) > 0.1, "the drawing must not be assembled already"
    readings, points = with_arm_held(solve, corner, mount_in=mount_in)

    np.testing.assert_allclose(points["strut_top"][1:], TOP_MOUNT, rtol=0.0, atol=LENGTH_TOLERANCE_MM)
    knuckle_angle = (-np.radians(readings["camber"])) % (2.0 * np.pi)
    assert knuckle_angle == pytest.approx(KNUCKLE_ANGLE_RAD, abs=KNUCKLE_ANGLE_TOLERANCE_RAD, rel=0.0)
    origin = points["ball_joint"][1:] - turned(knuckle_angle, KNUCKLE_BALL_JOINT)
    np.testing.assert_allclose(origin, KNUCKLE_ORIGIN_MM, rtol=0.0, atol=PUBLISHED_POINT_TOLERANCE_MM)
    down_the_strut = points["strut_low"][1:] - points["strut_top"][1:]
    strut_angle = np.arctan2(down_the_strut[1], down_the_strut[0]) % (2.0 * np.pi)
    assert strut_angle == pytest.approx(STRUT_ANGLE_RAD, abs=STRUT_ANGLE_TOLERANCE_RAD, rel=0.0)
    centre = TOP_MOUNT + STRUT_ROD_TO_TOP_MM * down_the_strut / np.linalg.norm(down_the_strut)
    np.testing.assert_allclose(centre, STRUT_ROD_CENTRE_MM, rtol=0.0, atol=PUBLISHED_POINT_TOLERANCE_MM)


# SECOND METHOD: six-unknown constraint equations in 30-digit arithmetic. Travel at the hub mm; camber deg; camber gain
# deg/m; sideways move of the hub mm; change of strut length mm.
PLANAR_SWEEP = """
-80  2.46843417   -34.128719 -5.2190829   70.62207
-60  1.80134307   -32.569401 -2.7397024   53.266919
-40  1.16619083   -30.930039 -1.0459145   35.725877
-20  0.564881658  -29.179458 -0.13284547  17.977844
0    0            -27.280478 0            0
20   -0.525047147 -25.187568 -0.65144051  -18.232691
40   -1.00583243  -22.843581 -2.0961562   -36.748106
60   -1.43663208  -20.175089 -4.3486746   -55.577772
80   -1.81003585  -17.085476 -7.4300058   -74.757928
"""


@pytest.mark.parametrize("row", PLANAR_SWEEP.split("\n")[1:-1], ids=lambda row: f"travel{row.split()[0]}")
def test_planar_sweep(solve, row):
    travel, camber, camber_gain_per_m, sideways, strut_change = row.split()
    corner = level_planar_corner()
    readings, points = solve(corner, travel=float(travel), travel_at="hub")
    assert_printed(readings["camber"], camber)
    assert_printed(1000.0 * readings["camber_gain"], camber_gain_per_m)
    assert_printed(points["wheel_centre"][1] - corner["wheel"]["centre"][1], sideways)
    assert_printed(-readings["strut_compression"], strut_change)
    # IDENTITY: the tie rod is a parallel copy of the arm.
    assert readings["toe"] == pytest.approx(0.0, abs=ZERO_TOLERANCE)
    assert readings["bump_steer"] == pytest.approx(0.0, abs=ZERO_TOLERANCE)


def test_planar_design_position(solve):
    # SECOND METHOD, 30-digit arithmetic, except where said.
    readings, points = solve(level_planar_corner(), travel_at="hub")
    assert_printed(readings["kingpin_inclination"], "16.50436138")
    assert_printed(readings["swing_arm_length"] / 1000.0, "2.100248347")
    assert_printed(readings["motion_ratio"], "0.9050440446")
    assert_printed(readings["roll_centre_height"], "89.35842954")
    assert_printed(readings["scrub_radius"], "36.894098")
    # IDENTITY: the instant centre is where the arm's line meets the normal to the strut through the top, exactly
    # (-1412.5, 290) mm; it lies one swing arm in from the contact centre, on its line to the roll centre.
    contact, arm = points["contact_centre"], readings["swing_arm_length"]
    instant_centre = [contact[1] - arm, contact[2] + readings["roll_centre_height"] * arm / contact[1]]
    np.testing.assert_allclose(instant_centre, [-1412.5, 290.0], rtol=0.0, atol=LENGTH_TOLERANCE_MM)


# SECOND METHOD, 30-digit arithmetic: change of camber, deg.
@pytest.mark.parametrize(("mount_in", "camber"), [(-10.0, "0.98025039"), (10.0, "-0.97041287")])
def test_planar_mount_move_with_arm_held(solve, mount_in, camber):
    readings, _ = with_arm_held(solve, level_planar_corner(), mount_in=mount_in)
    assert_printed(readings["camber"], camber)


# SECOND METHOD, 30-digit arithmetic: change of camber, deg.
@pytest.mark.parametrize(
    ("setting", "camber"),
    [
        ({"mount_in": -10.0}, "0.92819052"),
        ({"mount_in": 10.0}, "-0.91328353"),
        ({"mount_up": 10.0}, "0.26874611"),
        ({"mount_up": -10.0}, "-0.27697609"),
    ],
)
def test_planar_mount_move_with_hub_held(solve, setting, camber):
    readings, _ = solve(level_planar_corner(), travel_at="hub", **setting)
    assert_printed(readings["camber"], camber)


def test_planar_mount_sensitivity_with_arm_held(solve):
    # IDENTITY: d(camber)/dy = cos(kingpin inclination) / |ball joint to top|, the arm held. The difference over
    # +-0.01 mm is off by the third derivative, under 1e-10 of the rate, and by round-off, 1e-11 deg / 0.02 mm.
    corner, step = level_planar_corner(), 0.01
    cambers = [with_arm_held(solve, corner, mount_in=mount_in)[0]["camber"] for mount_in in (-step, step)]
    kingpin = np.arctan2(BALL_JOINT[0] - TOP_MOUNT[0], TOP_MOUNT[1] - BALL_JOINT[1])
    expected = np.degrees(np.cos(kingpin) / np.linalg.norm(TOP_MOUNT - BALL_JOINT))
    assert (cambers[0] - cambers[1]) / (2.0 * step) == pytest.approx(expected, rel=2e-8)


@pytest.mark.parametrize("mount_in", [-10.0, 10.0])
def test_planar_included_angle_is_kept(solve, mount_in):
    # IDENTITY: ball joint on the strut axis, strut length held, no toe: steering axis and spin axis are both lines of
    # the rigid knuckle, in one plane.
    readings, _ = solve(level_planar_corner(), mount_in=mount_in, travel_at="strut")
    assert abs(readings["camber"]) > 0.5, "the move must change camber for this to say anything"
    assert_printed(readings["included_angle"], "16.50436138")


# --- The spatial corner ------------------------------------------------------------------------------------------

SPATIAL_CORNER = {
    "lower_arm": {"front": [150.0, 120.0, 290.0], "rear": [-150.0, 120.0, 290.0], "ball_joint": [0.0, 570.0, 290.0]},
    "strut": {"top": [-60.0, 410.0, 830.0], "low": [-30.0, 490.0, 560.0]},
    "tie_rod": {"inner": [-130.0, 140.0, 310.0], "outer": [-130.0, 550.0, 320.0]},
    "wheel": {"centre": [0.0, 687.7483468, 317.1169102], "radius": WHEEL_RADIUS_MM, "camber": 0.0, "toe": 0.0},
}

# SECOND METHOD, 30-digit arithmetic. What moves, mm; projected camber, toe, caster, kingpin inclination deg; then, for
# travel at the hub, the hub's x and y mm. The rack rows hold the hub's height.
SPATIAL_ROWS = """
travel -60 1.77536493   0.119031334   5.7454302  14.7011889 0.519026346  684.9905482
travel -20 0.553156679  0.0619452576  6.12786422 15.9387358 0.22827731   687.6090031
travel 0   0            0             6.34019175 16.5043614 0            687.7483468
travel 20  -0.509735335 -0.0839710917 6.56884404 17.0302486 -0.284153485 687.1028166
travel 60  -1.37765101  -0.318455959  7.0838187  17.9435831 -1.02558456  683.4109806
rack   20  -0.749694429 8.99793391    6.32290434 16.4612113
rack   40  -1.12761312  18.1431879    6.31619229 16.4443237
rack   -20 1.16960959   -9.06304494   6.36835528 16.5736031
rack   -40 2.92769327   -18.4776537   6.40903101 16.6713318
"""


@pytest.mark.parametrize("row", SPATIAL_ROWS.split("\n")[1:-1], ids=lambda row: "".join(row.split()[:2]))
def test_spatial_rows(solve, row):
    moved, amount, camber, toe, caster, kingpin_inclination, *hub = row.split()
    readings, points = solve(SPATIAL_CORNER, travel_at="hub", **{moved: float(amount)})
    true_camber, true_toe = np.radians(readings["camber"]), np.radians(readings["toe"])
    spin_axis = np.array(
        [
            np.cos(true_camber) * np.sin(true_toe),
            np.cos(true_camber) * np.cos(true_toe),
            -np.sin(true_camber),
        ]
    )
    # The table's camber is seen from the front, the reading is the true angle to the ground normal.
    assert_printed(np.degrees(np.arctan2(-spin_axis[2], spin_axis[1])), camber)
    assert_printed(readings["toe"], toe)
    assert_printed(readings["caster"], caster)
    assert_printed(readings["kingpin_inclination"], kingpin_inclination)
    for position, printed in zip(points["wheel_centre"], hub, strict=False):
        assert_printed(position, printed)
    # IDENTITY: the ball joint lies on the strut axis, so the steering axis is fixed in the knuckle.
    steering = points["strut_top"] - points["ball_joint"]
    between = np.degrees(np.arccos(steering @ spin_axis / np.linalg.norm(steering)))
    assert_printed(between, "106.408861345")


# --- The second method against itself ----------------------------------------------------------------------------


@pytest.mark.parametrize("travel_at", TRAVEL_PLACES)
@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("seed", range(4))
def test_rates_of_the_second_method_are_its_differences(seed, side, travel_at):
    # SECOND METHOD: its rates come from velocity equations; its own poses nearby, differenced, must give the same.
    corner, case = random_corner(seed, side), random_case(seed, side)
    readings, _ = by_constraints(corner, travel_at=travel_at, **case)

    def change(read):
        def across(step):
            ends = [
                by_constraints(corner, travel_at=travel_at, **(case | {"travel": case["travel"] + end}))
                for end in (-step, step)
            ]
            return (read(*ends[1]) - read(*ends[0])) / (2.0 * step)

        return (4.0 * across(DIFFERENCE_STEP_MM) - across(2.0 * DIFFERENCE_STEP_MM)) / 3.0

    travelling_point = "wheel_centre" if travel_at == "hub" else "contact_centre"
    rise = change(lambda _, points: points[travelling_point][2])
    contact_rise = change(lambda _, points: points["contact_centre"][2])
    contact_sideways = change(lambda _, points: points["contact_centre"][1])
    camber_change = change(lambda readings, _: readings["camber"])
    expected = {
        "camber_gain": camber_change / rise,
        "bump_steer": change(lambda readings, _: readings["toe"]) / rise,
        "caster_gain": change(lambda readings, _: readings["caster"]) / rise,
        "motion_ratio": change(lambda readings, _: readings["strut_compression"]) / rise,
        "swing_arm_length": -contact_rise / np.radians(camber_change),
        "roll_centre_height": SIDES[side] * readings["half_track"] * contact_sideways / contact_rise,
    }
    for name, value in expected.items():
        assert readings[name] == pytest.approx(
            value, rel=DIFFERENCE_RELATIVE_TOLERANCE, abs=DIFFERENCE_FLOOR
        ), name


@pytest.mark.parametrize("travel_at", TRAVEL_PLACES)
@pytest.mark.parametrize("seed", range(4))
def test_anti_dive_of_the_second_method_is_its_difference(seed, travel_at):
    # SECOND METHOD: the point locked to the knuckle at the contact centre, followed by three points of the knuckle
    # through two poses nearby. Three points that move rigidly carry a fourth by their own coordinates.
    corner, case = random_corner(seed, "left"), random_case(seed, "left")
    carriers = ("ball_joint", "tie_rod_outer", "wheel_centre")

    def carried_frame(points):
        first, second, third = (points[name] for name in carriers)
        along, aside = second - first, third - first
        return first, np.column_stack([along, aside, np.cross(along, aside)])

    readings, points = by_constraints(corner, travel_at=travel_at, **case)
    origin, frame = carried_frame(points)
    coordinates = np.linalg.solve(frame, points["contact_centre"] - origin)

    def across(step):
        ends = []
        for end in (-step, step):
            _, moved = by_constraints(corner, travel_at=travel_at, **(case | {"travel": case["travel"] + end}))
            moved_origin, moved_frame = carried_frame(moved)
            ends.append(moved_origin + moved_frame @ coordinates)
        return (ends[1] - ends[0]) / (2.0 * step)

    path = (4.0 * across(DIFFERENCE_STEP_MM) - across(2.0 * DIFFERENCE_STEP_MM)) / 3.0
    expected = np.degrees(np.arctan(path[0] / path[2]))
    assert readings["anti_dive_angle"] == pytest.approx(expected, rel=DIFFERENCE_RELATIVE_TOLERANCE)


# --- The engine against the second method ------------------------------------------------------------------------


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("seed", SEEDS)
def test_random_corners_are_no_special_case(seed, side):
    # What the comparison below relies on: the ball joint off the strut axis, the rack on the side of the axle that
    # the seed says, no setting and no motion at zero.
    corner, case = random_corner(seed, side), random_case(seed, side)
    ball_joint, low, top = (
        np.array(point) for point in (corner["lower_arm"]["ball_joint"], corner["strut"]["low"], corner["strut"]["top"])
    )
    assert np.linalg.norm(np.cross(ball_joint - low, top - low)) / np.linalg.norm(top - low) > OFF_STRUT_AXIS_MM
    rack_ahead = corner["tie_rod"]["outer"][0] > corner["wheel"]["centre"][0]
    assert rack_ahead == (seed % 2 == 0)
    assert np.sign(corner["wheel"]["centre"][1]) == SIDES[side]
    assert case.keys() == (SETTING_RANGES | MOTION_RANGES).keys()
    assert all(amount != 0.0 for amount in case.values())


@pytest.mark.parametrize("travel_at", TRAVEL_PLACES)
@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("seed", SEEDS)
def test_engine_agrees_on_random_corners(seed, side, travel_at):
    # SECOND METHOD: every setting and the motion away from zero.
    corner, case = random_corner(seed, side), random_case(seed, side)
    expected_readings, expected_points = by_constraints(corner, travel_at=travel_at, **case)
    readings, points = by_engine(corner, travel_at=travel_at, **case)
    for name in POINTS:
        np.testing.assert_allclose(
            points[name], expected_points[name], rtol=0.0, atol=LENGTH_TOLERANCE_MM, err_msg=name
        )
    for name in READINGS:
        assert_reading(name, readings[name], expected_readings[name])


@pytest.mark.parametrize("name", SETTING_RANGES | MOTION_RANGES)
@pytest.mark.parametrize("side", SIDES)
def test_engine_agrees_on_one_change_alone(side, name):
    # SECOND METHOD: one setting or motion at the end of its range, so that a failure says which.
    for seed in range(3):
        corner = random_corner(seed, side)
        for amount in (SETTING_RANGES | MOTION_RANGES)[name]:
            expected_readings, _ = by_constraints(corner, **{name: amount})
            readings, _ = by_engine(corner, **{name: amount})
            for reading in READINGS:
                assert_reading(reading, readings[reading], expected_readings[reading])


@pytest.mark.parametrize("travel_at", TRAVEL_PLACES)
@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("seed", SWEEP_SEEDS)
def test_sweep_agrees_on_random_corners(seed, side, travel_at):
    # SECOND METHOD: many cases of one corner at once, paired on a dimension of their own.
    corner = random_corner(seed, side)
    cases = [random_case(1000 * seed + sample, side) for sample in range(SWEEP_CASES)]
    paired = {name: xr.DataArray([case[name] for case in cases], dims="sample") for name in cases[0]}
    swept = ss.sweep(ss.Corner.from_dict(corner), travel_at=travel_at, **paired)
    for sample, case in enumerate(cases):
        expected_readings, _ = by_constraints(corner, travel_at=travel_at, **case)
        for name in READINGS:
            assert_reading(name, float(swept[name].isel(sample=sample)), expected_readings[name])


@pytest.mark.parametrize("travel_at", TRAVEL_PLACES)
def test_engine_agrees_on_what_is_out_of_reach(travel_at):
    # SECOND METHOD: followed from the design position in small steps, a pose either is there or is not. The engine
    # must find the same pose or refuse it too: no other assembly, no pose past over-centre, no NaN called a pose. Most
    # are at over 200 mm of travel, where wheels turn by a right angle: the answer is of no use, but must not be wrong.
    reached, refused, disagreements = 0, 0, []
    for seed in FAR_SEEDS:
        for side in SIDES:
            corner, case = random_corner(seed, side), random_far_case(seed, side)
            try:
                _, expected = by_constraints(corner, travel_at=travel_at, **case)
            except constraint_solver.PathLost:
                expected = None
            try:
                _, points = by_engine(corner, travel_at=travel_at, **case)
            except ss.ReachError:
                points = None
            if expected is None and points is None:
                refused += 1
            elif expected is None or points is None:
                alone = "engine" if expected is None else "second method"
                disagreements.append(f"seed {seed} {side}: {alone} alone")
            else:
                reached += 1
                apart = max(np.abs(points[name] - expected[name]).max() for name in POINTS)
                if not apart <= LENGTH_TOLERANCE_MM:
                    disagreements.append(f"seed {seed} {side}: {apart} mm apart")
    assert not disagreements
    assert min(reached, refused) >= 20, "both kinds must occur often for this to say anything"
