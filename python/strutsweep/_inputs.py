"""What the inputs of a grid may be, and how they are checked: numbers, arrays and labelled arrays, by their names."""

from __future__ import annotations

import difflib
import math
from collections.abc import Hashable, Iterable, Mapping
from typing import Any, Final, Literal, NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep._core import Axle, Corner
from strutsweep.errors import InputError
from strutsweep.words import HARD_POINTS

__all__ = [
    "NOUGHT",
    "WHEEL_FIGURES",
    "XYZ",
    "Input",
    "Plain",
    "TravelAt",
    "Values",
    "check_corner",
    "check_labels",
    "checked_names",
    "grid_of",
    "input_of",
    "labelled",
    "numbers_of",
    "one_number",
    "point_of",
    "spread",
    "thread_count",
    "unknown",
]

Values: TypeAlias = "float | npt.ArrayLike | xr.DataArray"
"""What an input may be: a number, a one-dimensional array, or a labelled array of any dimensions."""

TravelAt: TypeAlias = Literal["ground", "hub", "strut"]


class Plain(NamedTuple):
    """An input that came without labels. It is most of them, and labels take longer than the poses of a small sweep.

    Attributes
    ----------
    dims : tuple of str
        None for a number; the input's own name for an array.
    values : array
        The caller's own array, if it was one of floats: to be copied by whoever keeps it.
    """

    dims: tuple[str, ...]
    values: npt.NDArray[np.float64]

    @property
    def sizes(self) -> dict[str, int]:
        """Its dimension and length, if it has one."""
        return dict(zip(self.dims, self.values.shape, strict=True))


Input: TypeAlias = "Plain | xr.DataArray"
"""An input with its dimensions; with labels only if it came with them."""

WHEEL_FIGURES: Final = {"wheel_radius": "mm", "camber": "deg", "toe": "deg"}
"""Figures of the wheel at design that move as hard points do, by the keywords of `Corner.replace`, and their units."""

XYZ: Final = ("x", "y", "z")
"""Coordinates of the dimension ``xyz``."""

NOUGHT: Final = Plain((), np.array(0.0))
"""Nine in ten inputs: what is not given."""
NOUGHT.values.flags.writeable = False

_FLOAT: Final = np.dtype(np.float64)

_NO: Final = np.False_.tobytes()
"""A no among an array's answers, found in a third of the time of ``all()``."""

_BEGINNING: Final = 3
"""Letters that tell a word by its beginning."""

_MOST_THREADS: Final = 1024
"""More would only cost memory: each thread runs without a pause, on a core of its own."""


def check_corner(verb: str, corner: Corner) -> None:
    """Complain of an axle, or of what is no corner."""
    if isinstance(corner, Axle):
        raise InputError(f"{verb} takes one corner: give car.left or car.right", name="corner", value=corner)
    if not isinstance(corner, Corner):
        raise TypeError(f"{verb} takes a Corner, not {type(corner).__name__}")


def numbers_of(name: str, value: object) -> npt.NDArray[np.float64]:
    """Finite floats in the shape that was given, a copy; text, dates, complex numbers and gaps are none."""
    if type(value) is float and math.isfinite(value):
        return np.array(value)
    try:
        array = np.asarray(value)
        masked = np.ma.getmaskarray(value) if isinstance(value, np.ma.MaskedArray) else None
        nothing = array.dtype.kind == "O" and any(item is None or isinstance(item, (str, bytes)) for item in array.flat)
        if array.dtype.kind not in "buifO" or nothing:
            kind = "nothing or text" if nothing else array.dtype
            raise TypeError(f"it holds {kind}")
        found = array.astype(np.float64)
    except (TypeError, ValueError, OverflowError) as error:
        raise InputError(f"{name} is not made of numbers: {error}", name=name, value=value) from None
    wrong = ~np.isfinite(found) if masked is None else ~np.isfinite(found) | masked
    if wrong.any():
        index = int(np.flatnonzero(wrong)[0])
        first = float("nan") if masked is not None and masked.flat[index] else float(found.flat[index])
        where = f" (element {index})" if found.ndim else ""
        # In the engine's spelling, which says the same of the same value.
        shown = "NaN" if math.isnan(first) else first
        raise InputError(
            f"{name} = {shown}{where} is not a finite number",
            name=name,
            value=first,
            index=index if found.ndim else None,
        )
    return found


