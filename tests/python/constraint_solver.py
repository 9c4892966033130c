"""A second way to the pose of a strut corner: six constraint equations, solved by scipy.

SECOND METHOD in the sense of the checks: nothing here comes from the engine, and the engine's closed form is not used.
The engine walks circle, line and rod one after the other; here the knuckle is a free body with six unknowns (position
and rotation vector) under six scalar equations:

1. and 2.  the ball joint keeps its distance from either arm pivot;
3. and 4.  the strut-top pivot, fixed in the body, stays on the strut line, fixed in the knuckle;
5.         the outer tie-rod end keeps its distance from the inner one;
6.         the travel asked for, at the contact centre, the wheel centre or the strut.

Newton's method from the design pose may land on any of the many ways such a corner can be put together, so all settings
and the motion are scaled up from 0 to 1 together, with a predicted pose at each step, a bound on how far the solution
may lie from the prediction, and three signs that must never change: of the Jacobian's determinant, of the tie rod's
pull about the steering axis, and of the top's height over the ball joint along the strut. The last two end the path
where the tie rod goes over-centre or the strut folds past the ball joint. Travel held at hub or ground can carry a
corner smoothly through either, where the equations alone see nothing special.

Rates need no differencing. The velocity of the knuckle (a velocity and an angular velocity) obeys the equations'
exact derivative, which is linear; the readings' derivatives follow from it by the product rule.

Axes X forward, Y left, Z up. Millimetres and degrees at the face; radians inside.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import root
from scipy.spatial.transform import Rotation

UP = np.array([0.0, 0.0, 1.0])
FORWARD = np.array([1.0, 0.0, 0.0])

# A turn of one radian counts as this many mm of unknown, about the size of a knuckle: all unknowns then matter alike.
KNUCKLE_SIZE_MM = 300.0
# Round-off of a distance of 1000 mm in double precision is 1e-13 mm; the solved equations are asked for this.
RESIDUAL_LIMIT_MM = 2e-12
# scipy's solver stops at this step relative to the unknowns; plain Newton steps then finish to the limit above.
ROOT_STEP_LIMIT = 1e-10
# Steps from design to the full setting and motion: first size, and the size at which the path counts as lost.
FIRST_STEP = 0.125
SMALLEST_STEP = 1e-4
# Farthest (mm, turns counted by KNUCKLE_SIZE_MM) that a solution may lie from the prediction along the tangent.
# Other assemblies of a plausible corner lie a hundred mm and more away.
PREDICTION_LIMIT_MM = 6.0

SETTING_FIELDS = (
    "mount_in",
    "mount_back",
    "mount_up",
    "tie_rod",
    "clamp",
    "arm",
    "tie_outer_up",
    "ball_joint_down",
    "hub_spacer",
)
MOTION_FIELDS = ("travel", "rack", "roll")
TRAVEL_PLACES = ("ground", "hub", "strut")


class PathLost(RuntimeError):
    """The pose could not be followed from the design position to the one asked for."""


def unit(vector):
    """`vector` scaled to length one."""
    return vector / np.linalg.norm(vector)


def cross_matrix(vector):
    """The matrix that turns `w` into `vector` x `w`."""
    x, y, z = vector
    return np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])


def rotation_vector_rate(turn):
    """Matrix from the rate of a rotation vector to the angular velocity, both in the fixed axes.

    Integral of exp(a [turn]x) for a from 0 to 1, in closed form (the left Jacobian of the rotation group).
    """
    angle = np.linalg.norm(turn)
    across = cross_matrix(turn)
    if angle < 1e-4:
        # Series: the closed form below loses digits. The next terms are under 1e-17.
        first, second = 0.5 - angle**2 / 24.0, 1.0 / 6.0 - angle**2 / 120.0
    else:
        first, second = (1.0 - np.cos(angle)) / angle**2, (angle - np.sin(angle)) / angle**3
    return np.eye(3) + first * across + second * across @ across


class Design:
    """A corner as measured: points in the car, spin axis and what is derived from them once."""

    def __init__(self, corner):
        def point(table, name):
            return np.array(corner[table][name], dtype=float)

        self.arm_front, self.arm_rear = point("lower_arm", "front"), point("lower_arm", "rear")
        self.ball_joint = point("lower_arm", "ball_joint")
        self.strut_top, self.strut_low = point("strut", "top"), point("strut", "low")
        self.tie_inner, self.tie_outer = point("tie_rod", "inner"), point("tie_rod", "outer")
        wheel = corner["wheel"]
        self.wheel_centre = np.array(wheel["centre"], dtype=float)
        self.radius = float(wheel["radius"])
        self.outboard = 1.0 if self.wheel_centre[1] > 0.0 else -1.0

        camber, toe = np.radians(wheel.get("camber", 0.0)), np.radians(wheel.get("toe", 0.0))
        self.spin_axis = np.array(
            [np.cos(camber) * np.sin(toe), self.outboard * np.cos(camber) * np.cos(toe), -np.sin(camber)]
        )
        self.strut_axis = unit(self.strut_top - self.strut_low)
        self.strut_length = np.linalg.norm(self.strut_top - self.strut_low)
        self.clamp_pivot = point("strut", "clamp") if corner["strut"].get("clamp") is not None else self.strut_low
        given_axis = corner["strut"].get("bearing_axis")
        self.bearing_axis = self.strut_axis if given_axis is None else unit(np.array(given_axis, dtype=float))
        self.rack_direction = unit(np.array(corner.get("rack", {}).get("direction", [0.0, 1.0, 0.0]), dtype=float))
        self.contact_centre = self.wheel_centre - self.radius * wheel_up(self.spin_axis)


def wheel_up(spin_axis):
    """Unit vector in the wheel plane, as near to vertical as that plane allows."""
    return unit(UP - (UP @ spin_axis) * spin_axis)


def wheel_up_rate(spin_axis):
    """Matrix from the rate of the spin axis to the rate of `wheel_up`."""
    flattened = UP - (UP @ spin_axis) * spin_axis
    up = unit(flattened)
    return (
        -(np.eye(3) - np.outer(up, up))
        @ (np.outer(spin_axis, UP) + (UP @ spin_axis) * np.eye(3))
        / np.linalg.norm(flattened)
    )


@dataclass
class Pose:
    """Where the knuckle is: its origin (the wheel centre at design) and its turn from the design position."""

    origin: np.ndarray
    turn: Rotation

    def moved(self, step):
        """This pose after a move `step[:3]` (mm) and a rotation vector `step[3:] / KNUCKLE_SIZE_MM`."""
        return Pose(self.origin + step[:3], Rotation.from_rotvec(step[3:] / KNUCKLE_SIZE_MM) * self.turn)


class Assembly:
    """The six equations of one corner under one setting and motion.

    `at_travel_place` names the sixth equation. Every row of `velocity_matrix` is the exact derivative of the equation
    of the same number, against the velocity of the knuckle's origin (three columns) and its angular velocity (three).
    """

    def __init__(self, design, amounts, travel_at):
        out = design.outboard
        self.design, self.travel_at, self.travel = design, travel_at, amounts["travel"]

        # Fixed in the body, which leans about the ground's centre line (right-handed about X).
        lean = Rotation.from_rotvec(np.radians(amounts["roll"]) * FORWARD)
        ground = np.array([0.0, 0.0, design.contact_centre[2]])

        def leant(point):
            return ground + lean.apply(point - ground)

        self.top = leant(
            design.strut_top + np.array([-amounts["mount_back"], -out * amounts["mount_in"], amounts["mount_up"]])
        )
        self.tie_inner = leant(design.tie_inner + amounts["rack"] * design.rack_direction)
        self.arm_front, self.arm_rear = leant(design.arm_front), leant(design.arm_rear)
        self.bearing_axis = lean.apply(design.bearing_axis)

        # Fixed lengths. A longer arm keeps its foot on the arm's axis: the radius grows, the distance along does not.
        along = unit(design.arm_front - design.arm_rear)
        from_front = design.ball_joint - design.arm_front
        radius = np.linalg.norm(from_front - (from_front @ along) * along) + amounts["arm"]
        self.arm_front_length = np.hypot(radius, (design.ball_joint - design.arm_front) @ along)
        self.arm_rear_length = np.hypot(radius, (design.ball_joint - design.arm_rear) @ along)
        self.tie_rod_length = np.linalg.norm(design.tie_outer - design.tie_inner) + amounts["tie_rod"]

        # Fixed in the knuckle, from its origin, in the axes of the design position.
        self.spin_axis = design.spin_axis
        self.ball_joint = design.ball_joint - design.wheel_centre - amounts["ball_joint_down"] * UP
        self.tie_outer = design.tie_outer - design.wheel_centre + amounts["tie_outer_up"] * UP
        self.wheel_centre = amounts["hub_spacer"] * design.spin_axis
        # The clamp turns the knuckle against the strut; seen from the knuckle the strut turns the other way, its top
        # inboard for the wheel's top outboard: by the right-hand rule about a forward axis on the left.
        clamp_axis = unit(FORWARD - (FORWARD @ design.strut_axis) * design.strut_axis)
        clamp_turn = Rotation.from_rotvec(out * np.radians(amounts["clamp"]) * clamp_axis)
        self.strut_low = (
            design.clamp_pivot + clamp_turn.apply(design.strut_low - design.clamp_pivot) - design.wheel_centre
        )
        self.strut_axis = clamp_turn.apply(design.strut_axis)
        sideways = unit(np.cross(self.strut_axis, FORWARD))
        self.off_strut = (sideways, np.cross(self.strut_axis, sideways))

    def residuals(self, pose):
        """What the six equations miss zero by, mm."""
        turn = pose.turn.as_matrix()
        ball_joint = pose.origin + turn @ self.ball_joint
        tie_outer = pose.origin + turn @ self.tie_outer
        top_in_knuckle = turn.T @ (self.top - pose.origin)
        return np.array(
            [
                np.linalg.norm(ball_joint - self.arm_front) - self.arm_front_length,
                np.linalg.norm(ball_joint - self.arm_rear) - self.arm_rear_length,
                self.off_strut[0] @ (top_in_knuckle - self.strut_low),
                self.off_strut[1] @ (top_in_knuckle - self.strut_low),
                np.linalg.norm(tie_outer - self.tie_inner) - self.tie_rod_length,
                self.travel_now(pose) - self.travel,
            ]
        )

    def travel_now(self, pose):
        """Travel of `pose` from the design position, at this assembly's place, mm."""
        turn = pose.turn.as_matrix()
        if self.travel_at == "strut":
            length = (turn @ self.strut_axis) @ (self.top - pose.origin - turn @ self.strut_low)
            return self.design.strut_length - length
        wheel_centre = pose.origin + turn @ self.wheel_centre
        if self.travel_at == "hub":
            return wheel_centre[2] - self.design.wheel_centre[2]
        contact_centre = wheel_centre - self.design.radius * wheel_up(turn @ self.spin_axis)
        return contact_centre[2] - self.design.contact_centre[2]

    def velocity_matrix(self, pose, travel_at=None):
        """Derivative of the residuals against velocity of the origin and angular velocity: 6 x 6."""
        travel_at = travel_at or self.travel_at
        turn = pose.turn.as_matrix()
        ball_joint, tie_outer = turn @ self.ball_joint, turn @ self.tie_outer
        to_top = self.top - pose.origin

        def row(direction, arm):
            # direction . (velocity + angular velocity x arm)
            return np.concatenate([direction, np.cross(arm, direction)])

        rows = [
            row(unit(pose.origin + ball_joint - self.arm_front), ball_joint),
            row(unit(pose.origin + ball_joint - self.arm_rear), ball_joint),
            -row(turn @ self.off_strut[0], to_top),
            -row(turn @ self.off_strut[1], to_top),
            row(unit(pose.origin + tie_outer - self.tie_inner), tie_outer),
        ]
        if travel_at == "strut":
            # The length is the top seen along an axis that turns with the knuckle, from a point of the knuckle.
            rows.append(row(turn @ self.strut_axis, to_top))
        else:
            last = row(UP, turn @ self.wheel_centre)
            if travel_at == "ground":
                spin_axis = turn @ self.spin_axis
                spin_axis_rate = -cross_matrix(spin_axis)
                last[3:] -= self.design.radius * UP @ wheel_up_rate(spin_axis) @ spin_axis_rate
            rows.append(last)
        return np.array(rows)


    def branch(self, pose):
        """Three signs that a path from design keeps: determinant, side of over-centre, top above ball joint."""
        matrix = self.velocity_matrix(pose)
        turn = pose.turn.as_matrix()
        ball_joint = turn @ self.ball_joint
        steering = self.top - pose.origin - ball_joint
        # A turn about the steering axis, arm and strut held: over-centre is where it leaves the rod's length alone.
        about_steering = np.concatenate([-np.cross(steering, ball_joint), steering])
        signs = np.linalg.det(matrix * SCALE), matrix[4] @ about_steering, steering @ (turn @ self.strut_axis)
        return tuple(np.sign(signs))


