"""Arguments that are one number: refused by name, with value, limit and unit, before anything is computed with them."""

from __future__ import annotations

import math
from typing import Final

from strutsweep.errors import InputError
from strutsweep.sweeping import _numbers

__all__ = ["MOST_MM", "above_zero", "finite", "within"]

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


def _one(name: str, value: object, unit: str) -> float:
    """One number, finite or not."""
    if isinstance(value, float):
        return float(value)
    number = _numbers(name, value)
    if number.ndim:
        raise InputError(f"{name} is one number in {unit}, not an array", name=name, value=value, unit=unit)
    return float(number)
