"""The descent under a search: variables between bounds, and one run from one start.

Ranges, largest and smallest values have corners where one pose takes over from another; they are searched in the
epigraph form, which has none: least u - l with l <= reading <= u in every pose (Boyd and Vandenberghe, Convex
Optimization, Cambridge 2004, section 4.1.3). Slopes are exact throughout.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from strutsweep._core import Corner
from strutsweep._poses import FIELDS, readings_and_slopes
from strutsweep._within import mapping_of
from strutsweep.dimensions import unit_of
from strutsweep.errors import GeometryError, InputError, ReachError
from strutsweep.goals import Aim, Limit, Quantity
from strutsweep.scattering import gathered, moved

MET: Final = 1e-6
"""A limit missed by less than this share of its scale counts as met."""
MOST_ITERATIONS: Final = 200
CONVERGED: Final = 1e-10
_AT_MOST: Final = 9
"""The solver's status when it stopped at the most steps that are allowed."""
LEAST_SCALE: Final = {"deg": 1e-3, "mm": 1e-2, "deg/mm": 1e-6, "1": 1e-4}
"""No goal is scaled by less than this: what is nearly zero at the start is no measure of anything."""


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
        for name, bounds in mapping_of("variables", given).items():
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


class OutOfReach(Exception):
    """A pose that a search came to is out of reach, or its points make no corner."""


class Model:
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
            raise OutOfReach(str(error)) from None
        slopes = found.slopes @ self.variables.weights
        parts = [
            (found.readings[part, column], slopes[part, column])
            for part, column in zip(self._slices, self._columns, strict=True)
        ]
        self._last = (key, parts)
        return parts


@dataclass(frozen=True)
class Ran:
    """Where one start ended."""

    moves: npt.NDArray[np.float64]
    goal: float
    missed: float
    words: str
    ended: bool
    """Whether it stopped by itself, not at the most steps that are allowed."""


def _scale(quantity: Quantity, readings: npt.NDArray[np.float64], aim: Aim) -> float:
    size = abs(quantity.of(readings) - (aim if isinstance(aim, (int, float)) else 0.0))
    return max(size, LEAST_SCALE[quantity.units])


def _run(
    model: Model, goal: Quantity, aim: Aim, limits: Sequence[Limit], start: npt.NDArray[np.float64], nearness: float
) -> Ran:
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
            sign: float,
            part: tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]],
            by: float,
            shift: float,
            bound: int | None,
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
    return Ran(moves, goal.of(parts[0][0]), max(missed, default=0.0), str(found.message), found.status != _AT_MOST)


def _badness(value: float, aim: Aim) -> float:
    """What is to be made small."""
    if isinstance(aim, (int, float)):
        return abs(value - aim)
    return value if aim == "least" else -value


def runs_from(
    model: Model,
    goal: Quantity,
    aim: Aim,
    limits: Sequence[Limit],
    starts: Sequence[npt.NDArray[np.float64]],
    nearness: float,
) -> list[Ran]:
    ran = []
    for start in starts:
        try:
            ran.append(_run(model, goal, aim, limits, start, nearness))
        except OutOfReach as error:
            ran.append(Ran(start, math.nan, math.inf, str(error), True))
    return ran


def best_of(ran: Sequence[Ran], aim: Aim) -> Ran | None:
    reached = [one for one in ran if math.isfinite(one.goal)]
    met = [one for one in reached if one.missed <= MET]
    if met:
        return min(met, key=lambda one: _badness(one.goal, aim))
    return min(reached, key=lambda one: one.missed) if reached else None


def starts_between(variables: Variables, starts: int, seed: int) -> list[npt.NDArray[np.float64]]:
    """The corner as it is, or what the bounds leave of it; then Sobol's points between the bounds."""
    from scipy.stats import qmc

    first = np.clip(np.zeros(len(variables.names)), variables.low, variables.high)
    if starts == 1:
        return [first]
    power = max(1, math.ceil(math.log2(starts - 1)))
    points = qmc.Sobol(len(variables.names), rng=np.random.default_rng(seed)).random_base2(power)[: starts - 1]
    return [first, *(variables.low + points * variables.width)]


def unit_of_variable(free: Variables, place: int) -> str:
    return unit_of(free.parameters[int(np.flatnonzero(free.weights[:, place])[0])])
