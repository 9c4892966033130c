"""Ranges of one input: from, to, and how finely."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import typer

from strutsweep._core import Axle
from strutsweep.errors import InputError

__all__ = ["MOST_POSES", "Limit", "Range", "beyond", "check_size", "limits_of", "range_option"]

MOST_POSES: Final = 10_000_000
"""A terminal's user who asks for more has mistyped a step; a program can sweep what fits in memory."""

# A step that was typed in decimals does not divide its range exactly: an end this near counts as met.
_STEP_SLACK: Final = 1e-9


def range_option(flag: str, metavar: str, text: str) -> Any:
    """An option that bounds or divides a range, without a default of its own."""
    return typer.Option(flag, metavar=metavar, show_default=False, rich_help_panel="Range", help=text)


@dataclass(frozen=True)
class Limit:
    """How far the car file lets an input go one way.

    Attributes
    ----------
    field : str
        The field of the car file, such as ``"limits.bump"``.
    value : float or None
        What it says, mm, or None where it says nothing.
    otherwise : float
        What is taken then, mm.
    """

    field: str
    value: float | None
    otherwise: float

    @property
    def taken(self) -> float:
        """The end of the range unless the user gives one, mm."""
        return self.otherwise if self.value is None else self.value


# Per input the fields of a car file that bound it, toward negative and toward positive values, and what is taken, mm,
# where the car file is silent.
_LIMITS: Final = {
    "travel": ("limits.droop", "limits.bump", 60.0),
    "rack": ("rack.stroke", "rack.stroke", 50.0),
    "mount_in": ("limits.mount_in", "limits.mount_in", 20.0),
    "mount_back": ("limits.mount_back", "limits.mount_back", 10.0),
}


def limits_of(car: Axle, name: str) -> tuple[Limit, Limit]:
    """How far a car lets an input go, toward negative and toward positive values.

    Examples
    --------
    >>> import strutsweep as ss
    >>> low, high = limits_of(ss.demo("gravel_hatch"), "travel")
    >>> low.field, low.value, high.value
    ('limits.droop', 90.0, 80.0)
    """
    tables: dict[str, Mapping[str, Any]] = {"limits": car.limits, "rack": car.rack}
    low, high, otherwise = _LIMITS[name]

    def limit(field: str) -> Limit:
        table, key = field.split(".")
        return Limit(field, tables[table][key], otherwise)

    return limit(low), limit(high)


def beyond(car: Axle, inputs: Mapping[str, float]) -> list[str]:
    """Which inputs go beyond the limits of the car file, in sentences."""
    return [
        _beyond(name, value, limit)
        for name, value in inputs.items()
        if name in _LIMITS
        for limit, amount in zip(limits_of(car, name), (-value, value), strict=True)
        if limit.value is not None and amount > limit.value
    ]


def _beyond(name: str, value: float, limit: Limit) -> str:
    shown = name.replace("_", "-").capitalize()
    return f"{shown} {value:+g} mm goes beyond {limit.field} = {limit.value:g} mm of the car file."


@dataclass(frozen=True)
class Range:
    """Values of one input between two ends.

    Attributes
    ----------
    name : str
        The input.
    low, high : Limit
        How far the car lets it go, toward negative and toward positive values.
    start, stop : float or None
        Ends that the user gave, mm.
    step : float or None
        Distance of neighbours that the user gave, mm.
    steps : int or None
        Number of equal steps that the user gave.
    usual_step : float
        Step unless the user gives one, mm.
    """

    name: str
    low: Limit
    high: Limit
    start: float | None
    stop: float | None
    step: float | None
    steps: int | None
    usual_step: float

    @property
    def ends(self) -> tuple[float, float]:
        """First and last value wanted, mm."""
        start = -self.low.taken if self.start is None else self.start
        stop = self.high.taken if self.stop is None else self.stop
        for end in (start, stop):
            if not math.isfinite(end):
                raise InputError(
                    f"{self.name} from {start:g} to {stop:g} mm: an end is not finite", name=self.name, value=end
                )
        if start > stop:
            raise InputError(
                f"{self.name} from {start:g} to {stop:g} mm: the range begins above its end",
                name=self.name,
                value=start,
            )
        return start, stop

    def values(self) -> npt.NDArray[np.float64]:
        """The values, mm, ascending.

        With a step they begin at the start and stop short of the end if it does not fit; with a number of steps both
        ends are met; with neither they are the multiples of the usual step, and both ends.
        """
        start, stop = self.ends
        if self.step is not None and self.steps is not None:
            raise typer.BadParameter(
                f"a step of {self.step:g} mm and {self.steps} steps for {self.name}: give one of the two"
            )
        if self.steps is not None:
            if self.steps < 1:
                raise InputError(f"{self.name}: {self.steps} steps are less than 1", name=self.name, value=self.steps)
            check_size(self.steps + 1)
            return _clean(np.linspace(start, stop, self.steps + 1))
        if self.step is not None:
            if not (math.isfinite(self.step) and self.step > 0.0):
                raise InputError(
                    f"{self.name}: the step {self.step:g} mm is not above 0 mm", name=self.name, value=self.step
                )
            whole = (stop - start) / self.step + _STEP_SLACK
            check_size(whole + 1)
            return _clean(start + self.step * np.arange(math.floor(whole) + 1))
        first, last = math.ceil(start / self.usual_step), math.floor(stop / self.usual_step)
        check_size(last - first + 3)
        return np.unique(_clean(np.array([start, *(self.usual_step * i for i in range(first, last + 1)), stop])))

    def finer(self, count: int) -> npt.NDArray[np.float64]:
        """At least this many values over the same range, mm, among them those of `values`: for a smooth plot."""
        values = self.values()
        return np.union1d(values, _clean(np.linspace(values[0], values[-1], count)))

    def assumed(self) -> list[str]:
        """Ends that neither the user nor the car file gave, in words."""
        missing = [(self.start, self.low, "-"), (self.stop, self.high, "")]
        return [
            f"The car file has no {limit.field}: {sign}{limit.otherwise:g} mm is taken."
            for given, limit, sign in missing
            if given is None and limit.value is None
        ]

    def beyond(self) -> list[str]:
        """Limits of the car file that the range goes beyond, in words."""
        values = self.values()
        ends = [(values[0], -values[0], self.low), (values[-1], values[-1], self.high)]
        return [
            _beyond(self.name, end, limit)
            for end, amount, limit in ends
            if limit.value is not None and amount > limit.value
        ]


def check_size(poses: float) -> None:
    """Refuse what is more than a terminal's user can want."""
    if poses > MOST_POSES:
        raise InputError(f"{poses:.3g} poses are more than {MOST_POSES}: take larger steps", name="step", value=poses)


def _clean(values: npt.NDArray[np.floating[Any]]) -> npt.NDArray[np.float64]:
    """Values as they would be typed: 0.3, not 0.30000000000000004, and no negative zero."""
    return np.asarray(np.round(values, 9) + 0.0, dtype=np.float64)
