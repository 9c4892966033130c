"""Scatter of a corner's dimensions: tolerances, parts that move as one, and samples drawn of them.

A dimension is named as a car file spells it (``"strut.top.y"``, ``"wheel.camber"``) or, a setting, by its keyword
(``"mount_in"``). A `Source` is one thing that varies by itself; it moves one dimension or several. What varies is
always the deviation from the corner as it is given.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, Literal, TypeAlias

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep._core import Corner
from strutsweep._inputs import XYZ, unknown
from strutsweep._within import mapping_of, one_number
from strutsweep.dimensions import PARTS, WHEEL_KEYWORDS, dimensions, expanded, unit_of
from strutsweep.distributions import Distribution, uniform
from strutsweep.errors import InputError
from strutsweep.words import HARD_POINT_FIELDS, SETTINGS

__all__ = ["Scatter", "Source", "Tolerances", "scatter"]

Tolerances: TypeAlias = "Mapping[str | tuple[str, ...], float | Distribution] | Iterable[Source]"
"""What may be given as tolerances: see `scatter`."""

_CORRELATION_SLACK: Final = 1e-9
"""Round-off that a correlation matrix is allowed, in its entries and in its least eigenvalue."""

_NODES: Final = 80
"""Nodes of the quadrature by which correlations of other than normal distributions are found: good to 1e-4 for a step,
to round-off for anything smooth."""


@dataclass(frozen=True)
class Source:
    """One thing that varies by itself.

    Attributes
    ----------
    name : str
        What tables and plots call it.
    distribution : scipy.stats frozen distribution
        Of its deviation, in mm or deg.
    moves : mapping of str to float
        The dimensions that it moves, and by how much each for a deviation of one.

    Examples
    --------
    >>> import strutsweep as ss
    >>> ss.Source("rack housing up", ss.normal(2.0), {"tie_rod.inner.z": 1.0}).moves
    {'tie_rod.inner.z': 1.0}
    """

    name: str
    distribution: Distribution
    moves: Mapping[str, float] = field(default_factory=dict)

    @property
    def unit(self) -> str:
        """Unit of its deviation, ``"mm"`` or ``"deg"``: that of the first dimension that it moves."""
        return unit_of(next(iter(self.moves)))

    @property
    def mean(self) -> float:
        """Mean deviation, mm or deg."""
        return float(self.distribution.mean())

    @property
    def standard_deviation(self) -> float:
        """Standard deviation, mm or deg."""
        return float(self.distribution.std())


@dataclass(frozen=True)
class Scatter:
    """All that varies at once: sources, and how they go together.

    Attributes
    ----------
    sources : tuple of Source
    correlation : array
        Of the sources' normal scores, sources by sources: for normal sources their correlation itself.
    parameters : tuple of str
        The dimensions that vary.
    weights : array
        Parameters by sources: how far each dimension moves for a deviation of one of each source.
    """

    sources: tuple[Source, ...]
    correlation: npt.NDArray[np.float64]
    parameters: tuple[str, ...]
    weights: npt.NDArray[np.float64]

    @property
    def names(self) -> list[str]:
        """Names of the sources."""
        return [source.name for source in self.sources]

    @property
    def units(self) -> list[str]:
        """Unit of each source's deviation, ``"mm"`` or ``"deg"``."""
        return [source.unit for source in self.sources]

    @property
    def means(self) -> npt.NDArray[np.float64]:
        """Mean deviation of each source, mm or deg."""
        return np.array([source.mean for source in self.sources])

    @property
    def standard_deviations(self) -> npt.NDArray[np.float64]:
        """Standard deviation of each source, mm or deg."""
        return np.array([source.standard_deviation for source in self.sources])

    @property
    def is_correlated(self) -> bool:
        """Whether any two sources go together."""
        return bool(np.any(self.correlation != np.eye(len(self.sources))))

    def covariance(self) -> npt.NDArray[np.float64]:
        """Covariance of the sources, sources by sources, in mm and deg.

        Sources that are not normal are correlated through their normal scores; what their own correlation comes to
        is found by Gauss-Hermite quadrature.
        """
        deviations = self.standard_deviations
        correlation = self.correlation.copy()
        for i, j in np.argwhere(np.triu(correlation, 1) != 0.0):
            correlation[i, j] = correlation[j, i] = _own_correlation(
                self.sources[i].distribution, self.sources[j].distribution, float(correlation[i, j])
            )
        return np.outer(deviations, deviations) * correlation

    def draw(self, count: int, method: Literal["sobol", "random"], seed: int) -> npt.NDArray[np.float64]:
        """Samples of the deviations of all parameters.

        Parameters
        ----------
        count : int
            How many; a power of two for ``"sobol"``.
        method : {"sobol", "random"}
            Scrambled points of Sobol that fill the space evenly, or independent ones.
        seed : int

        Returns
        -------
        array
            Samples by parameters, in mm and deg.
        """
        from scipy import special, stats

        width = len(self.sources)
        # Scores of exactly 0 or 1 would be infinitely far out.
        if method == "sobol":
            shares = stats.qmc.Sobol(width, scramble=True, rng=np.random.default_rng(seed)).random(count)
            np.clip(shares, 2.0**-33, 1.0 - 2.0**-33, out=shares)
        else:
            shares = np.random.default_rng(seed).random((count, width))
            np.clip(shares, 2.0**-54, 1.0 - 2.0**-53, out=shares)
        if self.is_correlated:
            shares = special.ndtr(special.ndtri(shares) @ _root(self.correlation).T)
        # Columns lie together in memory: each is worked on by itself.
        shares = np.asfortranarray(shares)
        for column, source in enumerate(self.sources):
            shares[:, column] = source.distribution.ppf(shares[:, column])
        # Most dimensions have one source and one weight: no matrix product, and the same bits on any number of threads.
        deviations = np.zeros((count, len(self.parameters)), order="F")
        for row, column in np.argwhere(self.weights != 0.0):
            deviations[:, row] += self.weights[row, column] * shares[:, column]
        return deviations


