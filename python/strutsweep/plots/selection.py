"""From a sweep to what one figure shows: checks, selection of one value where there is no room for more, notes."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep.errors import InputError
from strutsweep.plots.sheet import name_with_unit, number, positive_way, with_unit
from strutsweep.words import HARD_POINTS, MOTIONS, READINGS, SETTINGS, STATUSES, attributes

__all__ = [
    "changed_input",
    "checked_readings",
    "held",
    "is_design",
    "line_labels",
    "notes",
    "picked",
    "reasons",
    "sentences",
    "spare_dimensions",
    "title",
    "too_many",
]

INPUTS: Final = (*MOTIONS, *SETTINGS)
_MOVED: Final = "_moved"
"""What a sweep adds to the name of a hard point for the coordinate that says where it moved to."""

_SAME: Final = 1e-9
"""Two values of an input, in mm or deg, are one value when they are nearer than this: round-off of a made-up grid."""


def checked_readings(dataset: xr.Dataset, readings: str | Iterable[str]) -> list[str]:
    """The readings that a figure shows, once each; all must be known, and in the dataset."""
    if not isinstance(dataset, xr.Dataset):
        raise TypeError(f"a figure takes the xarray.Dataset of a sweep, not {type(dataset).__name__}")
    names = [readings] if isinstance(readings, str) else list(dict.fromkeys(readings))
    if not names:
        raise InputError("readings: name at least one", name="readings", value=names)
    for name in names:
        if name not in READINGS:
            near = difflib.get_close_matches(str(name), READINGS, n=1)
            advice = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(READINGS)}"
            raise InputError(f"readings: there is no {name!r}; {advice}", name="readings", value=name)
        if name not in dataset:
            held = ", ".join(reading for reading in READINGS if reading in dataset) or "none"
            raise InputError(f"readings: this dataset has no {name}; its readings: {held}", name="readings", value=name)
    missing = [key for key in ("car", "side", "held", "travel_at") if key not in dataset.attrs]
    if missing or "status" not in dataset:
        lost = ", ".join(
            [*(f"the attribute {key}" for key in missing), *(["status"] if "status" not in dataset else [])]
        )
        raise InputError(
            f"dataset: it lacks {lost}: give the dataset of a sweep, or what was selected from it",
            name="dataset",
            value=missing,
        )
    return names


def picked(dataset: xr.Dataset, readings: list[str], at: Mapping[str, Any] | None, axes: tuple[str, ...]) -> xr.Dataset:
    """The readings and the status at the values that `at` names, without dimensions of length one but those of `axes`.

    `axes` are the inputs along the figure's own axes: each must vary, along one dimension.
    """
    data = dataset[[*readings, "status"]].assign_attrs(dataset.attrs)
    # Hard points that move have a dimension of their own, x, y and z, and would be left behind without a word.
    moved = [str(name).removesuffix(_MOVED) for name in dataset.coords if str(name).endswith(_MOVED)]
    data.attrs[_MOVED] = [name for name in moved if name in HARD_POINTS]
    for name, value in (at or {}).items():
        data = _selected(data, str(name), value)
    if "side" in data.coords and data.coords["side"].ndim == 0:
        # One wheel of an axle.
        data.attrs["side"] = str(data.coords["side"].values)
    for name in axes:
        if name not in data.coords:
            raise InputError(f"dataset: it has no {name}; sweep {name} as an array", name="dataset", value=name)
        if data.coords[name].ndim == 0:
            one = with_unit(name, float(data.coords[name]))
            raise InputError(
                f"dataset: {name} is one number in it ({one}); sweep {name} as an array", name="dataset", value=name
            )
        if data.coords[name].ndim > 1:
            raise InputError(
                f"dataset: {name} varies along {_listed(data.coords[name].dims)}; it must vary along one dimension",
                name="dataset",
                value=name,
            )
    own = {str(data.coords[name].dims[0]) for name in axes}
    if not data["status"].size:
        empty = _listed(dim for dim, size in data.sizes.items() if size == 0)
        raise InputError(f"dataset: it is empty along {empty}", name="dataset", value=dict(data.sizes))
    for name in axes:
        if data.coords[name].size < 2:
            raise InputError(
                f"dataset: {name} has one value in it; sweep at least two", name="dataset", value=data.coords[name].size
            )
    data = data.squeeze([dim for dim, size in data.sizes.items() if size == 1 and dim not in own])
    if not bool((data["status"] == 0).any()):
        raise InputError(
            f"dataset: none of its poses can be reached: {'; '.join(reasons(data['status'].values).values())}",
            name="dataset",
            value="status",
        )
    return data


def _selected(data: xr.Dataset, name: str, value: Any) -> xr.Dataset:
    """The dataset where one dimension has one value."""
    if name not in data.dims and name not in data.coords:
        raise InputError(
            f"at: this dataset has no {name!r}; its dimensions: {_listed(data.dims) or 'none'}", name="at", value=name
        )
    if name not in data.coords:
        # A dimension without labels: its places are counted from zero.
        if isinstance(value, bool) or not isinstance(value, (int, np.integer)) or not 0 <= value < data.sizes[name]:
            raise InputError(
                f"at: {name} has no labels; give a place from 0 to {data.sizes[name] - 1}, not {value!r}",
                name="at",
                value=value,
            )
        return data.isel({name: int(value)})
    labels = data.coords[name]
    if labels.ndim > 1:
        raise InputError(
            f"at: {name} varies along {_listed(labels.dims)}; select along those instead", name="at", value=name
        )
    values = np.atleast_1d(labels.values)
    try:
        numeric = np.issubdtype(values.dtype, np.number)
        apart = np.abs(values - float(value)) if numeric else np.where(values == value, 0.0, np.inf)
    except (TypeError, ValueError):
        raise InputError(f"at: {name} = {value!r} is not a number", name="at", value=value) from None
    if not apart.size:
        raise InputError(f"at: this dataset is empty along {name}", name="at", value=value)
    nearest = int(np.argmin(apart))
    if not apart[nearest] <= _SAME * max(1.0, float(np.max(np.abs(values)))) if numeric else apart[nearest] > 0.0:
        known = f"the nearest is {values[nearest]:g}" if numeric else f"known: {_listed(values)}"
        raise InputError(f"at: this dataset has no {name} = {value!r}; {known}", name="at", value=value)
    return data if labels.ndim == 0 else data.isel({labels.dims[0]: nearest})


def spare_dimensions(data: xr.Dataset, axes: tuple[str, ...]) -> list[str]:
    """Dimensions that are not along the figure's own axes."""
    own = {str(data.coords[name].dims[0]) for name in axes}
    return [str(dim) for dim in data.dims if dim not in own]


