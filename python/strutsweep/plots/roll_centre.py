"""The path of an axle's roll centre."""

from __future__ import annotations

from typing import Final

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from strutsweep.errors import InputError
from strutsweep.plots.inputs import INPUTS, held_words, input_words, positive_of, unit_of
from strutsweep.plots.parts import Vector
from strutsweep.plots.sheet import (
    FAINT,
    INK,
    LABEL_PT,
    ORDERED,
    PAPER,
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

__all__ = ["roll_centre_path"]

_WIDTH_IN: Final = 10.0
_LEAST_SPAN_MM: Final = 40.0
"""The axes span this much at least: a centre that stays where it is shall look so."""


def roll_centre_path(dataset: xr.Dataset) -> Figure:
    """Where the axle's roll centre goes as the body rolls, or along any one input.

    Parameters
    ----------
    dataset : xarray.Dataset
        Of a sweep of an axle along one dimension, such as ``roll``.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    InputError
        The dataset lacks the roll centre, varies along more, or has none anywhere.

    Examples
    --------
    >>> import numpy as np, strutsweep as ss
    >>> from strutsweep import plots
    >>> figure = plots.roll_centre_path(ss.sweep(ss.demo("gravel_hatch"), roll=np.linspace(-3, 3, 25)))
    >>> figure.axes[0].get_label()
    'path'
    """
    names = ("axle_roll_centre_shift", "axle_roll_centre_height")
    for name in names:
        if name not in dataset:
            raise InputError(f"this dataset has no {name}: sweep an axle", name="dataset", value=name)
    shift, height = (dataset[name] for name in names)
    if shift.ndim != 1 or str(shift.dims[0]) not in INPUTS:
        raise InputError("a path runs along one input", name="dataset", value=list(shift.dims))
    along = str(shift.dims[0])
    found = np.isfinite(shift.values)
    if not found.any():
        raise InputError("there is no roll centre anywhere in this dataset", name="dataset", value="roll_centre_status")
    values = shift.coords[along].values
    title = f"{dataset.attrs['car']}: path of the roll centre"
    missing = int((~found).sum())
    said = [
        f"Along {input_words(along)} ({positive_of(along)});"
        " ground's axes, seen from the front: the car's left is on the right.",
        *held_words(dataset, (along,)),
        f"No roll centre at {missing} of {found.size} places:"
        " the normals run parallel there, or the pose is out of reach."
        if missing
        else "",
    ]
    figure = sheet(_WIDTH_IN)
    head_in = header_height_in(title, said, _WIDTH_IN)
    height_in = head_in + 5.2
    figure.set_size_inches(_WIDTH_IN, height_in)
    header(figure, title, [text for text in said if text])
    axes = figure.add_axes((0.095, 0.62 / height_in, 0.85, (height_in - head_in - 0.75) / height_in), label="path")
    dress(axes)
    axes.axhline(0.0, color=PENCIL, linewidth=1.2)
    axes.axvline(0.0, color=PENCIL, linewidth=0.9, dashes=(8, 3, 2, 3))
    for piece in _pieces(dataset, along):
        axes.plot(shift.values[piece], height.values[piece], color=FAINT, linewidth=1.4, zorder=1.5)
    order = (values - values.min()) / (np.ptp(values) or 1.0)
    axes.scatter(shift.values[found], height.values[found], c=ORDERED(order[found]), s=26, zorder=3)
    axes.set_xlabel(f"{name_with_unit(names[0])}, {positive_way(names[0])}", fontsize=LABEL_PT, color=INK)
    axes.set_ylabel(f"{name_with_unit(names[1])}, {positive_way(names[1])}", fontsize=LABEL_PT, color=INK)
    axes.margins(x=0.08, y=0.1)
    for axis, of in (("x", shift), ("y", height)):
        low, high = float(np.nanmin(of.values)), float(np.nanmax(of.values))
        if high - low < _LEAST_SPAN_MM:
            middle = 0.5 * (low + high)
            axes.set(**{f"{axis}lim": (middle - 0.6 * _LEAST_SPAN_MM, middle + 0.6 * _LEAST_SPAN_MM)})
    _path_labels(axes, along, values, np.column_stack([shift.values, height.values]))
    return figure


def _pieces(dataset: xr.Dataset, along: str) -> list[slice]:
    """The stretches of a path on which the roll centre does not pass through infinity.

    It does where the two normals' slopes, roll-centre height of the corner over half track, change order.
    """
    count = dataset.sizes[along]
    if "roll_centre_height" not in dataset or "half_track" not in dataset:
        # No line says more than is known.
        return []
    order = np.sign((dataset.roll_centre_height / dataset.half_track).sum("side").transpose(along).values)
    breaks = [0, *(int(i) + 1 for i in np.flatnonzero(order[1:] != order[:-1])), count]
    return [slice(low, high) for low, high in zip(breaks[:-1], breaks[1:], strict=True)]


def _path_labels(axes: Axes, along: str, values: Vector, centres: Vector) -> None:
    """Values beside their places; those that would write over one another are left out, the ends' never."""
    ends = (0, values.size - 1)
    every = range(0, values.size, max(1, values.size // 12))
    written: list[Vector] = []
    for i in [*ends, *(i for i in every if i not in ends)]:
        if not np.isfinite(centres[i]).all():
            continue
        at = axes.transData.transform(centres[i])
        if any(abs(at[1] - other[1]) < 12.0 and abs(at[0] - other[0]) < 60.0 for other in written):
            continue
        written.append(at)
        rightward = centres[i, 0] >= 0.0
        axes.annotate(
            f"{number(round(float(values[i]), 3), signed=True)} {unit_of(along)}",
            (float(centres[i, 0]), float(centres[i, 1])),
            (7 if rightward else -7, 5),
            textcoords="offset points",
            ha="left" if rightward else "right",
            fontsize=TICK_PT,
            color=INK,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.6, "alpha": 0.85},
        )
