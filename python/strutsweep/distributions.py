"""How far something may be off: distributions of a deviation about zero, as a drawing or a tape measure gives them."""

from __future__ import annotations

import math
from typing import Any, TypeAlias

from strutsweep._within import one_number
from strutsweep.errors import InputError

__all__ = ["Distribution", "normal", "triangular", "uniform"]

Distribution: TypeAlias = Any
"""A frozen continuous distribution of `scipy.stats`, which has no types to speak of."""


def uniform(half_width: float) -> Distribution:
    """Anything within plus or minus this, all of it equally likely: a tolerance, a reading of a coarse scale.

    Parameters
    ----------
    half_width : float
        In the unit of the dimension, mm or deg; above zero.

    Returns
    -------
    scipy.stats frozen distribution
        Of the deviation; its standard deviation is ``half_width / sqrt(3)``.

    Raises
    ------
    InputError
        The width is not finite or not above zero.

    Examples
    --------
    >>> import strutsweep as ss
    >>> round(float(ss.uniform(1.0).std()), 4)
    0.5774
    """
    from scipy import stats

    width = _positive("half_width", half_width)
    return stats.uniform(-width, 2.0 * width)


def normal(standard_deviation: float) -> Distribution:
    """A bell about zero: what many small errors add up to.

    Parameters
    ----------
    standard_deviation : float
        In the unit of the dimension, mm or deg; above zero. Two in three deviations are within it.

    Returns
    -------
    scipy.stats frozen distribution
        Of the deviation.

    Raises
    ------
    InputError
        The deviation is not finite or not above zero.

    Examples
    --------
    >>> import strutsweep as ss
    >>> float(ss.normal(1.5).std())
    1.5
    """
    from scipy import stats

    return stats.norm(0.0, _positive("standard_deviation", standard_deviation))


def triangular(half_width: float) -> Distribution:
    """Within plus or minus this, likeliest in the middle: a fitter who aims, within a slot that limits.

    Parameters
    ----------
    half_width : float
        In the unit of the dimension, mm or deg; above zero.

    Returns
    -------
    scipy.stats frozen distribution
        Of the deviation; its standard deviation is ``half_width / sqrt(6)``.

    Raises
    ------
    InputError
        The width is not finite or not above zero.

    Examples
    --------
    >>> import strutsweep as ss
    >>> round(float(ss.triangular(1.0).std()), 4)
    0.4082
    """
    from scipy import stats

    width = _positive("half_width", half_width)
    return stats.triang(0.5, -width, 2.0 * width)


def _positive(name: str, value: float) -> float:
    number = one_number(name, value)
    if not (math.isfinite(number) and number > 0.0):
        raise InputError(f"{name} = {number:g} is not above 0 and finite", name=name, value=number, limit=0.0)
    return number
