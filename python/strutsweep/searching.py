"""Search: points and settings within bounds that make a reading, a rate or a range over travel as small as can be.

Ranges, largest and smallest values have corners where one pose takes over from another; they are searched in the epigraph
form, which has none: least u - l with l <= reading <= u in every pose (Boyd and Vandenberghe, Convex Optimization,
Cambridge 2004, section 4.1.3). Slopes are exact throughout.
"""

from __future__ import annotations

import math
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, Literal, TypeAlias

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep._core import Corner
from strutsweep._poses import FIELDS, PoseGrid, check_corner, dataset_attributes, readings_and_slopes
from strutsweep._printed import Table, figures
from strutsweep.errors import GeometryError, InputError, ReachError
from strutsweep.scattering import gathered, moved, unit_of
from strutsweep.sweeping import TravelAt, Values
from strutsweep.sweeping import _unknown as unknown_name
from strutsweep.words import READINGS, attributes

__all__ = ["Limit", "Quantity", "Search", "TradeOff", "search", "trade_off"]

Over: TypeAlias = Literal["value", "range", "largest", "smallest", "magnitude"]
Aim: TypeAlias = "Literal['least', 'most'] | float"

OVER: Final = {
    "value": "",
    "range": "range of ",
    "largest": "largest ",
    "smallest": "smallest ",
    "magnitude": "largest magnitude of ",
}
"""How one number is made of a reading in several poses."""

NEARNESS: Final = 1e-4
"""Weight of the squared moves, in widths of their bounds, against the goal in its size at the start: where many answers
are equally good, the one that moves least is taken."""
MET: Final = 1e-6
"""A limit missed by less than this share of its scale counts as met."""
MOST_ITERATIONS: Final = 200
CONVERGED: Final = 1e-10
LEAST_SCALE: Final = {"deg": 1e-3, "mm": 1e-2, "deg/mm": 1e-6, "1": 1e-4}
"""No goal is scaled by less than this: what is nearly zero at the start is no measure of anything."""


@dataclass(frozen=True)
class Quantity:
    """One number made of a reading: its value in a pose, or its range, largest, smallest or magnitude over several.

    Attributes
    ----------
    reading : str
        Any reading or rate.
    over : {"value", "range", "largest", "smallest", "magnitude"}
        How the poses make one number; ``"value"`` wants one pose, ``"magnitude"`` is the largest absolute value.
    inputs : mapping of str to number or array
        The poses: settings and motions, as `strutsweep.sweep` takes them.
    travel_at : {"ground", "hub", "strut"}

    Raises
    ------
    InputError
        An unknown name, or several poses for a value.

    Examples
    --------
    >>> import numpy as np, strutsweep as ss
    >>> ss.Quantity("toe", "range", {"travel": np.linspace(-60, 60, 25)}).words
    'range of toe over travel -60 to 60 mm'
    """

    reading: str
    over: Over = "value"
    inputs: Mapping[str, Values] = field(default_factory=dict)
    travel_at: TravelAt = "ground"

    def __post_init__(self) -> None:
        if self.reading not in READINGS:
            raise unknown_name("reading", self.reading, READINGS)
        if self.over not in OVER:
            raise unknown_name("over", self.over, OVER)
        poses = len(self.grid.rows)
        if self.over == "value" and poses > 1:
            known = ", ".join(repr(name) for name in OVER if name != "value")
            raise InputError(
                f"over: {self.reading} has {poses} poses and no value: choose {known}", name="over", value=self.over
            )

    @property
    def grid(self) -> PoseGrid:
        """Its poses."""
        return PoseGrid.of(self.inputs, self.travel_at)

    @property
    def units(self) -> str:
        """The unit of the reading."""
        return str(READINGS[self.reading]["units"])

    @property
    def words(self) -> str:
        """It in words."""
        told = []
        for name, values in self.inputs.items():
            numbers = np.asarray(values, dtype=np.float64)
            unit = attributes(name)["units"]
            if numbers.size == 1:
                told.append(f"at {name} {float(numbers.ravel()[0]):g} {unit}")
            else:
                told.append(f"over {name} {numbers.min():g} to {numbers.max():g} {unit}")
        return " ".join([f"{OVER[self.over]}{self.reading}", *told])

    def of(self, readings: npt.NDArray[np.float64]) -> float:
        """The number that these readings make.

        Parameters
        ----------
        readings : array
            The reading in each pose, in its unit.

        Returns
        -------
        float

        Examples
        --------
        >>> import numpy as np, strutsweep as ss
        >>> ss.Quantity("toe", "range", {"travel": [-10.0, 10.0]}).of(np.array([-0.1, 0.3]))
        0.4
        """
        if self.over == "range":
            return float(readings.max() - readings.min())
        if self.over == "smallest":
            return float(readings.min())
        return float(np.abs(readings).max() if self.over == "magnitude" else readings.max())


