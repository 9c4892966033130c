"""The parts of a corner in a pose: where each is, how it looks, and what the legend calls it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from strutsweep._core import Corner, Pose
from strutsweep.plots.sheet import BLUE, GREEN, INK, PAPER, PLAIN, PURPLE, RED

__all__ = ["DISC", "GHOST", "ROLL_CENTRE_RING", "Places", "Vector", "View", "draw", "draw_design", "legend"]

Vector: TypeAlias = npt.NDArray[np.float64]

GHOST: Final = "#b4bbc4"
"""The design position, where the pose is another; frames."""
DISC: Final = "#8a929c"
"""The wheel."""
_KNUCKLE: Final = ("#dfe3e7", "#c3c9d0")
_TUBE: Final = "#4a525c"
_TUBE_SHARE: Final = 0.55
"""The strut's tube is drawn this long, as a share of the design length from `strut.low` to the top: no corner says."""
_LIES_ON_MM: Final = 4.0
"""Two lines that are nowhere farther apart than this are one line on the sheet."""
_NEAR_MM: Final = 300.0
"""A steering axis that meets the ground farther from the contact centre does not stretch the picture."""

ROLL_CENTRE_RING: Final[dict[str, Any]] = {
    "marker": "o",
    "markersize": 7.0,
    "markerfacecolor": PAPER,
    "markeredgecolor": PURPLE,
    "markeredgewidth": 1.6,
}


@dataclass(frozen=True)
class View:
    """One way to look at the corner: which coordinate runs across, which up, and which way each of them grows."""

    name: str
    seen: str
    across: int
    up: int
    rightward: float
    """+1 where the coordinate across grows to the right."""
    upward: float

    def flat(self, points: npt.ArrayLike) -> tuple[Vector, Vector]:
        """Places on the sheet of points in the car's coordinates, the last axis of which is X, Y, Z."""
        array = np.asarray(points, dtype=np.float64)
        return array[..., self.across], array[..., self.up]


def in_the_body(corner: Corner, at: Vector, roll_deg: float) -> Vector:
    """Where the body carries a point of its own as it rolls about the ground's centre line."""
    if roll_deg == 0.0:
        return at
    sine, cosine = math.sin(math.radians(roll_deg)), math.cos(math.radians(roll_deg))
    ground = corner.solve().point("contact_centre")[2]
    up = at[2] - ground
    return np.array([at[0], at[1] * cosine - up * sine, ground + at[1] * sine + up * cosine])


@dataclass(frozen=True)
class Places:
    """What is drawn of a pose: points and directions in the car's coordinates, mm."""

    front: Vector
    rear: Vector
    ball_joint: Vector
    top: Vector
    low: Vector
    inner: Vector
    outer: Vector
    wheel_centre: Vector
    contact: Vector
    axis_at_ground: Vector
    instant_centre: Vector
    roll_centre: Vector
    spin: Vector
    disc: Vector
    tube_end: Vector

    @staticmethod
    def of(corner: Corner, pose: Pose) -> Places:
        points = {name: in_the_body(corner, at, pose.inputs["roll"]) for name, at in corner.points.items()}
        outboard = 1.0 if corner.side == "left" else -1.0
        camber, toe = math.radians(pose.camber), math.radians(pose.toe)
        # Camber and toe say where the spin axis points: camber = asin(-s.z), toe = atan2(s.x, outboard s.y).
        spin = np.array(
            [math.cos(camber) * math.sin(toe), outboard * math.cos(camber) * math.cos(toe), -math.sin(camber)]
        )
        centre, contact = pose.point("wheel_centre"), pose.point("contact_centre")
        up = (centre - contact) / np.linalg.norm(centre - contact)
        turn = np.linspace(0.0, 2.0 * math.pi, 121)[:, None]
        disc = centre + corner.wheel_radius * (np.cos(turn) * up + np.sin(turn) * np.cross(up, spin))
        top, low = pose.point("strut_top"), pose.point("strut_low")
        tube_mm = _TUBE_SHARE * float(np.linalg.norm(points["strut_top"] - points["strut_low"]))
        length_mm = float(np.linalg.norm(top - low))
        return Places(
            front=points["arm_front"],
            rear=points["arm_rear"],
            ball_joint=pose.point("ball_joint"),
            top=top,
            low=low,
            inner=pose.point("tie_rod_inner"),
            outer=pose.point("tie_rod_outer"),
            wheel_centre=centre,
            contact=contact,
            axis_at_ground=pose.point("steering_axis_at_ground"),
            instant_centre=pose.point("instant_centre"),
            roll_centre=np.array([contact[0], 0.0, contact[2] + pose.roll_centre_height]),
            spin=spin,
            disc=disc,
            tube_end=low + min(tube_mm, length_mm) / length_mm * (top - low),
        )

    def extent(self) -> tuple[Vector, Vector]:
        """Least and greatest X, Y, Z of what is solid, and of the car's centre line."""
        solid = [self.front, self.rear, self.ball_joint, self.top, self.low, self.inner, self.outer, self.contact]
        if np.all(np.isfinite(self.axis_at_ground)) and np.linalg.norm(self.axis_at_ground - self.contact) < _NEAR_MM:
            solid.append(self.axis_at_ground)
        cloud = np.vstack([*solid, self.disc, self.disc + 40.0 * self.spin, [*self.contact[:1], 0.0, self.contact[2]]])
        return cloud.min(axis=0), cloud.max(axis=0)


