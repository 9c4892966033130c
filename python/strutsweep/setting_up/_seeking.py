"""The setting of one corner that brings wanted readings, within limits: `plan`, as a work order asks for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from strutsweep._core import Corner
from strutsweep.errors import InputError
from strutsweep.planning import Want, plan
from strutsweep.setting_up._kinds import TravelAt

__all__ = ["Found", "seek"]

_TOE_ACCURACY_DEG: Final = 1e-5
"""A toe that the tie rod can give is not traded for what a plate cannot."""


@dataclass(frozen=True)
class Found:
    """A setting, and the limits that stopped it short of what was wanted, if any did."""

    setting: dict[str, float]
    at_limit: dict[str, float]


def seek(
    corner: Corner,
    wanted: Mapping[str, float],
    free: Mapping[str, tuple[float, float]],
    *,
    accuracy: Mapping[str, float],
    travel_at: TravelAt,
) -> Found:
    """The setting that brings the wanted readings, or comes nearest to them by the gauges' accuracy.

    Raises
    ------
    InputError
        Every adjuster is at both its limits at once, or `plan` refuses what is asked.
    """
    moving = {name: bounds for name, bounds in free.items() if bounds[0] < bounds[1]}
    if not moving:
        raise InputError(f"no adjuster that is free can move: {', '.join(free)} have no reach", name="free", value=None)
    good_for = {**accuracy, **({"toe": _TOE_ACCURACY_DEG} if "tie_rod" in moving else {})}
    wants = [Want(name, value, accuracy=good_for[name]) for name, value in wanted.items()]
    planned = plan(corner, wants, moving, travel_at=travel_at, tie_rod="untouched" if "tie_rod" not in moving else None)
    ends = {"least": 0, "most": 1}
    return Found(
        setting={name: planned.setting[name] for name in free},
        at_limit={name: moving[name][ends[end]] for name, end in planned.active_limits.items() if not planned.reached},
    )
