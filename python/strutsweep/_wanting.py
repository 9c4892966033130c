"""What is asked of a planner: wanted readings, free adjusters and their limits, what goes along, what is held."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal, TypeAlias

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep._core import Axle, Corner, plan_grid
from strutsweep._inputs import TravelAt, Values, one_number, unknown
from strutsweep.errors import InputError
from strutsweep.words import MOTIONS, READINGS, SETTINGS, TRAVEL_AT

__all__ = [
    "SIDES",
    "Along",
    "Free",
    "Problem",
    "Span",
    "TieRod",
    "Want",
    "Wanted",
    "along_of",
    "along_text",
    "by_itself",
    "check_along",
    "corner_of_side",
    "going_along",
    "limits_of",
    "span_of",
    "spans_of",
    "with_face",
]

SIDES = ("left", "right")

TieRod: TypeAlias = Literal["puts_toe_back", "untouched"]
Span: TypeAlias = "float | tuple[float, float] | None"
"""A limit: either way, from least to most, or none stated."""
Free: TypeAlias = "str | Iterable[str] | Mapping[str, Span]"
Along: TypeAlias = "Mapping[str, Mapping[str, float]]"
"""Per setting that goes along with adjusters: how far per unit of each of them."""

_NONE_MM = 1e-9
"""A move of less is round-off."""

_TOE_ACCURACY = 1e-5
"""Of a toe that the tie rod puts back, in deg: whatever else stops short, toe is set."""


@dataclass(frozen=True)
class Want:
    """A reading that is wanted, and in which motion.

    Attributes
    ----------
    reading : str
        Its name.
    value : number or array
        What it is to read, in its unit; an array in `plan_map`.
    travel, rack, roll : float
        The motion in which it is wanted, in mm and deg.
    accuracy : float, optional
        How much of it counts as one unit of miss where not everything wanted can be met: 0.01 deg, 0.1 mm,
        1e-4 deg/mm or 0.001 unless stated. A smaller accuracy weighs more.

    Examples
    --------
    >>> import strutsweep as ss
    >>> ss.Want("toe", 0.1, travel=30.0)
    Want(reading='toe', value=0.1, travel=30.0, rack=0.0, roll=0.0, accuracy=None)
    """

    reading: str
    value: Any
    travel: float = 0.0
    rack: float = 0.0
    roll: float = 0.0
    accuracy: float | None = None

    @property
    def motion(self) -> tuple[float, ...]:
        """Travel, rack and roll."""
        return (self.travel, self.rack, self.roll)

    @property
    def label(self) -> str:
        """The reading's name, with its motion where that is not zero."""
        motion = [f"{name} {value:+g}" for name, value in zip(MOTIONS, self.motion, strict=True) if value]
        return f"{self.reading} at {', '.join(motion)}" if motion else self.reading


Wanted: TypeAlias = "Mapping[str, Values] | Sequence[Want]"


def limits_of(car: Axle) -> dict[str, float | None]:
    """The reach of adjusters as the car file gives it."""
    return {
        name: value for name, value in car.limits.items() if name in SETTINGS and isinstance(value, (float, type(None)))
    }


def along_of(car: Axle) -> Along:
    """What goes along on this car: a strut top on a tilted tower face (``[top_plate]``) rises or falls as it slides."""
    return {} if car.top_plate is None else {"mount_up": dict(car.top_plate.rise)}


def with_face(moves: Mapping[str, float], along: Along) -> dict[str, float]:
    """A change from what adjusters are moved by hand: a strut top rises by its shims, and with its tower's face.

    Examples
    --------
    >>> from strutsweep._wanting import by_itself, with_face
    >>> falls = {"mount_up": {"mount_in": -0.125}}
    >>> with_face({"mount_in": 8.0, "mount_up": 3.0}, falls)
    {'mount_in': 8.0, 'mount_up': 2.0}
    >>> by_itself({"mount_in": 8.0, "mount_up": 2.0}, falls)
    {'mount_in': 8.0, 'mount_up': 3.0}
    """
    whole = dict(moves)
    for name, rates in along.items():
        moved = [by for by in rates if by in moves]
        if moved:
            whole[name] = math.fsum([moves.get(name, 0.0), *(rates[by] * moves[by] for by in moved)])
    return whole


