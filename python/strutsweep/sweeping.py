"""Grids of poses: plain numbers, arrays and labelled arrays in, one labelled dataset out."""

from __future__ import annotations

import math
import os
import sys
import time
from collections.abc import Callable, Iterable, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep import _chunked, _inputs, _memory
from strutsweep._core import Axle, Corner, Pose, __version__, rouse, sweep_grid
from strutsweep._inputs import NOUGHT, WHEEL_FIGURES, XYZ, Input, Plain, TravelAt, Values
from strutsweep.errors import InputError
from strutsweep.words import PLACES, READINGS, STATUSES, TRAVEL_AT, attributes

__all__ = ["Values", "solve", "sweep"]

_LABELLED = (xr.DataArray, xr.Variable)

_SHOW_PROGRESS_AFTER_S = 2.0


def solve(corner: Corner, *, travel_at: TravelAt = "ground", **inputs: float) -> Pose:
    """One pose of a corner: `Corner.solve`, as a function.

    Parameters
    ----------
    corner : Corner
        ``car.left`` or ``car.right``.
    travel_at : {"ground", "hub", "strut"}
        Where travel is measured.
    **inputs : float
        Fields of setting and motion, in mm and deg, as `Corner.solve` takes them.

    Returns
    -------
    Pose

    Raises
    ------
    ReachError
        The pose is out of reach.
    InputError
        A number is not finite, or `travel_at` is no such word.

    Examples
    --------
    >>> import strutsweep as ss
    >>> corner = ss.demo("gravel_hatch").left
    >>> ss.solve(corner, travel=20.0, mount_in=5.0) == corner.solve(travel=20.0, mount_in=5.0)
    True
    """
    _inputs.check_corner("solve", corner)
    return corner.solve(travel_at=travel_at, **inputs)


