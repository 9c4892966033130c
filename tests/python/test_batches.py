"""The engine under spread, fit and search, by itself: batches summed up, and slopes of many poses at once.

SECOND METHOD: NumPy's mean, standard deviation, percentiles and histogram of the same numbers.
"""

from __future__ import annotations

import numpy as np
import pytest

import strutsweep as ss
from strutsweep._core import slope_grid, sum_up
from strutsweep._poses import FIELDS, PoseGrid, readings_and_slopes
from strutsweep.words import MOTIONS, READINGS, SETTINGS

PERCENTS = [0.0, 2.5, 16.0, 50.0, 50.0, 84.0, 99.9, 100.0]
# Sums in another order: some round-offs of numbers of about one.
ROUND_OFF = 1e-13


@pytest.mark.parametrize("samples", [1, 2, 3, 1000, 4097])
def test_statistics_are_those_of_numpy(samples: int) -> None:
    batch = np.random.default_rng(samples).standard_normal((5, samples)).T
    low, high = batch.min(axis=0) - 0.1, batch.max(axis=0) + 0.1
    count, mean, deviation, percentiles, histogram = sum_up(batch, PERCENTS, low, high, 7, 2)
    assert count.tolist() == [samples] * 5
    np.testing.assert_allclose(mean, batch.mean(axis=0), atol=ROUND_OFF)
    if samples > 1:
        np.testing.assert_allclose(deviation, batch.std(axis=0, ddof=1), atol=ROUND_OFF)
    else:
        assert np.isnan(deviation).all()
    # NumPy calls definition 8 of Hyndman and Fan so.
    wanted = np.percentile(batch, PERCENTS, axis=0, method="median_unbiased")
    np.testing.assert_allclose(percentiles.T, wanted, atol=ROUND_OFF)
    for column in range(5):
        counted, _ = np.histogram(batch[:, column], bins=7, range=(low[column], high[column]))
        np.testing.assert_array_equal(histogram[column], counted)


def test_what_is_not_finite_is_left_out_and_what_lies_beyond_is_counted_at_the_ends() -> None:
    column = np.array([[np.nan], [1.0], [np.inf], [3.0], [-9.0], [2.0]])
    count, mean, _, percentiles, histogram = sum_up(column, [50.0], np.array([0.0]), np.array([4.0]), 4, 1)
    assert (count[0], mean[0], percentiles[0, 0]) == (4, -0.75, 1.5)
    assert histogram[0].tolist() == [1, 1, 1, 1]
    count, mean, *_ = sum_up(np.full((3, 1), np.nan), [50.0], np.array([0.0]), np.array([1.0]), 2, 1)
    assert count[0] == 0
    assert np.isnan(mean[0])


def test_slopes_of_many_poses_are_those_of_single_ones_for_any_threads(each_corner: ss.Corner) -> None:
    draw = np.random.default_rng(1)
    rows = draw.uniform(-5.0, 5.0, (9, len(FIELDS)))
    rows[4, FIELDS.index("travel")] = 900.0
    names = ["mount_in", "travel", "strut.top.y", "wheel.camber", "tie_rod.outer.z", "arm"]
    travel_at = ["ground", "hub", "strut"] * 3
    readings = ["camber", "bump_steer", "scrub_radius"]
    one, two = (slope_grid(each_corner, rows, travel_at, readings, names, threads) for threads in (1, 2))
    for first, second in zip(one, two, strict=True):
        np.testing.assert_array_equal(first, second)
    values, slopes, status = one
    assert status.tolist() == [0, 0, 0, 0, 1, 0, 0, 0, 0]
    assert np.isnan(values[4]).all()
    assert np.isnan(slopes[4]).all()
    for place in (0, 1, 2, 8):
        inputs = dict(zip(FIELDS, rows[place].tolist(), strict=True))
        pose = each_corner.solve(**inputs, travel_at=travel_at[place])
        found = each_corner.derivatives(names, **inputs, travel_at=travel_at[place], readings=readings)
        for column, reading in enumerate(readings):
            assert values[place, column] == pose.readings[reading]
            np.testing.assert_array_equal(slopes[place, column], found[reading].values)
    with pytest.raises(ss.ReachError, match="travel 900 mm"):
        readings_and_slopes(each_corner, rows, travel_at, readings, names)


def test_no_parameters_and_shapes_that_do_not_fit(corner: ss.Corner) -> None:
    rows = np.zeros((2, len(FIELDS)))
    values, slopes, _ = slope_grid(corner, rows, ["ground"] * 2, list(READINGS), [], 0)
    assert slopes.shape == (2, len(READINGS), 0)
    assert values[0, 0] == corner.solve().camber
    with pytest.raises(ValueError, match="a row of"):
        slope_grid(corner, rows[:, :-1].copy(), ["ground"] * 2, ["camber"], [], 0)
    with pytest.raises(ss.InputError, match="camber"):
        slope_grid(corner, rows, ["ground"] * 2, ["cambre"], [], 0)


def test_a_grid_of_poses_has_travel_last_and_its_labels(corner: ss.Corner) -> None:
    grid = PoseGrid.of({"travel": [0.0, 10.0], "rack": [1.0, 2.0, 3.0], "mount_in": 4.0}, "hub")
    assert grid.sizes == {"rack": 3, "travel": 2}
    assert FIELDS == (*SETTINGS, *MOTIONS)
    assert grid.rows[3, FIELDS.index("rack")] == 2.0
    assert grid.rows[3, FIELDS.index("travel")] == 10.0
    assert (grid.rows[:, FIELDS.index("mount_in")] == 4.0).all()
    assert grid.told(3) == "mount_in 4 mm, travel 10 mm, rack 2 mm"
