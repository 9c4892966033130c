"""Steering of an axle: curves over the rack, and the largest lock with what limits it."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import xarray as xr
from scipy.optimize import brentq

from strutsweep._core import Axle, Corner, Pose, rack_sense
from strutsweep._inputs import TravelAt
from strutsweep._poses import FIELDS, readings_and_slopes
from strutsweep._within import MOST_MM, check_car, finite, row, within
from strutsweep.errors import InputError, ReachError
from strutsweep.sweeping import sweep

__all__ = ["Lock", "LockLimit", "largest_lock", "steering_curves"]

_FOUND: Final = 1e-9
"""A body counts as in its place when the next step would be shorter than this, in mm and in deg."""
_MOST_STEPS: Final = 12
_STEP_MM: Final = 1.0
_MOST_RACK_MM: Final = 400.0
_USUAL_STROKE_MM: Final = 60.0
_LEAST_MARGIN: Final = 0.1
"""Sine of the tie rod's angle to its arm that counts as lock where the car file gives none: six degrees."""

Vector = npt.NDArray[np.float64]


def steering_curves(
    car: Axle,
    *,
    rack: npt.ArrayLike | None = None,
    travel: float = 0.0,
    roll: float = 0.0,
    travel_at: TravelAt = "ground",
) -> xr.Dataset:
    """Everything that steering changes, over the rack.

    Parameters
    ----------
    car : Axle
    rack : array, optional
        Rack displacements in mm toward the left of the car; 81 from stop to stop unless given (``rack.stroke``, or 60
        mm to either side where the car file has none).
    travel, roll : float
        Travel of both wheels in mm, bump positive, and roll of the body in deg, to the right positive; held over the
        rack.
    travel_at : {"ground", "hub", "strut"}
        Where travel is measured, and so what the rest of the curves hold; jacking holds strut lengths in its place.

    Returns
    -------
    xarray.Dataset
        The sweep of the axle over ``rack``, and with it ``turns`` of the steering wheel (left positive), the
        ``steering_ratio`` (degrees of steering wheel a degree of mean road-wheel angle, by the exact slope of toe over
        the rack; both NaN without ``rack.mm_per_turn``), and jacking: ``body_rise`` (mm, up, at the car's centre
        line) and ``body_lean`` (deg, to the right positive), what lock does to the body against straight ahead while
        each strut keeps the length that it has straight ahead at this travel and roll, both wheels on one flat ground;
        NaN where a pose is out of reach.

    Raises
    ------
    InputError
        The rack is not a number or a row of numbers, a number is not finite, or no such place of travel is known.

    Notes
    -----
    Held struts mean held spring lengths, so that jacking leaves out what tyres and load transfer do. Rack zero counts
    as straight ahead.

    Examples
    --------
    >>> import strutsweep as ss
    >>> curves = ss.steering_curves(ss.demo("gravel_hatch"), rack=[-40.0, 0.0, 40.0])
    >>> [round(float(value), 1) for value in curves.steering_ratio]
    [16.5, 17.5, 16.5]
    """
    check_car("steering_curves", car)
    travel, roll = finite("travel", travel, "mm"), finite("roll", roll, "deg")
    racks = _racks(car) if rack is None else row("rack", rack)
    held: dict[str, Any] = {"travel": travel, "roll": roll, "travel_at": travel_at}
    curves = sweep(car, rack=racks, **held)
    # Steer is toe on the right wheel, and toe with its sign turned on the left one.
    left, right = (_toe_per_rack(corner, racks, travel, roll, travel_at) for corner in (car.left, car.right))
    slope = 0.5 * (right - left)
    per_turn = car.rack["mm_per_turn"]
    turned = racks * (rack_sense(car) / per_turn) if per_turn else np.full(racks.shape, np.nan)
    with np.errstate(divide="ignore"):
        ratio = 360.0 / (per_turn * rack_sense(car) * slope) if per_turn else np.full(racks.shape, np.nan)
    rise, lean = _jacking(car, racks, held)
    words = {
        "turns": (turned, "1", "turns of the steering wheel", "to the left"),
        "steering_ratio": (ratio, "1", "steering ratio", "steering wheel and road wheels turn one way"),
        "body_rise": (rise, "mm", "rise of the body as the wheels steer, strut lengths held", "up"),
        "body_lean": (lean, "deg", "lean of the body as the wheels steer, strut lengths held", "to the right"),
    }
    return curves.assign(
        {
            name: (("rack",), values, {"units": units, "long_name": long_name, "positive": positive})
            for name, (values, units, long_name, positive) in words.items()
        }
    )


