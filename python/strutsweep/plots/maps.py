"""Readings over the plane of the top mount, as contours on a plan of that plane."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.patheffects import withStroke
from matplotlib.text import Text
from matplotlib.ticker import MaxNLocator

from strutsweep.errors import InputError
from strutsweep.plots import selection
from strutsweep.plots.sheet import (
    INK,
    LABEL_PT,
    MARGIN_IN,
    NOTE_PT,
    PALE,
    PAPER,
    PENCIL,
    SHADE,
    TICK_PT,
    canvas,
    dress,
    foot,
    header,
    header_height_in,
    name_with_unit,
    number,
    panel_heading,
    positive_way,
    sheet,
    with_unit,
)
from strutsweep.words import attributes

__all__ = ["mount_map"]

_AXES: Final = ("mount_in", "mount_back")
_PLAN_IN: Final = 3.5
"""Width of a panel's plan, or its height where it is higher than wide."""
_LONE_PLAN_IN: Final = 5.4
_LEAST_SHARE: Final = 0.4
"""A plan flatter or narrower than this is stretched, and the header says so."""
_LEFT_IN: Final = 0.82
_BETWEEN_IN: Final = 0.62
_ABOVE_IN: Final = 0.66
_BELOW_IN: Final = 0.72
_COMPASS_IN: Final = (1.5, 0.78)

_HATCHES: Final = {1: "...", 2: "\\\\\\", 3: "///", 4: "xxx", -1: "++"}
"""By the status of the pose; -1 is a pose within reach whose reading is infinite or undefined."""
_NO_VALUE: Final = -1

_LEVELS: Final = 8
_CONSTANT: Final = {"deg": 1e-6, "mm": 1e-6, "deg/mm": 1e-9, "1": 1e-9}
"""A reading whose range is smaller than this, in its unit, is constant: contours would show round-off."""
_POLE_RATIO: Final = 6.0
"""Contours of a reading whose whole range is this many times that of its middle nine tenths stay within those."""


