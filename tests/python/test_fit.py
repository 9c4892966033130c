"""Fit: a planted truth is recovered, the spread is honest, and what cannot be told is said.

SECOND METHODS: the normal equations of a linear problem by plain numpy; and statistics of many fits to data drawn anew,
which know nothing of the linearised problem. IDENTITY: movements that no reading can see.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy import stats

import strutsweep as ss

WITHIN_MM = 3.0
TOE_DEG, CAMBER_DEG = 0.02, 0.03
TRAVEL = np.linspace(-60.0, 60.0, 13)
PLATES = ((0.0, 0.0), (15.0, 0.0), (-15.0, 0.0), (0.0, 10.0))
# Between the plate positions that were measured, and off to a side.
HELD_OUT = {"mount_in": -8.0, "mount_back": -6.0}
PRIORS = {
    "points": ss.uniform(WITHIN_MM),
    "wheel.camber": ss.normal(0.1),
    "wheel.toe": ss.normal(0.1),
}
# The scaled misfit of a right model scatters about one; chance goes beyond this once in ten thousand.
IMPROBABLE = 1e-4


def planted(seed: int) -> tuple[ss.Corner, ss.Corner]:
    """A truth, and the same corner as a tape measured it: every coordinate wrong by up to 3 mm."""
    truth = ss.demo("hillclimb_saloon").left
    draw = np.random.default_rng(seed)
    names = [name for name in truth.points if name != "strut_clamp"]
    wrong = {name: truth.points[name] + draw.uniform(-WITHIN_MM, WITHIN_MM, 3) for name in names}
    return truth, truth.replace(**wrong)


def curves(truth: ss.Corner, seed: int) -> ss.Measurements:
    """Toe and camber over travel at four plate positions, with gauge noise."""
    together = ss.Measurements.none()
    for place, (mount_in, mount_back) in enumerate(PLATES):
        swept = ss.sweep(truth, travel=TRAVEL, mount_in=mount_in, mount_back=mount_back)
        together += ss.Measurements.from_sweep(
            swept,
            ["toe", "camber"],
            {"toe": TOE_DEG, "camber": CAMBER_DEG},
            name=f"plate {mount_in:g}, {mount_back:g}",
            seed=100 * seed + place,
        )
    return together


@pytest.fixture(scope="module")
def fitted() -> tuple[ss.Corner, ss.Corner, ss.Fit]:
    """Truth, corner as measured, fit."""
    truth, start = planted(3)
    return truth, start, ss.fit(start, curves(truth, 3), PRIORS)


def test_a_held_out_curve_is_predicted_within_gauge_noise(fitted: tuple[ss.Corner, ss.Corner, ss.Fit]) -> None:
    truth, start, found = fitted
    at_truth, at_start = (ss.sweep(one, travel=TRAVEL, **HELD_OUT) for one in (truth, start))
    predicted = found.predict(["toe", "camber"], travel=TRAVEL, **HELD_OUT)
    for reading, gauge in (("toe", TOE_DEG), ("camber", CAMBER_DEG)):
        one = predicted.sel(reading=reading)
        miss = np.abs(one.value - at_truth[reading])
        assert miss.max() < gauge
        # And better than without: the tape's points miss toe by many times the gauge's noise.
        assert miss.max() < 0.4 * np.abs(at_start[reading] - at_truth[reading]).max()
        assert (miss <= 4.0 * one.standard_deviation).all()
        assert (one.standard_deviation < 0.2 * one.standard_deviation_before).all()
    assert np.abs(at_start.toe - at_truth.toe).max() > 5.0 * TOE_DEG


def test_predictions_of_other_truths_lie_within_gauge_noise_too() -> None:
    misses = []
    for seed in range(10, 15):
        truth, start = planted(seed)
        predicted = ss.fit(start, curves(truth, seed), PRIORS).predict(["toe", "camber"], travel=TRAVEL, **HELD_OUT)
        swept = ss.sweep(truth, travel=TRAVEL, **HELD_OUT)
        misses.append([np.abs(predicted.value.sel(reading=name) - swept[name]).max() for name in ("toe", "camber")])
    toe, camber = np.array(misses).T
    assert np.median(toe) < TOE_DEG
    assert np.median(camber) < CAMBER_DEG
    assert toe.max() < 2.0 * TOE_DEG
    assert camber.max() < 2.0 * CAMBER_DEG


def test_the_spread_of_the_points_is_honest() -> None:
    # Over many truths the squared distance in units of the spread is as a chi-square of as many unknowns says. Priors are
    # uniform and count by their standard deviation, so it cannot be more than nearly that.
    total, unknowns = 0.0, 0
    for seed in range(20, 24):
        truth, start = planted(seed)
        found = ss.fit(start, curves(truth, seed), PRIORS)
        for name in found.start.points:
            if name == "strut_clamp":
                continue
            spelled = {"tie_rod_inner": "tie_rod.inner", "tie_rod_outer": "tie_rod.outer", "ball_joint": "lower_arm.ball_joint"}
            if name in spelled:
                for axis, label in enumerate("xyz"):
                    after = found.unknowns.after.sel(source=f"{spelled[name]}.{label}").item()
                    total += ((found.corner.points[name][axis] - truth.points[name][axis]) / after) ** 2
                    unknowns += 1
    assert IMPROBABLE < stats.chi2.sf(total, unknowns) < 1.0 - IMPROBABLE


def test_misfit_is_as_large_as_the_gauges_say(fitted: tuple[ss.Corner, ss.Corner, ss.Fit]) -> None:
    *_, found = fitted
    assert IMPROBABLE < found.probability < 1.0 - IMPROBABLE
    assert found.freedom < len(found.measurements)
    assert found.chi_square == pytest.approx((found.data.scaled**2).sum().item())


def test_movements_that_no_reading_sees_are_said(fitted: tuple[ss.Corner, ss.Corner, ss.Fit]) -> None:
    *_, found = fitted
    words = [unseen.words for unseen in found.unknown_combinations]
    # IDENTITY: the origin of the coordinates is free; a pivot slides along its axis and the axis stays.
    for movement in (
        "all points moved together fore and aft",
        "all points moved together sideways",
        "all points moved together up and down",
        "lower_arm.front slid along the arm's axis",
        "strut.low slid along the strut",
    ):
        assert movement in words
    for unseen in found.unknown_combinations[:5]:
        assert unseen.after == pytest.approx(unseen.before, rel=1e-3)
        assert not unseen.is_told
    assert found.combinations[0].is_told
    assert found.combinations[0].after < 0.05 * found.combinations[0].before
    report = found.report()
    assert "cannot tell" in report
    assert "all points moved together sideways" in report
    assert str(found) == report


def test_leaving_one_out(fitted: tuple[ss.Corner, ss.Corner, ss.Fit]) -> None:
    *_, found = fitted
    single = found.leave_one_out()
    assert IMPROBABLE < stats.chi2.sf((single.scaled**2).sum().item(), len(found.measurements)) < 1.0 - IMPROBABLE
    by_curve = found.leave_one_out(by="curve")
    assert np.abs(by_curve.scaled).max() < 4.5
    # SECOND METHOD: one of them really left out, and the fit made again.
    place = 40
    keep = np.arange(len(found.measurements)) != place
    again = ss.fit(found.start, found.measurements.chosen(keep), PRIORS)
    alone = found.measurements.chosen(~keep)
    column = dict(zip(ss.fitting.FIELDS, alone.rows[0], strict=True))
    there = again.predict(alone.reading[0], **{name: value for name, value in column.items() if value})
    assert single.predicted[place].item() == pytest.approx(there.value.item(), abs=0.02 * alone.accuracy[0])
    expected = math.hypot(there.standard_deviation.item(), alone.accuracy[0])
    assert single.standard_deviation[place].item() == pytest.approx(expected, rel=0.01)
    with pytest.raises(ss.InputError, match="neither 'measurement' nor 'curve'"):
        found.leave_one_out(by="day")  # type: ignore[arg-type]


# Linear problems that plain numpy solves.


def test_one_number_is_weighed_against_what_was_known(corner: ss.Corner) -> None:
    # IDENTITY: camber at design is wheel.camber. A prior of 0.3 about -0.5 and a gauge of 0.1 at -0.9 meet at
    # -0.5 - 0.4 * 9/10, with 1/sqrt(1/0.09 + 1/0.01).
    found = ss.fit(corner, ss.Measurements.curve("camber", -0.9, 0.1), {"wheel.camber": ss.normal(0.3)})
    assert found.corner.camber == pytest.approx(-0.5 - 0.4 * 0.9, abs=1e-9)
    assert found.unknowns.after.item() == pytest.approx(1.0 / math.sqrt(1.0 / 0.09 + 1.0 / 0.01), rel=1e-9)
    assert found.data.influence.item() == pytest.approx(0.9, rel=1e-9)


def test_correlated_priors_are_the_normal_equations(corner: ss.Corner) -> None:
    priors = {"wheel.camber": ss.normal(0.3), "wheel.toe": ss.normal(0.2)}
    found = ss.fit(
        corner,
        ss.Measurements.curve("camber", -0.9, 0.1),
        priors,
        correlation={("wheel.camber", "wheel.toe"): 0.7},
    )
    covariance = np.array([[0.09, 0.7 * 0.06], [0.7 * 0.06, 0.04]])
    gain = covariance[:, :1] / (covariance[0, 0] + 0.01)
    np.testing.assert_allclose(found.unknowns.moved, (gain * -0.4).ravel(), atol=1e-9)
    np.testing.assert_allclose(found.unknowns.covariance, covariance - gain @ covariance[:1], atol=1e-12)


def test_without_priors_the_data_alone_decide(corner: ss.Corner) -> None:
    truth = corner.replace(camber=-1.7, toe=0.3)
    sheet = ss.Measurements.curve("camber", truth.camber, 0.1) + ss.Measurements.curve("toe", truth.toe, 0.05)
    found = ss.fit(corner, sheet, {"wheel.camber": math.inf, "wheel.toe": math.inf})
    assert found.corner.camber == pytest.approx(-1.7, abs=1e-9)
    assert found.corner.toe == pytest.approx(0.3, abs=1e-9)
    np.testing.assert_allclose(found.unknowns.after, [0.1, 0.05], rtol=1e-9)
    assert "anything" in str(found.table())
    assert math.isinf(found.predict("camber").standard_deviation_before.item())


def test_two_readings_on_one_curve_have_a_zero_each(corner: ss.Corner) -> None:
    # Exact data, both gauges set to zero at the start of one run: neither zero says anything of the other reading.
    swept = ss.sweep(corner, travel=TRAVEL)
    zeros = {"toe": 0.3, "camber": -0.7}
    run = ss.Measurements.none()
    for reading, zero in zeros.items():
        values = swept[reading].values - zero
        run += ss.Measurements.curve(reading, values, 0.03, travel=TRAVEL, zeroed=True, name="plate in")
    priors = {"wheel.toe": ss.normal(0.5), "wheel.camber": ss.normal(0.5)}
    found = ss.fit(corner, run, priors)
    assert found.corner.camber == pytest.approx(corner.camber, abs=1e-6)
    assert found.corner.toe == pytest.approx(corner.toe, abs=1e-6)
    assert found.offsets == pytest.approx({"plate in, toe": -0.3, "plate in, camber": 0.7}, abs=1e-6)
    # Of the static angles such gauges say next to nothing, and it is not claimed that they do.
    assert found.unknowns.after.min() > 0.4
    before = ss.fit(corner, ss.Measurements.none(), priors)
    table = ss.next_measurements(before, run, "camber")
    assert float(table.rows[0][3]) < 5.0  # narrower by per cent
    assert found.leave_one_out(by="curve").sizes["measurement"] == len(run)


@pytest.mark.parametrize("off", [0.5, 3.0, 6.0])
def test_the_probability_of_one_measurement_is_that_of_its_surprise(corner: ss.Corner, off: float) -> None:
    # IDENTITY: one reading against one prior; what it misses is normal with the prior's and the gauge's variance together.
    known, gauge = 0.5, 0.02
    measured = ss.Measurements.curve("camber", corner.camber + off * np.hypot(known, gauge), gauge)
    found = ss.fit(corner, measured, {"wheel.camber": ss.normal(known)})
    assert found.probability == pytest.approx(2.0 * stats.norm.sf(off), rel=1e-3)
    assert ("That is improbable" in found.report()) == (off >= 6.0)


def test_a_zeroed_gauge_counts_by_changes_only(corner: ss.Corner) -> None:
    swept = ss.sweep(corner.replace(tie_rod_inner=corner.points["tie_rod_inner"] + [0.0, 0.0, 2.0]), travel=TRAVEL)
    values = swept.toe.values
    priors = {"tie_rod.inner.z": ss.normal(3.0), "wheel.toe": ss.normal(0.2)}
    fits = [
        ss.fit(corner, ss.Measurements.curve("toe", values + zero, 0.005, travel=TRAVEL, zeroed=True), priors)
        for zero in (0.0, 7.0)
    ]
    for zero, found in zip((0.0, 7.0), fits, strict=True):
        assert found.unknowns.moved.sel(source="tie_rod.inner.z").item() == pytest.approx(2.0, abs=0.05)
        # Of toe itself such a gauge says next to nothing.
        assert found.unknowns.after.sel(source="wheel.toe").item() > 0.19
        assert found.offsets["toe"] == pytest.approx(zero, abs=0.01)
        assert found.leave_one_out(by="curve").sizes["measurement"] == len(TRAVEL)
    np.testing.assert_allclose(fits[0].unknowns.moved, fits[1].unknowns.moved, atol=1e-6)


def test_settings_can_be_unknown_too(corner: ss.Corner) -> None:
    swept = ss.sweep(corner, travel=TRAVEL, tie_rod=1.5, arm=-2.0)
    sheet = ss.Measurements.curve("toe", swept.toe.values, 0.001, travel=TRAVEL)
    sheet += ss.Measurements.curve("camber", swept.camber.values, 0.001, travel=TRAVEL)
    found = ss.fit(corner, sheet, {"tie_rod": ss.normal(3.0), "arm": ss.normal(3.0)})
    assert found.setting["tie_rod"] == pytest.approx(1.5, abs=0.01)
    assert found.setting["arm"] == pytest.approx(-2.0, abs=0.05)
    assert found.corner == corner
    assert found.predict("toe", travel=20.0).value.item() == pytest.approx(swept.toe.sel(travel=20.0).item(), abs=1e-3)


def test_right_corners_are_fitted_as_left_ones(fitted: tuple[ss.Corner, ss.Corner, ss.Fit]) -> None:
    *_, left = fitted
    mirrored = ss.fit(left.start.mirror(), left.measurements, PRIORS)
    np.testing.assert_allclose(mirrored.unknowns.after, left.unknowns.after, rtol=1e-5)
    np.testing.assert_allclose(mirrored.corner.points["strut_top"] * [1, -1, 1], left.corner.points["strut_top"], atol=1e-5)


# What to measure next.


def test_the_narrowing_foretold_is_that_of_the_fit_then_made() -> None:
    _, start = planted(3)
    before = ss.fit(start, ss.Measurements.none(), PRIORS)
    bump = ss.Measurements.curve("toe", np.zeros(5), 0.02, travel=np.linspace(-60, 60, 5), zeroed=True, name="bump steer")
    caster = ss.Measurements.curve("caster", 0.0, 0.1)
    wanted = {"travel": 60.0, "mount_in": 10.0}
    table = ss.next_measurements(before, caster + bump, "toe", **wanted)
    assert [row[0] for row in table.rows] == ["bump steer", "caster"]
    # SECOND METHOD: measure just what the corner shows, and fit.
    swept = ss.sweep(start, travel=np.linspace(-60, 60, 5))
    real = ss.Measurements.curve("toe", swept.toe.values, 0.02, travel=swept.travel.values, zeroed=True)
    after = ss.fit(start, real, PRIORS).predict("toe", **wanted).standard_deviation.item()
    assert float(table.rows[0][2]) == pytest.approx(after, rel=5e-3)
    now = before.predict("toe", **wanted).standard_deviation.item()
    assert f"now: {now:.3g}" in table.notes[0]


# Refusals.


@pytest.mark.parametrize(
    ("priors", "told"),
    [
        ({"points": math.inf}, "cannot settle 24 unknowns, 24 of them without any prior"),
        ({"strut.top": -1.0}, "priors: strut.top .*not above 0"),
        ({"strut.topp": 1.0}, "priors: there is no"),
        ({}, "priors: nothing varies"),
        ({"strut.top": math.nan}, "not above 0"),
    ],
)
def test_priors_that_are_none_are_refused(corner: ss.Corner, priors: dict[Any, float], told: str) -> None:
    with pytest.raises(ss.InputError, match=told):
        ss.fit(corner, ss.Measurements.curve("toe", [0.0, 0.1], 0.02, travel=[0.0, 20.0]), priors)


def test_what_the_data_leave_open_is_named_where_nothing_was_known(corner: ss.Corner) -> None:
    # IDENTITY: where on the damper rod the second point sits decides nothing.
    sheet = ss.Measurements.from_sweep(ss.sweep(corner, travel=TRAVEL), ["toe", "camber"], 0.01)
    with pytest.raises(ss.InputError, match=r"do not settle [+]0[.]99 strut[.]low[.]z, of which nothing was known"):
        ss.fit(corner, sheet, {"strut.low": math.inf})


def test_other_refusals(corner: ss.Corner) -> None:
    sheet = ss.Measurements.curve("caster", 3.3, 0.1)
    priors = {"strut.top.x": ss.normal(1.0)}
    with pytest.raises(ss.InputError, match="is no Measurements"):
        ss.fit(corner, [1.0], priors)  # type: ignore[arg-type]
    with pytest.raises(ss.ReachError):
        ss.fit(corner, ss.Measurements.curve("caster", 3.3, 0.1, travel=900.0), priors)
    found = ss.fit(corner, sheet, priors)
    with pytest.raises(ss.InputError, match="there is none"):
        ss.next_measurements(found, ss.Measurements.none(), "toe")
    with pytest.raises(ss.InputError, match="one pose is wanted"):
        ss.next_measurements(found, sheet, "toe", travel=[0.0, 1.0])  # type: ignore[arg-type]
    with pytest.raises(ss.InputError, match="a Fit is wanted"):
        ss.next_measurements(corner, sheet, "toe")  # type: ignore[arg-type]
    flat = {"strut.top.x": math.inf, "strut.top.y": ss.normal(1.0)}
    with pytest.raises(ss.InputError, match="of which nothing is known there is none"):
        ss.fit(corner, sheet, flat, correlation={("strut.top.x", "strut.top.y"): 0.5})


def test_a_bad_measurement_is_noticed(corner: ss.Corner) -> None:
    values = ss.sweep(corner, travel=TRAVEL).toe.values.copy()
    values[5] += 0.5
    found = ss.fit(corner, ss.Measurements.curve("toe", values, 0.02, travel=TRAVEL), PRIORS)
    assert found.probability < 1e-6
    assert "improbable" in found.report()
    assert np.abs(found.leave_one_out().scaled.values).argmax() == 5