def sweep(
    corner: Corner | Axle,
    *,
    travel: Values = 0.0,
    rack: Values = 0.0,
    roll: Values = 0.0,
    mount_in: Values = 0.0,
    mount_back: Values = 0.0,
    mount_up: Values = 0.0,
    tie_rod: Values = 0.0,
    clamp: Values = 0.0,
    arm: Values = 0.0,
    tie_outer_up: Values = 0.0,
    ball_joint_down: Values = 0.0,
    hub_spacer: Values = 0.0,
    turns: Values | None = None,
    steer: Values | None = None,
    inner_steer: Values | None = None,
    points: Mapping[str, Values] | None = None,
    travel_at: TravelAt = "ground",
    readings: Iterable[str] | str | None = None,
    places: Iterable[str] | str = (),
    threads: int | None = None,
    progress: bool | None = None,
) -> xr.Dataset:
    """Readings over any grid of settings and motions, in parallel.

    Each input may be a number, which stays a number; a one-dimensional array, which becomes a dimension of that name;
    or an `xarray.DataArray`, which keeps its own dimensions, so that paired samples are arrays on a shared one.
    Dimensions stand in the order in which the inputs are listed here, those of `turns` and of wanted steer angles in the
    place of `rack`, hard points after them.

    Parameters
    ----------
    corner : Corner or Axle
        ``car.left`` or ``car.right``; or the whole car: both corners on one rack and one ground, along a dimension
        ``side``. Then a setting, or travel, given as a number holds on both wheels, each as its side reads it (inboard
        is inboard on both), or is a `DataArray` along ``side``; and the result holds the axle's own readings too
        (``strutsweep.words.AXLE_READINGS``).
    travel : number or array
        Wheel travel from design height in mm, bump positive, measured as `travel_at` says.
    rack : number or array
        Rack displacement in mm toward the left of the car, on either corner. Whether that steers to the left depends on
        the side of the axle on which the rack lies; ``wheel_steer`` of an axle, to the left positive, says it.
    roll : number or array
        Roll of the body about the ground's centre line in deg, positive when it leans to the right. Readings are to the
        ground, places in its axes: see Notes.
    mount_in, mount_back, mount_up : number or array
        Strut-top pivot moved, in mm: toward the car's centre line, rearward, up.
    tie_rod : number or array
        Tie rod made longer, in mm.
    clamp : number or array
        Knuckle turned against the strut at its clamp, in deg; positive leans the top of the wheel outboard.
    arm : number or array
        Lower arm made longer, in mm.
    tie_outer_up, ball_joint_down, hub_spacer : number or array
        Spacers in mm: outer tie-rod joint up on the knuckle, ball joint down on it, wheel outboard.
    turns : number or array, optional
        Of an axle, in place of `rack`: turns of the steering wheel, to the left positive; the car's
        ``rack.mm_per_turn`` tells the rack.
    steer, inner_steer : number or array, optional
        Of an axle, in place of `rack`: the mean road-wheel angle, or that of the wheel on the inside of the turn, in
        deg, to the left positive, static toe included; an inner angle of 0 asks for a mean of 0. Everything else is
        held while the rack is looked for, at each pose of the grid by itself. Where no rack gives it, or only one so near over-centre that it is not unique
        (tie-rod margin below 0.1), the pose is refused with the status ``steer``; so is an inner angle at which the
        wheel is not the inner one, less than static toe-out turns it.
    points : mapping of str to array, optional
        Hard points that move: three numbers, or a `DataArray` with the dimension ``xyz`` of length three among its own,
        in mm, in the car's coordinates. One knuckle is built a place. Names are those of ``corner.points``. Figures of
        the wheel move too: ``wheel_radius`` in mm, ``camber`` and ``toe`` at design in deg, each a number or a
        `DataArray`. What is not moved stays: moved points leave camber and toe at design as they were measured.
        Of an axle they are the left corner's, mirrored on the right, unless they run along ``side``; its own readings,
        `turns` and steer angles are those of a car built so, its wheelbase kept.
    travel_at : {"ground", "hub", "strut"}
        Where travel is measured, and so what is held at zero travel while a setting changes: the contact centre (ride
        height held), the wheel centre (hub height held), the strut's compression (spring length held).
    readings : str or iterable of str, optional
        Only these; all of them unless given.
    places : str or iterable of str
        Points whose place is wanted too, in mm, in the car's coordinates, with a dimension ``xyz`` in front (of an
        axle, after ``side``).
    threads : int, optional
        How many may be at work at once, the calling one among them; all of the machine's unless given.
    progress : bool, optional
        A progress bar on standard error, now or never. Unless given, one appears once a sweep has taken two seconds.

    Returns
    -------
    xarray.Dataset
        One variable a reading, with ``units``, ``long_name``, ``positive`` and ``definition`` in its attributes, and
        ``status``: 0 where the pose is reached, otherwise the code of what ran out (``flag_values``,
        ``flag_meanings``). A pose out of reach is NaN in place: nothing is dropped, reordered or printed.

    Raises
    ------
    InputError
        A value that is not finite, an array of several dimensions without labels, dimensions of unequal length, an
        unknown name.

    Notes
    -----
    Each pose is computed from its own inputs alone: the same bits come out for any number of threads, any chunks, any
    order of dimensions, and any of the machine's vector instructions. The widest are used, unless the environment
    variable ``STRUTSWEEP_LANES`` names others: ``avx512``, ``avx2``, ``neon`` or ``portable``.

    The body rolls about the line along X at Y = 0, at the height of the contact centre at design (ISO 8855:
    right-handed about X). With ``travel_at="ground"`` zero travel keeps each wheel on the ground on which it stood at
    design, so that a wheel on the side to which the body leans goes up into it; with ``"hub"`` the wheel centre keeps
    its height above that ground; with ``"strut"`` strut and body lean as one. Rates are to travel, roll held.

    Of an axle, positive roll makes the right wheel the outer one, as a turn to the left does. Two corners whose contact
    centres stand at unlike heights at design, or are given unlike travel, keep each to level ground of its own, and
    camber is read against that; the axle's roll centre is measured from the line through both. The attribute ``ground``
    says so where it is so at design, with what it makes of camber.

    Arrays of the result lie in memory with travel outermost or innermost, whichever is faster, whatever the order of the
    dimensions.

    If an input is a `DataArray` in Dask chunks, so is the result, and nothing is computed until it is asked for (but for
    an input along a dimension of its own name, whose labels it is): write it to Zarr or NetCDF piece by piece, or compute it on a Dask cluster. A result in memory that would not fit in what
    is free is refused. Ctrl-C ends a sweep within 0.2 s.

    Examples
    --------
    >>> import numpy as np, strutsweep as ss
    >>> corner = ss.demo("gravel_hatch").left
    >>> ds = ss.sweep(corner, travel=np.linspace(-60, 60, 121), mount_in=np.linspace(-20, 20, 41))
    >>> ds.camber.dims, ds.camber.attrs["units"]
    (('travel', 'mount_in'), 'deg')
    >>> round(float(ds.camber.sel(travel=0, mount_in=0)), 9)
    -0.5

    Both wheels in roll and at lock:

    >>> ds = ss.sweep(ss.demo("gravel_hatch"), roll=[-2.0, 0.0, 2.0], inner_steer=[0.0, 20.0])
    >>> ds.camber.sizes
    Frozen({'side': 2, 'inner_steer': 2, 'roll': 3})
    >>> round(float(ds.toe_out_on_turns.sel(roll=0, inner_steer=20)), 1) > 0
    True
    """
    if travel_at not in TRAVEL_AT:
        raise _inputs.unknown("travel_at", travel_at, TRAVEL_AT)
    given: dict[str, Values] = {
        "travel": travel,
        "rack": rack,
        "roll": roll,
        "mount_in": mount_in,
        "mount_back": mount_back,
        "mount_up": mount_up,
        "tie_rod": tie_rod,
        "clamp": clamp,
        "arm": arm,
        "tie_outer_up": tie_outer_up,
        "ball_joint_down": ball_joint_down,
        "hub_spacer": hub_spacer,
    }
    steered = {"turns": turns, "steer": steer, "inner_steer": inner_steer}
    if isinstance(corner, Axle):
        from strutsweep._axle_sweep import sweep_axle

        return sweep_axle(corner, given, points, steered, travel_at, readings, places, threads, progress)
    _inputs.check_corner("sweep", corner)
    for name, value in steered.items():
        if value is not None:
            raise InputError(f"{name} steers two wheels: sweep the whole car, or give rack", name=name, value=value)
    with_labels = bool(points) or any(isinstance(value, _LABELLED) for value in given.values())
    # Arrays without labels are looked at by the engine.
    inputs = {name: _inputs.input_of(name, value, finite=with_labels) for name, value in given.items()}
    moved = {name: _inputs.point_of(name, value) for name, value in points.items()} if points else {}
    if with_labels:
        sizes = _inputs.grid_of({**inputs, **moved})
    else:
        # Nothing that could disagree.
        sizes = {name: len(array.values) for name, array in inputs.items() if array.dims}
    poses = math.prod(sizes.values())
    count = 0 if threads is None else _inputs.thread_count("threads", threads)
    wanted = _inputs.checked_names("readings", READINGS if readings is None else readings, READINGS)
    wanted_places = _inputs.checked_names("places", places, PLACES)
    chunked = with_labels and _chunked.is_chunked({**inputs, **moved})
    if not chunked:
        _memory.refuse_if_too_large(poses, len(wanted), len(wanted_places))
        # Threads wake up while the rest is looked at.
        rouse(poses, count)
    if with_labels:
        _inputs.check_labels(inputs, moved, sizes, {*wanted, *wanted_places, "status"})
    if chunked:
        pieces = _chunked.columns(corner, inputs, moved, sizes, wanted, wanted_places, travel_at, count or 1)
        return _dataset(corner, inputs, moved, sizes, *pieces, travel_at)

    def labelled(values: Mapping[str, npt.NDArray[np.float64]], status: npt.NDArray[np.int8]) -> xr.Dataset | None:
        """Labels around arrays that other threads are still filling; none around copies of them."""
        dataset = _dataset(corner, inputs, moved, sizes, values, status, travel_at)
        arrays = {**values, "status": status}
        views = (np.may_share_memory(dataset.variables[name].data, array) for name, array in arrays.items())
        return dataset if all(views) or not poses else None

    with _Progress(poses, progress) as watch:
        values, status, _, dataset = sweep_grid(
            corner,
            tuple(sizes.values()),
            # What is not given is zero.
            {name: _inputs.spread(array, sizes) for name, array in inputs.items() if array is not NOUGHT},
            {
                name: _inputs.spread(array, sizes, *(() if name in WHEEL_FIGURES else ("xyz",)))
                for name, array in moved.items()
            },
            wanted,
            wanted_places,
            travel_at,
            count,
            watch,
            labelled,
        )
    return _dataset(corner, inputs, moved, sizes, values, status, travel_at) if dataset is None else dataset