def _toe_per_rack(corner: Corner, racks: Vector, travel: float, roll: float, travel_at: TravelAt) -> Vector:
    """Exact slope of toe over the rack, deg/mm; NaN where a pose is out of reach."""
    rows = np.zeros((racks.size, len(FIELDS)))
    for name, values in (("travel", travel), ("rack", racks), ("roll", roll)):
        rows[:, FIELDS.index(name)] = values
    slopes: Vector = readings_and_slopes(corner, rows, travel_at, ["toe"], ["rack"], reach=False).slopes[:, 0, 0]
    return slopes


def _jacking(car: Axle, racks: Vector, held: dict[str, Any]) -> tuple[Vector, Vector]:
    """Rise in mm and lean in deg that the body takes by steering, each strut as long as straight ahead.

    Two unknowns a rack, travel of both wheels at the ground and roll of the body, and two equations, the struts'
    lengths: Newton's method. A strut shortens by the motion ratio per mm of travel, and as the body turns about the
    ground's centre line the ground rises under a wheel by its half track per radian.
    """
    wanted = sweep(car, rack=0.0, readings="strut_compression", **held).strut_compression.values[:, None]
    # Straight ahead stands first: where travel is not measured at the ground, the body's place there is not known yet.
    rows = np.concatenate([[0.0], racks])
    travels, rolls = np.full(rows.shape, held["travel"]), np.full(rows.shape, held["roll"])
    for _ in range(_MOST_STEPS):
        at = sweep(
            car,
            rack=xr.DataArray(rows, dims="row"),
            travel=xr.DataArray(travels, dims="row"),
            roll=xr.DataArray(rolls, dims="row"),
            readings=["strut_compression", "motion_ratio", "half_track"],
        )
        missed = wanted - at.strut_compression.values
        per_travel, arm = at.motion_ratio.values, np.radians(at.half_track.values)
        # Left row: missed = ratio (travel - arm roll); right row: missed = ratio (travel + arm roll).
        left, right = missed / per_travel
        rolled = (right - left) / arm.sum(axis=0)
        step = left + arm[0] * rolled
        # A row that is out of reach stays where it is, and is none in the end.
        reached = np.isfinite(step)
        travels, rolls = np.where(reached, travels + step, travels), np.where(reached, rolls + rolled, rolls)
        found = np.fmax(abs(step), abs(rolled)) <= _FOUND
        if (found | ~reached).all():
            break
    rise, lean = np.where(found, travels[0] - travels, np.nan), np.where(found, rolls - rolls[0], np.nan)
    return (rise[1:], lean[1:]) if found[0] else (np.full(racks.shape, np.nan), np.full(racks.shape, np.nan))


def _racks(car: Axle) -> npt.NDArray[np.float64]:
    stroke = car.rack["stroke"] or _USUAL_STROKE_MM
    return np.linspace(-stroke, stroke, 81)


@dataclass(frozen=True)
class LockLimit:
    """One thing that can end the lock.

    Attributes
    ----------
    name : str
        ``"rack stroke"``, ``"over-centre margin"``, ``"tie-rod end angle"``, ``"tyre clearance"``, ``"linkage"``.
    rack : float
        Rack displacement at which it ends it, in mm toward the left of the car.
    where : str
        Side and part, in words.
    """

    name: str
    rack: float
    where: str


