"""What a fit solves: unknowns in units of what was known of them, measurements, gauges with a zero of their own.

With z for the unknowns in units of what was known of them, a fit makes

    sum of ((measured - computed(z)) / accuracy)^2 + |z|^2

least: the most probable z where gauges and prior knowledge err normally. The posterior spread is that of the linearised
problem at the solution (Tarantola, Inverse Problem Theory, SIAM 2005, ch. 3; Rodgers, Inverse Methods for Atmospheric
Sounding, World Scientific 2000, ch. 2 and 5).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep._core import Corner
from strutsweep._poses import FIELDS, readings_and_slopes
from strutsweep.dimensions import unit_of
from strutsweep.errors import GeometryError, InputError, ReachError
from strutsweep.measurements import Measurements
from strutsweep.scattering import Flat, Scatter, Tolerances, gathered, moved

FLAT_SCALE: Final = 10.0
"""What counts as one unit, mm or deg, of an unknown of which nothing is known; it decides nothing but round-off."""
ANY_OFFSET: Final = 90.0
"""What counts as one unit, deg or mm, of the zero of a gauge that was zeroed on the car."""
SINGULAR: Final = 1e-8
"""Directions whose singular value is below this share of the largest are not determined at all."""
MOST_EVALUATIONS: Final = 200
SMALL_WEIGHT: Final = 0.25
"""Weights below this share of the largest are left out of the words for a movement."""

Gauge: TypeAlias = tuple[str, str]
"""A gauge on a curve: the curve's name, and the reading. Two readings on one curve are two gauges, with a zero each."""


def _gauges(measured: Measurements) -> list[Gauge]:
    return list(zip(measured.curves, measured.reading, strict=True))


def zeroed_gauges(measured: Measurements) -> tuple[Gauge, ...]:
    pairs = zip(_gauges(measured), measured.zeroed, strict=True)
    return tuple(dict.fromkeys(gauge for gauge, zeroed in pairs if zeroed))


def gauge_columns(measured: Measurements) -> npt.NDArray[np.float64]:
    """Measurements by zeroed gauges: 1 where one belongs to the other."""
    gauges, zeroed = _gauges(measured), zeroed_gauges(measured)
    columns = [
        [float(own == gauge and is_zeroed) for own, is_zeroed in zip(gauges, measured.zeroed, strict=True)]
        for gauge in zeroed
    ]
    return np.array(columns).reshape(len(zeroed), len(measured)).T


def gauge_name(measured: Measurements, gauge: Gauge) -> str:
    """What a gauge is called: its curve, with the reading where the curve holds several."""
    curve, reading = gauge
    several = any(own == curve and other != reading for own, other in _gauges(measured))
    return f"{curve}, {reading}" if several else curve


