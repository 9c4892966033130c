"""SciPy: a root finder for each pose, called from plain Python."""

from __future__ import annotations

import math

import numpy as np
from scipy.optimize import brentq

from .job import READINGS, Car, Carried, Floats, Grid, Linkage, Sweep

WIDEST = 0.2
"""The arm's half-angle tangent lies between minus and plus this: 23 degrees of arm, twice what the grid asks for."""

ROOT_TOLERANCE = 1e-14
"""Of the half-angle tangent; about 1e-11 mm of travel."""


class Knuckle:
    """A knuckle at one arm angle."""

    def __init__(self, linkage: Linkage, top_x: float, top_y: float, t: float) -> None:
        share = 1.0 / (1.0 + t * t)
        cosine, sine = (1.0 - t * t) * share, (t + t) * share
        self.linkage = linkage
        self.x, self.y, self.z = x, y, z = (
            linkage.centre[0] + linkage.start[0] * cosine + linkage.quarter[0] * sine,
            linkage.centre[1] + linkage.start[1] * cosine + linkage.quarter[1] * sine,
            linkage.centre[2] + linkage.start[2] * cosine + linkage.quarter[2] * sine,
        )
        self.axis = ex, ey, ez = top_x - x, top_y - y, linkage.top[2] - z
        self.to_inner = dx, dy, dz = linkage.inner[0] - x, linkage.inner[1] - y, linkage.inner[2] - z
        axis_squared = ex * ex + ey * ey + ez * ez
        self.per_axis_squared = 1.0 / axis_squared
        self.along = math.sqrt(axis_squared - linkage.foot_squared)
        outer_along = linkage.outer_axis_slope * self.along + linkage.outer_axis
        self.outer_share = outer_along * self.per_axis_squared
        inner_along = dx * ex + dy * ey + dz * ez
        self.inner_share = inner_along * self.per_axis_squared
        inner_squared = dx * dx + dy * dy + dz * dz
        arm_squared = linkage.outer_squared - self.outer_share * outer_along
        toward_squared = inner_squared - self.inner_share * inner_along
        k = linkage.outer_squared - linkage.rod_squared + inner_squared - 2.0 * self.inner_share * outer_along
        both_squared = arm_squared * toward_squared
        self.w = linkage.rod_sense * math.sqrt((4.0 * both_squared - k * k) * self.per_axis_squared)
        self.k, self.scale = k, 0.5 / both_squared

    def shares(self, of: Carried) -> tuple[float, float, float]:
        """How much of the steering axis E, of the way D to the inner joint, and of E x D make up a vector."""
        on_axis = of.axis_slope * self.along + of.axis
        on_arm = (of.outer - on_axis * self.outer_share) * self.scale
        on_third = (of.third_slope * self.along + of.third) * self.scale
        toward = on_arm * self.k - on_third * self.w
        across = on_arm * self.w + on_third * self.k * self.per_axis_squared
        return on_axis * self.per_axis_squared - toward * self.inner_share, toward, across

    def ground_height(self) -> float:
        """Height of the contact centre over its height at design."""
        ex, ey, ez = self.axis
        dx, dy, dz = self.to_inner
        across_z = ex * dy - ey * dx
        a, b, c = self.shares(self.linkage.spin)
        spin_z = ez * a + dz * b + across_z * c
        a, b, c = self.shares(self.linkage.hub)
        hub_z = ez * a + dz * b + across_z * c
        return self.z + hub_z - self.linkage.radius * math.sqrt(1.0 - spin_z * spin_z) - self.linkage.ground

    def readings(self) -> tuple[float, ...]:
        """The eight readings."""
        ex, ey, ez = self.axis
        dx, dy, dz = self.to_inner
        nx, ny, nz = ey * dz - ez * dy, ez * dx - ex * dz, ex * dy - ey * dx
        a, b, c = self.shares(self.linkage.spin)
        spin_x, spin_y, spin_z = ex * a + dx * b + nx * c, ey * a + dy * b + ny * c, ez * a + dz * b + nz * c
        a, b, c = self.shares(self.linkage.hub)
        hub_x, hub_y, hub_z = ex * a + dx * b + nx * c, ey * a + dy * b + ny * c, ez * a + dz * b + nz * c
        flat = math.sqrt(1.0 - spin_z * spin_z)
        out_x, out_y = spin_x / flat, spin_y / flat
        lean = self.linkage.radius * spin_z
        up_axis = (hub_z - self.linkage.radius * flat) / ez
        contact_y = hub_y + lean * out_y
        ground_x, ground_y = hub_x + lean * out_x - ex * up_axis, contact_y - ey * up_axis
        return (
            math.degrees(math.asin(-spin_z)),
            math.degrees(math.atan2(spin_x, spin_y)),
            math.degrees(math.atan2(-ex, ez)),
            math.degrees(math.atan2(-ey, ez)),
            ground_x * out_x + ground_y * out_y,
            ground_y * out_x - ground_x * out_y,
            self.linkage.strut - self.along,
            self.y + contact_y,
        )


def miss(t: float, linkage: Linkage, top_x: float, top_y: float, travel: float) -> float:
    """Travel at an arm angle over the wanted one."""
    return Knuckle(linkage, top_x, top_y, t).ground_height() - travel


def prepare(car: Car, threads: int) -> Sweep:
    """The sweep; one thread, as plain Python holds the interpreter's lock."""
    linkage = Linkage.of(car)

    def sweep(grid: Grid) -> list[Floats]:
        out = np.empty((*grid.shape, len(READINGS)))
        for i, travel in enumerate(grid.travel.tolist()):
            for j, mount_in in enumerate(grid.mount_in.tolist()):
                for k, mount_back in enumerate(grid.mount_back.tolist()):
                    top = linkage.top[0] - mount_back, linkage.top[1] - mount_in
                    t = brentq(miss, -WIDEST, WIDEST, args=(linkage, *top, travel), xtol=ROOT_TOLERANCE)
                    out[i, j, k] = Knuckle(linkage, *top, t).readings()
        return [np.ascontiguousarray(out[..., column]) for column in range(len(READINGS))]

    return sweep
