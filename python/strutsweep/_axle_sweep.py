"""Sweeps of an axle: two corners, one rack, one ground, and what they read together."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Mapping
from typing import Any, Final, Literal

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep import _inputs, _memory
from strutsweep._core import Axle, Corner, axle_columns, rack_sense, rack_senses, racks_for
from strutsweep._inputs import TravelAt, Values
from strutsweep._within import mapping_of
from strutsweep.errors import InputError
from strutsweep.sweeping import sweep
from strutsweep.words import AXLE_READINGS, PLACES, READINGS, STATUSES, attributes

__all__ = ["SIDES", "sweep_axle"]

SIDES: Final = ("left", "right")
"""Labels of the dimension ``side``."""

_STEERED_BY: Final[Mapping[str, Mapping[str, str]]] = {
    "turns": {"units": "1", "long_name": "turns of the steering wheel", "positive": "to the left"},
    "steer": {"units": "deg", "long_name": "mean road-wheel angle wanted", "positive": "to the left"},
    "inner_steer": {"units": "deg", "long_name": "inner road-wheel angle wanted", "positive": "to the left"},
}
_ONE_FOR_BOTH: Final = ("rack", "roll")
"""There is one rack, and one body."""

_NEEDED: Final[Mapping[str, tuple[str, ...]]] = {
    "camber_to_body": ("camber", "toe"),
    "anti_dive_share": ("anti_dive_angle",),
    "track": (),
    "axle_roll_centre_height": ("roll_centre_height",),
    "axle_roll_centre_shift": ("roll_centre_height",),
}
"""Readings of the corners that an axle's reading is made of, beside contact centres; toe unless listed."""

_LEVEL_MM: Final = 0.05
"""Contact centres nearer in height than this count as level: no tape tells, and cambers differ by 0.002 deg."""
_QUESTIONS: Final = 4096
"""Racks are looked for, for so many poses at a time: Ctrl-C is felt between them."""

_COPIES: Final = 3
"""The sides, both of them along one dimension, and what an axle's own readings are made of lie in memory together."""

_COLUMNS: Final = ("camber", "toe", "roll_centre_height", "anti_dive_angle")
_AT_DESIGN: Final = ("steering_axis_at_ground", "contact_centre")
_ROLL_CENTRE: Final = ("axle_roll_centre_height", "axle_roll_centre_shift")


