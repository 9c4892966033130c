"""Springs: force, wheel rate, ride height, ride frequency, and the side force on the damper rod."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
import numpy.typing as npt
import xarray as xr
from scipy.optimize import brentq

from strutsweep._core import Axle, Corner, strut_load
from strutsweep._inputs import TravelAt
from strutsweep._within import MOST_MM, check_car, check_inputs, corner_of, finite, row, within
from strutsweep.errors import InputError, ReachError

__all__ = ["GRAVITY", "SideForce", "ride_height", "side_force", "spring_curves"]

GRAVITY: Final = 9.80665
"""Standard gravity, m/s2."""
_USUAL_TRAVEL_MM: Final = 60.0
"""Droop and bump of curves where the car file has no limits."""
_MOST_TRAVEL_MM: Final = 150.0
"""A ride height is looked for within this travel of design, either way."""

Side = Literal["left", "right"]
Vector = npt.NDArray[np.float64]


@dataclass(frozen=True)
class _Known:
    """What the car file must know of the spring."""

    rate: float
    free_length: float
    upper: list[float]
    lower: list[float]
    length: float


def _known(car: Axle) -> _Known:
    spring = car.spring
    rate, free, upper, lower = spring["rate"], spring["free_length"], spring["upper_seat"], spring["lower_seat"]
    if rate is None or free is None or upper is None or lower is None:
        given = {"rate": rate, "free_length": free, "upper_seat": upper, "lower_seat": lower}
        field = next(f"spring.{key}" for key, value in given.items() if value is None)
        raise InputError(f"the car file lacks {field}", name=field, value=None)
    axis = car.left.point("strut_top") - car.left.point("strut_low")
    axis /= np.linalg.norm(axis)
    return _Known(rate, free, upper, lower, float(np.dot(np.subtract(upper, lower), axis)))


def spring_curves(
    car: Axle,
    *,
    travel: npt.ArrayLike | None = None,
    travel_at: TravelAt = "ground",
    preload: float = 0.0,
    **inputs: Any,
) -> xr.Dataset:
    """Spring force, wheel load and wheel rate over travel, of both wheels.

    Parameters
    ----------
    car : Axle
        With ``spring.rate``, ``free_length`` and the two seats.
    travel : array, optional
        Wheel travel in mm; 81 from full droop to full bump unless given.
    travel_at : {"ground", "hub", "strut"}
        Where travel is measured.
    preload : float
        Lower seat screwed up from where it stands at design, in mm.
    **inputs : float
        Settings, rack and roll, the same for both wheels.

    Returns
    -------
    xarray.Dataset
        Over ``side`` and ``travel``: ``spring_force`` (N), ``motion_ratio``, ``wheel_load`` (N, the ground's force that
        the spring carries, unsprung weight left out), ``wheel_rate`` (N/mm) and its two parts ``rate_by_spring`` =
        rate x motion ratio squared and ``rate_by_geometry`` = force x change of the motion ratio, ``ride_frequency``
        (Hz, of the wheel's share of the body on its spring alone; NaN without a load) and ``status``. A spring that
        would be longer than free carries nothing: force zero.

    Notes
    -----
    By virtual work wheel_load = spring_force x motion_ratio, both against the rise of the contact centre; its exact
    derivative is the wheel rate. The spring shortens as the strut does.

    Raises
    ------
    InputError
        The car file lacks something of the spring, an input is not known, or a number is not finite.

    Examples
    --------
    >>> import strutsweep as ss
    >>> curves = ss.spring_curves(ss.demo("gravel_hatch"), travel=[-20.0, 0.0, 20.0])
    >>> [round(float(rate), 1) for rate in curves.wheel_rate.sel(side="left")]
    [28.0, 29.3, 30.8]
    """
    check_car("spring_curves", car)
    check_inputs(inputs)
    preload = within("preload", preload, "mm", -MOST_MM, MOST_MM)
    known = _known(car)
    if travel is None:
        low, high = (_USUAL_TRAVEL_MM if end is None else end for end in (car.limits["droop"], car.limits["bump"]))
        travel = np.linspace(-low, high, 81)
    travels = row("travel", travel)
    names = ("spring_force", "motion_ratio", "wheel_load", "wheel_rate", "rate_by_spring", "rate_by_geometry")
    values = {name: np.full((2, travels.size), np.nan) for name in (*names, "ride_frequency")}
    status = np.zeros((2, travels.size), dtype=np.int8)
    sprung = _sprung_mass(car)
    for i, side in enumerate(("left", "right")):
        for j, amount in enumerate(travels):
            try:
                held = strut_load(
                    corner_of(car, side),
                    {**inputs, "travel": float(amount)},
                    travel_at,
                    [0.0, 0.0, 1.0],
                    known.upper,
                    known.lower,
                )
            except ReachError as error:
                status[i, j] = error.status
                continue
            squeezed = known.free_length - known.length + held["strut_compression"] + preload
            force = known.rate * max(squeezed, 0.0)
            ratio = held["motion_ratio"]
            by_spring = known.rate * ratio**2 if squeezed > 0.0 else 0.0
            by_geometry = force * held["motion_ratio_change"]
            rate = by_spring + by_geometry
            figures = (force, ratio, force * ratio, rate, by_spring, by_geometry)
            for name, figure in zip(names, figures, strict=True):
                values[name][i, j] = figure
            if sprung is not None and rate > 0.0:
                values["ride_frequency"][i, j] = math.sqrt(1000.0 * rate / sprung) / (2.0 * math.pi)
    words = {
        "spring_force": ("N", "spring force", "compressed"),
        "motion_ratio": ("1", "motion ratio", "the strut shortens as the wheel rises"),
        "wheel_load": ("N", "wheel load that the spring carries", "ground pushes the wheel up"),
        "wheel_rate": ("N/mm", "wheel rate", "load grows as the wheel rises"),
        "rate_by_spring": ("N/mm", "wheel rate by the spring", "load grows as the wheel rises"),
        "rate_by_geometry": ("N/mm", "wheel rate by the change of motion ratio", "load grows as the wheel rises"),
        "ride_frequency": ("Hz", "ride frequency on the spring alone", "never negative"),
    }
    variables: dict[str, Any] = {
        name: (("side", "travel"), values[name], {"units": units, "long_name": long_name, "positive": positive})
        for name, (units, long_name, positive) in words.items()
    }
    variables["status"] = (("side", "travel"), status, {"units": "1", "long_name": "status of the pose"})
    return xr.Dataset(
        variables,
        {"side": ["left", "right"], "travel": travels},
        attrs={"car": car.name, "title": f"{car.name}, spring", "travel_at": travel_at, "side": "left and right"},
    )


def _sprung_mass(car: Axle) -> float | None:
    """A wheel's share of the body, kg; None where the car file does not tell."""
    load, unsprung = car.dimensions["wheel_load"], car.dimensions["unsprung_mass"]
    if load is None or unsprung is None:
        return None
    if load <= unsprung * GRAVITY:
        weight = unsprung * GRAVITY
        message = f"axle.wheel_load = {load:g} N is not above the weight of axle.unsprung_mass, {weight:.0f} N"
        raise InputError(message, name="axle.wheel_load", value=load, limit=weight, unit="N")
    return load / GRAVITY - unsprung


def ride_height(car: Axle, load: float, *, side: Side = "left", preload: float = 0.0, **inputs: Any) -> float:
    """The travel at which a wheel's spring carries a load.

    Parameters
    ----------
    car : Axle
        With the spring and ``axle.unsprung_mass``.
    load : float
        Force of the ground on the wheel, in N, as a corner scale shows it (kg x 9.80665).
    side : {"left", "right"}
    preload : float
        Lower seat screwed up from where it stands at design, in mm.
    **inputs : float
        Settings, rack and roll.

    Returns
    -------
    float
        Travel from design height in mm: positive where the body sits lower than drawn.

    Raises
    ------
    InputError
        The car file lacks something of the spring, a number is not finite, the load is not above the unsprung weight,
        or no travel within 150 mm carries it.

    Examples
    --------
    >>> import strutsweep as ss
    >>> car = ss.demo("gravel_hatch")
    >>> round(ss.ride_height(car, car.dimensions["wheel_load"]), 1)
    0.0
    """
    check_car("ride_height", car)
    corner_of(car, side)
    check_inputs(inputs)
    load, preload = finite("load", load, "N"), within("preload", preload, "mm", -MOST_MM, MOST_MM)
    mass = car.dimensions["unsprung_mass"]
    if mass is None:
        raise InputError("the car file lacks axle.unsprung_mass", name="axle.unsprung_mass", value=None)
    wanted = load - mass * GRAVITY
    if wanted <= 0.0:
        raise InputError(
            f"load = {load:g} N is not above the unsprung weight, {mass * GRAVITY:.0f} N",
            name="load",
            value=load,
            limit=mass * GRAVITY,
            unit="N",
        )
    curve = spring_curves(
        car, travel=np.linspace(-_MOST_TRAVEL_MM, _MOST_TRAVEL_MM, 61), preload=preload, **inputs
    ).sel(side=side)
    missed = curve.wheel_load.values - wanted
    travels = curve.travel.values
    crossing = np.flatnonzero((missed[:-1] < 0.0) & (missed[1:] >= 0.0))
    if not crossing.size:
        screwed = f" with a preload of {preload:+g} mm" if preload else ""
        message = f"load = {load:g} N: no travel within {_MOST_TRAVEL_MM:g} mm of design carries it{screwed}"
        raise InputError(message, name="load", value=load, limit=_MOST_TRAVEL_MM, unit="mm")
    first = int(crossing[0])

    def miss(amount: float) -> float:
        one = spring_curves(car, travel=[amount], preload=preload, **inputs).sel(side=side)
        return float(one.wheel_load[0]) - wanted

    return float(brentq(miss, travels[first], travels[first + 1], xtol=1e-9))


@dataclass(frozen=True)
class SideForce:
    """The damper rod's side force under a wheel load, from the free body of wheel, knuckle and strut.

    Attributes
    ----------
    load : float
        Force of the ground that the strut carries, N.
    spring : float
        Force of the spring along the strut, N, compressed positive.
    force : float
        Size of the body's force on the rod at the top pivot, square to the strut, N.
    across, along : float
        Its parts in front view (inboard positive) and in side view (rearward positive), N: Y and X of the force.
    in_front_view : float
        The side force of the textbook's plane figure, N, inboard positive: wheel load, arm and strut in front view.
    tie_rod : float
        Tension of the tie rod, N.
    cure_in, cure_back : float
        How far the spring's lower end would have to stand from where it is, toward the centre line and rearward, in mm,
        for no side force at this load; its upper end stays.
    """

    load: float
    spring: float
    force: float
    across: float
    along: float
    in_front_view: float
    tie_rod: float
    cure_in: float
    cure_back: float

    def __str__(self) -> str:
        across = "inboard" if self.across >= 0.0 else "outboard"
        along = "rearward" if self.along >= 0.0 else "forward"
        in_front_view = "inboard" if self.in_front_view >= 0.0 else "outboard"
        return (
            f"{self.load:.0f} N at the ground: spring {self.spring:.0f} N, side force on the rod {self.force:.0f} N"
            f" ({abs(self.across):.0f} {across}, {abs(self.along):.0f} {along};"
            f" plane figure {abs(self.in_front_view):.0f} {in_front_view});"
            f" none with the spring's lower end {abs(self.cure_in):.1f} mm farther"
            f" {'inboard' if self.cure_in > 0.0 else 'outboard'} and {abs(self.cure_back):.1f} mm farther"
            f" {'rearward' if self.cure_back > 0.0 else 'forward'}"
        )


def side_force(
    car: Axle, *, side: Side = "left", load: float | None = None, travel_at: TravelAt = "ground", **inputs: float
) -> SideForce:
    """The side force on the damper rod under a wheel load, and the spring offset that cancels it.

    Parameters
    ----------
    car : Axle
        With the spring's seats; on the strut axis where the car file has none.
    side : {"left", "right"}
    load : float, optional
        Vertical force of the ground that the strut carries, in N; ``axle.wheel_load`` less the unsprung weight unless
        given.
    travel_at : {"ground", "hub", "strut"}
    **inputs : float
        Settings and motion.

    Returns
    -------
    SideForce

    Raises
    ------
    InputError
        No load is given, and the car file has none; an input is not known, or a number is not finite.

    Examples
    --------
    >>> import strutsweep as ss
    >>> found = ss.side_force(ss.demo("gravel_hatch"), load=2800.0)
    >>> found.force > 300.0 and found.cure_in < 0.0
    True
    """
    check_car("side_force", car)
    corner = corner_of(car, side)
    check_inputs(inputs)
    load = None if load is None else finite("load", load, "N")
    if load is None:
        sprung = _sprung_mass(car)
        if sprung is None:
            raise InputError("load: give one, or axle.wheel_load and axle.unsprung_mass in the car file", name="load")
        load = sprung * GRAVITY
    seats: list[Any] = [car.spring["upper_seat"], car.spring["lower_seat"]]
    if None in seats:
        seats = [None, None]
    held = strut_load(corner, dict(inputs), travel_at, [0.0, 0.0, load], *seats)
    inward = -1.0 if side == "left" else 1.0
    pose = corner.solve(**inputs, travel_at=travel_at)
    force = held["side_force"]
    return SideForce(
        load=load,
        spring=held["spring"],
        force=float(np.linalg.norm(force)),
        across=float(inward * force[1]),
        along=float(-force[0]),
        in_front_view=_plane_side_force(pose, corner, load),
        tie_rod=held["tie_rod"],
        cure_in=float(inward * held["cure"][1]),
        cure_back=float(-held["cure"][0]),
    )


def _plane_side_force(pose: Any, corner: Corner, load: float) -> float:
    """Statics of the plane figure: the load's line meets the arm's, and the force at the top runs through that point.

    Reimpell, Stoll, Betzler, The Automotive Chassis (recalled): the top's force, taken apart along the strut and square
    to it, has the side force in the second part. Inboard positive.
    """
    outward = 1.0 if corner.side == "left" else -1.0
    flat = {
        name: np.array([outward * pose.point(name)[1], pose.point(name)[2]])
        for name in ("ball_joint", "strut_top", "strut_low", "contact_centre")
    }
    # The arm's plane through its axis and the ball joint, cut by the front view's plane through the ball joint.
    front, rear, ball = corner.point("arm_front"), corner.point("arm_rear"), pose.point("ball_joint")
    normal = np.cross(front - rear, ball - rear)
    slope = -normal[1] / normal[2] * outward
    contact, top = flat["contact_centre"], flat["strut_top"]
    meet = np.array([contact[0], flat["ball_joint"][1] + slope * (contact[0] - flat["ball_joint"][0])])
    to_meet = (meet - top) / np.linalg.norm(meet - top)
    arm = np.array([1.0, slope]) / math.hypot(1.0, slope)
    # load (0, F) + top * to_meet + arm * a = 0
    shares = np.linalg.solve(np.column_stack([to_meet, arm]), np.array([0.0, -load]))
    at_top = shares[0] * to_meet
    axis = (top - flat["strut_low"]) / np.linalg.norm(top - flat["strut_low"])
    square = at_top - np.dot(at_top, axis) * axis
    return float(-square[0])
