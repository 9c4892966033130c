"""Readings against travel or against the rack: a panel a reading, a line a value of whatever else was swept."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize, to_hex
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from strutsweep.plots import selection
from strutsweep.plots.sheet import (
    BLUE,
    INK,
    LABEL_PT,
    MARGIN_IN,
    NOTE_PT,
    ORDERED,
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
    panels_between,
    positive_way,
    sheet,
    wrapped,
)
from strutsweep.words import attributes

__all__ = ["against_rack", "against_travel"]

_PANEL_IN: Final = (3.35, 2.75)
"""Width and height of a panel with its labels."""
_DECORATION_IN: Final = 0.75
"""What numbers beside a panel take of its width, at most."""
_LONE_PANEL_IN: Final = (5.6, 3.6)
_MOST_IN_LEGEND: Final = 8
"""More lines than this are told apart by a colour bar."""
_COLOUR_BAR_SHARE: Final = 0.6
"""Length of a colour bar, as a share of the panels over it."""
_COLOUR_LABEL_IN: Final = 1.6
"""Longest label of a colour bar in words; longer ones have several lines."""
_END_MARKS: Final = {1: "^", 2: "s", 3: "X", 4: "P"}
"""The mark at a line's end, by the status of the pose behind it."""
_LEAST_SPAN: Final = {"deg": 0.02, "mm": 0.02, "deg/mm": 2e-5, "1": 2e-3}
"""No scale is finer than this: what is constant shall look constant, not show its round-off."""
_POLE_RATIO: Final = 6.0
"""A reading whose whole range is this many times that of its middle nine tenths runs off to infinity somewhere."""


def against_travel(
    dataset: xr.Dataset,
    *,
    readings: str | Iterable[str] = ("camber", "toe", "caster"),
    at: Mapping[str, Any] | None = None,
) -> Figure:
    """Readings against wheel travel: droop to the left, bump to the right.

    One panel a reading. Where the dataset varies in one thing more, each of its values has a line; the line of the
    design position is the thicker one, and a ring marks the design position on it. Lines end, with a mark that
    the legend explains, where no pose is reached.

    Parameters
    ----------
    dataset : xarray.Dataset
        What `strutsweep.sweep` returned, with ``travel`` along one dimension; travel in mm, bump positive.
    readings : str or iterable of str
        Names of readings, as in the dataset.
    at : mapping of str to value, optional
        Values at which further dimensions are held: ``at={"mount_in": 10.0}``. Each must be in the dataset.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    InputError
        An unknown reading or one that the dataset lacks; travel that does not vary; more than one dimension left
        besides it; a value of `at` that is not in the dataset; no pose that can be reached.

    Examples
    --------
    >>> import numpy as np, strutsweep as ss
    >>> from strutsweep import plots
    >>> corner = ss.demo("gravel_hatch").left
    >>> dataset = ss.sweep(corner, travel=np.linspace(-60, 60, 41), mount_in=[-10, 0, 10])
    >>> figure = plots.against_travel(dataset, readings=["camber", "bump_steer"])
    >>> len(figure.axes), len(figure.axes[0].get_lines()) >= 3
    (2, True)
    """
    return _against("travel", dataset, readings, at)


def against_rack(
    dataset: xr.Dataset,
    *,
    readings: str | Iterable[str] = ("toe", "camber", "caster"),
    at: Mapping[str, Any] | None = None,
) -> Figure:
    """Readings against rack displacement, toward the left of the car positive on either corner.

    Panels, lines and marks are those of `against_travel`.

    Parameters
    ----------
    dataset : xarray.Dataset
        What `strutsweep.sweep` returned, with ``rack`` along one dimension, in mm.
    readings : str or iterable of str
        Names of readings, as in the dataset.
    at : mapping of str to value, optional
        Values at which further dimensions are held, as for `against_travel`.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    InputError
        As for `against_travel`.

    Examples
    --------
    >>> import numpy as np, strutsweep as ss
    >>> from strutsweep import plots
    >>> dataset = ss.sweep(ss.demo("gravel_hatch").left, rack=np.linspace(-65, 65, 53))
    >>> plots.against_rack(dataset, readings="toe").axes[0].get_ylabel()
    'toe of this wheel (deg)'
    """
    return _against("rack", dataset, readings, at)