def sweep_axle(
    car: Axle,
    given: Mapping[str, Values],
    points: Mapping[str, Values] | None,
    steered: Mapping[str, Values | None],
    travel_at: TravelAt,
    readings: Iterable[str] | str | None,
    places: Iterable[str] | str,
    threads: int | None,
    progress: bool | None,
) -> xr.Dataset:
    """`strutsweep.sweep` for an axle."""
    count = 0 if threads is None else _inputs.thread_count("threads", threads)
    inputs = {name: _without_a_side(_inputs.labelled(name, value)) for name, value in given.items()}
    moved = _moved(points)
    for name in _ONE_FOR_BOTH:
        if "side" in inputs[name].dims:
            what = "one rack" if name == "rack" else "one body"
            raise InputError(f"{name} differs between the sides, but an axle has {what}", name=name, value="side")
    for name, array in inputs.items():
        _check_sides(name, array)
    known = {**READINGS, **AXLE_READINGS}
    wanted = _inputs.checked_names("readings", known if readings is None else readings, known)
    of_axle = [name for name in wanted if name in AXLE_READINGS]
    of_corners = [name for name in wanted if name in READINGS]
    needed = list(dict.fromkeys(name for reading in of_axle for name in _NEEDED.get(reading, ("toe",))))
    wanted_places = _inputs.checked_names("places", places, PLACES)
    needed_places = [*wanted_places, *(["contact_centre"] if of_axle else [])]
    columns = [*of_corners, *(name for name in needed if name not in of_corners)]

    asked = _asked(inputs, steered)
    everything = {**inputs, **({} if asked is None else {asked[0]: asked[1]})}
    if asked is not None:
        del everything["rack"]
    of_either = {name: {side: _of_side(array, side) for side in SIDES} for name, array in moved.items()}
    sizes: dict[str, int] = {}
    for side in SIDES:
        of_one = {name: _of_side(array, side) for name, array in everything.items()}
        points_of_one = {name: pair[side] for name, pair in of_either.items()}
        sizes |= _inputs.grid_of({**of_one, **points_of_one})
        _inputs.check_labels(
            of_one, points_of_one, sizes, {*wanted, *wanted_places, "status", "side", "roll_centre_status"}
        )
    if all(array.chunks is None for array in (*everything.values(), *moved.values())):
        poses = 2 * math.prod(sizes.values())
        _memory.refuse_if_too_large(poses, len(columns) + len(of_axle), len(needed_places), _COPIES)
    inputs, refused = _steered(car, inputs, asked, moved, travel_at, count)

    pieces = [
        sweep(
            car.left if side == "left" else car.right,
            **{name: _of_side(array, side) for name, array in inputs.items()},
            points={name: pair[side] for name, pair in of_either.items()},
            travel_at=travel_at,
            readings=columns,
            places=list(dict.fromkeys(needed_places)),
            threads=threads,
            progress=progress,
        )
        for side in SIDES
    ]
    both = xr.concat(
        pieces,
        dim=xr.DataArray(list(SIDES), dims="side", name="side"),
        data_vars="all",
        coords="minimal",
        compat="override",
        join="override",
        combine_attrs="drop_conflicts",
    )
    both = both.drop_vars([f"{name}_moved" for name in moved if f"{name}_moved" in both.coords])
    both = both.assign_coords({name: array.assign_attrs(attributes(name)) for name, array in inputs.items()})
    for name, words in _STEERED_BY.items():
        if name in both.coords:
            both[name].attrs.update(words)
    both = _sides_together(both)
    if refused is not None:
        both = _with_refusals(both, refused)
    at_design = _at_design(car, of_either, threads) if moved else None
    if of_axle:
        # Labels are the dataset's own already.
        both = both.assign(
            {name: array.variable for name, array in _axle_variables(car, both, of_axle, at_design).items()}
        )
    kept = [*of_corners, *wanted_places, *of_axle, "status"]
    if any(name in of_axle for name in _ROLL_CENTRE):
        kept.append("roll_centre_status")
    return both[kept].assign_attrs(
        title=f"{car.name}, both corners",
        car=car.name,
        side="left and right",
        **(unlike_ground(car) if at_design is None else _ground_of_moved(at_design)),
        **{key: pieces[0].attrs[key] for key in ("travel_at", "held", "axes", "source")},
    )


def unlike_ground(car: Axle) -> dict[str, str]:
    """What to know of an axle whose contact centres stand at unlike heights at design, as an attribute."""
    left, right = (corner.solve().point("contact_centre") for corner in (car.left, car.right))
    apart = float(left[2] - right[2])
    if abs(apart) < _LEVEL_MM:
        return {}
    higher, lower = SIDES if apart > 0.0 else SIDES[::-1]
    leans = float(np.degrees(np.arctan2(abs(apart), left[1] - right[1])))
    return {
        "ground": f"The contact centres stand {abs(apart):.1f} mm apart in height at design, the {higher} one higher:"
        f" each wheel is read against level ground of its own. Against the line through both, which leans {leans:.2f}"
        f" deg, the {higher} wheel's camber is greater by as much, and the {lower} one's less."
    }