def draw(axes: Axes, view: View, now: Places) -> None:
    """Everything that is made of metal or rubber, and the steering axis."""

    def line(name: str, points: Sequence[Vector], **style: Any) -> None:
        axes.plot(*view.flat(points), **{"linestyle": "-", "marker": "", "label": name, **style})

    def area(points: Sequence[Vector] | Vector, **style: Any) -> None:
        axes.fill(*view.flat(points), **style)

    area(now.disc, facecolor=DISC, alpha=0.16, linewidth=0.0, zorder=1.6)
    line("wheel", list(now.disc), color=DISC, linewidth=1.6, zorder=1.7)
    line(
        "axle",
        [now.wheel_centre - 30.0 * now.spin, now.wheel_centre + 55.0 * now.spin],
        color=DISC,
        linewidth=1.0,
        dashes=(8, 2, 2, 2),
        zorder=1.7,
    )
    for corners in (
        (now.ball_joint, now.low, now.wheel_centre),
        (now.ball_joint, now.low, now.outer),
        (now.ball_joint, now.wheel_centre, now.outer),
    ):
        area(corners, facecolor=_KNUCKLE[0], edgecolor=_KNUCKLE[1], linewidth=0.8, alpha=0.75, zorder=2.0)
    area([now.front, now.rear, now.ball_joint], facecolor=BLUE, alpha=0.18, linewidth=0.0, zorder=2.4)
    line(
        "lower_arm",
        [now.front, now.ball_joint, now.rear, now.front],
        color=BLUE,
        linewidth=2.2,
        solid_joinstyle="round",
        zorder=2.5,
    )
    # A tie rod that lies on the arm in this view lets it show through.
    broken = {"dashes": (3, 3)} if _covers(view, (now.inner, now.outer), (now.front, now.rear, now.ball_joint)) else {}
    line("tie_rod", [now.inner, now.outer], color=GREEN, linewidth=2.4, zorder=2.7, **broken)
    axis = now.top - now.ball_joint
    line(
        "strut_axis",
        [now.low, now.low - 0.45 * (now.tube_end - now.low)],
        color=INK,
        linewidth=0.9,
        dashes=(4, 2),
        zorder=3.0,
    )
    line("strut_rod", [now.low, now.top], color=INK, linewidth=2.2, zorder=3.0)
    line("strut_tube", [now.low, now.tube_end], color=_TUBE, linewidth=6.5, solid_capstyle="butt", zorder=3.1)
    if np.all(np.isfinite(now.axis_at_ground)):
        ends = [now.top + 0.05 * axis, now.axis_at_ground]
        line("steering_axis", ends, color=RED, linewidth=1.5, dashes=(7, 2, 1.5, 2), zorder=3.3)
    joints = {"markersize": 5.5, "markeredgewidth": 1.3, "linestyle": "none", "zorder": 3.6}
    for name, points, mark, colour, face in (
        ("arm_pivots", [now.front, now.rear], "o", BLUE, PAPER),
        ("tie_rod_joints", [now.inner, now.outer], "o", GREEN, PAPER),
        ("ball_joint", [now.ball_joint], "o", BLUE, BLUE),
        ("strut_top", [now.top], "o", INK, PAPER),
        ("wheel_centre", [now.wheel_centre], "+", INK, INK),
        ("contact_centre", [now.contact], "^", INK, INK),
        ("steering_axis_at_ground", [now.axis_at_ground], "D", RED, RED),
    ):
        line(name, points, **{**joints, "marker": mark, "color": colour, "markerfacecolor": face})


