"""A strut corner assembled from the ideal joints of a general multibody library.

SECOND METHOD for the engine. Three rigid bodies hang on the body shell:

* the lower arm, on a revolute joint along the line through its two pivots;
* the knuckle, on a spherical joint at the arm's ball joint;
* the damper rod, on a spherical joint at the strut-top pivot and on a prismatic joint along the strut axis in
  the knuckle.

A distance constraint is the tie rod, and one more constraint drives the corner: either the height of the wheel
centre or the length of the strut. Three bodies have eighteen freedoms, and the joints take away 5 + 3 + 3 + 5 + 1 + 1
of them: nothing is left to move, and the library's static Newton solver finds the pose from the joint equations
alone. Nothing here knows of the closed form, of the ball joint's circle or of the steering axis as an unknown.

Axes, signs and units are those of the project: X forward, Y left, Z up, millimetres and degrees.
"""

# The library's item classes carry no types.
# mypy: allow-untyped-calls
from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import exudyn
import numpy as np
from exudyn.itemInterface import (
    MarkerBodyRigid,
    NodeRigidBodyEP,
    ObjectConnectorDistance,
    ObjectGround,
    ObjectJointGeneric,
    ObjectJointPrismaticX,
    ObjectJointRevoluteZ,
    ObjectJointSpherical,
    ObjectRigidBody,
)

# The mean residual (mm in the translations, plain numbers in the rotations) at which the library's Newton
# iteration stops. Round-off of points near 1000 mm is about 1e-13 mm; Newton converges quadratically, so the step
# that passes 1e-10 leaves round-off.
NEWTON_TOLERANCE = 1e-10

# The longest move of any single input between two solutions, mm or degrees. Steps this short keep Newton on the
# assembly that is connected to the design position.
LONGEST_STEP = 10.0

# How near the contact centre comes to the height asked for, mm, when the ride height is held.
CONTACT_HEIGHT_TOLERANCE_MM = 1e-11

_UPRIGHT = [1.0, 0.0, 0.0, 0.0]  # Euler parameters of no rotation


@dataclass(frozen=True)
class MultibodyPose:
    """Where the bodies came to rest. Points are arrays of three, mm; angles are in degrees."""

    wheel_centre: np.ndarray
    contact_centre: np.ndarray
    ball_joint: np.ndarray
    strut_top: np.ndarray
    strut_low: np.ndarray
    tie_rod_inner: np.ndarray
    tie_rod_outer: np.ndarray
    spin_axis: np.ndarray
    strut_axis: np.ndarray
    design_strut_axis: np.ndarray
    strut_compression: float
    side: float

    @property
    def camber(self) -> float:
        """Angle between wheel plane and the vertical; positive when the top leans outboard."""
        return float(np.degrees(np.arcsin(-self.spin_axis[2])))

    @property
    def projected_camber(self) -> float:
        """Lean of the spin axis in front view; positive when the top leans outboard."""
        return float(np.degrees(np.arctan2(-self.spin_axis[2], self.side * self.spin_axis[1])))

    @property
    def toe(self) -> float:
        """Positive when the front of the wheel points inboard."""
        return float(np.degrees(np.arctan2(self.spin_axis[0], self.side * self.spin_axis[1])))

    @property
    def caster(self) -> float:
        """Side view; positive when the top of the steering axis leans rearward."""
        axis = self.strut_top - self.ball_joint
        return float(np.degrees(np.arctan2(-axis[0], axis[2])))

    @property
    def kingpin_inclination(self) -> float:
        """Front view; positive when the top of the steering axis leans inboard."""
        axis = self.strut_top - self.ball_joint
        return float(np.degrees(np.arctan2(-self.side * axis[1], axis[2])))

    @property
    def bearing_angle(self) -> float:
        """How far the damper rod has leant from its direction at design; from 0 to 180."""
        sine = np.linalg.norm(np.cross(self.design_strut_axis, self.strut_axis))
        return float(np.degrees(np.arctan2(sine, self.design_strut_axis @ self.strut_axis)))


def _unit(vector: np.ndarray) -> np.ndarray:
    unit: np.ndarray = vector / np.linalg.norm(vector)
    return unit