@dataclass(frozen=True)
class Lock:
    """The largest safe lock to one side.

    Attributes
    ----------
    turn : {"left", "right"}
    rack : float
        mm toward the left of the car.
    inner_steer, outer_steer : float
        Road-wheel angles in deg, counted into the turn.
    limited_by : LockLimit
        What comes first.
    limits : tuple of LockLimit
        All that were looked at, the nearest first.
    not_known : tuple of str
        What could not be looked at, as the car file lacks it.
    """

    turn: str
    rack: float
    inner_steer: float
    outer_steer: float
    limited_by: LockLimit
    limits: tuple[LockLimit, ...]
    not_known: tuple[str, ...]

    def __str__(self) -> str:
        return (
            f"{self.turn} lock: rack {self.rack:+.1f} mm, inner {self.inner_steer:.1f} deg,"
            f" outer {self.outer_steer:.1f} deg;"
            f" limited by {self.limited_by.name} ({self.limited_by.where})"
        )


def largest_lock(
    car: Axle, *, travel: float = 0.0, roll: float = 0.0, clearance: float = 0.0, margin: float | None = None
) -> tuple[Lock, Lock]:
    """The largest safe lock to the left and to the right, and what limits each.

    Looked at, as far as the car file knows them: the rack's stroke; the least tie-rod margin
    (``limits.tie_rod_margin``, 0.1 unless given); how far the tie-rod joints lean (``limits.tie_rod_end_angle``), the
    inner one in all directions from where it stands at design, the outer one out of the plane that its stud, square to
    rod and arm at design, leaves free; the tyre, a cylinder, against the points of ``[envelope]``; and the linkage's
    own end.

    The tyre cannot come nearer to the strut by steering: both turn with the knuckle. Travel is measured at the ground,
    so ride height is held; settings are zero.

    Parameters
    ----------
    car : Axle
    travel, roll : float
        Travel of both wheels in mm, bump positive, and roll of the body in deg, to the right positive.
    clearance : float
        Room that the tyre must keep, in mm.
    margin : float, optional
        In place of the car file's ``limits.tie_rod_margin``; 0 to 1.

    Returns
    -------
    tuple of two Lock
        Left, right.

    Raises
    ------
    ReachError
        The pose with the rack centred is out of reach.
    InputError
        A limit is passed with the rack centred; a clearance that is not 0 or more, a margin outside 0 to 1.

    Examples
    --------
    >>> import strutsweep as ss
    >>> left, right = ss.largest_lock(ss.demo("gravel_hatch"))
    >>> left.limited_by.name, round(left.rack, 1) == -round(right.rack, 1)
    ('tyre clearance', True)
    """
    check_car("largest_lock", car)
    travel, roll = finite("travel", travel, "mm"), finite("roll", roll, "deg")
    clearance = within("clearance", clearance, "mm", 0.0, MOST_MM)
    if margin is not None:
        margin = within("margin", margin, "as a sine", 0.0, 1.0)
    checks, unknown = _checks(car, clearance, margin)
    return (
        _lock(car, "left", travel, roll, checks, unknown),
        _lock(car, "right", travel, roll, checks, unknown),
    )


def least_margin(car: Axle) -> float:
    """The least sine of a tie rod's angle to its arm that counts as safe: the car file's, 0.1 where it has none."""
    given = car.limits["tie_rod_margin"]
    return _LEAST_MARGIN if given is None else given


_UNIT_OF_ROOM: Final = {"over-centre margin": "", "tie-rod end angle": " deg", "tyre clearance": " mm"}

Check = Callable[[Corner, Pose], float]
"""Room left before a limit is met; negative beyond."""


