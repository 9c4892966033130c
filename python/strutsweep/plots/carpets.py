"""Carpets: one reading over two inputs, as a net."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import numpy.typing as npt
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from strutsweep.errors import InputError
from strutsweep.plots.inputs import INPUTS, held_words, input_words, positive_of, unit_of
from strutsweep.plots.sheet import (
    INK,
    LABEL_PT,
    NOTE_PT,
    ORDERED,
    PENCIL,
    TICK_PT,
    dress,
    header,
    header_height_in,
    name_with_unit,
    number,
    positive_way,
    sheet,
)
from strutsweep.words import attributes

__all__ = ["carpet"]

_WIDTH_IN: Final = 10.0


def carpet(dataset: xr.Dataset, reading: str) -> Figure:
    """A carpet plot: one reading over two inputs, whose lines cross like a net.

    The level axis carries neither input by itself: each of the second input's lines is the first one's curve, moved
    aside. Values are read off the upright axis; on the net itself both inputs are.

    Parameters
    ----------
    dataset : xarray.Dataset
        Of a sweep over two inputs, of one corner or of one side of an axle.
    reading : str
        A reading of the dataset.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    InputError
        The dataset lacks the reading, or varies along anything but two inputs.

    Examples
    --------
    >>> import numpy as np, strutsweep as ss
    >>> from strutsweep import plots
    >>> ds = ss.sweep(ss.demo("gravel_hatch").left, roll=np.linspace(-3, 3, 7), rack=np.linspace(-40, 40, 9))
    >>> plots.carpet(ds, "camber").axes[0].get_label()
    'carpet'
    """
    if reading not in dataset:
        raise InputError(f"this dataset has no {reading}", name="reading", value=reading)
    array = dataset[reading]
    names = [str(dim) for dim in array.dims]
    if len(names) != 2 or not set(names) <= INPUTS:
        raise InputError(
            f"a carpet is woven of two inputs; {reading} varies along {', '.join(names) or 'none'}",
            name="dataset",
            value=names,
        )
    if min(array.shape) < 2:
        raise InputError("a carpet needs two values at least of either input", name="dataset", value=array.shape)
    first, second = names
    a, b = array.coords[first].values, array.coords[second].values
    values = array.transpose(first, second).values
    lost = int((~np.isfinite(values)).sum())
    if lost == values.size:
        raise InputError(f"there is no {reading} anywhere in this dataset", name="dataset", value=reading)
    # Each input spans its share of the level axis.
    x = (a - a.min())[:, None] / np.ptp(a) + 0.62 * (b - b.min())[None, :] / np.ptp(b)
    side = (
        str(dataset.side.values)
        if "side" in dataset.coords and dataset.side.ndim == 0
        else str(dataset.attrs.get("side", ""))
    )
    title = f"{dataset.attrs.get('car', '')}, {side} corner: {name_with_unit(reading)}"
    said = [
        f"Lines of one colour have one {input_words(second)} ({positive_of(second)});"
        f" they run along {input_words(first)} ({positive_of(first)}).",
        *held_words(dataset, (first, second)),
    ]
    if lost:
        name = attributes(reading)["long_name"]
        said.append(f"No {name} at {lost} of {values.size} places: out of reach, or none there.")
    figure = sheet(_WIDTH_IN)
    head_in = header_height_in(title, said, _WIDTH_IN)
    height_in = head_in + 5.6
    figure.set_size_inches(_WIDTH_IN, height_in)
    header(figure, title, said)
    axes = figure.add_axes((0.105, 0.5 / height_in, 0.78, (height_in - head_in - 0.75) / height_in), label="carpet")
    dress(axes)
    axes.grid(False, axis="x")
    axes.set_xticks([])
    axes.spines["bottom"].set_visible(False)
    axes.set_ylabel(f"{name_with_unit(reading)}\n{positive_way(reading)}", fontsize=LABEL_PT, color=INK)
    for j in range(b.size):
        axes.plot(x[:, j], values[:, j], color=ORDERED(j / max(b.size - 1, 1)), linewidth=1.6)
    for i in range(a.size):
        axes.plot(x[i], values[i], color=PENCIL, linewidth=0.8)
    _net_labels(axes, x, values, a, b, first, second)
    axes.margins(x=0.09, y=0.08)
    return figure


def _net_labels(
    axes: Axes,
    x: npt.NDArray[np.float64],
    values: npt.NDArray[np.float64],
    a: npt.NDArray[np.float64],
    b: npt.NDArray[np.float64],
    first: str,
    second: str,
) -> None:
    """Values of either input at the ends of its lines, and their names once."""
    style: dict[str, Any] = {"textcoords": "offset points", "fontsize": TICK_PT, "annotation_clip": False}
    # A line is named where it ends, which is short of the net's edge where what lies beyond is out of reach.
    found = np.isfinite(values)
    coloured, grey = np.flatnonzero(found.any(axis=0)), np.flatnonzero(found.any(axis=1))
    for j in coloured:
        text = number(float(b[j]), signed=True) + (f" {unit_of(second)}" if j == coloured[-1] else "")
        end = np.flatnonzero(found[:, j])[-1]
        axes.annotate(
            text, (x[end, j], values[end, j]), (6, 0), va="center", color=ORDERED(j / max(b.size - 1, 1)), **style
        )
    # Beyond the first line, on the side to which it does not run.
    steps = np.diff(values, axis=1)
    steps = steps[np.isfinite(steps)]
    below = -1.0 if not steps.size or steps.mean() >= 0.0 else 1.0
    starts = np.argmax(found[grey], axis=1)
    firsts = values[grey, starts]
    slopes = np.gradient(firsts) if grey.size > 1 else np.zeros(1)
    for i, start, slope in zip(grey, starts, slopes, strict=True):
        text = number(float(a[i]), signed=True) + (f" {unit_of(first)}" if i == grey[-1] else "")
        aside = -below if slope >= 0.0 else below
        axes.annotate(
            text,
            (x[i, start], values[i, start]),
            (4.0 * aside, 10.0 * below),
            ha="left" if aside > 0.0 else "right",
            va="center",
            color=PENCIL,
            **style,
        )
    place: dict[str, Any] = {"fontsize": NOTE_PT, "transform": axes.transAxes, "ha": "left"}
    axes.text(
        0.0,
        1.015,
        f"grey: {input_words(first)} ({unit_of(first)})   coloured: {input_words(second)} ({unit_of(second)})",
        color=PENCIL,
        **place,
    )
