"""Search: the cure of bump steer, limits that are kept, trade-offs that nothing beats.

SECOND METHOD: brute force. A sweep of points over the whole box, which knows nothing of slopes, finds nothing better.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
import pytest
import xarray as xr
from scipy.stats import qmc

import strutsweep as ss
from strutsweep import _descent, plots

TRAVEL = {"travel": np.linspace(-60.0, 60.0, 25)}
# Of a goal's size at the start: what brute force may find better is what moves are weighed with, and no more.
BEATEN_BY_NO_MORE = 2e-3
# How far a fine grid's best may lie from the very best, in the same measure.
GRID = 61


@pytest.fixture(scope="module")
def ill() -> ss.Corner:
    """A corner with a good deal of bump steer: its rack mounted 6 mm too high."""
    corner = ss.demo("gravel_hatch").left
    return corner.replace(tie_rod_inner=corner.points["tie_rod_inner"] + [0.0, 0.0, 6.0])


BOX = {"tie_rod.inner.z": (-10.0, 10.0), "tie_rod.outer.z": (-4.0, 4.0)}


def ranges(corner: ss.Corner, inner_z: np.ndarray, outer_z: np.ndarray, reading: str) -> np.ndarray:
    """The range over travel of a reading for each pair of moves: a sweep of points."""
    inner, outer = (np.tile(corner.points[name], (len(inner_z), 1)) for name in ("tie_rod_inner", "tie_rod_outer"))
    inner[:, 2] += inner_z
    outer[:, 2] += outer_z
    points = {
        "tie_rod_inner": xr.DataArray(inner, dims=("sample", "xyz")),
        "tie_rod_outer": xr.DataArray(outer, dims=("sample", "xyz")),
    }
    swept = ss.sweep(corner, points=points, readings=reading, **TRAVEL)[reading]
    found: np.ndarray = (swept.max("travel") - swept.min("travel")).values
    return found


def test_bump_steer_is_cured(ill: ss.Corner) -> None:
    goal = ss.Quantity("toe", "range", TRAVEL)
    found = ss.search(ill, goal, BOX, seed=1)
    assert found.met
    assert found.after < 0.05 * found.before
    again = ss.sweep(found.corner, **TRAVEL).toe
    assert found.after == pytest.approx((again.max() - again.min()).item(), abs=1e-12)
    first = np.linspace(*BOX["tie_rod.inner.z"], GRID)
    second = np.linspace(*BOX["tie_rod.outer.z"], GRID)
    grid = np.meshgrid(first, second, indexing="ij")
    brute = ranges(ill, grid[0].ravel(), grid[1].ravel(), "toe")
    assert found.after <= brute.min() + BEATEN_BY_NO_MORE * found.before
    assert found.after == pytest.approx(brute.min(), rel=0.5)


def test_of_equally_good_answers_the_nearest_is_taken(ill: ss.Corner) -> None:
    # Inner and outer joint raised together change bump steer hardly at all: without a preference anything goes.
    found = ss.search(ill, ss.Quantity("bump_steer", "magnitude"), BOX, seed=1)
    assert found.after < 1e-3 * found.before
    moves = found.data.move.values
    inner = np.linspace(*BOX["tie_rod.inner.z"], 4001)
    swept = []
    for outer_z in (moves[1] - 1.0, moves[1] + 1.0):
        outer = ill.points["tie_rod_outer"] + [0.0, 0.0, outer_z]
        points = np.tile(ill.points["tie_rod_inner"], (len(inner), 1))
        points[:, 2] += inner
        at = {"tie_rod_inner": xr.DataArray(points, dims=("sample", "xyz")), "tie_rod_outer": outer}
        steer = np.abs(ss.sweep(ill, points=at, readings="bump_steer").bump_steer.values)
        swept.append((inner[steer.argmin()] / 20.0) ** 2 + (outer_z / 8.0) ** 2)
    mine = (moves[0] / 20.0) ** 2 + (moves[1] / 8.0) ** 2
    assert mine < min(swept)


@pytest.mark.parametrize(
    ("reading", "over", "aim"),
    [
        ("camber", "value", -1.4),
        ("caster", "value", "most"),
        ("scrub_radius", "value", "least"),
        ("camber", "largest", "least"),
        ("roll_centre_height", "smallest", "most"),
        ("toe", "magnitude", "least"),
        ("camber_gain", "range", "least"),
    ],
)
def test_every_kind_of_goal_against_brute_force(each_corner: ss.Corner, reading: str, over: Any, aim: Any) -> None:
    inputs = {"travel": 25.0} if over == "value" else {"travel": np.linspace(-50.0, 50.0, 11)}
    goal = ss.Quantity(reading, over, inputs)
    free = {"mount_in": (-15.0, 15.0), "mount_back": (-10.0, 10.0)}
    found = ss.search(each_corner, goal, free, aim=aim, seed=2, nearness=0.0)
    draws = qmc.scale(qmc.Sobol(2, rng=np.random.default_rng(1)).random_base2(11), [-15.0, -10.0], [15.0, 10.0])
    swept = ss.sweep(
        each_corner,
        mount_in=xr.DataArray(draws[:, 0], dims="sample"),
        mount_back=xr.DataArray(draws[:, 1], dims="sample"),
        readings=reading,
        **inputs,
    )[reading]
    values = swept.values.reshape(-1, len(draws))
    made = {
        "value": values[0],
        "largest": values.max(axis=0),
        "smallest": values.min(axis=0),
        "magnitude": np.abs(values).max(axis=0),
        "range": values.max(axis=0) - values.min(axis=0),
    }[over]
    sign = -1.0 if aim == "most" else 1.0
    if isinstance(aim, float):
        assert found.after == pytest.approx(aim, abs=1e-6)
    else:
        assert sign * found.after <= (sign * made).min() + 1e-6 * abs(found.before)
    check = ss.sweep(each_corner, readings=reading, **inputs, **found.setting)[reading].values
    assert goal.of(np.atleast_1d(check)) == pytest.approx(found.after, abs=1e-10)


def test_limits_are_kept_and_cost_something(ill: ss.Corner) -> None:
    goal = ss.Quantity("camber", "range", TRAVEL)
    free = {"strut.top.y": (-20.0, 20.0), "lower_arm.ball_joint.z": (-15.0, 15.0), "tie_rod.inner.z": (-10.0, 10.0)}
    limits = [
        ss.Limit(ss.Quantity("toe", "range", TRAVEL), high=0.05),
        ss.Limit(ss.Quantity("scrub_radius"), 5.0, 13.0),
        ss.Limit(ss.Quantity("roll_centre_height", "smallest", {"travel": [-20.0, 0.0, 20.0]}), low=-40.0),
        ss.Limit(ss.Quantity("camber", "magnitude", TRAVEL), high=2.0),
        ss.Limit(ss.Quantity("kingpin_inclination", "largest", TRAVEL), high=18.0),
    ]
    bound, unbound = ss.search(ill, goal, free, limits=limits, seed=1), ss.search(ill, goal, free, seed=1)
    assert bound.met
    assert unbound.after < bound.after < bound.before
    for limit in limits:
        readings = ss.sweep(bound.corner, readings=limit.quantity.reading, **limit.quantity.inputs)
        value = limit.quantity.of(np.atleast_1d(readings[limit.quantity.reading].values))
        assert limit.missed(value) < 1e-5
        assert bound.values[limit.quantity.words][1] == pytest.approx(value, abs=1e-10)
    assert "->" in str(bound)
    assert "<table>" in bound._repr_html_()


def test_limits_that_cannot_be_met_are_told(ill: ss.Corner) -> None:
    impossible = [ss.Limit(ss.Quantity("caster"), low=30.0)]
    found = ss.search(ill, ss.Quantity("toe", "range", TRAVEL), BOX, limits=impossible, seed=1)
    assert not found.met
    assert "No start met all limits" in str(found)
    assert "at least 30 deg: NOT MET" in str(found)


def test_a_search_cut_short_is_told(ill: ss.Corner, monkeypatch: pytest.MonkeyPatch) -> None:
    goal = ss.Quantity("toe", "range", TRAVEL)
    assert ss.search(ill, goal, BOX, starts=1).ended
    monkeypatch.setattr(_descent, "MOST_ITERATIONS", 1)
    found = ss.search(ill, goal, BOX, starts=1)
    assert not found.ended
    assert "The search stopped after" in str(found)


def test_rates_are_told_in_the_unit_of_tables(ill: ss.Corner) -> None:
    found = ss.search(
        ill,
        ss.Quantity("bump_steer", "magnitude", {"travel": [-20.0, 0.0, 20.0]}),
        BOX,
        limits=[ss.Limit(ss.Quantity("camber_gain"), low=-0.02, high=-0.01)],
        starts=1,
    )
    before = 1000.0 * found.before
    assert f": {before:.4g} -> " in str(found)
    assert "deg/m; from -20 to -10 deg/m" in str(found)
    # What programs read keeps the reading's own unit.
    assert found.values[found.goal.words][0] == found.before


def test_the_seed_is_recorded_and_decides(ill: ss.Corner) -> None:
    goal = ss.Quantity("toe", "range", TRAVEL)
    first = ss.search(ill, goal, BOX)
    again = ss.search(ill, goal, BOX, seed=first.data.attrs["seed"])
    xr.testing.assert_identical(first.data, again.data)
    assert first.data.sizes["start"] == 4


def test_parts_and_settings_can_move(ill: ss.Corner) -> None:
    found = ss.search(
        ill,
        ss.Quantity("toe", "range", TRAVEL),
        {"tie_rod_ends": (-3.0, 3.0), "tie_rod": (-2.0, 2.0), "mount_up": (-5.0, 5.0)},
        starts=1,
        seed=1,
    )
    assert found.data.variable.values.tolist()[:3] == [f"tie_rod_ends as one, {axis}" for axis in "xyz"]
    assert set(found.setting) == {"tie_rod", "mount_up"}
    assert "a car built so" in str(found)
    assert "a car built so" not in str(ss.search(ill, ss.Quantity("camber"), {"mount_in": (-5.0, 5.0)}, starts=1))
    assert found.after < found.before


# Trade-offs.


@pytest.fixture(scope="module")
def curve(ill: ss.Corner) -> ss.TradeOff:
    """Bump steer against camber change: a rack and a ball joint that may move up and down."""
    goals = ss.Quantity("toe", "range", TRAVEL), ss.Quantity("camber", "range", TRAVEL)
    free = {"tie_rod.inner.z": (-10.0, 10.0), "lower_arm.ball_joint.z": (-15.0, 15.0)}
    return ss.trade_off(ill, *goals, free, points=6, seed=1)


def test_along_the_curve_one_goal_pays_for_the_other(curve: ss.TradeOff) -> None:
    assert curve.data.met.all()
    assert (np.diff(curve.data.second) < 0.0).all()
    assert (np.diff(curve.data["first"]) > -1e-6).all()
    steps = np.diff(curve.data.second)
    np.testing.assert_allclose(steps, steps.mean(), rtol=0.05)
    for corner, first in zip(curve.corners, curve.data["first"].values, strict=True):
        assert ranges(corner, np.zeros(1), np.zeros(1), "toe")[0] == pytest.approx(first, abs=1e-10)


def test_nothing_between_the_bounds_beats_the_curve(curve: ss.TradeOff, ill: ss.Corner) -> None:
    draws = qmc.scale(qmc.Sobol(2, rng=np.random.default_rng(3)).random_base2(12), [-10.0, -15.0], [10.0, 15.0])
    points = {}
    for name, moves in (("tie_rod_inner", draws[:, 0]), ("ball_joint", draws[:, 1])):
        at = np.tile(ill.points[name], (len(draws), 1))
        at[:, 2] += moves
        points[name] = xr.DataArray(at, dims=("sample", "xyz"))
    swept = ss.sweep(ill, points=points, readings=["toe", "camber"], **TRAVEL)
    toe, camber = ((swept[name].max("travel") - swept[name].min("travel")).values for name in ("toe", "camber"))
    slack = BEATEN_BY_NO_MORE * curve.data.attrs["first_as_it_is"]
    for first, second in zip(curve.data["first"].values, curve.data.second.values, strict=True):
        assert not ((toe < first - slack) & (camber < second)).any()
    assert len(str(curve).splitlines()) == 11
    assert "The corner as it is:" in str(curve)


def test_a_point_that_misses_limits_is_told_and_drawn_off_the_curve(curve: ss.TradeOff) -> None:
    met = curve.data.met.values.copy()
    met[2] = False
    some = dataclasses.replace(curve, data=curve.data.assign(met=("point", met)))
    assert [row[2] for row in some.table().rows] == ["met", "met", "NOT MET", "met", "met", "met"]
    assert "no point of the curve" in str(some)
    axes = plots.trade_off_curve(some).axes[0]
    on_curve = next(line for line in axes.lines if len(line.get_xdata()) == 5)
    np.testing.assert_array_equal(on_curve.get_xdata(), curve.data["first"].values[met])
    missed = next(line for line in axes.lines if line.get_marker() == "x")
    np.testing.assert_array_equal(missed.get_xdata(), curve.data["first"].values[~met])
    none = dataclasses.replace(curve, data=curve.data.assign(met=("point", np.zeros(6, dtype=bool))))
    with pytest.raises(ss.InputError, match="no point of it keeps all limits"):
        plots.trade_off_curve(none)


def test_grey_is_only_what_would_beat_a_point_in_both_goals(curve: ss.TradeOff) -> None:
    """Between two points the best may lie below the straight line that joins them: that is no proof that it does
    not."""
    axes = plots.trade_off_curve(curve).axes[0]
    grey = axes.patches[0].get_path()
    across, up = curve.data["first"].values, curve.data.second.values
    hair_x, hair_y = 1e-4 * np.ptp(across), 1e-4 * np.ptp(up)
    assert grey.contains_points(np.column_stack([across - hair_x, up - hair_y])).all()
    middle = np.column_stack([(across[1:] + across[:-1]) / 2.0, (up[1:] + up[:-1]) / 2.0 - hair_y])
    assert not grey.contains_points(middle).any()
    legend = axes.figure.axes[1].get_legend()
    axes.figure.canvas.draw()
    assert legend.get_window_extent().y0 >= axes.figure.axes[1].get_window_extent().y1


# Refusals.

GOAL = ss.Quantity("toe", "range", TRAVEL)


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"variables": {}}, "nothing may move"),
        ({"variables": {"tie_rod.inner.z": (5.0, -5.0)}}, "upside down"),
        ({"variables": {"tie_rod.inner.z": (5.0, 5.0)}}, "upside down, empty"),
        ({"variables": {"tie_rod.inner.z": (0.0, math.inf)}}, "not finite"),
        ({"variables": {"tie_rod.inner.z": 5.0}}, r"needs bounds \(low, high\)"),
        ({"variables": {"tie_rod.inner.zz": (-5.0, 5.0)}}, "variables: there is no"),
        ({"variables": {"strut.top": (-5.0, 5.0), "strut.top.x": (-1.0, 1.0)}}, "given twice"),
        ({"aim": "most"}, "cannot be made most"),
        ({"aim": 0.1}, "only a finite value can be aimed at"),
        ({"aim": "best"}, "neither 'least', 'most' nor a number"),
        ({"starts": 0}, "at least 1"),
        ({"starts": 2.0}, "at least 1"),
        ({"seed": -1}, "seed = -1 is not a whole number of at least 0"),
        ({"seed": 1.5}, "seed = 1.5 is not a whole number"),
        ({"seed": "x"}, "seed = 'x' is not a whole number"),
        ({"aim": None}, "neither 'least', 'most' nor a number"),
        ({"aim": True}, "neither 'least', 'most' nor a number"),
        ({"nearness": "x"}, "at least 0"),
        ({"variables": {1: (0.0, 1.0)}}, "variables: 1 is no name"),
        ({"variables": [("tie_rod.inner.z", 1.0)]}, "variables: .* is no mapping"),
        ({"limits": ss.Limit(ss.Quantity("caster"), 2.0)}, "no sequence of Limit"),
        ({"goal": "toe"}, "'toe' is no Quantity"),
        ({"limits": ["toe"]}, "'toe' is no Limit"),
        ({"nearness": -1.0}, "at least 0"),
    ],
)
def test_nonsense_is_refused(ill: ss.Corner, given: dict[str, Any], told: str) -> None:
    arguments: dict[str, Any] = {"goal": GOAL, "variables": BOX} | given
    with pytest.raises(ss.InputError, match=told):
        ss.search(ill, **arguments)


def test_quantities_and_limits_that_are_none_are_refused(ill: ss.Corner) -> None:
    for make, told in (
        (lambda: ss.Quantity("too"), "did you mean 'toe'"),
        (lambda: ss.Quantity("toe", "sum"), "over: there is no 'sum'"),  # type: ignore[arg-type]
        (lambda: ss.Quantity("toe", "value", TRAVEL), "25 poses and no value"),
        (lambda: ss.Quantity("toe", "value", {"travels": 1.0}), "did you mean 'travel'"),
        (lambda: ss.Limit(GOAL), "give a finite low or high"),
        (lambda: ss.Limit(GOAL, low=0.1), "upper limit only"),
        (lambda: ss.Limit(ss.Quantity("toe", "smallest", TRAVEL), high=0.1), "lower limit only"),
        (lambda: ss.Limit(ss.Quantity("toe"), 0.2, 0.1), "0.2 to 0.1 deg is upside down"),
        (lambda: ss.Limit(ss.Quantity("toe"), low="x"), "give a finite low or high"),  # type: ignore[arg-type]
        (lambda: ss.Limit(ss.Quantity("toe"), low=True), "give a finite low or high"),
        (lambda: ss.Limit("toe", low=0.1), "'toe' is no Quantity"),  # type: ignore[arg-type]
        (lambda: ss.trade_off(ill, GOAL, GOAL, BOX, points=1), "at least 2"),
        (lambda: ss.trade_off(ill, GOAL, GOAL, BOX, seed=-1), "at least 0"),
        (lambda: ss.trade_off(ill, GOAL, GOAL, BOX, starts=0), "at least 1"),
        (lambda: ss.trade_off(ill, GOAL, ss.Quantity("toe", "smallest", TRAVEL), BOX), "cannot be made least"),
    ):
        with pytest.raises(ss.InputError, match=told):
            make()


def test_a_start_out_of_reach_is_told(ill: ss.Corner) -> None:
    with pytest.raises(ss.ReachError, match="no start could be followed"):
        ss.search(ill, ss.Quantity("toe", "range", {"travel": [0.0, 900.0]}), BOX, starts=1)