def too_many(spare: list[str], allowed: str) -> InputError:
    """The error for dimensions that a figure has no room for."""
    example = ", ".join(f"{dim!r}: ..." for dim in spare)
    return InputError(
        f"dataset: it also varies along {_listed(spare)}, and the figure has room for {allowed}: "
        f"select values with at={{{example}}}",
        name="dataset",
        value=spare,
    )


def reasons(status: npt.NDArray[Any]) -> dict[int, str]:
    """What ran out, in a sentence a code, for the codes that occur; poses reached are left out."""
    found = set(np.unique(status).tolist())
    return {
        words["code"]: words["reason"]
        for name, words in STATUSES.items()
        if words["code"] in found and name != "reached"
    }


def title(data: xr.Dataset) -> str:
    """Car and corner."""
    return f"{data.attrs['car']}, {data.attrs['side']} corner"


def notes(data: xr.Dataset, axes: tuple[str, ...], lines: str | None) -> list[str]:
    """What is held, every input that is not zero and not shown along an axis or by a line, moved hard points."""
    own = {str(data.coords[name].dims[0]) for name in axes}
    clauses: dict[str, str] = {}
    for name in INPUTS:
        if name in axes or name not in data.coords:
            continue
        values = data.coords[name]
        if values.ndim == 0:
            if float(values) != 0.0:
                clauses[name] = changed_input(name, float(values))
        elif set(values.dims) != {lines}:
            low, high = (
                with_unit(name, float(values.min()), signed=True),
                with_unit(name, float(values.max()), signed=True),
            )
            along = " with it" if set(values.dims) <= own else ""
            clauses[name] = f"{attributes(name)['long_name']} from {low} to {high}{along} ({positive_way(name)})"
    shown = any(name in data.coords and data.coords[name].ndim for name in SETTINGS)
    said = [held(data.attrs["held"], data.attrs["travel_at"]), *sentences(clauses, others_shown=shown)]
    if data.attrs[_MOVED]:
        said.append(f"Hard points moved: {_listed(data.attrs[_MOVED])}.")
    return said


