"""NumPy: the closed form on arrays, a chunk of poses at a time, by the secant method in a fixed number of steps."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np

from .job import READINGS, SECANT_STEPS, Car, Carried, Floats, Grid, Linkage, Sweep, rise_at_design

CHUNK = 8192
"""Poses that are worked on at once: long enough to hide the interpreter, short enough for the second-level cache, and
for temporaries (64 KiB) to come from memory that is kept, not from fresh pages of the system."""

XYZs = tuple[Floats, Floats, Floats]


class Placed(NamedTuple):
    """A knuckle at one arm angle, and what carries its vectors into the body."""

    ball_joint: XYZs
    axis: XYZs
    to_inner: XYZs
    along: Floats
    per_axis_squared: Floats
    outer_share: Floats
    inner_share: Floats
    scale: Floats
    k: Floats
    w: Floats


def place(linkage: Linkage, top_x: Floats, top_y: Floats, t: Floats) -> Placed:
    """The knuckle under a strut top, when half the arm's angle has the tangent `t`."""
    t_squared = t * t
    share = 1.0 / (1.0 + t_squared)
    cosine, sine = (1.0 - t_squared) * share, (t + t) * share
    x, y, z = (
        centre + (start * cosine + quarter * sine)
        for centre, start, quarter in zip(linkage.centre, linkage.start, linkage.quarter, strict=True)
    )
    ex, ey, ez = top_x - x, top_y - y, linkage.top[2] - z
    dx, dy, dz = linkage.inner[0] - x, linkage.inner[1] - y, linkage.inner[2] - z
    axis_squared = ex * ex + ey * ey + ez * ez
    per_axis_squared = 1.0 / axis_squared
    along = np.sqrt(axis_squared - linkage.foot_squared)
    outer_along = linkage.outer_axis_slope * along + linkage.outer_axis
    outer_share = outer_along * per_axis_squared
    inner_along = dx * ex + dy * ey + dz * ez
    inner_share = inner_along * per_axis_squared
    inner_squared = dx * dx + dy * dy + dz * dz
    arm_squared = linkage.outer_squared - outer_share * outer_along
    toward_squared = inner_squared - inner_share * inner_along
    k = (linkage.outer_squared - linkage.rod_squared) + inner_squared - 2.0 * inner_share * outer_along
    both_squared = arm_squared * toward_squared
    w = linkage.rod_sense * np.sqrt((4.0 * both_squared - k * k) * per_axis_squared)
    return Placed(
        (x, y, z),
        (ex, ey, ez),
        (dx, dy, dz),
        along,
        per_axis_squared,
        outer_share,
        inner_share,
        0.5 / both_squared,
        k,
        w,
    )


def shares(placed: Placed, of: Carried) -> XYZs:
    """How much of the steering axis E, of the way D to the inner joint, and of E x D make up a vector."""
    on_axis = of.axis_slope * placed.along + of.axis
    on_arm = (of.outer - on_axis * placed.outer_share) * placed.scale
    on_third = (of.third_slope * placed.along + of.third) * placed.scale
    toward = on_arm * placed.k - on_third * placed.w
    across = on_arm * placed.w + on_third * placed.k * placed.per_axis_squared
    return on_axis * placed.per_axis_squared - toward * placed.inner_share, toward, across


def ground_height(linkage: Linkage, top_x: Floats, top_y: Floats, t: Floats) -> Floats:
    """Height of the contact centre over its height at design."""
    placed = place(linkage, top_x, top_y, t)
    ex, ey, ez = placed.axis
    dx, dy, dz = placed.to_inner
    across_z = ex * dy - ey * dx

    def height(of: Carried) -> Floats:
        along, toward, across = shares(placed, of)
        return ez * along + dz * toward + across_z * across

    spin_z = height(linkage.spin)
    rim = linkage.radius * np.sqrt(1.0 - spin_z * spin_z)
    return placed.ball_joint[2] + height(linkage.hub) - rim - linkage.ground


