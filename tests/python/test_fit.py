"""Fit: a planted truth is recovered, the spread is honest, and what cannot be told is said.

SECOND METHODS: the normal equations of a linear problem by plain numpy; and statistics of many fits to data drawn anew,
which know nothing of the linearised problem. IDENTITY: movements that no reading can see.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
import pytest
from scipy import stats

import strutsweep as ss
from strutsweep import _fit_problem
from strutsweep.words import HARD_POINT_FIELDS

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
    # Over many truths the squared distance in units of the spread is as a chi-square of as many unknowns says. Priors
    # are uniform and count by their standard deviation, so it cannot be more than nearly that.
    total, unknowns = 0.0, 0
    for seed in range(20, 24):
        truth, start = planted(seed)
        found = ss.fit(start, curves(truth, seed), PRIORS)
        for name in found.start.points:
            if name == "strut_clamp":
                continue
            spelled = {
                "tie_rod_inner": "tie_rod.inner",
                "tie_rod_outer": "tie_rod.outer",
                "ball_joint": "lower_arm.ball_joint",
            }
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


# What is told is a sum of dimensions; what is not is a movement of them.


def test_two_unknowns_and_one_number_by_hand(corner: ss.Corner) -> None:
    # IDENTITY: caster = atan2(-e_x, e_z) with e = top - ball joint: of their fore-aft places it tells the difference,
    # and a movement of both by the same amount it does not see. With 2 and 1 mm known before, the difference was known
    # to sqrt(5) mm, and the common place, once the difference is known, to 2 / sqrt(5) mm.
    e = corner.points["strut_top"] - corner.points["ball_joint"]
    slope = math.degrees(e[2] / (e[0] ** 2 + e[2] ** 2))
    gauge = 0.02
    priors = {"strut.top.x": ss.normal(2.0), "lower_arm.ball_joint.x": ss.normal(1.0)}
    caster = corner.solve().caster
    found = ss.fit(corner, ss.Measurements.curve("caster", caster - 1.5 * slope, gauge), priors)
    told, unseen = found.combinations
    assert told.is_told
    assert not unseen.is_told
    assert told.words == "strut.top.x - 1.00 lower_arm.ball_joint.x"
    assert told.weights == pytest.approx({"strut.top.x": 1.0, "lower_arm.ball_joint.x": -1.0}, abs=5e-3)
    assert told.unit == "mm"
    # Round-off of weights that are printed to two figures, and of a caster that is not quite linear.
    assert told.before == pytest.approx(math.sqrt(5.0), rel=2e-3)
    assert told.after == pytest.approx(1.0 / math.sqrt(1.0 / 5.0 + (slope / gauge) ** 2), rel=1e-2)
    assert told.value == pytest.approx(1.5, rel=0.02)
    assert unseen.weights == pytest.approx({"strut.top.x": 1.0, "lower_arm.ball_joint.x": 1.0}, abs=5e-3)
    assert unseen.before == pytest.approx(2.0 / math.sqrt(5.0), rel=5e-3)
    assert unseen.after == pytest.approx(unseen.before, rel=1e-3)
    assert math.isnan(unseen.value)
    assert f"strut.top.x - 1.00 lower_arm.ball_joint.x = {told.value:+.3g} mm, known to 0.2" in found.report()
    assert "lower_arm.ball_joint.x by +1.00, strut.top.x by +1.00 mm: 0.894 -> 0.894 mm" in found.report()


def test_sums_are_known_and_movements_unseen_as_plain_numpy_has_it(fitted: tuple[ss.Corner, ss.Corner, ss.Fit]) -> None:
    # SECOND METHOD: covariance of the dimensions before and after by the gain matrix of a linear measurement, from the
    # slopes of `sensitivities` at the fitted corner.
    truth, _, found = fitted
    names = list(found.parameters)
    before = np.diag(
        [0.1**2 if name.startswith("wheel.") and name.count(".") == 1 else WITHIN_MM**2 / 3.0 for name in names]
    )
    slopes = []
    for mount_in, mount_back in PLATES:
        at = {"travel": TRAVEL, "mount_in": mount_in, "mount_back": mount_back}
        slope = ss.sensitivities(found.corner, readings=["toe", "camber"], parameters=names, **at).data.slope
        slopes += [slope.sel(reading=name).values / gauge for name, gauge in (("toe", TOE_DEG), ("camber", CAMBER_DEG))]
    seen = np.concatenate(slopes)
    gain = before @ seen.T @ np.linalg.inv(seen @ before @ seen.T + np.eye(len(seen)))
    after = before - gain @ seen @ before
    true = dict(zip(names, np.zeros(len(names)), strict=True))
    for point, spelled in HARD_POINT_FIELDS.items():
        true |= {f"{spelled}.{x}": truth.points[point][i] - found.start.points[point][i] for i, x in enumerate("xyz")}
    surprises = []
    for one in found.combinations:
        weights = np.array([one.weights.get(name, 0.0) for name in names])
        if one.is_told:
            assert one.before == pytest.approx(math.sqrt(weights @ before @ weights), rel=1e-6)
            assert one.after == pytest.approx(math.sqrt(weights @ after @ weights), rel=1e-3)
            assert one.after < one.before / math.sqrt(2.0)
            surprises.append((one.value - sum(true[name] * weight for name, weight in one.weights.items())) / one.after)
            continue
        assert one.after >= one.before / math.sqrt(2.0) - 1e-9
        # As far as it was uncertain before, and still no more than all gauges together would notice.
        assert np.linalg.norm(seen @ weights) * one.before < 1.0 + 1e-3
    assert len(surprises) > 5
    assert stats.chi2.sf(np.square(surprises).sum(), len(surprises)) > IMPROBABLE
    assert "narrows it by 29 % at most" in found.report()


def test_what_is_not_known_before_leaves_the_rest_as_if_its_prior_were_wide(corner: ss.Corner) -> None:
    # SECOND METHOD: a prior so wide that it says nothing. Combinations of the rest are the same, whatever the inner
    # scale.
    swept = ss.sweep(corner, travel=TRAVEL)
    sheet = ss.Measurements.from_sweep(swept, ["toe", "camber"], 0.02)
    rest = {"tie_rod.inner": ss.normal(2.0), "tie_rod.outer": ss.normal(2.0)}
    flat = ss.fit(corner, sheet, rest | {"wheel.toe": math.inf, "wheel.camber": math.inf})
    wide = ss.fit(corner, sheet, rest | {"wheel.toe": ss.normal(1e4), "wheel.camber": ss.normal(1e4)})
    known = [[one for one in found.combinations if one.before < 100.0] for found in (flat, wide)]
    assert len(known[0]) == len(known[1]) == len(flat.combinations) - 2
    for first, second in zip(*known, strict=True):
        assert first.is_told == second.is_told
        assert [first.before, first.after] == pytest.approx([second.before, second.after], rel=1e-4)
    assert [one.words.split()[0] for one in flat.combinations[:2]] == ["wheel.camber", "wheel.toe"]
    assert flat.leave_one_out().settled.all()


def test_sources_that_take_each_other_back_are_no_movement(corner: ss.Corner) -> None:
    # Two sources of one coordinate: their sum is one dimension, and their difference moves nothing.
    sources = [
        ss.Source("tape", ss.normal(2.0), {"strut.top.x": 1.0}),
        ss.Source("wear", ss.normal(1.0), {"strut.top.x": 1.0}),
    ]
    found = ss.fit(corner, ss.Measurements.curve("caster", corner.solve().caster, 0.02), sources)
    assert [one.words for one in found.combinations] == ["strut.top.x"]
    assert found.combinations[0].before == pytest.approx(math.sqrt(5.0), rel=1e-9)


def test_a_search_that_did_not_end_is_told(corner: ss.Corner, monkeypatch: pytest.MonkeyPatch) -> None:
    _, start = planted(3)
    measured = curves(ss.demo("hillclimb_saloon").left, 3)
    assert ss.fit(start, measured, PRIORS).converged
    monkeypatch.setattr(_fit_problem, "MOST_EVALUATIONS", 1)
    found = ss.fit(start, measured, PRIORS)
    assert not found.converged
    assert "did not end within 1 evaluations: trust no number of it" in found.report()


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
    assert "nothing known" in str(found.table())
    # IDENTITY: two numbers that are the unknowns themselves, of which nothing was known.
    assert [one.words for one in found.combinations] == ["wheel.camber", "wheel.toe"]
    assert [one.before for one in found.combinations] == [math.inf, math.inf]
    np.testing.assert_allclose([one.value for one in found.combinations], [-1.2, 0.3], atol=1e-9)
    np.testing.assert_allclose([one.after for one in found.combinations], [0.1, 0.05], rtol=1e-9)
    assert "wheel.camber = -1.2 deg, known to 0.1 deg (nothing known before)" in found.report()
    # Each settles its unknown alone: without it there is no prediction, and that is said without a warning.
    for left_out in (found.leave_one_out(), found.leave_one_out(by="curve")):
        assert not left_out.settled.any()
        assert np.isnan(left_out.predicted).all()
        assert np.isinf(left_out.standard_deviation).all()
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
    # IDENTITY: one reading against one prior; what it misses is normal with the prior's and the gauge's variance
    # together.
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
    measured = dataclasses.replace(left.measurements, side="right")
    mirrored = ss.fit(left.start.mirror(), measured, PRIORS)
    np.testing.assert_allclose(mirrored.unknowns.after, left.unknowns.after, rtol=1e-5)
    np.testing.assert_allclose(
        mirrored.corner.points["strut_top"] * [1, -1, 1], left.corner.points["strut_top"], atol=1e-5
    )


# What to measure next.


def test_the_narrowing_foretold_is_that_of_the_fit_then_made() -> None:
    _, start = planted(3)
    before = ss.fit(start, ss.Measurements.none(), PRIORS)
    bump = ss.Measurements.curve(
        "toe", np.zeros(5), 0.02, travel=np.linspace(-60, 60, 5), zeroed=True, name="bump steer"
    )
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
    with pytest.raises(ss.InputError, match=r"movement of strut[.]low[.]z by [+]0[.]99 mm, of which nothing was"):
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
    with pytest.raises(ss.InputError, match="is no Measurements"):
        ss.next_measurements(found, [1.0], "toe")  # type: ignore[arg-type]
    assert "tell nothing better than it was known before" in ss.fit(corner, ss.Measurements.none(), priors).report()
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