SCALE = np.array([1.0, 1.0, 1.0, 1.0 / KNUCKLE_SIZE_MM, 1.0 / KNUCKLE_SIZE_MM, 1.0 / KNUCKLE_SIZE_MM])


def settle(assembly, guess):
    """The pose near `guess` that fulfils all six equations to round-off, or None."""

    def residuals(step):
        return assembly.residuals(guess.moved(step))

    def jacobian(step):
        matrix = assembly.velocity_matrix(guess.moved(step)) * SCALE
        matrix[:, 3:] = matrix[:, 3:] @ rotation_vector_rate(step[3:] / KNUCKLE_SIZE_MM)
        return matrix

    found = root(residuals, np.zeros(6), jac=jacobian, method="hybr", options={"xtol": ROOT_STEP_LIMIT})
    pose = guess.moved(found.x)
    for _ in range(4):
        missing = assembly.residuals(pose)
        if np.abs(missing).max() < RESIDUAL_LIMIT_MM:
            return pose
        try:
            pose = pose.moved(-np.linalg.solve(assembly.velocity_matrix(pose) * SCALE, missing))
        except np.linalg.LinAlgError:
            return None
    return pose if np.abs(assembly.residuals(pose)).max() < RESIDUAL_LIMIT_MM else None


def follow(design, amounts, travel_at):
    """The assembly and pose reached from design by scaling all `amounts` from 0 to 1 together."""

    def assembly_at(fraction):
        return Assembly(design, {name: fraction * amount for name, amount in amounts.items()}, travel_at)

    fraction, size = 0.0, FIRST_STEP
    assembly = assembly_at(0.0)
    pose = Pose(design.wheel_centre.copy(), Rotation.identity())
    branch_at_design = assembly.branch(pose)
    while fraction < 1.0:
        wanted = min(1.0, fraction + size)
        following = assembly_at(wanted)
        # Tangent: how the pose must move for the equations, changed by the step, to hold to first order.
        tangent = -np.linalg.solve(assembly.velocity_matrix(pose) * SCALE, following.residuals(pose))
        predicted = pose.moved(tangent)
        settled = settle(following, predicted)
        if (
            settled is not None
            and distance(settled, predicted) < PREDICTION_LIMIT_MM
            and following.branch(settled) == branch_at_design
        ):
            fraction, assembly, pose = wanted, following, settled
            size *= 1.5
        else:
            size *= 0.5
            if size < SMALLEST_STEP:
                raise PathLost(f"path lost at {fraction:.4f} of {amounts}, travel at {travel_at}")
    return assembly, pose


