"""The way back: from wanted readings to the setting that gives them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, overload

import numpy as np

from strutsweep._core import Axle, Corner
from strutsweep._inputs import TravelAt, check_corner, input_of
from strutsweep._wanting import SIDES, Along, Free, Problem, TieRod, Want, Wanted
from strutsweep.errors import InputError
from strutsweep.plans import AxlePlan, Plan
from strutsweep.words import CLOSED, MOTIONS, OUTCOMES, SETTINGS, STATUSES

__all__ = ["plan"]

_SAME_DEG = 1e-6
"""Angles nearer than this were meant to be the same."""


@overload
def plan(
    car: Corner,
    want: Wanted,
    free: Free,
    *,
    start: Mapping[str, float] | None = None,
    travel: float = 0.0,
    rack: float = 0.0,
    roll: float = 0.0,
    travel_at: TravelAt = "ground",
    tie_rod: TieRod | None = None,
    limits: Mapping[str, float | None] | None = None,
    efforts: Mapping[str, float] | None = None,
    along: Along | None = None,
) -> Plan: ...


@overload
def plan(
    car: Axle,
    want: Wanted | Mapping[str, Wanted],
    free: Free | Mapping[str, Free],
    *,
    start: Mapping[str, float] | Mapping[str, Mapping[str, float]] | None = None,
    travel: float = 0.0,
    rack: float = 0.0,
    roll: float = 0.0,
    travel_at: TravelAt = "ground",
    tie_rod: TieRod | None = None,
    limits: Mapping[str, float | None] | None = None,
    efforts: Mapping[str, float] | None = None,
    along: Along | None = None,
) -> AxlePlan: ...


def plan(
    car: Corner | Axle,
    want: Wanted | Mapping[str, Wanted],
    free: Free | Mapping[str, Free],
    *,
    start: Mapping[str, float] | Mapping[str, Mapping[str, float]] | None = None,
    travel: float = 0.0,
    rack: float = 0.0,
    roll: float = 0.0,
    travel_at: TravelAt = "ground",
    tie_rod: TieRod | None = None,
    limits: Mapping[str, float | None] | None = None,
    efforts: Mapping[str, float] | None = None,
    along: Along | None = None,
) -> Plan | AxlePlan:
    """The setting that gives wanted readings.

    Any readings, rates too, against any adjusters. As many adjusters as readings: the setting that meets them. More
    adjusters: the one of least move that does. More readings, readings that contradict each other, or a limit in the
    way: the nearest setting, each miss counted by its accuracy, and what stops it.

    Parameters
    ----------
    car : Corner or Axle
        One corner, or both of a car: a plan for each.
    want : mapping of str to float, or sequence of Want
        Readings and their values, in mm and deg; `Want` states another motion or an accuracy. For a car alike on both
        sides, or per side: ``{"left": ..., "right": ...}``.
    free : str, iterable of str, or mapping of str to limits
        Adjusters that may move: settings by name. A limit is a number (so far either way), a pair (least, most) or
        None.
        For a car also per side.
    start : mapping of str to float, optional
        The present setting; as measured unless given. For a car also per side. The strut top's height is ``mount_up``,
        whatever of it the tower's face makes: a top that was slid and not shimmed has the face's fall there.
    travel, rack, roll : float
        The motion in which readings of a mapping are wanted, in mm and deg: zero is design height, rack centred.
    travel_at : {"ground", "hub", "strut"}
        Where travel is measured, and so what the setting holds: ride height, hub height, spring length.
    tie_rod : {"puts_toe_back", "untouched"}, optional
        Whether the tie rod puts toe back: to the wanted toe, or to what it is now. Unless given it does where toe is
        wanted and is left alone otherwise. A toe put back is met, unless a limit of the tie rod says otherwise,
        whatever else stops short: it counts a thousand times more than another angle.
    limits : mapping of str to float or None, optional
        How far adjusters go either way where `free` does not say. Those of the car file (``car.limits``) unless given;
        a corner by itself knows none.
    efforts : mapping of str to float, optional
        How much of an adjuster counts as one unit of move where several settings do: 1 mm or 0.1 deg unless given.
    along : mapping of str to mapping, optional
        Settings that go along with an adjuster, and how far per mm of it, such as
        ``{"mount_up": car.top_plate.rise}``: a strut top on a tilted tower falls as it slides inboard. That of the car
        file's ``[top_plate]`` unless given, ``{}`` for none; a corner by itself knows none. Of a setting that is free
        too, what is free is what it goes by itself (shims under the top), and limits and efforts count that.

    Returns
    -------
    Plan or AxlePlan

    Raises
    ------
    InputError
        Nothing wanted or nothing free, an unknown name, the same reading twice in one motion, an included angle that is
        not the camber and the kingpin inclination wanted beside it, limits that leave nothing or leave out the present
        setting, a value that no wheel has (another unit?), an adjuster that moves none of the wanted readings.
    ReachError
        The corner cannot stand in a wanted motion as it is set now.

    Notes
    -----
    Jacobians are exact; steps stay within the limits and a region of trust (Nocedal and Wright, Numerical Optimization,
    2nd edition, chapter 4). Readings of a strut are nearly straight functions of its adjusters; a second setting with
    the same readings lies beyond a fold. Steps start from the present setting and never let the miss grow: the answer
    on this side of a fold is found.

    Examples
    --------
    >>> import strutsweep as ss
    >>> corner = ss.demo("hillclimb_saloon").left
    >>> planned = ss.plan(corner, {"camber": -1.291, "toe": 0.0}, ["mount_in"])
    >>> planned.reached, round(planned.setting["mount_in"], 2), planned.held, planned.tie_rod
    (True, 9.78, 'ride height', 'puts_toe_back')
    """
    asked: dict[str, Any] = {
        "want": want,
        "free": free,
        "start": start,
        "motion": (travel, rack, roll),
        "travel_at": travel_at,
        "tie_rod": tie_rod,
        "limits": limits,
        "efforts": efforts,
        "along": along,
    }
    if isinstance(car, Axle):
        left, right = (plan_side(car, side, **asked) for side in SIDES)
        return AxlePlan(left, right)
    check_corner("plan", car)
    return _planned(Problem.of_corner(car, **asked))


def plan_side(
    car: Axle,
    side: str,
    *,
    limits: Mapping[str, float | None] | None = None,
    efforts: Mapping[str, float] | None = None,
    along: Along | None = None,
    **asked: Any,
) -> Plan:
    """As `plan`, of one side of a car, with the car file's limits and what goes along there."""
    return _planned(Problem.of_side(car, side, limits=limits, efforts=efforts, along=along, **asked))


