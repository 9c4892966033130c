"""Grids of poses: plain numbers, arrays and labelled arrays in, one labelled dataset out."""

from __future__ import annotations

import difflib
import math
import os
import time
from collections.abc import Callable, Hashable, Iterable, Mapping
from typing import Any, Literal, TypeAlias

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep import _chunked, _memory
from strutsweep._core import Axle, Corner, Pose, __version__, rouse, sweep_grid
from strutsweep.errors import InputError
from strutsweep.words import HARD_POINTS, MOTIONS, PLACES, READINGS, SETTINGS, STATUSES, TRAVEL_AT, attributes

__all__ = ["Values", "solve", "sweep"]

Values: TypeAlias = "float | npt.ArrayLike | xr.DataArray"
"""What an input may be: a number, a one-dimensional array, or a labelled array of any dimensions."""

TravelAt: TypeAlias = Literal["ground", "hub", "strut"]

Labelled: TypeAlias = "xr.Variable | xr.DataArray"
"""An input with its dimensions: labels are carried only by what came with labels, which costs most of the time of a
small sweep."""

WHEEL_FIGURES = {"wheel_radius": "mm", "camber": "deg", "toe": "deg"}
"""Figures of the wheel at design that move as hard points do, by the keywords of `Corner.replace`, and their units."""

XYZ = ("x", "y", "z")
"""Coordinates of the dimension ``xyz``."""

_NOUGHT = xr.Variable((), np.array(0.0))
"""Most inputs of most sweeps, made once: labels of a small sweep take longer than its poses."""

_SHOW_PROGRESS_AFTER_S = 2.0

_BEGINNING = 3
"""Letters that tell a word by its beginning."""

_MOST_THREADS = 1024
"""More would only cost memory: each thread runs without a pause, on a core of its own."""


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
    _check_corner("solve", corner)
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
    Dimensions stand in the order in which the inputs are listed here, hard points after them.

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
        (tie-rod margin below 0.1), the pose is refused with the status ``steer``.
    points : mapping of str to array, optional
        Hard points that move: three numbers, or a `DataArray` with the dimension ``xyz`` of length three among its own,
        in mm, in the car's coordinates. One knuckle is built a place. Names are those of ``corner.points``. Figures of
        the wheel move too: ``wheel_radius`` in mm, ``camber`` and ``toe`` at design in deg, each a number or a
        `DataArray`. What is not moved stays: moved points leave camber and toe at design as they were measured.
        Of an axle they are the left corner's, mirrored on the right, unless they run along ``side``.
    travel_at : {"ground", "hub", "strut"}
        Where travel is measured, and so what is held at zero travel while a setting changes: the contact centre (ride
        height held), the wheel centre (hub height held), the strut's compression (spring length held).
    readings : str or iterable of str, optional
        Only these; all of them unless given.
    places : str or iterable of str
        Points whose place is wanted too, in mm, in the car's coordinates, with a dimension ``xyz`` in front.
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

    Arrays of the result lie in memory with travel outermost where many settings are swept, with travel innermost where
    few are, whatever the order of the dimensions.

    If an input is a `DataArray` in Dask chunks, so is the result, and nothing is computed until it is asked for: write
    it to Zarr or NetCDF piece by piece, or compute it on a Dask cluster. A result in memory that would not fit in what
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
        raise _unknown("travel_at", travel_at, TRAVEL_AT)
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
    _check_corner("sweep", corner)
    for name, value in steered.items():
        if value is not None:
            raise InputError(f"{name} steers two wheels: sweep the whole car, or give rack", name=name, value=value)
    inputs = {name: _labelled(name, value) for name, value in given.items()}
    moved = {name: _labelled_point(name, value) for name, value in (points or {}).items()}
    sizes = _grid({**inputs, **moved})
    poses = math.prod(sizes.values())
    count = None if threads is None else _count("threads", threads)
    wanted = _names("readings", READINGS if readings is None else readings, READINGS)
    wanted_places = _names("places", places, PLACES)
    chunked = _chunked.is_chunked({**inputs, **moved})
    if not chunked:
        _memory.refuse_if_too_large(poses, len(wanted), len(wanted_places))
        # Threads wake up while labels are looked at.
        rouse(poses, count or 0)
    _check_labels(inputs, moved, sizes, {*wanted, *wanted_places, "status"})
    if chunked:
        pieces = _chunked.columns(corner, inputs, moved, sizes, wanted, wanted_places, travel_at, count)
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
            {name: _spread(array, sizes) for name, array in inputs.items() if array is not _NOUGHT},
            {
                name: _spread(array, sizes, *(() if name in WHEEL_FIGURES else ("xyz",)))
                for name, array in moved.items()
            },
            wanted,
            wanted_places,
            travel_at,
            count or 0,
            watch,
            labelled,
        )
    return _dataset(corner, inputs, moved, sizes, values, status, travel_at) if dataset is None else dataset