def distance(pose, other):
    """Size of the move between two poses, mm, turns counted by `KNUCKLE_SIZE_MM`."""
    turn = (pose.turn * other.turn.inv()).magnitude() * KNUCKLE_SIZE_MM
    return max(np.abs(pose.origin - other.origin).max(), turn)


@dataclass
class Solution:
    """One solved corner: readings (mm, deg, deg/mm or a plain ratio) by name, points (mm) by name, spin axis."""

    readings: dict
    points: dict
    spin_axis: np.ndarray


def solve(corner, *, travel_at="ground", **given):
    """Solve one corner, given as a plain dictionary of hard points, for settings and motion in mm and degrees."""
    unknown = set(given) - set(SETTING_FIELDS) - set(MOTION_FIELDS)
    if unknown or travel_at not in TRAVEL_PLACES:
        raise TypeError(f"no such setting, motion or place: {unknown or travel_at}")
    amounts = {name: float(given.get(name, 0.0)) for name in SETTING_FIELDS + MOTION_FIELDS}
    design = Design(corner)
    assembly, pose = follow(design, amounts, travel_at)
    return read(design, assembly, pose)


def read(design, assembly, pose):
    """Every reading and point of a solved pose, from their definitions."""
    out, top = design.outboard, assembly.top
    turn = pose.turn.as_matrix()
    spin_axis, strut_axis = turn @ assembly.spin_axis, turn @ assembly.strut_axis
    ball_joint = pose.origin + turn @ assembly.ball_joint
    tie_outer = pose.origin + turn @ assembly.tie_outer
    strut_low = pose.origin + turn @ assembly.strut_low
    wheel_centre = pose.origin + turn @ assembly.wheel_centre
    contact_centre = wheel_centre - design.radius * wheel_up(spin_axis)

    steering = top - ball_joint
    sideways = unit(spin_axis - (spin_axis @ UP) * UP)
    ahead = out * np.cross(sideways, UP)

    def steering_axis_at(height):
        return ball_joint + steering * (height - ball_joint[2]) / steering[2]

    on_ground, at_hub = steering_axis_at(contact_centre[2]), steering_axis_at(wheel_centre[2])
    camber = np.arcsin(-spin_axis[2])
    kingpin_inclination = np.arctan2(-out * steering[1], steering[2])
    steering_unit = unit(steering)

    def across_steering(vector):
        return vector - (vector @ steering_unit) * steering_unit

    lever, rod = across_steering(tie_outer - ball_joint), across_steering(assembly.tie_inner - tie_outer)

    readings = {
        "camber": np.degrees(camber),
        "toe": np.degrees(np.arctan2(spin_axis[0], out * spin_axis[1])),
        "caster": np.degrees(np.arctan2(-steering[0], steering[2])),
        "kingpin_inclination": np.degrees(kingpin_inclination),
        "included_angle": np.degrees(camber + kingpin_inclination),
        "scrub_radius": (contact_centre - on_ground) @ sideways,
        "mechanical_trail": (on_ground - contact_centre) @ ahead,
        "hub_offset": (wheel_centre - at_hub) @ sideways,
        "hub_trail": (at_hub - wheel_centre) @ ahead,
        "half_track": out * contact_centre[1],
        "wheelbase_shift": contact_centre[0] - design.contact_centre[0],
        "strut_compression": design.strut_length - (top - strut_low) @ strut_axis,
        "bearing_angle": np.degrees(
            np.arctan2(np.linalg.norm(np.cross(strut_axis, assembly.bearing_axis)), strut_axis @ assembly.bearing_axis)
        ),
        "tie_rod_margin": np.linalg.norm(np.cross(lever, rod)) / (np.linalg.norm(lever) * np.linalg.norm(rod)),
    }
    readings.update(rates(design, assembly, pose))
    points = {
        "ball_joint": ball_joint,
        "strut_top": top,
        "strut_low": strut_low,
        "tie_rod_inner": assembly.tie_inner,
        "tie_rod_outer": tie_outer,
        "wheel_centre": wheel_centre,
        "contact_centre": contact_centre,
    }
    return Solution(readings, points, spin_axis)