def by_itself(change: Mapping[str, float], along: Along) -> dict[str, float]:
    """What adjusters are moved by themselves for a change: the way back of `with_face`; what is round-off is none."""
    moves = dict(change)
    for name, rates in along.items():
        if name in change:
            left = change[name] - math.fsum(rates[by] * change.get(by, 0.0) for by in rates)
            moves[name] = 0.0 if abs(left) < _NONE_MM else left
    return moves


def going_along(along: Along, free: Iterable[str]) -> Along:
    """What really goes along: with adjusters that are free."""
    chosen = set(free)
    going = {name: {by: per for by, per in rates.items() if by in chosen} for name, rates in along.items()}
    return {name: rates for name, rates in going.items() if rates}


def along_text(along: Along) -> str:
    """What goes along with what, and how far, in words; empty for nothing."""
    parts = []
    for name, rates in along.items():
        paces = ", ".join(f"{per:+.4f} per {SETTINGS[by]['units']} of {by}" for by, per in rates.items())
        if paces:
            parts.append(f"{name} by {paces}")
    return "; ".join(parts)


def check_along(along: Along) -> Along:
    """Refuse names that are no settings."""
    for name, rates in along.items():
        for one in (name, *rates):
            if one not in SETTINGS:
                raise unknown("along", one, SETTINGS)
    return along


def corner_of_side(car: Axle, side: str) -> Corner:
    """The corner of this side."""
    if side not in SIDES:
        raise InputError(f"side = {side!r} is not one of {', '.join(SIDES)}", name="side", value=side)
    return car.left if side == "left" else car.right


def _of_side(given: Any, side: str) -> Any:
    """What belongs to one side, where it is told per side."""
    if isinstance(given, Mapping) and set(given) == {"left", "right"}:
        return given[side]
    return given


def _wanted_of_side(want: Any, side: str) -> Any:
    """Wanted readings, arrays that run along ``side`` at that side."""

    def here(value: Any) -> Any:
        return value.sel(side=side, drop=True) if isinstance(value, xr.DataArray) and "side" in value.coords else value

    if isinstance(want, Mapping):
        return {name: here(value) for name, value in want.items()}
    return [replace(one, value=here(one.value)) if isinstance(one, Want) else one for one in want]


