"""The setting of one corner that brings wanted readings, within limits: what `set_car` asks for, in one small place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares

from strutsweep._core import Corner
from strutsweep.errors import ReachError
from strutsweep.setting_up._kinds import TravelAt
from strutsweep.setting_up._poses import pose_of

__all__ = ["Found", "seek"]

_FAR: Final = 1e3
"""What stands for the miss of a setting that cannot be reached, in accuracies."""


@dataclass(frozen=True)
class Found:
    """A setting, and what stopped it short of what was wanted, if anything did."""

    setting: dict[str, float]
    misses: dict[str, float]
    at_limit: dict[str, float]


def seek(
    corner: Corner,
    wanted: Mapping[str, float],
    free: Mapping[str, tuple[float, float]],
    *,
    accuracy: Mapping[str, float],
    travel_at: TravelAt,
) -> Found:
    """The setting that brings the wanted readings, or comes nearest to them by the gauges' accuracy."""
    names, readings = list(free), list(wanted)
    scale = np.array([accuracy[name] for name in readings])
    target = np.array([wanted[name] for name in readings])
    least = np.array([free[name][0] for name in names])
    most = np.array([free[name][1] for name in names])

    def misses(values: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        setting = dict(zip(names, map(float, values), strict=True))
        try:
            pose = pose_of(corner, setting, travel_at=travel_at)
        except ReachError:
            return np.full(len(readings), _FAR)
        read = np.array([getattr(pose, name) for name in readings], dtype=np.float64)
        found: npt.NDArray[np.float64] = (read - target) / scale
        return found

    start = np.clip(np.zeros(len(names)), least, most)
    # A limit of zero width is no unknown to this solver.
    moving = most - least > 1e-9

    def spread(part: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        values = start.copy()
        values[moving] = part
        return values

    values = start
    if moving.any():
        result = least_squares(
            lambda part: misses(spread(part)),
            np.clip(start[moving], least[moving] + 1e-9, most[moving] - 1e-9),
            bounds=(least[moving], most[moving]),
            jac="3-point",
            xtol=1e-15,
            ftol=1e-15,
            gtol=1e-15,
        )
        values = spread(result.x)
    left_over = misses(values) * scale
    edge = 1e-6
    return Found(
        setting=dict(zip(names, map(float, values), strict=True)),
        misses=dict(zip(readings, map(float, left_over), strict=True)),
        at_limit={
            name: float(bound)
            for name, value, low, high, moves in zip(names, values, least, most, moving, strict=True)
            for bound in (low, high)
            if moves and abs(value - bound) <= edge and abs(left_over).max() > 1e-6
        },
    )