def _root(correlation: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """A matrix whose square this is, though the matrix may be singular."""
    values, vectors = np.linalg.eigh(correlation)
    root: npt.NDArray[np.float64] = vectors * np.sqrt(np.clip(values, 0.0, None))
    return root


def _own_correlation(first: Distribution, second: Distribution, of_scores: float) -> float:
    """Correlation of two quantities whose normal scores have this correlation."""
    from scipy import special

    if first.dist.name == second.dist.name == "norm":
        return of_scores
    nodes, weights = np.polynomial.hermite_e.hermegauss(_NODES)
    weights = weights / weights.sum()
    low = np.sqrt(max(0.0, 1.0 - of_scores**2))
    scores = of_scores * nodes[:, None] + low * nodes[None, :]
    a = (first.ppf(special.ndtr(nodes)) - first.mean()) / first.std()
    b = (second.ppf(special.ndtr(scores)) - second.mean()) / second.std()
    return float(weights @ (a[:, None] * b) @ weights)


def scatter(
    corner: Corner,
    tolerances: Tolerances,
    *,
    correlation: Mapping[tuple[str, str], float] | xr.DataArray | None = None,
) -> Scatter:
    """What varies, from tolerances as a drawing or a tape measure gives them.

    Parameters
    ----------
    corner : Corner
    tolerances : mapping, or iterable of Source
        By name what may vary, and how. A name is a dimension (``"strut.top.y"``, ``"mount_in"``, ``"wheel.toe"``), a
        hard point (``"strut.top"``: its three coordinates, each by itself), ``"points"`` (every coordinate of every
        hard point that has no entry of its own), a part that moves as one (``"knuckle"``, ``"subframe"``,
        ``"arm_pivots"``, ``"strut"``, ``"tie_rod_ends"``), or a tuple of points that move as one. A number means plus
        or minus that, uniform, in mm or deg; otherwise a frozen distribution of `scipy.stats`, of the deviation. A
        part's moves come on top of those of its points.
    correlation : mapping of pairs to float, or DataArray, optional
        Of sources named as above (a point's are its coordinates, a part's ``"knuckle as one, x"``): pairs of names with
        their correlation, or a whole matrix whose two dimensions carry the names. Of sources that are not normal it is
        the correlation of their normal scores.

    Returns
    -------
    Scatter

    Raises
    ------
    InputError
        An unknown name, a tolerance that is not above zero, a matrix that is no correlation.

    Examples
    --------
    >>> import strutsweep as ss
    >>> corner = ss.demo("gravel_hatch").left
    >>> found = ss.scatter(corner, {"points": 1.0, "strut.top": ss.normal(2.0), "subframe": ss.normal(1.0)})
    >>> len(found.sources), found.names[-1]
    (27, 'subframe as one, z')
    """
    return gathered(corner, tolerances, correlation, "tolerances")


class Flat:
    """What is known of a dimension of which nothing is known: a fit may put it anywhere."""

    def mean(self) -> float:
        """Where a fit starts to look."""
        return 0.0

    def std(self) -> float:
        """Infinite."""
        return math.inf


def gathered(
    corner: Corner,
    given: Tolerances,
    correlation: Mapping[tuple[str, str], float] | xr.DataArray | None,
    argument: str,
    *,
    flat: bool = False,
) -> Scatter:
    """As `scatter`, with the argument's name for messages; `flat` lets an infinite tolerance mean that nothing is
    known."""
    if not isinstance(given, (Mapping, Iterable)):
        raise InputError(f"{argument}: {given!r} is neither a mapping nor sources", name=argument, value=given)
    sources = (
        _sources(corner, given, argument, flat)
        if isinstance(given, Mapping)
        else [_checked(corner, source, argument, flat) for source in given]
    )
    if not sources:
        raise InputError(f"{argument}: nothing varies", name=argument, value=given)
    names = [source.name for source in sources]
    for name in names:
        if names.count(name) > 1:
            raise InputError(f"{argument}: {name!r} is given twice", name=argument, value=name)
    parameters = tuple(dict.fromkeys(moved for source in sources for moved in source.moves))
    weights = np.zeros((len(parameters), len(sources)))
    for column, source in enumerate(sources):
        for moved, weight in source.moves.items():
            weights[parameters.index(moved), column] = weight
    return Scatter(tuple(sources), _correlation(names, correlation), parameters, weights)


def _sources(
    corner: Corner, given_by_name: Mapping[str | tuple[str, ...], Any], argument: str, flat: bool
) -> list[Source]:
    own: dict[str, tuple[int, Distribution]] = {}
    as_one: list[Source] = []
    for name, given in given_by_name.items():
        distribution = _distribution(str(name), given, argument, flat)
        if isinstance(name, tuple) or name in PARTS:
            points = PARTS[name] if isinstance(name, str) else name
            together = " and ".join(points) if isinstance(name, tuple) else name
            moved = [expanded(corner, point, argument) for point in points]
            if not points or any(len(coordinates) != len(XYZ) for coordinates in moved):
                raise InputError(
                    f"{argument}: {name!r} must hold hard points to move as one", name=argument, value=name
                )
            as_one += [
                Source(f"{together} as one, {axis}", distribution, {point[place]: 1.0 for point in moved})
                for place, axis in enumerate(XYZ)
            ]
            continue
        found = expanded(corner, name, argument)
        # The more particular entry counts: a coordinate before its point, a point before all of them.
        breadth = len(found)
        for dimension in found:
            if dimension not in own or breadth < own[dimension][0]:
                own[dimension] = (breadth, distribution)
    ordered = [dimension for dimension in dimensions(corner) if dimension in own]
    return [Source(dimension, own[dimension][1], {dimension: 1.0}) for dimension in ordered] + as_one


def _distribution(name: str, given: Any, argument: str, flat: bool) -> Distribution:
    if flat and isinstance(given, Flat):
        return given
    if isinstance(given, (int, float, np.integer, np.floating)) and not isinstance(given, bool):
        number = float(given)
        if flat and number == math.inf:
            return Flat()
        if not (math.isfinite(number) and number > 0.0):
            raise InputError(
                f"{argument}: {name} \N{PLUS-MINUS SIGN}{number:g} is not above 0 and finite",
                name=name,
                value=number,
                limit=0.0,
            )
        return uniform(number)
    if not all(hasattr(given, method) for method in ("ppf", "mean", "std")):
        raise InputError(
            f"{argument}: {name} is neither a number nor a frozen distribution of scipy.stats: {given!r}",
            name=name,
            value=given,
        )
    deviation = float(given.std())
    if not (math.isfinite(deviation) and deviation > 0.0 and math.isfinite(float(given.mean()))):
        raise InputError(
            f"{argument}: {name} has a distribution of standard deviation {deviation:g}, which is not above 0 and"
            " finite",
            name=name,
            value=deviation,
            limit=0.0,
        )
    return given


def _checked(corner: Corner, source: object, argument: str, flat: bool) -> Source:
    if not isinstance(source, Source):
        raise InputError(f"{argument}: {source!r} is no Source", name=argument, value=source)
    if not source.moves:
        raise InputError(f"{argument}: {source.name!r} moves nothing", name=argument, value=source.name)
    moves: dict[str, float] = {}
    for name, given in mapping_of(argument, source.moves).items():
        weight = one_number(f"{argument}: {source.name!r} moves {name}", given)
        if not math.isfinite(weight):
            message = f"{argument}: {source.name!r} moves {name} by {weight}, which is not finite"
            raise InputError(message, name=argument, value=weight)
        for dimension in expanded(corner, name, argument):
            moves[dimension] = weight
    return Source(source.name, _distribution(source.name, source.distribution, argument, flat), moves)


def _correlation(
    names: Sequence[str], given: Mapping[tuple[str, str], float] | xr.DataArray | None
) -> npt.NDArray[np.float64]:
    matrix = np.eye(len(names))
    if given is None:
        return matrix
    if isinstance(given, xr.DataArray):
        if given.ndim != 2 or given.shape[0] != given.shape[1]:
            raise InputError(
                f"correlation has shape {given.shape}: a square matrix is wanted", name="correlation", value=given.shape
            )
        labels = [
            [str(label) for label in given.coords[dim].values] if dim in given.coords else [] for dim in given.dims
        ]
        if labels[0] != labels[1] or not labels[0]:
            raise InputError(
                "correlation: both dimensions must carry the same names of sources", name="correlation", value=labels
            )
        values = np.asarray(given.values, dtype=np.float64)
        places = [_place(name, names) for name in labels[0]]
        matrix[np.ix_(places, places)] = values
    else:
        for pair, value in mapping_of("correlation", given).items():
            if not isinstance(pair, tuple) or len(pair) != 2:
                raise InputError(f"correlation: {pair!r} is no pair of names", name="correlation", value=pair)
            first, second = pair
            i, j = _place(first, names), _place(second, names)
            if i == j:
                raise InputError(f"correlation: {first} is paired with itself", name="correlation", value=first)
            matrix[i, j] = matrix[j, i] = one_number("correlation", value)
    _check_correlation(matrix, names)
    return 0.5 * (matrix + matrix.T)


def _place(name: str, names: Sequence[str]) -> int:
    if name not in names:
        raise unknown("correlation", name, names)
    return list(names).index(name)


def _check_correlation(matrix: npt.NDArray[np.float64], names: Sequence[str]) -> None:
    def refuse(what: str, value: object, limit: float | None = None) -> InputError:
        return InputError(f"correlation: {what}", name="correlation", value=value, limit=limit)

    for (i, j), value in np.ndenumerate(matrix):
        pair = f"{names[i]} and {names[j]}"
        if not abs(value) <= 1.0 + _CORRELATION_SLACK:
            raise refuse(f"{pair} have {value:g}, which is not within -1 to 1", value, 1.0)
        if abs(value - matrix[j, i]) > _CORRELATION_SLACK:
            raise refuse(f"{pair} have {value:g} one way and {matrix[j, i]:g} the other", value)
        if i == j and abs(value - 1.0) > _CORRELATION_SLACK:
            raise refuse(f"{names[i]} has {value:g} with itself, where 1 must stand", value, 1.0)
    least = float(np.linalg.eigvalsh(matrix)[0])
    if least < -_CORRELATION_SLACK * len(names):
        raise refuse(
            f"these contradict each other: the matrix has an eigenvalue of {least:.3g}, and none may be below 0",
            least,
            0.0,
        )


def moved(
    corner: Corner, parameters: Sequence[str], deviations: npt.NDArray[np.float64]
) -> tuple[Corner, dict[str, float]]:
    """The corner with these dimensions moved by so much, and the settings among them.

    Raises
    ------
    GeometryError
        The moved points make no corner.
    """
    changes: dict[str, Any] = {}
    settings: dict[str, float] = {}
    keywords = {spelled: keyword for keyword, spelled in HARD_POINT_FIELDS.items()}
    at_design = {"wheel_radius": corner.wheel_radius, "camber": corner.camber, "toe": corner.toe}
    for name, deviation in zip(parameters, deviations, strict=True):
        if name in SETTINGS:
            settings[name] = float(deviation)
        elif name in WHEEL_KEYWORDS:
            keyword = WHEEL_KEYWORDS[name]
            changes[keyword] = at_design[keyword] + float(deviation)
        else:
            point, _, axis = name.rpartition(".")
            keyword = keywords[point]
            at = changes.setdefault(keyword, corner.points[keyword].copy())
            at[XYZ.index(axis)] += float(deviation)
    return (corner.replace(**changes) if changes else corner), settings
