"""Labels for the slopes of one pose."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep._core import Corner, Pose, __version__
from strutsweep._inputs import XYZ
from strutsweep.words import MOTIONS, PLACES, SETTINGS, TRAVEL_AT, attributes

__all__ = ["labelled"]


def labelled(
    corner: Corner,
    pose: Pose,
    names: Sequence[str],
    units: Sequence[str],
    slopes: Mapping[str, npt.NDArray[np.float64]],
) -> xr.Dataset:
    """Slopes as the dataset that `Corner.derivatives` gives.

    Parameters
    ----------
    corner : Corner
    pose : Pose
        Where the slopes were taken.
    names, units : sequence of str
        What they are taken in.
    slopes : mapping of str to array
        Per reading an array along `names`, per place one with an axis x, y, z in front.

    Returns
    -------
    xarray.Dataset
    """
    variables: dict[str, Any] = {}
    for name, values in slopes.items():
        words: dict[str, Any] = dict(attributes(name))
        words["units"] = f"{words['units']} per unit of the input"
        words["long_name"] = f"slope of {words['long_name']}"
        if values.ndim == 1:
            words["value"] = pose.readings[name]
            variables[name] = (("input",), values, words)
        else:
            words["value"] = pose.point(name)
            variables[name] = (("xyz", "input"), values, words)
    coords: dict[str, Any] = {
        "input": ("input", list(names), {"long_name": "what the slope is taken in"}),
        "input_units": ("input", list(units), {"long_name": "unit of the input"}),
    }
    if any(name in PLACES for name in slopes):
        coords["xyz"] = list(XYZ)
    for name in (*MOTIONS, *SETTINGS):
        coords[name] = ((), pose.inputs[name], attributes(name))
    return xr.Dataset(
        variables,
        coords,
        attrs={
            "title": f"{corner.name}, {corner.side} corner: exact slopes",
            "car": corner.name,
            "side": corner.side,
            "travel_at": pose.travel_at,
            "held": TRAVEL_AT[pose.travel_at],
            "axes": "ISO 8855: X forward, Y left, Z up",
            "source": f"strutsweep {__version__}",
        },
    )
