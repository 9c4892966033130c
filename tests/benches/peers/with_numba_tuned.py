"""Numba, tuned: arranged so that the compiler turns every inner loop into vector instructions.

What was done, each kept because it was faster:

- The mounts are one flat axis, shared out in blocks over the threads; inner loops run along them and hold no branch,
  no call and no early end, so that eight poses (AVX-512) stand in each register.
- The search is several passes over a block that stays in the first-level cache, one evaluation a pass: a pass of one
  evaluation is turned into vector code, a loop around several is not.
- Fast arithmetic but for NaN (`FAST`): sums reordered, multiplication and addition fused.
- Angles by a polynomial of the arc tangent after one division, in place of the scalar library's.
- Results in NumPy's memory, which asks the system for large pages; Numba's own does not.

`prepare_alone` finds each pose from its own inputs, as the engine promises to, by four evaluations of travel and one of
the readings. `prepare` makes use of the grid: the arm angle of the next travel is extrapolated from the four travels
before it, and so is its slope, which leaves one evaluation of travel and one of the readings. It is right for evenly
spaced travels alone.
"""

from __future__ import annotations

import math
from functools import partial
from typing import TypeAlias

import numba
import numpy as np
from numba import njit, prange
from numpy.polynomial import Chebyshev, Polynomial

from .job import READINGS, SECANT_STEPS, Car, Floats, Grid, Linkage, Sweep, rise_at_design
from .with_numba import attitude, ground_height, linkage_of, numbers_of

Four: TypeAlias = tuple[Floats, Floats, Floats, Floats]

FAST = {"contract", "reassoc", "arcp", "nsz", "afn", "ninf"}
BLOCK = 512
"""Mounts that are worked on at once."""

CARRIED_FROM = 4
"""Travels that the extrapolation of the next one needs."""

EIGHTH_TURN = math.tan(math.pi / 8.0)
TO_DEGREES = 180.0 / math.pi


def arc_tangent_over_argument(squared: Floats) -> Floats:
    """atan(x) / x as a function of x squared."""
    x = np.sqrt(np.maximum(squared, 1e-30))
    return np.asarray(np.arctan(x) / x)


# Of degree ten in the square, between minus and plus 22.5 degrees: 5e-16 at most from the library's arc tangent.
A0, A1, A2, A3, A4, A5, A6, A7, A8, A9, A10 = (
    Chebyshev.interpolate(arc_tangent_over_argument, 10, [0.0, EIGHTH_TURN**2]).convert(kind=Polynomial).coef.tolist()
)

inlined = njit(inline="always")
compiled = njit(fastmath=FAST, error_model="numpy", nogil=True)


@inlined
def angle(y: float, x: float) -> float:
    """atan2 in degrees for x > 0, without a branch: one division, then a polynomial."""
    size = abs(y)
    steep = size * EIGHTH_TURN > x
    middling = size > EIGHTH_TURN * x
    above = -x if steep else (size - x if middling else size)
    below = size if steep else (size + x if middling else x)
    turned = 90.0 if steep else (45.0 if middling else 0.0)
    r = above / below
    q = r * r
    p = A0 + q * (A1 + q * (A2 + q * (A3 + q * (A4 + q * (A5 + q * (A6 + q * (A7 + q * (A8 + q * (A9 + q * A10)))))))))
    return math.copysign(turned + TO_DEGREES * (r * p), y)


@compiled
def begin(
    numbers: Floats,
    top_x: Floats,
    top_y: Floats,
    travel: float,
    rise: float,
    last: Floats,
    last_miss: Floats,
    t: Floats,
) -> None:
    """The first guess and a step along the slope at design."""
    linkage = linkage_of(numbers)
    guess = travel / rise
    per_rise = 1.0 / rise
    for i in range(len(t)):
        miss = ground_height(linkage, top_x[i], top_y[i], guess) - travel
        last[i] = guess
        last_miss[i] = miss
        t[i] = guess - miss * per_rise


@compiled
def approach(
    numbers: Floats, top_x: Floats, top_y: Floats, travel: float, last: Floats, last_miss: Floats, t: Floats
) -> None:
    """One step of the secant method."""
    linkage = linkage_of(numbers)
    for i in range(len(t)):
        here = t[i]
        miss = ground_height(linkage, top_x[i], top_y[i], here) - travel
        change = miss - last_miss[i]
        change = change if change != 0.0 else 1.0
        t[i] = here - miss * (here - last[i]) / change
        last[i] = here
        last_miss[i] = miss


