"""Swept datasets as records: CSV, JSON, NetCDF."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import numpy as np
import xarray as xr

from strutsweep.errors import FileError, InputError
from strutsweep.words import AXLE_READINGS, MOTIONS, READINGS, SETTINGS, STATUSES, attributes

__all__ = ["check_output_path", "check_plot_path", "check_suffix", "csv_text", "json_text", "wording", "write", "writing"]

_WORDS: Final = {words["code"]: name for name, words in STATUSES.items()}

PLOT_SUFFIXES: Final = (".png", ".svg", ".pdf")


def csv_text(dataset: xr.Dataset) -> str:
    """A dataset as comma-separated values: a header line, then a line for each pose.

    The corner's side and where travel is measured come first, then every input that varies or is not zero, the
    readings, and the status as a word. Names end in their units; numbers have every digit; a pose out of reach has
    empty cells, and what lies at infinity is ``inf``.

    Examples
    --------
    >>> import strutsweep as ss
    >>> ds = ss.sweep(ss.demo("gravel_hatch").left, travel=[0.0, 900.0], mount_in=5.0, readings="half_track")
    >>> lines = csv_text(ds).splitlines()
    >>> lines[0]
    'side,travel_at,travel_mm,mount_in_mm,half_track_mm,status'
    >>> lines[2]
    'left,ground,900.0,5.0,,lower_arm'
    """
    columns = _columns(dataset)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([_headed(name) for name in columns])
    writer.writerows(zip(*columns.values(), strict=True))
    return text.getvalue()


def json_text(dataset: xr.Dataset) -> str:
    """A dataset as JSON: what the columns are, what was held, and a record for each pose.

    A number that does not exist, of a pose out of reach or at infinity, is null. Each pose has a line of its own. The
    text is ASCII, whatever the car is called, so that no terminal or pipe can spoil it.

    Examples
    --------
    >>> import json, strutsweep as ss
    >>> ds = ss.sweep(ss.demo("gravel_hatch").left, travel=[0.0, 900.0], readings="half_track")
    >>> document = json.loads(json_text(ds))
    >>> document["columns"]["half_track"]["units"], document["poses"][1]["half_track"]
    ('mm', None)
    """
    columns = {name: [_plain(value) for value in values] for name, values in _columns(dataset, empty=None).items()}
    held = {
        name: float(dataset[name])
        for name in (*MOTIONS, *SETTINGS)
        if name in dataset.coords and dataset[name].ndim == 0
    }
    about = {
        **{name: value for name, value in dataset.attrs.items() if isinstance(value, str)},
        "inputs_held": held,
        "columns": {
            name: attributes(name) for name in columns if name in READINGS or name in AXLE_READINGS or name in SETTINGS or name in MOTIONS
        },
        "statuses": {name: words["reason"] for name, words in STATUSES.items()},
    }
    poses = [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]
    lines = ",\n".join(f"    {json.dumps(pose, allow_nan=False)}" for pose in poses)
    head = json.dumps(about, indent=2, allow_nan=False).removesuffix("\n}")
    return f'{head},\n  "poses": [\n{lines}\n  ]\n}}\n'


def wording(dataset: xr.Dataset) -> xr.DataArray:
    """The status of each pose as a word."""
    words: xr.DataArray = dataset.status.copy(
        data=np.vectorize(_WORDS.__getitem__, otypes=[object])(dataset.status.values)
    )
    return words


def _columns(dataset: xr.Dataset, empty: str | None = "") -> dict[str, list[Any]]:
    """Every column, in order, a value for each pose; ``empty`` where a pose has none."""
    grid = dataset.status
    rows = grid.size

    def flat(array: xr.DataArray) -> list[Any]:
        values: list[Any] = array.broadcast_like(grid).transpose(*grid.dims).values.ravel().tolist()
        return values

    columns: dict[str, list[Any]] = {}
    if "side" in dataset.coords:
        columns["side"] = flat(dataset.side)
    else:
        columns["side"] = [dataset.attrs["side"]] * rows
    columns["travel_at"] = [dataset.attrs["travel_at"]] * rows
    for name in (*MOTIONS, *SETTINGS):
        if name in dataset.coords and (dataset[name].ndim or float(dataset[name]) != 0.0):
            columns[name] = [value + 0.0 for value in flat(dataset[name])]
    reached = flat(dataset.status)
    for name in map(str, dataset.data_vars):
        if name in READINGS or name in AXLE_READINGS:
            values = zip(flat(dataset[name]), reached, strict=True)
            columns[name] = [empty if status or math.isnan(value) else value + 0.0 for value, status in values]
    columns["status"] = flat(wording(dataset))
    return columns


def _headed(name: str) -> str:
    """A column's name with its unit: ``camber_gain_deg_per_mm``."""
    if name in ("side", "travel_at", "status"):
        return name
    unit = attributes(name)["units"]
    return name if unit == "1" else f"{name}_{unit.replace('/', '_per_').replace('%', 'percent')}"


def _plain(value: Any) -> Any:
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _netcdf(dataset: xr.Dataset, path: Path) -> None:
    dataset.to_netcdf(path, engine="scipy")


_WRITERS: Final[dict[str, Callable[[xr.Dataset, Path], object]]] = {
    ".csv": lambda dataset, path: path.write_text(csv_text(dataset), encoding="utf-8", newline=""),
    ".json": lambda dataset, path: path.write_text(json_text(dataset), encoding="utf-8", newline=""),
    ".nc": _netcdf,
}


def check_output_path(path: Path | None) -> None:
    """Refuse a data file of a kind that cannot be written."""
    check_suffix(path, tuple(_WRITERS), "data")


def check_plot_path(path: Path | None) -> None:
    """Refuse a plot of a kind that cannot be drawn."""
    check_suffix(path, PLOT_SUFFIXES, "a plot")


def check_suffix(path: Path | None, known: tuple[str, ...], what: str = "data") -> None:
    """Refuse a file whose name ends in none of these."""
    if path is not None and path.suffix.lower() not in known:
        raise InputError(f"{path}: {what} can be written as {', '.join(known)}", name="path", value=path.suffix)


def write(dataset: xr.Dataset, path: Path) -> None:
    """Write a dataset in the form that the file's name asks for.

    Raises
    ------
    InputError
        A suffix that is none of .csv, .json and .nc.
    FileError
        The file cannot be written.
    """
    check_output_path(path)
    writing(path, lambda: _WRITERS[path.suffix.lower()](dataset, path))


def writing(path: Path, act: Callable[[], object]) -> None:
    """Do what writes to this path, with the system's trouble as a `FileError`."""
    try:
        act()
    except OSError as error:
        reason = error.strerror or str(error)
        raise FileError(f"{path}: cannot be written: {reason}", path=path, reason=reason) from error
