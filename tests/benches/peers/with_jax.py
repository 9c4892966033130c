"""JAX: one pose as a function of numbers, vectorised, differentiated and compiled by the library.

In double precision, which JAX has to be asked for. Two ways: `prepare`, the closed form with one unknown; and
`prepare_constraints`, which lets the library do the thinking: the knuckle has six unknowns, the joints and the wanted
travel six equations, and Newton's method has their Jacobian by automatic differentiation.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any, TypeAlias

import jax
import jax.numpy as jnp
import numpy as np

from .job import NEWTON_STEPS, Car, Carried, Grid, Linkage, Sweep, hard_points, rise_at_design, spin_axis

jax.config.update("jax_enable_x64", True)  # type: ignore[no-untyped-call]

Number: TypeAlias = jax.Array
Numbers: TypeAlias = tuple[Number, ...]
Pose: TypeAlias = Callable[[Number, Number, Number], Numbers]

WHOLE = 1_000_000
"""Up to so many poses the whole grid is one call; above, one travel at a time, so that temporaries do not outgrow the
results: faster then."""

CONSTRAINT_STEPS = 4
"""Newton on six unknowns from the design position: three steps leave 5e-6 mm on this grid, four round-off."""


def place(linkage: Linkage, top_x: Number, top_y: Number, t: Number) -> tuple[Numbers, Numbers, Numbers, Numbers]:
    """Ball joint, steering axis, way to the inner joint, and the figures that carry a vector of the knuckle."""
    share = 1.0 / (1.0 + t * t)
    cosine, sine = (1.0 - t * t) * share, (t + t) * share
    x, y, z = (
        centre + start * cosine + quarter * sine
        for centre, start, quarter in zip(linkage.centre, linkage.start, linkage.quarter, strict=True)
    )
    ex, ey, ez = top_x - x, top_y - y, linkage.top[2] - z
    dx, dy, dz = linkage.inner[0] - x, linkage.inner[1] - y, linkage.inner[2] - z
    axis_squared = ex * ex + ey * ey + ez * ez
    per_axis_squared = 1.0 / axis_squared
    along = jnp.sqrt(axis_squared - linkage.foot_squared)
    outer_along = linkage.outer_axis_slope * along + linkage.outer_axis
    outer_share = outer_along * per_axis_squared
    inner_along = dx * ex + dy * ey + dz * ez
    inner_share = inner_along * per_axis_squared
    inner_squared = dx * dx + dy * dy + dz * dz
    arm_squared = linkage.outer_squared - outer_share * outer_along
    toward_squared = inner_squared - inner_share * inner_along
    k = linkage.outer_squared - linkage.rod_squared + inner_squared - 2.0 * inner_share * outer_along
    both_squared = arm_squared * toward_squared
    w = linkage.rod_sense * jnp.sqrt((4.0 * both_squared - k * k) * per_axis_squared)
    carrying = along, per_axis_squared, outer_share, inner_share, 0.5 / both_squared, k, w
    return (x, y, z), (ex, ey, ez), (dx, dy, dz), carrying


def shares(of: Carried, carrying: Numbers) -> Numbers:
    """How much of the steering axis E, of the way D to the inner joint, and of E x D make up a vector."""
    along, per_axis_squared, outer_share, inner_share, scale, k, w = carrying
    on_axis = of.axis_slope * along + of.axis
    on_arm = (of.outer - on_axis * outer_share) * scale
    on_third = (of.third_slope * along + of.third) * scale
    toward = on_arm * k - on_third * w
    return on_axis * per_axis_squared - toward * inner_share, toward, on_arm * w + on_third * k * per_axis_squared


def carry(
    linkage: Linkage, top_x: Number, top_y: Number, t: Number
) -> tuple[Numbers, Numbers, Numbers, Numbers, Number]:
    """Ball joint, steering axis, spin axis, way from ball joint to wheel centre, length along the strut."""
    ball_joint, axis, to_inner, carrying = place(linkage, top_x, top_y, t)
    across = cross(axis, to_inner)

    def carried(of: Carried) -> Numbers:
        a, b, c = shares(of, carrying)
        return tuple(e * a + d * b + n * c for e, d, n in zip(axis, to_inner, across, strict=True))

    return ball_joint, axis, carried(linkage.spin), carried(linkage.hub), carrying[0]


def cross(a: Numbers, b: Numbers) -> Numbers:
    """Vector product."""
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


def contact_rise(radius: float, spin: Numbers, hub: Numbers) -> Number:
    """Height of the contact centre over the ball joint."""
    return hub[2] - radius * jnp.sqrt(1.0 - spin[2] * spin[2])


def readings(radius: float, axis: Numbers, spin: Numbers, hub: Numbers, ball_joint_y: Number, strut: Number) -> Numbers:
    """The eight readings of a placed knuckle; what the compiler finds in common it computes once."""
    flat = jnp.sqrt(1.0 - spin[2] * spin[2])
    out_x, out_y = spin[0] / flat, spin[1] / flat
    up_axis = contact_rise(radius, spin, hub) / axis[2]
    contact_y = hub[1] + radius * spin[2] * out_y
    ground_x = hub[0] + radius * spin[2] * out_x - axis[0] * up_axis
    ground_y = contact_y - axis[1] * up_axis
    return (
        jnp.degrees(jnp.arcsin(-spin[2])),
        jnp.degrees(jnp.arctan2(spin[0], spin[1])),
        jnp.degrees(jnp.arctan2(-axis[0], axis[2])),
        jnp.degrees(jnp.arctan2(-axis[1], axis[2])),
        ground_x * out_x + ground_y * out_y,
        ground_y * out_x - ground_x * out_y,
        strut,
        ball_joint_y + contact_y,
    )


def one_pose(linkage: Linkage, rise: float, travel: Number, top_x: Number, top_y: Number) -> Numbers:
    """The readings of one pose: Newton on the arm's half-angle tangent, its slope by forward differentiation."""

    def miss(t: Number) -> Number:
        ball_joint, _, spin, hub, _ = carry(linkage, top_x, top_y, t)
        return ball_joint[2] + contact_rise(linkage.radius, spin, hub) - linkage.ground - travel

    def step(_: int, t: Number) -> Number:
        value, slope = jax.jvp(miss, (t,), (jnp.ones_like(t),))
        following: Number = t - value / slope
        return following

    t = jax.lax.fori_loop(0, NEWTON_STEPS, step, travel / rise)
    ball_joint, axis, spin, hub, along = carry(linkage, top_x, top_y, t)
    return readings(linkage.radius, axis, spin, hub, ball_joint[1], linkage.strut - along)