def _check_corner(verb: str, corner: Corner) -> None:
    if isinstance(corner, Axle):
        raise InputError(f"{verb} takes one corner: give car.left or car.right", name="corner", value=corner)
    if not isinstance(corner, Corner):
        raise TypeError(f"{verb} takes a Corner, not {type(corner).__name__}")


def _numbers(name: str, value: object) -> npt.NDArray[np.float64]:
    """Finite floats in the shape that was given; text, dates, complex numbers and gaps are none."""
    if type(value) is float and math.isfinite(value):
        # Nine in ten inputs.
        return np.array(value)
    try:
        array = np.asarray(value)
        masked = np.ma.getmaskarray(value) if isinstance(value, np.ma.MaskedArray) else None
        nothing = array.dtype.kind == "O" and any(item is None or isinstance(item, (str, bytes)) for item in array.flat)
        if array.dtype.kind not in "buifO" or nothing:
            kind = "nothing or text" if nothing else array.dtype
            raise TypeError(f"it holds {kind}")
        # A copy: labels of a result must not change with what the caller does to an array afterwards.
        numbers = array.astype(np.float64)
    except (TypeError, ValueError, OverflowError) as error:
        raise InputError(f"{name} is not made of numbers: {error}", name=name, value=value) from None
    wrong = ~np.isfinite(numbers) if masked is None else ~np.isfinite(numbers) | masked
    if wrong.any():
        index = int(np.flatnonzero(wrong)[0])
        found = float("nan") if masked is not None and masked.flat[index] else float(numbers.flat[index])
        where = f" (element {index})" if numbers.ndim else ""
        raise InputError(
            f"{name} = {found}{where} is not a finite number",
            name=name,
            value=found,
            index=index if numbers.ndim else None,
        )
    return numbers


def _labelled(name: str, value: Values) -> Labelled:
    """An input with its dimensions: its own where it came with none."""
    if type(value) is float and value == 0.0 and math.copysign(1.0, value) == 1.0:
        return _NOUGHT
    if isinstance(value, xr.Variable):
        value = xr.DataArray(value)
    if isinstance(value, xr.DataArray):
        if "xyz" in value.dims:
            raise InputError(f"{name} has a dimension xyz, which is for hard points", name=name, value=value.dims)
        if value.chunks is not None:
            # Looked at piece by piece, where it is computed.
            return value.astype(np.float64)
        return value.copy(data=_numbers(name, value.values))
    array = _numbers(name, value)
    if array.ndim == 0:
        return xr.Variable((), array)
    if array.ndim > 1:
        raise InputError(
            f"{name} has {array.ndim} dimensions and no names for them: give an xarray.DataArray",
            name=name,
            value=array.shape,
        )
    return xr.Variable((name,), array)


def _labels(name: str, array: Labelled) -> Mapping[Hashable, Labelled]:
    """The labels of an input; an array of its own dimension labels it."""
    if isinstance(array, xr.DataArray):
        return array.coords
    return {name: array} if array.dims == (name,) else {}


def _labelled_point(name: str, value: Values) -> xr.DataArray:
    """A hard point as a labelled array whose last dimension is ``xyz``, in that order; or a figure of the wheel."""
    if name in WHEEL_FIGURES:
        return xr.DataArray(_labelled(name, value))
    if name not in HARD_POINTS:
        raise _unknown("points", name, [*HARD_POINTS, *WHEEL_FIGURES])
    if isinstance(value, xr.Variable):
        value = xr.DataArray(value)
    if not isinstance(value, xr.DataArray):
        array = _numbers(name, value)
        if array.shape != (3,):
            advice = "give three numbers, or an xarray.DataArray with a dimension xyz"
            raise InputError(f"points[{name!r}] has shape {array.shape}: {advice}", name=name, value=array.shape)
        return xr.DataArray(array, dims=("xyz",))
    if value.sizes.get("xyz") != 3:
        raise InputError(f"points[{name!r}] needs a dimension xyz of length 3", name=name, value=dict(value.sizes))
    chunked_array = value.chunks is not None
    labelled = value.astype(np.float64) if chunked_array else value.copy(data=_numbers(name, value.values))
    if "xyz" in labelled.coords:
        labels = labelled.coords["xyz"].values.tolist()
        if sorted(labels, key=str) != list(XYZ):
            message = f"points[{name!r}] has labels {labels} along xyz: x, y and z are wanted"
            raise InputError(message, name=name, value=labels)
        labelled = labelled.sel(xyz=list(XYZ))
    return labelled.transpose(..., "xyz")