def _dataset(
    corner: Corner,
    inputs: Mapping[str, Input],
    moved: Mapping[str, xr.DataArray],
    sizes: Mapping[str, int],
    values: Mapping[str, npt.NDArray[np.float64]],
    status: npt.NDArray[np.int8],
    travel_at: str,
) -> xr.Dataset:
    dims = tuple(sizes)
    variables: dict[str, xr.Variable] = {}
    for name, column in values.items():
        place = name in PLACES and name not in READINGS
        variables[name] = xr.Variable(("xyz", *dims) if place else dims, column, attributes(name))
    variables["status"] = xr.Variable(dims, status, _status_attributes())
    labelled = (array for array in (*inputs.values(), *moved.values()) if isinstance(array, xr.DataArray))
    coords = _shared_labels(labelled, sizes)
    for name, array in inputs.items():
        # A copy: labels must not change with what the caller does to an array afterwards.
        data = array.values.copy() if isinstance(array, Plain) else array.data
        coords[name] = xr.Variable(array.dims, data, attributes(name))
    for name, array in moved.items():
        words = {"units": WHEEL_FIGURES.get(name, "mm"), "long_name": f"{name} moved to"}
        coords[f"{name}_moved"] = array.drop_vars(list(array.coords)).assign_attrs(words)
    placed = any("xyz" in variable.dims for variable in variables.values())
    if placed or any("xyz" in array.dims for array in moved.values()):
        coords["xyz"] = list(XYZ)
    return xr.Dataset(
        variables,
        coords,
        attrs={
            "title": f"{corner.name}, {corner.side} corner",
            "car": corner.name,
            "side": corner.side,
            "travel_at": travel_at,
            "held": TRAVEL_AT[travel_at],
            "axes": "ISO 8855: X forward, Y left, Z up",
            "source": f"strutsweep {__version__}",
        },
    )


