"""Fit: measured curves mend the points, and tell which combinations of points they cannot tell apart.

The unknowns are the sources of a `Scatter`, and their distributions are what is known before any curve is measured. With
z for the unknowns in units of what was known of them, the fit makes

    sum of ((measured - computed(z)) / accuracy)^2 + |z|^2

least: the most probable z where gauges and prior knowledge err normally. The posterior spread is that of the linearised
problem at the solution (Tarantola, Inverse Problem Theory, SIAM 2005, ch. 3; Rodgers, Inverse Methods for Atmospheric
Sounding, World Scientific 2000, ch. 2 and 5).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal, TypeAlias

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep._core import Corner
from strutsweep._poses import FIELDS, PoseGrid, check_corner, checked_readings, dataset_attributes, readings_and_slopes
from strutsweep._printed import Table, figures, shown
from strutsweep.errors import GeometryError, InputError, ReachError
from strutsweep.measurements import Measurements
from strutsweep.scattering import PARTS, XYZ, Flat, Scatter, Tolerances, gathered, moved, unit_of
from strutsweep.sweeping import TravelAt, Values
from strutsweep.words import HARD_POINT_FIELDS, READINGS

__all__ = ["Combination", "Fit", "fit", "next_measurements"]

FLAT_SCALE: Final = 10.0
"""What counts as one unit, mm or deg, of an unknown of which nothing is known."""
ANY_OFFSET: Final = 90.0
"""What counts as one unit, deg or mm, of the zero of a gauge that was zeroed on the car."""
SINGULAR: Final = 1e-8
"""Directions whose singular value is below this share of the largest are not determined at all."""
TOLD_APART: Final = 1.0
"""Signal to noise of a direction, in units of what was known before, from which on the data say more than was known."""
CONTAINED: Final = 0.97
"""Share of a named movement that must lie among those the data do not see for it to be named."""
IMPROBABLE: Final = 1e-3
"""A misfit less probable than this is worth a word."""
WHOLLY_CONTAINED: Final = 1.0 - 1e-6
"""The same share for a movement that they do not see at all."""
NEW: Final = 0.5
"""Share of a named movement that must lie outside those already named."""
SMALL_WEIGHT: Final = 0.25
"""Weights below this share of the largest are left out of the words for a combination."""


@dataclass(frozen=True)
class Combination:
    """A way to move all unknowns together, and how well it is known.

    Attributes
    ----------
    words : str
    weights : mapping of str to float
        By dimension, for a movement of length one, in mm and deg.
    before, after : float
        Standard deviation along it before and after the measurements.
    """

    words: str
    weights: Mapping[str, float]
    before: float
    after: float

    @property
    def is_told(self) -> bool:
        """Whether the measurements say more of it than was known before."""
        return self.after < self.before / math.sqrt(1.0 + TOLD_APART)


Gauge: TypeAlias = tuple[str, str]
"""A gauge on a curve: the curve's name, and the reading. Two readings on one curve are two gauges, with a zero each."""


def _gauges(measured: Measurements) -> list[Gauge]:
    return list(zip(measured.curves, measured.reading, strict=True))


def _zeroed_gauges(measured: Measurements) -> tuple[Gauge, ...]:
    pairs = zip(_gauges(measured), measured.zeroed, strict=True)
    return tuple(dict.fromkeys(gauge for gauge, zeroed in pairs if zeroed))


def _gauge_columns(measured: Measurements) -> npt.NDArray[np.float64]:
    """Measurements by zeroed gauges: 1 where one belongs to the other."""
    gauges, zeroed = _gauges(measured), _zeroed_gauges(measured)
    columns = [
        [float(own == gauge and is_zeroed) for own, is_zeroed in zip(gauges, measured.zeroed, strict=True)] for gauge in zeroed
    ]
    return np.array(columns).reshape(len(zeroed), len(measured)).T


