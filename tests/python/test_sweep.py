"""Sweeps: dimensions and labels, every cell the same bits as a single pose, failures in place, wrong inputs told.

Grids have sizes and values that are all different, so that two swapped labels or axes cannot go unseen. The check
behind most tests is the single pose (`Corner.solve`), which shares no code with the labels: bits are compared.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import strutsweep as ss
from strutsweep import sweeping
from strutsweep.words import HARD_POINTS, MOTIONS, PLACES, READINGS, SETTINGS, STATUSES, TRAVEL_AT

TRAVEL = np.array([-31.0, 4.0, 17.0, 52.0])
MOUNT_IN = np.array([-13.0, 6.0, 11.0])
RACK = np.array([-22.0, 9.0])

REACHED, LOWER_ARM, TIE_ROD, NO_CORNER = (
    STATUSES[name]["code"] for name in ("reached", "lower_arm", "tie_rod", "hard_points")
)


def bits(array: xr.DataArray | np.ndarray | float) -> bytes:
    """The bits of an array of floats in row-major order: NaN equals itself, and zeros keep their signs."""
    return np.ascontiguousarray(array, dtype=np.float64).tobytes()


def assert_same_bits(dataset: xr.Dataset, other: xr.Dataset) -> None:
    """Two results hold the same variables, dimensions and bits."""
    assert list(dataset) == list(other)
    for name in dataset:
        assert dataset[name].dims == other[name].dims, name
        assert bits(dataset[name]) == bits(other[name]), name


def assert_cells_are_poses(dataset: xr.Dataset, corner: ss.Corner, cells: list[dict[str, int]]) -> None:
    """Cells of a result against single poses with the inputs that the cell's labels tell."""
    for cell in cells:
        labelled = dataset.isel(cell)
        inputs = {name: float(labelled.coords[name]) for name in (*MOTIONS, *SETTINGS)}
        pose = corner.solve(**inputs, travel_at=dataset.attrs["travel_at"])
        assert labelled.status == REACHED
        for name in READINGS:
            assert bits(labelled[name]) == bits(pose.readings[name]), (cell, name)
        for name in PLACES:
            if name in dataset:
                assert bits(labelled[name]) == bits(pose.point(name)), (cell, name)


def every_cell(dataset: xr.Dataset) -> list[dict[str, int]]:
    """Indices of every pose of a result."""
    dims = dataset.status.dims
    return [dict(zip(dims, index, strict=True)) for index in np.ndindex(dataset.status.shape)]


# Dimensions and labels.


def test_numbers_stay_numbers(corner: ss.Corner) -> None:
    dataset = ss.sweep(corner, travel=12.5, mount_in=np.float32(3.0), rack=np.array(7.0), clamp=1)
    assert dict(dataset.sizes) == {}
    assert float(dataset.coords["travel"]) == 12.5
    assert float(dataset.coords["mount_in"]) == 3.0
    assert float(dataset.coords["rack"]) == 7.0
    assert float(dataset.coords["clamp"]) == 1.0
    assert_cells_are_poses(dataset, corner, [{}])


def test_an_array_becomes_a_dimension_of_its_name(corner: ss.Corner) -> None:
    dataset = ss.sweep(corner, travel=TRAVEL, mount_in=MOUNT_IN)
    assert dict(dataset.sizes) == {"travel": 4, "mount_in": 3}
    assert bits(dataset.indexes["travel"].to_numpy()) == bits(TRAVEL)
    assert bits(dataset.indexes["mount_in"].to_numpy()) == bits(MOUNT_IN)
    for name in (*READINGS, "status"):
        assert dataset[name].dims == ("travel", "mount_in")


def test_dimensions_stand_in_the_order_of_the_documentation(corner: ss.Corner) -> None:
    dataset = ss.sweep(corner, mount_in=MOUNT_IN, rack=RACK, travel=TRAVEL)
    assert dataset.camber.dims == ("travel", "rack", "mount_in")
    assert dataset.camber.shape == (4, 2, 3)


@pytest.mark.parametrize("travel_at", TRAVEL_AT)
def test_every_cell_is_the_single_pose_to_the_last_bit(each_corner: ss.Corner, travel_at: str) -> None:
    dataset = ss.sweep(
        each_corner, travel=TRAVEL, rack=RACK, mount_in=MOUNT_IN, tie_rod=1.5, travel_at=travel_at, places=list(PLACES)
    )
    assert_cells_are_poses(dataset, each_corner, every_cell(dataset))


def test_every_setting_and_motion_reaches_its_own_input(each_corner: ss.Corner) -> None:
    inputs = {name: 0.5 + 0.25 * i for i, name in enumerate((*MOTIONS, *SETTINGS))}
    dataset = ss.sweep(each_corner, **inputs)
    assert {name: float(dataset.coords[name]) for name in inputs} == inputs
    assert_cells_are_poses(dataset, each_corner, [{}])
    for name in inputs:
        other = ss.sweep(each_corner, **{**inputs, name: -inputs[name]})
        assert any(bits(dataset[reading]) != bits(other[reading]) for reading in READINGS), f"{name} moves nothing"


def test_a_labelled_array_keeps_its_own_dimensions(corner: ss.Corner) -> None:
    plate = xr.DataArray(
        [[-9.0, 2.0, 8.0], [-7.0, 3.0, 5.0]],
        dims=("hole", "slot"),
        coords={"hole": ["a", "b"], "slot": [10, 20, 30], "mass": ("slot", [1.0, 2.0, 4.0])},
    )
    dataset = ss.sweep(corner, travel=TRAVEL, mount_in=plate, mount_back=plate.sel(hole="b") / 2)
    assert dataset.camber.dims == ("travel", "hole", "slot")
    assert dataset.coords["mount_in"].dims == ("hole", "slot")
    assert dataset.coords["mount_back"].dims == ("slot",)
    assert dataset.coords["mass"].dims == ("slot",)
    assert (
        float(dataset.camber.sel(travel=17.0, hole="a", slot=30))
        == corner.solve(travel=17.0, mount_in=8.0, mount_back=2.5).camber
    )
    assert_cells_are_poses(dataset, corner, every_cell(dataset))


