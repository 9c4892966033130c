"""The job that the engine and its peers do: its grid, its readings, and what stays constant while the corner moves.

Nothing here imports the engine: a peer's process holds a peer's memory alone.

The peers are given the engine's mathematics ready-made (the derivation stands in `src/linkage.rs`), and not the
engine's care: they compute no status, check no input, label no array and follow no path back to design. What is
compared is arithmetic, memory and the library's own overhead.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

Floats: TypeAlias = npt.NDArray[np.float64]
XYZ: TypeAlias = tuple[float, float, float]

READINGS = (
    "camber",
    "toe",
    "caster",
    "kingpin_inclination",
    "scrub_radius",
    "mechanical_trail",
    "strut_compression",
    "half_track",
)
"""The readings wanted, in the order in which every peer gives them."""

TRAVELS = 41
LARGEST_TRAVEL_MM = 60.0
LARGEST_MOUNT_IN_MM = 20.0
LARGEST_MOUNT_BACK_MM = 10.0

NEWTON_STEPS = 3
"""From a guess along the slope at design the first step leaves 3e-3 mm of travel on this grid, the second 4e-9, the
third round-off."""

SECANT_STEPS = 3
"""One step along the slope at design leaves 5e-2 mm, the three after it 5e-5, 2e-9 and round-off: one evaluation a
step, and no slope."""


class Grid(NamedTuple):
    """Travels by mounts-in by mounts-back, in mm: the shape of every result, in that order."""

    travel: Floats
    mount_in: Floats
    mount_back: Floats

    @classmethod
    def near(cls, poses: float) -> Grid:
        """The grid of 41 travels on a square of top-mount positions that comes nearest to a number of poses."""
        side = max(2, round((poses / TRAVELS) ** 0.5))
        return cls(
            np.linspace(-LARGEST_TRAVEL_MM, LARGEST_TRAVEL_MM, TRAVELS),
            np.linspace(-LARGEST_MOUNT_IN_MM, LARGEST_MOUNT_IN_MM, side),
            np.linspace(-LARGEST_MOUNT_BACK_MM, LARGEST_MOUNT_BACK_MM, side),
        )

    @property
    def shape(self) -> tuple[int, int, int]:
        return len(self.travel), len(self.mount_in), len(self.mount_back)

    @property
    def poses(self) -> int:
        return int(np.prod(self.shape))


Car: TypeAlias = Mapping[str, Any]
"""A left corner as the nested tables of a car file."""

Sweep: TypeAlias = Callable[[Grid], Sequence[Floats]]
"""What a peer prepares: a grid in, one array of the grid's shape for each reading out."""


class Carried(NamedTuple):
    """A vector v fixed in the knuckle, as three numbers per direction of the knuckle.

    With s the distance along the strut axis from the foot of the ball joint to the top mount, E the steering axis and
    a the steering arm to the outer tie-rod joint: v.E = `axis_slope` s + `axis`, v.outer = `outer`, and
    v.(E x a) = `third_slope` s + `third`.
    """

    axis_slope: float
    axis: float
    outer: float
    third_slope: float
    third: float