def _turned(vector: np.ndarray, axis: np.ndarray, angle_deg: float) -> np.ndarray:
    """`vector` turned about the unit `axis` by the right-hand rule."""
    angle = np.radians(angle_deg)
    along = axis * (axis @ vector)
    turned: np.ndarray = along + (vector - along) * np.cos(angle) + np.cross(axis, vector) * np.sin(angle)
    return turned


def _frame(first: np.ndarray, place: int) -> np.ndarray:
    """A rotation matrix whose column number `place` is the unit vector `first`."""
    spare = np.eye(3)[np.argmin(np.abs(first))]
    second = _unit(np.cross(first, spare))
    third = np.cross(first, second)
    return np.roll(np.column_stack([first, second, third]), place, axis=1)


def _seat(frame: np.ndarray, position: np.ndarray) -> np.ndarray:
    """The 4 x 4 matrix by which the library places a joint's frame in a body."""
    seat = np.eye(4)
    seat[:3, :3], seat[:3, 3] = frame, position
    return seat


class MultibodyCorner:
    """One corner in the library's hands; it remembers its pose and moves on from there.

    `tables` has the form that `strutsweep.Corner.from_dict` takes: hard points in mm, wheel angles in degrees.
    """

    def __init__(self, tables: dict[str, Any]) -> None:
        arm, strut, tie_rod, wheel = (tables[name] for name in ("lower_arm", "strut", "tie_rod", "wheel"))
        self._arm_front, self._arm_rear, self._ball_joint = (
            np.array(arm[name], dtype=float) for name in ("front", "rear", "ball_joint")
        )
        self._top, self._low = np.array(strut["top"], dtype=float), np.array(strut["low"], dtype=float)
        # The clamp's pivot: what the knuckle turns about against the strut.
        self._pivot = np.array(strut.get("clamp", strut["low"]), dtype=float)
        self._inner, self._outer = np.array(tie_rod["inner"], dtype=float), np.array(tie_rod["outer"], dtype=float)
        self._hub = np.array(wheel["centre"], dtype=float)
        self._radius = float(wheel["radius"])
        self.side = float(np.sign(self._hub[1]))
        camber, toe = np.radians(wheel["camber"]), np.radians(wheel["toe"])
        self._spin = np.array([np.cos(camber) * np.sin(toe), self.side * np.cos(camber) * np.cos(toe), -np.sin(camber)])
        self._arm_axis = _unit(self._arm_front - self._arm_rear)
        self._strut_axis = _unit(self._top - self._low)
        self._strut_length = float(np.linalg.norm(self._top - self._low))
        self._design_contact_height = float(self._contact_centre(self._hub, self._spin)[2])
        self._inputs: dict[str, float] = {}
        self._held = "hub"
        self._assemble()

    def _assemble(self) -> None:
        # The container owns the system: it has to live as long as this object.
        self._container = exudyn.SystemContainer()
        self._system = system = self._container.AddSystem()
        ground = system.AddObject(ObjectGround())

        def body(reference: np.ndarray) -> Any:
            """A rigid body whose axes lie along the car's at design; mass plays no part in a pose without loads."""
            node = system.AddNode(NodeRigidBodyEP(referenceCoordinates=[*reference, *_UPRIGHT]))
            return system.AddObject(ObjectRigidBody(mass=1.0, inertia=[1.0] * 3 + [0.0] * 3, nodeNumber=node))

        def marker(owner: Any, local: np.ndarray, frame: np.ndarray | None = None) -> Any:
            seat = _seat(np.eye(3) if frame is None else frame, local)
            return system.AddMarker(MarkerBodyRigid(bodyNumber=owner, localHT=seat))

        # Each body's reference point, from which the local positions below are counted.
        arm = body(self._arm_rear)
        self._knuckle = body(self._hub)
        self._rod = rod = body(self._top)

        arm_frame = _frame(self._arm_axis, 2)
        system.AddObject(
            ObjectJointRevoluteZ(
                markerNumbers=[marker(ground, self._arm_rear, arm_frame), marker(arm, np.zeros(3), arm_frame)]
            )
        )
        self._ball_on_arm = marker(arm, self._ball_joint - self._arm_rear)
        self._ball_on_knuckle = marker(self._knuckle, self._ball_joint - self._hub)
        system.AddObject(ObjectJointSpherical(markerNumbers=[self._ball_on_arm, self._ball_on_knuckle]))

        self._top_on_shell = marker(ground, self._top)
        system.AddObject(ObjectJointSpherical(markerNumbers=[self._top_on_shell, marker(rod, np.zeros(3))]))
        strut_frame = _frame(self._strut_axis, 0)
        self._low_on_knuckle = marker(self._knuckle, self._low - self._hub, strut_frame)
        self._slide = system.AddObject(
            ObjectJointPrismaticX(markerNumbers=[self._low_on_knuckle, marker(rod, np.zeros(3), strut_frame)])
        )

        self._inner_on_shell = marker(ground, self._inner)
        self._outer_on_knuckle = marker(self._knuckle, self._outer - self._hub)
        self._tie_rod = system.AddObject(
            ObjectConnectorDistance(
                markerNumbers=[self._inner_on_shell, self._outer_on_knuckle],
                distance=float(np.linalg.norm(self._outer - self._inner)),
            )
        )

        # The drive: the height of the wheel centre, or the distance along the strut from its low point to the top.
        self._hub_height = marker(ground, self._hub)
        self._hub_on_knuckle = marker(self._knuckle, np.zeros(3))
        self._hub_drive = system.AddObject(
            ObjectJointGeneric(
                markerNumbers=[self._hub_height, self._hub_on_knuckle], constrainedAxes=[0, 0, 1, 0, 0, 0]
            )
        )
        self._low_on_rod = marker(rod, self._low - self._top, strut_frame)
        self._strut_drive = system.AddObject(
            ObjectJointGeneric(
                markerNumbers=[self._low_on_knuckle, self._low_on_rod],
                constrainedAxes=[1, 0, 0, 0, 0, 0],
                activeConnector=False,
            )
        )
        system.Assemble()

        self._settings = exudyn.SimulationSettings()
        self._settings.solution.file.write = False
        solver = self._settings.staticSolver
        solver.verboseMode = 0
        solver.newton.relativeTolerance = 1e-14  # let the absolute tolerance decide
        solver.newton.absoluteTolerance = NEWTON_TOLERANCE

    def pose(self, travel: float = 0.0, travel_at: str = "hub", **inputs: float) -> MultibodyPose:
        """Move every input in short equal steps from where it is to the values given; those not named go to zero.

        `travel_at` says what follows `travel`: "hub", "strut" or "ground", as the project defines them.
        """
        if travel_at != "ground":
            return self._move({**inputs, "travel": travel}, travel_at)
        # No joint holds a contact centre: a secant on the height of the hub does.
        wanted = self._design_contact_height + travel
        hub_travel = travel
        pose = self._move({**inputs, "travel": hub_travel}, "hub")
        miss = pose.contact_centre[2] - wanted
        slope = 1.0
        for _ in range(20):
            if abs(miss) < CONTACT_HEIGHT_TOLERANCE_MM:
                return pose
            step = -miss / slope
            pose = self._move({**inputs, "travel": hub_travel + step}, "hub")
            new_miss = pose.contact_centre[2] - wanted
            slope = (new_miss - miss) / step
            hub_travel, miss = hub_travel + step, new_miss
        raise RuntimeError(f"the contact centre stays {miss} mm off the height asked for")

    def _move(self, inputs: dict[str, float], held: str) -> MultibodyPose:
        if held != self._held:
            # Change the drive at the design position, where both mean the same.
            self._step_to({})
            self._held = held
            self._system.SetObjectParameter(self._hub_drive, "activeConnector", held == "hub")
            self._system.SetObjectParameter(self._strut_drive, "activeConnector", held == "strut")
        self._step_to(inputs)
        return self._read()

    def _step_to(self, goal: dict[str, float]) -> None:
        start = self._inputs
        names = sorted(set(start) | set(goal))
        longest = max((abs(goal.get(name, 0.0) - start.get(name, 0.0)) for name in names), default=0.0)
        steps = max(1, int(np.ceil(longest / LONGEST_STEP)))
        for step in range(1, steps + 1):
            share = step / steps
            self._solve({n: (1.0 - share) * start.get(n, 0.0) + share * goal.get(n, 0.0) for n in names})
        self._inputs = dict(goal)

    def _solve(self, inputs: dict[str, float]) -> None:
        left = dict(inputs)

        def take(name: str) -> float:
            return left.pop(name, 0.0)

        travel = take("travel")
        self._top_now = self._top + np.array([-take("mount_back"), -self.side * take("mount_in"), take("mount_up")])
        self._inner_now = self._inner + np.array([0.0, take("rack"), 0.0])
        rod_length = float(np.linalg.norm(self._outer - self._inner)) + take("tie_rod")
        self._ball_now = self._ball_joint - np.array([0.0, 0.0, take("ball_joint_down")])
        self._outer_now = self._outer + np.array([0.0, 0.0, take("tie_outer_up")])
        self._hub_now = self._hub + take("hub_spacer") * self._spin

        foot = self._arm_rear + self._arm_axis * (self._arm_axis @ (self._ball_joint - self._arm_rear))
        arm_end = self._ball_joint + take("arm") * _unit(self._ball_joint - foot)

        forward = np.array([1.0, 0.0, 0.0])
        clamp_axis = _unit(forward - self._strut_axis * self._strut_axis[0])
        clamp = self.side * take("clamp")
        strut_axis = _turned(self._strut_axis, clamp_axis, clamp)
        self._low_now = self._pivot + _turned(self._low - self._pivot, clamp_axis, clamp)
        if left:
            raise TypeError(f"the multibody corner has no input called {sorted(left)}")

        system = self._system
        system.SetMarkerParameter(self._top_on_shell, "localPosition", list(self._top_now))
        system.SetMarkerParameter(self._inner_on_shell, "localPosition", list(self._inner_now))
        system.SetObjectParameter(self._tie_rod, "distance", rod_length)
        system.SetMarkerParameter(self._ball_on_arm, "localPosition", list(arm_end - self._arm_rear))
        system.SetMarkerParameter(self._ball_on_knuckle, "localPosition", list(self._ball_now - self._hub))
        system.SetMarkerParameter(self._outer_on_knuckle, "localPosition", list(self._outer_now - self._hub))
        system.SetMarkerParameter(self._hub_on_knuckle, "localPosition", list(self._hub_now - self._hub))
        # The rod keeps its own axis; the clamp turns the strut's tube, low point and all, in the knuckle.
        seat = _seat(_frame(strut_axis, 0), self._low_now - self._hub)
        system.SetMarkerParameter(self._low_on_knuckle, "localHT", seat)
        if self._held == "hub":
            system.SetMarkerParameter(self._hub_height, "localPosition", [0.0, 0.0, self._hub[2] + travel])
        else:
            low_on_rod = -(self._strut_length - travel) * self._strut_axis
            system.SetMarkerParameter(self._low_on_rod, "localPosition", list(low_on_rod))

        if not system.SolveStatic(self._settings, updateInitialValues=True):
            raise RuntimeError(f"the multibody solver found no pose at {inputs}")

    def _contact_centre(self, hub: np.ndarray, spin: np.ndarray) -> np.ndarray:
        up = np.array([0.0, 0.0, 1.0])
        return hub - self._radius * _unit(up - (up @ spin) * spin)

    def _read(self) -> MultibodyPose:
        def place(point: np.ndarray) -> np.ndarray:
            """Where a point of the knuckle, given in the knuckle's axes at design, is now."""
            return np.array(
                self._system.GetObjectOutputBody(
                    self._knuckle, exudyn.OutputVariableType.Position, localPosition=list(point - self._hub)
                )
            )

        def rotation(body: Any) -> np.ndarray:
            matrix = self._system.GetObjectOutputBody(body, exudyn.OutputVariableType.RotationMatrix)
            return np.array(matrix).reshape(3, 3)

        spin = rotation(self._knuckle) @ self._spin
        hub = place(self._hub_now)
        slide = self._system.GetObjectOutput(self._slide, exudyn.OutputVariableType.DisplacementLocal)
        return MultibodyPose(
            wheel_centre=hub,
            contact_centre=self._contact_centre(hub, spin),
            ball_joint=place(self._ball_now),
            strut_top=self._top_now,
            strut_low=place(self._low_now),
            tie_rod_inner=self._inner_now,
            tie_rod_outer=place(self._outer_now),
            spin_axis=spin,
            strut_axis=rotation(self._rod) @ self._strut_axis,
            design_strut_axis=self._strut_axis,
            strut_compression=self._strut_length - float(slide[0]),
            side=self.side,
        )
