"""The setting of one corner that brings wanted readings, within limits: `plan`, as a work order asks for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from strutsweep._core import Corner
from strutsweep.errors import InputError
from strutsweep._wanting import Along, Want
from strutsweep.planning import plan
from strutsweep.setting_up._kinds import TravelAt

__all__ = ["Found", "seek"]

_TOE_ACCURACY_DEG: Final = 1e-5
"""A toe that the tie rod can give is not traded for what a plate cannot."""

_NONE: Final = 1e-9
"""A move of so few mm or deg is none."""


@dataclass(frozen=True)
class Found:
    """A setting, and the limits that stopped it short of what was wanted, if any did."""

    setting: dict[str, float]
    at_limit: dict[str, float]
    reason: str


def seek(
    corner: Corner,
    wanted: Mapping[str, float],
    free: Mapping[str, tuple[float, float]],
    *,
    accuracy: Mapping[str, float],
    travel_at: TravelAt,
    along: Along,
    others: Sequence[str] = (),
) -> Found:
    """The setting that brings the wanted readings, or comes nearest to them by the gauges' accuracy.

    ``others`` are adjusters that stay, to be told as staying.

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
    planned = plan(
        corner,
        wants,
        moving,
        travel_at=travel_at,
        tie_rod="untouched" if "tie_rod" not in moving else None,
        along=along,
    )
    ends = {"least": 0, "most": 1}
    told = [*free, *others, *planned.along]
    return Found(
        setting={name: 0.0 if abs(planned.setting[name]) < _NONE else planned.setting[name] for name in told},
        at_limit={name: moving[name][ends[end]] for name, end in planned.active_limits.items() if not planned.reached},
        reason=planned.reason,
    )