def held(what: str, travel_at: str) -> str:
    """What zero travel holds, in a sentence."""
    return f"Zero travel holds {what} (travel measured at the {travel_at})."


def changed_input(name: str, value: float) -> str:
    """A setting or a motion that is not zero, in words."""
    return f"{attributes(name)['long_name']} {with_unit(name, value, signed=True)} ({positive_way(name)})"


def sentences(clauses: Mapping[str, str], *, others_shown: bool = False) -> list[str]:
    """The clauses of the inputs that are not zero as sentences: first the motions, then the settings, if any."""
    said = []
    for names, none in (
        (MOTIONS, None),
        (SETTINGS, "All other settings zero." if others_shown else "All settings zero."),
    ):
        text = "; ".join(clause for name, clause in clauses.items() if name in names)
        if text:
            said.append(f"{text[0].upper()}{text[1:]}.")
        elif none:
            said.append(none)
    return said


def line_labels(data: xr.Dataset, dim: str) -> tuple[str, list[str], npt.NDArray[np.float64] | None]:
    """For lines along one dimension: what they differ in, a label each, and their values if that is one number."""
    varied = [name for name in INPUTS if name in data.coords and data.coords[name].dims == (dim,)]
    if len(varied) == 1:
        values = np.asarray(data.coords[varied[0]].values, dtype=np.float64)
        heading = f"{name_with_unit(varied[0])}, {positive_way(varied[0])}"
        return heading, [number(value, signed=True) for value in values], values
    size = data.sizes[dim]
    if varied:
        # Names as they were given in the call: the words in full would fill the figure.
        columns = [[f"{name} {with_unit(name, v, signed=True)}" for v in data.coords[name].values] for name in varied]
        return (
            "; ".join(f"{name}: {positive_way(name)}" for name in varied),
            [", ".join(row) for row in zip(*columns, strict=True)],
            None,
        )
    labels = data.coords[dim].values if dim in data.coords else np.arange(size)
    if np.issubdtype(labels.dtype, np.number):
        return dim, [number(float(label)) for label in labels], np.asarray(labels, dtype=np.float64)
    return dim, [str(label) for label in labels], None


def is_design(data: xr.Dataset) -> xr.DataArray | None:
    """Where all settings and motions are zero, along the dataset's dimensions; None if nowhere.

    Where hard points move there are as many design positions as places of theirs, and none is marked.
    """
    everywhere = xr.zeros_like(data["status"], dtype=bool) | True
    for name in INPUTS:
        if name in data.coords:
            everywhere = everywhere & (abs(data.coords[name]) <= _SAME)
    if data.attrs[_MOVED]:
        return None
    design = everywhere.transpose(*data["status"].dims)
    return design if bool(design.any()) else None


def _listed(names: Iterable[Any]) -> str:
    return ", ".join(str(name) for name in names)
