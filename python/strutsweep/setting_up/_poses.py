"""One pose from a setting that is a mapping, as all settings are here."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from strutsweep._core import Corner, Pose
from strutsweep.errors import InputError
from strutsweep.setting_up._kinds import TravelAt
from strutsweep.words import MOTIONS, SETTINGS

__all__ = ["pose_of"]


def pose_of(corner: Corner, setting: Mapping[str, float], *, travel_at: TravelAt = "ground", rack: float = 0.0) -> Pose:
    """The pose of a corner with a setting, mm and deg.

    Raises
    ------
    InputError
        A name that is no adjuster.
    ReachError
        The corner does not get there.
    """
    for name, value in setting.items():
        if name not in SETTINGS and name not in MOTIONS:
            raise InputError(f"{name!r} is no adjuster: there are {', '.join(SETTINGS)}", name=name, value=value)
    # The engine's parameters are typed one by one; a mapping's names were checked above.
    inputs: dict[str, Any] = {**setting, "travel_at": travel_at}
    if rack:
        inputs["rack"] = rack
    return corner.solve(**inputs)
