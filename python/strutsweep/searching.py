"""Search: points and settings within bounds that make a reading, a rate or a range over travel as small as can be."""

from __future__ import annotations

import math
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import xarray as xr

from strutsweep._core import Corner
from strutsweep._descent import (
    LEAST_SCALE,
    MET,
    MOST_ITERATIONS,
    Model,
    OutOfReach,
    Ran,
    Variables,
    best_of,
    runs_from,
    starts_between,
    unit_of_variable,
)
from strutsweep._poses import check_corner, dataset_attributes
from strutsweep._printed import Table, figures, shown
from strutsweep._within import whole_number
from strutsweep.errors import InputError, ReachError
from strutsweep.goals import Aim, Limit, Quantity

__all__ = ["Search", "search"]

AS_BUILT: Final = (
    "A point that moves means a car built so, with camber and toe at design set as before; a setting is moved on the"
    " car as it is."
)

NEARNESS: Final = 1e-4
"""Weight of the squared moves, in widths of their bounds, against the goal in its size at the start: where many answers
are equally good, the one that moves least is taken."""


@dataclass(frozen=True, repr=False)
class Search:
    """What a search found.

    Attributes
    ----------
    start, corner : Corner
        Before and after.
    setting : dict of str to float
        Settings among the variables, mm and deg.
    goal : Quantity
    before, after : float
        The goal, in its unit.
    limits : tuple of Limit
    met : bool
        Whether all limits are met.
    ended : bool
        Whether the search stopped by itself, not at the most steps that are allowed.
    data : xarray.Dataset
        Along ``variable``: ``move``, ``low`` and ``high``, in mm or deg, and ``at_bound``; along ``start``: ``goal``
        where each start ended, ``missed``, by how much it missed limits, and ``words``; ``seed`` among the attributes.
    values : dict of str to (float, float)
        Every quantity before and after, by its words, in its unit.
    """

    start: Corner
    corner: Corner
    setting: dict[str, float]
    goal: Quantity
    before: float
    after: float
    limits: tuple[Limit, ...]
    met: bool
    ended: bool
    data: xr.Dataset
    values: dict[str, tuple[float, float]]

    def table(self) -> Table:
        """The moves in print, and what they do.

        Returns
        -------
        Table

        Examples
        --------
        >>> import numpy as np, strutsweep as ss
        >>> toe = ss.Quantity("toe", "range", {"travel": np.linspace(-40, 40, 9)})
        >>> found = ss.search(ss.demo("gravel_hatch").left, toe, {"tie_rod.inner.z": (-8, 8)}, starts=1)
        >>> found.table().rows[0][0]
        'tie_rod.inner.z'
        """
        rows = []
        for place, name in enumerate(self.data.variable.values):
            one = self.data.isel(variable=place)
            note = "at its bound" if bool(one.at_bound) else ""
            bounds = f"{float(one.low):g} to {float(one.high):g}"
            rows.append((str(name), f"{float(one.move):+.3f}", str(one.unit.values), bounds, note or "within"))
        quantities = {one.words: one for one in (self.goal, *(limit.quantity for limit in self.limits))}
        notes = []
        for words, (before, after) in self.values.items():
            unit, factor = shown(quantities[words].units)
            in_units = "" if unit == "-" else f" {unit}"
            kept = [limit for limit in self.limits if limit.quantity.words == words]
            slack = MET * max(abs(after), LEAST_SCALE[quantities[words].units])
            bound = "".join(
                f"; {limit.ends}{'' if self.met or limit.missed(after) <= slack else ': NOT MET'}" for limit in kept
            )
            notes.append(f"{words}: {figures(factor * before, 4)} -> {figures(factor * after, 4)}{in_units}{bound}")
        if not self.met:
            notes.append("No start met all limits: this one comes nearest.")
        if not self.ended:
            notes.append(
                f"The search stopped after {MOST_ITERATIONS} steps: more may be had from this corner as a start."
            )
        if any(name not in self.setting for name in self.data.variable.values):
            notes.append(AS_BUILT)
        title = f"{self.start.name}, {self.start.side} corner: {self.goal.words}"
        return Table.of(title, ("variable", "move", "unit", "bounds", "stands"), rows, notes)

    def __str__(self) -> str:
        return str(self.table())

    def __repr__(self) -> str:
        return (
            f"Search({self.start.name!r}, {self.goal.words}: {self.before:.4g} -> {self.after:.4g} {self.goal.units})"
        )

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def checked_aim(goal: Quantity, aim: Aim) -> Aim:
    if not isinstance(goal, Quantity):
        raise InputError(f"goal: {goal!r} is no Quantity", name="goal", value=goal)
    if isinstance(aim, str):
        can = {"least": ("value", "range", "largest", "magnitude"), "most": ("value", "smallest")}
        if aim not in can:
            raise InputError(f"aim = {aim!r} is neither 'least', 'most' nor a number", name="aim", value=aim)
        if goal.over not in can[aim]:
            raise InputError(f"aim: {goal.words} cannot be made {aim} by a search", name="aim", value=aim)
        return aim
    if isinstance(aim, bool) or not isinstance(aim, (int, float, np.integer, np.floating)):
        raise InputError(f"aim = {aim!r} is neither 'least', 'most' nor a number", name="aim", value=aim)
    number = float(aim)
    if not math.isfinite(number) or goal.over != "value":
        raise InputError(
            f"aim = {number:g}: only a finite value can be aimed at, of one pose", name="aim", value=number
        )
    return number