def solved(linkage: Linkage, top_x: Floats, top_y: Floats, travel: Floats, rise: float) -> Floats:
    """The arm's half-angle tangent that gives a travel."""
    last = np.broadcast_to(travel / rise, np.broadcast_shapes(travel.shape, top_x.shape))
    last_miss = ground_height(linkage, top_x, top_y, last) - travel
    t = last - last_miss / rise
    for _ in range(SECANT_STEPS):
        miss = ground_height(linkage, top_x, top_y, t) - travel
        change = miss - last_miss
        change[change == 0.0] = 1.0  # met exactly: no step is left to take
        t, last, last_miss = t - miss * (t - last) / change, t, miss
    return t


def read(linkage: Linkage, top_x: Floats, top_y: Floats, t: Floats, to: list[Floats]) -> None:
    """Write the readings of poses whose arm angle is known."""
    placed = place(linkage, top_x, top_y, t)
    ex, ey, ez = placed.axis
    dx, dy, dz = placed.to_inner
    across_axis = ey * dz - ez * dy, ez * dx - ex * dz, ex * dy - ey * dx

    def carry(of: Carried) -> XYZs:
        along, toward, across = shares(placed, of)
        x, y, z = (
            e * along + d * toward + n * across
            for e, d, n in zip(placed.axis, placed.to_inner, across_axis, strict=True)
        )
        return x, y, z

    spin_x, spin_y, spin_z = carry(linkage.spin)
    hub_x, hub_y, hub_z = carry(linkage.hub)
    flat = np.sqrt(1.0 - spin_z * spin_z)
    per_flat = 1.0 / flat
    out_x, out_y = spin_x * per_flat, spin_y * per_flat
    lean = linkage.radius * spin_z
    # From where the steering axis meets the ground to the contact centre.
    up_axis = (hub_z - linkage.radius * flat) / ez
    contact_y = hub_y + lean * out_y
    ground_x, ground_y = hub_x + lean * out_x - ex * up_axis, contact_y - ey * up_axis
    camber, toe, caster, kingpin, scrub, trail, strut, half_track = to
    np.degrees(np.arcsin(-spin_z), out=camber)
    np.degrees(np.arctan2(spin_x, spin_y), out=toe)
    np.degrees(np.arctan2(-ex, ez), out=caster)
    np.degrees(np.arctan2(-ey, ez), out=kingpin)
    np.add(ground_x * out_x, ground_y * out_y, out=scrub)
    np.subtract(ground_y * out_x, ground_x * out_y, out=trail)
    np.subtract(linkage.strut, placed.along, out=strut)
    np.add(placed.ball_joint[1], contact_y, out=half_track)


def prepare(car: Car, threads: int) -> Sweep:
    """The sweep, ready to be timed."""
    linkage = Linkage.of(car)
    rise = rise_at_design(linkage)
    pool = ThreadPoolExecutor(threads) if threads > 1 else None

    def sweep(grid: Grid) -> list[Floats]:
        top_x = np.tile(linkage.top[0] - grid.mount_back, len(grid.mount_in))
        top_y = np.repeat(linkage.top[1] - grid.mount_in, len(grid.mount_back))
        mounts = len(top_x)
        results = [np.empty((len(grid.travel), mounts)) for _ in READINGS]
        rows = max(1, CHUNK // mounts)

        def work(first: int, start: int) -> None:
            part = slice(first, first + rows), slice(start, start + CHUNK)
            x, y = top_x[part[1]], top_y[part[1]]
            t = solved(linkage, x, y, grid.travel[part[0], None], rise)
            read(linkage, x, y, t, [result[part] for result in results])

        parts = [(row, start) for row in range(0, len(grid.travel), rows) for start in range(0, mounts, CHUNK)]
        if pool is None:
            for first, start in parts:
                work(first, start)
        else:
            list(pool.map(lambda part: work(*part), parts))
        return [result.reshape(grid.shape) for result in results]

    return sweep