def _planned(problem: Problem) -> Plan:
    _check_sums(problem.wants)
    values = np.array([[_one_number(want) for want in problem.wants]], dtype=np.float64)
    found = problem.solve(values, 0)
    setting = dict(zip(SETTINGS, found["setting"][0].tolist(), strict=True))
    corner, motion = problem.corner, problem.motion
    inputs: dict[str, Any] = {**dict(zip(MOTIONS, motion, strict=True)), "travel_at": problem.travel_at}
    pose = corner.solve(**inputs, **setting)
    # The forward solve has the last word on what the setting reads.
    residuals: dict[str, float] = {}
    for wanted in problem.wants:
        there = pose
        if wanted.motion != motion:
            elsewhere: dict[str, Any] = {**inputs, **dict(zip(MOTIONS, wanted.motion, strict=True)), **setting}
            there = corner.solve(**elsewhere)
        residuals[wanted.label] = there.readings[wanted.reading] - float(wanted.value)
    outcome = _OUTCOME_OF[int(found["outcome"][0])]
    if outcome == "reached" and any(
        not abs(residuals[wanted.label]) <= CLOSED[wanted.reading] for wanted in problem.wants
    ):
        outcome = "unfinished"
    sides = {-1: "least", 1: "most"}
    at_limit = zip(problem.free, found["at_limit"][0].tolist(), strict=True)
    ran_out = int(found["ran_out"][0])
    return Plan(
        corner=corner,
        wants=problem.wants,
        setting=setting,
        start=problem.start,
        free=tuple(problem.free),
        limits=problem.limits,
        limits_from=problem.limits_from,
        before=corner.solve(**{**inputs, **problem.start}),
        pose=pose,
        outcome=outcome,
        active_limits={name: sides[side] for name, side in at_limit if side},
        residuals=residuals,
        readings_before=dict(zip([w.label for w in problem.wants], found["before"].tolist(), strict=True)),
        along=problem.along,
        travel_at=problem.travel_at,
        tie_rod=problem.tie_rod,
        steps=int(found["steps"][0]),
        folded=bool(found["folded"][0]),
        ran_out=_STATUS_OF[ran_out] if ran_out else None,
    )


_OUTCOME_OF = {words["code"]: name for name, words in OUTCOMES.items()}
_STATUS_OF = {words["code"]: name for name, words in STATUSES.items()}


def _check_sums(wants: Sequence[Want]) -> None:
    """Refuse angles that contradict each other whatever is moved: the included angle is the sum of two others."""
    by_motion: dict[tuple[float, ...], dict[str, float]] = {}
    for want in wants:
        by_motion.setdefault(want.motion, {})[want.reading] = _one_number(want)
    for wanted in by_motion.values():
        if not {"camber", "kingpin_inclination", "included_angle"} <= wanted.keys():
            continue
        both = wanted["camber"] + wanted["kingpin_inclination"]
        if abs(wanted["included_angle"] - both) > _SAME_DEG:
            raise InputError(
                f"included_angle = {wanted['included_angle']:g} deg is wanted, but the camber and the kingpin"
                f" inclination wanted beside it add up to {both:g} deg: leave one of the three out",
                name="included_angle",
                value=wanted["included_angle"],
                limit=both,
                unit="deg",
            )


def _one_number(want: Want) -> float:
    found = input_of(want.reading, want.value)
    if found.dims:
        shape = found.values.shape
        message = f"{want.label} is wanted as an array of shape {shape}: plan takes numbers, plan_map arrays"
        raise InputError(message, name=want.reading, value=shape)
    return float(found.values)