@dataclass(frozen=True)
class Limit:
    """A quantity that must stay within limits.

    Attributes
    ----------
    quantity : Quantity
    low, high : float or None
        In its unit; None for no limit that way. A range, a largest value and a magnitude take an upper limit only, a
        smallest value a lower one.

    Raises
    ------
    InputError
        No limit at all, limits upside down, or one that a search cannot keep.

    Examples
    --------
    >>> import strutsweep as ss
    >>> ss.Limit(ss.Quantity("scrub_radius"), -5.0, 15.0).words
    'scrub_radius from -5 to 15 mm'
    """

    quantity: Quantity
    low: float | None = None
    high: float | None = None

    def __post_init__(self) -> None:
        words = self.quantity.words
        ends = [end for end in (self.low, self.high) if end is not None]
        if not ends or not all(math.isfinite(end) for end in ends):
            raise InputError(f"limit of {words}: give a finite low or high", name="limit", value=ends)
        if self.low is not None and self.high is not None and self.low > self.high:
            raise InputError(
                f"limit of {words}: {self.low:g} to {self.high:g} {self.quantity.units} is upside down",
                name="limit",
                value=(self.low, self.high),
                unit=self.quantity.units,
            )
        if self.low is not None and self.quantity.over in ("range", "largest", "magnitude"):
            raise InputError(f"limit of {words}: it takes an upper limit only", name="limit", value=self.low)
        if self.high is not None and self.quantity.over == "smallest":
            raise InputError(f"limit of {words}: it takes a lower limit only", name="limit", value=self.high)

    @property
    def words(self) -> str:
        """It in words."""
        units = "" if self.quantity.units == "1" else f" {self.quantity.units}"
        if self.low is None:
            return f"{self.quantity.words} at most {self.high:g}{units}"
        if self.high is None:
            return f"{self.quantity.words} at least {self.low:g}{units}"
        return f"{self.quantity.words} from {self.low:g} to {self.high:g}{units}"

    def missed(self, value: float) -> float:
        """By how much a value misses it; zero if it does not.

        Parameters
        ----------
        value : float
            In the unit of the quantity.

        Returns
        -------
        float

        Examples
        --------
        >>> import strutsweep as ss
        >>> ss.Limit(ss.Quantity("scrub_radius"), -5.0, 15.0).missed(17.0)
        2.0
        """
        below = 0.0 if self.low is None else self.low - value
        above = 0.0 if self.high is None else value - self.high
        return max(0.0, below, above)


@dataclass(frozen=True)
class Variables:
    """What a search may move: sources of movement, their bounds, and the dimensions behind them."""

    names: tuple[str, ...]
    low: npt.NDArray[np.float64]
    high: npt.NDArray[np.float64]
    parameters: tuple[str, ...]
    weights: npt.NDArray[np.float64]

    @classmethod
    def of(cls, corner: Corner, given: Mapping[str | tuple[str, ...], tuple[float, float]]) -> Variables:
        """Variables from bounds by name.

        Raises
        ------
        InputError
            An unknown name, one given twice, bounds upside down.
        """
        if not given:
            raise InputError("variables: nothing may move", name="variables", value=given)
        low: dict[str, float] = {}
        high: dict[str, float] = {}
        moves: dict[str, Mapping[str, float]] = {}
        for name, bounds in given.items():
            try:
                least, most = (float(end) for end in bounds)
            except (TypeError, ValueError):
                raise InputError(
                    f"variables: {name} needs bounds (low, high), not {bounds!r}", name="variables", value=bounds
                ) from None
            if not (math.isfinite(least) and math.isfinite(most) and least < most):
                raise InputError(
                    f"variables: {name} from {least:g} to {most:g} is upside down, empty or not finite",
                    name="variables",
                    value=(least, most),
                )
            for source in gathered(corner, {name: 1.0}, None, "variables").sources:
                if source.name in moves:
                    raise InputError(f"variables: {source.name} is given twice", name="variables", value=source.name)
                moves[source.name], low[source.name], high[source.name] = source.moves, least, most
        parameters = tuple(dict.fromkeys(name for moved_by in moves.values() for name in moved_by))
        weights = np.array([[moved_by.get(name, 0.0) for moved_by in moves.values()] for name in parameters])
        return cls(tuple(moves), np.array(list(low.values())), np.array(list(high.values())), parameters, weights)

    @property
    def width(self) -> npt.NDArray[np.float64]:
        """Of the bounds."""
        return self.high - self.low


