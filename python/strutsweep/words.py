"""Names, units and signs of everything that has a name, as the engine states them."""

from __future__ import annotations

from typing import Any, Final

from strutsweep._core import vocabulary

__all__ = [
    "ACCURACIES",
    "AXLE_READINGS",
    "CLOSED",
    "EFFORTS",
    "HARD_POINTS",
    "HARD_POINT_FIELDS",
    "MOTIONS",
    "OUTCOMES",
    "PLACES",
    "READINGS",
    "SETTINGS",
    "STATUSES",
    "TRAVEL_AT",
    "attributes",
]

_VOCABULARY: Final = vocabulary()

READINGS: Final[dict[str, dict[str, Any]]] = _VOCABULARY["readings"]
"""Per reading its ``units``, ``long_name``, ``positive`` way, ``definition``, and whether it ``is_rate``."""

AXLE_READINGS: Final[dict[str, dict[str, Any]]] = _VOCABULARY["axle_readings"]
"""Per reading of an axle its ``units``, ``long_name``, ``positive`` way, ``definition``, and whether it ``is_per_wheel``."""

SETTINGS: Final[dict[str, dict[str, str]]] = _VOCABULARY["settings"]
"""Per field of a setting its ``units``, ``long_name`` and ``positive`` way."""

MOTIONS: Final[dict[str, dict[str, str]]] = _VOCABULARY["motions"]
"""Per field of a motion its ``units``, ``long_name`` and ``positive`` way."""

PLACES: Final[dict[str, dict[str, str]]] = _VOCABULARY["places"]
"""Per point whose place a pose tells its ``units`` and ``long_name``."""

STATUSES: Final[dict[str, dict[str, Any]]] = _VOCABULARY["statuses"]
"""Per status its ``code`` and its ``reason``."""

TRAVEL_AT: Final[dict[str, str]] = _VOCABULARY["travel_at"]
"""Where travel can be measured, and what zero travel holds then."""

HARD_POINTS: Final[list[str]] = _VOCABULARY["hard_points"]
"""Hard points that can be replaced and swept."""

HARD_POINT_FIELDS: Final[dict[str, str]] = _VOCABULARY["hard_point_fields"]
"""What a car file calls each of them."""

ACCURACIES: Final[dict[str, float]] = _VOCABULARY["planning"]["accuracies"]
"""Per reading how much of it counts as one unit of miss in a plan, unless stated, in the reading's unit."""

CLOSED: Final[dict[str, float]] = _VOCABULARY["planning"]["closed"]
"""Per reading how near it has to come in a plan to count as met, in its unit."""

EFFORTS: Final[dict[str, float]] = _VOCABULARY["planning"]["efforts"]
"""Per field of a setting how much of it counts as one unit of move in a plan, unless stated."""

OUTCOMES: Final[dict[str, dict[str, Any]]] = _VOCABULARY["planning"]["outcomes"]
"""Per outcome of a plan its ``code`` and its ``reason``."""


def attributes(name: str) -> dict[str, str]:
    """The attributes that an array of this name carries.

    Parameters
    ----------
    name : str
        A reading of a corner or an axle, a field of setting or motion, or a point whose place a pose tells.

    Returns
    -------
    dict of str to str
        ``units`` and ``long_name``, and what else the engine says of it.

    Raises
    ------
    KeyError
        Nothing has this name.

    Examples
    --------
    >>> from strutsweep.words import attributes
    >>> attributes("mount_in")
    {'units': 'mm', 'long_name': 'strut top moved inboard', 'positive': "toward the car's centre line"}
    """
    return dict(_ATTRIBUTES[name])


# The last of those that share a name holds.
_ATTRIBUTES: Final[dict[str, dict[str, str]]] = {
    name: {key: value for key, value in words.items() if isinstance(value, str)}
    for names in (PLACES, MOTIONS, SETTINGS, AXLE_READINGS, READINGS)
    for name, words in names.items()
}