def _checks(car: Axle, clearance: float, margin: float | None) -> tuple[list[tuple[str, str, Check]], list[str]]:
    least = margin if margin is not None else least_margin(car)
    checks: list[tuple[str, str, Check]] = [
        ("over-centre margin", "tie rod against its arm", lambda corner, pose: pose.tie_rod_margin - least)
    ]
    unknown: list[str] = []
    end = car.limits["tie_rod_end_angle"]
    if end is None:
        unknown.append("limits.tie_rod_end_angle")
    else:
        checks.append(("tie-rod end angle", "inner joint", lambda corner, pose: end - inner_joint_angle(corner, pose)))
        checks.append(("tie-rod end angle", "outer joint", lambda corner, pose: end - outer_joint_angle(corner, pose)))
    envelope = car.envelope
    radius, width = envelope["tyre_radius"], envelope["tyre_width"]
    given = {
        "arch_front": envelope["arch_front"],
        "arch_rear": envelope["arch_rear"],
        "rail": envelope["rail"],
        "arch_top": envelope["arch_top"],
    }
    points = {name: np.array(point) for name, point in given.items() if point is not None}
    if radius is None or width is None or not points:
        unknown.append("envelope")
    else:
        for name, at in points.items():
            checks.append(("tyre clearance", name.replace("_", " "), _tyre_check(at, radius, width, clearance)))
    return checks, unknown


def _tyre_check(point: Vector, radius: float, width: float, clearance: float) -> Check:
    return lambda corner, pose: tyre_clearance(corner, pose, point, radius, width) - clearance


def _lock(
    car: Axle, turn: str, travel: float, roll: float, checks: list[tuple[str, str, Check]], unknown: list[str]
) -> Lock:
    way = rack_sense(car) * (1.0 if turn == "left" else -1.0)
    corners = {"left": car.left, "right": car.right}

    def pose(side: str, amount: float) -> Pose:
        return corners[side].solve(rack=way * amount, travel=travel, roll=roll)

    found: list[LockLimit] = []
    stroke = car.rack["stroke"]
    farthest = _MOST_RACK_MM
    if stroke is not None:
        found.append(LockLimit("rack stroke", way * stroke, "rack"))
    for side in corners:
        end = _linkage_end(functools.partial(pose, side))
        if end < _MOST_RACK_MM:
            found.append(LockLimit("linkage", way * end, f"{side} tie rod goes over-centre"))
        farthest = min(farthest, end)
    amounts = np.append(np.arange(0.0, farthest, _STEP_MM), farthest * (1.0 - 1e-9))
    for side, corner in corners.items():
        poses = [pose(side, float(amount)) for amount in amounts]
        for name, where, check in checks:
            room = np.array([check(corner, there) for there in poses])
            if room[0] < 0.0:
                unit = _UNIT_OF_ROOM[name]
                raise InputError(
                    f"{name} ({side} {where}) is passed already with the rack centred, by {-room[0]:.3g}{unit}",
                    name=name,
                    value=float(-room[0]),
                    limit=0.0,
                    unit=unit.strip() or "1",
                )
            beyond = np.flatnonzero(room < 0.0)
            if not beyond.size:
                continue
            first = int(beyond[0])
            left_over = functools.partial(_room, check, corner, functools.partial(pose, side))
            at = brentq(left_over, amounts[first - 1], amounts[first], xtol=1e-9)
            found.append(LockLimit(name, way * float(at), f"{side} {where}"))
    found.sort(key=lambda limit: abs(limit.rack))
    if not found:
        raise InputError("nothing limits the lock within 400 mm of rack: give rack.stroke", name="rack.stroke")
    nearest = found[0]
    steer = {side: pose(side, abs(nearest.rack) * (1.0 - 1e-12)).toe for side in corners}
    into = {"left": {"left": -1.0, "right": 1.0}, "right": {"left": 1.0, "right": -1.0}}[turn]
    angles = {side: into[side] * steer[side] for side in corners}
    outer = "right" if turn == "left" else "left"
    return Lock(turn, nearest.rack, angles[turn], angles[outer], nearest, tuple(found), tuple(unknown))


def _room(check: Check, corner: Corner, pose: Callable[[float], Pose], amount: float) -> float:
    return check(corner, pose(amount))