def _ground_of_moved(at_design: xr.Dataset) -> dict[str, str]:
    """The same of an axle whose hard points move."""
    height = at_design["contact_centre"].sel(xyz="z", drop=True)
    if height.chunks is not None:
        return {
            "ground": "Where these hard points put the contact centres at unlike heights at design, each wheel is read"
            " against level ground of its own."
        }
    apart = np.abs(height.sel(side="left", drop=True) - height.sel(side="right", drop=True))
    most = float(apart.max()) if apart.size else 0.0
    # Not `>`: nothing stands where the points make no corner.
    if not most >= _LEVEL_MM:
        return {}
    return {
        "ground": f"With these hard points the contact centres stand up to {most:.1f} mm apart in height at design: each"
        " wheel is read against level ground of its own."
    }


def _at_design(car: Axle, moved: Mapping[str, Mapping[str, xr.DataArray]], threads: int | None) -> xr.Dataset:
    """Where the corners stand at design with hard points that move."""
    corners: dict[str, Corner] = {"left": car.left, "right": car.right}
    pieces = [
        sweep(
            corners[side],
            points={name: pair[side] for name, pair in moved.items()},
            readings=(),
            places=_AT_DESIGN,
            threads=threads,
            progress=False,
        )
        for side in SIDES
    ]
    both = xr.concat(
        xr.broadcast(*pieces),
        dim=xr.DataArray(list(SIDES), dims="side", name="side"),
        coords="minimal",
        compat="override",
        join="override",
        combine_attrs="drop",
    )
    return _sides_together(both)


def _sides_together(both: xr.Dataset) -> xr.Dataset:
    """Both sides in one chunk, if there are chunks: an axle is read from both."""
    if all(variable.chunks is None for variable in both.variables.values()):
        return both
    return both.chunk(side=-1).unify_chunks()


def _without_a_side(array: xr.DataArray) -> xr.DataArray:
    """An input without the label of the one side that it was taken from."""
    return array.drop_vars("side") if "side" in array.coords and "side" not in array.dims else array


def _moved(points: Mapping[str, Values] | None) -> dict[str, xr.DataArray]:
    """Hard points that move, each along ``side``: each side's own where it has them, otherwise the left one's, mirrored
    on the right."""
    moved: dict[str, xr.DataArray] = {}
    for name, value in mapping_of("points", points or {}).items():
        point = _without_a_side(_inputs.point_of(name, value))
        _check_sides(name, point)
        if "side" not in point.dims:
            # Figures of the wheel read alike on both sides.
            mirrored = point * xr.DataArray([1.0, -1.0, 1.0], dims="xyz") if "xyz" in point.dims else point
            point = xr.concat([point, mirrored], dim=xr.DataArray(list(SIDES), dims="side", name="side"))
        moved[name] = point
    return moved


def _check_sides(name: str, array: xr.DataArray) -> None:
    if "side" not in array.dims:
        return
    labels = [str(label) for label in array.coords["side"].values] if "side" in array.coords else []
    if sorted(labels) != sorted(SIDES):
        raise InputError(
            f"{name} runs along side, whose labels must be 'left' and 'right', not {labels or 'none'}",
            name=name,
            value=labels,
        )


def _of_side(array: xr.DataArray, side: str) -> xr.DataArray:
    return array.sel(side=side, drop=True) if "side" in array.dims else array


def _asked(inputs: Mapping[str, xr.DataArray], steered: Mapping[str, Values | None]) -> tuple[str, xr.DataArray] | None:
    """By what the axle is steered in place of the rack, if by anything."""
    asked = {name: value for name, value in steered.items() if value is not None}
    if not asked:
        return None
    rack = inputs["rack"]
    others = [*asked, *(["rack"] if rack.ndim or float(rack) != 0.0 else [])]
    if len(others) > 1:
        raise InputError(f"{' and '.join(others)} are given: steer by one of them", name=others[0], value=others)
    (name, value), *_ = asked.items()
    wanted = _without_a_side(_inputs.labelled(name, value))
    if "side" in wanted.dims:
        raise InputError(f"{name} differs between the sides, but an axle has one rack", name=name, value="side")
    return name, wanted


