"""Words of a figure for its inputs: settings, motions, and the angles that steer an axle."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import xarray as xr

from strutsweep.plots import selection
from strutsweep.plots.sheet import positive_way
from strutsweep.words import MOTIONS, SETTINGS, attributes

__all__ = ["INPUTS", "held_words", "input_words", "positive_of", "unit_of", "with_moved_points"]

INPUTS: Final = frozenset({*MOTIONS, *SETTINGS, "steer", "inner_steer", "turns"})
"""Names of dimensions that are an input."""

_OF_STEER: Final[Mapping[str, str]] = {"steer": "mean_steer", "inner_steer": "inner_wheel_steer"}
"""Readings that an input which steers by an angle asks for."""


def input_words(name: str) -> str:
    """An input's name in words."""
    return "turns of the steering wheel" if name == "turns" else attributes(_OF_STEER.get(name, name))["long_name"]


def unit_of(name: str) -> str:
    """An input's unit, as it stands behind a number."""
    return "turns" if name == "turns" else attributes(_OF_STEER.get(name, name))["units"]


def positive_of(name: str) -> str:
    """Which way of an input is positive."""
    return "+ to the left" if name == "turns" else positive_way(_OF_STEER.get(name, name))


def held_words(dataset: xr.Dataset, along: tuple[str, ...], *, tie_rod: bool = True) -> list[str]:
    """What is held, and every input that is neither zero nor along the figure.

    That the tie rod keeps its length goes with it, unless nothing in the figure asks.
    """
    if not {"held", "travel_at"} <= set(dataset.attrs):
        return []
    data = with_moved_points(dataset)
    if "rack" in data.coords:
        # Found from a steer angle it has no end of digits.
        data = data.assign_coords(rack=data.rack.round(2))
    data = data.drop_vars([name for name in data.coords if data[name].ndim and set(data[name].dims) - set(along)])
    said = selection.notes(data, along, None)
    rod = dataset.coords.get("tie_rod")
    if tie_rod and rod is not None and rod.ndim == 0 and float(rod) == 0.0:
        said.append("The tie rod keeps its length: toe is not put back.")
    return said


def with_moved_points(dataset: xr.Dataset) -> xr.Dataset:
    """A sweep as the words of the other figures take it, the hard points that move named in its attributes."""
    moved = [str(name).removesuffix("_moved") for name in dataset.coords if str(name).endswith("_moved")]
    return dataset.assign_attrs(_moved=moved)