def checked_limits(limits: Sequence[Limit]) -> tuple[Limit, ...]:
    """Limits, or a complaint about the first that is none."""
    if not isinstance(limits, Sequence):
        raise InputError(f"limits: {limits!r} is no sequence of Limit", name="limits", value=limits)
    for limit in limits:
        if not isinstance(limit, Limit):
            raise InputError(f"limits: {limit!r} is no Limit", name="limits", value=limit)
    return tuple(limits)


def checked_nearness(nearness: object) -> float:
    """A weight of at least zero, or a complaint."""
    if isinstance(nearness, (int, float)) and not isinstance(nearness, bool):
        number = float(nearness)
        if math.isfinite(number) and number >= 0.0:
            return number
    raise InputError(f"nearness = {nearness!r} is not a number of at least 0", name="nearness", value=nearness)


def search(
    corner: Corner,
    goal: Quantity,
    variables: Mapping[str | tuple[str, ...], tuple[float, float]],
    *,
    aim: Aim = "least",
    limits: Sequence[Limit] = (),
    starts: int = 4,
    seed: int | None = None,
    nearness: float = NEARNESS,
) -> Search:
    """Move points and settings within bounds so that one quantity becomes as good as can be, and others keep their
    limits.

    Parameters
    ----------
    corner : Corner
        Where to start from.
    goal : Quantity
        What is to become as good as can be: any reading or rate in one pose, or its range, largest, smallest or
        magnitude over several.
    variables : mapping of str to (low, high)
        What may move, and how far from where it is, mm or deg: names as `strutsweep.scatter` takes them.
    aim : {"least", "most"} or float
        As small as can be, as large as can be, or as near to a value as can be.
    limits : sequence of Limit
        What must be kept.
    starts : int
        From how many places the search sets out: the corner as it is, and others between the bounds.
    seed : int, optional
        Of those others; drawn unless given, and recorded either way.
    nearness : float
        Weight of the squared moves, in widths of their bounds, against the goal in its size at the start: among answers
        that are equally good the one that moves least is taken. Zero for none.

    Returns
    -------
    Search
        The best of all starts that met the limits; if none did, the one that came nearest, with ``met`` false.

    Raises
    ------
    InputError
        An unknown name, bounds or limits upside down, an aim that cannot be searched for.
    ReachError
        No start could be followed: poses are out of reach.

    Notes
    -----
    A point that moves means a car built so, whose camber and toe at design are set to what they were: a goal that is
    static camber cannot be reached by points, only by settings, which are moved on the car as it is.

    `scipy.optimize.minimize` (SLSQP) with exact slopes, in epigraph form. A search finds the best of the valleys that
    its starts lie in; more starts look into more of them.

    Examples
    --------
    >>> import numpy as np, strutsweep as ss
    >>> corner = ss.demo("gravel_hatch").left
    >>> too_high = corner.replace(tie_rod_inner=corner.points["tie_rod_inner"] + [0.0, 0.0, 6.0])
    >>> toe = ss.Quantity("toe", "range", {"travel": np.linspace(-40, 40, 9)})
    >>> found = ss.search(too_high, toe, {"tie_rod.inner.z": (-8, 8), "tie_rod.outer.z": (-8, 8)}, seed=1)
    >>> found.after < 0.1 * found.before
    True
    """
    check_corner("search", corner)
    wanted = checked_aim(goal, aim)
    kept, weight, count = checked_limits(limits), checked_nearness(nearness), whole_number("starts", starts, 1)
    number = secrets.randbits(31) if seed is None else whole_number("seed", seed, 0)
    free = Variables.of(corner, variables)
    model = Model(corner, free, [goal, *(limit.quantity for limit in kept)])
    ran = runs_from(model, goal, wanted, kept, starts_between(free, count, number), weight)
    return search_found(corner, model, goal, wanted, kept, ran, number)


def search_found(
    corner: Corner,
    model: Model,
    goal: Quantity,
    aim: Aim,
    limits: tuple[Limit, ...],
    ran: Sequence[Ran],
    seed: int,
) -> Search:
    best = best_of(ran, aim)
    if best is None:
        raise ReachError(f"no start could be followed; the first: {ran[0].words}", reason=ran[0].words)
    free = model.variables
    after = model.at(best.moves)
    try:
        before = model.at(np.zeros(len(free.names)))
    except OutOfReach:
        before = [(np.full_like(readings, np.nan), slopes) for readings, slopes in after]
    mended, setting = model.corner_at(best.moves)
    quantities = [goal, *(limit.quantity for limit in limits)]
    values = {
        quantity.words: (quantity.of(old[0]), quantity.of(new[0]))
        for quantity, old, new in zip(quantities, before, after, strict=True)
    }
    edge = 1e-6 * free.width
    data = xr.Dataset(
        {
            "move": ("variable", best.moves, {"long_name": "moved by, in mm or deg"}),
            "low": ("variable", free.low),
            "high": ("variable", free.high),
            "at_bound": ("variable", (best.moves <= free.low + edge) | (best.moves >= free.high - edge)),
            "goal": ("start", [one.goal for one in ran], {"units": goal.units, "long_name": goal.words}),
            "missed": ("start", [one.missed for one in ran], {"units": "1", "long_name": "limits missed, scaled"}),
            "words": ("start", [one.words for one in ran]),
        },
        {
            "variable": list(free.names),
            "unit": ("variable", [unit_of_variable(free, place) for place in range(len(free.names))]),
        },
        dataset_attributes(corner, goal.travel_at, "search") | {"seed": seed},
    )
    return Search(
        start=corner,
        corner=mended,
        setting=setting,
        goal=goal,
        before=values[goal.words][0],
        after=values[goal.words][1],
        limits=limits,
        met=best.missed <= MET,
        ended=best.ended,
        data=data,
        values=values,
    )
