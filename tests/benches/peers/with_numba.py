"""Numba: the loop over poses that one writes first, each pose by the secant method, in plain functions."""

from __future__ import annotations

import math
from typing import Any, TypeAlias

import numba
import numpy as np
from numba import njit, prange

from .job import READINGS, XYZ, Car, Carried, Floats, Grid, Linkage, Sweep, rise_at_design

Carrying: TypeAlias = tuple[float, float, float, float, float, float, float]

MISS_MM = 1e-10
"""A pose is found when its travel is this near; a last step squares what is left."""

MOST_STEPS = 20


def numbers_of(linkage: Linkage) -> Floats:
    """The linkage as one array: tuples do not pass into a parallel loop."""

    def flat(value: Any) -> list[float]:
        return [number for part in value for number in flat(part)] if isinstance(value, tuple) else [value]

    return np.array(flat(linkage))


@njit(inline="always")
def linkage_of(n: Floats) -> Linkage:
    """The array as a linkage again."""
    return Linkage(
        (n[0], n[1], n[2]),
        (n[3], n[4], n[5]),
        (n[6], n[7], n[8]),
        (n[9], n[10], n[11]),
        (n[12], n[13], n[14]),
        n[15],
        n[16],
        n[17],
        n[18],
        n[19],
        n[20],
        Carried(n[21], n[22], n[23], n[24], n[25]),
        Carried(n[26], n[27], n[28], n[29], n[30]),
        n[31],
        n[32],
        n[33],
    )


@njit(inline="always")
def place(linkage: Linkage, top_x: float, top_y: float, t: float) -> tuple[XYZ, XYZ, XYZ, Carrying]:
    """Ball joint, steering axis, way to the inner joint, and the figures that carry a vector of the knuckle."""
    t_squared = t * t
    share = 1.0 / (1.0 + t_squared)
    cosine = (1.0 - t_squared) * share
    sine = (t + t) * share
    x = linkage.centre[0] + linkage.start[0] * cosine + linkage.quarter[0] * sine
    y = linkage.centre[1] + linkage.start[1] * cosine + linkage.quarter[1] * sine
    z = linkage.centre[2] + linkage.start[2] * cosine + linkage.quarter[2] * sine
    ex, ey, ez = top_x - x, top_y - y, linkage.top[2] - z
    dx, dy, dz = linkage.inner[0] - x, linkage.inner[1] - y, linkage.inner[2] - z
    axis_squared = ex * ex + ey * ey + ez * ez
    per_axis_squared = 1.0 / axis_squared
    along = math.sqrt(axis_squared - linkage.foot_squared)
    outer_along = linkage.outer_axis_slope * along + linkage.outer_axis
    outer_share = outer_along * per_axis_squared
    inner_along = dx * ex + dy * ey + dz * ez
    inner_share = inner_along * per_axis_squared
    inner_squared = dx * dx + dy * dy + dz * dz
    arm_squared = linkage.outer_squared - outer_share * outer_along
    toward_squared = inner_squared - inner_share * inner_along
    k = (linkage.outer_squared - linkage.rod_squared) + inner_squared - 2.0 * inner_share * outer_along
    both_squared = arm_squared * toward_squared
    w = linkage.rod_sense * math.sqrt((4.0 * both_squared - k * k) * per_axis_squared)
    carrying = (along, per_axis_squared, outer_share, inner_share, 0.5 / both_squared, k, w)
    return (x, y, z), (ex, ey, ez), (dx, dy, dz), carrying


@njit(inline="always")
def shares(of: Carried, carrying: Carrying) -> XYZ:
    """How much of the steering axis E, of the way D to the inner joint, and of E x D make up a vector."""
    along, per_axis_squared, outer_share, inner_share, scale, k, w = carrying
    on_axis = of.axis_slope * along + of.axis
    on_arm = (of.outer - on_axis * outer_share) * scale
    on_third = (of.third_slope * along + of.third) * scale
    toward = on_arm * k - on_third * w
    return on_axis * per_axis_squared - toward * inner_share, toward, on_arm * w + on_third * k * per_axis_squared


@njit(inline="always")
def ground_height(linkage: Linkage, top_x: float, top_y: float, t: float) -> float:
    """Height of the contact centre over its height at design."""
    ball_joint, axis, to_inner, carrying = place(linkage, top_x, top_y, t)
    across_z = axis[0] * to_inner[1] - axis[1] * to_inner[0]
    a, b, c = shares(linkage.spin, carrying)
    spin_z = axis[2] * a + to_inner[2] * b + across_z * c
    a, b, c = shares(linkage.hub, carrying)
    hub_z = axis[2] * a + to_inner[2] * b + across_z * c
    return ball_joint[2] + hub_z - linkage.radius * math.sqrt(1.0 - spin_z * spin_z) - linkage.ground


