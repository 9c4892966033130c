"""Planned settings over two wanted readings, with what cannot be reached hatched by what stops it."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator

from strutsweep.errors import InputError
from strutsweep.plots.sheet import (
    INK,
    LABEL_PT,
    MARGIN_IN,
    PALE,
    PENCIL,
    PLAIN,
    SHADE,
    TICK_PT,
    dress,
    foot,
    header,
    header_height_in,
    name_with_unit,
    number,
    panel_heading,
    panel_heading_in,
    sheet,
    with_unit,
)
from strutsweep.words import OUTCOMES, READINGS, SETTINGS

__all__ = ["settings_map"]

_PANEL_IN: Final = {1: (5.0, 3.9), 2: (3.7, 3.3), 3: (2.9, 2.8)}
"""Width and height of a panel, by the number of columns."""
_LEVELS: Final = 9
_CONSTANT: Final = 1e-6
_LABEL_AT: Final = 0.28
"""Where along a contour its number stands, off the middle, where the mark of the present readings often is."""
_HATCHES: Final = ("///", "\\\\\\", "xxx", "...")


def settings_map(dataset: xr.Dataset) -> Figure:
    """Where to put each adjuster for any pair of wanted readings, a panel each; what cannot be reached is hatched.

    Parameters
    ----------
    dataset : xarray.Dataset
        What `strutsweep.plan_map` returned for two readings wanted along a dimension each.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    InputError
        Not two dimensions of wanted readings, or nothing that can be reached.

    Examples
    --------
    >>> import numpy as np, strutsweep as ss
    >>> from strutsweep import plots
    >>> car = ss.demo("hillclimb_saloon")
    >>> want = {"camber": np.linspace(-3, 2, 11), "caster": np.linspace(4, 7, 9), "toe": 0.1}
    >>> figure = plots.settings_map(ss.plan_map(car, want, ["mount_in", "mount_back"]).sel(side="left"))
    >>> [axes.get_xlabel() for axes in figure.axes]
    ['wanted camber (deg)', 'wanted camber (deg)', 'wanted camber (deg)']
    """
    across, up = _wanted(dataset)
    reached = np.asarray((dataset["outcome"] == 0).transpose(up, across).values)
    if not reached.any():
        raise InputError("dataset: nothing that is wanted can be reached", name="dataset")
    names = [str(name) for name in dataset["adjuster"].values]
    columns = min(len(names), 3)
    rows = math.ceil(len(names) / columns)
    panel_in = _PANEL_IN[columns]
    left_in, gap_in, below_in = 0.72, 0.62, 0.58
    width_in = max(left_in + columns * (panel_in[0] + gap_in) - gap_in + MARGIN_IN + 0.1, 6.0)
    figure = sheet(width_in)
    stops = _stops(dataset, across, up)
    entries: list[tuple[Any, str]] = [
        (Patch(facecolor=SHADE, edgecolor=PENCIL, hatch=_HATCHES[i % len(_HATCHES)], linewidth=0.0), words)
        for i, words in enumerate(stops)
    ]
    now = _now(dataset, across, up)
    if now is not None:
        entries.append(
            (Line2D([], [], color=INK, marker="o", markerfacecolor="white", linestyle="none"), "as it is now")
        )
    foot_in = 0.1
    if entries:
        handles, labels = zip(*entries, strict=True)
        foot_in = foot(figure, [(handles, labels, None, True)])
    rod = "toe put back by the tie rod" if dataset.attrs["tie_rod"] == "puts_toe_back" else "tie rod untouched"
    if dataset.attrs["tie_rod"] == "free":
        rod = "the tie rod one of the adjusters"
    side = str(dataset["side"].values) if "side" in dataset.coords else str(dataset.attrs["side"])
    along = dataset.attrs.get("along")
    notes = [
        f"{side.capitalize()} corner. Held: {dataset.attrs['held']}; {rod}.",
        f"Limits: {dataset.attrs['limits']}.",
        *([f"Goes along: {along} (the top slides in its tower's face)."] if along else []),
        *_others(dataset),
    ]
    title = f"{dataset.attrs['car']}: settings for a wanted {_plain(across)} and {_plain(up)}"
    head_in = header_height_in(title, notes, width_in)
    heading_in = max(panel_heading_in(name, panel_in[0]) for name in names) + 0.08
    height_in = head_in + rows * (heading_in + panel_in[1] + below_in) + foot_in
    figure.set_size_inches(width_in, height_in)
    header(figure, title, notes)
    for index, name in enumerate(names):
        row, column = divmod(index, columns)
        bottom_in = height_in - head_in - (row + 1) * (heading_in + panel_in[1]) - row * below_in
        axes = figure.add_axes(
            (
                (left_in + column * (panel_in[0] + gap_in)) / width_in,
                bottom_in / height_in,
                panel_in[0] / width_in,
                panel_in[1] / height_in,
            )
        )
        _draw(axes, dataset, name, across, up, reached, stops, now)
        panel_heading(axes, name, panel_in[0], as_label=False)
    return figure


def _wanted(dataset: xr.Dataset) -> tuple[str, str]:
    dims = [str(dim) for dim in dataset["outcome"].dims] if "outcome" in dataset else []
    if len(dims) != 2 or not all(dim.removeprefix("wanted_") in READINGS for dim in dims):
        message = f"dataset has the dimensions {dims}; a map needs two readings wanted along a dimension each"
        if "side" in dims:
            message += ", of one side: dataset.sel(side='left')"
        raise InputError(message, name="dataset", value=dims)
    return dims[0], dims[1]


def _plain(dim: str) -> str:
    return str(READINGS[dim.removeprefix("wanted_")]["long_name"])


def _axis_label(dim: str) -> str:
    return f"wanted {name_with_unit(dim.removeprefix('wanted_'))}"


def _others(dataset: xr.Dataset) -> list[str]:
    """Readings that are wanted alike everywhere."""
    named = {str(dim).removeprefix("wanted_") for dim in dataset["outcome"].dims}
    said = []
    for name in map(str, dataset["want"].values):
        if name in READINGS and name not in named and f"wanted_{name}" in dataset.coords:
            said.append(
                f"{READINGS[name]['long_name']} {with_unit(name, float(dataset[f'wanted_{name}']), signed=True)}"
            )
    return [f"Wanted everywhere: {', '.join(said)}."] if said else []


def _stops(dataset: xr.Dataset, across: str, up: str) -> dict[str, np.ndarray[Any, np.dtype[np.bool_]]]:
    """What stands in the way where not everything is met, in words, and where."""
    outcome = dataset["outcome"].transpose(up, across).values
    at_limit = dataset["at_limit"].transpose("adjuster", up, across).values
    names = [str(name) for name in dataset["adjuster"].values]
    limited = outcome == OUTCOMES["limited"]["code"]
    found: dict[str, Any] = {}
    count = (at_limit != 0).sum(axis=0)
    for k, name in enumerate(names):
        where = limited & (at_limit[k] != 0) & (count == 1)
        if where.any():
            found[f"stopped by {name.replace('_', ' ')} at its limit"] = where
    several = limited & (count > 1)
    if several.any():
        found["stopped by several limits"] = several
    for name, words in OUTCOMES.items():
        where = outcome == words["code"]
        if name not in ("reached", "limited") and where.any():
            found[name.replace("_", " ")] = where
    return found


def _now(dataset: xr.Dataset, across: str, up: str) -> tuple[float, float] | None:
    """Where the readings stand as they are now, if that is on the map."""
    labels = [str(label) for label in dataset["want"].values]
    names = [dim.removeprefix("wanted_") for dim in (across, up)]
    if not all(name in labels for name in names):
        return None
    here = tuple(float(dataset["before"].values[labels.index(name)]) for name in names)
    spans = [(float(dataset[dim].min()), float(dataset[dim].max())) for dim in (across, up)]
    on_map = all(least <= value <= most for value, (least, most) in zip(here, spans, strict=True))
    return (here[0], here[1]) if on_map else None


def _draw(
    axes: Axes,
    dataset: xr.Dataset,
    name: str,
    across: str,
    up: str,
    reached: Any,
    stops: dict[str, Any],
    now: tuple[float, float] | None,
) -> None:
    dress(axes, grid=False)
    x, y = (np.asarray(dataset[dim].values, dtype=np.float64) for dim in (across, up))
    everywhere = np.asarray(dataset[name].transpose(up, across).values, dtype=np.float64)
    values = np.ma.masked_invalid(np.where(reached, everywhere, np.nan))
    axes.set_xlim(float(x.min()), float(x.max()))
    axes.set_ylim(float(y.min()), float(y.max()))
    if float(values.max() - values.min()) > _CONSTANT:
        # Colour runs on under the hatching to where that begins: the edge lies within half a cell of there.
        levels = MaxNLocator(_LEVELS).tick_values(float(values.min()), float(values.max()))
        axes.contourf(x, y, np.ma.masked_invalid(everywhere), levels=levels, cmap=PALE, extend="both", zorder=1.0)
        lines = axes.contour(x, y, values, levels=levels, colors=INK, linewidths=0.8, linestyles="-", zorder=1.5)
        unit = SETTINGS[name]["units"]
        axes.clabel(
            lines,
            fontsize=TICK_PT,
            manual=_label_places([np.asarray(path.vertices) for path in lines.get_paths()]),
            fmt=lambda value: f"{number(value, signed=True)} {unit}" if value else f"0 {unit}",
        )
    if stops:
        stopped = np.any(list(stops.values()), axis=0).astype(float)
        axes.contourf(x, y, stopped, levels=[0.5, 1.5], colors=[SHADE], zorder=1.6)
    for i, where in enumerate(stops.values()):
        hatch = _HATCHES[i % len(_HATCHES)]
        hatched = axes.contourf(
            x, y, where.astype(float), levels=[0.5, 1.5], colors="none", hatches=[hatch], zorder=1.7
        )
        hatched.set_edgecolor(PENCIL)
        hatched.set_linewidth(0.0)
    if now is not None:
        axes.plot(
            [now[0]],
            [now[1]],
            color=INK,
            markerfacecolor="white",
            markersize=6.0,
            zorder=3.0,
            **{**PLAIN, "marker": "o"},
        )
    axes.set_xlabel(_axis_label(across), fontsize=LABEL_PT, color=INK)
    axes.set_ylabel(_axis_label(up), fontsize=LABEL_PT, color=INK)


def _label_places(contours: list[Any]) -> list[Any]:
    """Where contours have their numbers; one too short to carry a number has none."""
    longest = max(len(contour) for contour in contours)
    return [contour[int(_LABEL_AT * len(contour))] for contour in contours if 2 * len(contour) > longest]