def constrained_pose(car: Car, linkage: Linkage, travel: Number, top_x: Number, top_y: Number) -> Numbers:
    """The readings of one pose from six constraints: where the ball joint is, and how the knuckle is turned."""
    points = {name: jnp.asarray(place) for name, place in hard_points(car).items()}
    ball_joint, outer, inner = points["ball_joint"], points["outer"], points["inner"]
    strut_axis = (points["top"] - points["low"]) / jnp.linalg.norm(points["top"] - points["low"])
    fore = jnp.cross(strut_axis, jnp.array([0.0, 1.0, 0.0]))
    fore /= jnp.linalg.norm(fore)
    across = jnp.cross(strut_axis, fore)
    spin = jnp.asarray(spin_axis(car))
    top = jnp.array([top_x, top_y, points["top"][2]])

    def turned(half: Number, v: Number) -> Number:
        """Turn by the vector along the axis whose length is the tangent of half the angle."""
        once = jnp.cross(half, v)
        return v + 2.0 * (once + jnp.cross(half, once)) / (1.0 + half @ half)

    def longer(now: Number, before: Number) -> Number:
        """How much longer a link has become, in squares."""
        return now @ now - before @ before

    def misses(unknowns: Number) -> Number:
        moved, half = unknowns[:3], unknowns[3:]
        at = ball_joint + moved
        to_top = top - (at + turned(half, points["low"] - ball_joint))
        rod = at + turned(half, outer - ball_joint) - inner
        hub, axle = turned(half, points["hub"] - ball_joint), turned(half, spin)
        height = at[2] + contact_rise(linkage.radius, tuple(axle), tuple(hub))
        return jnp.array(
            [
                longer(at - points["front"], ball_joint - points["front"]),
                longer(at - points["rear"], ball_joint - points["rear"]),
                to_top @ turned(half, fore),
                to_top @ turned(half, across),
                longer(rod, outer - inner),
                height - linkage.ground - travel,
            ]
        )

    def step(_: int, unknowns: Number) -> Number:
        following: Number = unknowns - jnp.linalg.solve(jax.jacfwd(misses)(unknowns), misses(unknowns))
        return following

    unknowns = jax.lax.fori_loop(0, CONSTRAINT_STEPS, step, jnp.zeros(6))
    at, half = ball_joint + unknowns[:3], unknowns[3:]
    strut = jnp.linalg.norm(points["top"] - points["low"]) - (
        (top - at - turned(half, points["low"] - ball_joint)) @ turned(half, strut_axis)
    )
    hub, axle = turned(half, points["hub"] - ball_joint), turned(half, spin)
    return readings(linkage.radius, tuple(top - at), tuple(axle), tuple(hub), at[1], strut)


def swept(pose: Pose, linkage: Linkage) -> Sweep:
    """The function of one pose over a whole grid, compiled."""
    over_mounts = jax.vmap(jax.vmap(pose, (None, 0, None)), (None, None, 0))

    @jax.jit
    def whole(travel: Any, top_x: Any, top_y: Any) -> Numbers:
        return jax.vmap(over_mounts, (0, None, None))(travel, top_x, top_y)

    @jax.jit
    def by_travel(travel: Any, top_x: Any, top_y: Any) -> Numbers:
        mapped: Numbers = jax.lax.map(lambda one: over_mounts(one, top_x, top_y), travel)
        return mapped

    def sweep(grid: Grid) -> list[Any]:
        run = whole if grid.poses <= WHOLE else by_travel
        results = run(grid.travel, linkage.top[0] - grid.mount_back, linkage.top[1] - grid.mount_in)
        return [np.asarray(result) for result in results]  # waits for each

    return sweep


def prepare(car: Car, threads: int) -> Sweep:
    """The sweep with one unknown; threads are the library's own, as many as the process may use."""
    linkage = Linkage.of(car)
    return swept(partial(one_pose, linkage, rise_at_design(linkage)), linkage)


def prepare_constraints(car: Car, threads: int) -> Sweep:
    """The sweep with six unknowns."""
    linkage = Linkage.of(car)
    return swept(partial(constrained_pose, car, linkage), linkage)