class _OutOfReach(Exception):
    """A pose that a search came to is out of reach, or its points make no corner."""


class _Model:
    """Quantities and their slopes in the variables, remembered for the last place asked for."""

    def __init__(self, corner: Corner, variables: Variables, quantities: Sequence[Quantity]) -> None:
        self._corner = corner
        self.variables = variables
        grids = [quantity.grid for quantity in quantities]
        self._rows = np.concatenate([grid.rows for grid in grids])
        self._travel_at = [grid.travel_at for grid in grids for _ in grid.rows]
        self._readings = list(dict.fromkeys(quantity.reading for quantity in quantities))
        ends = np.cumsum([0, *(len(grid.rows) for grid in grids)])
        self._slices = [slice(start, end) for start, end in zip(ends, ends[1:], strict=False)]
        self._columns = [self._readings.index(quantity.reading) for quantity in quantities]
        self._last: tuple[bytes, list[tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]]] | None = None

    def corner_at(self, moves: npt.NDArray[np.float64]) -> tuple[Corner, dict[str, float]]:
        """The corner moved so, and the settings."""
        return moved(self._corner, self.variables.parameters, self.variables.weights @ moves)

    def at(self, moves: npt.NDArray[np.float64]) -> list[tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]]:
        """Per quantity its readings and their slopes in the variables."""
        key = moves.tobytes()
        if self._last is not None and self._last[0] == key:
            return self._last[1]
        try:
            corner, settings = self.corner_at(moves)
            rows = self._rows.copy()
            for name, value in settings.items():
                rows[:, FIELDS.index(name)] += value
            found = readings_and_slopes(corner, rows, self._travel_at, self._readings, self.variables.parameters)
        except (GeometryError, ReachError) as error:
            raise _OutOfReach(str(error)) from None
        slopes = found.slopes @ self.variables.weights
        parts = [
            (found.readings[part, column], slopes[part, column])
            for part, column in zip(self._slices, self._columns, strict=True)
        ]
        self._last = (key, parts)
        return parts


@dataclass(frozen=True)
class _Ran:
    """Where one start ended."""

    moves: npt.NDArray[np.float64]
    goal: float
    missed: float
    words: str


def _scale(quantity: Quantity, readings: npt.NDArray[np.float64], aim: Aim) -> float:
    size = abs(quantity.of(readings) - (aim if isinstance(aim, (int, float)) else 0.0))
    return max(size, LEAST_SCALE[quantity.units])


