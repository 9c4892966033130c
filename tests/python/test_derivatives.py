"""Exact slopes as Python shows them: labels, and agreement with a second method.

Slopes against differences of whole solves, for every input and reading on random corners, stand in the Rust tests. Here
the differences are those of another solver altogether.
"""

from __future__ import annotations

import constraint_solver
import numpy as np
import pytest
import random_corners
import xarray as xr

import strutsweep as ss
from strutsweep.words import HARD_POINTS, MOTIONS, PLACES, READINGS, SETTINGS, TRAVEL_AT

# Central differences of fourth order, step 0.2 mm or deg over links of 300 mm: 1e-13 of truncation; the second method's
# poses are good to 1e-10, which leaves 1e-9 per mm. Asked: 1e-6 of the slope and that floor with room.
STEP = 0.2
SHARE = 1e-6
FLOOR = 2e-8

RATES = [name for name, words in READINGS.items() if words["is_rate"]]
SMOOTH = [name for name in READINGS if name not in (*RATES, "bearing_angle")]


def difference(table: dict, case: dict[str, float], name: str, travel_at: str) -> dict[str, float]:
    """Slopes of the second method's readings in one setting or motion."""
    # SECOND METHOD: six constraint equations solved by SciPy, differenced.
    poses = {
        step: constraint_solver.solve(table, travel_at=travel_at, **{**case, name: case[name] + step * STEP}).readings
        for step in (-2, -1, 1, 2)
    }
    return {
        reading: float(8.0 * (poses[1][reading] - poses[-1][reading]) - (poses[2][reading] - poses[-2][reading]))
        / (12.0 * STEP)
        for reading in SMOOTH
    }


@pytest.mark.parametrize("travel_at", TRAVEL_AT)
@pytest.mark.parametrize("side", ["left", "right"])
def test_slopes_agree_with_differences_of_a_second_method(side: str, travel_at: str) -> None:
    seed = 11 + len(travel_at)
    table = random_corners.random_corner(seed, side)
    case = random_corners.random_case(seed, side)
    corner = ss.Corner.from_dict(table)
    names = ["mount_in", "tie_rod", "clamp", "travel", "rack"]
    slopes = corner.derivatives(names, **case, travel_at=travel_at, readings=SMOOTH)
    for name in names:
        expected = difference(table, case, name, travel_at)
        for reading in SMOOTH:
            found = float(slopes[reading].sel(input=name))
            assert found == pytest.approx(expected[reading], rel=SHARE, abs=FLOOR), (name, reading)


def test_labels_say_what_by_what_in_which_unit(corner: ss.Corner) -> None:
    slopes = corner.derivatives(["clamp", "strut.top.y"], travel=12.0, places=["wheel_centre"])
    assert isinstance(slopes, xr.Dataset)
    assert list(slopes.input.values) == ["clamp", "strut.top.y"]
    assert list(slopes.input_units.values) == ["deg", "mm"]
    assert set(READINGS) < set(slopes.data_vars)
    assert slopes.wheel_centre.dims == ("xyz", "input")
    pose = corner.solve(travel=12.0)
    for name, value in pose.readings.items():
        assert slopes[name].attrs["value"] == value
        assert slopes[name].attrs["units"] == f"{READINGS[name]['units']} per unit of the input"
    assert float(slopes.travel) == 12.0
    assert slopes.attrs["held"] == TRAVEL_AT["ground"]


def test_every_setting_and_motion_unless_told_otherwise(corner: ss.Corner) -> None:
    slopes = corner.derivatives(readings=["camber"])
    assert list(slopes.input.values) == [*SETTINGS, *MOTIONS]
    assert list(slopes.data_vars) == ["camber"]


def test_slope_in_travel_is_the_rate(each_corner: ss.Corner) -> None:
    # IDENTITY: rates are derivatives to travel where travel is measured at the wheel.
    for travel_at in ("ground", "hub"):
        pose = each_corner.solve(travel=15.0, rack=4.0, travel_at=travel_at)
        slopes = each_corner.derivatives(["travel"], travel=15.0, rack=4.0, travel_at=travel_at)
        pairs = {"camber_gain": "camber", "bump_steer": "toe", "caster_gain": "caster"}
        for rate, reading in {**pairs, "motion_ratio": "strut_compression"}.items():
            assert float(slopes[reading][0]) == pytest.approx(pose.readings[rate], rel=1e-10, abs=1e-14)


def test_moving_a_whole_car_changes_nothing_but_places(each_corner: ss.Corner) -> None:
    # IDENTITY: all points a mm forward leave every reading alone, and carry every place along.
    points = {"arm_front": "lower_arm.front", "arm_rear": "lower_arm.rear", "ball_joint": "lower_arm.ball_joint"}
    fields = {
        **points,
        "strut_top": "strut.top",
        "strut_low": "strut.low",
        "strut_clamp": "strut.clamp",
        "tie_rod_inner": "tie_rod.inner",
        "tie_rod_outer": "tie_rod.outer",
        "wheel_centre": "wheel.centre",
    }
    assert set(fields) == set(HARD_POINTS)
    # The clamp goes with strut.low unless it has a place of its own, and these corners' clamps have none.
    inputs = [f"{field}.x" for name, field in fields.items() if name != "strut_clamp"]
    places = [name for name in PLACES if name != "instant_centre"]
    slopes = each_corner.derivatives(inputs, travel=-20.0, clamp=1.0, places=places)
    together = slopes.sum("input")
    for name in READINGS:
        scale = 1.0 + abs(slopes[name].attrs["value"])
        assert abs(float(together[name])) < 1e-9 * scale, name
    for name in places:
        np.testing.assert_allclose(together[name].values, [1.0, 0.0, 0.0], rtol=0.0, atol=1e-10, err_msg=name)


def test_bearing_angle_has_no_slope_where_it_is_zero(corner: ss.Corner) -> None:
    slopes = corner.derivatives(["mount_in"], readings=["bearing_angle", "camber"])
    assert np.isnan(slopes.bearing_angle.values).all()
    assert np.isfinite(slopes.camber.values).all()


def test_wrong_words_and_poses_are_refused(corner: ss.Corner) -> None:
    with pytest.raises(ss.InputError, match=r"did you mean \"strut.top.y\""):
        corner.derivatives(["strut.top.yy"])
    with pytest.raises(ss.InputError, match="readings"):
        corner.derivatives(["mount_in"], readings=["cambre"])
    with pytest.raises(ss.InputError, match="travel_at"):
        corner.derivatives(["mount_in"], travel_at="sky")  # type: ignore[arg-type]
    with pytest.raises(ss.InputError, match="travel = NaN"):
        corner.derivatives(["mount_in"], travel=float("nan"))
    with pytest.raises(ss.ReachError):
        corner.derivatives(["mount_in"], travel=900.0)