def rates(design, assembly, pose):
    """Readings that are derivatives, from the knuckle's velocity at one mm of vertical wheel travel a unit of time.

    Travel is the wheel centre's for a corner solved at the hub and the contact centre's otherwise.
    """
    place = "hub" if assembly.travel_at == "hub" else "ground"
    motion = np.linalg.solve(assembly.velocity_matrix(pose, place), np.array([0.0, 0.0, 0.0, 0.0, 0.0, 1.0]))
    velocity, spin = motion[:3], motion[3:]
    out, turn = design.outboard, pose.turn.as_matrix()

    spin_axis = turn @ assembly.spin_axis
    spin_axis_rate = np.cross(spin, spin_axis)
    wheel_centre_rate = velocity + np.cross(spin, turn @ assembly.wheel_centre)
    contact_rate = wheel_centre_rate - design.radius * wheel_up_rate(spin_axis) @ spin_axis_rate
    contact_centre = pose.origin + turn @ assembly.wheel_centre - design.radius * wheel_up(spin_axis)
    locked_wheel_rate = velocity + np.cross(spin, contact_centre - pose.origin)

    ball_joint = turn @ assembly.ball_joint
    steering = assembly.top - pose.origin - ball_joint
    steering_rate = -(velocity + np.cross(spin, ball_joint))

    def turning(rise, run, rise_rate, run_rate):
        # Rate of atan2(rise, run).
        return (run * rise_rate - rise * run_rate) / (rise**2 + run**2)

    camber_rate = -spin_axis_rate[2] / np.hypot(spin_axis[0], spin_axis[1])
    toe_rate = turning(spin_axis[0], out * spin_axis[1], spin_axis_rate[0], out * spin_axis_rate[1])
    caster_rate = turning(-steering[0], steering[2], -steering_rate[0], steering_rate[2])
    # The rod leaves the knuckle at the speed with which the knuckle at the top pivot moves along the strut.
    compression_rate = (turn @ assembly.strut_axis) @ (velocity + np.cross(spin, assembly.top - pose.origin))
    with np.errstate(divide="ignore"):
        # Backward from the contact centre, v.z = 0 where the pitching has eaten it up; infinite in planar motion.
        side_view_swing_arm = -locked_wheel_rate[2] / spin[1]
    return {
        "camber_gain": np.degrees(camber_rate),
        "bump_steer": np.degrees(toe_rate),
        "caster_gain": np.degrees(caster_rate),
        "motion_ratio": compression_rate,
        "roll_centre_height": contact_centre[1] * contact_rate[1] / contact_rate[2],
        "swing_arm_length": -contact_rate[2] / camber_rate,
        "anti_dive_angle": np.degrees(np.arctan(locked_wheel_rate[0] / locked_wheel_rate[2])),
        "side_view_swing_arm": side_view_swing_arm,
    }
