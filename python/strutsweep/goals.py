"""Goals and limits of a search: one number made of a reading in one pose or in several."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal, TypeAlias

import numpy as np
import numpy.typing as npt

from strutsweep._inputs import TravelAt, Values, unknown
from strutsweep._poses import PoseGrid
from strutsweep._printed import shown
from strutsweep.errors import InputError
from strutsweep.words import READINGS, attributes

__all__ = ["Limit", "Quantity"]

Over: TypeAlias = Literal["value", "range", "largest", "smallest", "magnitude"]
Aim: TypeAlias = "Literal['least', 'most'] | float"

OVER: Final = {
    "value": "",
    "range": "range of ",
    "largest": "largest ",
    "smallest": "smallest ",
    "magnitude": "largest magnitude of ",
}
"""How one number is made of a reading in several poses."""


@dataclass(frozen=True)
class Quantity:
    """One number made of a reading: its value in a pose, or its range, largest, smallest or magnitude over several.

    Attributes
    ----------
    reading : str
        Any reading or rate.
    over : {"value", "range", "largest", "smallest", "magnitude"}
        How the poses make one number; ``"value"`` wants one pose, ``"magnitude"`` is the largest absolute value.
    inputs : mapping of str to number or array
        The poses: settings and motions, as `strutsweep.sweep` takes them.
    travel_at : {"ground", "hub", "strut"}

    Raises
    ------
    InputError
        An unknown name, or several poses for a value.

    Examples
    --------
    >>> import numpy as np, strutsweep as ss
    >>> ss.Quantity("toe", "range", {"travel": np.linspace(-60, 60, 25)}).words
    'range of toe over travel -60 to 60 mm'
    """

    reading: str
    over: Over = "value"
    inputs: Mapping[str, Values] = field(default_factory=dict)
    travel_at: TravelAt = "ground"

    def __post_init__(self) -> None:
        if self.reading not in READINGS:
            raise unknown("reading", self.reading, READINGS)
        if self.over not in OVER:
            raise unknown("over", self.over, OVER)
        poses = len(self.grid.rows)
        if self.over == "value" and poses > 1:
            known = ", ".join(repr(name) for name in OVER if name != "value")
            raise InputError(
                f"over: {self.reading} has {poses} poses and no value: choose {known}", name="over", value=self.over
            )

    @property
    def grid(self) -> PoseGrid:
        """Its poses."""
        return PoseGrid.of(self.inputs, self.travel_at)

    @property
    def units(self) -> str:
        """The unit of the reading."""
        return str(READINGS[self.reading]["units"])

    @property
    def words(self) -> str:
        """It in words."""
        told = []
        for name, values in self.inputs.items():
            numbers = np.asarray(values, dtype=np.float64)
            unit = attributes(name)["units"]
            if numbers.size == 1:
                told.append(f"at {name} {float(numbers.ravel()[0]):g} {unit}")
            else:
                told.append(f"over {name} {numbers.min():g} to {numbers.max():g} {unit}")
        return " ".join([f"{OVER[self.over]}{self.reading}", *told])

    def of(self, readings: npt.NDArray[np.float64]) -> float:
        """The number that these readings make.

        Parameters
        ----------
        readings : array
            The reading in each pose, in its unit.

        Returns
        -------
        float

        Examples
        --------
        >>> import numpy as np, strutsweep as ss
        >>> ss.Quantity("toe", "range", {"travel": [-10.0, 10.0]}).of(np.array([-0.1, 0.3]))
        0.4
        """
        if self.over == "range":
            return float(readings.max() - readings.min())
        if self.over == "smallest":
            return float(readings.min())
        return float(np.abs(readings).max() if self.over == "magnitude" else readings.max())


@dataclass(frozen=True)
class Limit:
    """A quantity that must stay within limits.

    Attributes
    ----------
    quantity : Quantity
    low, high : float or None
        In its unit; None for no limit that way. A range, a largest value and a magnitude take an upper limit only, a
        smallest value a lower one.

    Raises
    ------
    InputError
        No limit at all, limits upside down, or one that a search cannot keep.

    Examples
    --------
    >>> import strutsweep as ss
    >>> ss.Limit(ss.Quantity("scrub_radius"), -5.0, 15.0).words
    'scrub_radius from -5 to 15 mm'
    """

    quantity: Quantity
    low: float | None = None
    high: float | None = None

    def __post_init__(self) -> None:
        if not isinstance(self.quantity, Quantity):
            raise InputError(f"quantity: {self.quantity!r} is no Quantity", name="quantity", value=self.quantity)
        words = self.quantity.words
        ends = [end for end in (self.low, self.high) if end is not None]
        if not ends or not all(
            isinstance(end, (int, float)) and not isinstance(end, bool) and math.isfinite(end) for end in ends
        ):
            raise InputError(f"limit of {words}: give a finite low or high", name="limit", value=ends)
        if self.low is not None and self.high is not None and self.low > self.high:
            raise InputError(
                f"limit of {words}: {self.low:g} to {self.high:g} {self.quantity.units} is upside down",
                name="limit",
                value=(self.low, self.high),
                unit=self.quantity.units,
            )
        if self.low is not None and self.quantity.over in ("range", "largest", "magnitude"):
            raise InputError(f"limit of {words}: it takes an upper limit only", name="limit", value=self.low)
        if self.high is not None and self.quantity.over == "smallest":
            raise InputError(f"limit of {words}: it takes a lower limit only", name="limit", value=self.high)

    @property
    def words(self) -> str:
        """It in words."""
        return f"{self.quantity.words} {self.ends}"

    @property
    def ends(self) -> str:
        """Its ends in words, in the unit that tables show."""
        unit, factor = shown(self.quantity.units)
        units = "" if unit == "-" else f" {unit}"
        if self.low is None:
            assert self.high is not None
            return f"at most {factor * self.high:g}{units}"
        if self.high is None:
            return f"at least {factor * self.low:g}{units}"
        return f"from {factor * self.low:g} to {factor * self.high:g}{units}"

    def missed(self, value: float) -> float:
        """By how much a value misses it; zero if it does not.

        Parameters
        ----------
        value : float
            In the unit of the quantity.

        Returns
        -------
        float

        Examples
        --------
        >>> import strutsweep as ss
        >>> ss.Limit(ss.Quantity("scrub_radius"), -5.0, 15.0).missed(17.0)
        2.0
        """
        below = 0.0 if self.low is None else self.low - value
        above = 0.0 if self.high is None else value - self.high
        return max(0.0, below, above)
