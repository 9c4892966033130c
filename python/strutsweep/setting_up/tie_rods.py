"""Turns of tie rods, told so that nobody has to think of hands; and where the steering wheel then stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from scipy.optimize import brentq

from strutsweep._core import Axle, tie_rod_turns
from strutsweep.errors import InputError, ReachError
from strutsweep.setting_up._kinds import SIDES, Side
from strutsweep.setting_up._poses import pose_of

__all__ = ["SteeringWheel", "TieRodTurns", "steering_wheel", "turn_tie_rod"]

SEEN: Final = "seen from the rod's outer end: standing at the wheel, looking inboard along the rod"

_MOST_RACK_MM: Final = 40.0
"""A steering wheel that stands farther off than this by the rack is another trouble than toe."""


@dataclass(frozen=True)
class TieRodTurns:
    """How to bring one tie rod to its length. Made by `turn_tie_rod`.

    Attributes
    ----------
    side : {"left", "right"}
        Which rod.
    longer : float
        mm that it becomes longer; shorter is negative.
    turns : float or None
        Turns of its middle, clockwise positive as seen from the outer end, looking inboard along the rod; None where
        the car file does not tell the threads.
    engaged : tuple
        mm of thread screwed in at the inner and the outer end afterwards; None where unknown.
    least_engaged : float or None
        mm that must stay screwed in at either end.
    """

    side: Side
    longer: float
    turns: float | None
    engaged: tuple[float | None, float | None]
    least_engaged: float | None

    @property
    def margin(self) -> float | None:
        """mm of thread to spare at the end that has least; None where it is not known."""
        known = [length for length in self.engaged if length is not None]
        return None if self.least_engaged is None or not known else min(known) - self.least_engaged

    def __str__(self) -> str:
        return self.in_short() + (f", {SEEN}" if self.turns is not None and abs(self.longer) >= 0.005 else "")

    def in_short(self) -> str:
        """The same without saying from where turns are seen: from the outer end, looking inboard along the rod."""
        amount = f"{abs(self.longer):.2f} mm {'longer' if self.longer >= 0.0 else 'shorter'}"
        if abs(self.longer) < 0.005:
            return f"{self.side} tie rod: leave it as it is"
        if self.turns is None:
            return f"{self.side} tie rod {amount} (the car file does not tell its threads)"
        way = "clockwise" if self.turns > 0.0 else "anticlockwise"
        return f"{self.side} tie rod {amount}: {abs(self.turns):.2f} turns ({abs(self.turns) * 360.0:.0f}°) {way}"


def turn_tie_rod(car: Axle, side: Side, longer: float, *, standing: float = 0.0) -> TieRodTurns:
    """How to make one tie rod longer or shorter, with the threads of its two ends.

    Parameters
    ----------
    car : Axle
        The car; ``[tie_rod]`` of its file tells pitch and hand of each end. The right rod has the left one's threads,
        hands included, unless ``[right.tie_rod]`` tells others.
    side : {"left", "right"}
        Which rod.
    longer : float
        mm; shorter is negative.
    standing : float
        How much longer than in the car file the rod is already, mm: its threads are screwed in the less.

    Returns
    -------
    TieRodTurns
        Told as seen from the outer end: from the wheel, looking inboard along the rod. A rod screwed into its outer
        joint by a right-hand thread grows clockwise, on either side of the car.

    Raises
    ------
    InputError
        No such side, or no finite length.

    Examples
    --------
    >>> import strutsweep as ss
    >>> ss.turn_tie_rod(ss.demo("gravel_hatch"), "left", 3.0, standing=5.0).engaged
    (None, 16.0)
    >>> ss.turn_tie_rod(ss.demo("gravel_hatch"), "left", 1.5).turns
    1.0
    >>> ss.turn_tie_rod(ss.demo("hillclimb_saloon"), "right", -1.5).turns
    -0.5
    """
    for name, value in (("longer", longer), ("standing", standing)):
        if not abs(value) <= 500.0:
            raise InputError(
                f"{name} = {value:g} mm is more than 500 mm from zero, or no number",
                name=name,
                value=value,
                limit=500.0,
            )
    turns, _, _ = tie_rod_turns(car, side, longer)
    _, inner, outer = tie_rod_turns(car, side, standing + longer)
    return TieRodTurns(
        side=side,
        longer=longer,
        turns=turns,
        engaged=(inner, outer),
        least_engaged=car.tie_rods[side]["least_thread_engaged"],
    )


@dataclass(frozen=True)
class SteeringWheel:
    """Where the steering wheel stands as the car runs straight. Made by `steering_wheel`.

    Attributes
    ----------
    rack : float
        mm toward the left of the car at which both wheels toe alike, and the car runs straight.
    toe : float
        deg of each wheel there.
    steer : float
        deg that the two wheels point left, on average, with the steering wheel straight.
    angle : float or None
        deg that the steering wheel stands turned to the left as the car runs straight; right is negative. None where
        the car file does not tell ``rack.mm_per_turn``.
    """

    rack: float
    toe: float
    steer: float
    angle: float | None

    @property
    def straight(self) -> bool:
        """Whether it stands straight, to a quarter of a millimetre of rack."""
        return abs(self.rack) < 0.25

    def __str__(self) -> str:
        if self.straight:
            return "the steering wheel stands straight as the car runs straight"
        way = "right" if self.steer > 0.0 else "left"
        by = f"{abs(self.rack):.1f} mm of rack"
        if self.angle is not None:
            by += f", {abs(self.angle):.0f}°"
        return f"the steering wheel stands turned to the {way} by {by} as the car runs straight"


def steering_wheel(
    car: Axle, left: Mapping[str, float] | None = None, right: Mapping[str, float] | None = None
) -> SteeringWheel:
    """Where the steering wheel stands as the car runs straight, with a setting of either corner.

    A car runs straight with both wheels toed alike. Where the tie rods are not even, that is with the rack off its
    centre, and the steering wheel off straight. Resetting only the total toe, by one rod or by both alike, leaves
    that; each rod brought to its own wheel's toe mends it.

    Parameters
    ----------
    car : Axle
        The car, with the steering straight at design.
    left, right : mapping, optional
        Setting of either corner, mm and deg.

    Returns
    -------
    SteeringWheel
        What the rear axle does to a straight line is left out.

    Raises
    ------
    InputError
        The rack would have to move more than 40 mm: the sides cannot be toed alike by steering.

    Examples
    --------
    >>> import strutsweep as ss
    >>> car = ss.demo("gravel_hatch")
    >>> print(ss.steering_wheel(car))
    the steering wheel stands straight as the car runs straight
    >>> print(ss.steering_wheel(car, left={"tie_rod": 2.0}))
    the steering wheel stands turned to the left by 1.0 mm of rack, 8° as the car runs straight
    """
    settings = {"left": dict(left or {}), "right": dict(right or {})}
    corners = {"left": car.left, "right": car.right}

    def toes(rack: float) -> tuple[float, float]:
        first, second = (pose_of(corners[side], settings[side], rack=rack).toe for side in SIDES)
        return first, second

    straight = toes(0.0)
    try:
        rack = (
            0.0
            if straight[0] == straight[1]
            else float(brentq(lambda at: toes(at)[0] - toes(at)[1], -_MOST_RACK_MM, _MOST_RACK_MM, xtol=1e-10))
        )
    except (ValueError, ReachError):
        raise InputError(
            f"the wheels toe {straight[0]:.2f} and {straight[1]:.2f} deg with the steering wheel straight: no rack"
            f" displacement up to {_MOST_RACK_MM:g} mm evens them",
            name="toe",
            value=straight[0] - straight[1],
        ) from None
    steer = (straight[1] - straight[0]) / 2.0
    per_turn = car.rack["mm_per_turn"]
    # The driver holds against the steer that the rods have built in.
    angle = None if per_turn is None else -abs(rack) / per_turn * 360.0 * (1.0 if steer > 0.0 else -1.0)
    return SteeringWheel(rack=rack, toe=toes(rack)[0], steer=steer, angle=angle)