class Linkage(NamedTuple):
    """What stays constant while a left corner moves, in millimetres; the names are those of `src/linkage.rs`."""

    centre: XYZ
    """Centre of the ball joint's circle."""
    start: XYZ
    """From there to the ball joint at design."""
    quarter: XYZ
    """From there to the ball joint a quarter turn on."""
    top: XYZ
    """Top mount, not shifted."""
    inner: XYZ
    """Inner tie-rod joint."""
    foot_squared: float
    """Squared distance of the ball joint from the strut axis."""
    outer_squared: float
    """Squared distance of the outer tie-rod joint from the ball joint."""
    outer_axis_slope: float
    outer_axis: float
    """The outer joint against the steering axis: outer.E = `outer_axis_slope` s + `outer_axis`."""
    rod_squared: float
    """Squared length of the tie rod."""
    rod_sense: float
    """The tie rod's assembly branch, +1 or -1."""
    hub: Carried
    """From the ball joint to the wheel centre."""
    spin: Carried
    """The spin axis, outboard, of length one."""
    radius: float
    """Loaded radius of the wheel."""
    ground: float
    """Height of the contact centre at design."""
    strut: float
    """Strut compression + s: the strut's length at design and what lies between the foot and its lower point."""

    @classmethod
    def of(cls, car: Car) -> Linkage:
        """The linkage of a left corner."""

        points = hard_points(car)
        front, rear, ball_joint = points["front"], points["rear"], points["ball_joint"]
        top, low, inner, outer, hub = points["top"], points["low"], points["inner"], points["outer"], points["hub"]
        radius, spin = float(car["wheel"]["radius"]), spin_axis(car)

        pivot_line = unit(front - rear)
        centre = rear + pivot_line * ((ball_joint - rear) @ pivot_line)
        start = ball_joint - centre

        # The knuckle's own axes: x up the strut axis, y forward, z square to both.
        along = unit(top - low)
        fore = unit(np.array([1.0, 0.0, 0.0]) - along * along[0])
        knuckle = np.array([along, fore, np.cross(along, fore)])
        foot = knuckle @ (low - ball_joint)
        low_height, foot[0] = foot[0], 0.0
        arm = knuckle @ (outer - ball_joint)

        def carried(v: Floats) -> Carried:
            in_knuckle = knuckle @ v
            turned = np.cross(arm, in_knuckle)
            return Carried(
                float(in_knuckle[0]),
                float(in_knuckle @ foot),
                float(in_knuckle @ arm),
                float(turned[0]),
                float(turned @ foot),
            )

        up = unit(np.array([0.0, 0.0, 1.0]) - spin * spin[2])
        return cls(
            centre=xyz(centre),
            start=xyz(start),
            quarter=xyz(np.cross(pivot_line, start)),
            top=xyz(top),
            inner=xyz(inner),
            foot_squared=float(foot @ foot),
            outer_squared=float(arm @ arm),
            outer_axis_slope=float(arm[0]),
            outer_axis=float(arm @ foot),
            rod_squared=float((outer - inner) @ (outer - inner)),
            rod_sense=float(np.sign((outer - ball_joint) @ np.cross(top - ball_joint, inner - ball_joint))),
            hub=carried(hub - ball_joint),
            spin=carried(spin),
            radius=radius,
            ground=float(hub[2] - radius * up[2]),
            strut=float(np.linalg.norm(top - low) + low_height),
        )


def hard_points(car: Car) -> dict[str, Floats]:
    """The hard points by short names."""
    where = {
        "front": ("lower_arm", "front"),
        "rear": ("lower_arm", "rear"),
        "ball_joint": ("lower_arm", "ball_joint"),
        "top": ("strut", "top"),
        "low": ("strut", "low"),
        "inner": ("tie_rod", "inner"),
        "outer": ("tie_rod", "outer"),
        "hub": ("wheel", "centre"),
    }
    return {name: np.asarray(car[table][point], dtype=np.float64) for name, (table, point) in where.items()}


def spin_axis(car: Car) -> Floats:
    """The wheel's spin axis at design, of length one, outboard."""
    camber, toe = np.radians(car["wheel"]["camber"]), np.radians(car["wheel"]["toe"])
    return np.array([np.cos(camber) * np.sin(toe), np.cos(camber) * np.cos(toe), -np.sin(camber)])


def unit(v: Floats) -> Floats:
    """The vector of length one in the same direction."""
    return np.asarray(v / np.linalg.norm(v))


def xyz(v: Floats) -> XYZ:
    x, y, z = v.tolist()
    return x, y, z


def rise_at_design(linkage: Linkage) -> float:
    """Rise of the contact centre per unit of the arm's half-angle tangent, at design: where the first guess is from.

    The ball joint's own rise: exact enough for a guess, as the wheel rises nearly with it.
    """
    return 2.0 * linkage.quarter[2]