def _against(axis: str, dataset: xr.Dataset, readings: str | Iterable[str], at: Mapping[str, Any] | None) -> Figure:
    names = selection.checked_readings(dataset, readings)
    data = selection.picked(dataset, names, at, (axis,))
    spare = selection.spare_dimensions(data, (axis,))
    if len(spare) > 1:
        raise selection.too_many(spare, "one dimension of lines")
    along = str(data.coords[axis].dims[0])
    lines = spare[0] if spare else None
    if along == axis:
        data = data.sortby(axis)
    data = data.transpose(*spare, along)
    inputs = np.asarray(data.coords[axis].values, dtype=np.float64)
    status = np.atleast_2d(data["status"].values)
    design_data = selection.is_design(data)
    design = np.zeros(status.shape, dtype=bool) if design_data is None else np.atleast_2d(design_data.values)
    heading, labels, values = selection.line_labels(data, lines) if lines else ("", [""], None)
    colours = _colours(len(labels), values)
    drawn = (status == 0).any(axis=1)
    labels = [label if reached else f"{label} (out of reach)" for label, reached in zip(labels, drawn, strict=True)]

    columns = _columns(len(names))
    rows = math.ceil(len(names) / columns)
    panel_in = _LONE_PANEL_IN if len(names) == 1 else _PANEL_IN
    figure = sheet(columns * panel_in[0] + 2.0 * MARGIN_IN, layout="constrained")
    blocks = _blocks(heading, labels, colours, status, design)
    foot_in = foot(figure, blocks)
    bar_in = _colour_bar_in(labels, values)
    what = selection.title(data)
    said = selection.notes(data, (axis,), lines)
    width_in = float(figure.get_size_inches()[0])
    head_in = header_height_in(what, said, width_in)
    height_in = head_in + rows * panel_in[1] + bar_in + foot_in + MARGIN_IN
    figure.set_size_inches(width_in, height_in)
    header(figure, what, said)
    panels_between(figure, head_in, foot_in)
    grid = figure.add_gridspec(rows, columns)
    panels = []
    for index, name in enumerate(names):
        axes = figure.add_subplot(grid[index // columns, index % columns])
        readings_mm_deg = np.atleast_2d(np.asarray(data[name].values, dtype=np.float64))
        lowest = index + columns >= len(names)
        _panel(axes, axis, name, inputs, readings_mm_deg, status, design, labels, colours, panel_in[0], lowest=lowest)
        panels.append(axes)
    if bar_in:
        _colour_bar(figure, panels, heading, labels, values)
    return figure


def _columns(panels: int) -> int:
    return panels if panels <= 3 else 2 if panels == 4 else 3


def _colours(lines: int, values: npt.NDArray[np.float64] | None) -> list[str]:
    """A colour a line, lighter with the value; a lone line has the house's blue."""
    if lines == 1:
        return [BLUE]
    if lines <= _MOST_IN_LEGEND or values is None:
        order = np.arange(lines) if values is None else np.argsort(np.argsort(values, kind="stable"))
        return [to_hex(ORDERED(share)) for share in order / (lines - 1)]
    low, high = float(values.min()), float(values.max())
    return [to_hex(ORDERED((value - low) / (high - low) if high > low else 0.0)) for value in values]


def _panel(
    axes: Axes,
    axis: str,
    name: str,
    inputs: npt.NDArray[np.float64],
    readings: npt.NDArray[np.float64],
    status: npt.NDArray[np.int8],
    design: npt.NDArray[np.bool_],
    labels: list[str],
    colours: list[str],
    width_in: float,
    *,
    lowest: bool,
) -> None:
    dress(axes)
    low, high = float(inputs.min()), float(inputs.max())
    axes.set_xlim(low - 0.03 * (high - low), high + 0.03 * (high - low))
    axes.axvline(0.0, color=PENCIL, linewidth=0.8, zorder=1.5, **PLAIN)
    axes.axhline(0.0, color=PENCIL, linewidth=0.5, zorder=1.5, **PLAIN)
    for start, end in _nowhere_reached(inputs, (status == 0).any(axis=0)):
        axes.axvspan(start, end, facecolor=SHADE, edgecolor=PENCIL, hatch="///", linewidth=0.0, alpha=0.55, zorder=0.5)
    off_scale = _scale(axes, name, readings)
    many = len(labels) > _MOST_IN_LEGEND
    for place in range(len(labels)):
        usual = len(labels) > 1 and bool(design[place].any())
        shown = _broken_at_poles(np.where(status[place] == 0, readings[place], np.nan), off_scale)
        axes.plot(
            inputs,
            shown,
            color=colours[place],
            linewidth=2.6 if usual else 1.1 if many else 1.7,
            linestyle="-",
            marker="",
            label=labels[place] or attributes(name)["long_name"],
            solid_capstyle="round",
            solid_joinstyle="round",
            zorder=3.2 if usual else 3.0,
        )
        lone = np.isfinite(shown) & ~_neighbour(np.isfinite(shown))
        _marks(axes, inputs[lone], shown[lone], "o", 3.5, colours[place])
        for code, mark in _END_MARKS.items():
            ends = np.isfinite(shown) & (status[place] == 0) & _neighbour(status[place] == code)
            _marks(axes, inputs[ends], shown[ends], mark, 3.0 if many else 6.5, colours[place])
        _marks(axes, inputs[design[place]], shown[design[place]], "o", 6.5, INK, hollow=True)
    aside = "; runs off the scale" if off_scale else ""
    panel_heading(axes, name, width_in - _DECORATION_IN, as_label=True, aside=aside)
    if lowest:
        opposite = ", \u2212 droop" if axis == "travel" else ""
        axes.set_xlabel(
            f"{name_with_unit(axis)}\n{positive_way(axis)}{opposite}", fontsize=LABEL_PT, color=INK, linespacing=1.25
        )
    axes.locator_params(axis="x", nbins=7, steps=[1, 2, 5, 10])
    axes.locator_params(axis="y", nbins=6, steps=[1, 2, 2.5, 5, 10])
    axes.ticklabel_format(axis="both", style="plain", useOffset=False)


def _marks(
    axes: Axes,
    across: npt.NDArray[np.float64],
    up: npt.NDArray[np.float64],
    mark: str,
    size_pt: float,
    colour: str,
    *,
    hollow: bool = False,
) -> None:
    if across.size:
        axes.plot(across, up, **_mark_style(mark, size_pt, colour, hollow=hollow), zorder=4.0)


def _mark_style(mark: str, size_pt: float, colour: str, *, hollow: bool = False) -> dict[str, Any]:
    """How a mark looks, on a panel and in the legend."""
    return {
        "linestyle": "none",
        "marker": mark,
        "markersize": size_pt,
        "markerfacecolor": PAPER if hollow else colour,
        "markeredgecolor": colour if hollow else PAPER,
        "markeredgewidth": 1.5 if hollow else 0.6 if size_pt > 5.0 else 0.0,
        "label": "_mark",
    }


def _neighbour(here: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Whether either neighbour is so."""
    beside = np.zeros_like(here)
    beside[1:] |= here[:-1]
    beside[:-1] |= here[1:]
    return beside


def _nowhere_reached(inputs: npt.NDArray[np.float64], reached: npt.NDArray[np.bool_]) -> list[tuple[float, float]]:
    """Stretches of the axis along which no line has a pose, each up to the last pose that is reached."""
    if np.any(np.diff(inputs) < 0.0):
        return []  # a path that turns back: its places may be reached at another time
    stretches = []
    start = 0
    for end in range(1, len(inputs) + 1):
        if end == len(inputs) or reached[end] != reached[start]:
            if not reached[start]:
                stretches.append((float(inputs[max(start - 1, 0)]), float(inputs[min(end, len(inputs) - 1)])))
            start = end
    return stretches


def _scale(axes: Axes, name: str, readings: npt.NDArray[np.float64]) -> float | None:
    """Set the upright scale; where a reading runs off to infinity, give the size beyond which it is not shown."""
    finite = readings[np.isfinite(readings)]
    if not finite.size:
        return None
    low, high = float(finite.min()), float(finite.max())
    inner_low, inner_high = (float(value) for value in np.percentile(finite, (5.0, 95.0)))
    off_scale = None
    if high - low > _POLE_RATIO * (inner_high - inner_low) > 0.0:
        low, high = inner_low, inner_high
        off_scale = max(abs(low), abs(high))
    least = _LEAST_SPAN[attributes(name)["units"]]
    if high - low < least:
        middle = 0.5 * (low + high)
        low, high = middle - 0.5 * least, middle + 0.5 * least
    axes.set_ylim(low - 0.07 * (high - low), high + 0.07 * (high - low))
    return off_scale


def _broken_at_poles(readings: npt.NDArray[np.float64], off_scale: float | None) -> npt.NDArray[np.float64]:
    """The readings without infinities, and without the jump from one infinity to the other."""
    shown = np.where(np.isfinite(readings), readings, np.nan)
    if off_scale is not None:
        jump = (shown[1:] * shown[:-1] < 0.0) & (np.minimum(abs(shown[1:]), abs(shown[:-1])) > off_scale)
        shown[:-1][jump] = np.nan
    return shown


def _blocks(
    heading: str,
    labels: list[str],
    colours: list[str],
    status: npt.NDArray[np.int8],
    design: npt.NDArray[np.bool_],
) -> list[tuple[list[Any], list[str], str | None, bool]]:
    """What the foot of the figure explains: the lines, then the marks."""
    blocks: list[tuple[list[Any], list[str], str | None, bool]] = []
    if 1 < len(labels) <= _MOST_IN_LEGEND:
        widths = [2.6 if row.any() else 1.7 for row in design]
        handles = [Line2D([], [], color=c, linewidth=w, **PLAIN) for c, w in zip(colours, widths, strict=True)]
        blocks.append((handles, labels, heading, True))
    marks: list[Any] = []
    meanings = []
    if bool((design & (status == 0)).any()):
        marks.append(Line2D([], [], **_mark_style("o", 6.5, INK, hollow=True)))
        meanings.append("design position" + ("; its line is the thicker one" if len(labels) > 1 else ""))
    for code, reason in selection.reasons(status).items():
        if code in _END_MARKS and _has_end(status, code):
            colour = PENCIL if len(labels) > 1 else colours[0]
            marks.append(Line2D([], [], **_mark_style(_END_MARKS[code], 6.0, colour)))
            meanings.append(_LINE_ENDS + reason)
    named = {meaning.removeprefix(_LINE_ENDS) for meaning in meanings}
    nowhere = ~(status == 0).any(axis=0)
    if nowhere.any():
        others = [reason for reason in selection.reasons(status[:, nowhere]).values() if reason not in named]
        marks.append(Patch(facecolor=SHADE, edgecolor=PENCIL, hatch="///", linewidth=0.0, alpha=0.55))
        meanings.append("; ".join(["out of reach", *others]))
        named.update(others)
    for reason in selection.reasons(status).values():
        if reason not in named:
            marks.append(Line2D([], [], linestyle="none", marker=""))
            meanings.append(f"a line is missing: {reason}")
    if marks:
        blocks.append((marks, meanings, None, False))
    return blocks


_LINE_ENDS: Final = "a line ends: "


def _has_end(status: npt.NDArray[np.int8], code: int) -> bool:
    return any(bool(((row == 0) & _neighbour(row == code)).any()) for row in status)


def _colour_bar(
    figure: Figure, panels: list[Axes], heading: str, labels: list[str], values: npt.NDArray[np.float64] | None
) -> None:
    """A scale of colours for more lines than a legend holds."""
    scale = np.arange(len(labels), dtype=np.float64) if values is None else values
    low, high = float(scale.min()), float(scale.max())
    bar = figure.colorbar(
        ScalarMappable(Normalize(low, high if high > low else low + 1.0), ORDERED),
        ax=panels,
        location="bottom",
        aspect=40,
        shrink=_COLOUR_BAR_SHARE,
        pad=0.04,
    )
    bar.outline.set_visible(False)
    bar.ax.tick_params(labelsize=TICK_PT, colors=PENCIL, labelcolor=INK, length=3.5)
    room_in = float(figure.get_size_inches()[0]) - 2.0 * MARGIN_IN
    if values is None:
        # Words stand at the few places that have room for them.
        most = 1 + int(_COLOUR_BAR_SHARE * (room_in - 0.7) / (_COLOUR_LABEL_IN + 0.1))
        places = np.unique(np.linspace(0, len(labels) - 1, most).round().astype(int)).tolist()
        words = ["\n".join(_colour_label(labels[place])) for place in places]
        bar.set_ticks([float(place) for place in places], labels=words, parse_math=False)
    words_of_bar = wrapped(f"{len(labels)} lines; {heading}", 0.9 * room_in, NOTE_PT)
    bar.set_label("\n".join(words_of_bar), size=NOTE_PT, color=PENCIL, parse_math=False)


def _colour_label(label: str) -> list[str]:
    return wrapped(label, _COLOUR_LABEL_IN, TICK_PT)


def _colour_bar_in(labels: list[str], values: npt.NDArray[np.float64] | None) -> float:
    """The height that a colour bar takes, in inches; none where a legend tells the lines."""
    if len(labels) <= _MOST_IN_LEGEND:
        return 0.0
    lines = 1 if values is not None else max(len(_colour_label(label)) for label in labels)
    return 0.75 + 1.3 * TICK_PT / 72.0 * (lines - 1)