def _run(
    model: _Model, goal: Quantity, aim: Aim, limits: Sequence[Limit], start: npt.NDArray[np.float64], nearness: float
) -> _Ran:
    """One run of SLSQP from one start, in moves scaled to the width of their bounds."""
    from scipy.optimize import minimize

    variables = model.variables
    count, width = len(variables.names), variables.width
    ranges = [place for place, limit in enumerate(limits) if limit.quantity.over == "range"]
    # Unknowns: moves, then bounds of the goal's readings (upper, lower), then those of each limited range.
    size = count + 2 + 2 * len(ranges)
    first = model.at(start)
    scale = _scale(goal, first[0][0], aim)
    scales = [_scale(limit.quantity, part[0], 0.0) for limit, part in zip(limits, first[1:], strict=True)]

    def moves_of(x: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        return np.clip(x[:count] * width, variables.low, variables.high)

    upper, lower = count, count + 1
    own = goal.over if not isinstance(aim, (int, float)) else "target"

    def objective(x: npt.NDArray[np.float64]) -> tuple[float, npt.NDArray[np.float64]]:
        slope = np.zeros(size)
        slope[:count] = 2.0 * nearness * x[:count]
        value = nearness * float(x[:count] @ x[:count])
        if own == "value":
            readings, slopes = model.at(moves_of(x))[0]
            sign = 1.0 if aim == "least" else -1.0
            slope[:count] += sign * slopes[0] * width / scale
            return value + sign * float(readings[0]) / scale, slope
        if own == "smallest":
            slope[lower] = -1.0
            return value - x[lower], slope
        slope[upper] = 1.0
        value += x[upper]
        if own == "range":
            slope[lower] = -1.0
            value -= x[lower]
        return value, slope

    def constraints(x: npt.NDArray[np.float64]) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
        parts = model.at(moves_of(x))
        values: list[npt.NDArray[np.float64]] = []
        slopes: list[npt.NDArray[np.float64]] = []

        def keep(
            sign: float, part: tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]], by: float, shift: float, bound: int | None
        ) -> None:
            """bound - sign * (reading - shift) / by >= 0; without a bound, 0 in its place."""
            readings, own_slopes = part
            matrix = np.zeros((len(readings), size))
            matrix[:, :count] = -sign * own_slopes * width / by
            value = -sign * (readings - shift) / by
            if bound is not None:
                matrix[:, bound] = sign if bound in lows else 1.0
                value = value + (sign if bound in lows else 1.0) * x[bound]
            values.append(value)
            slopes.append(matrix)

        if own in ("range", "largest"):
            keep(1.0, parts[0], scale, 0.0, upper)
        if own in ("range", "smallest"):
            keep(-1.0, parts[0], scale, 0.0, lower)
        if own in ("magnitude", "target"):
            shift = float(aim) if own == "target" else 0.0
            keep(1.0, parts[0], scale, shift, upper)
            keep(-1.0, parts[0], scale, shift, upper)
        for place, (limit, part, by) in enumerate(zip(limits, parts[1:], scales, strict=True)):
            over = limit.quantity.over
            if over == "range":
                high_at = count + 2 + 2 * ranges.index(place)
                keep(1.0, part, by, 0.0, high_at)
                keep(-1.0, part, by, 0.0, high_at + 1)
                row = np.zeros((1, size))
                row[0, high_at], row[0, high_at + 1] = -1.0, 1.0
                assert limit.high is not None
                values.append(np.array([limit.high / by - x[high_at] + x[high_at + 1]]))
                slopes.append(row)
                continue
            if limit.high is not None:
                keep(1.0, part, by, limit.high, None)
                if over == "magnitude":
                    keep(-1.0, part, by, -limit.high, None)
            if limit.low is not None:
                keep(-1.0, part, by, limit.low, None)
        if not values:
            return np.zeros(0), np.zeros((0, size))
        return np.concatenate(values), np.concatenate(slopes)

    lows = {lower, *(count + 3 + 2 * place for place in range(len(ranges)))}
    x0 = np.zeros(size)
    x0[:count] = start / width
    readings0 = first[0][0] / scale
    shifted = (first[0][0] - (float(aim) if own == "target" else 0.0)) / scale
    x0[upper] = np.abs(shifted).max() if own in ("magnitude", "target") else readings0.max()
    x0[lower] = readings0.min()
    for place, limited in enumerate(ranges):
        part = first[1 + limited][0] / scales[limited]
        x0[count + 2 + 2 * place], x0[count + 3 + 2 * place] = part.max(), part.min()
    ends = list(zip(variables.low / width, variables.high / width, strict=True))
    bounds: list[tuple[float | None, float | None]] = [*ends, *([(None, None)] * (size - count))]
    some = len(constraints(x0)[0]) > 0
    found = minimize(
        objective,
        x0,
        jac=True,
        method="SLSQP",
        bounds=bounds,
        constraints=[
            {"type": "ineq", "fun": lambda x: constraints(x)[0], "jac": lambda x: constraints(x)[1]},
        ]
        if some
        else [],
        options={"maxiter": MOST_ITERATIONS, "ftol": CONVERGED},
    )
    moves = moves_of(found.x)
    parts = model.at(moves)
    missed = [
        limit.missed(limit.quantity.of(part[0])) / by for limit, part, by in zip(limits, parts[1:], scales, strict=True)
    ]
    return _Ran(moves, goal.of(parts[0][0]), max(missed, default=0.0), str(found.message))