@dataclass(frozen=True)
class Problem:
    """Unknowns and measurements, ready to be solved."""

    corner: Corner
    known: Scatter
    root: npt.NDArray[np.float64]
    """From z to deviations of the sources: sources by z."""
    has_prior: npt.NDArray[np.bool_]
    """Per z."""
    measured: Measurements

    @property
    def to_parameters(self) -> npt.NDArray[np.float64]:
        """From z to deviations of the dimensions: dimensions by z."""
        matrix: npt.NDArray[np.float64] = self.known.weights @ self.root
        return matrix

    @property
    def offsets(self) -> tuple[Gauge, ...]:
        """Gauges that were zeroed."""
        return zeroed_gauges(self.measured)

    def offset_columns(self) -> npt.NDArray[np.float64]:
        """Measurements by zeroed gauges: 1 where one belongs to the other."""
        return gauge_columns(self.measured)

    def deviations(self, z: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        """Of the parameters."""
        inner: npt.NDArray[np.float64] = self.known.weights @ (self.known.means + self.root @ z)
        return inner

    def computed(
        self, z: npt.NDArray[np.float64], measured: Measurements | None = None
    ) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
        """What gauges would show, and its slopes in z."""
        asked = self.measured if measured is None else measured
        corner, settings = moved(self.corner, self.known.parameters, self.deviations(z))
        rows = asked.rows.copy()
        for name, deviation in settings.items():
            rows[:, FIELDS.index(name)] += deviation
        names = list(dict.fromkeys(asked.reading))
        found = readings_and_slopes(corner, rows, asked.travel_at, names, self.known.parameters)
        columns = np.array([names.index(name) for name in asked.reading], dtype=int)
        places = np.arange(len(asked))
        return found.readings[places, columns], found.slopes[places, columns] @ self.to_parameters


def problem_of(
    corner: Corner,
    measurements: Measurements,
    priors: Tolerances,
    correlation: Mapping[tuple[str, str], float] | xr.DataArray | None,
) -> Problem:
    known = gathered(corner, priors, correlation, "priors", flat=True)
    flat = np.array([isinstance(source.distribution, Flat) for source in known.sources])
    if (known.correlation[flat] != np.eye(len(flat))[flat]).any():
        raise InputError("correlation: of a dimension of which nothing is known there is none", name="correlation")
    informed = Scatter(
        tuple(source for source, is_flat in zip(known.sources, flat, strict=True) if not is_flat),
        known.correlation[np.ix_(~flat, ~flat)],
        (),
        np.zeros((0, 0)),
    )
    columns = []
    if informed.sources:
        values, vectors = np.linalg.eigh(informed.covariance())
        scaled = vectors * np.sqrt(np.clip(values, 0.0, None))
        if not informed.is_correlated:
            scaled = np.diag(informed.standard_deviations)
        root = np.zeros((len(flat), scaled.shape[1]))
        root[~flat] = scaled
        columns.append(root[:, np.linalg.norm(scaled, axis=0) > SINGULAR * np.abs(scaled).max()])
    columns.append(FLAT_SCALE * np.eye(len(flat))[:, flat])
    whole = np.concatenate(columns, axis=1)
    has_prior = np.arange(whole.shape[1]) < whole.shape[1] - int(flat.sum())
    problem = Problem(corner, known, whole, has_prior, measurements)
    unknowns = whole.shape[1] + len(problem.offsets)
    equations = len(measurements) + int(has_prior.sum())
    if equations < unknowns:
        raise InputError(
            f"measurements: {len(measurements)} numbers cannot settle {unknowns} unknowns, {int(flat.sum())} of them"
            " without any prior knowledge: measure more, or give priors",
            name="measurements",
            value=len(measurements),
            limit=unknowns,
        )
    return problem


def solved(problem: Problem, start: npt.NDArray[np.float64]) -> tuple[npt.NDArray[np.float64], bool]:
    """The z, and the zeros of gauges behind them, that make the sum of squares least; and whether the search ended
    there."""
    from scipy.optimize import least_squares

    count = problem.root.shape[1]
    measured = problem.measured
    offsets = problem.offset_columns() * ANY_OFFSET
    prior = np.eye(count)[problem.has_prior]
    last: dict[bytes, tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]] = {}

    def looked(x: npt.NDArray[np.float64]) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
        key = x.tobytes()
        if key not in last:
            last.clear()
            try:
                computed, slopes = problem.computed(x[:count])
            except (GeometryError, ReachError):
                # The solver takes a shorter step where residuals are infinite.
                bad = np.full(len(measured) + len(prior), np.inf)
                last[key] = (bad, np.zeros((len(bad), len(x))))
                return last[key]
            missing = (computed + offsets @ x[count:] - measured.value) / measured.accuracy
            top = np.concatenate([slopes, offsets], axis=1) / measured.accuracy[:, None]
            bottom = np.concatenate([prior, np.zeros((len(prior), offsets.shape[1]))], axis=1)
            last[key] = (np.concatenate([missing, prior @ x[:count]]), np.concatenate([top, bottom]))
        return last[key]

    found = least_squares(
        lambda x: looked(x)[0],
        start,
        jac=lambda x: looked(x)[1],
        method="trf",
        xtol=1e-12,
        ftol=1e-12,
        gtol=1e-12,
        max_nfev=MOST_EVALUATIONS,
    )
    return found.x, bool(found.success)


def posterior(problem: Problem, z: npt.NDArray[np.float64]) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Covariance of z with the gauges' zeros settled as well, and the information that the data alone hold of z.

    Raises
    ------
    InputError
        A combination is not settled by anything.
    """
    count = problem.root.shape[1]
    if len(problem.measured):
        _, slopes = problem.computed(z)
        weighted = slopes / problem.measured.accuracy[:, None]
        offsets = problem.offset_columns() / problem.measured.accuracy[:, None]
        if offsets.shape[1]:
            # What the zeros of gauges explain says nothing of z.
            basis, _ = np.linalg.qr(offsets)
            weighted = weighted - basis @ (basis.T @ weighted)
    else:
        weighted = np.zeros((0, count))
    whole = np.concatenate([weighted, np.eye(count)[problem.has_prior]])
    _, values, vectors = np.linalg.svd(whole, full_matrices=True)
    values = np.concatenate([values, np.zeros(count - len(values))])
    if values[-1] <= SINGULAR * values[0]:
        loose = problem.to_parameters @ vectors[-1]
        raise InputError(
            "measurements: they do not settle a movement of "
            + movement_in_words(problem.known.parameters, loose / np.linalg.norm(loose))
            + ", of which nothing was known before: measure something else too, or give priors",
            name="measurements",
            value=len(problem.measured),
        )
    covariance = (vectors.T / values**2) @ vectors
    information: npt.NDArray[np.float64] = weighted.T @ weighted
    return covariance, information


def movement_in_words(
    parameters: tuple[str, ...], weights: npt.NDArray[np.float64], scale: npt.NDArray[np.float64] | None = None
) -> str:
    """The larger parts of a movement of the dimensions, by how large they are on this scale."""
    sizes = np.abs(weights if scale is None else weights / scale)
    order = np.argsort(-sizes, kind="stable")
    sign = 1.0 if weights[order[0]] > 0.0 else -1.0
    some = [place for place in order if sizes[place] >= SMALL_WEIGHT * sizes[order[0]]][:6]
    units = {unit_of(parameters[place]) for place in some}
    told = [f"{parameters[place]} by {sign * weights[place]:+.2f} {unit_of(parameters[place])}" for place in some]
    if len(units) == 1:
        told = [f"{parameters[place]} by {sign * weights[place]:+.2f}" for place in some]
        told[-1] += f" {units.pop()}"
    return ", ".join(told)
