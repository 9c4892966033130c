"""Combinations of dimensions: weighted sums that measurements tell, and movements that they do not see.

With z for the unknowns in units of what was known of them, the information of the data is a matrix I = S.S, with S the
slopes of the measurements in accuracies, and its eigenvectors v with eigenvalue above one are what the data know better
than it was known before. Told is the number v.z. Of the dimensions d = T z that is the weighted sum w.d with T^T w = v:
weights are a row, w = T^-T v. What is not told is a column: moving the dimensions along T v changes nothing that was
measured. (Rodgers, Inverse Methods for Atmospheric Sounding, World Scientific 2000, section 2.4.)

Unknowns z_f of which nothing was known before are told by the data alone: with I in blocks, those sums are
z_f + A z_i with A = I_ff^-1 I_fi, and what the data say of the others is M = I_ii - I_if A, whose eigenvectors take the
place of those of I. The information splits into these two parts exactly.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from strutsweep._core import Corner
from strutsweep._fit_problem import Problem, movement_in_words
from strutsweep._inputs import XYZ
from strutsweep._printed import figures
from strutsweep.dimensions import PARTS, point_fields, unit_of
from strutsweep.words import HARD_POINT_FIELDS

__all__ = ["Combination"]

TOLD_APART: Final = 1.0
"""Signal to noise of a direction, squared, in units of what was known before, from which on the data say more than was
known."""
NARROWEST_UNTOLD: Final = 1.0 / math.sqrt(1.0 + TOLD_APART)
"""Share of the standard deviation before that is left of what is called not told, at least: data and prior knowledge
that say equally much halve the variance."""
CONTAINED: Final = 0.97
"""Share of a named movement that must lie among those the data do not see for it to be named."""
WHOLLY_CONTAINED: Final = 1.0 - 1e-6
"""The same share for a movement that they do not see at all."""
NEW: Final = 0.5
"""Share of a named movement that must lie outside those already named."""
LEFT_OUT: Final = 0.25
"""Terms of a sum without which it is less sure by no more than this share are left out of it."""
_MOST_DIGITS: Final = 4
_Named: TypeAlias = "tuple[str, npt.NDArray[np.float64]]"
"""A movement's name, and how far each dimension goes in one unit of it."""
ROUND_OFF: Final = 1e-9
"""Shares below this are round-off."""


@dataclass(frozen=True)
class Combination:
    """A weighted sum of dimensions that measurements tell, or a movement of dimensions that they do not see.

    Attributes
    ----------
    words : str
    weights : mapping of str to float
        By dimension, mm and deg. Of a sum the factor of each deviation, that of the leading one being one: a row,
        without the terms that matter little. Of a movement how far each dimension goes, the leading one by one mm or
        deg, or as its name says: a column.
    unit : str
        Of `value`, `before` and `after`, that of the leading dimension.
    value : float
        Of a sum: what it came to in the fit, as a deviation from the corner as given. Of a movement: NaN, as nobody
        knows.
    before, after : float
        Standard deviation of the sum, or of how far things may be moved, before and after the measurements; infinite
        where nothing was known before.
    is_told : bool
        Whether it is a sum that the measurements tell: they narrow it to less than 71 % of what was known before,
        saying more of it than was known. A movement keeps at least that much.

    Examples
    --------
    >>> import strutsweep as ss
    >>> priors = {"strut.top.x": ss.normal(2.0), "lower_arm.ball_joint.x": ss.normal(1.0)}
    >>> found = ss.fit(ss.demo("gravel_hatch").left, ss.Measurements.curve("caster", 3.3, 0.02), priors)
    >>> [combination.words for combination in found.combinations]
    ['strut.top.x - 1.00 lower_arm.ball_joint.x', 'lower_arm.ball_joint.x by +1.00, strut.top.x by +1.00 mm']
    """

    words: str
    weights: Mapping[str, float]
    unit: str
    value: float
    before: float
    after: float
    is_told: bool

    @property
    def line(self) -> str:
        """It in print, with what is known of it: standard deviations."""
        before = figures(self.before) if math.isfinite(self.before) else None
        if self.is_told:
            known = "nothing known before" if before is None else f"{before} before"
            return f"{self.words} = {self.value:+.3g} {self.unit}, known to {figures(self.after)} {self.unit} ({known})"
        known = "nothing known" if before is None else before
        return f"{self.words}: {known} -> {figures(self.after)} {self.unit}"