def _linkage_end(pose: Callable[[float], Pose]) -> float:
    """The rack at which the linkage itself ends, mm, to 1e-9 mm; the search's own end where it does not."""

    def reached(amount: float) -> bool:
        try:
            pose(amount)
        except ReachError:
            return False
        return True

    pose(0.0)
    low, high = 0.0, _STEP_MM
    while reached(high):
        low, high = high, high + 10.0 * _STEP_MM
        if high > _MOST_RACK_MM:
            return _MOST_RACK_MM
    while high - low > 1e-9:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if reached(middle) else (low, middle)
    return low


def _unit(vector: Vector) -> Vector:
    scaled: Vector = vector / np.linalg.norm(vector)
    return scaled


def _between_deg(a: Vector, b: Vector) -> float:
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(a, b)), np.dot(a, b))))


def inner_joint_angle(corner: Corner, pose: Pose) -> float:
    """How far the inner tie-rod joint leans from where it stands at design, in deg, in any direction."""
    design = corner.point("tie_rod_outer") - corner.point("tie_rod_inner")
    now = _to_body(pose.point("tie_rod_outer") - pose.point("tie_rod_inner"), pose)
    return _between_deg(design, now)


def outer_joint_angle(corner: Corner, pose: Pose) -> float:
    """How far the outer joint's stud leans out of square to the tie rod against design, in deg.

    The stud is taken to stand square to tie rod and steering arm at design; about itself it turns freely.
    """
    design = corner.solve()
    rod, arm = (
        design.point("tie_rod_inner") - design.point("tie_rod_outer"),
        design.point("tie_rod_outer") - design.point("ball_joint"),
    )
    stud = _frame(design).T @ _unit(np.cross(rod, arm))
    stud_now = _frame(pose) @ stud
    rod_now = _unit(pose.point("tie_rod_inner") - pose.point("tie_rod_outer"))
    return float(abs(np.degrees(np.arcsin(np.dot(stud_now, rod_now)))))


def _frame(pose: Pose) -> Vector:
    """Axes fixed in the knuckle, as columns, from three of its points."""
    origin = pose.point("ball_joint")
    x = _unit(pose.point("wheel_centre") - origin)
    z = _unit(np.cross(x, pose.point("tie_rod_outer") - origin))
    return np.column_stack([x, np.cross(z, x), z])


def _to_body(vector: Vector, pose: Pose) -> Vector:
    """A direction in the ground's axes as the body has it."""
    roll = np.radians(pose.inputs["roll"])
    sine, cosine = np.sin(roll), np.cos(roll)
    return np.array([vector[0], vector[1] * cosine + vector[2] * sine, vector[2] * cosine - vector[1] * sine])


def tyre_clearance(corner: Corner, pose: Pose, point: Vector, radius: float, width: float) -> float:
    """Distance in mm from a point of the body to the tyre, a cylinder about the wheel's axle; negative inside it.

    The point is the left corner's, at design; on the right its mirror image is taken.
    """
    outboard = 1.0 if corner.side == "left" else -1.0
    at = np.array([point[0], outboard * point[1], point[2]])
    roll = np.radians(pose.inputs["roll"])
    if roll != 0.0:
        ground = corner.solve().point("contact_centre")[2]
        up = at[2] - ground
        at = np.array(
            [at[0], at[1] * np.cos(roll) - up * np.sin(roll), ground + at[1] * np.sin(roll) + up * np.cos(roll)]
        )
    camber, toe = np.radians(pose.camber), np.radians(pose.toe)
    spin = np.array([np.cos(camber) * np.sin(toe), outboard * np.cos(camber) * np.cos(toe), -np.sin(camber)])
    apart = at - pose.point("wheel_centre")
    along = float(np.dot(apart, spin))
    out = float(np.linalg.norm(apart - along * spin)) - radius
    beside = abs(along) - 0.5 * width
    if out <= 0.0 and beside <= 0.0:
        return max(out, beside)
    return float(np.hypot(max(out, 0.0), max(beside, 0.0)))