def input_of(name: str, value: Values, *, finite: bool = True) -> Input:
    """An input with its dimensions: its own where it came with none.

    Unless `finite` is asked for, arrays of floats may hold what is not: where the engine looks at them anyway.
    """
    # First the two kinds that most inputs are, by what takes least time.
    if type(value) is float and value == 0.0 and math.copysign(1.0, value) == 1.0:
        return NOUGHT
    if type(value) is np.ndarray and value.dtype is _FLOAT and value.ndim == 1:
        if not finite or _NO not in np.isfinite(value).tobytes():
            return Plain((name,), value)
    if isinstance(value, xr.Variable):
        value = xr.DataArray(value)
    if isinstance(value, xr.DataArray):
        if "xyz" in value.dims:
            raise InputError(f"{name} has a dimension xyz, which is for hard points", name=name, value=value.dims)
        if value.chunks is not None:
            # Values are looked at piece by piece, where they are computed.
            if value.dtype.kind not in "buif":
                raise InputError(f"{name} is not made of numbers: it holds {value.dtype}", name=name, value=value.dtype)
            return value.astype(np.float64)
        return value.copy(data=numbers_of(name, value.values))
    array = numbers_of(name, value)
    if array.ndim == 0:
        return Plain((), array)
    if array.ndim > 1:
        raise InputError(
            f"{name} has {array.ndim} dimensions and no names for them: give an xarray.DataArray",
            name=name,
            value=array.shape,
        )
    return Plain((name,), array)


def labelled(name: str, value: Values) -> xr.DataArray:
    """An input as a labelled array: one of a dimension of its own labels that."""
    found = input_of(name, value)
    if isinstance(found, Plain):
        values = found.values.copy()
        return xr.DataArray(values, dims=found.dims, coords={dim: values.copy() for dim in found.dims})
    return found


def one_number(argument: str, name: str, value: Values) -> float:
    """An input that is one number, of an argument that takes several by their names."""
    found = input_of(name, value)
    if found.dims:
        raise InputError(f"{argument}: {name} is not one number", name=name, value=found.values.shape)
    return float(found.values)


def point_of(name: str, value: Values) -> xr.DataArray:
    """A hard point as a labelled array whose last dimension is ``xyz``, in that order; or a figure of the wheel."""
    if name in WHEEL_FIGURES:
        figure = input_of(name, value)
        return xr.DataArray(figure.values.copy(), dims=figure.dims) if isinstance(figure, Plain) else figure
    if name not in HARD_POINTS:
        raise unknown("points", name, [*HARD_POINTS, *WHEEL_FIGURES])
    if isinstance(value, xr.Variable):
        value = xr.DataArray(value)
    if not isinstance(value, xr.DataArray):
        array = numbers_of(name, value)
        if array.shape != (3,):
            advice = "give three numbers, or an xarray.DataArray with a dimension xyz"
            raise InputError(f"points[{name!r}] has shape {array.shape}: {advice}", name=name, value=array.shape)
        return xr.DataArray(array, dims=("xyz",))
    if value.sizes.get("xyz") != 3:
        raise InputError(f"points[{name!r}] needs a dimension xyz of length 3", name=name, value=dict(value.sizes))
    chunked_array = value.chunks is not None
    found = value.astype(np.float64) if chunked_array else value.copy(data=numbers_of(name, value.values))
    if "xyz" in found.coords:
        labels = found.coords["xyz"].values.tolist()
        if sorted(labels, key=str) != list(XYZ):
            message = f"points[{name!r}] has labels {labels} along xyz: x, y and z are wanted"
            raise InputError(message, name=name, value=labels)
        found = found.sel(xyz=list(XYZ))
    return found.transpose(..., "xyz")


