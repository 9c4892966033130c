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
from matplotlib.ticker import MaxNLocator
from matplotlib.transforms import Bbox

from strutsweep.errors import InputError
from strutsweep.plots import selection
from strutsweep.plots.sheet import (
    ARROW,
    INK,
    LABEL_PT,
    MARGIN_IN,
    NOTE_PT,
    PALE,
    PAPER,
    PENCIL,
    PLAIN,
    SHADE,
    TICK_PT,
    dress,
    foot,
    header,
    header_height_in,
    name_with_unit,
    panel_heading,
    panel_heading_in,
    positive_way,
    renderer,
    sheet,
    text_width_in,
    with_unit,
    wrapped,
)
from strutsweep.words import attributes

__all__ = ["mount_map"]

_AXES: Final = ("mount_in", "mount_back")
_PLAN_IN: Final = {1: 5.4, 2: 3.5, 3: 2.7}
"""Longer side of a panel's plan, by the number of columns."""
_LEAST_SHARE: Final = 0.45
"""A plan flatter or narrower than this is stretched, and the header says so."""
_TALLEST_IN: Final = 4.2
_TICKS_IN: Final = 0.42
"""Room for the numbers beside a plan, and for those under it."""
_GAP_IN: Final = 0.2
_OVERHANG_IN: Final = 0.14
"""How far a heading may reach beyond its plan."""
_LINE_IN: Final = 1.3 * LABEL_PT / 72.0
_COMPASS_IN: Final = (1.5, 0.78)

_HATCHES: Final = {1: "...", 2: "\\\\\\", 3: "///", 4: "xxx", -1: "++"}
"""By the status of the pose; -1 is a pose within reach whose reading is infinite or undefined."""
_NO_VALUE: Final = -1

_LEVELS: Final = 8
_ZERO_PT: Final = 1.8
"""Width of the contour of zero."""
_CONSTANT: Final = {"deg": 1e-6, "mm": 1e-6, "deg/mm": 1e-9, "1": 1e-9}
"""A reading whose range is smaller than this, in its unit, is constant: contours would show round-off."""
_POLE_RATIO: Final = 6.0
"""Contours of a reading whose whole range is this many times that of its middle nine tenths stay within those."""
_EDGE_SHARE: Final = 0.02
"""No contour is nearer to the lowest or highest reading than this share of the range: a speck in a corner, at best."""
_LABEL_PLACES: Final = (0.5, 0.43, 0.57, 0.36, 0.64, 0.29, 0.71, 0.22, 0.78, 0.15, 0.85)
"""Where a contour's label may stand, as shares of its length, the best first."""