def mount_map(
    dataset: xr.Dataset,
    reading: str | Iterable[str] = "camber",
    *,
    readings: Iterable[str] | None = None,
    at: Mapping[str, Any] | None = None,
) -> Figure:
    """Contours of readings over the plane of the top mount, seen from above with the front of the car up.

    Across lies ``mount_in``, up and down ``mount_back``. Inboard is to the right on the map of a left corner and
    to the left on that of a right corner, as on the car; a compass says so. A ring marks the top mount as measured, with
    the reading there. Where no pose is reached the map is hatched, and the legend says what ran out.

    Parameters
    ----------
    dataset : xarray.Dataset
        What `strutsweep.sweep` returned, with ``mount_in`` and ``mount_back`` along a dimension each, in mm.
    reading : str
        Name of the reading.
    readings : iterable of str, optional
        Several readings instead, a panel each.
    at : mapping of str to value, optional
        Values at which further dimensions are held: ``at={"travel": 20.0}``. Each must be in the dataset.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    InputError
        An unknown reading or one that the dataset lacks; a shift of the mount that does not vary; a dimension
        left besides the two; a value of `at` that is not in the dataset; no pose that can be reached.

    Examples
    --------
    >>> import numpy as np, strutsweep as ss
    >>> from strutsweep import plots
    >>> corner = ss.demo("gravel_hatch").right
    >>> plate = dict(mount_in=np.linspace(-20, 20, 17), mount_back=np.linspace(-10, 10, 9))
    >>> figure = plots.mount_map(ss.sweep(corner, travel=[0, 30], **plate), "camber", at={"travel": 30})
    >>> figure.axes[0].xaxis_inverted(), figure.axes[0].yaxis_inverted()    # right corner, front up
    (True, True)
    """
    names = selection.checked_readings(dataset, reading if readings is None else readings)
    data = selection.picked(dataset, names, at, _AXES)
    dims = [str(data.coords[name].dims[0]) for name in _AXES]
    if dims[0] == dims[1]:
        raise InputError(
            f"dataset: {' and '.join(_AXES)} vary together along {dims[0]}; a map needs a dimension for each",
            name="dataset",
            value=dims[0],
        )
    spare = selection.spare_dimensions(data, _AXES)
    if spare:
        raise selection.too_many(spare, f"{' and '.join(_AXES)} only")
    data = data.sortby(list(_AXES)).transpose(dims[1], dims[0])
    across, back = (np.asarray(data.coords[name].values, dtype=np.float64) for name in _AXES)
    status = data["status"].values.astype(int)
    panels = {name: np.where(status == 0, data[name].values.astype(np.float64), np.nan) for name in names}
    troubles = {name: np.where((status == 0) & ~np.isfinite(values), _NO_VALUE, status) for name, values in panels.items()}

    plan_in, equal = _plan_in(float(np.ptp(across)), float(np.ptp(back)), alone=len(names) == 1)
    columns = min(len(names), 2 if len(names) in (2, 4) or plan_in[0] > 3.0 else 3)
    rows = math.ceil(len(names) / columns)
    width_in = max(2.0 * MARGIN_IN + _LEFT_IN + columns * plan_in[0] + (columns - 1) * _BETWEEN_IN + 0.1, 5.6)
    figure = sheet(width_in)
    centred = bool(across.min() <= 0.0 <= across.max() and back.min() <= 0.0 <= back.max())
    foot_in = foot(figure, _blocks(np.stack(list(troubles.values())), centred=centred))
    side = data.attrs["side"]
    what = selection.title(data)
    said = [
        f"The plane of the top mount from above, front of the car up, inboard to the {_inboard(side)}.",
        *selection.notes(data, _AXES, None),
        *([] if equal else ["The two scales differ."]),
    ]
    head_in = max(header_height_in(what, said, width_in, aside_in=_COMPASS_IN[0]), _COMPASS_IN[1] + MARGIN_IN)
    height_in = head_in + rows * (_ABOVE_IN + plan_in[1]) + (rows - 1) * 0.3 + _BELOW_IN + foot_in
    figure.set_size_inches(width_in, height_in)
    header(figure, what, said, aside_in=_COMPASS_IN[0])
    _compass(figure, side)
    for index, (name, values) in enumerate(panels.items()):
        row, column = divmod(index, columns)
        left_in = MARGIN_IN + _LEFT_IN + column * (plan_in[0] + _BETWEEN_IN)
        below_in = height_in - head_in - (row + 1) * (_ABOVE_IN + plan_in[1]) - row * 0.3
        axes = figure.add_axes(
            (left_in / width_in, below_in / height_in, plan_in[0] / width_in, plan_in[1] / height_in)
        )
        _plan(axes, name, across, back, values, troubles[name], side, plan_in[0] + 0.3)
        if column == 0:
            axes.set_ylabel(f"{name_with_unit('mount_back')}\n{positive_way('mount_back')}", **_LABEL)
        if index + columns >= len(names):
            axes.set_xlabel(f"{name_with_unit('mount_in')}\n{positive_way('mount_in')}", **_LABEL)
    return figure


_LABEL: Final[dict[str, Any]] = {"fontsize": LABEL_PT, "color": INK, "linespacing": 1.25}


def _inboard(side: str) -> str:
    """Where inboard is on the sheet, the car seen from above with its front up."""
    return "right" if side == "left" else "left"


def _plan_in(across_mm: float, back_mm: float, *, alone: bool) -> tuple[tuple[float, float], bool]:
    """Width and height of a plan in inches, and whether both of its scales are one."""
    longest_in = _LONE_PLAN_IN if alone else _PLAN_IN
    share = back_mm / across_mm
    if share <= 1.0:
        used = max(share, _LEAST_SHARE)
        return (longest_in, longest_in * used), used == share
    used = min(share, 1.0 / _LEAST_SHARE)
    height_in = min(longest_in, 4.2)
    return (height_in / used, height_in), used == share