def gauge_name(measured: Measurements, gauge: Gauge) -> str:
    """What a gauge is called: its curve, with the reading where the curve holds several."""
    curve, reading = gauge
    several = any(own == curve and other != reading for own, other in _gauges(measured))
    return f"{curve}, {reading}" if several else curve


@dataclass(frozen=True)
class _Problem:
    """Unknowns and measurements, ready to be solved."""

    corner: Corner
    known: Scatter
    root: npt.NDArray[np.float64]
    """From z to deviations of the sources: sources by z."""
    has_prior: npt.NDArray[np.bool_]
    """Per z."""
    measured: Measurements

    @property
    def offsets(self) -> tuple[Gauge, ...]:
        """Gauges that were zeroed."""
        return _zeroed_gauges(self.measured)

    def offset_columns(self) -> npt.NDArray[np.float64]:
        """Measurements by zeroed gauges: 1 where one belongs to the other."""
        return _gauge_columns(self.measured)

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
        return found.readings[places, columns], found.slopes[places, columns] @ (self.known.weights @ self.root)


def _problem(
    corner: Corner,
    measurements: Measurements,
    priors: Tolerances,
    correlation: Mapping[tuple[str, str], float] | xr.DataArray | None,
) -> _Problem:
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
    problem = _Problem(corner, known, whole, has_prior, measurements)
    unknowns = whole.shape[1] + len(problem.offsets)
    equations = len(measurements) + int(has_prior.sum())
    if equations < unknowns:
        raise InputError(
            f"measurements: {len(measurements)} numbers cannot settle {unknowns} unknowns, {int(flat.sum())} of them without"
            " any prior knowledge: measure more, or give priors",
            name="measurements",
            value=len(measurements),
            limit=unknowns,
        )
    return problem


def _solved(problem: _Problem, start: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """The z, and the zeros of gauges behind them, that make the sum of squares least."""
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
        max_nfev=200,
    )
    solution: npt.NDArray[np.float64] = found.x
    return solution


def _posterior(problem: _Problem, z: npt.NDArray[np.float64]) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
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
        loose = problem.known.weights @ problem.root @ vectors[-1]
        raise InputError(
            "measurements: they do not settle "
            + _weights_in_words(problem.known.parameters, loose / np.linalg.norm(loose))
            + ", of which nothing was known before: measure something else too, or give priors",
            name="measurements",
            value=len(problem.measured),
        )
    covariance = (vectors.T / values**2) @ vectors
    information: npt.NDArray[np.float64] = weighted.T @ weighted
    return covariance, information


def _weights_in_words(parameters: Sequence[str], weights: npt.NDArray[np.float64]) -> str:
    order = np.argsort(-np.abs(weights), kind="stable")
    least = SMALL_WEIGHT * abs(weights[order[0]])
    sign = 1.0 if weights[order[0]] > 0.0 else -1.0
    some = [place for place in order if abs(weights[place]) >= least][:6]
    return " ".join(f"{sign * weights[place]:+.2f} {parameters[place]}" for place in some)