def mount_map(
    dataset: xr.Dataset,
    reading: str | Iterable[str] = "camber",
    *,
    readings: Iterable[str] | None = None,
    at: Mapping[str, Any] | None = None,
) -> Figure:
    """Contours of readings over the plane of the top mount, seen from above with the front of the car up.

    Across lies ``mount_in``, up and down ``mount_back``. Inboard is to the right on the map of a left corner and
    to the left on that of a right corner, as on the car; a compass says so. A ring marks the top mount as measured,
    with the reading there. Where no pose is reached the map is hatched, and the legend says what ran out.

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
    >>> bool(figure.axes[0].xaxis_inverted())       # a right corner: inboard is to the left
    True
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
    panels = {
        name: _without_poles(np.where(status == 0, data[name].values.astype(np.float64), np.nan)) for name in names
    }
    troubles = {
        name: np.where((status == 0) & ~np.isfinite(values), _NO_VALUE, status) for name, values in panels.items()
    }

    columns = len(names) if len(names) <= 3 else 2 if len(names) == 4 else 3
    rows = math.ceil(len(names) / columns)
    plan_in, equal = _plan_in(float(np.ptp(across)), float(np.ptp(back)), _PLAN_IN[columns])
    labels = [
        [line for text in (name_with_unit(name), positive_way(name)) for line in wrapped(text, room_in, LABEL_PT)]
        for name, room_in in zip(_AXES, (plan_in[0] + 0.3, plan_in[1] + 0.2), strict=True)
    ]
    left_in = MARGIN_IN + _TICKS_IN + _LINE_IN * len(labels[1])
    pitch_in = plan_in[0] + _TICKS_IN + _GAP_IN
    width_in = max(left_in + columns * pitch_in - _TICKS_IN + MARGIN_IN, 5.6)
    figure = sheet(width_in)
    zero = any(_has_zero_contour(name, values) for name, values in panels.items())
    foot_in = foot(figure, _blocks(np.stack(list(troubles.values())), _as_measured_words(across, back), zero=zero))
    side = data.attrs["side"]
    what = selection.title(data)
    said = [
        f"The plane of the top mount from above, front of the car up, inboard to the {_inboard(side)}.",
        *selection.notes(data, _AXES, None),
        *([] if equal else ["The two scales differ."]),
    ]
    head_in = max(header_height_in(what, said, width_in, aside_in=_COMPASS_IN[0]), _COMPASS_IN[1] + MARGIN_IN)
    heading_in = max(panel_heading_in(name, plan_in[0] + _OVERHANG_IN, aside=_OFF_SCALE) for name in names) + 0.1
    height_in = head_in + rows * (heading_in + plan_in[1] + _TICKS_IN) + _LINE_IN * len(labels[0]) + foot_in
    figure.set_size_inches(width_in, height_in)
    header(figure, what, said, aside_in=_COMPASS_IN[0])
    for index, (name, values) in enumerate(panels.items()):
        row, column = divmod(index, columns)
        below_in = height_in - head_in - row * _TICKS_IN - (row + 1) * (heading_in + plan_in[1])
        axes = figure.add_axes(
            (
                (left_in + column * pitch_in) / width_in,
                below_in / height_in,
                plan_in[0] / width_in,
                plan_in[1] / height_in,
            )
        )
        _plan(axes, name, across, back, values, troubles[name], side, plan_in[0] + _OVERHANG_IN)
        if column == 0:
            axes.set_ylabel("\n".join(labels[1]), **_LABEL)
        if index + columns >= len(names):
            axes.set_xlabel("\n".join(labels[0]), **_LABEL)
    _compass(figure, side)
    return figure


_OFF_SCALE: Final = "; runs off the scale"
_LABEL: Final[dict[str, Any]] = {"fontsize": LABEL_PT, "color": INK, "linespacing": 1.25}


def _inboard(side: str) -> str:
    """Where inboard is on the sheet, the car seen from above with its front up."""
    return "right" if side == "left" else "left"


def _plan_in(across_mm: float, back_mm: float, longest_in: float) -> tuple[tuple[float, float], bool]:
    """Width and height of a plan in inches, and whether both of its scales are one."""
    share = back_mm / across_mm
    if share <= 1.0:
        used = max(share, _LEAST_SHARE)
        return (longest_in, longest_in * used), used == share
    used = min(share, 1.0 / _LEAST_SHARE)
    height_in = min(longest_in * used, max(longest_in, _TALLEST_IN))
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
        region = axes.contourf(
            across, back, here, levels=[1e-6, 2.0], colors=[SHADE], hatches=[_HATCHES.get(code, "xx")], zorder=1.0
        )
        region.set_edgecolor(PENCIL)
        region.set_linewidth(0.0)
    off_scale = _contours(axes, name, across, back, values)
    panel_heading(axes, name, room_in, as_label=False, aside=_OFF_SCALE if off_scale else "")
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
    taken = _as_measured(axes, name, across, back, values)
    shown = np.ma.masked_invalid(values)
    if not shown.count():
        return False
    levels, off_scale = _levels(name, values)
    if not levels.size:
        value = float(shown.mean())
        axes.contourf(across, back, shown, levels=[value - 1.0, value + 1.0], colors=[PALE(0.5)], zorder=2.0)
        words = f"{with_unit(name, value, _decimals([round(value, 4)]))} everywhere"
        axes.annotate(words, (0.03, 0.05), xycoords="axes fraction", **_IN_MAP)
        return False
    axes.contourf(across, back, shown, levels=levels, cmap=PALE, extend="both", zorder=2.0)
    lines = axes.contour(
        across,
        back,
        shown,
        levels=levels,
        colors=INK,
        linestyles="-",
        linewidths=[_ZERO_PT if _is_zero(level) else 0.9 for level in levels],
        zorder=3.0,
    )
    decimals = _decimals(levels)
    for level, path in zip(levels.tolist(), lines.get_paths(), strict=True):
        curves = path.to_polygons(closed_only=False)
        _label_contour(axes, with_unit(name, level, decimals), curves, taken)
    return off_scale


def _levels(name: str, values: npt.NDArray[np.float64]) -> tuple[npt.NDArray[np.float64], bool]:
    """Round values for contours, none for a constant; and whether the reading runs off to infinity beyond them."""
    finite = values[np.isfinite(values)]
    if not finite.size or np.ptp(finite) < _CONSTANT[attributes(name)["units"]]:
        return np.array([]), False
    low, high, off_scale = _span(finite)
    levels = np.asarray(MaxNLocator(nbins=_LEVELS, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high))
    edge = _EDGE_SHARE * (high - low)
    return levels[(levels > low + edge) & (levels < high - edge)], off_scale


def _span(finite: npt.NDArray[np.float64]) -> tuple[float, float, bool]:
    """The least and the greatest reading worth a contour, and whether some run off to infinity beyond them."""
    low, high = float(finite.min()), float(finite.max())
    inner_low, inner_high = (float(value) for value in np.percentile(finite, (5.0, 95.0)))
    if high - low > _POLE_RATIO * (inner_high - inner_low) > 0.0:
        return inner_low, inner_high, True
    return low, high, False


def _without_poles(values: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """The readings without those beside a jump from one infinity to the other: contours there would be false."""
    finite = values[np.isfinite(values)]
    if not finite.size:
        return values
    low, high, off_scale = _span(finite)
    if not off_scale:
        return values
    limit = max(abs(low), abs(high))
    beyond = np.where(abs(values) > limit, np.sign(values), 0.0)
    jump = np.zeros(values.shape, dtype=bool)
    for one, other in ((np.s_[1:, :], np.s_[:-1, :]), (np.s_[:, 1:], np.s_[:, :-1])):
        beside = beyond[one] * beyond[other] < 0.0
        jump[one] |= beside
        jump[other] |= beside
    return np.where(jump, np.nan, values)


def _has_zero_contour(name: str, values: npt.NDArray[np.float64]) -> bool:
    """Whether zero is among the contours, and crossed between two neighbours."""
    if not any(_is_zero(level) for level in _levels(name, values)[0]):
        return False
    return any(
        bool(np.any(one * other <= 0.0)) for one, other in ((values[1:], values[:-1]), (values[:, 1:], values[:, :-1]))
    )


def _is_zero(level: float) -> bool:
    """Round contours come out of a division: zero may bear its round-off."""
    return abs(level) < 1e-12


def _label_contour(axes: Axes, text: str, curves: list[Any], taken: list[Bbox]) -> None:
    """Label each long piece of a contour once, along it, where the label touches nothing written before."""
    pen = renderer(axes.figure)
    frame = axes.get_window_extent(pen)
    long_enough = 1.4 * text_width_in(text, TICK_PT) * axes.get_figure(root=True).dpi  # type: ignore[union-attr]
    for curve in curves:
        points = axes.transData.transform(curve)
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
        if along[-1] < long_enough:
            continue
        for share in _LABEL_PLACES:
            ends = np.clip(share * along[-1] + np.array([-0.3, 0.0, 0.3]) * long_enough, 0.0, along[-1])
            before, place, after = np.stack([np.interp(ends, along, axis) for axis in points.T], axis=1)
            # From left to right, and steep ones from the bottom to the top, all alike.
            turn = math.degrees(math.atan2(*(after - before)[::-1]))
            turn = (turn + 80.0) % 180.0 - 80.0
            at = axes.transData.inverted().transform(place)
            label = axes.text(at[0], at[1], text, rotation=turn, ha="center", va="center", bbox=_PILL, **_IN_MAP)
            box = label.get_window_extent(pen).padded(2.0)
            inside = frame.x0 <= box.x0 and box.x1 <= frame.x1 and frame.y0 <= box.y0 and box.y1 <= frame.y1
            if inside and not any(box.overlaps(other) for other in taken):
                taken.append(box)
                break
            label.remove()


_PILL: Final[dict[str, Any]] = {"boxstyle": "round,pad=0.12", "facecolor": "#ffffffcc", "edgecolor": "none"}
_IN_MAP: Final[dict[str, Any]] = {"fontsize": TICK_PT, "color": INK, "zorder": 6.0}


def _as_measured(
    axes: Axes,
    name: str,
    across: npt.NDArray[np.float64],
    back: npt.NDArray[np.float64],
    values: npt.NDArray[np.float64],
) -> list[Bbox]:
    """The ring at the top mount as measured and, where the grid has that place, the reading beside it; their boxes."""
    words = _as_measured_words(across, back)
    if words is None:
        return []
    axes.plot([0.0], [0.0], **_RING, zorder=5.0, clip_on=False)
    at = axes.transData.transform((0.0, 0.0))
    boxes = [Bbox.from_extents(*(at - 9.0), *(at + 9.0))]
    value = values[np.argmin(abs(back)), np.argmin(abs(across))]
    if not words.endswith("there") or not np.isfinite(value):
        return boxes
    finite = values[np.isfinite(values)]
    spread = float(finite.max() - finite.min()) or 1.0
    decimals = min(max(0, 2 - math.floor(math.log10(spread))), 2 if attributes(name)["units"] in ("deg", "mm") else 5)
    share = axes.transAxes.inverted().transform(at)
    beside, above = (-1.0 if share[0] > 0.7 else 1.0), (-1.0 if share[1] > 0.85 else 1.0)
    label = axes.annotate(
        with_unit(name, float(value), decimals),
        (0.0, 0.0),
        (8.0 * beside, 6.0 * above),
        textcoords="offset points",
        ha="left" if beside > 0.0 else "right",
        va="bottom" if above > 0.0 else "top",
        fontweight="bold",
        bbox=_PILL,
        **_IN_MAP,
    )
    return [*boxes, label.get_window_extent(renderer(axes.figure)).padded(2.0)]


def _as_measured_words(across: npt.NDArray[np.float64], back: npt.NDArray[np.float64]) -> str | None:
    """What the ring means; None where the mount as measured is not on the map."""
    if not (across.min() <= 0.0 <= across.max() and back.min() <= 0.0 <= back.max()):
        return None
    on_grid = np.min(abs(across)) <= _SAME_MM and np.min(abs(back)) <= _SAME_MM
    return "top mount as measured" + (", and the reading there" if on_grid else "")


_SAME_MM: Final = 1e-9
"""A mount is as measured when it stands nearer to zero than this: round-off of a made-up grid."""

_RING: Final[dict[str, Any]] = {
    "linestyle": "none",
    "marker": "o",
    "markersize": 7.0,
    "markerfacecolor": PAPER,
    "markeredgecolor": INK,
    "markeredgewidth": 1.6,
}


def _decimals(levels: Iterable[float]) -> int:
    """Decimals that tell every level exactly, six at most."""
    values = np.asarray(list(levels))
    size = float(np.max(np.abs(values))) or 1.0
    return next((n for n in range(6) if np.all(abs(values - values.round(n)) < 1e-9 * size)), 6)


def _blocks(
    troubles: npt.NDArray[np.int_], ring: str | None, *, zero: bool
) -> list[tuple[list[Any], list[str], str | None, bool]]:
    handles: list[Any] = []
    meanings = []
    if ring:
        handles.append(Line2D([], [], **_RING))
        meanings.append(ring)
    if zero:
        handles.append(Line2D([], [], color=INK, linewidth=_ZERO_PT, **PLAIN))
        meanings.append("contour of zero")
    reasons = {code: f"out of reach: {reason}" for code, reason in selection.reasons(troubles).items()}
    if np.any(troubles == _NO_VALUE):
        reasons[_NO_VALUE] = "within reach, but infinite or undefined there"
    for code, reason in reasons.items():
        handles.append(Patch(facecolor=SHADE, edgecolor=PENCIL, hatch=_HATCHES.get(code, "xx"), linewidth=0.0))
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
    style: dict[str, Any] = {"fontsize": NOTE_PT, "color": INK}
    for word, tip, ha, va in (
        ("front", (foot_of[0], 0.52), "center", "bottom"),
        ("inboard", (foot_of[0] + 0.42 * inboard, 0.1), "left" if inboard > 0.0 else "right", "center"),
    ):
        axes.annotate("", tip, foot_of, arrowprops=ARROW)
        nudge = (0.0, 0.03) if word == "front" else (0.05 * inboard, 0.0)
        axes.text(tip[0] + nudge[0], tip[1] + nudge[1], word, ha=ha, va=va, **style)