def _shared_labels(arrays: Iterable[xr.DataArray], sizes: Mapping[str, int]) -> dict[str, Any]:
    """Labels that came with the inputs, but for those that two inputs tell differently."""
    labels: dict[str, xr.DataArray] = {}
    unlike: set[str] = set()
    for array in arrays:
        for key, coord in array.coords.items():
            name = str(key)
            if name in sizes and coord.dims != (name,):
                # What is left of a dimension after choosing along it; another input still runs along it.
                continue
            # Labels of one index stay together; what else a label carries is a label itself.
            together = array.xindexes.get_all_coords(key) if key in array.xindexes else {key: coord}
            alone = coord.drop_vars([other for other in coord.coords if other not in together])
            if not alone.variable.equals(labels.setdefault(name, alone).variable):
                unlike.add(name)
    return {name: label for name, label in labels.items() if name not in unlike}


def _status_attributes() -> dict[str, Any]:
    return {
        "long_name": "status of the pose",
        "units": "1",
        "flag_values": np.array([words["code"] for words in STATUSES.values()], dtype=np.int8),
        "flag_meanings": " ".join(STATUSES),
        "comment": "; ".join(f"{name}: {words['reason']}" for name, words in STATUSES.items()),
    }


class _Progress:
    """A progress bar that appears only once a sweep has taken long enough to wonder."""

    def __init__(self, poses: int, wanted: bool | None) -> None:
        self._poses = poses
        self._wanted = wanted
        self._start = time.monotonic()
        self._bar: Any = None

    def __enter__(self) -> Callable[[int], None] | None:
        # Programs without a console have no standard error.
        return None if self._wanted is False or sys.stderr is None else self._update

    def __exit__(self, *_: object) -> None:
        if self._bar is not None:
            self._bar.close()

    def _update(self, done: int) -> None:
        if self._bar is None:
            if self._wanted is None and time.monotonic() - self._start < _SHOW_PROGRESS_AFTER_S:
                return
            from tqdm.auto import tqdm  # type: ignore[import-untyped]

            columns = None if "COLUMNS" in os.environ else 100
            self._bar = tqdm(total=self._poses, unit="pose", unit_scale=True, desc="sweep", ncols=columns, leave=False)
        self._bar.update(done - self._bar.n)
