"""In which order to turn the adjusters of one car, from how each of them disturbs what another has set."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.optimize import linear_sum_assignment

from strutsweep._core import Corner
from strutsweep._wanting import Along, with_face
from strutsweep.setting_up._poses import pose_of
from strutsweep.setting_up.sheet import USUAL_ACCURACY

__all__ = ["LAST", "Disturbance", "best_order"]

LAST: Final = "tie_rod"
"""Toe is set last: everything else moves it, and it moves the steering wheel."""

_MOST_PERMUTED: Final = 6


@dataclass(frozen=True)
class Disturbance:
    """An order of work and what it costs.

    Attributes
    ----------
    order : tuple of str
        The adjusters, first to last.
    sets : dict
        By adjuster the reading that it is turned for; an adjuster that none is left for is missing.
    left_over : float
        How far, in all, readings move after they were set, in accuracies of their gauges.
    worst : float
        The same for the worst order.
    """

    order: tuple[str, ...]
    sets: Mapping[str, str]
    left_over: float
    worst: float


def best_order(
    corners: Sequence[Corner],
    changes: Sequence[Mapping[str, float]],
    accuracy: Mapping[str, float],
    wanted: Sequence[str],
    along: Along | None = None,
) -> Disturbance:
    """The order in which readings, once set, are disturbed least.

    Each adjuster is given the reading that it is turned for: the assignment by which adjusters move their readings
    most, in accuracies of the gauges. Then every order is tried, and what adjusters do to readings that were set before
    them is added up over the corners; the tie rod stays last.

    Parameters
    ----------
    corners : sequence of Corner
        The corners that are worked on.
    changes : sequence of mapping
        For each of them what its adjusters are moved by themselves, mm and deg.
    accuracy : mapping
        What each reading's gauge is good for, deg.
    wanted : sequence of str
        Readings that are aimed at.
    along : mapping, optional
        Settings that go along with adjusters, and how far, as `plan` takes it.

    Raises
    ------
    ReachError
        One adjuster alone takes a corner out of reach.
    """
    adjusters = sorted({name for change in changes for name, amount in change.items() if amount})
    readings = [name for name in USUAL_ACCURACY if name in wanted]
    effects = np.zeros((len(adjusters), len(readings)))
    for corner, change in zip(corners, changes, strict=True):
        design = corner.solve()
        for i, name in enumerate(adjusters):
            if not change.get(name):
                continue
            pose = pose_of(corner, with_face({name: change[name]}, along or {}))
            for j, reading in enumerate(readings):
                effects[i, j] += abs(getattr(pose, reading) - getattr(design, reading)) / accuracy[reading]
    rows, columns = linear_sum_assignment(-np.log1p(effects)) if readings else ([], [])
    sets = {adjusters[i]: readings[j] for i, j in zip(rows, columns, strict=True) if effects[i, j] > 0.0}
    place = {name: i for i, name in enumerate(adjusters)}
    column = {name: readings.index(reading) for name, reading in sets.items()}

    def left_over(order: Sequence[str]) -> float:
        return math.fsum(
            effects[place[later], column[first]] for first, later in itertools.combinations(order, 2) if first in column
        )

    tail = [LAST] if LAST in place else []
    rest = [name for name in adjusters if name != LAST]
    # More adjusters than that no fitter has; the first ones are then ordered among themselves.
    head, kept = rest[:_MOST_PERMUTED], rest[_MOST_PERMUTED:]
    costs = {(*order, *kept, *tail): left_over([*order, *kept, *tail]) for order in itertools.permutations(head)} or {
        tuple(tail): 0.0
    }
    best = min(costs, key=lambda order: (costs[order], order))
    return Disturbance(order=best, sets=sets, left_over=costs[best], worst=max(costs.values()))