def _named_movements(corner: Corner, parameters: Sequence[str]) -> list[tuple[str, npt.NDArray[np.float64]]]:
    """Movements that have a name, the more general first: per name the weights of the dimensions."""
    points = {spelled: corner.points[keyword] for keyword, spelled in HARD_POINT_FIELDS.items()}
    way = {"x": "fore and aft", "y": "sideways", "z": "up and down"}
    named: list[tuple[str, dict[str, float]]] = []
    everything = [spelled for spelled in points if f"{spelled}.x" in parameters]
    for axis in XYZ:
        named.append((f"all points moved together {way[axis]}", {f"{point}.{axis}": 1.0 for point in everything}))
    part_words = {"knuckle": "the knuckle's points", "subframe": "arm pivots and inner tie-rod joint"}
    part_words |= {"arm_pivots": "both arm pivots", "strut": "both points of the strut", "tie_rod_ends": "both ends of the tie rod"}
    for part, members in PARTS.items():
        for axis in XYZ:
            named.append((f"{part_words[part]} moved together {way[axis]}", {f"{p}.{axis}": 1.0 for p in members}))

    def along(words: str, point: str, start: str, end: str) -> None:
        direction = points[end] - points[start]
        direction = direction / np.linalg.norm(direction)
        named.append((words, {f"{point}.{axis}": float(part) for axis, part in zip(XYZ, direction, strict=True)}))

    along("lower_arm.front slid along the arm's axis", "lower_arm.front", "lower_arm.rear", "lower_arm.front")
    along("lower_arm.rear slid along the arm's axis", "lower_arm.rear", "lower_arm.rear", "lower_arm.front")
    along("strut.low slid along the strut", "strut.low", "strut.low", "strut.top")
    along("tie_rod.inner slid along the tie rod", "tie_rod.inner", "tie_rod.inner", "tie_rod.outer")
    along("tie_rod.outer slid along the tie rod", "tie_rod.outer", "tie_rod.inner", "tie_rod.outer")
    named += [(name, {name: 1.0}) for name in parameters]
    found = []
    for words, weights in named:
        # Small parts of a slanting direction may be held; a movement that lacks more of itself is another one.
        if weights and all(name in parameters for name in weights):
            vector = np.array([weights.get(name, 0.0) for name in parameters])
            found.append((words, vector / np.linalg.norm(vector)))
    return found


def _combinations(
    problem: _Problem, information: npt.NDArray[np.float64], covariance: npt.NDArray[np.float64]
) -> tuple[Combination, ...]:
    """Combinations that span all others, the best known first; what the data do not see has a name where there is one."""
    to_parameters = problem.known.weights @ problem.root
    values, vectors = np.linalg.eigh(information)
    told = [vectors[:, place] for place in range(len(values) - 1, -1, -1) if values[place] > TOLD_APART]
    unseen = vectors[:, values <= TOLD_APART]

    def combination(z: npt.NDArray[np.float64], words: str | None) -> Combination:
        movement = to_parameters @ z
        length = float(np.linalg.norm(movement))
        if length == 0.0:
            length = 1.0
        movement = movement / length
        return Combination(
            _weights_in_words(problem.known.parameters, movement) if words is None else words,
            {name: float(weight) for name, weight in zip(problem.known.parameters, movement, strict=True) if weight},
            length * float(np.linalg.norm(z)),
            length * math.sqrt(float(z @ covariance @ z)),
        )

    found = [combination(z, None) for z in told]
    inverse = np.linalg.pinv(to_parameters)
    every = unseen
    named = _named_movements(problem.corner, problem.known.parameters)
    # What the data do not see at all comes before what they hardly see.
    for words, movement, least in [(*one, least) for least in (WHOLLY_CONTAINED, CONTAINED) for one in named]:
        if unseen.shape[1] == 0:
            break
        z = inverse @ movement
        if np.linalg.norm(to_parameters @ z - movement) > 1.0 - WHOLLY_CONTAINED or not np.linalg.norm(z):
            continue
        z = z / np.linalg.norm(z)
        inside = unseen @ (unseen.T @ z)
        if np.linalg.norm(every.T @ z) < least or np.linalg.norm(inside) < NEW:
            continue
        found.append(combination(z, words))
        inside = inside / np.linalg.norm(inside)
        rest = unseen - np.outer(inside, inside @ unseen)
        left, sizes, _ = np.linalg.svd(rest, full_matrices=False)
        unseen = left[:, sizes > 0.5][:, : unseen.shape[1] - 1]
    found += [combination(unseen[:, place], None) for place in range(unseen.shape[1])]
    return tuple(found)