def _badness(value: float, aim: Aim) -> float:
    """What is to be made small."""
    if isinstance(aim, (int, float)):
        return abs(value - aim)
    return value if aim == "least" else -value


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
    data : xarray.Dataset
        Along ``variable``: ``move``, ``low`` and ``high``, in mm or deg, and ``at_bound``; along ``start``: ``goal`` where
        each start ended, ``missed``, by how much it missed limits, and ``words``; ``seed`` among the attributes.
    values : dict of str to (float, float)
        Every quantity before and after, by its words.
    """

    start: Corner
    corner: Corner
    setting: dict[str, float]
    goal: Quantity
    before: float
    after: float
    limits: tuple[Limit, ...]
    met: bool
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
            rows.append((str(name), f"{float(one.move):+.3f}", str(one.unit.values), bounds, note))
        notes = [
            f"{words}: {figures(before, 4)} -> {figures(after, 4)}" for words, (before, after) in self.values.items()
        ]
        if not self.met:
            notes.append("No start met all limits: this one comes nearest.")
        title = f"{self.start.name}, {self.start.side} corner: {self.goal.words} ({self.goal.units})"
        return Table.of(title, ("variable", "move", "unit", "bounds", ""), rows, notes)

    def __str__(self) -> str:
        return str(self.table())

    def __repr__(self) -> str:
        return f"Search({self.start.name!r}, {self.goal.words}: {self.before:.4g} -> {self.after:.4g} {self.goal.units})"

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def _check_aim(goal: Quantity, aim: Aim) -> Aim:
    if isinstance(aim, str):
        can = {"least": ("value", "range", "largest", "magnitude"), "most": ("value", "smallest")}
        if aim not in can:
            raise InputError(f"aim = {aim!r} is neither 'least', 'most' nor a number", name="aim", value=aim)
        if goal.over not in can[aim]:
            raise InputError(f"aim: {goal.words} cannot be made {aim} by a search", name="aim", value=aim)
        return aim
    number = float(aim)
    if not math.isfinite(number) or goal.over != "value":
        raise InputError(f"aim = {number:g}: only a finite value can be aimed at, of one pose", name="aim", value=number)
    return number


def _starts(variables: Variables, starts: int, seed: int) -> list[npt.NDArray[np.float64]]:
    """The corner as it is, or what the bounds leave of it; then Sobol's points between the bounds."""
    from scipy.stats import qmc

    first = np.clip(np.zeros(len(variables.names)), variables.low, variables.high)
    if starts == 1:
        return [first]
    power = max(1, math.ceil(math.log2(starts - 1)))
    points = qmc.Sobol(len(variables.names), rng=np.random.default_rng(seed)).random_base2(power)[: starts - 1]
    return [first, *(variables.low + points * variables.width)]


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
    """Move points and settings within bounds so that one quantity becomes as good as can be, and others keep their limits.

    Parameters
    ----------
    corner : Corner
        Where to start from.
    goal : Quantity
        What is to become as good as can be: any reading or rate in one pose, or its range, largest, smallest or magnitude
        over several.
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
    `scipy.optimize.minimize` (SLSQP) with exact slopes, in epigraph form. A search finds the best of the valleys that its
    starts lie in; more starts look into more of them.

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
    wanted = _check_aim(goal, aim)
    if isinstance(starts, bool) or not isinstance(starts, int) or starts < 1:
        raise InputError(f"starts = {starts!r} is not a whole number of at least 1", name="starts", value=starts)
    if not (math.isfinite(nearness) and nearness >= 0.0):
        raise InputError(f"nearness = {nearness!r} is not a number of at least 0", name="nearness", value=nearness)
    number = secrets.randbits(31) if seed is None else seed
    free = Variables.of(corner, variables)
    model = _Model(corner, free, [goal, *(limit.quantity for limit in limits)])
    ran = _runs(model, goal, wanted, limits, _starts(free, starts, number), nearness)
    return _found(corner, model, goal, wanted, tuple(limits), ran, number)


def _runs(
    model: _Model,
    goal: Quantity,
    aim: Aim,
    limits: Sequence[Limit],
    starts: Sequence[npt.NDArray[np.float64]],
    nearness: float,
) -> list[_Ran]:
    ran = []
    for start in starts:
        try:
            ran.append(_run(model, goal, aim, limits, start, nearness))
        except _OutOfReach as error:
            ran.append(_Ran(start, math.nan, math.inf, str(error)))
    return ran


def _best(ran: Sequence[_Ran], aim: Aim) -> _Ran | None:
    reached = [one for one in ran if math.isfinite(one.goal)]
    met = [one for one in reached if one.missed <= MET]
    if met:
        return min(met, key=lambda one: _badness(one.goal, aim))
    return min(reached, key=lambda one: one.missed) if reached else None


def _found(
    corner: Corner,
    model: _Model,
    goal: Quantity,
    aim: Aim,
    limits: tuple[Limit, ...],
    ran: Sequence[_Ran],
    seed: int,
) -> Search:
    best = _best(ran, aim)
    if best is None:
        raise ReachError(f"no start could be followed; the first: {ran[0].words}", reason=ran[0].words)
    free = model.variables
    after = model.at(best.moves)
    try:
        before = model.at(np.zeros(len(free.names)))
    except _OutOfReach:
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
        {"variable": list(free.names), "unit": ("variable", [_unit(free, place) for place in range(len(free.names))])},
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
        data=data,
        values=values,
    )


def _unit(free: Variables, place: int) -> str:
    return unit_of(free.parameters[int(np.flatnonzero(free.weights[:, place])[0])])


@dataclass(frozen=True, repr=False)
class TradeOff:
    """How much of one goal the other costs.

    Attributes
    ----------
    first, second : Quantity
    data : xarray.Dataset
        Along ``point``, from the best of the first goal to the best of the second: ``first`` and ``second`` in their
        units, ``move`` along ``variable`` in mm or deg, ``met``. Attributes hold both goals of the corner as it is.
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
        rows = [
            (
                figures(float(one.first), 4),
                figures(float(one.second), 4),
                ", ".join(
                    f"{name} {float(move):+.2f}" for name, move in zip(one.variable.values, one.move.values, strict=True)
                ),
            )
            for one in (self.data.isel(point=place) for place in range(self.data.sizes["point"]))
        ]
        heads = (f"{self.first.words} ({self.first.units})", f"{self.second.words} ({self.second.units})", "moves")
        title = f"{self.data.attrs['car']}, {self.data.attrs['side']} corner: what one goal costs the other"
        return Table.of(title, heads, rows)

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
    The epsilon-constraint method (Haimes, Lasdon and Wismer, IEEE Transactions on Systems, Man, and Cybernetics 1 (1971)
    296): the first goal is made least under each of several limits of the second, evenly spaced between what it is at the
    best of the first goal and its own best.

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
        _check_aim(goal, "least")
    if isinstance(points, bool) or not isinstance(points, int) or points < 2:
        raise InputError(f"points = {points!r} is not a whole number of at least 2", name="points", value=points)
    number = secrets.randbits(31) if seed is None else seed

    def best(goal: Quantity, kept: Sequence[Limit], more: Sequence[npt.NDArray[np.float64]]) -> Search:
        model = _Model(corner, free, [goal, *(limit.quantity for limit in kept)])
        ran = _runs(model, goal, "least", kept, [*more, *_starts(free, starts, number)], nearness)
        return _found(corner, model, goal, "least", tuple(kept), ran, number)

    def value(quantity: Quantity, found: Search) -> float:
        model = _Model(corner, free, [quantity])
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
            "second": ("point", [value(second, one) for one in found], {"units": second.units, "long_name": second.words}),
            "move": (("point", "variable"), np.array([one.data.move.values for one in found])),
            "met": ("point", [one.met for one in found]),
        },
        {"variable": list(free.names), "unit": ("variable", [_unit(free, place) for place in range(len(free.names))])},
        dataset_attributes(corner, first.travel_at, "trade-off")
        | {"seed": number, "first_as_it_is": ends[0].before, "second_as_it_is": ends[1].before},
    )
    return TradeOff(first, second, data, tuple(one.corner for one in found))


