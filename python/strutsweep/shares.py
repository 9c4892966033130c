"""Camber of a wheel in a corner, taken apart: what static setting, caster, kingpin inclination, bump and roll give."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final, Literal

from strutsweep._core import Axle
from strutsweep._within import check_car, check_inputs, finite
from strutsweep.errors import InputError
from strutsweep.gauges import _about_axis, _axis, _spin
from strutsweep.sweeping import sweep
from strutsweep.words import SETTINGS

__all__ = ["CamberShares", "camber_shares"]

_STRAIGHT_DEG: Final = 1e-9
"""A mean road-wheel angle below this is none: poses are met to 1e-9 mm."""
_PARTS: Final = ("static", "bump", "roll", "caster", "kingpin_inclination", "remainder")


@dataclass(frozen=True)
class CamberShares:
    """Camber to the ground of one wheel, in deg, as a sum of parts.

    Attributes
    ----------
    side : {"left", "right"}
    is_outer : bool or None
        Whether the wheel is on the outside of the turn; of a straight run, on the side to which the body leans. None
        where the car neither turns nor leans.
    camber : float
        Camber to the ground: the sum of the parts, exactly.
    static : float
        Camber at design height, straight ahead, with the settings.
    bump : float
        What the wheel's travel against the body changes in its camber to the body, straight ahead.
    roll : float
        What the body's lean takes along: camber to the ground less camber to the body, straight ahead.
    caster, kingpin_inclination : float
        What turning about the steering axis changes, by the rotation's odd and even part: sine and one minus cosine of
        the turn. Static toe counts in both: a wheel with toe is not square to the side view in which caster is seen.
    remainder : float
        The rest: steering moves the axis itself and the wheel's height against the body, and angles do not quite add
        up.
    """

    side: str
    is_outer: bool | None
    camber: float
    static: float
    bump: float
    roll: float
    caster: float
    kingpin_inclination: float
    remainder: float

    @property
    def parts(self) -> dict[str, float]:
        """The parts by name, in the order of the documentation; their sum is the camber."""
        return {name: getattr(self, name) for name in _PARTS}

    def __str__(self) -> str:
        parts = ", ".join(f"{name.replace('_', ' ')} {value:+.2f}" for name, value in self.parts.items())
        place = "" if self.is_outer is None else " (outer)" if self.is_outer else " (inner)"
        return f"{self.side}{place} wheel: camber {self.camber:+.2f} deg = {parts}"


def camber_shares(
    car: Axle,
    *,
    roll: float,
    rack: float | None = None,
    steer: float | None = None,
    travel: float = 0.0,
    wheel: Literal["outer", "inner", "left", "right"] = "outer",
    **settings: float,
) -> CamberShares:
    """Camber at a roll and a steer angle taken apart.

    Parameters
    ----------
    car : Axle
    roll : float
        Roll of the body in deg, positive when it leans to the right.
    rack, steer : float, optional
        One of the two: rack displacement in mm, toward the left of the car positive, or mean road-wheel angle in deg,
        to the left positive. None steers straight ahead.
    travel : float
        Travel of both wheels in mm, ride height against design.
    wheel : {"outer", "inner", "left", "right"}
        Which wheel: outer and inner go by the steer angle, or by the lean where the car runs straight. Where it neither
        turns nor leans, outer is the left one.
    **settings : float
        Settings, one number each, the same on both wheels.

    Returns
    -------
    CamberShares

    Raises
    ------
    ReachError
        The pose is out of reach.
    InputError
        Rack and steer are both given, the steer angle is not to be had, a number is not finite, or a word is not
        known: ``travel_at`` is none here, as ride height is held.

    Notes
    -----
    Travel is measured at the ground: ride height is held, and each wheel stays on the level ground as the body rolls.
    In this order: the wheel is taken up by the travel that ride height and roll make, the body leans with it, and then
    it is steered, from its static toe on. With caster t, kingpin inclination s (both in the rolled pose, to the
    ground), camber g0 before it is steered, N = sqrt(1 + tan^2 t + tan^2 s) and the turn d about the axis, rotation
    about an inclined axis gives sin g = cos d sin g0 + sin d cos g0 tan t / N + (1 - cos d)(tan s cos g0 + sin g0) /
    N^2 (Dixon, Suspension Geometry and Computation, 2009, chapter 5, recalled): its second term is caster's share, the
    rest of the change the kingpin's. That is for no static toe; with toe z, tan t becomes tan t cos z - tan s sin z,
    and tan s becomes tan t sin z + tan s cos z.

    Examples
    --------
    >>> import strutsweep as ss
    >>> shares = ss.camber_shares(ss.demo("gravel_hatch"), roll=2.0, steer=5.0)
    >>> shares.side, shares.camber == sum(shares.parts.values())
    ('right', True)
    """
    check_car("camber_shares", car)
    if wheel not in ("outer", "inner", "left", "right"):
        raise InputError(f"wheel: there is no {wheel!r}; known: outer, inner, left, right", name="wheel", value=wheel)
    if rack is not None and steer is not None:
        raise InputError("rack and steer are given: steer by one of them", name="steer", value=steer)
    check_inputs(settings, SETTINGS)
    roll, travel = finite("roll", roll, "deg"), finite("travel", travel, "mm")
    rack = None if rack is None else finite("rack", rack, "mm")
    steer = None if steer is None else finite("steer", steer, "deg")
    set_so: dict[str, Any] = dict(settings)
    wanted: dict[str, Any] = {"travel": travel, "roll": roll, **set_so}
    if steer is not None:
        found = sweep(car, steer=steer, readings="mean_steer", **wanted)
        if int(found.status.max()) != 0:
            raise InputError(f"steer = {steer} deg is not to be had uniquely", name="steer", value=steer)
        rack = float(found.rack)
    rack = rack or 0.0
    straight, steered = (sweep(car, rack=r, **wanted) for r in (0.0, rack))
    turned = float(steered.mean_steer) - float(straight.mean_steer)
    way = turned if abs(turned) > _STRAIGHT_DEG else roll
    outside = "right" if way > 0.0 else "left"
    other = {"left": "right", "right": "left"}
    side = {"outer": outside, "inner": other[outside]}.get(wheel, wheel)
    corner = car.left if side == "left" else car.right
    static = corner.solve(**set_so).camber if any(set_so.values()) else corner.camber
    ahead, now = corner.solve(**wanted), corner.solve(**wanted, rack=rack)
    to_body = float(straight.camber_to_body.sel(side=side))
    caster, kingpin = _steered_shares(
        ahead.caster, ahead.kingpin_inclination, ahead.camber, ahead.toe - now.toe, ahead.toe
    )
    known = {"static": static, "bump": to_body - static, "roll": ahead.camber - to_body, "caster": caster}
    so_far = sum(known.values()) + kingpin
    remainder = now.camber - so_far
    shares = CamberShares(
        side=side,
        is_outer=side == outside if way else None,
        camber=sum((*known.values(), kingpin, remainder)),
        **known,
        kingpin_inclination=kingpin,
        remainder=remainder,
    )
    return shares


def _steered_shares(
    caster: float, kingpin: float, camber: float, outward: float, toe: float = 0.0
) -> tuple[float, float]:
    """What turning a left wheel outboard from its toe, by a heading in deg, does to camber: by caster, by kingpin."""
    tan_t, tan_s = math.tan(math.radians(caster)), math.tan(math.radians(kingpin))
    g0, tau = math.radians(camber), math.radians(toe)
    size = math.sqrt(1.0 + tan_t**2 + tan_s**2)
    d = _about_axis(_axis(caster, kingpin), _spin(camber, toe), outward - toe)
    # Caster and kingpin inclination as the wheel's own plane has them.
    in_plane = tan_t * math.cos(tau) - tan_s * math.sin(tau)
    across = tan_t * math.sin(tau) + tan_s * math.cos(tau)
    by_caster = math.sin(d) * math.cos(g0) * in_plane / size
    whole = (
        math.cos(d) * math.sin(g0) + by_caster + (1.0 - math.cos(d)) * (across * math.cos(g0) + math.sin(g0)) / size**2
    )
    without = whole - by_caster
    by_kingpin = math.degrees(math.asin(without)) - camber
    return math.degrees(math.asin(whole)) - math.degrees(math.asin(without)), by_kingpin