def test_paired_samples_share_a_dimension(corner: ss.Corner) -> None:
    mount_in = xr.DataArray([-9.0, 2.0, 8.0], dims="sample")
    mount_back = xr.DataArray([5.0, -4.0, 1.0], dims="sample")
    dataset = ss.sweep(corner, mount_in=mount_in, mount_back=mount_back, rack=RACK)
    assert dict(dataset.sizes) == {"rack": 2, "sample": 3}
    assert "sample" not in dataset.coords
    assert float(dataset.toe.isel(rack=1, sample=2)) == corner.solve(rack=9.0, mount_in=8.0, mount_back=1.0).toe
    assert_cells_are_poses(dataset, corner, every_cell(dataset))


def test_an_input_may_run_along_the_dimension_of_another(corner: ss.Corner) -> None:
    matched = xr.DataArray([0.3, -0.2, -0.9], dims="mount_in", coords={"mount_in": MOUNT_IN})
    dataset = ss.sweep(corner, mount_in=MOUNT_IN, tie_rod=matched)
    assert dict(dataset.sizes) == {"mount_in": 3}
    assert_cells_are_poses(dataset, corner, every_cell(dataset))


def test_a_variable_keeps_its_dimension_too(corner: ss.Corner) -> None:
    dataset = ss.sweep(corner, travel=xr.Variable("hole", [3.0, 5.0]))
    assert dataset.camber.dims == ("hole",)
    assert_cells_are_poses(dataset, corner, every_cell(dataset))


def test_stacked_labels_stay(corner: ss.Corner) -> None:
    grid = xr.DataArray(np.arange(6.0).reshape(2, 3), dims=("a", "b"), coords={"a": [10, 20], "b": [1, 2, 3]})
    stacked = grid.stack(pair=("a", "b"))
    dataset = ss.sweep(corner, travel=stacked, mount_in=stacked * 2)
    assert dataset.camber.dims == ("pair",)
    assert float(dataset.camber.sel(a=20, b=2).squeeze()) == corner.solve(travel=4.0, mount_in=8.0).camber
    assert dataset.camber.unstack("pair").sizes == {"a": 2, "b": 3}


def test_labels_of_one_input_serve_an_unlabelled_other(corner: ss.Corner) -> None:
    named = xr.DataArray([3.0, 5.0], dims="driver", coords={"driver": ["Ann", "Ben"]})
    dataset = ss.sweep(corner, travel=xr.DataArray([1.0, 2.0], dims="driver"), rack=named)
    assert list(dataset.driver.values) == ["Ann", "Ben"]


def test_a_label_that_two_inputs_tell_differently_is_left_out(corner: ss.Corner) -> None:
    first = xr.DataArray([3.0, 5.0], dims="hole", coords={"run": 1, "day": 7})
    second = xr.DataArray([1.0, 2.0], dims="hole", coords={"run": 2, "day": 7})
    dataset = ss.sweep(corner, travel=first, rack=second)
    assert "run" not in dataset.coords
    assert int(dataset.coords["day"]) == 7


def test_results_of_one_sweep_are_inputs_of_the_next(corner: ss.Corner) -> None:
    coarse = ss.sweep(corner, travel=TRAVEL, tie_rod=np.linspace(-1.0, 1.0, 9), mount_in=6.0)
    best = abs(coarse.toe).idxmin("tie_rod")
    dataset = ss.sweep(corner, travel=coarse.travel, tie_rod=best, mount_in=11.0)
    assert dataset.camber.dims == ("travel",)
    assert float(dataset.coords["mount_in"]) == 11.0, "a label that came along must not hide the input itself"
    assert_cells_are_poses(dataset, corner, every_cell(dataset))
    chosen = ss.sweep(corner, travel=coarse.sel(tie_rod=0.5).travel, tie_rod=[0.1, 0.2])
    assert_cells_are_poses(chosen, corner, every_cell(chosen))


def test_labels_do_not_change_with_the_callers_arrays(corner: ss.Corner) -> None:
    travel, mount_in = TRAVEL.copy(), xr.DataArray(MOUNT_IN.copy(), dims="hole")
    dataset = ss.sweep(corner, travel=travel, mount_in=mount_in)
    travel[:] = 99.0
    mount_in[:] = 99.0
    assert bits(dataset.travel) == bits(TRAVEL)
    assert bits(dataset.mount_in) == bits(MOUNT_IN)


def test_inputs_are_left_as_they_were(corner: ss.Corner) -> None:
    mount_in = xr.DataArray(MOUNT_IN.copy(), dims="hole", attrs={"maker": "none"}, name="plate")
    before = mount_in.copy(deep=True)
    ss.sweep(corner, mount_in=mount_in)
    assert mount_in.identical(before)
    assert mount_in.name == "plate"


# Attributes.


