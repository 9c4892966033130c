"""Carpets: one reading over two inputs, as a net."""

from __future__ import annotations

from collections.abc import Sequence
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
    text_width_in,
)
from strutsweep.words import attributes

__all__ = ["carpet"]

_WIDTH_IN: Final = 10.0
_PT_PER_IN: Final = 72.0
_LABEL_STEP_PT: Final = 9.5
"""How much farther a label goes where it would stand on another."""


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
    axes.margins(x=0.09, y=0.08)
    _net_labels(axes, x, values, a, b, first, second)
    return figure


class _Labels:
    """Labels beside points, none on another: each stands the first way in which it is free, or else the first."""

    def __init__(self, axes: Axes) -> None:
        self._axes = axes
        # Asking for the limits settles them.
        axes.set(xlim=axes.get_xlim(), ylim=axes.get_ylim())
        self._taken: list[tuple[float, float, float, float]] = []

    def put(self, text: str, at: tuple[float, float], ways: Sequence[tuple[float, float]], colour: Any) -> None:
        """A label right or left of a point by some points of type, and above it by some."""
        per_dot = _PT_PER_IN / self._axes.figure.dpi
        across, up = (float(dots) * per_dot for dots in self._axes.transData.transform(at))
        width = text_width_in(text, TICK_PT) * _PT_PER_IN

        def box(way: tuple[float, float]) -> tuple[float, float, float, float]:
            left = across + way[0] - (width if way[0] < 0.0 else 0.0)
            return left, left + width, up + way[1] - 0.5 * TICK_PT, up + way[1] + 0.5 * TICK_PT

        def is_free(way: tuple[float, float]) -> bool:
            left, right, low, high = box(way)
            return not any(left < r and l < right and low < h and b < high for l, r, b, h in self._taken)

        way = next(filter(is_free, ways), ways[0])
        self._taken.append(box(way))
        # Away from its place, a label says by a line whose it is.
        leader = {"arrowstyle": "-", "color": colour, "linewidth": 0.5, "shrinkA": 1.0, "shrinkB": 1.0}
        self._axes.annotate(
            text,
            at,
            way,
            textcoords="offset points",
            fontsize=TICK_PT,
            annotation_clip=False,
            ha="left" if way[0] > 0.0 else "right",
            va="center",
            color=colour,
            arrowprops=None if way == ways[0] else leader,
        )


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
    labels = _Labels(axes)
    # A line is named where it ends, which is short of the net's edge where what lies beyond is out of reach.
    found = np.isfinite(values)
    coloured, grey = np.flatnonzero(found.any(axis=0)), np.flatnonzero(found.any(axis=1))
    # The last first: labels reach toward the lines that follow.
    for j in coloured[::-1]:
        text = number(float(b[j]), signed=True) + (f" {unit_of(second)}" if j == coloured[-1] else "")
        end = np.flatnonzero(found[:, j])[-1]
        ways = [(6.0, step * _LABEL_STEP_PT) for step in (0, -1, 1, -2, 2, -3, 3)]
        labels.put(text, (x[end, j], values[end, j]), ways, ORDERED(j / max(b.size - 1, 1)))
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
        ways = [(4.0 * aside, below * (10.0 + step * _LABEL_STEP_PT)) for step in range(4)]
        labels.put(text, (x[i, start], values[i, start]), ways, PENCIL)
    place: dict[str, Any] = {"fontsize": NOTE_PT, "transform": axes.transAxes, "ha": "left"}
    axes.text(
        0.0,
        1.015,
        f"grey: {input_words(first)} ({unit_of(first)})   coloured: {input_words(second)} ({unit_of(second)})",
        color=PENCIL,
        **place,
    )
