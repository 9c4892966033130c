"""What another strut top, a collar or a shorter strut body does to ride height, travels and spring preload."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

from strutsweep._core import Axle, settle
from strutsweep.errors import InputError

__all__ = ["Heights", "heights"]

AT_THE_WHEEL = (
    "camber",
    "caster",
    "kingpin_inclination",
    "toe",
    "scrub_radius",
    "mechanical_trail",
    "half_track",
    "camber_gain",
    "bump_steer",
)
"""Readings that are told of where the car then stands."""


@dataclass(frozen=True)
class Heights:
    """What changed heights at a strut do. Made by `heights`. None where the car file does not tell what is needed.

    Attributes
    ----------
    side : {"left", "right"}
        The corner.
    ride_height : float
        mm that the body stands higher at this wheel, the spring as long as before.
    strut_compression : float
        mm that the strut is shorter than at design, from a point fixed in the knuckle's clamp to the bearing's centre.
    bump_left, droop_left : float or None
        mm of wheel travel left to the bump stop and to full droop, from where the car then stands.
    collar_for_ride_height : float
        mm from its place at design that the collar must stand up (negative: down) to bring the wanted ride height.
    collar_turns : float or None
        The same in turns of the collar, up positive.
    collar_within_reach : bool or None
        Whether the collar's thread reaches there.
    preload_length : float or None
        mm that the spring is shorter than free at full droop; negative: the gap in which it lies loose.
    preload_force : float or None
        N on the spring at full droop; 0 where it is loose.
    body_turns : float or None
        The body's change in turns of its threaded foot, longer positive; None where its pitch is not known.
    body_within_reach : bool or None
        Whether that thread reaches there.
    at_the_wheel : dict of str to float
        What the gauges then show against design, tie rod untouched: the change of camber, toe, caster and the rest, in
        mm, deg and deg/mm.
    """

    side: Literal["left", "right"]
    ride_height: float
    strut_compression: float
    bump_left: float | None
    droop_left: float | None
    collar_for_ride_height: float
    collar_turns: float | None
    collar_within_reach: bool | None
    preload_length: float | None
    preload_force: float | None
    body_turns: float | None
    body_within_reach: bool | None
    at_the_wheel: dict[str, float] = field(repr=False)

    @property
    def captive(self) -> bool | None:
        """Whether the spring is held at full droop; None where that cannot be told."""
        return None if self.preload_length is None else self.preload_length > 0.0

    def __str__(self) -> str:
        collar = f"collar {self.collar_for_ride_height:+.1f} mm for the wanted ride height"
        if self.collar_turns is not None:
            way = "up" if self.collar_turns >= 0.0 else "down"
            collar += f" ({abs(self.collar_turns):.1f} turns {way})"
        words = [f"{self.side}: ride height {self.ride_height:+.1f} mm", collar]
        words += [
            f"{left:.1f} mm of {way} travel left" if left >= 0.0 else f"BEYOND the {way} stop by {-left:.1f} mm"
            for way, left in (("bump", self.bump_left), ("droop", self.droop_left))
            if left is not None
        ]
        if self.preload_length is not None:
            words.append(
                f"spring captive at full droop by {self.preload_length:.1f} mm"
                if self.captive
                else f"spring LOOSE at full droop by {-self.preload_length:.1f} mm"
            )
        return "; ".join(words)


def heights(
    car: Axle,
    side: Literal["left", "right"] = "left",
    *,
    bearing: float = 0.0,
    seat: float = 0.0,
    shoulder: float = 0.0,
    body: float = 0.0,
    collar: float = 0.0,
    ride_height: float = 0.0,
    **setting: float,
) -> Heights:
    """What changed heights at a strut do to ride height, travels and preload, the spring keeping its length.

    A top mount has three heights, and each moves something else: the bearing's centre the strut, the spring's seat the
    ride height, the shoulder of the damper rod the stops. All are told as they stand in the body, up positive. A top
    that puts 20 mm more between tower and strut lowers all three: ``bearing=seat=shoulder=-20``. One that carries the
    strut 20 mm higher in the tower raises them.

    Parameters
    ----------
    car : Axle
        The car. Its file's ``[limits]`` tell the stops, ``[spring]`` the collar's thread and the preload.
    side : {"left", "right"}
        Which corner.
    bearing, seat, shoulder : float
        mm that each stands higher in the body: the bearing's centre straight up, what seat and shoulder differ by from
        it along the strut.
    body : float
        mm that the strut's body is longer at its threaded foot; shorter is negative.
    collar : float
        mm that the collar stands higher on the body.
    ride_height : float
        The ride height that the collar shall bring, mm above design.
    **setting : float
        Fields of a setting besides, mm and deg, as `Corner.solve` takes them. ``mount_up`` carries the whole top up,
        seat and shoulder along with the bearing, on top of what the three heights say.

    Returns
    -------
    Heights
        Held is the spring's length, and so its force: what changes in the force that carries the car, as the motion
        ratio changes a little, is left out. Rubber is left out too.

    Raises
    ------
    ReachError
        The car does not stand there, or a stop lies where the linkage cannot go.
    InputError
        No such side or setting, or a number that cannot be worked with.

    Examples
    --------
    A collar screwed up 10 mm, and a top that is 20 mm taller between tower and strut:

    >>> import strutsweep as ss
    >>> car = ss.demo("gravel_hatch")
    >>> print(ss.heights(car, collar=10.0).ride_height > 10.0)
    True
    >>> taller = ss.heights(car, bearing=-20.0, seat=-20.0, shoulder=-20.0)
    >>> f"{taller.ride_height:.1f} mm, collar {taller.collar_for_ride_height:.1f} mm"
    '20.4 mm, collar -19.2 mm'
    >>> f"camber {taller.at_the_wheel['camber']:+.2f} deg, toe {taller.at_the_wheel['toe']:+.2f} deg"
    'camber +0.11 deg, toe +0.09 deg'
    """
    change = {"bearing": bearing, "seat": seat, "shoulder": shoulder, "body": body, "collar": collar}
    for name, value in {**change, "ride_height": ride_height}.items():
        if not abs(value) <= 500.0:
            raise InputError(
                f"{name} = {value:g} mm is more than 500 mm from zero, or no number",
                name=name,
                value=value,
                limit=500.0,
            )
    figures: dict[str, Any] = settle(car, side, setting, (bearing, seat, shoulder, body, collar), ride_height)
    wanted = figures["collar_for_ride_height"]
    spring = car.spring
    pitch, up, down = spring["collar_thread_pitch"], spring["collar_up"], spring["collar_down"]
    known = up is not None and down is not None
    damper = car.damper
    shorter, longer, body_pitch = damper["body_shorter"], damper["body_longer"], damper["body_thread_pitch"]
    corner = car.left if side == "left" else car.right
    before = corner.solve().readings
    raised: dict[str, Any] = {**setting, "mount_up": setting.get("mount_up", 0.0) + bearing}
    after = corner.solve(**raised, travel=figures["strut_compression"], travel_at="strut").readings
    return Heights(
        side=side,
        body_turns=None if body_pitch is None else body / body_pitch,
        body_within_reach=(-shorter <= body <= longer) if shorter is not None and longer is not None else None,
        at_the_wheel={name: after[name] - before[name] for name in AT_THE_WHEEL},
        collar_turns=None if pitch is None else wanted / pitch,
        collar_within_reach=(-down <= wanted <= up) if known and up is not None and down is not None else None,
        **figures,
    )