@dataclass(frozen=True, repr=False)
class Fit:
    """A corner mended by measurements, and how sure it is.

    Attributes
    ----------
    start, corner : Corner
        Before and after.
    setting : dict of str to float
        Settings among the unknowns, as fitted, mm and deg.
    unknowns : xarray.Dataset
        Along ``source``: ``before`` and ``after``, standard deviations of what is not known, ``moved``, how far the fit
        moved it, all in mm or deg; ``covariance`` after, along ``source`` and ``other``.
    data : xarray.Dataset
        Along ``measurement``: ``value``, ``computed`` (with the zeros of gauges), ``residual`` (value less computed),
        ``accuracy``, ``scaled``, the residual in accuracies, and ``influence``, the share of its own computed value that
        a measurement decides.
    combinations : tuple of Combination
        Combinations of the dimensions that span all others, the best known first; those that the data do not see come
        last, with names where there are any.
    offsets : dict of str to float
        Zeros of gauges that were zeroed on a curve, mm or deg; by the curve's name, with the reading behind it where the
        curve holds several.
    chi_square, freedom : float
        Sum of squared scaled residuals, and how large it may be expected.
    probability : float
        How probable a disagreement so large is: of that sum and of the squared moves from what was known before, in
        standard deviations, together; 1 where nothing is there to disagree.
    """

    start: Corner
    corner: Corner
    setting: dict[str, float]
    unknowns: xr.Dataset
    data: xr.Dataset
    combinations: tuple[Combination, ...]
    offsets: dict[str, float]
    chi_square: float
    freedom: float
    probability: float
    _problem: _Problem
    _x: npt.NDArray[np.float64]
    _covariance: npt.NDArray[np.float64]

    @property
    def measurements(self) -> Measurements:
        """What was fitted to."""
        return self._problem.measured

    @property
    def unknown_combinations(self) -> tuple[Combination, ...]:
        """Combinations of which the measurements say no more than was known before."""
        return tuple(found for found in self.combinations if not found.is_told)

    @property
    def parameters(self) -> tuple[str, ...]:
        """The dimensions behind the unknowns."""
        return self._problem.known.parameters

    @property
    def parameter_covariance(self) -> npt.NDArray[np.float64]:
        """Covariance of the dimensions after the fit, in mm and deg."""
        to_parameters = self._problem.known.weights @ self._problem.root
        covariance: npt.NDArray[np.float64] = to_parameters @ self._covariance @ to_parameters.T
        return covariance

    def _at_solution(self) -> npt.NDArray[np.float64]:
        return self._x[: self._problem.root.shape[1]]

    def predict(
        self, readings: str | Sequence[str] = ("camber", "toe"), *, travel_at: TravelAt = "ground", **inputs: Values
    ) -> xr.Dataset:
        """Readings of the mended corner in any poses, with their standard deviations.

        Parameters
        ----------
        readings : str or sequence of str
        travel_at : {"ground", "hub", "strut"}
        **inputs : number or array
            Settings and motions, as `strutsweep.sweep` takes them; fitted settings come on top.

        Returns
        -------
        xarray.Dataset
            ``value``, and ``standard_deviation`` after the fit and ``standard_deviation_before`` it, along ``reading`` and
            the poses.

        Raises
        ------
        InputError
            An unknown name.
        ReachError
            A pose is out of reach.

        Examples
        --------
        >>> import strutsweep as ss
        >>> corner = ss.demo("gravel_hatch").left
        >>> found = ss.fit(corner, ss.Measurements.curve("caster", 3.3, 0.05), {"strut.top": ss.normal(2.0)})
        >>> round(float(found.predict("caster").value[0]), 1)
        3.3
        """
        names = checked_readings(readings)
        grid = PoseGrid.of(inputs, travel_at)
        rows = grid.rows.copy()
        for name, deviation in self.setting.items():
            rows[:, FIELDS.index(name)] += deviation
        problem = self._problem
        found = readings_and_slopes(self.corner, rows, travel_at, names, problem.known.parameters)
        slopes = found.slopes @ (problem.known.weights @ problem.root)
        after = np.sqrt(np.einsum("prz,zy,pry->pr", slopes, self._covariance, slopes))
        before = np.where(
            (slopes[..., ~problem.has_prior] != 0.0).any(axis=-1),
            np.inf,
            np.linalg.norm(slopes[..., problem.has_prior], axis=-1),
        )

        def along(values: npt.NDArray[np.float64], words: str) -> tuple[tuple[str, ...], npt.NDArray[Any], dict[str, str]]:
            return ("reading", *grid.dims), values.T.reshape(len(names), *grid.shape), {"long_name": words}

        return xr.Dataset(
            {
                "value": along(found.readings, "reading of the mended corner"),
                "standard_deviation": along(after, "standard deviation after the fit"),
                "standard_deviation_before": along(before, "standard deviation before the fit"),
            },
            {
                **grid.coordinates(),
                "reading": names,
                "reading_units": ("reading", [READINGS[name]["units"] for name in names]),
            },
            dataset_attributes(self.corner, travel_at, "predicted by a fit"),
        )

    def leave_one_out(self, *, by: Literal["measurement", "curve"] = "measurement") -> xr.Dataset:
        """Predict each measurement from all the others: the fair test of a fit.

        Parameters
        ----------
        by : {"measurement", "curve"}
            What is left out at a time: single measurements, by the linearised problem; or whole curves, by a fit to the
            rest. Of a curve whose gauge was zeroed only changes are compared.

        Returns
        -------
        xarray.Dataset
            Along ``measurement``: ``value``, ``predicted``, ``standard_deviation`` of the difference to be expected, the
            gauge's own error included, and ``scaled``, the difference in units of it.

        Raises
        ------
        InputError
            Without one of them the rest settles the unknowns no more.

        Examples
        --------
        >>> import strutsweep as ss
        >>> corner = ss.demo("gravel_hatch").left
        >>> sheet = ss.Measurements.curve("camber", [-0.5, -1.3], 0.05, mount_in=[0.0, 10.0])
        >>> found = ss.fit(corner, sheet, {"points": ss.normal(1.5), "wheel.camber": ss.normal(0.2)})
        >>> bool((abs(found.leave_one_out().scaled) < 3.0).all())
        True
        """
        measured = self.measurements
        if by == "measurement":
            # The rest weighs 1 - influence, so that residual and error grow by that: exact for the linearised problem.
            weight = 1.0 - self.data.influence.values
            with np.errstate(divide="ignore"):
                predicted = measured.value - self.data.residual.values / weight
                deviation = measured.accuracy / np.sqrt(weight)
        elif by == "curve":
            predicted, deviation = self._curves_left_out()
        else:
            raise InputError(f"by: {by!r} is neither 'measurement' nor 'curve'", name="by", value=by)
        return xr.Dataset(
            {
                "value": ("measurement", measured.value),
                "predicted": ("measurement", predicted),
                "standard_deviation": ("measurement", deviation),
                "scaled": ("measurement", (measured.value - predicted) / deviation),
            },
            {
                "measurement": [measured.described(place) for place in range(len(measured))],
                "reading": ("measurement", list(measured.reading)),
                "curve": ("measurement", list(measured.curves)),
            },
            dataset_attributes(self.corner, "ground", f"each {by} predicted from the others"),
        )

    def _curves_left_out(self) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
        """Each curve predicted by a fit to the others, and the standard deviation of the difference to be expected."""
        measured = self.measurements
        predicted, deviation = np.full(len(measured), np.nan), np.full(len(measured), np.nan)
        count = self._problem.root.shape[1]
        for name in measured.names:
            left_out = np.array([curve == name for curve in measured.curves])
            rest = measured.chosen(~left_out)
            problem = _Problem(self.start, self._problem.known, self._problem.root, self._problem.has_prior, rest)
            zeros = [self.offsets[gauge_name(measured, gauge)] / ANY_OFFSET for gauge in problem.offsets]
            x = _solved(problem, np.concatenate([self._at_solution(), zeros])) if len(rest) else np.zeros(count)
            covariance, _ = _posterior(problem, x[:count])
            asked = measured.chosen(left_out)
            computed, slopes = problem.computed(x[:count], asked)
            error = slopes @ covariance @ slopes.T + np.diag(asked.accuracy**2)
            for own in _gauge_columns(asked).T:
                # Its own zero is anyone's guess: changes along the curve are compared.
                weights = own / asked.accuracy**2
                weights = weights / weights.sum()
                computed = computed + own * (weights @ (asked.value - computed))
                centred = np.eye(len(own)) - np.outer(own, weights)
                error = centred @ error @ centred.T
            predicted[left_out], deviation[left_out] = computed, np.sqrt(np.diag(error))
        return predicted, deviation

    def report(self, *, most: int = 12) -> str:
        """The fit in words: what moved, how well it fits, what the data cannot tell.

        Parameters
        ----------
        most : int
            How many unknowns and combinations are listed.

        Returns
        -------
        str

        Examples
        --------
        >>> import strutsweep as ss
        >>> corner = ss.demo("gravel_hatch").left
        >>> found = ss.fit(corner, ss.Measurements.curve("caster", 3.3, 0.05), {"strut.top": ss.normal(2.0)})
        >>> "cannot tell" in found.report()
        True
        """
        unseen = self.unknown_combinations
        told = [found for found in self.combinations if found.is_told]
        lines = [str(self.table(most=most)), ""]
        lines.append(
            f"Fit to {len(self.measurements)} measurements: sum of squared scaled residuals {self.chi_square:.1f},"
            f" expected {self.freedom:.1f}; with the moves from what was known, one so large has a probability of"
            f" {self.probability:.2g}."
        )
        if self.probability < IMPROBABLE:
            lines.append(
                "That is improbable: the accuracies are too hopeful, a measurement is wrong, or something gives that the"
                " model holds rigid."
            )
        lines += ["", f"The measurements tell {len(told)} combinations, the best:"]
        lines += [f"  {found.words}: {figures(found.before)} -> {figures(found.after)}" for found in told[:most]]
        lines += ["", f"The measurements cannot tell {len(unseen)} combinations, known no better than before:"]
        lines += [f"  {found.words}: {figures(found.before)} -> {figures(found.after)}" for found in unseen[:most]]
        if len(unseen) > most:
            lines.append(f"  and {len(unseen) - most} more")
        return "\n".join(lines)

    def table(self, *, most: int = 12) -> Table:
        """The unknowns in print, those that became surest first.

        Parameters
        ----------
        most : int
            How many rows.

        Returns
        -------
        Table

        Examples
        --------
        >>> import strutsweep as ss
        >>> corner = ss.demo("gravel_hatch").left
        >>> found = ss.fit(corner, ss.Measurements.curve("caster", 3.3, 0.05), {"strut.top": ss.normal(2.0)})
        >>> found.table().rows[0][0]
        'strut.top.x'
        """
        before, after = self.unknowns.before.values, self.unknowns.after.values
        order = np.argsort(after / before, kind="stable")[:most]
        rows = [
            (
                str(self.unknowns.source.values[place]),
                f"{self.unknowns.moved.values[place]:+.3f}",
                figures(before[place]) if np.isfinite(before[place]) else "anything",
                figures(after[place]),
            )
            for place in order
        ]
        rest = len(before) - len(rows)
        notes = (f"And {rest} more, less improved.",) if rest > 0 else ()
        title = f"{self.start.name}, {self.start.side} corner: fitted (mm, deg)"
        return Table.of(title, ("unknown", "moved", "std dev before", "after"), rows, notes)

    def __str__(self) -> str:
        return self.report()

    def __repr__(self) -> str:
        return f"Fit({self.start.name!r}, {self.start.side}, {len(self.measurements)} measurements, {self.unknowns.sizes['source']} unknowns)"

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def fit(
    corner: Corner,
    measurements: Measurements,
    priors: Tolerances,
    *,
    correlation: Mapping[tuple[str, str], float] | xr.DataArray | None = None,
) -> Fit:
    """Mend a corner's points by what was measured on the car.

    Parameters
    ----------
    corner : Corner
        The points as they were measured with a tape: where the fit starts.
    measurements : Measurements
        Curves of toe and camber over travel, an alignment sheet, readings at several plate positions, with the accuracy of
        the gauges; none at all gives what is known before.
    priors : mapping or iterable of Source
        What may be wrong with the corner, and how much before any of this was measured: as `strutsweep.scatter` takes it,
        and ``math.inf`` for a dimension of which nothing is known. Distributions count by mean and standard deviation.
        Static camber and toe are dimensions too: give ``"wheel.camber"`` and ``"wheel.toe"`` unless they are certain.
    correlation : mapping or DataArray, optional
        How sources go together, as `strutsweep.scatter` takes it.

    Returns
    -------
    Fit

    Raises
    ------
    InputError
        An unknown name, a standard deviation that is not above zero, fewer numbers than unknowns where nothing was known
        of some, or a combination that nothing settles.
    ReachError
        A measured pose is out of reach of the corner as given.

    Notes
    -----
    `scipy.optimize.least_squares` with exact slopes of every reading in every unknown. Spreads are those of the linearised
    problem at the solution.

    Examples
    --------
    >>> import strutsweep as ss
    >>> corner = ss.demo("gravel_hatch").left
    >>> bump = ss.Measurements.curve("toe", [0.12, 0.0, -0.15], 0.02, travel=[-40.0, 0.0, 40.0], zeroed=True)
    >>> found = ss.fit(corner, bump, {"tie_rod.inner": ss.normal(2.0), "tie_rod.outer": ss.normal(2.0)})
    >>> bool(abs(found.data.scaled).max() < 1.0), round(float(corner.solve(travel=40.0).toe), 2)
    (True, -0.01)
    """
    from scipy import stats

    check_corner("fit", corner)
    if not isinstance(measurements, Measurements):
        raise InputError(
            f"measurements: {type(measurements).__name__} is no Measurements", name="measurements", value=measurements
        )
    problem = _problem(corner, measurements, priors, correlation)
    count = problem.root.shape[1]
    start = np.zeros(count + len(problem.offsets))
    if len(measurements):
        # Said at the start, as it is: the solver would only see that nothing can be computed.
        problem.computed(start[:count])
    x = _solved(problem, start) if len(measurements) else start
    covariance, information = _posterior(problem, x[:count])
    deviations = problem.deviations(x[:count])
    mended, setting = moved(corner, problem.known.parameters, deviations)
    zeros = problem.offset_columns() @ x[count:] * ANY_OFFSET if len(measurements) else np.zeros(0)
    computed, slopes = problem.computed(x[:count]) if len(measurements) else (np.zeros(0), np.zeros((0, count)))
    computed = computed + zeros
    scaled = (measurements.value - computed) / measurements.accuracy
    weighted = slopes / measurements.accuracy[:, None]
    offsets = problem.offset_columns() / measurements.accuracy[:, None] if len(measurements) else np.zeros((0, 0))
    influence = np.zeros(len(measurements))
    if offsets.shape[1]:
        basis, _ = np.linalg.qr(offsets)
        influence += (basis**2).sum(axis=1)
        weighted = weighted - basis @ (basis.T @ weighted)
    influence += np.einsum("mz,zy,my->m", weighted, covariance, weighted)
    chi_square = float(scaled @ scaled)
    freedom = float(len(measurements) - influence.sum())
    # Residuals alone follow no chi-square where priors bear: with the moves from what was known they do.
    moved_too = chi_square + float(np.square(x[:count][problem.has_prior]).sum())
    spare = len(measurements) + int(problem.has_prior.sum()) - len(x)
    probability = float(stats.chi2.sf(moved_too, spare)) if spare > 0 else 1.0
    names = problem.known.names
    of_sources = problem.root @ covariance @ problem.root.T
    unknowns = xr.Dataset(
        {
            "before": ("source", problem.known.standard_deviations, {"long_name": "standard deviation before"}),
            "after": ("source", np.sqrt(np.diag(of_sources)), {"long_name": "standard deviation after"}),
            "moved": ("source", problem.known.means + problem.root @ x[:count], {"long_name": "moved by the fit"}),
            "covariance": (("source", "other"), of_sources, {"long_name": "covariance after"}),
        },
        {
            "source": names,
            "other": names,
            "unit": ("source", [unit_of(next(iter(source.moves))) for source in problem.known.sources]),
        },
        dataset_attributes(corner, "ground", "fitted"),
    )
    data = xr.Dataset(
        {
            "value": ("measurement", measurements.value),
            "computed": ("measurement", computed),
            "residual": ("measurement", measurements.value - computed),
            "accuracy": ("measurement", measurements.accuracy),
            "scaled": ("measurement", scaled),
            "influence": ("measurement", influence),
        },
        {
            "measurement": [measurements.described(place) for place in range(len(measurements))],
            "reading": ("measurement", list(measurements.reading)),
            "curve": ("measurement", list(measurements.curves)),
        },
        dataset_attributes(corner, "ground", "measured and fitted"),
    )
    return Fit(
        start=corner,
        corner=mended,
        setting=setting,
        unknowns=unknowns,
        data=data,
        combinations=_combinations(problem, information, covariance),
        offsets={
            gauge_name(measurements, gauge): float(x[count + place] * ANY_OFFSET)
            for place, gauge in enumerate(problem.offsets)
        },
        chi_square=chi_square,
        freedom=freedom,
        probability=probability,
        _problem=problem,
        _x=x,
        _covariance=covariance,
    )


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
    The update of a normal distribution by linear measurements, at the fitted corner: what a measurement will show does not
    matter to how much it will tell.

    Examples
    --------
    >>> import strutsweep as ss
    >>> before = ss.fit(ss.demo("gravel_hatch").left, ss.Measurements.none(), {"points": ss.normal(1.5)})
    >>> candidates = ss.Measurements.curve("toe", [0.0, 0.0, 0.0], 0.02, travel=[-40.0, 0.0, 40.0], name="bump steer")
    >>> candidates += ss.Measurements.curve("caster", 0.0, 0.1)
    >>> ss.next_measurements(before, candidates, "toe", travel=60.0).rows[0][0]
    'bump steer'
    """
    if not isinstance(known, Fit):
        raise InputError("known: a Fit is wanted", name="known", value=known)
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
            basis, _ = np.linalg.qr(_gauge_columns(own) / own.accuracy[:, None])
            weighted = weighted - basis @ (basis.T @ weighted)
        crossed = weighted @ covariance
        gained = crossed @ slope
        together = np.eye(len(own)) + crossed @ weighted.T
        left = max(0.0, now**2 - float(gained @ np.linalg.solve(together, gained)))
        rows.append((math.sqrt(left), name, len(own)))
    rows.sort(key=lambda row: row[0])
    units, factor = shown(READINGS[reading]["units"])
    percent = [100.0 * (1.0 - left / now) if now else 0.0 for left, _, _ in rows]
    table = [
        (name, str(count), figures(factor * left), f"{gain:.1f}") for (left, name, count), gain in zip(rows, percent, strict=True)
    ]
    what = wanted.described(0)
    return Table.of(
        f"What to measure next to know {what}",
        ("candidate", "numbers", f"leaves {units}", "narrower by %"),
        table,
        (f"Standard deviation of {what} now: {figures(factor * now)} {units}.",),
    )