def _named_movements(corner: Corner, parameters: Sequence[str]) -> list[tuple[str, npt.NDArray[np.float64]]]:
    """Movements that have a name, the more general first: per name how far each dimension goes in one unit of it."""
    points = {spelled: corner.points[keyword] for keyword, spelled in HARD_POINT_FIELDS.items()}
    way = {"x": "fore and aft", "y": "sideways", "z": "up and down"}
    named: list[tuple[str, dict[str, float]]] = []
    everything = point_fields(corner)
    for axis in XYZ:
        named.append((f"all points moved together {way[axis]}", {f"{point}.{axis}": 1.0 for point in everything}))
    part_words = {"knuckle": "the knuckle's points", "subframe": "arm pivots and inner tie-rod joint"}
    part_words |= {
        "arm_pivots": "both arm pivots",
        "strut": "both points of the strut",
        "tie_rod_ends": "both ends of the tie rod",
    }
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
            found.append((words, np.array([weights.get(name, 0.0) for name in parameters])))
    return found


@dataclass(frozen=True)
class _Told:
    """What makes combinations of vectors z."""

    problem: Problem
    to_parameters: npt.NDArray[np.float64]
    inverse: npt.NDArray[np.float64]
    covariance: npt.NDArray[np.float64]
    deviations: npt.NDArray[np.float64]
    """Of the dimensions, as fitted."""
    scale: npt.NDArray[np.float64]
    """Of each dimension what was known of it before, or, where that is nothing, after."""

    @classmethod
    def of(cls, problem: Problem, covariance: npt.NDArray[np.float64], z: npt.NDArray[np.float64]) -> _Told:
        to_parameters = problem.to_parameters
        before: npt.NDArray[np.float64] = np.linalg.norm(to_parameters[:, problem.has_prior], axis=1)
        after: npt.NDArray[np.float64] = np.sqrt(np.einsum("pz,zy,py->p", to_parameters, covariance, to_parameters))
        flat = (to_parameters[:, ~problem.has_prior] != 0.0).any(axis=1)
        scale = np.asarray(
            np.where(flat | (before == 0.0), np.maximum(after, np.finfo(float).tiny), before), dtype=np.float64
        )
        inverse: npt.NDArray[np.float64] = np.asarray(np.linalg.pinv(to_parameters), dtype=np.float64)
        return cls(problem, to_parameters, inverse, covariance, problem.deviations(z), scale)

    def _weighed(self, weights: npt.NDArray[np.float64]) -> tuple[float, float]:
        """Standard deviations of a weighted sum, before and after."""
        row = weights @ self.to_parameters
        flat = row[~self.problem.has_prior]
        before = (
            math.inf if np.abs(flat).max(initial=0.0) > ROUND_OFF * np.abs(row).max() else float(np.linalg.norm(row))
        )
        return before, math.sqrt(max(0.0, float(row @ self.covariance @ row)))

    def sum(self, row: npt.NDArray[np.float64], of_flat: int | None = None) -> Combination:
        """The weighted sum of the dimensions that the number row.z is; led by the dimension of an unknown, if that is
        given."""
        names = self.problem.known.parameters
        units = [unit_of(name) for name in names]
        weights = row @ self.inverse
        sizes = np.abs(weights) * self.scale
        lead = int(np.argmax(sizes if of_flat is None else sizes * np.abs(self.to_parameters[:, of_flat])))
        sizes[lead] = np.inf
        order = np.argsort(-sizes, kind="stable")
        weights = weights / weights[lead]
        told, digits = self._shortened(weights, order)
        before, after = self._weighed(told)
        terms = [names[lead]]
        for place in order[1:]:
            if told[place]:
                per = "" if units[place] == units[lead] else f" {units[lead]}/{units[place]}"
                size = f"{abs(told[place]):.{digits[place]}f}{per}"
                terms.append(f"{'-' if told[place] < 0.0 else '+'} {size} {names[place]}")
        return Combination(
            " ".join(terms),
            {names[place]: float(told[place]) for place in order if told[place]},
            units[lead],
            float(told @ self.deviations),
            before,
            after,
            True,
        )

    def _shortened(
        self, weights: npt.NDArray[np.float64], order: npt.NDArray[np.intp]
    ) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.int_]]:
        """As many terms, and figures of them, as it takes to be nearly as sure as all of them; and decimals of each."""
        before, after = self._weighed(weights)
        # Two figures or more behind the point of what a weight comes to, in units of what leads.
        lead = self.scale[order[0]]
        for more in range(_MOST_DIGITS):
            digits = np.clip(2 + more + np.round(np.log10(self.scale / lead)), 0, 9).astype(int)
            told = np.zeros(len(weights))
            for place in order:
                told[place] = round(float(weights[place]), int(digits[place]))
                told_before, told_after = self._weighed(told)
                sure = told_after <= (1.0 + LEFT_OUT) * after
                if sure and math.isfinite(before):
                    share = told_after / told_before
                    sure = share <= (1.0 + LEFT_OUT) * after / before and share < NARROWEST_UNTOLD
                if sure and math.isinf(told_before) == math.isinf(before):
                    return told, digits
        return told, digits

    def movement(self, z: npt.NDArray[np.float64], after: float, named: _Named | None) -> Combination:
        """The movement of the dimensions along z, whose standard deviation was one before."""
        names = self.problem.known.parameters
        way = self.to_parameters @ z
        lead = int(np.argmax(np.abs(way) / self.scale))
        if named is None:
            length = float(way[lead])
            way = way / length
            words = movement_in_words(names, way, self.scale)
        else:
            words, unit_way = named
            length = float(way @ unit_way) / float(unit_way @ unit_way)
            way = unit_way
        return Combination(
            words,
            {name: float(weight) for name, weight in zip(names, way, strict=True) if weight},
            unit_of(names[lead]),
            math.nan,
            abs(length),
            abs(length) * after,
            False,
        )


