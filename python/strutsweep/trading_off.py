"""Trade-offs: how much of one goal another costs, within bounds and limits."""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep._core import Corner
from strutsweep._descent import MET, Model, Variables, runs_from, starts_between, unit_of_variable
from strutsweep._poses import check_corner, dataset_attributes
from strutsweep._printed import Table, figures, shown
from strutsweep._within import whole_number
from strutsweep.errors import InputError
from strutsweep.goals import Limit, Quantity
from strutsweep.searching import AS_BUILT, NEARNESS, Search, checked_aim, checked_limits, checked_nearness, search_found
from strutsweep.words import SETTINGS

__all__ = ["TradeOff", "trade_off"]


@dataclass(frozen=True, repr=False)
class TradeOff:
    """How much of one goal the other costs.

    Attributes
    ----------
    first, second : Quantity
    data : xarray.Dataset
        Along ``point``, from the best of the first goal to the best of the second: ``first`` and ``second`` in their
        units, ``move`` along ``variable`` in mm or deg, and ``met``, whether the point keeps all limits: one that does
        not is no point of the curve. Attributes hold both goals of the corner as it is.
    corners : tuple of Corner
        Per point.
    """

    first: Quantity
    second: Quantity
    data: xr.Dataset
    corners: tuple[Corner, ...]

    def table(self) -> Table:
        """The points in print.

        Returns
        -------
        Table

        Examples
        --------
        >>> import numpy as np, strutsweep as ss
        >>> travel = {"travel": np.linspace(-40, 40, 9)}
        >>> found = ss.trade_off(
        ...     ss.demo("gravel_hatch").left,
        ...     ss.Quantity("toe", "range", travel),
        ...     ss.Quantity("camber", "range", travel),
        ...     {"tie_rod.inner.z": (-8, 8), "strut.top.y": (-10, 10)},
        ...     points=3,
        ...     seed=1,
        ... )
        >>> len(found.table().rows)
        3
        """
        units = [shown(goal.units) for goal in (self.first, self.second)]
        rows = [
            (
                figures(units[0][1] * float(one.first), 4),
                figures(units[1][1] * float(one.second), 4),
                "met" if bool(one.met) else "NOT MET",
                ", ".join(
                    f"{name} {float(move):+.2f}"
                    for name, move in zip(one.variable.values, one.move.values, strict=True)
                ),
            )
            for one in (self.data.isel(point=place) for place in range(self.data.sizes["point"]))
        ]
        goals = [f"{goal.words} ({unit})" for goal, (unit, _) in zip((self.first, self.second), units, strict=True)]
        title = f"{self.data.attrs['car']}, {self.data.attrs['side']} corner: what one goal costs the other"
        start = [
            figures(factor * float(self.data.attrs[f"{goal}_as_it_is"]), 4)
            for goal, (_, factor) in zip(("first", "second"), units, strict=True)
        ]
        notes = [f"The corner as it is: {' and '.join(start)}. Moves in mm and deg."]
        if any(name not in SETTINGS for name in self.data.variable.values):
            notes.append(AS_BUILT)
        if not self.data.met.all():
            notes.append("Where limits are not met, the search found nothing that keeps them: no point of the curve.")
        return Table.of(title, (*goals, "limits", "moves"), rows, notes)

    def __str__(self) -> str:
        return str(self.table())

    def __repr__(self) -> str:
        return f"TradeOff({self.first.words} against {self.second.words}, {self.data.sizes['point']} points)"

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def trade_off(
    corner: Corner,
    first: Quantity,
    second: Quantity,
    variables: Mapping[str | tuple[str, ...], tuple[float, float]],
    *,
    limits: Sequence[Limit] = (),
    points: int = 9,
    starts: int = 3,
    seed: int | None = None,
    nearness: float = NEARNESS,
) -> TradeOff:
    """The best of one goal for each amount of another: what the second costs the first.

    Parameters
    ----------
    corner : Corner
    first, second : Quantity
        Both to be made small: values, ranges, largest values or magnitudes.
    variables : mapping of str to (low, high)
        As for `strutsweep.search`.
    limits : sequence of Limit
        What must be kept along the whole curve.
    points : int
        How many points, the two ends among them; at least 2.
    starts, seed, nearness
        As for `strutsweep.search`.

    Returns
    -------
    TradeOff

    Raises
    ------
    InputError
        As `strutsweep.search`, and limits that cannot all be met.
    ReachError
        No start could be followed.

    Notes
    -----
    The epsilon-constraint method (Haimes, Lasdon and Wismer, IEEE Transactions on Systems, Man, and Cybernetics 1
    (1971) 296): the first goal is made least under each of several limits of the second, evenly spaced between what it
    is at the best of the first goal and its own best.

    Examples
    --------
    >>> import numpy as np, strutsweep as ss
    >>> travel = {"travel": np.linspace(-40, 40, 9)}
    >>> goals = ss.Quantity("toe", "range", travel), ss.Quantity("camber", "range", travel)
    >>> free = {"tie_rod.inner.z": (-8, 8), "strut.top.y": (-10, 10)}
    >>> found = ss.trade_off(ss.demo("gravel_hatch").left, *goals, free, points=3, seed=1)
    >>> bool((np.diff(found.data.second) < 0.0).all())
    True
    """
    check_corner("trade_off", corner)
    for goal in (first, second):
        checked_aim(goal, "least")
    limits, weight, count = checked_limits(limits), checked_nearness(nearness), whole_number("starts", starts, 1)
    points = whole_number("points", points, 2)
    number = secrets.randbits(31) if seed is None else whole_number("seed", seed, 0)

    def best(goal: Quantity, kept: Sequence[Limit], more: Sequence[npt.NDArray[np.float64]]) -> Search:
        model = Model(corner, free, [goal, *(limit.quantity for limit in kept)])
        ran = runs_from(model, goal, "least", kept, [*more, *starts_between(free, count, number)], weight)
        return search_found(corner, model, goal, "least", tuple(kept), ran, number)

    def value(quantity: Quantity, found: Search) -> float:
        model = Model(corner, free, [quantity])
        return quantity.of(model.at(found.data.move.values)[0][0])

    free = Variables.of(corner, variables)
    ends = best(first, limits, []), best(second, limits, [])
    for end in ends:
        if not end.met:
            raise InputError("limits: no start met them all", name="limits", value=[limit.words for limit in limits])
    most, least = value(second, ends[0]), value(second, ends[1])
    found = [ends[0]]
    for amount in np.linspace(most, least, points)[1:]:
        # A hair of room: the last limit is the second goal's own best, which is met only to round-off.
        room = amount + MET * max(abs(most - least), abs(amount))
        kept = [*limits, Limit(second, high=float(room))]
        found.append(best(first, kept, [found[-1].data.move.values, ends[1].data.move.values]))
    data = xr.Dataset(
        {
            "first": ("point", [value(first, one) for one in found], {"units": first.units, "long_name": first.words}),
            "second": (
                "point",
                [value(second, one) for one in found],
                {"units": second.units, "long_name": second.words},
            ),
            "move": (("point", "variable"), np.array([one.data.move.values for one in found])),
            "met": ("point", [one.met for one in found]),
        },
        {
            "variable": list(free.names),
            "unit": ("variable", [unit_of_variable(free, place) for place in range(len(free.names))]),
        },
        dataset_attributes(corner, first.travel_at, "trade-off")
        | {"seed": number, "first_as_it_is": ends[0].before, "second_as_it_is": ends[1].before},
    )
    return TradeOff(first, second, data, tuple(one.corner for one in found))
