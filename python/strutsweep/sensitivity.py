"""Sensitivities: how much each reading changes with each dimension, and which dimension to measure with the good
tool."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep._core import Corner
from strutsweep._inputs import TravelAt, Values
from strutsweep._poses import PoseGrid, check_corner, checked_readings, dataset_attributes, readings_and_slopes
from strutsweep._printed import ROUND_OFF, Table, figures, shown
from strutsweep.dimensions import dimensions, expanded, unit_of
from strutsweep.errors import InputError
from strutsweep.scattering import Scatter, Tolerances, scatter
from strutsweep.words import MOTIONS, READINGS

__all__ = ["Sensitivities", "sensitivities"]


@dataclass(frozen=True, repr=False)
class Sensitivities:
    """Exact slopes of readings in dimensions, and what each dimension's scatter does to each reading.

    Attributes
    ----------
    data : xarray.Dataset
        ``value`` of each reading; ``slope`` along ``dimension``, in the reading's unit per mm or deg of the dimension;
        and, where tolerances were given, along ``source``: ``effect``, the standard deviation that a source alone gives
        a reading, with the sign of its slope; ``share`` of the reading's variance, which sums to one;
        ``left_if_known``, the standard deviation that is left once the source is known exactly; ``source_correlation``;
        and ``standard_deviation``, of all sources together.
    """

    data: xr.Dataset

    def ranked(self, reading: str | None = None, *, most: int = 12, at: Mapping[str, Any] | None = None) -> Table:
        """What matters most, first: which dimension to measure with the good tool.

        Parameters
        ----------
        reading : str, optional
            The reading; unless given, each source's largest share among all readings counts.
        most : int
            How many rows.
        at : mapping, optional
            The pose, where there are several: ``at={"travel": 40}``. The nearest one is taken.

        Returns
        -------
        Table
            Prints as text, and as a table in a notebook. With tolerances: the standard deviation that each gives, its
            share of the variance, and what the whole would fall to if this one were known exactly; the first row is the
            one that would make it fall farthest. Without: slopes.

        Raises
        ------
        InputError
            The reading was not computed, or several poses are left.

        Examples
        --------
        >>> import strutsweep as ss
        >>> found = ss.sensitivities(ss.demo("gravel_hatch").left, {"points": 1.0}, readings="bump_steer")
        >>> found.ranked("bump_steer").rows[0][0]
        'tie_rod.inner.z'
        """
        data = one_pose(self.data, at)
        if reading is None:
            return self._overall(data, most)
        if reading not in data.reading.values:
            known = ", ".join(str(name) for name in data.reading.values)
            raise InputError(f"reading: {reading!r} was not computed; there are {known}", name="reading", value=reading)
        one = data.sel(reading=reading)
        units, factor = shown(READINGS[reading]["units"])
        title = f"{self.data.attrs['car']}, {self.data.attrs['side']} corner: what moves {reading}"
        if "share" not in data:
            order = np.argsort(-np.abs(one.slope.values), kind="stable")[:most]
            rows: list[tuple[str, ...]] = [
                (
                    str(one.dimension.values[i]),
                    _per(units, str(one.unit.values[i])),
                    _signed(factor * float(one.slope.values[i])),
                )
                for i in order
            ]
            return Table.of(title, ("dimension", "unit", "slope"), rows)
        whole = factor * float(one.standard_deviation)
        order = np.argsort(one.left_if_known.values, kind="stable")[:most]
        rows = [
            (
                str(one.source.values[i]),
                f"{figures(float(one.source_deviation.values[i]))} {one.source_unit.values[i]}",
                figures(factor * abs(float(one.effect.values[i]))),
                f"{100.0 * float(one.share.values[i]):.1f}",
                figures(factor * float(one.left_if_known.values[i])),
            )
            for i in order
        ]
        in_units = "" if units == "-" else f" {units}"
        heads = ("source", "its std dev", f"gives{in_units}", "share %", f"left if known{in_units}")
        note = f"All together: {figures(whole)}{in_units}, one standard deviation of {reading} (linear estimate)."
        if (one.source_correlation.values != np.eye(one.sizes["source"])).any():
            note += (
                " Some sources go together: to know one is to know something of the others, and a share below zero"
                " takes back what others give."
            )
        return Table.of(title, heads, rows, (note,))

    def _overall(self, data: xr.Dataset, most: int) -> Table:
        if "share" not in data:
            raise InputError("reading: without tolerances there is no ranking over all readings", name="reading")
        shares = data.share.values
        largest = shares.argmax(axis=0)
        order = np.argsort(-shares.max(axis=0), kind="stable")[:most]
        rows = [
            (
                str(data.source.values[i]),
                str(data.reading.values[largest[i]]),
                f"{100.0 * shares[largest[i], i]:.1f}",
                f"{100.0 * shares[:, i].mean():.1f}",
            )
            for i in order
        ]
        title = f"{self.data.attrs['car']}, {self.data.attrs['side']} corner: what to measure with the good tool"
        return Table.of(title, ("source", "matters most to", "share % of it", "mean share %"), rows)

    def __repr__(self) -> str:
        words = f"{self.data.sizes['reading']} readings in {self.data.sizes['dimension']} dimensions"
        return f"Sensitivities({self.data.attrs['car']!r}, {self.data.attrs['side']}, {words})"

    def _repr_html_(self) -> str:
        return self.data._repr_html_()


def _signed(value: float) -> str:
    return f"{'-' if value < 0.0 else '+'}{figures(abs(value))}"


def _per(units: str, unit: str) -> str:
    return f"{units} per {unit}" if units != "-" else f"per {unit}"


def one_pose(data: xr.Dataset, at: Mapping[str, Any] | None) -> xr.Dataset:
    """One pose of a dataset that may have several.

    Raises
    ------
    InputError
        A name that does not vary, or several poses are left.
    """
    for name, value in (at or {}).items():
        if name not in data.dims:
            raise InputError(f"at: {name!r} does not vary", name="at", value=name)
        try:
            data = data.sel({name: value}, method="nearest")
        except (KeyError, TypeError, ValueError):
            raise InputError(f"at: {name} = {value!r} cannot be looked up", name="at", value=value) from None
    own = ("reading", "dimension", "source", "other_source", "percentile", "bin")
    left = [str(dim) for dim in data.dims if dim not in own]
    if left:
        raise InputError(f"at: there are several poses along {', '.join(left)}: choose one", name="at", value=left)
    return data


def sensitivities(
    corner: Corner,
    tolerances: Tolerances | None = None,
    *,
    readings: str | Sequence[str] = tuple(READINGS),
    parameters: Sequence[str] | None = None,
    correlation: Mapping[tuple[str, str], float] | xr.DataArray | None = None,
    travel_at: TravelAt = "ground",
    **inputs: Values,
) -> Sensitivities:
    """How much readings and rates change with every dimension and setting: exact derivatives, not differences.

    Parameters
    ----------
    corner : Corner
        ``car.left`` or ``car.right``.
    tolerances : mapping or iterable of Source, optional
        What scatters and how, as `strutsweep.scatter` takes it. With it come effects and shares.
    readings : str or sequence of str
        Which readings; all of them unless given.
    parameters : sequence of str, optional
        Which dimensions: names as `strutsweep.scatter` takes them, and motions. All dimensions unless given.
    correlation : mapping or DataArray, optional
        How sources go together, as `strutsweep.scatter` takes it.
    travel_at : {"ground", "hub", "strut"}
        Where travel is measured, and so what is held.
    **inputs : number or array
        Settings and motions, as `strutsweep.sweep` takes them: the poses at which slopes are taken.

    Returns
    -------
    Sensitivities

    Raises
    ------
    InputError
        An unknown name, a tolerance that is not above zero, a matrix that is no correlation.
    ReachError
        A pose is out of reach.

    Notes
    -----
    Derivatives are those of `Corner.derivatives`: dual numbers of several directions through the formulas of the pose,
    the arm's angle by the theorem of implicit functions. Camber and toe at design are dimensions of their own
    (``"wheel.camber"``, ``"wheel.toe"``): when a point moves they stay what they were measured to be.

    Examples
    --------
    >>> import strutsweep as ss
    >>> corner = ss.demo("gravel_hatch").left
    >>> found = ss.sensitivities(corner, readings=["camber", "toe"], mount_in=10.0)
    >>> round(float(found.data.slope.sel(reading="camber", dimension="mount_in")), 3)
    -0.084
    """
    check_corner("sensitivities", corner)
    names = checked_readings(readings)
    grid = PoseGrid.of(inputs, travel_at)
    varied = None if tolerances is None else scatter(corner, tolerances, correlation=correlation)
    if parameters is None:
        wanted = dimensions(corner)
    else:
        wanted = list(
            dict.fromkeys(
                found
                for name in parameters
                for found in ([name] if name in MOTIONS else expanded(corner, name, "parameters"))
            )
        )
    every = list(dict.fromkeys([*wanted, *(varied.parameters if varied else ())]))
    found = readings_and_slopes(corner, grid.rows, travel_at, names, every)
    dims = grid.dims
    value = np.moveaxis(found.readings.reshape(*grid.shape, len(names)), -1, 0)
    slope = np.moveaxis(found.slopes.reshape(*grid.shape, len(names), len(every)), -2, 0)
    variables: dict[str, Any] = {
        "value": (("reading", *dims), value, {"long_name": "reading", "comment": "in reading_units"}),
        "slope": (
            ("reading", *dims, "dimension"),
            slope[..., : len(wanted)],
            {"long_name": "slope of the reading", "comment": "in reading_units per unit of the dimension"},
        ),
    }
    coords: dict[str, Any] = {
        **grid.coordinates(),
        "reading": names,
        "reading_units": ("reading", [READINGS[name]["units"] for name in names]),
        "dimension": wanted,
        "unit": ("dimension", [unit_of(name) for name in wanted]),
    }
    if varied is not None:
        places = [every.index(name) for name in varied.parameters]
        parts = contributions(varied, slope[..., places])
        variables |= parts.variables(grid.sizes)
        variables["standard_deviation"] = (
            ("reading", *dims),
            parts.whole,
            {"long_name": "standard deviation, linear estimate"},
        )
        coords |= {
            "source": varied.names,
            "other_source": varied.names,
            "source_unit": ("source", varied.units),
            "source_deviation": (
                "source",
                varied.standard_deviations,
                {"long_name": "standard deviation of the source", "comment": "in mm or deg"},
            ),
        }
    return Sensitivities(xr.Dataset(variables, coords, dataset_attributes(corner, travel_at, "sensitivities")))


@dataclass(frozen=True)
class Contributions:
    """What each source does to each reading, by the linear estimate.

    Attributes
    ----------
    effects : array
        Readings by poses by sources: the standard deviation by this source alone, with the sign of its slope.
    shares : array
        The same shape: share of the variance, summing to one. A share of correlated sources may be negative: the source
        takes back what another gives. Zero where nothing scatters.
    left : array
        The same shape: the standard deviation that is left once this source is known exactly.
    whole : array
        Readings by poses: the standard deviation of all sources together.
    correlation : array
        Of the sources, sources by sources.
    """

    effects: npt.NDArray[np.float64]
    shares: npt.NDArray[np.float64]
    left: npt.NDArray[np.float64]
    whole: npt.NDArray[np.float64]
    correlation: npt.NDArray[np.float64]

    def variables(self, sizes: Mapping[str, int]) -> dict[str, Any]:
        """As variables of a dataset, on a grid of poses with these dimensions."""
        along = ("reading", *sizes, "source")
        words = {
            "effect": "standard deviation by this source alone",
            "share": "share of the variance, linear estimate",
            "left_if_known": "standard deviation left once this source is known",
        }
        values = (self.effects, self.shares, self.left)
        return {
            name: (along, array.reshape(len(array), *sizes.values(), -1), {"long_name": told})
            for (name, told), array in zip(words.items(), values, strict=True)
        } | {
            "source_correlation": (
                ("source", "other_source"),
                self.correlation,
                {"long_name": "correlation of sources", "units": "1"},
            ),
        }


def contributions(varied: Scatter, slopes: npt.NDArray[np.float64]) -> Contributions:
    """What each source does to each reading; `slopes` have the parameters of the scatter along their last axis.

    With C for the covariance of the sources and s for a reading's slopes in them, its variance is V = s.C.s, and once
    source i is known V - (C s)_i^2 / C_ii is left: the variance of a normal distribution under a condition (Anderson,
    An Introduction to Multivariate Statistical Analysis, 3rd edition, Wiley 2003, section 2.5), and for any other that
    of the best linear prediction.
    """
    of_sources = slopes @ varied.weights
    covariance = varied.covariance()
    together = of_sources @ covariance
    variance = np.einsum("...k,...k->...", together, of_sources)
    whole = np.sqrt(np.clip(variance, 0.0, None))
    own = np.diag(covariance)
    with np.errstate(divide="ignore", invalid="ignore"):
        shares = np.where(whole[..., None] > ROUND_OFF, together * of_sources / variance[..., None], 0.0)
    left = np.sqrt(np.clip(variance[..., None] - together**2 / own, 0.0, None))
    deviations = np.sqrt(own)
    return Contributions(of_sources * deviations, shares, left, whole, covariance / np.outer(deviations, deviations))
