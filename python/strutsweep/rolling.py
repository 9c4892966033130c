"""What roll does to each wheel, per degree: camber to the ground and to the body, and steer."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import xarray as xr

from strutsweep._core import Axle
from strutsweep._within import check_car
from strutsweep.errors import InputError
from strutsweep.sweeping import sweep
from strutsweep.words import SETTINGS, attributes

__all__ = ["roll_rates"]

_STEP_DEG: Final = 2e-3
"""Half the step of the central differences: what they leave is below 1e-7 of a rate, round-off below 1e-9."""

_RATES: Final[dict[str, tuple[str, str, str]]] = {
    "camber_per_roll": ("camber", "camber to the ground per roll", "camber grows as the body leans to the right"),
    "camber_to_body_per_roll": (
        "camber_to_body",
        "camber to the body per roll",
        "camber to the body grows as the body leans to the right",
    ),
    "roll_steer": ("wheel_steer", "roll steer", "the wheel steers to the left as the body leans to the right"),
    "track_per_roll": (
        "half_track",
        "scrub of the contact centre per roll",
        "half track grows as the body leans to the right",
    ),
}


def roll_rates(car: Axle, *, roll: float = 0.0, **inputs: Any) -> xr.Dataset:
    """Camber per roll, roll steer and the contact centre's scrub per roll, of both wheels.

    Each rate is the change per degree of roll toward the right (ISO 8855: positive roll leans the body to the right),
    with what ``travel_at`` says held: by default both wheels stay on the level ground and the body keeps its height at
    the centre line.

    Parameters
    ----------
    car : Axle
    roll : float
        Roll of the body about which the rates are taken, in deg.
    **inputs : number or array
        Settings, travel and rack, as `strutsweep.sweep` takes them.

    Returns
    -------
    xarray.Dataset
        Along ``side`` and the dimensions of the inputs: ``camber_per_roll``, ``camber_to_body_per_roll`` and
        ``roll_steer`` (deg/deg) and ``track_per_roll`` (mm/deg), by central differences; NaN where a pose is out of
        reach. Of a level symmetric axle the two wheels' camber rates are opposite: the outer wheel's is the right
        one's.

    Raises
    ------
    InputError
        As `strutsweep.sweep`; and a roll that is an array.

    Examples
    --------
    >>> import strutsweep as ss
    >>> rates = ss.roll_rates(ss.demo("gravel_hatch"))
    >>> round(float(rates.camber_per_roll.sel(side="right")), 3)
    0.79
    """
    check_car("roll_rates", car)
    if np.ndim(roll) != 0:
        raise InputError("roll: rates are taken about one roll; sweep for a curve", name="roll", value=roll)
    known = (*SETTINGS, "travel", "rack", "travel_at")
    for name, value in inputs.items():
        if name not in known:
            raise InputError(f"there is no input {name!r} here; known: {', '.join(known)}", name=name, value=value)
    readings = list(dict.fromkeys(reading for reading, *_ in _RATES.values()))
    low, high = (sweep(car, roll=roll + step, readings=readings, **inputs) for step in (-_STEP_DEG, _STEP_DEG))
    rates = {}
    for name, (reading, long_name, positive) in _RATES.items():
        units = "mm/deg" if reading == "half_track" else "deg/deg"
        slope = (high[reading].variable - low[reading].variable) / (2.0 * _STEP_DEG)
        rates[name] = (slope.dims, slope.values, {"units": units, "long_name": long_name, "positive": positive})
    coords = {name: coord for name, coord in low.coords.items() if name != "roll"}
    return xr.Dataset(rates, coords, attrs={**low.attrs, "title": f"{car.name}, per degree of roll"}).assign_coords(
        roll=xr.DataArray(roll, attrs=attributes("roll"))
    )
