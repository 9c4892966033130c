"""Arguments that are one number: refused by name, with value, limit and unit, before anything is computed with them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from strutsweep._core import Axle, Corner
from strutsweep._inputs import check_corner, numbers_of
from strutsweep.errors import InputError
from strutsweep.words import MOTIONS, SETTINGS

__all__ = [
    "MOST_MM",
    "above_zero",
    "check_car",
    "check_corner",
    "check_inputs",
    "corner_of",
    "finite",
    "mapping_of",
    "one_number",
    "row",
    "whole_number",
    "within",
]

MOST_MM: Final = 20_000.0
"""No length of a car is longer: the engine's own limit."""


def finite(name: str, value: object, unit: str) -> float:
    """One finite number."""
    return within(name, value, unit, -math.inf, math.inf)


def within(name: str, value: object, unit: str, low: float, high: float) -> float:
    """One finite number between two limits, or at one."""
    number = _one(name, value, unit)
    if math.isfinite(number) and low <= number <= high:
        return number
    bounded = math.isfinite(low) or math.isfinite(high)
    wrong = f"not between {low:g} and {high:g} {unit}" if bounded else "not a finite number"
    limit = (low if number < low else high) if bounded else None
    raise InputError(f"{name} = {number:g} {unit} is {wrong}", name=name, value=number, limit=limit, unit=unit)


def above_zero(name: str, value: object, unit: str, high: float = MOST_MM) -> float:
    """One number above zero, and not above a limit."""
    number = _one(name, value, unit)
    if 0.0 < number <= high:
        return number
    message = f"{name} = {number:g} {unit} is not above 0 and at most {high:g} {unit}"
    raise InputError(message, name=name, value=number, limit=0.0 if number <= 0.0 else high, unit=unit)


def one_number(name: str, value: object) -> float:
    """One number, finite or not, or a complaint.

    Raises
    ------
    InputError
        It is none.
    """
    if isinstance(value, (bool, np.bool_)) or not isinstance(value, (int, float, np.integer, np.floating)):
        raise InputError(f"{name}: {value!r} is not a number", name=name, value=value)
    return float(value)


def whole_number(name: str, value: object, least: int) -> int:
    """A whole number of at least so much, or a complaint.

    Raises
    ------
    InputError
        It is none.
    """
    if isinstance(value, (bool, np.bool_)) or not isinstance(value, (int, np.integer)) or value < least:
        raise InputError(
            f"{name} = {value!r} is not a whole number of at least {least}", name=name, value=value, limit=least
        )
    return int(value)


def row(name: str, value: object) -> npt.NDArray[np.float64]:
    """Finite numbers in a row; one number is a row of one."""
    numbers = np.atleast_1d(numbers_of(name, value))
    if numbers.ndim != 1:
        message = f"{name}: a row of numbers is asked for, not an array of {numbers.ndim} dimensions"
        raise InputError(message, name=name, value=value)
    return numbers


def mapping_of(name: str, given: object) -> Mapping[Any, Any]:
    """A mapping, or a complaint.

    Raises
    ------
    InputError
        It is none.
    """
    if not isinstance(given, Mapping):
        raise InputError(f"{name}: {given!r} is no mapping of names", name=name, value=given)
    return given


def check_car(verb: str, car: object) -> None:
    """Refuse what is not a whole car."""
    if isinstance(car, Corner):
        message = f"{verb} takes the whole car: give the Axle, or Axle.from_corners(corner)"
        raise InputError(message, name="car", value=car)
    if not isinstance(car, Axle):
        raise TypeError(f"{verb} takes an Axle, not {type(car).__name__}")


def check_inputs(inputs: Mapping[str, object], known: Mapping[str, Mapping[str, Any]] | None = None) -> None:
    """Refuse settings and motions that are not known, or not one finite number each."""
    known = {**SETTINGS, **MOTIONS} if known is None else known
    for name, value in inputs.items():
        if name not in known:
            raise InputError(f"there is no input {name!r} here; known: {', '.join(known)}", name=name, value=value)
        finite(name, value, known[name]["units"])


def corner_of(car: Axle, side: str) -> Corner:
    """The corner of a side that is named."""
    if side not in ("left", "right"):
        raise InputError(f"side: there is no {side!r}; known: left, right", name="side", value=side)
    return car.left if side == "left" else car.right


def _one(name: str, value: object, unit: str) -> float:
    """One number, finite or not."""
    if isinstance(value, float):
        return float(value)
    number = numbers_of(name, value)
    if number.ndim:
        raise InputError(f"{name} is one number in {unit}, not an array", name=name, value=value, unit=unit)
    return float(number)
