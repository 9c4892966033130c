"""Names of what can vary of a corner, as a car file spells them, and what a name stands for."""

from __future__ import annotations

from typing import Final

from strutsweep._core import Corner
from strutsweep._inputs import XYZ, unknown
from strutsweep.errors import InputError
from strutsweep.words import HARD_POINT_FIELDS, MOTIONS, SETTINGS

__all__ = ["PARTS", "dimensions", "unit_of"]

WHEEL_DIMENSIONS: Final = {"wheel.radius": "mm", "wheel.camber": "deg", "wheel.toe": "deg"}
"""Figures of the wheel at design, as a car file spells them, and their units."""

WHEEL_KEYWORDS: Final = {"wheel.radius": "wheel_radius", "wheel.camber": "camber", "wheel.toe": "toe"}
"""The same by the keywords of `Corner.replace`."""

PARTS: Final = {
    "knuckle": ("lower_arm.ball_joint", "strut.low", "tie_rod.outer", "wheel.centre"),
    "subframe": ("lower_arm.front", "lower_arm.rear", "tie_rod.inner"),
    "arm_pivots": ("lower_arm.front", "lower_arm.rear"),
    "strut": ("strut.top", "strut.low"),
    "tie_rod_ends": ("tie_rod.inner", "tie_rod.outer"),
}
"""Hard points that sit on one part, and so move as one when the part does."""

EVERY_POINT: Final = "points"
"""The name that stands for every coordinate of every hard point."""


def dimensions(corner: Corner) -> list[str]:
    """Every dimension of a corner that can vary: coordinates, the wheel's figures, settings.

    Parameters
    ----------
    corner : Corner

    Returns
    -------
    list of str
        As a car file spells them, and settings by their keywords. The clamp's pivot is among them only where the
        corner has one of its own.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep.dimensions import dimensions
    >>> dimensions(ss.demo("gravel_hatch").left)[:4]
    ['lower_arm.front.x', 'lower_arm.front.y', 'lower_arm.front.z', 'lower_arm.rear.x']
    """
    return [*_coordinates(corner), *WHEEL_DIMENSIONS, *SETTINGS]


def point_fields(corner: Corner) -> list[str]:
    """Hard points of a corner as a car file spells them, the clamp's pivot only if it has one of its own."""
    own_clamp = "clamp" in corner.to_dict()["strut"]
    return [spelled for spelled in HARD_POINT_FIELDS.values() if own_clamp or spelled != "strut.clamp"]


def _coordinates(corner: Corner) -> list[str]:
    return [f"{point}.{axis}" for point in point_fields(corner) for axis in XYZ]


def unit_of(dimension: str) -> str:
    """The unit of a dimension, ``"mm"`` or ``"deg"``.

    Parameters
    ----------
    dimension : str
        As `dimensions` lists them, or a motion.

    Returns
    -------
    str

    Examples
    --------
    >>> from strutsweep.dimensions import unit_of
    >>> unit_of("strut.top.y"), unit_of("wheel.toe"), unit_of("clamp")
    ('mm', 'deg', 'deg')
    """
    if dimension in SETTINGS:
        return SETTINGS[dimension]["units"]
    if dimension in MOTIONS:
        return MOTIONS[dimension]["units"]
    return WHEEL_DIMENSIONS.get(dimension, "mm")


def expanded(corner: Corner, name: str, argument: str) -> list[str]:
    """The dimensions that a name stands for: one, the three of a point, or those of every point.

    Raises
    ------
    InputError
        Nothing has this name.
    """
    if not isinstance(name, str):
        raise InputError(f"{argument}: {name!r} is no name", name=argument, value=name)
    spelled = HARD_POINT_FIELDS.get(name, name)
    head, _, axis = spelled.rpartition(".")
    if axis in XYZ and head in HARD_POINT_FIELDS:
        spelled = f"{HARD_POINT_FIELDS[head]}.{axis}"
    if spelled == EVERY_POINT:
        return _coordinates(corner)
    known = dimensions(corner)
    if spelled in known:
        return [spelled]
    if spelled in point_fields(corner):
        return [f"{spelled}.{axis}" for axis in XYZ]
    if spelled in MOTIONS:
        raise InputError(
            f"{argument}: {spelled} is a motion, which is swept and not a dimension of the car",
            name=argument,
            value=name,
        )
    raise unknown(argument, name, [EVERY_POINT, *PARTS, *point_fields(corner), *known])