@compiled
def carry_on(
    numbers: Floats, top_x: Floats, top_y: Floats, travel: float, per_step: float, before: Four, t: Floats
) -> None:
    """One step from the cubic through the four travels before; `before` is newest first."""
    linkage = linkage_of(numbers)
    newest, second, third, oldest = before
    for i in range(len(t)):
        guess = 4.0 * (newest[i] + third[i]) - 6.0 * second[i] - oldest[i]
        slope = (11.0 * guess - 18.0 * newest[i] + 9.0 * second[i] - 2.0 * third[i]) * (per_step / 6.0)
        t[i] = guess - (ground_height(linkage, top_x[i], top_y[i], guess) - travel) * slope


@compiled
def read(
    numbers: Floats,
    top_x: Floats,
    top_y: Floats,
    t: Floats,
    camber: Floats,
    toe: Floats,
    caster: Floats,
    kingpin: Floats,
    scrub: Floats,
    trail: Floats,
    strut: Floats,
    half_track: Floats,
) -> None:
    """The readings of poses whose arm angle is known."""
    linkage = linkage_of(numbers)
    for i in range(len(t)):
        spin, flat, axis, scrub_i, trail_i, strut_i, half_track_i = attitude(linkage, top_x[i], top_y[i], t[i])
        camber[i] = angle(-spin[2], flat)
        toe[i] = angle(spin[0], spin[1])
        caster[i] = angle(-axis[0], axis[2])
        kingpin[i] = angle(-axis[1], axis[2])
        scrub[i] = scrub_i
        trail[i] = trail_i
        strut[i] = strut_i
        half_track[i] = half_track_i


@njit(parallel=True, error_model="numpy")
def blocks(
    numbers: Floats, travel: Floats, top_x: Floats, top_y: Floats, rise: float, block: int, carried: bool, out: Floats
) -> None:
    """All travels of a block of mounts, then the next block."""
    mounts = len(top_x)
    for number in prange((mounts + block - 1) // block):
        start = number * block
        end = min(mounts, start + block)
        x, y = top_x[start:end], top_y[start:end]
        kept = np.empty((CARRIED_FROM + 1, block))
        work = np.empty((2, block))
        size = end - start
        for i in range(len(travel)):
            t = kept[i % 5, :size]
            if carried and i >= CARRIED_FROM:
                before = (kept[(i + 4) % 5], kept[(i + 3) % 5], kept[(i + 2) % 5], kept[(i + 1) % 5])
                carry_on(numbers, x, y, travel[i], 1.0 / (travel[i] - travel[i - 1]), before, t)
            else:
                begin(numbers, x, y, travel[i], rise, work[0], work[1], t)
                for _ in range(SECANT_STEPS):
                    approach(numbers, x, y, travel[i], work[0], work[1], t)
            read(
                numbers,
                x,
                y,
                t,
                out[0, i, start:end],
                out[1, i, start:end],
                out[2, i, start:end],
                out[3, i, start:end],
                out[4, i, start:end],
                out[5, i, start:end],
                out[6, i, start:end],
                out[7, i, start:end],
            )


def prepared(car: Car, threads: int, *, carried: bool) -> Sweep:
    """The sweep, to be compiled at its first call."""
    numba.set_num_threads(threads)
    linkage = Linkage.of(car)
    numbers, rise = numbers_of(linkage), rise_at_design(linkage)

    def sweep(grid: Grid) -> list[Floats]:
        if carried and not np.allclose(np.diff(grid.travel), grid.travel[1] - grid.travel[0], rtol=1e-9):
            raise ValueError("travels that are not evenly spaced")
        top_x = np.tile(linkage.top[0] - grid.mount_back, len(grid.mount_in))
        top_y = np.repeat(linkage.top[1] - grid.mount_in, len(grid.mount_back))
        out = np.empty((len(READINGS), len(grid.travel), len(top_x)))
        block = min(BLOCK, -(-len(top_x) // threads))
        blocks(numbers, grid.travel, top_x, top_y, rise, block, carried, out)
        return [column.reshape(grid.shape) for column in out]

    return sweep


prepare = partial(prepared, carried=True)
prepare_alone = partial(prepared, carried=False)
