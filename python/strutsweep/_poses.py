"""A grid of poses laid out in rows, for slopes and samples: dimensions, labels, and the engine's numbers in their
order."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep._core import Axle, Corner, __version__, slope_grid
from strutsweep._inputs import grid_of, labelled, unknown
from strutsweep.errors import InputError, ReachError
from strutsweep.words import MOTIONS, READINGS, SETTINGS, STATUSES, TRAVEL_AT, attributes

__all__ = [
    "FIELDS",
    "PoseGrid",
    "Slopes",
    "check_corner",
    "checked_readings",
    "dataset_attributes",
    "readings_and_slopes",
]

FIELDS: Final = (*SETTINGS, *MOTIONS)
"""Fields of a pose, in the engine's order."""


def check_corner(verb: str, corner: object) -> Corner:
    """The corner, or a complaint.

    Raises
    ------
    InputError
        It is a whole axle, or nothing of the kind.
    """
    if isinstance(corner, Axle):
        raise InputError(f"{verb} takes one corner: give car.left or car.right", name="corner", value=corner)
    if not isinstance(corner, Corner):
        raise InputError(f"{verb} takes a Corner, not {type(corner).__name__}", name="corner", value=corner)
    return corner


def checked_readings(given: str | Sequence[str]) -> list[str]:
    """Names of readings, each once, or a complaint about the first that is none."""
    if not isinstance(given, Iterable):
        raise InputError(f"readings: {given!r} is neither a name nor several", name="readings", value=given)
    names = [given] if isinstance(given, str) else list(dict.fromkeys(given))
    for name in names:
        if name not in READINGS:
            raise unknown("readings", name, READINGS)
    if not names:
        raise InputError("readings: none is asked for", name="readings", value=given)
    return names


def dataset_attributes(corner: Corner, travel_at: str, what: str) -> dict[str, Any]:
    """What every dataset about a corner says of itself."""
    return {
        "title": f"{corner.name}, {corner.side} corner: {what}",
        "car": corner.name,
        "side": corner.side,
        "travel_at": travel_at,
        "held": TRAVEL_AT[travel_at],
        "axes": "ISO 8855: X forward, Y left, Z up",
        "source": f"strutsweep {__version__}",
    }


@dataclass(frozen=True)
class PoseGrid:
    """Poses at which something is evaluated; dimensions of travel stand last, so that rows of travels lie together.

    Attributes
    ----------
    inputs : dict of str to DataArray
        Those that were given.
    sizes : dict of str to int
        Dimensions and their lengths.
    rows : array
        Poses by `FIELDS`.
    travel_at : str
    """

    inputs: dict[str, xr.DataArray]
    sizes: dict[str, int]
    rows: npt.NDArray[np.float64]
    travel_at: str

    @classmethod
    def of(cls, inputs: Mapping[str, Any], travel_at: str) -> PoseGrid:
        """The grid of these inputs, as `strutsweep.sweep` understands them.

        Raises
        ------
        InputError
            As `strutsweep.sweep`.
        """
        if travel_at not in TRAVEL_AT:
            raise unknown("travel_at", travel_at, TRAVEL_AT)
        for name in inputs:
            if name not in FIELDS:
                raise unknown("inputs", name, FIELDS)
        arrays = {name: labelled(name, inputs[name]) for name in FIELDS if name in inputs}
        found = grid_of(arrays)
        last = set(arrays["travel"].dims) if "travel" in arrays else set()
        sizes = {dim: size for dim, size in found.items() if dim not in last}
        sizes |= {dim: size for dim, size in found.items() if dim in last}
        for dim, size in sizes.items():
            if size == 0:
                raise InputError(f"{dim} has no values", name=dim, value=size)
        shape = tuple(sizes.values())
        rows = np.zeros((int(np.prod(shape, dtype=int)), len(FIELDS)))
        for name, array in arrays.items():
            spread_out = array.transpose(*(dim for dim in sizes if dim in array.dims)).values
            spread_out = spread_out.reshape([array.sizes.get(dim, 1) for dim in sizes])
            rows[:, FIELDS.index(name)] = np.broadcast_to(spread_out, shape).ravel()
        return cls(arrays, sizes, rows, travel_at)

    @property
    def dims(self) -> tuple[str, ...]:
        """Names of the dimensions."""
        return tuple(self.sizes)

    @property
    def shape(self) -> tuple[int, ...]:
        """Lengths of the dimensions."""
        return tuple(self.sizes.values())

    def replaced(self, changes: Mapping[str, float]) -> PoseGrid:
        """The same grid with some inputs at one value everywhere."""
        rows = self.rows.copy()
        for name, value in changes.items():
            if name not in FIELDS:
                raise unknown("change_from", name, FIELDS)
            try:
                number = np.asarray(value, dtype=np.float64)
            except (TypeError, ValueError):
                number = np.asarray(np.nan)
            if number.ndim or not np.isfinite(number):
                raise InputError(f"change_from: {name} = {value!r} is not one finite number", name=name, value=value)
            rows[:, FIELDS.index(name)] = float(number)
        return PoseGrid(self.inputs, self.sizes, rows, self.travel_at)

    def part(self, first: int, end: int) -> PoseGrid:
        """Some of its rows, in their order; a grid no more, for numbers alone."""
        return PoseGrid(self.inputs, self.sizes, self.rows[first:end], self.travel_at)

    def coordinates(self) -> dict[str, Any]:
        """Labels of the dimensions, and every input."""
        coords: dict[str, Any] = {}
        for name in FIELDS:
            array = self.inputs.get(name)
            if array is None:
                coords[name] = ((), 0.0, attributes(name))
                continue
            for key, label in array.coords.items():
                if key not in FIELDS:
                    coords[str(key)] = label.variable
            coords[name] = xr.Variable(array.dims, array.values, attributes(name))
        return coords

    def told(self, place: int) -> str:
        """One pose of the grid in words: what varies along it, and what is not zero."""
        row = dict(zip(FIELDS, self.rows[place], strict=True))
        told = [name for name, array in self.inputs.items() if array.ndim or row[name]]
        words = [f"{name} {row[name]:g} {attributes(name)['units']}" for name in told]
        return ", ".join(words) or "design"


@dataclass(frozen=True)
class Slopes:
    """Readings of rows of poses and their slopes.

    Attributes
    ----------
    readings : array
        Poses by readings.
    slopes : array
        Poses by readings by parameters.
    status : array
        Poses.
    """

    readings: npt.NDArray[np.float64]
    slopes: npt.NDArray[np.float64]
    status: npt.NDArray[np.int8]


def readings_and_slopes(
    corner: Corner,
    rows: npt.NDArray[np.float64],
    travel_at: str | Sequence[str],
    readings: Sequence[str],
    parameters: Sequence[str],
    *,
    reach: bool = True,
) -> Slopes:
    """The engine's readings and exact slopes of rows of poses.

    Raises
    ------
    ReachError
        A pose is out of reach, unless `reach` is false.
    """
    places = [travel_at] * len(rows) if isinstance(travel_at, str) else list(travel_at)
    found = Slopes(*slope_grid(corner, rows, places, list(readings), list(parameters), 0))
    if reach and found.status.any():
        row = int(np.flatnonzero(found.status)[0])
        name, words = next((n, w) for n, w in STATUSES.items() if w["code"] == found.status[row])
        given = ", ".join(
            f"{field} {value:g} {attributes(field)['units']}"
            for field, value in zip(FIELDS, rows[row], strict=True)
            if value
        )
        raise ReachError(
            f"{given or 'design'}: {words['reason']}", part=name, status=int(words["code"]), reason=words["reason"]
        )
    return found
