"""Bump steer cured: by a spacer at the tie rod's outer end, or by the height of the rack."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Final, Literal

import numpy as np
import xarray as xr
from scipy.optimize import brentq, minimize_scalar

from strutsweep._core import Corner
from strutsweep._within import above_zero, check_corner, check_inputs, row
from strutsweep.errors import GeometryError, InputError, ReachError
from strutsweep.sweeping import sweep
from strutsweep.words import SETTINGS, STATUSES

__all__ = ["BumpSteerCure", "bump_steer_cure"]

_POINTS: Final = 81
_FOUND_MM: Final = 1e-9

Way = Literal["spacer", "rack_height"]
Aim = Literal["slope", "flattest"]

_POINT: Final[dict[str, str]] = {"spacer": "tie_rod_outer", "rack_height": "tie_rod_inner"}


@dataclass(frozen=True)
class BumpSteerCure:
    """How far to raise a tie-rod end, and what it does.

    Attributes
    ----------
    way : {"spacer", "rack_height"}
        The outer joint on the knuckle, by a spacer; or the inner one, with the rack.
    aim : {"slope", "flattest"}
    raised : float
        How far the joint is raised from where it was measured, in mm; negative is down.
    tie_rod : float
        How much longer the tie rod has to be made for toe at design height to stay, in mm.
    slope_before, slope_after : float
        Bump steer at design height, deg/mm, toe-in in bump positive.
    spread_before, spread_after : float
        Greatest less least toe over the range, deg.
    corner : Corner
        The corner with the joint moved.
    curves : xarray.Dataset
        ``toe`` over ``travel``, before and after, along ``state``.
    """

    way: Way
    aim: Aim
    raised: float
    tie_rod: float
    slope_before: float
    slope_after: float
    spread_before: float
    spread_after: float
    corner: Corner
    curves: xr.Dataset = field(repr=False)

    def __str__(self) -> str:
        what = "outer joint" if self.way == "spacer" else "rack"
        return (
            f"{what} {abs(self.raised):.2f} mm {'up' if self.raised >= 0.0 else 'down'}, tie rod"
            f" {self.tie_rod:+.2f} mm: bump steer {1000.0 * self.slope_before:+.2f} ->"
            f" {1000.0 * self.slope_after:+.2f} deg/m,"
            f" toe spread {self.spread_before:.3f} -> {self.spread_after:.3f} deg"
        )


def bump_steer_cure(
    corner: Corner,
    way: Way = "spacer",
    *,
    aim: Aim = "slope",
    over: tuple[float, float] = (-40.0, 40.0),
    most: float = 60.0,
    **settings: Any,
) -> BumpSteerCure:
    """The spacer at the outer tie-rod joint, or the height of the rack, that cures bump steer.

    The tie rod is made as long as the moved joint asks, so that the corner without settings keeps its toe at design
    height; with settings toe may move a little and has to be set again.

    Parameters
    ----------
    corner : Corner
    way : {"spacer", "rack_height"}
        What is moved: the outer joint up on the knuckle, or the inner one up with the rack.
    aim : {"slope", "flattest"}
        No slope at design height; or the least spread of toe over the range, curvature included.
    over : tuple of two float
        The range of travel, in mm; travel at the ground.
    most : float
        Farthest that the joint may be moved either way, in mm.
    **settings : float
        Settings that the corner stands with, one number each: a caster change, say, whose bump steer is to be cured.

    Returns
    -------
    BumpSteerCure

    Raises
    ------
    ReachError
        The corner with its settings is out of reach at design height.
    InputError
        Words that are not known, a number that is not finite, a range that does not rise through zero or is not within
        reach, or no cure within `most`.

    Notes
    -----
    A slope by itself can be cured at one height only; what is left is curvature, which the rod's length against the
    arm's makes. A tie rod longer or shorter than that needs the rack moved, or another rod.

    Examples
    --------
    >>> import strutsweep as ss
    >>> cure = ss.bump_steer_cure(ss.demo("gravel_hatch").left, mount_back=10.0)
    >>> abs(cure.slope_after) < 1e-9 < abs(cure.slope_before)
    True
    """
    check_corner("bump_steer_cure", corner)
    if way not in _POINT:
        raise InputError(f"way: there is no {way!r}; known: {', '.join(_POINT)}", name="way", value=way)
    if aim not in ("slope", "flattest"):
        raise InputError(f"aim: there is no {aim!r}; known: slope, flattest", name="aim", value=aim)
    ends = row("over", over)
    if ends.size != 2:
        raise InputError(f"over: two ends of a range are asked for, not {ends.size} numbers", name="over", value=over)
    low, high = ends.tolist()
    if not low < 0.0 < high:
        raise InputError(
            f"over = {low:g} to {high:g} mm does not rise through zero", name="over", value=over, unit="mm"
        )
    most = above_zero("most", most, "mm")
    check_inputs(settings, SETTINGS)
    slope_before = corner.solve(**settings).bump_steer
    travels = np.linspace(low, high, _POINTS)
    name = _POINT[way]

    def raised_by(amount: float) -> Corner:
        return corner.replace(**{name: corner.point(name) + [0.0, 0.0, amount]})  # type: ignore[arg-type]

    def slope(amount: float) -> float:
        return raised_by(amount).solve(**settings).bump_steer

    def spread(amount: float) -> float:
        try:
            curve = sweep(raised_by(amount), travel=travels, readings="toe", **settings)
        except GeometryError:
            return float("inf")
        if bool((curve.status != STATUSES["reached"]["code"]).any()):
            return float("inf")
        return float(curve.toe.max() - curve.toe.min())

    if aim == "slope":
        found = _slope_root(slope, most)
        if found is None:
            raise InputError(f"no {way} within {most:g} mm makes the slope zero", name="most", value=most)
    else:
        found = float(minimize_scalar(spread, bounds=(-most, most), method="bounded", options={"xatol": 1e-7}).x)
        # The bounded search may settle beside a valley as deep at the start.
        found = min((found, 0.0), key=spread)
    if not math.isfinite(spread(found)):
        message = (
            f"over = {low:g} to {high:g} mm: not all of it is within reach, cured or not; toe there cannot be told"
        )
        raise InputError(message, name="over", value=over, unit="mm")
    cured = raised_by(found)
    before, after = (sweep(c, travel=travels, readings=["toe", "bump_steer"], **settings) for c in (corner, cured))
    curves = xr.concat(
        [before, after],
        dim=xr.DataArray(["before", "after"], dims="state", name="state"),
        data_vars="all",
        coords="minimal",
        compat="override",
        join="override",
        combine_attrs="override",
    )

    def rod(of: Corner) -> float:
        return float(np.linalg.norm(of.point("tie_rod_outer") - of.point("tie_rod_inner")))

    return BumpSteerCure(
        way=way,
        aim=aim,
        raised=found,
        tie_rod=rod(cured) - rod(corner),
        slope_before=slope_before,
        slope_after=cured.solve(**settings).bump_steer,
        spread_before=float(before.toe.max() - before.toe.min()),
        spread_after=float(after.toe.max() - after.toe.min()),
        corner=cured,
        curves=curves,
    )


def _slope_root(slope: Callable[[float], float], most: float) -> float | None:
    """The nearest amount at which the slope is zero, or None."""
    grid = np.concatenate([[0.0], np.ravel([[step, -step] for step in np.linspace(most / 24.0, most, 24)])])
    values: dict[float, float] = {}
    for amount in grid:
        try:
            values[float(amount)] = slope(float(amount))
        except (GeometryError, ReachError):
            # A joint that cannot stand there.
            continue
        ordered = sorted(values)
        crossings = [
            (a, b) for a, b in zip(ordered, ordered[1:], strict=False) if (values[a] < 0.0) != (values[b] < 0.0)
        ]
        if crossings:
            low, high = min(crossings, key=lambda pair: min(abs(pair[0]), abs(pair[1])))
            return float(brentq(slope, low, high, xtol=_FOUND_MM))
    return None