class Problem:
    """What is asked of a planner, with every default worked in."""

    def __init__(
        self,
        corner: Corner,
        *,
        want: Any,
        free: Any,
        start: Mapping[str, float] | None,
        motion: tuple[float, ...],
        travel_at: TravelAt,
        tie_rod: TieRod | None,
        limits: Mapping[str, float | None],
        efforts: Mapping[str, float] | None,
        along: Along,
        source: str,
    ) -> None:
        if travel_at not in TRAVEL_AT:
            raise unknown("travel_at", travel_at, TRAVEL_AT)
        if tie_rod not in (None, "puts_toe_back", "untouched"):
            raise unknown("tie_rod", tie_rod, ("puts_toe_back", "untouched"))
        self.corner = corner
        self.motion = motion
        self.travel_at: TravelAt = travel_at
        self.start = dict.fromkeys(SETTINGS, 0.0)
        for name, value in (start or {}).items():
            if name not in SETTINGS:
                raise unknown("start", name, SETTINGS)
            self.start[name] = one_number("start", name, value)
        wants = _wants(want, motion)
        given = spans_of(free)
        wants_toe = any(wanted.reading == "toe" for wanted in wants)
        self.tie_rod: str = "untouched"
        if "tie_rod" in given:
            if tie_rod == "untouched":
                message = 'tie_rod is among the free adjusters, but tie_rod="untouched" holds it'
                raise InputError(message, name="tie_rod", value=tie_rod)
            self.tie_rod = "puts_toe_back" if wants_toe else "free"
        elif tie_rod == "puts_toe_back" or (tie_rod is None and wants_toe):
            # Where nothing else is wanted or free, the complaint must not be of the tie rod.
            if wants and given:
                given["tie_rod"] = None
                self.tie_rod = "puts_toe_back"
        if tie_rod == "puts_toe_back" and not wants_toe and wants:
            inputs: dict[str, Any] = {**self.start, **dict(zip(MOTIONS, motion, strict=True)), "travel_at": travel_at}
            now = corner.solve(**inputs)
            wants = (*wants, Want("toe", now.toe, *motion))
        if self.tie_rod == "puts_toe_back":
            wants = tuple(
                replace(one, accuracy=_TOE_ACCURACY) if one.reading == "toe" and one.accuracy is None else one
                for one in wants
            )
        self.wants = wants
        self.free = list(given)
        self.limits: dict[str, tuple[float, float]] = {}
        self.limits_from: dict[str, str] = {}
        for name, span in given.items():
            known = limits.get(name)
            if span is not None:
                self.limits[name], self.limits_from[name] = span_of(name, span), "given"
            elif known is not None:
                self.limits[name], self.limits_from[name] = span_of(name, known), source
            else:
                self.limits[name], self.limits_from[name] = (-math.inf, math.inf), "none stated"
        self.along = _followers(along, self.free)
        self.efforts = dict(efforts or {})
        for name in self.efforts:
            if name not in SETTINGS:
                raise unknown("efforts", name, SETTINGS)

    @classmethod
    def of_corner(
        cls, corner: Corner, *, limits: Mapping[str, float | None] | None, along: Along | None, **asked: Any
    ) -> Problem:
        """What is asked of a corner by itself: it knows no limits, and nothing that goes along."""
        return cls(corner, limits=limits or {}, along=along or {}, source="given", **asked)

    @classmethod
    def of_side(
        cls,
        car: Axle,
        side: str,
        *,
        limits: Mapping[str, float | None] | None,
        along: Along | None,
        **asked: Any,
    ) -> Problem:
        """What is asked of one side of a car, which knows limits and what goes along."""
        for name in ("want", "free", "start"):
            asked[name] = _of_side(asked[name], side)
        asked["want"] = _wanted_of_side(asked["want"], side)
        return cls(
            corner_of_side(car, side),
            limits=limits_of(car) if limits is None else limits,
            along=along_of(car) if along is None else along,
            source="car file" if limits is None else "given",
            **asked,
        )

    def solve(self, values: npt.NDArray[np.float64], threads: int) -> dict[str, npt.NDArray[Any]]:
        """A plan for each row of values."""
        return plan_grid(
            self.corner,
            list(self.start.values()),
            self.travel_at,
            [(want.reading, want.motion, want.accuracy) for want in self.wants],
            [(name, *self.limits[name], self.efforts.get(name)) for name in self.free],
            [(name, by, per) for name, rates in self.along.items() for by, per in rates.items()],
            values,
            threads,
        )


def _wants(want: Any, motion: tuple[float, ...]) -> tuple[Want, ...]:
    if isinstance(want, Mapping):
        wants = [Want(str(name), value, *motion) for name, value in want.items()]
    else:
        wants = list(want)
        for one in wants:
            if not isinstance(one, Want):
                raise TypeError(f"want takes a mapping of readings or a sequence of Want, not {type(one).__name__}")
    for one in wants:
        if one.reading not in READINGS:
            raise unknown("want", one.reading, READINGS)
        for name, value in zip(MOTIONS, one.motion, strict=True):
            one_number("want", name, value)
    return tuple(wants)


def _followers(along: Along, free: Iterable[str]) -> dict[str, dict[str, float]]:
    """What goes along with the adjusters that are free; of a setting that is free itself, whatever it goes along with."""
    check_along(along)
    chosen = set(free)
    followers = {
        name: {by: float(per) for by, per in rates.items() if by in chosen or name in chosen}
        for name, rates in along.items()
    }
    return {name: rates for name, rates in followers.items() if rates}


def spans_of(free: Any) -> dict[str, Any]:
    """Free adjusters, and the limit of each that is given."""
    if isinstance(free, str):
        free = [free]
    spans = dict(free) if isinstance(free, Mapping) else None
    if spans is None:
        names = list(free)
        if len(set(names)) != len(names):
            twice = next(name for name in names if names.count(name) > 1)
            raise InputError(f"{twice} is free twice", name="free", value=twice)
        spans = dict.fromkeys(names)
    for name in spans:
        if name not in SETTINGS:
            raise unknown("free", name, SETTINGS)
    return spans


def span_of(name: str, span: Any) -> tuple[float, float]:
    """Least and most of a limit."""
    try:
        pair = [float(part) for part in span] if np.ndim(span) else [-float(span), float(span)]
    except (TypeError, ValueError):
        pair = []
    if len(pair) != 2 or any(math.isnan(part) for part in pair):
        message = f"the limit of {name} is {span!r}: give a number, a pair (least, most) or None"
        raise InputError(message, name=name, value=span)
    return pair[0], pair[1]