@njit(inline="always")
def carried(axis: XYZ, to_inner: XYZ, across: XYZ, parts: XYZ) -> XYZ:
    """A vector of the knuckle, in the body."""
    a, b, c = parts
    return (
        axis[0] * a + to_inner[0] * b + across[0] * c,
        axis[1] * a + to_inner[1] * b + across[1] * c,
        axis[2] * a + to_inner[2] * b + across[2] * c,
    )


@njit(inline="always")
def attitude(
    linkage: Linkage, top_x: float, top_y: float, t: float
) -> tuple[XYZ, float, XYZ, float, float, float, float]:
    """What the readings are made of: spin axis, its flattened length, steering axis, and the four lengths."""
    ball_joint, axis, to_inner, carrying = place(linkage, top_x, top_y, t)
    across = (
        axis[1] * to_inner[2] - axis[2] * to_inner[1],
        axis[2] * to_inner[0] - axis[0] * to_inner[2],
        axis[0] * to_inner[1] - axis[1] * to_inner[0],
    )
    spin = carried(axis, to_inner, across, shares(linkage.spin, carrying))
    hub = carried(axis, to_inner, across, shares(linkage.hub, carrying))
    flat = math.sqrt(1.0 - spin[2] * spin[2])
    per_flat = 1.0 / flat
    out_x, out_y = spin[0] * per_flat, spin[1] * per_flat
    lean = linkage.radius * spin[2]
    # From where the steering axis meets the ground to the contact centre.
    up_axis = (hub[2] - linkage.radius * flat) / axis[2]
    contact_y = hub[1] + lean * out_y
    ground_x, ground_y = hub[0] + lean * out_x - axis[0] * up_axis, contact_y - axis[1] * up_axis
    scrub = ground_x * out_x + ground_y * out_y
    trail = ground_y * out_x - ground_x * out_y
    return spin, flat, axis, scrub, trail, linkage.strut - carrying[0], ball_joint[1] + contact_y


@njit()
def solved(linkage: Linkage, top_x: float, top_y: float, travel: float, rise: float) -> float:
    """The arm's half-angle tangent that gives a travel."""
    last = travel / rise
    last_miss = ground_height(linkage, top_x, top_y, last) - travel
    t = last - last_miss / rise
    for _ in range(MOST_STEPS):
        miss = ground_height(linkage, top_x, top_y, t) - travel
        if miss == last_miss:
            return t
        following = t - miss * (t - last) / (miss - last_miss)
        if abs(miss) < MISS_MM:
            return following
        last, last_miss, t = t, miss, following
    return math.nan


@njit()
def readings(linkage: Linkage, top_x: float, top_y: float, t: float) -> tuple[float, ...]:
    """The eight readings, in degrees and mm."""
    spin, _, axis, scrub, trail, strut, half_track = attitude(linkage, top_x, top_y, t)
    camber = math.degrees(math.asin(-spin[2]))
    toe = math.degrees(math.atan2(spin[0], spin[1]))
    caster = math.degrees(math.atan2(-axis[0], axis[2]))
    kingpin = math.degrees(math.atan2(-axis[1], axis[2]))
    return camber, toe, caster, kingpin, scrub, trail, strut, half_track


def plain(numbers: Floats, travel: Floats, mount_in: Floats, mount_back: Floats, rise: float, out: Floats) -> None:
    """Every pose of the grid, one after the other; the travels are shared out where threads are to be had."""
    for i in prange(len(travel)):
        linkage = linkage_of(numbers)
        for j in range(len(mount_in)):
            for k in range(len(mount_back)):
                top_x, top_y = linkage.top[0] - mount_back[k], linkage.top[1] - mount_in[j]
                t = solved(linkage, top_x, top_y, travel[i], rise)
                pose = readings(linkage, top_x, top_y, t)
                for number in range(len(pose)):
                    out[number, i, j, k] = pose[number]


def prepare(car: Car, threads: int) -> Sweep:
    """The sweep, to be compiled at its first call."""
    numba.set_num_threads(threads)
    linkage = Linkage.of(car)
    numbers, rise = numbers_of(linkage), rise_at_design(linkage)
    run = njit(parallel=threads > 1)(plain)

    def sweep(grid: Grid) -> list[Floats]:
        out = np.empty((len(READINGS), *grid.shape))
        run(numbers, *grid, rise, out)
        return list(out)

    return sweep