def test_labels_made_while_threads_compute_are_of_what_they_computed(
    corner: ss.Corner, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Two thousand poses on two threads: labels are there before the numbers. Were they put on copies, those would not be
    # the result.
    grid: dict[str, Any] = {"travel": np.linspace(-40.0, 40.0, 41), "mount_in": np.linspace(-9.0, 9.0, 51)}
    options: dict[str, Any] = {"readings": ["toe", "camber"], "places": ["wheel_centre"]}
    wanted = ss.sweep(corner, **grid, **options, threads=1)
    assert ss.sweep(corner, **grid, **options, threads=2).identical(wanted)
    made: list[xr.Dataset] = []
    label = sweeping._dataset

    def copied(*arguments: Any) -> xr.Dataset:
        made.append(label(*arguments))
        return made[-1].copy(deep=True)

    monkeypatch.setattr(sweeping, "_dataset", copied)
    assert ss.sweep(corner, **grid, **options, threads=2).identical(wanted)
    assert len(made) == 2
    assert ss.sweep(corner, travel=[], mount_in=[1.0, 2.0]).sizes == {"travel": 0, "mount_in": 2}


def test_every_variable_carries_unit_sign_and_definition(corner: ss.Corner) -> None:
    dataset = ss.sweep(corner, travel=TRAVEL, places=list(PLACES))
    assert list(dataset) == [*READINGS, *PLACES, "status"]
    for name, words in READINGS.items():
        for key in ("units", "long_name", "positive", "definition"):
            assert dataset[name].attrs[key] == words[key]
    for name, words in {**MOTIONS, **SETTINGS}.items():
        for key in ("units", "long_name", "positive"):
            assert dataset.coords[name].attrs[key] == words[key]
    for name in PLACES:
        assert dataset[name].attrs["units"] == "mm"


def test_dataset_says_what_it_is_of(each_corner: ss.Corner) -> None:
    attrs = ss.sweep(each_corner, travel_at="hub").attrs
    assert attrs["car"] == each_corner.name
    assert attrs["side"] == each_corner.side
    assert attrs["travel_at"] == "hub"
    assert attrs["held"] == TRAVEL_AT["hub"]
    assert ss.__version__ in attrs["source"]


def test_status_follows_the_cf_convention(corner: ss.Corner) -> None:
    # PUBLISHED: CF Conventions 1.11, section 3.5: flag_values has the variable's type and as many values as
    # flag_meanings has words, which are separated by blanks and made of letters, digits, underscores, hyphens, dots.
    status = ss.sweep(corner, travel=TRAVEL).status
    values, meanings = status.attrs["flag_values"], status.attrs["flag_meanings"].split(" ")
    assert values.dtype == status.dtype == np.int8
    assert len(values) == len(set(values.tolist())) == len(meanings)
    assert meanings == list(STATUSES)
    assert values.tolist() == [words["code"] for words in STATUSES.values()]
    assert all(word.replace("_", "").isalnum() for word in meanings)
    assert status.attrs["long_name"]


# Choosing readings and places.


@pytest.mark.parametrize("reading", READINGS)
def test_one_reading_alone_has_the_same_bits(each_corner: ss.Corner, reading: str) -> None:
    whole = ss.sweep(each_corner, travel=TRAVEL, rack=RACK)
    alone = ss.sweep(each_corner, travel=TRAVEL, rack=RACK, readings=reading)
    assert list(alone) == [reading, "status"]
    assert bits(alone[reading]) == bits(whole[reading])


def test_readings_come_in_the_order_asked_for_and_once(corner: ss.Corner) -> None:
    assert list(ss.sweep(corner, readings=["toe", "camber", "toe"])) == ["toe", "camber", "status"]
    assert list(ss.sweep(corner, readings=(name for name in ("caster",)))) == ["caster", "status"]
    assert list(ss.sweep(corner, readings=[])) == ["status"]


def test_places_have_a_leading_dimension_of_coordinates(each_corner: ss.Corner) -> None:
    dataset = ss.sweep(each_corner, travel=TRAVEL, mount_in=MOUNT_IN, readings=[], places=["wheel_centre", "strut_top"])
    assert list(dataset) == ["wheel_centre", "strut_top", "status"]
    assert dataset.wheel_centre.dims == ("xyz", "travel", "mount_in")
    assert list(dataset.xyz.values) == ["x", "y", "z"]
    at = dataset.wheel_centre.sel(travel=52.0, mount_in=6.0)
    assert bits(at) == bits(each_corner.solve(travel=52.0, mount_in=6.0).point("wheel_centre"))
    one = ss.sweep(each_corner, travel=TRAVEL, readings=[], places="ball_joint")
    assert list(one) == ["ball_joint", "status"]


# Poses out of reach.


@pytest.mark.parametrize(
    ("inputs", "status"),
    [
        # No arm of these cars is 400 mm long: its ball joint cannot rise or fall by 500 mm.
        ({"travel": [500.0, 20.0]}, LOWER_ARM),
        ({"travel": [-500.0, 20.0]}, LOWER_ARM),
        # A steering arm of some 130 mm: its end goes no farther sideways than that either way.
        ({"rack": [300.0, 20.0]}, TIE_ROD),
        ({"rack": [-300.0, 20.0]}, TIE_ROD),
        ({"tie_rod": [200.0, 2.0]}, TIE_ROD),
    ],
)
def test_pose_out_of_reach_is_nan_in_place_with_its_status(
    each_corner: ss.Corner, inputs: dict[str, list[float]], status: int
) -> None:
    dataset = ss.sweep(each_corner, **inputs, mount_in=MOUNT_IN, places=list(PLACES))
    (name,) = inputs
    dataset = dataset.transpose("xyz", name, "mount_in", missing_dims="ignore")
    assert (dataset.status.isel({name: 0}) == status).all()
    assert (dataset.status.isel({name: 1}) == REACHED).all()
    for variable in (*READINGS, *PLACES):
        assert dataset[variable].isel({name: 0}).isnull().all(), variable
        assert dataset[variable].isel({name: 1}).notnull().all(), variable
    cells = [cell for cell in every_cell(dataset) if cell[name] == 1]
    assert_cells_are_poses(dataset, each_corner, cells)


def test_status_is_the_reason_that_a_single_pose_gives(each_corner: ss.Corner) -> None:
    rack = np.linspace(-180.0, 180.0, 37)
    dataset = ss.sweep(each_corner, rack=rack, travel=TRAVEL, readings="camber")
    assert len(np.unique(dataset.status)) > 1
    for cell in every_cell(dataset):
        at = dataset.isel(cell)
        inputs = {"rack": float(at["rack"]), "travel": float(at["travel"])}
        if at.status == REACHED:
            assert each_corner.solve(**inputs).camber == float(at.camber)
            continue
        with pytest.raises(ss.ReachError) as caught:
            each_corner.solve(**inputs)
        assert caught.value.status == int(at.status)
        assert STATUSES[caught.value.part]["code"] == int(at.status)


# Hard points that move.


def moved(corner: ss.Corner, name: str, shifts: np.ndarray) -> xr.DataArray:
    """A hard point moved by these shifts, one a sample."""
    return xr.DataArray(corner.point(name) + shifts, dims=("sample", "xyz"))


@pytest.mark.parametrize("name", HARD_POINTS)
def test_each_sample_is_a_corner_of_its_own(each_corner: ss.Corner, name: str) -> None:
    shifts = np.array([[3.0, -5.0, 2.0], [-1.0, 4.0, -7.0], [0.5, 0.25, -2.5]])
    points = moved(each_corner, name, shifts)
    dataset = ss.sweep(each_corner, travel=TRAVEL, mount_in=6.0, clamp=0.5, points={name: points})
    assert dict(dataset.sizes) == {"travel": 4, "sample": 3, "xyz": 3}
    assert dataset.camber.dims == ("travel", "sample")
    assert bits(dataset.coords[f"{name}_moved"]) == bits(points)
    for sample in range(3):
        replaced = each_corner.replace(**{name: points.values[sample]})
        assert_cells_are_poses(dataset.isel(sample=sample), replaced, [{"travel": i} for i in range(4)])
    assert len(np.unique([bits(dataset.isel(sample=i).to_array()) for i in range(3)])) == 3, f"{name} moves nothing"


def test_several_points_may_move_on_dimensions_of_their_own(corner: ss.Corner) -> None:
    ball_joint = moved(corner, "ball_joint", np.array([[1.0, 2.0, 3.0], [-3.0, 1.0, 2.0]]))
    inner = moved(corner, "tie_rod_inner", np.array([[0.0, 0.0, 1.0], [0.0, 0.0, -2.0]]))
    outer = corner.point("tie_rod_outer") + [0.0, 0.0, 1.5]
    points = {"tie_rod_inner": inner, "ball_joint": ball_joint.rename(sample="other"), "tie_rod_outer": outer}
    dataset = ss.sweep(corner, rack=RACK, points=points)
    assert dataset.camber.dims == ("rack", "sample", "other")
    for sample, other in np.ndindex(2, 2):
        replaced = corner.replace(
            tie_rod_inner=inner.values[sample], ball_joint=ball_joint.values[other], tie_rod_outer=outer
        )
        assert_cells_are_poses(dataset.isel(sample=sample, other=other), replaced, [{"rack": 0}, {"rack": 1}])


def test_points_may_share_a_dimension_with_an_input(corner: ss.Corner) -> None:
    points = moved(corner, "ball_joint", np.array([[1.0, 2.0, 3.0], [-3.0, 1.0, 2.0], [0.0, 0.0, 4.0]]))
    dataset = ss.sweep(corner, mount_in=MOUNT_IN, points={"ball_joint": points.rename(sample="mount_in")})
    for i in range(3):
        replaced = corner.replace(ball_joint=points.values[i])
        assert_cells_are_poses(dataset, replaced, [{"mount_in": i}])


@pytest.mark.parametrize("dims", [("sample", "xyz"), ("xyz", "sample")])
def test_coordinates_of_a_point_are_found_by_name(corner: ss.Corner, dims: tuple[str, str]) -> None:
    points = moved(corner, "ball_joint", np.array([[1.0, 2.0, 3.0], [-3.0, 1.0, 2.0]])).transpose(*dims)
    wanted = ss.sweep(corner, points={"ball_joint": points.transpose("sample", "xyz")})
    assert_same_bits(ss.sweep(corner, points={"ball_joint": points}), wanted)
    shuffled = points.assign_coords(xyz=["x", "y", "z"]).sel(xyz=["z", "x", "y"])
    assert_same_bits(ss.sweep(corner, points={"ball_joint": shuffled}), wanted)


def test_samples_that_make_no_corner_are_nan_and_harm_no_other(each_corner: ss.Corner) -> None:
    outboard = 1.0 if each_corner.side == "left" else -1.0
    good = moved(each_corner, "ball_joint", np.array([[1.0, 2.0 * outboard, 3.0], [-3.0, outboard, 2.0]]))
    on_arm_axis = each_corner.point("arm_front")
    across_the_car = each_corner.point("ball_joint") * [1.0, -1.0, 1.0]
    rows = [across_the_car, good.values[0], on_arm_axis, on_arm_axis, good.values[1], each_corner.point("strut_top")]
    points = xr.DataArray(rows, dims=("sample", "xyz"))
    dataset = ss.sweep(each_corner, travel=TRAVEL, rack=[9.0, 300.0], points={"ball_joint": points})
    bad = [0, 2, 3, 5]
    assert (dataset.status.isel(sample=bad) == NO_CORNER).all()
    assert all(dataset[name].isel(sample=bad).isnull().all() for name in READINGS)
    assert (dataset.status.isel(sample=[1, 4], rack=0) == REACHED).all()
    assert (dataset.status.isel(sample=[1, 4], rack=1) == TIE_ROD).all()
    alone = ss.sweep(each_corner, travel=TRAVEL, rack=[9.0, 300.0], points={"ball_joint": good})
    assert_same_bits(dataset.isel(sample=[1, 4]).drop_vars("ball_joint_moved"), alone.drop_vars("ball_joint_moved"))


def test_a_sample_may_stand_on_the_other_side_of_the_car(corner: ss.Corner) -> None:
    # All points of the wheel's side mirrored: a right corner is as good a corner.
    names = [name for name in HARD_POINTS if name != "strut_clamp"]
    both = {
        name: xr.DataArray(np.stack([corner.point(name), corner.mirror().point(name)]), dims=("sample", "xyz"))
        for name in names
    }
    dataset = ss.sweep(corner, travel=TRAVEL, rack=[9.0], points=both, places=["wheel_centre"])
    assert_cells_are_poses(dataset.isel(sample=1), corner.mirror(), [{"travel": i, "rack": 0} for i in range(4)])


# The same bits however a sweep is cut.


def several_blocks(corner: ss.Corner) -> dict[str, xr.DataArray]:
    """Inputs of 5 x 37 x 29 poses, some out of reach: more than ten blocks, and no multiple of one."""
    return {
        "rack": xr.DataArray([-140.0, -22.0, 0.0, 9.0, 130.0], dims="r"),
        "mount_in": xr.DataArray(np.linspace(-21.0, 18.0, 37), dims="m"),
        "travel": xr.DataArray(np.linspace(-61.0, 73.0, 29), dims="t"),
    }


@pytest.mark.parametrize("threads", [1, 2, 3, None])
def test_same_bits_for_any_number_of_threads(each_corner: ss.Corner, threads: int | None) -> None:
    inputs = several_blocks(each_corner)
    assert_same_bits(ss.sweep(each_corner, **inputs, threads=threads), ss.sweep(each_corner, **inputs, threads=1))


@pytest.mark.parametrize("dims", [("t", "r", "m"), ("m", "t", "r"), ("r", "m", "t"), ("m", "r", "t")])
def test_same_bits_for_any_order_of_dimensions(each_corner: ss.Corner, dims: tuple[str, ...]) -> None:
    inputs = several_blocks(each_corner)
    usual = ss.sweep(each_corner, **inputs)
    # The first input's dimensions lead the grid: spread over all three, it says their order.
    shape = {dim: usual.sizes[dim] for dim in dims}
    travel = inputs["travel"].expand_dims({dim: shape[dim] for dim in dims if dim != "t"}).transpose(*dims)
    turned = ss.sweep(each_corner, **{**inputs, "travel": travel})
    assert turned.camber.dims == dims
    assert_same_bits(turned.transpose(*usual.camber.dims), usual)


def test_same_bits_when_a_grid_is_swept_in_parts(each_corner: ss.Corner) -> None:
    inputs = several_blocks(each_corner)
    whole = ss.sweep(each_corner, **inputs)
    for part in (slice(0, 1), slice(3, 11), slice(20, 37)):
        alone = ss.sweep(each_corner, **{**inputs, "mount_in": inputs["mount_in"][part]})
        assert_same_bits(alone, whole.isel(m=part))


# Arrays of every kind.


KINDS = {
    "list": [-4.0, 2.0, 8.0],
    "tuple of integers": (-4, 2, 8),
    "float32": np.array([-4.0, 2.0, 8.0], dtype=np.float32),
    "float16": np.array([-4.0, 2.0, 8.0], dtype=np.float16),
    "int16": np.array([-4, 2, 8], dtype=np.int16),
    "big-endian": np.array([-4.0, 2.0, 8.0], dtype=">f8"),
    "reversed": np.array([8.0, 2.0, -4.0])[::-1],
    "every other": np.array([-4.0, 7.0, 2.0, 7.0, 8.0])[::2],
    "column": np.array([[7.0, -4.0], [7.0, 2.0], [7.0, 8.0]])[:, 1],
    "read-only": np.frombuffer(np.array([-4.0, 2.0, 8.0]).tobytes()),
    "range": range(-4, 9, 6),
    "series": pd.Series([-4.0, 2.0, 8.0], index=[3, 1, 2]),
    "objects": np.array([-4.0, 2, np.float64(8.0)], dtype=object),
    # Steps of 12 bytes, so that neither its numbers nor its steps lie where those of an array of floats do.
    "packed": np.array([(0, -4.0), (0, 2.0), (0, 8.0)], dtype=[("n", "i4"), ("x", "f8")])["x"],
}


@pytest.mark.parametrize("kind", KINDS)
def test_arrays_of_every_kind(corner: ss.Corner, kind: str) -> None:
    dataset = ss.sweep(corner, mount_in=KINDS[kind])
    assert_same_bits(dataset, ss.sweep(corner, mount_in=np.array([-4.0, 2.0, 8.0])))
    assert dataset.mount_in.dtype == np.float64


@pytest.mark.parametrize(
    "values", [[1.0, 2.0j], ["1", "2"], np.array([1, 2], dtype="m8[s]")], ids=["complex", "text", "time"]
)
def test_chunks_of_no_numbers_are_refused_at_once(corner: ss.Corner, values: object) -> None:
    with pytest.raises(ss.InputError, match="travel is not made of numbers"):
        ss.sweep(corner, travel=xr.DataArray(values, dims="n").chunk(n=1))


def test_gaps_among_labels_are_like_each_other(corner: ss.Corner) -> None:
    values = xr.DataArray([1.0, 2.0], dims="n", coords={"n": [0.0, np.nan]})
    assert_same_bits(
        ss.sweep(corner, travel=values, rack=values).drop_vars("n"),
        ss.sweep(corner, travel=values.drop_vars("n"), rack=values.drop_vars("n")),
    )


def test_a_program_without_a_console_has_no_progress_bar(corner: ss.Corner, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", None)
    monkeypatch.setattr("strutsweep.sweeping._SHOW_PROGRESS_AFTER_S", 0.0)
    assert ss.sweep(corner, travel=np.linspace(-60, 60, 400_000), threads=1).status.size == 400_000


def test_grids_have_as_many_axes_as_arrays_may_have(corner: ss.Corner) -> None:
    many = xr.DataArray(np.zeros((1,) * 31), dims=[f"d{i}" for i in range(31)])
    assert ss.sweep(corner, travel=many, places="strut_low").strut_low.ndim == 32
    with pytest.raises(ss.InputError, match="32 axes: at most 31"):
        ss.sweep(corner, travel=many.expand_dims("another"))


@pytest.mark.parametrize("order", ["C", "F"])
def test_arrays_of_either_memory_order(corner: ss.Corner, order: str) -> None:
    values = np.arange(12.0).reshape(3, 4)
    grid = xr.DataArray(np.asarray(values, order=order), dims=("a", "b"))
    dataset = ss.sweep(corner, travel=grid, mount_in=grid.transpose("b", "a")[::-1, ::2].rename(a="c", b="d"))
    assert dict(dataset.sizes) == {"a": 3, "b": 4, "d": 4, "c": 2}
    assert_cells_are_poses(dataset, corner, every_cell(dataset))


@pytest.mark.parametrize(
    "inputs", [{"travel": []}, {"travel": TRAVEL, "mount_in": np.empty(0)}, {"rack": xr.DataArray([], dims="hole")}]
)
def test_empty_arrays_give_empty_results(corner: ss.Corner, inputs: dict[str, object]) -> None:
    dataset = ss.sweep(corner, **inputs, places="strut_low")
    assert dataset.status.size == 0
    assert list(dataset) == [*READINGS, "strut_low", "status"]
    assert dataset.camber.dtype == np.float64


def test_single_values_on_an_array_stay_dimensions(corner: ss.Corner) -> None:
    dataset = ss.sweep(corner, travel=[17.0], rack=RACK)
    assert dict(dataset.sizes) == {"travel": 1, "rack": 2}
    assert_cells_are_poses(dataset, corner, every_cell(dataset))


# Left and right.


def test_a_mirrored_corner_reads_alike_with_the_rack_reversed(each_corner: ss.Corner) -> None:
    # IDENTITY: a mirror image of the whole car. One rack moves both sides: toward one is away from the other.
    here = ss.sweep(each_corner, travel=TRAVEL, rack=RACK, mount_in=MOUNT_IN, places=list(PLACES))
    there = ss.sweep(each_corner.mirror(), travel=TRAVEL, rack=-RACK, mount_in=MOUNT_IN, places=list(PLACES))
    for name in READINGS:
        assert bits(here[name]) == bits(there[name]), name
    for name in PLACES:
        mirrored = there[name] * xr.DataArray([1.0, -1.0, 1.0], dims="xyz")
        np.testing.assert_array_equal(here[name].values, mirrored.transpose(*here[name].dims).values, err_msg=name)


# Out and on.


def test_netcdf_brings_everything_back(corner: ss.Corner, tmp_path: Path) -> None:
    dataset = ss.sweep(
        corner,
        travel=np.array([-31.0, 4.0, 500.0]),
        mount_in=xr.DataArray([3.0, 5.0], dims="hole", coords={"hole": ["near", "far"]}),
        places=["contact_centre"],
    )
    path = tmp_path / "sweep.nc"
    dataset.to_netcdf(path, engine="scipy")
    back = xr.load_dataset(path, engine="scipy")
    xr.testing.assert_equal(back, dataset)
    assert_same_bits(back[[*READINGS, "contact_centre"]], dataset[[*READINGS, "contact_centre"]])
    assert back.status.dtype == np.int8
    assert back.attrs == dataset.attrs
    for name in dataset.variables:
        assert set(back[name].attrs) == set(dataset[name].attrs), name
        for key, value in dataset[name].attrs.items():
            np.testing.assert_array_equal(back[name].attrs[key], value, err_msg=f"{name}.{key}")


def test_xarray_works_on_the_result(car: ss.Axle) -> None:
    travel = np.linspace(-60.0, 60.0, 25)
    left = ss.sweep(car.left, travel=travel, rack=RACK)
    right = ss.sweep(car.right, travel=travel, rack=RACK)
    both = xr.concat([left, right], pd.Index(["left", "right"], name="side"), combine_attrs="drop_conflicts")
    assert both.toe.dims == ("side", "travel", "rack")
    total = both.toe.sum("side")
    assert total.sel(travel=0.0, rack=9.0) == left.toe.sel(travel=0.0, rack=9.0) + right.toe.sel(travel=0.0, rack=9.0)
    # Piecewise linear between 5 mm of travel: an error of the second order, far below this.
    interpolated = float(left.camber.interp(travel=7.3, rack=9.0))
    assert interpolated == pytest.approx(car.left.solve(travel=7.3, rack=9.0).camber, abs=1e-3)
    assert float(left.camber.sel(travel=21.0, method="nearest").travel[()]) == 20.0
    frame = left[["camber", "toe"]].to_dataframe()
    assert frame.loc[(5.0, -22.0), "toe"] == float(left.toe.sel(travel=5.0, rack=-22.0))
    assert left.where(left.camber < 0, drop=True).sizes["travel"] < 25
    assert float(left.toe.differentiate("travel").sel(travel=0.0, rack=9.0)) == pytest.approx(
        float(left.bump_steer.sel(travel=0.0, rack=9.0)), abs=1e-5
    )


def test_a_large_sweep(corner: ss.Corner) -> None:
    travel, mount_in = np.linspace(-60.0, 60.0, 41), np.linspace(-20.0, 20.0, 101)
    mount_back = np.linspace(-10.0, 10.0, 101)
    dataset = ss.sweep(corner, travel=travel, mount_in=mount_in, mount_back=mount_back)
    assert dict(dataset.sizes) == {"travel": 41, "mount_in": 101, "mount_back": 101}
    assert (dataset.status == REACHED).all()
    assert all(np.isfinite(dataset[name]).all() for name in READINGS)
    chosen = np.random.default_rng(7).integers(0, [41, 101, 101], size=(200, 3))
    cells = [dict(zip(("travel", "mount_in", "mount_back"), map(int, cell), strict=True)) for cell in chosen]
    assert_cells_are_poses(dataset, corner, cells)


# Wrong inputs.


def refused(corner: object, **inputs: object) -> ss.InputError:
    """The error of a sweep that must be refused."""
    with pytest.raises(ss.InputError) as caught:
        ss.sweep(corner, **inputs)
    return caught.value


def test_a_value_that_is_not_finite_is_told_with_its_place(corner: ss.Corner) -> None:
    numbers = [0.0, 1.0, np.nan]
    # Some are asked in Python, some in the engine.
    spellings = (numbers, np.array(numbers), np.array(numbers, dtype=np.float32), xr.DataArray(numbers, dims="travel"))
    for travel in spellings:
        error = refused(corner, travel=travel)
        assert (error.name, error.index) == ("travel", 2)
        assert np.isnan(error.value)
        assert str(error) == "travel = NaN (element 2) is not a finite number"
    beside = xr.DataArray([1.0, 2.0], dims="set")
    for others in (
        {"mount_in": beside},
        {"mount_in": beside.chunk()},
        {"points": {"strut_top": corner.point("strut_top")}},
    ):
        assert refused(corner, travel=np.array(numbers), **others).index == 2
    error = refused(corner, mount_up=-np.inf)
    assert (error.name, error.value, error.index) == ("mount_up", -np.inf, None)
    assert "mount_up = -inf" in str(error)


@pytest.mark.parametrize("lazily", [False, True])
def test_what_the_caller_does_to_an_array_afterwards_changes_nothing(corner: ss.Corner, lazily: bool) -> None:
    travel, mount = np.array([-30.0, 0.0, 30.0]), np.array([1.0, 2.0])
    inputs: dict[str, Any] = {"travel": travel, "mount_in": mount, "readings": ["camber"]}
    if lazily:
        inputs["rack"] = xr.DataArray([0.0, 5.0], dims="rack").chunk(rack=1)
    dataset = ss.sweep(corner, **inputs)
    wanted = ss.sweep(corner, **inputs).compute()
    travel += 20.0
    mount[:] = 9.0
    assert dataset.compute().identical(wanted)
    assert dataset.travel.values.tolist() == [-30.0, 0.0, 30.0]


def test_the_place_is_that_in_the_callers_own_array(corner: ss.Corner) -> None:
    # The grid's order is (a, b) here, the array's own is (b, a): the index must be the caller's.
    rack = xr.DataArray([[0.0, 1.0, 2.0], [3.0, np.inf, 5.0]], dims=("b", "a"))
    error = refused(corner, travel=xr.DataArray([0.0, 1.0, 2.0], dims="a"), rack=rack)
    assert (error.name, error.value, error.index) == ("rack", np.inf, 4)
    points = xr.DataArray([corner.point("ball_joint"), [0.0, np.nan, 0.0]], dims=("sample", "xyz"))
    error = refused(corner, points={"ball_joint": points})
    assert (error.name, error.index) == ("ball_joint", 4)
    masked = np.ma.array([1.0, 2.0, 3.0], mask=[False, True, False])
    error = refused(corner, travel=masked)
    assert (error.name, error.index) == ("travel", 1)


@pytest.mark.parametrize(
    "value",
    [
        "20",
        ["1", "2"],
        None,
        [1.0, None],
        [[1.0, 2.0], [3.0]],
        {"a": 1.0},
        {1.0, 2.0},
        1j,
        np.array([1 + 2j]),
        np.array(["2026-01-01"], dtype="datetime64[s]"),
        np.array([3], dtype="timedelta64[s]"),
        xr.DataArray(["a"], dims="hole"),
        xr.Dataset({"travel": 1.0}),
        (i for i in range(3)),
        10**400,
        object(),
    ],
    ids=lambda value: type(value).__name__,
)
@pytest.mark.parametrize("wrap", [False, True], ids=["input", "point"])
def test_what_is_no_number_is_refused(corner: ss.Corner, value: object, wrap: bool) -> None:
    error = refused(corner, points={"strut_low": value}) if wrap else refused(corner, travel=value)
    assert error.name == ("strut_low" if wrap else "travel")
    assert error.name in str(error)


def test_an_array_of_several_dimensions_needs_names(corner: ss.Corner) -> None:
    error = refused(corner, rack=np.zeros((2, 3)))
    assert (error.name, error.value) == ("rack", (2, 3))
    assert "2 dimensions" in str(error)
    assert "xarray.DataArray" in str(error)


def test_unlike_lengths_are_told(corner: ss.Corner) -> None:
    error = refused(corner, travel=xr.DataArray([1.0, 2.0], dims="s"), rack=xr.DataArray([1.0, 2.0, 3.0], dims="s"))
    assert error.name == "rack"
    assert str(error) == "rack has 3 values along s, but another input has 2"


def test_unlike_labels_are_told(corner: ss.Corner) -> None:
    first = xr.DataArray([1.0, 2.0], dims="s", coords={"s": [1, 2]})
    error = refused(corner, travel=first, rack=first.assign_coords(s=[2, 1]))
    assert error.name == "rack"
    assert "rack and travel have unlike labels along s" in str(error)


@pytest.mark.parametrize(
    ("inputs", "name", "words"),
    [
        ({"travel": xr.DataArray([1.0, 2.0], dims="mount_in")}, "travel", "mount_in itself does not"),
        ({"travel": xr.DataArray([1.0, 2.0], dims="camber")}, "travel", "'camber'"),
        ({"travel": xr.DataArray([1.0, 2.0], dims="status")}, "travel", "'status'"),
        ({"travel": xr.DataArray([1.0], dims="s", coords={"toe": ("s", [1.0])})}, "travel", "'toe'"),
        ({"rack": xr.DataArray([1.0, 2.0], dims="ball_joint"), "places": "ball_joint"}, "rack", "'ball_joint'"),
        ({"rack": xr.DataArray([1.0, 2.0, 3.0], dims="xyz")}, "rack", "xyz"),
        ({"rack": xr.DataArray([1.0, 2.0], dims=(3,))}, "rack", "3"),
    ],
)
def test_a_name_that_would_stand_for_two_things_is_refused(
    corner: ss.Corner, inputs: dict[str, object], name: str, words: str
) -> None:
    error = refused(corner, **inputs)
    assert error.name == name
    assert words in str(error)


@pytest.mark.parametrize(
    ("argument", "given", "near"),
    [
        ("readings", "cambre", "camber"),
        ("readings", ["toe", "kingpin"], "kingpin_inclination"),
        ("places", ["wheel_center"], "wheel_centre"),
        ("points", {"ball_jiont": [0.0, 0.0, 0.0]}, "ball_joint"),
        ("travel_at", "grund", "ground"),
    ],
)
def test_an_unknown_name_is_told_with_the_nearest(corner: ss.Corner, argument: str, given: object, near: str) -> None:
    error = refused(corner, **{argument: given})
    assert error.name == argument
    assert f"did you mean {near!r}?" in str(error)
    assert repr(error.value) in str(error)


def test_an_unknown_name_without_a_neighbour_is_told_with_all(corner: ss.Corner) -> None:
    message = str(refused(corner, readings="xxxx"))
    assert all(name in message for name in READINGS)


@pytest.mark.parametrize(
    "points",
    [
        {"ball_joint": [1.0, 2.0]},
        {"ball_joint": 3.0},
        {"ball_joint": np.zeros((2, 3))},
        {"ball_joint": xr.DataArray(np.zeros((2, 3)), dims=("sample", "axis"))},
        {"ball_joint": xr.DataArray(np.zeros((2, 2)), dims=("sample", "xyz"))},
        {"ball_joint": xr.DataArray(np.zeros(3), dims="xyz", coords={"xyz": ["x", "y", "w"]})},
        {"ball_joint": xr.DataArray(np.zeros(3), dims="xyz", coords={"xyz": ["x", "y", "y"]})},
    ],
)
def test_a_point_without_three_coordinates_is_refused(corner: ss.Corner, points: dict[str, object]) -> None:
    error = refused(corner, points=points)
    assert error.name == "ball_joint"
    assert "xyz" in str(error)


def test_one_pose_is_of_one_corner(car: ss.Axle) -> None:
    with pytest.raises(ss.InputError, match=r"car\.left or car\.right") as caught:
        ss.solve(car, travel=3.0)
    assert (caught.value.name, caught.value.value) == ("corner", car)


@pytest.mark.parametrize("verb", [ss.sweep, ss.solve])
def test_a_dictionary_is_not_a_corner(car: ss.Axle, verb: object) -> None:
    with pytest.raises(TypeError, match="dict"):
        verb(car.left.to_dict(), travel=3.0)


def test_an_unknown_input_is_refused(corner: ss.Corner) -> None:
    with pytest.raises(TypeError, match="travl"):
        ss.sweep(corner, travl=[1.0])
    with pytest.raises(TypeError, match="positional"):
        ss.sweep(corner, [1.0])


@pytest.mark.parametrize("threads", [0, -1, 1.5, True, "2", 10**6, 10**20])
def test_a_count_of_threads_that_makes_no_sense_is_refused(corner: ss.Corner, threads: object) -> None:
    error = refused(corner, threads=threads)
    assert (error.name, error.value) == ("threads", threads)
    assert repr(threads) in str(error)


def test_a_grid_beyond_all_memory_is_refused_before_it_starts(corner: ss.Corner) -> None:
    million = np.zeros(10**6)
    with pytest.raises((ss.InputError, MemoryError)):
        ss.sweep(corner, travel=million, rack=million, mount_in=million, mount_up=million, readings="camber")


def test_a_grid_that_memory_cannot_hold_is_refused_too(run_program: Any) -> None:
    # Countable, but beyond what any address space holds. In a process of its own, which it must not take down.
    done = run_program(
        "import numpy as np, strutsweep as ss\n"
        "some = np.zeros(10_000)\n"
        "try:\n"
        "    ss.sweep(ss.demo().left, travel=some, rack=some, mount_in=some, mount_up=some, readings='camber')\n"
        "except (ss.InputError, MemoryError):\n"
        "    print('refused')\n"
    )
    assert done.stdout == "refused\n"


# Where results lie in memory.

CACHE_LINE_BYTES = 64
LARGE_PAGE_BYTES = 2 << 20


def test_columns_begin_with_a_line_of_the_cache(corner: ss.Corner) -> None:
    # A pack of eight numbers that crosses two lines is written twice; on a large result that is a seventh of its time.
    mounts = np.linspace(-10.0, 10.0, 33)
    for travels in (1, 7, 48):
        dataset = ss.sweep(
            corner,
            travel=np.linspace(-30.0, 30.0, travels),
            mount_in=mounts,
            readings=["camber", "toe"],
            places="ball_joint",
        )
        for name in ("camber", "toe", "ball_joint", "status"):
            assert dataset[name].values.ctypes.data % CACHE_LINE_BYTES == 0, (travels, name)


def test_columns_of_a_large_result_begin_with_a_large_page_and_are_let_go_one_by_one(corner: ss.Corner) -> None:
    mounts = np.linspace(-20.0, 20.0, 120)
    dataset = ss.sweep(
        corner, travel=np.linspace(-60.0, 60.0, 41), mount_in=mounts, mount_back=mounts, readings=["camber", "toe"]
    )
    assert dataset.camber.nbytes > 2 * LARGE_PAGE_BYTES
    owners = []
    for name in ("camber", "toe"):
        values = dataset[name].values
        assert values.ctypes.data % LARGE_PAGE_BYTES == 0
        while values.base is not None:
            values = values.base
        # What is asked for beyond the result is address space, not memory: it is never touched.
        assert values.nbytes <= dataset[name].nbytes + 2 * LARGE_PAGE_BYTES
        owners.append(values)
    assert owners[0] is not owners[1]