def _plan(
    axes: Axes,
    name: str,
    across: npt.NDArray[np.float64],
    back: npt.NDArray[np.float64],
    values: npt.NDArray[np.float64],
    trouble: npt.NDArray[np.int_],
    side: str,
    room_in: float,
) -> None:
    """One panel."""
    dress(axes, grid=False)
    axes.set_xlim(across.min(), across.max())
    axes.set_ylim(back.max(), back.min())  # rearward is down
    if _inboard(side) == "left":
        axes.invert_xaxis()
    for code in np.unique(trouble[trouble != 0]).tolist():
        # Up to the last pose that is reached: the map covers what it has, and leaves no strip without meaning.
        here = (trouble == code).astype(float)
        region = axes.contourf(across, back, here, levels=[1e-6, 2.0], colors=[SHADE], hatches=[_HATCHES[code]], zorder=1.0)
        region.set_edgecolor(PENCIL)
        region.set_linewidth(0.0)
    off_scale = _contours(axes, name, across, back, values)
    panel_heading(axes, name, room_in, as_label=False, aside="; runs off the scale" if off_scale else "")
    axes.locator_params(axis="both", nbins=6, steps=[1, 2, 5, 10])
    axes.tick_params(axis="y", pad=2.0)


def _contours(
    axes: Axes,
    name: str,
    across: npt.NDArray[np.float64],
    back: npt.NDArray[np.float64],
    values: npt.NDArray[np.float64],
) -> bool:
    """Bands, lines and their labels; says whether the reading runs off beyond its last contour to infinity."""
    finite = values[np.isfinite(values)]
    labels: list[Text] = []
    off_scale = False
    if finite.size:
        low, high = float(finite.min()), float(finite.max())
        inner_low, inner_high = (float(value) for value in np.percentile(finite, (5.0, 95.0)))
        off_scale = high - low > _POLE_RATIO * (inner_high - inner_low) > 0.0
        if off_scale:
            low, high = inner_low, inner_high
        shown = np.ma.masked_invalid(values)
        if high - low < _CONSTANT[attributes(name)["units"]]:
            axes.contourf(across, back, shown, levels=[low - 1.0, high + 1.0], colors=[PALE(0.5)], zorder=2.0)
            labels.append(
                axes.annotate(
                    f"{with_unit(name, low, _decimals([low]))} everywhere", (0.03, 0.06), xycoords="axes fraction", **_IN_MAP
                )
            )
        else:
            levels = MaxNLocator(nbins=_LEVELS, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
            levels = levels[(levels > low) & (levels < high)]
            if not levels.size:
                levels = np.array([0.5 * (low + high)])
            axes.contourf(across, back, shown, levels=levels, cmap=PALE, extend="both", zorder=2.0)
            lines = axes.contour(
                across,
                back,
                shown,
                levels=levels,
                colors=INK,
                linestyles="-",
                linewidths=[1.8 if abs(level) < 1e-12 else 0.9 for level in levels],
                zorder=3.0,
            )
            decimals = _decimals(levels)
            labels += axes.clabel(
                lines, inline=False, fontsize=TICK_PT, colors=INK, fmt=lambda level: with_unit(name, level, decimals)
            )
    _clear_labels(axes, labels, _as_measured(axes, name, across, back, values))
    return off_scale


_IN_MAP: Final[dict[str, Any]] = {"fontsize": TICK_PT, "color": INK}


def _as_measured(
    axes: Axes,
    name: str,
    across: npt.NDArray[np.float64],
    back: npt.NDArray[np.float64],
    values: npt.NDArray[np.float64],
) -> list[Text]:
    """The ring at the top mount as measured and, where it is a place of the grid, the reading beside it."""
    if not (across.min() <= 0.0 <= across.max() and back.min() <= 0.0 <= back.max()):
        return []
    axes.plot([0.0], [0.0], **_RING, zorder=5.0, clip_on=False)
    value = values[np.argmin(abs(back)), np.argmin(abs(across))]
    if not (np.min(abs(across)) <= 1e-9 and np.min(abs(back)) <= 1e-9 and np.isfinite(value)):
        return []
    spread = float(np.nanmax(values) - np.nanmin(values)) or 1.0
    decimals = max(0, min(6, 2 - math.floor(math.log10(spread)))) if math.isfinite(spread) else 2
    place = axes.transAxes.inverted().transform(axes.transData.transform((0.0, 0.0)))
    beside, above = (-1.0 if place[0] > 0.7 else 1.0), (-1.0 if place[1] > 0.85 else 1.0)
    return [
        axes.annotate(
            with_unit(name, float(value), decimals),
            (0.0, 0.0),
            (7.0 * beside, 5.0 * above),
            textcoords="offset points",
            ha="left" if beside > 0.0 else "right",
            va="bottom" if above > 0.0 else "top",
            fontweight="bold",
            zorder=6.0,
            **_IN_MAP,
        )
    ]


_RING: Final[dict[str, Any]] = {
    "linestyle": "none",
    "marker": "o",
    "markersize": 7.0,
    "markerfacecolor": PAPER,
    "markeredgecolor": INK,
    "markeredgewidth": 1.6,
}


def _clear_labels(axes: Axes, labels: list[Text], first: list[Text]) -> None:
    """Give labels a halo; take away those that leave the map or touch another label."""
    renderer = canvas(axes.figure).get_renderer()
    frame = axes.get_window_extent(renderer)
    kept = []
    for label in (*first, *labels):
        label.set_path_effects([withStroke(linewidth=2.6, foreground="#ffffffd9")])
        label.set_zorder(6.0)
        box = label.get_window_extent(renderer).padded(1.5)
        inside = frame.x0 <= box.x0 and box.x1 <= frame.x1 and frame.y0 <= box.y0 and box.y1 <= frame.y1
        if label not in first and (not inside or any(box.overlaps(other) for other in kept)):
            label.remove()
        else:
            kept.append(box)


def _decimals(levels: Iterable[float]) -> int:
    """Decimals that tell every level exactly, six at most."""
    values = np.asarray(list(levels))
    size = float(np.max(np.abs(values))) or 1.0
    return next((n for n in range(6) if np.all(abs(values - values.round(n)) < 1e-9 * size)), 6)


def _blocks(troubles: npt.NDArray[np.int_], *, centred: bool) -> list[tuple[list[Any], list[str], str | None, bool]]:
    handles: list[Any] = []
    meanings = []
    if centred:
        handles.append(Line2D([], [], **_RING))
        meanings.append("top mount as measured, and the reading there")
    reasons = {code: f"out of reach: {reason}" for code, reason in selection.reasons(troubles).items()}
    if np.any(troubles == _NO_VALUE):
        reasons[_NO_VALUE] = "within reach, but infinite or undefined there"
    for code, reason in reasons.items():
        handles.append(Patch(facecolor=SHADE, edgecolor=PENCIL, hatch=_HATCHES[code], linewidth=0.0))
        meanings.append(reason)
    return [(handles, meanings, None, False)] if handles else []


def _compass(figure: Figure, side: str) -> None:
    """Arrows to the front of the car and inboard, at the top right of the sheet."""
    width_in, height_in = figure.get_size_inches()
    axes = figure.add_axes(
        (
            1.0 - (_COMPASS_IN[0] + MARGIN_IN) / width_in,
            1.0 - (_COMPASS_IN[1] + MARGIN_IN) / height_in,
            _COMPASS_IN[0] / width_in,
            _COMPASS_IN[1] / height_in,
        ),
        label="compass",
    )
    axes.set_axis_off()
    axes.set_xlim(0.0, _COMPASS_IN[0])
    axes.set_ylim(0.0, _COMPASS_IN[1])
    inboard = 1.0 if _inboard(side) == "right" else -1.0
    foot_of = (0.5 * _COMPASS_IN[0] - 0.35 * inboard, 0.1)
    arrow = {"arrowstyle": "-|>", "color": PENCIL, "linewidth": 1.2, "shrinkA": 0.0, "shrinkB": 0.0}
    style: dict[str, Any] = {"fontsize": NOTE_PT, "color": INK}
    for word, tip, ha, va in (
        ("front", (foot_of[0], 0.52), "center", "bottom"),
        ("inboard", (foot_of[0] + 0.42 * inboard, 0.1), "left" if inboard > 0.0 else "right", "center"),
    ):
        axes.annotate("", tip, foot_of, arrowprops=arrow)
        nudge = (0.0, 0.03) if word == "front" else (0.05 * inboard, 0.0)
        axes.text(tip[0] + nudge[0], tip[1] + nudge[1], word, ha=ha, va=va, **style)
