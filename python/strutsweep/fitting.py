"""Fit: measured curves mend the points, and tell which combinations of points they cannot tell apart.

The unknowns are the sources of a `strutsweep.Scatter`, and their distributions are what is known before any curve is
measured.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep import _fit_problem
from strutsweep._core import Corner
from strutsweep._fit_problem import ANY_OFFSET, Problem, gauge_columns, gauge_name, posterior, problem_of, solved
from strutsweep._inputs import TravelAt, Values
from strutsweep._poses import FIELDS, PoseGrid, check_corner, checked_readings, dataset_attributes, readings_and_slopes
from strutsweep._printed import Table, figures
from strutsweep.combinations import NARROWEST_UNTOLD, Combination, combinations_of
from strutsweep.errors import InputError
from strutsweep.measurements import Measurements, check_side
from strutsweep.scattering import Tolerances, moved
from strutsweep.words import READINGS

__all__ = ["Fit", "fit"]

IMPROBABLE: Final = 1e-3
"""A misfit less probable than this is worth a word."""
DOUBTED: Final = (
    "the accuracies are too hopeful, a measurement is wrong or of the other side of the car, or something gives that"
    " the model holds rigid. Do not trust the moves."
)
"""That word."""
ALONE: Final = 1e-8
"""A measurement whose computed value hangs on the others by less than this share is settled by itself alone."""


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
        ``accuracy``, ``scaled``, the residual in accuracies, and ``influence``, the share of its own computed value
        that a measurement decides.
    combinations : tuple of Combination
        Weighted sums of the dimensions that the measurements tell, the best known first; then movements that they do
        not see, with names where there are any. Together they span all others.
    offsets : dict of str to float
        Zeros of gauges that were zeroed on a curve, mm or deg; by the curve's name, with the reading behind it where
        the curve holds several.
    chi_square, freedom : float
        Sum of squared scaled residuals, and how large it may be expected.
    probability : float
        How probable a disagreement so large is: of that sum and of the squared moves from what was known before, in
        standard deviations, together; 1 where nothing is there to disagree.
    converged : bool
        Whether the search for the best points ended at them; if not, no number of the fit is to be trusted.
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
    converged: bool
    _problem: Problem
    _x: npt.NDArray[np.float64]
    _covariance: npt.NDArray[np.float64]

    @property
    def measurements(self) -> Measurements:
        """What was fitted to."""
        return self._problem.measured

    @property
    def unknown_combinations(self) -> tuple[Combination, ...]:
        """Movements of which the measurements say no more than was known before."""
        return tuple(found for found in self.combinations if not found.is_told)

    @property
    def parameters(self) -> tuple[str, ...]:
        """The dimensions behind the unknowns."""
        return self._problem.known.parameters

    @property
    def parameter_covariance(self) -> npt.NDArray[np.float64]:
        """Covariance of the dimensions after the fit, in mm and deg."""
        to_parameters = self._problem.to_parameters
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
            ``value``, and ``standard_deviation`` after the fit and ``standard_deviation_before`` it, along ``reading``
            and the poses.

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
        slopes = found.slopes @ problem.to_parameters
        after = np.sqrt(np.einsum("prz,zy,pry->pr", slopes, self._covariance, slopes))
        before = np.where(
            (slopes[..., ~problem.has_prior] != 0.0).any(axis=-1),
            np.inf,
            np.linalg.norm(slopes[..., problem.has_prior], axis=-1),
        )

        def along(
            values: npt.NDArray[np.float64], words: str
        ) -> tuple[tuple[str, ...], npt.NDArray[Any], dict[str, str]]:
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
            Along ``measurement``: ``value``, ``predicted``, ``standard_deviation`` of the difference to be expected,
            the gauge's own error included, ``scaled``, the difference in units of it, and ``settled``, whether the
            others settle it at all. Where they do not, because nothing was known before of an unknown that hangs on it,
            there is no prediction: NaN, with an infinite standard deviation.

        Raises
        ------
        InputError
            Another word for `by`.

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
            settled = weight > ALONE
            weight = np.where(settled, weight, 1.0)
            predicted = np.where(settled, measured.value - self.data.residual.values / weight, np.nan)
            deviation = np.where(settled, measured.accuracy / np.sqrt(weight), np.inf)
        elif by == "curve":
            predicted, deviation, settled = self._curves_left_out()
        else:
            raise InputError(f"by: {by!r} is neither 'measurement' nor 'curve'", name="by", value=by)
        return xr.Dataset(
            {
                "value": ("measurement", measured.value),
                "predicted": ("measurement", predicted),
                "standard_deviation": ("measurement", deviation),
                "scaled": ("measurement", (measured.value - predicted) / deviation),
                "settled": ("measurement", settled, {"long_name": "whether the others settle it"}),
            },
            {
                "measurement": [measured.described(place) for place in range(len(measured))],
                "reading": ("measurement", list(measured.reading)),
                "curve": ("measurement", list(measured.curves)),
            },
            dataset_attributes(self.corner, "ground", f"each {by} predicted from the others"),
        )

    def _curves_left_out(self) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64], npt.NDArray[np.bool_]]:
        """Each curve predicted by a fit to the others, the deviation of the difference, and whether they settle it."""
        measured = self.measurements
        predicted, deviation = np.full(len(measured), np.nan), np.full(len(measured), np.inf)
        settled = np.zeros(len(measured), dtype=bool)
        count = self._problem.root.shape[1]
        for name in measured.names:
            left_out = np.array([curve == name for curve in measured.curves])
            rest = measured.chosen(~left_out)
            problem = Problem(self.start, self._problem.known, self._problem.root, self._problem.has_prior, rest)
            zeros = [self.offsets[gauge_name(measured, gauge)] / ANY_OFFSET for gauge in problem.offsets]
            try:
                posterior(problem, self._at_solution())
            except InputError:
                continue
            x = np.zeros(count)
            if len(rest):
                x, ended = solved(problem, np.concatenate([self._at_solution(), zeros]))
                if not ended:
                    continue
            settled |= left_out
            covariance, _ = posterior(problem, x[:count])
            asked = measured.chosen(left_out)
            computed, slopes = problem.computed(x[:count], asked)
            error = slopes @ covariance @ slopes.T + np.diag(asked.accuracy**2)
            for own in gauge_columns(asked).T:
                # Its own zero is anyone's guess: changes along the curve are compared.
                weights = own / asked.accuracy**2
                weights = weights / weights.sum()
                computed = computed + own * (weights @ (asked.value - computed))
                centred = np.eye(len(own)) - np.outer(own, weights)
                error = centred @ error @ centred.T
            predicted[left_out], deviation[left_out] = computed, np.sqrt(np.diag(error))
        return predicted, deviation, settled

    def report(self, *, most: int = 12) -> str:
        """The fit in words: what moved, how well it fits, what the data cannot tell.

        Parameters
        ----------
        most : int
            How many unknowns, sums and movements are listed.

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
        if not self.converged:
            lines += [
                f"The search for the best points did not end within {_fit_problem.MOST_EVALUATIONS} evaluations: trust"
                " no number of it. Give narrower priors, or look for a wrong measurement.",
                "",
            ]
        lines.append(
            f"Fit to {_counted(len(self.measurements), 'measurement')}: sum of squared scaled residuals"
            f" {self.chi_square:.1f}, expected {self.freedom:.1f}; with the moves from what was known, one so large has"
            f" a probability of {self.probability:.2g}."
        )
        if self.probability < IMPROBABLE:
            lines.append(f"That is improbable: {DOUBTED}")
        lines.append("Below, deviations from the corner as given; what is known of them is one standard deviation.")
        some = " (the best of them)" if len(told) > most else ""
        said = f"The measurements tell {_counted(len(told), 'weighted sum')} of deviations{some}:"
        lines += ["", said if told else "The measurements tell nothing better than it was known before."]
        lines += [f"  {found.line}" for found in told[:most]]
        # Rounded down: nothing that is listed is narrower.
        share = math.floor(100.0 * (1.0 - NARROWEST_UNTOLD))
        lines += [
            "",
            f"The measurements cannot tell {_counted(len(unseen), 'movement')}: along each, what they say is worth no"
            f" more than what was known before, and narrows it by {share} % at most (before -> after):",
        ]
        lines += [f"  {found.line}" for found in unseen[:most]]
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
                figures(before[place]) if np.isfinite(before[place]) else "nothing known",
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
        counted = _counted(len(self.measurements), "measurement")
        return f"Fit({self.start.name!r}, {self.start.side}, {counted}, {self.unknowns.sizes['source']} unknowns)"

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def _counted(number: int, thing: str) -> str:
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


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
        Curves of toe and camber over travel, an alignment sheet, readings at several plate positions, with the accuracy
        of the gauges; none at all gives what is known before.
    priors : mapping or iterable of Source
        What may be wrong with the corner, and how much before any of this was measured: as `strutsweep.scatter` takes
        it, and ``math.inf`` for a dimension of which nothing is known. Distributions count by mean and standard
        deviation. Static camber and toe are dimensions too: give ``"wheel.camber"`` and ``"wheel.toe"`` unless they are
        certain.
    correlation : mapping or DataArray, optional
        How sources go together, as `strutsweep.scatter` takes it.

    Returns
    -------
    Fit

    Raises
    ------
    InputError
        Measurements of the other corner, an unknown name, a standard deviation that is not above zero, fewer numbers than
        unknowns where nothing was known of some, or a combination that nothing settles.
    ReachError
        A measured pose is out of reach of the corner as given.

    Notes
    -----
    `scipy.optimize.least_squares` with exact slopes of every reading in every unknown. Spreads are those of the
    linearised problem at the solution.

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
    check_side(measurements, corner.side)
    problem = problem_of(corner, measurements, priors, correlation)
    count = problem.root.shape[1]
    start = np.zeros(count + len(problem.offsets))
    if len(measurements):
        # Said at the start, as it is: the solver would only see that nothing can be computed.
        problem.computed(start[:count])
    x, converged = solved(problem, start) if len(measurements) else (start, True)
    covariance, information = posterior(problem, x[:count])
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
            "unit": ("source", problem.known.units),
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
        combinations=combinations_of(problem, information, covariance, x[:count]),
        offsets={
            gauge_name(measurements, gauge): float(x[count + place] * ANY_OFFSET)
            for place, gauge in enumerate(problem.offsets)
        },
        chi_square=chi_square,
        freedom=freedom,
        probability=probability,
        converged=converged,
        _problem=problem,
        _x=x,
        _covariance=covariance,
    )
