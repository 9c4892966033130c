"""Scatter: what tolerances stand for, what samples of them look like, and what is refused.

Expected figures come from the distributions' own closed forms, and the correlation of uniform quantities with
correlated normal scores from 6/pi asin(rho/2): PUBLISHED (Pearson, Mathematical Contributions to the Theory of
Evolution XVI, 1907; MEMORY of the source, the formula checked here by a million samples too).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import xarray as xr
from scipy import stats

import strutsweep as ss
from strutsweep.dimensions import dimensions, unit_of

# A million samples estimate a standard deviation to 0.1 %, and a correlation to 0.001; four times that.
MANY = 1 << 20
RELATIVE_SAMPLING_ERROR = 4e-3
CORRELATION_ERROR = 4e-3
# The quadrature of correlations is good to this for uniform quantities.
QUADRATURE_ERROR = 1e-4


def test_a_number_is_plus_or_minus_that_and_uniform(corner: ss.Corner) -> None:
    (source,) = ss.scatter(corner, {"strut.top.y": 2.0}).sources
    assert source.distribution.support() == (-2.0, 2.0)
    assert source.standard_deviation == pytest.approx(2.0 / math.sqrt(3.0), rel=1e-14)


@pytest.mark.parametrize(
    ("distribution", "deviation"),
    [(ss.uniform(3.0), 3.0 / math.sqrt(3.0)), (ss.normal(0.7), 0.7), (ss.triangular(3.0), 3.0 / math.sqrt(6.0))],
)
def test_samples_have_the_standard_deviation_of_the_distribution(
    corner: ss.Corner, distribution: object, deviation: float
) -> None:
    drawn = ss.scatter(corner, {"wheel.toe": distribution}).draw(MANY, "random", 5)
    assert drawn.std() == pytest.approx(deviation, rel=RELATIVE_SAMPLING_ERROR)
    assert abs(drawn.mean()) < RELATIVE_SAMPLING_ERROR * deviation


def test_points_are_every_coordinate_and_the_more_particular_entry_counts(corner: ss.Corner) -> None:
    found = ss.scatter(corner, {"points": 1.0, "strut.top": ss.normal(2.0), "strut.top.z": ss.normal(5.0)})
    by_name = {source.name: source.standard_deviation for source in found.sources}
    assert len(by_name) == 8 * 3
    assert by_name["strut.top.x"] == 2.0
    assert by_name["strut.top.z"] == 5.0
    assert by_name["strut.low.x"] == pytest.approx(1.0 / math.sqrt(3.0))


def test_keywords_of_replace_name_points_too(corner: ss.Corner) -> None:
    assert ss.scatter(corner, {"strut_top": 1.0}).parameters == ss.scatter(corner, {"strut.top": 1.0}).parameters
    assert ss.scatter(corner, {"strut_top.y": 1.0}).parameters == ("strut.top.y",)


def test_the_clamp_varies_only_where_the_corner_has_one(corner: ss.Corner) -> None:
    assert "strut.clamp.x" not in dimensions(corner)
    clamped = corner.replace(strut_clamp=[-10.0, 640.0, 330.0])
    assert "strut.clamp.x" in dimensions(clamped)


def test_a_part_moves_as_one(corner: ss.Corner) -> None:
    found = ss.scatter(corner, {"arm_pivots": ss.normal(1.0)})
    drawn = dict(zip(found.parameters, found.draw(256, "sobol", 1).T, strict=True))
    for axis in "xyz":
        np.testing.assert_array_equal(drawn[f"lower_arm.front.{axis}"], drawn[f"lower_arm.rear.{axis}"])
    assert not np.array_equal(drawn["lower_arm.front.x"], drawn["lower_arm.front.y"])


def test_points_of_a_tuple_move_as_one_on_top_of_their_own_scatter(corner: ss.Corner) -> None:
    found = ss.scatter(corner, {"strut.top": ss.normal(3.0), ("strut.top", "tie_rod.inner"): ss.normal(4.0)})
    drawn = found.draw(MANY, "random", 2)
    at = found.parameters.index("strut.top.x")
    # IDENTITY: variances of independent parts add up, 3-4-5.
    assert drawn[:, at].std() == pytest.approx(5.0, rel=RELATIVE_SAMPLING_ERROR)


def test_units() -> None:
    assert [unit_of(name) for name in ("wheel.radius", "wheel.camber", "mount_in", "clamp", "travel")] == [
        "mm",
        "deg",
        "mm",
        "deg",
        "mm",
    ]


# Correlation.

PAIR = ("wheel.camber", "wheel.toe")


def test_normal_sources_are_correlated_as_asked(corner: ss.Corner) -> None:
    found = ss.scatter(corner, {name: ss.normal(0.2) for name in PAIR}, correlation={PAIR: -0.6})
    drawn = found.draw(MANY, "random", 3)
    assert np.corrcoef(drawn.T)[0, 1] == pytest.approx(-0.6, abs=CORRELATION_ERROR)
    np.testing.assert_allclose(found.covariance(), 0.04 * np.array([[1.0, -0.6], [-0.6, 1.0]]), rtol=1e-14)


def test_uniform_sources_are_correlated_through_their_normal_scores(corner: ss.Corner) -> None:
    found = ss.scatter(corner, {name: 1.0 for name in PAIR}, correlation={PAIR: 0.8})
    expected = 6.0 / math.pi * math.asin(0.4)
    assert 3.0 * found.covariance()[0, 1] == pytest.approx(expected, abs=QUADRATURE_ERROR)
    drawn = found.draw(MANY, "random", 4)
    assert np.corrcoef(drawn.T)[0, 1] == pytest.approx(expected, abs=CORRELATION_ERROR)


def test_a_singular_correlation_is_one(corner: ss.Corner) -> None:
    names = ["lower_arm.front.z", "lower_arm.rear.z", "tie_rod.inner.z"]
    matrix = xr.DataArray(np.ones((3, 3)), dims=("source", "other"), coords={"source": names, "other": names})
    drawn = ss.scatter(corner, {name: ss.normal(1.0) for name in names}, correlation=matrix).draw(64, "sobol", 1)
    np.testing.assert_allclose(drawn[:, 0], drawn[:, 1], atol=1e-7)
    np.testing.assert_allclose(drawn[:, 0], drawn[:, 2], atol=1e-7)


@pytest.mark.parametrize(
    ("pairs", "told"),
    [
        ({PAIR: 1.2}, "not within -1 to 1"),
        ({PAIR: math.nan}, "not within -1 to 1"),
        ({PAIR: 0.9, ("wheel.toe", "wheel.radius"): 0.9, ("wheel.camber", "wheel.radius"): -0.9}, "contradict"),
        ({("wheel.toe", "wheel.toe"): 0.5}, "paired with itself"),
        ({("wheel.toe", "wheel.cambre"): 0.5}, "did you mean 'wheel.camber'"),
    ],
)
def test_a_matrix_that_is_no_correlation_is_refused(
    corner: ss.Corner, pairs: dict[tuple[str, str], float], told: str
) -> None:
    tolerances = {name: ss.normal(1.0) for name in (*PAIR, "wheel.radius")}
    with pytest.raises(ss.InputError, match=told) as caught:
        ss.scatter(corner, tolerances, correlation=pairs)
    assert caught.value.name == "correlation"


def test_a_lopsided_matrix_is_refused(corner: ss.Corner) -> None:
    matrix = xr.DataArray([[1.0, 0.5], [0.4, 1.0]], dims=("a", "b"), coords={"a": list(PAIR), "b": list(PAIR)})
    with pytest.raises(ss.InputError, match="one way"):
        ss.scatter(corner, {name: 1.0 for name in PAIR}, correlation=matrix)
    with pytest.raises(ss.InputError, match="where 1 must stand"):
        ss.scatter(corner, {name: 1.0 for name in PAIR}, correlation=matrix.copy(data=[[0.9, 0.5], [0.5, 1.0]]))
    with pytest.raises(ss.InputError, match="same names"):
        ss.scatter(corner, {name: 1.0 for name in PAIR}, correlation=matrix.drop_vars("b"))
    with pytest.raises(ss.InputError, match="square"):
        ss.scatter(corner, {name: 1.0 for name in PAIR}, correlation=matrix[:1])


# Refusals.


@pytest.mark.parametrize("wrong", [-1.0, 0.0, math.nan, math.inf, -math.inf])
def test_a_tolerance_that_is_not_above_zero_is_refused(corner: ss.Corner, wrong: float) -> None:
    with pytest.raises(ss.InputError, match="strut.top .*not above 0"):
        ss.scatter(corner, {"strut.top": wrong})
    for make in (ss.uniform, ss.normal, ss.triangular):
        with pytest.raises(ss.InputError, match="not above 0"):
            make(wrong)


@pytest.mark.parametrize("wrong", ["1 mm", None, True, [1.0]])
def test_what_is_no_tolerance_is_refused(corner: ss.Corner, wrong: object) -> None:
    with pytest.raises(ss.InputError, match="neither a number nor a frozen distribution"):
        ss.scatter(corner, {"strut.top": wrong})


def test_a_distribution_without_a_standard_deviation_is_refused(corner: ss.Corner) -> None:
    with pytest.raises(ss.InputError, match="standard deviation"):
        ss.scatter(corner, {"strut.top": stats.t(1.5)})


def test_unknown_and_unfit_names_are_refused(corner: ss.Corner) -> None:
    with pytest.raises(ss.InputError, match="did you mean 'strut.top'"):
        ss.scatter(corner, {"strut.topp": 1.0})
    with pytest.raises(ss.InputError, match="travel is a motion"):
        ss.scatter(corner, {"travel": 1.0})
    with pytest.raises(ss.InputError, match="move as one"):
        ss.scatter(corner, {("strut.top", "mount_in"): 1.0})
    with pytest.raises(ss.InputError, match="nothing varies"):
        ss.scatter(corner, {})
    with pytest.raises(ss.InputError, match="neither a mapping"):
        ss.scatter(corner, 1.0)  # type: ignore[arg-type]


def test_sources_of_ones_own(corner: ss.Corner) -> None:
    lean = ss.Source("wheel house leans in", ss.normal(1.0), {"strut.top.y": -1.0, "strut.top.z": 0.1})
    found = ss.scatter(corner, [lean])
    drawn = found.draw(32, "sobol", 1)
    np.testing.assert_allclose(drawn[:, 1], -0.1 * drawn[:, 0], rtol=1e-12)
    for sources, told in (
        ([lean, lean], "given twice"),
        ([ss.Source("nothing", ss.normal(1.0), {})], "moves nothing"),
        ([ss.Source("far", ss.normal(1.0), {"strut.top.y": math.inf})], "not finite"),
        (["strut.top"], "is no Source"),
    ):
        with pytest.raises(ss.InputError, match=told):
            ss.scatter(corner, sources)  # type: ignore[arg-type]