def _labels(name: str, array: Input) -> Mapping[Hashable, Any]:
    """The labels of an input; an array of its own dimension labels it."""
    if isinstance(array, xr.DataArray):
        return array.coords
    return {name: array} if array.dims else {}


def grid_of(arrays: Mapping[str, Input]) -> dict[str, int]:
    """Every dimension and its length, in order of appearance; labels of a shared dimension must agree."""
    sizes: dict[str, int] = {}
    known: dict[str, tuple[str, npt.NDArray[Any]]] = {}
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
                first, labels = known.setdefault(dim, (name, own[dim].values))
                if first != name and not _alike(labels, own[dim].values):
                    raise InputError(f"{name} and {first} have unlike labels along {dim}", name=name, value=dim)
    return sizes


def _alike(one: npt.NDArray[Any], other: npt.NDArray[Any]) -> bool:
    """Whether labels are the same; gaps among them are like each other."""
    return np.array_equal(one, other) or xr.DataArray(one).equals(xr.DataArray(other))


def check_labels(
    inputs: Mapping[str, Input], moved: Mapping[str, xr.DataArray], sizes: Mapping[str, int], results: set[str]
) -> None:
    """No name may stand for two things in the dataset: an input, a dimension, a label, a result."""
    arrays = {name: array for name, array in (*inputs.items(), *moved.items()) if isinstance(array, xr.DataArray)}
    for name, array in arrays.items():
        for label in (*array.dims, *array.coords):
            if label in results:
                message = f"{name} carries a label {label!r}, which is the name of a result"
                raise InputError(message, name=name, value=label)
        # Asked with `in`: labels of a dimension that has none count up from zero.
        own = array.coords
        if name in inputs and name in array.dims and name in own and not np.array_equal(array.values, own[name].values):
            message = f"{name} has values unlike its labels along its own dimension"
            raise InputError(message, name=name, value=own[name].values)
    for dim in sizes:
        if dim in inputs and dim not in inputs[dim].dims:
            name = next(name for name, array in arrays.items() if dim in array.dims)
            message = f"{name} runs along a dimension named {dim}, but {dim} itself does not"
            raise InputError(message, name=name, value=dim)


def spread(array: Input, sizes: Mapping[str, int], *trailing: str) -> npt.NDArray[np.float64]:
    """The array with every dimension of the grid, in its order, of length one where it does not vary."""
    if isinstance(array, Plain):
        return array.values.reshape([array.values.size if dim in array.dims else 1 for dim in sizes])
    axes = (*sizes, *trailing)
    values: npt.NDArray[np.float64] = array.transpose(*(dim for dim in axes if dim in array.dims)).values
    return values.reshape([array.sizes.get(dim, 1) for dim in axes])


def checked_names(argument: str, given: Iterable[str] | str, known: Mapping[str, Any]) -> list[str]:
    """Names, each once, or a complaint about the first that is none."""
    found = [given] if isinstance(given, str) else list(dict.fromkeys(given))
    for name in found:
        if name not in known:
            raise unknown(argument, name, known)
    return found


def unknown(argument: str, name: object, known: Iterable[str]) -> InputError:
    """The complaint about a name that is none, with the nearest that is one."""
    known = list(known)
    # A beginning is near too: people leave off what they cannot spell.
    begun = [word for word in known if word.startswith(str(name)) and len(str(name)) >= _BEGINNING]
    near = difflib.get_close_matches(str(name), known, n=1) or begun
    advice = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(known)}"
    return InputError(f"{argument}: there is no {name!r}; {advice}", name=argument, value=name)


def thread_count(name: str, value: int) -> int:
    """How many threads."""
    if isinstance(value, bool) or not isinstance(value, (int, np.integer)) or value < 1:
        raise InputError(f"{name} = {value!r} is not a whole number of at least 1", name=name, value=value)
    if value > _MOST_THREADS:
        raise InputError(f"{name} = {value} is more than {_MOST_THREADS}", name=name, value=value)
    return int(value)