def _covers(view: View, rod: tuple[Vector, Vector], arm: tuple[Vector, Vector, Vector]) -> bool:
    """Whether a tie rod lies along a leg of the arm in this view."""
    start, end, front, rear, ball = (np.array(view.flat(point)) for point in (*rod, *arm))

    def off(at: Vector, foot: Vector) -> float:
        """Distance of a point from one leg."""
        leg = ball - foot
        share = float(np.clip((at - foot) @ leg / (leg @ leg), 0.0, 1.0)) if leg.any() else 0.0
        return float(np.linalg.norm(at - foot - share * leg))

    return any(off(start, foot) < _LIES_ON_MM and off(end, foot) < _LIES_ON_MM for foot in (front, rear))


def draw_design(axes: Axes, view: View, design: Places) -> None:
    """The design position, behind everything."""
    for points in (
        list(design.disc),
        [design.front, design.ball_joint, design.rear],
        [design.low, design.top],
        [design.inner, design.outer],
    ):
        axes.plot(*view.flat(points), color=GHOST, linewidth=1.0, linestyle="-", marker="", label="_design", zorder=1.2)


def legend(ghost: bool) -> tuple[Sequence[Any], Sequence[str], str | None, bool]:
    """What each colour and mark is."""
    entries: list[tuple[Any, str]] = [
        (Line2D([], [], color=BLUE, linewidth=2.2, linestyle="-", marker="o", markersize=5.5), "lower arm, ball joint"),
        (Line2D([], [], color=_TUBE, linewidth=5.0, **PLAIN), "strut (tube's length indicative)"),
        (Line2D([], [], color=RED, linewidth=1.5, marker="", dashes=(7, 2, 1.5, 2)), "steering axis"),
        (
            Line2D(
                [], [], color=GREEN, linewidth=2.4, linestyle="-", marker="o", markerfacecolor=PAPER, markersize=5.5
            ),
            "tie rod",
        ),
        (Line2D([], [], color=INK, linewidth=0.9, marker="", dashes=(4, 2)), "strut axis"),
        (Patch(facecolor=_KNUCKLE[0], edgecolor=_KNUCKLE[1]), "knuckle (schematic)"),
        (Patch(facecolor="#e3e5e8", edgecolor=DISC, linewidth=1.4), "wheel, loaded radius"),
        (Line2D([], [], color=INK, marker="+", markersize=6.5, linestyle="none"), "wheel centre"),
        (Line2D([], [], color=INK, marker="^", markersize=5.5, linestyle="none"), "contact centre"),
        (Line2D([], [], color=RED, marker="D", markersize=5.5, linestyle="none"), "steering axis at the ground"),
        (
            Line2D([], [], color=PURPLE, linewidth=1.2, dashes=(5, 3), **ROLL_CENTRE_RING),
            "to the instant centre; roll centre",
        ),
    ]
    if ghost:
        entries.append((Line2D([], [], color=GHOST, linewidth=1.2, **PLAIN), "design position"))
    handles, labels = zip(*entries, strict=True)
    return handles, labels, None, True
