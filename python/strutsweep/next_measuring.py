"""Which measurement to make next: how much each of several possible ones would narrow a wanted reading."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import xarray as xr

from strutsweep._fit_problem import gauge_columns
from strutsweep._inputs import TravelAt
from strutsweep._poses import dataset_attributes
from strutsweep._printed import Table, figures, shown
from strutsweep.errors import InputError
from strutsweep.fitting import Fit
from strutsweep.measurements import Measurements, check_side
from strutsweep.words import READINGS

__all__ = ["next_measurements"]


def next_measurements(
    known: Fit, candidates: Measurements, reading: str, *, travel_at: TravelAt = "ground", **inputs: float
) -> Table:
    """Which measurement to make next: which of several narrows a wanted reading most.

    Parameters
    ----------
    known : Fit
        What is known so far; a fit to `Measurements.none` if that is only the priors.
    candidates : Measurements
        What could be measured, each curve by itself; its values do not matter, its accuracies do.
    reading : str
        The wanted reading.
    travel_at : {"ground", "hub", "strut"}
        Where its travel is measured.
    **inputs : float
        Its pose: fields of setting and motion.

    Returns
    -------
    Table
        The candidates, the most useful first, with the standard deviation of the wanted reading that each would leave.

    Raises
    ------
    InputError
        An unknown name, or no candidate.
    ReachError
        A pose is out of reach.

    Notes
    -----
    The update of a normal distribution by linear measurements, at the fitted corner: what a measurement will show does
    not matter to how much it will tell.

    Examples
    --------
    >>> import strutsweep as ss
    >>> before = ss.fit(ss.demo("gravel_hatch").left, ss.Measurements.none(), {"points": ss.normal(1.5)})
    >>> candidates = ss.Measurements.curve("toe", [0.0, 0.0, 0.0], 0.02, travel=[-40.0, 0.0, 40.0], name="bump steer")
    >>> candidates += ss.Measurements.curve("caster", 0.0, 0.1)
    >>> ss.next_measurements(before, candidates, "toe", travel=60.0).rows[0][0]
    'bump steer'
    """
    return narrowed_table(narrowed(known, candidates, reading, travel_at=travel_at, **inputs))


def narrowed(
    known: Fit, candidates: Measurements, reading: str, *, travel_at: TravelAt = "ground", **inputs: float
) -> xr.Dataset:
    """What `next_measurements` prints: ``left`` and ``numbers`` along ``candidate``, the most useful first, and
    ``now``."""
    if not isinstance(known, Fit):
        raise InputError("known: a Fit is wanted", name="known", value=known)
    if not isinstance(candidates, Measurements):
        raise InputError(f"candidates: {candidates!r} is no Measurements", name="candidates", value=candidates)
    check_side(candidates, known.start.side)
    if not len(candidates):
        raise InputError("candidates: there is none", name="candidates", value=0)
    for name, value in inputs.items():
        if np.ndim(value):
            raise InputError(f"{name}: one pose is wanted, not {np.size(value)}", name=name, value=value)
    pose: dict[str, Any] = dict(inputs)
    wanted = Measurements.curve(reading, 0.0, 1.0, travel_at=travel_at, **pose)
    problem, z = known._problem, known._at_solution()
    _, wanted_slopes = problem.computed(z, wanted)
    slope = wanted_slopes[0]
    covariance = known._covariance
    now = math.sqrt(float(slope @ covariance @ slope))
    rows = []
    for name in candidates.names:
        own = candidates.chosen(np.array([curve == name for curve in candidates.curves]))
        _, slopes = problem.computed(z, own)
        weighted = slopes / own.accuracy[:, None]
        if any(own.zeroed):
            basis, _ = np.linalg.qr(gauge_columns(own) / own.accuracy[:, None])
            weighted = weighted - basis @ (basis.T @ weighted)
        crossed = weighted @ covariance
        gained = crossed @ slope
        together = np.eye(len(own)) + crossed @ weighted.T
        left = max(0.0, now**2 - float(gained @ np.linalg.solve(together, gained)))
        rows.append((math.sqrt(left), name, len(own)))
    rows.sort(key=lambda row: row[0])
    return xr.Dataset(
        {
            "left": ("candidate", [left for left, *_ in rows], {"long_name": "standard deviation that it would leave"}),
            "numbers": ("candidate", [count for *_, count in rows], {"long_name": "how many numbers it is"}),
            "now": ((), now, {"long_name": "standard deviation now"}),
        },
        {"candidate": [name for _, name, _ in rows], "reading": reading},
        dataset_attributes(known.corner, travel_at, "what to measure next") | {"wanted": wanted.described(0)},
    )


def narrowed_table(found: xr.Dataset) -> Table:
    """The same in print."""
    units, factor = shown(READINGS[str(found.reading.item())]["units"])
    in_units = "" if units == "-" else f" {units}"
    now = float(found.now)
    table = [
        (
            str(name),
            str(int(found.numbers[place])),
            figures(factor * float(found.left[place])),
            f"{100.0 * (1.0 - float(found.left[place]) / now) if now else 0.0:.1f}",
        )
        for place, name in enumerate(found.candidate.values)
    ]
    what = found.attrs["wanted"]
    note = f"One standard deviation of {what} now: {figures(factor * now)}{in_units}."
    heads = ("candidate", "numbers", f"leaves{in_units}", "narrower by %")
    return Table.of(f"What to measure next to know {what}", heads, table, (note,))