def _in_rows(array: xr.DataArray, order: Iterable[Hashable]) -> npt.NDArray[np.float64]:
    """A spread input as the engine takes it: two rows, left first, of all poses; a point has three numbers in each."""
    trailing = ("xyz",) if "xyz" in array.dims else ()
    values = array.transpose("side", *order, *trailing).values
    return np.ascontiguousarray(values.reshape(2, -1, *(3 for _ in trailing)))


def _steered(
    car: Axle,
    inputs: dict[str, xr.DataArray],
    asked: tuple[str, xr.DataArray] | None,
    moved: Mapping[str, xr.DataArray],
    travel_at: TravelAt,
    threads: int,
) -> tuple[dict[str, xr.DataArray], xr.DataArray | None]:
    """Inputs with the rack that the steer input asks for, and where it was refused."""
    if asked is None:
        return inputs, None
    name, wanted = asked
    fields = [key for key in inputs if key != "rack"]
    chunked = [array.chunks is not None for array in (*moved.values(), wanted, *(inputs[key] for key in fields))]
    if any(chunked[: len(moved)] if name == "turns" else chunked):
        what = "points that move" if name == "turns" else "a steer angle"
        raise InputError(f"{name}: with {what} the rack is found for arrays in memory, not in Dask chunks", name=name)
    if name == "turns":
        per_turn = car.rack["mm_per_turn"]
        if per_turn is None:
            raise InputError("turns: the car has no rack.mm_per_turn to go by", name="turns", value=None)
        return {**inputs, "rack": wanted * per_turn * _sense(car, moved)}, None
    # Every input on the grid of all of them, the sides' own values in two rows.
    sides = {
        key: xr.concat([_of_side(inputs[key], side) for side in SIDES], dim="side", coords="minimal", compat="override")
        for key in fields
    }
    spread = xr.broadcast(wanted, *sides.values(), *moved.values(), exclude=["xyz"])
    order = [dim for dim in spread[0].dims if dim != "side"]
    columns = {
        key: _in_rows(array, order)
        for key, array in zip(fields, spread[1:], strict=False)
        if bool((sides[key] != 0.0).any())
    }
    points = {key: _in_rows(array, order) for key, array in zip(moved, spread[1 + len(fields) :], strict=True)}
    target = spread[0].isel(side=0, drop=True).transpose(*order)
    angles = np.ascontiguousarray(target.values.reshape(-1))
    by: Literal["mean", "inner"] = "mean" if name == "steer" else "inner"
    racks = np.empty(angles.size)
    status = np.empty(angles.size, dtype=np.int8)
    for start in range(0, angles.size, _QUESTIONS):
        part = slice(start, start + _QUESTIONS)
        racks[part], status[part] = racks_for(
            car,
            {key: column[:, part] for key, column in columns.items()},
            {key: column[:, part] for key, column in points.items()},
            angles[part],
            by,
            travel_at,
            threads,
        )
    shape = target.shape
    refused = target.copy(data=status.reshape(shape)).drop_vars([key for key in target.coords if key not in order])
    found = np.where(np.isnan(racks), 0.0, racks).reshape(shape)
    rack = xr.DataArray(found, dims=order, coords={dim: target.coords[dim] for dim in order if dim in target.coords})
    return {**inputs, "rack": rack}, refused


def _sense(car: Axle, moved: Mapping[str, xr.DataArray]) -> xr.DataArray | float:
    """Which way the rack turns the wheels, wherever the hard points are."""
    if not moved:
        return rack_sense(car)
    spread = xr.broadcast(*moved.values(), exclude=["xyz"])
    shape = spread[0].isel(side=0, drop=True)
    shape = shape.isel(xyz=0, drop=True) if "xyz" in shape.dims else shape
    points = {key: _in_rows(array, shape.dims) for key, array in zip(moved, spread, strict=True)}
    return shape.copy(data=rack_senses(car, points, shape.size).reshape(shape.shape)).drop_attrs()