def _grid(arrays: Mapping[str, Labelled]) -> dict[str, int]:
    """Every dimension and its length, in order of appearance; labels of a shared dimension must agree."""
    sizes: dict[str, int] = {}
    labels: dict[str, tuple[str, Labelled]] = {}
    for name, array in arrays.items():
        if not array.dims:
            continue
        own = _labels(name, array)
        for dim, size in array.sizes.items():
            if not isinstance(dim, str):
                raise InputError(f"{name} has a dimension named {dim!r}: give it a name in text", name=name, value=dim)
            if dim == "xyz":
                continue
            if sizes.setdefault(dim, size) != size:
                raise InputError(
                    f"{name} has {size} values along {dim}, but another input has {sizes[dim]}", name=name, value=size
                )
            if dim in own:
                first, known = labels.setdefault(dim, (name, own[dim]))
                if first != name and not np.array_equal(known.values, own[dim].values):
                    raise InputError(f"{name} and {first} have unlike labels along {dim}", name=name, value=dim)
    return sizes


def _check_labels(
    inputs: Mapping[str, Labelled], moved: Mapping[str, xr.DataArray], sizes: Mapping[str, int], results: set[str]
) -> None:
    """No name may stand for two things in the dataset: an input, a dimension, a label, a result."""
    for name, array in (*inputs.items(), *moved.items()):
        if array is _NOUGHT:
            continue
        for label in (*array.dims, *_labels(name, array)):
            if label in results:
                message = f"{name} carries a label {label!r}, which is the name of a result"
                raise InputError(message, name=name, value=label)
    for name, array in inputs.items():
        # Asked with `in`: labels of a dimension that has none count up from zero.
        if name not in array.dims:
            continue
        own = _labels(name, array)
        if name in own and own[name] is not array and not np.array_equal(array.values, own[name].values):
            message = f"{name} has values unlike its labels along its own dimension"
            raise InputError(message, name=name, value=own[name].values)
    for dim in sizes:
        if dim in inputs and dim not in inputs[dim].dims:
            name = next(name for name, array in (*inputs.items(), *moved.items()) if dim in array.dims)
            message = f"{name} runs along a dimension named {dim}, but {dim} itself does not"
            raise InputError(message, name=name, value=dim)


def _spread(array: Labelled, sizes: Mapping[str, int], *trailing: str) -> npt.NDArray[np.float64]:
    """The array with every dimension of the grid, in its order, of length one where it does not vary."""
    axes = (*sizes, *trailing)
    if array.ndim > 1:
        array = array.transpose(*(dim for dim in axes if dim in array.dims))
    values: npt.NDArray[np.float64] = np.asarray(array.values)
    return values.reshape([array.sizes.get(dim, 1) for dim in axes])


def _names(argument: str, given: Iterable[str] | str, known: Mapping[str, Any]) -> list[str]:
    names = [given] if isinstance(given, str) else list(dict.fromkeys(given))
    for name in names:
        if name not in known:
            raise _unknown(argument, name, known)
    return names


def _unknown(argument: str, name: object, known: Iterable[str]) -> InputError:
    known = list(known)
    # A beginning is near too: people leave off what they cannot spell.
    begun = [word for word in known if word.startswith(str(name)) and len(str(name)) >= _BEGINNING]
    near = difflib.get_close_matches(str(name), known, n=1) or begun
    advice = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(known)}"
    return InputError(f"{argument}: there is no {name!r}; {advice}", name=argument, value=name)


def _count(name: str, value: int) -> int:
    if isinstance(value, bool) or not isinstance(value, (int, np.integer)) or value < 1:
        raise InputError(f"{name} = {value!r} is not a whole number of at least 1", name=name, value=value)
    if value > _MOST_THREADS:
        raise InputError(f"{name} = {value} is more than {_MOST_THREADS}", name=name, value=value)
    return int(value)


def _dataset(
    corner: Corner,
    inputs: Mapping[str, Labelled],
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
        data = np.array(0.0) if array is _NOUGHT else array.data
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
        return None if self._wanted is False else self._update

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