def combinations_of(
    problem: Problem,
    information: npt.NDArray[np.float64],
    covariance: npt.NDArray[np.float64],
    z: npt.NDArray[np.float64],
) -> tuple[Combination, ...]:
    """Sums that are told, the best known first, then movements that are not, with names where there are any."""
    making = _Told.of(problem, covariance, z)
    known, flat = np.flatnonzero(problem.has_prior), np.flatnonzero(~problem.has_prior)
    size = len(problem.has_prior)
    own = information[np.ix_(flat, flat)]
    follows = np.linalg.solve(own, information[np.ix_(flat, known)])
    rest = information[np.ix_(known, known)] - information[np.ix_(known, flat)] @ follows
    of_known = covariance[np.ix_(known, known)]

    def row(of_flat: npt.NDArray[np.float64], of_known: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        whole = np.zeros(size)
        whole[flat], whole[known] = of_flat, of_known
        return whole

    values, vectors = np.linalg.eigh(0.5 * (rest + rest.T))
    found = [making.sum(row(np.eye(len(flat))[place], follows[place]), int(flat[place])) for place in range(len(flat))]
    found += [
        making.sum(row(np.zeros(len(flat)), vectors[:, place]))
        for place in range(len(values) - 1, -1, -1)
        if values[place] > TOLD_APART
    ]

    # Unknowns that only follow move so that nothing that was measured changes.
    ways = making.to_parameters[:, known] - making.to_parameters[:, flat] @ follows
    unseen = vectors[:, values <= TOLD_APART]
    if unseen.shape[1]:
        # Sources that take each other back move nothing, and are no movement.
        _, lengths, turned = np.linalg.svd(ways @ unseen)
        some = np.zeros(unseen.shape[1], dtype=bool)
        some[: len(lengths)] = lengths > ROUND_OFF * lengths.max(initial=0.0)
        if not some.all():
            unseen = unseen @ turned.T[:, some]

    def movement(of_known_ones: npt.NDArray[np.float64], named: _Named | None) -> Combination:
        after = math.sqrt(float(of_known_ones @ of_known @ of_known_ones))
        return making.movement(row(-follows @ of_known_ones, of_known_ones), after, named)

    every = unseen
    named = _named_movements(problem.corner, problem.known.parameters)
    # What the data do not see at all comes before what they hardly see.
    for one, least in [(one, least) for least in (WHOLLY_CONTAINED, CONTAINED) for one in named]:
        if unseen.shape[1] == 0:
            break
        way = making.inverse @ one[1]
        length = float(np.linalg.norm(way[known]))
        if np.abs(making.to_parameters @ way - one[1]).max() > 1.0 - WHOLLY_CONTAINED or length == 0.0:
            continue
        own_way = way[known] / length
        strays = way[flat] / length + follows @ own_way
        inside = unseen @ (unseen.T @ own_way)
        if (
            np.linalg.norm(every.T @ own_way) < least
            or np.linalg.norm(inside) < NEW
            or own_way @ rest @ own_way + strays @ own @ strays > TOLD_APART
        ):
            continue
        found.append(movement(own_way, one))
        inside = inside / np.linalg.norm(inside)
        left = unseen - np.outer(inside, inside @ unseen)
        basis, sizes, _ = np.linalg.svd(left, full_matrices=False)
        unseen = basis[:, sizes > 0.5][:, : unseen.shape[1] - 1]
    found += [movement(unseen[:, place], None) for place in range(unseen.shape[1])]
    return tuple(found)