def _with_refusals(both: xr.Dataset, refused: xr.DataArray) -> xr.Dataset:
    """Poses whose steer angle no rack gives uniquely: NaN with their status, and no rack."""
    fine = (refused == 0).drop_vars(list(refused.coords))
    status = both.status.where(fine, refused.drop_vars(list(refused.coords)).astype(np.int8)).astype(np.int8)
    rack = both.rack.where(fine)
    dims = both.status.dims
    masked = both.drop_vars("status").where(fine)
    for name, variable in masked.data_vars.items():
        order = [dim for dim in both[name].dims]
        masked[name] = variable.transpose(*order).assign_attrs(both[name].attrs)
    masked["status"] = status.transpose(*dims).assign_attrs(both.status.attrs)
    return masked.assign_coords(rack=rack.assign_attrs(both.rack.attrs)).assign_attrs(both.attrs)


def _axle_variables(
    car: Axle, both: xr.Dataset, wanted: list[str], at_design: xr.Dataset | None
) -> dict[str, xr.DataArray]:
    """The axle's own readings, and whether there is a roll centre."""
    contact = both["contact_centre"]
    columns = [both[name] if name in both else xr.zeros_like(contact.isel(xyz=0, drop=True)) for name in _COLUMNS]
    columns += [contact.isel(xyz=i, drop=True) for i in range(3)]
    if at_design is not None:
        places = [at_design[name] for name in _AT_DESIGN]
        columns += [place.drop_vars(list(place.coords)).isel(xyz=i) for place in places for i in range(3)]
    roll = both.coords["roll"].drop_vars([key for key in both.coords["roll"].coords if key not in both.dims])

    def compute(*arrays: npt.NDArray[np.float64]) -> Any:
        rolls, *pairs = np.broadcast_arrays(arrays[0][..., None], *arrays[1:])
        shape = rolls.shape
        rows = [np.ascontiguousarray(np.moveaxis(pair, -1, 0).reshape(2, -1)) for pair in pairs]
        flat = dict(zip((*_COLUMNS, "contact_x", "contact_y", "contact_z"), rows, strict=False))
        design = {
            name: np.stack(rows[start : start + 3], axis=-1)
            for name, start in zip(_AT_DESIGN, range(len(flat), len(rows), 3), strict=False)
        }
        found = axle_columns(car, wanted, flat, np.ascontiguousarray(rolls[..., 0].reshape(-1)), design or None)
        results = tuple(np.moveaxis(found[name].reshape(2, *shape[:-1]), 0, -1) for name in wanted)
        return results if len(results) > 1 else results[0]

    results = xr.apply_ufunc(
        compute,
        roll,
        *columns,
        input_core_dims=[[], *[["side"]] * len(columns)],
        output_core_dims=[["side"]] * len(wanted),
        dask="parallelized",
        output_dtypes=[np.float64] * len(wanted),
    )
    results = results if isinstance(results, tuple) else (results,)
    order = [dim for dim in both.status.dims if dim != "side"]
    variables: dict[str, xr.DataArray] = {}
    for name, result in zip(wanted, results, strict=True):
        per_wheel = AXLE_READINGS[name]["is_per_wheel"]
        array = result.transpose("side", *order) if per_wheel else result.isel(side=0, drop=True).transpose(*order)
        variables[name] = array.assign_attrs(attributes(name))
    shown = next((name for name in _ROLL_CENTRE if name in variables), None)
    if shown is not None:
        reached = (both.status == STATUSES["reached"]["code"]).all("side")
        none = (variables[shown].isnull() & reached).astype(np.int8)
        variables["roll_centre_status"] = none.transpose(*order).assign_attrs(_roll_centre_attributes())
    return variables


def _roll_centre_attributes() -> dict[str, Any]:
    return {
        "long_name": "whether the axle has a roll centre",
        "units": "1",
        "flag_values": np.array([0, 1], dtype=np.int8),
        "flag_meanings": "found parallel",
        "comment": "parallel: the normals to the paths of the two contact centres run within 0.01 deg of parallel, and"
        " there is no roll centre",
    }
