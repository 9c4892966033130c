"""Sensitivities: slopes against differences on invented corners, and what is made of them.

SECOND METHOD: central differences of `Corner.solve` with two Richardson steps, which share no code with dual numbers.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from random_corners import SIDES, random_corner

import strutsweep as ss
from strutsweep.dimensions import dimensions
from strutsweep.scattering import moved
from strutsweep.words import READINGS, SETTINGS

CORNERS = [(seed, side) for seed in range(400, 450) for side in SIDES]
"""A hundred, of every kind that `random_corner` draws."""
POSE = {"travel": 23.0, "rack": 11.0, "mount_in": 6.0, "clamp": 0.4}

# Errors of differences with this step fall with its sixth power, to some 1e-9 of a slope; round-off of a reading
# divided by the step is 1e-10 of its unit and a rate's is magnified by its second derivatives.
STEP = 0.4
RELATIVE_TOLERANCE = 1e-6
# Where a slope is nearly nothing it is compared with the largest slope of its reading.
FLOOR = 1e-8
# At design camber is what a gauge showed; its slope in a point is round-off.
ROUND_OFF = 1e-12


def differences(corner: ss.Corner, name: str, readings: list[str]) -> np.ndarray:
    """Slopes of readings in one dimension from values alone."""

    def at(amount: float) -> np.ndarray:
        other, settings = moved(corner, [name], np.array([amount]))
        pose = POSE | {field: POSE.get(field, 0.0) + value for field, value in settings.items()}
        found = other.solve(**pose).readings
        return np.array([found[reading] for reading in readings])

    halving = [(at(step) - at(-step)) / (2.0 * step) for step in (STEP, STEP / 2.0, STEP / 4.0)]
    second = [(4.0 * fine - coarse) / 3.0 for coarse, fine in zip(halving, halving[1:], strict=False)]
    return (16.0 * second[1] - second[0]) / 15.0


@pytest.mark.parametrize(("seed", "side"), CORNERS)
def test_slopes_agree_with_differences(seed: int, side: str) -> None:
    corner = ss.Corner.from_dict(random_corner(seed, side))
    names = dimensions(corner)
    # Swing arms run to infinity; the rates hold what is in them.
    readings = [reading for reading in READINGS if "swing_arm" not in reading]
    # Each corner checks every setting and a third of the coordinates: all are checked many times over the hundred.
    some = [name for place, name in enumerate(names) if name in SETTINGS or place % 3 == seed % 3]
    found = ss.sensitivities(corner, readings=readings, parameters=some, **POSE).data.slope
    expected = np.array([differences(corner, name, readings) for name in some]).T
    scale = np.abs(found.values).max(axis=1, keepdims=True)
    np.testing.assert_array_less(
        np.abs(found.values - expected), RELATIVE_TOLERANCE * np.abs(expected) + FLOOR * (scale + 1e-6)
    )


def test_static_camber_and_toe_are_anchored(each_corner: ss.Corner) -> None:
    # Moving a point moves no camber or toe at design: both are what a gauge showed on the car.
    found = ss.sensitivities(each_corner, readings=["camber", "toe"]).data.slope
    points = [name for name in found.dimension.values if name.count(".") == 2]
    assert np.abs(found.sel(dimension=points)).max() < ROUND_OFF
    np.testing.assert_allclose(found.sel(dimension=["wheel.camber", "wheel.toe"]), np.eye(2), atol=ROUND_OFF)
    moved_points = {name: each_corner.points[name] + [1.0, -2.0, 3.0] for name in ("ball_joint", "strut_top")}
    swept = ss.sweep(each_corner, points=moved_points, readings=["camber", "toe"])
    assert float(swept.camber) == pytest.approx(each_corner.camber, abs=ROUND_OFF)
    assert float(swept.toe) == pytest.approx(each_corner.toe, abs=ROUND_OFF)


def test_caster_by_hand(corner: ss.Corner) -> None:
    # IDENTITY: caster = atan2(-e_x, e_z) with e = top - ball joint, so d(caster)/d(top.x) = -e_z / (e_x^2 + e_z^2).
    e = corner.points["strut_top"] - corner.points["ball_joint"]
    slope = ss.sensitivities(corner, readings="caster", parameters=["strut.top.x"]).data.slope
    assert slope.item() == pytest.approx(-math.degrees(e[2] / (e[0] ** 2 + e[2] ** 2)), rel=1e-12)


def test_slopes_stand_along_the_poses(corner: ss.Corner) -> None:
    found = ss.sensitivities(
        corner, readings=["toe"], parameters=["mount_in"], travel=[-40.0, 0.0, 40.0], rack=[0.0, 5.0]
    )
    assert found.data.slope.dims == ("reading", "rack", "travel", "dimension")
    one = ss.sensitivities(corner, readings=["toe"], parameters=["mount_in"], travel=40.0, rack=5.0)
    assert found.data.slope.sel(travel=40.0, rack=5.0).item() == one.data.slope.item()
    assert found.data.unit.values.tolist() == ["mm"]


def test_shares_and_ranking(corner: ss.Corner) -> None:
    found = ss.sensitivities(corner, {"points": 1.0, "tie_rod.outer.z": 3.0}, readings=["bump_steer", "caster"])
    np.testing.assert_allclose(found.data.share.sum("source"), 1.0, rtol=1e-12)
    table = found.ranked("bump_steer", most=3)
    assert table.rows[0][:2] == ("tie_rod.outer.z", "1.73 mm")
    assert len(table.rows) == 3
    # IDENTITY: shares are squared effects, where nothing is correlated.
    effects = found.data.effect.sel(reading="caster")
    whole = float(found.data.standard_deviation.sel(reading="caster"))
    np.testing.assert_allclose((effects**2).sum(), whole**2, rtol=1e-12)
    assert "strut.top.x" in str(found.ranked())
    assert "<table>" in found.ranked()._repr_html_()


def test_what_scatters_has_its_unit(corner: ss.Corner) -> None:
    mixed = {"strut.top": 1.0, "wheel.toe": ss.normal(0.1), "clamp": ss.normal(0.2), "knuckle": ss.normal(0.5)}
    found = ss.sensitivities(corner, mixed, readings="toe")
    units = dict(zip(found.data.source.values.tolist(), found.data.source_unit.values.tolist(), strict=True))
    assert {units[name] for name in ("wheel.toe", "clamp")} == {"deg"}
    assert {unit for name, unit in units.items() if name not in ("wheel.toe", "clamp")} == {"mm"}
    assert ("wheel.toe", "0.1 deg") in [row[:2] for row in found.ranked("toe").rows]


def test_slopes_alone_are_ranked_by_size(corner: ss.Corner) -> None:
    table = ss.sensitivities(corner, readings="camber").ranked("camber")
    assert table.rows[0][:2] == ("wheel.camber", "deg per deg")


def test_refusals(corner: ss.Corner, car: ss.Axle) -> None:
    with pytest.raises(ss.InputError, match="did you mean 'camber'"):
        ss.sensitivities(corner, readings="cambre")
    with pytest.raises(ss.InputError, match="car.left or car.right"):
        ss.sensitivities(car)  # type: ignore[arg-type]
    with pytest.raises(ss.InputError, match="there is no 'mount_inn'"):
        ss.sensitivities(corner, mount_inn=1.0)
    with pytest.raises(ss.InputError, match="travel_at"):
        ss.sensitivities(corner, travel_at="spring")  # type: ignore[arg-type]
    with pytest.raises(ss.ReachError, match="travel 900 mm"):
        ss.sensitivities(corner, travel=900.0)
    several = ss.sensitivities(corner, {"points": 1.0}, readings="camber", travel=[0.0, 10.0])
    with pytest.raises(ss.InputError, match="several poses along travel"):
        several.ranked("camber")
    assert several.ranked("camber", at={"travel": 10.0}).rows
    with pytest.raises(ss.InputError, match="travel = 'x' cannot be looked up"):
        several.ranked("camber", at={"travel": "x"})
    with pytest.raises(ss.InputError, match="'toe' was not computed"):
        several.ranked("toe", at={"travel": 0.0})
    with pytest.raises(ss.InputError, match="'rack' does not vary"):
        several.ranked("camber", at={"rack": 0.0})
    with pytest.raises(ss.InputError, match="without tolerances"):
        ss.sensitivities(corner).ranked()
